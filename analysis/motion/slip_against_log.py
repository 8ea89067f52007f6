"""A timing slip that contradicts the logs: which of them the run goes by, and what is said of both.

A strip's clock is by far the better instrument, so its times are the run's unless something else speaks against them:
a slip may be of another lane or run, or misread. Where it is believed the car's motion is laid on its marks, and by as
much as that moves the speed the speed is in doubt.

Public: `settle_slip`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.given.car import Slip
from passband.analysis.motion.ground_speed import GroundSpeed, Motion, SpeedErrors
from passband.analysis.motion.slip_alone import SlipRun, read_slip_alone
from passband.analysis.motion.timed import Disagreement, Timed
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding

LIFTS_BEFORE_S, LIFTS_AFTER_S = 0.5, 1.5
"""A driver lifts for good from so long before the finish line to so long after it. [s] Common practice, no source."""
ONE_SCALE_S = 0.02
"""Where one scale brings all marks in place to within this, it is the scale that was wrong. [s]"""
AGREES_WEIGHT, AGREEING_SHARE = 0.3, 0.95
"""Two sensors agree where the fit gives at least this weight to at least this share of each one's samples. [-]"""
SLOWER_SHARE = 0.9
"""The mean speed between two marks is at least this much of that before: a missed gear costs no more. [-] By hand."""
TRAP_OVER_MEAN = (0.85, 1.35)
"""A trap's speed over the mean between its mark and the mark before: at constant power (x/x0)^(1/3) lies 1.04 to 1.13
above it, at constant force up to 1.25; a shift or a lift lowers it. [-]"""


def settle_slip(
    timed: Timed, ground: GroundSpeed, slip: Slip | None, *, finish_ft: int, lift_log_s: float | None
) -> Timed:
    """Decide between a slip and logs that contradict it, and tell both.

    Parameters
    ----------
    timed : Timed
        By the logs alone where `timed.disagreement` is set; else it is given back as it is.
    ground : GroundSpeed
        What the logs' speed rests on.
    slip : Slip or None
        The run's.
    finish_ft : int
        660, 1000 or 1320. [ft]
    lift_log_s : float or None
        The driver's lift for good. [s, log]

    Returns
    -------
    Timed
        With the slip's times and the motion laid on them where the slip is believed. Where the two do not agree its
        findings tell which was believed and why, with both figures.

    Notes
    -----
    Against the slip speak: its own times (a mean speed that falls, a trap far from its splits); two sensors of
    different kinds that agree; a lift that is where the logs put the finish and not where the slip does. It does not
    see a slip of another run that these leave open: that one is believed, with a finding.
    """
    odd = timed.disagreement
    if odd is None or slip is None:
        return timed
    run = read_slip_alone(slip, rollout_m=timed.distance.rollout_m.value, finish_ft=finish_ft)
    if run is None:
        return _with_finding(timed, _not_used(odd, "it holds too few times to be weighed against them"))
    against = _against(run, timed, ground, finish_ft, lift_log_s)
    if against is not None:
        return _with_finding(timed, _not_used(odd, against))
    return _with_finding(_laid_on(timed, run, finish_ft), _believed(odd))


def _with_finding(timed: Timed, finding: Finding) -> Timed:
    return replace(timed, findings=(*timed.findings, finding))


# --- weighing ---------------------------------------------------------------------------------------------------


def _against(run: SlipRun, timed: Timed, ground: GroundSpeed, finish_ft: int, lift_log_s: float | None) -> str | None:
    """Why the slip is not believed; None where nothing speaks against it."""
    contradiction = _contradicts_itself(run)
    if contradiction is not None:
        return contradiction
    if run.distance.splits[-1].at_ft * FOOT_M > float(timed.motion.distance_m[-1]) and (
        run.time_s > float(timed.motion.time_s[-1]) + LIFTS_AFTER_S
    ):
        return "its times lie past the end of the logs"
    lift = None if lift_log_s is None else lift_log_s - timed.clock_start_s.value
    if lift is not None and timed.finish_s is not None and run.distance.splits[-1].at_ft == finish_ft:
        by_log, by_slip = _lifts_at(timed.finish_s, lift), _lifts_at(run.time_s, lift)
        if by_log != by_slip:
            return None if by_slip else f"the driver lifts {lift:.1f} s in, where the logs put the finish"
    if _two_kinds_agree(ground):
        return "an undriven wheel and GPS, which share no fault, agree"
    return None


def _lifts_at(finish_s: float, lift_s: float) -> bool:
    return -LIFTS_BEFORE_S <= lift_s - finish_s <= LIFTS_AFTER_S


def _contradicts_itself(run: SlipRun) -> str | None:
    """A time or a trap that the slip's other times do not allow."""
    splits = run.distance.splits
    feet = np.array([0, *(split.at_ft for split in splits)])
    times = np.array([0.0, *(split.time_s.value for split in splits)])
    if (np.diff(times) <= 0.0).any():
        return "its own times do not rise from mark to mark"
    means = np.diff(feet) * FOOT_M / np.diff(times)
    if (means[1:] < SLOWER_SHARE * means[:-1]).any():
        place = int(np.argmax(means[1:] < SLOWER_SHARE * means[:-1])) + 1
        return f"by its own times the car slows down before {feet[place + 1]} ft"
    for trap in run.distance.traps:
        place = int(np.flatnonzero(feet == trap.at_ft)[0]) if trap.at_ft in feet else 0
        least, most = TRAP_OVER_MEAN
        if place > 1 and not least <= trap.speed_mps.value / means[place - 1] <= most:
            return f"its own speed at {trap.at_ft} ft does not fit its times"
    return None


