"""Where a shift starts and where the next gear carries, as engine speed shows it.

Public: `find_freed`, `find_start`, `find_lost_pull`, `find_carry`, `Began`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.sensors.cut_signals import (
    LIFTS_WITHIN_S,
    Edge,
    find_commanded_cut,
    find_commands,
    foot_stayed,
)
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.shifts.fall import QUICK_S, Fall
from passband.analysis.shifts.handover import start_of_handover
from passband.analysis.shifts.kink import find_kink
from passband.analysis.shifts.left_gear import LeftGear, find_left
from passband.analysis.statistics.filters import slope

CLUTCHED_S = 0.45
"""A shift with the foot falls into the next gear within this of its lift; a longer one was missed at first. [s]"""
MISSED_S = 2.5
"""A gear that was missed is in within this, or the run is given up. [s]"""
FREE_SHARE, FREE_BREAK_S = 0.02, 0.06
"""An engine this share over its gear's speed is let loose; shorter breaks than the other do not end that. [-], [s]"""
LOOSE_S = 0.25
"""An engine let loose so long before what commanded the fall was let loose by a first try. [s]"""
COMMANDS, SECOND_TRY_S = ("shift_cut", "shift_lever", "ignition_advance"), 0.1
"""What tells a torque cut by itself; one so long after the engine was let loose is a second try. [s]"""
BITING_S = 0.2
"""From the moment a biting clutch has it below that until mid-fall. [s]"""
COMMAND_TO_FALL_S = 0.06
"""From a torque cut's command until the engine falls, about. [s]"""
LIFT_TO_KINK_S = 0.04
"""With the foot, engine speed bends so long after the lift: 15 to 60 ms, as clutch and throttle are worked. [s]"""
LETS_GO_S, LETS_GO_PLUS_MINUS_S = 0.006, 0.012
"""A clutch let go with the foot down slips before engine speed is seen to leap: its plates part over 20 to 50 ms, in
the last part of which it holds less than the engine gives. [s], [s] Common practice, no source."""
SUNK_SHARE, SINKS_WITHIN_S = 0.015, 0.05
"""An engine this share below its gear's speed has left it, with the first so much earlier at most. [-], [s]"""
SURGE_S = 0.16
"""A biting clutch drives the car by the engine's own inertia for at most so long before mid-fall. [s]"""
LET_GO_SHARE = 0.008
"""An open clutch lets the engine run ahead of its gear by at least this on average. [-]"""
LOST_BLUR_S = 0.08
"""How far fused acceleration may lag or smear the loss of pull. [s]"""
LOST_SHARE = 0.3
"""A car that pulls less than this share of what it did has no gear in: tires that spin hold most of their pull. [-]"""
LEAST_PULL_MPS2 = 1.0
"""Below it the loss of pull is lost in the noise. [m/s2]"""
TRIED_AGAIN_S = 0.2
"""Nobody tries a gear that was missed again sooner: a fall so soon after another is tires that take hold again. [s]
Common practice, no source."""
FOOT, PULLED_ON_RISE = ("throttle", "manifold_pressure"), 0.02
"""What a foot moves. An engine that rises by the share from a lift on, longer than a quick shift takes and with the car
pulling on, is still in gear: a foot feathers the throttle so where tires spin. [-]"""
SHUT_FOR_S, SHUT_SHARE, TWO_TRIES_S = 0.03, 0.15, 1.2
"""A throttle shut to that share for so long drives no engine up; one let loose rises on by what it had wound up and by
what is left in its manifold: two turns at 4,000 rpm, by arithmetic. Two lifts for one gear lie no further apart.
[s], [-], [s] Common practice, no source."""
STOPPED_SHARE, ROSE_SHARE = 0.3, 0.01
"""So much of the fall lies behind where it had stopped; so much engine speed rose from there. [-], [-]"""
EASED, EASED_S, STILL_AHEAD = 0.55, 0.06, 0.08
"""A fall that from a moment on keeps to less than the first of its steepest slope, for the second, with the engine that
much above the next gear's speed by the ground, may have ended there: the gear has hold of tires that spin. [-], [s],
[-]"""
TOOK_SHARE, DRAGGED_S = 0.9, 0.05
"""A fall of that share of the step, within the time of another try, took the whole of it: tires that spin are drawn
down a little by the engine. One of `STOPPED_SHARE` within the other took hold as well: no engine loses that by itself,
and light tires are turned up to it. [-], [s] By arithmetic: 8 % of 7,000 rpm in 50 ms is 11,000 rpm/s, friction alone
takes 5,000."""
SHOULDER, STEEPER = 0.4, 1.25
"""It did where it all but stops at less than the first of its steepest slope and then falls faster by the second: tires
that take hold again. A clutch that slips on lets go of nothing between. [-], [-]"""
LEFT_EARLY_S, LEFT_BENT_S, GENTLY_S = 0.02, 0.06, 0.012
"""An engine seen off its gear for good by more than the first before the bend taken for the start had left it there; it
bent within the second before it is seen off it, or so gently that where it began is open by the third. [s], [s], [s]"""
CARRY_PLUS_MINUS_S, UNMET_PLUS_MINUS_S = 0.012, 0.03
"""95 % half-width of when the next gear carries, by engine speed alone; and where engine speed never meets the wheels':
tires that spin, or a clutch that slips on, are taken hold of anywhere on the fall, which lasts 30 to 60 ms. [s], [s]"""


