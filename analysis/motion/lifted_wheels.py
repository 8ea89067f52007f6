"""Undriven wheels in the air: while the front stands up, they coast and say nothing of the car.

A wheel that coasts keeps its speed or loses it while the car goes on gaining; once it is down again it runs up to the
car's speed within a tenth of a second. What the car gains meanwhile is read from what does not roll with that wheel.

Public: `stretches_in_the_air`, `lifts_early`, `tell_in_the_air`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.forward_axis import forward_acceleration
from passband.analysis.sensors.priors import ACCELEROMETER, WHEEL, gps_lateness
from passband.analysis.sensors.wheels import driven_tire_speed
from passband.analysis.statistics.fits import sample_noise
from passband.analysis.statistics.intervals import find_true_runs
from passband.analysis.windows.window import RunWindow

STEP_S, OVER_S = 0.02, 0.2
"""Grid, and over how long gains are compared: a torque cut is shorter. [s]"""
PULLS_MPS2 = 2.5
"""Below this pull a coasting wheel is not told from a rolling one. [m/s2]"""
COASTS_SHARE = 0.2
"""A wheel that gains less than this share of what the car gains coasts. [-]"""
COASTS_FOR_S, COASTS_FOR_BESIDE_A_SPEED_S = 0.12, 0.3
"""How long at least; longer beside another speed: GPS is late by an unknown time, a driven tire may spin. [s]"""
SLOWEST_MPS = 4.0
"""Below this few teeth pass, and a wheel's speed stands for want of them. [m/s]"""
TURNS_WITHOUT_A_TOOTH, A_TURN_M = 2.0, 2.0
"""A slower wheel that stands while the car rolls so many of its turns does not want for teeth: even a single one comes
once a turn, and a counter shows it by the next. A turn, where the car's document has none. [-], [m] By arithmetic."""
ROLLS_BETWEEN = (0.6, 1.5)
"""Of a wheel on the ground: what it gains over what the car gains. [-]"""
SHORT_SHARE, SHORT_MPS = 0.10, 0.6
"""How far below what the car has gained meanwhile a wheel may be that is back on the ground: pitch tips the
accelerometer, and a driven tire slips. [-], [m/s]"""
EARLY_S = 1.0
"""A wheel that leaves the ground so soon after the launch tells nothing of the way from its first teeth: that is read
from how its speed rises within half a second of them, and they pass within as long. [s]"""
NOISES_SHORT = 6.0
"""A wheel in the air falls behind the car by more than so many spreads of its own noise, sample to sample: of two
samples that lie apart by chance at either end, doubled. [-] By arithmetic."""
MARGIN_S = 0.06
"""What is left out before and after: the wheel loses its grip, or gains it. [s]"""


def stretches_in_the_air(traces: Traces, car: Car, wheel: Channel, window: RunWindow) -> list[tuple[float, float]]:
    """When an undriven wheel was in the air, on its own (late) time.

    Parameters
    ----------
    traces : Traces
        Channels over the run: forward acceleration, GPS speed and the driven tire's serve, in this order.
    car : Car
        Driven axle, circumference and final drive, for the driven tire's speed.
    wheel : Channel
        Speed of an undriven wheel.
    window : RunWindow
        The run.

    Returns
    -------
    list of tuple of float
        Start and stop of each stretch; empty where nothing shows one. [s]

    Notes
    -----
    It begins where the wheel gains under a fifth of what the car gains over 0.2 s, the car pulling, and ends where it
    gains as the car does again and has caught up. A wheel that leaves the ground before it turns fast stands as one
    does that waits for its next tooth: there the car must have rolled two of the wheel's turns meanwhile, by what does
    not spin. It does not see a wheel that left the ground before it turned at all.
    """
    time = np.arange(window.launch_s, window.stop_s, STEP_S)
    beside = _gained(traces, car, time)
    if beside is None or time.size < 2 * round(OVER_S / STEP_S):
        return []
    gained = beside.speed_mps
    speed = wheel.known.at(time + WHEEL.late_s)
    span = round(OVER_S / STEP_S)
    ours = np.full(time.size, np.nan)
    theirs = ours.copy()
    ours[: time.size - span] = speed[span:] - speed[:-span]
    theirs[: time.size - span] = gained[span:] - gained[:-span]
    turns = np.nan_to_num(speed) > (SLOWEST_MPS if beside.spins else 0.0)
    pulls = (theirs > PULLS_MPS2 * OVER_S) & turns
    coasts = pulls & (ours < COASTS_SHARE * theirs)
    rolls = (ours > ROLLS_BETWEEN[0] * theirs) & (ours < ROLLS_BETWEEN[1] * theirs) & (theirs > 0)
    found: list[tuple[float, float]] = []
    turn_m = car.undriven_tire_circumference or A_TURN_M
    least_mps = NOISES_SHORT * _noise(wheel, window)
    for piece in find_true_runs(coasts):
        begun = float(time[piece.start])
        if (piece.stop - piece.start) * STEP_S < beside.for_s or (found and begun < found[-1][1]):
            continue
        rolled_m = float(np.sum(gained[piece.start : piece.stop] - gained[0])) * STEP_S
        if speed[piece.start] < SLOWEST_MPS and rolled_m < TURNS_WITHOUT_A_TOOTH * turn_m:
            continue
        end = _caught_up(piece.start, speed, gained, rolls)
        away = slice(piece.start, min(end + 1, time.size))
        short_mps = (gained[away] - gained[piece.start]) - (speed[away] - speed[piece.start])
        if not np.isfinite(short_mps).any() or float(np.nanmax(short_mps)) < least_mps:
            continue
        stop = float(time[min(end, time.size - 1)]) + WHEEL.late_s + MARGIN_S if end < time.size else np.inf
        found.append((begun + WHEEL.late_s - MARGIN_S, stop))
    return found


