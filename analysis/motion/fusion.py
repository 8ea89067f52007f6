"""One speed out of many sensors: a sparse least-squares smoother with biases, scales and delays estimated from the run.

The unknowns are the ground speed on an even grid and a handful of sensor parameters. Every sample says something
about the speed at its own (late) time; a heavy-tailed prior on the change of acceleration lets go at a shift; a
standing start is exactly nought. The normal equations are banded but for the parameters, so that a run takes
milliseconds, and what they leave open is the plus-minus.

Public: `SpeedSensor`, `Accelerometer`, `fuse_speed`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray, IntArray

GRID_S = 0.005
"""Spacing of the grid: short against a torque cut (60 ms) and a sensor's lag (10 to 30 ms). [s]"""
JERK_MPS2, JERK_UNSEEN_MPS2 = 4.0, 0.8
"""Prior of the change of acceleration in one second, outside shifts: where an accelerometer shows it, and where only
speed does. [m/s2 per root s] Chosen on simulated runs."""
LAUNCH_FREE_S = 0.15
"""How long after the start acceleration may change as it likes: a clutch bites within 50 to 150 ms. [s]"""
TAIL = 4.0
"""Degrees of freedom of the Student tails that samples and prior are given: an outlier of 5 sigma counts a sixth."""
ROUNDS = 8
"""Rounds of re-weighting and re-linearising; parameters settle to under 0.1 ms and 0.01 % in six."""
THRUST_OVER_S = 0.25
"""Stretch over which thrust is taken for a driven wheel's slip. [s]"""
BIAS_STEP_S = 1.5
"""Spacing of the knots of the accelerometer's bias, which moves with pitch and grade. [s]"""


@dataclass(frozen=True, slots=True)
class SpeedSensor:
    """Samples of speed and what is known beforehand of the sensor's faults."""

    name: str
    """Channel name."""
    time_s: FloatArray
    """Times at which a new value came, shape (k,). [s]"""
    speed_mps: FloatArray
    """Values, finite, shape (k,). [m/s]"""
    noise_mps: float
    """Least noise (quantisation and sensor). [m/s]"""
    delay_s: float
    """Expected lateness. [s]"""
    delay_sd_s: float
    """Standard deviation of that. [s]"""
    scale_sd: float
    """Standard deviation of the scale about 1; 0 where the scale is taken as true. [-]"""
    slip_per_mps2: float = 0.0
    """Slip for each m/s2 of thrust, where the wheel is driven. [s2/m]"""
    growth: float = 0.0
    """Growth of the tire with the square of speed; the sensor reads low by it. [1/(m/s)2]"""
    growth_sd: float = 0.0
    """Standard deviation of that where another sensor can show it; 0 where it is kept. [1/(m/s)2]"""


@dataclass(frozen=True, slots=True)
class Accelerometer:
    """Samples of forward acceleration."""

    time_s: FloatArray
    """Shape (k,). [s]"""
    acceleration_mps2: FloatArray
    """Finite, shape (k,). [m/s2]"""
    noise_mps2: float
    """Least noise. [m/s2]"""
    delay_s: float = 0.022
    """Expected lateness: own filter and sampling, 10 to 35 ms seen. [s]"""
    delay_sd_s: float = 0.008
    """Standard deviation of that. [s]"""
    scale_sd: float = 0.03
    """Standard deviation of the scale about 1: calibration and squat. [-]"""


@dataclass(slots=True)
class _State:
    """What a round starts from."""

    speed: FloatArray
    acceleration: FloatArray
    jerk: FloatArray
    thrust: FloatArray
    scale: dict[str, float]
    growth: dict[str, float]
    delay: dict[str, float]


@dataclass(slots=True)
class _Rows:
    """Rows of one kind of sample: three neighbouring grid speeds, a few parameters, the sample itself."""

    place: IntArray
    shares: FloatArray
    parameters: FloatArray
    target: FloatArray
    sd: float
    key: str


