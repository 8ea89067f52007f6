"""The hold before the launch: when the clutch, or a brake, let go, and what the engine turned until then.

Public: `rpm_on_hold`, `release_seen`, `launch_unseen`, `RELEASE_TO_MOTION_S`, `OWN_RPM`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.statistics.intervals import Interval, find_true_runs

HOLD_S = 0.2
"""Launch RPM is the mean over this long before the release, by definition: some beats of a two-step. [s]"""
RELEASE_TO_MOTION_S = 0.035
"""From the clutch's release to the car's first motion: the driveline winds up first. 25 to 50 ms. [s]"""
RELEASE_PLUS_MINUS_S, BRAKE_PLUS_MINUS_S = 0.03, 0.06
"""95 % half-width of when the clutch lets go, where the first motion is known well; and of when a brake does that holds
the car against a converter, which engine speed hardly shows and its car follows by 10 to 60 ms. [s], [s]"""
STEADY_S = 0.9
"""Engine speed is on its hold from so long before the release found. [s]"""
LATE_LAUNCH_S = 0.35
"""To so long before it, where no shorter stretch is asked for: a launch may be found late. [s]"""
MOST_BEATS = 0.03
"""There it strays by less than that share. [-]"""
SURELY_LEFT = 1.5
"""It has left its hold where it went beyond so many times its beats, though a clutch that bites may have brought it
back. [-]"""
HELD_FROM_S = 0.45
"""What the engine did from so long before the release found is its hold: a driver may be on the two-step for half a
second. [s]"""
HELD_TO_S = 0.2
"""To so long before it. [s]"""
HELD_NEAR = 0.25
"""It was not yet on its hold where it lay beyond what it did there by more than this share of how far that reaches.
[-]"""
FREED_S = 0.010
"""A two-step that lets go lets its engine leap over where it held it, from wherever in a beat it is, within 25 ms;
where rows are too rare to show the leap itself, the release lies so long before it is over that. [s] By arithmetic:
beats 200 rpm high are passed at 8,000 rpm/s."""
FREED_PLUS_MINUS_S = 0.010
"""95 % half-width of that. [s]"""
FREED_AFTER = 0.4
"""The leap begins where the engine last turned up: with the release if that brought its spark back, before it if a beat
had. The release lies at this share of the way from there to where the engine passes the highest of its hold. [-] By
arithmetic."""
FEWEST_HELD = 5
"""A line through fewer samples says nothing of a drift."""
DRIFT_LEFT = 0.5
"""A hold drifts where a straight line leaves less than this share of its spread: three quarters of its variance are
the drift's. [-] By arithmetic."""
DRIFT_NOISE = 2.0
"""And where its spread is beyond so many times the noise. [-]"""
TURNS_S = 0.006
"""Where the engine turned is open by this. [s] By arithmetic."""
OVERSHOOT_S = 0.010
"""It passes its highest later by up to this, an ECU's loop. [s] By arithmetic."""
LEAPS_S = 0.12
"""No leap takes longer. [s]"""
SEEN_STEP_S = 0.025
"""Rows further apart do not show one. [s]"""
FREED_BEATS = 1.25
"""It is no beat where the engine goes over the highest of its hold by so many times what its beats reach. [-]"""
FREED_NOISE = 6.0
"""By so many times its noise. [-]"""
FREED_SHARE = 0.012
"""And by that share of it. [-]"""
MOVED_STEP_S = 0.01
"""Means over the hold are looked at no further apart: beats last 50 ms and more. [s]"""
BEATS_SHARE = 0.9
"""95 % half-width of the mean of a two-step's beats over their spread, times the root of the samples that caught them:
less than 2, as beats swing about their level. Chosen on simulated two-steps. [-]"""
BEATS_COUNTED = 2.8
"""The same times the count of samples, where they are many enough to follow the beats, for whole beats leave nothing.
Chosen on simulated two-steps. [-]"""
HALVES_SHARE = 0.5
"""Rows that follow the beats say by themselves how well: of what the means of every other row differ by, all of them
leave this open, twice what a straight line between rows does, which goes with their step squared. [-] By arithmetic."""
OWN_RPM = 2.5
"""What an engine speed's own scale and resolution leave. [rpm]"""
HELD_OWN_RPM = 3.5
"""The same of a mean over the hold, which the pick-up's own mean over turns begins and ends late. [rpm]"""

ROUNDED = (0.475, 0.2, 0.1)
"""95 % of what rounding leaves of a mean, in printed steps: an engine that stands so still that one value is printed
may be anywhere in it; two values' mean is off by less, and three or more say where it lies. [-] By arithmetic."""


@dataclass(frozen=True, slots=True)
class _Release:
    """When the clutch, or a brake, let go, and by how much sooner or later it may have been."""

    time_s: float
    """[s, ET]"""
    sooner_s: float
    """95 %. [s]"""
    later_s: float
    """Likewise, as far as the engine is seen to be on its hold. [s]"""


