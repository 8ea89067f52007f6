"""The lowest engine speed of a launch: of the clutch's bite, or where an engine that only rises leaves its hold.

Public: `Leaving`, `limited_from`, `smoothed`, `rpm_lowest`, `low_at_the_bite`, `REBOUND`, `FALLS_AGAIN`, `BITE_S`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.driveline.launch_hold import (
    OWN_RPM,
    RELEASE_PLUS_MINUS_S,
    RELEASE_TO_MOTION_S,
    ROUNDED,
    launch_unseen,
)
from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.statistics.intervals import find_true_runs

REBOUND = 0.08
"""From its lowest as the clutch bites an engine whose tires let go rises by more than this. [-]"""
FALLS_AGAIN = 0.04
"""And as they take hold again, still in first gear, it falls by more than this. [-]"""
BITE_S = 0.4
"""The two-step's own level is not the top of the pull: it is left behind within this. [s]"""
SHIFTS_S = 0.15
"""The last of first gear may be the shift's own fall. [s] By hand."""
BEND_OPEN = 0.15
"""Of what the mean bends about a low so much is open. [-] By hand."""
SMOOTH_S = 0.04
"""The lowest engine speed is the lowest mean over this long: it lasts, the noise does not. [s]"""
ROUNDED_S = 0.06
"""A dip's curvature is looked at so far to either side. [s]"""
LEAST_ROUNDED = 5
"""In so many samples at the least."""
BEATS_NEAR_S = 0.15
"""Where the lowest comes so soon after the release, the engine rises from its hold, and what that strays by is in it.
[s]"""
BEATS_OVER_S = 0.4
"""The hold is looked at over so long before. [s]"""
BEATS_OVER_QUIET = 1.0
"""It beats where it strays, its noise later in the run taken off, by so many times that noise. [-] Chosen on 15
simulated converter cars of both models (seeds 3100 to 4110, both sets of sensors), which beat by 25 rpm."""
BEATS_LEAST_RPM = 10.0
"""And by so much. [rpm] Chosen likewise."""
BEATS_LOW = 0.5
"""An engine that only rises from its beats was lowest at the low of one where the two-step goes on after the release,
and anywhere in one where its spark comes back at once: so many heights of a beat below their mean. [-] By hand: the
middle between low and mean."""
BEATS_OPEN = 1.25
"""Give or take so many; a pick-up hides up to a quarter of them. [-] By hand."""
STANDARD_PRESSURE_PA = 101_325.0
"""Of a boosted engine's pressure no more is asked for than the air's own. [Pa] The standard atmosphere's."""
SHUT_SHARE, SHUT_FOR_S = 0.8, 0.1
"""A way in that lets less than this share of it through, for so long, is shut behind the pedal. [-], [s] By hand: an
open throttle, filter and runners leave 90 % and more."""
FALLS_FROM = 0.95
"""It began to shut where the pressure was last above this share of it. [-] By hand."""
FOOT_STAYS = 0.1
"""The pedal is within so much of where it is at its furthest in the run. [-] By hand."""
BY_FOOT = 0.3
"""A foot that brings the engine up against the brake makes a line of its hold: what is left about it is less than so
much of what the hold strays by; beats leave all of it. [-]"""


@dataclass(frozen=True, slots=True)
class Leaving:
    """The stretch in which the car leaves."""

    engine: EngineSpeed
    """Noise out."""
    launch_s: float
    """First motion. [s, ET]"""
    first_s: float
    """End of first gear. [s, ET]"""
    released_s: float = float("inf")
    """When the clutch or the brake let go, where the engine shows it sooner than first motion does. [s, ET]"""
    limited_s: float = float("inf")
    """From here on a stop behind the pedal keeps air from the engine. [s, ET]"""

    @property
    def release_s(self) -> float:
        """When the clutch or the brake let go. [s, ET]."""
        return min(self.released_s, self.launch_s - RELEASE_TO_MOTION_S)

    @property
    def stop_s(self) -> float:
        """Where the launch has ended at the latest. [s, ET]."""
        return min(self.first_s, self.limited_s)


def limited_from(evidence: RunEvidence) -> float:
    """From when a throttle stop behind the pedal, or the like, keeps air from an engine that pulls.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run: throttle and absolute manifold pressure.

    Returns
    -------
    float
        Infinite where no log shows one. [s, ET]

    Notes
    -----
    With its throttle open an engine without boost draws nearly the air's own pressure, whatever its speed, and one
    that loses its boost comes down no further: below a share of that the way in is shut. The driver's own foot
    is no stop: he feels for grip, and the fall stays the launch's.
    """
    pressure, throttle, launch_s = evidence.traces.get("manifold_pressure"), evidence.throttle, evidence.launch_s
    if pressure is None or throttle is None:
        return float("inf")
    drawn = pressure.known.within(launch_s, evidence.end_s)
    foot = throttle.known.within(launch_s, evidence.end_s)
    if drawn.values.size < LEAST_ROUNDED or foot.values.size < LEAST_ROUNDED:
        return float("inf")
    most = np.minimum(np.maximum.accumulate(drawn.values), STANDARD_PRESSURE_PA)
    pedal = np.interp(drawn.time_s, foot.time_s, foot.values)
    stays = pedal > float(np.percentile(foot.values, 95)) - FOOT_STAYS
    shut = stays & (drawn.values < SHUT_SHARE * most)
    long = [run for run in find_true_runs(shut) if drawn.time_s[run.stop - 1] - drawn.time_s[run.start] >= SHUT_FOR_S]
    if not long:
        return float("inf")
    falls = np.flatnonzero(drawn.values[: long[0].start] > FALLS_FROM * most[: long[0].start])
    return float(drawn.time_s[falls[-1] if falls.size else long[0].start])


