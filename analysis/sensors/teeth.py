"""Wheels counted by teeth: what the first moments of a run show of the teeth.

A counter of teeth tells the mean over its last pitch or several and holds it until the next tooth: its value is late by
a way and not by a time, and zero until teeth have passed. So it leaps as the first are through, where a wheel of many
teeth rises with the car; that tells the two apart where a driven wheel stands alone, whose slip looks like a way, and
it tells how long the car had been moving as the first value came.

Public: `Teeth`, `read_teeth`, `FirstTeeth`, `SinceTooth`, `find_first_teeth`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.sensors.priors import WHEEL_WAY_M, WHEEL_WAY_SD_M

REST_S = 0.6
"""How still the wheel's speed is, is looked at over so long before the launch. [s]"""
RISES_S = 0.25
"""How it rises, over so long behind its leap. [s]"""
SLOW_HZ = 20.0
"""A log of fewer samples shows no leap. [Hz]"""
GAP_STEPS = 1.6
"""Nor does a step over more than so many of the log's own. [-]"""
LEAP_STEPS = 2.5
"""A leap is so many times the rise from one sample to the next. [-] By arithmetic: 60 teeth on 1.9 m at 1 g leap by 0.6
to 0.8 m/s, in a log of 100 Hz a speed that is not counted rises by 0.1."""
LEAP_NOISES = 8.0
"""And so many times the noise at rest. [-] At six three of 136 simulated wheels that are not counted leapt (seeds 9100
to 9219), at eight none."""
LEAST_LEAP_MPS = 0.15
"""And so much at least. [m/s]"""
UNDER_WAY_MPS = 1.5
"""It lies before or at the first sample of this speed. [m/s]"""
TEETH_WITHIN_S = 2.5
"""Single teeth are looked for so long after the launch. [s]"""
TOOTH_NOISES = 5.0
"""A value comes where the speed changes by so many times the noise. [-]"""
TOOTH_SHARE = 0.02
"""And by that share of itself. [-]"""
TOOTH_STEPS = 1.5
"""A tooth is shown where its value took more than so many steps of the log. [-]"""
LEAST_TEETH = 5
"""So many teeth must agree."""
TEETH_APART = 0.25
"""Half of them lie within that share of their middle. [-]"""
HELD_ELSE = 0.9
"""Of all that a counted wheel's speed changes by, teeth make that share, for between them a value is held. [-]"""
ROWS_OF_SETTLING = 3
"""From so many rows between two values on the row after the first counts with it: at least one is left to be held in.
[-]"""
SETTLING_SHARE = 0.4
"""A value that comes within that share of a tooth still settles from the one before. [-]"""
SEVERAL_LOOKED_AT = 3
"""Ways whose middle tells whether teeth are still shown singly."""
SEVERAL_LONGER = 1.5
"""They no longer are where that middle is so many times what the ways before them are. [-]"""
FIRST_MPS = (0.15, 1.0, 2.5)
"""A wheel rises with the car where it takes from the first of these speeds to the second as long as it should, by what
it takes from there to the third. [m/s] By arithmetic: 60 teeth on 1.9 m leap to 0.4 to 0.9 m/s at 1 g."""
REST_NOISES = 4.0
"""The first is no less than so many times the noise at rest. [-]"""
RISES_SHARE = 0.9
"""What the first stretch takes over what the second does, at least; 60 teeth take a third. [-] Of 128 simulated driven
wheels (seeds 9500 to 9510, both models and sets) all 64 without teeth were told to rise, and 3 with, of 40 to 60
teeth."""
FINE_WAY_M, FINE_WAY_SD_M = 0.008, 0.010
"""How late by a way a wheel is that rises with the car, and its standard deviation: less than 60 teeth. [m]"""
WAY_OF_PITCH, WAY_OF_PITCH_SD = 0.9, 0.25
"""How late by a way such a wheel is, and its standard deviation, over the way from tooth to tooth. [-] By arithmetic:
half a tooth where only new values count, a whole one where each sample does."""
GATE_MPS = 1.5
"""A first value below this may be a gate's, unless it is held. [m/s]"""
FIRST_RISES_S = 0.5
"""So long the rise behind a first value is looked at. [s]"""
HELD_SHARE = 0.25
"""A first value is held where it stays over that share of what a tooth takes. [-]"""
HELD_RISES = 1.15
"""It stays where it is under so many times itself. [-]"""
TEETH_AT_FIRST, TEETH_AT_FIRST_SD = 1.5, 0.37
"""As the first value comes so many pitches have gone by, 1 to 2, which from rest takes ``sqrt(2 teeth pitch / rise)``;
and the standard deviation, the pitch known to a seventh. [-] By arithmetic."""
TURN_M = 2.0
"""No value is a mean over more than a turn. [m]"""
SEVERAL_FIT = 0.55
"""The time by one pitch, over what the value says over the rise, is no less where it is a mean over up to eleven. [-]
By arithmetic."""
MOST_BY_ONE = 1.8
"""A first value over the root of pitch times rise, at most, where it is the mean over one pitch, wherever the first
tooth stood. [-] By arithmetic."""
SEVERAL_SD = 0.3
"""Standard deviation, as a share, of how many pitches have gone by where it is the mean over several: the rise is known
to a fifth. [-] By arithmetic."""
SAYS_OVER_RISE = 1.6
"""Where the pitch does not show, a first value took so many times what it says over the rise: 1.2 to 2.0. [-] By
arithmetic."""
GONE_OVER_SQUARE = 1.2
"""And so many times its square over the rise have gone by: 0.7 to 2.0. [-] By arithmetic."""
GONE_SD_WITHOUT_PITCH = 0.5
"""Standard deviation of that, as a share. [-] By arithmetic."""
NEAR_REST_SHARE = 0.25
"""What a counter says while teeth pass that close the stretch over which it stood, over what it first says under way.
[-] By arithmetic: of a mean over one pitch the second value is up to 2.4 times the first."""
SINCE_SD = 0.12
"""Standard deviation of a way that teeth tell, over itself or one pitch: wheels run out, logs have steps. [-]"""
PITCHES_APART = 0.3
"""By how much of itself such a way may differ from so many whole pitches. [-]"""
SPRINGS_BELOW_MPS = 5.0
"""No first value lies above: four studs on 1.9 m at 2 g. [m/s] By arithmetic."""
SPRINGS = 2.0
"""A value that comes springs to so many times the one before. [-]"""
LOOKED_AT = 4
"""So many are looked at, for the first may tell of the way from a tooth that passed as the car was staged."""
SETTLES_S = 0.02
"""Within so long a value has come through the filter. [s]"""
PITCH_FITS = (0.8, 2.6)
"""Between these the time by the pitch lies, over what the first value says over the rise; else the steps behind it are
no teeth. [-]"""
TOOK_SD = 0.15
"""Standard deviation, as a share, of how long the first value took: the place of the first tooth, and that no car rises
evenly. [-]"""
TOOK_SD_WITHOUT_PITCH = 0.30
"""The same where the pitch does not show. [-]"""


