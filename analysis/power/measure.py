"""Power down the track from the car's motion: to the ground, at the flywheel, with its plus-minus.

Public: `Driven`, `measure_power`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.tire import fit_tire
from passband.analysis.driveline.tire_lead import tell_lead
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.power.averages import Averages, PowerBasis, average_power, balance_of, brake_with_facts
from passband.analysis.power.balance import STALL_TORQUE_RATIO_HALF_WIDTH, Balance, balance, integrate
from passband.analysis.power.bent_motion import without_peak
from passband.analysis.power.causes import RUN, Effect, effects_of, estimated, shares_of
from passband.analysis.power.clutch_heat import tell_no_heat
from passband.analysis.power.clutch_slip import find_clutch_slip, slips_for_long
from passband.analysis.power.correction import Corrected, correct_power
from passband.analysis.power.cross_checks import (
    charge_pressure,
    check_between_gears,
    check_fuel,
    check_trap_speed,
    power_from_trap_speed,
)
from passband.analysis.power.curve import measure_curves, measure_peak, smooth_pulls
from passband.analysis.power.driveline_series import (
    DrivelineSeries,
    GivenDriveline,
    read_driveline_series,
    surface_in_roll_out,
)
from passband.analysis.power.facts import Facts, missing_mass, read_facts, tell_not_given
from passband.analysis.power.flywheel_unseen import without_flywheel
from passband.analysis.power.gear_agreement import (
    GearAgreement,
    GivenTo,
    MovedPower,
    Pulls,
    compare_gears,
    tell_disagreement,
)
from passband.analysis.power.gear_unseen import first_unseen_change, with_gear_left
from passband.analysis.power.pistons import brake_mean_effective_pressure, mean_piston_speed
from passband.analysis.power.slip_on_top import find_slip_on_top
from passband.analysis.power.unlike_gears import power_astray
from passband.analysis.quantities import G_MPS2, BoolArray, FloatArray
from passband.analysis.results.air import AirState
from passband.analysis.results.estimate import CAR, GEARS_UNLIKE, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearBasis, Gears
from passband.analysis.results.power import Power
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.wheels import driven_tire_speed
from passband.analysis.statistics.filters import smooth

MOST_MPS2 = 45.0
"""Acceleration over a tenth of a second that a car on tires does not exceed: four and a half times gravity. Common
practice, no source. [m/s2]"""
BALANCE_LIMIT = 0.01
"""Share of the work by which work and energy may differ before a finding says so. [-]"""
SPIN_OR_CLUTCH = "wheelspin or clutch"
"""A source of plus-minus: an engine ahead of the ground and no sensor at the tires, read as either."""
GEAR_UNSEEN = "gear under wheelspin"
"""A source of plus-minus: a change of gear under spinning tires that engine speed does not bear out."""
TRIED = 0.01
"""The share by which a fact is moved to see what it makes of power. [-]"""
TILTING_FACTS = ("rolling", "engine_inertia", "input_inertia", "wheel_inertia", "undriven_share", "slope")
"""Facts whose half-widths tip one gear's power against another's, beside mass, drag area and wind."""
MOST_LEAD, NEAR_ODD_S = 0.15, 0.08
"""Tires this far off the ground's speed, or about to spin, show no peak and no curve; nor does the time just before a
shift, whose fall of acceleration a fused motion knows to a few hundredths of a second only. [-], [s]"""
UNLIKE_ENGINE_MPS2 = 2.0
"""A gear that holds lets car and engine differ by no more than this and a share of the engine's own gain: slip that
comes and goes and the sensors' noise. [m/s2] By arithmetic: 1 % of slip in a fifth of a second at 40 m/s."""
UNLIKE_ENGINE_SHARE = 0.2
"""That share. [-]"""
NO_TRAP = Finding(
    "trap-not-reached", "note", "The run did not end at a speed trap: no trap's speed says anything of its power."
)
NO_ENGINE_AT_PISTONS = Finding(
    "pistons-not-known", "note", "Engine speed is not known: neither is what power means at the pistons."
)
NO_STROKE = Finding("pistons-not-known", "note", "The stroke is not given with the car: piston speed is not known.")
NO_DISPLACEMENT = Finding(
    "pistons-not-known",
    "note",
    "Bore, stroke and cylinders are not all given with the car: mean effective pressure is not known.",
)
NO_WORK = Finding("no-work-to-balance", "note", "The tires did no work on the car: there is no balance to close.")


