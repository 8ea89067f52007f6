"""Time by what it does, not by its name: the hard logs. All *planted*."""

import numpy as np
import pytest

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import HardRun, hard_run, printed, table, usual

RUN = hard_run()
SECONDS = printed(RUN.time_s, 3)


def read(columns: dict[str, list[str]], *, after: dict[str, list[str]] | None = None) -> Log:
    (log,) = read_log(table({**columns, **usual(RUN), **(after or {})}), name="hard.csv")
    return log


def assert_rows(log: Log, run: HardRun = RUN, *, within_s: float = 0.012) -> None:
    """Engine speed stands at the times of its rows, to what a stamp shows."""
    engine = log.get("engine_speed")
    assert engine is not None
    np.testing.assert_allclose(engine.time_s, run.time_s - run.time_s[0], atol=within_s)
    np.testing.assert_allclose(engine.values, run.engine_speed, atol=0.6)


def codes(log: Log) -> set[str]:
    return {finding.code for finding in log.findings}


def clock(seconds: np.ndarray, digits: int, mark: str = ".") -> list[str]:
    """``hh:mm:ss`` and a fraction."""
    counts = [divmod(round(second * 10**digits), 10**digits) for second in seconds]
    return [
        f"{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}" + (f"{mark}{part:0{digits}d}" if digits else "")
        for whole, part in counts
    ]


@pytest.mark.parametrize(
    "name",
    [
        "TIME_SEC", "Elapsed [s]", "X [s]", "x", "t_sec", "Secs", "ElapsedTime", "Col1", "Abszisse [s]", "Laufzeit",
        "temps écoulé", "Tempo trascorso", "Tijd", "Tid", "Čas", "czas", "Время", "時間[秒]", "时间", "시간",
    ],
)  # fmt: skip
def test_seconds_by_any_name(name):
    assert_rows(read({name: SECONDS}))


@pytest.mark.parametrize("name", ["Elapsed", "Elapsed (s)", "Zeit_s", "Temps_s"])
def test_a_plain_word_for_time_is_no_question(name):
    log = read({name: SECONDS})
    assert_rows(log)
    assert "time-column-assumed" not in codes(log)


@pytest.mark.parametrize("name", ["TINE", "Tmie", "Tiem", "Tme"])
def test_a_misspelt_time_is_taken_and_told(name):
    log = read({name: SECONDS})
    assert_rows(log)
    assert "time-column-assumed" in codes(log)


@pytest.mark.parametrize("name", ["millis", "msec", "TimeMillis", "Millisekunden", "Uptime"])
def test_milliseconds_by_any_name(name):
    assert_rows(read({name: printed(RUN.time_s * 1e3, 0)}))


def test_a_time_behind_other_columns_and_a_counter():
    counter, way = printed(np.arange(RUN.time_s.size), 0), printed(RUN.distance_m)
    log = read({"Nr": counter, "Distance [m]": way}, after={"foo": SECONDS, "Lambda": printed(RUN.lambda_, 3)})
    assert_rows(log)


def test_a_time_that_stands_still_gives_way_to_one_that_runs():
    assert_rows(read({"Time": ["0"] * RUN.time_s.size, "Elapsed [s]": SECONDS}))


@pytest.mark.parametrize(
    ("unit", "scale"), [("s", 1e3), ("ms", 1.0), ("ms", 1e6)], ids=["ms called s", "s called ms", "us called ms"]
)
def test_a_unit_that_the_spacing_refutes_is_mended_and_told(unit, scale):
    log = read({f"Time [{unit}]": printed(RUN.time_s * scale, 3)})
    assert_rows(log)
    assert [one.level for one in log.findings if one.code == "time-unit-assumed"] == ["caution"]


@pytest.mark.parametrize(
    ("unit", "scale", "rate_hz", "lasts_s"),
    [
        ("s", 1e3, 500.0, 4.5 / 5),
        ("s", 1e3, 200.0, 2.4),
        ("s", 1e3, 250.0, 1.9),
        ("min", 1.0, 100.0, 12.0),
        ("min", 1.0, 50.0, 9.0),
        ("min", 1.0, 25.0, 12.0),
        ("min", 1.0, 200.0, 12.0),
    ],
)
def test_a_unit_of_few_rows_is_refuted_by_the_engine(unit, scale, rate_hz, lasts_s):
    whole = hard_run(rate_hz=rate_hz, lasts_s=12.0)
    part = slice(*np.searchsorted(whole.time_s, [1.9, 1.9 + lasts_s])) if lasts_s < 5.0 else slice(None)
    run = HardRun(**{name: values[part] for name, values in vars(whole).items()})
    (log,) = read_log(table({f"Time [{unit}]": printed(run.time_s * scale, 3), **usual(run)}), name="hard.csv")
    assert_rows(log, run)
    assert [one.level for one in log.findings if one.code == "time-unit-assumed"] == ["caution"]


