"""Which gear carried the car at each moment.

A hidden path through gears that carry, gears that slip (clutch, converter, spinning tire) and neutral, on the evidence
of engine turns for the way covered; a gear channel is a witness, not the judge.

Public: `label_gears`, `gears_between_shifts`, `gear_at`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np

from passband.analysis.driveline.gear_doubts import (
    doubt_gear_channel,
    doubt_one_ratio,
    doubt_setup,
    tell_noise,
)
from passband.analysis.driveline.ratios import (
    GRID_HZ,
    GearLevels,
    TurnRatio,
    TurnSource,
)
from passband.analysis.driveline.state import TAIL_S, DrivelineState
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.statistics.intervals import find_true_runs

GONE_S = 0.15
"""A gear is believed where it carries at least this long; the shortest kept in a good run is some 0.25 s. [s]"""
COMMAND_REACH_S = 0.35
"""A commanded change is seen within this of its command. [s]"""
LONGEST_HIDDEN_S = 3.0
"""And within this where slip hides it. [s]"""
QUICK_CHANGE_S = 0.06
"""It takes so long. [s]"""
GIVEN_RATIO_OPEN = 0.005
"""95 % half-width of a ratio given, as a share, beside how far its level lies off. Chosen, no source. [-]"""
FOUND_RATIO_OPEN = 0.02
"""The same of one found in the run. Chosen, no source. [-]"""
SAME_GEAR_GAP_S = 1.5
"""A gear that lets go for less and carries again was not left: a clutch that slips or a lift. [s]"""


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
        """When drive torque is cut."""

    @property
    def end_s(self) -> float:
        """When the next gear carries."""


def label_gears(driveline: DrivelineState | None, motion: Motion, evidence: RunEvidence) -> Gears:
    """Name the gear at each moment of a run.

    Parameters
    ----------
    driveline : DrivelineState or None
        As read from the same motion and evidence; None where engine speed is not known.
    motion : Motion
        ET.
    evidence : RunEvidence
        Of the run; a gear channel helps.

    Returns
    -------
    Gears
        Intervals with the gaps in which no gear carried, up to a little past the end (`gears_between_shifts` cuts them
        there); empty where engine speed or every ratio is unknown. Its findings say what was chosen, doubted or could
        not be done.
    """
    if driveline is None:
        return replace(_no_gears(), findings=(_cannot("engine"),))
    traces, car, turn, gear_levels = evidence.traces, evidence.car, driveline.turn, driveline.gear_levels
    findings = tell_noise(evidence)
    if gear_levels is not None and gear_levels.basis is GearBasis.GLIDES:
        return Gears(GearBasis.GLIDES, (), (), findings=(*findings, _cannot("glides")))
    if gear_levels is None:
        gears = _by_channel(evidence)
        last = _by_channel_alone() if gears.intervals else _cannot("ratio")
        return replace(gears, findings=(*findings, last))
    intervals = _as_intervals(driveline, evidence)
    if not evidence.converter:
        seen, intervals = intervals, _changed_on_command(intervals, evidence.commands_s)
        findings += _tell_hidden(seen, intervals)
    carried = np.where(driveline.carrying, driveline.gear, 0)
    findings += doubt_setup(gear_levels, turn, carried, motion, car)
    findings += doubt_one_ratio(gear_levels, turn, carried, car)
    findings += doubt_gear_channel(traces, turn.time_s, carried)
    overall = _overall(gear_levels, driveline.levels, turn, car)
    return Gears(gear_levels.basis, overall, intervals, findings=tuple(findings))


def _no_gears() -> Gears:
    return Gears(GearBasis.UNKNOWN, (), ())


def _cannot(what: str) -> Finding:
    why = {
        "engine": "no engine speed that can be believed was logged during the run",
        "glides": "the engine stands while the car gains speed, as with a belt drive or a clutch that slips all along, "
        "so no ratio in the data is a gear's; tell gear_ratios and final_drive if it has gears",
        "ratio": "engine speed and speed never stand in a steady ratio, and no gear channel was logged",
    }[what]
    return Finding("gears-unknown", "caution", f"Gears and shifts could not be named: {why}.")


def _by_channel_alone() -> Finding:
    text = (
        "Engine speed and speed never stand in a steady ratio: the gears are those that the gear channel names, "
        "and could not be checked."
    )
    return Finding("gears-by-channel-alone", "caution", text, "gear")


def _by_channel(evidence: RunEvidence) -> Gears:
    """Gears as the gear channel names them, where nothing else does."""
    channel = evidence.traces.get("gear")
    known = channel.known.within(evidence.launch_s, evidence.end_s + TAIL_S) if channel is not None else None
    if known is None or known.time_s.size < 10:
        return _no_gears()
    logged = np.rint(known.values).astype(np.int64)
    pieces = [
        GearInterval(int(number), float(known.time_s[run.start]), float(known.time_s[run.stop - 1]))
        for number in np.unique(logged[logged > 0])
        for run in find_true_runs(logged == number)
    ]
    intervals = tuple(_joined(sorted(pieces, key=lambda piece: piece.start_s)))
    return Gears(GearBasis.CHANNEL, (), intervals)


def _as_intervals(driveline: DrivelineState, evidence: RunEvidence) -> tuple[GearInterval, ...]:
    half, time_s, gear = 0.5 / GRID_HZ, driveline.time_s, driveline.gear
    pieces = [
        GearInterval(int(number), float(time_s[run.start]) - half, float(time_s[run.stop - 1]) + half)
        for number in np.unique(gear[gear > 0])
        for run in find_true_runs(gear == number)
    ]
    pieces.sort(key=lambda piece: piece.start_s)
    kept = [p for p in pieces if p.end_s - p.start_s >= GONE_S or p is pieces[-1] or p is pieces[0]]
    if kept:
        kept[0] = replace(kept[0], start_s=min(kept[0].start_s, evidence.launch_s))
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


def _changed_on_command(intervals: tuple[GearInterval, ...], commands_s: FloatArray) -> tuple[GearInterval, ...]:
    """A change that its command precedes by long was made at the command: a slipping clutch or spinning tires hid it.

    Only where each change of the run has just one command, and all but the hidden ones lie close upon theirs.
    """
    changes = [right.start_s for right in intervals[1:]]
    if len(changes) != commands_s.size or not changes:
        return intervals
    late = np.array(changes) - commands_s
    hidden = (late > COMMAND_REACH_S) & (late < LONGEST_HIDDEN_S)
    if (
        not hidden.any()
        or 2 * np.count_nonzero(hidden) > hidden.size
        or (np.abs(late[~hidden]) > COMMAND_REACH_S).any()
    ):
        return intervals
    moved = list(intervals)
    for place in np.flatnonzero(hidden):
        at_s = float(commands_s[place])
        moved[place] = replace(moved[place], end_s=at_s)
        moved[place + 1] = replace(moved[place + 1], start_s=at_s + QUICK_CHANGE_S)
    return tuple(moved) if all(piece.end_s > piece.start_s for piece in moved) else intervals


def _tell_hidden(seen: Sequence[GearInterval], laid: Sequence[GearInterval]) -> list[Finding]:
    """Changes that were laid at their commands, and when engine and wheels first showed them."""
    found = []
    for before, after in zip(seen, laid, strict=True):
        if before.start_s == after.start_s:
            continue
        command_s = after.start_s - QUICK_CHANGE_S
        text = (
            f"Gear {after.gear} was commanded at {command_s:.2f} s, but a slipping clutch or spinning tires hid it"
            f" until about {before.start_s:.2f} s: the shift was laid at its command."
        )
        found.append(Finding("change-hidden-by-slip", "note", text, f"{command_s:.2f} s from clock start"))
    return found


def _overall(gear_levels: GearLevels, levels: FloatArray, turn: TurnRatio, car: Car) -> tuple[Estimate, ...]:
    if gear_levels.basis is GearBasis.GIVEN and car.overall_ratios is not None:
        off = np.abs(levels - gear_levels.level - gear_levels.offset)
        return tuple(
            Estimate(r, r * (GIVEN_RATIO_OPEN + float(o))) for r, o in zip(car.overall_ratios, off, strict=True)
        )
    scale = _found_scale(turn, car)
    return tuple(Estimate(float(v), FOUND_RATIO_OPEN * float(v)) for v in np.exp(levels) * scale)


def _found_scale(turn: TurnRatio, car: Car) -> float:
    """What turns a found ratio, in the record's units, into turns of the engine per turn of the driven wheel."""
    if turn.source is TurnSource.DRIVESHAFT:
        return car.final_drive or 1.0
    return (car.tire_circumference or 60.0) / 60.0


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


