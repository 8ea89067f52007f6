"""From the ground back to the flywheel: what the car's motion asked of tires, wheels, gearbox, clutch and engine.

Public: `DrivelineSeries`, `read_driveline_series`, `surface_in_roll_out`, `ClutchSlip`, `find_clutch_slip`,
`slips_for_long`, `Balance`, `balance`, `road_load`, `engine_turn`, `integrate`.
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
from passband.analysis.power.facts import Facts
from passband.analysis.quantities import G_MPS2, BoolArray, FloatArray, IntArray
from passband.analysis.results.gears import Gears
from passband.analysis.results.shifts import Shift
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.priors import GROWTH
from passband.analysis.statistics.filters import greatest_near, slope
from passband.analysis.statistics.intervals import bridge, find_true_runs

SLIPPING = 1.03
"""Engine over the tires' speed through the gear from which the clutch is taken to slip: more than a sensor's delay."""
LAUNCH_SLIP_S, LONG_SLIP_S = 0.2, 0.5
"""An engine ahead of its gear for longer, in the launch's gear and in any, is a clutch that slips, not a ring of the
drive nor a sensor's moment. [s]"""
BREAK_S = 0.04
"""A break in a slip is no shorter. [s]"""
MEANT_SLIP_S = 2.0
"""A clutch that slips for so long without a break pulls by slipping: the bite of a launch takes half of it. [s]"""
UNDER_WAY_MPS = 3.0
"""From this speed on engine and tires tell whether the clutch holds. [m/s]"""
SPUN_MARGIN_S = 0.1
"""So near to wheelspin an engine ahead of its gear may be the tires' doing. [s]"""
SETUP_HALF_WIDTH = 0.025
"""A lasting difference between engine and tires beyond this is a wrong circumference, ratio or wheel scale. [-]"""
WHEEL_HALF_WIDTH = 0.05
"""The same between driven wheels and ground, as far as it does not go with pull. [-]"""
SURE = 0.9
"""Odds from which one cause of a lead is taken for it. [-]"""
LEAST_LED_MPS, MOST_ROLLING_MPS2, USUAL_DRAG_AT_70 = 12.0, 3.4, 0.12
"""Speed from which wheels show a lead; a car that slows harder is on its brakes; air and rolling at 70 m/s over a car's
weight, to a third: only how a lead goes with pull is asked. [m/s], [m/s2], [-]"""
MOST_SPIN = 0.6
"""A car that spins its tires for more of its pull than this does not reach the far end. [-]"""
SETTLE_S = 0.12
"""Time after a shift in which the drive still rings; chosen for torque-cut shifts at 100 to 500 Hz. [s]"""
SLOPE_SPAN_S = 0.08
"""Span of the fit that gives a rate of change where the drive is not locked. [s]"""
QUIET_SPAN_S, LEAST_QUIET_MPS = 0.25, 8.0
"""The same in a quiet pull, where only slip and growth change it, and the speed from which there is one. [s], [m/s]"""
LETS_GO = 0.8
"""Share of the greatest force so near that a quiet pull keeps: less is a lift, a cut or a limiter. [-]"""
STALL_TORQUE_RATIO, STALL_TORQUE_RATIO_HALF_WIDTH = 1.8, 0.4
"""Torque multiplication of a drag-race converter at stall, and its 95 % range. Common practice, no source."""
COUPLING_SPEED_RATIO = 0.88
"""Speed ratio at which a converter stops multiplying torque. Common practice, no source."""


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
    """Gear engaged; through a shift the one left until its middle (behind a converter: its start), then the next.
    0: none known."""
    turns_rad_per_m: FloatArray
    """Engine angle per metre of tire surface at rest radius in that gear; NaN where none is known. [rad/m]"""
    engine_rad_per_s: FloatArray
    """NaN where not logged. [rad/s]"""
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


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the power went, at each sample; shape (n,)."""

    force_n: FloatArray
    """Of the driven tires on the car. [N]"""
    ground_w: FloatArray
    """Force times ground speed. [W]"""
    hub_w: FloatArray
    """At the driven hubs: with tire slip and the driven wheels' own inertia. [W]"""
    clutch_w: FloatArray
    """Into the clutch: with driveline losses and the clutch's slip. [W]"""
    engine_own_w: FloatArray
    """Taken by the inertia of the engine, and of the gearbox's input where it is locked to it. [W]"""
    brake_w: FloatArray
    """At the crank, before that. [W]"""


