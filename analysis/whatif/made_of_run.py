"""A run turned round into a model: engine, gearing, launch and shifts, each as the run showed it.

Public: `model_of_run`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.given.car import Car
from passband.analysis.power.facts import Facts, read_facts
from passband.analysis.quantities import FOOT_M, G_MPS2, BoolArray, FloatArray, IntArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.statistics.filters import smooth
from passband.analysis.statistics.intervals import find_true_runs
from passband.analysis.whatif.converter import fit_link, turns_by_ratios
from passband.analysis.whatif.model import LaunchModel, RunModel, ShiftModel, resistance
from passband.analysis.whatif.torque import TorqueCurve, fit_torque

STEP_S = 0.005
"""Rows of the table are taken no closer than this. [s]"""
SMOOTH_S = 0.15
"""Acceleration within a pull is smoothed over this span: torque changes slowly within a gear. [s]"""
SETTLE_S = 0.15
"""After a shift or the lock the drive still swings: so long nothing of the engine's torque is taken from it, and after
a shift the drive goes by time. Of 0.05, 0.1, 0.15 and 0.2 this one meets 25 runs best (the demo weekend, two seeds of
each kind of `tests.benchmarks.foretold`): their own splits within 12 ms where 0.05 left up to 33. [s]"""
USUAL_SLIP, USUAL_GROWTH = 0.04, 0.015
"""Of a gripping tire per car weight of pull, and of its radius at 70 m/s, where a run tells the two apart poorly. [-]
Common practice, no source."""
LETS_GO_S, LETS_GO_SHARE = 0.06, 0.9
"""A shift begins so much earlier than it was told at the most: where acceleration still has this share of what it had
before. Where a clutch opens before the throttle closes, a shift may be found by the throttle. Later than told it never
begins: that made simulated foot shifts 60 to 200 ms wrong. Chosen. [s], [-]"""
FLARES_RPM = 150.0
"""An engine that rises by so much while a shift lets it go flares; how far, its limiter may decide. Chosen: engine speed
of shifts without a flare stays within 60. [rpm]"""
LEAST_PULL_S = 0.15
"""A gear that pulled on for less once the drive had settled shows no torque of its own. [s]"""
CONVERTER_LAUNCH_S, CONVERTER_SETTLE_S = 0.5, 0.25
"""Behind a converter the engine takes so long to come to what the turbine's speed asks of it, from the launch and from
a shift: until then the drive goes by time. Chosen: with 0.4 and 0.6 for the second `tests.benchmarks.foretold --kind
plain_converter` gives the same within 2 ms. [s]"""
USED_SPEED_MPS = 3.0
"""Slower than this a locked clutch is a guess. [m/s]"""
RPM_PER_RAD_S = 30.0 / math.pi


@dataclass(frozen=True, slots=True)
class _Rows:
    """The run's table from where the car moved to its end, on an even grid."""

    time_s: FloatArray
    speed_mps: FloatArray
    acceleration_mps2: FloatArray
    gear: IntArray
    engine_rpm: FloatArray
    manifold_pa: FloatArray

    @property
    def step_s(self) -> float:
        return float(np.median(np.diff(self.time_s)))


@dataclass(frozen=True, slots=True)
class _Gearing:
    """How far the engine turns for each metre."""

    turns_rad_per_m: FloatArray
    slip_per_weight: float
    growth_at_70: float


@dataclass(frozen=True, slots=True)
class _Made:
    """What launch and shifts are made of."""

    review: Review
    rows: _Rows
    facts: Facts
    per_metre: FloatArray
    gearing: _Gearing
    curve: TorqueCurve
    load: FloatArray
    settles_s: float
    locks: bool


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
    rows = _rows(review, table)
    facts = read_facts(car, review.air) if review.air is not None else None
    if facts is None or rows.time_s.size < 200:
        return _no_model("The run shows too little motion to make a model of")
    behind_converter = car.transmission == "converter"
    locked_s = float(rows.time_s[0]) + CONVERTER_LAUNCH_S if behind_converter else _locked_s(review, rows)
    pulls = _pulls(review, rows, locked_s, CONVERTER_SETTLE_S if behind_converter else SETTLE_S)
    if not pulls.any():
        return _no_model("No gear pulls with its clutch locked for three tenths of a second")
    return _put_together(review, rows, facts, car, pulls, locked_s)


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
    if car.transmission == "converter" and not car.gear_ratios:
        return _no_model("Behind a converter engine speed does not show the ratios, and the car's are not given")
    return None


