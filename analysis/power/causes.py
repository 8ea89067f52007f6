"""What each thing that is not known makes of a run's power: found by moving it, one at a time.

A fact of the car moves every run of that car the same way; the wind, the fuel burnt and the noise of the sensors move
this run alone. The two are kept apart, so that runs can be held against each other.

Public: `Effect`, `effects_of`, `estimated`, `shares_of`.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.power.averages import Averages, PowerBasis, average_power, with_facts, with_speed
from passband.analysis.power.balance import STALL_TORQUE_RATIO, STALL_TORQUE_RATIO_HALF_WIDTH
from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.facts import FACT_NAMES, FUEL_BURNT_SHARE, WIND_OF_THE_RUN_MPS, Fact
from passband.analysis.results.estimate import CAR, DAY, DEVICE, Estimate
from passband.analysis.results.power import PowerShare

EDGE_HALF_WIDTH_S = 0.01
"""95 % of where a shift begins and ends: it moves the average without shifts. [s]"""
CONVERTER_HALF_WIDTH = 0.05
"""95 % of what a converter loses beyond its slip as measured: churning, and ratios known to a per cent or two. [-]"""
OF_THE_DAY = ("air density", "strip's slope")
"""Facts that belong to a meeting and not to the car."""
RUN = "run"
"""What no other run shares."""


@dataclass(frozen=True, slots=True)
class Effect:
    """The averages as they would be were one thing at the upper end of its own 95 %."""

    source: str
    """What was moved, for a reader: ``mass``."""
    of: str
    """`CAR`, `DEVICE` or `DAY`, which other runs share, or `RUN`."""
    averages: Averages
    """With it moved."""


def effects_of(case: PowerBasis, motion: Motion, averages: Averages) -> tuple[Effect, ...]:
    """Move everything that power rests on, one after the other.

    Parameters
    ----------
    case : PowerBasis
        The run.
    motion : Motion
        What its speed may be wrong by.
    averages : Averages
        As they are.

    Returns
    -------
    tuple of Effect
        Independent of each other.
    """
    return (*_of_facts(case), *_of_speed(case, motion), *_of_driveline(case, averages))


def _of_facts(case: PowerBasis) -> Iterator[Effect]:
    facts, causes, moved = case.facts, [], []
    for name in FACT_NAMES:
        fact = getattr(facts, name)
        for of, half_width in _parts_of(fact):
            causes.append((fact.source, of))
            moved.append(replace(facts, **{name: replace(fact, value=fact.value + half_width)}))
    causes.append(("fuel burnt", RUN))
    moved.append(replace(facts, mass=replace(facts.mass, value=(1.0 + FUEL_BURNT_SHARE) * facts.mass.value)))
    for (source, of), averages in zip(causes, with_facts(case, moved), strict=True):
        yield Effect(source, of, averages)


def _parts_of(fact: Fact) -> Iterator[tuple[str, float]]:
    """What a half-width belongs to: the wind of a day is known no better than that, a run's own strays from it."""
    if fact.source == "wind":
        own = min(fact.half_width, WIND_OF_THE_RUN_MPS)
        yield RUN, own
        if fact.half_width > own:
            yield DAY, math.sqrt(fact.half_width**2 - own**2)
    elif fact.half_width > 0:
        yield DAY if fact.source in OF_THE_DAY else CAR, fact.half_width


def _of_speed(case: PowerBasis, motion: Motion) -> Iterator[Effect]:
    own, shared = motion.errors.own, motion.errors.shared
    causes = [("speed", RUN)] * own.shape[0]
    for cause in shared:
        of, _, source = cause.partition(": ")
        causes.append((source, of))
    for (source, of), averages in zip(causes, with_speed(case, np.array([*own, *shared.values()])), strict=True):
        yield Effect(source, of, averages)


def _of_driveline(case: PowerBasis, averages: Averages) -> Iterator[Effect]:
    series, facts = case.series, case.facts
    yield Effect("tire slip", CAR, average_power(replace(case, tire=case.tire.slid(series.speed_mps))))
    edges = average_power(replace(case, series=_with_shorter_shifts(series)))
    yield Effect("shift edges", DEVICE, replace(edges, brake=averages.brake))
    if series.converter:
        slid_through = replace(facts.efficiency, value=facts.efficiency.value * (1.0 - CONVERTER_HALF_WIDTH))
        stall = STALL_TORQUE_RATIO + STALL_TORQUE_RATIO_HALF_WIDTH
        worse = replace(case, stall_ratio=stall, facts=replace(facts, efficiency=slid_through))
        yield Effect("torque converter", CAR, average_power(worse))
    if series.slip_open:
        slid = replace(series, turns_rad_per_m=series.turns_rad_per_m * math.exp(-series.slip_open))
        yield Effect("converter's slip", CAR, average_power(replace(case, series=slid)))


def _with_shorter_shifts(series: DrivelineSeries) -> DrivelineSeries:
    """The same with each shift begun later and over sooner; until it begins the old gear is in."""
    near = round(EDGE_HALF_WIDTH_S / series.step_s)
    narrower = series.shifting & np.roll(series.shifting, near) & np.roll(series.shifting, -near)
    closer = tuple(
        (a + EDGE_HALF_WIDTH_S, max(b - EDGE_HALF_WIDTH_S, a + EDGE_HALF_WIDTH_S)) for a, b in series.shifts_s
    )
    gear, turns = series.gear.copy(), series.turns_rad_per_m.copy()
    for (begins_s, _), (later_s, _) in zip(series.shifts_s, closer, strict=True):
        first, last = np.searchsorted(series.time_s, (begins_s, later_s))
        if first > 0:
            gear[first:last], turns[first:last] = gear[first - 1], turns[first - 1]
    return replace(series, gear=gear, turns_rad_per_m=turns, shifting=narrower, shifts_s=closer)


def estimated(averages: Averages, effects: Sequence[Effect], name: str) -> Estimate:
    """One of the averages with its plus-minus, what other runs share kept by cause.

    Parameters
    ----------
    averages : Averages
        As they are.
    effects : sequence of Effect
        What each thing moved makes of them.
    name : str
        ``ground``, ``brake``, ``pulling``, ``over_distance``, or ``clutch_heat`` in joules.

    Returns
    -------
    Estimate
        [W]
    """
    value: float = getattr(averages, name)
    own = math.hypot(*(getattr(one.averages, name) - value for one in effects if one.of == RUN))
    shared = {f"{one.of}: {one.source}": getattr(one.averages, name) - value for one in effects if one.of != RUN}
    return Estimate.parted(value, own, shared)


def shares_of(averages: Averages, effects: Sequence[Effect]) -> tuple[PowerShare, ...]:
    """What each source makes of average power's plus-minus.

    Parameters
    ----------
    averages : Averages
        As they are.
    effects : sequence of Effect
        What each thing moved makes of them.

    Returns
    -------
    tuple of PowerShare
        The greatest first.
    """
    by_source: defaultdict[str, float] = defaultdict(float)
    for one in effects:
        by_source[one.source] = math.hypot(by_source[one.source], one.averages.brake - averages.brake)
    shares = (PowerShare(source, watts) for source, watts in by_source.items() if watts > 0)
    return tuple(sorted(shares, key=lambda share: -share.plus_minus_w))
