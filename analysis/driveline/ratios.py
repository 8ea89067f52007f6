"""How many turns the engine makes for the ground covered, and the levels at which its gears carry.

Public: `TurnRatio`, `GearLevels`, `measure_turn_ratio`, `drift_of`, `find_steady`, `known_gear_levels`,
`find_gear_levels`, `find_falls`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.gliding import engine_stands
from passband.analysis.driveline.lasting_lead import settled_samples
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.gears import GearBasis
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.statistics.intervals import find_true_runs

GRID_HZ = 100.0
"""Rate of the grid on which gears are sought: three samples in the shortest gap that a dog box leaves. [Hz]"""
LEAST_ENGINE_RPM = 300.0
"""Below it no engine under way turns: the reading is a lost signal. [rpm]"""
LEAST_SPEED_MPS = 2.0
"""Below it wheel speed sensors drop out and the ratio says nothing. [m/s]"""
STEADY_PER_S = 0.35
"""A gear that carries lets the log ratio drift no faster: converter slip and tire growth together. [1/s]"""
DRIFT_SPAN_S = 0.12
"""Drift is taken over this long: three times a shift's ring, less than the shortest stay in a gear. [s]"""
LEAST_STEP = 0.07
"""Neighbouring gears lie further apart than this in log ratio; tire growth and slip stay within. [-]"""
CONVERTER_LEAST_STEP = 0.14
"""The same behind a converter, whose lock-up takes up to a tenth. [-]"""
MOVING_MPS = 5.0
"""A shaft or wheel is asked whether it turns where the ground goes by faster. [m/s]"""
TURNS_FOR = 0.8
"""It is alive if it turns for this share of that; a dead or frozen sensor does not. Chosen. [-]"""
TURNS_BY = 0.3
"""And changes by this share of its greatest. Chosen. [-]"""
LEAST_FIRST_S = 0.3
"""The stretch taken for first gear, where only the gearbox is known, is steady for so long. Chosen. [s]"""
LEAST_STEADY_S = 0.15
"""A gear that is to be found is steady for so long. Chosen. [s]"""
FALL_SIDE_S = 0.15
"""The ratio before a fall and after it are middles over so much of the steady stretches. [s]"""
LOW_AMONG = 0.25
"""A gear's level is this quantile of its samples: slip only ever lifts them. [-]"""
ENGINE_FALLS_TOO = 0.3
"""Behind a converter a change of gear takes the engine down by at least that share of the ratio's fall; wheels that
race ahead at the launch let the ratio fall, and not the engine. [-]"""
FALLS_WITHIN_S = 0.4
"""Within so long. [s]"""
EASES_S = (1.0, 0.25)
"""How the ratio eases is looked at over this stretch before a lock-up. [s]"""
STANDS_S = (0.3, 1.3)
"""How it stands, over this one after. [s]"""
LEAST_SEEN_S = 0.3
"""Of each at least so much. [s]"""
MOST_LOCK_UP = 0.16
"""What a converter's lock-up takes, at most, log. A change of gear opens the converter anew. [-]"""
EASES_PER_S = -0.006
"""Until then the ratio eases by this at least. [1/s]"""
STANDS_PER_S = 0.006
"""Then it stands within this. [1/s]"""
MOST_SLIP_S = 4.0
"""No clutch that is meant to lock slips for longer under power, a dragster's for two to three: an engine that stands
while the ratio sinks to where a gear would be has a belt, which comes to its stop. [s] Common practice, no source."""
LAST_GAINED = 0.5
"""A belt is told from a gear by what the car gained last, log: over the little that one level spans, an engine that the
belt lets wander by 4 % may go along with the car by chance. [-] By arithmetic: from 30 to 50 m/s."""
ENOUGH_SETTLED_S = 1.0
"""So much of a record at settled ratios says where the gears lie; what slips is then left out. [s]"""
CONVERTER_DRIFT_PER_S = 0.015
"""Half the samples drift faster than this behind a converter, none but tire growth's 0.005 behind a clutch. [1/s]"""
CONVERTER_AHEAD = 0.1
"""Behind a converter the engine runs ahead of the locked ratio by a tenth or so, log. [-]"""
TIRES_AHEAD = 0.1
"""Tires at the limit of their grip let the engine run ahead of the ground by a tenth in the low gears, log; never
behind it. [-]"""
MOST_OFFSET = 0.45
"""Known ratios are looked for up to so far off as a whole, log, as with another car's final drive. [-]"""
OFFSET_STEP = 0.004
"""In steps of this, log: a third of the width about a level. [-]"""
OFFSET_WIDTH = 0.012
"""Scale of a steady sample about its level, log: sensors and ring. [-]"""
OFFSET_SPREADS = 0.3
"""On top of it, this share of how far the ratios may lie off. [-]"""
WRONG_SPREADS = 3.0
"""Known ratios further off than so many spreads are given wrong, and that is told: behind a converter only where the
ratio stands, locked, at no gear given. [-]"""
SHAFT_SPREAD = 0.004
"""How far known ratios may lie off as a whole though the setup is right: a driveshaft has no tire. Standard deviation.
[-]"""
WHEEL_SPREAD = 0.02
"""The same of a driven wheel, whose logged speed has the logger's own circumference. [-]"""
GROUND_SPREAD = 0.035
"""The same of ground speed, which adds slip and growth. [-]"""