def _rows(review: Review, table: pl.DataFrame) -> _Rows:
    names = ("time_s", "speed_mps", "acceleration_mps2", "gear", "engine_speed")
    columns = {name: _column(table, name) for name in names}
    ambient_pa = review.air.pressure_pa if review.air is not None else math.nan
    absolute, gauge = _column(table, "manifold_pressure"), _column(table, "boost")
    columns["manifold_pressure"] = np.where(np.isfinite(absolute), absolute, gauge + ambient_pa)
    window = review.window
    finish_s = (window.log_finish_s or math.nan) - window.log_clock_start_s
    launch_s = min(window.log_launch_s - window.log_clock_start_s, 0.0)
    time = columns["time_s"]
    use = (time >= launch_s) & (time <= finish_s + STEP_S) & np.isfinite(columns["speed_mps"])
    grid = np.arange(max(launch_s, float(time[use][0])), finish_s, STEP_S) if use.any() else np.empty(0)
    on_grid = {name: _on_grid(grid, time, values) for name, values in columns.items() if name != "gear"}
    gear = np.zeros(grid.size, dtype=np.int64)
    if grid.size:
        near = np.clip(np.searchsorted(time, grid), 0, time.size - 1)
        gear = np.nan_to_num(columns["gear"][near]).astype(np.int64)
    return _Rows(
        grid, on_grid["speed_mps"], on_grid["acceleration_mps2"], gear, on_grid["engine_speed"],
        on_grid["manifold_pressure"],
    )  # fmt: skip


def _column(table: pl.DataFrame, name: str) -> FloatArray:
    if name not in table.columns:
        return np.full(table.height, np.nan)
    values: FloatArray = table.get_column(name).cast(pl.Float64).fill_null(math.nan).to_numpy()
    return values


def _on_grid(grid: FloatArray, time: FloatArray, values: FloatArray) -> FloatArray:
    fine = np.isfinite(values)
    return np.interp(grid, time[fine], values[fine]) if fine.sum() > 1 else np.full(grid.size, np.nan)


def _locked_s(review: Review, rows: _Rows) -> float:
    """When the clutch first held: as the launch has it, else where engine and road keep one ratio for good."""
    launch = known(review.launch)
    if launch is not None and not isinstance(launch.clutch_locked_s, Unknown):
        return launch.clutch_locked_s
    first_shift_s = min((shift.time_s for shift in review.shifts), default=float(rows.time_s[-1]))
    before = (rows.time_s < first_shift_s) & (rows.speed_mps > USED_SPEED_MPS)
    if not before.any():
        return 0.0
    ratio = rows.engine_rpm[before] / rows.speed_mps[before]
    steady = np.abs(ratio / np.median(ratio[-20:]) - 1.0) < 0.02
    last_off = np.flatnonzero(~steady)
    return float(rows.time_s[before][min(last_off[-1] + 1, ratio.size - 1) if last_off.size else 0])


def _let_go_s(rows: _Rows, told_s: float) -> float:
    """When the drive let go: as told, or before it where acceleration had fallen by then. [s]."""
    at = int(np.searchsorted(rows.time_s, told_s))
    near, far = (round(one / rows.step_s) for one in (LETS_GO_S, LETS_GO_S + SMOOTH_S))
    if at < far or at >= rows.time_s.size:
        return told_s
    pulled = LETS_GO_SHARE * float(np.median(rows.acceleration_mps2[at - far : at - near]))
    still = np.flatnonzero(rows.acceleration_mps2[at - near : at + 1] >= pulled)
    return told_s if not still.size else min(told_s, float(rows.time_s[at - near + still[-1]]))


def _pulls(review: Review, rows: _Rows, locked_s: float, settle_s: float) -> BoolArray:
    """Where one gear pulls with its clutch locked, or its converter settled, and its tires gripping."""
    pulls = (rows.time_s >= locked_s + SETTLE_S) & (rows.gear > 0) & np.isfinite(rows.engine_rpm)
    for shift in review.shifts:
        pulls &= ~((rows.time_s >= _let_go_s(rows, shift.time_s) - 0.01) & (rows.time_s <= shift.end_s + settle_s))
    distance = known(review.distance)
    for spin in distance.wheelspin if distance is not None else ():
        pulls &= ~((rows.time_s >= spin.start_s) & (rows.time_s <= spin.end_s + SETTLE_S))
    for piece in find_true_runs(pulls):
        if (piece.stop - piece.start) * rows.step_s < LEAST_PULL_S:
            pulls[piece.start : piece.stop] = False
    return pulls