def find_freed(engine: EngineSpeed, this_gear_rpm: FloatArray, *, fall: Fall, earliest_s: float) -> float:
    """Since when the engine had run ahead of the gear before, when it fell into the next.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    this_gear_rpm : array, shape (n,)
        What the engine would turn in the gear before at each sample's true time. [rpm]
    fall : Fall
        The fall into the next gear.
    earliest_s : float
        How far back to look. [s]

    Returns
    -------
    float
        The fall itself where it did not run ahead, or had never run with that gear: spinning tires, a biting clutch.
        [s]
    """
    ahead = engine.rpm > (1 + FREE_SHARE) * this_gear_rpm
    before = np.flatnonzero((engine.time_s >= earliest_s) & (engine.time_s <= fall.middle_s))
    freed = fall.middle_s
    for index in before[::-1]:
        if ahead[index]:
            freed = float(engine.true_time_s[index])
        elif freed - float(engine.true_time_s[index]) > (BITING_S if freed == fall.middle_s else FREE_BREAK_S):
            return freed
    return fall.middle_s


def find_start(
    engine: EngineSpeed,
    this_gear_rpm: FloatArray,
    traces: Traces,
    motion: Motion,
    *,
    fall: Fall,
    earliest_s: float,
    by_ground: bool = True,
) -> Edge | None:
    """The moment at which drive torque is cut.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    this_gear_rpm : array, shape (n,)
        What the engine would turn in the gear before at each sample's true time. [rpm]
    traces : Traces
        The signal that commands the cut beats the engine's answer to it.
    motion : Motion
        Where the car stopped pulling tells how far before the fall to look.
    fall : Fall
        The fall into the next gear.
    earliest_s : float
        The gear before was not yet in earlier than this. [s]
    by_ground : bool
        True where `this_gear_rpm` is by ground speed: tires that spin let the engine run ahead of it as an open clutch
        does. By the driven wheels only the clutch does.

    Returns
    -------
    Edge or None
        None where nothing marks it.
    """
    gripping = np.where(_spun(engine, motion), np.inf, this_gear_rpm) if by_ground else this_gear_rpm
    freed_s = find_freed(engine, gripping, fall=fall, earliest_s=earliest_s)
    if _pulled_on(motion, freed_s, fall):
        freed_s = fall.middle_s
    commanded = find_commanded_cut(traces, fall_s=fall.middle_s, earliest_s=earliest_s)
    if commanded is not None and commanded.evidence in FOOT and freed_s == fall.middle_s:
        top_s = _pulled_on_to(engine, motion, commanded.time_s, fall)
        if top_s is not None and not _shut_at(traces, top_s):
            return _start_after_feathering(engine, traces, top_s, fall)
    late = commanded is not None and commanded.time_s - freed_s > LOOSE_S
    if late or fall.middle_s - freed_s > CLUTCHED_S:
        loose_s = _loose_since(motion, freed_s, fall, earliest_s)
        return _start_of_missed(engine, traces, loose_s, earliest_s)
    if fall.middle_s - freed_s > SECOND_TRY_S:
        commanded = _first_try(commanded, traces, freed_s, earliest_s)
    if commanded is None:
        commanded = _lone_command(traces, fall, earliest_s)
    if commanded is not None:
        return _first_lift(commanded, traces, motion, earliest_s)
    seen = _seen_start(
        engine, this_gear_rpm, traces, motion, fall=fall, earliest_s=earliest_s, by_ground=by_ground, freed_s=freed_s
    )
    alone = motion.basis is SpeedBasis.ENGINE_SPEED
    left = find_left(
        engine, this_gear_rpm, fall=fall, earliest_s=earliest_s, by_ground=by_ground and not alone, alone=alone
    )
    if seen is None or left is None or seen.time_s - left.seen_s <= LEFT_EARLY_S + 0.5 * engine.step_s:
        return seen
    return _start_of_leaving(engine, traces, left, earliest_s)