def launch_unseen(where: str) -> Unknown:
    """Engine speed that is not known about the launch.

    Parameters
    ----------
    where : str
        Where it would have been needed.

    Returns
    -------
    Unknown
        With its finding.
    """
    text = f"Engine speed is known for fewer than two samples {where}: what it was there is not known."
    return Unknown(Finding("launch-engine-speed-missing", "caution", text))


def rpm_on_hold(engine: EngineSpeed, evidence: RunEvidence) -> Estimate | Unknown:
    """Engine speed at the launch: its mean over the last of the hold.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    evidence : RunEvidence
        Of the run: when the car first moved, and whether a converter holds it.

    Returns
    -------
    Estimate or Unknown
        Unknown where fewer than two samples lie on it. [rpm]

    Notes
    -----
    A two-step that lets go lets its engine leap, and that shows the release, the better the shorter the leap. Else it
    lies before the first motion, or where the engine had left its hold, and the mean is looked at as far as that is
    open: beats take it up and down. What comes after a clutch's release is no hold.
    """
    release = _released(engine, evidence)
    time_s = engine.true_time_s
    held = engine.rpm[(time_s >= release.time_s - HOLD_S) & (time_s <= release.time_s)]
    if held.size < 2:
        return launch_unseen(f"in the last {HOLD_S:g} s before the release")
    value = _held_mean(time_s, engine.rpm, release.time_s)
    count = 2 + round((release.sooner_s + release.later_s) / MOVED_STEP_S)
    by_s = np.linspace(-release.sooner_s, release.later_s, count)
    moved = max(abs(_held_mean(time_s, engine.rpm, release.time_s + by) - value) for by in by_s)
    bridged = _bridged(engine, release.time_s - HOLD_S, release.time_s)
    beats = _beats_missed(engine, release.time_s, held)
    rounded = ROUNDED[min(round(float(np.ptp(held)) / engine.printed_rpm), 2)] if engine.printed_rpm else 0.0
    own = float(np.hypot(HELD_OWN_RPM, rounded * engine.printed_rpm))
    return Estimate(value, float(np.sqrt(beats**2 + moved**2 + bridged**2 + own**2)))


def _held_mean(time_s: FloatArray, rpm: FloatArray, stop_s: float) -> float:
    """Mean over the hold's last, straight between samples and to the moment."""
    inside = (time_s > stop_s - HOLD_S) & (time_s < stop_s)
    at_s = np.concatenate([[stop_s - HOLD_S], time_s[inside], [stop_s]])
    return float(np.trapezoid(np.interp(at_s, time_s, rpm), at_s) / HOLD_S)


def _beats_missed(engine: EngineSpeed, stop_s: float, held: FloatArray) -> float:
    """95 % half-width of what samples between beats leave open of their mean, rpm."""
    if engine.step_s > SEEN_STEP_S:
        return float(held.std() * min(BEATS_SHARE / np.sqrt(held.size), BEATS_COUNTED / held.size))
    one, other = (_held_mean(engine.true_time_s[k::2], engine.rpm[k::2], stop_s) for k in (0, 1))
    return HALVES_SHARE * abs(one - other)


def release_seen(engine: EngineSpeed, evidence: RunEvidence) -> float:
    """When the clutch or the brake let go, as the engine shows it.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.
    evidence : RunEvidence
        Of the run: when the car first moved, and whether a converter holds it.

    Returns
    -------
    float
        So long before the first motion as a driveline takes to wind up, where the engine shows nothing. [s, ET]
    """
    return _released(engine, evidence).time_s


def _released(engine: EngineSpeed, evidence: RunEvidence) -> _Release:
    """When the clutch or the brake let go."""
    found_s = evidence.launch_s - RELEASE_TO_MOTION_S
    left_s = _left_hold(engine, found_s, drifts_too=evidence.converter)
    if evidence.converter:
        return _Release(left_s, BRAKE_PLUS_MINUS_S, BRAKE_PLUS_MINUS_S)
    leapt_s = _leapt(engine, found_s, latest_s=evidence.launch_s + evidence.launch_plus_minus_s)
    if leapt_s is not None:
        freed = _freed(engine, leapt_s)
        if not _drifts(_on_hold(engine, found_s), engine.noise_rpm):
            return freed
        return _Release(min(freed.time_s, left_s), max(freed.sooner_s, evidence.launch_plus_minus_s), 0.0)
    sooner_s = RELEASE_PLUS_MINUS_S if left_s < found_s else max(RELEASE_PLUS_MINUS_S, evidence.launch_plus_minus_s)
    return _Release(left_s, sooner_s, 0.0)


def _freed(engine: EngineSpeed, leapt_s: float) -> _Release:
    """When a two-step let go whose engine leapt over the highest of its hold at a moment."""
    if engine.step_s > SEEN_STEP_S:
        return _Release(leapt_s - FREED_S, float(np.hypot(FREED_PLUS_MINUS_S, 0.5 * engine.step_s)), FREED_S)
    time_s, rpm = engine.true_time_s, engine.rpm
    leap = np.flatnonzero((time_s > leapt_s - LEAPS_S) & (time_s <= leapt_s))
    falls = np.flatnonzero(np.diff(rpm[leap]) < -engine.noise_rpm)
    turned_s = float(time_s[leap[falls[-1] + 1 if falls.size else 0]])
    lasts_s = leapt_s - turned_s
    sooner_s = float(np.hypot(FREED_AFTER * lasts_s, TURNS_S))
    later_s = float(np.hypot((1.0 - FREED_AFTER) * lasts_s, OVERSHOOT_S))
    return _Release(turned_s + FREED_AFTER * lasts_s, sooner_s, later_s)


