"""What a change would do to a run: its model driven as it was and as changed, and only the difference told.

Public: `ForetoldSplit`, `ForetoldShift`, `Foretold`, `foretell`, `foretell_with`, `no_answer`, `gearing_given`,
`shifts_moved_s`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.given.car import Car
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.whatif.changes import Changes, GearingGiven, apply_changes
from passband.analysis.whatif.drive import Driven, drive
from passband.analysis.whatif.made_of_run import model_of_run
from passband.analysis.whatif.model import ModelledRun, RunModel
from passband.analysis.whatif.said import boost_said, hold_to_own_run, limits_passed, rests_on

ELAPSED_OWN_S, TRAP_OWN_MPS, RPM_OWN, BAND_OWN_S = 0.010, 0.15, 25.0, 0.05
"""95 % half-width of a change foretold that is small. [s], [m/s], [rpm], [s] These and the next two by
`tests.benchmarks.foretold` on seeds 1 to 4."""
OF_CHANGE = 0.12
"""95 % half-width as a share of the change itself. [-]"""
SHIFT_MOVED_S, SHIFT_MOVED_MPS, MOVED_RPM = 0.004, 0.03, 250.0
"""What each shift leaves open that is moved by so many rpm: what torque does there, and what a longer or shorter fall
asks of the clutch. Alike in all shifts. [s], [m/s], [rpm]"""
SEEN_RPM, LIMITER_RPM = 50.0, 300.0
"""An engine that comes so far beyond what the run showed may meet its limiter, which takes its torque away within so
many rpm. Chosen. [rpm]"""


@dataclass(frozen=True, slots=True)
class ForetoldSplit:
    """One mark."""

    at_ft: int
    """[ft]"""
    difference_s: Estimate
    """Changed less as run. [s]"""


@dataclass(frozen=True, slots=True)
class ForetoldShift:
    """One shift as it would be."""

    name: str
    """``2-3``."""
    rpm_after: float
    """As run, and what the change makes of it. [rpm]"""
    margin_to_band_low_rpm: float | None
    """Above the band's low end; None without a band. [rpm]"""
    difference_rpm: Estimate
    """Changed less as run. [rpm]"""


@dataclass(frozen=True, slots=True)
class Foretold:
    """What a change would do; None where the model may not say."""

    elapsed_time_s: Estimate | None
    """Changed less as run. [s]"""
    trap_speed_mps: Estimate | None
    """Changed less as run. [m/s]"""
    splits: tuple[ForetoldSplit, ...]
    """Marks in order."""
    shifts: tuple[ForetoldShift, ...]
    """In order."""
    time_in_band_s: Estimate | None
    """Changed less as run. [s]"""
    time_on_boost_s: Estimate | None
    """Changed less as run; None without boost or its threshold. [s]"""
    own_run_s: float | None
    """How far the model comes to its own run's splits, at most. [s]"""
    own_run_rpm_share: float | None
    """How far it comes to its engine speed where each next gear carried, at most, as a share. [-]"""
    findings: tuple[Finding, ...]
    """What it rests on, what it cannot say."""


def foretell(review: Review, table: pl.DataFrame, car: Car, changes: Changes) -> Foretold:
    """Foretell what a change would have done to one run.

    Parameters
    ----------
    review : Review
        Of the run.
    table : polars.DataFrame
        Its channels.
    car : Car
        As it ran.
    changes : Changes
        What is to be other.

    Returns
    -------
    Foretold
        A forecast: only differences are told. Without figures where the run cannot answer, with a finding that says
        why.

    Notes
    -----
    Validity: the same launch, the same lane, the same shifts but for where they are made. Traction is taken to hold.
    """
    model = model_of_run(review, table, car)
    if isinstance(model, Finding):
        return no_answer(model)
    return foretell_with(ModelledRun(review, car, model), changes)


def foretell_with(run: ModelledRun, changes: Changes) -> Foretold:
    """The same with a model that is made already.

    Parameters
    ----------
    run : ModelledRun
        As it ran.
    changes : Changes
        What is to be other.

    Returns
    -------
    Foretold
        As of `foretell`.
    """
    model, car = run.model, run.car
    as_run = drive(model)
    if as_run is None:
        return no_answer(_not_there("as run"))
    own = hold_to_own_run(model, as_run, run.review)
    given = gearing_given(car)
    changed = apply_changes(model, changes, given)
    if isinstance(changed, Finding):
        return replace(no_answer(changed), own_run_s=own.splits_s, own_run_rpm_share=own.rpm_share)
    driven = drive(changed)
    if driven is None:
        return replace(no_answer(_not_there("changed")), own_run_s=own.splits_s, own_run_rpm_share=own.rpm_share)
    beyond = _beyond(model, changed, changes, driven)
    air = _bracket(model, changes, given, driven)
    bracket = _open(model, changed, air, beyond)
    by_s = driven.elapsed_s - as_run.elapsed_s
    findings = (*rests_on(model, own), *boost_said(model, changes, by_s, air[0]), *limits_passed(changed, driven, run))
    return Foretold(
        _estimate(by_s, ELAPSED_OWN_S, bracket[0]),
        _estimate(driven.trap_mps - as_run.trap_mps, TRAP_OWN_MPS, bracket[1]),
        tuple(
            ForetoldSplit(ft, _estimate(driven.splits_s[ft] - as_run.splits_s[ft], ELAPSED_OWN_S, bracket[0]))
            for ft in model.marks_ft
        ),
        _shifts(model, as_run, driven),
        _time(driven.in_band_s, as_run.in_band_s), _time(driven.on_boost_s, as_run.on_boost_s),
        own.splits_s, own.rpm_share, findings,
    )  # fmt: skip