def _two_kinds_agree(ground: GroundSpeed) -> bool:
    """An undriven wheel and GPS that go together all along: a wheel in the air or a GPS that froze would part them."""
    kinds = {"gps" if name in ("gps_speed", "ground_speed") else "wheel" for name in ground.sensors}
    if ground.basis is not SpeedBasis.UNDRIVEN_WHEEL or len(kinds) < 2:
        return False
    shares = [
        float(np.mean(ground.posterior.weights[name] > AGREES_WEIGHT))
        for name in ground.sensors
        if name in ground.posterior.weights
    ]
    return len(shares) >= 2 and min(shares) >= AGREEING_SHARE


# --- the motion, laid on the slip's marks -----------------------------------------------------------------------


def _laid_on(timed: Timed, run: SlipRun, finish_ft: int) -> Timed:
    """The run by the slip: its splits and traps, and the logs' motion stretched to pass its marks in time."""
    motion = _stretched(timed.motion, run)
    first = run.distance.splits[0]
    gone = np.interp(first.time_s.value, timed.motion.time_s, timed.motion.distance_m)
    short_s = abs(first.at_ft * FOOT_M - float(gone)) / max(first.speed_mps.value, 1.0)
    start = timed.clock_start_s
    half_width = float(np.hypot(start.plus_minus, min(short_s, first.time_s.value)))
    finished = run.distance.splits[-1].at_ft == finish_ft
    basis = f"timing slip, against {timed.distance.basis}"
    return replace(
        timed,
        clock_start_s=Estimate(start.value, half_width),
        distance=replace(run.distance, basis=basis, rollout_m=timed.distance.rollout_m),
        motion=motion,
        finish_s=run.time_s if finished else timed.finish_s,
        end_s=run.time_s if finished else timed.end_s,
    )


def _stretched(motion: Motion, run: SlipRun) -> Motion:
    """Speed, changed smoothly so that each mark is passed when the slip says; that change is its half-width."""
    change, bent = _change_of_speed(motion, run)
    step = float(motion.time_s[1] - motion.time_s[0])
    speed = np.maximum(motion.speed_mps + change, 0.0)
    gap = np.concatenate(([0.0], np.cumsum((change[1:] + change[:-1]) / 2) * step))
    errors = motion.errors
    return replace(
        motion,
        speed_mps=speed,
        speed_plus_minus_mps=np.hypot(motion.speed_plus_minus_mps, change),
        acceleration_mps2=np.gradient(speed, motion.time_s),
        acceleration_plus_minus_mps2=np.hypot(motion.acceleration_plus_minus_mps2, np.gradient(change, motion.time_s)),
        distance_m=motion.distance_m + gap,
        distance_plus_minus_m=np.hypot(motion.distance_plus_minus_m, np.abs(gap)),
        parted_errors=SpeedErrors(np.vstack((errors.own, change[None, :])), errors.shared),
        bent=bent,
    )


def _change_of_speed(motion: Motion, run: SlipRun) -> tuple[FloatArray, bool]:
    """By how much the speed must change, in m/s, so that what is short at the marks is made up between them.

    One scale for all of the run where that alone brings the marks into place, and False; else True: it was bent.
    """
    from scipy.interpolate import PchipInterpolator  # not for a mere start

    reached = [split for split in run.distance.splits if split.time_s.value <= float(motion.time_s[-1])]
    if not reached:
        return np.zeros_like(motion.speed_mps), False
    times = np.array([split.time_s.value for split in reached])
    gone = np.interp(times, motion.time_s, motion.distance_m)
    short = np.array([split.at_ft * FOOT_M for split in reached]) - gone
    scale = float(gone @ short / (gone @ gone))
    pace = np.interp(times, motion.time_s, motion.speed_mps)
    if (np.abs(short - scale * gone) < ONE_SCALE_S * np.maximum(pace, 1.0)).all():
        return scale * motion.speed_mps, False
    # before the clock starts nothing is changed, past the last mark it stays as it was there
    knots, gaps = np.array([-0.1, 0.0, *times]), np.concatenate(([0.0, 0.0], short))
    inside = np.clip(motion.time_s, knots[0], knots[-1])
    change = np.asarray(PchipInterpolator(knots, gaps).derivative()(inside), dtype=np.float64)
    return np.where((motion.time_s < knots[0]) | (motion.time_s > knots[-1]), 0.0, change), True


# --- telling ----------------------------------------------------------------------------------------------------


def _not_used(odd: Disagreement, why: str) -> Finding:
    text = (
        f"The timing slip does not fit the logs (worst at {odd.feet} ft{odd.both}) and was not used, because {why}. "
        "Splits are the logs' own. Look whether the slip is of this run and lane and was read right."
    )
    return Finding("slip-does-not-fit", "caution", text, f"slip, {odd.feet} ft")


def _believed(odd: Disagreement) -> Finding:
    text = (
        f"The timing slip and the logs disagree (worst at {odd.feet} ft{odd.both}). A strip's clock is seldom wrong "
        "and nothing speaks against it: splits are the slip's, the car's motion was laid on its marks, and power is "
        "by as much in doubt. Doubt the speed in the log first (a wheel in the air or spinning, its circumference, "
        "a GPS speed that froze), then whether the slip is of this run and lane."
    )
    return Finding("slip-against-logs", "caution", text, f"slip, {odd.feet} ft")
