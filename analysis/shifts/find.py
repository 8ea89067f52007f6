"""The shifts: when drive torque was cut, when the next gear carried, and what it cost.

Public: `FoundShifts`, `find_shifts`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.driveline.ratios import TurnRatio, TurnSource
from passband.analysis.driveline.state import DrivelineState
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.cut_signals import Edge, find_commands, foot_stayed
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import BAND_NOT_GIVEN, RunEvidence
from passband.analysis.shifts.converter_edges import FLUID_LATE_S, find_ratio_change, find_takeover
from passband.analysis.shifts.dip import (
    UNTOLD_LAG_S,
    LongestLag,
    Swing,
    falls_too_sharp,
    is_quick,
    longest_lag,
    read_swing,
)
from passband.analysis.shifts.edges import (
    CLUTCHED_S,
    COMMANDS,
    LEAST_PULL_MPS2,
    LOST_BLUR_S,
    STILL_AHEAD,
    TRIED_AGAIN_S,
    Began,
    find_carry,
    find_start,
)
from passband.analysis.shifts.fall import FALL_SHARE, QUICK_S, Fall, find_fall, find_fall_by_depth, lost_within
from passband.analysis.shifts.figures import (
    beyond_usual_s,
    lowest_rpm_of_shift,
    measure_boost_through,
    measure_cost,
    rpm_before_shift,
)
from passband.analysis.shifts.flag_timing import FLAGS, Told, settle_flags
from passband.analysis.shifts.interruptions import (
    PULLED_DOWN,
    PULLED_WITHIN_S,
    Interruption,
    find_lifts,
    find_limiter,
    tell_interruptions,
)
from passband.analysis.shifts.kinds import name_shifts, tell_flared, tell_lifted, tell_missed, with_band
from passband.analysis.shifts.signalled_changes import find_signalled_changes
from passband.analysis.shifts.step import rpm_after_shift
from passband.analysis.shifts.unseen import Gap, find_gap

COMMANDS_WITHIN_S = 0.2
"""The fall that a torque cut commands is half over within this: 0.13 s, half as long again for a slow box. [s]"""
PULLED_THROUGH_S, PULLED_SHARE = 0.2, 0.7
"""No gear is changed by dogs or packs in more than the first; a car that keeps that share of its pull through a change
so long was driven by the next gear meanwhile: facings that slip and tires that spin pull on. What lies between its
start and where engine speed meets the gear is open then. [s], [-]"""
KEPT_WITHIN_S = 2.0
"""A converter is down to the slip that it keeps, or locked, so long after a shift. [s]"""
EARLIEST_S = 0.25
"""No shift comes sooner after the launch; the clutch is still biting. [s]"""
FALL_BEFORE_S, FALL_AFTER_S = 0.4, 0.3
"""Where tires spin, the path through the gears names a change this much too late or too early. [s]"""
NEAR_LEVEL, CONVERTER_AHEAD = 0.05, 0.35
"""How far from a gear's level, log, samples still tell where it stands; how far a converter runs ahead of it. [-]"""

AT_CHANGE_S, GENTLER = 0.1, 0.5
"""A fall of the whole step within so long of where the path changes gear is the shift; one later by so long, and which
takes less than this share of it in the same time, is tires that take hold. [s], [-]"""
SLID_SHARE = 0.1
"""An engine that loses less than this of the step between two gears where its ratio passes mid-way did not change gear
there. [-] By arithmetic: a clutch that holds what the engine gives and no more still takes up what the engine's inertia
gives while it falls."""
DRAWN_SHARE = 0.08
"""It did where it had lost this. [-] By arithmetic."""
DRAWN_TIMES = 3.0
"""And so many times as much. [-] By arithmetic."""
FLAG_ACTS_S = 0.0055
"""95 % of what is open of when torque goes after the flag of a cut: an ECU's loop of 5 to 10 ms has its turn, then one
firing interval to half an engine cycle passes, 2 to 10 ms at 5,000 to 10,000 rpm. [s] By arithmetic."""
CAME_IN_S = 0.05
"""A gear that has just come in is not left sooner. [s]"""
CARRIED_WITHIN_S = 0.3
"""A gear that is in holds the engine at its own speed for most of so long. [s]"""
MISSED_WITHIN_S = 2.5
"""One missed is found within this. [s]"""


