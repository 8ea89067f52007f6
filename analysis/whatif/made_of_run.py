"""A run turned round into a model: engine, gearing, launch and shifts, each as the run showed it.

Public: `model_of_run`.
"""

from __future__ import annotations

import math

import numpy as np
import polars as pl

from passband.analysis.given.car import Car
from passband.analysis.power.facts import Facts, read_facts
from passband.analysis.quantities import FOOT_M, G_MPS2, RPM_PER_RAD_S, BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.statistics.filters import smooth
from passband.analysis.whatif.converter import fit_link, turns_by_ratios
from passband.analysis.whatif.drive_turning import shaft_of, sharpened, tells_spin
from passband.analysis.whatif.made_shifts import Gearing, Made, shifts_of
from passband.analysis.whatif.model import LaunchModel, RunModel, resistance
from passband.analysis.whatif.rows_of_run import (
    SETTLE_S,
    STEP_S,
    USED_SPEED_MPS,
    Rows,
    calmed,
    let_go_s,
    locked_s_of,
    pulls_of,
    rows_of,
)
from passband.analysis.whatif.torque import TorqueCurve, fit_torque

USUAL_SLIP, USUAL_GROWTH = 0.04, 0.015
"""Of a gripping tire per car weight of pull, and of its radius at 70 m/s, where a run tells the two apart poorly. [-]
Common practice, no source."""
LONG_LAUNCH_S, BITES_S, RISES = 1.0, 0.2, 0.08
"""An engine that stands above the road's speed for longer than the first, and once the clutch bites rises again by the
third, climbs with tires that spin, or against a clutch that gives way; one that a clutch slips down to the road stays
or falls. Chosen: foot clutches lock within 0.9 s; seven spun launches of another's simulator rose by 10 to 19 %, a
clutch's slipped one by none. [s], [s], [-]"""
CONVERTER_LAUNCH_S, CONVERTER_SETTLE_S = 0.5, 0.25
"""Behind a converter the engine takes so long to come to what the turbine's speed asks of it, from the launch and from
a shift: until then the drive goes by time. Chosen: with 0.4 and 0.6 for the second `tests.benchmarks.foretold --kind
plain_converter` gives the same within 2 ms. [s]"""


def model_of_run(review: Review, table: pl.DataFrame, car: Car) -> RunModel | Finding:
    """Make a model of a run.

    Parameters
    ----------
    review : Review
        Of the run.
    table : polars.DataFrame
        Its channels.
    car : Car
        Mass is needed; what else is missing is taken at its usual value, which differences hardly feel.

    Returns
    -------
    RunModel or Finding
        The finding says why the run makes no model.
    """
    lacking = _lacking(review, table, car)
    if lacking is not None:
        return lacking
    rows = rows_of(review, table)
    facts = read_facts(car, review.air) if review.air is not None else None
    if facts is None or rows.time_s.size < 200:
        return _no_model("The run shows too little motion to make a model of")
    return _put_together(review, rows, facts, car, table)


def _no_model(why: str) -> Finding:
    return Finding("whatif-no-model", "caution", f"{why}: nothing can be foretold from this run.", "What if")


def _lacking(review: Review, table: pl.DataFrame, car: Car) -> Finding | None:
    """What a model cannot do without."""
    distance = known(review.distance)
    if car.mass is None:
        return _no_model("The car's mass is not given")
    if distance is None or not distance.splits or review.window.log_finish_s is None:
        return _no_model("The run did not reach its finish line under power, or its distance is not known")
    if known(review.gears) is None or "engine_speed" not in table.columns:
        return _no_model("Gears or engine speed are not known")
    if car.has_converter and not car.gear_ratios:
        return _no_model("Behind a converter engine speed does not show the ratios, and the car's are not given")
    return None


