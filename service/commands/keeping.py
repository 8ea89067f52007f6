"""What the command line says of a backup made and of one put back.

Public: `print_backup`, `print_restore`.
"""

from __future__ import annotations

import hashlib
import sqlite3
import sys
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

import orjson

from passband.service.access.identity import access_file
from passband.service.access.records import forget_begun
from passband.service.access.sending_people import send_people
from passband.service.access.teams_told import LIBRARY_HAS, check_not_lost, libraries_of_teams, tell_teams
from passband.service.commands.restoring import restore
from passband.service.kept.backup import back_up
from passband.service.settings import Settings, SettingsError, read_settings
from passband.service.store.archives import MANIFEST, BackupError, Manifest
from passband.service.store.faults import FilesAway, LibraryDamaged, LibraryInUse, RowsElsewhere
from passband.service.store.files import sync_file, write_whole
from passband.service.store.opening import HOME as HOME_TEAM
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.schema import SchemaError

HOME = "libraries"
"""Folder of a backup with teams that holds the libraries, each where it lay."""
WHOLE = "whole.json"
"""File of a backup with teams, written last: which libraries it holds, and the sum of the file of people."""
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
        check_not_lost(data)
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
    code, of_teams = 0, _libraries(data)
    for of_library in of_teams:
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
    whole = {"libraries": of_teams, "people": hashlib.sha256(kept.read_bytes()).hexdigest()}
    write_whole(target / WHOLE, orjson.dumps(whole, option=orjson.OPT_INDENT_2), scratch=target)
    print(f"Backed up the people and teams to {kept}.")
    return code


def _restore_teams(target: Path, settings: Settings, server: PostgresDatabase | None) -> int:
    code, data = 0, settings.data
    of_teams = _check_whole(target)
    _tell_of_teams(target, data)
    for of_library in of_teams:
        of_team = settings.of_folder(of_library)
        rows = PostgresRecords(server, of_library or HOME_TEAM) if server is not None else None
        manifest = restore(target / HOME / of_library, of_team.data, store=of_team.object_store, rows=rows)
        print(f"Restored {_counted(manifest)} into {data / of_library}, as of {manifest.made_at}.")
        code = max(code, _faults(manifest))
    if server is not None:
        send_people(access_file(target), server.engine)
        print("Restored the people and teams into the database on the server.")
        return code
    _put_people(target, data)
    return code


def _put_people(target: Path, data: Path) -> None:
    write_whole(access_file(data), access_file(target).read_bytes(), scratch=data)
    access_file(data).chmod(0o600)
    print(f"Restored the people and teams into {access_file(data)}.")


def _tell_of_teams(target: Path, data: Path) -> None:
    """First of all, so that a restore that is broken off leaves no library that asks nobody for a name."""
    if access_file(data).exists():
        raise BackupError(f"{data} has people and teams already; a backup is restored only where there is nothing.")
    with closing(sqlite3.connect(f"{access_file(target).resolve().as_uri()}?immutable=1", uri=True)) as people:
        try:
            tell_teams(data, people.execute("SELECT name, folder FROM teams").fetchall())
        except sqlite3.DatabaseError as error:
            raise BackupError(f"{access_file(target)} is damaged ({error}). Nothing was restored.") from None


def _check_whole(target: Path) -> list[str]:
    """The libraries of a backup with teams, none of them left out by whoever copied it."""
    there = _libraries(target / HOME, of=(MANIFEST, *LIBRARY_HAS))
    try:
        whole = orjson.loads((target / WHOLE).read_bytes())
        named, people = list(whole["libraries"]), str(whole["people"])
    except FileNotFoundError:  # made before this was kept
        named, people = there, ""
    except (ValueError, TypeError, KeyError):
        raise BackupError(f"{target / WHOLE} is damaged. Nothing was restored; copy the backup again.") from None
    lost = [one or "the first team's" for one in named if not (target / HOME / one / MANIFEST).is_file()]
    if lost:
        raise BackupError(
            f"The backup in {target} is not whole: of these libraries it has no manifest: {', '.join(lost)}. Nothing "
            "was restored; copy the backup again, or take another."
        )
    if people and people != hashlib.sha256(access_file(target).read_bytes()).hexdigest():
        raise BackupError(f"{access_file(target)} is damaged. Nothing was restored; copy the backup again.")
    return named


def _libraries(data: Path, *, of: Sequence[str] = LIBRARY_HAS) -> list[str]:
    """The libraries in a folder of teams, its own first; also those that lost a part of what they are made of."""
    own = [""] if any((data / name).exists() for name in of) else []
    return [*own, *libraries_of_teams(data)]


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