def gearing_given(car: Car) -> GearingGiven:
    """A car's gearing as its owner gives it."""
    return GearingGiven(tuple(car.gear_ratios) if car.gear_ratios else None, car.final_drive, car.tire_circumference)


def shifts_moved_s(model: RunModel, changed: RunModel) -> float:
    """What moved shift points leave open of the elapsed time.

    Parameters
    ----------
    model, changed : RunModel
        As the run was, and changed.

    Returns
    -------
    float
        95 % half-width. [s]
    """
    return SHIFT_MOVED_S * _moved(model, changed)


def _moved(model: RunModel, changed: RunModel) -> float:
    """By how many times `MOVED_RPM` all shifts together were moved. [-]."""
    return sum(abs(now.at_rpm - was.at_rpm) for now, was in zip(changed.shifts, model.shifts, strict=True)) / MOVED_RPM


def _estimate(change: float, own: float, bracket: float = 0.0) -> Estimate:
    return Estimate(change, math.hypot(own, OF_CHANGE * change, bracket))


def _time(changed: float | None, as_run: float | None) -> Estimate | None:
    return None if changed is None or as_run is None else _estimate(changed - as_run, BAND_OWN_S)


def no_answer(why: Finding) -> Foretold:
    """No figures, and why."""
    return Foretold(None, None, (), (), None, None, None, None, (why,))


def _not_there(which: str) -> Finding:
    text = f"The model of this run, {which}, does not come down the track through all its gears: nothing is foretold."
    return Finding("whatif-no-model", "caution", text, "What if")


def _beyond(model: RunModel, changed: RunModel, changes: Changes, driven: Driven) -> tuple[float, float]:
    """Half of what it makes if the engine meets its limiter just beyond what this run showed. [s], [m/s]."""
    seen_rpm = float(model.engine_rpm(model.torque.most_rpm))
    if changes.shift_points or driven.most_rpm < seen_rpm + SEEN_RPM:
        return 0.0, 0.0
    share = np.clip(1.0 - (model.node_rpm - seen_rpm) / LIMITER_RPM, 0.0, 1.0)
    limited = drive(replace(changed, torque=changed.torque.scaled(share)))
    if limited is None:
        return 0.0, 0.0
    return 0.5 * abs(limited.elapsed_s - driven.elapsed_s), 0.5 * abs(limited.trap_mps - driven.trap_mps)


def _open(
    model: RunModel, changed: RunModel, bracket: tuple[float, float], beyond: tuple[float, float]
) -> tuple[float, float]:
    """What moved shifts leave open, beside two brackets. [s], [m/s]."""
    own = shifts_moved_s(model, changed), SHIFT_MOVED_MPS * _moved(model, changed)
    return math.hypot(own[0], bracket[0], beyond[0]), math.hypot(own[1], bracket[1], beyond[1])


def _bracket(model: RunModel, changes: Changes, given: GearingGiven, driven: Driven) -> tuple[float, float]:
    """Half of what the two rules for a boosted engine's other air differ by. [s], [m/s]."""
    if changes.air is None or model.charge_pa is None:
        return 0.0, 0.0
    air, ambient = changes.air, model.ambient_pa
    off = 0.5 * abs(air.pressure_pa / ambient - 1.0)
    changed = apply_changes(model, changes, given)
    if isinstance(changed, Finding) or changed.charge_pa is None:
        return 0.0, 0.0
    charges = tuple((at, pa + off * (pa - ambient)) for at, pa in changed.charge_pa)
    other = drive(replace(changed, charge_pa=charges))
    if other is None:
        return 0.0, 0.0
    return abs(other.elapsed_s - driven.elapsed_s), abs(other.trap_mps - driven.trap_mps)


def _shifts(model: RunModel, as_run: Driven, driven: Driven) -> tuple[ForetoldShift, ...]:
    out = []
    for shift, was, is_now in zip(model.shifts, as_run.rpm_after, driven.rpm_after, strict=False):
        base = shift.rpm_after if shift.rpm_after is not None else was
        after = base + is_now - was
        margin = None if model.band is None else after - model.band[0]
        change = Estimate(is_now - was, math.hypot(RPM_OWN, OF_CHANGE * (is_now - was)))
        out.append(ForetoldShift(f"{shift.from_gear}-{shift.to_gear}", after, margin, change))
    return tuple(out)
