"""Boost: time above the threshold, when first reached, every dip and its cause.

Public: `BoostCauses`, `measure_boost`, `crossings`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import FloatArray
from passband.analysis.results.boost import Boost, BoostDip, DipCause
from passband.analysis.results.distance import Wheelspin
from passband.analysis.results.findings import Finding
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.boost_trace import BoostTrace
from passband.analysis.sensors.evidence import ABOUT_S
from passband.analysis.sensors.priors import LIFTED
from passband.analysis.statistics.filters import slope, smooth
from passband.analysis.statistics.fits import sample_noise
from passband.analysis.statistics.intervals import time_where

LEAST_DIP_PA = 2e3
"""A stretch below the threshold is the sensor's noise if it is shallower than this. [Pa]"""
LEAST_DIP_S = 0.03
"""And shorter than this. [s]"""
LEAST_NOISE_PA = 500.0
"""A low is read off the middle of three samples where noise is larger. [Pa]"""
LEAST_STEP_S = 0.006
"""And samples nearer than this: a torque-cut shift's dip is a notch of some 50 ms, which three samples of a slower log
would round off. [s]"""
QUIET_SPAN_S = 0.12
"""Boost hovers where a line over so long is flat. [s]"""
QUIET_NOISES = 4.0
"""It neither climbs nor leaves a sample off by so many spreads of its noise. [-]"""
BEFORE_SHIFT_S = 0.05
"""A dip that starts this long before a shift is the shift's. [s]"""
AFTER_SHIFT_S = 0.15
"""So is one that starts this long after its end: the turbine answers late. [s]"""
LIFT_AT_LINE_S = 0.15
"""A lift that begins no sooner before the end is the one past the line: where the line is, is known to hundredths of a
second, and boost falls by all there is within three. [s]"""
OPEN_FOR_S = 0.5
"""Where the throttle had been held for so long before. [s]"""
SHUTS_SHARE = 0.95
"""It shuts where it falls below that share of what it was held at. [-]"""
MAX_GAP_S = 0.3
"""Samples further apart are not joined. [s]"""

NO_THRESHOLD = Unknown(
    Finding(
        "boost-threshold-not-given", "note", "No boost threshold is given with the car: nothing was held against it."
    )
)
NEVER_REACHED = Unknown(Finding("boost-threshold-not-reached", "note", "Boost never reached its threshold."))


@dataclass(frozen=True, slots=True)
class BoostCauses:
    """What boost may fall by. Times are ET."""

    shifts: Sequence[Shift] = ()
    """A dip is laid to the shift it starts at."""
    wheelspin: Sequence[Wheelspin] = ()
    """Where the tires spun."""
    throttle: Channel | None = None
    """None where not logged."""


def measure_boost(
    trace: BoostTrace | Unknown, causes: BoostCauses, *, threshold_pa: float | None, end_s: float
) -> Boost | Unknown:
    """How the boost stood to the threshold, from clock start to finish or lift.

    Parameters
    ----------
    trace : BoostTrace or Unknown
        ET.
    causes : BoostCauses
        What a dip may be laid to.
    threshold_pa : float or None
        Gauge; None where the car names none: only the plain figures are given. [Pa]
    end_s : float
        End of the window that starts at 0. [s]

    Returns
    -------
    Boost or Unknown
        Unknown without a trace, or with fewer than five samples in the window.

    Notes
    -----
    Straight between samples: crossings are found there. A stretch below the threshold counts as a dip if it is deeper
    or longer than the sensor's noise. Where the log ends before the run, the window ends with it. A constant delay of
    the sensor moves both edges alike; what a log slower than 50 Hz does not see of a shift's dip stays unseen.
    """
    if isinstance(trace, Unknown):
        return trace
    seen = trace.known.within(-ABOUT_S, end_s + ABOUT_S)
    time, value = seen.time_s, seen.boost_pa
    inside = (time >= 0) & (time <= end_s)
    if inside.sum() < 5:
        return Unknown(Finding("boost-without-data", "caution", "The boost channel holds no data during the run."))
    why = NO_THRESHOLD
    plain = Boost(
        threshold_pa=None,
        time_above_s=why,
        share_above=why,
        longest_above_s=why,
        first_reached_s=why,
        lowest_after_pa=why,
        highest_pa=float(value[inside].max()),
        at_clock_start_pa=float(np.interp(0.0, time, value)),
        deficit_pa_s=why,
        dips=(),
        basis=trace.basis,
        findings=tuple(_gaps(time, end_s)),
    )
    if threshold_pa is None:
        return plain
    shown_s = min(end_s, float(time[-1]) + float(np.median(np.diff(time))))
    return _against(threshold_pa, plain, seen, causes, end_s=shown_s)


