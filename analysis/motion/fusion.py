"""One speed out of many sensors: a sparse least-squares smoother with biases, scales and delays estimated from the run.

The unknowns are the ground speed on an even grid and a handful of sensor parameters. Every sample says something
about the speed at its own (late) time; a heavy-tailed prior on the change of acceleration lets go at a shift; a
standing start is exactly zero. What each kind of evidence says is in `analysis.motion.factors`, the algebra in
`analysis.motion.solver`; what is left open is the plus-minus.

Public: `fuse_speed`; with it `SpeedSensor`, `Accelerometer`, `GRID_S`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.motion.factors import (
    ACCELERATION,
    COMMON,
    GRID_S,
    SMEAR,
    Accelerometer,
    SpeedSensor,
    State,
    parameters_of,
    rows_of,
    steady_rows,
)
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.solver import Solution, Unknowns, Weights, reweigh, solve_rows, spread_about_fit
from passband.analysis.quantities import FloatArray
from passband.analysis.statistics.correlation import samples_that_hang_together

__all__ = ["GRID_S", "Accelerometer", "SpeedSensor", "fuse_speed"]

ROUNDS = 8
"""Rounds of re-weighting and re-linearising; parameters settle to under 0.1 ms and 0.01 % in six."""
THRUST_OVER_S = 0.5
"""Stretch over which thrust is taken for a driven wheel's slip. [s] By arithmetic: an error of speed comes back from
round to round as slip times speed over the stretch, and doubled; at 60 m/s and 0.8 % for each m/s2 it would grow with
half of this and all of a round's new thrust."""
THRUST_STEP = 0.5
"""Share of a round's new thrust that the next one goes by. [-] By the same arithmetic."""
GUESS_OVER_S = 0.1
"""The first guess is a mean over so long to either side. [s]"""
LEAST_SMEAR_S2, MOST_SMEAR_S2 = 1e-5, 0.08
"""Half a variance is above nought, and no receiver smooths over longer than 0.4 s. [s2]"""
LEAST_POINTS = 10
"""Grid points that a fit needs."""
SPENT_BY_FIT, LEAST_LEFT = 3, 4.0
"""Free errors that a fit spends on a delay, a scale and a growth; and the least that count as left. [-]"""
GUESSED_NOISE_MPS = 0.05
"""Noise of a speed sensor in the first round, at least. [m/s]"""


def fuse_speed(
    sensors: list[SpeedSensor],
    accelerometer: Accelerometer | None,
    *,
    span_s: tuple[float, float],
    rest_until_s: float,
    extra: dict[str, tuple[float, float]] | None = None,
    rest_sd_s: float | None = None,
    rounds: int = ROUNDS,
) -> Posterior:
    """Fuse speed sensors and an accelerometer into one ground speed.

    Parameters
    ----------
    sensors : list of SpeedSensor
        At least one.
    accelerometer : Accelerometer or None
        Forward acceleration; None where none is logged.
    span_s : (start, stop)
        The grid. [s]
    rest_until_s : float
        The car stands still from its start to here. [s]
    extra : dict, optional
        Further parameters with mean and standard deviation that only later conditions use (clock start, rollout,
        and the strength of the posterior's modes).
    rest_sd_s : float, optional
        Standard deviation of `rest_until_s`, where it is better known than any sensor's delay and each of these is to
        be found against it. [s]
    rounds : int
        Of re-weighting and re-linearising.

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
    speed sensor ``y = s v(t - d - L/y) [+ slip and growth if driven]``, for the accelerometer
    ``y = b(t) + k a(t - d)``, for the prior ``a[i+1] - a[i] = 0``. Sensor noise is taken from the residuals of the
    round before, never below what the printed step allows. A delay that all sensors share moves the speed in time and
    shows nowhere: what the sensors' expected delays leave open of it is a mode of the posterior. A scale that all
    share is not seen.
    """
    if not sensors:
        raise ValueError("fuse_speed needs at least one speed sensor, got none")
    start_s, stop_s = span_s
    count = round((stop_s - start_s) / GRID_S) + 1
    if count < LEAST_POINTS:
        raise ValueError(f"fuse_speed needs a span of at least {10 * GRID_S} s, got {start_s} to {stop_s} s")
    time: FloatArray = np.asarray(start_s + GRID_S * np.arange(count), dtype=np.float64)
    clock, open_s = ("", rest_sd_s) if rest_sd_s is not None else _clock_of(sensors, accelerometer)
    parameters = parameters_of(sensors, accelerometer, time, {COMMON: (0.0, open_s)} | (extra or {}), reference=clock)
    loose_s = [stretch for sensor in sensors for stretch in sensor.let_go_s]
    state = replace(_first_guess(sensors, accelerometer, time, rest_until_s), reference=clock, loose_s=loose_s)
    weights: Weights = {}
    steady = steady_rows(sensors, accelerometer, state, parameters)
    for _ in range(rounds):
        rows = [*rows_of(sensors, accelerometer, state, parameters), *steady]
        solution = solve_rows(rows, weights, parameters, count=count)
        weights, residuals = reweigh(rows, weights, solution, count=count)
        state = _moved(state, solution, parameters, noise=_noise(sensors, residuals))
    posterior = Posterior(time, solution.mean, parameters.names, state.noise, weights, solution)
    posterior.counts_for = {sensor.name: _counts_for(residuals[sensor.name]) for sensor in sensors}
    samples = {row.key: row.sample for row in rows if row.sample is not None}
    posterior.left = {sensor.name: (samples[sensor.name], residuals[sensor.name]) for sensor in sensors}
    _let_time_open(posterior)
    return posterior


