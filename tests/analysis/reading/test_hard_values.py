"""Values that cannot be in the unit written, and speeds without one: the hard logs. All *planted*."""

import functools

import numpy as np
import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading import check_between_channels, read_log
from tests.analysis.reading.hard_logs import assert_holds, codes, read_beside_usual
from tests.analysis.reading.hard_run import CAR, hard_run, printed, table, usual

RUN = hard_run()
PSI_PA, INHG_PA, MPH_MPS, G = 6894.757293168, 3386.389, 0.44704, 9.80665
STAMPS = printed(RUN.time_s, 3)
read = functools.partial(read_beside_usual, RUN)


def to_f(kelvin: np.ndarray) -> np.ndarray:
    return (kelvin - 273.15) * 1.8 + 32.0


MAP, OIL = RUN.manifold_pressure, RUN.oil_pressure
BOOST = RUN.of("boost")


@pytest.mark.parametrize(
    ("header", "values", "channel"),
    [
        ("MAP [psi]", MAP / 1e3, "manifold_pressure"),
        ("MAP [kPa]", MAP / PSI_PA, "manifold_pressure"),
        ("MAP [bar]", MAP / 1e3, "manifold_pressure"),
        ("MAP [kPa]", MAP / 1e5, "manifold_pressure"),
        ("MAP [kPa]", MAP / 1e2, "manifold_pressure"),
        ("Boost [psi]", BOOST / 1e3, "boost"),
        ("Boost [kPa]", BOOST / 1e5, "boost"),
        ("Boost [bar]", BOOST / PSI_PA, "boost"),
        ("Oil Pressure [bar]", OIL / PSI_PA, "oil_pressure"),
        ("Oil Pressure [kPa]", OIL / 1e5, "oil_pressure"),
        ("Oil Pressure [psi]", OIL / 1e3, "oil_pressure"),
        ("Fuel Pressure [kPa]", RUN.fuel_pressure / 1e5, "fuel_pressure"),
        ("Coolant Temp [°C]", to_f(RUN.coolant_temperature), "coolant_temperature"),
        ("Coolant Temp [K]", RUN.coolant_temperature - 273.15, "coolant_temperature"),
        ("EGT [°C]", to_f(RUN.exhaust_temperature), "exhaust_temperature"),
        ("Throttle [%]", RUN.throttle, "throttle"),
        ("Throttle [%]", RUN.throttle * 1000.0, "throttle"),
        ("Accel X [g]", RUN.acceleration, "acceleration"),
        ("Accel X [m/s2]", RUN.acceleration / G, "acceleration"),
    ],
)
def test_a_unit_that_idle_and_full_load_refute_is_mended_and_told(header, values, channel):
    without = {"manifold_pressure": "MAP", "boost": "MAP", "throttle": "Throttle"}.get(channel, "nothing")
    log = read({header: printed(values, 4)}, without=without)
    assert_holds(log, channel, RUN.of(channel))
    assert "unit-doubted" in codes(log)


def test_an_altimeter_s_inches_called_kilopascal_are_inches():
    steady = 29.9 + 0.01 * (np.arange(RUN.time_s.size) % 2)
    log = read({"Baro [kPa]": printed(steady)})
    assert_holds(log, "barometer", steady * INHG_PA)
    assert "unit-doubted" in codes(log)


def test_values_that_fit_no_unit_are_set_aside_and_told():
    log = read({"Coolant Temp [°C]": printed((RUN.coolant_temperature - 273.15) * 1000.0, 0)})
    assert log.get("coolant_temperature") is None and "Coolant Temp [°C]" in [one.name for one in log.channels]
    assert "unit-refuted" in codes(log)


def test_what_can_be_but_would_be_usual_in_another_unit_is_read_as_written_and_told():
    log = read({"Boost [kPa]": printed(BOOST / PSI_PA)}, without="MAP")
    assert_holds(log, "boost", 1e3 * BOOST / PSI_PA)
    assert "unit-unusual" in codes(log)