def _against(threshold: float, plain: Boost, seen: BoostTrace, causes: BoostCauses, *, end_s: float) -> Boost:
    time, value = seen.time_s, seen.boost_pa
    noise = sample_noise(value)
    held = _quieted(time, value, noise)
    above = _joined(crossings(time, held - threshold, start_s=0.0, stop_s=end_s), time, held, threshold, noise)
    first = above[0][0] if above else None
    time_above = time_where(time, held - threshold, start_s=0.0, stop_s=end_s)
    pulled_s = _pulled_until(causes.throttle, end_s)
    below = _between(above, pulled_s)
    dips = tuple(_dip(a, b, seen, causes) for a, b in below)
    after = (time >= first) & (time <= pulled_s) if first is not None else np.zeros(time.size, dtype=np.bool_)
    steady = _steadied(value, noise, float(np.median(np.diff(time))))
    lowest: float | Unknown = NEVER_REACHED
    if first is not None:
        ends = np.interp([first, max(first, pulled_s)], time, steady)
        lowest = float(min(*ends, steady[after].min(initial=np.inf)))
    return Boost(
        threshold_pa=threshold,
        time_above_s=time_above,
        share_above=time_above / end_s,
        longest_above_s=max((b - a for a, b in above), default=0.0),
        first_reached_s=first if first is not None else NEVER_REACHED,
        lowest_after_pa=lowest,
        highest_pa=plain.highest_pa,
        at_clock_start_pa=plain.at_clock_start_pa,
        deficit_pa_s=_deficit(time, value, threshold, end_s),
        dips=dips,
        basis=plain.basis,
        findings=plain.findings,
    )


def crossings(time_s: FloatArray, excess: FloatArray, *, start_s: float, stop_s: float) -> list[tuple[float, float]]:
    """Stretches of a window in which a signal is at or above zero, ends found between samples.

    Parameters
    ----------
    time_s, excess : array, shape (n,)
        Rising times [s] and the signal less its threshold, all finite; straight between samples, held past the ends.
    start_s, stop_s : float
        The window. [s]

    Returns
    -------
    list of (start, end)
        In order; empty where it never is. [s]

    Examples
    --------
    >>> crossings(np.array([0.0, 1.0, 2.0, 3.0]), np.array([-1.0, 1.0, 1.0, -1.0]), start_s=0.0, stop_s=3.0)
    [(0.5, 2.5)]
    """
    if stop_s <= start_s or time_s.size == 0:
        return []
    inside = (time_s > start_s) & (time_s < stop_s)
    at = np.concatenate(([start_s], time_s[inside], [stop_s]))
    level = np.interp(at, time_s, excess)
    high = level >= 0
    turn = np.flatnonzero(high[1:] != high[:-1])
    edge = at[turn] + (at[turn + 1] - at[turn]) * level[turn] / (level[turn] - level[turn + 1])
    marks = [start_s] * bool(high[0]) + edge.tolist() + [stop_s] * bool(high[-1])
    return [(float(a), float(b)) for a, b in zip(marks[::2], marks[1::2], strict=True)]


def _quieted(time: FloatArray, value: FloatArray, noise: float) -> FloatArray:
    """Boost without its noise where it hovers; as logged where it climbs or dips.

    Boost that hovers at the threshold passes it by noise alone; a shift's dip must keep its edges.
    """
    step_s = float(np.median(np.diff(time)))
    reach = round(0.5 * QUIET_SPAN_S / step_s)
    if noise <= 0 or reach < 2 or value.size < 4 * reach:
        return value
    level = smooth(value, step_s=step_s, span_s=QUIET_SPAN_S, order=1)
    steep = np.abs(slope(value, step_s=step_s, span_s=QUIET_SPAN_S, order=1)) * QUIET_SPAN_S
    bent = (np.abs(value - level) > QUIET_NOISES * noise) | (steep > QUIET_NOISES * noise)
    near = np.convolve(bent.astype(np.float64), np.ones(2 * reach + 1), mode="same") > 0.5
    return np.where(near | ~np.isfinite(level), value, level)


