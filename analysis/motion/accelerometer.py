"""The accelerometer as it is mounted: which way is forward, what it reads at rest, its scale.

Public: `MountedAccelerometer`, `calibrate_accelerometer`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.fusion import Accelerometer, SpeedSensor
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.forward_axis import AXES
from passband.analysis.sensors.priors import ACCELEROMETER_NOISE_MPS2, CALIBRATED_SCALE_SD
from passband.analysis.statistics.fits import sample_noise

ASKEW = 0.10
"""A forward axis whose scale is off by more than this is not taken as it stands. [-]"""
TURNED = 0.12
"""Share of the pull on another axis that tells a device turned by 7 degrees or more; squat gives less. [-]"""
UNEXPLAINED_MPS = 1.2
"""If speed and integrated acceleration differ by more than this (rms), the accelerometer is left out. [m/s]"""


@dataclass(frozen=True, slots=True)
class MountedAccelerometer:
    """The accelerometer as the run showed it to be mounted."""

    forward: Accelerometer | None = None
    """None where none is logged, or none that agrees with the speed."""
    findings: tuple[Finding, ...] = ()
    """A mounting that is askew, swapped or turned; an accelerometer that was left out."""


def calibrate_accelerometer(traces: Traces, reference: SpeedSensor, *, launch_s: float) -> MountedAccelerometer:
    """Forward acceleration from the axes as mounted, set against the speed that another sensor shows.

    Parameters
    ----------
    traces : Traces
        Channels from the standstill to the end of the run, on the ECU log's clock.
    reference : SpeedSensor
        The speed it is held against.
    launch_s : float
        First motion. [s]

    Returns
    -------
    MountedAccelerometer
        What serves as forward acceleration, if anything does.

    Notes
    -----
    Speed equals the integral of acceleration: the axes' integrals from the standstill, a bias times time and a
    lag are fitted to the reference by least squares (three rounds, outliers let go). An integral over seconds
    hardly knows noise, so that the scale is not pulled down as it would be in a fit of slopes.
    """
    channels = [channel for name in AXES if (channel := traces.get(name)) is not None and channel.time_s.size > 20]
    if not channels:
        return MountedAccelerometer()
    main = channels[0].known
    axes = np.column_stack([channel.at(main.time_s) for channel in channels])
    keep = np.isfinite(axes).all(axis=1) & (main.time_s > launch_s - 1.0)
    time, axes = main.time_s[keep], axes[keep]
    if time.size < 20:
        return MountedAccelerometer()
    single = _fit(time, axes[:, :1], reference, launch_s)
    if channels[0].name == "acceleration" and single.error_mps < UNEXPLAINED_MPS and abs(single.scale[0] - 1) < ASKEW:
        askew = tuple(_askew(channels, axes, time > launch_s))
        return MountedAccelerometer(_as_accelerometer(time, axes[:, 0] * single.scale[0], main), askew)
    whole = _fit(time, axes, reference, launch_s)
    if whole.error_mps > UNEXPLAINED_MPS or np.abs(whole.scale).max() < 0.5:
        text = (
            f"The accelerometer does not agree with {reference.name} (they part by {whole.error_mps:.1f} m/s rms over "
            "the run); it was left out."
        )
        return MountedAccelerometer(None, (Finding("accelerometer-left-out", "caution", text, channels[0].header),))
    return MountedAccelerometer(_as_accelerometer(time, axes @ whole.scale, main), (_mounting(channels, whole.scale),))


def _askew(channels: list[Channel], axes: FloatArray, pulling: BoolArray) -> list[Finding]:
    """Another axis that moves with the pull shows how far the device is turned; the speed sets the forward scale."""
    for place in range(1, len(channels)):
        forward, other = axes[pulling, 0], axes[pulling, place]
        if forward.size < 20 or np.ptp(forward) == 0 or np.ptp(other) == 0:
            continue
        slope = float(np.polyfit(forward, other, 1)[0])
        if abs(slope) > TURNED and abs(float(np.corrcoef(forward, other)[0, 1])) > 0.9:
            text = (
                f"The accelerometer is mounted askew by about {np.degrees(np.arctan(abs(slope))):.0f} degrees: "
                f"{channels[place].header} shows {abs(slope):.2f} of the pull. The speed set its forward scale."
            )
            return [Finding("accelerometer-mounting", "caution", text, channels[0].header)]
    return []


@dataclass(frozen=True, slots=True)
class _Fit:
    """How the axes' integrals make up the speed."""

    scale: FloatArray
    lag_s: float
    error_mps: float


def _fit(time: FloatArray, axes: FloatArray, reference: SpeedSensor, launch_s: float) -> _Fit:
    still = time < launch_s - 0.05
    rest = axes[still].mean(axis=0) if still.sum() > 3 else np.zeros(axes.shape[1])
    step = np.diff(time, prepend=time[0])
    travelled = np.cumsum((axes - rest) * step[:, None], axis=0)
    inside = (reference.time_s > launch_s + 0.1) & (reference.time_s < time[-1])
    moment, speed = reference.time_s[inside], reference.speed_mps[inside]
    if moment.size < 5:
        return _Fit(np.ones(axes.shape[1]), 0.0, np.inf)
    count = axes.shape[1]
    weight, lag, share = np.ones(moment.size), reference.delay_s, np.eye(count)[0]
    error = np.inf
    for _ in range(5):
        late = moment - lag
        columns = [np.interp(late, time, travelled[:, axis]) for axis in range(count)]
        slope = np.interp(late, time, np.gradient(travelled @ share, time))
        matrix = np.column_stack((*columns, late - launch_s, -slope))
        target = speed - slope * lag
        best = np.linalg.lstsq(matrix * weight[:, None], target * weight, rcond=None)[0]
        share, lag = best[:count], float(np.clip(best[-1], -0.1, 0.6))
        residual = target - matrix @ best
        spread = 1.4826 * float(np.median(np.abs(residual))) + 1e-3
        weight = np.sqrt(1.0 / (1.0 + (residual / (2 * spread)) ** 2))
        error = float(np.sqrt(np.mean(np.minimum(np.abs(residual), 5 * spread) ** 2)))
    return _Fit(share, lag, error)


def _as_accelerometer(time: FloatArray, forward: FloatArray, main: Channel) -> Accelerometer:
    return Accelerometer(
        time,
        forward,
        max(sample_noise(forward), main.resolution / np.sqrt(12), ACCELEROMETER_NOISE_MPS2),
        scale_sd=CALIBRATED_SCALE_SD,
    )


def _mounting(channels: list[Channel], scale: FloatArray) -> Finding:
    parts = ", ".join(f"{weight:+.2f} x {channel.header}" for channel, weight in zip(channels, scale, strict=True))
    strongest = int(np.argmax(np.abs(scale)))
    if strongest != 0 and channels[0].name == "acceleration":
        fault = f"its axes are swapped: forward is along {channels[strongest].header}"
    elif scale[strongest] < 0:
        fault = "its sign is turned: it reads negative when the car pulls"
    elif abs(np.hypot(*scale[:2]) - 1 if scale.size > 1 else scale[0] - 1) < ASKEW:
        fault = f"it is mounted askew by about {np.degrees(np.arctan2(abs(scale[1:]).max(), scale[0])):.0f} degrees"
    else:
        fault = f"its scale is off by {100 * (1 / np.abs(scale[strongest]) - 1):+.0f} %"
    text = f"The accelerometer is not what its name says: {fault}. Forward acceleration was taken as {parts}."
    return Finding("accelerometer-mounting", "caution", text, channels[0].header)