def fuse_speed(
    sensors: list[SpeedSensor],
    accelerometer: Accelerometer | None,
    *,
    start_s: float,
    stop_s: float,
    rest_until_s: float,
    extra: dict[str, tuple[float, float]] | None = None,
) -> Posterior:
    """Fuse speed sensors and an accelerometer into one ground speed.

    Parameters
    ----------
    sensors : list of SpeedSensor
        At least one.
    accelerometer : Accelerometer or None
        Forward acceleration; None where none is logged.
    start_s, stop_s : float
        The grid. [s]
    rest_until_s : float
        The car stands still from `start_s` to here. [s]
    extra : dict, optional
        Further parameters with mean and standard deviation that only later conditions use (clock start, rollout,
        and the strength of the posterior's modes).

    Returns
    -------
    Posterior
        Speed on the grid and all parameters, with covariance.

    Raises
    ------
    ValueError
        If there is no sensor or the grid holds fewer than ten points.

    Notes
    -----
    Minimises the sum of squared residuals over their standard deviation, re-weighted as for Student's t: for a
    speed sensor ``y = s v(t - d) [+ slip and growth if driven]``, for the accelerometer ``y = b(t) + k a(t - d)``,
    for the prior ``a[i+1] - a[i] = 0``. Sensor noise is taken from the residuals of the round before, never
    below what the printed step allows. It does not see an error that all sensors share (a common delay beyond
    its prior, a common scale).
    """
    if not sensors:
        raise ValueError("fuse_speed needs at least one speed sensor, got none")
    count = round((stop_s - start_s) / GRID_S) + 1
    if count < 10:
        raise ValueError(f"fuse_speed needs a span of at least {10 * GRID_S} s, got {start_s=}, {stop_s=}")
    time: FloatArray = np.asarray(start_s + GRID_S * np.arange(count), dtype=np.float64)
    names, prior_mean, prior_sd = _parameters(sensors, accelerometer, time, extra or {})
    state = _first_guess(sensors, accelerometer, time, rest_until_s)
    noise = {sensor.name: max(sensor.noise_mps, 0.05) for sensor in sensors}
    noise["acceleration"] = accelerometer.noise_mps2 if accelerometer else 1.0
    weights: dict[str, FloatArray] = {}
    for _ in range(ROUNDS):
        blocks = _blocks(sensors, accelerometer, time, state, names, noise, rest_until_s)
        factor, border, schur, mean = _solve(blocks, weights, count, prior_mean, prior_sd)
        weights, noise = _reweigh(blocks, mean, count, noise, sensors)
        state = _update(state, mean, names, count)
    return Posterior(time, mean, names, noise, weights, factor, border, schur)


def _parameters(
    sensors: list[SpeedSensor],
    accelerometer: Accelerometer | None,
    time: FloatArray,
    extra: dict[str, tuple[float, float]],
) -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    table: list[tuple[str, float, float]] = []
    for sensor in sensors:
        table.append((f"delay {sensor.name}", sensor.delay_s, sensor.delay_sd_s))
        if sensor.scale_sd > 0:
            table.append((f"scale {sensor.name}", 1.0, sensor.scale_sd))
        if sensor.growth_sd > 0:
            table.append((f"growth {sensor.name}", sensor.growth, sensor.growth_sd))
    if accelerometer is not None:
        table.append(("delay acceleration", accelerometer.delay_s, accelerometer.delay_sd_s))
        table.append(("scale acceleration", 1.0, accelerometer.scale_sd))
        table += [(f"bias {knot}", 0.0, 3.0) for knot in range(_knots(time).size)]
    table += [(name, mean, sd) for name, (mean, sd) in extra.items()]
    names, means, sds = zip(*table, strict=True)
    return tuple(names), np.array(means), np.array(sds)


def _knots(time: FloatArray) -> FloatArray:
    return np.linspace(time[0], time[-1], max(2, round((time[-1] - time[0]) / BIAS_STEP_S) + 1))


def _first_guess(
    sensors: list[SpeedSensor], accelerometer: Accelerometer | None, time: FloatArray, rest_until_s: float
) -> _State:
    best = max(sensors, key=lambda sensor: sensor.time_s.size)
    speed = np.interp(time, best.time_s - best.delay_s, best.speed_mps)
    width = max(1, round(0.1 / GRID_S))
    speed = np.convolve(np.pad(speed, width, mode="edge"), np.ones(2 * width + 1) / (2 * width + 1), mode="valid")
    speed[time < rest_until_s] = 0.0
    delay = {sensor.name: sensor.delay_s for sensor in sensors}
    delay["acceleration"] = accelerometer.delay_s if accelerometer else 0.0
    scale = {sensor.name: 1.0 for sensor in sensors} | {"acceleration": 1.0}
    growth = {sensor.name: sensor.growth for sensor in sensors}
    return _State(speed, np.gradient(speed, time), np.zeros_like(speed), _thrust(speed), scale, growth, delay)


