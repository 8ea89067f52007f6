"""A stored review with its run held against other bounds: to the letter what a review of the logs would say.

Public: `hold_again`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from passband.analysis.driveline.launch import back_in_band
from passband.analysis.engine.kept_run import CannotHold, Found, KeptRun, hold_to_bounds
from passband.analysis.given.car import Car
from passband.analysis.results.codec import as_json, review_from_json
from passband.analysis.results.launch import Launch
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

JsonObject = Mapping[str, Any]


def hold_again(stored: JsonObject, kept: KeptRun, car: Car, facts: RunFacts) -> tuple[Review, dict[str, Any]]:
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

    Returns
    -------
    (Review, dict)
        The review as it is now, and its JSON: parts that bounds do not touch are those stored.

    Raises
    ------
    CannotHold
        If it takes a review of the logs: what is kept does not reach as far as a limit asks, or is not of this review.
    """
    before = review_from_json(stored)
    if len(kept.kinds) != len(before.shifts):
        raise CannotHold("what is kept of the run is not of this review")
    unnamed = [replace(shift, kind=kind) for shift, kind in zip(before.shifts, kept.kinds, strict=True)]
    shifts = with_band(unnamed, car.rpm_band)
    power, distance = known(before.power), known(before.distance)
    found = Found(
        known(before.gears), shifts, distance.wheelspin if distance is not None else (), power.curves if power else ()
    )
    held = hold_to_bounds(kept, car, found)
    now = replace(
        before, run=replace(facts, log_names=before.run.log_names), launch=_launch(before, kept, car), shifts=shifts,
        boost=held.boost, band=held.band, limits=held.limits, findings=held.findings, version=VERSION,
        car=CarFacts(car.name),
    )  # fmt: skip
    return now, _beside_stored(stored, as_json(now, PARTS))


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