@dataclass(frozen=True, slots=True)
class Teeth:
    """What the first moments of a run show of a wheel's teeth."""

    leaps: bool
    """Whether its speed leaps as the car begins to move: it is counted, by teeth few enough to be seen."""
    way_m: float
    """How late it is by a way. [m]"""
    way_sd_m: float
    """Standard deviation of that. [m]"""


def read_teeth(channel: Channel, launch_s: float, first: FirstTeeth | None = None) -> Teeth:
    """Whether a wheel is counted by few teeth, and how late by a way that makes it.

    Parameters
    ----------
    channel : Channel
        A wheel's speed. [m/s]
    launch_s : float
        The launch. [s]
    first : FirstTeeth, optional
        As `find_first_teeth` found them.

    Returns
    -------
    Teeth
        By the way from tooth to tooth where the log shows single ones: the mean over one is half of it late, and held
        until the next comes up to half of it more. What any wheel may be where it shows none.
    """
    leaps = _leaps_from_rest(channel, launch_s)
    if not leaps and _rises_with_the_car(channel, launch_s):
        return Teeth(leaps=False, way_m=FINE_WAY_M, way_sd_m=FINE_WAY_SD_M)
    pitch_m = _pitch(channel, launch_s) if leaps else None
    if pitch_m is None:
        return Teeth(leaps, WHEEL_WAY_M, WHEEL_WAY_SD_M)
    told = first is not None and first.since is not None and first.way_m is not None
    way_m = first.way_m if told and first is not None and first.way_m is not None else WAY_OF_PITCH * pitch_m
    return Teeth(leaps, way_m, WAY_OF_PITCH_SD * pitch_m)


