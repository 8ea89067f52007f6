"""Names and units in odd letters, legends above the rows, clocks that begin again: the hard logs. All *planted*."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import Log
from passband.analysis.reading import doubts_of, read_log
from tests.analysis.reading.hard_logs import assert_holds, codes, read_one
from tests.analysis.reading.hard_run import hard_run, printed, table, usual

RUN = hard_run()
STAMPS = printed(RUN.time_s, 3)
NOISE = np.random.default_rng(11).normal(0.0, 1.0, RUN.time_s.size)
OIL = {"Oil Pressure [kPa]": printed(RUN.oil_pressure / 1e3, 1)}
SPEED = {"Vehicle Speed [km/h]": printed(RUN.ground_speed * 3.6, 1)}


def read(columns: dict[str, list[str]], above: str = "") -> Log:
    (log,) = read_log(above.encode() + table(columns), name="hard.csv")
    return log


@pytest.mark.parametrize(
    ("header", "scale"),
    [
        ("Motor [1000/min]", 1e-3),
        ("Motor [1000 1/min]", 1e-3),
        ("Engine Speed [100 rpm]", 1e-2),
        ("\uff25\uff4e\uff47\uff49\uff4e\uff45 \uff33\uff50\uff45\uff45\uff44 [\uff52\uff50\uff4d]", 1.0),
    ],
)
def test_engine_speed_in_odd_letters_and_multiples(header, scale):
    log = read({"Time [s]": STAMPS, header: printed(RUN.engine_speed * scale, 4), **OIL})
    assert_holds(log, "engine_speed", RUN.engine_speed)


def test_names_whose_letters_were_encoded_twice():
    meant = {"Drehzahl [1/min]": RUN.engine_speed, "\u00d6ldruck [kPa]": RUN.oil_pressure / 1e3}
    spoilt = {name.encode().decode("cp1252"): printed(values, 1) for name, values in meant.items()}
    log = read({"Zeit [s]": STAMPS, **spoilt})
    assert_holds(log, "oil_pressure", RUN.oil_pressure)
    assert "\u00d6ldruck [kPa]" in [channel.header for channel in log.channels]


@pytest.mark.parametrize(
    "above", ["S01 = Engine Speed [rpm]\nS02: Oil Pressure [kPa]\n", "S01,Engine Speed,rpm\nS02,Oil Pressure,kPa\n"]
)
def test_numbered_names_that_a_legend_explains(above):
    cells = {"S01": printed(RUN.engine_speed, 0), "S02": printed(RUN.oil_pressure / 1e3, 1), "S03": printed(NOISE, 3)}
    log = read({"Time [s]": STAMPS, **cells}, above)
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert_holds(log, "oil_pressure", RUN.oil_pressure)
    assert "S03" in [channel.header for channel in log.channels]


def test_a_channel_in_a_unit_that_is_none_is_asked_about():
    boost = RUN.of("boost")
    mixed = np.where(boost < 0.0, boost / 3386.389, boost / 6894.757)
    log = read(
        {"Time [s]": STAMPS, "Engine Speed [rpm]": printed(RUN.engine_speed, 0), "Boost [inHg/psi]": printed(mixed)}
    )
    (doubt,) = doubts_of([log])
    assert log.get("boost") is None and "unit-not-known" in codes(log)
    assert "boost" in doubt.channels and {"inHg", "kPa"} <= set(doubt.units)


def test_a_channel_without_a_unit_whose_values_fit_none_is_asked_about():
    log = read({"Time [s]": STAMPS, **usual(RUN), "Throttle": printed(255.0 * RUN.throttle, 0)})
    offered = {doubt.column: doubt.channels for doubt in doubts_of([log])}
    assert "throttle" in offered["Throttle"]


def test_words_among_the_rows_of_a_latin_file_keep_their_letters():
    named = {"Drehzahl [1/min]": RUN.engine_speed, "\u00d6ldruck [kPa]": RUN.oil_pressure / 1e3}
    rows = [
        f"{name};{stamp};{value:.1f}".replace(".", ",")
        for name, values in named.items()
        for stamp, value in zip(STAMPS, values, strict=True)
    ]
    (log,) = read_log("\n".join(["Kanal;Zeit [s];Wert", *rows, ""]).encode("latin-1"), name="hard.csv")
    assert_holds(log, "oil_pressure", RUN.oil_pressure)


def test_a_unit_that_cannot_be_where_two_others_can_is_told():
    fahrenheit = (RUN.exhaust_temperature + 130.0 - 273.15) * 1.8 + 32.0
    log = read({"Time [s]": STAMPS, **usual(RUN), "EGT [\u00b0C]": printed(fahrenheit, 0)})
    assert codes(log) & {"unit-unusual", "unit-doubted"}
    assert "EGT [\u00b0C]" in {doubt.column for doubt in doubts_of([log])}


@pytest.mark.parametrize("rail", [-40.0, 150.0])
def test_a_temperature_whose_contact_stays_open_is_no_temperature(rail):
    coolant = RUN.coolant_temperature - 273.15
    lost = np.where((RUN.time_s > 4.0) & (RUN.time_s < 5.5), rail, coolant)
    log = read({"Time [s]": STAMPS, **usual(RUN), "Coolant Temp [\u00b0C]": printed(lost, 1)})
    found = log.get("coolant_temperature")
    assert found is not None and "opened-contact" in codes(log)
    assert np.isnan(found.values).sum() == np.count_nonzero(lost == rail)
    np.testing.assert_allclose(found.known.values, RUN.coolant_temperature[lost != rail], atol=0.06)


@pytest.mark.parametrize("falls_at_s", [5.0, 7.3, 10.0])
def test_a_clock_that_starts_again_while_the_run_goes_on_is_one_recording(falls_at_s):
    clock = np.where(RUN.time_s < falls_at_s, RUN.time_s, RUN.time_s - falls_at_s)
    log = read({"Time [s]": printed(clock, 3), **usual(RUN), **OIL, **SPEED})
    assert_holds(log, "engine_speed", RUN.engine_speed)
    assert codes(log) & {"clock-set-back", "time-counter-ran-over"}
    np.testing.assert_allclose(log.channels[0].time_s, RUN.time_s, atol=0.011)


def test_a_counter_of_one_byte_with_a_stated_rate():
    counter = np.arange(RUN.time_s.size) % 256
    log = read({"Count": printed(counter, 0), **usual(RUN), **OIL, **SPEED}, "Sample rate: 100 Hz\n")
    assert_holds(log, "engine_speed", RUN.engine_speed)
    np.testing.assert_allclose(log.channels[0].time_s, RUN.time_s, atol=0.05)


def test_a_logger_that_is_started_again_at_rest_is_two_recordings():
    again = {name: cells + cells for name, cells in {"Time [s]": STAMPS, **usual(RUN), **SPEED}.items()}
    assert len(read_log(table(again), name="hard.csv")) == 2


def test_time_in_hundredths_of_a_second_by_the_way_covered():
    distance = {"Distance [m]": printed(RUN.distance_m, 1)}
    log = read({"Time": printed(100.0 * RUN.time_s, 0), **usual(RUN), **SPEED, **distance})
    np.testing.assert_allclose(log.channels[0].time_s, RUN.time_s, atol=0.011)
    assert "time-unit-assumed" in codes(log)


def test_a_logger_started_again_at_idle_is_two_recordings_though_the_engine_was_blipped_soon_after():
    # Planted: all channels stand still about the restart, then rise together; nothing tells that rows went on
    rng = np.random.default_rng(5)
    clock = np.concatenate([np.arange(400) * 0.02, np.arange(1200) * 0.02])
    blip = np.clip(4.0 * (np.arange(1600) - 409.0), 0.0, 60.0)
    cells = {
        name: printed(level + by * blip + noise * rng.standard_normal(1600), digits)
        for name, level, by, noise, digits in (
            ("Engine Speed [rpm]", 1300.0, 14.0, 8.0, 0),
            ("Throttle [%]", 3.3, 0.2, 0.1, 1),
            ("MAP [kPa]", 36.5, 0.3, 0.6, 1),
            ("Oil Pressure [kPa]", 162.0, 2.0, 3.0, 1),
        )
    }
    logs = read_log(table({"Time [s]": printed(clock, 3), **cells}), name="hard.csv")
    assert [log.channels[0].time_s.size for log in logs] == [400, 1200]


@pytest.mark.parametrize(
    "head",
    ["Run,Sample,RPM,TPS (%)\n# 50 samples per second\n", "Run,Sample,RPM,TPS (%)\n(50 Hz),,,\n",
     "Rate,50\nRun,Sample,RPM,TPS (%)\n"],
)  # fmt: skip
def test_a_rate_below_the_names_is_a_rate(head):
    # Planted: a counter of rows whose rate stands in a remark under the header
    rows = "".join(f"1,{at + 1},{1200 + 9 * (at % 300)},{at % 90}.5\n" for at in range(600))
    log = read_one((head + rows).encode())
    assert log.time.rate_hz == pytest.approx(50.0)
    assert log.get("engine_speed").time_s[-1] == pytest.approx(599 / 50.0)