def read_driveline_series(
    motion: Motion, gears: Gears | None, shifts: Sequence[Shift], engine: EngineSpeed | None, *, converter: bool,
    circumference_m: float | None, given_ratios: Sequence[float] | None = None, axle: str = "rear", told: bool = True,
) -> DrivelineSeries:  # fmt: skip
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
    converter : bool
        True for a torque converter.
    circumference_m : float or None
        Of the driven tires; None where not given: found ratios are then per metre. [m]
    given_ratios : sequence of float, optional
        Engine turns per turn of the driven wheels as the car's owner tells them: behind a converter, whose slip is in
        every measured ratio, they alone tell slip from gearing. [-]
    axle : str
        The driven one: ``front``, ``rear`` or ``all``.
    told : bool
        True where the driven tires' circumference and the final drive were given.

    Returns
    -------
    DrivelineSeries
        Same grid as `motion`.
    """
    time = motion.time_s
    gear = _gear_through_shifts(motion, gears, shifts, converter=converter)
    turns = _turns_per_metre(gear, gears, circumference_m, told=given_ratios if converter else None)
    engine_rad = np.full(time.size, np.nan) if engine is None else engine.at(time) * (math.pi / 30.0)
    step_s = float(np.median(np.diff(time)))
    shifting = np.zeros(time.size, dtype=np.bool_)
    settling = np.zeros(time.size, dtype=np.bool_)
    for shift in shifts:
        shifting |= (time >= shift.time_s) & (time <= shift.end_s)
        settling |= (time >= shift.time_s) & (time <= shift.end_s + SETTLE_S)
    spinning = _believable(motion)
    at_rest = motion.tire_speed_mps / (1.0 + GROWTH * motion.speed_mps**2)
    tires = at_rest / _wheel_scale_error(motion, at_rest, ~settling & ~spinning, axle=axle, told=told)
    surface = np.where(np.isfinite(tires), tires, motion.speed_mps)
    if not (converter and given_ratios):
        turns = turns * _setup_error(engine_rad, turns, surface, ~settling, step_s=step_s)
    with np.errstate(invalid="ignore"):
        slipping = engine_rad > (1.0 if converter else SLIPPING) * turns * np.maximum(surface, motion.speed_mps)
    if not converter:
        slipping = _without_breaks(slipping, step_s)
        slipping &= _can_slip(motion, slipping, spinning, shifts)
    # Behind a converter an engine no faster than its gear is at a change, or brakes: it shows no tire.
    locked = np.isfinite(turns) & ~slipping & ~shifting & np.isfinite(engine_rad) & (not converter)
    through_gear = np.where(locked, engine_rad / np.where(locked, turns, 1.0), np.nan)
    surface = np.where(np.isfinite(tires), tires, through_gear)
    return DrivelineSeries(
        time, motion.speed_mps, motion.acceleration_mps2, gear, turns, engine_rad, shifting, settling, slipping,
        spinning, surface, converter, step_s,
        tuple((shift.time_s, shift.end_s) for shift in shifts),
    )  # fmt: skip


def surface_in_roll_out(course: DrivelineSeries, *, end_s: float) -> FloatArray:
    """Surface speed of the driven tires, after the lift through the gear last in: it stays in until the clutch opens.

    Parameters
    ----------
    course : DrivelineSeries
        Of the run.
    end_s : float
        Finish or lift. [s, ET]

    Returns
    -------
    array, shape (n,)
        As the driveline's until then; after it wrong where the clutch is open, which the tires' fit sorts out. [m/s]
    """
    known = np.flatnonzero(np.isfinite(course.turns_rad_per_m) & (course.time_s <= end_s))
    if known.size == 0 or course.converter:
        return course.surface_mps
    after = (course.time_s > end_s) & ~np.isfinite(course.surface_mps)
    through = course.engine_rad_per_s / course.turns_rad_per_m[known[-1]]
    return np.where(after, through, course.surface_mps)


def _gear_through_shifts(motion: Motion, gears: Gears | None, shifts: Sequence[Shift], *, converter: bool) -> IntArray:
    """The gear whose ratio carries the torque.

    A box behind a converter takes the next gear's clutch up at once and pulls the engine down through it; one with
    a clutch or dogs lets go first.
    """
    if gears is None:
        return np.zeros(motion.time_s.size, dtype=np.int64)
    gear = gear_at(motion.time_s, gears.intervals)
    for shift in shifts:
        middle = shift.time_s if converter else 0.5 * (shift.time_s + shift.end_s)
        gear[(motion.time_s >= shift.time_s - 0.05) & (motion.time_s < middle)] = shift.from_gear
        gear[(motion.time_s >= middle) & (motion.time_s <= shift.end_s + SETTLE_S)] = shift.to_gear
    known = np.flatnonzero(gear > 0)
    if known.size:
        before_launch = np.arange(gear.size) < known[0]
        gear[before_launch & (gear == 0)] = gear[known[0]]
    return gear


def _turns_per_metre(
    gear: IntArray, gears: Gears | None, circumference_m: float | None, *, told: Sequence[float] | None
) -> FloatArray:
    if gears is None or not gears.overall_ratios:
        return np.full(gear.size, np.nan)
    ratios = np.array([np.nan, *(told or [ratio.value for ratio in gears.overall_ratios])])
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
    """Wheelspin, or none where it would fill most of the pull: then the tires' speed is not what it is taken for."""
    pulling = (motion.speed_mps > 5.0) & (motion.acceleration_mps2 > 1.0)
    if pulling.any() and float(np.mean(motion.spinning[pulling])) > MOST_SPIN:
        return np.zeros(motion.time_s.size, dtype=np.bool_)
    return motion.spinning


