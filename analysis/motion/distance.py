"""Distance down the strip: clock start, splits and traps as the strip defines them, with or without a timing slip.

The clock starts where the car has rolled its rollout; each mark is that many feet further; a trap speed is the mean
over the last 66 ft before its mark. A slip's times and speeds are measurements like any other, with its printed
resolution as their half-width.

Public: `time_the_run`; what it gives is `analysis.motion.timed.Timed`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.given.car import Slip
from passband.analysis.motion.counted_wheels import WAY
from passband.analysis.motion.factors import COMMON
from passband.analysis.motion.ground_speed import GroundSpeed
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.timed import (
    TRAP_LENGTH_M,
    Disagreement,
    Timed,
    moment_passed,
    read_split,
    read_timed,
)
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import Distance
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding

USUAL_ROLLOUT_M, ROLLOUT_SD_M = 0.27, 0.045
"""Rollout where nothing tells it: 7 to 14 in. [m] Common practice, no source."""
TOLD_ROLLOUT_SD_M = 0.002
"""What is open of a rollout that the user gives. [m]"""
SLIP_STEP_S, SLIP_STEP_MPS = 0.001, 0.00447
"""Resolution a slip prints: 0.001 s, 0.01 mph."""
PRINTED_PLUS_MINUS_S, PRINTED_PLUS_MINUS_MPS = 0.0006, 0.0026
"""Half the last digit that a slip prints, and a little for the beam. [s], [m/s]"""
BEAM_SD_M = 0.004
"""How well a mark's place and the shape of what breaks its beam are known. [m]"""
GATE = 5.0
"""A slip's mark further off than this many standard deviations is not of this run, or misread. [-]"""
BEND_GATE, LEAST_BEND_S = 3.0, 0.03
"""A slip's time this many plus-minuses from the logs' own, and at least so far, contradicts them. [-], [s] A plus-minus
is 1.96 deviations, and on hard simulated runs up to half too narrow."""
MOST_START_S, START_ALIKE_S = 0.6, 0.05
"""Wheels of few teeth hide no more of a start than four studs on 1.9 m take at half a g, two pitches from rest, and
then a slip's times are off alike: to what a circumference wrong by 0.4 % makes of 12 s. [s] By arithmetic."""
LEAST_OTHERS = 3
"""A time of a slip is called misread where at least so many others fit the logs. [-]"""


def time_the_run(
    ground: GroundSpeed,
    *,
    rollout_m: float | None,
    slip: Slip | None,
    finish_ft: int,
    end_log_s: float,
    lift_log_s: float | None = None,
) -> Timed:
    """Lay the strip's marks on the ground speed.

    Parameters
    ----------
    ground : GroundSpeed
        From `fuse_ground_speed`.
    rollout_m : float or None
        As the user tells it. [m]
    slip : Slip or None
        The strip's own times and speeds.
    finish_ft : int
        660, 1000 or 1320. [ft]
    end_log_s : float
        Where the run ends at the latest. [s, log]
    lift_log_s : float, optional
        The driver's lift for good. Before three quarters of the strip it ends the run, though the car may roll on
        over the line. [s, log]

    Returns
    -------
    Timed
        Clock start, splits, traps, motion; its findings tell of a mark that does not fit and a rollout assumed.

    Notes
    -----
    The conditions ``x(t0) = r`` and, for a slip, ``x(t0 + T) = r + mark`` are taken into the posterior of the
    ground speed as measurements (iterated, since t0 moves), so that the slip also finds the scale, and in a car
    that logs only its driven wheel that wheel's slip and growth.
    """
    base = ground.posterior
    given = rollout_m is not None and rollout_m > 0
    rollout = (rollout_m, TOLD_ROLLOUT_SD_M) if given and rollout_m else (USUAL_ROLLOUT_M, ROLLOUT_SD_M)
    trusted = _trusted_marks(base, rollout, slip)
    marks = trusted.marks
    fitted = _fit_marks(base, rollout, marks)
    assumed = () if given or marks else (_rollout_assumed(),)
    timed = read_timed(fitted, ground, slip if marks else None, finish_ft, (end_log_s, lift_log_s))
    moved_s = _moved_by_slip(base, fitted, rollout) if marks and ground.through_driveline else 0.0
    return replace(
        timed,
        clock_start_s=replace(timed.clock_start_s, plus_minus=float(np.hypot(timed.clock_start_s.plus_minus, moved_s))),
        distance=_as_printed(timed.distance, marks),
        disagreement=trusted.disagreement,
        findings=(*trusted.findings, *assumed),
    )


def _rollout_assumed() -> Finding:
    text = (
        f"Rollout is not given and there is no slip: {USUAL_ROLLOUT_M} m was taken; "
        "elapsed times hold what is open of it. Give the rollout or add the slip."
    )
    return Finding("rollout-assumed", "note", text)