@pytest.mark.parametrize(("unit", "last_s"), [("ms", 11.9), ("min", 59.95 * 12)])
def test_a_unit_without_an_engine_is_told(unit, last_s):
    # Seconds called ms would last 12 ms and are mended; called minutes they could be, and stay as written
    run = hard_run(rate_hz=10.0 if unit == "ms" else 20.0)
    throttle = {"Throttle [%]": printed(100.0 * run.throttle, 1)}
    (log,) = read_log(table({f"Time [{unit}]": printed(run.time_s, 3), **throttle}), name="hard.csv")
    assert log.time.last_s == pytest.approx(last_s, rel=0.01)
    assert [one.level for one in log.findings if one.code == "time-unit-assumed"] == ["caution"]


def test_minutes_that_are_minutes_tell_nothing():
    assert_rows(read({"Time [min]": printed(RUN.time_s / 60.0, 6)}))
    assert "time-unit-assumed" not in codes(read({"Time [min]": printed(RUN.time_s / 60.0, 6)}))


def test_a_short_drive_at_one_row_a_second_stays_as_long():
    # Planted: 400 s, each second the engine at another speed of five gears
    at = np.arange(400.0)
    rpm = printed(2200.0 + 900.0 * np.sin(at * 2.1) + 700.0 * np.sin(at * 0.37), 0)
    (log,) = read_log(table({"Time [s]": printed(at, 0), "Engine Speed [rpm]": rpm}), name="hard.csv")
    assert log.time.last_s == pytest.approx(399.0)


@pytest.mark.parametrize("name", ["Time", "Seconds"])
def test_whole_numbers_a_second_apart_are_seconds(name):
    run = hard_run(rate_hz=1.0, lasts_s=14.0)
    (log,) = read_log(table({name: printed(run.time_s, 0), **usual(run)}), name="hard.csv")
    assert_rows(log, run)


def test_whole_numbers_that_follow_the_engine_are_milliseconds():
    run = hard_run(rate_hz=1000.0, lasts_s=8.0)
    (log,) = read_log(table({"Time": printed(run.time_s * 1e3, 0), **usual(run)}), name="hard.csv")
    assert_rows(log, run)
    assert "time-unit-assumed" in codes(log)


@pytest.mark.parametrize(
    "cells",
    [printed(np.floor(RUN.time_s + 1e-9), 0), clock(np.floor(RUN.time_s + 1e-9) + 50_000, 0)],
    ids=["seconds", "hh:mm:ss"],
)
def test_a_clock_of_one_second_with_a_hundred_rows_each_is_spread_and_told(cells):
    log = read({"Time": cells})
    assert_rows(log, within_s=0.03)
    assert "coarse-time-stamps" in codes(log)


@pytest.mark.parametrize(
    "cells",
    [
        clock(RUN.time_s + 50_000, 3),
        clock(RUN.time_s + 50_000, 3, ":"),
        printed(RUN.time_s * 1e3 + 1.7e12, 0),
        printed(RUN.time_s * 1e6 + 1.7e15, 0),
        printed(RUN.time_s + 1.7e9),
        printed(RUN.time_s / 86400 + 45000.5, 10),
        printed(RUN.time_s / 86400 + 0.5, 9),
    ],
    ids=["h:m:s.f", "h:m:s:f", "epoch ms", "epoch us", "epoch s", "spreadsheet days", "share of a day"],
)
@pytest.mark.parametrize("name", ["Time", "Date"])
def test_dates_epochs_and_spreadsheet_days_give_the_same_time(cells, name):
    assert_rows(read({name: cells}))


def test_digits_that_are_hours_minutes_and_seconds():
    of_day = 51_170.0 + RUN.time_s + 1e-6
    cells = [f"{int(s // 3600):02d}{int(s // 60 % 60):02d}{s % 60:05.2f}" for s in of_day]
    log = read({"UTC": cells})
    assert_rows(log)
    assert "time-unit-assumed" in codes(log)


@pytest.mark.parametrize(("size", "ahead", "scale"), [(100.0, 95.0, 1.0), (60.0, 53.0, 1.0), (1000.0, 700.0, 1e3)])
def test_a_counter_that_begins_anew_goes_on(size, ahead, scale):
    log = read({"Time": printed(np.mod(RUN.time_s * scale + ahead, size), 2)})
    assert_rows(log)
    assert "time-counter-ran-over" in codes(log)