def _put_together(review: Review, rows: Rows, facts: Facts, car: Car, table: pl.DataFrame) -> RunModel | Finding:
    behind_converter = car.has_converter
    locked_s = float(rows.time_s[0]) + CONVERTER_LAUNCH_S if behind_converter else locked_s_of(review, rows)
    settles_s = CONVERTER_SETTLE_S if behind_converter else SETTLE_S
    shaft = None if rows.felt else shaft_of(rows, table, behind_converter=behind_converter)
    if shaft is not None:
        rows = sharpened(review, rows, shaft, growth_at_70=USUAL_GROWTH, locked_s=locked_s, settle_s=settles_s)
    pulls = pulls_of(review, rows, locked_s, settles_s)
    if not pulls.any():
        return _no_model("No gear pulls with its clutch locked for three tenths of a second")
    calm = calmed(rows, pulls)
    force = (facts.rolling_mass + facts.spinning_mass) * calm + resistance(facts, rows.speed_mps)
    weights = force / (facts.mass.value * G_MPS2)
    gearing = _gearing(review, rows, pulls, weights, car)
    if isinstance(gearing, Finding):
        return gearing
    per_metre = _turning(gearing, rows, weights)
    torque = _engine_torque(facts, calm, force, per_metre)
    rpm = per_metre * rows.speed_mps * RPM_PER_RAD_S
    boosted = _boosted(review, rows, pulls)
    load = rows.manifold_pa if boosted else np.ones(rows.time_s.size)
    samples = pulls & np.isfinite(load) & np.isfinite(torque)
    if samples.sum() < 20:
        return _no_model("Too little of the run shows the engine's torque")
    each = np.full(int(samples.sum()), rows.step_s)
    per_load = torque[samples] / load[samples]
    curve = fit_torque(rpm[samples], per_load, rows.gear[samples], each, falls_from_peak=not behind_converter)
    link = fit_link(rpm[samples], rows.engine_rpm[samples], each) if behind_converter else None
    made = Made(review, rows, facts, per_metre, gearing, curve, load, settles_s, locks=not behind_converter)
    distance = known(review.distance)
    splits = distance.splits if distance is not None else ()
    band = known(review.band)
    return RunModel(
        facts=facts,
        torque=curve,
        charge_pa=_charges(review, rows, gearing.turns_rad_per_m.size) if boosted else None,
        turns_rad_per_m=gearing.turns_rad_per_m,
        slip_per_weight=gearing.slip_per_weight,
        growth_at_70=gearing.growth_at_70,
        launch=_launch(made, locked_s, untold=not tells_spin(table, car)),
        shifts=shifts_of(made),
        rollout_m=_rollout(rows, distance.rollout_m.value if distance is not None else 0.0),
        finish_m=splits[-1].at_ft * FOOT_M,
        marks_ft=tuple(split.at_ft for split in splits),
        band=car.rpm_band or ((band.low_rpm, band.high_rpm) if band is not None else None),
        on_boost_pa=_on_boost_pa(review) if boosted else None,
        used_gears=tuple(int(one) for one in np.unique(rows.gear[pulls])),
        usual_charge_pa=_usual_charge(curve, rpm[samples], rows.manifold_pa[samples]) if boosted else None,
        link=link,
        ambient_pa=review.air.pressure_pa if review.air is not None else math.nan,
        ambient_k=review.air.temperature_k if review.air is not None else math.nan,
        vapour_pa=review.air.vapour_pressure_pa if review.air is not None else math.nan,
    )


def _on_boost_pa(review: Review) -> float | None:
    boost = known(review.boost)
    if boost is None or boost.threshold_pa is None or review.air is None:
        return None
    return boost.threshold_pa + review.air.pressure_pa


def _usual_charge(curve: TorqueCurve, rpm: FloatArray, charge_pa: FloatArray) -> FloatArray:
    """Mean charge about each node; beyond what was seen the nearest."""
    seen = [(node, charge_pa[np.abs(rpm - node) <= 100.0]) for node in curve.rpm]
    means = np.array([(node, float(part.mean())) for node, part in seen if part.size])
    return np.asarray(np.interp(curve.rpm, means[:, 0], means[:, 1]))


