"""A simulated pass as cards full of errors, spreadsheets and other loggers lay it out, with what is to be read.

Planted: the rows are the demo weekend's first ECU log, cut to eleven columns; each layout is made from them here.
"""

from __future__ import annotations

import gzip
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from passband.demo_logs.make_weekend import FOLDER

Rows = list[list[str]]
Samples = tuple[np.ndarray, np.ndarray]

PSI_IN_KPA, MPH_IN_KMH = 6.894757, 1.609344
COLUMNS = (  # as the demo log names it, as it is named here, its unit, factor and offset to SI, channel, factor of unit
    ("Time [s]", "Time", "s", 1.0, 0.0, "", 1.0),
    ("Engine Speed [rpm]", "Engine Speed", "rpm", 1.0, 0.0, "engine_speed", 1.0),
    ("Throttle Position [%]", "Throttle Position", "%", 0.01, 0.0, "throttle", 1.0),
    ("Manifold Pressure [psi]", "Manifold Pressure", "kPa", 1000.0, 0.0, "manifold_pressure", PSI_IN_KPA),
    ("Boost [psi]", "Boost", "kPa", 1000.0, 0.0, "boost", PSI_IN_KPA),
    ("Lambda Bank 1", "Lambda 1", "", 1.0, 0.0, "lambda_1", 1.0),
    ("Oil Press [psi]", "Oil Pressure", "kPa", 1000.0, 0.0, "oil_pressure", PSI_IN_KPA),
    ("Coolant Temperature [C]", "Coolant Temperature", "C", 1.0, 273.15, "coolant_temperature", 1.0),
    ("Gear Position", "Gear", "", 1.0, 0.0, "gear", 1.0),
    ("Drive Wheel Speed [mph]", "Wheel Speed Driven", "km/h", 1 / 3.6, 0.0, "wheel_speed_driven", MPH_IN_KMH),
    ("Battery [V]", "Battery Voltage", "V", 1.0, 0.0, "battery", 1.0),
)
NAMES = [column[1] for column in COLUMNS]
UNITS = [column[2] for column in COLUMNS]
CHANNELS = [column[5] for column in COLUMNS]
CHANGE = 2100
"""Row at which a layout changes: 115 kB into the file, past the head by which a layout is found."""


@dataclass(frozen=True)
class Case:
    """A file, and what is to be read of it."""

    data: bytes
    recordings: tuple[dict[str, Samples], ...]
    """For each, times and SI values of each channel. [s]"""
    told: str = ""
    """Code of a finding that must be among those of the file; with a mark of exclamation before it, must not."""


def pass_rows() -> Rows:
    """The printed cells of the pass: 2970 rows at 100 Hz."""
    header, *lines = gzip.decompress((FOLDER / "01_q1_ecu.csv.gz").read_bytes()).decode("utf-8-sig").splitlines()
    places = [header.split(",").index(column[0]) for column in COLUMNS]
    rows = [[line.split(",")[at] for at in places] for line in lines]
    for row in rows:
        for at, column in enumerate(COLUMNS):
            if column[6] != 1.0:
                row[at] = f"{float(row[at]) * column[6]:.1f}"
    return rows


ROWS = pass_rows()
BEFORE, AFTER = ROWS[:CHANGE], ROWS[CHANGE:]


def heading(at: Sequence[int] = range(11), delimiter: str = ",") -> str:
    """The header of some columns."""
    return delimiter.join(NAMES[i] + (f" [{UNITS[i]}]" if UNITS[i] else "") for i in at)


def joined(rows: Rows, delimiter: str = ",") -> list[str]:
    """Lines of rows."""
    return [delimiter.join(row) for row in rows]


def of(rows: Rows, at: Sequence[int]) -> Rows:
    """Some columns of rows."""
    return [[row[i] for i in at] for row in rows]


def data(lines: list[str], end: str = "\n", encoding: str = "utf-8") -> bytes:
    """Lines as a file."""
    return (end.join(lines) + end).encode(encoding)


def truth(rows: Rows = ROWS, at: Sequence[int] = range(11), *, first_s: float | None = None) -> dict[str, Samples]:
    """Times from a recording's first row and SI values of each column's cells; `rows` hold the columns `at`."""
    stamps = np.array([float(row[0]) for row in rows])
    stamps = stamps - (stamps[0] if first_s is None else first_s)
    samples = {}
    for place, column in enumerate(at):
        held = [i for i, row in enumerate(rows) if place < len(row) and row[place] != ""]
        scale, offset = COLUMNS[column][3], COLUMNS[column][4]
        if column:
            values = np.array([float(rows[i][place]) for i in held]) * scale + offset
            samples[CHANNELS[column]] = (stamps[held], values)
    return samples


def but(samples: dict[str, Samples], **others: Samples) -> dict[str, Samples]:
    """The same with other samples of some channels."""
    return {**samples, **others}