def test_a_restart_after_a_round_time_is_a_restart():
    stamps = np.concatenate((RUN.time_s[:1000], RUN.time_s[:200]))  # 9.99 s, then from zero: no counter's size
    assert len(read_log(table({"Time [s]": printed(stamps, 3), **usual(RUN)}), name="hard.csv")) == 2


def test_stamps_too_close_for_any_unit_are_not_passed_in_silence():
    with pytest.raises(NotALog, match="looked for a column of time"):
        read({"Time [s]": [f"{at}e-320" for at in range(RUN.time_s.size)]})


def test_a_jittered_clock_without_a_name_is_a_time():
    jitter = 0.002 * np.sin(1.7 * np.arange(RUN.time_s.size))
    assert_rows(read({"tx": printed(RUN.time_s + jitter, 4)}))


def test_a_way_that_rises_evenly_is_no_time():
    way = printed(40.0 * RUN.time_s)
    with pytest.raises(NotALog):
        read({"Distance [m]": way})


@pytest.mark.parametrize("parts", [100, 1000])
def test_digits_of_a_clock_without_a_point(parts):
    # 14:03:58.00 to 14:04:02 at 50 Hz: 140358000 is followed by 140400000 across the minute (planted)
    steps = np.arange(200) / 50.0
    minutes, seconds = np.divmod(58.0 + steps, 60.0)
    written = np.round((140300.0 + 100.0 * minutes + seconds) * parts)
    rows = "\n".join(f"{at:.0f},{2000 + row * 7}" for row, at in enumerate(written))
    (log,) = read_log(f"Time,RPM\n{rows}\n".encode(), name="x.csv")
    np.testing.assert_allclose(log.get("engine_speed").time_s, steps, atol=1e-6)


@pytest.mark.parametrize("parts", ["hundredths", "decimals", "whole day"])
def test_a_clock_in_columns_is_put_together(parts):
    at = np.round(RUN.time_s + 58.0 * 60.0 + 52.0, 2)  # across a minute and an hour
    whole, hours, minutes = np.floor(at + 1e-9), at // 3600.0, at // 60.0 % 60.0
    columns = {"Hour": printed(hours + 13.0, 0)} if parts == "whole day" else {}
    minutes = minutes if parts == "whole day" else minutes - 58.0 + 60.0 * (minutes < 58.0)
    columns["Min"] = printed(minutes, 0)
    if parts == "hundredths":
        columns |= {"Sec": printed(whole % 60.0, 0), "Hund": printed(np.round(100.0 * (at - whole)), 0)}
    else:
        columns["Sec"] = printed(at % 60.0, 2)
    log = read(columns)
    assert_rows(log)
    assert "clock-in-columns" in {finding.code for finding in log.findings}


def test_a_clock_ahead_of_a_trigger_counts_down_to_it():
    stamps = [("-" if t < 5.0 else "") + f"0:{abs(t - 5.0):06.3f}" for t in RUN.time_s]
    assert_rows(read({"Time": stamps}))


def test_one_follows_on_twelve_on_a_clock_of_twelve_hours():
    stamps = [f"{12 if t < 3.0 else 1}:{59 if t < 3.0 else 0:02d}:{(57.0 + t) % 60.0:06.3f}" for t in RUN.time_s]
    log = read({"Time": stamps})
    assert_rows(log)
    assert "time-counter-ran-over" in {finding.code for finding in log.findings}


def test_a_row_of_values_is_no_header():
    rows = [
        f"{t},{rpm},{oil}"
        for t, rpm, oil in zip(SECONDS, printed(RUN.engine_speed, 1), printed(RUN.oil_pressure / 1e5, 2), strict=True)
    ]
    text = "\n".join(["Time,RPM,Oil Pressure [bar]", *(f"{row}x?" for row in rows[:3]), *rows[3:]])
    (log,) = read_log(text.encode(), name="x.csv")
    assert log.get("engine_speed") is not None and log.get("oil_pressure") is not None


def test_stamps_whose_digits_run_out_amid_the_log_are_spread_from_there_on():
    stamps = [f"{t:.4g}" for t in RUN.time_s + 90.0]  # 99.99 is followed by ten rows of 100 (planted)
    log = read({"Time [s]": stamps})
    engine = log.get("engine_speed")
    assert engine.values.size > 0.99 * RUN.time_s.size
    np.testing.assert_allclose(engine.time_s[-1], RUN.time_s[-1], atol=0.03)
    assert "coarse-time-stamps" in {finding.code for finding in log.findings}
