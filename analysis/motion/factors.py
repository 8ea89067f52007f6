"""What each kind of evidence says of the speed: rows of the smoother's least squares, about its present state.

A speed sensor reads ``y = s v(t - d - L/y) [+ slip and growth if driven]`` (where teeth are counted it is late by a
way ``L`` beside the time ``d``: half of what the mean is over, and what the value is held for), an accelerometer
``y = b(t) + k a(t - d)``; the car stands before the start, and its acceleration changes little from one moment to the
next.

What all sensors are late by together none of them shows. The speed is therefore sought on the clock of one of them
(the accelerometer, else the first), set by that one's expected delay; what is open of its delay moves the others'
moments against it, and the whole of the speed in time. Where the moment of the launch is better known than any delay
it sets the clock.

Public: `GRID_S`, `SpeedSensor`, `Accelerometer`, `State`, `parameters_of`, `rows_of`, `steady_rows`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.motion.receiver_filter import RoundedOff, rounded_off
from passband.analysis.motion.solver import Rows, Unknowns
from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.sensors.priors import ACCELEROMETER, ACCELEROMETER_SCALE_SD, ROLLING_MPS2
from passband.analysis.sensors.teeth import FirstTeeth

GRID_S = 0.005
"""Spacing of the grid: short against a torque cut (60 ms) and a sensor's lag (10 to 30 ms). [s]"""
JERK_MPS2, JERK_UNSEEN_MPS2 = 4.0, 1.2
"""Prior of the change of acceleration in one second, outside shifts: where an accelerometer shows it, and where only
speed does. [m/s2 per root s] Chosen on simulated runs."""
LAUNCH_FREE_S, FREE_SHARE, FREE_SHARE_UNSEEN = 0.15, 0.2, 0.05
"""How long after the start acceleration may change as it likes (a clutch bites within 50 to 150 ms), and the share of
the prior's weight that is kept there, where an accelerometer shows it and where only speed does. [s], [-], [-]"""
START_MPS2 = 5.0
"""How a car begins to move. [m/s2]"""
LOOSE_SHARE = 0.2
"""The share of it that is kept in a shift that another sensor shows. [-]"""
REST_MPS = 0.002
"""Standard deviation of the speed of a car that stands. [m/s]"""
LEAST_WAY_MPS = 0.5
"""Slower than this a lateness by distance counts as at this speed. [m/s]"""
DRIFT_SD = 0.02
"""What a knot of a speed sensor's drifting scale may be. [-]"""
BIAS_STEP_S, BIAS_SD_MPS2, BIAS_CHANGE_MPS2 = 1.5, 3.0, 0.10
"""Spacing of the knots of the accelerometer's bias, which moves with pitch and grade; what a knot may be, and by what
it may differ from the next: pitch of a degree is 0.17 m/s2. [s], [m/s2], [m/s2]"""
ACCELERATION = "acceleration"
"""What the accelerometer's rows and parameters are called by."""
WANDERS = "wanders"
"""What a knot of a receiver's slow error is called by, before its name."""
SMEAR = "smear"
"""What half the variance of a receiver's kernel is called by, before its name."""
COMMON = "common delay"
"""What the lateness that all sensors share is called by, beyond what is expected of the one that sets the clock."""


