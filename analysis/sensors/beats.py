"""How slow the pick-up of engine speed is, as the beats of a two-step show it.

An engine held by cutting its spark beats: each time the spark returns it leaps by some 50 to 400 rpm within a few
milliseconds, clutch open and nothing but its own inertia to turn, and then sinks along a line. A pick-up that averages
rounds each leap by its own lag, and ten beats that the log's rows meet at ten places of the beat show that rounding to
some milliseconds, whatever the box does later.

Public: `PickupLag`, `measure_pickup_lag`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import PICKUP_LAG_PLUS_MINUS_S, PICKUP_LAG_S
from passband.analysis.statistics.fits import middle

HOLD_S = 1.4
"""Beats are looked at from so long before the first motion. [s]"""
LEFT_S = 0.07
"""To so long before it: by then the clutch begins to bite. [s]"""
SLOWEST_STEP_S = 0.025
"""Rows rarer than this meet no leap. [s]"""
FINEST_STEP_S = 0.004
"""Rows nearer than this are taken as means. [s]"""
LAST_SHARE = 0.35
"""The last of the hold, this share of it, is surely on it. [-]"""
STRAYS = 0.35
"""What lies beyond its reach by this share of that is not yet on the hold. [-]"""
STRAYS_NOISE = 4.0
"""And by so many times the noise. [-]"""
TURNS_NOISE = 3.0
"""Engine speed has turned where it came back by so many times its noise. [-]"""
TURNS_SHARE = 0.3
"""And by that share of its reach. [-]"""
LEAST_BEATS = 3
"""Fewer beats are none: a foot's hold, or noise."""
LEAST_NOISE = 6.0
"""Nor are beats lower than so many times the noise. [-]"""
MOST_UNEVEN_S = 0.008
"""Nor beats that come as unevenly as this. [s]"""
FEWEST_BEATS = 2
"""So few will do where they are plain: no foot moves an engine so."""
PLAIN_NOISE = 20.0
"""Plain beats are so many times as high as the noise. [-]"""
PLAIN_LEAP_S = 0.06
"""And none of their leaps lasts longer. [s]"""
LEAST_SECOND = 0.1
"""Beats that leap and sink hold a second harmonic, over the first: a half, and a quarter through the slowest pick-up at
15 beats a second. A swing that holds less was a governor's or a foot's, and shows no leap. [-] By arithmetic."""
SECOND_NOISES = 2.0
"""A pick-up quicker than a usual one is believed where the second harmonic is there beyond so many deviations of what
noise makes of an amplitude: a slow one leaves beats so low, and next to a sine, that any lag fits them. [-]"""
ALIKE_TURNS = 2.0
"""At three rows a beat the second harmonic looks like the first: it must run away from it by so many turns. [-]"""
SPLIT = 0.6
"""A leap that comes sooner after another than this share of a beat is noise on its way up. [-]"""
UNEVEN_S = 0.003
"""A beat comes sooner or later than its row by so much, as an ECU's loop of 5 to 10 ms makes it; standard deviation.
[s]"""
UNEVEN_SHARE = 0.12
"""It is higher or lower by that share; standard deviation. [-]"""
LAGS_S = (0.002, 0.004, 0.006, 0.008, 0.010, 0.013, 0.016, 0.019, 0.022, 0.025, 0.028, 0.031)
"""Time constants that are tried: pick-up and torque together. [s]"""
LEAPS_RPM_PER_S = (9e3, 16e3, 28e3)
"""How fast an engine leaps that turns nothing but itself, each as likely: 200 N m over 0.2 kg m2, 400 over 0.24 and 600
over 0.2, by arithmetic. [rpm/s]"""
TORQUE_LAG_S, TORQUE_LAG_PLUS_MINUS_S = 0.0055, 0.004
"""Torque answers the spark by itself late, from one firing interval to a half engine cycle: 2 to 10 ms at 5,000 to
10,000 rpm. Taken off, and its 95 % half-width. [s], [s] By arithmetic."""
LEAST_LAG_S = 0.0005
"""The least of any pick-up: a tooth at 5,000 to 10,000 rpm. [s] By arithmetic."""
LONGEST_LAG_S = 0.025
"""The longest: a mean over three turns. [s] By arithmetic."""
LEAST_NOISE_RPM = 3.0
"""Rows rounded to 1 rpm and smoothed show less noise than they have. [rpm]"""
FIRST_ROUNDS = 4
"""Steps of Gauss and Newton that find where each beat lies at the first time constant."""
MORE_ROUNDS = 2
"""Further ones at each further time constant."""
EARLIER = 0.7
"""These begin earlier by that share of what it is longer than the one before. [-]"""
FREE = 1e6
"""What is known beforehand of levels and sinking, nothing; standard deviation. [rpm]"""
ROW_S = 0.02
"""What is known beforehand of where the row lies; standard deviation. [s]"""
MOST_STEP_S = 0.008
"""The most that all beats move in one step of the fit. [s]"""
MOST_OFF_S = 0.012
"""The most that one beat lies off its row. [s]"""
WORST_FIT = 1.5
"""Beats that the form misses by more than so many times the noise tell nothing. [-]"""
MOST_OPEN_S = 0.014
"""A lag that is open by more than what is weighed in would be by itself is not measured. [s]"""
SURER = 2.0
"""Beats are not of the form that is fitted: squares count so much less. [-] Chosen, so that lags of 93 runs with wide
sensors (seeds 7200, 7201) lay within what was found in 19 of 20."""
USUAL_SHARE = 0.25
"""Of pick-ups this share are taken to be usual ones; the others may have any lag. [-]"""
STEP_S = 0.0005
"""Lags so far apart are weighed. [s]"""
COVERED = 0.95
"""The half-width is what holds this share of them. [-]"""