class TurnSource(StrEnum):
    """What turns that the engine's are held against."""

    DRIVESHAFT = "driveshaft"
    """No tire between."""
    DRIVEN_WHEEL = "driven wheel"
    """The tire's own surface."""
    GROUND_SPEED = "ground speed"
    """The ground stands in for the tire."""


@dataclass(frozen=True, slots=True)
class TurnRatio:
    """Log of engine turns per metre (or per turn of the driveshaft) on an even grid."""

    time_s: FloatArray
    """Even grid of `GRID_HZ`, shape (n,). [s]"""
    log_ratio: FloatArray
    """ln(engine rpm / speed); speed in m/s, or rpm of the driveshaft. NaN where either is unknown or too slow."""
    source: TurnSource
    """What the speed is of."""
    doubtful: BoolArray
    """True where ground speed stands in for a tire that spins. Shape (n,)."""
    rpm: FloatArray
    """Engine speed on the grid. [rpm]"""
    driven: FloatArray
    """The speed that the ratio is taken against, in the source's unit; NaN where unknown. Shape (n,)."""

    @property
    def spread(self) -> float:
        """How far known ratios may lie off as a whole in this record."""
        return {TurnSource.DRIVESHAFT: SHAFT_SPREAD, TurnSource.DRIVEN_WHEEL: WHEEL_SPREAD}.get(
            self.source, GROUND_SPREAD
        )


@dataclass(frozen=True, slots=True)
class GearLevels:
    """Levels of the log ratio at which the gears carry."""

    level: FloatArray
    """First gear first, falling, shape (gears,). [-]"""
    offset: float
    """How far the record as a whole lies above what the setup says; 0 for levels found in the data. [-]"""
    basis: GearBasis
    """Given or found, or that the ratio glides: then there is no level."""


def measure_turn_ratio(engine: EngineSpeed, motion: Motion, evidence: RunEvidence, *, tail_s: float = 0.0) -> TurnRatio:
    """Engine turns for the way covered, against the best speed of what the engine drives.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    motion : Motion
        On the same clock as the traces.
    evidence : RunEvidence
        Of the run: when it was, and traces that may hold a driveshaft and a driven wheel.
    tail_s : float
        So much past its end. [s]

    Returns
    -------
    TurnRatio
        On an even grid from a little before the launch to the end and its tail.

    Notes
    -----
    A driveshaft serves best (no tire between), then the driven tire, then the ground. Where the driven wheel's own
    speed is missing the ground stands in for it.
    """
    time_s = np.arange(evidence.launch_s - 0.1, evidence.end_s + tail_s + 0.5 / GRID_HZ, 1.0 / GRID_HZ)
    rpm = _held_ends(time_s, engine.true_time_s, engine.rpm)
    ground = np.interp(time_s, motion.time_s, motion.speed_mps)
    source = _driven_speed(evidence.traces, motion, time_s, ground)
    speed = _with_ground(source.speed, ground)
    with np.errstate(divide="ignore", invalid="ignore"):
        driven = np.where(speed > source.least, speed, np.nan)
        log_ratio = np.log(np.where(rpm > LEAST_ENGINE_RPM, rpm, np.nan) / driven)
    spinning = np.interp(time_s, motion.time_s, motion.spinning.astype(np.float64)) > 0.5
    doubtful = spinning if source.kind is TurnSource.GROUND_SPEED else np.zeros(time_s.size, dtype=np.bool_)
    return TurnRatio(time_s, log_ratio, source.kind, doubtful, rpm, driven)


def _held_ends(at_s: FloatArray, time_s: FloatArray, values: FloatArray) -> FloatArray:
    held = np.interp(at_s, time_s, values, left=np.nan)
    return np.where(at_s > time_s[-1] + 0.1, np.nan, held)


