"""Runs brought back as they were, ids and all: out of the trash, or from a record whose rows are lost.

Public: `bring_back`, `bring_back_deleted`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import orjson

from passband.analysis.channels.log import LogError
from passband.analysis.results.plain_values import JsonObject
from passband.service.given.facts import GivenError
from passband.service.reviewing.upload_review import UploadReviewer, reviewed_of
from passband.service.store.faults import CannotRestore, NotWhole
from passband.service.store.files import Written
from passband.service.store.folder import LibraryFolder
from passband.service.store.packing import PACKED
from passband.service.store.record_files import DamagedRecord
from passband.service.store.records import CarRecord, NewReview
from passband.service.store.row_records import RowRecords
from passband.service.store.trash import Entry
from passband.service.store.upload_records import KeptRun, UploadRecord, read_cars

Room = tuple[Path, Written]
"""An empty folder for what is on its way, and where to note what is newly kept."""


def bring_back(
    folder: LibraryFolder,
    records: RowRecords,
    reviewer: UploadReviewer,
    upload: UploadRecord,
    room: Room,
    *,
    kept: Mapping[int, NewReview] | None = None,
    anew: bool = False,
) -> None:
    """Make an upload's rows from its record; reviews that are not kept are made again from its logs.

    Parameters
    ----------
    folder : LibraryFolder
        Holds the upload's logs.
    records : RowRecords
        Where the rows go.
    reviewer : UploadReviewer
        Reviews again.
    upload : UploadRecord
        What was recorded, with the runs wanted.
    room : Room
        For tables on their way.
    kept : mapping of int to NewReview, optional
        Reviews that are sound and whose tables are kept, by position.
    anew : bool
        Forget the rows that stand first.

    Raises
    ------
    LogError, GivenError
        If the logs can no longer be read as they were.
    NotWhole
        If a log is missing.
    """
    cars = bring_back_cars(folder, records, upload.runs)
    reviews = dict(kept or {})
    lacking = [run for run in upload.runs if run.position not in reviews]
    made = reviewer.review_kept(upload, lacking, cars, room[0])
    for run in lacking:
        reviewed, car = made[run.position]
        table_key = room[1].put(folder.tables, reviewed.table)
        reviews[run.position] = reviewed_of(run.position, reviewed, car, run.details, table_key)
    folder.ledger.contested.discard(upload.key)
    records.bring_back(upload, list(reviews.values()), anew=anew)


def bring_back_deleted(
    folder: LibraryFolder, records: RowRecords, reviewer: UploadReviewer, entry: Entry, room: Room
) -> UploadRecord:
    """Bring back an entry of the trash; it is not discarded here.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    records : RowRecords
        Its rows.
    reviewer : UploadReviewer
        Reviews again what has no review in the entry.
    entry : Entry
        What is wanted back.
    room : Room
        For files on their way.

    Returns
    -------
    UploadRecord
        With the runs brought back.

    Raises
    ------
    CannotRestore
        If there are no runs in it, others have their place, or something of them is missing.
    """
    upload = entry.upload
    if upload is None or not upload.runs:
        raise CannotRestore("It holds no runs that could be brought back; send its logs again.")
    here = records.upload(upload.key)
    others = {run.position: run.id for run in here[0]} if here else {}
    if any(others.get(run.position, run.id) != run.id for run in upload.runs):
        raise CannotRestore("The same logs were sent again meanwhile, and the run is here anew; delete that one first.")
    _put_files_back(folder, entry, room)
    kept = {run.position: review for run in upload.runs if (review := _review_in(folder, entry, run))}
    try:
        bring_back(folder, records, reviewer, upload, room, kept=kept)
    except (LogError, GivenError, NotWhole) as error:
        raise CannotRestore(f"It could not be brought back: {error}") from None
    return upload


def bring_back_cars(
    folder: LibraryFolder, records: RowRecords, runs: Sequence[KeptRun]
) -> dict[tuple[str, int], CarRecord]:
    """Cars of runs in their versions; what the rows lack comes from the cars' records, `NotWhole` if not there."""
    cars: dict[tuple[str, int], CarRecord] = {}
    for run in runs:
        if run.car is None or run.car in cars:
            continue
        car = records.car(*run.car)
        if car is None:
            try:
                versions, _ = read_cars(folder.ledger.cars.read(run.car[0]) or {})
            except DamagedRecord:
                versions = ()
            if run.car[1] not in [one.version for one in versions]:
                raise NotWhole(run.id, "The car")
            folder.ledger.contested.discard(run.car[0])
            records.bring_back_car(versions)
            car = next(one for one in versions if one.version == run.car[1])
        cars[run.car] = car
    return cars


def _put_files_back(folder: LibraryFolder, entry: Entry, room: Room) -> None:
    for name in entry.files:
        key, _, suffix = name.partition(".")
        if len(key) != 64 or suffix not in ("", "parquet", PACKED.removeprefix(".")):
            continue
        blobs = folder.tables if suffix == "parquet" else folder.originals
        if folder.trash.copy_out(entry.id, name, room[0] / key):
            room[1].put(blobs, room[0] / key)


def _review_in(folder: LibraryFolder, entry: Entry, run: KeptRun) -> NewReview | None:
    path = folder.trash.path(entry.id, f"review-{run.id}.json")
    review = path.read_bytes() if path is not None else b""
    if hashlib.sha256(review).hexdigest() != run.review_sha256 or not folder.tables.is_whole(run.table_key):
        return None
    return kept_review(run, review)


def summary_of(review: bytes) -> JsonObject:
    """What a list shows of a review that is kept."""
    from passband.analysis.results.codec import plain, review_from_json
    from passband.analysis.runs.summary import summarise

    summary: Any = plain(summarise(review_from_json(orjson.loads(review))))
    return dict(summary)


def kept_review(run: KeptRun, review: bytes) -> NewReview:
    """A review that is kept as it is, with what its list shows made anew."""
    return NewReview(
        position=run.position,
        details=run.details,
        car=run.car,
        summary=summary_of(review),
        review=review,
        table_key=run.table_key,
        made_at=run.reviewed_at,
    )
