"""One change, or several, made to a model of a run; what the run cannot answer is refused in words.

Public: `Changes`, `ShiftPoint`, `PowerGain`, `PowerCurve`, `GearingGiven`, `apply_changes`, `with_engine`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.air import AirState
from passband.analysis.results.findings import Finding
from passband.analysis.runs.same_air import BOOSTED_TEMPERATURE_EXPONENT, PRESSURE_EXPONENT, TEMPERATURE_EXPONENT
from passband.analysis.whatif.model import RunModel, ShiftModel

MOST_SHIFT_RPM, MOST_SHIFT_SHARE = 300.0, 0.04
"""A shift point is not moved further than this from the run's own, or than this share of it where that is more, as on a
motorcycle: beyond it no torque was seen. [rpm], [-]"""
MOST_FINAL_SHARE = 0.08
"""Nor gearing throughout by more than this: launch and tires become others. [-]"""
MOST_RATIO_SHARE = 0.15
"""Nor one gear's ratio behind the first: it and the gears beside it would pull where nothing was seen. Chosen. [-]"""
MOST_MASS_SHARE = 0.10
"""Nor mass: weight on the driven tires becomes another. [-]"""
MOST_GAIN = 0.15
"""Nor power: traction and clutch were not asked for it. [-]"""


@dataclass(frozen=True, slots=True)
class ShiftPoint:
    """Where a gear is left."""

    gear: int | None
    """Gear left; None for all."""
    rpm: float
    """Engine speed, or the change of it. [rpm]"""
    by: bool
    """True where `rpm` is a change."""


@dataclass(frozen=True, slots=True)
class PowerGain:
    """Power raised, or lowered, over a range of engine speed."""

    from_rpm: float
    """[rpm]"""
    share: float
    """By which it is raised. [-]"""
    to_rpm: float = math.inf
    """Without end unless given. [rpm]"""


@dataclass(frozen=True, slots=True)
class PowerCurve:
    """An engine's power against engine speed, to be run in place of the run's own."""

    rpm: FloatArray
    """Rising. [rpm]"""
    power_w: FloatArray
    """[W]"""


@dataclass(frozen=True, slots=True)
class Changes:
    """What is to be other than in the run; None for what stays."""

    shift_points: tuple[ShiftPoint, ...] = ()
    """Where gears are left."""
    mass_by_kg: float | None = None
    """Added to the mass. [kg]"""
    final_drive: float | None = None
    """New. [-]"""
    gear_ratios: tuple[float, ...] | None = None
    """New, first to last. [-]"""
    circumference_m: float | None = None
    """Of the driven tires, new. [m]"""
    air: AirState | None = None
    """New; its wind where it says one."""
    boost_by_pa: float | None = None
    """Added to the manifold pressure where it stood above the air's. [Pa]"""
    power_gains: tuple[PowerGain, ...] = ()
    """Ranges in which power is raised; where two meet both count."""
    curve: PowerCurve | None = None
    """In place of the run's own where it reaches; beyond its ends by its ends' ratio."""


@dataclass(frozen=True, slots=True)
class GearingGiven:
    """What the car's owner says of its gearing; changes are held against it."""

    gear_ratios: tuple[float, ...] | None
    """First to last. [-]"""
    final_drive: float | None
    """[-]"""
    circumference_m: float | None
    """[m]"""


