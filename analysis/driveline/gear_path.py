"""The path through the gears that explains a run best: gears that carry, gears that slip, and neutral between them.

Public: `GearSigns`, `read_gear_signs`, `GearPath`, `follow_gears`, `with_drawn_down`, `settle_levels`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.lasting_lead import settled_samples
from passband.analysis.driveline.ratios import ENGINE_FALLS_TOO, GRID_HZ, TurnRatio, TurnSource, drift_of
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.sensors.cut_signals import torque_is_cut
from passband.analysis.sensors.priors import SURELY_OPEN
from passband.analysis.statistics.hidden_path import best_path
from passband.analysis.statistics.intervals import find_true_runs

CARRIED_DRIFT_PER_S = 0.03
"""Scale of the log ratio's drift where a gear carries. [1/s]"""
CONVERTER_DRIFT_PER_S = 0.2
"""The same behind a converter. [1/s]"""
LOOSE_DRIFT_PER_S = 0.5
"""The same where clutch or tire slip. [1/s]"""
OWN_WIDTH = 0.012
"""Scale of the log ratio about a gear's level: sensors and ring. [-]"""
SPREAD_WIDTH = 0.4
"""On top of it, this share of how far the level may lie off. [-]"""
CONVERTER_SLIP = 0.07
"""Scale of what a converter lets the engine run ahead by, log; five times that after a shift is no wonder. [-]"""
MOST_SLIP, BEHIND, TWIST = 1.5, 0.02, 0.06
"""A slipping clutch lets the engine run ahead by up to the first, log, evenly; behind it hardly turns, but by about the
third while tires hop and the driveline twists. [-], [-], [-]"""
LEAST_LIKELY = 1e-4
"""What is left for a gear that carries though ratio and drift say it does not: one bad sample is no shift. [-]"""
TO_SLIP = -5.0
"""Log weight of starting to slip. [-]"""
TO_CARRY = -1.0
"""Of carrying again. [-]"""
TO_NEUTRAL = -4.0
"""Of leaving a gear. [-]"""
BACK = -2.0
"""Of falling back into it. [-]"""
BACK_SLIPPING = -2.5
"""Of falling back into it with a clutch that slips. [-]"""
UP = -2.0
"""Log weight of the next gear. [-]"""
UP_SLIPPING = -1.5
"""Of slipping in it at first. [-]"""
UNSEEN_NEUTRAL = -5.0
"""Of a change too quick to show neutral. [-]"""
SKIP = -6.0
"""Log weight of each gear skipped. [-]"""
DOWN = -120.0
"""Of each gear down: on a run down the strip nobody changes down. [-]"""
SLIDES_S = 0.3
"""A gear is changed down in less; an engine that took longer to rise came up through a clutch that slips, in the gear
it was in: where it then stands, on its limiter, may be a lower gear's ratio by chance. [s] A foot takes as long."""
HIGHER_START = -25.0
"""Log weight of each gear by which a run starts above first. [-]"""
BITE_S = 0.6
"""Until so long after the launch an engine falls because the clutch bites. [s]"""
FALLING_PER_S = 2.0
"""Between gears an engine falls so fast, log. [1/s]"""
FALLING_WEIGHT = 1.5
"""What such a fall weighs for a moment between gears, log. [-]"""
CUT_WEIGHT = 2.0
"""What a cut of torque weighs for one, log. [-]"""
WITNESS_WEIGHT = 0.5
"""What a gear channel weighs for the gear it names: steady evidence overrules it. [-]"""
OBSERVATION_S = 0.02
"""Samples nearer than this say the same thing twice: sensor filters make neighbours alike. [s]"""
NEAR_LEVEL = 0.08
"""Slip and growth move a gear's own level by no more, log. [-]"""
LEAST_SETTLED_S = 0.2
"""A gear carried for less keeps the level it came with. [s]"""
PRIOR_S = 0.3
"""That level weighs like so long a stretch. [s]"""
DRAWN_BELOW = 0.1
"""Behind a converter an engine under open throttle never turns slower than its gear drives it, but for the twist of the
driveline: one below the gear's ratio by this, log, is drawn down by the next gear. [-]"""
DRAWN_S = 0.05
"""For so long. [s]"""
OPEN_S = 0.3
"""The throttle has been open for so long. [s]"""
_CARRIES, _SLIPS, _NEUTRAL = 0, 1, 2
_STATES = 3