@dataclass(frozen=True, slots=True)
class _DrivenSpeed:
    """What shows the speed at the driven end."""

    kind: TurnSource
    speed: FloatArray
    """In the source's own unit, shape (n,)."""
    least: float
    """From which it is believed, in that unit."""


def _driven_speed(traces: Traces, motion: Motion, time_s: FloatArray, ground: FloatArray) -> _DrivenSpeed:
    shaft = traces.get("driveshaft_speed")
    if shaft is not None:
        speed = shaft.known.at(time_s)
        if _tells(speed, ground, least=60.0):
            return _DrivenSpeed(TurnSource.DRIVESHAFT, speed, 60.0)
    known = np.isfinite(motion.tire_speed_mps)
    if known.sum() > 20:
        speed = np.interp(time_s, motion.time_s[known], motion.tire_speed_mps[known], left=np.nan, right=np.nan)
        if _tells(speed, ground, least=LEAST_SPEED_MPS):
            return _DrivenSpeed(TurnSource.DRIVEN_WHEEL, speed, LEAST_SPEED_MPS)
    return _DrivenSpeed(TurnSource.GROUND_SPEED, ground, LEAST_SPEED_MPS)


def _with_ground(speed: FloatArray, ground: FloatArray) -> FloatArray:
    """The driven speed with its gaps filled from the ground's, by the ratio of the last seconds that hold both."""
    both = np.flatnonzero(np.isfinite(speed) & (ground > 10.0))
    if both.size == 0:
        return speed
    late = both[-round(2.0 * GRID_HZ) :]
    ratio = float(np.median(speed[late] / ground[late]))
    return np.where(np.isfinite(speed), speed, ratio * ground)


def _tells(speed: FloatArray, ground: FloatArray, *, least: float) -> bool:
    """Whether a shaft or wheel turned through most of the run (a dead or frozen sensor does not)."""
    moving = ground > MOVING_MPS
    if moving.sum() < 20:
        return False
    turned = moving & (speed > least)
    return bool(turned.sum() > TURNS_FOR * moving.sum() and np.ptp(speed[turned]) > TURNS_BY * np.max(speed[turned]))


def find_steady(turn: TurnRatio) -> BoolArray:
    """Samples where the log ratio drifts no faster than a gear that carries lets it.

    Parameters
    ----------
    turn : TurnRatio
        The record.

    Returns
    -------
    array of bool, shape (n,)
        False where it is unknown.
    """
    steady = np.abs(drift_of(turn)) < STEADY_PER_S
    return np.asarray(steady & np.isfinite(turn.log_ratio) & ~turn.doubtful)


def drift_of(turn: TurnRatio) -> FloatArray:
    """How fast the log ratio drifts, over `DRIFT_SPAN_S` about each sample.

    Parameters
    ----------
    turn : TurnRatio
        The record.

    Returns
    -------
    array, shape (n,)
        NaN where it is unknown and at the ends. [1/s]
    """
    reach = round(0.5 * DRIFT_SPAN_S * GRID_HZ)
    drift = np.full(turn.log_ratio.size, np.nan)
    if drift.size > 2 * reach:
        change = turn.log_ratio[2 * reach :] - turn.log_ratio[: -2 * reach]
        drift[reach:-reach] = change / (2 * reach / GRID_HZ)
    return drift


def known_gear_levels(turn: TurnRatio, car: Car) -> GearLevels | None:
    """Levels from the ratios that the user gives, and how far the record as a whole lies off them.

    Parameters
    ----------
    turn : TurnRatio
        The record.
    car : Car
        Its gear ratios; final drive and tire circumference unless a driveshaft is logged.

    Returns
    -------
    GearLevels or None
        None where the car's figures do not suffice.

    Notes
    -----
    The offset is the one under which most steady samples stand at some gear's level, weighed against how far it may
    lie off with a right setup; a wrong circumference, final drive or wheel scale shows as an offset far outside that.
    Behind a converter a lead of a tenth or two fits the gear below almost as well: what stands locked at the gears as
    given is not explained by another offset with leads. Nor, where the ground stands in for the tires, is what stands
    at the gears as given or ahead by what tires slip: a first gear lost in wheelspin had made all gears one low.
    """
    if car.gear_ratios is None:
        return None
    if turn.source is TurnSource.DRIVESHAFT:
        level = np.log(np.asarray(car.gear_ratios))
    elif car.overall_ratios is not None and car.tire_circumference:
        level = np.log(60.0 * np.asarray(car.overall_ratios) / car.tire_circumference)
    else:
        return _floating_gear_levels(turn, np.log(np.asarray(car.gear_ratios)))
    slips = car.has_converter
    return GearLevels(level, _common_offset(turn, level, slips=slips), GearBasis.GIVEN)


