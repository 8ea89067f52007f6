"""The engine speed that a second logger holds as well: where in time its copy lies on the ECU's own.

A copy is sent over a bus, filtered and held: laid over the ECU's channel it gives the clocks' offset less the copy's
age. `analysis.clocks.match` tells the two apart.

Public: `CopyFit`, `fit_engine_copy`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.despiking import despike
from passband.analysis.statistics.correlation import correlate_at_lags
from passband.analysis.statistics.filters import delayed, even_grid, own_updates, resample, slope
from passband.analysis.statistics.fits import HUBER_SIGMAS, MAD_TO_SIGMA

SEARCH_HZ = 25.0
"""Grid of the coarse search: a shift's fall of engine speed lasts 60 to 200 ms. [Hz]"""
LONG_S, WORKS_SHARE, BESIDE_S = 600.0, 0.6, 60.0
"""A log longer than this is looked at only from a minute before the engine first turned this share of its highest speed
to a minute after it last did. [s], [-], [s]"""
FINE_HZ = 250.0
"""Grid of the fine match: straight lines between its samples are good to a millisecond. [Hz]"""
STEEP_RPM_PER_S = 5000.0
"""Rates of change beyond this count little more: a lost pulse is no better evidence than a shift. [rpm/s]"""
LEAST_STEEP_RPM_PER_S = 300.0
"""Slower changes over an eighth of a second are ripple. [rpm/s]"""
LEAST_OVERLAP_S = 3.0
"""Logs that share less than this cannot be told to be of one run. [s]"""
LEAST_ALIKE_S = 1.5
"""The engine must have worked for this long in both logs at once. [s]"""
MOST_CANDIDATES = 10
"""Maxima of the coarse search that are looked at closely."""
FAR_RPM = 300.0
"""A copy this far from the ECU's own says no, as loud as it can. [rpm]"""
COPY_LAGS_S = (0.0, 0.01, 0.02, 0.03, 0.05, 0.08)
"""Filters of the copy that are tried. [s]"""
RATE_SIGMA_PPM = 75.0
"""Two crystals run apart by tens of ppm; what a run's own length shows of it is hardly better. [ppm]"""
COPY_NOISE_RPM = 10.0
"""A copy is printed in steps of up to 10 rpm and ripples; residuals below this are no evidence. [rpm]"""
LEAST_REPEATS = 0.1
"""More repeats than this while engine speed changes quickly: the copy is renewed less often than it is logged. [-]"""
HELD_ROW_SIGMA = 0.29
"""A renewal is read for its row or up to a row before: an even spread's deviation, in rows. [-]"""
SAME_SCALE = 0.12
"""A copy whose highest engine speed is this near to half or twice the ECU's counts other pulses. [-]"""
NEAR_ONE = (0.015, 0.12)
"""A copy whose highest engine speed is off the ECU's by more than the first share, and by no more than the second, may
read in another scale: less is a filter's and a row's doing, more are other pulses. [-]"""
ALIKE_AS_IT_IS = 0.03
"""Where the two disagree for less of the time as they are, no scale is asked for. [-]"""
JITTER_S = 0.008
"""A held and filtered copy does not say to better than this when each of its values was true. [s]"""
ROWS_ALIKE = 4.0
"""Neighbouring rows err alike (the hold's phase wanders slowly): so many count as one."""
TURN_SHARE_SIGMA = 0.5
"""Engine speed counted over a turn or part of one is late by up to half a turn: what one logger is later than the other
by goes with a turn's length, 60 ms at idle and 7 ms on top. Deviation of that difference, in half turns; common
practice, no source. [-]"""
ROUNDS = 15
"""Steps of the fine match; it settles in three to six."""
FARTHEST_STEP_S = 0.25
"""A fine match that leaves its start by more has run away: the edge of a window is no answer. [s]"""
TIME_SLACK_S = 0.03
"""A sample may have been taken this much earlier or later than its row says, and still be of the same run. [s]"""
LEVEL_SLACK_RPM, LEVEL_SLACK = 80.0, 0.015
"""How far apart two readings of one engine may be: rpm, and as a share. Ripple, rounding, a filter's ring."""


