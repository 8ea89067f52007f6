"""Changes of gear that the engine did not make: it turned on smoothly where the ratio eased into the next gear's.

Tires that haze let engine over ground speed fall as the car catches up, through one gear's level after another. But
a change up draws the engine down with it, whatever the tires do: where it did not fall, the gear above was in since it
last fell. Gears that are then skipped went by in falls before, that looked like lifts of the foot while tires spun.

Public: `without_unmade_changes`.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.gear_path import GearPath
from passband.analysis.driveline.ratios import GRID_HZ, TurnRatio, TurnSource
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.sensors.cut_signals import torque_is_cut
from passband.analysis.statistics.intervals import Interval, find_true_runs

LEAST_FALL = 0.1
"""A change draws the engine down by at least this share of the step between its gears, log. [-] By arithmetic: the
clutch shares the engine's turning with wheels that spin free, of an inertia at the clutch no less
than an eighth of its own (0.3 kg m2 beside 5 kg m2 behind a ratio of 11), in all but the lowest of first gears."""
FALLS_IN_S = 0.5
"""Within so long on either side. [s] A foot takes no longer."""
A_FALL = 0.08
"""An engine that falls by so much, log, and within `FALLS_IN_S`, may have changed gear. [-] The least step between
gears is twice that; common practice, no source."""
LEAVES_TOP = 0.03
"""A fall begins where the engine was last within this of its highest, log: on a limiter it bounces by one to three per
cent. [-] Common practice, no source."""
STANDS_NEAR = 0.03
"""An engine so near its gear's level is carried by it, log: a tire that pulls and grips slips by so much. [-] Common
practice, no source."""


def without_unmade_changes(turn: TurnRatio, path: GearPath, level: FloatArray, traces: Traces) -> GearPath:
    """The same path with the gears that its engine's falls bear out.

    Parameters
    ----------
    turn : TurnRatio
        Engine turns for the way covered.
    path : GearPath
        As followed.
    level : array, shape (gears,)
        Log ratio at which each gear carries, first gear first. [-]
    traces : Traces
        Throttle, ignition and cuts: what a fall is told from.

    Returns
    -------
    GearPath
        The same where a sensor shows the driven tires, or every change up has its fall.
    """
    if turn.source is not TurnSource.GROUND_SPEED:
        return path
    gear, moved = path.gear.copy(), np.zeros(path.gear.size, dtype=np.bool_)
    falls = _falls(turn)
    held = _held(gear)
    for left, right in reversed(list(pairwise(held))):
        before, after = int(gear[left.start]), int(gear[right.start])
        if after <= before or not _known(turn, left.stop - 1, right.start):
            continue
        if _fell(turn, left.stop - 1, right.start) >= LEAST_FALL * float(level[before - 1] - level[after - 1]):
            continue
        made = [fall for fall in falls if fall.stop <= left.stop and fall.start >= held[0].start]
        if not made:
            continue
        since = max(left.start, made[-1].stop if made[-1].start > left.start else 0)
        gear[since : right.start] = after
        moved[since : right.start] = True
    if not moved.any():
        return path
    gear = _with_skipped(gear, falls, torque_is_cut(traces, turn.time_s))
    off = turn.log_ratio - np.where(gear > 0, level[np.maximum(gear, 1) - 1], np.nan)
    return GearPath(gear, np.where(gear == path.gear, path.carries, np.abs(off) < STANDS_NEAR))


def _held(gear: IntArray) -> list[Interval]:
    """Stretches in one gear, in order; a lift or neutral within it parts none."""
    joined: list[Interval] = []
    edges = np.flatnonzero(np.diff(gear)) + 1
    for start, stop in pairwise([0, *edges.tolist(), gear.size]):
        if gear[start] == 0:
            continue
        if joined and gear[joined[-1].start] == gear[start]:
            joined[-1] = Interval(joined[-1].start, stop)
        else:
            joined.append(Interval(start, stop))
    return joined


def _known(turn: TurnRatio, start: int, stop: int) -> bool:
    """Whether engine speed is known all about a change, so that a fall would have been seen."""
    reach = round(FALLS_IN_S * GRID_HZ)
    return bool(np.isfinite(turn.rpm[max(0, start - reach) : stop + reach + 1]).all())


def _fell(turn: TurnRatio, start: int, stop: int) -> float:
    """By how much the engine fell about a change, log."""
    reach = round(FALLS_IN_S * GRID_HZ)
    turns = np.log(np.maximum(turn.rpm[max(0, start - reach) : stop + reach + 1], 1.0))
    return float((np.maximum.accumulate(turns) - turns).max())


def _falls(turn: TurnRatio) -> list[Interval]:
    """Where the engine fell as at a change of gear: from its highest to its lowest."""
    reach = round(FALLS_IN_S * GRID_HZ)
    turns = np.log(np.maximum(np.nan_to_num(turn.rpm), 1.0))
    padded = np.concatenate((np.full(reach, turns[0]), turns))
    highest = np.lib.stride_tricks.sliding_window_view(padded, reach + 1).max(axis=1)
    falls = []
    for run in find_true_runs(np.asarray(highest - turns > A_FALL)):
        first = max(0, run.start - reach)
        top = turns[first : run.start + 1]
        start = first + int(np.flatnonzero(top >= top.max() - LEAVES_TOP)[-1])
        falls.append(Interval(start, run.start + int(np.argmin(turns[run.start : run.stop])) + 1))
    return falls


def _with_skipped(gear: IntArray, falls: list[Interval], cut: BoolArray) -> IntArray:
    """Gears that a change skips, laid between the falls in the gear it left; as it was where these are not as many."""
    gear = gear.copy()
    for left, right in pairwise(_held(gear)):
        lowest, skipped = int(gear[left.start]), int(gear[right.start]) - int(gear[left.start]) - 1
        inside = [
            fall
            for fall in falls
            if left.start < fall.start
            and fall.stop < left.stop
            and (not cut.any() or cut[fall.start : fall.stop].any())
        ]
        if skipped < 1 or len(inside) != skipped:
            continue
        for number, fall in enumerate(inside, start=1):
            gear[fall.start : fall.stop] = 0
            later = gear[fall.stop : left.stop]
            later[later > 0] = lowest + number
    return gear
