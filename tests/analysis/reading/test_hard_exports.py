"""Logs as exporters, sheets, mails and people leave them: twice quoted, in pairs, wrapped, framed. All *planted*."""

from __future__ import annotations

import quopri
import textwrap

import numpy as np
import pytest

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import hard_run, printed

RUN = hard_run(rate_hz=50.0, seed=17)
EVERY = len(RUN.time_s)
NAMES = ("Time", "Engine Speed", "Throttle", "Manifold Pressure", "Oil Pressure")
UNITS = ("s", "rpm", "%", "kPa", "kPa")
COLUMNS = (
    printed(RUN.time_s, 3),
    printed(RUN.engine_speed, 0),
    printed(100.0 * RUN.throttle, 1),
    printed(RUN.manifold_pressure / 1e3, 1),
    printed(RUN.oil_pressure / 1e3, 1),
)
ROWS = list(zip(*COLUMNS, strict=True))
TITLES = [f"{name} [{unit}]" for name, unit in zip(NAMES, UNITS, strict=True)]
CHANNELS = ("engine_speed", "throttle", "manifold_pressure", "oil_pressure")


def assert_whole(log: Log, *, channels: tuple[str, ...] = CHANNELS, from_s: float = 0.0) -> None:
    for channel in channels:
        found = log.get(channel)
        assert found is not None, (channel, [one.name for one in log.channels])
        truth = np.interp(found.time_s + from_s, RUN.time_s, RUN.of(channel))
        np.testing.assert_allclose(found.values, truth, atol=0.006 * float(np.abs(truth).max()))
        assert found.time_s[-1] + from_s >= RUN.time_s[-1] - 0.11


def told(log: Log) -> dict[str, str]:
    return {finding.code: finding.level for finding in log.findings}


def lines(rows: list[tuple[str, ...]], mark: str = ",", cell: str = "{}") -> str:
    return "".join(mark.join(cell.format(one) for one in row) + "\n" for row in rows)


def by_place(names: tuple[str, ...], wide: tuple[int, ...], align: str) -> str:
    return "".join(
        "".join(f"{one:{align}{many}}" for one, many in zip(row, wide, strict=True)) + "\n" for row in [names, *ROWS]
    )


def wrapped() -> str:
    held = [", ".join(row) for row in [tuple(TITLES), *ROWS]]
    return "".join(f"> {part}\n" for row in held for part in textwrap.wrap(row, 27))


def broken_at_a_width() -> str:
    held = [",".join(row) + ",0.0000,1.0000,0.50000,99.125" for row in ROWS]
    head = ",".join([*TITLES, "Spare 1", "Spare 2", "Spare 3", "Spare 4"])
    return "".join(f"{row[at : at + 40]}\n" for row in [head, *held] for at in range(0, len(row), 40))


