"""Sensor health: what is false is marked sample by sample and told once; what is healthy is left alone."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.reading.health.check import check_health
from tests.analysis.reading.health.test_speed_scale import a_log
from tests.analysis.reading.health.test_spikes import engine

TIME, RPM = engine(100.0)
RNG = np.random.default_rng(11)


def channel(name, values, *, time_s=TIME, unit="rpm", rate_hz=100.0, resolution=1.0):
    return Channel(name, name.title(), unit, unit, time_s, np.asarray(values, float), rate_hz, 0.95, 0, resolution)


def check(*channels):
    checked = check_health(replace(a_log("ecu.csv"), channels=channels))
    return [np.flatnonzero(np.isnan(one.values)).tolist() for one in checked.channels], list(checked.findings)


SPEED = np.clip(9.0 * (TIME - 4.0), 0, None)
HEALTHY = [
    channel("engine_speed", RPM),
    channel("throttle", np.where(TIME > 2.5, 1.0, 0.0), unit=""),
    channel(
        "boost", np.minimum(60e3 * np.clip(TIME - 3, 0, None), 150e3) + 400 * RNG.standard_normal(TIME.size), unit="Pa"
    ),
    channel("coolant_temperature", np.full(TIME.size, 347.15), unit="K"),
    channel("wheel_speed_fl", np.where(SPEED < 1.1, 0.0, SPEED), unit="m/s", resolution=0.01),
    channel("wheel_speed_driven", SPEED + np.where((TIME > 4) & (TIME < 4.6), 8.0, 0.0), unit="m/s", resolution=0.01),
    channel(
        "lambda_1", np.where((TIME > 6.5) & (TIME < 6.7), 1.6, 0.85) + 0.004 * RNG.standard_normal(TIME.size), unit=""
    ),
    channel("gear", np.floor(TIME / 3), unit=""),
    channel("shift_cut", (TIME % 2 < 0.05).astype(float), unit=""),
    channel(
        "oil_pressure", 350e3 + 2e3 * RNG.standard_normal(TIME.size) - 90e3 * ((TIME > 5) & (TIME < 5.4)), unit="Pa"
    ),
]


@pytest.mark.parametrize("one", HEALTHY, ids=lambda one: one.name)
def test_what_is_healthy_is_neither_marked_nor_told(one):
    assert check(one) == ([[]], [])


def test_false_samples_behind_lost_ones_are_marked_where_they_stand():
    # Planted, regression: the false ones were counted without the lost ones before them, and their neighbours marked
    rpm = RPM.copy()
    lost, false = [300, 651, 652, 653], [700, 701]
    rpm[lost] = 0.0
    rpm[false] += 4000.0
    marked, findings = check(channel("engine_speed", rpm))
    assert marked == [lost + false]
    assert [finding.code for finding in findings] == ["engine-speed-dropouts", "engine-speed-noise"]


def test_dropouts_of_engine_speed_are_marked_and_told_in_one_finding():
    rpm = RPM.copy()
    lost = [300, 651, 652, 653, *range(900, 920)]
    rpm[lost] = 0.0
    marked, (finding,) = check(channel("engine_speed", rpm))
    assert marked == [lost]
    assert finding.level == "caution" and finding.code == "engine-speed-dropouts"
    assert "drops to zero 3 times, 24 samples" in finding.text and "Engine speed" in finding.text
    assert finding.where == "ecu.csv, Engine_Speed, 3.000 s"


def test_ignition_noise_of_engine_speed_is_marked_and_called_noise():
    rpm = RPM.copy()
    rpm[[200, 500, 803]] *= [2.0, 0.5, 2.0]
    marked, (finding,) = check(channel("engine_speed", rpm))
    assert marked == [[200, 500, 803]]
    assert finding.code == "engine-speed-noise" and "noise" in finding.text and "3 samples" in finding.text


def test_a_signal_that_dies_at_speed_is_marked_to_the_end():
    rpm = RPM.copy()
    rpm[1000:] = 0.0
    marked, (finding,) = check(channel("engine_speed", rpm))
    assert marked == [list(range(1000, rpm.size))] and "drops to zero" in finding.text


def test_an_engine_switched_off_from_idle_is_believed():
    rpm = np.where(TIME > 11, 0.0, 950.0 + 5 * RNG.standard_normal(TIME.size))
    assert check(channel("engine_speed", rpm)) == ([[]], [])


def test_a_stuck_signal_keeps_its_first_sample():
    rpm = RPM.copy()
    rpm[700:790] = rpm[700]
    marked, (finding,) = check(channel("engine_speed", rpm))
    assert marked == [list(range(701, 790))] and "stuck" in finding.text


def test_a_dead_sensor_is_left_out():
    marked, (finding,) = check(channel("oil_pressure", np.full(TIME.size, 0.0), unit="Pa"))
    assert len(marked[0]) == TIME.size and finding.code == "flat-channel" and "flat" in finding.text


def test_a_speed_that_never_moves_while_another_does_is_dead():
    still = channel("wheel_speed_fl", np.zeros(TIME.size), unit="m/s")
    moving = channel("wheel_speed_fr", SPEED, unit="m/s", resolution=0.01)
    marked, (finding,) = check(still, moving)
    assert len(marked[0]) == TIME.size and marked[1] == [] and "never moves" in finding.text


def test_a_car_that_stands_has_no_dead_speeds():
    both = [channel(name, np.zeros(TIME.size), unit="m/s") for name in ("wheel_speed_fl", "gps_speed")]
    assert check(*both) == ([[], []], [])


def test_saturation_is_told_and_the_values_kept_as_a_lower_bound():
    boost = np.minimum(200e3 * np.sin(0.25 * TIME) + 800 * RNG.standard_normal(TIME.size), 150e3)
    marked, (finding,) = check(channel("boost", boost, unit="Pa", resolution=100.0))
    assert marked == [[]] and "saturated" in finding.text and "150000" in finding.text


def test_scatter_far_beyond_a_sound_sensor_is_called_noisy_and_kept():
    oil = 350e3 + 50e3 * RNG.standard_normal(TIME.size)
    marked, (finding,) = check(channel("oil_pressure", oil, unit="Pa"))
    assert marked == [[]] and finding.code == "noisy-signal" and "noisy" in finding.text


def test_values_that_cannot_be_are_marked():
    hot = np.full(TIME.size, 350.0) + 0.1 * RNG.standard_normal(TIME.size)
    hot[40:43] = 700.0
    marked, findings = check(channel("coolant_temperature", hot, unit="K"))
    assert marked == [[40, 41, 42]] and findings[0].code == "impossible-values"


def test_an_engine_speed_that_leaps_and_stays_is_told():
    # Planted: two seconds of another column under its name.
    rpm = RPM.copy()
    rpm[500:700] = 231.0 + (np.arange(200) % 5)
    marked, findings = check(channel("engine_speed", rpm))
    assert marked == [[]] and [finding.code for finding in findings] == ["engine-speed-leaps"]
    assert findings[0].text.split(" leaps ")[1].startswith("2 times")


def test_an_engine_that_revs_up_between_two_values_of_a_slow_copy_does_not_leap():
    # Planted, regression: from idle to the two-step in a quarter of a second, rows of 50 Hz repeat a copy of 10 Hz
    time_s = np.arange(0.0, 12.0, 0.02)
    rpm = 900.0 + 4000.0 * np.clip((time_s - 3.0) / 0.25, 0.0, 1.0) + 40.0 * np.sin(9.0 * time_s)
    held = rpm[(np.arange(time_s.size) // 5) * 5]
    assert check(channel("engine_speed", held, time_s=time_s, rate_hz=10.0)) == ([[]], [])


def test_an_opened_contact_is_marked():
    oil = 350e3 + 2e3 * RNG.standard_normal(TIME.size)
    oil[[333, 800]] = 0.0
    marked, (finding,) = check(channel("oil_pressure", oil, unit="Pa"))
    assert marked == [[333, 800]] and finding.code == "opened-contact"


def test_a_fault_beside_a_missing_sample_is_still_found():
    rpm = RPM.copy()
    rpm[400], rpm[402] = np.nan, 0.0
    marked, findings = check(channel("engine_speed", rpm))
    assert marked == [[400, 402]] and len(findings) == 1


def test_the_given_channel_is_not_written_to():
    rpm = RPM.copy()
    rpm[300] = 0.0
    given = channel("engine_speed", rpm)
    check_health(replace(a_log("x"), channels=(given,)))
    assert np.array_equal(given.values, rpm)


def test_unknown_channels_are_left_alone():
    assert check(channel("Nitrous Bottle", np.where(TIME > 5, 0.0, 5000.0))) == ([[]], [])


@pytest.mark.parametrize("turns", [28.0, 30.0 * 24])
def test_lost_pulses_of_a_wheel_logged_in_turns_or_pulses_are_marked_as_of_one_logged_as_speed(turns):
    # Planted: a zero of 0.15 s and half the pulses for 0.3 s; a wheel of 2.1 m, then one of 2 m that counts 24 a turn
    lost, halved = (TIME >= 8.0) & (TIME < 8.15), (TIME >= 9.0) & (TIME < 9.3)
    values = turns * SPEED * np.where(lost, 0.0, np.where(halved, 0.5, 1.0))
    (marked,), findings = check(channel("wheel_speed_fl", values, resolution=0.6))
    assert marked == np.flatnonzero(lost | halved).tolist()
    assert [one.code for one in findings] == ["speed-dropouts", "speed-noise"]


@pytest.mark.parametrize("turns", [28.0, 30.0 * 24])
def test_a_sound_wheel_logged_in_turns_is_left_alone(turns):
    values = turns * np.where(SPEED < 1.1, 0.0, SPEED)
    assert check(channel("wheel_speed_fl", values, resolution=0.6)) == ([[]], [])


def test_a_shaft_that_keeps_its_last_value_until_a_tooth_is_overdue_is_a_note():
    # Planted: tires that stop from a burnout, one magnet a turn, 0.6 s until it says zero; then the run
    shaft = np.interp(TIME, [0.0, 1.0, 1.2, 5.0, 10.0], [3000.0, 3000.0, 900.0, 0.0, 7000.0])
    shaft = shaft + 3.0 * RNG.standard_normal(TIME.size)
    shaft = np.round(np.where((TIME > 1.2) & (TIME < 1.8), 900.0, np.where((TIME >= 1.8) & (TIME < 5.0), 0.0, shaft)))
    marked, (finding,) = check(channel("driveshaft_speed", shaft))
    assert (finding.code, finding.level) == ("speed-kept-until-overdue", "note")
    assert marked[0][0] == pytest.approx(121, abs=1) and marked[0][-1] == 179


def test_a_shaft_that_stands_and_goes_on_is_stuck():
    shaft = np.round(700.0 * TIME + 3.0 * RNG.standard_normal(TIME.size))
    shaft[400:480] = shaft[400]
    _, (finding,) = check(channel("driveshaft_speed", shaft))
    assert (finding.code, finding.level) == ("stuck-signal", "caution")


def test_a_motor_that_swings_as_it_comes_up_from_rest_is_no_noise():
    # Planted: 0 until 2 s, then up, down to nearly nothing and up again with the car
    time_s = np.arange(0.0, 6.0, 0.05)
    rpm = np.interp(time_s, [2.05, 2.1, 2.15, 2.2, 2.25, 2.3, 6.0], [0.0, 616.0, 747.0, 64.0, 28.0, 734.0, 5000.0])
    _, findings = check(channel("engine_speed", rpm, time_s=time_s, rate_hz=20.0))
    assert findings == []
    _, findings = check(channel("engine_speed", np.where(time_s < 2.1, 700.0, rpm), time_s=time_s, rate_hz=20.0))
    assert [one.code for one in findings] == ["engine-speed-noise"]


def test_a_motor_that_stood_at_its_offset_and_leaps_away_is_no_other_column():
    # Planted: 10 rpm at rest, then over 1,000 from one row to the next as the shafts wind up
    time_s = np.arange(0.0, 6.0, 0.05)
    rpm = np.interp(time_s, [2.0, 2.05, 2.1, 2.2, 6.0], [10.0, 1070.0, 840.0, 900.0, 5000.0])
    _, findings = check(channel("engine_speed", rpm, time_s=time_s, rate_hz=20.0))
    assert findings == []


def test_a_pressure_that_stands_for_most_of_a_log_is_stuck_though_its_noise_is_gone():
    # Planted: oil pressure with 3 kPa of noise, printed to 0.1 kPa, that stops at a third of the log for good
    oil = np.round(4e5 + 3e3 * RNG.standard_normal(TIME.size), -2)
    oil[TIME.size // 3 :] = oil[TIME.size // 3]
    (marked,), findings = check(channel("oil_pressure", oil, unit="Pa", resolution=100.0))
    assert [one.code for one in findings] == ["stuck-signal"]
    assert len(marked) == TIME.size - TIME.size // 3 - 1
