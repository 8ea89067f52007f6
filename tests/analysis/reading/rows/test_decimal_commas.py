"""Numbers whose unquoted decimal comma parts them into two cells."""

import numpy as np
import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading import read_log

HEADER = "Time (s),Engine Speed (rpm),Throttle (%),Manifold Pressure (kPa)"


def printed(column: np.ndarray, places: int) -> np.ndarray:
    return np.array([float(f"{value:.{places}f}") for value in column])


def rows_of(columns: list[np.ndarray], digits: list[int]) -> str:
    cells = [
        [f"{value:.{places}f}".replace(".", ",") for value in column]
        for column, places in zip(columns, digits, strict=True)
    ]
    return "".join(",".join(row) + "\n" for row in zip(*cells, strict=True))


def a_run(rows: int = 200) -> list[np.ndarray]:
    time = np.arange(rows) * 0.01
    return [time, 1800 + 2500 * time + 37 * np.sin(40 * time), 2 + 97 * np.sin(0.7 * time), 98 + 37.3 * time]


@pytest.mark.parametrize("digits", [[3, 1, 1, 1], [3, 0, 1, 1], [2, 0, 2, 0], [3, 0, 0, 0], [2, 2, 2, 2]])
@pytest.mark.parametrize("extra", ["", "s,rpm,%,kPa\n"])
def test_numbers_are_put_together_where_one_way_alone_fits(digits, extra):
    header = "Time,Engine Speed,Throttle,Manifold Pressure" if extra else HEADER
    columns = a_run()
    (log,) = read_log(f"{header}\n{extra}{rows_of(columns, digits)}".encode(), name="run.csv")
    for name, scale, column, places in zip(
        ("engine_speed", "throttle", "manifold_pressure"), (1.0, 0.01, 1e3), columns[1:], digits[1:], strict=True
    ):
        # Planted: what was printed, to the digit.
        np.testing.assert_allclose(log.get(name).values, scale * printed(column, places), rtol=1e-9)
    assert (log.text.delimiter, log.text.decimal, log.text.rows) == (",", ",", 200)
    assert [finding.code for finding in log.findings] == ["decimal-commas-joined"]


def test_a_table_with_decimal_commas_is_read_right_or_refused():
    # Planted: 60 random tables; none may be read otherwise than printed.
    rng = np.random.default_rng(5)
    read = 0
    for _ in range(60):
        digits = rng.integers(0, 4, 5).tolist()
        digits[0] = 2
        time = np.arange(80) * 0.01
        noise = (rng.normal(*scale, 80) for scale in ((0, 1), (50, 9), (3, 1)))
        columns = [time, 4000 + 3100 * np.sin(3 * time + rng.random()), *noise]
        text = "Time (s),Engine Speed (rpm),Yaw Rate,Oil Flow,Slip\n" + rows_of(columns, digits)
        try:
            (log,) = read_log(text.encode(), name="run.csv")
        except NotALog as refusal:
            assert "semicolon" in str(refusal)
            continue
        read += 1
        np.testing.assert_allclose(log.channels[0].time_s, columns[0], atol=1e-9)
        for channel, column, places in zip(log.channels, columns[1:], digits[1:], strict=True):
            np.testing.assert_allclose(channel.values, printed(column, places), atol=1e-9)
    assert read > 30


def test_numbers_without_trailing_zeros_are_refused_with_what_to_do():
    shortest = "\n".join(
        ",".join(f"{value:.5g}".replace(".", ",") for value in row) for row in zip(*a_run(), strict=True)
    )
    with pytest.raises(NotALog, match=r"one number under each of 4 names.*no decimal point.*Export with a semicolon"):
        read_log(f"{HEADER}\n{shortest}\n".encode(), name="run.csv")


def test_more_than_one_way_is_refused():
    # Fractions of one digit, and a gear of one digit: 7 cells under 4 names could be shared out otherwise.
    time, rpm, _, _ = a_run()
    text = "Time (s),Engine Speed (rpm),Gear,Load\n" + rows_of(
        [time, rpm, 1 + np.floor(time), 2 + 0 * time], [1, 1, 0, 1]
    )
    with pytest.raises(NotALog, match="no one sure way"):
        read_log(text.encode(), name="run.csv")


def test_a_last_line_cut_short_is_set_aside():
    text = f"{HEADER}\n{rows_of(a_run(), [3, 0, 1, 1])}"
    (log,) = read_log(text[:-9].encode(), name="run.csv")
    assert log.text.rows == 199
    assert [finding.code for finding in log.findings] == ["cut-last-line", "decimal-commas-joined"]


def test_hours_minutes_seconds_with_a_comma():
    time, rpm, throttle, _ = a_run()
    shown = [f"12:00:{second:06.3f}".replace(".", ",") for second in time]
    rows = rows_of([rpm, throttle], [0, 1]).splitlines()
    text = "Time,Engine Speed (rpm),Throttle (%)\n" + "".join(f"{a},{b}\n" for a, b in zip(shown, rows, strict=True))
    (log,) = read_log(text.encode(), name="run.csv")
    np.testing.assert_allclose(log.channels[0].time_s, time, atol=1e-6)
    np.testing.assert_array_equal(log.get("engine_speed").values, printed(rpm, 0))


def test_whole_numbers_in_columns_without_a_name_are_left_as_they_are():
    _, rpm, throttle, pressure = a_run()
    rpm, milliseconds = rpm - 950, 10.0 * np.arange(200)
    text = "Time (ms),Engine Speed (rpm),Throttle (%)\n" + rows_of([milliseconds, rpm, throttle, pressure], [0] * 4)
    (log,) = read_log(text.encode(), name="run.csv")
    np.testing.assert_array_equal(log.get("engine_speed").values, printed(rpm, 0))
    assert log.text.decimal == "."
