"""On one grid what the balance of power needs of a run: motion, gear, engine speed, tires, clutch.

Public: `DrivelineSeries`, `GivenDriveline`, `read_driveline_series`, `surface_in_roll_out`, `engine_turn`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.driveline.gears import gear_at
from passband.analysis.driveline.lasting_lead import lasting_lead
from passband.analysis.driveline.tire import CORRELATED_S
from passband.analysis.driveline.tire_lead import Lead, explain_lead
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.power.may_slip import SETTLE_S, slip_of_clutch
from passband.analysis.quantities import G_MPS2, BoolArray, FloatArray, IntArray
from passband.analysis.results.gears import Gears
from passband.analysis.results.shifts import Shift
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.priors import GROWTH
from passband.analysis.statistics.filters import slope

SLIPPING = 1.03
"""Engine over the tires' speed through the gear from which the clutch is taken to slip: more than a sensor's delay."""
SETUP_HALF_WIDTH = 0.025
"""A lasting difference between engine and tires beyond this is a wrong circumference, ratio or wheel scale. [-]"""
WHEEL_HALF_WIDTH = 0.05
"""The same between driven wheels and ground, as far as it does not go with pull. [-]"""
SURE = 0.9
"""Odds from which one cause of a lead is taken for it. [-]"""
LEAST_LED_MPS, MOST_ROLLING_MPS2, USUAL_DRAG_AT_70 = 12.0, 3.4, 0.12
"""Speed from which wheels show a lead; a car that slows harder is on its brakes; air and rolling at 70 m/s over a car's
weight, to a third: only how a lead goes with pull is asked. [m/s], [m/s2], [-]"""
SLOPE_SPAN_S = 0.08
"""Span of the fit that gives a rate of change where the drive is not locked. [s]"""
FOUND_SLIP = 0.06
"""A ratio found behind a converter holds the slip that the converter keeps, 0 where it locks to 12 % where it is loose:
half of that is taken off, as much is open. Log. [-] What converters keep: common practice, no source."""
KEPT_PULL = 0.85
"""A car that keeps that share of its pull through a shift has its drive handed over: packs that overlap kept 0.90 and
more of it by a motion with an accelerometer in it, the mildest cut 0.80 and less (runs of three models, seeds 6300 and
6301). [-]"""
BEFORE_SHIFT_S = (0.3, 0.05)
"""Of what its pull was over this stretch before. [s]"""
LEAST_PULL_MPS2 = 1.0
"""A smaller pull is lost in the noise. [m/s2]"""
MOST_SPIN = 0.6
"""Tires said to spin for more of the pull than this are rather taken for what they are not. [-]"""
GRIPPED_S, GRIPPED_LEAD = 0.5, 0.08
"""But for tires that lead the ground by no more than the second, as those that grip do, for the first of the same pull:
a wrong circumference leads all along. [s], [-]"""


@dataclass(frozen=True, slots=True)
class DrivelineSeries:
    """What the balance takes from motion, gears, shifts and engine speed; arrays on the motion's grid, shape (n,)."""

    time_s: FloatArray
    """[s, ET]"""
    speed_mps: FloatArray
    """Ground speed. [m/s]"""
    acceleration_mps2: FloatArray
    """[m/s2]"""
    gear: IntArray
    """Gear engaged; through a shift the one left until its middle (its start behind a converter, and where drive is
    handed over under power), then the next. 0: none known."""
    turns_rad_per_m: FloatArray
    """Engine angle per metre of tire surface at rest radius in that gear; NaN where none is known. [rad/m]"""
    engine_rad_per_s: FloatArray
    """NaN where not logged. [rad/s]"""
    engine_rad_per_s2: FloatArray
    """Rate of change of that over `SLOPE_SPAN_S`. [rad/s2]"""
    shifting: BoolArray
    """Between a shift's start and its end."""
    settling: BoolArray
    """Shifting, or just after."""
    slipping: BoolArray
    """Clutch or converter turns faster than the gearbox."""
    spinning: BoolArray
    """Wheelspin."""
    surface_mps: FloatArray
    """Surface speed of the driven tires at rest radius; NaN where nothing shows it. [m/s]"""
    converter: bool
    """True for a torque converter."""
    step_s: float
    """Step of the grid. [s]"""
    shifts_s: tuple[tuple[float, float], ...] = ()
    """Start and end of each shift, between samples. [s, ET]"""
    end_s: float = math.inf
    """Finish or lift; the window of power starts at 0. [s, ET]"""
    slip_open: float = 0.0
    """Share of a converter's slip that is open because its gears' ratios were found and not given. Log. [-]"""


