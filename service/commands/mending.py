"""What a person does with a library that is not being served: recheck it, look into its trash.

Public: `print_recheck`, `print_trash`, `with_settings`.
"""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from passband.service.kept.recheck import recheck
from passband.service.library import Library
from passband.service.settings import Settings, SettingsError, read_settings
from passband.service.store.faults import CannotRestore, FilesAway, LibraryDamaged, LibraryInUse
from passband.service.store.room import told_if_full
from passband.service.store.schema import SchemaError
from passband.service.store.trash import Entry

NOT_ALL = 2
"""Exit status where something is left that could not be done."""


def print_recheck(*, data: Path | None) -> int:
    """Recheck a library and say what was found, done and left.

    Parameters
    ----------
    data : Path, optional
        Folder of the library; else the setting's.

    Returns
    -------
    int
        0 if all is well or was mended, 2 if something could not be.
    """
    return with_settings(data, _print_recheck)


def print_trash(*, data: Path | None, restore: str | None = None, empty: bool = False) -> int:
    """List the trash, bring one of its entries back, or let go of them all.

    Parameters
    ----------
    data : Path, optional
        Folder of the library; else the setting's.
    restore : str, optional
        An entry to bring back.
    empty : bool
        Let go of all.

    Returns
    -------
    int
        0, or 2 if it could not be done; the reason stands on stderr.
    """

    def work(settings: Settings) -> int:
        with closing(Library(settings)) as library:
            if restore is not None:
                return _restore(library, restore)
            entries = list(library.trash.entries())
            for entry in entries:
                if empty:
                    library.trash.discard(entry.id)
                else:
                    print(line_of(entry))
        print(f"{len(entries)} entries were let go." if empty else f"{len(entries)} entries lie in the trash.")
        return 0

    return with_settings(data, work)


def line_of(entry: Entry) -> str:
    """An entry of the trash in one line."""
    runs = entry.upload.runs if entry.upload else ()
    said = [" ".join(filter(None, (run.details.event, run.details.round, run.details.label))) for run in runs]
    names = [log.name for log in entry.upload.logs] if entry.upload else []
    return f"{entry.id}: {', '.join(filter(None, [*said, *names])) or 'no run is known of it'}. {entry.why}"


def _print_recheck(settings: Settings) -> int:
    report = recheck(settings)
    for line in report.done:
        print(line)
    for line in report.left:
        print(line, file=sys.stderr)
    print("What could not be mended stands above." if report.left else "All that is kept is in order.")
    return NOT_ALL if report.left else 0


def _restore(library: Library, entry_id: str) -> int:
    runs = library.deleting.restore(entry_id)
    if runs is None:
        print(f"There is no entry {entry_id} in the trash; `passband trash` lists them.", file=sys.stderr)
        return NOT_ALL
    print(f"{len(runs)} runs are here again.")
    return 0


def with_settings(data: Path | None, work: Callable[[Settings], int]) -> int:
    """Do something with a library's settings, what stands in the way told on stderr.

    Parameters
    ----------
    data : Path, optional
        Folder of the library; else the setting's.
    work : callable
        Takes the settings, gives the exit status.

    Returns
    -------
    int
        What `work` gave; 2 if it could not begin.
    """
    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    try:
        settings = read_settings() if data is None else read_settings(data=data)
        if not settings.data.is_dir():
            print(f"There is no library in {settings.data}; name its folder with --data.", file=sys.stderr)
            return NOT_ALL
        with told_if_full(settings.data):
            return work(settings)
    except (SettingsError, LibraryInUse, FilesAway, LibraryDamaged, SchemaError, CannotRestore) as error:
        print(error, file=sys.stderr)
        return NOT_ALL