def _put_together(
    review: Review, rows: _Rows, facts: Facts, car: Car, pulls: BoolArray, locked_s: float
) -> RunModel | Finding:
    calm = _calmed(rows, pulls)
    force = (facts.rolling_mass + facts.spinning_mass) * calm + resistance(facts, rows.speed_mps)
    weights = force / (facts.mass.value * G_MPS2)
    gearing = _gearing(review, rows, pulls, weights, car)
    if isinstance(gearing, Finding):
        return gearing
    per_metre = _turning(gearing, rows, weights)
    torque = _engine_torque(facts, calm, rows.speed_mps, force, per_metre)
    rpm = per_metre * rows.speed_mps * RPM_PER_RAD_S
    boosted = _boosted(review, rows, pulls)
    load = rows.manifold_pa if boosted else np.ones(rows.time_s.size)
    samples = pulls & np.isfinite(load) & np.isfinite(torque)
    if samples.sum() < 20:
        return _no_model("Too little of the run shows the engine's torque")
    each = np.full(int(samples.sum()), rows.step_s)
    behind_converter = car.transmission == "converter"
    per_load = torque[samples] / load[samples]
    curve = fit_torque(rpm[samples], per_load, rows.gear[samples], each, falls_from_peak=not behind_converter)
    link = fit_link(rpm[samples], rows.engine_rpm[samples], each) if behind_converter else None
    settles_s = CONVERTER_SETTLE_S if behind_converter else SETTLE_S
    made = _Made(review, rows, facts, per_metre, gearing, curve, load, settles_s, locks=not behind_converter)
    distance = known(review.distance)
    splits = distance.splits if distance is not None else ()
    band = known(review.band)
    return RunModel(
        facts, curve, _charges(review, rows, gearing.turns_rad_per_m.size) if boosted else None,
        gearing.turns_rad_per_m, gearing.slip_per_weight, gearing.growth_at_70,
        _launch(made, locked_s),
        _shifts(made),
        _rollout(rows, distance.rollout_m.value if distance is not None else 0.0),
        splits[-1].at_ft * FOOT_M, tuple(split.at_ft for split in splits),
        car.rpm_band or ((band.low_rpm, band.high_rpm) if band is not None else None),
        _on_boost_pa(review) if boosted else None, tuple(int(one) for one in np.unique(rows.gear[pulls])),
        _usual_charge(curve, rpm[samples], rows.manifold_pa[samples]) if boosted else None,
        link,
        review.air.pressure_pa if review.air is not None else math.nan,
        review.air.temperature_k if review.air is not None else math.nan,
        review.air.vapour_pressure_pa if review.air is not None else math.nan,
    )  # fmt: skip


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


def _calmed(rows: _Rows, pulls: BoolArray) -> FloatArray:
    """Acceleration, smoothed within each pull."""
    out = rows.acceleration_mps2.copy()
    for piece in find_true_runs(pulls):
        part = slice(piece.start, piece.stop)
        for one in np.split(np.arange(piece.start, piece.stop), np.flatnonzero(np.diff(rows.gear[part])) + 1):
            out[one] = smooth(rows.acceleration_mps2[one], step_s=rows.step_s, span_s=SMOOTH_S, order=1)
    return out


def _gearing(review: Review, rows: _Rows, pulls: BoolArray, weights: FloatArray, car: Car) -> _Gearing | Finding:
    """From engine speed over road speed; behind a converter, which hides it, from the ratios given."""
    gears = int(max(rows.gear.max(), *(shift.to_gear for shift in review.shifts), 1))
    if car.transmission == "converter":
        use = pulls & (rows.speed_mps > USED_SPEED_MPS)
        engine, speed, gear = rows.engine_rpm[use], rows.speed_mps[use], rows.gear[use]
        turns = turns_by_ratios(car, gears, engine_rpm=engine, speed_mps=speed, gear=gear)
        if turns is None:
            return _no_model(f"{gears} gears were used, and {len(car.gear_ratios or [])} ratios are given")
        return _Gearing(turns, USUAL_SLIP, USUAL_GROWTH)
    gearing = _fit_gearing(rows, pulls, weights, gears)
    needed = {one for shift in review.shifts for one in (shift.from_gear, shift.to_gear)} | {1}
    turns = gearing.turns_rad_per_m
    if any(not np.isfinite(turns[one - 1]) for one in needed if one <= gears):
        turns = _filled(turns, car)
    if any(not np.isfinite(turns[one - 1]) for one in needed if one <= gears):
        return _no_model("A gear was never used long enough to show its ratio, and the car's ratios are not given")
    return _Gearing(turns, gearing.slip_per_weight, gearing.growth_at_70)


def _fit_gearing(rows: _Rows, pulls: BoolArray, pull: FloatArray, gears: int) -> _Gearing:
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
    return _Gearing(turns, slip, growth)


def _filled(turns: FloatArray, car: Car) -> FloatArray:
    """Gears that showed nothing, by the ratios given and a gear that did."""
    ratios = np.array(car.gear_ratios or [])
    fine = np.flatnonzero(np.isfinite(turns))
    if ratios.size < turns.size or not fine.size:
        return turns
    scale = float(np.median(turns[fine] / ratios[fine]))
    return np.where(np.isfinite(turns), turns, ratios[: turns.size] * scale)


