"""The loggers: delay, lag, holds, blanks and clocks are what they say; every dialect is read back as it was written."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from passband.analysis.reading import read_log
from passband.demo_logs.dialects import DIALECTS, write_log
from passband.demo_logs.loggers import Device, Recording, Sensor, TrueSignals, copy_lag_s, record

EVEN = np.arange(-1.0, 12.0, 0.0005)


def recorded(sensor: Sensor, signal: np.ndarray, **device: float) -> Recording:
    told = {"rate_hz": 100.0, "start_s": 0.0, "stop_s": 10.0, **device}
    return record(Device("ecu", **told), [sensor], TrueSignals(EVEN, {"x": signal}), np.random.default_rng(3))


def test_a_ramp_arrives_late_by_delay_and_lag() -> None:
    # Hand: a first-order lag follows a ramp late by its time constant.
    sensor = Sensor("x", "x", "X", "", latency_s=0.02, lag_s=0.05, digits=6)
    log = recorded(sensor, EVEN)
    assert log.columns[0][200:] == pytest.approx(log.time_s[200:] - 0.07, abs=3e-4)


def test_a_slow_channel_is_blank_or_held_between_its_samples() -> None:
    blank = recorded(Sensor("x", "x", "X", "", rate_hz=10.0, digits=4), EVEN).columns[0]
    held = recorded(Sensor("x", "x", "X", "", rate_hz=10.0, digits=4, hold=True), EVEN).columns[0]
    assert np.isfinite(blank).sum() == 101
    assert np.isfinite(held).all() and np.count_nonzero(np.diff(held)) == pytest.approx(100, abs=1)


def test_a_wheel_sensor_reads_nothing_at_a_crawl() -> None:
    log = recorded(Sensor("x", "x", "X", "km/h", floor=0.8), np.clip(EVEN, 0, None))
    speed = log.columns[0] / 3.6
    assert speed[log.time_s < 0.79].max() == 0.0
    assert speed[log.time_s > 0.82].min() > 0.8


def test_a_clock_that_runs_slow_stretches_its_rows() -> None:
    log = recorded(Sensor("x", "x", "X", "", digits=6), EVEN, start_s=2.0, ppm=100.0)
    assert log.true_time()[500] == pytest.approx(2.0 + 5.0 * (1 + 1e-4))
    assert log.columns[0][500] == pytest.approx(log.true_time()[500], abs=1e-6)


def test_a_held_copy_trails_by_half_a_hold() -> None:
    # Slow twin: the copy laid over the channel at many lags, the best of them against the sum of the parts.
    wave = 5000 + 2000 * np.sin(EVEN)
    fast = Sensor("x", "rpm", "N", "rpm", latency_s=0.006, lag_s=0.008, digits=3)
    slow = Sensor("x", "rpm2", "N", "rpm", latency_s=0.04, lag_s=0.015, rate_hz=20.0, digits=3, hold=True)
    a, b = recorded(fast, wave), recorded(slow, wave)
    lags = np.arange(0.0, 0.15, 0.001)
    inside = (b.time_s > 1) & (b.time_s < 9)
    apart = [
        np.sum((np.interp(b.time_s[inside] - lag, a.time_s, a.columns[0]) - b.columns[0][inside]) ** 2) for lag in lags
    ]
    assert lags[int(np.argmin(apart))] == pytest.approx(copy_lag_s(fast, slow, 20.0), abs=0.006)


@pytest.mark.parametrize("name", sorted(DIALECTS))
def test_every_dialect_is_read_back(name: str, tmp_path: Path) -> None:
    sensors = [
        Sensor("rpm", "rpm", "Engine Speed", "rpm", digits=0),
        Sensor("oil", "oilp", "Oil Pressure", "kPa", digits=1),
        Sensor("clt", "clt", "Coolant Temp", "°C", digits=1),
    ]
    rng = np.random.default_rng(8)
    signals = {"rpm": 4000 + 3000 * np.sin(EVEN), "oil": 3e5 + 1e5 * np.cos(EVEN), "clt": 350 + EVEN}
    log = record(Device("ecu", 50.0, 0.0, 10.0), sensors, TrueSignals(EVEN, signals), rng)
    write_log(tmp_path / "log.csv.gz", log, DIALECTS[name], compress=True)
    (read,) = read_log((tmp_path / "log.csv.gz").read_bytes(), name="log.csv.gz")
    rpm = read.get("engine_speed")
    assert rpm is not None and rpm.time_s.size == log.time_s.size
    assert rpm.time_s == pytest.approx(log.time_s, abs=1e-6)
    assert rpm.values == pytest.approx(log.columns[0])
    oil = read.get("oil_pressure")
    assert oil is not None and oil.values == pytest.approx(log.columns[1] * 1e3)


def test_the_same_recording_gives_the_same_bytes(tmp_path: Path) -> None:
    log = recorded(Sensor("x", "x", "X", ""), EVEN)
    for name in ("a.gz", "b.gz"):
        write_log(tmp_path / name, log, DIALECTS["brackets"], compress=True)
    assert (tmp_path / "a.gz").read_bytes() == (tmp_path / "b.gz").read_bytes()


@pytest.mark.parametrize("tooth", [0.03, 0.12, 0.5])
def test_a_counter_of_teeth_is_right_at_steady_speed(tooth: float) -> None:
    log = recorded(Sensor("x", "x", "X", "m/s", digits=6, tooth=tooth), np.full(EVEN.size, 20.0))
    assert log.columns[0][100:] == pytest.approx(np.full(log.columns[0][100:].size, 20.0), rel=1e-6)


@pytest.mark.parametrize("tooth", [0.12, 0.5])
def test_a_counter_of_teeth_is_late_by_a_way(tooth: float) -> None:
    # Hand: half a tooth for the mean over the last one, half a tooth more for how long it is shown, at any speed; the
    # simulator's grid of half a millisecond leaves a quarter of it open, 14 mm at the fastest
    speed = np.clip(6.0 * EVEN, 0.0, None)
    log = recorded(Sensor("x", "x", "X", "m/s", digits=6, tooth=tooth), speed, rate_hz=1000.0)
    behind = np.interp(log.time_s, EVEN, speed) - log.columns[0]
    for low, high in ((2.0, 4.0), (7.0, 9.5)):
        part = (log.time_s > low) & (log.time_s < high)
        way = behind[part] / 6.0 * speed[np.searchsorted(EVEN, log.time_s[part])]
        assert float(np.mean(way)) == pytest.approx(tooth, abs=0.014)


def test_a_counter_whose_next_tooth_is_overdue_reads_less_and_then_nothing() -> None:
    # Planted: 10 m/s, and a dead stop at 5 s
    log = recorded(Sensor("x", "x", "X", "m/s", digits=6, tooth=0.5), np.where(EVEN < 5.0, 10.0, 0.0))
    after = log.columns[0][log.time_s > 5.06]
    assert (np.diff(after) <= 1e-9).all() and 0.0 < after[10] < 5.0
    assert (log.columns[0][log.time_s > 5.6] == 0.0).all()


def test_a_counter_that_never_turns_reads_nothing() -> None:
    assert (recorded(Sensor("x", "x", "X", "m/s", tooth=0.5), np.zeros(EVEN.size)).columns[0] == 0.0).all()
