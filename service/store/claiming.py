"""A folder and the rows on a server held together: both bear one mark, and the folder says how far the rows had come.

A SQLite file lies in its folder and cannot be of another. An address in a setting can: rows of another library, of none
or as they stood yesterday would make every file in the folder one that nobody needs.

Public: `claim`, `note_number`, `team_of`, `trust`.
"""

from __future__ import annotations

import logging
import secrets
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from passband.service.store.faults import RowsElsewhere
from passband.service.store.files import write_whole
from passband.service.store.folder import MARK, LibraryFolder
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.record_files import DamagedRecord, read_record, written_record
from passband.service.store.row_records import RowRecords

log = logging.getLogger("passband")


def claim(folder: LibraryFolder, records: PostgresRecords) -> bool:
    """Make sure that a folder's files and the rows are of one library; a new one is begun where neither is of any.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    records : PostgresRecords
        Its rows.

    Returns
    -------
    bool
        Whether the rows have come as far as the folder says. If not they are an older copy, and stay one in this
        folder's eyes whatever is added to them, until the mark is taken away.

    Raises
    ------
    RowsElsewhere
        If the two do not belong together; nothing was changed.
    """
    with records.turn("mark"):
        kept, here = records.mark(), _read(folder.root / MARK)
        if kept is None:
            if here is not None:
                raise RowsElsewhere(
                    "The folder's library is not in this database: the address is of another, or its rows are lost. "
                    "Set PASSBAND_DATABASE right, or bring the server's backup back. Nothing was changed."
                )
            if any(folder.originals.keys()):
                raise RowsElsewhere(
                    "The folder holds logs of which the database knows nothing; give a new library an empty folder. "
                    "Nothing was changed."
                )
            records.begin_library(secrets.token_hex(16))
            kept = records.mark()
        strange = here.mark != kept.mark if here and kept else not _holds_newest(folder, records)
        strange = strange or bool(here and here.team != records.team)
        if kept is None or strange:
            raise RowsElsewhere(
                "The folder is not the one that the rows in the database are of; set PASSBAND_DATA or "
                "PASSBAND_DATABASE right. Nothing was changed."
            )
        older = here is not None and (here.older or kept.number < here.number)
        _write(folder, _FolderMark(records.team, kept.mark, max(kept.number, here.number if here else 0), older))
    return not older


def note_number(folder: LibraryFolder, records: RowRecords) -> None:
    """Write down how far rows on a server have come, once they are committed; whoever calls holds the files' turn."""
    if not isinstance(records, PostgresRecords):
        return
    kept, here = records.mark(), _read(folder.root / MARK)
    if kept is not None and here is not None and here.number < kept.number:
        try:
            _write(folder, replace(here, number=kept.number))
        except OSError as error:  # what was to be kept is; the next change writes it down
            log.error("how far the rows have come could not be written down: %s", error)


def team_of(folder: LibraryFolder) -> str:
    """Whose rows a folder is of; empty where it is of none yet, or `RowsElsewhere` if its mark is damaged."""
    here = _read(folder.root / MARK)
    return here.team if here else ""


def trust(folder: LibraryFolder, records: PostgresRecords) -> None:
    """Take the rows for whole again, however far they once had come; whoever calls holds the files' turn."""
    kept = records.mark()
    if kept is not None:
        _write(folder, _FolderMark(records.team, kept.mark, kept.number, older=False))


def _holds_newest(folder: LibraryFolder, records: PostgresRecords) -> bool:
    """Whether the folder has the newest run's logs; true where there is no run."""
    newest = next(iter(records.find_runs(event=None, car=None, limit=1, after=None)), None)
    run = records.run(newest.id) if newest else None
    return run is None or all(folder.originals.is_whole(log.sha256) for log in run.logs)


@dataclass(frozen=True, slots=True)
class _FolderMark:
    """What a folder says of its rows."""

    team: str
    mark: str
    number: int
    older: bool
    """Whether they were once found to be an older copy."""


def _read(path: Path) -> _FolderMark | None:
    try:
        body = read_record(path.read_bytes(), path.name)
        return _FolderMark(str(body["team"]), str(body["mark"]), int(body["number"]), bool(body["older"]))
    except FileNotFoundError:
        return None
    except (DamagedRecord, KeyError, ValueError, TypeError):
        raise RowsElsewhere(
            f"{path.name} in the folder, which says what database its rows are in, is damaged. Take the same file from "
            "a copy of the folder, or take it away if you are sure that the database is the right one."
        ) from None


def _write(folder: LibraryFolder, mark: _FolderMark) -> None:
    body = written_record(asdict(mark))
    path = folder.root / MARK
    if not path.exists() or path.read_bytes() != body:
        write_whole(path, body, scratch=folder.incoming)