@dataclass(frozen=True, slots=True)
class GivenDriveline:
    """What the car's owner tells of its driveline."""

    converter: bool = False
    """True for a torque converter."""
    circumference_m: float | None = None
    """Of the driven tires; None where not given: found ratios are then per metre. [m]"""
    ratios: Sequence[float] | None = None
    """Engine turns per turn of the driven wheels in each gear; None where not given. Behind a converter, whose slip is
    in every measured ratio, they alone tell slip from gearing. [-]"""
    axle: str = "rear"
    """The driven one: ``front``, ``rear`` or ``all``."""
    complete: bool = True
    """True where the driven tires' circumference and the final drive were given."""


def read_driveline_series(
    motion: Motion,
    gears: Gears | None,
    shifts: Sequence[Shift],
    engine: EngineSpeed | None,
    given: GivenDriveline,
    *,
    end_s: float = math.inf,
    felt: bool = False,
) -> DrivelineSeries:
    """Gather on one grid what the balance needs.

    Parameters
    ----------
    motion : Motion
        ET.
    gears : Gears or None
        None where none could be named.
    shifts : sequence of Shift
        ET.
    engine : EngineSpeed or None
        None where not logged.
    given : GivenDriveline
        As the car's owner gives it.
    end_s : float
        Finish or lift. [s, ET]
    felt : bool
        Whether an accelerometer is in the motion: then it shows whether a shift cut the pull.

    Returns
    -------
    DrivelineSeries
        Same grid as `motion`.
    """
    time, converter = motion.time_s, given.converter
    gear = _gear_through_shifts(motion, gears, shifts, converter=converter, felt=felt)
    turns = _turns_per_metre(gear, gears, given.circumference_m, given=given.ratios if converter else None)
    engine_rad = np.full(time.size, np.nan) if engine is None else engine.at(time) * (math.pi / 30.0)
    step_s = float(np.median(np.diff(time)))
    shifting = np.zeros(time.size, dtype=np.bool_)
    settling = np.zeros(time.size, dtype=np.bool_)
    for shift in shifts:
        shifting |= (time >= shift.time_s) & (time <= shift.end_s)
        settling |= (time >= shift.time_s) & (time <= shift.end_s + SETTLE_S)
    spinning = _believable(motion)
    at_rest = motion.tire_speed_mps / (1.0 + GROWTH * motion.speed_mps**2)
    tires = at_rest / _wheel_scale_error(motion, at_rest, ~settling & ~spinning, axle=given.axle, given=given.complete)
    surface = np.where(np.isfinite(tires), tires, motion.speed_mps)
    if not (converter and given.ratios):
        turns = turns * _setup_error(engine_rad, turns, surface, ~settling, step_s=step_s)
    slip_open = FOUND_SLIP if converter and not given.ratios else 0.0
    turns = turns * math.exp(-slip_open)
    with np.errstate(invalid="ignore"):
        slipping = engine_rad > (1.0 if converter else SLIPPING) * turns * np.maximum(surface, motion.speed_mps)
    if not converter:
        slipping = slip_of_clutch(slipping, motion, spinning, shifts, step_s=step_s)
    # Behind a converter an engine no faster than its gear is at a change, or brakes: it shows no tire.
    locked = np.isfinite(turns) & ~slipping & ~shifting & np.isfinite(engine_rad) & (not converter)
    through_gear = np.where(locked, engine_rad / np.where(locked, turns, 1.0), np.nan)
    surface = np.where(np.isfinite(tires), tires, through_gear)
    return DrivelineSeries(
        time_s=time,
        speed_mps=motion.speed_mps,
        acceleration_mps2=motion.acceleration_mps2,
        gear=gear,
        turns_rad_per_m=turns,
        engine_rad_per_s=engine_rad,
        engine_rad_per_s2=slope(np.nan_to_num(engine_rad, nan=0.0), step_s=step_s, span_s=SLOPE_SPAN_S),
        shifting=shifting,
        settling=settling,
        slipping=slipping,
        spinning=spinning,
        surface_mps=surface,
        converter=converter,
        step_s=step_s,
        shifts_s=tuple((shift.time_s, shift.end_s) for shift in shifts),
        end_s=end_s,
        slip_open=slip_open,
    )