def apply_changes(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    """Change a model.

    Parameters
    ----------
    model : RunModel
        As the run was.
    changes : Changes
        What is to be other.
    given : GearingGiven
        The car's gearing as its owner gives it.

    Returns
    -------
    RunModel or Finding
        The finding says why the run cannot answer.
    """
    steps: tuple[Callable[[RunModel, Changes, GearingGiven], RunModel | Finding], ...] = (
        _shift_points, _mass, _gearing, _air, _boost, _power,
    )  # fmt: skip
    for step in steps:
        changed = step(model, changes, given)
        if isinstance(changed, Finding):
            return changed
        model = changed
    return model


def _refused(why: str) -> Finding:
    return Finding("whatif-refused", "caution", why, "What if")


def _spun(model: RunModel, what: str) -> Finding | None:
    if not model.launch.spinning:
        return None
    return _refused(
        f"The tires spun at this run's launch, so {what} cannot be foretold from it: how they would grip then, the run "
        "does not show. Ask a run that hooked."
    )


def _untold(model: RunModel, what: str) -> Finding | None:
    if not model.launch.untold:
        return None
    return _refused(
        f"The engine stood above the road's speed for {float(model.launch.time_s[-1]):.1f} s at this run's launch, and "
        f"no sensor tells a clutch that slipped from tires that spun, so {what} cannot be foretold from it. Log the "
        "driveshaft or a driven wheel, or ask for what acts after the launch."
    )


def _shift_points(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    shifts = list(model.shifts)
    for point in changes.shift_points:
        at = [place for place, one in enumerate(shifts) if point.gear in (None, one.from_gear)]
        if not at:
            made = ", ".join(str(one.from_gear) for one in shifts)
            return _refused(f"Gear {point.gear} was not left by a shift in this run; gears left: {made or 'none'}.")
        for place in at:
            moved = _moved_shift(model, shifts[place], model.shifts[place], point)
            if isinstance(moved, Finding):
                return moved
            shifts[place] = moved
    return replace(model, shifts=tuple(shifts))


def _moved_shift(model: RunModel, now: ShiftModel, was: ShiftModel, point: ShiftPoint) -> ShiftModel | Finding:
    base_rpm = was.rpm_before or was.at_rpm
    by = point.rpm if point.by else point.rpm - base_rpm
    most_rpm = max(MOST_SHIFT_RPM, MOST_SHIFT_SHARE * base_rpm)
    if abs(by) > most_rpm:
        return _refused(
            f"A shift out of gear {was.from_gear} at {base_rpm + by:.0f} rpm is {abs(by):.0f} rpm from this run's "
            f"{base_rpm:.0f} rpm: further than {most_rpm:.0f} rpm nothing of the engine's torque was seen."
        )
    for gear in (was.from_gear, was.to_gear):
        if gear not in model.used_gears and not _cut_by_finish(model, gear):
            return _refused(f"Gear {gear} never pulled long enough in this run to show the engine's torque in it.")
    return replace(now, at_rpm=model.through_gear_rpm(float(model.engine_rpm(now.at_rpm)) + by))


def _cut_by_finish(model: RunModel, gear: int) -> bool:
    """Whether a gear was entered last, and only the finish ended it: its torque is then the other gears'."""
    return bool(model.shifts) and gear == model.shifts[-1].to_gear


def _mass(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    by = changes.mass_by_kg
    if not by:
        return model
    mass = model.facts.mass.value
    if abs(by) > MOST_MASS_SHARE * mass:
        return _refused(
            f"{by:+.0f} kg is more than {MOST_MASS_SHARE:.0%} of the car's {mass:.0f} kg: that is another car."
        )
    return _spun(model, "another mass") or model.with_fact("mass", mass + by)


def _gearing(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    factors = _gearing_factors(model, changes, given)
    if isinstance(factors, Finding):
        return factors
    if np.all(factors == 1.0):
        return model
    if abs(factors[0] - 1.0) > 1e-9:
        what = "another gearing at the launch"
        spun = _spun(model, what) or _untold(model, what)
        if spun is not None:
            return spun
    shifts = tuple(_regeared(one, factors) for one in model.shifts)
    changed = replace(model, turns_rad_per_m=model.turns_rad_per_m * factors, shifts=shifts)
    if changes.circumference_m is not None and given.circumference_m is not None:
        radius = model.facts.radius.value * changes.circumference_m / given.circumference_m
        changed = changed.with_fact("radius", radius)
    return changed


def _gearing_factors(model: RunModel, changes: Changes, given: GearingGiven) -> FloatArray | Finding:
    """Engine turns per metre, new over old, in each gear."""
    factors = np.ones(model.turns_rad_per_m.size)
    for name, new, old, up in (
        ("final drive", changes.final_drive, given.final_drive, 1.0),
        ("tires' circumference", changes.circumference_m, given.circumference_m, -1.0),
    ):
        if new is None:
            continue
        if old is None:
            return _refused(f"Another {name} needs the car's own {name}: give it.")
        if abs(new / old - 1.0) > MOST_FINAL_SHARE:
            return _refused(
                f"A {name} of {new:g} is {abs(new / old - 1.0):.1%} from this run's {old:g}: beyond "
                f"{MOST_FINAL_SHARE:.0%} launch and tires are others, and this run does not show them."
            )
        factors *= (new / old) ** up
    if abs(factors[0] - 1.0) > MOST_FINAL_SHARE:
        return _refused(
            f"Final drive and tires together change the gearing by {abs(factors[0] - 1.0):.1%}: beyond "
            f"{MOST_FINAL_SHARE:.0%} launch and tires are others, and this run does not show them."
        )
    shares = _ratio_shares(model, changes.gear_ratios, given)
    return shares if isinstance(shares, Finding) else factors * shares


def _ratio_shares(model: RunModel, ratios: tuple[float, ...] | None, given: GearingGiven) -> FloatArray | Finding:
    """New ratios over old, gear by gear of those that the run used."""
    used = model.turns_rad_per_m.size
    if ratios is None:
        return np.ones(used)
    if given.gear_ratios is None or len(ratios) != len(given.gear_ratios):
        has = "none are given" if given.gear_ratios is None else f"it has {len(given.gear_ratios)}"
        return _refused(f"{len(ratios)} ratios are named, and of the car's own {has}: name one for each gear.")
    for gear, (new, old) in enumerate(zip(ratios, given.gear_ratios, strict=True), start=1):
        share = abs(new / old - 1.0)
        if share > 1e-9 and gear not in model.used_gears:
            return _refused(f"Gear {gear} never pulled long enough in this run to show what another ratio in it does.")
        most = MOST_FINAL_SHARE if gear == 1 else MOST_RATIO_SHARE
        if share > most:
            why = "launch and tires are others" if gear == 1 else "it and its neighbours pull where nothing was seen"
            return _refused(
                f"A ratio of {new:g} in gear {gear} is {share:.1%} from the car's {old:g}: beyond {most:.0%} {why}."
            )
    return np.asarray(np.array(ratios[:used]) / np.array(given.gear_ratios[:used]), dtype=np.float64)


def _regeared(shift: ShiftModel, factors: FloatArray) -> ShiftModel:
    """The shift's forces go over from the gear left to the next."""
    left, taken = factors[shift.from_gear - 1], factors[shift.to_gear - 1]
    share = np.interp(np.arange(shift.force_n.size), (0.0, shift.carried - 1.0), (0.0, 1.0))
    driven = np.maximum(shift.force_n, 0.0) * (left + share * (taken - left))
    return replace(shift, force_n=np.where(shift.force_n > 0.0, driven, shift.force_n))


def _air(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    air = changes.air
    if air is None:
        return model
    spun = _spun(model, "another air")
    if spun is not None:
        return spun
    changed = model.with_fact("density", air.density_kgpm3.value)
    if air.wind_mps is not None:
        changed = changed.with_fact("wind", air.wind_mps)
    dry = (air.pressure_pa - air.vapour_pressure_pa) / (model.ambient_pa - model.vapour_pa)
    warmth = air.temperature_k / model.ambient_k
    if model.charge_pa is None:
        factor = dry**PRESSURE_EXPONENT * warmth**TEMPERATURE_EXPONENT
        return with_engine(changed, np.full(model.torque.rpm.size, factor))
    # Between boost held and pressure ratio held: the middle, and half of their difference is in the plus-minus.
    held, ratio = air.pressure_pa - model.ambient_pa, air.pressure_pa / model.ambient_pa
    charges = tuple((at, 0.5 * (pa + held) + 0.5 * pa * ratio) for at, pa in model.charge_pa)
    warmed = with_engine(changed, np.full(model.torque.rpm.size, warmth**BOOSTED_TEMPERATURE_EXPONENT))
    return replace(warmed, charge_pa=charges)


def _boost(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    by = changes.boost_by_pa
    if not by:
        return model
    if model.charge_pa is None:
        return _refused("This run shows no boost to be changed: log manifold pressure or boost.")
    most = max(float(pa.max()) for _, pa in model.charge_pa) - model.ambient_pa
    if abs(by) > MOST_GAIN * (most + model.ambient_pa):
        return _refused(
            f"{by / 1000:+.0f} kPa of boost is more than {MOST_GAIN:.0%} of the charge: that is another tune."
        )
    spun = _spun(model, "another boost")
    if spun is not None:
        return spun
    charges = tuple((at, pa + by * np.clip((pa - model.ambient_pa) / most, 0.0, 1.0)) for at, pa in model.charge_pa)
    return replace(model, charge_pa=charges)


def _power(model: RunModel, changes: Changes, given: GearingGiven) -> RunModel | Finding:
    factor = np.ones(model.torque.rpm.size)
    for gain in changes.power_gains:
        within = (model.node_rpm > gain.from_rpm) & (model.node_rpm <= gain.to_rpm)
        factor = factor * np.where(within, 1.0 + gain.share, 1.0)
    if changes.curve is not None and model.link is not None:
        return _refused(
            "Behind a converter the run shows what its turbine makes, not the engine: another engine's curve cannot be "
            "put in its place. Ask for power raised above an engine speed."
        )
    if changes.curve is not None:
        factor = factor * _curve_factor(model, changes.curve)
    if np.all(factor == 1.0):
        return model
    seen = (model.torque.rpm >= model.torque.least_rpm) & (model.torque.rpm <= model.torque.most_rpm)
    most = float(np.max(np.abs(factor[seen] - 1.0), initial=0.0))
    if most > MOST_GAIN:
        return _refused(
            f"Power is changed by up to {most:.1%}: beyond {MOST_GAIN:.0%} clutch and tires were not asked for "
            "it in this run, and a launch would be another."
        )
    launch = model.launch
    slips_at = np.interp(launch.engine_rpm, model.node_rpm, factor)
    if float(np.max(np.abs(slips_at - 1.0), initial=0.0)) > 0.005:
        what = "more power in the launch's range"
        spun = _spun(model, what) or _untold(model, what)
        if spun is not None:
            return spun
    return with_engine(model, factor)


def _curve_factor(model: RunModel, curve: PowerCurve) -> FloatArray:
    """A curve's torque over the run's own at each node, its ends' ratio beyond its ends."""
    own = model.torque.torque * (1.0 if model.usual_charge_pa is None else model.usual_charge_pa)
    inside = np.clip(model.torque.rpm, curve.rpm[0], curve.rpm[-1])
    wanted = np.interp(inside, curve.rpm, curve.power_w) / (inside * math.pi / 30.0)
    return np.asarray(wanted / np.interp(inside, model.torque.rpm, own))


def with_engine(model: RunModel, factor: FloatArray) -> RunModel:
    """Torque times a factor; the launch's clutch torque with the engine's at each moment's engine speed.

    Parameters
    ----------
    model : RunModel
        As it was.
    factor : array, shape (n,)
        At each node of its torque. [-]

    Returns
    -------
    RunModel
        A driver, or a clutch by its weights, gives the engine as much load as holds its speed: at one engine speed the
        clutch carries so much more as the engine makes.
    """
    launch = model.launch
    carried = launch.torque_nm * np.interp(launch.engine_rpm, model.node_rpm, factor)
    return replace(model, torque=model.torque.scaled(factor), launch=replace(launch, torque_nm=carried))