def _pulled_on_to(engine: EngineSpeed, motion: Motion, lifted_s: float, fall: Fall) -> float | None:
    """Until when an engine rose in its gear after a lift that was no shift's; None where the lift may be one's. [s]."""
    time_s = engine.true_time_s
    since = np.flatnonzero((time_s >= lifted_s) & (time_s <= fall.middle_s))
    if since.size < 2:
        return None
    top = int(since[np.argmax(engine.rpm[since])])
    top_s = float(time_s[top])
    rose = engine.rpm[top] > (1.0 + PULLED_ON_RISE) * float(engine.at(lifted_s)) + 4.0 * engine.noise_rpm
    if not rose or top_s - lifted_s < QUICK_S or motion.basis is SpeedBasis.ENGINE_SPEED:
        return None
    meanwhile = (motion.time_s > lifted_s) & (motion.time_s < top_s - 0.5 * LOST_BLUR_S)
    pull = _pull_in_gear(motion, lifted_s - CLUTCHED_S, lifted_s)
    if pull is None or not meanwhile.any():
        return None
    least = float(motion.acceleration_mps2[meanwhile].min())
    return top_s if pull > LEAST_PULL_MPS2 and least > 0.5 * pull else None


def _shut_at(traces: Traces, top_s: float) -> bool:
    """Whether the throttle had been shut when the engine was at its highest: then the clutch let it rise, no gear."""
    throttle = traces.get("throttle")
    if throttle is None or throttle.known.time_s.size < 4:
        return False
    known, step_s = throttle.known, float(np.median(np.diff(throttle.known.time_s)))
    before = known.values[(known.time_s > top_s - max(SHUT_FOR_S, 1.5 * step_s)) & (known.time_s <= top_s)]
    return bool(before.size and float(before.max()) < SHUT_SHARE * float(known.values.max()))


def _start_after_feathering(engine: EngineSpeed, traces: Traces, top_s: float, fall: Fall) -> Edge | None:
    """The start of a shift whose engine had risen in its gear, under a feathered throttle, to a moment."""
    early_s = top_s - QUICK_S
    commanded = find_commanded_cut(traces, fall_s=min(top_s + COMMAND_TO_FALL_S, fall.middle_s), earliest_s=early_s)
    if commanded is not None and (commanded.evidence not in FOOT or 0.0 < top_s - commanded.time_s < LIFTS_WITHIN_S):
        return commanded
    return find_kink(engine, earliest_s=early_s, latest_s=min(top_s + QUICK_S, fall.middle_s))


