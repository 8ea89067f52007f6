"""What a run needs after something said of it has changed: a new review, its bounds held anew, or new words alone.

A review is made of its logs and of all that is said of them. Limits, band and boost threshold (the bounds) act last, on
what is kept of the run; label, event and round stand in the review and act on nothing; notes and the date stand beside
it. Which of them are others than those that the stored review was made with decides.

Public: `BOUNDS`, `WORDS`, `inputs_of`, `needs_logs`, `Unreviewed`.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import orjson

from passband.analysis.results.plain_values import JsonObject
from passband.analysis.runs.kept_digest import keep_digest, read_digest
from passband.analysis.versions import HOLDS_BOUNDS, VERSION, rooms_changed_since
from passband.service.given.details import UploadDetails, title
from passband.service.reviewing.holding_again import HeldRun, HoldTask, NotKept
from passband.service.reviewing.upload_review import reviewed_of
from passband.service.reviewing.workers import Workers
from passband.service.store.digest_rows import DigestRow
from passband.service.store.kept_runs import KeptRuns, MadeOf
from passband.service.store.records import CarRecord, Details, LogRecord, NewReview, RunRecord
from passband.service.store.row_records import RowRecords

BOUNDS = ("limits", "rpm_band", "boost_threshold")
"""Keys of a car that act after everything else, on what is kept of a run."""
WORDS = ("name",)
"""Keys of a car that act on nothing."""


log = logging.getLogger("passband")


def inputs_of(
    logs: Sequence[LogRecord], car: CarRecord | None, details: UploadDetails | Details, slips: Sequence[JsonObject]
) -> str:
    """Hash of all that a review's figures are made of before bounds act.

    Parameters
    ----------
    logs : sequence of LogRecord
        In the order in which they are read.
    car : CarRecord or None
        The car; its bounds and its name are left out.
    details : UploadDetails or Details
        For the air and the finish line.
    slips : sequence of mapping
        Of all runs of the logs, in order.

    Returns
    -------
    str
        64 digits. What is written otherwise counts as another, though it may mean the same: then a run is reviewed.
    """
    given = {key: value for key, value in car.given.items() if key not in (*BOUNDS, *WORDS)} if car else None
    said = [[(log.name, log.sha256) for log in logs], given, details.air, details.finish_ft, list(slips)]
    return hashlib.sha256(orjson.dumps(said, option=orjson.OPT_SORT_KEYS)).hexdigest()


def needs_logs(kept: MadeOf | None, inputs: str) -> str:
    """Why a run must be reviewed from its logs.

    Parameters
    ----------
    kept : MadeOf or None
        What the kept run was made of.
    inputs : str
        Hash of what now holds.

    Returns
    -------
    str
        Empty where holding its bounds anew gives the same.
    """
    if kept is None:
        return "nothing is kept of it"
    if kept.inputs != inputs:
        return "what its figures are made of has changed"
    rooms = rooms_changed_since(kept.version)
    if rooms is None:
        return "it was made by a version of the analysis that is not known here"
    before_bounds = sorted(rooms - HOLDS_BOUNDS)
    return f"the analysis has changed in {', '.join(before_bounds)}" if before_bounds else ""


class Unreviewed:
    """Makes new reviews of stored ones where that gives what reviewing the logs would.

    Parameters
    ----------
    workers : Workers
        What computes.
    records : RowRecords
        Where runs are.
    kept : KeptRuns
        What is kept of them.
    """

    def __init__(self, workers: Workers, records: RowRecords, kept: KeptRuns) -> None:
        self._workers, self._records, self._kept = workers, records, kept

    def review_of(
        self, run: RunRecord, car: CarRecord | None, details: Details, *, inputs: str, slips_were: Sequence[JsonObject]
    ) -> NewReview | None:
        """A run's review with other bounds or other words.

        Parameters
        ----------
        run : RunRecord
            As it stands.
        car : CarRecord or None
            Its car as it is now.
        details : Details
            What is said of it now.
        inputs : str
            Hash of all else, as `inputs_of` makes it.
        slips_were : sequence of mapping
            Of all runs of the logs, as they stand.

        Returns
        -------
        NewReview or None
            None where the run must be reviewed from its logs.

        Raises
        ------
        GivenError
            If the car cannot be used.
        """
        stored, was = self._records.review(run.id), self._records.car(*run.car) if run.car is not None else None
        if inputs_of(run.logs, was, run.details, slips_were) != inputs:
            return None  # the review that stands is of others, whatever is kept
        if stored is None or needs_logs(self._kept.made_of(run.id), inputs):
            return None
        digest = self._records.digests.of([run.id]).get(run.id)
        if _words_alone(stored, was, car):
            held: HeldRun | NotKept = _in_other_words(stored, run, details, digest)
        else:
            kept_digest = (orjson.dumps(digest.figures), digest.arrays) if digest is not None else None
            called, logs = (details.label, details.event, details.round), tuple((Path(), log.name) for log in run.logs)
            given, given_was = (one.given if one is not None else None for one in (car, was))
            task = HoldTask(self._kept.path(run.id), stored, kept_digest, given, given_was, *called, logs)
            held = self._workers.hold(task)
        if isinstance(held, NotKept):
            log.info("run %s is reviewed from its logs: %s", run.id, held.why)
            return None
        return reviewed_of(run.position, held, car, details, run.table_key)


def _words_alone(stored: bytes, was: CarRecord | None, now: CarRecord | None) -> bool:
    """Whether bounds, name and version of the analysis are those of the stored review."""
    before, after = (one.given if one is not None else {} for one in (was, now))
    same = all(before.get(key) == after.get(key) for key in (*BOUNDS, *WORDS))
    return same and orjson.loads(stored)["version"] == VERSION


def _in_other_words(stored: bytes, run: RunRecord, details: Details, digest: DigestRow | None) -> HeldRun:
    """A run that is called otherwise; its figures are those stored."""
    review = orjson.loads(stored)
    review["run"] |= {"label": details.label, "event": details.event, "round": details.round}
    kept = read_digest(digest.figures, digest.arrays) if digest is not None else None
    if kept is not None:
        called = title(details.label, details.event, details.round, review["run"]["log_names"])
        kept = replace(kept, label=called, event=details.event, round=details.round)
    return HeldRun(review, run.summary, keep_digest(kept) if kept is not None else None)
