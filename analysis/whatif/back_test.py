"""Two runs of one car with one known change between them: what the first foretold of the second, beside what it did.

Public: `KnownChange`, `BackTest`, `Tally`, `change_between`, `back_test`, `tally`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.given.car import Car
from passband.analysis.results.air import AirState
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.whatif.changes import Changes, ShiftPoint, apply_changes
from passband.analysis.whatif.drive import drive
from passband.analysis.whatif.foretell import OF_CHANGE, gearing_given
from passband.analysis.whatif.left_open import left_open
from passband.analysis.whatif.model import ModelledRun, RunModel

LEAST_SHIFT_RPM = 30.0
"""A shift point that differs by less is the same. Chosen: RPM before a shift is known to 10 to 30 as a rule. [rpm]"""
ANOTHER_RUN_S = 0.010
"""95 % of a small change foretold of another run, which does not share the minute's wind and the driver's hand. Chosen:
half as much again as of the same run. [s]"""
UNSEEN_RPM = 300.0
"""A run that pulls from so far below what the other showed asks for torque that nobody saw; as far as a shift point may
be moved. [rpm]"""
LEAST_CHARGE_PA = 1000.0
"""Manifold pressures that differ by less are called the same. Chosen. [Pa]"""
NO_FINISH = "the two runs share no finish"
NEAR_S, NEAR_SHARE = 0.020, 0.15
"""A forecast is near that comes within so much, or within such a share of what was measured. [s], [-]"""
TAKEN = " (taken as changed on the car: nobody said)"
GEARING = ("final_drive", "gear_ratios", "tire_circumference")
"""Facts that engine speed over road speed shows."""
FACTS = {"mass": "mass", "final_drive": "final drive", "gear_ratios": "gear ratios", "tire_circumference": "tires"}
"""Facts of a car that a forecast can take over."""


@dataclass(frozen=True, slots=True)
class KnownChange:
    """What is known to be other in the second run."""

    changes: Changes
    """For the model of the first."""
    words: tuple[str, ...]
    """What the user changed, as the car's versions have it: ``mass +30 kg``; empty where the car stayed as it was."""
    measured: tuple[str, ...]
    """What the logs show to be other: shift points, air."""
    corrected: tuple[str, ...] = ()
    """What was only described better: of these nothing was other."""


@dataclass(frozen=True, slots=True)
class BackTest:
    """One pair."""

    change: KnownChange
    """What was other."""
    foretold_s: Estimate | None
    """Elapsed time, second less first. [s]"""
    measured_s: Estimate | None
    """The same as it was. [s]"""
    why: str
    """Why nothing was foretold or measured; empty where both were."""

    @property
    def error_s(self) -> float | None:
        """Foretold less measured; None where one of them is missing. [s]."""
        foretold, measured = self.foretold_s, self.measured_s
        return None if foretold is None or measured is None else foretold.value - measured.value

    @property
    def held(self) -> bool | None:
        """Whether the two agree within both plus-minuses."""
        foretold, measured, error = self.foretold_s, self.measured_s, self.error_s
        if foretold is None or measured is None or error is None:
            return None
        return abs(error) <= math.hypot(foretold.plus_minus, measured.plus_minus)

    @property
    def near(self) -> bool | None:
        """Whether the forecast came within 20 ms or 15 %."""
        measured, error = self.measured_s, self.error_s
        if measured is None or error is None:
            return None
        return abs(error) <= max(NEAR_S, NEAR_SHARE * abs(measured.value))


@dataclass(frozen=True, slots=True)
class Tally:
    """Several pairs together."""

    asked: int
    """Pairs."""
    answered: int
    """Those with both figures."""
    held: int
    """Those that agree within both plus-minuses."""
    near: int
    """Those within 20 ms or 15 %."""
    median_s: float | None
    """Median size of the error. [s]"""
    worst_s: float | None
    """Greatest. [s]"""


