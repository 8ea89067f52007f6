"""A unit of time that the engine, the car's speed or the way refutes. *Planted*: the hard run, its time otherwise."""

import numpy as np
import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.time.engine_and_time import turns_too_quickly
from passband.analysis.reading.time.vehicle_and_time import gains_speed_too_quickly, seconds_by_way
from tests.analysis.reading.hard_run import hard_run, printed, table


def columns(run, kind):
    speed = {"Speed [km/h]": printed(run.ground_speed * 3.6, 2)}
    return {
        "speed": speed,
        "distance": {**speed, "Distance [m]": printed(run.distance_m, 2)},
        "positions": {**speed, "Latitude": printed(run.latitude, 7), "Longitude": printed(run.longitude, 7)},
        "engine": {"RPM": printed(run.engine_speed, 0)},
        "throttle": {"Throttle [%]": printed(100 * run.throttle, 1)},
    }[kind]


def read(run, kind, *, unit, count_s):
    times = printed(run.time_s / count_s, 6)
    (log,) = read_log(table({f"Time [{unit}]": times, **columns(run, kind)}), name="x.csv")
    told = [finding for finding in log.findings if finding.code == "time-unit-assumed"]
    return log.time.last_s - log.time.first_s, told


@pytest.mark.parametrize(
    ("kind", "rate_hz"),
    [*((kind, rate) for kind in ("speed", "distance", "positions") for rate in (10.0, 100.0)), ("engine", 25.0)],
)
def test_minutes_called_seconds_are_refuted(kind, rate_hz):
    run = hard_run(rate_hz=rate_hz)
    lasts_s, told = read(run, kind, unit="s", count_s=60.0)
    assert lasts_s == pytest.approx(run.time_s[-1], rel=0.01)
    assert [finding.level for finding in told] == ["caution"]


@pytest.mark.parametrize("kind", ["distance", "positions"])
@pytest.mark.parametrize(("unit", "count_s"), [("min", 1.0), ("ms", 1.0), ("s", 0.001)])
def test_any_unit_is_refuted_by_the_way_covered(kind, unit, count_s):
    run = hard_run()
    lasts_s, told = read(run, kind, unit=unit, count_s=count_s)
    assert lasts_s == pytest.approx(run.time_s[-1], rel=0.01) and told


@pytest.mark.parametrize("kind", ["speed", "distance", "positions", "engine", "throttle"])
def test_a_unit_that_is_right_stands(kind):
    run = hard_run()
    assert read(run, kind, unit="s", count_s=1.0) == (pytest.approx(run.time_s[-1]), [])
    assert read(run, kind, unit="min", count_s=60.0) == (pytest.approx(run.time_s[-1], abs=0.01), [])


def test_rows_of_a_fifth_of_a_second_without_a_witness_are_told():
    _, (told,) = read(hard_run(), "throttle", unit="s", count_s=60.0)
    assert told.level == "caution" and "which is no run" in told.text


def test_seconds_by_way_by_hand_and_where_nothing_tells():
    # Hand: 10 m/s over 6 s are 60 m; in minutes 0.1 counts, so 60 s a count.
    minutes = np.linspace(0.0, 0.1, 50)
    assert seconds_by_way(minutes, np.full(50, 10.0), 600.0 * minutes) == pytest.approx(60.0)
    assert seconds_by_way(minutes, np.full(50, 10.0), 100.0 * minutes) is None  # 10 m: a wander
    assert seconds_by_way(minutes, np.full(50, np.nan), 600.0 * minutes) is None


def test_an_engine_that_sweeps_its_range_again_and_again_and_a_speed_that_stands():
    # Hand: ten sweeps of 5000 rev/min are 50000 up and down each; in 0.5 s that is 200e3 rev/min a second.
    rpm = 4500.0 + 2500.0 * np.sin(np.linspace(0.0, 20 * np.pi, 400))
    assert turns_too_quickly(rpm, 0.5) and not turns_too_quickly(rpm, 5.0)
    assert not turns_too_quickly(4500.0 + 20.0 * np.sin(np.arange(4000.0)), 0.5)
    spiky = np.where(np.arange(1200) % 6 == 0, 16000.0, 4000.0)
    assert not turns_too_quickly(spiky, 12.0)  # 200 false pulses
    assert not gains_speed_too_quickly(np.full(100, 40.0), 0.01)
