"""What the command line says of a backup made and of one put back.

Public: `print_backup`, `print_restore`.
"""

from __future__ import annotations

import sys
from pathlib import Path

from passband.service.backup import back_up
from passband.service.restoring import restore
from passband.service.settings import SettingsError, read_settings
from passband.service.store.archives import BackupError, Manifest
from passband.service.store.faults import LibraryDamaged, LibraryInUse
from passband.service.store.schema import SchemaError

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
        manifest = restore(target, data)
    except _SAID as error:
        print(error, file=sys.stderr)
        return CANNOT
    print(f"Restored {_counted(manifest)} into {data}, as of {manifest.made_at}; every sum was right.")
    return _faults(manifest)


def _folder(data: Path | None) -> Path:
    return (read_settings() if data is None else read_settings(data=data)).data


def _counted(manifest: Manifest) -> str:
    counts = ((manifest.runs, "run"), (manifest.cars, "car"), (len(manifest.files), "file"))
    said = [f"{count:,} {what}{'' if count == 1 else 's'}" for count, what in counts]
    return f"{said[0]}, {said[1]} and {said[2]} ({manifest.size / 1e6:,.1f} MB)"


def _faults(manifest: Manifest) -> int:
    for fault in manifest.faults:
        print(fault, file=sys.stderr)
    return NOT_WHOLE if manifest.faults else 0