def slow_channel_last(mark: str) -> str:
    gears = [str(1 + at // 200) if at % 4 == 0 else "" for at in range(EVERY)]
    rows = [(*row, gear) for row, gear in zip(ROWS, gears, strict=True)]
    return lines([(*NAMES, "Gear"), (*UNITS, ""), *rows], mark)


def printable() -> bytes:
    text = lines([(*TITLES[:4], "Oil Pressure [kPa]", "Coolant [°C]"), *((*row, "82.0") for row in ROWS)], ";")
    return b"Content-Transfer-Encoding: quoted-printable\n\n" + quopri.encodestring(text.encode())


def framed() -> str:
    rows = ["│ " + " ┆ ".join(f"{one:<18}" for one in row) + " │\n" for row in [tuple(TITLES), ("---",) * 5, *ROWS]]
    return "┌──┬──┐\n" + rows[0] + rows[1] + "╞══╪══╡\n" + "".join(rows[2:]) + "└──┴──┘\n"


def one_value_a_line() -> str:
    return "".join("".join(f"{name}: {one} {unit}\n" for name, one, unit in zip(NAMES, row, UNITS, strict=True)) + "\n"
                   for row in ROWS)  # fmt: skip


def list_of_records() -> str:
    held = ("\n  ".join(f"{name}: {one}" for name, one in zip(NAMES, row, strict=True)) for row in ROWS)
    return "".join(f"- {one}\n" for one in held)


def typeset() -> str:
    rows = "".join(" & ".join(row) + " \\\\\n" for row in [NAMES, ("s", "rpm", "\\%", "kPa", "kPa"), *ROWS])
    return "\\begin{tabular}{rrrrr}\n\\hline\n" + rows + "\\hline\n\\end{tabular}\n"


def explained_below() -> str:
    short = ("t", "n", "alpha", "p_saug", "p_oel")
    below = "".join(f"{one}: {title}\n" for one, title in zip(short, TITLES, strict=True))
    return lines([short, *ROWS], ";") + "\n" + below


TEXTS = {
    "quoted twice": lines([tuple(TITLES), *ROWS], cell='"""{}"""'),
    "quoted in apostrophes": lines([tuple(TITLES), *ROWS], cell="'\"{}\"'"),
    "quoted twice with decimal commas": lines([tuple(TITLES), *ROWS], cell='"""{}"""').replace(".", ","),
    "names of two words parted by single blanks": lines([NAMES, *ROWS], " "),
    "names wider than their columns": " ".join(NAMES) + "\n" + lines(ROWS, " ", "{:>8}"),
    "names of two words by their place": by_place(NAMES, (9, 14, 10, 19, 14), "<"),
    "columns counted above": "".join(f"Column {at}: {one}\n" for at, one in enumerate(TITLES, 1)) + lines(ROWS, "  "),
    "columns counted from nought": "".join(f"# {at} {one}\n" for at, one in enumerate(TITLES)) + lines(ROWS, " "),
    "channels in a section": "[Channels]\n" + lines(list(zip(NAMES, UNITS, strict=True)), ";") + "\n[Data]\n"
    + lines(ROWS, ";"),
    "names in quotes on a line": "names = {'" + "','".join(NAMES) + "'};\ndata = [\n"
    + lines(ROWS, " ").replace("\n", ";\n") + "];\n",
    "rows numbered without a name": lines([tuple(f'"{one}"' for one in NAMES)], " ")
    + "".join(f'"{at}" {" ".join(row)}\n' for at, row in enumerate(ROWS, 1)),
    "a frame printed with its size below": "     " + lines([tuple(TITLES)], "  ")
    + "".join(f"{at:<6}{'  '.join(row)}\n" for at, row in enumerate(ROWS)) + f"\n[{EVERY} rows x 5 columns]\n",
    "wrapped by a mail": wrapped(),
    "broken at a width": broken_at_a_width(),
    "two lines a row": "".join(";".join(row[:3]) + ";\n   " + ";".join(row[3:]) + "\n" for row in [TITLES, *ROWS]),
    # Regression: three lines of four end in a delimiter, and were joined to the fourth
    "a slow channel last, empty between": slow_channel_last(","),
    "a slow channel last, with decimal commas": slow_channel_last(";").replace(".", ","),
    "answered twice, every other line empty": "".join(f">> {','.join(row)}\n>>\n" for row in [TITLES, *ROWS]),
    "in a frame": framed(),
    "one value a line": one_value_a_line(),
    "a list of records": list_of_records(),
    "typeset": typeset(),
    "full-width commas": lines([tuple(f"{n}（{u}）" for n, u in zip(NAMES, UNITS, strict=True)), *ROWS], "，"),
    "names in the last line": lines([*ROWS, tuple(TITLES)]),
    "explained below": explained_below(),
    "channels one below another": "Sample rate: 50 Hz\n\n"
    + "".join(f"{title}\n" + "\n".join(cells) + "\n\n" for title, cells in zip(TITLES[1:], COLUMNS[1:], strict=True)),
    "named on a line above": f"Columns: {', '.join(TITLES)}\n\n" + lines(ROWS, " "),
    "named by a list above": "".join(f" - {n} in {u}\n" for n, u in zip(NAMES, UNITS, strict=True)) + lines(ROWS),
    "in the marks of a word processor": lines([tuple(TITLES), *ROWS], ";", "“{}”"),
    "in pointed marks, with decimal commas": lines([tuple(TITLES), *ROWS], ";", "«{}»").replace(".", ","),
    "units before their names": lines([tuple(f"[{u}] {one}" for one, u in zip(NAMES, UNITS, strict=True)), *ROWS]),
    "an empty row between names and units": lines([NAMES, ("",) * 5, tuple(f"({one})" for one in UNITS), *ROWS]),
}  # fmt: skip


@pytest.mark.parametrize("kind", TEXTS)
def test_what_a_person_reads_at_once_is_read(kind):
    (log,) = read_log(TEXTS[kind].encode(), name=f"{kind}.txt")
    assert_whole(log)


def test_signs_of_a_mail_for_other_letters_are_taken_off():
    (log,) = read_log(printable(), name="mail.eml")
    assert_whole(log)
    coolant = log.get("coolant_temperature")
    assert coolant is not None and np.allclose(coolant.values, 82.0 + 273.15)


@pytest.mark.parametrize("mark", [",", ";"])
@pytest.mark.parametrize("every", [2, 5])
def test_rows_whose_last_cell_is_blank_for_a_slower_channel_do_not_go_on_in_the_next_line(mark, every):
    names = [(*NAMES, "Gear"), (*UNITS, "")]
    rows = [(*row, "3" if at % every == 0 else "") for at, row in enumerate(ROWS)]
    (log,) = read_log(lines([*names, *rows], mark).encode(), name="ecu.csv")
    engine, gear = log.get("engine_speed"), log.get("gear")
    assert engine is not None and engine.values.size == len(ROWS)
    assert gear is not None and gear.values.size == -(-len(ROWS) // every)
    assert not any("next line" in finding.text for finding in log.findings)


# Pairs of a time and its values


def in_pairs(upper: list[str], lower: list[str], mark: str = ",") -> str:
    steps = (1, 2, 5)
    cells = [column[::step] for step, at in zip(steps, (1, 3, 4), strict=True) for column in (COLUMNS[0], COLUMNS[at])]
    rows = [tuple(column[at] if at < len(column) else "" for column in cells) for at in range(EVERY)]
    return lines([tuple(upper), tuple(lower), *rows], mark)


@pytest.mark.parametrize(
    ("upper", "lower"),
    [
        ("Engine Speed [rpm],,MAP [kPa],,Oil Pressure [kPa],", "X,Y,X,Y,X,Y"),
        ("Engine Speed [rpm],,MAP [kPa],,Oil Pressure [kPa],", "Time [s],Value,Time [s],Value,Time [s],Value"),
        ("Engine Speed,Engine Speed,MAP,MAP,Oil Pressure,Oil Pressure", "s,rpm,s,kPa,s,kPa"),
        (",Engine Speed,,MAP,,Oil Pressure", "ms,rpm,ms,kPa,ms,kPa"),
    ],
)
def test_each_channel_has_its_own_time_beside_it_under_two_rows_of_names(upper, lower):
    text = in_pairs(upper.split(","), lower.split(","))
    if lower.startswith("ms"):
        stamps = dict(zip(COLUMNS[0], printed(1000.0 * RUN.time_s, 0), strict=True))
        head, body = text.split("\n", 2)[:2], text.split("\n", 2)[2]
        body = lines([tuple(stamps[c] if at % 2 == 0 and c else c for at, c in enumerate(row.split(",")))
                      for row in body.splitlines()])  # fmt: skip
        text = "\n".join([*head, body])
    (log,) = read_log(text.encode(), name="pairs.csv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure", "oil_pressure"))
    oil = log.get("oil_pressure")
    assert oil is not None and oil.values.size == len(COLUMNS[0][::5])


def test_pairs_of_as_many_rows_at_other_rates_keep_their_own_times():
    slow = printed(2.0 * RUN.time_s, 3)
    rows = list(zip(COLUMNS[0], COLUMNS[1], slow, COLUMNS[4], strict=True))
    text = lines([("Engine Speed [rpm]", "", "Oil Pressure [kPa]", ""), ("X", "Y", "X", "Y"), *rows])
    (log,) = read_log(text.encode(), name="pairs.csv")
    oil = log.get("oil_pressure")
    assert oil is not None and oil.time_s[-1] == pytest.approx(2.0 * RUN.time_s[-1])


# Several kinds of rows, several runs


def test_streams_by_turns_are_read_under_the_headers_with_their_words():
    held = ["#ENG,Time [s],Engine Speed [rpm],MAP [kPa]", "#OIL,Time [s],Oil Pressure [kPa]"]
    for at, (t, n, _, p, oil) in enumerate(ROWS):
        held += [
            f"ENG,{t},{n},{p}",
            *([f"OIL,{t},{oil}"] if at % 5 == 0 else []),
            *(["EVT,7"] if at % 100 == 9 else []),
        ]
    (log,) = read_log(("\n".join(held) + "\n").encode(), name="turns.csv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure", "oil_pressure"))


@pytest.mark.parametrize("ids", [("10", "11"), ("0x0C", "0x0B"), ("eng", "map")])
def test_values_by_the_mark_of_a_channel_that_lines_above_explain(ids):
    legend = [f"{ids[0]} = Engine Speed [rpm]", f"{ids[1]} = MAP [kPa]", "time,id,data"]
    rows = [f"{t},{one},{value}" for t, n, _, p, _ in ROWS for one, value in zip(ids, (n, p), strict=True)]
    (log,) = read_log(("\n".join([*legend, *rows]) + "\n").encode(), name="ids.csv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure"))


