"""Is it the same engine still? A run's power in each cell over the car's own earlier runs.

Public: `GearAgainstOwn`, `SameEngine`, `hold_against_own`, `hold_all_against_own`, `follow_engine`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Sequence
from functools import cache
from typing import Protocol, TypeVar

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.cells import CellGrid, share_cells
from passband.analysis.runs.digest import RunDigest
from passband.analysis.runs.engine_line import say_engine, say_engine_fault
from passband.analysis.runs.same_air import PRESSURE_EXPONENT, PRESSURE_PLUS_MINUS, AirRule, AirSeen, explain_air
from passband.analysis.runs.same_engine_found import GearAgainstOwn, SameEngine

__all__ = ["GearAgainstOwn", "SameEngine", "follow_engine", "hold_against_own", "hold_all_against_own"]

MOST_REFERENCES = 12
"""Runs that one is held against, the newest: older ones are of an engine that has aged. Chosen, no source."""
PRIOR_RUNS = 4.0
"""A run's own plus-minus counts as much as the spread of so many runs more: two references alone show no spread.
Chosen, no source."""
ALARM = 1.5
"""A gear is unlike where it is off by so many 95 % half-widths: by chance 3 times in 1,000, for there are many gears
and runs to look at. [-]"""
LEAST_ALARM = 0.01
"""And by so much: less needs several runs each way. [-]"""
BOOST_UNLIKE = 0.02
"""Manifold pressure that is off by more is said. Chosen: beyond what a sensor drifts within a weekend. [-]"""


class Standing(Protocol):
    """Whether an engine was as before."""

    @property
    def as_before(self) -> bool:
        """Whether nothing was found unlike."""


Held = TypeVar("Held", bound=Standing)


def follow_engine(
    sides: Sequence[Hashable], comparable: Sequence[bool], hold: Callable[[int, Sequence[int]], Held | None]
) -> tuple[Held | None, ...]:
    """Hold each of many runs against those before it that show the usual engine.

    Parameters
    ----------
    sides : sequence of hashable
        Whose engine each run is of, and on which side of a change: a run is held against its own.
    comparable : sequence of bool
        Whether a run may be held against: one without a fault, whose power is known.
    hold : callable
        Place of a run and those of its references, oldest first, to what was found; None where they share nothing.

    Returns
    -------
    tuple of Held or None
        One for each run, in order of time. A run that was unlike is no reference to those behind it.
    """
    usual: dict[Hashable, list[int]] = {}
    found: list[Held | None] = []
    for place, (side, counts) in enumerate(zip(sides, comparable, strict=True)):
        own = usual.setdefault(side, [])
        one = hold(place, own[-MOST_REFERENCES:]) if own else None
        found.append(one)
        if counts and (one is None or one.as_before):
            own.append(place)
    return tuple(found)


def hold_all_against_own(
    runs: Sequence[RunDigest], groups: Sequence[str] | None = None
) -> tuple[SameEngine | None, ...]:
    """Hold each run against the clean ones of its car before it.

    Parameters
    ----------
    runs : sequence of RunDigest
        In order of time; of several cars, where they are.
    groups : sequence of str, optional
        Which side of a change each is on: a run is held against its own side.

    Returns
    -------
    tuple of SameEngine or None
        One for each run; None for the first of a car or of a side, and where no cell is shared. A run that was unlike
        is no reference to those behind it.
    """
    sides = [
        (run.before_shifts["car"], side) for run, side in zip(runs, groups or [""] * len(runs), strict=True)
    ]  # fmt: skip
    return follow_engine(
        sides,
        [run.clean and run.cells.size > 0 for run in runs],
        lambda place, own: hold_against_own(runs[place], [runs[one] for one in own]),
    )


def hold_against_own(run: RunDigest, references: Sequence[RunDigest]) -> SameEngine | None:
    """Hold a run's engine against the same car's reference runs, at the same gear and engine speed.

    Parameters
    ----------
    run : RunDigest
        The run asked about; it may have faults.
    references : sequence of RunDigest
        Clean runs, oldest first.

    Returns
    -------
    SameEngine or None
        None where there is no reference, or the runs share no cell.

    Notes
    -----
    In each cell that all the runs have: ln of the run's power less the references' mean, the air's temperature (and
    its pressure, where no manifold pressure is logged) taken out. What manifold pressure explains of it is power to
    the 1.1; the rest is left. The interval is Student's for one more run, its spread that of the references joined
    with what the reviews leave open. A head wind that nobody gave looks like a loss that grows with the gears: it is
    in the plus-minus, not taken out, since to take it out would hide an engine that fades down the track.
    """
    own = [one for one in references if one.cells.size][-MOST_REFERENCES:]
    cells = share_cells([run.cells, *(one.cells for one in own)]) if own else None
    if cells is None or not cells.size:
        return None
    rule = explain_air([run.air, *(one.air for one in own)], cells)
    logged = cells.log_charge is not None
    charge = _own_charge(cells, [one.air for one in (run, *own)])
    left = cells.log_power - (rule.explained if rule is not None else PRESSURE_EXPONENT * charge)
    power = left + PRESSURE_EXPONENT * charge
    parts = _parts(cells)
    ratios = _ratios(cells, power, parts, rule, pressure_open=0.0)
    lefts = _ratios(cells, left, parts, rule, pressure_open=PRESSURE_PLUS_MINUS) if logged else [None] * len(ratios)
    manifolds, boosts = _manifolds(cells, charge, parts), _boosts(cells, (run, *own), parts)
    of_gears = zip(np.unique(cells.gear), ratios[1:], lefts[1:], boosts[1:], manifolds[1:], strict=True)
    gears = tuple(
        GearAgainstOwn(int(gear), float(cells.low_rpm[cells.gear == gear].min()), ratio, rest, boost, manifold)
        for gear, ratio, rest, boost, manifold in of_gears
    )
    alarm = [one.power.value - 1.0 if _unlike(one.power) else 0.0 for one in gears]
    begins = _begins(alarm)
    at = _begins_at(cells, power, gears, begins)
    unlike = alarm[-1] if begins is not None else ratios[0].value - 1.0 if _unlike(ratios[0]) else 0.0
    found = SameEngine(
        label=run.label,
        against=tuple(one.label for one in own),
        power=ratios[0],
        left=lefts[0],
        boost=boosts[0],
        manifold=manifolds[0],
        gears=gears,
        as_before=not unlike,
        from_gear=gears[begins].gear if begins else None,
        from_rpm=at[1] if at is not None else None,
        from_m=run.cells.at_m(*at) if at is not None else None,
        boost_from_gear=_boost_begins(gears),
        air_known=rule is not None,
        boosted=any(one.air is not None and one.air.boosted for one in (run, *own)),
        line="",
    )
    return found.saying(say_engine(found), fault=say_engine_fault(found) if unlike < 0 else "")


def _parts(cells: CellGrid) -> FloatArray:
    """Share of each cell by time: in all of them, then gear by gear, shape (cells, 1 + gears)."""
    of_gear = cells.gear[:, None] == np.unique(cells.gear)
    time_s = np.column_stack((np.ones(cells.size, dtype=np.bool_), of_gear)) * cells.time_s[:, None]
    return np.asarray(time_s / time_s.sum(axis=0), dtype=np.float64)


def _own_charge(cells: CellGrid, airs: Sequence[AirSeen | None]) -> FloatArray:
    """Ln manifold pressure, less the station's where the engine draws from it without boost; zero where not logged.

    A boosted engine's is left as it is: what holds its boost may hold it in any air.
    """
    if cells.log_charge is None:
        return np.zeros_like(cells.log_power)
    charge = cells.log_charge
    known = [air for air in airs if air is not None]
    if len(known) == len(airs) and not any(air.boosted for air in known):
        charge = charge - np.log([air.pressure_pa for air in known])[:, None]
    return np.asarray(charge - charge.mean(axis=0), dtype=np.float64)


def _unlike(ratio: Estimate) -> bool:
    return abs(math.log(ratio.value)) > max(ALARM * ratio.plus_minus / ratio.value, LEAST_ALARM)


def _ratios(
    cells: CellGrid, values: FloatArray, parts: FloatArray, rule: AirRule | None, *, pressure_open: float
) -> list[Estimate]:
    """The first run over the mean of the others: in all cells by time, then in each gear."""
    of_run, own = values @ parts, (cells.own @ parts) / 1.96
    others, count = of_run[1:], of_run.shape[0] - 1
    usual = others.mean(axis=0)
    spread = ((others - usual) ** 2).sum(axis=0)
    variance = (PRIOR_RUNS * (own**2).mean(axis=0) + spread) / (PRIOR_RUNS + count - 1)
    half = _student(count) ** 2 * variance * (1.0 + 1.0 / count)
    if rule is not None:
        half = half + sum((one[0] - one[1:].mean()) ** 2 for one in rule.half_widths[1:])
    if cells.log_charge is not None and pressure_open:
        charge = cells.log_charge @ parts
        half = half + (pressure_open * (charge[0] - charge[1:].mean(axis=0))) ** 2
    ratios = np.exp(of_run[0] - usual)
    return [
        Estimate(*both) for both in zip(ratios.tolist(), (ratios * np.sqrt(half)).tolist(), strict=True)
    ]  # fmt: skip


@cache
def _student(count: int) -> float:
    """Student's 97.5 % point for so many references."""
    from scipy.special import stdtrit  # not for a mere start

    return float(stdtrit(PRIOR_RUNS + count - 1, 0.975))


