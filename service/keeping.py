"""What the command line says of a backup made and of one put back.

Public: `print_backup`, `print_restore`.
"""

from __future__ import annotations

import shutil
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from passband.service.access.identity import access_file
from passband.service.access.records import forget_begun
from passband.service.access.sending_people import send_people
from passband.service.backup import back_up
from passband.service.restoring import restore
from passband.service.settings import Settings, SettingsError, read_settings
from passband.service.store.archives import MANIFEST, BackupError, Manifest
from passband.service.store.faults import FilesAway, LibraryDamaged, LibraryInUse, RowsElsewhere
from passband.service.store.files import sync_file
from passband.service.store.opening import HOME as HOME_TEAM
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.schema import SchemaError

HOME = "libraries"
"""Folder of a backup with teams that holds the libraries, each where it lay."""
NOT_WHOLE, CANNOT = 1, 2
"""Exit statuses: done, but something was missing already; not done."""
_SAID = (BackupError, LibraryDamaged, LibraryInUse, FilesAway, RowsElsewhere, SchemaError, SettingsError)


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
        settings = _settings(data)
        if settings.database:
            raise BackupError(
                "PASSBAND_DATABASE is set: rows on a server are backed up by the server's own means, as with pg_dump. "
                "Back up the database first, then copy the data folder with its trash."
            )
        data, store = settings.data, settings.object_store
        if access_file(data).exists():
            return _back_up_teams(data, target, store)
        manifest = back_up(data, target, store=store)
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
        settings = _settings(data)
        data = settings.data
        with _server(settings) as server:
            if access_file(target).exists():
                return _restore_teams(target, settings, server)
            rows = PostgresRecords(server, HOME_TEAM) if server is not None else None
            manifest = restore(target, data, store=settings.object_store, rows=rows)
    except _SAID as error:
        print(error, file=sys.stderr)
        return CANNOT
    onto = " and the database on the server" if settings.database else ""
    print(f"Restored {_counted(manifest)} into {data}{onto}, as of {manifest.made_at}; every sum was right.")
    return _faults(manifest)


def _back_up_teams(data: Path, target: Path, store: str) -> int:
    """Each team's library in a folder of its own, then who may; people come last, so that none lacks a library."""
    if target.suffix == ".tar" or (target.exists() and any(target.iterdir())):
        raise BackupError(f"With teams a backup is a folder that is absent or empty; {target} is not.")
    code = 0
    for of_library in _libraries(data):
        manifest = back_up(data / of_library, target / HOME / of_library, store=store)
        print(f"Backed up {_counted(manifest)} of {data / of_library} to {target / HOME / of_library}.")
        code = max(code, _faults(manifest))
    target.mkdir(parents=True, exist_ok=True)
    kept = access_file(target)
    with closing(sqlite3.connect(access_file(data))) as people, closing(sqlite3.connect(kept)) as copy:
        people.backup(copy)
        forget_begun(copy)
    kept.chmod(0o600)
    sync_file(kept)
    print(f"Backed up the people and teams to {kept}.")
    return code


def _restore_teams(target: Path, settings: Settings, server: PostgresDatabase | None) -> int:
    code, data = 0, settings.data
    for of_library in _libraries(target / HOME, is_backup=True):
        of_team = settings.of_folder(of_library)
        rows = PostgresRecords(server, of_library or HOME_TEAM) if server is not None else None
        manifest = restore(target / HOME / of_library, of_team.data, store=of_team.object_store, rows=rows)
        print(f"Restored {_counted(manifest)} into {data / of_library}, as of {manifest.made_at}.")
        code = max(code, _faults(manifest))
    if server is not None:
        send_people(access_file(target), server.engine)
        print("Restored the people and teams into the database on the server.")
        return code
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


def _settings(data: Path | None) -> Settings:
    return read_settings() if data is None else read_settings(data=data)


@contextmanager
def _server(settings: Settings) -> Iterator[PostgresDatabase | None]:
    """The database on a server, open for a while; None where the settings name none."""
    if not settings.database:
        yield None
        return
    with closing(PostgresDatabase(settings.database.get_secret_value())) as database:
        yield database


def _counted(manifest: Manifest) -> str:
    counts = ((manifest.runs, "run"), (manifest.cars, "car"), (len(manifest.files), "file"))
    said = [f"{count:,} {what}{'' if count == 1 else 's'}" for count, what in counts]
    return f"{said[0]}, {said[1]} and {said[2]} ({manifest.size / 1e6:,.1f} MB)"


def _faults(manifest: Manifest) -> int:
    for fault in manifest.faults:
        print(fault, file=sys.stderr)
    return NOT_WHOLE if manifest.faults else 0
