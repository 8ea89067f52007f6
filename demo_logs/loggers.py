"""Logging devices: own clock, and for each sensor its delay, lag, rate, noise, steps and holds.

Public: `Sensor`, `Device`, `Recording`, `TrueSignals`, `record`, `UNITS`, `copy_lag_s`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

UNITS: dict[str, tuple[float, float]] = {
    "": (1.0, 0.0),
    "rpm": (1.0, 0.0),
    "1/min": (1.0, 0.0),
    "lambda": (1.0, 0.0),
    "-": (1.0, 0.0),
    "V": (1.0, 0.0),
    "%": (100.0, 0.0),
    "Pa": (1.0, 0.0),
    "kPa": (1e-3, 0.0),
    "bar": (1e-5, 0.0),
    "psi": (1 / 6894.757293168, 0.0),
    "mbar": (1e-2, 0.0),
    "K": (1.0, 0.0),
    "C": (1.0, -273.15),
    "degC": (1.0, -273.15),
    "°C": (1.0, -273.15),
    "F": (1.8, -459.67),
    "°F": (1.8, -459.67),
    "m/s": (1.0, 0.0),
    "km/h": (3.6, 0.0),
    "kph": (3.6, 0.0),
    "mph": (1 / 0.44704, 0.0),
    "m/s2": (1.0, 0.0),
    "g": (1 / 9.80665, 0.0),
    "deg": (1.0, 0.0),
    "°": (1.0, 0.0),
    "kg/h": (3600.0, 0.0),
    "krpm": (1e-3, 0.0),
}
"""Written unit: written = SI x scale + offset."""

TOOTH_OVERDUE_S = 0.5
"""A counter that has waited so long for a tooth shows zero: common practice, no source. [s]"""


@dataclass(frozen=True, slots=True)
class Sensor:
    """One channel of one device."""

    signal: str
    """Which true signal it senses."""
    quantity: str
    """Short name in the truth's list of sensors."""
    header: str
    """What the log calls it."""
    unit: str
    """Unit as written, of `UNITS`."""
    latency_s: float = 0.0
    """Pure delay."""
    lag_s: float = 0.0
    """First-order lag."""
    rate_hz: float = 0.0
    """Own rate; 0: the device's."""
    noise: float = 0.0
    """Standard deviation, SI."""
    step: float = 0.0
    """Quantisation, written unit; 0: only by the digits."""
    digits: int = 2
    """Digits printed after the point."""
    hold: bool = False
    """True: repeats its last value between its samples; False: leaves the cell blank."""
    floor: float = 0.0
    """Reads 0 below it, SI (a wheel sensor with few teeth)."""
    tooth: float = 0.0
    """Counted by teeth: what the signal adds up to from one to the next (a wheel's metres); 0: not counted."""
    scale: float = 1.0
    """Gain error."""
    bias: float = 0.0
    """Zero error, SI."""


@dataclass(frozen=True, slots=True)
class Device:
    """One logger."""

    name: str
    """``ecu``, ``dash``, ``gps``."""
    rate_hz: float
    """Rows per second, by its own clock."""
    start_s: float = 0.0
    """True time of its first row, on the ECU log's clock."""
    stop_s: float = 60.0
    """True time of its end."""
    ppm: float = 0.0
    """By how much one of its seconds is longer than a true one."""


@dataclass(slots=True)
class Recording:
    """What a device wrote: one row a sample, written units, NaN for a blank cell."""

    device: Device
    sensors: list[Sensor]
    time_s: FloatArray
    """Device clock, from its first row."""
    columns: list[FloatArray]
    shown_time_s: FloatArray | None = None
    """The time column as written where it differs (a restarted log); None: `time_s`."""
    damage: list[str] = field(default_factory=list)
    """What was spoilt on purpose."""

    def true_time(self) -> FloatArray:
        """Rows' times on the ECU log's clock."""
        return self.device.start_s + self.time_s * (1.0 + self.device.ppm * 1e-6)

    def find(self, quantity: str) -> int:
        """Column of a quantity."""
        return [sensor.quantity for sensor in self.sensors].index(quantity)


