"""Tire shake and wheel hop: the driveline swinging while the tire grips and lets go, some ten times a second.

Public: `Shake`, `find_shake`, `tell_shake`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.shifts import Shift
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.shifts.interruptions import Interruption
from passband.analysis.statistics.filters import slope, smooth
from passband.analysis.statistics.fits import sample_noise
from passband.analysis.statistics.intervals import find_above

SLOWEST_HZ, QUICKEST_HZ = 4.0, 25.0
"""A tire's own swing under power. [Hz] Common practice, no source."""
SWING_ON, SWING_OFF = 0.006, 0.004
"""Swing (rms) as a share of the speed it rides on: a hopping wheel moves engine speed by a per cent. [-] Chosen on
simulated runs."""
NOISES = 4.0
"""It stands out of the channel's own noise, sample to sample, by at least so much. [-]"""
LASTS_S = 0.25
"""Less than three swings is a bump. [s]"""
TREND_S = 0.30
"""Stretch of the parabola that a swing is measured against: two to three of its periods. [s]"""
POWER_OVER_S = 0.25
"""A swing's power is a mean over so long, and seems to begin and end by half of it sooner and later. [s]"""
CLEAR_OF_SHIFT_S = 0.22
"""A shift rings for so long after its end. [s]"""
BEFORE_SHIFT_S = 0.03
"""Until so long before its start nothing of it shows. [s]"""
CLEAR_OF_LAUNCH_S = 0.7
"""The clutch's bite, the first spin and a wheel sensor that wakes are no shake. [s]"""
EVEN_SWINGS = 5
"""Half swings of like size (at least 0.35 of the greatest) that make a shake; a shift or a spin gives one or two."""
SECONDED = 0.25 * SWING_ON
"""Through a clutch that holds the engine swings with shaft and wheel, by at least so much of its own speed: a sensor
that counts few teeth swings alone. A hopping wheel moved the engine by 0.004, few teeth let it stand within 0.0005, on
simulated runs. [-]"""
JUDDERS, ENGINE_JUDDERS = 0.07, 0.02
"""Facings that grip and let go swing the shaft by no more, rms, as a share of its speed. [-] Measured on the
independent simulator: 0.032 to 0.06 by a clutch (bands_behind_clutch, seeds 5101, 6300 and 8001), 0.11 to 0.13 by tires
(tire_shakes, seeds 5000, 5001, 8002). Behind the clutch that slips the engine swings less: a tenth of 900 N m at 10 Hz
swings 0.25 kg m2 by 0.006 rms at 5,000 rpm, by arithmetic."""
RINGS_ON = 1.0
"""Once the clutch has locked shafts swing on by so many swings, and a lock is known to no better. [-]"""
NEAR_MOST_PULL = 0.5
"""Tires shake where they are near to letting go: not while the car pulls less than this of the most of its run. What
swings there is a shaft, or teeth that beat with the log's rows. [-]"""
PULL_PERCENT = 95.0
"""The most: that percentile. [%]"""
LEAST_RATE_HZ = 45.0
"""A channel that comes more slowly does not show how often it swings, but that it does. [Hz]"""
LEAST_SLOW_HZ = 19.0
"""Below this not even that. [Hz]"""
SLOW_SWING = 0.09
"""It does where samples lie on either side of the trend by more than a clutch's judder makes: this, rms. [-]"""


@dataclass(frozen=True, slots=True)
class Shake:
    """One episode, ET."""

    start_s: float
    """[s]"""
    end_s: float
    """[s]"""
    swing: float
    """Greatest departure from the trend, in the channel's unit."""
    rate_hz: float
    """Swings per second. [Hz]"""
    channel: str
    """The channel that shows it."""


