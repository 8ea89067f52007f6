"""What people bring: names cut short, units before and beside them, fuels in the head, rates in names, logs in parts.

All *planted*: each log is one run (`hard_run`) written as somebody would.
"""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading import read_log
from passband.analysis.reading.parts_of_a_log import whole_logs
from passband.analysis.reading.text.fuel_said import counts_air_by_fuel, ratio_said
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.review import review
from tests.analysis.reading.hard_logs import assert_holds_run, read_one, read_table
from tests.analysis.reading.hard_run import CAR, hard_run, printed, table, usual

RUN = hard_run(rate_hz=50.0)
STAMPS = printed(RUN.time_s, 2)
TIME = {"Time (s)": STAMPS}
read_columns = functools.partial(read_table, RUN, digits=2)
assert_reads = functools.partial(assert_holds_run, RUN)
KN_MPS, PSI_PA, INHG_PA = 0.514444, 6894.757293168, 3386.389


def told(log) -> dict[str, str]:
    return {one.code: one.level for one in log.findings}


def headed(head: str, columns: dict[str, list[str]]) -> bytes:
    return head.encode() + table({**TIME, **columns})


@pytest.mark.parametrize(
    ("header", "channel"),
    [("Gr", "gear"), ("Brk", "brake"), ("GPS Spd kn", "gps_speed"), ("Fwd G", "acceleration"), ("Bst", "boost"),
     ("Rr L", "wheel_speed_rl"), ("L/F wheel", "wheel_speed_fl"), ("R/R wheel", "wheel_speed_rr"),
     ("H2O", "coolant_temperature"),
     ("Throttle Pot", "throttle"), ("Output RPM", "driveshaft_speed")],
)  # fmt: skip
def test_names_as_people_cut_them_short(header, channel):
    assert [one.channel for one in recognise_name(split_name_and_unit(header)[0])][:1] in ([channel], [])
    assert channel in {one.channel for one in recognise_name(header)} | {
        one.channel for one in recognise_name(split_name_and_unit(header)[0])
    }


@pytest.mark.parametrize("header", ["Brake Temp", "Rear shock R", "Lambda E85", "Boost Duty", "Duty"])
def test_what_is_written_alike_and_is_another_thing(header):
    wrong = {"launch_switch", "wheel_speed_rr", "lambda_85", "injector_duty"}
    assert wrong.isdisjoint(one.channel for one in recognise_name(header))


def test_a_duty_alone_is_asked_about_and_left_to_a_column_that_says_more():
    duty = printed(80.0 * RUN.throttle, 1)
    alone = read_columns({**usual(RUN), "Duty": duty})
    assert alone.get("injector_duty") is not None and [one.column for one in alone.doubts] == ["Duty"]
    both = read_columns({**usual(RUN), "Inj Duty": duty, "Duty": printed(30.0 * RUN.throttle, 1)})
    found = both.get("injector_duty")
    assert found is not None and found.header == "Inj Duty"


@pytest.mark.parametrize(
    ("head", "header", "ratio"),
    [("", "AFR (E85)", 9.8), ("", "Methanol AFR", 6.45), ("Fuel: E85, stoich 9.77\n", "AFR", 9.77),
     ("Fuel: E85\n", "AFR", 9.8), ("Fuel: E85\n", "AFR", 14.7), ("", "AFR [E85]", 14.7)],
)  # fmt: skip
def test_a_ratio_of_a_fuel_is_divided_by_that_fuels_unless_its_values_are_petrols(head, header, ratio):
    columns = {"RPM": printed(RUN.engine_speed, 0), header: printed(ratio * RUN.lambda_, 2)}
    log = read_log(headed(head, columns), name="x.csv")[0]
    assert_reads(log, "lambda")
    assert told(log)["afr-taken-as-lambda"] == "note"


