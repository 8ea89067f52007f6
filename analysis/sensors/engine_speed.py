"""Engine speed as the crank had it: ignition noise taken out, the pick-up's delay allowed for.

Public: `EngineSpeed`, `read_engine_speed`, `local_line`, `find_ignition_noise`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.engine_speed_copy import find_copy
from passband.analysis.sensors.priors import PICKUP_LAG_PLUS_MINUS_S, PICKUP_LAG_S, PICKUP_LATENCY_S
from passband.analysis.statistics.filters import own_updates, slope, smooth
from passband.analysis.statistics.fits import middle, sample_noise
from passband.analysis.statistics.intervals import Interval, find_true_runs

SHARPEN_STEP_S = 0.025
"""Slower logs than this hold nothing of the lag that could be undone. [s]"""
SHARPEN_SPAN_S = 0.011
"""Slopes for it are taken over this long: a ring of 5 to 10 ms survives, the noise does not. [s]"""
FALL_PER_S = 10.0
"""An engine dragged into the next gear by dogs loses a tenth in 10 ms. Log slope. [1/s]"""
RISE_PER_S = 15.0
"""One whose throttle opens with the clutch not yet biting gains 1000 N m over 0.2 kg m2, 48,000 rpm/s, which at 3,000
rpm is 16 a second: by arithmetic. Log slope. [1/s]"""
FREE_STEP = 0.04
"""Step between neighbouring samples that is never noise: resolution, scatter, a cylinder's beat. [-]"""
MOST_FALL = 0.6
"""However long a gap, engine speed is not believed to have fallen by more, in log: a halved pulse is 0.69, the widest
step of a gearbox 0.5. [-]"""
MOST_RISE = 0.4
"""Nor to have risen by more. [-]"""
GAP_COST = 0.9
"""A chain of believed samples gives up this many to leave out a stretch. [samples]"""
LONGEST_NOISE_S = 0.6
"""Noise longer than this is not bridged. [s]"""
BREAK_COST = 20.0
"""A chain gives up this many to go on after so long at a level it could not have reached: a blip from idle that looks
too quick must not cost the run after it. [samples]"""
LEAST_RPM = 300.0
"""Below it an engine under way does not turn: the reading is a lost signal. [rpm]"""
STANDS_S = 0.2
"""An engine stands where it reads less than the least for so long: an electric motor before its launch, an engine
stalled or started. A lost signal leaps from running speed and back, in a sample. [s] Twice the least, by hand."""
FROM_REST_RPM = 600.0
"""It comes from, and goes on at, no more than this. [rpm] Twice the least, by hand."""
LONG_S = 1.0
"""One that stood for so long may have turned up further by the next sample of a slow log. [s]"""
FROM_REST_RPM_PER_S = 15e3
"""By so much. [rpm/s] Three times what 1.5 times gravity asks of a motor geared 9 to 1, as tires that spin let it; by
arithmetic."""
SWINGS_S = 0.5
"""And its shafts' swing may take it down again for so long after. [s]"""


@dataclass(frozen=True)
class EngineSpeed:
    """Engine speed at its own sample times, noise taken out.

    Without slots: what undoing the lag takes is worked out once and kept beside the fields.
    """

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
    copied_from_s: float = float("inf")
    """From here on it is another device's copy, the ECU's log having ended. [s]"""
    copy_step_s: float = 0.0
    """Time between that copy's updates. [s]"""
    lag_s: float = PICKUP_LAG_S
    """The pick-up's lag: a usual one's, or the run's own where its two-step shows it. [s]"""
    lag_plus_minus_s: float = PICKUP_LAG_PLUS_MINUS_S
    """95 % half-width of it. [s]"""
    lag_measured: bool = False
    """Whether the run shows it."""
    printed_rpm: float = 0.0
    """Step in which it is printed; 0 where it shows none. [rpm]"""

    @property
    def late_s(self) -> float:
        """How late a slow change shows: the pick-up's pure delay and its lag. [s]."""
        return PICKUP_LATENCY_S + self.lag_s

    def of_usual_lag(self) -> EngineSpeed:
        """The same with a usual pick-up's lag, where what the run seemed to show of it was none."""
        return replace(self, lag_s=PICKUP_LAG_S, lag_plus_minus_s=PICKUP_LAG_PLUS_MINUS_S, lag_measured=False)

    @property
    def longest_lag_s(self) -> float:
        """The longest lag that is open to it. [s]."""
        return self.lag_s + self.lag_plus_minus_s

    @property
    def true_time_s(self) -> FloatArray:
        """When the engine turned so, slow changes: sample times less the pick-up's delay."""
        return self.time_s - self.late_s

    def at(self, time_s: FloatArray | float) -> FloatArray:
        """Engine speed at true times, straight between samples, NaN outside."""
        return np.asarray(np.interp(time_s, self.true_time_s, self.rpm, left=np.nan, right=np.nan), dtype=np.float64)

    def sharpened(self, lag_s: float | None = None) -> Sharpened:
        """Engine speed with the pick-up's lag undone, as far as the rate lets it.

        Samples nearer than `SHARPEN_STEP_S` show the lag's slope, and it is taken back; on slower logs the lag is no
        more than a delay. Its own unless told.
        """
        lag_s = self.lag_s if lag_s is None else lag_s
        if self.rpm.size < 5 or self.step_s > SHARPEN_STEP_S:
            return Sharpened(self.time_s - PICKUP_LATENCY_S - lag_s, self.rpm)
        level, steep = self._level_and_slope
        return Sharpened(self.time_s - PICKUP_LATENCY_S, np.asarray(level + lag_s * steep, dtype=np.float64))

    @cached_property
    def _level_and_slope(self) -> tuple[FloatArray, FloatArray]:
        """Every shift asks for them three times and more."""
        level = smooth(self.rpm, step_s=self.step_s, span_s=SHARPEN_SPAN_S)
        return level, slope(self.rpm, step_s=self.step_s, span_s=SHARPEN_SPAN_S)