def _clock_of(sensors: list[SpeedSensor], accelerometer: Accelerometer | None) -> tuple[str, float]:
    """The sensor on whose clock speed is sought, where bends show best, and what is open of its delay."""
    if accelerometer is not None:
        return ACCELERATION, accelerometer.delay_sd_s
    return sensors[0].name, sensors[0].delay_sd_s


def _let_time_open(posterior: Posterior) -> None:
    """The speed on the true clock: moved by what its reference is late more than expected, the rest left open."""
    count = posterior.time_s.size
    posterior.later_s = posterior.parameter(COMMON)
    posterior.time_s = posterior.time_s - posterior.later_s
    posterior.mean[count + posterior.names.index(COMMON)] = 0.0
    posterior.modes[COMMON] = np.gradient(posterior.mean[:count], GRID_S)


def _first_guess(
    sensors: list[SpeedSensor], accelerometer: Accelerometer | None, time: FloatArray, rest_until_s: float
) -> State:
    best = max(sensors, key=lambda sensor: sensor.time_s.size)
    speed = np.interp(time, best.time_s - best.delay_s, best.speed_mps)
    width = max(1, round(GUESS_OVER_S / GRID_S))
    speed = np.convolve(np.pad(speed, width, mode="edge"), np.ones(2 * width + 1) / (2 * width + 1), mode="valid")
    speed[time < rest_until_s] = 0.0
    late_s = accelerometer.delay_s if accelerometer else 0.0
    values = {f"delay {ACCELERATION}": late_s, f"scale {ACCELERATION}": 1.0, COMMON: 0.0}
    for sensor in sensors:
        own = {"delay": sensor.delay_s, "way": sensor.way_m, "scale": 1.0, "growth": sensor.growth}
        own["slip"] = sensor.slip_per_mps2
        values |= {f"{what} {sensor.name}": value for what, value in own.items()}
        values[f"{SMEAR} {sensor.name}"] = sensor.smear_s2
    noise = {sensor.name: max(sensor.noise_mps, GUESSED_NOISE_MPS) for sensor in sensors}
    noise[ACCELERATION] = accelerometer.noise_mps2 if accelerometer else 1.0
    return State(time, rest_until_s, speed, _thrust(speed), values, noise, "")


def _noise(sensors: list[SpeedSensor], residuals: Weights) -> dict[str, float]:
    """Noise of each speed sensor that has samples on the grid, by what the fit leaves of them.

    Errors that hang together and that no other sensor shows count as so much more.
    """
    return {
        sensor.name: max(sensor.noise_mps, spread_about_fit(residuals[sensor.name])) * sensor.together**0.5
        for sensor in sensors
        if residuals[sensor.name].size
    }


def _counts_for(residual: FloatArray) -> float:
    """By how much the variance of what a fit found from a sensor is greater than free errors would make it.

    A receiver's filters hand one error on to the next values: so many fewer are free. Of those the fit has spent some
    on the sensor's delay and on the scale and growth that it shows of others; what is left tells the noise itself no
    better than so many may (Student's t varies by k / (k - 2)).
    """
    free = residual.size / samples_that_hang_together(residual, spent=SPENT_BY_FIT)
    left = max(free - SPENT_BY_FIT, LEAST_LEFT)
    return float(residual.size / (left - 2.0)) if free < residual.size else 1.0


def _moved(state: State, solution: Solution, parameters: Unknowns, *, noise: dict[str, float]) -> State:
    """The state about which the next round is linear."""
    count = state.time_s.size
    found = dict(zip(parameters.names, (float(value) for value in solution.mean[count:]), strict=True))
    speed = solution.mean[:count]
    values = state.values | {
        name: value for name, value in found.items() if name in state.values or name.startswith("drift")
    }
    smears = {
        name: min(max(value, LEAST_SMEAR_S2), MOST_SMEAR_S2) for name, value in found.items() if name.startswith(SMEAR)
    }
    thrust = state.thrust + THRUST_STEP * (_thrust(speed) - state.thrust)
    return replace(state, speed=speed, thrust=thrust, values=values | smears, noise=state.noise | noise)


def _thrust(speed: FloatArray) -> FloatArray:
    """Pull per mass, smoothed so long that a driven wheel's slip does not feed its own noise back into it.

    The greater of the stretch before and the stretch after, so that a lift at the line does not reach back before it.
    """
    span = min(round(THRUST_OVER_S / GRID_S), speed.size)
    after = np.concatenate((speed[span:], np.full(span, speed[-1]))) - speed
    before = speed - np.concatenate((np.full(span, speed[0]), speed[: speed.size - span]))
    return np.asarray(np.maximum(np.maximum(before, after), 0.0) / THRUST_OVER_S)