def changed(how: Callable[[list[str]], str], *, told: str = "layout-changes", **others: Samples) -> Case:
    """Rows that are laid out otherwise from `CHANGE` on."""
    return Case(data([heading(), *joined(BEFORE), *map(how, AFTER)]), (but(truth(), **others),), told)


def grouped(cell: str, mark: str) -> str:
    """A number with its thousands grouped, and the other mark before its decimals."""
    whole, point, decimals = cell.partition(".")
    if len(whole.lstrip("-")) > 3:
        whole = whole[:-3] + mark + whole[-3:]
    return whole + ("." if mark == "," else ",") * bool(point) + decimals


def with_words(words: str, first: int, last: int) -> Case:
    """Words instead of wheel speeds in some rows."""
    rows = [[*row[:9], words, *row[10:]] if first <= at < last else row for at, row in enumerate(ROWS)]
    times, values = truth()["wheel_speed_driven"]
    kept = (np.arange(len(ROWS)) < first) | (np.arange(len(ROWS)) >= last)
    told = "unreadable-cells"
    return Case(data([heading(), *joined(rows)]), (but(truth(), wheel_speed_driven=(times[kept], values[kept])),), told)


def quoted(row: list[str], mark: str) -> str:
    """A row of cells in quotes, with a decimal mark."""
    return ",".join(f'"{cell.replace(".", mark)}"' for cell in row)


def turns() -> Case:
    """Headers of the same columns in two orders, by turns; without boost, which some hundred rows cannot tell."""
    orders = ((0, 1, 2, 3, 5, 6), (0, 3, 2, 1, 5, 6))
    edges = (0, 700, 1400, 2200, len(ROWS))
    lines = []
    for part in range(4):
        at = orders[part % 2]
        lines += [heading(at), *joined(of(ROWS[edges[part] : edges[part + 1]], at))]
    return Case(data(lines), (truth(of(ROWS, orders[0]), orders[0]),), "header-changes")


def in_sectors(lines: list[str], size: int = 512) -> bytes:
    """Whole lines in sectors of a card, the rest of each filled with zeros."""
    out = sector = b""
    for line in lines:
        row = line.encode() + b"\r\n"
        if len(sector) + len(row) > size:
            out, sector = out + sector.ljust(size, b"\0"), b""
        sector += row
    return out + sector.ljust(size, b"\0")


def ragged(at: Sequence[int], kept: Callable[[int], int]) -> Case:
    """Rows that end at their last value: so many cells in each."""
    rows = [row[: kept(i)] for i, row in enumerate(of(ROWS, at))]
    return Case(data([heading(at), *joined(rows)]), (truth(rows, at),), "!damaged-lines")


def with_another_header(at: Sequence[int], name: Callable[[int], str] = lambda i: NAMES[i]) -> Case:
    """Another header amid the rows, over other columns or another order of them."""
    other = ",".join(name(i) + (f" [{UNITS[i]}]" if UNITS[i] else "") for i in at)
    samples = {
        channel: whole if CHANNELS.index(channel) in at else truth(BEFORE)[channel]
        for channel, whole in truth().items()
    }
    return Case(data([heading(), *joined(BEFORE), other, *joined(of(AFTER, at))]), (samples,), "header-changes")


def blocks_beside() -> Case:
    """Two blocks of unlike channels over the same time, the second slower, with a title."""
    engine, chassis = (0, 1, 2, 3), (0, 6, 7, 9, 10)
    slower = of(ROWS[::5], chassis)
    lines = ["Engine", "", heading(engine), *joined(of(ROWS, engine))]
    lines += ["", "Chassis", "", heading(chassis), *joined(slower)]
    return Case(data(lines), (truth(of(ROWS, engine), engine) | truth(slower, chassis),), "header-changes")


def restarts(number: int, rows: int) -> Case:
    """A logger that starts again and again, at 0 s; without boost, which half a second cannot tell from gauge."""
    at = (0, 1, 2, 3, 5, 6, 7, 9, 10)
    lines, recordings = [], []
    for part in range(number):
        held = of(ROWS[part * rows : (part + 1) * rows], at)
        counted = [[f"{i * 0.01:.2f}", *row[1:]] for i, row in enumerate(held)]
        lines += [heading(at), *joined(counted)]
        recordings.append(truth(counted, at))
    return Case(data(lines), tuple(recordings), "logger-restarted")


def long_form(header: str, row: Callable[[str, str, str, str], str], *, by_channel: bool = False) -> Case:
    """A line for each value."""
    rows = ROWS[1000:2400]
    values = [(cells[0], NAMES[i], cells[i], UNITS[i]) for cells in rows for i in range(1, 11)]
    if by_channel:
        values.sort(key=lambda value: (NAMES.index(value[1]), float(value[0])))
    return Case(data([header, *(row(*value) for value in values)]), (truth(rows),), "long-form")