@dataclass(frozen=True, slots=True)
class SpeedSensor:
    """Samples of speed and what is known beforehand of the sensor's faults."""

    name: str
    """Channel name."""
    time_s: FloatArray
    """Times at which a new value came, rising, shape (k,). [s]"""
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
    way_m: float = 0.0
    """Expected lateness by distance, beside that by time. [m]"""
    way_sd_m: float = 0.0
    """Standard deviation of that; 0 where it is kept. [m]"""
    mean_over_s: float = 0.0
    """A value may be the mean over so long, which bends the start of motion: 0 where it is of a moment. [s]"""
    smear_s2: float = 0.0
    """Half the variance in time of the kernel of a receiver's filters, as expected. [s2]"""
    smear_sd_s2: float = 0.0
    """Standard deviation of that where an accelerometer shows it; 0 where it is kept. [s2]"""
    wander_mps: float = 0.0
    """By how much it is wrong for a second or two, a standard deviation; 0 where it is not. [m/s]"""
    together: float = 1.0
    """How many of its neighbours one error stands for at the least, where no other sensor shows it. [-]"""
    let_go_s: tuple[tuple[float, float], ...] = ()
    """Where it shows the drive to let go and take hold, so that acceleration may change at once. [s]"""
    slip_sd: float = 0.0
    """Standard deviation of the slip where another sensor can show it; 0 where it is kept. [s2/m]"""
    slip_open: float = 0.0
    """Standard deviation of a slip that is kept. [s2/m]"""
    drag_per_m: float = 0.0
    """What air takes off over speed squared, which is thrust as well. [1/m]"""
    drift_change: float = 0.0
    """By how much the scale may differ from one knot to the next, beside slip and growth; 0 where it does not. [-]"""
    spun_until_s: float | None = None
    """When a driven wheel that spun as the car left had hold again, with what is open of its speed there; None where
    it did not spin. [s]"""
    leaps: bool = False
    """Whether it leaps from rest, as a driven wheel that is counted by few teeth does, and no slip."""
    first: FirstTeeth | None = None
    """What its first value says, where it is counted by few teeth."""


@dataclass(frozen=True, slots=True)
class Accelerometer:
    """Samples of forward acceleration."""

    time_s: FloatArray
    """Rising, shape (k,). [s]"""
    acceleration_mps2: FloatArray
    """Finite, shape (k,). [m/s2]"""
    noise_mps2: float
    """Least noise. [m/s2]"""
    delay_s: float = ACCELEROMETER.late_s
    """Expected lateness: own filter and sampling. [s]"""
    delay_sd_s: float = ACCELEROMETER.sigma_s
    """Standard deviation of that. [s]"""
    scale_sd: float = ACCELEROMETER_SCALE_SD
    """Standard deviation of the scale about 1: calibration and squat. [-]"""


@dataclass(frozen=True, slots=True)
class State:
    """What a round starts from."""

    time_s: FloatArray
    """The grid, shape (n,). [s]"""
    rest_until_s: float
    """The car stands until here. [s]"""
    speed: FloatArray
    """Shape (n,). [m/s]"""
    thrust: FloatArray
    """What the car gains, smoothed, shape (n,). [m/s2]"""
    values: dict[str, float]
    """Delay, way, scale and growth of each sensor, sought or not: ``delay gps_speed``, ``scale acceleration``, ..."""
    noise: dict[str, float]
    """Of each sensor, in its unit."""
    reference: str
    """The sensor on whose clock the speed is sought; empty where the launch sets it."""
    loose_s: Sequence[tuple[float, float]] = ()
    """Stretches in which acceleration may change as it likes: shifts that another sensor shows. [s]"""

    @property
    def lead_s(self) -> float:
        """By how much that sensor is later than expected: the speed's own time less the true one, s."""
        return self.values[COMMON] if self.reference else 0.0