def test_runs_side_by_side_are_two():
    later = [(f"{float(t) - 0.6:.3f}", n, p) for t, n, _, p, _ in ROWS[30:]] + [("", "", "")] * 30
    rows = [(t, n, p, "", *other) for (t, n, _, p, _), other in zip(ROWS, later, strict=True)]
    heads = [
        ("Run 1", "", "", "", "Run 2", "", ""),
        ("Time [s]", "RPM", "MAP [kPa]", "", "Time [s]", "RPM", "MAP [kPa]"),
    ]
    first, second = read_log(lines([*heads, *rows]).encode(), name="sheet.csv")
    for log, from_s in ((first, 0.0), (second, 0.6)):
        assert_whole(log, channels=("engine_speed", "manifold_pressure"), from_s=from_s)


# What silently became wrong values


def scaled(factors: tuple[float, ...], offsets: tuple[float, ...], *, offset_row: bool = True) -> str:
    truth = (RUN.time_s, RUN.engine_speed, 100.0 * RUN.throttle, RUN.coolant_temperature - 273.15)
    counts = [printed((values - o) / f, 0) for values, f, o in zip(truth, factors, offsets, strict=True)]
    head = [("Name", "Time", "Engine Speed", "Throttle Position", "Coolant Temp"), ("Unit", "s", "rpm", "%", "°C")]
    head.append(("Factor", *(f"{one:g}" for one in factors)))
    head += [("Offset", *(f"{one:g}" for one in offsets))] * offset_row
    return lines([*head, *(("", *row) for row in zip(*counts, strict=True))], ";")