def test_an_oil_pressure_that_is_lost_is_no_unit():
    noise = np.random.default_rng(5).normal(4.0, 0.5, RUN.time_s.size)
    log = read({"Oil Pressure [kPa]": printed(noise)})
    assert_holds(log, "oil_pressure", 1e3 * noise)
    assert not codes(log) & {"unit-doubted", "unit-refuted"}


@pytest.mark.parametrize(
    "header",
    ["Engine Speed [°C]", "Manifold"],
)
def test_what_nothing_speaks_against_is_left_as_written(header):
    log = read({header: printed(RUN.gear, 0), "Oil Pressure [kPa]": printed(OIL / 1e3, 1)})
    assert_holds(log, "oil_pressure", OIL)
    assert not codes(log) & {"unit-doubted", "unit-refuted", "unit-unusual"}


@pytest.mark.parametrize(
    ("header", "scale"),
    [
        ("Engine Speed [min^-1]", 1.0),
        ("Engine Speed [r.p.m.]", 1.0),
        ("Engine Speed (rot/min)", 1.0),
        ("Engine Speed [tr/min]", 1.0),
        ("Engine Speed [U/min]", 1.0),
        ("Engine Speed [об/мин]", 1.0),
        ("Engine Speed [x1000]", 1e-3),
        ("Engine Speed [x1000 r/min]", 1e-3),
        ("RPM x1000", 1e-3),
        ("RPM/10", 0.1),
        ("kRPM", 1e-3),
    ],
)
def test_revolutions_a_minute_and_their_multiples_however_written(header, scale):
    log = read({header: printed(RUN.engine_speed * scale, 4)}, without="Engine")
    assert_holds(log, "engine_speed", RUN.engine_speed)


def test_points_that_group_thousands_among_decimal_commas():
    columns = {
        "Zeit [s]": printed(RUN.time_s, 3, decimal=","),
        "Drehzahl [1/min]": printed(RUN.engine_speed, 0, grouped="."),
        "Ladedruck [bar]": printed(BOOST / 1e5, 3, decimal=","),
    }
    (log,) = read_log(table(columns, delimiter=";"), name="hard.csv")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert_holds(log, "boost", BOOST)


POSITION = {"Latitude": printed(RUN.latitude, 7), "Longitude": printed(RUN.longitude, 7)}
DISTANCE = {"Distance [ft]": printed(RUN.distance_m / 0.3048, 1)}
WHEEL = {"Driven Wheel Speed [km/h]": printed(RUN.ground_speed * 3.6, 2)}


@pytest.mark.parametrize("witness", [POSITION, DISTANCE, WHEEL], ids=["position", "distance", "another speed"])
@pytest.mark.parametrize("mps", [MPH_MPS, 1.0, 1 / 3.6], ids=["mph", "m/s", "km/h"])
def test_a_speed_without_a_unit_is_settled_by_what_else_the_log_holds(witness, mps):
    log = read({"Ground Speed": printed(RUN.ground_speed / mps, 3), **witness})
    assert_holds(log, "ground_speed", RUN.ground_speed)
    assert "speed-unit-settled" in codes(log) and "speed-unit-assumed" not in codes(log)


def test_a_speed_without_a_unit_is_settled_by_the_gearing():
    log = read({"Driven Wheel Speed": printed(RUN.ground_speed, 3)})
    (log,) = check_between_channels([log], CAR)
    assert_holds(log, "wheel_speed_driven", RUN.ground_speed)
    assert "speed-scale" in codes(log)


def test_a_written_unit_gives_way_to_the_positions_and_is_told():
    log = read({"GPS Speed [km/h]": printed(RUN.ground_speed / MPH_MPS, 3), **POSITION})
    assert_holds(log, "gps_speed", RUN.ground_speed)
    assert "unit-doubted" in codes(log)


def test_a_speed_that_nothing_settles_is_told():
    assert "speed-unit-assumed" in codes(read({"Ground Speed": printed(RUN.ground_speed * 3.6, 2)}))