@dataclass(frozen=True, slots=True)
class Driven:
    """How the car was driven down the track. Times are ET."""

    motion: Motion
    """How it moved."""
    gears: Gears | None
    """None where none could be named."""
    shifts: Sequence[Shift]
    """In order."""
    trap_speed: Estimate | None
    """Mean speed of the trap at its end, for a check; None where it reached none. [m/s]"""


def measure_power(driven: Driven, evidence: RunEvidence, car: Car, air: AirState) -> Power | Unknown:
    """Work and power of a run from the car's motion.

    Parameters
    ----------
    driven, evidence
        Of the run.
    car : Car
        As its owner tells it: a final drive found from the tires' own speed says nothing of their slip. Needs the
        mass; what else is missing is taken at its usual value, with a plus-minus to match.
    air : AirState
        The day's air.

    Returns
    -------
    Power or Unknown
        Unknown where the mass is, or the window holds no motion to be believed. Its findings: what is missing and what
        it would narrow; what does not agree.

    Notes
    -----
    To the ground: change of kinetic energy, with the undriven wheels', plus air and rolling, over the window. To the
    flywheel: tire slip, driven wheels' inertia, driveline efficiency, clutch slip, inertia of engine and gearbox input,
    heat of fast shifts. Plus-minus adds in
    quadrature what each input alone moves, found by moving it. A strip is taken as level, its slope as open; heat in
    the tires is not seen, nor what accessories take before the clutch.
    """
    facts = read_facts(car, air)
    if facts is None:
        return Unknown(missing_mass())
    traces, end_s, motion = evidence.traces, evidence.end_s, driven.motion
    inside = (motion.time_s >= 0) & (motion.time_s <= end_s) & np.isfinite(motion.acceleration_mps2)
    if inside.sum() < 20 or not np.isfinite(motion.speed_mps[inside]).all():
        return Unknown(Finding("no-motion-for-power", "caution", "Power needs the car's motion from start to finish."))
    if motion.through_driveline and _leaps(motion, inside):
        return Unknown(_motion_leaps())
    case = _prepare(driven, evidence, car, facts)
    averages = average_power(case)
    effects = effects_of(case, motion, averages)
    run = _Worked(case, balance_of(case), _pulling(case), averages, effects)
    if motion.wheelspin and evidence.tires is None and not car.has_converter and not motion.through_driveline:
        clutch = _prepare(replace(driven, motion=_with_clutch_that_slips(motion)), evidence, car, facts)
        effects = (*effects, Effect(SPIN_OR_CLUTCH, RUN, average_power(clutch)))
    agreement = None if motion.through_driveline else _agreement(run, motion, traces, air)
    if agreement is not None and agreement.disagrees and not agreement.is_of_another_cause:
        effects = (*effects, Effect(GEARS_UNLIKE, CAR, _moved_by_disagreement(case, averages, agreement)))
    run = _between_gears(replace(run, effects=effects), driven, evidence)
    averages, effects = run.averages, run.effects
    average = estimated(averages, effects, "brake")
    believed = run.pulling & ~_near(_unlike_engine(case.series), case.series.step_s)
    smoothed = smooth_pulls(run.parts.brake_w, believed, step_s=case.series.step_s)
    spun_w = None if evidence.tires is None else _spun_power(run)
    corrected = correct_power(average, air, car, boosted=evidence.boosted)
    charge = charge_pressure(case.series, traces, air_pressure_pa=air.pressure_pa)
    why = tell_no_heat(case.series, motion, logged=case.engine is not None)
    no_heat = Unknown(why) if why is not None else None
    implied = _implied(driven, facts, end_s)
    work = averages.ground * end_s
    power = Power(
        average_w=average,
        average_pulling_w=estimated(averages, effects, "pulling"),
        average_over_distance_w=estimated(averages, effects, "over_distance"),
        average_wheel_w=estimated(averages, effects, "ground"),
        clutch_heat_j=no_heat or estimated(averages, effects, "clutch_heat"),
        peak_w=measure_peak(smoothed, _jitter(case, motion), step_s=case.series.step_s, average=average, spun_w=spun_w),
        work_j=work,
        corrected_average_w=corrected.average_w,
        correction_factor=corrected.average_w if isinstance(corrected.average_w, Unknown) else corrected.factor,
        correction_rule=None if isinstance(corrected.average_w, Unknown) else corrected.rule,
        from_trap_speed_w=implied,
        balance_error=_balance_error(run, work),
        shares=shares_of(averages, effects),
        curves=measure_curves(case.series, smoothed, average=average, charge_pa=charge),
        mean_piston_speed_mps=_piston_speed(case, car),
        bmep_pa=_bmep(case, car, averages.pulling),
    )
    if driven.gears is not None and driven.gears.basis is GearBasis.GLIDES:
        power = without_flywheel(power)
    if motion.bent:
        power = without_peak(power)
    found = _findings(run, power, car, corrected, traces)
    of_gears = _tell_of_gears(run, traces, air, agreement)
    if motion.through_driveline:  # whose slip in each gear is not known
        of_gears = [replace(finding, level="note") for finding in of_gears]
    return replace(power, findings=(*found, *of_gears))