def _turning(gearing: _Gearing, rows: _Rows, pull: FloatArray) -> FloatArray:
    """Engine angle per metre of ground as it slips and grows, shape (n,). [rad/m]."""
    turns = gearing.turns_rad_per_m
    of_gear = turns[np.clip(rows.gear, 1, turns.size) - 1]
    grown = gearing.growth_at_70 * (rows.speed_mps / 70.0) ** 2
    return np.asarray(of_gear * np.exp(gearing.slip_per_weight * pull - grown))


def _engine_torque(
    facts: Facts, acceleration: FloatArray, speed: FloatArray, force: FloatArray, per_metre: FloatArray
) -> FloatArray:
    """Torque before the engine's own inertia: what `drive` turns into acceleration, turned round. [N m]."""
    inertia = facts.engine_inertia.value + facts.input_inertia.value
    at_gearbox = force / (facts.efficiency.value * per_metre)
    return np.asarray(at_gearbox + inertia * per_metre * acceleration)


def _boosted(review: Review, rows: _Rows, pulls: BoolArray) -> bool:
    """Whether manifold pressure stood well above the air's while pulling."""
    charge = rows.manifold_pa[pulls]
    if review.air is None or not np.isfinite(charge).any():
        return False
    return float(np.nanmedian(charge)) > 1.1 * review.air.pressure_pa


def _charges(review: Review, rows: _Rows, gears: int) -> tuple[tuple[FloatArray, FloatArray], ...]:
    """Manifold pressure against time since each gear's shift began."""
    let_go = [(shift, _let_go_s(rows, shift.time_s)) for shift in review.shifts]
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


def _launch(made: _Made, locked_s: float) -> LaunchModel:
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
    return LaunchModel(rows.time_s[use] - rows.time_s[0], torque, rows.engine_rpm[use], spinning, made.locks, begins)


def _shifts(made: _Made) -> tuple[ShiftModel, ...]:
    """All shifts; one that the finish cut short goes on as the one before it did."""
    out: list[ShiftModel] = []
    for place, shift in enumerate(made.review.shifts):
        one = _shift(made, place)
        cut = shift.end_s + made.settles_s > float(made.rows.time_s[-1])
        out.append(_completed(made, one, out[-1]) if cut and out else one)
    return tuple(out)


def _completed(made: _Made, cut: ShiftModel, like: ShiftModel) -> ShiftModel:
    """A shift with what is missing of it taken from another, its forces through the own gears."""
    if like.force_n.size <= cut.force_n.size:
        return cut
    turns = made.gearing.turns_rad_per_m
    left, taken = (turns[a - 1] / turns[b - 1] for a, b in ((cut.from_gear, like.from_gear), (cut.to_gear, like.to_gear)))
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


def _shift(made: _Made, place: int) -> ShiftModel:
    """From where the drive let go until the next gear carries, and on until the drive has settled."""
    rows, facts, turns, shift = made.rows, made.facts, made.gearing.turns_rad_per_m, made.review.shifts[place]
    ends_s = (_let_go_s(rows, shift.time_s), shift.end_s, shift.end_s + made.settles_s)
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
    whole = made.locks and shift.end_s <= float(rows.time_s[-1])
    peak = _peak(rows, start, carries) if whole else None
    return ShiftModel(
        shift.from_gear, shift.to_gear, at_rpm, np.arange(float(stop - start)) * rows.step_s, force,
        (makes[0] * load, makes[1] * load),
        _value(shift.rpm_before), _value(shift.rpm_after), through, carries - start, at_rpm,
        None if peak is None else float(rows.engine_rpm[peak]), 0 if peak is None else peak - start,
        float(rows.speed_mps[after] / rows.speed_mps[start]),
        0.5 if peak is not None and rows.engine_rpm[peak] > at_rpm + FLARES_RPM else 1.0,
    )  # fmt: skip


def _peak(rows: _Rows, start: int, carries: int) -> int | None:
    """Where engine speed is highest within a shift."""
    within = rows.engine_rpm[start:carries]
    return start + int(np.nanargmax(within)) if np.isfinite(within).any() else None


def _rollout(rows: _Rows, fallback_m: float) -> float:
    """Distance that the car covered from where it moved to where the clock starts, as the table has it."""
    before = rows.time_s <= 0.0
    way = float(np.trapezoid(rows.speed_mps[before], rows.time_s[before])) if before.sum() > 1 else fallback_m
    return way if way > 0.0 else fallback_m


def _value(of: Estimate | Unknown) -> float | None:
    return None if isinstance(of, Unknown) else of.value
