"""The accelerometer against the slope of speed in the same log: sign, axes, scale, drift.

Public: `mend_accelerometer`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import G_MPS2, FloatArray
from passband.analysis.results.findings import Finding

SPEEDS = (
    "gps_speed",
    "ground_speed",
    "wheel_speed_fl",
    "wheel_speed_fr",
    "wheel_speed_rl",
    "wheel_speed_rr",
    "wheel_speed_driven",
)
SLOPE_OVER_S = 0.6
"""Speed is differentiated over this long: shorter and its steps drown the slope, longer and shifts blur away. [s]"""
AGREES = 0.75
"""Correlation above which a reading is the slope of speed; a healthy one reaches 0.95."""
FOREIGN, FORWARD = 0.3, 0.7
"""Share of the slope of speed below which an axis does not point forward, though some leaks into it; and above which
it does."""
FEWEST = 40
"""Samples on the move needed to say so."""
MOVING_MPS2 = 1.0
"""Slope of speed that counts as being on the move. [m/s2]"""
DRIFT_MPS2 = 0.05 * G_MPS2
"""Change of the reading between rests that is drift; temperature moves a sound sensor by a fifth of it. [m/s2]"""
CREEPS = 0.5
"""A rest within which half-second means differ by more than so much of a drift is none: a car that rolls up to the
beams pulls while few teeth show nothing yet. [-] By hand: temperature takes minutes."""
REST_MPS = 0.3
"""Speed below which the car rests. [m/s]"""
REST_LEAST_S = 1.0
"""Shortest rest that is looked at. [s]"""
STIRS_S = 0.5
"""A rest's first and last of so long are left out: the body still rocks, and a counted wheel or a receiver's late speed
reads nothing while the car already pulls. [s] The latest of either: `GPS` of `sensors/priors.py` and half a metre of
studs at 1 g."""
LEAST_NEW = 5
"""A rest in which fewer new values came says nothing of the zero: a channel that has sent nothing yet is filled with
its first value, and a value held is one draw of the noise, not its middle."""


@dataclass(frozen=True, slots=True)
class _Fit:
    """How one axis goes with the slope of speed."""

    correlation: float
    slope: float


def mend_accelerometer(log: Log) -> Log:
    """Check the forward acceleration of a log against its own speed.

    Parameters
    ----------
    log : Log
        As read.

    Returns
    -------
    Log
        With sign, axis or unit mended where the speed leaves no doubt, and findings of that and of drift.

    Notes
    -----
    Offset, pitch and the rest of the scale are left to the fusion with speed. A tilted sensor still reads most of the
    slope and is not touched.
    """
    speed = _best_speed(log)
    if speed is None:
        return log
    log = _mend_axes(log, speed)
    forward = log.get("acceleration")
    fit = _fit(forward, speed) if forward is not None else None
    if forward is None or fit is None or forward.confidence == 1.0:
        return log
    scale, text = 1.0, ""
    if fit.correlation < -AGREES:
        scale, text = -1.0, "has the wrong sign: it falls while the car gains speed; it was turned"
    for factor in (G_MPS2, 1.0 / G_MPS2):
        if abs(fit.correlation) > AGREES and abs(abs(fit.slope) * factor - 1.0) < 0.15:
            scale *= factor
            text = (
                f"{text} and " * bool(text)
                + f"is off by a scale of {factor:.3g} (g taken for m/s2, or the reverse); it was corrected"
            )
    if text:
        mended = replace(forward, values=forward.values * scale, resolution=forward.resolution * abs(scale))
        where = f"{log.name}, {forward.header}"
        finding = Finding("accelerometer-mended", "caution", f"Acceleration ({forward.header}) {text}.", where)
        log = log.with_channel(forward, mended, finding)
    return log.with_findings(*_drift(log, speed))


def _best_speed(log: Log) -> Channel | None:
    for name in SPEEDS:
        channel = log.get(name)
        if channel is not None and channel.unit == "m/s" and channel.known.values.size >= FEWEST:
            if float(np.nanmax(channel.values)) > 8.0:
                return channel
    return None


def _fit(axis: Channel, speed: Channel) -> _Fit | None:
    """Correlation and slope of an axis against the slope of speed, both averaged over the same span."""
    known, of_speed = axis.known, speed.known
    if known.values.size < FEWEST:
        return None
    start, stop = max(known.time_s[0], of_speed.time_s[0]), min(known.time_s[-1], of_speed.time_s[-1])
    if stop - start < 4 * SLOPE_OVER_S:
        return None
    grid = np.arange(start + SLOPE_OVER_S, stop - SLOPE_OVER_S, 0.1)
    half = SLOPE_OVER_S / 2
    slope = (of_speed.at(grid + half) - of_speed.at(grid - half)) / SLOPE_OVER_S
    # a receiver's speed is late by some 0.1 to 0.2 s; the span is long enough for that not to matter
    level = _mean_over(known, grid - half, grid + half)
    moving = np.isfinite(slope) & np.isfinite(level) & (np.abs(slope) > MOVING_MPS2)
    still = np.isfinite(slope) & np.isfinite(level) & (np.abs(slope) <= 0.1)
    if moving.sum() < FEWEST // 2:
        return None
    rest = float(np.median(level[still])) if still.any() else 0.0
    x, y = slope[moving], level[moving] - rest
    if float(np.std(y)) == 0.0:
        return None
    correlation = float(np.sum(x * y) / np.sqrt(np.sum(x * x) * np.sum(y * y)))
    return _Fit(correlation, float(np.sum(x * y) / np.sum(x * x)))


def _mean_over(channel: Channel, start_s: FloatArray, stop_s: FloatArray) -> FloatArray:
    total = np.concatenate(
        ([0.0], np.cumsum(0.5 * (channel.values[1:] + channel.values[:-1]) * np.diff(channel.time_s)))
    )
    return np.asarray(
        (np.interp(stop_s, channel.time_s, total) - np.interp(start_s, channel.time_s, total)) / (stop_s - start_s)
    )


def _mend_axes(log: Log, speed: Channel) -> Log:
    """Swap names where another axis reads the slope of speed and the one called forward does not."""
    forward = log.get("acceleration")
    fit = _fit(forward, speed) if forward is not None else None
    if forward is None or fit is None or abs(fit.slope) > FOREIGN or forward.confidence == 1.0:
        return log
    for name in ("acceleration_lateral", "acceleration_vertical"):
        other = log.get(name)
        found = _fit(other, speed) if other is not None else None
        if other is None or found is None or abs(found.correlation) < AGREES or abs(found.slope) < FORWARD:
            continue
        names = {id(forward): name, id(other): "acceleration"}
        channels = [replace(one, name=names.get(id(one), one.name)) for one in log.channels]
        text = (
            f"The axes of the accelerometer are swapped: {other.header} goes with the car's gain of speed and "
            f"{forward.header} does not. {other.header} is used as forward acceleration."
        )
        finding = Finding("accelerometer-axes", "caution", text, f"{log.name}, {other.header}")
        return log.with_channels(channels, finding)
    return log


def _calm(known: Channel, start: int, stop: int) -> FloatArray:
    """The readings of a rest without those about its ends; none of one that is too short. [m/s2]."""
    time_s = known.time_s[start:stop]
    if time_s[-1] - time_s[0] < REST_LEAST_S + 2.0 * STIRS_S:
        return np.zeros(0)
    calm = (time_s > time_s[0] + STIRS_S) & (time_s < time_s[-1] - STIRS_S)
    return np.asarray(known.values[start:stop][calm], dtype=np.float64)


def _zero_of(readings: FloatArray, step_s: float, *, begins: bool) -> float | None:
    """What a sensor reads at rest; None where too few values were new. [m/s2].

    All count, and not the new ones alone: where the noise is below a step most of what is new is the car stirring.
    Where the record begins nothing before the first new value need be the sensor's own; what follows it must last
    `STIRS_S`, for a sensor too quiet to stir by itself first does so as the car leaves, its wheels in the air.
    """
    new = np.flatnonzero(np.diff(readings) != 0.0)
    if new.size + 1 < LEAST_NEW:
        return None
    own = readings[new[0] + 1 :] if begins else readings
    if (own.size + 1) * step_s < STIRS_S or _creeps(own, step_s):
        return None
    return float(np.median(own))


def _creeps(readings: FloatArray, step_s: float) -> bool:
    """Whether the car rolled on below what its wheels show: a zero moves by less within one rest."""
    parts = np.array_split(readings, max(int(readings.size * step_s / STIRS_S), 1))
    return float(np.ptp([float(np.median(part)) for part in parts])) > CREEPS * DRIFT_MPS2


def _drift(log: Log, speed: Channel) -> list[Finding]:
    """Tell where the reading at rest moves between the first rest and the last."""
    forward = log.get("acceleration")
    if forward is None:
        return []
    known = forward.known
    at_rest = speed.known.at(known.time_s) < REST_MPS
    steps = np.flatnonzero(np.diff(np.concatenate(([0], at_rest.astype(np.int8), [0]))))
    pairs = zip(steps[::2].tolist(), steps[1::2].tolist(), strict=True)
    step_s = float(np.median(np.diff(known.time_s)))
    found = [_zero_of(_calm(known, start, stop), step_s, begins=start == 0) for start, stop in pairs]
    levels = [level for level in found if level is not None]
    if len(levels) < 2:
        return []
    first, last = levels[0], levels[-1]
    if abs(last - first) < DRIFT_MPS2:
        return []
    text = (
        f"Acceleration ({forward.header}) drifts at rest: {first / G_MPS2:.3f} g at first and {last / G_MPS2:.3f} "
        f"g at the end, "
        "or the car stood on another slope; its zero is that unsure."
    )
    return [Finding("accelerometer-drift", "caution", text, f"{log.name}, {forward.header}")]
