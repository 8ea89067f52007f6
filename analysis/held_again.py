"""A stored review with its run held against other bounds: to the letter what a review of the logs would say.

Public: `hold_again`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from passband.analysis.driveline.launch import back_in_band
from passband.analysis.engine.kept_run import CannotHold, Found, KeptRun, hold_to_bounds
from passband.analysis.given.car import Car, Limit
from passband.analysis.results.codec import as_json, plain, review_from_json
from passband.analysis.results.launch import Launch
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.reading_back import record_from
from passband.analysis.results.review import CarFacts, Review, RunFacts
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.evidence import BAND_NOT_GIVEN
from passband.analysis.shifts.kinds import with_band
from passband.analysis.versions import VERSION

PARTS = ("run", "launch", "shifts", "boost", "band", "limits", "findings", "version", "car")
"""What of a review may be another with other bounds; all else stays as it is stored."""
OF_BOUNDS = ("boost", "band", "limits")
"""Those made of bounds altogether."""
OF_BAND = ("back_in_band_s", "margin_to_band_low_rpm", "margin_to_band_high_rpm")
"""What the band makes of the others."""

_BUT_LIMITS = tuple(part for part in PARTS if part != "limits")
_MADE_ANEW: dict[str, Any] = {"boost": None, "band": None, "limits": [], "findings": []}
"""What need not be read of a stored review."""

JsonObject = Mapping[str, Any]


def hold_again(
    stored: JsonObject, kept: KeptRun, car: Car, facts: RunFacts, *, limits_were: Sequence[Limit] = ()
) -> tuple[Review, dict[str, Any]]:
    """Hold a run against its car's bounds as they are now.

    Parameters
    ----------
    stored : mapping
        Its review's JSON, read.
    kept : KeptRun
        What was kept of the run, of the same review.
    car : Car
        The same but for its name and its bounds: limits, band and boost threshold.
    facts : RunFacts
        Label, event and round as they are now.
    limits_were : sequence of Limit, optional
        Those of the stored review, in its order. What this version found of one that is still asked stands.

    Returns
    -------
    (Review, dict)
        The review as it is now, and its JSON: parts that bounds do not touch are those stored. Of limits that stand the
        review lacks how their margins went, which only the JSON tells.

    Raises
    ------
    CannotHold
        If it takes a review of the logs: what is kept does not reach as far as a limit asks, or is not of this review.
    """
    before = review_from_json({**stored, **_MADE_ANEW})
    if len(kept.kinds) != len(before.shifts):
        raise CannotHold("what is kept of the run is not of this review")
    unnamed = [replace(shift, kind=kind) for shift, kind in zip(before.shifts, kept.kinds, strict=True)]
    shifts = with_band(unnamed, car.rpm_band)
    power, distance = known(before.power), known(before.distance)
    found = Found(
        known(before.gears), shifts, distance.wheelspin if distance is not None else (), power.curves if power else ()
    )
    standing = _standing(stored, car.limits, limits_were)
    held = hold_to_bounds(kept, car, found, settled={place: _verdict(one) for place, one in standing.items()})
    now = replace(
        before, run=replace(facts, log_names=before.run.log_names), launch=_launch(before, kept, car), shifts=shifts,
        boost=held.boost, band=held.band, limits=held.limits, findings=held.findings, version=VERSION,
        car=CarFacts(car.name),
    )  # fmt: skip
    limits = [standing[place] if place in standing else plain(one) for place, one in enumerate(now.limits)]
    return now, _beside_stored(stored, {**as_json(now, _BUT_LIMITS), "limits": limits})


def _standing(stored: JsonObject, limits: Sequence[Limit], were: Sequence[Limit]) -> dict[int, JsonObject]:
    """By their places, the stored verdicts of limits that are asked as they were, where this version found data."""
    verdicts = stored.get("limits") or ()
    if stored["version"] != VERSION or len(verdicts) != len(were):
        return {}
    told = [(was, one) for was, one in zip(were, verdicts, strict=True) if one.get("verdict") != Verdict.NO_DATA]
    found = {place: next((one for was, one in told if was == limit), None) for place, limit in enumerate(limits)}
    return {place: one for place, one in found.items() if one is not None}


def _verdict(stored: JsonObject) -> LimitVerdict:
    verdict: LimitVerdict = record_from(LimitVerdict, {**stored, "margins": []}, "limit", {})
    return verdict


def _launch(review: Review, kept: KeptRun, car: Car) -> Launch | Unknown:
    if isinstance(review.launch, Unknown) or kept.engine is None:
        return review.launch
    back = back_in_band(kept.engine, car.rpm_band or BAND_NOT_GIVEN, launch_s=kept.times.launch_s)
    return replace(review.launch, back_in_band_s=back)


def _beside_stored(stored: JsonObject, now: Mapping[str, Any]) -> dict[str, Any]:
    """What bounds touch as it is now; the rest as it was written, whichever version wrote it."""
    return {**stored, **now, "unknown": _unknown(stored.get("unknown") or {}, now["unknown"])}


def _unknown(was: JsonObject, now: JsonObject) -> dict[str, Any]:
    """Reasons by their places, in the review's own order."""
    kept = {where: reason for where, reason in was.items() if _part(where) not in PARTS}
    new = {where: reason for where, reason in now.items() if where in was or _of_bounds(where)}
    places = [one.name for one in fields(Review)]
    return dict(sorted((kept | new).items(), key=lambda one: places.index(_part(one[0]))))


def _part(where: str) -> str:
    """Which field of a review a place lies in."""
    return where.partition(".")[0].partition("[")[0]


def _of_bounds(where: str) -> bool:
    return _part(where) in OF_BOUNDS or where.rpartition(".")[2] in OF_BAND