def _seen_start(
    engine: EngineSpeed,
    this_gear_rpm: FloatArray,
    traces: Traces,
    motion: Motion,
    *,
    fall: Fall,
    earliest_s: float,
    by_ground: bool,
    freed_s: float,
) -> Edge | None:
    """The start that engine speed and the car's pull show, where nothing commands it."""
    if not by_ground and fall.middle_s - freed_s >= QUICK_S:
        return _clutched(engine, traces, freed_s, fall, earliest_s)
    parted_s = _parted(engine, this_gear_rpm, motion, fall, earliest_s=earliest_s, freed_s=freed_s)
    if parted_s is None:
        early_s = min(fall.middle_s - QUICK_S, _sunk_since(engine, this_gear_rpm, fall) - SINKS_WITHIN_S)
        cut_s = _cut_since(engine, motion, fall, earliest_s=earliest_s)
        early_s = early_s if cut_s is None else min(early_s, cut_s - LOST_BLUR_S)
        turned = find_kink(engine, earliest_s=max(early_s, earliest_s), latest_s=fall.middle_s)
        felt = traces.get("acceleration") is not None
        return None if turned is None else start_of_handover(engine, turned, fall, motion, felt=felt)
    return _clutched(engine, traces, parted_s, fall, earliest_s)


def _cut_since(engine: EngineSpeed, motion: Motion, fall: Fall, *, earliest_s: float) -> float | None:
    """Since when the car had not pulled and the engine sunk, long before it fell; None where it did not. [s].

    With its torque cut and the clutch open an engine sinks about as slowly as the car coasts: it may never be seen off
    its gear. On a limiter, which takes the pull as well, it does not sink on.
    """
    lost_s = find_lost_pull(motion, before_s=fall.middle_s, earliest_s=earliest_s)
    if lost_s is None or motion.basis is SpeedBasis.ENGINE_SPEED or fall.middle_s - lost_s < QUICK_S:
        return None
    time_s = engine.true_time_s
    before = engine.rpm[(time_s > lost_s - LOST_BLUR_S) & (time_s < lost_s)]
    since = engine.rpm[(time_s > lost_s + 0.5 * LOST_BLUR_S) & (time_s < fall.middle_s - 0.5 * QUICK_S)]
    if not before.size or since.size < 2:
        return None
    rose = float((since - np.minimum.accumulate(since)).max())
    sinks_on = rose < 4.0 * engine.noise_rpm + 0.1 * SUNK_SHARE * since[0] and since[-1] < since[0]
    return lost_s if sinks_on and since.max() < (1.0 - SUNK_SHARE) * before.max() else None


def _start_of_leaving(engine: EngineSpeed, traces: Traces, left: LeftGear, earliest_s: float) -> Edge:
    """The start of a shift whose engine had left its gear before the bend that was taken for it."""
    early_s = max(left.seen_s - LEFT_BENT_S, earliest_s)
    bent = find_kink(engine, earliest_s=early_s, latest_s=left.seen_s, either_way=True)
    if bent is None:
        open_s = 0.5 * (left.seen_s - left.began_s)
        bent = Edge(left.began_s, float(np.hypot(np.hypot(open_s, GENTLY_S), 0.5 * engine.step_s)), "engine_speed")
    if foot_stayed(traces, bent.time_s):
        return bent
    return Edge(bent.time_s - 0.5 * LIFT_TO_KINK_S, float(np.hypot(bent.plus_minus_s, LIFT_TO_KINK_S)), "engine_speed")


def _sunk_since(engine: EngineSpeed, this_gear_rpm: FloatArray, fall: Fall) -> float:
    """Since when the engine had been below its gear's speed as it fell into the next: packs may slide for long. [s]."""
    time_s = engine.true_time_s
    before = (time_s > fall.middle_s - CLUTCHED_S) & (time_s <= fall.middle_s)
    above = time_s[before & (engine.rpm >= (1.0 - SUNK_SHARE) * this_gear_rpm)]
    if not above.size:
        return fall.middle_s  # it is not seen to leave its gear
    return float(above[-1])


