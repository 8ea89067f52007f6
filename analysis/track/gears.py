"""Which gear carried the car at each moment.

A hidden path through gears that carry, gears that slip (clutch, converter, spinning tire) and neutral, on the evidence
of engine turns for the way covered; a gear channel is a witness, not the judge.

Public: `GearInterval`, `Gears`, `label_gears`, `gears_between_shifts`, `carried_levels`, `gear_at`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from analysis.car import Car
from analysis.findings import Finding, Level
from analysis.intervals import find_true_runs
from analysis.log import Traces
from analysis.quantities import Estimate, FloatArray, IntArray
from analysis.track.cut_signals import torque_is_cut
from analysis.track.engine_speed import EngineSpeed, read_engine_speed
from analysis.track.hidden_path import best_path
from analysis.track.motion import Motion
from analysis.track.ratios import GRID_HZ, Ladder, TurnRatio, drift_of, find_ladder, known_ladder, measure_turn_ratio

CARRIED_DRIFT_PER_S, CONVERTER_DRIFT_PER_S, LOOSE_DRIFT_PER_S = 0.03, 0.2, 0.5
"""Scale of the log ratio's drift where a gear carries, behind a converter, and where clutch or tire slip. [1/s]"""
NEAR_LEVEL = 0.08
"""Slip and growth move a gear's own level by no more, log. [-]"""
LEAST_LIKELY = 1e-4
"""What is left for a gear that carries though ratio and drift say it does not: one bad sample is no change of gear. [-]"""
CONVERTER_SLIP = 0.07
"""Scale of what a converter lets the engine run ahead by, log; five times that just after a shift is no wonder. [-]"""
HIGHER_START = -25.0
"""Log weight of each gear by which a run starts above first. [-]"""
BITE_S = 0.6
"""Until so long after the launch an engine falls because the clutch bites. [s]"""
FALLING_PER_S, FALLING_WEIGHT, CUT_WEIGHT = 2.0, 1.5, 2.0
"""Between gears an engine falls by so much, log; what such a fall, or a shift's cut flag, weighs per observation. [1/s], [-]"""
SKIP, DOWN = -6.0, -60.0
"""Log weight of each gear skipped, and of each gear down: on a run down the strip nobody changes down. [-]"""
OBSERVATION_S = 0.02
"""Samples nearer than this say the same thing twice: sensor filters make neighbours alike. [s]"""
GONE_S = 0.15
"""A gear is believed where it carries at least this long; the shortest kept in a good run is some 0.25 s. [s]"""
TAIL_S = 0.8
"""The path is followed so far past the end of the run: a shift begun before the line ends after it. [s]"""
SAME_GEAR_GAP_S = 1.5
"""A gear that lets go for less and carries again was not left: a clutch that slips or a lift. [s]"""
OFF_SETUP = 0.05
"""Beyond it the record disagrees with the ratios and circumference given: slip and growth stay within. [-]"""
MANY_NOISY = 0.005
"""More noisy samples than this share make figures doubtful, not only mended. [-]"""
OFF_SHAFT = 0.015
"""The same against a driveshaft, where there is no tire between. [-]"""


@dataclass(frozen=True, slots=True)
class GearInterval:
    """One stretch in one gear, from the moment it is engaged to the moment it is left."""

    gear: int
    """1 for the lowest."""
    start_s: float
    """[s, ET]"""
    end_s: float
    """[s, ET]"""


@dataclass(frozen=True, slots=True)
class Gears:
    """The gears of a run."""

    basis: str
    """What the naming rests on: ``ratios given``, ``ratios found in the data``, ``gear channel``."""
    overall_ratios: tuple[Estimate, ...]
    """First gear first: engine turns per turn of the driven wheel (given), or engine rpm per m/s scaled to the tire
    (found). [-]"""
    intervals: tuple[GearInterval, ...]
    """In order of time; they do not overlap."""
    gear: IntArray
    """Gear at each sample of the motion's grid; 0 where none is known. Shape (n,)."""


class HasShiftTimes(Protocol):
    """What the gears need of a shift."""

    @property
    def from_gear(self) -> int:
        """Gear that was left."""

    @property
    def to_gear(self) -> int:
        """Gear that carried next."""

    @property
    def time_s(self) -> float:
        """Drive torque is cut. [s]"""

    @property
    def end_s(self) -> float:
        """The next gear carries. [s]"""