@dataclass(frozen=True, slots=True)
class FoundShifts:
    """The shifts of a run."""

    shifts: tuple[Shift, ...] = ()
    """In order of time."""
    findings: tuple[Finding, ...] = ()
    """What is less sure than it looks, and changes of gear that could not be measured."""
    kinds: tuple[ShiftKind, ...] = ()
    """What each was before the band was asked."""
    limited: tuple[Interruption, ...] = ()
    """Stretches on the limiter."""


def find_shifts(driveline: DrivelineState | None, motion: Motion, evidence: RunEvidence, gears: Gears) -> FoundShifts:
    """Find each change of gear of a run and what it did.

    Parameters
    ----------
    driveline : DrivelineState or None
        As read from the same motion and evidence; None where engine speed is not known.
    motion : Motion
        ET.
    evidence : RunEvidence
        Of the run.
    gears : Gears
        As labelled.

    Returns
    -------
    FoundShifts
        In order of time, perhaps none.
    """
    if driveline is None:
        return FoundShifts()
    engine, end_s = driveline.engine, evidence.end_s
    pairs = [
        (left, right) for left, right in pairwise(gears.intervals) if left.gear != right.gear and left.start_s < end_s
    ]
    found = _measure_all(pairs, driveline, motion, evidence)
    shifts = [shift for shift in found if shift is not None and evidence.launch_s + EARLIEST_S < shift.time_s < end_s]
    # Where the ratio glides an engine stands because the belt lets it.
    held = [] if gears.basis is GearBasis.GLIDES else find_limiter(evidence, shifts)
    lifts = find_lifts(evidence, shifts)
    seen = motion.basis is not SpeedBasis.ENGINE_SPEED
    named = name_shifts(shifts, engine, evidence.traces, evidence.car, limiter=held, finish_s=end_s, speed_seen=seen)
    lost = [pair for pair, shift in zip(pairs, found, strict=True) if shift is None and pair[1].start_s < end_s]
    findings = (
        *_doubt_rate(engine, shifts),
        *_not_measured(lost),
        *tell_missed(named, engine),
        *tell_lifted(named),
        *tell_flared(named, engine),
        *tell_interruptions([*held, *lifts]),
    )
    return FoundShifts(
        with_band(named, evidence.car.rpm_band), findings, tuple(shift.kind for shift in named), tuple(held)
    )


@dataclass(frozen=True, slots=True)
class _Edges:
    """A shift's start and end, and what the wheels' speed then asked of the engine."""

    start: Edge
    end: Edge
    wheels_rpm: float
    step: float
    geared_rpm: float | None
    """What the wheels' speed asked of the engine in the gear before, at the start; None behind a converter."""
    gap: Gap | None = None
    """Where engine speed is missing about it; None where it was seen."""


def _measure_all(
    pairs: list[tuple[GearInterval, GearInterval]], driveline: DrivelineState, motion: Motion, evidence: RunEvidence
) -> list[Shift | None]:
    """All changes of gear: where each lies, what they say together of the pick-up, then what each one did."""
    edges = _edges_of_all(pairs, driveline, motion, evidence)
    swings = [] if evidence.converter else _swings([one for one in edges if one is not None], driveline.engine)
    if driveline.engine.lag_measured and falls_too_sharp(swings, driveline.engine):
        driveline = replace(driveline, engine=driveline.engine.of_usual_lag())
        edges = _edges_of_all(pairs, driveline, motion, evidence)
    found = [one for one in edges if one is not None]
    lag = _usual_lag(driveline.engine) if evidence.converter else _longest_lag(found, driveline.engine)
    return [
        None if one is None else _measure(pair, one, driveline.engine, motion, evidence, longest_lag=lag)
        for pair, one in zip(pairs, edges, strict=True)
    ]