def find_shake(channel: Channel, shifts: Sequence[Shift], evidence: RunEvidence) -> tuple[Shake, ...]:
    """Find stretches in which a speed of the driveline swings.

    Parameters
    ----------
    channel : Channel
        Engine, driveshaft or driven wheel speed, ET.
    shifts : sequence of Shift
        Left out with what rings on either side.
    evidence : RunEvidence
        Of the run.

    Returns
    -------
    tuple of Shake
        In order; empty where nothing swings or the channel is too slow to show it.

    Notes
    -----
    Residual of a sliding parabola over 0.3 s, its rms over a quarter second against the speed itself. A limiter that
    chops swings too, but about a level, not on a pull: it is left out by asking that the trend rises.
    """
    clear_s = evidence.launch_s + CLEAR_OF_LAUNCH_S
    known = channel.known.within(clear_s - TREND_S, evidence.end_s)
    slow = channel.rate_hz < LEAST_RATE_HZ
    if channel.rate_hz < LEAST_SLOW_HZ or known.time_s.size < 60 or np.ptp(known.time_s) < 4 * TREND_S:
        return ()
    step = max(0.005, 1.0 / channel.rate_hz)
    time = np.arange(known.time_s[0], known.time_s[-1], step)
    speed = np.interp(time, known.time_s, known.values)
    trend, rise = _trend_between(time, speed, [shift.time_s - BEFORE_SHIFT_S for shift in shifts])
    swing = speed - trend
    watched = _watched(time, shifts, clear_s) & (rise > 0.02 * np.maximum(trend, 1.0))
    width = max(3, round(POWER_OVER_S / step))
    power = np.convolve(np.where(watched, swing**2, 0.0), np.ones(width) / width, mode="same")
    plain = watched & (np.sqrt(power) > NOISES * sample_noise(known.values))
    score = np.where(plain, np.sqrt(power) / np.maximum(trend, 1.0), 0.0)
    found = []
    for piece in find_above(score, on=SLOW_SWING if slow else SWING_ON, off=0.5 * SLOW_SWING if slow else SWING_OFF):
        inside = slice(piece.start, piece.stop)
        lasts = (piece.stop - piece.start) * step
        peaks = _half_swings(swing[inside])
        rate = peaks.size / 2 / lasts if lasts > 0 else 0.0
        even = int(np.count_nonzero(peaks >= 0.35 * peaks.max()))
        if lasts >= LASTS_S and SLOWEST_HZ <= rate <= QUICKEST_HZ and even >= EVEN_SWINGS:
            most = float(peaks.max())
            found.append(Shake(float(time[piece.start]), float(time[piece.stop - 1]), most, rate, channel.header))
    return tuple(found)


def _half_swings(swing: FloatArray) -> FloatArray:
    """Height of each half swing between two crossings of zero."""
    edges = np.flatnonzero(np.diff(np.signbit(swing))) + 1
    return np.array([float(np.abs(half).max()) for half in np.split(swing, edges) if half.size])


def _trend(speed: FloatArray, step_s: float) -> tuple[FloatArray, FloatArray]:
    half = max(2, round(TREND_S / 2 / step_s))
    trend = smooth(speed, step_s=step_s, span_s=2 * half * step_s)
    rise = slope(speed, step_s=step_s, span_s=2 * (2 * half + 1) * step_s, order=1)
    return trend, rise


def _trend_between(time: FloatArray, speed: FloatArray, cuts_s: Sequence[float]) -> tuple[FloatArray, FloatArray]:
    """The trend of each stretch by itself, so that a shift's fall does not bend what lies before it."""
    step = float(time[1] - time[0])
    parts = np.split(np.arange(time.size), np.searchsorted(time, sorted(cuts_s)))
    trend, rise = speed.copy(), np.zeros(time.size)
    for part in parts:
        if part.size * step > 2.5 * TREND_S:
            trend[part], rise[part] = _trend(speed[part], step)
    return trend, rise


def _watched(time: FloatArray, shifts: Sequence[Shift], clear_s: float) -> BoolArray:
    watched = time > clear_s
    for shift in shifts:
        near = (time > shift.time_s - BEFORE_SHIFT_S) & (time < shift.end_s + CLEAR_OF_SHIFT_S)
        watched &= ~near
    return np.asarray(watched)