def label_gears(
    motion: Motion, traces: Traces, car: Car, *, launch_s: float, end_s: float
) -> tuple[Gears, list[Finding]]:
    """Name the gear at each moment of a run.

    Parameters
    ----------
    motion : Motion
        On the traces' clock.
    traces : Traces
        Needs engine speed; a driveshaft, a driven wheel or a gear channel help.
    car : Car
        Its ratios, where known.
    launch_s, end_s : float
        First motion and finish or lift. [s]

    Returns
    -------
    Gears
        Intervals with the gaps in which no gear carried, up to a little past the end (`gears_between_shifts` cuts them
        there); empty where engine speed or every ratio is unknown.
    list of Finding
        What was chosen, doubted or could not be done.
    """
    engine = read_engine_speed(traces, start_s=launch_s - 1.0, stop_s=end_s + 1.0)
    if engine is None or end_s - launch_s < 0.5:
        return _no_gears(motion), [_cannot("no engine speed that can be believed was logged during the run")]
    turn = measure_turn_ratio(engine, motion, traces, launch_s=launch_s, end_s=end_s + TAIL_S)
    slips = car.transmission == "converter"
    ladder = known_ladder(turn, car) or find_ladder(turn)
    if ladder is None:
        return _no_gears(motion), [_cannot("engine speed and speed never stand in a steady ratio")]
    findings = _tell_noise(engine, launch_s, end_s) + _doubt_setup(ladder, turn)
    states = _follow(turn, ladder.level + ladder.offset, traces, slips=slips)
    levels = ladder.level + ladder.offset
    if not slips:
        levels = _settled_levels(turn, states, levels)
        states = _follow(turn, levels, traces, slips=slips)
    intervals = _as_intervals(turn, states, len(levels), launch_s=launch_s)
    findings += _doubt_gear_channel(traces, intervals)
    gears = Gears(ladder.basis, _overall(ladder, levels, turn, car), intervals, _on_grid(motion.time_s, intervals))
    return gears, findings


def _no_gears(motion: Motion) -> Gears:
    return Gears("unknown", (), (), np.zeros(motion.time_s.size, dtype=np.int64))


def _cannot(why: str) -> Finding:
    return Finding("gears-unknown", "caution", f"Gears and shifts could not be named: {why}.")


def _tell_noise(engine: EngineSpeed, launch_s: float, end_s: float) -> list[Finding]:
    hit = engine.noisy & (engine.time_s >= launch_s) & (engine.time_s <= end_s)
    if not hit.any():
        return []
    first = float(engine.time_s[int(np.argmax(hit))])
    text = (
        f"Engine speed holds {int(hit.sum())} samples that no engine can turn (ignition noise: doubles, halves, dropouts) "
        "during the run; they were left out and bridged."
    )
    level: Level = "caution" if hit.sum() > MANY_NOISY * engine.time_s.size else "note"
    return [Finding("engine-speed-noise", level, text, f"engine speed, first at {first:.2f} s from clock start")]


def _doubt_setup(ladder: Ladder, turn: TurnRatio) -> list[Finding]:
    if abs(ladder.offset) <= (OFF_SHAFT if turn.source == "driveshaft" else OFF_SETUP):
        return []
    percent = 100.0 * (np.exp(ladder.offset) - 1.0)
    blame = (
        "the gear ratios or the driveshaft speed's scale are"
        if turn.source == "driveshaft"
        else "the tire circumference, the final drive or the wheel speed's scale is"
    )
    text = (
        f"In every gear the engine turns {abs(percent):.1f} % {'more' if percent > 0 else 'less'} for the "
        f"{turn.source} than the ratios and tire circumference given say: {blame} wrong. The logged speed was believed, "
        "and the given ratios were all scaled by that factor to name the gears."
    )
    return [Finding("ratios-disagree-with-speed", "caution", text, "car setup")]


# states: gear g carries = 3 g, slips = 3 g + 1, neutral after it = 3 g + 2 (g from 0)
_CARRIES, _SLIPS, _NEUTRAL = 0, 1, 2


def _follow(turn: TurnRatio, level: FloatArray, traces: Traces, *, slips: bool) -> IntArray:
    emission = _emissions(turn, level, slips=slips) + _witness(turn, traces, len(level))
    emission[:, _NEUTRAL::3] += _between_gears(turn, traces)[:, None]
    start = np.full(3 * len(level), -np.inf)
    start[_CARRIES::3] = start[_SLIPS::3] = HIGHER_START * np.arange(len(level))
    return best_path(emission / (OBSERVATION_S * GRID_HZ), log_step=_steps(len(level)), log_start=start)