def _edges_of_all(
    pairs: list[tuple[GearInterval, GearInterval]], driveline: DrivelineState, motion: Motion, evidence: RunEvidence
) -> list[_Edges | None]:
    by_ground = driveline.turn.source is TurnSource.GROUND_SPEED and not evidence.converter
    about_s = [right.start_s for _, right in pairs]
    places: list[float | None] = find_signalled_changes(evidence, about_s) if by_ground else [None] * len(pairs)
    edges = [
        _find_edges(left, right, driveline, motion, evidence, told_s=place)
        for (left, right), place in zip(pairs, places, strict=True)
    ]
    if not evidence.converter:
        edges = _with_flags_on_time(edges, [left for left, _ in pairs], driveline.engine)
    return edges


def _usual_lag(engine: EngineSpeed) -> LongestLag:
    return LongestLag(engine.longest_lag_s, engine.longest_lag_s)


def _longest_lag(edges: list[_Edges], engine: EngineSpeed) -> LongestLag:
    """How slow the pick-up may be, as far as the run's own shifts tell."""
    if engine.lag_measured:
        return _usual_lag(engine)
    quick = is_quick([one.end.time_s - one.start.time_s for one in edges])
    lag = longest_lag(_swings(edges, engine), quick=quick)
    return replace(lag, after_s=max(lag.after_s, UNTOLD_LAG_S)) if quick else lag


def _swings(edges: list[_Edges], engine: EngineSpeed) -> list[Swing]:
    return [swing for one in edges if (swing := _swing(one, engine)) is not None]


def _swing(edges: _Edges, engine: EngineSpeed) -> Swing | None:
    if edges.gap is not None:
        return None
    before = rpm_before_shift(engine, edges.start, geared_rpm=edges.geared_rpm)
    if isinstance(before, Unknown):
        return None
    return read_swing(engine, edges.start.time_s, edges.end.time_s, rpm_before=before.value)


def _measure(
    pair: tuple[GearInterval, GearInterval],
    edges: _Edges,
    engine: EngineSpeed,
    motion: Motion,
    evidence: RunEvidence,
    *,
    longest_lag: LongestLag,
) -> Shift:
    (left, right), start, end = pair, _seen_late(edges.start, longest_lag, engine), edges.end
    falls_by_s = end.time_s if evidence.converter else None
    before = rpm_before_shift(
        engine, start, geared_rpm=edges.geared_rpm, falls_by_s=falls_by_s, most_lag_s=longest_lag.before_s
    )
    after = lowest_rpm_of_shift(engine, start, end, most_lag_s=longest_lag.after_s)
    if edges.gap is not None:
        before, after = before if start.evidence != edges.gap.start.evidence else edges.gap.unknown, edges.gap.unknown
    boost = measure_boost_through(evidence.boost, start.time_s, end.time_s)
    lost = measure_cost(motion, start.time_s, end.time_s, finish_s=evidence.end_s)
    return Shift(
        from_gear=left.gear,
        to_gear=right.gear,
        time_s=start.time_s,
        time_plus_minus_s=start.plus_minus_s,
        end_s=end.time_s,
        duration_s=end.time_s - start.time_s,
        distance_m=float(np.interp(start.time_s, motion.time_s, motion.distance_m)),
        kind=ShiftKind.NORMAL,
        rpm_before=before,
        rpm_after=after,
        rpm_drop=_drop(before, after),
        expected_rpm_after=_expected(before, edges),
        margin_to_band_low_rpm=BAND_NOT_GIVEN,
        margin_to_band_high_rpm=BAND_NOT_GIVEN,
        boost_before_pa=boost.before_pa,
        boost_lowest_pa=boost.lowest_pa,
        boost_recovery_s=boost.recovery_s,
        time_lost_s=lost.time_s,
        speed_lost_mps=lost.speed_mps,
        cost_s=lost.at_finish_s,
    )


def _seen_late(start: Edge, longest_lag: LongestLag, engine: EngineSpeed) -> Edge:
    """A start that engine speed tells is open by what is open of the pick-up's lag; a flag's by when it acts."""
    if start.evidence in FLAGS:
        return replace(start, plus_minus_s=float(np.hypot(start.plus_minus_s, FLAG_ACTS_S)))
    if start.evidence != "engine_speed":
        return start
    late_s = beyond_usual_s(engine, longest_lag.before_s)
    return replace(start, plus_minus_s=float(np.hypot(start.plus_minus_s, late_s)))