def _floating_gear_levels(turn: TurnRatio, level: FloatArray) -> GearLevels | None:
    """Gearbox ratios alone: the steps are known, the common level is found. The first steady stretch is first gear."""
    pieces = [p for p in find_true_runs(find_steady(turn)) if p.stop - p.start >= LEAST_FIRST_S * GRID_HZ]
    if not pieces:
        return None
    first = float(np.median(turn.log_ratio[pieces[0].start : pieces[0].stop]))
    level = level + first - level[0]
    return GearLevels(level + _common_offset(turn, level, slips=False), 0.0, GearBasis.GIVEN)


def _common_offset(turn: TurnRatio, level: FloatArray, *, slips: bool) -> float:
    """The shift of all levels under which most steady samples stand at one; behind a converter, or ahead of it."""
    steady = find_steady(turn)
    settled = steady & settled_samples(turn.log_ratio, step_s=1.0 / GRID_HZ)
    x = turn.log_ratio[settled if settled.sum() > ENOUGH_SETTLED_S * GRID_HZ and not slips else steady]
    if x.size < 20:
        return 0.0
    tried = np.arange(-MOST_OFFSET, MOST_OFFSET + 0.001, OFFSET_STEP)
    width = OFFSET_WIDTH + OFFSET_SPREADS * turn.spread
    fit = _fits(x, level, tried, width, ahead=CONVERTER_AHEAD if slips else width)
    prior = -2.0 * np.log1p((tried / (2.0 * turn.spread)) ** 2) - 4.0 * np.abs(tried) / MOST_OFFSET
    best = float(tried[int(np.argmax(fit + prior))])
    if slips:
        stands = turn.log_ratio[settled]
        far = abs(best) > WRONG_SPREADS * turn.spread and stands.size > ENOUGH_SETTLED_S * GRID_HZ
        near = tried[np.abs(tried) < WRONG_SPREADS * turn.spread]
        locked = _fits(stands, level, np.append(near, best), width, ahead=width) if far else np.zeros(1)
        return best if locked[:-1].max(initial=-np.inf) <= locked[-1] else float(near[int(np.argmax(locked[:-1]))])
    elif turn.source is TurnSource.GROUND_SPEED and abs(best) > WRONG_SPREADS * turn.spread:
        near = tried[np.abs(tried) < WRONG_SPREADS * turn.spread]
        held = _fits(x, level, np.append(near, best), width, ahead=TIRES_AHEAD)
        best = best if held[:-1].max(initial=-np.inf) <= held[-1] else float(near[int(np.argmax(held[:-1]))])
    left = x - best - level[np.abs(x[:, None] - level[None, :] - best).argmin(axis=1)]
    near = np.abs(left) < 3 * width
    return best + (float(np.median(left[near])) if near.any() else 0.0)


def _fits(x: FloatArray, level: FloatArray, tried: FloatArray, width: float, *, ahead: float) -> FloatArray:
    """How well log ratios stand at the levels under each shift tried; what lies above a level counts in `ahead`."""
    nearest = np.full((x.size, tried.size), np.inf)
    for gear_level in level:
        gap = (x - gear_level)[:, None] - tried[None, :]
        gap *= np.where(gap > 0, width / ahead, 1.0)
        np.minimum(nearest, np.abs(gap, out=gap), out=nearest)
    fits = np.log(np.exp(-0.5 * (nearest / width) ** 2) + 0.01).sum(axis=0) * (20.0 / GRID_HZ)
    return np.asarray(fits, dtype=np.float64)


def find_falls(turn: TurnRatio, *, least: float) -> list[float]:
    """Find where the log ratio falls from one steady level to a lower one.

    Parameters
    ----------
    turn : TurnRatio
        The record.
    least : float
        Least fall of the log ratio. [-]

    Returns
    -------
    list of float
        Middle of each fall, in order; empty where there is none. [s]
    """
    pieces = [p for p in find_true_runs(find_steady(turn)) if p.stop - p.start >= 0.1 * GRID_HZ]
    reach = round(FALL_SIDE_S * GRID_HZ)
    falls = []
    for left, right in pairwise(pieces):
        before = np.median(turn.log_ratio[max(left.stop - reach, left.start) : left.stop])
        after = np.median(turn.log_ratio[right.start : min(right.start + reach, right.stop)])
        if before - after > least:
            falls.append(0.5 * float(turn.time_s[left.stop - 1] + turn.time_s[right.start]))
    return falls