def rpm_lowest(leaving: Leaving, rebound: tuple[float, float] | None) -> Estimate | Unknown:
    """The lowest before the engine pulls away for good: a clutch may slip, and sink, until shortly before the shift.

    Parameters
    ----------
    leaving : Leaving
        Engine speed as the car leaves.
    rebound : tuple of (float, float) or None
        When an engine whose tires let go was lowest before, and when it had risen. [s, ET]

    Returns
    -------
    Estimate or Unknown
        Unknown where no engine speed is seen between the release and the end of first gear. [rpm]

    Notes
    -----
    From the release on, before the car moves: behind a converter the engine may only rise from there. A mean over a
    dip, and a pick-up's lag, round it off by ``curvature / 2`` times the sum of the lag squared and a twelfth of the
    mean's length squared, which is put back.
    """
    engine, launch_s, stop_s = leaving.engine, leaving.launch_s, leaving.stop_s
    time_s, release_s = engine.true_time_s, leaving.release_s
    inside = (time_s >= release_s) & (time_s <= stop_s)
    if inside.sum() < 2:
        return launch_unseen("between the release and the end of first gear")
    top_s = time_s[inside][np.argmax(np.where(time_s > launch_s + BITE_S, engine.rpm, 0.0)[inside])]
    inside &= time_s <= (rebound[1] if rebound else top_s)  # tires that take hold again pull it down once more
    smooth = smoothed(engine)
    lowest = int(np.flatnonzero(inside)[np.argmin(smooth[inside])])
    hold = _hold_before(engine, release_s, leaving.first_s)
    rises = hold is not None and time_s[lowest] < release_s + BEATS_NEAR_S
    if hold is not None and rises and hold.beats_rpm > 0.0:
        high = float(np.sqrt(2.0)) * hold.beats_rpm
        if smooth[lowest] > hold.mean_rpm - high:  # else it dips below
            few = 1.0 + hold.samples**-0.5  # so few tell the height of a beat no better
            return Estimate(hold.mean_rpm - BEATS_LOW * high, BEATS_OPEN * few * high + OWN_RPM)
    if hold is not None and rises and hold.at_release_rpm < smooth[lowest]:
        own = float(np.hypot(OWN_RPM, ROUNDED[0] * engine.printed_rpm))
        return Estimate(hold.at_release_rpm, 2.0 * hold.strays_rpm + abs(hold.gains_rpm) + own)
    return _low_at(engine, lowest, strays=hold.strays_rpm if hold is not None and rises else 0.0)


def _low_at(engine: EngineSpeed, lowest: int, *, strays: float = 0.0) -> Estimate:
    """The low at a sample, what rounds it off put back; what the hold strays by is in one that rises from it."""
    width, smooth = _width(engine), smoothed(engine)
    near = slice(max(lowest - width, 0), lowest + width + 1)
    noise, bend = 1.4 * _noise_about(engine, near), float(np.ptp(smooth[near]))
    rounded = _rounded_off(engine, lowest)
    slower = _rounded_off(engine, lowest, lag_s=engine.longest_lag_s) - rounded
    half_width = np.sqrt(noise**2 / width + (BEND_OPEN * bend) ** 2 + (2.0 * strays) ** 2 + slower**2)
    return Estimate(float(smooth[lowest]) - rounded, float(half_width) + OWN_RPM)


def _noise_about(engine: EngineSpeed, near: slice) -> float:
    """What samples stray by about the parabola of a dip, rpm; about their mean where too few show one."""
    time_s, rpm = engine.true_time_s[near], engine.rpm[near]
    if rpm.size < LEAST_ROUNDED:
        return float(rpm.std())
    left = rpm - np.polyval(np.polyfit(time_s - time_s[0], rpm, 2), time_s - time_s[0])
    return float(np.sqrt(np.sum(left**2) / (rpm.size - 3)))


def _rounded_off(engine: EngineSpeed, lowest: int, *, lag_s: float | None = None) -> float:
    """By how much a dip seen through a pick-up's lag and a mean lies above its true low, rpm; 0 where it is no dip."""
    apart_s = engine.true_time_s - engine.true_time_s[lowest]
    near = np.abs(apart_s) <= ROUNDED_S
    if near.sum() < LEAST_ROUNDED:
        return 0.0
    square, slope, _ = np.polyfit(apart_s[near], engine.rpm[near], 2)
    if square <= 0.0 or abs(slope) > 2.0 * square * SMOOTH_S:
        return 0.0
    lag_s = engine.lag_s if lag_s is None else lag_s
    return float(square) * (lag_s**2 + (_width(engine) * engine.step_s) ** 2 / 12.0)