def _drop(before: Estimate | Unknown, after: Estimate | Unknown) -> Estimate | Unknown:
    if isinstance(before, Unknown):
        return before
    return after if isinstance(after, Unknown) else difference(before, after)


def _find_edges(
    left: GearInterval,
    right: GearInterval,
    driveline: DrivelineState,
    motion: Motion,
    evidence: RunEvidence,
    *,
    told_s: float | None,
) -> _Edges | None:
    """The fall between the two gears first, then what lies before and after it."""
    engine, turn, about, slips = driveline.engine, driveline.turn, driveline.known_levels, evidence.converter
    if max(left.gear, right.gear) > about.size:
        return None  # the gear channel alone names them: what the engine must turn at is not known
    level_before = _level(turn, max(left.start_s, left.end_s - 1.2), left.end_s, about[left.gear - 1], slips)
    level_after = _level(turn, right.start_s, min(right.start_s + 0.8, right.end_s), about[right.gear - 1], slips)
    driven, log_step = _driven_at(engine, turn), float(about[left.gear - 1] - about[right.gear - 1])
    half_way = driven * np.exp(0.5 * (level_before + level_after))
    earliest_s, by_ground = left.start_s + CAME_IN_S, turn.source is TurnSource.GROUND_SPEED
    early_s, late_s = max(earliest_s, left.end_s - 0.3), right.start_s + 0.7
    fall = find_fall(engine, half_way, earliest_s=early_s, latest_s=late_s)
    sure = fall is not None and not slips and not _spins_after(motion, fall)
    if fall is not None and sure and not _carried(engine, driven * np.exp(level_after), fall):
        fall = _later_fall(engine, half_way, driven * np.exp(level_after), fall, until_s=right.end_s) or fall
    if fall is None and not slips:
        early_s, late_s = max(earliest_s, left.end_s - FALL_BEFORE_S), right.start_s + FALL_AFTER_S
        fall = find_fall_by_depth(engine, log_step, earliest_s=early_s, latest_s=late_s)
    if fall is not None and by_ground and not slips:
        fall = _quick_fall(engine, evidence.traces, fall, log_step, between_s=(left.end_s, right.start_s)) or fall
    if fall is None and slips:
        drawn_to = _drawn_to(turn, left.end_s, right.start_s)
        half_way = driven * np.exp(0.5 * (level_before + max(drawn_to, level_after)))
        fall = find_fall(engine, half_way, earliest_s=early_s, latest_s=late_s)
    if not slips and not by_ground:
        fall = _fall_slid_away(engine, evidence.traces, fall, log_step, (left, right)) or fall
    hidden = _hidden_fall(engine, fall, told_s, evidence.traces if by_ground and not slips else None)
    fall = hidden or fall
    if fall is None:
        return None
    earliest_s = _earliest(left, fall.middle_s)
    geared_rpm = None
    if slips:
        start = find_ratio_change(engine, fall, earliest_s=earliest_s, motion=motion)
        end = find_takeover(engine, fall, start_s=start.time_s if start else fall.middle_s - 0.1)
    else:
        this_gear = driven * np.exp(level_before) if hidden is None else np.full(driven.size, np.inf)
        start = find_start(
            engine, this_gear, evidence.traces, motion, fall=fall, earliest_s=earliest_s, by_ground=by_ground
        )
        began = None if start is None else Began(start.time_s, log_step)
        end = find_carry(
            engine, driven * np.exp(level_after), fall=fall, by_ground=by_ground, motion=motion, began=began
        )
        if not by_ground:
            end = _open_while_slipping(engine, evidence.traces, driven * np.exp(level_after), start, end)
        end = _open_while_pulling(evidence.traces, motion, start, end)
    keeps = _kept_level(turn, right, about[right.gear - 1]) if slips else about[right.gear - 1]
    let_up_s = end.time_s + FLUID_LATE_S if slips else end.time_s
    wheels = float(np.interp(let_up_s, engine.true_time_s, driven)) * float(np.exp(keeps))
    step = float(np.exp(about[right.gear - 1] - about[left.gear - 1]))
    start = start or Edge(fall.middle_s - 0.03, float(np.hypot(0.05, engine.step_s)), "ratio")
    if not slips:
        geared_rpm = float(np.interp(start.time_s, engine.true_time_s, driven)) * float(np.exp(level_before))
    if start.evidence == "engine_speed" and start.time_s > engine.copied_from_s:
        start = replace(start, plus_minus_s=float(np.hypot(start.plus_minus_s, engine.copy_step_s)))
    gap = find_gap(engine, fall)
    if gap is not None:
        start, end = gap.start if start.evidence not in COMMANDS else start, gap.end
    elif end.time_s <= start.time_s:
        return None  # a fall that is over before anything shows its start is not the shift's: tires that take hold
    return _Edges(start, end.not_before(start), wheels, step, geared_rpm, gap)