def parameters_of(
    sensors: Sequence[SpeedSensor],
    accelerometer: Accelerometer | None,
    time_s: FloatArray,
    extra: dict[str, tuple[float, float]],
    *,
    reference: str = "",
) -> Unknowns:
    """What is unknown beside the speed, with what is known of it beforehand.

    Parameters
    ----------
    sensors : sequence of SpeedSensor
        Each has a delay, and a scale and a growth where another sensor can show them.
    accelerometer : Accelerometer or None
        Has a delay, a scale and a bias that moves.
    time_s : array, shape (n,)
        The grid. [s]
    extra : dict
        Further ones: mean and standard deviation.
    reference : str
        The sensor on whose clock the speed is sought: its delay is not among them.

    Returns
    -------
    Unknowns
        Sensor by sensor, then the accelerometer's, then the further ones.
    """
    table: list[tuple[str, float, float]] = []
    for sensor in sensors:
        if sensor.name != reference:
            table.append((f"delay {sensor.name}", sensor.delay_s, sensor.delay_sd_s))
        if sensor.way_sd_m > 0:
            table.append((f"way {sensor.name}", sensor.way_m, sensor.way_sd_m))
        if sensor.scale_sd > 0:
            table.append((f"scale {sensor.name}", 1.0, sensor.scale_sd))
        if sensor.growth_sd > 0:
            table.append((f"growth {sensor.name}", sensor.growth, sensor.growth_sd))
        if sensor.smear_sd_s2 > 0:
            table.append((f"{SMEAR} {sensor.name}", sensor.smear_s2, sensor.smear_sd_s2))
        if sensor.slip_sd > 0:
            table.append((f"slip {sensor.name}", sensor.slip_per_mps2, sensor.slip_sd))
        if sensor.drift_change > 0:
            table += [(f"drift {sensor.name} {knot}", 0.0, DRIFT_SD) for knot in range(_knots(time_s).size)]
        if sensor.wander_mps > 0:
            table += [
                (f"{WANDERS} {sensor.name} {knot}", 0.0, sensor.wander_mps) for knot in range(_knots(time_s).size)
            ]
    if accelerometer is not None:
        if reference != ACCELERATION:
            table.append((f"delay {ACCELERATION}", accelerometer.delay_s, accelerometer.delay_sd_s))
        table.append((f"scale {ACCELERATION}", 1.0, accelerometer.scale_sd))
        table += [(f"bias {knot}", 0.0, BIAS_SD_MPS2) for knot in range(_knots(time_s).size)]
    table += [(name, mean, sd) for name, (mean, sd) in extra.items()]
    names, means, sds = zip(*table, strict=True)
    return Unknowns(tuple(names), np.array(means), np.array(sds))


def _knots(time: FloatArray) -> FloatArray:
    return np.linspace(time[0], time[-1], max(2, round((time[-1] - time[0]) / BIAS_STEP_S) + 1))


def rows_of(
    sensors: Sequence[SpeedSensor], accelerometer: Accelerometer | None, state: State, parameters: Unknowns
) -> list[Rows]:
    """The sensors' and the accelerometer's rows of a round.

    Parameters
    ----------
    sensors : sequence of SpeedSensor
        Of the run.
    accelerometer : Accelerometer or None
        Of the run.
    state : State
        What the rows are taken about.
    parameters : Unknowns
        What is sought.

    Returns
    -------
    list of Rows
        The sensors', the accelerometer's.
    """
    rows = [_speed_rows(sensor, state, parameters) for sensor in sensors]
    return rows if accelerometer is None else [*rows, _acceleration_rows(accelerometer, state, parameters)]


def steady_rows(
    sensors: Sequence[SpeedSensor], accelerometer: Accelerometer | None, state: State, parameters: Unknowns
) -> list[Rows]:
    """The rows that are the same in every round.

    Parameters
    ----------
    sensors : sequence of SpeedSensor
        Of the run.
    accelerometer : Accelerometer or None
        Of the run.
    state : State
        Of any round.
    parameters : Unknowns
        What is sought.

    Returns
    -------
    list of Rows
        Of scales that drift, the accelerometer's bias's, the change of acceleration's, the standstill's.
    """
    drifts = [
        _knot_rows(state, parameters, f"drift {sensor.name}", sensor.drift_change)
        for sensor in sensors
        if sensor.drift_change > 0
    ]
    if accelerometer is None:
        return [*drifts, _change_rows(state, JERK_UNSEEN_MPS2, FREE_SHARE_UNSEEN), _rest_rows(state)]
    bias = _knot_rows(state, parameters, "bias", BIAS_CHANGE_MPS2)
    return [*drifts, bias, _change_rows(state, JERK_MPS2, FREE_SHARE), _rest_rows(state)]


