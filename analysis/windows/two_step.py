"""Where a two-step lets go: its ripple, as regular as the limiter that makes it, ends as the clutch takes hold.

Public: `RippleEnd`, `ripple_end`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.despiking import despike

LEAST_RIPPLE_RPM, MOST_RIPPLE = 50.0, 0.08
"""Swing of a limiter, from peak to valley: less is noise, more is a foot. [rpm], share of the level [-]"""
TURNS_AT = 0.5
"""A turn counts where engine speed comes back by this share of the swing. [-]"""
SEEN_FOR_S = 0.6
"""The swing is taken over so long. [s]"""
LEAST_PEAKS = 4
"""Peaks in a row that tell a ripple. [-]"""
REGULAR = 0.35
"""How far the time from peak to peak may lie off the ripple's own, as a share of it; sampling comes on top. [-]"""
LONGEST_PERIOD_S = 0.4
"""A limiter cuts and fires faster than this. [s]"""


@dataclass(frozen=True, slots=True)
class RippleEnd:
    """The end of a two-step's ripple."""

    time_s: float
    """Midst between its last peak and what did not follow as it should. [s]"""
    sigma_s: float
    """Deviation of that. [s]"""


def ripple_end(channel: Channel, *, first_s: float, last_s: float) -> RippleEnd | None:
    """Where a regular ripple of engine speed ends, or changes its pace.

    Parameters
    ----------
    channel : Channel
        Engine speed.
    first_s, last_s : float
        Where to look; it must ripple at the first and have ended before the last. [s]

    Returns
    -------
    RippleEnd or None
        None where engine speed does not ripple as a limiter makes it, or does not stop.
    """
    near = channel.known.within(first_s, last_s)
    rpm = despike(near.time_s, near.values)
    sound = np.isfinite(rpm)
    time, rpm = near.time_s[sound], rpm[sound]
    for begin in np.arange(first_s, last_s - 2 * SEEN_FOR_S, SEEN_FOR_S / 2):
        inside = time >= begin
        found = _end_of_ripple(time[inside], rpm[inside], last_s)
        if found is not None:
            return found
    return None


def _end_of_ripple(time: FloatArray, rpm: FloatArray, last_s: float) -> RippleEnd | None:
    """The end of a ripple that is there from the first sample on."""
    if time.size < 4 * LEAST_PEAKS:
        return None
    before = rpm[time < time[0] + SEEN_FOR_S]
    swing = float(np.percentile(before, 95) - np.percentile(before, 5))
    if not LEAST_RIPPLE_RPM < swing < MOST_RIPPLE * float(np.median(before)):
        return None
    peaks = time[_peaks(rpm, TURNS_AT * swing)]
    gaps = np.diff(peaks, append=last_s)
    period = float(np.median(gaps[:LEAST_PEAKS])) if gaps.size > LEAST_PEAKS else np.inf
    if period > LONGEST_PERIOD_S:
        return None
    step = float(np.median(np.diff(time)))
    out = np.abs(gaps - period) > REGULAR * period + 1.5 * step
    # a peak that noise hid is no end: there the ripple goes on as before
    goes_on = [not bool(out[at + 1 : at + LEAST_PEAKS].any()) for at in range(out.size - LEAST_PEAKS)]
    off = np.flatnonzero(out & ~np.array(goes_on + [False] * (out.size - len(goes_on))))
    if off.size == 0 or off[0] < LEAST_PEAKS:
        return None
    last, open_s = float(peaks[off[0]]), min(float(gaps[off[0]]), period)
    return RippleEnd(last + open_s / 2, open_s / np.sqrt(12.0))


def _peaks(values: FloatArray, least: float) -> list[int]:
    """Samples from which a signal, having risen by at least so much, falls back by as much."""
    found: list[int] = []
    high = low = 0
    rising = False
    for place in range(1, values.size):
        high = place if values[place] > values[high] else high
        low = place if values[place] < values[low] else low
        if rising and values[high] - values[place] > least:
            found.append(high)
            rising, low = False, place
        elif not rising and values[place] - values[low] > least:
            rising, high = True, place
    return found