@pytest.mark.parametrize("offset_c", [0.0, -40.0])
def test_factors_and_offsets_above_the_counts_are_used_and_told(offset_c):
    text = scaled((0.001, 0.25, 0.1, 0.5), (0.0, 0.0, 0.0, offset_c), offset_row=offset_c != 0.0)
    (log,) = read_log(text.encode(), name="counts.csv")
    assert_whole(log, channels=("engine_speed", "throttle", "coolant_temperature"))
    assert told(log)["scales-stated"] == ("caution" if offset_c else "note")


@pytest.mark.parametrize("stated", ["x0.001,x0.25,x0.1\n", "factor above"])
def test_factors_by_their_sign_or_by_the_name_of_their_column(stated):
    above = "# Time: factor 0.001\n# Engine Speed: x0.25\n# MAP: factor 0.1\n" if stated == "factor above" else ""
    counts = (1000.0 * RUN.time_s, RUN.engine_speed / 0.25, RUN.manifold_pressure / 100.0)
    rows = lines(list(zip(*(printed(one, 0) for one in counts), strict=True)))
    head = "Time [s],Engine Speed [rpm],MAP [kPa]\n"
    (log,) = read_log((above + head + ("" if above else stated) + rows).encode(), name="counts.csv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure"))
    assert told(log)["scales-stated"] == "note"