def _lagged(values: FloatArray, dt: float, lag_s: float) -> FloatArray:
    from scipy.signal import lfilter

    keep = np.exp(-dt / lag_s)
    return np.asarray(lfilter([1.0 - keep], [1.0, -keep], values, zi=np.array([keep * values[0]]))[0])


def _counted(time_s: FloatArray, signal: FloatArray, tooth: float, phase: float) -> FloatArray:
    """What a counter of teeth shows: one tooth over the time between the last two, less once the next is overdue.

    Late by a way and not by a time: half a tooth for the mean over the last, and the way gone since.
    """
    dt = float(time_s[1] - time_s[0])
    turned = np.abs(signal)
    way = (np.cumsum(turned) - turned / 2.0) * dt / tooth + phase + 1e-12 * np.arange(signal.size)
    edges = np.interp(np.arange(1.0, np.floor(way[-1]) + 1.0), way, time_s)
    if edges.size < 2:
        return np.zeros_like(signal)
    last = np.searchsorted(edges, time_s, side="right") - 1
    since = np.maximum(time_s - edges[np.maximum(last, 0)], 1e-9)
    between = np.diff(edges, prepend=-np.inf)[np.maximum(last, 0)]
    known = (last >= 1) & (since < TOOTH_OVERDUE_S)
    return np.where(known, tooth / np.maximum(between, since), 0.0)


def _sense(
    sensor: Sensor, time_s: FloatArray, signal: FloatArray, at_s: FloatArray, rng: np.random.Generator
) -> FloatArray:
    """What the sensor reads at its own sample times, in its written unit."""
    dt = float(time_s[1] - time_s[0])
    if sensor.tooth:
        signal = _counted(time_s, signal, sensor.tooth, float(rng.random()))
    if sensor.lag_s > 0.25 * dt:
        signal = _lagged(signal, dt, sensor.lag_s)
    if sensor.quantity in ("gear", "cut"):
        place = np.clip(np.searchsorted(time_s, at_s - sensor.latency_s, side="right") - 1, 0, signal.size - 1)
        seen = signal[place]
    else:
        seen = np.interp(at_s - sensor.latency_s, time_s, signal)
    seen = seen * sensor.scale + sensor.bias + sensor.noise * rng.standard_normal(seen.size)
    if sensor.floor > 0.0:
        seen = np.where(np.abs(seen) < sensor.floor, 0.0, seen)
    scale, offset = UNITS[sensor.unit]
    written = seen * scale + offset
    step = sensor.step or 10.0**-sensor.digits
    return np.asarray(np.round(written / step) * step)


@dataclass(frozen=True, slots=True)
class TrueSignals:
    """What is true at each moment of an even grid, SI."""

    time_s: FloatArray
    """Even, shape (n,). [s]"""
    of: dict[str, FloatArray]
    """By what a sensor could see, shape (n,) each."""


def record(device: Device, sensors: list[Sensor], true: TrueSignals, rng: np.random.Generator) -> Recording:
    """Log the true signals with a device.

    A sensor slower than the device is blank between its samples, or held where it says so.
    """
    rows = int((device.stop_s - device.start_s) * device.rate_hz / (1.0 + device.ppm * 1e-6)) + 1
    clock = np.arange(rows) / device.rate_hz
    columns = []
    for sensor in sensors:
        rate = sensor.rate_hz or device.rate_hz
        every = max(1, round(device.rate_hz / rate))
        first = int(rng.integers(every)) if sensor.hold else 0
        place = np.arange(first, rows, every)
        if first:
            place = np.concatenate([[0], place])
        at = device.start_s + clock[place] * (1.0 + device.ppm * 1e-6)
        seen = _sense(sensor, true.time_s, true.of[sensor.signal], at, rng)
        column = np.full(rows, np.nan)
        if sensor.hold:
            column = seen[np.searchsorted(place, np.arange(rows), side="right") - 1]
        else:
            column[place] = seen
        columns.append(column)
    return Recording(device, list(sensors), clock, columns)


def copy_lag_s(ecu: Sensor, copy: Sensor, copy_rate_hz: float) -> float:
    """By how much a held copy of a channel trails the channel itself: delays, lags, half a hold."""
    return copy.latency_s + copy.lag_s + 0.5 / copy_rate_hz - ecu.latency_s - ecu.lag_s