@dataclass(frozen=True, slots=True)
class CopyFit:
    """The best place of a copy on the ECU's own engine speed."""

    offset_s: float
    """ECU time at the other log's `pivot_s`, less the pivot, less the copy's age: from levels alone. [s]"""
    offset_sigma_s: float
    """Its standard deviation from noise and from the rows of a held copy, copy's age not counted. [s]"""
    pivot_s: float
    """Time of the other log at which `offset_s` holds. [s]"""
    rate_ppm: float
    """How much faster the ECU's clock runs. [ppm]"""
    rate_sigma_ppm: float
    """Its standard deviation. [ppm]"""
    active_s: float
    """How long the engine worked while both recorded. [s]"""
    unlike_share: float
    """Share of that time in which the two do not agree within any sensible delay. [-]"""
    residual_rpm: float
    """Median distance between the two. [rpm]"""
    factor: float = 1.0
    """2 where the copy reads twice the ECU's engine speed, 0.5 where it reads half, or its scale beside one; else 1.
    [-]"""


@dataclass(frozen=True, slots=True)
class _Copy:
    time_s: FloatArray
    rpm: FloatArray
    active: BoolArray
    step_s: float
    row_sigma_s: float = 0.0
    """What a held value does not tell of when it was renewed, the same throughout. [s]"""


def fit_engine_copy(own: Channel, copy: Channel, *, part_of: Channel | None = None) -> CopyFit | None:
    """Lay another log's engine speed over the ECU's.

    Parameters
    ----------
    own, copy : Channel
        Engine speed of the ECU's log and of the other, each on its own clock.
    part_of : Channel, optional
        What the copy is a part of: its idle is the whole's.

    Returns
    -------
    CopyFit or None
        None where the two share too little time with the engine at work.

    Notes
    -----
    Coarse: correlation of the rates of change at all lags, steep ones held back. Each of the best maxima is
    judged by how much working time agrees. Fine: robust least squares over offset, rate (with a prior) and the
    copy's filter, on the copy's own updates.
    """
    own, copy = _where_it_works(own), _where_it_works(copy)
    ecu_rpm = despike(own.time_s, own.values)
    samples = _own_samples(copy)
    if part_of is not None:
        samples = replace(samples, active=samples.rpm > _works_from(_own_samples(part_of).rpm))
    if np.isfinite(ecu_rpm).sum() < 20 or samples.time_s.size < 20:
        return None
    grid = even_grid(float(own.time_s[0]), float(own.time_s[-1]), rate_hz=FINE_HZ)
    max_gap_s = max(0.3, 3.5 / max(own.rate_hz, 1.0))
    rpm = resample(own.time_s, ecu_rpm, grid, max_gap_s=max_gap_s)

    def laid(factor: float) -> list[CopyFit]:
        scaled = replace(samples, rpm=samples.rpm / factor)
        start = _best_candidate(_candidates(own.time_s, ecu_rpm, scaled), grid, rpm, scaled)
        if start is None:
            return []
        tried = [fit for lag in COPY_LAGS_S if (fit := _refine(start, lag, grid, rpm, scaled)) is not None]
        best = min(tried, key=lambda fit: fit.cost, default=None)
        return [] if best is None else [replace(_describe(best, grid, scaled), factor=factor)]

    fits = [fit for factor in (1.0, *_other_count(samples, ecu_rpm)) for fit in laid(factor)]
    if fits and min(fit.unlike_share for fit in fits) > ALIKE_AS_IT_IS:
        fits += [fit for factor in _near_one(samples, ecu_rpm) for fit in laid(factor)]
    return min(fits, key=lambda fit: fit.unlike_share, default=None)