def _as_printed(distance: Distance, marks: list[_Mark]) -> Distance:
    """A split or trap that the slip prints and the logs bear out is the strip's own figure, to its last digit."""
    printed = {mark.feet: mark for mark in marks}
    splits = tuple(
        replace(split, time_s=Estimate(printed[split.at_ft].time_s, PRINTED_PLUS_MINUS_S))
        if split.at_ft in printed
        else split
        for split in distance.splits
    )
    traps = tuple(
        replace(trap, speed_mps=Estimate(speed, PRINTED_PLUS_MINUS_MPS))
        if trap.at_ft in printed and (speed := printed[trap.at_ft].trap_mps)
        else trap
        for trap in distance.traps
    )
    return replace(distance, splits=splits, traps=traps)


# --- fitting ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Mark:
    feet: int
    time_s: float
    trap_mps: float | None


def _marks(slip: Slip | None) -> list[_Mark]:
    if slip is None:
        return []
    speed = {660: slip.v660, 1320: slip.v1320}
    return [_Mark(feet, time, speed.get(feet)) for feet, time in slip.times if time is not None]


def _start(base: Posterior, rollout: tuple[float, float]) -> Posterior:
    """The posterior with the rollout's prior taken in, on its sensors' own clock.

    What these are late by together moves the clock start and every mark alike: no slip and no rollout shows it.
    """
    fitted = base.copy()
    fitted.modes.pop(COMMON, None)
    row = fitted.row_parameter("rollout")[None, :]
    fitted.condition(row, np.array([rollout[0] - fitted.parameter("rollout")]), np.array([rollout[1]]))
    return fitted


def _fit_marks(base: Posterior, rollout: tuple[float, float], marks: list[_Mark]) -> Posterior:
    prior = _start(base, rollout)
    start = float(np.interp(prior.parameter("rollout"), prior.distance, prior.time_s))
    place = prior.time_s.size + prior.names.index("clock start")
    present = prior.copy()
    present.mean[place] = start
    for _ in range(4):
        rows, surplus, sd = _conditions(present, marks)
        # measured less predicted, carried back to the prior's mean about which the gain is taken
        surplus = surplus + rows @ (present.mean - prior.mean)
        following = prior.copy()
        following.condition(rows, surplus, sd)
        present = following
    return present


def _moved_by_slip(base: Posterior, fitted: Posterior, rollout: tuple[float, float]) -> float:
    """How far a slip moved the clock start from where the logs alone have it. [s].

    Driven tires run ahead of the car by more than is expected of them, and a fit that must pass the marks makes up for
    it where it is free to: what it moved the start by, nothing in the log bears out.
    """
    alone = _fit_marks(base, rollout, [])
    return abs(fitted.parameter("clock start") - alone.parameter("clock start"))


def _conditions(present: Posterior, marks: list[_Mark]) -> tuple[FloatArray, FloatArray, FloatArray]:
    start, rollout = present.parameter("clock start"), present.parameter("rollout")
    distance, speed, time = present.distance, present.speed, present.time_s
    row_start, row_rollout = present.row_parameter("clock start"), present.row_parameter("rollout")

    def travelled(at_s: float) -> float:
        return float(np.interp(at_s, time, distance))

    def pace(at_s: float) -> float:
        return float(np.interp(at_s, time, speed))

    rows = [present.row_distance(start) - row_rollout + pace(start) * row_start]
    surplus, sd = [rollout - travelled(start)], [0.001]
    for mark in marks:
        at = start + mark.time_s
        if at > time[-1]:
            continue
        rows.append(present.row_distance(at) - row_rollout + pace(at) * row_start)
        surplus.append(rollout + mark.feet * FOOT_M - travelled(at))
        sd.append(float(np.hypot(pace(at) * SLIP_STEP_S / np.sqrt(12), BEAM_SD_M)))
        if mark.trap_mps:
            before = at - TRAP_LENGTH_M / mark.trap_mps
            rows.append(present.row_distance(at) - present.row_distance(before) + (pace(at) - pace(before)) * row_start)
            surplus.append(TRAP_LENGTH_M - (travelled(at) - travelled(before)))
            sd.append(float(np.hypot(TRAP_LENGTH_M * SLIP_STEP_MPS / np.sqrt(12) / mark.trap_mps, 0.005)))
    return np.array(rows), np.array(surplus), np.array(sd)


@dataclass(frozen=True, slots=True)
class _TrustedMarks:
    """Those of a slip's marks that the run is laid on."""

    marks: list[_Mark]
    disagreement: Disagreement | None = None
    findings: tuple[Finding, ...] = ()