@dataclass(frozen=True, slots=True)
class PickupLag:
    """The lag of an engine-speed pick-up."""

    lag_s: float
    """Time constant. [s]"""
    plus_minus_s: float
    """95 % half-width. [s]"""


def measure_pickup_lag(time_s: FloatArray, rpm: FloatArray, *, launch_s: float, noise_rpm: float) -> PickupLag | None:
    """The lag of an engine-speed pick-up, by how it rounds the beats of the two-step before the launch.

    Parameters
    ----------
    time_s, rpm : array, shape (n,)
        Rising times [s] and engine speed [rpm], noise spikes taken out.
    launch_s : float
        First motion. [s]
    noise_rpm : float
        Standard deviation of the noise that is left. [rpm]

    Returns
    -------
    PickupLag or None
        None where the engine was not held by cuts, rows are too rare, or the beats fit no form.

    Notes
    -----
    Engine speed is a curve that sinks, and a leap a beat: a ramp of `LEAPS_S`, seen through a first-order lag. Beats
    come in an even row and are even in height, but for `UNEVEN_S` and `UNEVEN_SHARE`, which are priors. For each time
    constant the best fit is sought; what they leave of it, each as likely before, is its mean and spread. Torque's own
    lag rounds alike and is taken off. It does not see a pure delay, and takes a two-step that lets its spark come back
    softly for a slow pick-up.
    """
    hold = _on_hold(time_s, rpm, launch_s=launch_s, noise_rpm=max(noise_rpm, LEAST_NOISE_RPM))
    row = None if hold is None else _row_of_beats(hold)
    if hold is None or row is None:
        return None
    leaps_s = [row.high_rpm / rate for rate in LEAPS_RPM_PER_S]
    misfits = np.array([_misfits(hold, row, leap_s) for leap_s in leaps_s])
    worse = max(1.0, float(misfits.min()) / hold.time_s.size)
    if worse > WORST_FIT**2:
        return None
    lags_s = np.array(LAGS_S)
    likely = np.exp(-0.5 * (misfits - misfits.min()) / (SURER * worse)).sum(axis=0) * np.gradient(lags_s)
    found = _weighed(lags_s, likely)
    sine = _second_share(hold, row.middle_s, less_noises=SECOND_NOISES) < LEAST_SECOND
    return None if found is not None and sine and found.lag_s < PICKUP_LAG_S else found


def _weighed(together_s: FloatArray, likely: FloatArray) -> PickupLag | None:
    """The pick-up's lag: torque's taken off what each time constant is likely to be, and usual devices weighed in."""
    lags_s = np.arange(LEAST_LAG_S, LONGEST_LAG_S, STEP_S)
    torque = _normal(together_s - lags_s[:, None], TORQUE_LAG_S, 0.5 * TORQUE_LAG_PLUS_MINUS_S)
    usual = _normal(lags_s, PICKUP_LAG_S, 0.5 * PICKUP_LAG_PLUS_MINUS_S)
    share = USUAL_SHARE * usual + (1.0 - USUAL_SHARE) / (LONGEST_LAG_S - LEAST_LAG_S)
    weight = (torque @ likely) * share
    weight /= weight.sum()
    lag_s = float(weight @ lags_s)
    off_s = np.abs(lags_s - lag_s)
    nearest = np.argsort(off_s)
    open_s = float(off_s[nearest][np.searchsorted(np.cumsum(weight[nearest]), COVERED)])
    return PickupLag(lag_s, open_s) if open_s < MOST_OPEN_S else None


def _normal(value: FloatArray, middle_at: float, sigma: float) -> FloatArray:
    return np.asarray(np.exp(-0.5 * ((value - middle_at) / sigma) ** 2) / (sigma * np.sqrt(2.0 * np.pi)))