def _near_one(copy: _Copy, ecu_rpm: FloatArray) -> tuple[float, ...]:
    """The scale beside one in which a copy may read, by what both reach."""
    ratio = float(np.percentile(copy.rpm, 98) / max(np.percentile(ecu_rpm[np.isfinite(ecu_rpm)], 98), 1.0))
    return (ratio,) if NEAR_ONE[0] < abs(ratio - 1.0) <= NEAR_ONE[1] else ()


def _where_it_works(engine: Channel) -> Channel:
    """Of a long log only the part about the pulls: an hour of idling tells each log's own noise and not the clocks."""
    known = engine.known
    if known.time_s.size < 20 or known.time_s[-1] - known.time_s[0] < LONG_S:
        return engine
    worked = known.time_s[known.values > WORKS_SHARE * np.percentile(known.values, 99.9)]
    return engine.within(float(worked[0]) - BESIDE_S, float(worked[-1]) + BESIDE_S)


def _other_count(copy: _Copy, ecu_rpm: FloatArray) -> tuple[float, ...]:
    """Factors by which a copy may count other pulses; a log that ends before the run tops out low too."""
    ratio = float(np.percentile(copy.rpm, 98) / max(np.percentile(ecu_rpm[np.isfinite(ecu_rpm)], 98), 1.0))
    return tuple(times for times in (0.5, 2.0) if abs(ratio / times - 1) < SAME_SCALE)


def _works_from(rpm: FloatArray) -> float:
    """Engine speed above which the engine works, by its idle."""
    idle = float(np.percentile(rpm, 5)) if rpm.size else 0.0
    return 1.3 * max(idle, 300.0)


def _own_samples(copy: Channel) -> _Copy:
    known = copy.known
    if known.time_s.size < 3:
        return _Copy(known.time_s, known.values, np.zeros(known.time_s.size, dtype=np.bool_), 1.0)
    row_s = float(np.median(np.diff(known.time_s)))
    renewed = own_updates(known.time_s, known.values, rate_hz=known.rate_hz)
    if renewed.all() and _repeats(known.values) > LEAST_REPEATS:
        renewed = np.concatenate(([True], np.diff(known.values) != 0))
    # A renewal shows at the first row after it, or was read for that row: on average a third of a row late.
    held = not renewed.all()
    age, row_sigma_s = (row_s / 3, HELD_ROW_SIGMA * row_s) if held else (0.0, 0.0)
    time, rpm = known.time_s[renewed] - age, known.values[renewed]
    rpm = despike(time, rpm, span_s=max(0.3, 5 / max(known.rate_hz, 1.0)))
    sound = np.isfinite(rpm)
    time, rpm = time[sound], rpm[sound]
    step_s = float(np.median(np.diff(time))) if time.size > 1 else 1.0
    return _Copy(time, rpm, rpm > _works_from(rpm), step_s, row_sigma_s)


def _repeats(rpm: FloatArray) -> float:
    """Share of samples that repeat the one before while the engine gains or loses speed quickly."""
    steps = np.abs(np.diff(rpm))
    moving = np.convolve(steps, np.ones(5) / 5, mode="same") > max(2 * COPY_NOISE_RPM, 4 * float(np.median(steps)))
    return float((steps[moving] == 0).mean()) if moving.sum() > 20 else 0.0