def _emissions(turn: TurnRatio, level: FloatArray, *, slips: bool) -> FloatArray:
    """Log likelihood of the log ratio and of its drift where a gear carries, slips, or none is in."""
    top, bottom = float(level.max()) + 1.5, float(level.min()) - 0.6
    x = np.clip(turn.log_ratio, bottom, top)[:, None]
    off = x - level[None, :]
    width = 0.012 + 0.4 * turn.spread
    close = np.exp(-np.abs(off) / width) / (2 * width)
    if slips:
        close = np.where(off > 0, np.exp(-off / CONVERTER_SLIP), np.exp(off / width)) / (width + CONVERTER_SLIP)
    slack = np.where(off > 0, 1.0 / 1.5, 0.02)
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
    step = np.full((3 * gears, 3 * gears), -np.inf)
    for gear in range(gears):
        carries, slipping, neutral = 3 * gear, 3 * gear + 1, 3 * gear + 2
        step[[carries, slipping, neutral], [carries, slipping, neutral]] = 0.0
        step[carries, slipping], step[slipping, carries] = -5.0, -1.0
        step[carries, neutral] = step[slipping, neutral] = -4.0
        step[neutral, carries], step[neutral, slipping] = -2.0, -2.5
        for other in range(gears):
            if other == gear:
                continue
            jump = -2.0 if other == gear + 1 else SKIP * (other - gear - 1) if other > gear else DOWN * (gear - other)
            step[neutral, 3 * other] = jump
            step[neutral, 3 * other + 1] = jump - 1.5
            step[carries, 3 * other] = jump - 5.0
    return step


def _between_gears(turn: TurnRatio, traces: Traces) -> FloatArray:
    """What speaks for a moment between two gears: the engine's fall once the launch is over, and cut torque."""
    fall = -np.gradient(np.log(np.maximum(turn.rpm, 1.0)), turn.time_s)
    fall[turn.time_s < turn.time_s[0] + BITE_S] = 0.0
    weight = FALLING_WEIGHT * np.clip(np.nan_to_num(fall) / FALLING_PER_S, 0.0, 1.0)
    return np.asarray(weight + CUT_WEIGHT * torque_is_cut(traces, turn.time_s), dtype=np.float64)


def _witness(turn: TurnRatio, traces: Traces, gears: int) -> FloatArray:
    """What a gear channel adds: half a nat for the gear it names, so that steady evidence overrules it."""
    table = np.zeros((turn.time_s.size, 3 * gears))
    channel = traces.get("gear")
    if channel is None or channel.known.time_s.size == 0:
        return table
    known = channel.known
    index = np.clip(np.searchsorted(known.time_s, turn.time_s, side="right") - 1, 0, None)
    told = np.rint(known.values[index])
    for gear in range(gears):
        agrees = (told == gear + 1)[:, None]
        table[:, 3 * gear : 3 * gear + 2] += np.where(agrees, 0.5, 0.0)
    return table


def _settled_levels(turn: TurnRatio, states: IntArray, level: FloatArray) -> FloatArray:
    """Each gear's own level in this run: tire slip and growth move it by a per cent or three."""
    settled = level.copy()
    for gear in range(level.size):
        inside = (states == 3 * gear) & (np.abs(turn.log_ratio - level[gear]) < NEAR_LEVEL) & ~turn.doubtful
        count = int(inside.sum())
        if count >= 0.2 * GRID_HZ:
            own = float(np.median(turn.log_ratio[inside]))
            settled[gear] += (own - level[gear]) * count / (count + 0.3 * GRID_HZ)
    return settled


