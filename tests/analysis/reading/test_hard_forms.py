"""Rows, clocks, counts and positions in forms that terminals, boards, sheets and phones write. All *planted*."""

from __future__ import annotations

import json

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import AROUND_M, hard_run, printed, table, usual

RUN = hard_run()
STAMPS = printed(RUN.time_s, 3)
BODY = table({"Time [s]": STAMPS, **usual(RUN), "Speed [km/h]": printed(3.6 * RUN.ground_speed, 2)}).decode()
LINES = BODY.splitlines()


def read(columns: dict[str, list[str]], *, without: str = "", time: str = "Time [s]") -> Log:
    """The log of a table with the usual columns but one beside what is given."""
    kept = {name: cells for name, cells in usual(RUN).items() if not without or not name.startswith(without)}
    stamps = {} if time in columns or not time else {time: STAMPS}
    (log,) = read_log(table({**stamps, **columns, **kept}), name="hard.csv")
    return log


def read_text(text: str) -> Log:
    (log,) = read_log(text.encode(), name="hard.txt")
    return log


def assert_reads(log: Log, channel: str, truth: np.ndarray) -> None:
    found = log.get(channel)
    assert found is not None, [one.name for one in log.channels]
    expected = np.interp(found.time_s, RUN.time_s - RUN.time_s[0], truth)
    np.testing.assert_allclose(found.values, expected, atol=0.006 * float(np.abs(truth).max()))


def codes(log: Log) -> dict[str, str]:
    return {finding.code: finding.level for finding in log.findings}


# Clocks


