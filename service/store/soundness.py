"""Whether the rows are all that was acknowledged, held against the records and the state that stand beside them.

Public: `Doubt`, `Condition`, `look_at`.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import Enum
from typing import Generic, TypeVar

from sqlalchemy.exc import SQLAlchemyError

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.faults import MEND, LibraryDamaged, damaged
from passband.service.store.folder import LibraryFolder
from passband.service.store.ledger import State
from passband.service.store.record_files import DamagedRecord, RecordFiles
from passband.service.store.sqlite_records import SqliteRecords
from passband.service.store.upload_records import UploadRecord, read_cars, read_item

Recorded = TypeVar("Recorded")

log = logging.getLogger("passband")


class Doubt(Enum):
    """Why the database may lack something; the value is said to people."""

    LOST = "the database is missing or empty, though logs are kept"
    OLDER = "the database is an older copy than what is kept beside it"
    DIFFERS = "the database and the records beside it do not agree"
    UNKNOWN = "logs are kept of which neither the database nor a record knows anything"


MENDED = f"end the service and run `{MEND}`, which brings them back."


@dataclass(frozen=True, slots=True)
class Condition:
    """What was found at start."""

    doubt: Doubt | None
    """None where every check holds."""
    uploads: int
    """Uploads that have a record and no row, or another one."""
    originals: int
    """Original logs without a row."""
    mend: str = MENDED
    """What brings them back, the end of a sentence."""

    @property
    def text(self) -> str:
        """What to tell a person; empty where all is well."""
        if self.doubt is None:
            return ""
        return (
            f"Not all that is kept is shown: {self.doubt.value}. {self.originals} logs and {self.uploads} uploads "
            f"stand without their rows. Nothing was removed; {self.mend}"
        )


@dataclass(frozen=True, slots=True)
class Found:
    """Rows and records held against each other."""

    condition: Condition
    cut_off: tuple[UploadRecord, ...]
    """Records of uploads that never got their rows."""
    cars_cut_off: tuple[str, ...]
    """Ids of cars that never got theirs."""
    items_cut_off: tuple[str, ...]
    """Ids of items likewise."""
    without_record: tuple[str, ...]
    """Ids of uploads whose record is missing, or of a change that was cut off."""
    cars_without_record: tuple[str, ...]
    """Ids of cars likewise."""
    items_without_record: tuple[str, ...]
    """Ids of items likewise."""
    contested: frozenset[str]
    """Keys of records of uploads, cars and items that tell otherwise than the rows, or have none."""
    number: int
    """Greatest number of a run that such a record tells of."""


def look_at(folder: LibraryFolder, records: SqliteRecords) -> Found:
    """Hold rows, records, state and originals against each other; nothing is changed.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    records : SqliteRecords
        Its rows, from a database that was found sound in itself.

    Returns
    -------
    Found
        With what is to be settled where there is no doubt.

    Raises
    ------
    LibraryDamaged
        If a row does not hold what its column should.
    """
    with _readable():
        return _look_at(folder, records)


def _look_at(folder: LibraryFolder, records: SqliteRecords) -> Found:
    now, last = records.state(), folder.ledger.state()
    waiting = frozenset(last.unclaimed if last else ())
    rows = {upload.key: upload for upload in records.all_uploads()}
    of_uploads = _uploads_compared(folder, rows, now.generation, waiting)
    of_cars = _compared(folder.ledger.cars, read_cars, records.all_versions(), now.generation)
    of_items = _compared(folder.ledger.items, read_item, records.all_items(), now.generation)
    without = _without_row(folder, rows) - waiting - {log.sha256 for log in records.logs_of_jobs()}
    cut_off = tuple(upload for upload in of_uploads.ahead.values() if upload.key not in rows)
    later = of_uploads.later or of_cars.later or of_items.later
    differing = bool(of_uploads.differing or of_cars.differing or of_items.differing)
    doubt = _doubt(now, last, later=later, differing=differing)
    claimed = {key for upload in cut_off for key in upload.originals}
    if doubt is None and without - claimed and last is None:
        doubt = Doubt.UNKNOWN if rows else Doubt.LOST
    if last is not None and last.doubt and (doubt or without or cut_off):
        doubt = Doubt[last.doubt]
    others = {**of_uploads.ahead, **of_uploads.differing}
    return Found(
        condition=Condition(doubt, len(others), len(without)),
        cut_off=cut_off,
        cars_cut_off=tuple(car_id for car_id in of_cars.ahead if records.car(car_id) is None),
        items_cut_off=tuple(item_id for item_id in of_items.ahead if records.item(item_id) is None),
        without_record=of_uploads.without_record,
        cars_without_record=of_cars.without_record,
        items_without_record=of_items.without_record,
        contested=frozenset(others).union(of_cars.ahead, of_cars.differing, of_items.ahead, of_items.differing),
        number=max((run.number for upload in others.values() for run in upload.runs), default=0),
    )


@contextmanager
def _readable() -> Iterator[None]:
    """Rows whose pages agree may still hold what is no text, number or JSON."""
    try:
        yield
    except (ValueError, TypeError, SQLAlchemyError) as error:
        raise LibraryDamaged(damaged(f"a row cannot be read, {type(error).__name__}")) from error


def plain(upload: UploadRecord) -> UploadRecord:
    """An upload without the hashes of its reviews, which take a while to make."""
    return replace(upload, runs=tuple(replace(run, review_sha256="") for run in upload.runs))


def _doubt(now: State, last: State | None, *, later: bool, differing: bool) -> Doubt | None:
    empty = not (now.runs or now.uploads or now.cars)
    behind = last is not None and now.generation < last.generation
    if empty and (behind or later or differing):
        return Doubt.LOST
    if behind or later:
        return Doubt.OLDER
    counts = last is not None and not last.doubt and now.generation == last.generation
    if differing or (counts and last is not None and (now.runs, now.uploads, now.cars) != _counts(last)):
        return Doubt.DIFFERS
    return None


def _counts(state: State) -> tuple[int, int, int]:
    return state.runs, state.uploads, state.cars


@dataclass(frozen=True, slots=True)
class _Compared(Generic[Recorded]):
    """Records of one kind held against the rows."""

    ahead: dict[str, Recorded]
    """By key, of a generation that the database has not reached."""
    differing: dict[str, Recorded]
    """By key, otherwise than the rows, or without any."""
    later: bool
    """Whether one is of a generation beyond the next."""
    without_record: tuple[str, ...]
    """Ids of rows that no record tells of as they are."""


def _uploads_compared(
    folder: LibraryFolder, rows: dict[str, UploadRecord], generation: int, waiting: frozenset[str]
) -> _Compared[UploadRecord]:
    ahead, differing, later, said = {}, {}, False, set()
    for upload, of in folder.recorded_uploads():
        row = rows.get(upload.key)
        if row is None and upload.key in waiting:
            continue
        later = later or of > generation + 1
        if of > generation:
            ahead[upload.key] = upload
        elif row is not None and plain(row) == plain(upload):
            said.add(upload.key)
        else:
            differing[upload.key] = upload
    return _Compared(ahead, differing, later, tuple(row.id for row in rows.values() if row.key not in said))


def _compared(
    files: RecordFiles,
    read: Callable[[JsonObject], tuple[Recorded, int]],
    rows: Mapping[str, Recorded],
    generation: int,
) -> _Compared[Recorded]:
    """Records of cars or of items held against their rows, by their ids."""
    ahead, differing, later, said = {}, {}, False, set()
    for key in files.keys():
        try:
            recorded, of = read(files.read(key) or {})
        except DamagedRecord as error:
            log.warning("%s", error)
            continue
        later = later or of > generation + 1
        if of > generation:
            ahead[key] = recorded
        elif rows.get(key) == recorded:
            said.add(key)
        else:
            differing[key] = recorded
    return _Compared(ahead, differing, later, tuple(key for key in rows if key not in said))


def _without_row(folder: LibraryFolder, rows: dict[str, UploadRecord]) -> set[str]:
    used = {key for upload in rows.values() for key in upload.originals}
    return set(folder.originals.keys()) - used