@dataclass(frozen=True, slots=True)
class SinceTooth:
    """A tooth that passed before the first value, which told of it no more than how long the car had stood."""

    passed_s: float
    """When it passed. [s]"""
    gone_m: float
    """How far the wheel rolled from then until the first value came. [m]"""
    gone_sd_m: float
    """Standard deviation. [m]"""


@dataclass(frozen=True, slots=True)
class FirstTeeth:
    """What the first value of a counted wheel says of when the car began to move."""

    moved_s: float
    """Had it pulled evenly, the electronics' own lateness left in. [s]"""
    sigma_s: float
    """Standard deviation. [s]"""
    came_s: float
    """When the first value came. [s]"""
    gone_m: float
    """How far the wheel had rolled by then. [m]"""
    gone_sd_m: float
    """Standard deviation. [m]"""
    way_m: float | None = None
    """How late it is by a way, by the pitches that a value is the mean over; None where these do not show. [m]"""
    since: SinceTooth | None = None
    """What it rolled since the first tooth after rest; None where that does not show. [m]"""


def find_first_teeth(channel: Channel, near_s: float, *, slips: bool = False) -> FirstTeeth | None:
    """When a car began to move of which a counted wheel shows nothing until its first teeth have passed.

    Parameters
    ----------
    channel : Channel
        A wheel's speed. [m/s]
    near_s : float
        The launch, to some tenths of a second. [s]
    slips : bool
        Whether the wheel is driven: what its first value says is then no measure of how many pitches it is over.

    Returns
    -------
    FirstTeeth or None
        None where the wheel does not leap from rest, or no further than a gate would let it.
    """
    if channel.rate_hz < SLOW_HZ:
        return None
    near = (channel.known.time_s > near_s - REST_S) & (channel.known.time_s < near_s + TEETH_WITHIN_S)
    time_s, speed_mps = channel.known.time_s[near], channel.known.values[near]
    rest = speed_mps[time_s < near_s - 0.3]
    if rest.size < 4:
        return None
    noise_mps = float(np.std(np.diff(rest))) / 2.0**0.5  # a value that creeps on from a tooth long past is no noise
    least_mps = max(LEAP_NOISES * noise_mps, LEAST_LEAP_MPS)
    step_s = float(np.median(np.diff(time_s)))
    back = np.maximum(np.arange(speed_mps.size) - max(round(SETTLES_S / step_s), 1), 0)
    springs = (speed_mps > least_mps) & (speed_mps > SPRINGS * speed_mps[back])
    comes = np.flatnonzero(springs[1:-1] & (speed_mps[2:] > least_mps) & ~springs[:-2]) + 1
    pitch_m = _pitch(channel, near_s)
    most = 1 if slips or pitch_m is None else max(round(TURN_M / pitch_m), 1)
    passed = _passed_at_rest(time_s, speed_mps, max(TOOTH_NOISES * noise_mps, channel.resolution / 2.0))
    found = [_moved(time_s, speed_mps, int(first), pitch_m, (most, passed)) for first in comes[:LOOKED_AT]]
    return next((one for one in found if one is not None), None)