def low_at_the_bite(leaving: Leaving, lowest: Estimate) -> Estimate:
    """The lowest of an engine that rose off its hold without having sunk, and falls below it later in first gear.

    Whether facings slipped meanwhile or the tires had let go at once, and whether or not a foot felt for grip, that
    fall is the launch's: the engine is pulled down for the first time, and pulls up after it.

    Parameters
    ----------
    leaving : Leaving
        Engine speed as the car leaves.
    lowest : Estimate
        From `rpm_lowest`. [rpm]

    Returns
    -------
    Estimate
        The same where the engine did not flare first. [rpm]
    """
    engine, hold_s = leaving.engine, leaving.release_s
    time_s, smooth = engine.true_time_s, smoothed(engine)
    held = (time_s > hold_s - BEATS_OVER_S) & (time_s <= hold_s)
    first = np.flatnonzero((time_s > hold_s) & (time_s < leaving.stop_s - SHIFTS_S))
    if not held.any() or not first.size or lowest.value < (1.0 - FALLS_AGAIN) * float(engine.rpm[held].mean()):
        return lowest
    flared = np.flatnonzero(smooth[first] > (1.0 + REBOUND) * lowest.value)
    if not flared.size:
        return lowest
    later = first[flared[0] :]
    low = int(later[np.argmin(smooth[later])])
    below = lowest.value - float(smooth[low])
    pulls_up = float(smooth[low : later[-1] + 1].max()) > (1.0 + FALLS_AGAIN) * float(smooth[low])
    if below <= OWN_RPM or not pulls_up:
        return lowest
    return _low_at(engine, low)


@dataclass(frozen=True, slots=True)
class _Hold:
    """What engine speed did on the hold, shortly before the release."""

    mean_rpm: float
    strays_rpm: float
    """About its mean, or about the line that a foot makes; a deviation."""
    beats_rpm: float
    """The beats' own part of that; 0 where it is as quiet as later in the run, or brought up by a foot."""
    samples: int
    """How many show it."""
    at_release_rpm: float
    """At its end, of what it was over the last of it. [rpm]"""
    gains_rpm: float
    """What the line of it gains while the release is open. [rpm]"""


def _hold_before(engine: EngineSpeed, release_s: float, quiet_from_s: float) -> _Hold | None:
    time_s = engine.true_time_s
    held = (time_s > release_s - BEATS_OVER_S) & (time_s <= release_s)
    later = np.diff(engine.rpm, 2)[time_s[1:-1] > quiet_from_s] / np.sqrt(6.0)
    if held.sum() < 5 or later.size < 20:
        return None
    mean_rpm, strays = float(engine.rpm[held].mean()), float(np.std(engine.rpm[held], ddof=1))
    slope, level = np.polyfit(time_s[held] - release_s, engine.rpm[held], 1)
    about_line = float(np.std(engine.rpm[held] - slope * (time_s[held] - release_s) - level, ddof=2))
    before = engine.rpm[(time_s > release_s - 2.0 * BEATS_OVER_S) & (time_s <= release_s - BEATS_OVER_S)]
    # the slow swing that sparse samples make of beats comes down before it goes up
    last = engine.rpm[(time_s > release_s - SMOOTH_S - engine.step_s) & (time_s <= release_s)]
    at_release_rpm, gains_rpm = float(last.mean()), float(slope) * RELEASE_PLUS_MINUS_S
    goes_up = slope > 0.0 and before.size > 0 and float(before.max()) < mean_rpm
    if goes_up and about_line < BY_FOOT * strays:
        return _Hold(mean_rpm, about_line, 0.0, int(held.sum()), at_release_rpm, gains_rpm)
    quiet = 1.48 * float(np.median(np.abs(later)))
    beats = float(np.sqrt(max(strays**2 - quiet**2, 0.0)))
    told = beats > max(BEATS_OVER_QUIET * quiet, BEATS_LEAST_RPM)
    return _Hold(mean_rpm, strays, beats if told else 0.0, int(held.sum()), at_release_rpm, gains_rpm)


def _width(engine: EngineSpeed) -> int:
    """Samples, an odd number, in the mean that lasts."""
    return max(1, round(SMOOTH_S / engine.step_s)) | 1


def smoothed(engine: EngineSpeed) -> FloatArray:
    """Engine speed's mean over what counts as lasting.

    Parameters
    ----------
    engine : EngineSpeed
        Noise out.

    Returns
    -------
    array, shape (n,)
        At each of its samples. [rpm]
    """
    width = _width(engine)
    padded = np.pad(engine.rpm, width // 2, mode="edge")
    return np.asarray(np.convolve(padded, np.full(width, 1.0 / width), mode="valid"), dtype=np.float64)