def _parted(
    engine: EngineSpeed,
    this_gear_rpm: FloatArray,
    motion: Motion,
    fall: Fall,
    *,
    earliest_s: float,
    freed_s: float,
) -> float | None:
    """When an open clutch parted engine and car, long before the fall; None where none did."""
    lost_s = find_lost_pull(motion, before_s=fall.middle_s, earliest_s=earliest_s)
    ran_ahead = fall.middle_s - freed_s >= QUICK_S
    if lost_s is None or fall.middle_s - lost_s < QUICK_S:
        return freed_s if ran_ahead and bool(_spun(engine, motion)[engine.true_time_s <= freed_s][-1:].any()) else None
    together = ran_ahead and abs(freed_s - lost_s) < LOST_BLUR_S
    return lost_s if together or _let_go(engine, this_gear_rpm, lost_s, fall) else None


def _clutched(engine: EngineSpeed, traces: Traces, parted_s: float, fall: Fall, earliest_s: float) -> Edge:
    """The start of a shift with the clutch, about where it parted engine and car."""
    latest_s = min(parted_s + LOST_BLUR_S, fall.middle_s)
    kink = find_kink(engine, earliest_s=max(parted_s - LOST_BLUR_S, earliest_s), latest_s=latest_s, either_way=True)
    if kink is None:
        return Edge(parted_s - 0.5 * LOST_BLUR_S, LOST_BLUR_S, "acceleration")
    if foot_stayed(traces, kink.time_s):
        return Edge(kink.time_s - LETS_GO_S, float(np.hypot(kink.plus_minus_s, LETS_GO_PLUS_MINUS_S)), "engine_speed")
    return Edge(kink.time_s - LIFT_TO_KINK_S, float(np.hypot(kink.plus_minus_s, LIFT_TO_KINK_S)), "engine_speed")


def _lone_command(traces: Traces, fall: Fall, earliest_s: float) -> Edge | None:
    """The one command given in the gear before, however long ago: then the next gear slipped until the fall."""
    given_s = find_commands(traces, start_s=earliest_s, stop_s=fall.middle_s)
    if given_s.size != 1:
        return None
    return find_commanded_cut(traces, fall_s=float(given_s[0]) + COMMAND_TO_FALL_S, earliest_s=earliest_s)


def _spun(engine: EngineSpeed, motion: Motion) -> BoolArray:
    """Whether the tires spun at each sample of the engine's."""
    spun = np.interp(engine.true_time_s, motion.time_s, motion.spinning.astype(np.float64), left=0.0, right=0.0)
    return np.asarray(spun > 0.5)


def _pull_in_gear(motion: Motion, from_s: float, until_s: float) -> float | None:
    """What the car usually pulled with between two moments; None where too little of it is seen. [m/s2]."""
    usual = (motion.time_s > from_s) & (motion.time_s < until_s)
    return float(np.quantile(motion.acceleration_mps2[usual], 0.8)) if usual.sum() >= 10 else None


def _pulled_on(motion: Motion, freed_s: float, fall: Fall) -> bool:
    """Whether the car pulled on while the engine ran ahead of its gear: then tires spun, and nothing was let loose."""
    since = (motion.time_s > freed_s + 0.5 * LOST_BLUR_S) & (motion.time_s < fall.middle_s - QUICK_S)
    pull = _pull_in_gear(motion, freed_s - CLUTCHED_S, freed_s)
    if pull is None or fall.middle_s - freed_s < LOOSE_S or not since.any():
        return False
    return pull > LEAST_PULL_MPS2 and float(np.mean(motion.acceleration_mps2[since])) > 0.5 * pull


def _let_go(engine: EngineSpeed, this_gear_rpm: FloatArray, lost_s: float, fall: Fall) -> bool:
    """Whether the engine ran ahead of its gear while the car did not pull: an open clutch; on a limiter it does not.

    Another device's copy is too seldom renewed to show it: there the car's lost pull stands alone.
    """
    if fall.middle_s > engine.copied_from_s:
        return True
    inside = (engine.true_time_s > lost_s + 0.05) & (engine.time_s < fall.middle_s - 0.03)
    return bool(inside.any() and np.mean(engine.rpm[inside] / this_gear_rpm[inside]) > 1 + LET_GO_SHARE)