def _begins(alarm: Sequence[float]) -> int | None:
    """The first gear from which on all are unlike to the same side; None where the last one is not."""
    first = None
    for place in reversed(range(len(alarm))):
        if alarm[place] * alarm[-1] <= 0:
            break
        first = place
    return first


def _begins_at(
    cells: CellGrid, power: FloatArray, gears: Sequence[GearAgainstOwn], begins: int | None
) -> tuple[int, float] | None:
    """The cell in which it begins: where two levels part the last gear that was like and the first that was not."""
    if not begins:
        return None
    use = (cells.gear == gears[begins].gear) | (cells.gear == gears[begins - 1].gear)
    off, time_s = (power[0] - power[1:].mean(axis=0))[use], cells.time_s[use]
    place = min(range(1, off.size), key=lambda one: _off_levels(off, time_s, one))
    return int(cells.gear[use][place]), float(cells.low_rpm[use][place])


def _off_levels(off: FloatArray, time_s: FloatArray, place: int) -> float:
    sides = (off[:place], time_s[:place]), (off[place:], time_s[place:])
    return float(sum((side - side @ by / by.sum()) ** 2 @ by for side, by in sides))


def _manifolds(cells: CellGrid, charge: FloatArray, parts: FloatArray) -> Sequence[float | None]:
    """Manifold pressure over the usual, in all cells and gear by gear."""
    if cells.log_charge is None:
        return [None] * parts.shape[1]
    level = charge @ parts
    return list(np.exp(level[0] - level[1:].mean(axis=0)).tolist())


def _boosts(cells: CellGrid, runs: Sequence[RunDigest], parts: FloatArray) -> Sequence[float | None]:
    """Pressure above the station's over the usual; None where that is not known, or no engine is boosted."""
    airs = [one.air for one in runs if one.air is not None]
    if cells.log_charge is None or len(airs) < len(runs) or not any(air.boosted for air in airs):
        return [None] * parts.shape[1]
    gauge = np.exp(cells.log_charge) @ parts - np.array([air.pressure_pa for air in airs])[:, None]
    usual, boosted = gauge[1:].mean(axis=0), (gauge[1:] > 0).all(axis=0)
    return [float(own / by) if sure else None for own, by, sure in zip(gauge[0], usual, boosted, strict=True)]


def _boost_begins(gears: Sequence[GearAgainstOwn]) -> int | None:
    """The gear from which on manifold pressure is unlike, to the last."""
    off = [one.manifold - 1.0 if one.manifold is not None else 0.0 for one in gears]
    begins = _begins([one if abs(one) > BOOST_UNLIKE else 0.0 for one in off])
    return gears[begins].gear if begins is not None else None