def change_between(base: ModelledRun, other: ModelledRun, *, unsaid: Mapping[str, bool] | None = None) -> KnownChange:
    """What is known to differ between two runs.

    Parameters
    ----------
    base, other : ModelledRun
        The run that foretells, and the run foretold; their cars as they are known today.
    unsaid : mapping of str to bool, optional
        Facts of the car that its owner gave otherwise in between, and whether nobody said of one that it was changed on
        the car; those that no longer differ were corrected.

    Returns
    -------
    KnownChange
        Facts of the car by their values, shift points as both runs made them, the second run's air.

    Notes
    -----
    A fact of which nobody said whether it was changed or corrected is taken as changed, but for gearing and tires where
    the logs of both runs show engine over road speed: there what they show decides. It does not see a mass that was
    weighed anew.
    """
    was, is_now = base.car, other.car
    given = unsaid or {}
    facts = [name for name in FACTS if _differs(getattr(was, name), getattr(is_now, name))]
    stayed = _gearing_that_stayed(base, other, [name for name in facts if name in GEARING and given.get(name, True)])
    corrected = [f"{FACTS[name]}, as given" for name in given if name not in facts]
    corrected += [f"{_words(name, was, is_now)}: the logs show the same gearing in both runs" for name in stayed]
    facts = [name for name in facts if name not in stayed]
    points, shifts = _shift_points(base, other.review)
    changes = Changes(
        shift_points=points,
        mass_by_kg=_other_mass(was, is_now) if "mass" in facts else None,
        final_drive=is_now.final_drive if "final_drive" in facts else None,
        gear_ratios=tuple(is_now.gear_ratios or ()) if "gear_ratios" in facts else None,
        circumference_m=is_now.tire_circumference if "tire_circumference" in facts else None,
        air=other.review.air if _other_air(base.review.air, other.review.air) else None,
    )
    air = ("air",) if changes.air is not None else ()
    words = tuple(_words(name, was, is_now) + (TAKEN if given.get(name) else "") for name in facts)
    return KnownChange(changes, words, (*shifts, *_charge_words(base.model, other.model), *air), tuple(corrected))


def _gearing_that_stayed(base: ModelledRun, other: ModelledRun, names: Sequence[str]) -> list[str]:
    """Of gearing facts that differ on paper, all where the logs are nearer to no change than to the one given.

    Behind a converter a model has its ratios from the facts themselves, so the logs say nothing.
    """
    if not names or base.model.link is not None or other.model.link is not None:
        return []
    both = [gear for gear in base.model.used_gears if gear in other.model.used_gears]
    both = [gear for gear in both if gear <= min(one.model.turns_rad_per_m.size for one in (base, other))]
    by_car = [_given_gearing(base.car, other.car, gear, names) for gear in both]
    shown = [float(other.model.turns_rad_per_m[g - 1] / base.model.turns_rad_per_m[g - 1]) for g in both]
    if not both:
        return []
    off_changed = float(np.median([abs(math.log(one / wanted)) for one, wanted in zip(shown, by_car, strict=True)]))
    off_stayed = float(np.median([abs(math.log(one)) for one in shown]))
    return list(names) if off_stayed < off_changed else []


def _given_gearing(base: Car, other: Car, gear: int, names: Sequence[str]) -> float:
    """Engine turns per metre, other over base, that the facts named tell. [-]."""
    factor = 1.0
    if "final_drive" in names and base.final_drive and other.final_drive:
        factor *= other.final_drive / base.final_drive
    if "tire_circumference" in names and base.tire_circumference and other.tire_circumference:
        factor *= base.tire_circumference / other.tire_circumference
    ratios = base.gear_ratios, other.gear_ratios
    if "gear_ratios" in names and ratios[0] and ratios[1] and gear <= min(len(ratios[0]), len(ratios[1])):
        factor *= ratios[1][gear - 1] / ratios[0][gear - 1]
    return factor


def _differs(was: object, is_now: object) -> bool:
    return was is not None and is_now is not None and was != is_now


def _other_mass(base: Car, other: Car) -> float | None:
    return other.mass - base.mass if _differs(base.mass, other.mass) and base.mass and other.mass else None


def _other_air(base: AirState | None, other: AirState | None) -> bool:
    if base is None or other is None:
        return False
    winds = other.wind_mps is not None and base.wind_mps != other.wind_mps
    return winds or base.density_kgpm3.value != other.density_kgpm3.value


def _words(name: str, base: Car, other: Car) -> str:
    if name == "mass":
        return f"mass {_other_mass(base, other) or 0.0:+.1f} kg"
    was, is_now = getattr(base, name), getattr(other, name)
    if name == "gear_ratios":
        was, is_now = (", ".join(f"{one:g}" for one in ratios) for ratios in (was, is_now))
        return f"gear ratios {was} to {is_now}"
    return f"{FACTS[name]} {was:g} to {is_now:g}{' m' if name == 'tire_circumference' else ''}"


