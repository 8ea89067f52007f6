"""Whether the car, its tires and its engine move: the traces on which runs are told from the rest of a log.

Public: `Movement`, `read_movement`, `smoothed`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.despiking import despike
from passband.analysis.sensors.priors import GPS
from passband.analysis.sensors.wheels import FRONT, REAR, axles_of
from passband.analysis.statistics.filters import even_grid, resample, smooth

GRID_HZ = 50.0
"""Grid of all traces: a hop lasts half a second, a shift a tenth. [Hz]"""
LONGEST_GAP_S = 4.0
"""Speed missing for less is joined: a receiver under a bridge, a bus off for a while, does not end a run. [s]"""
DEAD_SHARE = 0.2
"""A wheel that never turns a fifth as fast as the fastest has a dead sensor. [-]"""
TYPICAL_CIRCUMFERENCE_M = 2.1
"""Driven tire where the car does not say: good enough to tell a run from idling. [m]"""
TYPICAL_FINAL_DRIVE = 4.0
"""Final drive where the car does not say, for the same use. [-]"""

ASKED_BY = {"throttle": 0.2, "injector_duty": 0.2, "manifold_pressure": 4e4, "boost": 4e4}
"""What shows that power is asked for, the plainest first, and how much of a swing proves that the sensor works."""


@dataclass(frozen=True, slots=True)
class Movement:
    """Traces on one even grid, shape (n,) each; NaN where nothing shows it."""

    time_s: FloatArray
    """Log clock. [s]"""
    ground_mps: FloatArray
    """Speed over the ground: undriven wheel, else a ground speed, else GPS. [m/s]"""
    tire_mps: FloatArray
    """Surface speed of the driven tires. [m/s]"""
    engine_rpm: FloatArray
    """Noise taken out. [rpm]"""
    throttle: FloatArray
    """Throttle, else injector duty or manifold pressure, from its least to its greatest. [0..1]"""
    ground_basis: str
    """Channel that `ground_mps` mostly rests on; empty where there is none."""
    tire_basis: str
    """Channel that `tire_mps` rests on; empty where there is none."""

    @property
    def step_s(self) -> float:
        """Time between samples, in seconds."""
        return 1 / GRID_HZ


def read_movement(traces: Traces, car: Car) -> Movement:
    """Put whatever shows movement on one even grid.

    Parameters
    ----------
    traces : Traces
        All channels on one clock.
    car : Car
        Driven axle, final drive and circumference serve where given.

    Returns
    -------
    Movement
        Empty arrays where the traces hold no sample.
    """
    spans = [channel.time_s[[0, -1]] for channel in traces if channel.time_s.size > 1]
    if not spans:
        nothing = np.zeros(0)
        return Movement(nothing, nothing, nothing, nothing, nothing, "", "")
    grid = even_grid(min(s[0] for s in spans), max(s[1] for s in spans), rate_hz=GRID_HZ)
    undriven, driven = _axles(traces, car)
    grounds = [*_gridded(undriven, grid)]
    for name, late in (("ground_speed", 0.0), ("gps_speed", GPS.late_s)):
        if (channel := traces.get(name)) is not None:
            grounds.append((name, _on_grid(channel, grid + late)))
    ground, ground_basis = _first_known(grounds, grid)
    tire, tire_basis = _first_known(_tires(traces, car, driven, grid), grid)
    return Movement(grid, ground, tire, _engine(traces, grid), _throttle(traces, grid), ground_basis, tire_basis)


def _axles(traces: Traces, car: Car) -> tuple[list[Channel], list[Channel]]:
    """Channels of the undriven and of the driven wheels, dead sensors left out."""
    front = [channel for name in FRONT if (channel := traces.get(name)) is not None]
    rear = [channel for name in REAR if (channel := traces.get(name)) is not None]
    fastest = max((_fastest(channel) for channel in front + rear), default=0.0)
    front, rear = ([c for c in axle if _fastest(c) > DEAD_SHARE * fastest] for axle in (front, rear))
    axles = axles_of(car)
    if axles.undriven:
        return (front, rear) if axles.undriven == FRONT else (rear, front)
    # Unknown, or all wheels driven: the axle that turns slower is the nearer to the ground.
    if front and rear:
        slower_front = np.nanmean(front[0].values) <= np.nanmean(rear[0].values)
        return (front, rear) if slower_front else (rear, front)
    return (front or rear), []


def _fastest(channel: Channel) -> float:
    known = channel.known.values
    return float(np.percentile(known, 99.5)) if known.size else 0.0


def _gridded(channels: list[Channel], grid: FloatArray) -> list[tuple[str, FloatArray]]:
    return [(channel.name, _on_grid(channel, grid)) for channel in channels]


def _on_grid(channel: Channel, at_s: FloatArray) -> FloatArray:
    """The channel at the grid's times; GPS at 1 Hz with a second missing is still joined."""
    return resample(channel.time_s, channel.values, at_s, max_gap_s=max(LONGEST_GAP_S, 2.5 / max(channel.rate_hz, 0.1)))


def _first_known(choices: list[tuple[str, FloatArray]], grid: FloatArray) -> tuple[FloatArray, str]:
    """At each time the first choice that knows; the basis is the one used most."""
    found, basis, most = np.full(grid.size, np.nan), "", 0
    for name, values in choices:
        new = np.isnan(found) & np.isfinite(values)
        found = np.where(new, values, found)
        if new.sum() > most:
            basis, most = name, int(new.sum())
    return found, basis


def _tires(traces: Traces, car: Car, driven: list[Channel], grid: FloatArray) -> list[tuple[str, FloatArray]]:
    found = []
    if (channel := traces.get("wheel_speed_driven")) is not None:
        found.append((channel.name, _on_grid(channel, grid)))
    found += _gridded(driven, grid)
    if (channel := traces.get("driveshaft_speed")) is not None:
        per_rpm = (car.tire_circumference or TYPICAL_CIRCUMFERENCE_M) / (car.final_drive or TYPICAL_FINAL_DRIVE) / 60
        found.append((channel.name, per_rpm * _on_grid(channel, grid)))
    return found


def _engine(traces: Traces, grid: FloatArray) -> FloatArray:
    channel = traces.get("engine_speed")
    if channel is None:
        return np.full(grid.size, np.nan)
    return resample(channel.time_s, despike(channel.time_s, channel.values), grid, max_gap_s=1.0)


def _throttle(traces: Traces, grid: FloatArray) -> FloatArray:
    """The throttle, or what stands for it: how much the engine is asked for."""
    for name in ASKED_BY:
        channel = traces.get(name)
        if channel is None or channel.known.values.size < 20:
            continue
        least, most = np.percentile(channel.known.values, [0.5, 99.5])
        if most - least > ASKED_BY[name]:
            share: FloatArray = (_on_grid(channel, grid) - least) / (most - least)
            return share
    return np.full(grid.size, np.nan)


def smoothed(values: FloatArray, *, span_s: float) -> FloatArray:
    """A trace of the grid without its ripple; gaps stay.

    Parameters
    ----------
    values : array, shape (n,)
        On the grid of a `Movement`.
    span_s : float
        Width of the sliding fit. [s]

    Returns
    -------
    array, shape (n,)
        As it was where a gap is near.
    """
    calm = smooth(values, step_s=1 / GRID_HZ, span_s=span_s, order=1)
    return np.where(np.isfinite(calm), calm, values)