def tell_shake(
    evidence: RunEvidence,
    shifts: Sequence[Shift],
    limited: Sequence[Interruption] = (),
    *,
    locked_s: float | None = None,
    motion: Motion | None = None,
) -> list[Finding]:
    """Tell the reader of tire shake, once for each episode, from the first channel that shows it.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run.
    shifts : sequence of Shift
        Of the run.
    limited : sequence of Interruption
        Stretches on the limiter, whose chopping is no shake.
    locked_s : float, optional
        When the clutch of the launch locked: what swings before may be its facings that grip and let go. [s, ET]
    motion : Motion, optional
        How hard the car pulled: far from the most that its tires held nothing shakes them. ET.

    Returns
    -------
    list of Finding
        Cautions, notes of a clutch that may judder; empty where nothing shakes.
    """
    for name in ("driveshaft_speed", "wheel_speed_driven", "engine_speed"):
        channel = evidence.traces.get(name)
        if channel is None:
            continue
        shakes = find_shake(channel, shifts, evidence)
        if not evidence.converter and name != "engine_speed":
            shakes = tuple(shake for shake in shakes if _seconded(shake, evidence.traces.get("engine_speed")))
        shakes = tuple(shake for shake in shakes if not _chopped(shake, limited) and _pulls_hard(shake, motion))
        if shakes:
            return [_tell(shake, channel, judders=_judders(shake, channel, locked_s)) for shake in shakes]
    return []


def _chopped(shake: Shake, limited: Sequence[Interruption]) -> bool:
    """Whether half of it or more lies on the limiter."""
    on = sum(max(0.0, min(shake.end_s, one.end_s) - max(shake.start_s, one.start_s)) for one in limited)
    return on >= 0.5 * (shake.end_s - shake.start_s)


def _pulls_hard(shake: Shake, motion: Motion | None) -> bool:
    """Whether the car pulled enough meanwhile for its tires to be near letting go; True where that is not known."""
    if motion is None:
        return True
    during = motion.acceleration_mps2[(motion.time_s >= shake.start_s) & (motion.time_s <= shake.end_s)]
    run = motion.acceleration_mps2[(motion.time_s >= 0.0) & np.isfinite(motion.acceleration_mps2)]
    if not during.size or not run.size:
        return True
    return float(np.median(during)) >= NEAR_MOST_PULL * float(np.percentile(run, PULL_PERCENT))


def _judders(shake: Shake, channel: Channel, locked_s: float | None) -> bool:
    """Whether a clutch alone may swing the driveline so: no longer than it slips, and no further."""
    if locked_s is None or shake.end_s > locked_s + 0.5 * POWER_OVER_S + RINGS_ON / shake.rate_hz:
        return False
    most = ENGINE_JUDDERS if channel.name == "engine_speed" else JUDDERS
    return (_share(channel, shake.start_s, shake.end_s) or 0.0) < most


def _seconded(shake: Shake, engine: Channel | None) -> bool:
    """Whether the engine swings too; True where its log is too slow to show it."""
    if engine is None or engine.rate_hz < LEAST_RATE_HZ:
        return True
    own = _share(engine, shake.start_s, shake.end_s)
    return own is None or own > SECONDED


def _share(channel: Channel, start_s: float, end_s: float) -> float | None:
    """Swing (rms) of a stretch as a share of what it rides on, noise taken off; None where too few samples hold it."""
    known = channel.known.within(start_s - TREND_S, end_s + TREND_S)
    if known.time_s.size < 20:
        return None
    step = max(0.005, 1.0 / channel.rate_hz)
    time = np.arange(known.time_s[0], known.time_s[-1], step)
    speed = np.interp(time, known.time_s, known.values)
    trend, _ = _trend(speed, step)
    inside = (time >= start_s) & (time <= end_s)
    power = float(np.mean((speed - trend)[inside] ** 2)) - sample_noise(channel.known.values) ** 2
    return float(np.sqrt(max(power, 0.0)) / max(float(np.mean(trend[inside])), 1.0))


def _tell(shake: Shake, channel: Channel, *, judders: bool) -> Finding:
    swing = f"{shake.swing:.0f}" if shake.swing >= 10 else f"{shake.swing:.1f}"
    often = f"some {shake.rate_hz:.0f} times a second"
    if channel.rate_hz < LEAST_RATE_HZ:
        often = f"faster than {channel.rate_hz:.0f} samples a second can count"
    when = f"from {shake.start_s:.2f} to {shake.end_s:.2f} s"
    seen = f"{channel.header} swings by up to {swing} {channel.unit} {often} {when}"
    where = f"{shake.start_s:.2f} s"
    if judders:
        text = f"{seen}, while the clutch still slips: it judders, or the tires shake. It is no shift."
        return Finding("clutch-judder", "note", text, where)
    text = f"Tire shake: {seen}. It is no shift; figures of that stretch are less sure."
    return Finding("tire-shake", "caution", text, where)