def _wheel_scale_error(motion: Motion, at_rest: FloatArray, quiet: BoolArray, *, axle: str, told: bool) -> float:
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
    found = explain_lead(Lead(lead, pull, speed).at(use), axle=axle, told=told, each=min(1.0, step_s / CORRELATED_S))
    sure = found.odds > SURE and abs(found.scale) > WHEEL_HALF_WIDTH
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


def _without_breaks(slipping: BoolArray, step_s: float) -> BoolArray:
    """Slip about the threshold is one slip: noise breaks it for moments."""
    out = np.zeros(slipping.size, dtype=np.bool_)
    for piece in bridge(find_true_runs(slipping), round(BREAK_S / step_s)):
        out[piece.start : piece.stop] = True
    return out


def _can_slip(motion: Motion, slipping: BoolArray, spinning: BoolArray, shifts: Sequence[Shift]) -> BoolArray:
    """True where a clutch may slip: from the launch until it first locks, about shifts, and where it does for long.

    For long counts only where the tires' own speed is known: from the ground alone tires that slip look alike.
    Where tires that spun take hold again they pull the driveline down and the clutch lets go once more, until it locks;
    and where boost comes up under an engine that bogged, torque outgrows the clutch a second time.
    """
    near = np.arange(slipping.size) < _first_locked(slipping, motion.speed_mps)
    first_shift_s = min((shift.time_s for shift in shifts), default=math.inf)
    for shift in shifts:
        near |= (motion.time_s >= shift.time_s - 0.02) & (motion.time_s <= shift.end_s + 2.0 * SETTLE_S)
    for stretch in find_true_runs(slipping):
        after_spin = spinning[max(0, stretch.start - 1) : stretch.stop].any()
        start_s, stop_s = float(motion.time_s[stretch.start]), float(motion.time_s[stretch.stop - 1])
        least_s = LAUNCH_SLIP_S if stop_s < first_shift_s else LONG_SLIP_S
        shown = bool(np.isfinite(motion.tire_speed_mps[stretch.start : stretch.stop]).all())
        near[stretch.start : stretch.stop] |= bool(after_spin) or (shown and stop_s - start_s > least_s)
    return near


def _first_locked(slipping: BoolArray, speed_mps: FloatArray) -> int:
    """Index at which the clutch first holds, the car under way; the size where it never does."""
    locked = ~slipping & (speed_mps > UNDER_WAY_MPS)
    return int(np.argmax(locked)) if locked.any() else slipping.size


@dataclass(frozen=True, slots=True)
class ClutchSlip:
    """A stretch through which the clutch slipped again after it had locked."""

    start_s: float
    """[s, ET]"""
    stop_s: float
    """[s, ET]"""
    gear: int
    """Engaged."""
    share: float
    """Engine over its locked speed, less 1, at the most. [-]"""


