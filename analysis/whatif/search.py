"""Shift points, ratios and final drives tried one after the other; the best, and what is left of its promise.

Public: `Tried`, `Found`, `search_shift_points`, `search_final_drive`, `search_gear`, `search_ratio_sets`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Literal, TypeVar

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.whatif.changes import Changes, ShiftPoint, apply_changes
from passband.analysis.whatif.drive import Driven, drive
from passband.analysis.whatif.foretell import foretell_with, gearing_given
from passband.analysis.whatif.further_shift import drive_changed
from passband.analysis.whatif.model import ModelledRun

STEP_RPM, FURTHEST_RPM = 50.0, 300.0
"""Shift points tried lie so far apart, and so far from the run's own at the most. [rpm]"""
SHRINKS_BY = 2.0
"""A search picks what its own error favours: of a promise g with half-width w, g^2 / (g^2 + (2 w)^2) of it is promised.
Chosen so that a promise three half-widths high keeps two thirds and one half-width keeps a fifth. [-]"""
Value = TypeVar("Value", float, tuple[float, ...])
Aim = Literal["elapsed", "under band"]
"""What is to be least: elapsed time, or time under the band."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One thing tried."""

    value: float | tuple[float, ...]
    """Change of the shift point [rpm], or the final drive, a gear's ratio, a set of ratios. [-]"""
    elapsed_s: float
    """Changed less as run. [s]"""
    under_band_s: float | None
    """Changed less as run; None without a band. [s]"""


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found."""

    what: str
    """``shift out of gear 2``, ``final drive``, ``gear 2`` or ``gear ratios``."""
    best: float | tuple[float, ...] | None
    """The value; None where nothing beats the run as it was by more than is left of its promise."""
    promised_s: Estimate | None
    """Change that the model gives it. [s]"""
    left_s: float | None
    """What is left of the promise once a search's own luck is taken off. [s]"""
    under_band_s: float | None
    """Change of the time under the band with it, by the model alone; None without a band. [s]"""
    tried: tuple[Tried, ...]
    """All that was tried, in order."""
    findings: tuple[Finding, ...]
    """Why something was not tried, and a limit of the user's own that the best would break."""


def search_shift_points(
    run: ModelledRun, *, aim: Aim = "elapsed", furthest_rpm: float = FURTHEST_RPM
) -> tuple[Found, ...]:
    """Try each shift earlier and later, one gear at a time.

    Parameters
    ----------
    run : ModelledRun
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
    for shift in run.model.shifts:
        change = partial(_left_at, shift.from_gear)
        found.append(_search(run, f"shift out of gear {shift.from_gear}", values, aim, change))
    return tuple(found)


def _left_at(gear: int, by_rpm: float) -> Changes:
    return Changes(shift_points=(ShiftPoint(gear, by_rpm, by=True),))


def search_final_drive(run: ModelledRun, ratios: Sequence[float], *, aim: Aim = "elapsed") -> Found:
    """Try final drives.

    Parameters
    ----------
    run : ModelledRun
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
    return _search(run, "final drive", ratios, aim, lambda value: Changes(final_drive=value))


def search_gear(run: ModelledRun, gear: int, ratios: Sequence[float], *, aim: Aim = "elapsed") -> Found:
    """Try ratios of one gear: other steps to it and from it.

    Parameters
    ----------
    run : ModelledRun
        As it ran; its car's own ratios are needed.
    gear : int
        From 1.
    ratios : sequence of float
        To be tried. [-]
    aim : {"elapsed", "under band"}
        What is to be least.

    Returns
    -------
    Found
        Those that the run cannot answer are left out, with a finding.

    Raises
    ------
    ValueError
        If the car's ratios are not given, or it has no such gear.
    """
    own = tuple(run.car.gear_ratios or ())
    if not 0 < gear <= len(own):
        raise ValueError(f"gear {gear}: the car's own ratios name {len(own)} gears")

    def changed(value: float) -> Changes:
        return Changes(gear_ratios=(*own[: gear - 1], value, *own[gear:]))

    return _search(run, f"gear {gear}", ratios, aim, changed)


def search_ratio_sets(run: ModelledRun, sets: Sequence[tuple[float, ...]], *, aim: Aim = "elapsed") -> Found:
    """Try whole sets of gear ratios.

    Parameters
    ----------
    run : ModelledRun
        As it ran; its car's own ratios are needed.
    sets : sequence of tuple of float
        Each first gear first. [-]
    aim : {"elapsed", "under band"}
        What is to be least.

    Returns
    -------
    Found
        Those that the run cannot answer are left out, with a finding.
    """
    return _search(run, "gear ratios", sets, aim, lambda one: Changes(gear_ratios=one))


def _search(
    run: ModelledRun,
    what: str,
    values: Sequence[Value],
    aim: Aim,
    change: Callable[[Value], Changes],
) -> Found:
    as_run = drive(run.model)
    if as_run is None:
        return Found(what, None, None, None, None, (), ())
    given = gearing_given(run.car)
    tried: list[Tried] = []
    refused: list[Finding] = []
    for value in values:
        changed = apply_changes(run.model, change(value), given)
        if isinstance(changed, Finding):
            refused.append(changed)
        elif (made := drive_changed(run.model, as_run, changed, change(value), given)) is not None:
            tried.append(_tried(value, as_run, made.driven))
    best = min(tried, key=lambda one: _score(one, aim), default=None)
    if best is None or _score(best, aim) >= 0.0:
        return Found(what, None, None, None, None, tuple(tried), _not_tried(refused, len(values)))
    place = next(at for at, value in enumerate(values) if value == best.value)
    foretold = foretell_with(run, change(values[place]))
    broken: list[Finding] = [one for one in foretold.findings if one.code == "whatif-breaks-limit"]
    found = _shrunk(what, best, foretold.elapsed_time_s, aim)
    return replace(found, tried=tuple(tried), findings=(*_not_tried(refused, len(values)), *broken))


def _not_tried(refused: Sequence[Finding], of: int) -> tuple[Finding, ...]:
    """All that was refused in one finding, by the reason of the first."""
    if not refused:
        return ()
    were = f"{len(refused)} of {of} " + ("was" if len(refused) == 1 else "were")
    return (replace(refused[0], text=f"{were} not tried. The first: {refused[0].text}"),)


def _tried(value: float | tuple[float, ...], as_run: Driven, driven: Driven) -> Tried:
    under = None
    if driven.under_band_s is not None and as_run.under_band_s is not None:
        under = driven.under_band_s - as_run.under_band_s
    return Tried(value, driven.elapsed_s - as_run.elapsed_s, under)


def _score(one: Tried, aim: Aim) -> float:
    if aim == "elapsed":
        return one.elapsed_s
    return one.under_band_s if one.under_band_s is not None else 0.0


def _shrunk(what: str, best: Tried, promise: Estimate | None, aim: Aim) -> Found:
    if promise is None:
        return Found(what, None, None, None, None, (), ())
    gain, half_width = promise.value, SHRINKS_BY * promise.plus_minus
    left = gain * gain**2 / (gain**2 + half_width**2)
    worth_it = aim != "elapsed" or abs(left) > 0.001
    return Found(what, best.value if worth_it else None, promise, left, best.under_band_s, (), ())