def _gearing(review: Review, rows: Rows, pulls: BoolArray, weights: FloatArray, car: Car) -> Gearing | Finding:
    """From engine speed over road speed; behind a converter, which hides it, from the ratios given."""
    gears = int(max(rows.gear.max(), *(shift.to_gear for shift in review.shifts), 1))
    if car.has_converter:
        use = pulls & (rows.speed_mps > USED_SPEED_MPS)
        engine, speed, gear = rows.engine_rpm[use], rows.speed_mps[use], rows.gear[use]
        turns = turns_by_ratios(car, gears, engine_rpm=engine, speed_mps=speed, gear=gear)
        if turns is None:
            return _no_model(f"{gears} gears were used, and {len(car.gear_ratios or [])} ratios are given")
        return Gearing(turns, USUAL_SLIP, USUAL_GROWTH)
    gearing = _fit_gearing(rows, pulls, weights, gears)
    needed = {one for shift in review.shifts for one in (shift.from_gear, shift.to_gear)} | {1}
    turns = gearing.turns_rad_per_m
    if any(not np.isfinite(turns[one - 1]) for one in needed if one <= gears):
        turns = _filled(turns, car)
    if any(not np.isfinite(turns[one - 1]) for one in needed if one <= gears):
        return _no_model("A gear was never used long enough to show its ratio, and the car's ratios are not given")
    return Gearing(turns, gearing.slip_per_weight, gearing.growth_at_70)


def _fit_gearing(rows: Rows, pulls: BoolArray, pull: FloatArray, gears: int) -> Gearing:
    """Engine angle per metre in each gear, slip per weight and growth, from engine speed over road speed.

    Slip goes with pull, growth with speed squared; a run tells them apart poorly, so both lean on what is usual.
    """
    use = pulls & (rows.speed_mps > USED_SPEED_MPS) & (rows.engine_rpm > 0)
    used = np.unique(rows.gear[use])
    ratio = np.log(rows.engine_rpm[use] * math.pi / 30.0 / rows.speed_mps[use])
    columns = [(rows.gear[use] == one).astype(float) for one in used]
    design = np.column_stack([*columns, pull[use], -((rows.speed_mps[use] / 70.0) ** 2)])
    lean = 0.05 * use.sum()
    normal, right = design.T @ design, design.T @ ratio
    for place, usual in ((-2, USUAL_SLIP), (-1, USUAL_GROWTH)):
        normal[place, place] += lean
        right[place] += lean * usual
    found = np.linalg.solve(normal, right)
    slip, growth = float(np.clip(found[-2], 0.0, 0.25)), float(np.clip(found[-1], 0.0, 0.06))
    turns = np.full(gears, np.nan)
    rest = ratio - design[:, -2] * slip - design[:, -1] * growth
    for one in used:
        turns[one - 1] = math.exp(float(np.median(rest[rows.gear[use] == one])))
    return Gearing(turns, slip, growth)


def _filled(turns: FloatArray, car: Car) -> FloatArray:
    """Gears that showed nothing, by the ratios given and a gear that did."""
    ratios = np.array(car.gear_ratios or [])
    fine = np.flatnonzero(np.isfinite(turns))
    if ratios.size < turns.size or not fine.size:
        return turns
    scale = float(np.median(turns[fine] / ratios[fine]))
    return np.where(np.isfinite(turns), turns, ratios[: turns.size] * scale)


def _turning(gearing: Gearing, rows: Rows, pull: FloatArray) -> FloatArray:
    """Engine angle per metre of ground as it slips and grows, shape (n,). [rad/m]."""
    turns = gearing.turns_rad_per_m
    of_gear = turns[np.clip(rows.gear, 1, turns.size) - 1]
    grown = gearing.growth_at_70 * (rows.speed_mps / 70.0) ** 2
    return np.asarray(of_gear * np.exp(gearing.slip_per_weight * pull - grown))


def _engine_torque(facts: Facts, acceleration: FloatArray, force: FloatArray, per_metre: FloatArray) -> FloatArray:
    """Torque before the engine's own inertia: what `drive` turns into acceleration, turned round. [N m]."""
    inertia = facts.engine_inertia.value + facts.input_inertia.value
    at_gearbox = force / (facts.efficiency.value * per_metre)
    return np.asarray(at_gearbox + inertia * per_metre * acceleration)