@dataclass(frozen=True, slots=True)
class Sharpened:
    """Engine speed with the lag undone, at true times."""

    time_s: FloatArray
    """Shape (n,). [s]"""
    rpm: FloatArray
    """Shape (n,). [rpm]"""


def read_engine_speed(
    traces: Traces, *, start_s: float = -float("inf"), stop_s: float = float("inf")
) -> EngineSpeed | None:
    """Engine speed of a run, the first log's before another's.

    Parameters
    ----------
    traces : Traces
        All channels on one clock.
    start_s, stop_s : float
        The stretch wanted. Where the ECU's log ends before `stop_s`, another device's copy goes on. [s]

    Returns
    -------
    EngineSpeed or None
        None where no log holds at least ten samples of it.

    Notes
    -----
    The pick-up is taken as a pure delay and a first-order lag. Their sizes are a prior over devices, not measured.
    """
    channel = traces.get("engine_speed")
    known = channel.known.within(start_s, stop_s) if channel is not None else None
    if known is None or known.time_s.size < 10:
        return None
    renewed = own_updates(known.time_s, known.values, rate_hz=known.rate_hz)
    time_s, rpm = known.time_s[renewed], known.values[renewed]
    noisy = find_ignition_noise(time_s, rpm)
    if time_s.size < 10 or noisy.mean() > 0.5:
        return None
    step_s = middle(np.diff(time_s))
    rows_s = _without_gaps(time_s, step_s)
    clean = np.interp(rows_s, time_s[~noisy], rpm[~noisy])
    held_s = known.time_s[~renewed]
    noisy = ~np.isin(rows_s, time_s[~noisy]) & ~_held_at(rows_s, time_s, held_s, within_s=0.6 * step_s)
    time_s, noise = rows_s, sample_noise(clean)
    copy = find_copy(time_s, clean, traces, stop_s=stop_s) if np.isfinite(stop_s) else None
    if copy is None:
        return EngineSpeed(time_s, clean, step_s, noise, noisy, printed_rpm=known.resolution)
    longer, whole = np.concatenate((time_s, copy.time_s)), np.concatenate((clean, copy.rpm))
    mark = np.concatenate((noisy, np.zeros(copy.time_s.size, dtype=np.bool_)))
    return EngineSpeed(
        longer, whole, step_s, noise, mark, float(copy.time_s[0]), copy.step_s, printed_rpm=known.resolution
    )


def _without_gaps(time_s: FloatArray, step_s: float) -> FloatArray:
    """Sample times with those put in that a gap left out: what stands there is bridged like noise."""
    gaps = np.flatnonzero(np.diff(time_s) > 1.6 * step_s)
    filled = [np.arange(time_s[gap] + step_s, time_s[gap + 1] - 0.5 * step_s, step_s) for gap in gaps]
    return np.sort(np.concatenate([time_s, *filled])) if filled else time_s


def _held_at(rows_s: FloatArray, time_s: FloatArray, held_s: FloatArray, *, within_s: float) -> BoolArray:
    """Rows put in where the log has one that only repeats its value: nothing is missing there."""
    if not held_s.size:
        return np.zeros(rows_s.size, dtype=np.bool_)
    after = np.clip(np.searchsorted(held_s, rows_s), 0, held_s.size - 1)
    apart = np.minimum(np.abs(held_s[after] - rows_s), np.abs(held_s[np.maximum(after - 1, 0)] - rows_s))
    return np.asarray((apart <= within_s) & ~np.isin(rows_s, time_s))