def _earliest(left: GearInterval, changed_s: float) -> float:
    """From when on a gear may be left: it came in before, be it that the path has it later than its change away."""
    began_s = left.start_s + CAME_IN_S
    return began_s if began_s < changed_s else changed_s - CARRIED_WITHIN_S


def _with_flags_on_time(
    edges: list[_Edges | None], lefts: list[GearInterval], engine: EngineSpeed
) -> list[_Edges | None]:
    """Each start where torque was cut, if a flag tells it that engine speed shows to be late or early."""
    told = [
        Told(one.start, _earliest(left, one.start.time_s), one.end.time_s)
        for one, left in zip(edges, lefts, strict=True)
        if one is not None
    ]
    starts = iter(settle_flags(told, engine))
    return [
        None if one is None else replace(one, start=(start := next(starts)), end=one.end.not_before(start))
        for one in edges
    ]


def _hidden_fall(engine: EngineSpeed, fall: Fall | None, told_s: float | None, cuts: Traces | None) -> Fall | None:
    """The fall where the driver changed gear, if the one found is not there: it is then tires that take hold again.

    Told by the count of all signs of the run; else by a torque cut too long before the fall to have commanded it.
    """
    if told_s is not None and fall is not None and abs(fall.middle_s - told_s) < CLUTCHED_S:
        told_s = None
    if told_s is None and fall is not None and cuts is not None:
        given_s = find_commands(cuts, start_s=fall.middle_s - CLUTCHED_S, stop_s=fall.middle_s)
        told_s = float(given_s[0]) if given_s.size == 1 and fall.middle_s - given_s[0] > COMMANDS_WITHIN_S else None
    if told_s is None:
        return None
    early_s, late_s = told_s - 0.05, told_s + PULLED_WITHIN_S + 0.1
    return find_fall_by_depth(engine, PULLED_DOWN / FALL_SHARE, earliest_s=early_s, latest_s=late_s)


def _quick_fall(
    engine: EngineSpeed, traces: Traces, found: Fall, step: float, *, between_s: tuple[float, float]
) -> Fall | None:
    """The fall at the change itself, where the one found after it is that of spinning tires that take hold.

    They keep the engine above mid-way between the gears for as long as they spin; it then sinks gently.
    """
    quick = find_fall_by_depth(
        engine, step / FALL_SHARE, earliest_s=between_s[0] - AT_CHANGE_S, latest_s=between_s[1] + AT_CHANGE_S
    )
    if quick is None or found.middle_s < quick.middle_s + AT_CHANGE_S or not foot_stayed(traces, quick.middle_s):
        return None
    return quick if lost_within(engine, found) < GENTLER * lost_within(engine, quick) else None


def _fall_slid_away(
    engine: EngineSpeed, traces: Traces, found: Fall | None, step: float, about: tuple[GearInterval, GearInterval]
) -> Fall | None:
    """The fall at the change itself, where the one found is none: a clutch that slipped on brought the ratio down.

    The next gear is in, the engine a little drawn down and far ahead of it; as its clutch takes hold, much later, the
    wheels come up to the engine, which hardly falls. Only against what the engine drives: tires that spin, or are
    pedalled, look alike by the ground.
    """
    left, right = about
    loses = 0.0 if found is None else lost_within(engine, found)
    if loses > SLID_SHARE * step:
        return None
    least = max(DRAWN_SHARE * step, DRAWN_TIMES * loses)
    earliest_s = left.start_s + CARRIED_WITHIN_S
    if found is None:
        earliest_s = max(earliest_s, left.end_s - FALL_BEFORE_S)
    latest_s = right.start_s + FALL_AFTER_S if found is None else found.middle_s
    drawn = find_fall_by_depth(engine, least / FALL_SHARE, earliest_s=earliest_s, latest_s=latest_s)
    if drawn is None or not _stays_down(engine, drawn, 0.5 * least):
        return None
    return drawn if traces.get("throttle") is None or foot_stayed(traces, drawn.middle_s) else None