def _first_try(commanded: Edge | None, traces: Traces, freed_s: float, earliest_s: float) -> Edge | None:
    """The command that let the engine loose, where one did long before the command found: the gear was missed."""
    if commanded is not None and commanded.time_s - freed_s < SECOND_TRY_S:
        return commanded
    first = find_commanded_cut(traces, fall_s=freed_s, earliest_s=earliest_s, freed_s=freed_s)
    if first is None or first.evidence not in ((commanded.evidence,) if commanded is not None else COMMANDS):
        return commanded
    return first


def _first_lift(commanded: Edge, traces: Traces, motion: Motion, earliest_s: float) -> Edge:
    """The lift before the one found, where between the two the throttle was open and nothing pulled: a gear missed.

    An engine without load sinks in neutral while its throttle is shut and leaps as it is opened: it need not stay ahead
    of its gear, as `_first_try` asks.
    """
    throttle = traces.get("throttle")
    if throttle is None or commanded.evidence not in FOOT or motion.basis is SpeedBasis.ENGINE_SPEED:
        return commanded
    known = throttle.known.within(max(earliest_s, commanded.time_s - TWO_TRIES_S), commanded.time_s)
    shut = known.time_s[known.values < SHUT_SHARE * float(np.max(throttle.known.values))]
    if not shut.size:
        return commanded
    between = (motion.time_s > shut[0] + LOST_BLUR_S) & (motion.time_s < commanded.time_s)
    pull = _pull_in_gear(motion, float(shut[0]) - CLUTCHED_S, float(shut[0]) - LOST_BLUR_S)
    if pull is None or between.sum() < 10:
        return commanded
    if not pull > LEAST_PULL_MPS2 or float(motion.acceleration_mps2[between].max()) > LOST_SHARE * pull:
        return commanded
    first = find_commanded_cut(traces, fall_s=float(shut[0]) + COMMAND_TO_FALL_S, earliest_s=earliest_s)
    return first if first is not None and first.evidence in FOOT else commanded


def _loose_since(motion: Motion, freed_s: float, fall: Fall, earliest_s: float) -> float:
    """Since when a shift that was missed had let the engine loose: in neutral it may sink below its gear, not above."""
    lost_s = find_lost_pull(motion, before_s=fall.middle_s, earliest_s=earliest_s, reach_s=MISSED_S)
    return freed_s if lost_s is None else min(freed_s, lost_s + LOST_BLUR_S)


def _start_of_missed(engine: EngineSpeed, traces: Traces, freed_s: float, earliest_s: float) -> Edge:
    """A shift that was missed at first starts where the engine was first let loose."""
    commanded = find_commanded_cut(traces, fall_s=freed_s, earliest_s=earliest_s, freed_s=freed_s)
    if commanded is not None:
        return commanded
    kink = find_kink(engine, earliest_s=max(freed_s - QUICK_S, earliest_s), latest_s=freed_s)
    return kink or Edge(freed_s - 0.02, 0.03, "engine_speed")


def find_lost_pull(
    motion: Motion, *, before_s: float, earliest_s: float, reach_s: float = 2 * CLUTCHED_S
) -> float | None:
    """When the car stopped pulling for a shift: its acceleration fell to half and stayed there until the engine's fall.

    Parameters
    ----------
    motion : Motion
        On the engine speed's clock.
    before_s : float
        The fall into the next gear. [s]
    earliest_s : float
        How far back to look. [s]
    reach_s : float
        And not further back than this. [s]

    Returns
    -------
    float or None
        None where the car pulled on until then, or its acceleration is not known well enough. [s]
    """
    inside = (motion.time_s >= max(earliest_s, before_s - reach_s)) & (motion.time_s <= before_s)
    time_s, pull = motion.time_s[inside], motion.acceleration_mps2[inside]
    if time_s.size < 10:
        return None
    usual = float(np.quantile(pull, 0.8))
    weak = np.flatnonzero(pull < 0.5 * usual)
    if not usual > LEAST_PULL_MPS2 or weak.size == 0 or before_s - time_s[weak[-1]] > SURGE_S:
        return None
    gaps = np.flatnonzero(np.diff(time_s[weak]) > LOST_BLUR_S)
    first = int(weak[gaps[-1] + 1]) if gaps.size else int(weak[0])
    return float(time_s[first])