def _with_clutch_that_slips(motion: Motion) -> Motion:
    """The other reading of an engine that runs ahead where no sensor shows the tires: they grip, the clutch slips."""
    spun = np.zeros(motion.time_s.size, dtype=np.bool_)
    gripping = np.where(motion.spinning, motion.speed_mps, motion.tire_speed_mps)
    return replace(motion, tire_speed_mps=gripping, spinning=spun, wheelspin=())


@dataclass(frozen=True, slots=True)
class _Worked:
    """A run and what its work is told by."""

    case: PowerBasis
    """The run."""
    parts: Balance
    """Where its power went."""
    pulling: BoolArray
    """Where it pulled in a gear that held."""
    averages: Averages
    """What came of it."""
    effects: tuple[Effect, ...]
    """What each thing that is not known makes of them."""


def _between_gears(run: _Worked, driven: Driven, evidence: RunEvidence) -> _Worked:
    """Where spinning tires hide whether a gear was left, midway between both readings: either is as likely."""
    case, gears = run.case, driven.gears
    if gears is None or not driven.motion.wheelspin or evidence.tires is not None or case.series.converter:
        return run
    since_s = first_unseen_change(gears, driven.shifts)
    if since_s is None or driven.motion.through_driveline:
        return run
    left = with_gear_left(case.series, gears, since_s)
    slower = np.where(left.gear != case.series.gear, case.series.turns_rad_per_m / left.turns_rad_per_m, 1.0)
    tire = replace(case.tire, speed_mps=case.tire.speed_mps * slower)
    other = average_power(replace(case, series=left, tire=tire))
    moved = tuple(replace(one, averages=_moved_halfway(one.averages, run.averages, other)) for one in run.effects)
    middle = _moved_halfway(run.averages, run.averages, other)
    other = replace(other, pulling=(run.averages.pulling + other.pulling) / 2)
    return replace(run, averages=middle, effects=(*moved, Effect(GEAR_UNSEEN, RUN, other)))


def _moved_halfway(one: Averages, here: Averages, there: Averages) -> Averages:
    """Averages moved by half of what lies between two others, but for power without shifts.

    There the shift that was not seen counts as a pull, which takes off about what a gear named too high puts on.
    """
    names = [part.name for part in fields(Averages) if part.name != "pulling"]
    return replace(
        one, **{name: getattr(one, name) + (getattr(there, name) - getattr(here, name)) / 2 for name in names}
    )


def _leaps(motion: Motion, inside: BoolArray) -> bool:
    """Whether speed made from the drive gains more than any car does: the tires spun, and nothing shows by how much."""
    lasting = smooth(
        motion.acceleration_mps2[inside], step_s=float(np.median(np.diff(motion.time_s))), span_s=0.1, order=1
    )
    return bool(np.nanmax(np.abs(lasting)) > MOST_MPS2)


def _motion_leaps() -> Finding:
    text = (
        f"Speed made from the driven tires or the engine changes by more than {MOST_MPS2 / G_MPS2:.1f} g: the tires "
        "spun or the gears are misread, and power would be a guess. Log ground speed, from undriven wheels or GPS."
    )
    return Finding("power-motion-leaps", "caution", text)