@dataclass(frozen=True, slots=True)
class _Hold:
    """Engine speed on its two-step."""

    time_s: FloatArray
    rpm: FloatArray
    noise_rpm: float


def _on_hold(time_s: FloatArray, rpm: FloatArray, *, launch_s: float, noise_rpm: float) -> _Hold | None:
    """The hold, from where engine speed had come there; None where it has too few rows."""
    held = (time_s > launch_s - HOLD_S) & (time_s < launch_s - LEFT_S)
    time_s, rpm = time_s[held], rpm[held]
    if rpm.size < 12 or (step_s := middle(np.diff(time_s))) > SLOWEST_STEP_S:
        return None
    together = round(FINEST_STEP_S / step_s)
    if together > 1:
        whole = rpm.size // together * together
        time_s, rpm = (side[-whole:].reshape(-1, together).mean(axis=1) for side in (time_s, rpm))
        noise_rpm = max(noise_rpm / np.sqrt(together), LEAST_NOISE_RPM)
    last = rpm[-max(8, int(LAST_SHARE * rpm.size)) :]
    near = STRAYS * float(np.ptp(last)) + STRAYS_NOISE * noise_rpm
    away = np.flatnonzero((rpm < last.min() - near) | (rpm > last.max() + near))
    first = int(away[-1]) + 1 if away.size else 0
    return _Hold(time_s[first:], rpm[first:], noise_rpm) if rpm.size - first >= 10 else None


@dataclass(frozen=True, slots=True)
class _Row:
    """An even row of beats, and the rows of the log that they lie in."""

    middle_s: FloatArray
    """Where each leap is half over, as seen, shape (k,). [s]"""
    high_rpm: float
    """How high a leap is, as seen. [rpm]"""
    inside: slice
    """Samples from the first leap to the end of the last beat."""


def _row_of_beats(hold: _Hold) -> _Row | None:
    """The beats as a row; None where they are few, low or uneven."""
    turns = _turning_points(hold)
    leaps = [(low, high) for (low, rises), (high, falls) in pairwise(turns) if rises and not falls]
    over_noise = float(np.ptp(hold.rpm)) / hold.noise_rpm
    if len(leaps) < FEWEST_BEATS or over_noise < LEAST_NOISE:
        return None
    lasted_s = max(float(hold.time_s[high] - hold.time_s[low]) for low, high in leaps)
    if len(leaps) < LEAST_BEATS and (over_noise < PLAIN_NOISE or lasted_s > PLAIN_LEAP_S):
        return None
    middle_s = np.array([_half_over(hold, low, high) for low, high in leaps])
    beat_s = float(np.median(np.diff(middle_s)))
    apart = np.concatenate([[True], np.diff(middle_s) > SPLIT * beat_s])
    middle_s = middle_s[apart]
    if middle_s.size < FEWEST_BEATS:
        return None
    number = np.concatenate([[0.0], np.cumsum(np.maximum(np.round(np.diff(middle_s) / beat_s), 1.0))])
    line = np.polyfit(number, middle_s, 2 if number.size > 5 else 1)
    if float(np.std(middle_s - np.polyval(line, number))) > MOST_UNEVEN_S:
        return None
    if _second_share(hold, middle_s) < LEAST_SECOND:
        return None
    stop = int(np.searchsorted(hold.time_s, hold.time_s[leaps[-1][1]] + 0.5 * beat_s)) + 1
    row_s = np.polyval(line, np.arange(number[-1] + 1.0))
    return _Row(np.asarray(row_s), float(np.ptp(hold.rpm)), slice(leaps[0][0], stop))


def _second_share(hold: _Hold, middle_s: FloatArray, *, less_noises: float = 0.0) -> float:
    """The second harmonic of the beats, less what noise may make of it, over the first; 0 where rows part them not."""
    inside = (hold.time_s >= middle_s[0]) & (hold.time_s <= middle_s[-1])
    along = hold.time_s[inside] - middle_s[0]
    turns = 2.0 * np.pi * np.interp(hold.time_s[inside], middle_s, np.arange(float(middle_s.size)))
    waves = [wave(times * turns) for times in (1.0, 2.0) for wave in (np.cos, np.sin)]
    found = np.linalg.lstsq(np.stack([np.ones_like(along), along, along**2, *waves], axis=1), hold.rpm[inside])[0]
    step_s, beat_s = middle(np.diff(hold.time_s)), float(np.median(np.diff(middle_s)))
    if abs(3.0 / beat_s - 1.0 / step_s) < ALIKE_TURNS / float(np.ptp(along)):
        return 0.0
    first, second = float(np.hypot(*found[3:5])), float(np.hypot(*found[5:7]))
    by_noise = less_noises * hold.noise_rpm * float(np.sqrt(2.0 / along.size))
    return max(second - by_noise, 0.0) / first if first > 0.0 else 0.0