def pages() -> Case:
    """The header printed again over each 25 rows."""
    lines = [line for first in range(0, len(ROWS), 25) for line in (heading(), *joined(ROWS[first : first + 25]))]
    return Case(data(lines), (truth(),), "header-repeats")


def statistics_below() -> list[str]:
    """Lines of statistics as some exports end with."""
    table = np.array([[float(cell) for cell in row[1:]] for row in ROWS])
    figures = {"Min": table.min(axis=0), "Max": table.max(axis=0), "Mean": table.mean(axis=0)}
    return ["", *(",".join([name, *(f"{one:.1f}" for one in row)]) for name, row in figures.items())]


TITLES = [NAMES[i] + (f", {UNITS[i]}" if UNITS[i] else "") for i in range(11)]
BROKEN = [f"{NAMES[i]}\n[{UNITS[i] or '-'}]".replace(" ", "\n") for i in range(11)]
GROUPS = ["", "Engine", "Throttle", "Manifold", "", "Lambda", "Oil", "Coolant", "", "Wheel", "Battery"]
MEMBERS = ["Time", "Speed", "Position", "Pressure", "Boost", "1", "Pressure", "Temperature", "Gear", "Speed Driven",
           "Voltage"]  # fmt: skip
SWAPPED = (0, 3, 2, 1, 4, 5, 6, 7, 8, 9, 10)
"""Engine speed and manifold pressure in each other's place."""
PLAIN = data([heading(), *joined(ROWS)])
MIDDLE = PLAIN.find(b"\n", len(PLAIN) // 2) + 1
WHOLE = (truth(),)
LABELLED = [u or "-" for u in UNITS]

CASES: dict[str, Case] = {
    # from some row on
    "quotes begin": changed(lambda row: ",".join(f'"{cell}"' for cell in row)),
    "thousands are grouped within quotes": changed(
        lambda row: ",".join(f'"{grouped(cell, ",")}"' if float(cell) >= 1000 else cell for cell in row)
    ),
    "quotes with decimal commas begin": changed(lambda row: quoted(row, ",")),
    "quotes with decimal points begin among commas": Case(
        data([heading(delimiter=";"), *(line.replace(".", ",") for line in joined(BEFORE, ";")),
              *(";".join(f'"{cell}"' for cell in row) for row in AFTER)]), WHOLE, "layout-changes",
    ),
    "thousands are grouped among decimal commas": Case(
        data([heading(delimiter=";"), *(line.replace(".", ",") for line in joined(BEFORE, ";")),
              *(";".join(grouped(cell, ".") for cell in row) for row in AFTER)]), WHOLE, "layout-changes",
    ),
    "a column comes at the end": changed(lambda row: ",".join([*row, "7"])),
    "a column comes in the middle": changed(lambda row: ",".join([*row[:3], "7.5", *row[3:]])),
    "a blank comes first": changed(lambda row: ",".join(["", *row])),
    "a column goes at the end": changed(lambda row: ",".join(row[:-1]), battery=truth(BEFORE)["battery"]),
    "a column goes in the middle": changed(lambda row: ",".join(row[:4] + row[5:]), boost=truth(BEFORE)["boost"]),
    "another delimiter and decimal mark": changed(lambda row: ";".join(row).replace(".", ",")),
    "another delimiter in the head already": Case(
        data([heading(), *joined(ROWS[:100]), *joined(ROWS[100:], ";")]), WHOLE, "layout-changes"
    ),
    "decimal points after commas in quotes": Case(
        data([heading(), *(quoted(row, ",") for row in BEFORE), *joined(AFTER)]), WHOLE
    ),
    "grouped thousands after commas in quotes": Case(
        data([heading(), *(quoted(row, ",") for row in BEFORE),
              *(",".join(f'"{grouped(cell, ".")}"' for cell in row) for row in AFTER)]), WHOLE, "layout-changes",
    ),
    "a column in the middle goes in each tenth row": Case(
        data([heading(), *(",".join(row[:3] + row[4:] if at % 10 == 7 else row) for at, row in enumerate(ROWS))]),
        (truth([row for at, row in enumerate(ROWS) if at % 10 != 7]),), "shifted-columns",
    ),
    "decimal commas begin": Case(
        data([heading(delimiter=";"), *joined(BEFORE, ";"), *(s.replace(".", ",") for s in joined(AFTER, ";"))]),
        WHOLE, "layout-changes",
    ),
    "typographic minus signs begin": changed(lambda row: ",".join(row).replace("-", "\u2212")),
    "words begin": with_words("No Fix", CHANGE, CHANGE + 300),
    "words come first": with_words("No Fix", 0, CHANGE),
    "a switch's word comes first": with_words("off", 0, CHANGE),
    "line feeds, then carriage returns": Case(
        data([heading(), *joined(BEFORE)]) + data(joined(AFTER), "\r"), WHOLE, "!damaged-lines"
    ),
    "carriage returns, then both": Case(
        data([heading(), *joined(BEFORE)], "\r") + data(joined(AFTER), "\r\n"), WHOLE, "!damaged-lines"
    ),
    # bytes of cards
    "zeros before": Case(bytes(512) + PLAIN, WHOLE),
    "a sector of zeros within": Case(PLAIN[:MIDDLE] + bytes(512) + PLAIN[MIDDLE:], WHOLE, "!damaged-lines"),
    "lines in sectors": Case(in_sectors([heading(), *joined(ROWS)]), WHOLE, "!damaged-lines"),
    # below the rows
    "an end mark without line end": Case(PLAIN + b"*** END OF DATA ***", WHOLE, "!cut-last-line"),
    "statistics below": Case(PLAIN + data(statistics_below()), WHOLE, "!cut-last-line"),
    "keys and values below": Case(PLAIN + b"\nRows,2970\nDuration,29.69 s\n", WHOLE, "lines-after-the-rows"),
    # trailing blanks left out
    "three columns, one full row in a hundred": ragged((0, 1, 7), lambda i: 3 if i % 100 == 0 else 2),
    "three columns, mostly time alone": ragged((0, 1, 7), lambda i: 3 if i % 20 == 0 else 2 if i % 5 == 0 else 1),
    "full rows past the head only": ragged((0, 1, 2, 3, 7), lambda i: 5 if i > CHANGE and i % 10 == 0 else 4),
    # other headers below
    "another order": with_another_header(SWAPPED),
    "other names in another order": with_another_header(SWAPPED, lambda i: {1: "RPM", 3: "MAP"}.get(i, NAMES[i])),
    "fewer columns": with_another_header((0, 1, 3, 7)),
    "two blocks beside each other": blocks_beside(),
    "pages in one order, then in another, then in the first": turns(),
    "a header in quotes, with a row of units": Case(
        data([",".join(NAMES), ",".join(UNITS), *joined(BEFORE), ",".join(f'"{NAMES[i]}"' for i in SWAPPED),
              ",".join(UNITS[i] for i in SWAPPED), *joined(of(AFTER, SWAPPED))]), WHOLE, "header-changes",
    ),
    "a header over each 25 rows": pages(),
    "forty restarts": restarts(40, 74),
    # headers
    "labels before names and units": Case(
        data([",".join(["Name", *NAMES]), ",".join(["Units", *LABELLED]), *joined(ROWS)]), WHOLE
    ),
    "a label before units alone": Case(data([",".join(NAMES), ",".join(["Units", *LABELLED]), *joined(ROWS)]), WHOLE),
    "names over two rows": Case(data([",".join(GROUPS), ",".join(MEMBERS), ",".join(UNITS), *joined(ROWS)]), WHOLE),
    "line breaks in names": Case(data([",".join(f'"{one}"' for one in BROKEN), *joined(ROWS)]), WHOLE),
    "names over three of eleven columns": Case(
        data([heading(range(3)), *joined(ROWS)]), ({key: truth()[key] for key in ("engine_speed", "throttle")},),
        "names-and-cells-disagree",
    ),
    "a rule between names and rows": Case(data([heading(), "", "--- data ---", "", *joined(ROWS)]), WHOLE),
    "a counter of rows without a name": Case(
        data([heading(), *(f"{i},{line}" for i, line in enumerate(joined(ROWS), start=1))]), WHOLE, "names-moved"
    ),
    "apostrophes as quotes": Case(data([",".join(f"'{title}'" for title in TITLES), *joined(ROWS)]), WHOLE),
    "apostrophes before numbers": Case(data([heading(), *("'" + ",'".join(row) for row in ROWS)]), WHOLE),
    "cells as formulas": Case(data([heading(), *(",".join(f'="{cell}"' for cell in row) for row in ROWS)]), WHOLE),
    "escaped commas in names": Case(data([",".join(t.replace(",", "\\,") for t in TITLES), *joined(ROWS)]), WHOLE),
    "whole lines in quotes": Case(data([f'"{line}"' for line in (heading(), *joined(ROWS))]), WHOLE),
    # long form
    "a line a value": long_form("Time [s],Channel,Value", lambda t, n, v, u: f"{t},{n} [{u}],{v}"),
    "a line a value, channel by channel, units apart": long_form(
        "Channel,Time [s],Value,Unit", lambda t, n, v, u: f"{n},{t},{v},{u}", by_channel=True
    ),
    "a line a value, semicolons": long_form(
        "Timestamp;Name;Wert", lambda t, n, v, u: f'{t.replace(".", ",")};"{n} [{u}]";{v.replace(".", ",")}'
    ),
}  # fmt: skip