def _speed_rows(sensor: SpeedSensor, state: State, parameters: Unknowns) -> Rows:
    time = state.time_s
    delay, way, scale, growth = (state.values[f"{what} {sensor.name}"] for what in ("delay", "way", "scale", "growth"))
    slowest = np.maximum(sensor.speed_mps, LEAST_WAY_MPS)
    lead = state.lead_s if sensor.name != state.reference else 0.0
    moment = sensor.time_s - delay - way / slowest + lead
    keep, index, share = _on_grid((moment - time[0]) / GRID_S, time.size)
    speed = state.speed[index] * (1.0 - share) + state.speed[index + 1] * share
    rate = (state.speed[index + 1] - state.speed[index]) / GRID_S
    rounded = _rounded_off(sensor, state)
    bend, by_smear, bends = (
        curve[index] * (1.0 - share) + curve[index + 1] * share
        for curve in (rounded.bend, rounded.by_smear, np.gradient(rounded.bend, GRID_S))
    )
    rate = rate + bends
    # y = scale * v * (1 + slip * thrust - growth * v^2): linear in v about the present state
    thrust = _thrust_at(moment[keep], speed, sensor, state) if sensor.slip_per_mps2 else np.zeros(keep.size)
    slip = state.values[f"slip {sensor.name}"]
    knots = _knots(time) if sensor.drift_change > 0 else np.zeros(0)
    drifts = np.array([state.values.get(f"drift {sensor.name} {knot}", 0.0) for knot in range(knots.size)])
    between = _between_knots(moment[keep], knots) if knots.size else np.zeros((0, keep.size))
    drift = drifts @ between
    factor = scale * (1.0 + slip * thrust - growth * speed**2 + drift)
    slope = factor - 2.0 * scale * growth * speed**2
    evidence = _Evidence(parameters, sensor.speed_mps[keep] - (factor - slope) * speed - factor * bend)
    evidence.put(f"{SMEAR} {sensor.name}", factor * by_smear, state.values.get(f"{SMEAR} {sensor.name}", 0.0))
    if sensor.name != state.reference:
        evidence.put(f"delay {sensor.name}", -factor * rate, delay)
        if state.reference:
            evidence.put(COMMON, factor * rate, state.lead_s)
    evidence.put(f"way {sensor.name}", -factor * rate / slowest[keep], way)
    evidence.put(f"scale {sensor.name}", factor / scale * speed, scale)
    evidence.put(f"growth {sensor.name}", -scale * speed**3, growth)
    evidence.put(f"slip {sensor.name}", scale * thrust * speed, slip)
    for knot, share_of_it in enumerate(between):
        evidence.put(f"drift {sensor.name} {knot}", scale * speed * share_of_it, float(drifts[knot]))
    if sensor.wander_mps > 0:
        for knot, share_of_it in enumerate(_between_knots(moment[keep], _knots(time))):
            evidence.put(f"{WANDERS} {sensor.name} {knot}", share_of_it, 0.0)
    shares = np.array((slope * (1 - share), slope * share))
    noise = np.hypot(state.noise[sensor.name], _bent_start(sensor)[keep])
    return evidence.rows(sensor.name, index, shares, noise, (keep, sensor.time_s.size))


def _rounded_off(sensor: SpeedSensor, state: State) -> RoundedOff:
    """What a receiver's filters do to the present speed beside making it late."""
    if sensor.smear_s2 <= 0:
        return RoundedOff(np.zeros_like(state.speed), np.zeros_like(state.speed))
    return rounded_off(state.speed, state.values[f"{SMEAR} {sensor.name}"], step_s=GRID_S)


def _thrust_at(moment_s: FloatArray, speed_mps: FloatArray, sensor: SpeedSensor, state: State) -> FloatArray:
    """What the tires push with over the car's mass: what it gains, and what air and rolling take, in m/s2."""
    return np.interp(moment_s, state.time_s, state.thrust) + sensor.drag_per_m * speed_mps**2 + ROLLING_MPS2


def _bent_start(sensor: SpeedSensor) -> FloatArray:
    """What a mean over a while leaves open of the first speeds, a deviation of each sample.

    A mean over T of a speed that rises from rest by a is off by up to a T / 8 from the speed T / 2 ago, as long as rest
    lies within T.
    """
    rises_by = START_MPS2 * sensor.mean_over_s
    return np.where(sensor.speed_mps < rises_by, rises_by / 16.0, 0.0)


def _on_grid(place: FloatArray, count: int) -> tuple[IntArray, IntArray, FloatArray]:
    """Which samples lie on the grid, the grid point before each, and its share of the way to the next."""
    keep = np.flatnonzero((place >= 0) & (place < count - 3))
    place = place[keep]
    index = place.astype(np.int64)
    return keep, index, place - index