@dataclass(frozen=True, slots=True)
class GearSigns:
    """What speaks for a gear, or for none, whatever the levels are; read once for all paths through a record."""

    between: FloatArray
    """What speaks for a moment between two gears, log weight, shape (n,). [-]"""
    named: FloatArray | None
    """The gear that a gear channel names, shape (n,); None where none is logged."""


@dataclass(frozen=True, slots=True)
class GearPath:
    """A gear and its state at each moment."""

    gear: IntArray
    """From 1; 0 in neutral. Shape (n,)."""
    carries: BoolArray
    """True where the gear is in and neither clutch nor tire slips. Shape (n,)."""


def read_gear_signs(turn: TurnRatio, traces: Traces) -> GearSigns:
    """What the channels say of the gears beside engine turns.

    Parameters
    ----------
    turn : TurnRatio
        Engine turns for the way covered.
    traces : Traces
        A gear channel is a witness; cut torque speaks for a change.

    Returns
    -------
    GearSigns
        On the record's grid.
    """
    return GearSigns(_between_gears(turn, traces), _named(turn, traces))


def follow_gears(turn: TurnRatio, level: FloatArray, signs: GearSigns, *, slips: bool) -> GearPath:
    """Follow the gears through a run.

    Parameters
    ----------
    turn : TurnRatio
        Engine turns for the way covered.
    level : array, shape (gears,)
        Log ratio at which each gear carries, first gear first. [-]
    signs : GearSigns
        Of the same record.
    slips : bool
        True behind a converter, which lets the engine run ahead of a gear that carries.

    Returns
    -------
    GearPath
        On the record's grid.

    Notes
    -----
    Three states a gear: it carries (log ratio at its level and hardly drifting), it slips (engine ahead of the level),
    neutral after it. The weights are set, not learned: a run is too short to learn them from.
    """
    gears = level.size
    table = _emissions(turn, level, slips=slips)
    for gear in range(gears) if signs.named is not None else ():
        agrees = WITNESS_WEIGHT * (signs.named == gear + 1)
        table[:, _STATES * gear + _CARRIES] += agrees
        table[:, _STATES * gear + _SLIPS] += agrees
    table[:, _NEUTRAL::_STATES] += signs.between[:, None]
    start = np.full(_STATES * gears, -np.inf)
    start[_CARRIES::_STATES] = start[_SLIPS::_STATES] = HIGHER_START * np.arange(gears)
    known = np.flatnonzero(np.isfinite(turn.log_ratio))
    first = int(known[0]) if known.size else 0  # until something shows, no gear is changed either
    moving = best_path(table[first:] / (OBSERVATION_S * GRID_HZ), log_step=_steps(gears), log_start=start)
    states = _slid_up(np.concatenate((np.full(first, moving[0]), moving)))
    state = states % _STATES
    return GearPath(np.where(state == _NEUTRAL, 0, states // _STATES + 1), np.asarray(state == _CARRIES))


def _slid_up(states: IntArray) -> IntArray:
    """The same path without changes down that an engine made by sliding up: it slips on in the gear it was in."""
    states = states.copy()
    held = np.flatnonzero(states % _STATES != _NEUTRAL)
    for before, after in pairwise(held.tolist()):
        gear = states[before] // _STATES
        if states[after] // _STATES >= gear or states[before] % _STATES != _SLIPS:
            continue
        slips = find_true_runs(states[: before + 1] == _STATES * gear + _SLIPS)[-1]
        if slips.stop - slips.start >= SLIDES_S * GRID_HZ:
            higher = np.flatnonzero(states[after:] // _STATES >= gear)
            until = after + int(higher[0]) if higher.size else states.size
            states[before + 1 : until] = _STATES * gear + _SLIPS
    return states


def with_drawn_down(turn: TurnRatio, path: GearPath, level: FloatArray, traces: Traces) -> GearPath:
    """The same path with a change where the engine was drawn below its gear, though tires that spin hid it after.

    Parameters
    ----------
    turn : TurnRatio
        Engine turns for those of the driveshaft, behind a converter: against the ground tires that spin would lift it.
    path : GearPath
        As followed: as tires take hold after a change the turbine slows, and the ratio stands where the gear before had
        it, or above.
    level : array, shape (gears,)
        Log ratio at which each gear carries, first gear first. [-]
    traces : Traces
        Throttle: an engine whose foot lifted sinks below its gear by itself.

    Returns
    -------
    GearPath
        The same where no throttle is logged, or every change lies where the engine fell.
    """
    throttle = traces.get("throttle")
    if throttle is None or turn.source is not TurnSource.DRIVESHAFT or throttle.known.time_s.size < 4:
        return path
    gear, carries = path.gear.copy(), path.carries.copy()
    opened = throttle.known.at(turn.time_s) > SURELY_OPEN * float(throttle.known.values.max())
    fallen = np.log(np.maximum(turn.rpm, 1.0))
    reach = round(OPEN_S * GRID_HZ)
    for number in range(1, level.size):
        held, after = np.flatnonzero(gear == number), np.flatnonzero(gear == number + 1)
        if not held.size or not after.size or after[0] < held[-1]:
            continue
        inside = np.arange(turn.time_s.size)
        low = (turn.log_ratio < level[number - 1] - DRAWN_BELOW) & (inside > held[0] + reach) & (inside <= held[-1])
        runs = [run for run in find_true_runs(np.asarray(low)) if run.stop - run.start >= DRAWN_S * GRID_HZ]
        drawn = next((run.start for run in runs if opened[run.start - reach : run.stop].all()), None)
        if drawn is None:
            continue
        fell = float(fallen[drawn - reach : drawn].max() - fallen[drawn : drawn + reach].min())
        if fell < ENGINE_FALLS_TOO * float(level[number - 1] - level[number]):
            continue
        above = np.flatnonzero(turn.log_ratio[:drawn] >= level[number - 1] - BEHIND)
        gear[int(above[-1]) + 1 if above.size else drawn : drawn], gear[drawn : after[0]] = 0, number + 1
        carries[drawn : after[0]] = False
    return GearPath(gear, carries)


def settle_levels(turn: TurnRatio, path: GearPath, level: FloatArray) -> FloatArray:
    """Each gear's own level in a run: tire slip and growth move it by a per cent or three.

    Parameters
    ----------
    turn : TurnRatio
        The record.
    path : GearPath
        As followed with `level`.
    level : array, shape (gears,)
        Levels to start from. [-]

    Returns
    -------
    array, shape (gears,)
        Where a gear carried long enough, the middle of its own samples; of those at which a clutch no longer slips,
        where there are enough. [-]
    """
    settled = level.copy()
    holds = settled_samples(turn.log_ratio, step_s=1.0 / GRID_HZ)
    for gear in range(level.size):
        near = np.abs(turn.log_ratio - level[gear]) < NEAR_LEVEL
        inside = (path.gear == gear + 1) & path.carries & near & ~turn.doubtful
        if (inside & holds).sum() >= LEAST_SETTLED_S * GRID_HZ:
            inside &= holds
        span_s = float(inside.sum()) / GRID_HZ
        if span_s >= LEAST_SETTLED_S:
            own = float(np.median(turn.log_ratio[inside]))
            settled[gear] += (own - level[gear]) * span_s / (span_s + PRIOR_S)
    return settled


def _emissions(turn: TurnRatio, level: FloatArray, *, slips: bool) -> FloatArray:
    """Log likelihood of the log ratio and of its drift where a gear carries, slips, or none is in."""
    top, bottom = float(level.max()) + MOST_SLIP, float(level.min()) - 0.6
    x = np.clip(turn.log_ratio, bottom, top)[:, None]
    off = x - level[None, :]
    width = OWN_WIDTH + SPREAD_WIDTH * turn.spread
    close = np.exp(-np.abs(off) / width) / (2 * width)
    if slips:
        close = np.where(off > 0, np.exp(-off / CONVERTER_SLIP), np.exp(off / width)) / (width + CONVERTER_SLIP)
    slack = np.where(off > 0, 1.0, np.maximum(np.exp(np.minimum(off, 0.0) / TWIST), BEHIND)) / MOST_SLIP
    broad = np.full_like(off, 1.0 / (top - bottom))
    drift = np.abs(drift_of(turn))[:, None]
    steady = CONVERTER_DRIFT_PER_S if slips else CARRIED_DRIFT_PER_S
    carried = np.exp(-drift / steady) / (2 * steady)
    loose = 1.0 / (np.pi * LOOSE_DRIFT_PER_S * (1.0 + (drift / LOOSE_DRIFT_PER_S) ** 2))
    table = np.stack([close * carried + LEAST_LIKELY, slack * loose, broad * loose], axis=2).reshape(x.shape[0], -1)
    log = np.log(table)
    log[~np.isfinite(x[:, 0] + drift[:, 0])] = 0.0
    log[turn.doubtful] *= 0.1
    return np.asarray(log, dtype=np.float64)


def _steps(gears: int) -> FloatArray:
    """Log weights between states: gears are left through neutral, one up at a time unless the evidence is strong."""
    step = np.full((_STATES * gears, _STATES * gears), -np.inf)
    np.fill_diagonal(step, 0.0)
    for gear in range(gears):
        carries, slipping, neutral = (_STATES * gear + state for state in (_CARRIES, _SLIPS, _NEUTRAL))
        step[carries, slipping], step[slipping, carries] = TO_SLIP, TO_CARRY
        step[carries, neutral] = step[slipping, neutral] = TO_NEUTRAL
        step[neutral, carries], step[neutral, slipping] = BACK, BACK_SLIPPING
        for other in range(gears):
            if other != gear:
                jump = DOWN * (gear - other) if other < gear else UP + SKIP * (other - gear - 1)
                step[neutral, _STATES * other + _CARRIES] = jump
                step[neutral, _STATES * other + _SLIPS] = jump + UP_SLIPPING
                step[carries, _STATES * other + _CARRIES] = jump + UNSEEN_NEUTRAL
    return step


def _between_gears(turn: TurnRatio, traces: Traces) -> FloatArray:
    """What speaks for a moment between two gears: the engine's fall once the launch is over, and cut torque."""
    fall = -np.gradient(np.log(np.maximum(turn.rpm, 1.0)), turn.time_s)
    fall[turn.time_s < turn.time_s[0] + BITE_S] = 0.0
    weight = FALLING_WEIGHT * np.clip(np.nan_to_num(fall) / FALLING_PER_S, 0.0, 1.0)
    return np.asarray(weight + CUT_WEIGHT * torque_is_cut(traces, turn.time_s), dtype=np.float64)


def _named(turn: TurnRatio, traces: Traces) -> FloatArray | None:
    """The gear that a gear channel last named at each moment."""
    channel = traces.get("gear")
    if channel is None or channel.known.time_s.size == 0:
        return None
    known = channel.known
    index = np.clip(np.searchsorted(known.time_s, turn.time_s, side="right") - 1, 0, None)
    return np.rint(known.values[index])