def _candidates(time_s: FloatArray, rpm: FloatArray, copy: _Copy) -> FloatArray:
    step = 1 / SEARCH_HZ

    def changes(time: FloatArray, values: FloatArray) -> FloatArray:
        grid = even_grid(float(time[0]), float(time[-1]), rate_hz=SEARCH_HZ)
        level = resample(time, values, grid, max_gap_s=1.0)
        return np.tanh(slope(level, step_s=step, span_s=0.16) / STEEP_RPM_PER_S)

    ours, theirs = changes(time_s, rpm), changes(copy.time_s, copy.rpm)
    if min(ours.size, theirs.size) < 5:
        return np.zeros(0)
    found = correlate_at_lags(ours, theirs, min_overlap=int(LEAST_OVERLAP_S * SEARCH_HZ))
    # A short overlap matches by chance more often than a long one.
    score = np.nan_to_num(found.score) * np.sqrt(found.overlap / max(float(found.overlap.max()), 1.0))
    inner = score[1:-1]
    tops = 1 + np.flatnonzero((inner >= score[:-2]) & (inner > score[2:]) & (inner > 0))
    best = tops[np.argsort(-score[tops])[:MOST_CANDIDATES]]
    return np.asarray(found.lag[best] * step + time_s[0] - copy.time_s[0], dtype=np.float64)


def _best_candidate(offsets: FloatArray, grid: FloatArray, rpm: FloatArray, copy: _Copy) -> float | None:
    best: tuple[float, float] | None = None
    time_s, own_rpm = copy.time_s[copy.active], copy.rpm[copy.active]
    for offset in offsets:
        near = offset + np.arange(-0.12, 0.121, 0.02)
        apart = np.abs(own_rpm - np.interp(time_s + near[:, None], grid, rpm, left=np.nan, right=np.nan))
        seen = np.isfinite(apart)
        score = np.where(seen, 1 - 2 * np.minimum(apart / FAR_RPM, 1.0), 0.0).sum(axis=1)
        score[seen.sum(axis=1) * copy.step_s < LEAST_ALIKE_S] = -np.inf
        at = int(np.argmax(score))
        if np.isfinite(score[at]) and (best is None or score[at] > best[0]):
            best = (float(score[at]), float(near[at]))
    return None if best is None else best[1]


@dataclass(frozen=True, slots=True)
class _Refined:
    """Where one filter of the copy lays it."""

    cost: float
    """How far the two are apart, on average. [rpm]"""
    at_s: FloatArray
    """The copy's samples on the ECU's clock. [s]"""
    passed: FloatArray
    """The ECU's engine speed through the filter, on the grid. [rpm]"""
    place: tuple[float, float, float]
    """Offset [s], the moment it is meant for [s] and rate [ppm]."""
    sigma: FloatArray
    """Of offset, rate and what goes with a turn's length."""


def _refine(start: float, lag_s: float, grid: FloatArray, rpm: FloatArray, copy: _Copy) -> _Refined | None:
    """The fit for one filter of the copy; one that runs away stays where it started."""
    whole = np.where(np.isfinite(rpm), rpm, np.interp(grid, grid[np.isfinite(rpm)], rpm[np.isfinite(rpm)]))
    passed = np.where(np.isfinite(rpm), delayed(grid, whole, lag_s=lag_s), np.nan)
    seen = np.isfinite(np.interp(copy.time_s + start, grid, passed, left=np.nan, right=np.nan))
    if seen.sum() < 20:
        return None
    pivot = float(np.mean(copy.time_s[seen & copy.active])) if (seen & copy.active).any() else float(copy.time_s[0])
    since = copy.time_s - pivot
    per = np.column_stack([np.ones(since.size), since * 1e-6, _half_turn_s(copy)])
    found, sigma = np.array([start, 0.0, 0.0]), np.zeros(3)
    for _ in range(ROUNDS):
        at = copy.time_s + per @ found
        level = np.interp(at, grid, passed, left=np.nan, right=np.nan)
        steep = _steepness(at, grid, passed)
        step, sigma = _gauss_newton_step(copy.rpm - level, steep, per, found)
        found = found + step
        if not abs(found[0] - start) <= FARTHEST_STEP_S:
            found = np.array([start, 0.0, 0.0])
            break
        if abs(step[0]) < 1e-5 and abs(step[1]) < 0.5:
            break
    at = copy.time_s + per @ found
    return _Refined(_cost(at, grid, passed, copy), at, passed, (float(found[0]) - lag_s, pivot, float(found[1])), sigma)