def _steadied(value: FloatArray, noise: float, step_s: float) -> FloatArray:
    """Middle of three where the noise would show as a low of its own; a dip lasts longer than one sample."""
    if noise < LEAST_NOISE_PA or step_s > LEAST_STEP_S or value.size < 3:
        return value
    middle = np.median(np.stack((value[:-2], value[1:-1], value[2:])), axis=0)
    return np.concatenate((value[:1], middle, value[-1:]))


def _joined(
    above: list[tuple[float, float]], time: FloatArray, value: FloatArray, threshold: float, noise: float
) -> list[tuple[float, float]]:
    """Stretches above with what is only noise between them closed, and what is only noise itself left out."""
    joined: list[tuple[float, float]] = []
    for start, end in above:
        if joined and not _deep(joined[-1][1], start, time, threshold - value, noise):
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return [piece for piece in joined if _deep(*piece, time, value - threshold, noise)]


def _deep(start: float, end: float, time: FloatArray, excess: FloatArray, noise: float) -> bool:
    """Whether a stretch passes the threshold by more than noise, or for longer."""
    inside = (time >= start) & (time <= end)
    height = float(excess[inside].max(initial=0.0))
    return height > max(LEAST_DIP_PA, 4.0 * noise) or (end - start > LEAST_DIP_S and inside.sum() >= 4)


def _between(above: list[tuple[float, float]], end_s: float) -> list[tuple[float, float]]:
    if not above:
        return []
    ends = [end for _, end in above]
    starts = [start for start, _ in above[1:]] + [end_s]
    return [(a, b) for a, b in zip(ends, starts, strict=True) if b > a]


def _pulled_until(throttle: Channel | None, end_s: float) -> float:
    """The end, or the last row with the throttle open before the lift for the line. [s, ET]."""
    if throttle is None:
        return end_s
    near = throttle.known.within(end_s - OPEN_FOR_S, end_s + LIFT_AT_LINE_S)
    held = near.values[near.time_s < end_s - LIFT_AT_LINE_S]
    if held.size < 2 or near.time_s[-1] < end_s:
        return end_s
    still_open = near.values >= SHUTS_SHARE * float(np.median(held))
    if still_open[-1]:
        return end_s
    last_s = float(near.time_s[np.flatnonzero(still_open)[-1]])
    return min(end_s, last_s) if last_s > end_s - LIFT_AT_LINE_S else end_s


def _dip(start: float, end: float, seen: BoostTrace, causes: BoostCauses) -> BoostDip:
    time, value = seen.time_s, seen.boost_pa
    inside = (time >= start) & (time <= end)
    lowest = float(min(*np.interp([start, end], time, value), value[inside].min(initial=np.inf)))
    for index, shift in enumerate(causes.shifts):
        if shift.time_s - BEFORE_SHIFT_S <= start <= shift.end_s + AFTER_SHIFT_S:
            return BoostDip(start, end, lowest, index, DipCause.SHIFT)
    if causes.throttle is not None and _lifts(causes.throttle, start, end):
        return BoostDip(start, end, lowest, None, DipCause.LIFT)
    if any(spin.start_s - BEFORE_SHIFT_S <= end and spin.end_s + AFTER_SHIFT_S >= start for spin in causes.wheelspin):
        return BoostDip(start, end, lowest, None, DipCause.WHEELSPIN)
    return BoostDip(start, end, lowest, None, DipCause.UNEXPLAINED)


def _lifts(throttle: Channel, start: float, end: float) -> bool:
    known = throttle.known
    about = known.within(start - 0.3, end).values
    return bool(about.size) and float(about.min()) < LIFTED * float(known.values.max())


def _deficit(time: FloatArray, value: FloatArray, threshold: float, end_s: float) -> float:
    """Pressure below the threshold times time, from clock start. [Pa s]."""
    inside = (time > 0) & (time < end_s)
    at = np.concatenate(([0.0], time[inside], [end_s]))
    return float(np.trapezoid(np.maximum(threshold - np.interp(at, time, value), 0.0), at))


def _gaps(time: FloatArray, end_s: float) -> list[Finding]:
    inside = time[(time >= 0) & (time <= end_s)]
    steps = np.diff(np.concatenate(([0.0], inside, [end_s])))
    lost = float(steps[steps > MAX_GAP_S].sum())
    if lost == 0:
        return []
    text = f"Boost is missing for {lost:.1f} s of the run; it was taken as running straight from one side to the other."
    return [Finding("boost-gaps", "caution", text)]
