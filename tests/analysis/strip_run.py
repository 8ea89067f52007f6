"""A plain run with known truth for the tests of this folder: pull, two torque cuts, lift; any sensor on it."""

from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.quantities import FloatArray

LAUNCH_S = 3.0
CUTS_S = ((5.0, 5.1), (7.0, 7.1))


@dataclass(frozen=True)
class PlainRun:
    """Truth on a 1 kHz grid, log clock."""

    time_s: FloatArray
    acceleration_mps2: FloatArray
    speed_mps: FloatArray
    distance_m: FloatArray

    def moment(self, metres: float) -> float:
        return float(np.interp(metres, self.distance_m, self.time_s))


def plain_run(*, pull_mps2: float = 12.0, stop_s: float = 15.5) -> PlainRun:
    """A pull that fades with speed, cut at two shifts, from a standstill at 3 s; the clutch bites within 60 ms."""
    time = np.arange(0.0, stop_s, 0.001)
    acceleration, speed = np.zeros_like(time), np.zeros_like(time)
    for place in range(1, time.size):
        now, pace = time[place], speed[place - 1]
        pull = pull_mps2 / (1 + pace / 35.0)
        if now < LAUNCH_S:
            pull = 0.0
        elif any(a <= now < b for a, b in CUTS_S):
            pull = -1.0
        pull *= min(1.0, max(0.0, (now - LAUNCH_S) / 0.06))
        acceleration[place] = acceleration[place - 1] + (pull - acceleration[place - 1]) * 0.1  # 10 ms of driveline
        speed[place] = pace + acceleration[place] * 0.001
    distance = np.concatenate(([0.0], np.cumsum((speed[1:] + speed[:-1]) / 2) * 0.001))
    return PlainRun(time, acceleration, speed, distance)


def sensor(
    run: PlainRun, name: str, values: FloatArray, *, unit: str, rate_hz: float = 50.0, late_s: float = 0.02,
    noise: float = 0.0, seed: int = 0, log: int = 1,
) -> Channel:  # fmt: skip
    """A channel that samples the truth late and with noise."""
    at = np.arange(0.0, run.time_s[-1], 1.0 / rate_hz)
    seen = np.interp(at - late_s, run.time_s, values) + np.random.default_rng(seed).normal(0, noise, at.size)
    return Channel(name, name, unit, unit, at, seen, rate_hz, 1.0, log, 0.003)


def wheels_gps_accelerometer(run: PlainRun, *, seed: int = 0) -> Traces:
    """Two undriven wheels, GPS 0.14 s late at 10 Hz, an accelerometer with bias and scale."""
    still = run.speed_mps > 0.9
    awake = np.where(still, run.speed_mps, 0.0)
    return Traces(
        (
            sensor(run, "wheel_speed_fl", awake, unit="m/s", noise=0.06, seed=seed + 1),
            sensor(run, "wheel_speed_fr", awake * 0.999, unit="m/s", noise=0.06, seed=seed + 2),
            sensor(run, "gps_speed", run.speed_mps, unit="m/s", rate_hz=10, late_s=0.14, noise=0.04, seed=seed + 3),
            sensor(run, "acceleration", run.acceleration_mps2 * 1.02 + 0.2, unit="m/s^2", noise=0.08, seed=seed + 4),
        )
    )