def _prepare(driven: Driven, evidence: RunEvidence, car: Car, facts: Facts) -> PowerBasis:
    motion, engine, end_s = driven.motion, evidence.engine, evidence.end_s
    given = car.tire_circumference is not None and car.final_drive is not None
    given_driveline = GivenDriveline(
        car.has_converter, car.tire_circumference, car.overall_ratios, car.usual_axle, given
    )
    felt = evidence.traces.get("acceleration") is not None
    series = read_driveline_series(motion, driven.gears, driven.shifts, engine, given_driveline, end_s=end_s, felt=felt)
    rough = balance(series, facts, motion.speed_mps)
    locked = series.converter | ~series.slipping
    steady = ~series.settling & locked & (series.time_s > 0) & (series.time_s < end_s)
    tire = fit_tire(
        replace(motion, spinning=series.spinning),
        surface_in_roll_out(series),
        rough.force_n / (facts.mass.value * G_MPS2),
        steady=steady,
        end_s=end_s,
        axle=given_driveline.axle,
        given=given,
    )
    # What the tires were found to be off by, the gear's metres are off by too.
    true = replace(
        series, turns_rad_per_m=series.turns_rad_per_m / tire.scale, surface_mps=series.surface_mps * tire.scale
    )
    return PowerBasis(true, facts, tire, engine)


def _agreement(run: _Worked, motion: Motion, traces: Traces, air: AirState) -> GearAgreement | None:
    """How well the gears agree about the engine's power; None where a converter's slip in each is open."""
    case, series, pulling = run.case, run.case.series, run.pulling
    if series.slip_open:
        return None

    def smoothed(brake_w: FloatArray) -> FloatArray:
        return smooth_pulls(brake_w, pulling, step_s=series.step_s)

    facts = case.facts
    heavier, larger = (
        replace(facts, **{name: replace(fact, value=(1.0 + TRIED) * fact.value)})
        for name, fact in (("mass", facts.mass), ("drag_area", facts.drag_area))
    )
    windier = replace(facts, wind=replace(facts.wind, value=facts.wind.value + 1.0))
    every = brake_with_facts(case, [facts, heavier, larger, windier, *(facts.moved(name) for name in TILTING_FACTS)])
    power, by_mass, by_drag, by_wind, *tilted = (smoothed(brake_w) for brake_w in every)
    slid = smoothed(balance_of(replace(case, tire=case.tire.slid(series.speed_mps))).brake_w)
    looser = smoothed(balance_of(replace(case, stall_ratio=case.stall_ratio + STALL_TORQUE_RATIO_HALF_WIDTH)).brake_w)
    *growing, drifting = power_astray(
        power,
        series.speed_mps,
        lost_share=1.0 - facts.efficiency.value,
        rolling_n=facts.rolling.value * facts.mass.value * G_MPS2,
    )
    charge = charge_pressure(series, traces, air_pressure_pa=air.pressure_pa)
    if charge is not None:  # as smooth as power: its noise would hide how power goes with it
        charge = smooth_pulls(charge, pulling, step_s=series.step_s)
    return compare_gears(
        Pulls(
            power,
            series.engine_rad_per_s * 30.0 / math.pi,
            series.gear,
            charge,
            series.acceleration_mps2,
            motion.speed_plus_minus_mps / 2.0,
            series.step_s,
        ),
        MovedPower(
            by_mass_w=(by_mass - power) / TRIED,
            by_drag_w=(by_drag - power) / TRIED,
            by_wind_w=by_wind - power,
            by_others_w=(*(moved - power for moved in (*tilted, slid, looser)), drifting),
            by_losses_w=tuple(growing),
        ),
        GivenTo(
            math.hypot(*(fact.half_width / fact.value for fact in (facts.drag_area, facts.density))),
            facts.wind.half_width,
            facts.mass.half_width / facts.mass.value,
        ),
    )


def _moved_by_disagreement(case: PowerBasis, averages: Averages, agreement: GearAgreement) -> Averages:
    """Averages with the mass or the wind as far out as would make the gears pull alike, whichever moves power more."""
    facts = case.facts
    heavier = replace(facts.mass, value=facts.mass.value * (1.0 + agreement.mass_open))
    windier = replace(facts.wind, value=facts.wind.value + agreement.wind_open_mps)
    cases = [
        average_power(replace(case, facts=replace(facts, **part))) for part in ({"mass": heavier}, {"wind": windier})
    ]
    return max(cases, key=lambda moved: abs(moved.brake - averages.brake))