def _open_while_slipping(
    engine: EngineSpeed, traces: Traces, next_gear_rpm: FloatArray, start: Edge | None, end: Edge
) -> Edge:
    """The end of a shift, open back to its start where the clutch still slips far at it and the foot had stayed down.

    Nothing was cut: the next gear may have driven the car all along, and engine speed fall for the clutch alone.
    """
    ahead = float(engine.at(end.time_s) / np.interp(end.time_s, engine.true_time_s, next_gear_rpm)) - 1.0
    if start is None or ahead < STILL_AHEAD or not foot_stayed(traces, start.time_s):
        return end
    return replace(end, plus_minus_s=float(np.hypot(end.plus_minus_s, max(end.time_s - start.time_s, 0.0))))


def _open_while_pulling(traces: Traces, motion: Motion, start: Edge | None, end: Edge) -> Edge:
    """The end of a shift, open back to its start where the car pulled on all the while and nothing else opens it."""
    lasts_s = 0.0 if start is None else end.time_s - start.time_s
    if start is None or end.plus_minus_s >= 0.5 * lasts_s or not _pulled_through(traces, motion, start, end):
        return end
    return replace(end, plus_minus_s=float(np.hypot(end.plus_minus_s, lasts_s)))


def _pulled_through(traces: Traces, motion: Motion, start: Edge, end: Edge) -> bool:
    """Whether the car is seen to pull on through a long change: the next gear may have driven it all along.

    A pack or a clutch that slips on and tires that spin on let engine speed fall for as long; the ground does not tell.
    """
    throttle = traces.get("throttle")
    if end.time_s - start.time_s < PULLED_THROUGH_S or motion.basis is SpeedBasis.ENGINE_SPEED:
        return False
    if throttle is not None and not foot_stayed(traces, start.time_s):
        return False
    before = (motion.time_s > start.time_s - CLUTCHED_S) & (motion.time_s < start.time_s - LOST_BLUR_S)
    inside = (motion.time_s > start.time_s + 0.5 * LOST_BLUR_S) & (motion.time_s < end.time_s - 0.5 * LOST_BLUR_S)
    if before.sum() < 10 or not inside.any():
        return False
    pull = float(np.median(motion.acceleration_mps2[before]))
    return pull > LEAST_PULL_MPS2 and float(np.mean(motion.acceleration_mps2[inside])) > PULLED_SHARE * pull


def _stays_down(engine: EngineSpeed, fall: Fall, least: float) -> bool:
    """Whether an engine is not back soon where it fell from, as from a limiter's bounce or a shake's swing."""
    time_s = engine.time_s
    before = engine.rpm[(time_s > fall.middle_s - QUICK_S) & (time_s <= fall.middle_s)]
    after = engine.rpm[(time_s > fall.middle_s + QUICK_S) & (time_s <= fall.middle_s + 2.0 * QUICK_S)]
    return bool(before.size and after.size and np.log(before.max() / after.max()) > least)


def _spins_after(motion: Motion, fall: Fall) -> bool:
    """Whether the tires spin as the next gear takes hold: then the engine turns with them, and not with the ground."""
    about = (motion.time_s > fall.middle_s - CARRIED_WITHIN_S) & (motion.time_s < fall.bottom_s + CARRIED_WITHIN_S)
    return bool(motion.spinning[about].any())


def _carried(engine: EngineSpeed, next_gear_rpm: FloatArray, fall: Fall) -> bool:
    """Whether the engine, once fallen, turned with the next gear: in neutral it sinks, and does not stay."""
    since = (engine.true_time_s > fall.bottom_s - 0.03) & (engine.true_time_s < fall.bottom_s + CARRIED_WITHIN_S)
    if np.count_nonzero(since) < 3:
        return True
    off = np.log(np.maximum(engine.rpm[since], 1.0) / np.maximum(next_gear_rpm[since], 1.0))
    return float(np.mean(np.abs(off) < NEAR_LEVEL)) > 0.5