def _half_over(hold: _Hold, low: int, high: int) -> float:
    """Where a leap between two samples is half over. [s]."""
    rises = slice(low, high + 1)
    return float(np.interp(0.5 * (hold.rpm[low] + hold.rpm[high]), hold.rpm[rises], hold.time_s[rises]))


def _turning_points(hold: _Hold) -> list[tuple[int, bool]]:
    """Where engine speed turned, and whether it then rises."""
    rpm, turns, rises, furthest = hold.rpm, [], True, 0
    back = max(TURNS_NOISE * hold.noise_rpm, TURNS_SHARE * float(np.ptp(rpm)))
    for here in range(1, rpm.size):
        ahead = rpm[here] - rpm[furthest] if rises else rpm[furthest] - rpm[here]
        if ahead > 0.0:
            furthest = here
        elif -ahead > back:
            turns.append((furthest, not rises))
            rises, furthest = not rises, here
    return turns


def _misfits(hold: _Hold, row: _Row, leap_s: float) -> list[float]:
    """How badly beats of one leap fit at each lag: squares over the noise's, and over the priors' of an even row."""
    count = row.middle_s.size
    beats, before_s = _Beats(row.middle_s - 0.5 * leap_s, np.zeros(count), row.high_rpm), 0.0
    found: list[float] = []
    for lag_s in LAGS_S:
        beats = replace(beats, at_s=beats.at_s - EARLIER * (lag_s - before_s))
        for _ in range(MORE_ROUNDS if found else FIRST_ROUNDS):
            beats, misfit = _fitted(hold, row, beats, lag_s=lag_s, leap_s=leap_s)
        found.append(misfit)
        before_s = lag_s
    return found


@dataclass(frozen=True, slots=True)
class _Beats:
    """Where the leaps of a row begin."""

    at_s: FloatArray
    """By the row. [s]"""
    off_s: FloatArray
    """How much later than that each comes. [s]"""
    high_rpm: float
    """How high they are. [rpm]"""


def _fitted(hold: _Hold, row: _Row, beats: _Beats, *, lag_s: float, leap_s: float) -> tuple[_Beats, float]:
    """Beats moved to where they fit better, and how badly they fitted before."""
    time_s, rpm, count = hold.time_s[row.inside], hold.rpm[row.inside], row.middle_s.size
    along, place = np.linspace(-1.0, 1.0, time_s.size), np.linspace(-1.0, 1.0, count)
    sinks = np.stack([np.ones_like(along), along, along**2], axis=1)
    even = np.stack([np.ones_like(place), place, place**2], axis=1)
    priors = [np.full(4, FREE), np.full(count, UNEVEN_SHARE), np.full(3, ROW_S), np.full(count, UNEVEN_S)]
    leaps, rates = _leap(time_s[:, None] - (beats.at_s + beats.off_s), lag_s, leap_s)
    later = -beats.high_rpm * rates
    design = np.hstack([sinks, leaps.sum(axis=1, keepdims=True), leaps * beats.high_rpm, later @ even, later])
    square = design.T @ design + np.diag((hold.noise_rpm / np.concatenate(priors)) ** 2)
    sides = design.T @ np.stack([rpm, rpm + later @ beats.off_s], axis=1)
    levels = 4 + count
    heights = np.linalg.solve(square[:levels, :levels], sides[:levels, 0])
    left = rpm - design[:, :levels] @ heights
    uneven = float(beats.off_s @ beats.off_s) / UNEVEN_S**2 + float(heights[4:] @ heights[4:]) / UNEVEN_SHARE**2
    moved = np.linalg.solve(square, sides[:, 1])
    return _Beats(
        beats.at_s + even @ np.clip(moved[levels : levels + 3], -MOST_STEP_S, MOST_STEP_S),
        np.clip(moved[levels + 3 :], -MOST_OFF_S, MOST_OFF_S),
        max(float(moved[3]), 1.0),
    ), float(left @ left) / hold.noise_rpm**2 + uneven


def _leap(since_s: FloatArray, lag_s: float, leap_s: float) -> tuple[FloatArray, FloatArray]:
    """A rise by one over a leap, seen through a lag, and its rate."""
    begun, over = np.maximum(since_s, 0.0), np.maximum(since_s - leap_s, 0.0)
    left, still = 1.0 - np.exp(-begun / lag_s), 1.0 - np.exp(-over / lag_s)
    return (begun - over - lag_s * (left - still)) / leap_s, (left - still) / leap_s