def test_a_fuel_is_said_in_one_way_or_not_at_all():
    # Hand
    assert ratio_said((("Fuel", "ethanol"), ("Stoich", "14.7"))) == 14.7
    assert ratio_said((("Fuel", "E85"), ("Fuel 2", "methanol"))) is None
    assert ratio_said((("Fuel rail", "E85"), ("stoich", "0.98"))) is None
    assert counts_air_by_fuel("A/F left") and not counts_air_by_fuel("Rafter")


def test_a_rate_told_in_the_names_alone():
    log = read_one(table({f"{name} @50Hz": cells for name, cells in usual(RUN).items()}))
    assert_reads(log, "engine_speed", "manifold_pressure")
    assert log.time.rate_hz == pytest.approx(50.0) and not log.time.written


@pytest.mark.parametrize("head", ["one sample every 20 ms\n", "Logged every 0.02 s\n"])
def test_a_period_told_in_words(head):
    assert read_log(head.encode() + table(usual(RUN)), name="x.csv")[0].time.rate_hz == pytest.approx(50.0)


def test_a_rule_under_the_units_is_no_row_of_units():
    columns = {"Time": ["(sec)", "---", *STAMPS], "RPM": ["(rpm)", "---", *printed(RUN.engine_speed, 0)],
               "MAP": ["(psi abs)", "---", *printed(RUN.manifold_pressure / PSI_PA, 2)]}  # fmt: skip
    log = read_one(table(columns))
    assert_reads(log, "manifold_pressure")
    assert "unit-assumed" not in told(log)


def test_units_stand_in_a_comment_or_before_the_names():
    rows = zip(STAMPS, printed(RUN.engine_speed, 0), printed(RUN.ground_speed, 3), strict=True)
    log = read_one(("# s 1/min m/s\nt rpm v_gps\n" + "\n".join(map(" ".join, rows)) + "\n").encode())
    assert_reads(log, "engine_speed", "gps_speed")
    kpa = printed(RUN.manifold_pressure / 1e3, 1)
    assert_reads(read_columns({"rpm": printed(RUN.engine_speed, 0), "kPa_map": kpa}), "manifold_pressure")
    assert_reads(read_columns({"rpm": printed(RUN.engine_speed, 0), "3 Bar MAP kPa": kpa}), "manifold_pressure")


def test_units_right_behind_names_and_behind_dashes():
    log = read_columns({"R.P.M.": printed(RUN.engine_speed, 0), "MAPkPa": printed(RUN.manifold_pressure / 1e3, 1),
                        "Oil Temp - C": printed(RUN.oil_temperature - 273.15, 1)})  # fmt: skip
    assert_reads(log, "engine_speed", "manifold_pressure", "oil_temperature")


def test_a_time_named_by_a_unit_is_in_it():
    hours = [f"{10.0 + second / 3600.0:.7f}" for second in RUN.time_s]
    log = read_one(table({"Hours": hours, **usual(RUN)}))
    assert log.time.last_s - log.time.first_s == pytest.approx(RUN.time_s[-1], abs=0.01)


def test_a_unit_with_a_blank_in_its_bracket_stands_over_one_column():
    lines = ["    Time   Engine   Coolant  Gear", "     [s]    [rpm]   [deg C]      "]
    for at, second in enumerate(RUN.time_s):
        celsius = RUN.coolant_temperature[at] - 273.15
        lines.append(f"{second:8.2f} {RUN.engine_speed[at]:8.0f} {celsius:9.1f} {RUN.gear[at]:5.0f}")
    assert_reads(read_one(("\n".join(lines) + "\n").encode()), "engine_speed", "coolant_temperature", "gear")


def test_an_advance_that_stays_below_zero_is_counted_the_other_way_and_a_retard_is_not():
    advance = 14.0 + 10.0 * RUN.throttle
    log = read_columns({**usual(RUN), "Ign": printed(-advance, 1)})
    found = log.get("ignition_advance")
    assert found is not None and found.values == pytest.approx(advance, abs=0.06)
    assert told(log)["sign-turned"] == "caution"
    held = np.where(RUN.throttle > 0.5, 20.0, -12.0)  # before the launch the spark is held back
    kept = read_columns({**usual(RUN), "Ign": printed(held, 1)}).get("ignition_advance")
    assert kept is not None and kept.values == pytest.approx(held)