class _Evidence:
    """What samples say of the speed and of parameters."""

    def __init__(self, parameters: Unknowns, target: FloatArray) -> None:
        self._parameters, self._target = parameters, target
        self._among: list[int] = []
        self._slopes: list[FloatArray] = []

    def put(self, name: str, slope: FloatArray, value: float) -> None:
        """Put a parameter's slope in; the target moves so that the unknown is the parameter, not its change."""
        column = self._parameters.column(name)
        if column is not None:
            self._among.append(column)
            self._slopes.append(slope)
            if value:
                self._target += slope * value

    def rows(
        self, key: str, place: IntArray, shares: FloatArray, sd: FloatArray | float, samples: tuple[IntArray, int]
    ) -> Rows:
        """Rows for each of the samples, the first of a pair, out of so many."""
        known = np.array(self._slopes) if self._slopes else None
        return Rows(key, place, shares, self._target, sd, known, tuple(self._among), *samples)


def _acceleration_rows(accelerometer: Accelerometer, state: State, parameters: Unknowns) -> Rows:
    time = state.time_s
    delay, scale = state.values[f"delay {ACCELERATION}"], state.values[f"scale {ACCELERATION}"]
    moment = accelerometer.time_s - delay
    keep, index, share = _on_grid((moment - time[0]) / GRID_S - 0.5, time.size)
    shares = scale / GRID_S * np.array((-(1 - share), 1 - 2 * share, share))
    steps = np.diff(state.speed) / GRID_S
    evidence = _Evidence(parameters, accelerometer.acceleration_mps2[keep])
    evidence.put(f"scale {ACCELERATION}", steps[index] * (1 - share) + steps[index + 1] * share, scale)
    if state.reference != ACCELERATION:
        jerk = (steps[index + 1] - steps[index]) / GRID_S
        evidence.put(f"delay {ACCELERATION}", -scale * jerk, delay)
    for knot, bias in enumerate(_between_knots(moment[keep], _knots(time))):
        evidence.put(f"bias {knot}", bias, 0.0)
    return evidence.rows(ACCELERATION, index, shares, state.noise[ACCELERATION], (keep, accelerometer.time_s.size))


def _between_knots(at_s: FloatArray, knots: FloatArray) -> FloatArray:
    """Share of each evenly spaced knot in the straight line between them, shape (knots, k)."""
    place = np.clip((at_s - knots[0]) / (knots[1] - knots[0]), 0.0, knots.size - 1.0)
    return np.asarray(np.maximum(1.0 - np.abs(place - np.arange(knots.size)[:, None]), 0.0))


def _knot_rows(state: State, parameters: Unknowns, name: str, change_sd: float) -> Rows:
    """What moves from knot to knot moves little."""
    knots = _knots(state.time_s).size
    among = tuple(parameters.names.index(f"{name} {knot}") for knot in range(knots))
    columns = np.eye(knots, knots - 1, -1) - np.eye(knots, knots - 1)
    nothing = np.zeros(knots - 1)
    return Rows(name, None, np.zeros((0, knots - 1)), nothing, change_sd, columns, among, robust=False)


def _change_rows(state: State, jerk_mps2: float, free_share: float) -> Rows:
    """Acceleration changes little, but at the launch, where motion would be smeared before the start, and in shifts."""
    time, count = state.time_s, state.time_s.size - 2
    held = np.ones(count)
    for first, last in state.loose_s:
        held[(time[1:-1] > first) & (time[1:-1] < last)] = LOOSE_SHARE
    held[(time[1:-1] > state.rest_until_s) & (time[1:-1] < state.rest_until_s + LAUNCH_FREE_S)] = free_share
    shares = np.array([[1.0], [-2.0], [1.0]]) / GRID_S * held
    return Rows("prior", None, shares, np.zeros(count), jerk_mps2 * float(np.sqrt(GRID_S)))


def _rest_rows(state: State) -> Rows:
    still = min(int(np.count_nonzero(state.time_s < state.rest_until_s)), state.time_s.size - 2)
    return Rows("rest", None, np.ones((1, still)), np.zeros(still), REST_MPS, robust=False)