def _later_fall(
    engine: EngineSpeed, half_way_rpm: FloatArray, next_gear_rpm: FloatArray, first: Fall, *, until_s: float
) -> Fall | None:
    """The fall after which the next gear did carry, where it was missed at first; None where there is none."""
    latest_s = min(first.middle_s + MISSED_WITHIN_S, until_s)
    fall: Fall | None = first
    while fall is not None and not _carried(engine, next_gear_rpm, fall):
        fall = find_fall(engine, half_way_rpm, earliest_s=fall.bottom_s + TRIED_AGAIN_S, latest_s=latest_s)
    return fall


def _level(turn: TurnRatio, start_s: float, stop_s: float, about: float, slips: bool) -> float:
    """The log ratio kept within a stretch, near what the gear is known by; a converter may run ahead of it."""
    off = turn.log_ratio - about
    ahead = CONVERTER_AHEAD if slips else NEAR_LEVEL
    inside = (turn.time_s >= start_s) & (turn.time_s <= stop_s) & (off > -NEAR_LEVEL) & (off < ahead)
    return about + float(np.median(off[inside])) if inside.any() else about


def _drawn_to(turn: TurnRatio, left_s: float, entered_s: float) -> float:
    """The lowest log ratio about a change: a converter that slips far in the next gear never comes near its level."""
    about = turn.log_ratio[(turn.time_s >= left_s) & (turn.time_s <= entered_s + CARRIED_WITHIN_S)]
    known = about[np.isfinite(about)]
    return float(known.min()) if known.size else -np.inf


def _kept_level(turn: TurnRatio, gear: GearInterval, about: float) -> float:
    """The log ratio that a converter comes down to in a gear: locked, or with the slip that it keeps."""
    inside = (turn.time_s >= gear.start_s) & (turn.time_s <= min(gear.end_s, gear.start_s + KEPT_WITHIN_S))
    known = turn.log_ratio[inside & np.isfinite(turn.log_ratio)]
    return max(about, float(np.quantile(known, 0.1))) if known.size else about


def _driven_at(engine: EngineSpeed, turn: TurnRatio) -> FloatArray:
    """Speed of what the engine drives, when the engine's samples were true."""
    known = np.isfinite(turn.driven)
    return np.asarray(np.interp(engine.true_time_s, turn.time_s[known], turn.driven[known]), dtype=np.float64)


def _expected(before: Estimate | Unknown, edges: _Edges) -> float:
    """By the step between the ratios; by the wheels as the next gear carries where RPM before is not known.

    Behind a converter the lesser of that and of what the wheels ask with the slip that the next gear comes down to: it
    may have unlocked before the shift, and may not be down to its slip before the gear is left.
    """
    if isinstance(before, Unknown):
        return edges.wheels_rpm
    stepped = float(rpm_after_shift(before.value, ratio_before=1.0, ratio_after=edges.step))
    return stepped if edges.geared_rpm is not None else min(stepped, edges.wheels_rpm)


def _not_measured(pairs: list[tuple[GearInterval, GearInterval]]) -> list[Finding]:
    """Changes of gear that the path shows and engine speed does not: said, not dropped."""
    return [
        Finding(
            "shift-not-measured",
            "caution",
            f"By engine over ground speed gear {right.gear} follows gear {left.gear} at about {right.start_s:.2f} s, "
            "but engine speed shows no fall there: that shift is not in the table. Tires that spin can hide it.",
            f"{right.start_s:.2f} s",
        )
        for left, right in pairs
    ]


def _doubt_rate(engine: EngineSpeed, shifts: list[Shift]) -> list[Finding]:
    if not shifts or engine.step_s <= 0.021:
        return []
    text = (
        f"Engine speed is logged {1 / engine.step_s:.0f} times a second: the lowest engine speed of a quick shift "
        "lasts 5 to 10 ms and is not seen; log it at 100 Hz or more."
    )
    return [Finding("engine-speed-too-slow-for-shifts", "note", text, "engine speed")]
