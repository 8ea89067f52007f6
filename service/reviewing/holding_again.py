"""One stored run held against other bounds, in a process of `Workers`: some milliseconds in place of a review.

Public: `HoldTask`, `HeldRun`, `NotKept`, `hold_run`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import orjson

from passband.analysis.results.plain_values import JsonObject

if TYPE_CHECKING:
    from passband.analysis.given.car import Car, Limit
    from passband.analysis.runs.kept_digest import KeptDigest


@dataclass(frozen=True, slots=True)
class HoldTask:
    """What is to be held against what."""

    kept: Path
    """File of the kept run."""
    review: bytes
    """The run's review, JSON."""
    digest: tuple[bytes, bytes] | None
    """Its digest's figures and arrays, as kept; None where there is none."""
    car: JsonObject | None
    """As given."""
    car_was: JsonObject | None
    """With which the review was made, as given."""
    label: str
    event: str
    round: str
    logs: tuple[tuple[Path, str], ...]
    """Names of the logs, for the service's own log."""


@dataclass(frozen=True, slots=True)
class HeldRun:
    """What came of it."""

    review: JsonObject
    """As JSON says it."""
    summary: JsonObject
    """What a list shows of it."""
    digest: KeptDigest | None
    """The run in few numbers; None where it had none."""


@dataclass(frozen=True, slots=True)
class NotKept:
    """It takes a review of the logs."""

    why: str
    """For the service's own log."""


def hold_run(task: HoldTask) -> HeldRun | NotKept:
    """Hold a stored run against its car's bounds as they are now.

    Parameters
    ----------
    task : HoldTask
        The kept run must be of the same logs and of all else that was said of them.

    Returns
    -------
    HeldRun or NotKept
        To the letter what a review of the logs would give; NotKept where what was kept does not reach so far, is
        damaged or of another form.

    Raises
    ------
    GivenError
        If the car cannot be used.
    """
    from passband.analysis.engine.kept_bytes import CannotReadKept, kept_run_from_bytes
    from passband.analysis.engine.kept_run import CannotHold
    from passband.analysis.held_again import hold_again
    from passband.analysis.results.codec import CannotDecode, plain
    from passband.analysis.results.review import RunFacts
    from passband.analysis.runs.summary import summarise
    from passband.service.given.details import title
    from passband.service.store.kept_runs import read_kept

    body = read_kept(task.kept)
    if body is None:
        return NotKept("its file is missing or damaged")
    car, facts = _car(orjson.dumps(task.car)), RunFacts((), task.label, task.event, task.round)
    try:
        stored, kept = orjson.loads(task.review), kept_run_from_bytes(body)
        review, said = hold_again(stored, kept, car, facts, limits_were=_limits_of(task.car_was))
    except (CannotReadKept, CannotHold, CannotDecode) as why:
        return NotKept(str(why))
    in_short: Any = plain(summarise(review))
    called = title(task.label, task.event, task.round, review.run.log_names)
    return HeldRun(said, in_short, _digest(task.digest, review, called) if task.digest else None)


@lru_cache(maxsize=8)
def _car(given: bytes) -> Car:
    """Many runs in a row are of one car: it is read once."""
    from passband.service.given.facts import NO_CAR, read_car

    return read_car(orjson.loads(given) or NO_CAR)


def _limits_of(given: JsonObject | None) -> tuple[Limit, ...]:
    """A car's limits; none where this version would not take the car any more."""
    from passband.service.given.facts import GivenError

    try:
        return tuple(_car(orjson.dumps(given)).limits)
    except GivenError:
        return ()


def _digest(kept: tuple[bytes, bytes], review: Any, label: str) -> KeptDigest | None:
    from passband.analysis.runs.digest import digest_again
    from passband.analysis.runs.kept_digest import keep_digest, read_digest

    digest = read_digest(orjson.loads(kept[0]), kept[1])
    return keep_digest(digest_again(digest, review, label=label)) if digest is not None else None