def surface_in_roll_out(series: DrivelineSeries) -> FloatArray:
    """Surface speed of the driven tires, after the lift through the gear last in: it stays in until the clutch opens.

    Parameters
    ----------
    series : DrivelineSeries
        Of the run.

    Returns
    -------
    array, shape (n,)
        As the driveline's until then; after it wrong where the clutch is open, which the tires' fit sorts out. [m/s]
    """
    known = np.flatnonzero(np.isfinite(series.turns_rad_per_m) & (series.time_s <= series.end_s))
    if known.size == 0 or series.converter:
        return series.surface_mps
    after = (series.time_s > series.end_s) & ~np.isfinite(series.surface_mps)
    through = series.engine_rad_per_s / series.turns_rad_per_m[known[-1]]
    return np.where(after, through, series.surface_mps)


def _gear_through_shifts(
    motion: Motion, gears: Gears | None, shifts: Sequence[Shift], *, converter: bool, felt: bool
) -> IntArray:
    """The gear whose ratio carries the torque.

    A box behind a converter takes the next gear's clutch up at once and pulls the engine down through it; so do packs
    that hand drive over under power: an engine slower than its old gear asks for pushes through the next one alone. One
    with a clutch or dogs lets go first.
    """
    if gears is None:
        return np.zeros(motion.time_s.size, dtype=np.int64)
    gear = gear_at(motion.time_s, gears.intervals)
    for shift in shifts:
        at_once = converter or (felt and _handed_over(motion, shift))
        taken_s = shift.time_s if at_once else 0.5 * (shift.time_s + shift.end_s)
        gear[(motion.time_s >= shift.time_s - 0.05) & (motion.time_s < taken_s)] = shift.from_gear
        gear[(motion.time_s >= taken_s) & (motion.time_s <= shift.end_s + SETTLE_S)] = shift.to_gear
    known = np.flatnonzero(gear > 0)
    if known.size:
        before_launch = np.arange(gear.size) < known[0]
        gear[before_launch & (gear == 0)] = gear[known[0]]
    return gear


def _handed_over(motion: Motion, shift: Shift) -> bool:
    """Whether the car pulled on through a shift, its tires gripping: spinning ones push alike under a cut."""
    usual = (motion.time_s > shift.time_s - BEFORE_SHIFT_S[0]) & (motion.time_s < shift.time_s - BEFORE_SHIFT_S[1])
    since = (motion.time_s > shift.time_s - BEFORE_SHIFT_S[1]) & (motion.time_s < shift.end_s)
    if motion.through_driveline or not usual.any() or not since.any() or motion.spinning[usual | since].any():
        return False
    pull = float(np.median(motion.acceleration_mps2[usual]))
    return pull > LEAST_PULL_MPS2 and float(motion.acceleration_mps2[since].min()) > KEPT_PULL * pull