def at(pattern: str) -> list[str]:
    """Clock times from 14:03:05 on, by a pattern of hours, minutes, seconds and thousandths."""
    counted = [divmod(round(1000 * t), 1000) for t in RUN.time_s]
    return [pattern.format(h=14, p=2, m=3, s=5 + s, ms=ms, c=ms // 10, f=ms // 20) for s, ms in counted]


@pytest.mark.parametrize(
    "pattern",
    [
        "2026-05-03 {h}:{m:02d}:{s:02d}.{ms:03d} CEST",
        "2026-05-03 {h}:{m:02d}:{s:02d}.{ms:03d}+02",
        "Sun May 03 {h}:{m:02d}:{s:02d}.{ms:03d} 2026",
        "{h}:{m:02d}:{s:02d}.{ms:03d} 03/05/2026",
        "2026/05/03-{h}:{m:02d}:{s:02d}.{ms:03d}",
        "3.5.2026 {h}.{m:02d}.{s:02d}.{ms:03d}",
        "{p:02d}:{m:02d}:{s:02d}.{ms:03d} nachm.",
        "PT{m}M{s}.{ms:03d}S",
    ],
)
def test_clocks_of_other_habits(pattern):
    log = read({"Time": at(pattern)}, time="Time")
    assert_reads(log, "engine_speed", RUN.engine_speed)


@pytest.mark.parametrize(("pattern", "rate_hz"), [("{h}:{m:02d}:{s:02d}:{f:02d}", 50.0), ("03:{s:02d}:{c:02d}", 100.0)])
def test_a_clock_that_counts_pictures_or_hundredths(pattern, rate_hz):
    log = read({"Timecode": at(pattern)}, time="Timecode")
    assert log.time.last_s - log.time.first_s == pytest.approx(RUN.time_s[-1], abs=1.01 / rate_hz)


@pytest.mark.parametrize(("name", "step"), [("dt [ms]", 10.0), ("interval_us", 1e4), ("Zeitdifferenz [s]", 0.01)])
def test_steps_of_time_are_summed_and_told(name, step):
    log = read({name: printed(np.full(RUN.time_s.size, step), 2)}, time=name)
    assert_reads(log, "engine_speed", RUN.engine_speed)
    assert codes(log)["time-summed"] == "caution"


def test_a_time_stated_in_sixty_fourths():
    log = read({"Time [1/64 s]": printed(RUN.time_s * 64.0, 3)}, time="Time [1/64 s]")
    assert_reads(log, "engine_speed", RUN.engine_speed)


def test_the_newest_row_first_is_turned_round_and_told():
    log = read_text("\n".join([LINES[0], *LINES[:0:-1]]) + "\n")
    assert_reads(log, "engine_speed", RUN.engine_speed)
    assert codes(log)["newest-row-first"] == "caution"


@pytest.mark.parametrize("line", ["Fréquence d'échantillonnage : 100 Hz", "Intervallo di campionamento: 10 ms"])
def test_a_rate_stated_in_other_languages(line):
    log = read_text(f"{line}\n" + "\n".join(row.split(",", 1)[1] for row in LINES) + "\n")
    assert_reads(log, "engine_speed", RUN.engine_speed)


# Counts and positions


def test_counts_of_16_bits_that_ran_over_are_put_together():
    counts = np.round(RUN.engine_speed * 8.0) % 65536.0  # an eighth of a revolution a minute each: 8192 is 0 again
    assert np.any(np.diff(counts) < -50000)
    log = read({"Engine Speed [rpm]": printed(counts / 8.0, 2)}, without="Engine")
    assert_reads(log, "engine_speed", RUN.engine_speed)
    assert codes(log)["count-ran-over"] == "caution"


def test_what_falls_below_nought_of_an_unsigned_count_is_negative():
    g = RUN.acceleration / 9.80665
    log = read({"Accel Long [g]": printed(np.where(np.round(g, 3) < 0, g + 65.536, g), 3)})
    assert_reads(log, "acceleration", RUN.acceleration)


def test_a_signal_that_is_lost_is_no_count_that_ran_over():
    lost = RUN.engine_speed.copy()
    lost[500:540] = 0.0
    lost[700:730] = 0.0
    log = read({"Engine Speed [rpm]": printed(lost, 0)}, without="Engine")
    assert "count-ran-over" not in codes(log)


@pytest.mark.parametrize("written", ["{:04X}", "0x{:04X}"])
def test_hexadecimal_counts_are_read_and_told(written):
    cells = [written.format(round(rpm)) for rpm in RUN.engine_speed]
    log = read({"Engine Speed [rpm]": cells}, without="Engine")
    assert_reads(log, "engine_speed", RUN.engine_speed)
    assert codes(log)["numbers-written-otherwise"] == "caution"


def minutes(degrees: np.ndarray) -> list[str]:
    return [f"{int(one) * 100 + (one - int(one)) * 60:.5f}" for one in degrees]


@pytest.mark.parametrize(
    "written",
    [lambda x: printed(x * 1e7, 0), lambda x: printed(x * 1e6, 0), minutes],
    ids=["1e-7", "1e-6", "degrees and minutes"],
)
def test_positions_in_other_forms_are_brought_to_degrees(written):
    speed = {"Speed [km/h]": printed(3.6 * RUN.ground_speed, 2)}
    log = read({"Latitude": written(RUN.latitude), "Longitude": written(RUN.longitude), **speed})
    for channel in ("latitude", "longitude"):
        found = log.get(channel)
        assert found is not None and np.allclose(found.values, RUN.of(channel), atol=2e-6)
    assert codes(log)["position-form"] == "caution"
    assert_reads(log, "engine_speed", RUN.engine_speed)  # and the clock is as written


def test_positions_that_two_ways_fit_are_asked_about():
    # 5.2 degrees in 1e-7 or 52 in 1e-6, and no speed to tell them apart
    log = read({"Latitude": printed(RUN.latitude * 1e6, 0), "Longitude": printed(RUN.longitude * 1e6, 0)})
    assert log.get("latitude") is None and codes(log)["position-form"] == "caution"


def test_the_side_of_the_earth_beside_a_position_is_its_sign():
    west = {"Longitude": minutes(RUN.longitude), "E/W": ["W"] * RUN.time_s.size}
    log = read({"Latitude": minutes(RUN.latitude), "N/S": ["N"] * RUN.time_s.size, **west})
    assert_reads(log, "longitude", -RUN.longitude)


def test_phi_is_turned_round_into_lambda():
    log = read({"Phi": printed(1.0 / RUN.lambda_, 3)})
    assert_reads(log, "lambda", RUN.lambda_)
    assert "fuel-to-air" in codes(log)


def test_an_angle_called_phi_is_no_mixture():
    assert read({"Phi": printed(3.0 * np.sin(RUN.time_s), 2)}).get("lambda") is None


def test_gears_counted_from_nought_are_told_where_the_car_drives_in_its_0():
    speed = {"Speed [km/h]": printed(3.6 * RUN.ground_speed, 2)}
    log = read({"Gear": printed(np.maximum(RUN.gear - 1.0, 0.0), 0), **speed})
    found = log.get("gear")
    assert found is not None and np.array_equal(found.values, np.maximum(RUN.gear, 1.0))
    assert codes(log)["gear-from-zero"] == "caution"
    as_usual = read({"Gear": printed(RUN.gear, 0), **speed})
    assert "gear-from-zero" not in codes(as_usual)


def test_pulses_of_a_wheel_are_no_turns():
    turns = RUN.ground_speed / AROUND_M
    many = read({"Wheel FL [Hz]": printed(40.0 * turns, 1)})
    assert many.get("wheel_speed_fl") is None and codes(many)["wheel-pulses"] == "caution"
    one = read({"Wheel FL [Hz]": printed(turns, 2)})
    assert one.get("wheel_speed_fl") is not None and codes(one)["wheel-pulses"] == "caution"


@pytest.mark.parametrize(("a_turn", "told"), [(1.0, False), (2.0, True), (3.0, True)])
def test_a_receiver_beside_a_wheel_in_hz_shows_whether_it_counts_turns(a_turn, told):
    # Planted: one, two and three pulses a turn; by two a wheel would go less than a metre in each
    pulses = printed(a_turn * RUN.ground_speed / AROUND_M, 2)
    log = read({"Wheel FL [Hz]": pulses, "GPS Speed [km/h]": printed(3.6 * RUN.ground_speed, 2)})
    assert ("wheel-pulses" in codes(log)) == told


def test_a_manifold_flat_at_its_sensors_end_is_cut_off_and_not_stuck():
    cut = np.minimum(RUN.manifold_pressure, 155e3)
    log = read({"MAP [kPa]": printed(cut / 1e3, 1)}, without="MAP")
    found = log.get("manifold_pressure")
    assert found is not None and np.isfinite(found.values).all()
    assert "saturated-signal" in codes(log) and "stuck-signal" not in codes(log)


def test_no_value_between_a_slow_channels_samples_is_no_sample():
    slow = [cell if row % 5 == 0 else "NaN" for row, cell in enumerate(printed(RUN.lambda_, 3))]
    found = read({"Lambda": slow}).get("lambda")
    assert found is not None and found.values.size == RUN.time_s[::5].size and np.isfinite(found.values).all()


def test_a_tenth_of_a_unit():
    log = read({"Coolant Temp [0.1 K]": printed(10.0 * RUN.coolant_temperature, 0)})
    assert_reads(log, "coolant_temperature", RUN.coolant_temperature)


def test_a_throttle_in_degrees_is_a_part_of_a_right_angle():
    log = read({"Throttle [deg]": printed(90.0 * RUN.throttle, 1)}, without="Throttle")
    assert_reads(log, "throttle", RUN.throttle)
    assert codes(log)["unit-unusual"] == "caution"


# What stands around the rows


@pytest.mark.parametrize(
    "write",
    [
        lambda lines: [f"{number:6d}\t{line}" for number, line in enumerate(lines, start=1)],
        lambda lines: [f"May  3 14:03:05 host logger: {line}" for line in lines],
        lambda lines: ["From: pit", "", *(f"> {line}" for line in lines), "> ", "-- ", "pit"],
        lambda lines: [lines[0], *(f"[{line}]," for line in lines[1:])],
        lambda lines: [f"\x1b[32m{line}\x1b[0m" for line in lines],
        lambda lines: [line.replace(",", "~") for line in lines],
        lambda lines: [line.replace(",", "\x1f") for line in lines],
        lambda lines: [f"{line};" for line in lines],
    ],
    ids=["numbers", "host", "mail", "brackets", "colours", "tilde", "unit separator", "semicolon behind"],
)
def test_what_stands_around_rows_is_taken_off(write):
    log = read_text("\n".join(write(LINES)) + "\n")
    assert_reads(log, "engine_speed", RUN.engine_speed)
    assert_reads(log, "manifold_pressure", RUN.manifold_pressure)


def test_a_first_column_of_row_numbers_is_no_line_number():
    rows = [f"{number}\t{line}" for number, line in enumerate(LINES[1:])]
    log = read_text(
        "\n".join([f"No.\t{LINES[0]}".replace(",", "\t"), *(row.replace(",", "\t") for row in rows)]) + "\n"
    )
    assert "marks-taken-off" not in codes(log)


def test_negative_numbers_as_bookkeepers_write_them_are_no_brackets():
    shifted = RUN.time_s - 2.0
    stamps = [f"({-t:.2f})" if t < 0 else f"{t:.2f}" for t in shifted]
    log = read({"Time [s]": stamps, "Lateral [g]": [f"({x:.2f})" for x in 0.1 + 0.0 * RUN.time_s]})
    assert log.time.first_s == pytest.approx(-2.0)


def test_objects_of_json_and_named_values_are_put_into_columns():
    names = ("time_s", "rpm", "throttle_pct", "map_kpa", "speed_kmh")
    rows = [dict(zip(names, line.split(","), strict=True)) for line in LINES[1:]]
    as_json = "\n".join(json.dumps({name: float(value) for name, value in row.items()}) for row in rows)
    as_pairs = "\n".join(" ".join(f"{name}={value}" for name, value in row.items()) for row in rows)
    for text in (as_json, as_pairs):
        log = read_text(text + "\n")
        assert_reads(log, "engine_speed", RUN.engine_speed)
        assert "marks-taken-off" in codes(log)


def test_digits_of_another_script():
    digits = str.maketrans("0123456789.", "٠١٢٣٤٥٦٧٨٩٫")
    log = read_text(
        "\n".join([LINES[0].replace(",", ";"), *(line.replace(",", ";").translate(digits) for line in LINES[1:])])
    )
    assert_reads(log, "engine_speed", RUN.engine_speed)