def find_clutch_slip(course: DrivelineSeries, *, end_s: float) -> list[ClutchSlip]:
    """Where a clutch that had locked slipped again, shifts and wheelspin apart.

    Parameters
    ----------
    course : DrivelineSeries
        Of a run whose driven tires' speed a sensor shows: without one, tires that slip look alike.
    end_s : float
        Finish or lift. [s, ET]

    Returns
    -------
    list of ClutchSlip
        In order; none behind a converter, which always slips.
    """
    if course.converter or not course.slipping.any():
        return []
    out = []
    surface = np.fmax(course.surface_mps, course.speed_mps)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = course.engine_rad_per_s / (course.turns_rad_per_m * surface) - 1.0
    after_lock = np.arange(course.time_s.size) > _first_locked(course.slipping, course.speed_mps)
    near = 2 * round(SPUN_MARGIN_S / course.step_s) + 1
    spun = np.convolve(course.spinning.astype(np.float64), np.ones(near), mode="same") > 0.5
    again = course.slipping & ~course.settling & ~spun & np.isfinite(share) & (course.time_s < end_s)
    for stretch in find_true_runs(again & after_lock):
        start_s, stop_s = float(course.time_s[stretch.start]), float(course.time_s[stretch.stop - 1])
        # An engine that turns freely beside a car that slows is in neutral.
        pushes = float(np.nanmedian(course.acceleration_mps2[stretch.start : stretch.stop])) > 0.0
        if pushes and stop_s - start_s > LAUNCH_SLIP_S:
            most = float(share[stretch.start : stretch.stop].max())
            out.append(ClutchSlip(start_s, stop_s, int(course.gear[stretch.start]), most))
    return out


def slips_for_long(course: DrivelineSeries) -> BoolArray:
    """Where a clutch slips so long that its slip is how it pulls, as one does that is meant to.

    Parameters
    ----------
    course : DrivelineSeries
        Of the run.

    Returns
    -------
    array of bool, shape (n,)
        False through the short slip of a launch, and behind a converter.
    """
    out = np.zeros(course.time_s.size, dtype=np.bool_)
    for stretch in find_true_runs(course.slipping & (not course.converter)):
        out[stretch.start : stretch.stop] = (stretch.stop - stretch.start) * course.step_s > MEANT_SLIP_S
    return out


def road_load(
    through_air_mps: FloatArray,
    *,
    mass_kg: float,
    drag_area_m2: float,
    rolling: float,
    density_kgpm3: float,
    grade: float = 0.0,
) -> FloatArray:
    """Force that holds a car at a steady speed: air, rolling, grade.

    Parameters
    ----------
    through_air_mps : array, shape (n,)
        Ground speed less the wind from behind. [m/s]
    mass_kg, drag_area_m2, rolling, density_kgpm3 : float
        [kg], Cd x A [m2], [-], [kg/m3]
    grade : float
        Rise over distance, uphill positive. [-]

    Returns
    -------
    array, shape (n,)
        [N]

    Notes
    -----
    1/2 rho CdA u|u| + (Crr + grade) m g. Lift and the growth of rolling resistance with speed are left out.

    Examples
    --------
    >>> load = road_load(np.array([30.0]), mass_kg=1000.0, drag_area_m2=0.6, rolling=0.015, density_kgpm3=1.2)
    >>> load.round(1).tolist()
    [471.1]
    """
    air = 0.5 * density_kgpm3 * drag_area_m2 * through_air_mps * np.abs(through_air_mps)
    return air + (rolling + grade) * mass_kg * G_MPS2


def balance(
    course: DrivelineSeries, facts: Facts, tire_mps: FloatArray, *, rest_mps: FloatArray | None = None,
    stall_ratio: float = STALL_TORQUE_RATIO,
) -> Balance:  # fmt: skip
    """Follow the power from the ground back to the crank at each sample.

    Parameters
    ----------
    course : DrivelineSeries
        Grid of shape (n,).
    facts : Facts
        Of car and day.
    tire_mps : array, shape (n,)
        True surface speed of the driven tires. [m/s]
    rest_mps : array, shape (n,), optional
        The same at rest radius, which is what turns with the engine; `tire_mps` where left out. [m/s]
    stall_ratio : float
        A converter's torque multiplication at stall. [-]

    Returns
    -------
    Balance
        NaN where motion is.

    Notes
    -----
    F = (m + Ju / r^2) a + road load; hub F vt + Jd w dw/dt; gearbox input hub / eta (times eta when it brakes); clutch:
    input torque times engine speed while it slips, so the slip's heat counts as the engine's work, and a grown tire is
    a longer lever; brake power adds
    (Je + Jin) w dw/dt. A converter's torque ratio falls straight from stall to 1 at the coupling point.
    """
    speed, acceleration = course.speed_mps, course.acceleration_mps2
    load = road_load(
        speed - facts.wind.value, mass_kg=facts.mass.value, drag_area_m2=facts.drag_area.value,
        rolling=facts.rolling.value, density_kgpm3=facts.density.value,
    )  # fmt: skip
    force = np.where(speed > 0.05, facts.rolling_mass * acceleration + load, 0.0)
    surface = np.where(np.isfinite(course.surface_mps), course.surface_mps, tire_mps)
    rest = tire_mps if rest_mps is None else rest_mps
    surface_mps2 = _rate(course, force, surface, rest)
    spin_force = facts.spinning_mass * surface_mps2
    hub = force * tire_mps + spin_force * surface
    carried = np.where(hub > 0, 1.0 / facts.efficiency.value, facts.efficiency.value)
    grown = np.where(rest > 0, tire_mps / np.where(rest > 0, rest, 1.0), 1.0)
    slip_w = (force * grown + spin_force) * carried / course.turns_rad_per_m * course.engine_rad_per_s
    slip_w = slip_w / _torque_ratio(course, surface, stall_ratio)
    use_slip = course.slipping & np.isfinite(slip_w) & (force + spin_force > 0)
    clutch = np.where(use_slip, slip_w, hub * carried)
    own = _engine_own(course, facts, surface_mps2)
    return Balance(force, force * speed, hub, clutch, own, clutch + own)


