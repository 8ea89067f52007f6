"""What the command line says of a backup made and of one put back.

Public: `print_backup`, `print_restore`.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

from passband.service.access.identity import access_file
from passband.service.backup import back_up
from passband.service.restoring import restore
from passband.service.settings import SettingsError, read_settings
from passband.service.store.archives import MANIFEST, BackupError, Manifest
from passband.service.store.faults import LibraryDamaged, LibraryInUse
from passband.service.store.files import sync_file
from passband.service.store.schema import SchemaError

HOME = "libraries"
"""Folder of a backup with teams that holds the libraries, each where it lay."""
NOT_WHOLE, CANNOT = 1, 2
"""Exit statuses: done, but something was missing already; not done."""
_SAID = (BackupError, LibraryDamaged, LibraryInUse, SchemaError, SettingsError)


def print_backup(target: Path, data: Path | None) -> int:
    """Back up a library and say what was kept.

    Parameters
    ----------
    target : Path
        Folder or ``.tar`` file.
    data : Path, optional
        The library's folder; else the setting's.

    Returns
    -------
    int
        0; 1 if something was missing or damaged in the library itself, which is named; 2 if no backup was made.
    """
    try:
        data = _folder(data)
        if access_file(data).exists():
            return _back_up_teams(data, target)
        manifest = back_up(data, target)
    except _SAID as error:
        print(error, file=sys.stderr)
        return CANNOT
    print(f"Backed up {_counted(manifest)} of {data} to {target}.")
    return _faults(manifest)


def print_restore(target: Path, data: Path | None) -> int:
    """Put a backup back and say what it held.

    Parameters
    ----------
    target : Path
        Folder or ``.tar`` file.
    data : Path, optional
        Where to; else the setting's.

    Returns
    -------
    int
        0; 1 if the backup itself says that something was missing; 2 if nothing was restored.
    """
    try:
        data = _folder(data)
        if access_file(target).exists():
            return _restore_teams(target, data)
        manifest = restore(target, data)
    except _SAID as error:
        print(error, file=sys.stderr)
        return CANNOT
    print(f"Restored {_counted(manifest)} into {data}, as of {manifest.made_at}; every sum was right.")
    return _faults(manifest)


def _back_up_teams(data: Path, target: Path) -> int:
    """Each team's library in a folder of its own, then who may; people come last, so that none lacks a library."""
    if target.suffix == ".tar" or (target.exists() and any(target.iterdir())):
        raise BackupError(f"With teams a backup is a folder that is absent or empty; {target} is not.")
    code = 0
    for of_library in _libraries(data):
        manifest = back_up(data / of_library, target / HOME / of_library)
        print(f"Backed up {_counted(manifest)} of {data / of_library} to {target / HOME / of_library}.")
        code = max(code, _faults(manifest))
    target.mkdir(parents=True, exist_ok=True)
    kept = access_file(target)
    with closing(sqlite3.connect(access_file(data))) as people, closing(sqlite3.connect(kept)) as copy:
        people.backup(copy)
    kept.chmod(0o600)
    sync_file(kept)
    print(f"Backed up the people and teams to {kept}.")
    return code


def _restore_teams(target: Path, data: Path) -> int:
    code = 0
    for of_library in _libraries(target / HOME, is_backup=True):
        manifest = restore(target / HOME / of_library, data / of_library)
        print(f"Restored {_counted(manifest)} into {data / of_library}, as of {manifest.made_at}.")
        code = max(code, _faults(manifest))
    data.mkdir(parents=True, exist_ok=True, mode=0o700)
    shutil.copyfile(access_file(target), access_file(data))
    access_file(data).chmod(0o600)
    sync_file(access_file(data))
    print(f"Restored the people and teams into {access_file(data)}.")
    return code


def _libraries(data: Path, *, is_backup: bool = False) -> list[str]:
    """The libraries in a folder of teams: its own first."""
    mark = MANIFEST if is_backup else "library.sqlite"
    inner = sorted(path.parent.name for path in data.glob(f"teams/*/{mark}"))
    return [*([""] if (data / mark).exists() else []), *(f"teams/{name}" for name in inner)]


def _folder(data: Path | None) -> Path:
    settings = read_settings() if data is None else read_settings(data=data)
    if settings.database:
        raise BackupError(
            "PASSBAND_DATABASE is set: rows on a server are backed up and put back by the server's own means, as with "
            "pg_dump and pg_restore. Back up the database first, then copy the data folder with its trash."
        )
    return settings.data


def _counted(manifest: Manifest) -> str:
    counts = ((manifest.runs, "run"), (manifest.cars, "car"), (len(manifest.files), "file"))
    said = [f"{count:,} {what}{'' if count == 1 else 's'}" for count, what in counts]
    return f"{said[0]}, {said[1]} and {said[2]} ({manifest.size / 1e6:,.1f} MB)"


def _faults(manifest: Manifest) -> int:
    for fault in manifest.faults:
        print(fault, file=sys.stderr)
    return NOT_WHOLE if manifest.faults else 0