def test_a_vacuum_without_a_unit_is_told_by_how_deep_it_is_at_idle():
    boost = np.minimum(RUN.of("boost"), 0.0)
    log = read_columns({"RPM": printed(RUN.engine_speed, 0), "Vac": printed(-boost / INHG_PA, 1)})
    found = log.get("boost")
    assert found is not None and found.values == pytest.approx(boost, abs=200.0)


def test_a_throttle_that_stops_at_the_top_of_a_byte_is_asked_about():
    opening = np.clip(RUN.throttle / 0.992, 0.0, 1.0)
    log = read_columns({**usual(RUN), "Throttle [%]": STAMPS, "throttle_raw": printed(np.round(255 * opening), 0)})
    alone = read_columns({"RPM": printed(RUN.engine_speed, 0), "throttle_raw": printed(np.round(255 * opening), 0)})
    found = alone.get("throttle")
    assert found is not None and found.values == pytest.approx(opening, abs=0.003)
    assert told(alone)["unit-assumed"] == "caution" and log.get("throttle") is not None


def test_parts_of_one_log_are_read_as_one_and_the_same_file_once():
    whole = table({**TIME, "RPM": printed(RUN.engine_speed, 0), "GPS Speed [km/h]": printed(3.6 * RUN.ground_speed, 2)})
    lines = whole.splitlines(keepends=True)
    first, later, again = lines[:301], [lines[0], *lines[301:]], [lines[0], *lines[250:]]
    rows = zip(STAMPS, lines[250:], strict=False)  # a clock that begins anew
    anew = [lines[0], *(b",".join([stamp.encode(), *line.split(b",")[1:]]) for stamp, line in rows)]
    for second in (later, again, anew):
        logs = [read_log(b"".join(part), name=name) for part, name in ((first, "a.csv"), (second, "b.csv"))]
        (joined,) = whole_logs(logs)
        assert_reads(joined[0], "engine_speed", "gps_speed")
        assert "log-goes-on" in told(joined[0])
        assert len(review(logs, CAR)) == 1
    twice = [read_log(data, name="x.csv") for data in (whole, whole.replace(b",", b";").replace(b".", b","))]
    assert len(whole_logs(twice)) == 1 and "same-log-twice" in told(whole_logs(twice)[0][0])


def test_parts_are_put_together_whatever_their_order_and_where_they_are_printed_in_other_digits():
    def part(rows: slice, digits: int) -> bytes:
        columns = {"Time [s]": STAMPS, "RPM": printed(RUN.engine_speed, digits)}
        columns["MAP [kPa]"] = printed(RUN.manifold_pressure / 1e3, digits + 1)
        return table({name: cells[rows] for name, cells in columns.items()})

    parts = [part(rows, 0) for rows in (slice(400, None), slice(0, 200), slice(200, 400))]
    (joined,) = whole_logs([read_log(data, name=f"{at}.csv") for at, data in enumerate(parts)])
    assert_reads(joined[0], "engine_speed", "manifold_pressure")
    overlap = [read_log(part(slice(0, 400), 0), name="a.csv"), read_log(part(slice(300, None), 1), name="b.csv")]
    (joined,) = whole_logs(overlap)
    assert_reads(joined[0], "engine_speed", "manifold_pressure")
    assert joined[0].channels[0].values.size == RUN.time_s.size


def test_another_run_of_the_same_logger_is_another_log():
    logs = [
        read_log(table({**TIME, **usual(hard_run(rate_hz=50.0, seed=seed))}), name=f"{seed}.csv") for seed in (3, 4)
    ]
    assert len(whole_logs(logs)) == 2
    later = replace(logs[1][0], time=replace(logs[1][0].time, first_s=60.0, last_s=72.0))
    assert len(whole_logs([logs[0], (later,)])) == 2  # its clock does not go on where the other's ends
