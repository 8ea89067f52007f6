"""Engine speed as the crank had it: ignition noise taken out, the pick-up's delay allowed for.

Public: `EngineSpeed`, `read_engine_speed`, `local_line`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.log import Channel, Traces
from analysis.quantities import BoolArray, FloatArray

PICKUP_LATENCY_S = 0.006
"""Pure delay of an engine-speed channel: one firing interval and the ECU's cycle; devices lie from 3 to 9 ms. [s]"""
PICKUP_LAG_S = 0.0075
"""Time constant of the averaging behind it; devices lie from 4 to 11 ms. [s]"""
PICKUP_DELAY_S = PICKUP_LATENCY_S + PICKUP_LAG_S
"""How late a slow change shows: their sum. [s]"""
PICKUP_DELAY_PLUS_MINUS_S = 0.0065
"""95 % half-width of the sum, over devices from 7 to 20 ms. [s]"""

NOISE_RATIO = 0.16
"""A sample this far (as ratio) from the middle of its neighbours, which agree, is noise. An engine cannot turn by a
sixth and back within two samples; doubled, halved and lost ignition pulses do. [-]"""
NOISE_SPAN_S = 0.045
"""Noise comes in bursts up to this long; a shift's fall does not come back. [s]"""


@dataclass(frozen=True, slots=True)
class EngineSpeed:
    """Engine speed at its own sample times, noise taken out."""

    time_s: FloatArray
    """Sample times as logged, shape (n,). [s]"""
    rpm: FloatArray
    """Shape (n,). [rpm]"""
    step_s: float
    """Time between samples, median. [s]"""
    noise_rpm: float
    """Standard deviation of what is left of sample-to-sample noise. [rpm]"""
    noisy: BoolArray
    """True where a sample was taken out as noise and bridged. Shape (n,)."""

    @property
    def true_time_s(self) -> FloatArray:
        """When the engine turned so, slow changes: sample times less the pick-up's delay. [s]"""
        return self.time_s - PICKUP_DELAY_S

    def at(self, time_s: FloatArray | float) -> FloatArray:
        """Engine speed at true times, straight between samples, NaN outside. [rpm]"""
        return np.asarray(np.interp(time_s, self.true_time_s, self.rpm, left=np.nan, right=np.nan), dtype=np.float64)

    def sharpened(self) -> FloatArray:
        """Samples with the first-order lag undone; they belong to ``time_s - PICKUP_LATENCY_S``. Shape (n,). [rpm]"""
        if self.rpm.size < 3:
            return self.rpm.copy()
        slope = np.gradient(self.rpm, self.time_s)
        return self.rpm + PICKUP_LAG_S * slope


def read_engine_speed(traces: Traces) -> EngineSpeed | None:
    """Engine speed of a run, the first log's before another's.

    Parameters
    ----------
    traces : Traces
        All channels on one clock.

    Returns
    -------
    EngineSpeed or None
        None where no log holds at least ten samples of it.

    Notes
    -----
    The pick-up is taken as a pure delay and a first-order lag. Their sizes are a prior over devices, not measured.
    """
    channel = traces.get("engine_speed")
    if channel is None or channel.known.time_s.size < 10:
        return None
    known = _updates(channel.known)
    noisy = find_ignition_noise(known.time_s, known.values)
    clean = np.interp(known.time_s, known.time_s[~noisy], known.values[~noisy]) if not noisy.all() else known.values
    step_s = float(np.median(np.diff(known.time_s)))
    return EngineSpeed(known.time_s, clean, step_s, _sample_noise(clean), noisy)


def _updates(channel: Channel) -> Channel:
    """Thin a channel that holds each value over several rows to the rows where it really updates."""
    row_s = float(np.median(np.diff(channel.time_s)))
    hold = round(1.0 / (channel.rate_hz * row_s)) if channel.rate_hz > 0 and row_s > 0 else 1
    if hold <= 1:
        return channel
    changed = np.concatenate(([True], np.diff(channel.values) != 0))
    since = np.arange(changed.size) - np.maximum.accumulate(np.where(changed, np.arange(changed.size), 0))
    keep = changed | (since % hold == 0)
    return Channel(
        channel.name, channel.header, channel.unit, channel.unit_written, channel.time_s[keep], channel.values[keep],
        channel.rate_hz, channel.confidence, channel.log, channel.resolution,
    )  # fmt: skip


def find_ignition_noise(time_s: FloatArray, rpm: FloatArray) -> BoolArray:
    """Samples that are no engine speed: doubles, halves and bursts that come back to where they left.

    Parameters
    ----------
    time_s, rpm : array, shape (n,)
        Rising times [s] and engine speed [rpm].

    Returns
    -------
    array of bool, shape (n,)
        True where a sample is noise.

    Notes
    -----
    A sample is noise where it is off by more than a sixth from the straight line between its nearest good neighbours on both sides,
    and those lie within `NOISE_SPAN_S`, or next to it on a slow log.
    """
    noisy = np.zeros(rpm.size, dtype=np.bool_)
    if rpm.size < 5:
        return noisy
    reach = max(1, int(np.ceil(NOISE_SPAN_S / max(float(np.median(np.diff(time_s))), 1e-4) / 2)))
    for span in range(1, min(reach, 12) + 1):
        before, after = np.roll(rpm, span), np.roll(rpm, -span)
        low, high = np.minimum(before, after), np.maximum(before, after)
        off = (rpm > high * (1 + NOISE_RATIO)) | (rpm < low * (1 - NOISE_RATIO))
        agree = high < low * (1 + 1.5 * NOISE_RATIO)
        off[:span] = off[-span:] = False
        noisy |= off & agree
    return noisy


def _sample_noise(rpm: FloatArray) -> float:
    if rpm.size < 8:
        return 0.0
    bend = rpm[2:] - 2 * rpm[1:-1] + rpm[:-2]
    return float(np.median(np.abs(bend - np.median(bend))) * 1.4826 / np.sqrt(6.0))


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line through a stretch of a signal."""

    value: float
    """At the time asked for, in the signal's unit."""
    slope: float
    """Per second."""
    scatter: float
    """Standard deviation about it."""
    samples: int
    """How many samples it rests on."""


def local_line(time_s: FloatArray, values: FloatArray, *, start_s: float, stop_s: float, at_s: float) -> Line | None:
    """Fit a straight line to the samples between two times.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Times [s] and signal; NaN is passed over.
    start_s, stop_s : float
        The stretch. [s]
    at_s : float
        Where its value is wanted. [s]

    Returns
    -------
    Line or None
        None with fewer than two samples in the stretch.

    Examples
    --------
    >>> t = np.arange(5.0)
    >>> local_line(t, 2.0 * t + 1.0, start_s=0.0, stop_s=4.0, at_s=10.0).value
    21.0
    """
    inside = (time_s >= start_s) & (time_s <= stop_s) & np.isfinite(values)
    if int(inside.sum()) < 2:
        return None
    x, y = time_s[inside] - at_s, values[inside]
    mean = float(x.mean())
    spread = float(((x - mean) ** 2).sum())
    slope = float(((x - mean) * y).sum() / spread) if spread > 0 else 0.0
    value = float(y.mean() - slope * mean)
    left = y - value - slope * x
    return Line(value, slope, float(np.sqrt((left**2).sum() / max(x.size - 2, 1))), x.size)