def _blocks(
    sensors: list[SpeedSensor],
    accelerometer: Accelerometer | None,
    time: FloatArray,
    state: _State,
    names: tuple[str, ...],
    noise: dict[str, float],
    rest_until_s: float,
) -> list[_Rows]:
    blocks = [_speed_rows(sensor, time, state, names, noise[sensor.name]) for sensor in sensors]
    if accelerometer is not None:
        blocks.append(_acceleration_rows(accelerometer, time, state, names, noise["acceleration"]))
        blocks.append(_bias_rows(time, names))
    n = time.size
    jerk = JERK_MPS2 if accelerometer is not None else JERK_UNSEEN_MPS2
    second = np.tile(np.array([1.0, -2.0, 1.0]) / GRID_S, (n - 2, 1))
    nought = np.zeros((n - 2, len(names)))
    # At the launch acceleration comes at once: there the prior is let go, or it would smear motion before the start.
    free = np.where((time[1:-1] > rest_until_s) & (time[1:-1] < rest_until_s + LAUNCH_FREE_S), 0.2, 1.0)
    second *= free[:, None]
    blocks.append(_Rows(np.arange(n - 2), second, nought, np.zeros(n - 2), jerk * np.sqrt(GRID_S), "prior"))
    still = np.flatnonzero(time < rest_until_s)
    still = still[still < n - 2]
    shares = np.tile(np.array([1.0, 0.0, 0.0]), (still.size, 1))
    blocks.append(_Rows(still, shares, np.zeros((still.size, len(names))), np.zeros(still.size), 0.002, "rest"))
    return blocks


def _speed_rows(sensor: SpeedSensor, time: FloatArray, state: _State, names: tuple[str, ...], sd: float) -> _Rows:
    moment = sensor.time_s - state.delay[sensor.name]
    place = (moment - time[0]) / GRID_S
    keep = (place >= 0) & (place < time.size - 3)
    place = place[keep]
    index = np.floor(place).astype(np.int64)
    share = place - index
    speed = np.interp(moment[keep], time, state.speed)
    rate = (state.speed[index + 1] - state.speed[index]) / GRID_S
    scale, growth = state.scale[sensor.name], state.growth[sensor.name]
    # y = scale * v * (1 + slip * thrust - growth * v^2): linear in v about the present state
    thrust = np.interp(moment[keep], time, state.thrust) if sensor.slip_per_mps2 else 0.0
    factor = scale * (1.0 + sensor.slip_per_mps2 * thrust - growth * speed**2)
    slope = factor - 2.0 * scale * growth * speed**2
    shares = np.column_stack((slope * (1 - share), slope * share, np.zeros_like(share)))
    parameters = np.zeros((speed.size, len(names)))
    target = sensor.speed_mps[keep] - (factor - slope) * speed
    _column(parameters, target, names, f"delay {sensor.name}", -factor * rate, state.delay[sensor.name])
    _column(parameters, target, names, f"scale {sensor.name}", factor / scale * speed, scale)
    _column(parameters, target, names, f"growth {sensor.name}", -scale * speed**3, growth)
    return _Rows(index, shares, parameters, target, sd, sensor.name)


def _column(
    parameters: FloatArray, target: FloatArray, names: tuple[str, ...], name: str, slope: FloatArray, value: float
) -> None:
    """Put a parameter's slope in its column; the target moves so that the unknown is the parameter, not its change."""
    if name in names:
        parameters[:, names.index(name)] = slope
        target += slope * value


def _acceleration_rows(
    accelerometer: Accelerometer, time: FloatArray, state: _State, names: tuple[str, ...], sd: float
) -> _Rows:
    moment = accelerometer.time_s - state.delay["acceleration"]
    place = (moment - time[0]) / GRID_S - 0.5
    keep = (place >= 0) & (place < time.size - 3)
    place = place[keep]
    index = np.floor(place).astype(np.int64)
    share = place - index
    scale = state.scale["acceleration"]
    shares = scale / GRID_S * np.column_stack((-(1 - share), 1 - 2 * share, share))
    parameters = np.zeros((index.size, len(names)))
    target = accelerometer.acceleration_mps2[keep].copy()
    steps = np.diff(state.speed) / GRID_S
    pull = steps[index] * (1 - share) + steps[index + 1] * share
    jerk = (steps[index + 1] - steps[index]) / GRID_S
    _column(parameters, target, names, "scale acceleration", pull, scale)
    _column(parameters, target, names, "delay acceleration", -scale * jerk, state.delay["acceleration"])
    knots = _knots(time)
    for knot in range(knots.size):
        unit = np.zeros(knots.size)
        unit[knot] = 1.0
        parameters[:, names.index(f"bias {knot}")] = np.interp(moment[keep], knots, unit)
    return _Rows(index, shares, parameters, target, sd, "acceleration")