def lifts_early(stretches: list[tuple[float, float]], window: RunWindow) -> bool:
    """Whether a wheel left the ground before its first teeth could tell how far the car had rolled.

    Parameters
    ----------
    stretches : list of tuple of float
        From `stretches_in_the_air`. [s]
    window : RunWindow
        The run.

    Returns
    -------
    bool
        False where it stayed on the ground.
    """
    return bool(stretches) and stretches[0][0] < window.launch_s + EARLY_S


def _noise(wheel: Channel, window: RunWindow) -> float:
    """Spread of the wheel's noise on the run, sample to sample. [m/s]."""
    values = wheel.known.within(window.launch_s, window.stop_s).values
    return float(sample_noise(values[values > SLOWEST_MPS]))


def _caught_up(start: int, speed: FloatArray, gained: FloatArray, rolls: BoolArray) -> int:
    """The first point from which the wheel rolls with the car again, and is as fast; past the end where none is."""
    gone = gained - gained[start]
    short = np.maximum(SHORT_SHARE * np.abs(gone), SHORT_MPS)
    back = rolls & (speed - speed[start] > gone - short)
    back[: start + 1] = False
    later = np.flatnonzero(back)
    return int(later[0]) if later.size else speed.size


@dataclass(frozen=True, slots=True)
class _Gained:
    """What the car has gained by what does not roll with the wheel."""

    speed_mps: FloatArray
    """Since some moment, shape (n,). [m/s]"""
    for_s: float
    """How long a coasting must last beside it. [s]"""
    spins: bool = False
    """Whether it may gain while the car does not."""


def _gained(traces: Traces, car: Car, time_s: FloatArray) -> _Gained | None:
    felt = forward_acceleration(traces.channels)
    if felt is not None and felt.known.values.size > 20:
        known = felt.known
        still = known.values[known.time_s < time_s[0] - 0.05]
        rest = float(np.median(still)) if still.size > 3 else 0.0
        pull = known.at(time_s + ACCELEROMETER.late_s) - rest
        return _Gained(np.cumsum(np.nan_to_num(pull)) * STEP_S, COASTS_FOR_S)
    steady = traces.get("gps_speed") or traces.get("ground_speed")
    if steady is not None and steady.rate_hz >= 1.0 / OVER_S:
        speed = steady.known.at(time_s + gps_lateness(steady.rate_hz).late_s)
        return _Gained(speed, COASTS_FOR_BESIDE_A_SPEED_S)
    tire = driven_tire_speed(traces, car).speed
    if tire is None:
        return None
    return _Gained(tire.known.at(time_s + WHEEL.late_s), COASTS_FOR_BESIDE_A_SPEED_S, spins=True)


def tell_in_the_air(wheel: Channel, stretches: list[tuple[float, float]], window: RunWindow) -> list[Finding]:
    """What the reader must know of a wheel that was in the air.

    Parameters
    ----------
    wheel : Channel
        Its speed.
    stretches : list of tuple of float
        From `stretches_in_the_air`. [s]
    window : RunWindow
        The run.

    Returns
    -------
    list of Finding
        One, or none where it stayed on the ground.
    """
    if not stretches:
        return []
    first, last = stretches[0][0] - window.launch_s, stretches[-1][1] - window.launch_s
    until = "to the end of the log" if np.isinf(last) else f"to {last:.1f} s"
    text = (
        f"{wheel.header} coasted while the car went on gaining speed, from {first:.1f} s after the launch {until}: the "
        "wheel was in the air. What it read meanwhile was left out; the other sensors carry the speed there."
    )
    return [Finding("undriven-wheel-in-the-air", "caution", text, wheel.header)]