def find_carry(
    engine: EngineSpeed,
    next_gear_rpm: FloatArray,
    *,
    fall: Fall,
    by_ground: bool = False,
    motion: Motion | None = None,
    began: Began | None = None,
) -> Edge:
    """The moment at which the next gear carries: engine speed, falling, meets the wheels' speed in that gear.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    next_gear_rpm : array, shape (n,)
        What the engine would turn in the next gear at each sample's true time. [rpm]
    fall : Fall
        The fall into the next gear.
    by_ground : bool
        True where that is by ground speed, which says nothing of tires that spin.
    motion : Motion, optional
        Whether the car pulled while the fall had eased.
    began : Began, optional
        Where the shift starts, and the step it has to take: a fall that took the whole of it in good time, and eased,
        is looked at too, however long tires that spin then kept the engine above the ground's speed.

    Returns
    -------
    Edge
        Where the two never meet (a clutch that goes on slipping), where engine speed stops falling; so too where it
        stopped, and rose, shortly before: then tires spun, and this fall is theirs as they take hold again.

    Notes
    -----
    A fall that eases high above the ground's speed is one of two: the gear has hold and the tires spin, or the throttle
    opens while a clutch still slips. Engine speed does not part them; what lies between is open. A car that does not
    pull the while is driven by no gear: tires that spin push as hard as they can.
    """
    sharp = engine.sharpened()
    t, above = sharp.time_s, sharp.rpm - next_gear_rpm
    inside = (t[1:] > fall.middle_s - 0.03) & (t[1:] < fall.bottom_s + 0.03)
    met = np.flatnonzero((above[:-1] > 0) & (above[1:] <= 0) & inside)
    began = began if by_ground else None
    took_s = _fell_from(engine, fall, began, share=TOOK_SHARE, within_s=TRIED_AGAIN_S)
    dragged_s = _fell_from(engine, fall, began, share=STOPPED_SHARE, within_s=DRAGGED_S)
    stopped_s = _stopped_before(engine, next_gear_rpm, fall, from_s=min(took_s, dragged_s))
    moment, open_s = min(stopped_s, fall.bottom_s) - engine.late_s, UNMET_PLUS_MINUS_S
    if met.size and stopped_s > fall.middle_s:
        open_s = CARRY_PLUS_MINUS_S
        index = int(met[0])
        moment = float(t[index] + (t[index + 1] - t[index]) * above[index] / (above[index] - above[index + 1]))
    eased = _eased_before(engine, next_gear_rpm, from_s=took_s, before_s=moment) if by_ground else None
    if eased is not None and not _lost_between(motion, eased.time_s, moment):
        half_s = 0.0 if eased.shoulder else 0.5 * (moment - eased.time_s)
        moment, open_s = eased.time_s + half_s, float(np.hypot(UNMET_PLUS_MINUS_S, half_s))
    return Edge(moment, float(np.hypot(open_s, 0.5 * engine.step_s)), "engine_speed")


@dataclass(frozen=True, slots=True)
class Began:
    """Where a shift starts, and what it has to take off engine speed."""

    time_s: float
    """[s]"""
    step: float
    """Log of the gear before's ratio over the next one's. [-]"""


@dataclass(frozen=True, slots=True)
class _Eased:
    """Where a fall had eased high above the next gear's speed."""

    time_s: float
    """[s]"""
    shoulder: bool
    """Whether it all but stopped there and then fell faster again."""