def _bias_rows(time: FloatArray, names: tuple[str, ...]) -> _Rows:
    """The bias moves little from knot to knot: pitch of a degree is 0.17 m/s2."""
    knots = _knots(time).size
    parameters = np.zeros((knots - 1, len(names)))
    for knot in range(knots - 1):
        parameters[knot, names.index(f"bias {knot}")] = -1.0
        parameters[knot, names.index(f"bias {knot + 1}")] = 1.0
    nought = np.zeros(knots - 1)
    return _Rows(nought.astype(np.int64), np.zeros((knots - 1, 3)), parameters, nought, 0.10, "bias")


def _solve(
    blocks: list[_Rows],
    weights: dict[str, FloatArray],
    count: int,
    prior_mean: FloatArray,
    prior_sd: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    from scipy.linalg import cho_solve_banded, cholesky_banded

    band = np.zeros((3, count))
    band[0] += 1e-9
    border = np.zeros((count, prior_mean.size))
    corner = np.diag(prior_sd**-2)
    right, low = np.zeros(count), prior_mean * prior_sd**-2
    for block in blocks:
        weight = weights.get(block.key, np.ones(block.target.size)) / block.sd**2
        if weight.size != block.target.size:
            weight = np.full(block.target.size, block.sd**-2)
        index, shares = block.place.astype(np.int64), block.shares
        for a in range(3):
            for b in range(a, 3):
                np.add.at(band[b - a], index + a, weight * shares[:, a] * shares[:, b])
            np.add.at(right, index + a, weight * shares[:, a] * block.target)
            if block.parameters.any():
                np.add.at(border, index + a, (weight * shares[:, a])[:, None] * block.parameters)
        corner += (block.parameters * weight[:, None]).T @ block.parameters
        low += block.parameters.T @ (weight * block.target)
    factor = cholesky_banded(band, lower=True)
    inner = cho_solve_banded((factor, True), np.column_stack((right, border)))
    schur = corner - border.T @ inner[:, 1:]
    theta = np.linalg.solve(schur, low - border.T @ inner[:, 0])
    return factor, border, schur, np.concatenate((inner[:, 0] - inner[:, 1:] @ theta, theta))


def _reweigh(
    blocks: list[_Rows],
    mean: FloatArray,
    count: int,
    noise: dict[str, float],
    sensors: list[SpeedSensor],
) -> tuple[dict[str, FloatArray], dict[str, float]]:
    least = {sensor.name: sensor.noise_mps for sensor in sensors}
    weights: dict[str, FloatArray] = {}
    found = dict(noise)
    for block in blocks:
        if block.key in ("rest", "bias"):
            continue
        index = block.place.astype(np.int64)
        fitted = sum(block.shares[:, a] * mean[index + a] for a in range(3)) + block.parameters @ mean[count:]
        residual = block.target - fitted
        if block.key in least and residual.size:
            found[block.key] = max(least[block.key], 1.4826 * float(np.median(np.abs(residual))))
        sd = block.sd
        weights[block.key] = (TAIL + 1) / (TAIL + (residual / sd) ** 2)
    return weights, found


def _update(
    state: _State,
    mean: FloatArray,
    names: tuple[str, ...],
    count: int,
) -> _State:
    value = dict(zip(names, mean[count:], strict=True))
    speed = mean[:count]
    acceleration = np.gradient(speed, GRID_S)
    smooth = np.convolve(np.pad(acceleration, 2, mode="edge"), np.ones(5) / 5, mode="valid")
    delay = {name: float(value.get(f"delay {name}", old)) for name, old in state.delay.items()}
    scale = {name: float(value.get(f"scale {name}", old)) for name, old in state.scale.items()}
    growth = {name: float(value.get(f"growth {name}", old)) for name, old in state.growth.items()}
    return _State(speed, smooth, np.gradient(smooth, GRID_S), _thrust(speed), scale, growth, delay)


def _thrust(speed: FloatArray) -> FloatArray:
    """Pull per mass, smoothed so long that a driven wheel's slip does not feed its own noise back into it.

    The greater of the stretch before and the stretch after, so that a lift at the line does not reach back before it.
    """
    span = round(THRUST_OVER_S / GRID_S)
    place = np.arange(speed.size)
    after = np.interp(place + span, place, speed) - speed
    before = speed - np.interp(place - span, place, speed)
    return np.asarray(np.maximum(np.maximum(before, after), 0.0) / THRUST_OVER_S)