def _balance_error(run: _Worked, work: float) -> float | Unknown:
    """Work by force and distance against change of energy plus losses."""
    if not work > 0:
        return Unknown(NO_WORK)
    along = integrate(run.case.series.time_s, run.parts.ground_w, start_s=0.0, stop_s=run.case.end_s)
    return (along - work) / work


def _pulling(case: PowerBasis) -> BoolArray:
    series = case.series
    inside = (series.time_s >= 0) & (series.time_s <= case.end_s)
    lead = np.abs(np.nan_to_num(series.surface_mps / np.maximum(series.speed_mps, 1.0), nan=1.0) - 1.0)
    odd = series.spinning | series.shifting | (lead > MOST_LEAD)
    quiet = inside & ~series.settling & ~_near(odd, series.step_s) & (series.speed_mps > 5.0)
    return quiet & (series.converter | ~series.slipping | slips_for_long(series))


def _spun_power(run: _Worked) -> FloatArray:
    """Flywheel power, smoothed, where the tires spun as a sensor at them shows; NaN elsewhere. [W]."""
    series = run.case.series
    inside = (series.time_s >= 0) & (series.time_s <= run.case.end_s) & (series.speed_mps > 5.0) & ~series.settling
    shown = inside & ~_near(series.shifting, series.step_s) & np.isfinite(series.surface_mps)
    return np.where(series.spinning, smooth_pulls(run.parts.brake_w, shown, step_s=series.step_s), np.nan)


def _near(odd: BoolArray, step_s: float) -> BoolArray:
    return np.convolve(odd.astype(np.float64), np.ones(2 * round(NEAR_ODD_S / step_s) + 1), mode="same") > 0.5


def _unlike_engine(series: DrivelineSeries) -> BoolArray:
    """Where the car gains speed as no engine locked to its tires does: then the motion is not to be believed."""
    locked = np.isfinite(series.turns_rad_per_m) & ~series.slipping & (not series.converter)
    with np.errstate(invalid="ignore", divide="ignore"):
        through_gear = series.engine_rad_per_s2 / series.turns_rad_per_m
    off = np.abs(series.acceleration_mps2 - through_gear)
    unlike = off > UNLIKE_ENGINE_MPS2 + UNLIKE_ENGINE_SHARE * np.abs(through_gear)
    return np.asarray(locked & np.isfinite(series.engine_rad_per_s) & unlike)


def _jitter(case: PowerBasis, motion: Motion) -> FloatArray:
    """What acceleration's own half-width makes of flywheel power, 95 %. [W]."""
    force = motion.acceleration_plus_minus_mps2 * case.facts.rolling_mass
    return np.asarray(force * motion.speed_mps / case.facts.efficiency.value, dtype=np.float64)


def _mean_rpm(case: PowerBasis, *, pulling: bool) -> float | None:
    series = case.series
    use = (series.time_s >= 0) & (series.time_s <= case.end_s) & np.isfinite(series.engine_rad_per_s)
    use &= ~series.shifting if pulling else True
    return float(np.mean(series.engine_rad_per_s[use])) * 30.0 / math.pi if use.any() else None


def _piston_speed(case: PowerBasis, car: Car) -> float | Unknown:
    rpm = _mean_rpm(case, pulling=False)
    if not rpm:
        return Unknown(NO_ENGINE_AT_PISTONS)
    return mean_piston_speed(car.stroke, rpm) if car.stroke else Unknown(NO_STROKE)


def _bmep(case: PowerBasis, car: Car, pulling_w: float) -> float | Unknown:
    rpm = _mean_rpm(case, pulling=True)
    if not rpm:
        return Unknown(NO_ENGINE_AT_PISTONS)
    if not (car.bore and car.stroke and car.cylinders):
        return Unknown(NO_DISPLACEMENT)
    displacement = math.pi / 4.0 * car.bore**2 * car.stroke * car.cylinders
    return brake_mean_effective_pressure(pulling_w, displacement, rpm)


def _implied(driven: Driven, facts: Facts, end_s: float) -> Estimate | Unknown:
    motion, trap_speed = driven.motion, driven.trap_speed
    if trap_speed is None:
        return Unknown(NO_TRAP)
    from_rest = float(np.interp(end_s, motion.time_s, motion.distance_m)) - float(np.min(motion.distance_m))
    return power_from_trap_speed(trap_speed.value, mass_kg=facts.mass.value, distance_m=from_rest)