def _moved(
    time_s: FloatArray, speed_mps: FloatArray, first: int, pitch_m: float | None, told: tuple[int, IntArray]
) -> FirstTeeth | None:
    """What a value says that may be the first after rest; None where a gate lets through as much, or teeth do not.

    Told are over how many pitches a value may be the mean, and the samples that showed a tooth while near rest.
    """
    most_over, passed = told
    step_s = float(time_s[first] - time_s[first - 1])
    settled = first + round(SETTLES_S / step_s)
    says = float(speed_mps[first : settled + 1].max())
    rises = (time_s >= time_s[first]) & (time_s < time_s[first] + FIRST_RISES_S) & (speed_mps > 0.5 * says)
    was_s = time_s[rises] - WAY_OF_PITCH * (pitch_m or 0.0) / speed_mps[rises]
    rise = float(np.polyfit(was_s, speed_mps[rises], 1)[0]) if rises.sum() > 3 else 0.0
    if rise <= 0.0 or step_s > GAP_STEPS * float(np.median(np.diff(time_s))):
        return None
    took_s, share = SAYS_OVER_RISE * says / rise, TOOK_SD_WITHOUT_PITCH
    gone_m, gone_sd_m = GONE_OVER_SQUARE * says**2 / rise, GONE_SD_WITHOUT_PITCH * says**2 / rise
    held, over = 0, 1
    came_s = float(time_s[first]) - step_s / 2.0
    passed = passed[passed < first - round(SETTLES_S / step_s)]
    near_rest = bool(np.all(speed_mps[passed] < NEAR_REST_SHARE * says))
    passed_s = time_s[passed if near_rest else passed[:0]] - step_s / 2.0
    since = _since_tooth(passed_s, came_s, (float(speed_mps[first]), says), pitch_m)
    if since is None and passed_s.size:  # what looked like a pitch is none
        pitch_m, since = None, _since_tooth(passed_s, came_s, (float(speed_mps[first]), says), None)
    if pitch_m is not None:
        over = min(_pitches_over(says, rise, pitch_m), most_over)
        over = over if since is None else round(since.gone_m / pitch_m)
        by_one = float(np.sqrt(2.0 * TEETH_AT_FIRST * pitch_m * rise)) / says
        gone_m = (over + TEETH_AT_FIRST - 1.0) * pitch_m
        took_s, share = float(np.sqrt(2.0 * gone_m / rise)), TOOK_SD
        gone_sd_m = TEETH_AT_FIRST_SD * pitch_m if over == 1 or since is not None else SEVERAL_SD * gone_m
        held = round(HELD_SHARE * pitch_m / says / step_s)
        if since is None and not (PITCH_FITS[0] if over == 1 else SEVERAL_FIT) < by_one < PITCH_FITS[1]:
            return None
    stands = held > 0 and float(speed_mps[settled : settled + held + 1].max()) < HELD_RISES * says
    if says < GATE_MPS + rise * step_s and not stands:
        return None
    # half of what the mean is over, and what it is held for
    way_m = None if pitch_m is None else (over - 1.0) / 2.0 * pitch_m + WAY_OF_PITCH * pitch_m
    return FirstTeeth(came_s - took_s, share * took_s, came_s, gone_m, gone_sd_m, way_m, since)


def _since_tooth(
    passed_s: FloatArray, came_s: float, says_mps: tuple[float, float], pitch_m: float | None
) -> SinceTooth | None:
    """What a first value says of the way since the first tooth, as the mean from then on; None if it does not fit.

    It is over as many pitches as teeth showed, or more, for one may move a value by less than its last digit. What it
    says as it comes may still be held back by a filter; once that has settled, later teeth are in it.
    """
    if not passed_s.size:
        return None
    least_m, gone_m = (says * (came_s - float(passed_s[0])) for says in says_mps)
    if pitch_m is None:
        middle_m = (least_m + gone_m) / 2.0
        return SinceTooth(float(passed_s[0]), middle_m, float(np.hypot(SINCE_SD * middle_m, (gone_m - least_m) / 2.0)))
    pitches = round(gone_m / pitch_m)
    fits = pitches >= passed_s.size and abs(gone_m / pitch_m - pitches) < PITCHES_APART * max(pitches, 1.0)
    return SinceTooth(float(passed_s[0]), pitches * pitch_m, SINCE_SD * pitch_m) if fits else None