def test_places_are_no_speeds():
    travel = printed(20.0 * np.sin(RUN.time_s) + 20.0)
    headers = ("Wheel Position FL", "Wheel Pos FR [mm]", "Damper RL", "FR [mm]", "Vehicle Position", "Pos X [m]", "X")
    log = read(dict.fromkeys(headers, travel))
    speeds = ("wheel_speed_fl", "wheel_speed_fr", "wheel_speed_rl", "wheel_speed_rr", "wheel_speed_driven")
    assert not [name for name in (*speeds, "ground_speed", "acceleration") if log.get(name) is not None]


@pytest.mark.parametrize("header", ["n", "N", "Ne", "n [1/min]"])
def test_a_letter_that_turns_like_an_engine_is_taken_for_it_and_told(header):
    log = read({header: printed(RUN.engine_speed, 0)}, without="Engine")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert "engine-speed-assumed" in codes(log)


TURNS = printed(RUN.engine_speed, 0)
WAVE = printed(2500.0 + 2400.0 * np.sin(RUN.time_s * 1.7), 0)
SPEED = {"Speed [km/h]": printed(RUN.ground_speed * 3.6, 2)}


@pytest.mark.parametrize("name", ["n", "N", "Ne"])
@pytest.mark.parametrize("beside", [{}, {"Wert": WAVE}, {"n_mot": TURNS}], ids=["alone", "noise", "copy"])
def test_a_letter_without_an_engine_s_quantities_is_asked_of_the_gearing(name, beside):
    (log,) = read_log(table({"Time [s]": STAMPS, name: TURNS, **SPEED, **beside}), name="hard.csv")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    if "n_mot" not in beside:
        assert "engine-speed-assumed" in codes(log)


def test_of_two_letters_the_one_that_follows_the_gearing_is_taken_and_told():
    log = read({"n": WAVE, "Ne": TURNS, **SPEED}, without="Engine")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert "engine-speed-assumed" in codes(log)


def test_two_letters_that_are_copies_are_one_engine():
    log = read({"n": TURNS, "Ne": printed(RUN.engine_speed + 10.0, 0)}, without="Engine")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert "engine-speed-assumed" in codes(log)


@pytest.mark.parametrize(
    ("columns", "without"), [({"n": TURNS}, ""), ({"n": WAVE, "Ne": TURNS}, "Engine")], ids=["nothing else", "two"]
)
def test_a_letter_that_nothing_shows_is_not_taken_and_asked_about(columns, without):
    kept = {name: cells for name, cells in usual(RUN).items() if without and not name.startswith(without)}
    (log,) = read_log(table({"Time [s]": STAMPS, **kept, **columns}), name="hard.csv")
    assert log.get("engine_speed") is None and "engine-speed-unclear" in codes(log)
    assert {doubt.column for doubt in log.doubts if "engine_speed" in doubt.channels} == set(columns)


@pytest.mark.parametrize("header", ["n dash", "n1", "n2", "n_CAN"])
def test_a_letter_with_a_number_or_a_place_is_no_wheel_s_speed(header):
    log = read({header: TURNS})
    assert header in [one.name for one in log.channels]


def test_a_torque_is_no_engine_speed():
    assert read({"Nm": printed(RUN.engine_speed, 0)}, without="Engine").get("engine_speed") is None