def find_gear_levels(turn: TurnRatio, *, slips: bool | None = None) -> GearLevels | None:
    """Levels found in the record itself, named in the order in which they were used.

    Parameters
    ----------
    turn : TurnRatio
        The record.
    slips : bool, optional
        True behind a converter, False with a clutch; None where it is not known and the drift within the gears tells.

    Returns
    -------
    GearLevels or None
        None where no steady stretch of 0.15 s stands out; no level, its basis `GLIDES`, where for most of the steady
        time the engine stands while the car gains speed.

    Notes
    -----
    Between two falls of the log ratio the car is in one gear. Slip of clutch or tire only ever lifts the ratio, so the
    level is low among the stretch's samples. Stretches nearer than the least step are one gear: a converter that
    locks up lets the engine fall by up to a tenth, and a box behind one has steps of 0.25 and more. It cannot know of
    gears below the first used, nor of one that was skipped.
    """
    converter = bool(slips)
    if slips is None:
        slips = _drifts(turn)
    least = CONVERTER_LEAST_STEP if slips else LEAST_STEP
    falls = [at_s for at_s in find_falls(turn, least=least) if not slips or _is_change(turn, at_s)]
    edges = [float(turn.time_s[0]), *falls, float(turn.time_s[-1])]
    steady = find_steady(turn)
    levels: list[float] = []
    held = glides = 0
    for start_s, stop_s in pairwise(edges):
        inside = steady & (turn.time_s >= start_s) & (turn.time_s <= stop_s)
        if inside.sum() >= LEAST_STEADY_S * GRID_HZ:
            levels.append(float(np.quantile(turn.log_ratio[inside], LOW_AMONG)))
            near = inside & (np.abs(turn.log_ratio - levels[-1]) < LEAST_STEP)
            held += int(inside.sum())
            last = inside & (turn.driven > np.nanmax(turn.driven[inside]) * np.exp(-LAST_GAINED))
            above = inside & (turn.log_ratio - levels[-1] >= LEAST_STEP)
            sinks = above.sum() > MOST_SLIP_S * GRID_HZ and 2 * above.sum() > inside.sum()
            told = (near, last, above) if sinks else (near, last)
            glides += int(inside.sum()) if any(engine_stands(turn.rpm, turn.driven, part) for part in told) else 0
    if not converter and 2 * glides > held:
        return GearLevels(np.zeros(0), 0.0, GearBasis.GLIDES)
    kept: list[float] = []
    for level in sorted(levels, reverse=True):
        if not kept or kept[-1] - level > least:
            kept.append(level)
    return GearLevels(np.asarray(kept), 0.0, GearBasis.FOUND) if kept else None


def _is_change(turn: TurnRatio, at_s: float) -> bool:
    """Whether a fall of the ratio behind a converter is a change: the engine fell too, and no lock-up did it."""
    near = np.abs(turn.time_s - at_s) < FALLS_WITHIN_S
    before, after = near & (turn.time_s < at_s), near & (turn.time_s > at_s)
    rpm, ratio = np.log(np.maximum(turn.rpm, 1.0)), turn.log_ratio
    if before.sum() < 5 or after.sum() < 5:
        return True
    fell = float(np.nanmax(rpm[before]) - np.nanmin(rpm[after]))
    ratio_fell = float(np.nanmedian(ratio[before]) - np.nanmedian(ratio[after]))
    return fell > ENGINE_FALLS_TOO * ratio_fell and not _is_lock_up(turn, at_s)


def _is_lock_up(turn: TurnRatio, at_s: float) -> bool:
    """Whether a fall of the ratio is a lock-up clutch that closes: it eased before, stands after, fell by little."""
    drift, time_s = drift_of(turn), turn.time_s
    before = (time_s > at_s - EASES_S[0]) & (time_s < at_s - EASES_S[1]) & np.isfinite(drift)
    after = (time_s > at_s + STANDS_S[0]) & (time_s < at_s + STANDS_S[1]) & np.isfinite(drift)
    if min(before.sum(), after.sum()) < LEAST_SEEN_S * GRID_HZ:
        return False
    fell = float(np.median(turn.log_ratio[before]) - np.median(turn.log_ratio[after]))
    eased, stands = float(np.median(drift[before])), abs(float(np.median(drift[after])))
    return fell < MOST_LOCK_UP and eased < EASES_PER_S and stands < STANDS_PER_S


def _drifts(turn: TurnRatio) -> bool:
    """Whether the log ratio drifts within the gears as behind a converter."""
    drift = drift_of(turn)[find_steady(turn)]
    return bool(drift.size > GRID_HZ and np.median(np.abs(drift)) > CONVERTER_DRIFT_PER_S)