def _half_turn_s(copy: _Copy) -> FloatArray:
    """How long half a turn takes at each sample, over what it takes on average while the engine works, in s."""
    half = 30.0 / np.maximum(copy.rpm, 300.0)
    return half - float(np.mean(half[copy.active])) if copy.active.any() else half


def _steepness(at_s: FloatArray, grid: FloatArray, passed: FloatArray) -> FloatArray:
    """Slope at each time, zero where it is no more than an idle's ripple: that tells no time."""
    near = np.interp(at_s + 0.004, grid, passed) - np.interp(at_s - 0.004, grid, passed)
    wide = np.interp(at_s + 0.06, grid, passed) - np.interp(at_s - 0.06, grid, passed)
    return np.where(np.abs(wide) / 0.12 > LEAST_STEEP_RPM_PER_S, near / 0.008, np.where(np.isfinite(wide), 0.0, np.nan))


def _gauss_newton_step(
    apart: FloatArray, steep: FloatArray, per: FloatArray, found: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The step of (offset [s], rate [ppm], half turns) and each one's sigma; far-off rows weigh less, priors do not."""
    seen = np.isfinite(apart) & np.isfinite(steep)
    # What a row does not know of its own time blurs it the more the steeper the signal.
    own_sigma = np.hypot(COPY_NOISE_RPM, steep[seen] * JITTER_S)
    off = apart[seen] / own_sigma
    weight = np.minimum(1.0, HUBER_SIGMAS / np.maximum(np.abs(off), 1e-9))
    weight /= ROWS_ALIKE
    rows = per[seen] * (steep[seen] / own_sigma)[:, None]
    beforehand = np.array([0.0, RATE_SIGMA_PPM**-2, TURN_SHARE_SIGMA**-2])
    normal = rows.T @ (rows * weight[:, None]) + np.diag(np.maximum(beforehand, 1e-9))
    right = rows.T @ (weight * off) - beforehand * found
    inverse: FloatArray = np.linalg.inv(normal).astype(np.float64)
    return inverse @ right, np.sqrt(np.diag(inverse))


def _cost(at: FloatArray, grid: FloatArray, passed: FloatArray, copy: _Copy) -> float:
    apart = np.abs(copy.rpm - np.interp(at, grid, passed, left=np.nan, right=np.nan))
    return float(np.nanmean(np.minimum(apart, 2 * FAR_RPM)))


def _describe(best: _Refined, grid: FloatArray, copy: _Copy) -> CopyFit:
    at, passed, place, sigma = best.at_s, best.passed, best.place, best.sigma
    apart = np.abs(copy.rpm - np.interp(at, grid, passed, left=np.nan, right=np.nan))
    seen = np.isfinite(apart) & copy.active
    if not seen.any():
        return CopyFit(place[0], float(sigma[0]), place[1], place[2], float(sigma[1]), 0.0, 1.0, float("nan"))
    near = np.stack([np.interp(at + shift, grid, passed) for shift in np.linspace(-TIME_SLACK_S, TIME_SLACK_S, 13)])
    slack = LEVEL_SLACK_RPM + LEVEL_SLACK * copy.rpm
    unlike = (copy.rpm > np.fmax.reduce(near) + slack) | (copy.rpm < np.fmin.reduce(near) - slack)
    return CopyFit(
        offset_s=place[0],
        offset_sigma_s=float(np.hypot(sigma[0], copy.row_sigma_s)),
        pivot_s=place[1],
        rate_ppm=place[2],
        rate_sigma_ppm=float(sigma[1]),
        active_s=float(seen.sum() * copy.step_s),
        unlike_share=float(unlike[seen].mean()),
        residual_rpm=float(MAD_TO_SIGMA * np.median(apart[seen])),
    )