def _lost_between(motion: Motion | None, eased_s: float, met_s: float) -> bool:
    """Whether the car is seen to have lost its pull between two moments of a fall."""
    if motion is None or motion.basis is SpeedBasis.ENGINE_SPEED:
        return False
    usual = (motion.time_s > eased_s - CLUTCHED_S) & (motion.time_s < eased_s - LOST_BLUR_S)
    since = (motion.time_s > eased_s + 0.5 * LOST_BLUR_S) & (motion.time_s < met_s - 0.5 * LOST_BLUR_S)
    if usual.sum() < 10 or not since.any():
        return False
    pull = float(np.median(motion.acceleration_mps2[usual]))
    return pull > LEAST_PULL_MPS2 and float(np.mean(motion.acceleration_mps2[since])) < LOST_SHARE * pull


def _fell_from(engine: EngineSpeed, fall: Fall, began: Began | None, *, share: float, within_s: float) -> float:
    """From where on to look for a fall into the next gear: before the one found, if an earlier took enough in time."""
    from_s, time_s = fall.middle_s - TRIED_AGAIN_S, engine.true_time_s
    if began is None:
        return from_s
    early = np.flatnonzero((time_s >= began.time_s - engine.step_s) & (time_s < from_s))
    for at in early:
        before = engine.rpm[early[(early <= at) & (time_s[early] > time_s[at] - within_s)]]
        if float(np.log(before.max() / engine.rpm[at])) > share * began.step:
            return max(float(time_s[at]) - within_s, began.time_s - engine.step_s)
    return from_s


def _eased_before(engine: EngineSpeed, next_gear_rpm: FloatArray, *, from_s: float, before_s: float) -> _Eased | None:
    """Where the fall had eased, high above the next gear's speed, well before a moment; None where it had not."""
    t = engine.true_time_s
    steep = slope(engine.rpm, step_s=engine.step_s, span_s=max(0.03, 2.0 * engine.step_s))
    inside = np.flatnonzero((t > from_s) & (t < before_s))
    if inside.size < 4 or not float(steep[inside].min()) < 0.0:
        return None
    steepest = int(inside[np.argmin(steep[inside])])
    least = EASED * float(steep[steepest])
    later = inside[(inside > steepest) & (t[inside] <= before_s - EASED_S)]
    kept = [int(at) for at in later if float(steep[(t >= t[at]) & (t < t[at] + EASED_S)].min()) > least]
    if not kept or engine.rpm[kept[0]] < (1.0 + STILL_AHEAD) * next_gear_rpm[kept[0]]:
        return None
    after = steep[(t >= t[kept[0]]) & (t < before_s)]
    slowest = int(np.argmax(after[: max(round(EASED_S / engine.step_s), 1)]))
    stops = float(after[slowest]) > SHOULDER * float(steep[steepest])
    return _Eased(float(t[kept[0]]), bool(stops and after[slowest:].min() < STEEPER * min(float(after[slowest]), 0.0)))


def _stopped_before(engine: EngineSpeed, next_gear_rpm: FloatArray, fall: Fall, *, from_s: float) -> float:
    """Where a steep part of the fall had stopped, as logged, and engine speed rose again; infinite where it did not."""
    inside = np.flatnonzero((engine.time_s > from_s) & (engine.time_s < fall.middle_s))
    if inside.size < 4:
        return float("inf")
    rpm = engine.rpm[inside]
    highest = np.maximum.accumulate(rpm)
    rises_to = np.maximum.accumulate(rpm[::-1])[::-1]
    steep = highest - rpm > STOPPED_SHARE * (highest - next_gear_rpm[inside])
    rose = rises_to > rpm + np.maximum(4.0 * engine.noise_rpm, ROSE_SHARE * rpm)
    stops = np.flatnonzero(steep & rose)
    return float(engine.time_s[inside[stops[int(np.argmin(rpm[stops]))]]]) if stops.size else float("inf")