def find_ignition_noise(time_s: FloatArray, rpm: FloatArray) -> BoolArray:
    """Samples that are no engine speed: doubles, halves, dropouts and bursts.

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
    The longest chain of samples is believed in which no step is quicker than an engine can turn up or be dragged down;
    leaving a stretch out costs a few samples. An engine that stands is none. It does not see noise that drifts in and
    out at a believable pace.
    """
    lost = rpm < LEAST_RPM
    kept = np.flatnonzero(~lost)
    stands = _stands(time_s, rpm, lost)
    noisy = lost & ~stands
    if kept.size < 3:
        return noisy
    # turning up from rest it gains any share of nearly nothing
    log_rpm, at_s = np.log(np.maximum(rpm[kept], FROM_REST_RPM if stands.any() else LEAST_RPM)), time_s[kept]
    if _believable(np.diff(log_rpm), np.diff(at_s)).all():
        return noisy
    noisy[kept[~_longest_chain(log_rpm, at_s)]] = True
    return noisy & ~_swings_up(time_s, rpm, stands)


def _stands(time_s: FloatArray, rpm: FloatArray, low: BoolArray) -> BoolArray:
    """Where the engine stands or turns up from there: low for long, or not by much, and next to no running speed."""
    stands = np.zeros(low.size, dtype=np.bool_)
    stood_until_s = -np.inf
    for piece in find_true_runs(low):
        beside = [at for at in (piece.start - 1, piece.stop) if 0 <= at < rpm.size]
        lasts_s = time_s[piece.stop - 1] - time_s[piece.start]
        turning = float(rpm[piece.start : piece.stop].min()) >= LEAST_RPM / 2.0
        swings = time_s[piece.stop - 1] - stood_until_s <= SWINGS_S
        near = bool(beside) and all(rpm[at] <= FROM_REST_RPM for at in beside)
        if lasts_s >= LONG_S and beside:
            near = all(rpm[at] <= FROM_REST_RPM + FROM_REST_RPM_PER_S * _step_to(time_s, at, piece) for at in beside)
            stood_until_s = time_s[piece.stop - 1] if near else stood_until_s
        if ((lasts_s >= STANDS_S or turning) and near) or swings:
            stands[piece.start : piece.stop] = True
    return stands


def _swings_up(time_s: FloatArray, rpm: FloatArray, stands: BoolArray) -> BoolArray:
    """Where an engine that had stood for long swings in its shafts as it turns up: no faster than from rest it can."""
    swings = np.zeros(stands.size, dtype=np.bool_)
    for piece in find_true_runs(stands):
        if time_s[piece.stop - 1] - time_s[piece.start] >= LONG_S:
            since_s = time_s - time_s[piece.stop - 1]
            swings |= (since_s > 0) & (since_s <= SWINGS_S) & (rpm <= FROM_REST_RPM + FROM_REST_RPM_PER_S * since_s)
    return swings


def _step_to(time_s: FloatArray, at: int, piece: Interval) -> float:
    """Seconds between a stretch and the sample before or after it."""
    return float(time_s[at] - time_s[piece.stop - 1] if at >= piece.stop else time_s[piece.start] - time_s[at])


def _believable(step: FloatArray, gap_s: FloatArray) -> BoolArray:
    fall = np.minimum(FREE_STEP + FALL_PER_S * gap_s, MOST_FALL)
    rise = np.minimum(FREE_STEP + RISE_PER_S * gap_s, MOST_RISE)
    return np.asarray((step >= -fall) & (step <= rise))


def _longest_chain(log_rpm: FloatArray, time_s: FloatArray) -> BoolArray:
    count = log_rpm.size
    reach = int(np.clip(np.ceil(LONGEST_NOISE_S / max(middle(np.diff(time_s)), 1e-4)), 3, 150))
    length = np.ones(count)
    came_from = np.full(count, -1, dtype=np.int64)
    longest = 0  # of all that end further back than noise lasts
    for here in range(1, count):
        back = slice(max(0, here - reach), here)
        step, gap = log_rpm[here] - log_rpm[back], time_s[here] - time_s[back]
        reached = length[back] + 1.0
        reached[:-1] -= GAP_COST
        reached[~_believable(step, gap)] = -np.inf
        best = int(np.argmax(reached))
        if reached[best] > 1.0 - GAP_COST:
            length[here], came_from[here] = max(reached[best], 1.0 - GAP_COST), back.start + best
        if here >= reach and length[here - reach] > length[longest]:
            longest = here - reach
        if here >= reach and length[longest] - BREAK_COST > length[here]:
            length[here], came_from[here] = length[longest] - BREAK_COST, longest
    chain = np.zeros(count, dtype=np.bool_)
    here = int(np.argmax(length))
    while here >= 0:
        chain[here] = True
        here = int(came_from[here])
    return chain


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
