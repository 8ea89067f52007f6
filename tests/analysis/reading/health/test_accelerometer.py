"""The accelerometer against the slope of speed."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.reading.health.accelerometer import mend_accelerometer
from tests.analysis.reading.health.test_speed_scale import a_log

G_MPS2 = 9.80665  # standard gravity, exact

TIME = np.arange(2400) / 100.0
RNG = np.random.default_rng(4)
PULL = np.where(
    (TIME > 5) & (TIME < 14), 12.0 * np.exp(-(TIME - 5) / 8), np.where((TIME > 15) & (TIME < 21), -12.0, 0.0)
)
SPEED = np.clip(np.cumsum(PULL) / 100.0, 0, None)
PULL = np.gradient(SPEED, TIME)
NOISE = 0.2 * RNG.standard_normal(TIME.size)


def log_with(**axes):
    made = [Channel("gps_speed", "GPS Speed", "m/s", "km/h", TIME, SPEED, 100.0, 0.9)]
    made += [Channel(name, name, "m/s^2", "g", TIME, values, 100.0, 0.9) for name, values in axes.items()]
    return replace(a_log(), channels=tuple(made))


def test_a_sound_accelerometer_is_left_alone():
    log = log_with(acceleration=PULL + NOISE, acceleration_lateral=NOISE)
    assert mend_accelerometer(log) is log


@pytest.mark.parametrize("tilt", [0.8, 1.0])
def test_a_tilted_one_with_an_offset_is_left_to_the_fusion(tilt):
    assert mend_accelerometer(log_with(acceleration=tilt * PULL + 0.6 + NOISE)).findings == ()


def test_a_turned_sign_is_turned_back():
    mended = mend_accelerometer(log_with(acceleration=-PULL + NOISE))
    (finding,) = mended.findings
    assert "wrong sign" in finding.text and finding.level == "caution"
    assert float(np.corrcoef(mended.get("acceleration").values, PULL)[0, 1]) > 0.9


@pytest.mark.parametrize("leak", [0.0, 0.1, -0.15])
def test_swapped_axes_swap_names(leak):
    log = log_with(acceleration=leak * PULL + 0.3 * NOISE, acceleration_lateral=PULL + NOISE)
    mended = mend_accelerometer(log)
    (finding,) = mended.findings
    assert "axes" in finding.text and mended.get("acceleration").header == "acceleration_lateral"


@pytest.mark.parametrize("factor", [1 / G_MPS2, G_MPS2])
def test_g_taken_for_metres_or_the_reverse(factor):
    mended = mend_accelerometer(log_with(acceleration=factor * (PULL + NOISE)))
    assert "scale" in mended.findings[0].text
    assert mended.get("acceleration").values.max() == pytest.approx(PULL.max(), rel=0.15)


def test_drift_between_two_rests_is_told():
    drift = np.linspace(0, 1.5, TIME.size)
    findings = mend_accelerometer(log_with(acceleration=PULL + drift + NOISE)).findings
    assert [finding.code for finding in findings] == ["accelerometer-drift"] and "drifts at rest" in findings[0].text


@pytest.mark.parametrize("held_at", [-1.2, 0.9])
def test_a_value_held_before_the_first_one_comes_is_no_rest(held_at):
    # Planted: four of the first five seconds hold one draw far from the zero
    felt = np.where(TIME < 4.0, held_at, PULL + NOISE)
    assert mend_accelerometer(log_with(acceleration=felt)).findings == ()


def test_drift_is_told_beside_a_held_value_too():
    drift = np.where(TIME < 4.0, 0.3, np.where(TIME > 10.0, 0.9, 0.0) + NOISE)
    (finding,) = mend_accelerometer(log_with(acceleration=PULL + drift)).findings
    assert finding.code == "accelerometer-drift" and "0.0" in finding.text and "0.09" in finding.text


def test_a_rest_of_one_value_alone_says_nothing():
    # Two readings, one a rest: a zero that never moved by a digit was never measured
    felt = np.where(TIME < 5.0, 1.2, PULL + NOISE)
    assert mend_accelerometer(log_with(acceleration=felt)).findings == ()


def test_without_a_speed_nothing_is_said():
    log = log_with(acceleration=-PULL)
    assert mend_accelerometer(replace(log, channels=log.channels[1:])).findings == ()


def test_a_car_that_stands_says_nothing():
    log = log_with(acceleration=NOISE)
    still = replace(log.channels[0], values=np.zeros(TIME.size))
    assert mend_accelerometer(replace(log, channels=(still, log.channels[1]))).findings == ()


@pytest.mark.parametrize("late_s", [0.1, 0.4])
def test_a_pull_that_the_speed_shows_late_is_no_rest(late_s):
    # Planted: a quiet sensor in steps of 0.005 g between two rests, the second ended by a pull felt before the speed
    stirred = np.where((TIME > 1.8) & (TIME < 2.4), 0.3 * np.sin(60.0 * TIME), 0.0)
    felt = np.where((TIME > 5.0 - late_s) & (TIME < 5.0), 9.0 * (TIME - 5.0 + late_s) / late_s, PULL + stirred)
    coarse = np.round((felt + 0.004 * NOISE / 0.2) / 0.049) * 0.049
    log = log_with(acceleration=coarse)
    moved = np.where((TIME > 1.9) & (TIME < 2.3), 1.0, SPEED)
    log = replace(log, channels=(replace(log.channels[0], values=moved), *log.channels[1:]))
    assert mend_accelerometer(log).findings == ()


def test_a_pull_with_the_wheels_in_the_air_is_no_rest():
    # Planted: a quiet sensor in steps of 0.005 g, moved at two rests; in the second it pulls for 1.2 s before the front
    # wheel turns, and all that is new there is the pull
    felt = np.where((TIME > 3.8) & (TIME < 5.0), 8.0 + 0.3 * np.sin(40.0 * TIME), PULL)
    felt = np.where((TIME > 0.9) & (TIME < 1.5), 0.098 * np.sign(np.sin(30.0 * TIME)), felt)
    moved = np.where((TIME > 2.1) & (TIME < 2.4), 1.0, SPEED)
    log = log_with(acceleration=np.round(felt / 0.049) * 0.049)
    log = replace(log, channels=(replace(log.channels[0], values=moved), *log.channels[1:]))
    assert mend_accelerometer(log).findings == ()


def test_a_car_that_rolls_up_unseen_by_its_wheels_does_not_rest():
    # Planted: a quiet sensor, 0.07 g of creep within a first rest, and nothing at all within the last
    creeps = 0.7 * np.clip(TIME - 2.0, 0.0, 1.0) * np.clip(4.5 - TIME, 0.0, 1.0)
    last = np.where(TIME > 10.0, NOISE, 0.0)
    assert mend_accelerometer(log_with(acceleration=np.round(PULL + creeps + last, 1))).findings == ()
