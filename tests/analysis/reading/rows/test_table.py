"""The rows: every cell is in a channel or counted in a finding."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.rows import table
from passband.analysis.results.findings import Finding

ROWS = [f"{i * 0.01:.2f},{1000 + i},{i % 30}.5" for i in range(100)]


def read(rows, end="\n", header="Time,RPM,TPS"):
    (log,) = read_log(("\n".join([header, *rows]) + end).encode(), name="x")
    return log, {finding.code: finding for finding in log.findings if finding.code != "unit-assumed"}


def test_clean_rows_give_no_finding():
    log, told = read(ROWS)
    assert (log.text.rows, told) == (100, {})


def test_a_cut_last_line_is_set_aside_and_told():
    log, told = read([*ROWS, "1.00,11"], end="")
    assert log.text.rows == 100 and "1 row" in told["cut-last-line"].text and told["cut-last-line"].level == "caution"


def test_a_last_cell_cut_short_is_seen_by_its_decimals():
    log, told = read([*ROWS, "1.00,1100,2"], end="")
    assert log.text.rows == 100 and "cut-last-line" in told


def test_a_sound_last_line_without_its_end_is_kept():
    log, told = read(ROWS, end="")
    assert (log.text.rows, told) == (100, {})


def test_lines_with_shifted_columns_are_set_aside_with_place_and_count():
    rows = [*ROWS]
    rows[40], rows[70] = "0.40,10,40,5.5", "0.70"
    log, told = read(rows)
    assert log.text.rows == 98
    assert told["damaged-lines"].text.startswith("2 lines") and told["damaged-lines"].where == "line 42"


def test_unreadable_cells_are_counted_and_the_rest_of_the_row_kept():
    rows = [*ROWS]
    rows[10], rows[20] = "0.10,1x10,10.5", "0.20,?!,20.5"
    log, told = read(rows)
    assert told["unreadable-cells"].text.startswith("2 cells of RPM") and "1x10" in told["unreadable-cells"].text
    assert np.isnan(log.get("engine_speed").values[[10, 20]]).all()
    assert np.isfinite(log.get("throttle").values).all()


def test_tokens_for_no_value_are_samples_without_a_value_and_no_fault():
    rows = [row.replace("1005", "---").replace("1006", "NaN").replace("1007", "#N/A") for row in ROWS]
    log, told = read(rows)
    assert np.flatnonzero(np.isnan(log.get("engine_speed").values)).tolist() == [5, 6, 7] and told == {}
    assert log.get("engine_speed").time_s.size == 100


def test_blank_cells_are_no_samples():
    rows = [row.rsplit(",", 1)[0] + ("," if i % 5 else f",{i}") for i, row in enumerate(ROWS)]
    log, told = read(rows)
    assert log.get("throttle").values.size == 20 and told == {}


def test_a_logger_that_leaves_trailing_blanks_out_is_not_damaged():
    rows = [row.rsplit(",", 1)[0] if i % 5 else row for i, row in enumerate(ROWS)]
    log, told = read(rows)
    assert log.get("throttle").values.size == 20 and log.text.rows == 100 and told == {}


def test_a_channel_blank_for_a_long_time_is_still_numbers():
    rows = [f"{i * 0.01:.2f},{1000 + i}," + (f"{i % 30}" if i > 400 else "") for i in range(500)]
    log, _ = read(rows)
    assert log.get("throttle").values.size == 99


def test_switches_in_words_become_one_and_zero():
    rows = [f"{i * 0.01:.2f},{1000 + i},{'ON' if i > 50 else 'OFF'}" for i in range(100)]
    log, told = read(rows, header="Time,RPM,Shift Cut")
    assert log.get("shift_cut").values.sum() == 49 and told == {}


def test_a_gear_written_n_is_neutral():
    rows = [f"{i * 0.01:.2f},{1000 + i},{'N' if i < 20 else 1 + i // 50}" for i in range(100)]
    log, _ = read(rows, header="Time,RPM,Gear")
    assert sorted(set(log.get("gear").values)) == [0.0, 1.0, 2.0]


def test_columns_of_words_are_counted():
    rows = [f"{row},all good" for row in ROWS]
    _, told = read(rows, header="Time,RPM,TPS,Comment")
    assert "Comment" in told["columns-of-words"].text


def test_a_file_with_every_line_doubled_is_whole():
    (log,) = read_log(("Time,RPM,TPS\n\n" + "\n\n".join(ROWS) + "\n\n").encode(), name="x")
    assert log.text.rows == 100 and [f.code for f in log.findings] == ["unit-assumed"]


def test_blank_lines_and_quotes_alone():
    log, _ = read([*ROWS[:50], "", ",,", *ROWS[50:], '0.995,"1099",9.5'])
    assert log.text.rows == 101


def test_grouped_thousands_and_units_behind_numbers():
    rows = [f'{i * 0.01:.2f},"{1 + i // 1000},{i % 1000:03d}",{i % 30} %' for i in range(100)]
    log, _ = read(rows)
    assert log.get("engine_speed").values[42] == 1042.0 and log.get("throttle").unit_written == "%"


ODD = (
    "1x",
    "?",
    '"',
    "12:00",
    "NaN",
    "inf",
    "-Infinity",
    "nAn",
    "1e5",
    "+1",
    " 1",
    "1 ",
    "1\r",
    "\t1",
    "",
    "1,2",
    "1,",
    "é",
)


@pytest.mark.parametrize("cell", ODD)
@pytest.mark.parametrize("last", [False, True])
def test_rows_seen_to_be_damaged_are_none_that_a_strict_read_takes(cell, last):  # slow twin
    odd = f"1.0,{cell}" if last else f"{cell},1.0"
    data = "\n".join(["0.5,1", *["0.6,2"] * 5, odd, "0.7,3", ""]).encode()
    source = table.RowSource(data, ",", None, False, "\n")
    kinds = ["number", "number"]
    if table._is_plainly_damaged(source, kinds):
        assert table._read_strictly(source, kinds) is None


def test_a_small_file_with_a_damaged_row_costs_no_strict_read(monkeypatch):  # planted
    def never(*_):
        raise AssertionError("read strictly")

    monkeypatch.setattr(table, "_read_strictly", never)
    for damage in ("0.20,1x10,20.5", "0.20,1020,20.5,7"):
        read([*ROWS[:20], damage, *ROWS[21:]])


def test_words_turned_into_numbers_keep_their_rows_and_tell_what_was_found():
    # Planted: of three columns one is numbers, one words that turn (cells at rows 0 and 2), one words that stay
    words = pl.Series(["on", "", "off"])
    numbers = table.Column(np.array([1.0, 2.0, 3.0]), None)
    rows = table.Table((numbers, table.Column(None, np.array([0, 2]), words), table.Column(None, None, words)), 3, ())
    told = Finding("unreadable-cells", "caution", "One was odd.", "b")
    made = table.TurnedWords(np.array([1.0, np.nan, 0.0]), told)
    turned = rows.with_words_turned(lambda at, cells: made if at == 1 else None)
    assert turned.columns[1].values.tolist() == [1.0, 0.0] and turned.columns[1].words is None
    assert turned.columns[0] is numbers and turned.columns[2].words is words and turned.findings == (told,)
    assert rows.with_words_turned(lambda at, cells: None) is rows


@pytest.mark.parametrize("at", [-2, -1, 0, 1])
def test_a_lone_quote_is_seen_beside_the_edge_of_a_piece(at):
    # hand: the mark stands so many bytes from where one piece ends and the next begins
    rows = (b"0.01,2,3\n" * (table.PIECE_BYTES // 9 + 2))[: table.PIECE_BYTES + at - 1]
    rows = rows[: rows.rfind(b"\n") + 1].ljust(len(rows), b"7")
    lone, within = rows + b',",1\n0.02,2,3\n', rows + b',"2",1\n0.02,2,3\n'
    assert lone[table.PIECE_BYTES + at : table.PIECE_BYTES + at + 1] == b'"'
    source = table.RowSource(lone, ",", '"', False, "\n")
    assert table._has_lone_quote(source) and not table._has_lone_quote(replace(source, data=within))


def test_a_quoted_cell_over_two_lines_is_read_far_below_the_head_where_all_others_end_in_theirs():
    rows = [f'"{at * 0.01:.2f}","{3000 + at % 700}","ok"' for at in range(20_000)]
    rows[15_000] = '"150.00","3300","slipped' + "\n" + 'a little"'
    log, _ = read(rows, header='"Time [s]","RPM","Note"')
    rpm = next(channel for channel in log.channels if channel.name == "engine_speed")
    assert rpm.values.size == 20_000 and np.isfinite(rpm.values).all()
