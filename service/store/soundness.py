"""Whether the rows are all that was acknowledged, held against the records and the state that stand beside them.

Public: `Doubt`, `Condition`, `look_at`.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from enum import Enum

from sqlalchemy.exc import SQLAlchemyError

from service.store.faults import MEND, LibraryDamaged, damaged
from service.store.folder import LibraryFolder
from service.store.ledger import State
from service.store.record_files import DamagedRecord
from service.store.sqlite_records import SqliteRecords
from service.store.upload_records import UploadRecord, read_cars

log = logging.getLogger("passband")


class Doubt(Enum):
    """Why the database may lack something; the value is said to people."""

    LOST = "the database is missing or empty, though logs are kept"
    OLDER = "the database is an older copy than what is kept beside it"
    DIFFERS = "the database and the records beside it do not agree"
    UNKNOWN = "logs are kept of which neither the database nor a record knows anything"


@dataclass(frozen=True, slots=True)
class Condition:
    """What was found at start."""

    doubt: Doubt | None
    """None where every check holds."""
    uploads: int
    """Uploads that have a record and no row, or another one."""
    originals: int
    """Original logs without a row."""

    @property
    def text(self) -> str:
        """What to tell a person; empty where all is well."""
        if self.doubt is None:
            return ""
        return (
            f"Not all that is kept is shown: {self.doubt.value}. {self.originals} logs and {self.uploads} uploads "
            f"stand without their rows. Nothing was removed; end the service and run `{MEND}`, which brings them back."
        )


@dataclass(frozen=True, slots=True)
class Found:
    """Rows and records held against each other."""

    condition: Condition
    cut_off: tuple[UploadRecord, ...]
    """Records of uploads that never got their rows."""
    untold: tuple[str, ...]
    """Ids of uploads whose record is missing, or of a change that was cut off."""
    untold_cars: tuple[str, ...]
    """Ids of cars likewise."""
    contested: frozenset[str]
    """Keys of records of uploads and cars that tell otherwise than the rows, or have none."""


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
    rows = {upload.key: upload for upload in records.all_uploads()}
    waiting = frozenset(last.unclaimed if last else ())
    cut_off, differing, later, untold = _uploads_compared(folder, rows, now.generation, waiting)
    cars_differing, cars_untold, cars_later = _cars_compared(folder, records, now.generation)
    without = _without_row(folder, rows) - waiting
    doubt = _doubt(now, last, later=later or cars_later, differing=bool(differing or cars_differing))
    claimed = {key for upload in cut_off for key in upload.originals}
    if doubt is None and without - claimed and last is None:
        doubt = Doubt.UNKNOWN if rows else Doubt.LOST
    if doubt is None and last is not None and last.doubt and (without or cut_off):
        doubt = Doubt[last.doubt]
    condition = Condition(doubt, len(differing) + len(cut_off), len(without))
    contested = {upload.key for upload in (*differing, *cut_off)} | cars_differing
    return Found(condition, tuple(cut_off), tuple(untold), tuple(cars_untold), frozenset(contested))


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


def _uploads_compared(
    folder: LibraryFolder, rows: dict[str, UploadRecord], generation: int, waiting: frozenset[str]
) -> tuple[list[UploadRecord], list[UploadRecord], bool, list[str]]:
    cut_off, differing, later, told = [], [], False, set()
    for upload, of in folder.recorded_uploads():
        row = rows.get(upload.key)
        if row is None and upload.key in waiting:
            continue
        later = later or of > generation + 1
        if of > generation:  # of a change that was never committed here
            cut_off += [upload] if row is None else []
            continue
        if row is not None and plain(row) == plain(upload):
            told.add(upload.key)
        else:
            differing.append(upload)
    untold = [row.id for row in rows.values() if row.key not in told]
    return cut_off, differing, later, untold


def _cars_compared(folder: LibraryFolder, records: SqliteRecords, generation: int) -> tuple[set[str], list[str], bool]:
    rows = records.all_versions()
    differing, later, told = set(), False, set()
    for car_id in folder.ledger.cars.keys():
        try:
            versions, of = read_cars(folder.ledger.cars.read(car_id) or {})
        except DamagedRecord as error:
            log.warning("%s", error)
            continue
        later = later or of > generation + 1
        if of <= generation:
            told.add(car_id)
            differing |= {car_id} if rows.get(car_id) != versions else set()
    return differing, [car_id for car_id in rows if car_id not in told], later


def _without_row(folder: LibraryFolder, rows: dict[str, UploadRecord]) -> set[str]:
    used = {key for upload in rows.values() for key in upload.originals}
    return set(folder.originals.keys()) - used