def test_a_share_of_255_is_read_as_the_unit_says():
    rows = [(t, n, f"{255.0 * part:.0f}") for (t, n, *_), part in zip(ROWS, RUN.throttle, strict=True)]
    (log,) = read_log(lines([("Time [s]", "RPM", "TPS (0-255)"), *rows]).encode(), name="x.csv")
    assert_whole(log, channels=("engine_speed", "throttle"))


def test_factors_above_values_that_are_no_counts_are_not_used_and_told():
    head = lines([("Name", *NAMES), ("Unit", *UNITS), ("Factor", "0.001", "0.25", "0.1", "0.1", "0.1")], ";")
    (log,) = read_log((head + lines([("", *row) for row in ROWS], ";")).encode(), name="values.csv")
    assert_whole(log)
    assert told(log)["scales-stated"] == "caution"


def test_engine_speed_in_cells_with_a_unit_of_another_language():
    rows = [(f"{t} s", f"{n} giri/min", f"{p} kPa") for t, n, _, p, _ in ROWS]
    (log,) = read_log(lines([("Tempo", "Giri motore", "Pressione collettore"), *rows], "\t").encode(), name="x.tsv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure"))


def test_words_under_the_name_of_a_channel_are_a_caution():
    rows = [(t, n, f"about {oil}") for t, n, _, _, oil in ROWS]
    (log,) = read_log(lines([("Time [s]", "RPM", "Oil Pressure"), *rows]).encode(), name="x.csv")
    assert told(log)["columns-of-words"] == "caution" and log.get("oil_pressure") is None


def test_rows_of_a_second_clock_that_falls_are_counted():
    # It starts again amid: 200 of its 300 rows lie before times that were there already
    slow = [(t, p) for t, _, _, p, _ in ROWS[::2]]
    slow[100:] = [(t, p) for (t, _), (_, p) in zip(slow[:200], slow[100:], strict=True)]
    cells = [(t, n, *(slow[at] if at < len(slow) else ("", ""))) for at, (t, n, *_) in enumerate(ROWS)]
    (log,) = read_log(lines([("Time [s]", "RPM", "Time [s]", "MAP [kPa]"), *cells]).encode(), name="x.csv")
    found = log.get("manifold_pressure")
    assert found is not None and np.all(np.diff(found.time_s) >= 0)
    lost = [one.text for one in log.findings if one.code == "rows-of-another-clock"]
    assert lost and lost[0].startswith(f"{300 - found.values.size} of the 300 times in Time [s] (2) fall")


# What looks so and is not


def test_rows_that_end_in_a_blank_by_turns_are_not_joined():
    rows = [(t, n, p if at % 2 else "") for at, (t, n, _, p, _) in enumerate(ROWS)]
    (log,) = read_log(lines([("Time [s]", "RPM", "MAP [kPa]"), *rows]).encode(), name="x.csv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure"))


def test_rows_all_as_long_as_each_other_are_not_joined():
    wide = (10, 22, 16, 26, 20)
    rows = ["|".join(f"{one:>{many}} " for one, many in zip(row, wide, strict=True)) for row in [tuple(TITLES), *ROWS]]
    rule = "+".join("-" * (many + 1) for many in wide)
    (log,) = read_log("\n".join([rows[0], rule, *rows[1:], f"({EVERY} rows)", ""]).encode(), name="dump.txt")
    assert_whole(log)


def test_rows_that_are_counted_are_no_list_of_columns():
    held = [",".join(row) for row in [tuple(TITLES), *ROWS[:2], tuple(TITLES), *ROWS]]
    (log,) = read_log(("\n".join(held) + "\n").encode(), name="x.csv")
    assert_whole(log)


def test_words_that_make_known_names_in_two_ways_are_refused():
    rows = lines([row[:3] for row in ROWS], " ")
    with pytest.raises(NotALog, match="parted by blanks"):
        read_log(("Time Speed Engine Speed\n" + rows).encode(), name="x.txt")


def test_a_column_of_states_is_no_stream():
    rows = [("RUN" if at > 200 else "IDLE", t, n, p) for at, (t, n, _, p, _) in enumerate(ROWS)]
    (log,) = read_log(lines([("State", "Time [s]", "RPM", "MAP [kPa]"), *rows]).encode(), name="x.csv")
    assert_whole(log, channels=("engine_speed", "manifold_pressure"))