def _shift_points(base: ModelledRun, other: Review) -> tuple[tuple[ShiftPoint, ...], tuple[str, ...]]:
    """Where the second run left its gears, of those that both left and the first pulled in before and after."""
    left = {
        one.from_gear: before.value
        for one in base.review.shifts
        if (before := known(one.rpm_before)) is not None and {one.from_gear, one.to_gear} <= set(base.model.used_gears)
    }
    moved = [
        (one.from_gear, before.value - left[one.from_gear])
        for one in other.shifts
        if (before := known(one.rpm_before)) is not None and one.from_gear in left
    ]
    moved = [(gear, by) for gear, by in moved if abs(by) >= LEAST_SHIFT_RPM]
    points = tuple(ShiftPoint(gear, by, by=True) for gear, by in moved)
    said = ", ".join(f"{by:+.0f} out of gear {gear}" for gear, by in moved)
    return points, (f"shift RPM {said}",) if moved else ()


def back_test(base: ModelledRun, other: ModelledRun, change: KnownChange) -> BackTest:
    """Foretell one run from another and lay it beside what it did.

    Parameters
    ----------
    base, other : ModelledRun
        The run that foretells, and the run foretold.
    change : KnownChange
        Of `change_between`.

    Returns
    -------
    BackTest
        Elapsed time at the last mark.

    Notes
    -----
    The second run's launch and its manifold pressure are taken as they were logged: what a driver or a turbo does is
    not what is tested here.
    """
    model = _with_charge_of(base.model, other.model)
    model = replace(model, launch=replace(model.launch, spinning=False))  # the other run's own launch takes its place
    given = gearing_given(base.car)
    changed = apply_changes(model, change.changes, given)
    if isinstance(changed, Finding):
        return BackTest(change, None, None, changed.text)
    least = [float(one.model.engine_rpm(one.model.torque.least_rpm)) for one in (base, other)]
    if least[1] < least[0] - UNSEEN_RPM:
        return BackTest(
            change, None, None, f"it pulled from {least[1]:.0f} rpm, the other run only from {least[0]:.0f} rpm"
        )
    changed = replace(changed, launch=other.model.launch, rollout_m=other.model.rollout_m)
    as_run, driven, measured = drive(base.model), drive(changed), _measured(base.review, other.review)
    if as_run is None or driven is None or measured is None:
        return BackTest(change, None, measured, "the model does not come to the finish" if measured else NO_FINISH)
    last = max(as_run.splits_s.keys() & driven.splits_s.keys())
    by_s = driven.splits_s[last] - as_run.splits_s[last]
    left = left_open(base.model, changed, change.changes, driven)
    half_width = math.hypot(
        ANOTHER_RUN_S, OF_CHANGE * by_s, left.moved.elapsed_s, left.beyond.elapsed_s, left.flare.elapsed_s
    )
    return BackTest(change, Estimate(by_s, half_width), measured, "")


def _with_charge_of(model: RunModel, other: RunModel) -> RunModel:
    """The model with another run's manifold pressure, and the pressure that it began from."""
    if model.charge_pa is None or other.charge_pa is None or len(model.charge_pa) != len(other.charge_pa):
        return model
    return replace(model, charge_pa=other.charge_pa, ambient_pa=other.ambient_pa, vapour_pa=other.vapour_pa)


def _charge_words(base: RunModel, other: RunModel) -> tuple[str, ...]:
    """How much more manifold pressure the second run had, in the mean."""
    if base.charge_pa is None or other.charge_pa is None:
        return ()
    means = [float(np.mean(np.concatenate([pa for _, pa in one]))) for one in (base.charge_pa, other.charge_pa)]
    by = means[1] - means[0]
    return (f"manifold pressure {by / 1000.0:+.0f} kPa",) if abs(by) >= LEAST_CHARGE_PA else ()


def _measured(base: Review, other: Review) -> Estimate | None:
    """Second less first at the last mark that both reached."""
    sides = []
    for one in (base, other):
        distance = known(one.distance)
        sides.append({split.at_ft: split.time_s for split in distance.splits} if distance is not None else {})
    shared = sides[0].keys() & sides[1].keys()
    return difference(sides[1][max(shared)], sides[0][max(shared)]) if shared else None


def tally(pairs: Sequence[BackTest]) -> Tally:
    """How often the forecasts held.

    Parameters
    ----------
    pairs : sequence of BackTest
        Any.

    Returns
    -------
    Tally
        Over those that have both figures.
    """
    errors = [abs(one.error_s) for one in pairs if one.error_s is not None]
    return Tally(
        len(pairs), len(errors), sum(one.held is True for one in pairs), sum(one.near is True for one in pairs),
        float(np.median(errors)) if errors else None, max(errors, default=None),
    )  # fmt: skip