def _boosted(review: Review, rows: Rows, pulls: BoolArray) -> bool:
    """Whether manifold pressure stood well above the air's while pulling."""
    charge = rows.manifold_pa[pulls]
    if review.air is None or not np.isfinite(charge).any():
        return False
    return float(np.nanmedian(charge)) > 1.1 * review.air.pressure_pa


def _charges(review: Review, rows: Rows, gears: int) -> tuple[tuple[FloatArray, FloatArray], ...]:
    """Manifold pressure against time since each gear's shift began."""
    let_go = [(shift, let_go_s(rows, shift.time_s)) for shift in review.shifts]
    begins = {1: float(rows.time_s[0])} | {shift.to_gear: at_s for shift, at_s in let_go}
    ends = {shift.from_gear: at_s for shift, at_s in let_go}
    out = []
    for gear in range(1, gears + 1):
        start_s = begins.get(gear, float(rows.time_s[0]))
        use = (rows.time_s >= start_s) & (rows.time_s <= ends.get(gear, float(rows.time_s[-1])))
        use &= np.isfinite(rows.manifold_pa)
        if use.sum() < 2:
            out.append((np.array([0.0, 1.0]), np.full(2, float(np.nanmedian(rows.manifold_pa)))))
        else:
            calm = smooth(rows.manifold_pa[use], step_s=rows.step_s, span_s=0.1, order=1)
            calm = np.where(np.isfinite(calm), calm, rows.manifold_pa[use])  # a gear just begun is too short for it
            out.append((rows.time_s[use] - start_s, calm))
    return tuple(_longer(out))


def _longer(charges: list[tuple[FloatArray, FloatArray]]) -> list[tuple[FloatArray, FloatArray]]:
    """The same; a last gear that the finish cut short goes on as the gear before it."""
    if len(charges) < 2:
        return charges
    (before_s, before_pa), (at_s, pa) = charges[-2:]
    later = before_s > at_s[-1]
    return [*charges[:-1], (np.append(at_s, before_s[later]), np.append(pa, before_pa[later]))]


def _launch(made: Made, locked_s: float, *, untold: bool) -> LaunchModel:
    """Torque into the gearbox and engine speed until the clutch locks; till then the tires turn as the road does."""
    rows, facts = made.rows, made.facts
    use = rows.time_s <= locked_s + STEP_S
    force = (facts.rolling_mass + facts.spinning_mass) * rows.acceleration_mps2[use]
    force = force + np.where(rows.speed_mps[use] > 0.05, resistance(facts, rows.speed_mps[use]), 0.0)
    torque = np.maximum(force, 0.0) / (facts.efficiency.value * made.gearing.turns_rad_per_m[0])
    distance = known(made.review.distance)
    spins = distance.wheelspin if distance is not None else ()
    spinning = any(spin.start_s < locked_s + 0.5 and spin.end_s - spin.start_s > 0.1 for spin in spins)
    begins = max(float(rows.speed_mps[0]), 0.0)
    since = rows.time_s[use] - rows.time_s[0]
    untold = untold and made.locks and float(since[-1]) > LONG_LAUNCH_S and _rises(since, rows.engine_rpm[use])
    return LaunchModel(since, torque, rows.engine_rpm[use], spinning, made.locks, untold, begins)


def _rises(since_s: FloatArray, engine_rpm: FloatArray) -> bool:
    """Whether the engine comes up again by more than `RISES` before its clutch locks."""
    rpm = engine_rpm[(since_s >= BITES_S) & np.isfinite(engine_rpm)]
    return bool(rpm.size and np.max(rpm / np.minimum.accumulate(rpm)) > 1.0 + RISES)


def _rollout(rows: Rows, fallback_m: float) -> float:
    """Distance that the car covered from where it moved to where the clock starts, as the table has it."""
    before = rows.time_s <= 0.0
    way = float(np.trapezoid(rows.speed_mps[before], rows.time_s[before])) if before.sum() > 1 else fallback_m
    return way if way > 0.0 else fallback_m