def _trusted_marks(base: Posterior, rollout: tuple[float, float], slip: Slip | None) -> _TrustedMarks:
    """Marks of the slip that fit the logs; one amid others that is far off is left out, with a finding.

    A speed that is wrong for a while leaves every later mark off, a misread time only its own. So a slip that is off
    at more than one mark, or at its last, is at odds with the logs as a whole.
    """
    every = _marks(slip)
    if not every:
        return _TrustedMarks([])
    worst, off = _worst_mark(base, rollout, every)
    bent = _most_bent(base, rollout, every)
    if off <= GATE and bent is None:
        return _TrustedMarks(every)
    later_s = _starts_otherwise(base, rollout, every) if off <= GATE else None
    if later_s is not None:
        return _TrustedMarks(every, findings=(_start_by_slip(later_s),))
    worst = bent or worst
    amid = every[:-1] if len(every) > LEAST_OTHERS and off <= 60 * GATE else []
    left = {mark.feet: [other for other in every if other is not mark] for mark in amid}
    offs = {mark.feet: _worst_mark(base, rollout, left[mark.feet])[1] for mark in amid}
    out = min(amid, key=lambda mark: offs[mark.feet], default=None)
    if out is None or offs[out.feet] > GATE or _most_bent(base, rollout, left[out.feet]) is not None:
        return _TrustedMarks([], Disagreement(worst.feet, _both(base, rollout, worst)))
    text = (
        f"The slip's {out.feet} ft time does not fit its other times and the logs{_both(base, rollout, out)}; "
        "it was left out."
    )
    finding = Finding("slip-mark-left-out", "caution", text, f"slip, {out.feet} ft")
    return _TrustedMarks(left[out.feet], findings=(finding,))


def _most_bent(base: Posterior, rollout: tuple[float, float], marks: list[_Mark]) -> _Mark | None:
    """The mark for which the logs' speed would have to be bent most, beyond what they leave open; None where it is not.

    A fit passes any marks: what it cannot show is how far it had to go for them.
    """
    alone = _fit_marks(base, rollout, [])
    bends: dict[float, _Mark] = {}
    for mark in marks:
        split = read_split(alone, mark.feet, float(alone.time_s[-1]), ())
        if split is None:
            continue
        off_s = abs(split.time_s.value - mark.time_s)
        if off_s > LEAST_BEND_S and off_s > BEND_GATE * split.time_s.plus_minus:
            bends[off_s / split.time_s.plus_minus] = mark
    return bends[max(bends)] if bends else None


def _starts_otherwise(base: Posterior, rollout: tuple[float, float], marks: list[_Mark]) -> float | None:
    """By how much every time of the slip is longer than the logs', where that is a start they do not show; else None.

    Wheels of few teeth show nothing of how a car began to move, and without an accelerometer nothing else does. Then
    all times are off alike, while a speed that is wrong goes on being wrong.
    """
    if len(marks) <= LEAST_OTHERS or not np.any(base.modes.get(WAY, 0.0)):
        return None
    alone = _fit_marks(base, rollout, [])
    splits = [(mark, read_split(alone, mark.feet, float(alone.time_s[-1]), ())) for mark in marks]
    off_s = np.array([mark.time_s - split.time_s.value for mark, split in splits if split is not None])
    later_s = float(np.median(off_s)) if off_s.size == len(marks) else np.inf
    alike = abs(later_s) < MOST_START_S and bool(np.all(np.abs(off_s - later_s) < START_ALIKE_S))
    return later_s if alike else None


def _start_by_slip(later_s: float) -> Finding:
    text = (
        f"All times of the slip are about {abs(later_s):.2f} s {'longer' if later_s > 0 else 'shorter'} than by the "
        "logs, whose wheels show nothing of how the car began to move: few teeth, and no accelerometer. The slip was "
        "believed, and the start set by it."
    )
    return Finding("start-by-slip", "note", text)


def _both(base: Posterior, rollout: tuple[float, float], mark: _Mark) -> str:
    """What the slip and what the logs alone say of a mark, for the reader to weigh."""
    alone = _fit_marks(base, rollout, [])
    at = moment_passed(alone, mark.feet * FOOT_M, float(alone.time_s[-1]))
    if at is None:
        return ""
    return f": {mark.time_s:.3f} s on the slip, {at - alone.parameter('clock start'):.3f} s by the logs"


def _worst_mark(base: Posterior, rollout: tuple[float, float], marks: list[_Mark]) -> tuple[_Mark, float]:
    """The mark with the greatest error left after the fit, in units of what the fit expects of it."""
    loose = (rollout[0], max(rollout[1], ROLLOUT_SD_M))
    fitted = _fit_marks(base, loose, marks)
    start = fitted.parameter("clock start")
    worst, greatest = marks[0], 0.0
    for mark in marks:
        at = start + mark.time_s
        if at > fitted.time_s[-1]:
            if at > fitted.time_s[-1] + 1.0 and mark.feet <= 660:
                return mark, 1e9
            continue
        gone = float(np.interp(at, fitted.time_s, fitted.distance)) - fitted.parameter("rollout")
        pace = max(float(np.interp(at, fitted.time_s, fitted.speed)), 1.0)
        expected = 0.02 + pace * 0.002 + 0.0005 * mark.feet * FOOT_M
        off = abs(gone - mark.feet * FOOT_M) / expected
        if off > greatest:
            worst, greatest = mark, off
    return worst, greatest