def _passed_at_rest(time_s: FloatArray, speed_mps: FloatArray, least_mps: float) -> IntArray:
    """Samples of a counter's speed near rest at which a tooth had passed, shape (k,).

    Of a wheel that has stood a counter tells next to nothing until all teeth that it takes the mean over have passed;
    yet each moves its value. What moves it right after another is its filter's, and to nought it falls by itself.
    """
    moved = np.flatnonzero((np.abs(np.diff(speed_mps)) > least_mps) & (speed_mps[1:] > 0.0)) + 1
    apart = np.diff(time_s[moved], prepend=-np.inf) > SETTLES_S + np.median(np.diff(time_s)) / 2.0
    return np.asarray(moved[apart])


def _pitches_over(says_mps: float, rise_mps2: float, pitch_m: float) -> int:
    """How many pitches a value is the mean over, by what the first one says of a car that leaves rest evenly.

    Half a pitch is gone as the first tooth passes; the mean over k more is k / (sqrt(2 k + 1) - 1) over the root of
    pitch times rise.
    """
    over_root = says_mps / float(np.sqrt(pitch_m * rise_mps2))
    return round(((2.0 * over_root - 1.0) ** 2 - 1.0) / 2.0) if over_root > MOST_BY_ONE else 1


def _rises_with_the_car(channel: Channel, launch_s: float) -> bool:
    """Whether the first speeds take as long as a car takes: of teeth that are counted none shows them."""
    near = (channel.known.time_s > launch_s - REST_S) & (channel.known.time_s < launch_s + TEETH_WITHIN_S)
    time_s, speed_mps = channel.known.time_s[near], channel.known.values[near]
    rest = speed_mps[time_s < launch_s - 0.1]
    if channel.rate_hz < SLOW_HZ or rest.size < 5 or np.diff(time_s).max() > 2.0 / channel.rate_hz:
        return False
    low, high, last = max(FIRST_MPS[0], REST_NOISES * float(np.std(rest))), *FIRST_MPS[1:]
    crossed: list[float] = []
    before = 0
    for level in (low, high, last):
        above = np.flatnonzero(speed_mps > level)
        if not above.size or above[0] <= before or low > FIRST_MPS[1] / 2.0:
            return False  # within one step of the log everything rises evenly
        at = before = int(above[0])
        share = (level - speed_mps[at - 1]) / (speed_mps[at] - speed_mps[at - 1])
        crossed.append(float(time_s[at - 1] + share * (time_s[at] - time_s[at - 1])))
    usual_s = (high - low) * (crossed[2] - crossed[1]) / (last - high)
    return crossed[1] - crossed[0] > RISES_SHARE * usual_s


def _leaps_from_rest(channel: Channel, launch_s: float) -> bool:
    """Whether speed leaps as the car begins to move; not where the log is too slow to tell, or shows no rest."""
    near = np.flatnonzero(channel.known.time_s > launch_s - REST_S)
    time_s, speed_mps = channel.known.time_s[near], channel.known.values[near]
    moving = np.flatnonzero(speed_mps > UNDER_WAY_MPS)
    if channel.rate_hz < SLOW_HZ or not moving.size or moving[0] < 5:
        return False
    rest = speed_mps[time_s < min(launch_s - 0.1, time_s[moving[0]])]
    step_s = float(np.median(np.diff(time_s)))
    whole = np.diff(time_s[: moving[0] + 1]) < GAP_STEPS * step_s
    steps = np.where(whole, np.diff(speed_mps[: moving[0] + 1]), 0.0)
    first = int(np.argmax(steps)) + 1
    rises = (time_s >= time_s[first]) & (time_s < time_s[first] + RISES_S)
    if rest.size < 5 or rises.sum() < 4:
        return False
    usual = step_s * float(np.polyfit(time_s[rises], speed_mps[rises], 1)[0])
    least = max(LEAP_STEPS * usual, LEAP_NOISES * float(np.std(rest)), LEAST_LEAP_MPS)
    return bool(min(steps[first - 1], np.median(speed_mps[first : first + 3]) - speed_mps[first - 1]) > least)


