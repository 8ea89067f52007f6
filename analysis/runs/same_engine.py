"""Is it the same engine still? A run's power in each cell over the car's own earlier runs.

Public: `GearAgainstOwn`, `SameEngine`, `hold_against_own`, `hold_all_against_own`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from scipy.stats import t as student

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.cells import CellGrid, share_cells
from passband.analysis.runs.digest import RunDigest
from passband.analysis.runs.engine_line import say_engine
from passband.analysis.runs.same_air import PRESSURE_EXPONENT, PRESSURE_PLUS_MINUS, AirRule, AirSeen, explain_air
from passband.analysis.runs.same_engine_found import GearAgainstOwn, SameEngine

__all__ = ["GearAgainstOwn", "SameEngine", "hold_against_own", "hold_all_against_own"]

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
"""Manifold pressure that is off by more is told. Chosen: beyond what a sensor drifts within a weekend. [-]"""


Hold = Callable[[RunDigest, Sequence[RunDigest]], SameEngine | None]


def hold_all_against_own(
    runs: Sequence[RunDigest], groups: Sequence[str] | None = None, *, hold: Hold | None = None
) -> tuple[SameEngine | None, ...]:
    """Hold each run against the clean ones of its car before it.

    Parameters
    ----------
    runs : sequence of RunDigest
        In order of time; of several cars, where they are.
    groups : sequence of str, optional
        Which side of a change each is on: a run is held against its own side.
    hold : callable, optional
        `hold_against_own`, or what remembers its answers.

    Returns
    -------
    tuple of SameEngine or None
        One for each run; None for the first of a car or of a side, and where no cell is shared. A run that was unlike
        is no reference to those behind it.
    """
    sides = groups if groups is not None else [""] * len(runs)
    usual: dict[tuple[object, str], list[RunDigest]] = {}
    found: list[SameEngine | None] = []
    for run, side in zip(runs, sides, strict=True):
        own = usual.setdefault((run.before_shifts["car"], side), [])
        one = (hold or hold_against_own)(run, own[-MOST_REFERENCES:])
        found.append(one)
        if run.clean and run.cells and (one is None or one.as_before):
            own.append(run)
    return tuple(found)


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
    with what the reviews leave open. A head wind that nobody told looks like a loss that grows with the gears: it is
    in the plus-minus, not taken out, since to take it out would hide an engine that fades down the track.
    """
    own = [one for one in references if one.cells][-MOST_REFERENCES:]
    cells = share_cells([run.cells, *(one.cells for one in own)]) if own else None
    if cells is None or not cells.size:
        return None
    rule = explain_air([run.air, *(one.air for one in own)], cells)
    logged = cells.log_charge is not None
    charge = _own_charge(cells, [one.air for one in (run, *own)])
    left = cells.log_power - (rule.explained if rule is not None else PRESSURE_EXPONENT * charge)
    power = left + PRESSURE_EXPONENT * charge
    whole = np.ones(cells.size, dtype=bool)
    gears = tuple(
        _of_gear(int(gear), cells, (power, left, charge), rule, (run, *own)) for gear in np.unique(cells.gear)
    )
    alarm = [one.power.value - 1.0 if _unlike(one.power) else 0.0 for one in gears]
    total = _ratio(cells, power, whole, rule, pressure_open=0.0)
    begins = _begins(alarm)
    at = _begins_at(cells, power, gears, begins)
    found = SameEngine(
        label=run.label,
        against=tuple(one.label for one in own),
        power=total,
        left=_ratio(cells, left, whole, rule, pressure_open=PRESSURE_PLUS_MINUS) if logged else None,
        boost=_boost(cells, (run, *own), whole),
        manifold=_manifold(cells, charge, whole),
        gears=gears,
        as_before=begins is None and not _unlike(total),
        from_gear=gears[begins].gear if begins else None,
        from_rpm=at[1] if at is not None else None,
        from_m=run.places_m.get(at) if at is not None else None,
        boost_from_gear=_boost_begins(gears),
        air_known=rule is not None,
        boosted=any(one.air is not None and one.air.boosted for one in (run, *own)),
        line="",
    )
    return found.saying(say_engine(found))