def _turns_per_metre(
    gear: IntArray, gears: Gears | None, circumference_m: float | None, *, given: Sequence[float] | None
) -> FloatArray:
    if gears is None or not gears.overall_ratios:
        return np.full(gear.size, np.nan)
    ratios = np.array([np.nan, *(given or [ratio.value for ratio in gears.overall_ratios])])
    known = np.where((gear > 0) & (gear < ratios.size), gear, 0)
    return np.asarray(ratios[known] * engine_turn(1.0, circumference_m or 1.0), dtype=np.float64)


def engine_turn(ratio: float, circumference_m: float) -> float:
    """Angle that a locked engine turns through for each metre of tire surface.

    Parameters
    ----------
    ratio : float
        Engine turns per turn of the driven wheels. [-]
    circumference_m : float
        Of the driven tires. [m]

    Returns
    -------
    float
        [rad/m]

    Examples
    --------
    >>> round(engine_turn(9.0, 2.0) * 30.0 * 30.0 / math.pi)  # rpm at 30 m/s
    8100
    """
    return 2.0 * math.pi * ratio / circumference_m


def _believable(motion: Motion) -> BoolArray:
    """Wheelspin, or none where it fills most of the pull and never ends: such tires are not what they are taken for."""
    pulling = (motion.speed_mps > 5.0) & (motion.acceleration_mps2 > 1.0)
    if motion.through_driveline:
        return motion.spinning  # no ratio nor circumference is in it: a wheel that fell had spun
    if pulling.any() and float(np.mean(motion.spinning[pulling])) > MOST_SPIN and not _gripped(motion, pulling):
        return np.zeros(motion.time_s.size, dtype=np.bool_)
    return motion.spinning


def _gripped(motion: Motion, pulling: BoolArray) -> bool:
    """Whether the tires came down to the ground's speed while the car still pulled."""
    grips = pulling & ~motion.spinning & (motion.speed_mps > LEAST_LED_MPS) & np.isfinite(motion.tire_speed_mps)
    if np.count_nonzero(grips) * float(np.median(np.diff(motion.time_s))) < GRIPPED_S:
        return False
    lead = motion.tire_speed_mps[grips] / motion.speed_mps[grips] - GROWTH * motion.speed_mps[grips] ** 2
    return float(np.median(lead)) < 1.0 + GRIPPED_LEAD


def _wheel_scale_error(motion: Motion, at_rest: FloatArray, quiet: BoolArray, *, axle: str, given: bool) -> float:
    """What the driven wheels' speed as logged is too high by, where that is more than the tires' doing.

    Only what stays when pull falls and once the car rolls out; what goes with pull is slip, however much.
    """
    speed, mps2 = motion.speed_mps, motion.acceleration_mps2
    use = quiet & (speed > LEAST_LED_MPS) & np.isfinite(at_rest) & (at_rest > 0) & (mps2 > -MOST_ROLLING_MPS2)
    if motion.through_driveline or use.sum() < 50:
        return 1.0
    lead = np.log(np.where(use, at_rest, 1.0) / np.where(use, speed, 1.0))
    pull = mps2 / G_MPS2 + USUAL_DRAG_AT_70 * (speed / 70.0) ** 2
    step_s = float(np.median(np.diff(motion.time_s)))
    found = explain_lead(Lead(lead, pull, speed).at(use), axle=axle, given=given, each=min(1.0, step_s / CORRELATED_S))
    sure = found.cause_odds > SURE and abs(found.scale) > WHEEL_HALF_WIDTH
    return math.exp(found.scale) if sure else 1.0


def _setup_error(
    engine_rad: FloatArray, turns: FloatArray, surface: FloatArray, quiet: BoolArray, *, step_s: float
) -> float:
    """Engine turns per metre over what the setup says, where the two differ for good by more than the tires' doing."""
    fast = quiet & np.isfinite(engine_rad) & np.isfinite(turns) & (surface > 0.5 * np.nanmax(surface)) & (surface > 5.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        lead = np.log(engine_rad / (turns * surface))
    lasts = lasting_lead(lead, fast, step_s=step_s)
    return math.exp(lasts) if lasts is not None and abs(lasts) > SETUP_HALF_WIDTH else 1.0