def _leapt(engine: EngineSpeed, found_s: float, *, latest_s: float) -> float | None:
    """Where the engine leapt over the highest of its hold; None where it did not by the latest launch. [s]."""
    time_s, rpm, held = engine.true_time_s, engine.rpm, _on_hold(engine, found_s)
    if held.size < 5 or float(np.std(held)) > MOST_BEATS * float(np.mean(held)):
        return None
    low, high = float(held.min()), float(held.max())
    beyond = max(0.5 * FREED_BEATS * (high - low), FREED_NOISE * engine.noise_rpm, FREED_SHARE * high)
    late = np.flatnonzero((time_s >= found_s - LATE_LAUNCH_S) & (time_s <= latest_s + HOLD_S))
    left = np.flatnonzero((rpm[late] > high + beyond) | (rpm[late] < low - beyond))
    under = np.flatnonzero(rpm[late[: left[0]]] <= high) if left.size else left
    if not under.size or rpm[late[left[0]]] < low:
        return None
    last = int(late[under[-1]])
    share = (high - float(rpm[last])) / float(rpm[last + 1] - rpm[last])
    leapt_s = float(time_s[last]) + share * float(time_s[last + 1] - time_s[last])
    return leapt_s if leapt_s - FREED_S <= latest_s else None


def _on_hold(engine: EngineSpeed, found_s: float) -> FloatArray:
    """Engine speed on its hold, from where it had come there, rpm."""
    time_s = engine.true_time_s
    steady = engine.rpm[(time_s > found_s - STEADY_S) & (time_s < found_s - HELD_TO_S)]
    last = engine.rpm[(time_s > found_s - HELD_FROM_S) & (time_s < found_s - HELD_TO_S)]
    if last.size < 3:
        return steady
    near = HELD_NEAR * float(np.ptp(last)) + 4.0 * engine.noise_rpm
    away = np.flatnonzero((steady < last.min() - near) | (steady > last.max() + near))
    return steady[away[-1] + 1 :] if away.size else steady


def _drifts(held: FloatArray, noise_rpm: float) -> bool:
    """Whether a hold is a foot's, which goes one way, and no two-step's, which beats about one speed.

    A foot's engine leaps too, but where its clutch has bitten already or its pedal goes down, not with the release.
    """
    if held.size < FEWEST_HELD or float(held.std()) < DRIFT_NOISE * noise_rpm:
        return False
    at = np.arange(held.size, dtype=float)
    left = held - np.polyval(np.polyfit(at, held, 1), at)
    return float(left.std()) < DRIFT_LEFT * float(held.std())


def _left_hold(engine: EngineSpeed, found_s: float, *, drifts_too: bool) -> float:
    """The release, or where the engine had left its hold before it: wheels of few teeth show a launch late. [s].

    A hold that drifts goes on where it drifted to, but behind a converter, whose stall rises with the boost.
    """
    time_s, rpm = engine.true_time_s, engine.rpm
    steady = rpm[(time_s > found_s - STEADY_S) & (time_s < found_s - LATE_LAUNCH_S)]
    late = np.flatnonzero((time_s >= found_s - LATE_LAUNCH_S) & (time_s <= found_s))
    if steady.size < 5 or late.size < 2 or float(np.std(steady)) > MOST_BEATS * float(np.mean(steady)):
        return found_s
    if not drifts_too and _drifts(steady, engine.noise_rpm):
        return found_s
    reach = max(1.5 * float(np.ptp(steady)) / 2.0, 4.0 * engine.noise_rpm)
    middle = 0.5 * float(np.max(steady) + np.min(steady))
    off = rpm[late] - middle
    if not float(np.max(np.abs(off))) > SURELY_LEFT * reach:
        return found_s
    left = int(np.argmax(np.abs(off) > reach))
    held = np.flatnonzero(off[:left] * np.sign(off[left]) <= 0.0)  # it left from the middle of its last beat
    return float(time_s[late[held[-1] if held.size else left]])


def _bridged(engine: EngineSpeed, start_s: float, stop_s: float) -> float:
    """What samples taken out as noise leave open of a mean, rpm: a bridge may be off by what it climbs in all."""
    inside = (engine.true_time_s >= start_s) & (engine.true_time_s <= stop_s)
    left_open = 0.0
    for piece in find_true_runs(engine.noisy):
        share = float(np.mean(_within(piece, inside)))
        left_open += share * float(np.ptp(engine.rpm[max(piece.start - 1, 0) : piece.stop + 1]))
    return left_open


def _within(piece: Interval, inside: BoolArray) -> BoolArray:
    """Which of the samples inside belong to a piece."""
    place = np.flatnonzero(inside)
    return np.asarray((place >= piece.start) & (place < piece.stop))
