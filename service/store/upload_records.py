"""What is recorded of an upload and of a car outside the database, enough to make their rows anew.

One record an upload, not one a file: the same log can belong to several uploads, and its name, its place beside other
logs, car and details are the upload's.

Public: `KeptRun`, `UploadRecord`, `upload_json`, `read_upload`, `cars_json`, `read_cars`, `item_json`, `read_item`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.record_files import DamagedRecord
from passband.service.store.records import CarRecord, Details, ItemRecord, LogRecord


@dataclass(frozen=True, slots=True)
class KeptRun:
    """One run of an upload, without its review."""

    id: str
    number: int
    """Its place among all runs, in the order of coming in."""
    position: int
    """Which run of the upload, from 0."""
    details: Details
    car: tuple[str, int] | None
    """Id and version of the car it was reviewed with."""
    added_at: str
    """ISO 8601, UTC."""
    reviewed_at: str
    """ISO 8601, UTC."""
    table_key: str
    """Key of its Parquet file."""
    review_sha256: str
    """Of the review's JSON."""


@dataclass(frozen=True, slots=True)
class UploadRecord:
    """An upload as it is kept."""

    key: str
    """Made of the hashes of its files."""
    id: str
    runs_found: int
    """How many runs its logs held; some may have been deleted since."""
    logs: tuple[LogRecord, ...]
    runs: tuple[KeptRun, ...]

    @property
    def originals(self) -> frozenset[str]:
        """Keys of its files."""
        return frozenset(log.sha256 for log in self.logs)

    @property
    def tables(self) -> frozenset[str]:
        """Keys of its runs' tables."""
        return frozenset(run.table_key for run in self.runs)


def upload_json(upload: UploadRecord, generation: int) -> JsonObject:
    """An upload as its record file holds it.

    Parameters
    ----------
    upload : UploadRecord
        Any.
    generation : int
        Of the database, once this is committed.

    Returns
    -------
    dict
        Plain values.
    """
    return {"generation": generation, **asdict(upload)}


def read_upload(body: JsonObject) -> tuple[UploadRecord, int]:
    """An upload and its generation out of a record; `DamagedRecord` if something it needs is not in it."""
    try:
        runs = tuple(_run(run) for run in body["runs"])
        logs = tuple(LogRecord(**log) for log in body["logs"])
        return UploadRecord(body["key"], body["id"], body["runs_found"], logs, runs), int(body["generation"])
    except (KeyError, TypeError, ValueError) as error:
        raise DamagedRecord(f"the record of an upload lacks or holds what it should not: {error}") from None


def _run(body: JsonObject) -> KeptRun:
    car = (body["car"][0], body["car"][1]) if body["car"] else None
    return KeptRun(**{**body, "details": Details(**body["details"]), "car": car})


def cars_json(versions: Sequence[CarRecord], generation: int) -> JsonObject:
    """All versions of one car as its record file holds them."""
    return {"generation": generation, "versions": [asdict(car) for car in versions]}


def read_cars(body: JsonObject) -> tuple[tuple[CarRecord, ...], int]:
    """A car's versions and their generation out of a record; `DamagedRecord` as `read_upload`."""
    try:
        return tuple(CarRecord(**_renamed(car)) for car in body["versions"]), int(body["generation"])
    except (KeyError, TypeError, ValueError) as error:
        raise DamagedRecord(f"the record of a car lacks or holds what it should not: {error}") from None


def _renamed(body: JsonObject) -> JsonObject:
    """A record as it is written now: until the database's version 4, what was given was kept as ``told``."""
    return {"given" if name == "told" else name: value for name, value in body.items()}


def item_json(item: ItemRecord, generation: int) -> JsonObject:
    """An item as its record file holds it."""
    return {"generation": generation, "item": asdict(item)}


def read_item(body: JsonObject) -> tuple[ItemRecord, int]:
    """An item and its generation out of a record; `DamagedRecord` as `read_upload`."""
    try:
        return ItemRecord(**_renamed(body["item"])), int(body["generation"])
    except (KeyError, TypeError, ValueError) as error:
        raise DamagedRecord(f"the record of an item lacks or holds what it should not: {error}") from None
