"""Shift points and final drive tried one after the other; the best, and what is left of its promise.

Public: `Tried`, `Found`, `search_shift_points`, `search_final_drive`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal

from passband.analysis.given.car import Car
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.whatif.changes import Changes, ShiftPoint, apply_changes
from passband.analysis.whatif.drive import Driven, drive
from passband.analysis.whatif.foretell import foretell_with, gearing_given
from passband.analysis.whatif.model import RunModel

STEP_RPM, FURTHEST_RPM = 50.0, 300.0
"""Shift points tried lie so far apart, and so far from the run's own at the most. [rpm]"""
SHRINKS_BY = 2.0
"""A search picks what its own error favours: of a promise g with half-width w, g^2 / (g^2 + (2 w)^2) of it is told.
Chosen so that a promise three half-widths high keeps two thirds and one half-width keeps a fifth. [-]"""
Aim = Literal["elapsed", "under band"]
"""What is to be least: elapsed time, or time under the band."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One thing tried."""

    value: float
    """Change of the shift point [rpm], or the final drive. [-]"""
    elapsed_s: float
    """Changed less as run. [s]"""
    under_band_s: float | None
    """Changed less as run; None without a band. [s]"""


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found."""

    what: str
    """``shift out of gear 2`` or ``final drive``."""
    best: float | None
    """The value; None where nothing beats the run as it was by more than is left of its promise."""
    promised_s: Estimate | None
    """Change that the model gives it. [s]"""
    left_s: float | None
    """What is left of the promise once a search's own luck is taken off. [s]"""
    tried: tuple[Tried, ...]
    """All that was tried, in order."""
    findings: tuple[Finding, ...]
    """Why something was not tried."""


def search_shift_points(
    model: RunModel, review: Review, car: Car, *, aim: Aim = "elapsed", furthest_rpm: float = FURTHEST_RPM
) -> tuple[Found, ...]:
    """Try each shift earlier and later, one gear at a time.

    Parameters
    ----------
    model : RunModel
        Of the run.
    review : Review
        Of the run.
    car : Car
        As it ran.
    aim : {"elapsed", "under band"}
        What is to be least.
    furthest_rpm : float
        How far from the run's own, up to 300. [rpm]

    Returns
    -------
    tuple of Found
        One for each shift, in order.
    """
    steps = int(min(furthest_rpm, FURTHEST_RPM) // STEP_RPM)
    values = [STEP_RPM * number for number in range(-steps, steps + 1) if number]
    found = []
    for shift in model.shifts:
        change = partial(_left_at, shift.from_gear)
        found.append(_search(model, review, car, f"shift out of gear {shift.from_gear}", values, aim, change))
    return tuple(found)


def _left_at(gear: int, by_rpm: float) -> Changes:
    return Changes(shift_points=(ShiftPoint(gear, by_rpm, by=True),))


def search_final_drive(
    model: RunModel, review: Review, car: Car, ratios: Sequence[float], *, aim: Aim = "elapsed"
) -> Found:
    """Try final drives.

    Parameters
    ----------
    model : RunModel
        Of the run.
    review : Review
        Of the run.
    car : Car
        As it ran.
    ratios : sequence of float
        To be tried. [-]
    aim : {"elapsed", "under band"}
        What is to be least.

    Returns
    -------
    Found
        Those that the run cannot answer are left out, with a finding.
    """
    return _search(model, review, car, "final drive", ratios, aim, lambda value: Changes(final_drive=value))


def _search(
    model: RunModel,
    review: Review,
    car: Car,
    what: str,
    values: Sequence[float],
    aim: Aim,
    change: Callable[[float], Changes],
) -> Found:
    as_run = drive(model)
    if as_run is None:
        return Found(what, None, None, None, (), ())
    given = gearing_given(car)
    tried, refused = [], []
    for value in values:
        changed = apply_changes(model, change(value), given)
        driven = None if isinstance(changed, Finding) else drive(changed)
        if isinstance(changed, Finding):
            refused.append(changed)
        elif driven is not None:
            tried.append(_tried(value, as_run, driven))
    best = min(tried, key=lambda one: _score(one, aim), default=None)
    if best is None or _score(best, aim) >= 0.0:
        return Found(what, None, None, None, tuple(tried), tuple(dict.fromkeys(refused)))
    promise = foretell_with(model, review, car, change(best.value)).elapsed_time_s
    return replace(_told(what, best, promise, aim), tried=tuple(tried), findings=tuple(dict.fromkeys(refused)))


def _tried(value: float, as_run: Driven, driven: Driven) -> Tried:
    under = None
    if driven.under_band_s is not None and as_run.under_band_s is not None:
        under = driven.under_band_s - as_run.under_band_s
    return Tried(value, driven.elapsed_s - as_run.elapsed_s, under)


def _score(one: Tried, aim: Aim) -> float:
    if aim == "elapsed":
        return one.elapsed_s
    return one.under_band_s if one.under_band_s is not None else 0.0


def _told(what: str, best: Tried, promise: Estimate | None, aim: Aim) -> Found:
    if promise is None:
        return Found(what, None, None, None, (), ())
    gain, doubt = promise.value, SHRINKS_BY * promise.plus_minus
    left = gain * gain**2 / (gain**2 + doubt**2)
    worth_it = aim != "elapsed" or abs(left) > 0.001
    return Found(what, best.value if worth_it else None, promise, left, (), ())