@pytest.mark.parametrize(
    ("header", "values", "channel"),
    [
        ("Régime (tr/mn)", RUN.engine_speed, "engine_speed"),
        ("Varvtal (v/min)", RUN.engine_speed, "engine_speed"),
        ("エンジン回転数rpm", RUN.engine_speed, "engine_speed"),
        ("Drosselklappe [Proz.]", RUN.throttle * 100.0, "throttle"),
        ("GASPEDAL_PROZENT", RUN.throttle * 100.0, "throttle"),
        ("pedal_percent", RUN.throttle * 100.0, "throttle"),
        ("TPS [0-1]", RUN.throttle, "throttle"),
        ("MAP inHgA", MAP / INHG_PA, "manifold_pressure"),
        ("进气压力kPa", MAP / 1e3, "manifold_pressure"),
        ("ブースト圧kPa", BOOST / 1e3, "boost"),
        ("水温℃", RUN.coolant_temperature - 273.15, "coolant_temperature"),
        ("냉각수 온도℃", RUN.coolant_temperature - 273.15, "coolant_temperature"),
        ("AFR_WB", RUN.lambda_ * 14.7, "lambda"),
        ("λ", RUN.lambda_, "lambda"),
        ("Gang Nr.", RUN.gear, "gear"),
    ],
)
def test_names_and_units_as_other_loggers_write_them(header, values, channel):
    without = {"engine_speed": "Engine", "throttle": "Throttle", "manifold_pressure": "MAP", "boost": "MAP"}
    log = read({header: printed(values, 4)}, without=without.get(channel, "nothing"))
    assert_holds(log, channel, RUN.of(channel))


def test_a_throttle_counted_from_the_other_end_is_told():
    log = read({"Throttle [%]": printed(100.0 - 100.0 * RUN.throttle, 1)}, without="Throttle")
    assert "unit-unusual" in codes(log)
    assert "unit-unusual" not in codes(read({}))


# Doubts that one column's values alone leave


@pytest.mark.parametrize("header", ["Coolant Temp [degF]", "Oil Temp [°F]"])
def test_a_warm_engine_in_celsius_that_is_said_to_be_fahrenheit_is_asked_about(header):
    # 85 degF is a cold engine and 85 degC a warm one: both can be, so it is read as written
    log = read({header: printed(np.linspace(84.0, 96.0, RUN.time_s.size), 1)}, without=header.split(" [")[0])
    (doubt,) = [one for one in log.doubts if one.column == header]
    assert doubt.unit in header and "degC" in doubt.units and "unit-unusual" in codes(log)


def test_an_exhaust_that_stays_cold_at_full_load_in_fahrenheit_is_asked_about():
    cells = printed(np.where(RUN.time_s < 3.0, 300.0, 820.0) + 5.0 * np.sin(RUN.time_s), 0)
    assert "unit-unusual" in codes(read({"EGT [degF]": cells}, without="EGT"))
    hot = printed(np.where(RUN.time_s < 3.0, 600.0, 1250.0) + 5.0 * np.sin(RUN.time_s), 0)
    assert "unit-unusual" not in codes(read({"EGT [degF]": hot}, without="EGT"))


def test_a_cold_day_in_fahrenheit_is_believed():
    log = read({"Coolant Temp [degF]": printed(np.linspace(50.0, 70.0, RUN.time_s.size), 1)}, without="Coolant")
    assert "unit-unusual" not in codes(log)


FUEL = 3e5 + BOOST  # behind a regulator that follows the manifold


def test_fuel_that_follows_the_manifold_tells_its_unit():
    log = read({"Fuel Pressure [bar]": printed(FUEL / PSI_PA, 2)}, without="Fuel")
    assert_holds(log, "fuel_pressure", FUEL)
    assert "unit-doubted" in codes(log)


def test_fuel_in_too_many_bars_is_asked_about_and_a_rail_is_not():
    bars = printed(np.full(RUN.time_s.size, 50.0) + 0.1 * np.sin(RUN.time_s), 2)
    doubted = read({"Fuel Pressure [bar]": bars}, without="Fuel")
    assert "unit-unusual" in codes(doubted) and doubted.get("fuel_pressure").values.max() > 4.9e6
    assert "unit-unusual" not in codes(read({"Fuel Rail Pressure [bar]": bars}, without="Fuel"))