def _rate(course: DrivelineSeries, force_n: FloatArray, surface: FloatArray, rest: FloatArray) -> FloatArray:
    """Rate of change of the tires' surface speed.

    As their slip eases and they grow, it is some per cent off the car's own acceleration, which stands in where the
    drive is not quiet.
    """
    step = course.step_s
    measured = slope(surface, step_s=step, span_s=SLOPE_SPAN_S)
    near = np.convolve(course.spinning.astype(np.float64), np.ones(9), mode="same") > 0
    rate = np.where(near & np.isfinite(measured), measured, course.acceleration_mps2)
    quiet = ~near & ~course.settling & ~course.slipping & np.isfinite(course.turns_rad_per_m) & np.isfinite(rest)
    quiet &= force_n > LETS_GO * greatest_near(np.nan_to_num(force_n, nan=0.0), reach=round(QUIET_SPAN_S / step))
    for pull in find_true_runs(quiet & (course.speed_mps > LEAST_QUIET_MPS)):
        if (pull.stop - pull.start) * step > 2.0 * QUIET_SPAN_S:
            part = slice(pull.start, pull.stop)
            rate[part] = slope(rest[part], step_s=step, span_s=QUIET_SPAN_S)
    return np.asarray(rate, dtype=np.float64)


def _torque_ratio(course: DrivelineSeries, surface: FloatArray, stall_ratio: float) -> FloatArray:
    if not course.converter:
        return np.ones(surface.size)
    with np.errstate(divide="ignore", invalid="ignore"):
        speed_ratio = course.turns_rad_per_m * surface / course.engine_rad_per_s
    share = np.clip(np.nan_to_num(speed_ratio, nan=1.0) / COUPLING_SPEED_RATIO, 0.0, 1.0)
    return stall_ratio + (1.0 - stall_ratio) * share


def _engine_own(course: DrivelineSeries, facts: Facts, surface_mps2: FloatArray) -> FloatArray:
    """Power that speeds the engine's own inertia up."""
    filled = np.nan_to_num(course.engine_rad_per_s, nan=0.0)
    measured = slope(filled, step_s=course.step_s, span_s=SLOPE_SPAN_S)
    locked = np.isfinite(course.turns_rad_per_m) & ~course.slipping & ~course.settling
    rate = np.where(locked, course.turns_rad_per_m * surface_mps2, measured)
    own = (facts.engine_inertia.value + np.where(locked, facts.input_inertia.value, 0.0)) * filled * rate
    return np.where(np.isfinite(own), own, 0.0)


def integrate(time_s: FloatArray, values: FloatArray, *, start_s: float, stop_s: float) -> float:
    """Integral over a window, trapezoids, its ends between samples.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and values.
    start_s, stop_s : float
        The window; what lies outside the record counts nothing. [s]

    Returns
    -------
    float
        In the values' unit times seconds; NaN if a value in the window is.

    Examples
    --------
    >>> integrate(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 2.0]), start_s=0.5, stop_s=1.5)
    1.0
    """
    start, stop = max(start_s, float(time_s[0])), min(stop_s, float(time_s[-1]))
    if stop <= start:
        return 0.0
    inside = slice(int(np.searchsorted(time_s, start, side="right")), int(np.searchsorted(time_s, stop)))
    first, last = np.interp((start, stop), time_s, values)
    at = np.concatenate(([start], time_s[inside], [stop]))
    return float(np.trapezoid(np.concatenate(([first], values[inside], [last])), at))