def _pitch(channel: Channel, launch_s: float) -> float | None:
    """The way from tooth to tooth, what a value says times how long it took to come; None where teeth do not agree."""
    near = (channel.known.time_s > launch_s - REST_S) & (channel.known.time_s < launch_s + TEETH_WITHIN_S)
    time_s, speed_mps = channel.known.time_s[near], channel.known.values[near]
    rest = speed_mps[time_s < launch_s - 0.1]
    noise = float(np.std(rest)) if rest.size > 4 else 0.0
    least = np.maximum(TOOTH_NOISES * noise, TOOTH_SHARE * np.abs(speed_mps[:-1]))
    comes = np.flatnonzero(np.abs(np.diff(speed_mps)) > least) + 1
    comes = comes[max(int(np.searchsorted(comes, _last_spring(speed_mps))) - 1, 0) :]
    took_s, says = np.diff(time_s[comes]), speed_mps[comes[1:]]
    pitches_m = took_s * says
    shown = np.flatnonzero((took_s > TOOTH_STEPS * float(np.median(np.diff(time_s)))) & (says > LEAST_LEAP_MPS))
    shown = shown[: _as_long_as_one(pitches_m[shown])]
    if shown.size < LEAST_TEETH:
        return None
    middle = float(np.median(pitches_m[shown]))
    counts = np.union1d(shown, np.flatnonzero(pitches_m > SETTLING_SHARE * middle))[:LEAST_TEETH]
    if np.isin(counts, shown).sum() <= LEAST_TEETH // 2:
        return None
    if _changed_by_teeth(speed_mps, comes[shown[0] : shown[-1] + 2]) < HELD_ELSE:
        return None  # it rises between them: no value is held
    if float(np.median(np.abs(np.log(pitches_m[shown] / middle)))) >= TEETH_APART:
        return None
    # a log's steps make one tooth longer by what they make the next one shorter: all between are taken together
    every = pitches_m[shown[0] : shown[-1] + 1]
    return float(every.sum() / np.count_nonzero(every > SETTLING_SHARE * middle))


def _changed_by_teeth(speed_mps: FloatArray, comes: IntArray) -> float:
    """Share of all that a speed changes by which the rows make where a value comes.

    Where the next is three rows off or more, the row after it counts with it: a filter settles over it. What is held
    changes from its first row to its last by what it rises, and by noise once.
    """
    settled = comes[:-1] + (np.diff(comes) >= ROWS_OF_SETTLING)
    by_teeth_mps = np.abs(speed_mps[settled] - speed_mps[comes[:-1] - 1])
    held_mps = np.abs(speed_mps[comes[1:] - 1] - speed_mps[settled])
    return float(by_teeth_mps.sum() / (by_teeth_mps.sum() + held_mps.sum()))


def _last_spring(speed_mps: FloatArray) -> int:
    """The last sample at which a speed sprang to a multiple, as it does only while its first teeth come; 0 without."""
    fast = np.flatnonzero(speed_mps > SPRINGS_BELOW_MPS)
    slow = speed_mps[: int(fast[0]) + 1 if fast.size else speed_mps.size]
    springs = np.flatnonzero((slow[1:] > LEAST_LEAP_MPS) & (slow[1:] > SPRINGS * slow[:-1]))
    return int(springs[-1]) + 1 if springs.size else 0


def _as_long_as_one(pitches_m: FloatArray) -> int:
    """How many of the first are of one tooth: later, values differ too little, and several look like one."""
    for place in range(LEAST_TEETH, pitches_m.size - SEVERAL_LOOKED_AT + 1):
        following = float(np.median(pitches_m[place : place + SEVERAL_LOOKED_AT]))
        if following > SEVERAL_LONGER * float(np.median(pitches_m[:place])):
            return place
    return pitches_m.size