def _as_intervals(turn: TurnRatio, states: IntArray, gears: int, *, launch_s: float) -> tuple[GearInterval, ...]:
    gear = np.where(states % 3 == _NEUTRAL, 0, states // 3 + 1)
    half = 0.5 / GRID_HZ
    pieces = []
    for number in range(1, gears + 1):
        for run in find_true_runs(gear == number):
            pieces.append(
                GearInterval(number, float(turn.time_s[run.start]) - half, float(turn.time_s[run.stop - 1]) + half)
            )
    pieces.sort(key=lambda piece: piece.start_s)
    kept = [p for p in pieces if p.end_s - p.start_s >= GONE_S or p is pieces[-1] or p is pieces[0]]
    if kept:
        kept[0] = replace(kept[0], start_s=min(kept[0].start_s, launch_s))
    return tuple(_joined(kept))


def _joined(pieces: list[GearInterval]) -> list[GearInterval]:
    """One interval where the same gear lets go (the clutch at launch, a lift) and takes up again."""
    joined: list[GearInterval] = []
    for piece in pieces:
        if joined and joined[-1].gear == piece.gear and piece.start_s - joined[-1].end_s < SAME_GEAR_GAP_S:
            joined[-1] = replace(joined[-1], end_s=piece.end_s)
        else:
            joined.append(piece)
    return joined


def _overall(ladder: Ladder, levels: FloatArray, turn: TurnRatio, car: Car) -> tuple[Estimate, ...]:
    if ladder.basis == "ratios given" and car.overall_ratios is not None:
        off = np.abs(levels - ladder.level - ladder.offset)
        return tuple(Estimate(r, r * (0.005 + float(o))) for r, o in zip(car.overall_ratios, off, strict=True))
    scale = _found_scale(turn, car)
    return tuple(Estimate(float(v), 0.02 * float(v)) for v in np.exp(levels) * scale)


def _found_scale(turn: TurnRatio, car: Car) -> float:
    """What turns a found ratio, in the record's units, into turns of the engine per turn of the driven wheel."""
    if turn.source == "driveshaft":
        return car.final_drive or 1.0
    return (car.tire_circumference or 60.0) / 60.0


def _doubt_gear_channel(traces: Traces, intervals: tuple[GearInterval, ...]) -> list[Finding]:
    channel = traces.get("gear")
    if channel is None or not intervals:
        return []
    known = channel.known.within(intervals[0].start_s, intervals[-1].end_s)
    named = gear_at(known.time_s, intervals)
    both = named > 0
    if both.sum() < 10:
        return []
    wrong = float(np.mean(np.rint(known.values[both]) != named[both]))
    if wrong < 0.15:
        return []
    text = (
        f"The gear channel disagrees with engine speed over speed for {100 * wrong:.0f} % of the run; engine speed over "
        "speed was believed."
    )
    return [Finding("gear-channel-disagrees", "caution", text, channel.header)]


def gear_at(time_s: FloatArray, intervals: Sequence[GearInterval]) -> IntArray:
    """Gear at given times.

    Parameters
    ----------
    time_s : array, shape (n,)
        Any times. [s]
    intervals : sequence of GearInterval
        In order.

    Returns
    -------
    array of int, shape (n,)
        0 between intervals.
    """
    gear = np.zeros(np.shape(time_s), dtype=np.int64)
    for piece in intervals:
        gear[(time_s >= piece.start_s) & (time_s < piece.end_s)] = piece.gear
    return gear


_on_grid = gear_at


def carried_levels(gears: Gears, turn: TurnRatio, car: Car) -> FloatArray:
    """Log ratio at which each gear carries in a record.

    Parameters
    ----------
    gears : Gears
        As labelled from the same record.
    turn : TurnRatio
        The record.
    car : Car
        As labelled with.

    Returns
    -------
    array, shape (gears,)
        First gear first; behind a converter what a locked one would give. Empty where no ratio is known. [-]
    """
    ladder = known_ladder(turn, car)
    if ladder is not None:
        return ladder.level + ladder.offset
    ratios = np.array([ratio.value for ratio in gears.overall_ratios])
    return np.asarray(np.log(ratios / _found_scale(turn, car)), dtype=np.float64)


def gears_between_shifts(
    gears: Gears, shifts: Sequence[HasShiftTimes], motion: Motion, *, launch_s: float, end_s: float
) -> Gears:
    """The same gears with intervals that end where a shift starts and begin where it ends.

    Parameters
    ----------
    gears : Gears
        As labelled.
    shifts : sequence of Shift
        In order.
    motion : Motion
        For its grid.
    launch_s, end_s : float
        The run. [s]

    Returns
    -------
    Gears
        Cut at the end of the run; between shifts one gear throughout.
    """
    if not shifts:
        pieces = tuple(replace(p, end_s=min(p.end_s, end_s)) for p in gears.intervals if p.start_s < end_s)
        return replace(gears, intervals=pieces, gear=gear_at(motion.time_s, pieces))
    edges = [launch_s, *(edge for shift in shifts for edge in (shift.time_s, shift.end_s)), end_s]
    named = [shifts[0].from_gear, *(shift.to_gear for shift in shifts)]
    pieces = tuple(
        GearInterval(gear, start, stop)
        for gear, start, stop in zip(named, edges[::2], edges[1::2], strict=True)
        if stop > start
    )
    return replace(gears, intervals=pieces, gear=gear_at(motion.time_s, pieces))
