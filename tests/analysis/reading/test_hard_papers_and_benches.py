"""Data as test benches and papers head it, tires and pulses told in a head, headers and units of another column.

All *planted*: each log is one run (`hard_run`) written as somebody would.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.given.car import Car
from passband.analysis.reading import read_log
from passband.analysis.reading.health.speed_scale import mend_engine_scale, speeds_from_turning
from tests.analysis.reading.hard_run import Cells, hard_run, printed, table, usual

RUN = hard_run(rate_hz=50.0)
STAMPS = printed(RUN.time_s, 2)


def read(data: bytes) -> Log:
    (log,) = read_log(data, name="hard.csv")
    return log


def read_columns(columns: dict[str, Cells], *, delimiter: str = ",", above: str = "") -> Log:
    return read(above.encode() + table({"Time [s]": STAMPS, **columns}, delimiter=delimiter))


def assert_reads(log: Log, *channels: str, within: float = 0.006) -> None:
    for channel in channels:
        found, truth = log.get(channel), RUN.of(channel)
        assert found is not None, [one.name for one in log.channels]
        np.testing.assert_allclose(found.values, truth, atol=within * float(np.abs(truth).max()))


def levels(log: Log) -> dict[str, str]:
    """But for the run's own leap of engine speed off the line, and a plain speed's wheel."""
    return {one.code: one.level for one in log.findings if one.code != "engine-speed-leaps"}


def test_formula_signs_with_their_indices():
    log = read_columns({
        "omega_e [rad*s^-1]": printed(RUN.engine_speed * math.pi / 30.0, 2),
        "alpha_DK [%]": printed(100 * RUN.throttle, 1),
        "p_L [mbar]": printed(RUN.manifold_pressure / 100.0, 0), "TÖl [°C]": printed(RUN.oil_temperature - 273.15, 1),
        "T_Abg1 [degC]": printed(RUN.exhaust_temperature - 273.15, 0),
    })  # fmt: skip
    assert_reads(log, "engine_speed", "throttle", "manifold_pressure", "oil_temperature")
    assert log.get("exhaust_temperature_1") is not None and not log.doubts


def test_names_that_tell_their_place_their_sensor_and_their_sign():
    log = read_columns({
        '"Rotational speed of crankshaft, encoder 360 ppr (rpm)"': printed(RUN.engine_speed, 0),
        '"Plenum pressure p_pl (kPa, abs.)"': printed(RUN.manifold_pressure / 1e3, 1),
        '"Exhaust gas temperature upstream of turbine, K-type (°C)"': printed(RUN.exhaust_temperature - 273.15, 0),
        "Coolant temperature at radiator outlet (°C)": printed(RUN.coolant_temperature - 293.15, 1),
        '"Relative air/fuel ratio, lambda (-)"': printed(RUN.lambda_, 3),
    })  # fmt: skip
    assert_reads(log, "engine_speed", "manifold_pressure", "exhaust_temperature", "lambda")
    assert log.get("coolant_temperature") is None  # behind the radiator it is another's


def test_phi_of_two_banks_is_lambda_of_two():
    phi = {f"Phi Bank {bank}": printed(1.0 / (RUN.lambda_ * scale), 3) for bank, scale in ((1, 1.0), (2, 1.05))}
    log = read_columns({**usual(RUN), **phi})
    one, two = log.get("lambda_1"), log.get("lambda_2")
    assert one is not None and two is not None
    assert one.values == pytest.approx(RUN.lambda_, abs=2e-3)
    assert two.values == pytest.approx(1.05 * RUN.lambda_, abs=2e-3)


def test_pulses_a_turn_told_in_a_header_make_turns_of_pulses():
    log = read_columns({"Engine pickup (3 pulses per rev) [Hz]": printed(RUN.engine_speed / 20.0, 1)})
    assert_reads(log, "engine_speed")
    assert not levels(log)


def test_a_throttles_plate_goes_before_the_pedal_wherever_it_stands():
    pedal = printed(60.0 * RUN.throttle, 1)
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Accelerator pedal [%]": pedal,
                        "Throttle plate [%]": printed(100 * RUN.throttle, 1)})  # fmt: skip
    assert_reads(log, "throttle")


def test_a_slower_group_padded_with_nan_keeps_its_own_time():
    slow = {"time_5Hz": printed(RUN.time_s[::10], 2), "v_gps_mps": printed(RUN.ground_speed[::10], 2)}
    padded = {name: [*cells, *["NaN"] * (RUN.time_s.size - len(cells))] for name, cells in slow.items()}
    log = read(table({"time_50Hz": STAMPS, "n_mot_rpm": printed(RUN.engine_speed, 0), **padded}))
    assert_reads(log, "engine_speed")
    found = log.get("gps_speed")
    assert found is not None
    assert found.known.at(RUN.time_s[::10]) == pytest.approx(RUN.ground_speed[::10], abs=0.02)


@pytest.mark.parametrize("said", ["Tires,245/40 R18", "Tyre rolling radius,316.8 mm", "Rear tire circumference,1.99 m"])
def test_a_tire_told_above_the_rows_makes_speeds_of_turns(said):
    around_m = 1.9905  # hand: 0.97 of the way around 2 * 0.4 * 245 mm + 18 in
    turning = printed(RUN.ground_speed / around_m * 60.0, 1)
    log = read_columns({**usual(RUN), "Rear wheel [rpm]": turning}, above=f"{said}\n\n")
    mended = speeds_from_turning(log, Car(name="bare"))
    found = mended.get("wheel_speed_rl")
    assert found is not None and found.unit == "m/s"
    assert found.values == pytest.approx(RUN.ground_speed, abs=0.05)
    assert levels(mended)["tire-circumference-of-log"] == "caution"


def test_oil_pressure_and_temperature_under_each_others_headers():
    log = read_columns({**usual(RUN), "Oil Temp [C]": printed(RUN.oil_pressure / 1e5, 2),
                        "Oil Press [bar]": printed(RUN.oil_temperature - 273.15, 1)})  # fmt: skip
    assert_reads(log, "oil_pressure", "oil_temperature")
    assert levels(log)["headers-swapped"] == "caution"


def test_a_temperature_beside_two_that_cannot_be_in_its_unit():
    hot = {name: printed(one * 1.8 - 459.67, 1) for name, one in (
        ("Coolant Temp [C]", RUN.coolant_temperature), ("Oil Temp [C]", RUN.oil_temperature),
        ("Intake Temp [C]", RUN.intake_temperature))}  # fmt: skip
    log = read_columns({**usual(RUN), **hot})
    assert_reads(log, "coolant_temperature", "oil_temperature", "intake_temperature")


def test_an_engine_speed_in_turns_a_second_called_rpm_is_told():
    log = read_columns({"RPM [rpm]": printed(RUN.engine_speed / 60.0, 2)})
    told = {one.code: one.text for one in mend_engine_scale(log).findings}
    assert "60 times" in told["engine-speed-scale"]


def test_letters_explained_in_quoted_lines_above():
    above = '"N: engine speed"\n"p_i: intake manifold pressure (absolute)"\n\n'
    cells = {"t": STAMPS, "N": printed(RUN.engine_speed, 0), "p_i": printed(RUN.manifold_pressure / 1e3, 1)}
    assert_reads(read(above.encode() + table(cells)), "engine_speed", "manifold_pressure")


@pytest.mark.parametrize(
    ("engine", "manifold", "oil"),
    [
        ("機関回転速度 [min-1]", "吸気マニホールド絶対圧 [kPa]", "潤滑油温度 [℃]"),
        ("Частота вращения КВ [мин-1]", "Абсолютное давление на впуске [кПа]", "Температура масла [°C]"),
        ("otáčky klikového hřídele [min-1]", "absolutní tlak v sacím potrubí [kPa]", "teplota mazacího oleje [°C]"),
        ("دور موتور [rpm]", "فشار منیفولد [kPa]", "دمای روغن [°C]"),
        ("Vevaxelns varvtal [varv/min]", "Insugningsrörstryck (abs) [kPa]", "Motoroljetemperatur [°C]"),
    ],
)
def test_the_words_of_theses_in_other_languages(engine, manifold, oil):
    log = read_columns({engine: printed(RUN.engine_speed, 0), manifold: printed(RUN.manifold_pressure / 1e3, 1),
                        oil: printed(RUN.oil_temperature - 273.15, 1)})  # fmt: skip
    assert_reads(log, "engine_speed", "manifold_pressure", "oil_temperature")
    assert "caution" not in levels(log).values()