@pytest.mark.parametrize(
    ("header", "cells", "outside", "level"),
    [
        ("Oil Pressure abs [bar]", (OIL + 98e3) / 1e5, 98e3, "note"),
        ("Oil Pressure [bara]", (OIL + 101325.0) / 1e5, None, "caution"),
        ("Oil Pressure absolute [kPa]", (OIL + 101325.0) / 1e3, None, "caution"),
    ],
)
def test_an_oil_pressure_logged_absolute_is_kept_as_gauge(header, cells, outside, level):
    beside = {} if outside is None else {"Barometer [kPa]": printed(np.full(RUN.time_s.size, outside / 1e3), 1)}
    log = read({header: printed(cells, 3), **beside}, without="Oil P")
    assert_holds(log, "oil_pressure", OIL)
    assert [one.level for one in log.findings if one.code == "gauge-or-absolute"] == [level]
    channel = log.get("oil_pressure")
    assert channel.logged.value(channel.values[0]) == pytest.approx(cells[0], rel=1e-3)  # shown as the log has it


def test_a_crankcase_logged_absolute_may_be_drawn_down():
    absolute = 90e3 + 4e3 * np.sin(RUN.time_s)
    log = read(
        {"Crankcase Pressure abs [kPa]": printed(absolute / 1e3, 1), "Barometer [kPa]": ["98.0"] * RUN.time_s.size}
    )
    found = log.get("crankcase_pressure")
    assert found is not None
    np.testing.assert_allclose(found.values, absolute - 98e3, atol=100.0)


def test_a_pressure_said_absolute_that_falls_to_nought_stays():
    log = read({"Oil Pressure abs [bar]": printed(np.where(RUN.time_s < 3.0, 0.0, OIL / 1e5), 3)}, without="Oil P")
    assert_holds(log, "oil_pressure", np.where(RUN.time_s < 3.0, 0.0, OIL))
    assert "gauge-or-absolute" in codes(log)


@pytest.mark.parametrize(("mps", "unit"), [(1.0, "m/s"), (1 / 3.6, "km/h"), (MPH_MPS, "mph")])
def test_an_accelerometer_settles_the_unit_of_a_speed(mps, unit):
    columns = {"Speed": printed(RUN.ground_speed / mps, 2), "Accel Long [g]": printed(RUN.acceleration / G, 3)}
    log = read(columns, without="Speed")
    assert_holds(log, "wheel_speed_driven", RUN.ground_speed)
    assert [one.text for one in log.findings if one.code == "speed-unit-settled" and unit in one.text]


def test_a_lost_sensor_at_the_end_of_its_count_hides_no_unit():
    rpm = RUN.engine_speed.copy()
    rpm[500:560] = 65535.0
    log = read({"RPM": printed(rpm, 0)}, without="Engine")
    found = log.get("engine_speed")
    assert found is not None and not np.isfinite(found.values[505:555]).any()


def test_kilometres_an_hour_in_turkish():
    log = read({"Hız [km/s]": printed(3.6 * RUN.ground_speed, 2)}, without="Speed")
    assert_holds(log, "wheel_speed_driven", RUN.ground_speed)


def test_where_a_channel_comes_from_may_stand_behind_its_unit():
    log = read({"Oil Press psi (Analog 3)": printed(OIL / PSI_PA, 2)}, without="Oil P")
    assert_holds(log, "oil_pressure", OIL)


def test_a_written_unit_that_an_accelerometer_speaks_against_is_told():
    columns = {"Speed [mph]": printed(3.6 * RUN.ground_speed, 2), "Accel Long [g]": printed(RUN.acceleration / G, 3)}
    log = read(columns, without="Speed")
    told = [one.text for one in log.findings if one.code == "unit-unusual"]
    assert len(told) == 1 and "km/h" in told[0]
    assert_holds(log, "wheel_speed_driven", 3.6 * RUN.ground_speed * MPH_MPS)  # as written


def test_whole_tenths_of_a_degree_are_read_so_and_told():
    cells = printed(10.0 * (RUN.coolant_temperature - 273.15), 0)
    log = read({"Coolant Temp [C]": cells}, without="Coolant")
    assert_holds(log, "coolant_temperature", RUN.coolant_temperature)
    assert "unit-doubted" in codes(log)


def test_a_throttle_that_counts_to_the_end_of_a_byte_is_read_so_and_told():
    share = RUN.throttle / RUN.throttle.max()
    log = read({"Throttle [%]": printed(255.0 * share, 0)}, without="Throttle")
    assert_holds(log, "throttle", share)
    assert "unit-doubted" in codes(log)