def gears_between_shifts(gears: Gears, shifts: Sequence[HasShiftTimes], evidence: RunEvidence) -> Gears:
    """The same gears with intervals that end where a shift starts and begin where it ends.

    Parameters
    ----------
    gears : Gears
        As labelled.
    shifts : sequence of Shift
        In order.
    evidence : RunEvidence
        Launch and end of the run.

    Returns
    -------
    Gears
        Cut at the end of the run; between shifts one gear throughout.
    """
    held = (edge for shift in shifts for edge in (shift.time_s, shift.end_s))
    edges = [evidence.launch_s, *held, evidence.end_s]
    pieces: list[GearInterval] = []
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        pieces += _between(gears.intervals, start, stop)
    return replace(gears, intervals=tuple(pieces))


def _between(intervals: Sequence[GearInterval], start_s: float, stop_s: float) -> list[GearInterval]:
    """The gears held between two shifts: one, drawn out to both ends, unless a change between them was not measured."""
    overlap = [min(piece.end_s, stop_s) - max(piece.start_s, start_s) for piece in intervals]
    held = [p for p, span in zip(intervals, overlap, strict=True) if span > min(GONE_S, 0.5 * (stop_s - start_s))]
    if not held or stop_s <= start_s:
        return []
    ends = [*(piece.start_s for piece in held[1:]), stop_s]
    starts = [start_s, *ends[:-1]]
    return [replace(p, start_s=a, end_s=b) for p, a, b in zip(held, starts, ends, strict=True)]