def _findings(run: _Worked, power: Power, car: Car, corrected: Corrected, traces: Traces) -> list[Finding]:
    case, averages = run.case, run.averages
    by_source = {share.source: share.plus_minus_w for share in shares_of(averages, run.effects)}
    found = tell_not_given(case.facts, by_source, average_w=averages.brake)
    if isinstance(corrected.average_w, Unknown):
        found.append(corrected.average_w.reason)
    if not isinstance(power.balance_error, Unknown) and abs(power.balance_error) > BALANCE_LIMIT:
        found.append(
            Finding(
                "work-balance-open",
                "caution",
                f"Work by force and distance and the car's gain of energy differ by {100 * power.balance_error:.1f} %: "
                "speed and acceleration do not belong together, and power is less sure than its plus-minus says.",
            )
        )
    if case.engine is None:
        found.append(
            Finding(
                "power-without-engine-speed",
                "caution",
                "No engine speed is logged: power at the flywheel leaves out the clutch's slip and the engine's spin.",
            )
        )
    if driven_tire_speed(traces, car).speed is not None:
        found += _tell_clutch_slip(case)
    else:
        found += _tell_slip_on_top(case)
    found += _tell_tires(run)
    moving_w = case.facts.mass.value * _half_gain(case)
    found += check_trap_speed(known(power.from_trap_speed_w), moving_w / case.end_s)
    if isinstance(power.average_w, Unknown):
        found.append(power.average_w.reason)
    else:
        found += check_fuel(traces, car, averages.brake, end_s=case.end_s)
    return found


def _tell_tires(run: _Worked) -> list[Finding]:
    """Why the tires lead the ground, where that is not as given and usual."""
    series = run.case.series
    inside = (series.time_s >= 0) & (series.time_s <= run.case.end_s) & (series.speed_mps > 5.0)
    grips = inside & ~series.spinning & ~series.shifting & ~series.settling
    return tell_lead(run.case.tire.lead, run.parts.force_n[grips] / (run.case.facts.mass.value * G_MPS2))


def _tell_clutch_slip(case: PowerBasis) -> list[Finding]:
    """A clutch that slips in the run wears and heats: a finding says when, where and how far."""
    found = []
    for slip in find_clutch_slip(case.series):
        text = (
            f"After it had locked, the clutch slipped again in gear {slip.gear} for "
            f"{slip.stop_s - slip.start_s:.1f} s, the engine up to {100 * slip.share:.0f} % above its gear; "
            "the heat counts as the engine's work."
        )
        found.append(Finding("clutch-slips", "caution", text, f"{slip.start_s:.2f} s from clock start"))
    return found


def _tell_slip_on_top(case: PowerBasis) -> list[Finding]:
    """The same where only ground and engine tell."""
    found = []
    for slip in find_slip_on_top(case.series):
        text = (
            f"In gear {slip.gear} the engine ran up to {100 * slip.share:.0f} % further ahead of the ground than in "
            f"the lower gears, which pulled harder, for {slip.stop_s - slip.start_s:.1f} s: the clutch slips, or the "
            "track lost its grip. Log a driven wheel or the driveshaft."
        )
        found.append(Finding("clutch-slips", "caution", text, f"{slip.start_s:.2f} s from clock start"))
    return found


def _tell_of_gears(run: _Worked, traces: Traces, air: AirState, agreement: GearAgreement | None) -> list[Finding]:
    """What one gear says of the next: not that two agree beside gears that together do not, nor one doubt twice."""
    pairs = check_between_gears(run.case.series, run.parts, run.pulling, traces, air_pressure_pa=air.pressure_pa)
    if agreement is None or not agreement.disagrees:
        return pairs
    moved_w = (one.averages.brake for one in run.effects if one.source == GEARS_UNLIKE)
    tires_slip = any(finding.code == "tires-slip-throughout" for finding in _tell_tires(run))
    effect_w = abs(next(moved_w, run.averages.brake) - run.averages.brake)
    disagree = tell_disagreement(agreement, effect_w=effect_w, tires_slip=tires_slip)
    return [*(replace(finding, level="note") for finding in pairs if finding.level != "note"), disagree]


def _half_gain(case: PowerBasis) -> float:
    """Half the gain of squared speed over the window. [m2/s2]."""
    start_v, end_v = np.interp([0.0, case.end_s], case.series.time_s, case.series.speed_mps)
    return 0.5 * float(end_v**2 - start_v**2)