@pytest.mark.parametrize(("mark", "delimiter"), [(",", "\t"), (".", "\t"), (".", ";"), (",", "|")])
def test_thousands_grouped_where_no_decimal_shows_the_mark(mark, delimiter):
    # 980 is followed by 1,000: a decimal mark would make the time fall
    def grouped(values: np.ndarray) -> list[str]:
        return [f"{value:,.0f}".replace(",", mark) for value in values]

    columns = {
        "Time [ms]": grouped(1000.0 * RUN.time_s),
        "RPM": grouped(RUN.engine_speed),
        "MAP [mbar]": grouped(MAP / 100),
    }
    (log,) = read_log(table(columns, delimiter=delimiter), name="hard.csv")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert_holds(log, "manifold_pressure", MAP)


def test_three_decimals_throughout_are_no_thousands():
    columns = {"Time [s]": printed(RUN.time_s + 1.0, 3), "RPM x1000": printed(RUN.engine_speed / 1e3, 3)}
    (log,) = read_log(table(columns, delimiter="\t"), name="hard.csv")
    assert_holds(log, "engine_speed", RUN.engine_speed)


def test_units_that_leave_out_the_times_stand_one_column_to_the_left():
    rows = [
        f"{t},{rpm},{oil}"
        for t, rpm, oil in zip(STAMPS, printed(RUN.engine_speed, 0), printed(OIL / 1e5, 2), strict=True)
    ]
    (log,) = read_log("\n".join(["Time,RPM,Oil Pressure", "rpm,bar", *rows]).encode(), name="hard.csv")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert_holds(log, "oil_pressure", OIL)


def test_a_time_that_counts_rows_is_refused():
    columns = {"Time [s]": printed(np.arange(RUN.time_s.size), 0), "Speed [km/h]": printed(3.6 * RUN.ground_speed, 2)}
    text = table({**columns, "Engine Speed [rpm]": printed(RUN.engine_speed, 0)})
    with pytest.raises(NotALog, match="counts rows at a rate that nothing tells"):
        read_log(text, name="hard.csv")


@pytest.mark.parametrize("header", ["TPS", "TPS (‰)", "TPS [per mille]", "TPS_permil", "TPS x10", "TPS [o/oo]"])
def test_a_throttle_in_thousandths_is_read_so(header):
    cells = printed(np.round(1000.0 * np.clip(1.02 * RUN.throttle, 0.0, 1.0)), 0)
    log = read({header: cells}, without="Throttle")
    assert_holds(log, "throttle", np.clip(1.02 * RUN.throttle, 0.0, 1.0))
    assert ("unit-assumed" in codes(log)) == (header in ("TPS", "TPS x10"))


def test_counts_of_a_throttle_that_stop_at_no_round_number_are_asked_about_with_thousandths_among_the_units():
    # Planted: a converter's counts, 90 shut and 930 open
    log = read({"TPS": printed(np.round(90.0 + 840.0 * RUN.throttle), 0)}, without="Throttle")
    assert log.get("throttle") is None
    (asked,) = [doubt for doubt in log.doubts if doubt.column == "TPS"]
    assert "‰" in asked.units


@pytest.mark.parametrize("header", ["Accel X [mG]", "Accel X [milli g]", "accel_x_mg", "Acceleration X (mg)"])
def test_an_accelerometer_in_thousandths_of_gravity_is_read_so(header):
    assert_holds(read({header: printed(RUN.acceleration / G * 1e3, 0)}), "acceleration", RUN.acceleration)


def test_an_accelerometer_in_thousandths_that_says_no_unit_is_asked_about_with_them_among_the_units():
    log = read({"Accel X": printed(RUN.acceleration / G * 1e3, 0)})
    assert log.get("acceleration") is None
    (asked,) = [doubt for doubt in log.doubts if doubt.column == "Accel X"]
    assert "mG" in asked.units
