"""One drive logged at a rate and at twice it: power is the car's, not the logger's.

Planted: the demo weekend's car and sensors (delays, lags, held GPS, switches) without noise, printed finely.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.power.measure import Power
from passband.analysis.reading import read_log
from passband.analysis.review import review
from passband.demo_logs import make_weekend as weekend
from passband.demo_logs.dialects import DIALECTS, write_log
from passband.demo_logs.loggers import Device, Sensor, TrueSignals, record
from passband.demo_logs.recording import simulate, true_signals
from passband.demo_logs.sensor_sets import ecu_sensors
from passband.demo_logs.weekend_story import RUNS

TOLD = tomllib.loads((weekend.FOLDER / "runs.toml").read_text(encoding="utf-8"))["runs"]
WITHIN = 1.25e-3
"""Of a power. [-]"""


def without_noise(sensors: list[Sensor]) -> list[Sensor]:
    return [replace(s, noise=0.0, step=1e-3 * s.step, digits=s.digits + 3) for s in sensors]


@cache
def driven(place: int) -> TrueSignals:
    """One of the weekend's drives, simulated once for all rates."""
    told = RUNS[place]
    rng = np.random.default_rng([sum(told.slug.encode()), 4])
    made = simulate(weekend.CAR, told.day, weekend._acts(told, rng), lead_s=weekend.LEAD_S)
    return true_signals(made, told.day, rng)


def power_at(place: int, times: int, folder: Path) -> Power:
    """Power of one of the weekend's drives, logged at so many times its rates."""
    told, true = RUNS[place], driven(place)
    end = float(true.time_s[-1]) - 0.5
    sensors = ecu_sensors(weekend.ECU_CHANNELS, told.taste, np.random.default_rng(weekend.SENSOR_SEED))
    devices = (
        (Device("ecu", times * weekend.ECU_HZ, 0.0, end - 0.4), sensors),
        (Device("dash", times * weekend.DASH_HZ, told.offset_s, end, weekend.DASH_PPM), weekend._dash_sensors()),
    )
    logs = []
    for at, (device, sensed) in enumerate(devices):
        path = folder / f"{device.name}{times}.csv"
        log = record(device, without_noise(sensed), true, np.random.default_rng(3))
        write_log(path, log, DIALECTS["brackets"])
        logs.append(read_log(path.read_bytes(), name=path.name, index=at))
    car = Car(**tomllib.loads((weekend.FOLDER / "car.toml").read_text(encoding="utf-8")))
    (run,) = review(logs, car, [Slip(**TOLD[place]["slip"])], Air(**TOLD[place]["air"]))
    assert run.power is not None
    return run.power


@pytest.mark.parametrize("place", [0, 2, 4])
def test_power_does_not_depend_on_the_rate_of_the_log(place, tmp_path):
    once, twice = (power_at(place, times, tmp_path) for times in (1, 2))
    assert twice.average_pulling_w.value == pytest.approx(once.average_pulling_w.value, rel=WITHIN)
    assert once.peak_w is not None and twice.peak_w is not None
    assert twice.peak_w.value == pytest.approx(once.peak_w.value, rel=WITHIN)
