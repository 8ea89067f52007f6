"""A run's shifts as a model has them: forces against time, flywheel and flare, whole where the finish cut one short.

Public: `Gearing`, `Made`, `shifts_of`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.power.facts import Facts
from passband.analysis.quantities import RPM_PER_RAD_S, FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown
from passband.analysis.whatif.model import ShiftModel, resistance
from passband.analysis.whatif.rows_of_run import Rows, let_go_s
from passband.analysis.whatif.torque import TorqueCurve

FLARES_RPM = 150.0
"""An engine that rises by so much while a shift lets it go flares; how far, its limiter may decide. Chosen: engine
speed of simulated shifts without a flare stays within 100. [rpm]"""


LEAST_SEEN_S = 0.05
"""A shift that begins so short a time before the finish has no force to be read, and costs no more than the time it
leaves: the driver's lift at the line looks the same. Chosen: ten steps. [s]"""


@dataclass(frozen=True, slots=True)
class Gearing:
    """How far the engine turns for each metre."""

    turns_rad_per_m: FloatArray
    """Engine angle per metre in each gear, without slip, shape (gears,). [rad/m]"""
    slip_per_weight: float
    """Slip of the driven tires per car weight of pull. [-]"""
    growth_at_70: float
    """Growth of their radius at 70 m/s. [-]"""


@dataclass(frozen=True, slots=True)
class Made:
    """What launch and shifts are made of."""

    review: Review
    """Of the run."""
    rows: Rows
    """Its table."""
    facts: Facts
    """Of car and day."""
    per_metre: FloatArray
    """Engine angle per metre as tires slip and grow, shape (n,). [rad/m]"""
    gearing: Gearing
    """The same at rest."""
    curve: TorqueCurve
    """Of the engine."""
    load: FloatArray
    """Manifold pressure where torque is per it, else 1, shape (n,). [Pa] or [-]"""
    settles_s: float
    """So long after a shift the drive still swings. [s]"""
    locks: bool
    """Whether a clutch locks; not behind a converter."""


def shifts_of(made: Made) -> tuple[ShiftModel, ...]:
    """All shifts but one at the very line; one that the finish cut short goes on as the one before it did.

    Parameters
    ----------
    made : Made
        What they are made of.

    Returns
    -------
    tuple of ShiftModel
        In order.
    """
    out: list[ShiftModel] = []
    last_s = float(made.rows.time_s[-1])
    for place, shift in enumerate(made.review.shifts):
        if let_go_s(made.rows, shift.time_s) > last_s - LEAST_SEEN_S:
            break
        one = _shift(made, place)
        cut = shift.end_s + made.settles_s > last_s
        out.append(_completed(made, one, out[-1]) if cut and out else one)
    return tuple(out)


def _completed(made: Made, cut: ShiftModel, like: ShiftModel) -> ShiftModel:
    """A shift with what is missing of it taken from another, its forces through the own gears."""
    if like.force_n.size <= cut.force_n.size:
        return cut
    turns = made.gearing.turns_rad_per_m
    left, taken = (
        turns[a - 1] / turns[b - 1] for a, b in ((cut.from_gear, like.from_gear), (cut.to_gear, like.to_gear))
    )
    share = np.interp(np.arange(like.force_n.size), (0.0, like.carried - 1.0), (left, taken))
    force = np.where(like.force_n > 0.0, like.force_n * share, like.force_n)
    force[: cut.force_n.size] = cut.force_n
    through = cut.left_rpm * turns[cut.to_gear - 1] / turns[cut.from_gear - 1] * like.gains
    makes = cut.torque_nm[0] / max(made.curve.at(cut.left_rpm, cut.from_gear), 1e-9)
    return replace(
        cut, time_s=like.time_s, force_n=force, carried=like.carried, rpm_through_gear=float(through),
        torque_nm=(cut.torque_nm[0], made.curve.at(float(through), cut.to_gear) * makes), gains=like.gains,
        peak_rpm=None if like.peak_rpm is None else like.peak_rpm - like.left_rpm + cut.left_rpm,
        peak_place=like.peak_place, peak_follows=like.peak_follows,
    )  # fmt: skip


def _shift(made: Made, place: int) -> ShiftModel:
    """From where the drive let go until the next gear carries, and on until the drive has settled."""
    rows, facts, turns, shift = made.rows, made.facts, made.gearing.turns_rad_per_m, made.review.shifts[place]
    ends_s = (let_go_s(rows, shift.time_s), shift.end_s, shift.end_s + made.settles_s)
    start, carries, stop = (int(np.searchsorted(rows.time_s, one)) for one in ends_s)
    carries = min(max(carries, start + 2), rows.time_s.size)
    stop = min(max(stop, carries), rows.time_s.size)
    part = slice(start, stop)
    force: FloatArray = (facts.rolling_mass + facts.spinning_mass) * rows.acceleration_mps2[part]
    force = np.asarray(force + resistance(facts, rows.speed_mps[part]), dtype=np.float64)
    before, after = max(start - 2, 0), min(carries, rows.time_s.size - 1)
    lead = made.per_metre[before] / turns[max(rows.gear[before], 1) - 1]
    at_rpm = float(turns[shift.from_gear - 1] * lead * rows.speed_mps[start] * RPM_PER_RAD_S)
    through = float(turns[shift.to_gear - 1] * lead * rows.speed_mps[after] * RPM_PER_RAD_S)
    makes = made.curve.at(at_rpm, shift.from_gear), made.curve.at(through, shift.to_gear)
    load = float(made.load[before])
    whole = shift.end_s <= float(rows.time_s[-1])
    peak = _peak(rows, start, carries) if whole else None
    climbs_s = shift.time_s - ends_s[0] if rows.sharp else 0.0
    begun_rpm = at_rpm * (1.0 + climbs_s * rows.acceleration_mps2[before] / rows.speed_mps[before])
    flares = made.locks and peak is not None and rows.engine_rpm[peak] > begun_rpm + FLARES_RPM
    return ShiftModel(
        from_gear=shift.from_gear,
        to_gear=shift.to_gear,
        at_rpm=at_rpm,
        time_s=np.arange(float(stop - start)) * rows.step_s,
        force_n=force,
        torque_nm=(makes[0] * load, makes[1] * load),
        rpm_before=_value(shift.rpm_before),
        rpm_after=_value(shift.rpm_after),
        rpm_through_gear=through,
        carried=carries - start,
        left_rpm=at_rpm,
        peak_rpm=None if peak is None else float(rows.engine_rpm[peak]),
        peak_place=0 if peak is None else peak - start,
        gains=float(rows.speed_mps[after] / rows.speed_mps[start]),
        peak_follows=0.5 if flares else 1.0,
    )


def _peak(rows: Rows, start: int, carries: int) -> int | None:
    """Where engine speed is highest within a shift."""
    within = rows.engine_rpm[start:carries]
    return start + int(np.nanargmax(within)) if np.isfinite(within).any() else None


def _value(of: Estimate | Unknown) -> float | None:
    return None if isinstance(of, Unknown) else of.value