def _own_charge(cells: CellGrid, airs: Sequence[AirSeen | None]) -> FloatArray:
    """Ln manifold pressure, less the station's where the engine draws from it without boost; zero where not logged.

    A boosted engine's is left as it is: what holds its boost may hold it in any air.
    """
    if cells.log_charge is None:
        return np.zeros_like(cells.log_power)
    charge = cells.log_charge
    known = [air for air in airs if air is not None]
    if len(known) == len(airs) and not any(air.boosted for air in known):
        charge = charge - np.log([air.dry_pa for air in known])[:, None]
    return np.asarray(charge - charge.mean(axis=0), dtype=np.float64)


def _unlike(ratio: Estimate) -> bool:
    return abs(math.log(ratio.value)) > max(ALARM * ratio.plus_minus / ratio.value, LEAST_ALARM)


def _of_gear(
    gear: int,
    cells: CellGrid,
    seen: tuple[FloatArray, FloatArray, FloatArray],
    rule: AirRule | None,
    runs: Sequence[RunDigest],
) -> GearAgainstOwn:
    power, left, charge = seen
    use = np.asarray(cells.gear == gear)
    logged = cells.log_charge is not None
    return GearAgainstOwn(
        gear=gear,
        from_rpm=float(cells.low_rpm[use].min()),
        power=_ratio(cells, power, use, rule, pressure_open=0.0),
        left=_ratio(cells, left, use, rule, pressure_open=PRESSURE_PLUS_MINUS) if logged else None,
        boost=_boost(cells, runs, use),
        manifold=_manifold(cells, charge, use),
    )


def _ratio(
    cells: CellGrid, values: FloatArray, use: BoolArray, rule: AirRule | None, *, pressure_open: float
) -> Estimate:
    """The first run over the mean of the others, over some of the cells by time."""
    share = cells.time_s[use] / cells.time_s[use].sum()
    of_run = values[:, use] @ share
    own = (cells.own[:, use] @ share) / 1.96
    others = of_run[1:]
    count = others.size
    spread = float(np.sum((others - others.mean()) ** 2))
    variance = (PRIOR_RUNS * float(np.mean(own**2)) + spread) / (PRIOR_RUNS + count - 1)
    half = _student(count) * math.sqrt(variance * (1.0 + 1.0 / count))
    open_by = [one[0] - one[1:].mean() for one in rule.half_widths[-1:]] if rule is not None else []
    if cells.log_charge is not None and pressure_open:
        charge = cells.log_charge[:, use] @ share
        open_by.append(pressure_open * (charge[0] - charge[1:].mean()))
    value = math.exp(float(of_run[0] - others.mean()))
    return Estimate(value, value * math.hypot(half, *map(float, open_by)))


@cache
def _student(count: int) -> float:
    """Student's 97.5 % point for so many references."""
    return float(student.ppf(0.975, PRIOR_RUNS + count - 1))


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


def _manifold(cells: CellGrid, charge: FloatArray, use: BoolArray) -> float | None:
    if cells.log_charge is None:
        return None
    level = charge[:, use] @ cells.time_s[use] / cells.time_s[use].sum()
    return math.exp(float(level[0] - level[1:].mean()))


def _boost(cells: CellGrid, runs: Sequence[RunDigest], use: BoolArray) -> float | None:
    """Pressure above the station's over the usual; None where that is not known, or no engine is boosted."""
    airs = [one.air for one in runs]
    stations = np.array([air.pressure_pa if air is not None else math.nan for air in airs])
    if cells.log_charge is None or not np.isfinite(stations).all():
        return None
    if not any(air is not None and air.boosted for air in airs):
        return None
    share = cells.time_s[use] / cells.time_s[use].sum()
    gauge = np.exp(cells.log_charge[:, use]) @ share - stations
    return float(gauge[0] / gauge[1:].mean()) if (gauge[1:] > 0).all() else None


def _boost_begins(gears: Sequence[GearAgainstOwn]) -> int | None:
    """The gear from which on manifold pressure is unlike, to the last."""
    off = [one.manifold - 1.0 if one.manifold is not None else 0.0 for one in gears]
    begins = _begins([one if abs(one) > BOOST_UNLIKE else 0.0 for one in off])
    return gears[begins].gear if begins is not None else None
