"""Who reads what right, with no hints: this reader, pandas.read_csv, polars.read_csv, csv.Sniffer.

Each is given the same bytes as a user has them, with no argument but the file. Right means: engine speed found under
its header as numbers, every one equal to what is printed. Run as a module, `python -m
tests.published.test_readers_compared`, it prints the table.
"""

import csv
import io
from collections.abc import Callable

import numpy as np
import pandas as pd
import polars as pl
import pytest

from passband.analysis.channels.log import LogError
from passband.analysis.reading import read_log
from tests.analysis.reading.dialects import Dialect, a_run, with_blanks, write

SHEET = a_run(200)
TRUTH = SHEET.column("Engine Speed")
PREAMBLE = ("Fuel{d}methanol blend{d} cold", 'Note{d}a stray "quote', "", "Crew: three")
FILES: dict[str, bytes] = {
    "plain": write(SHEET, Dialect(units="nowhere")).data,
    "units in brackets, CRLF": write(SHEET, Dialect(line_end="\r\n")).data,
    "quoted": write(SHEET, Dialect(quoted_cells=True, quoted_header=True)).data,
    "blank cells": write(with_blanks(SHEET, "Coolant Temp", 4), Dialect()).data,
    "semicolon": write(SHEET, Dialect(delimiter=";")).data,
    "tab": write(SHEET, Dialect(delimiter="\t")).data,
    "bar": write(SHEET, Dialect(delimiter="|")).data,
    "semicolon, decimal comma": write(SHEET, Dialect(delimiter=";", decimal=",")).data,
    "units row": write(SHEET, Dialect(units="row")).data,
    "preamble": write(SHEET, Dialect(preamble=PREAMBLE)).data,
    "Latin-1": write(SHEET, Dialect(encoding="latin-1")).data,
    "UTF-16": write(SHEET, Dialect(encoding="utf-16-le")).data,
    "CR line ends": write(SHEET, Dialect(line_end="\r")).data,
    "trailing delimiter": write(SHEET, Dialect(trailing=True)).data,
    "blanks around cells": write(SHEET, Dialect(padded=True)).data,
    "gzip": write(SHEET, Dialect(compression="gzip")).data,
    "zip": write(SHEET, Dialect(compression="zip")).data,
    "cut last line": write(SHEET, Dialect()).data[:-25],
    "header repeated": write(SHEET, Dialect()).data * 2,
    "all at once": write(
        SHEET, Dialect(delimiter=";", decimal=",", encoding="latin-1", units="row", preamble=PREAMBLE, trailing=True)
    ).data,
}


def ours(data: bytes) -> np.ndarray | None:
    """The first recording as we read it."""
    channel = read_log(data, name="run.csv")[0].get("engine_speed")
    return None if channel is None else channel.values


def by_pandas(data: bytes) -> np.ndarray | None:
    """`pandas.read_csv` with no argument but the file (and its name's ending, by which it unpacks)."""
    packed = "gzip" if data[:2] == b"\x1f\x8b" else "zip" if data[:2] == b"PK" else None
    return _engine_column(pd.read_csv(io.BytesIO(data), compression=packed))


def by_polars(data: bytes) -> np.ndarray | None:
    """`polars.read_csv` with no argument but the bytes."""
    return _engine_column(pl.read_csv(data))


def by_sniffer(data: bytes) -> np.ndarray | None:
    """`csv.Sniffer` for the dialect, `csv.reader` for the rows, `float` for the cells."""
    text = data.decode("utf-8")
    rows = list(csv.reader(io.StringIO(text, newline=""), csv.Sniffer().sniff(text[:4096])))
    at = next(i for i, name in enumerate(rows[0]) if name.startswith("Engine Speed"))
    return np.array([float(row[at]) for row in rows[1:]])


def _engine_column(frame: pd.DataFrame | pl.DataFrame) -> np.ndarray | None:
    name = next((name for name in frame.columns if str(name).startswith("Engine Speed")), None)
    if name is None:
        return None
    values = frame[name].to_numpy()
    return values if np.issubdtype(values.dtype, np.number) else None


READERS: dict[str, Callable[[bytes], np.ndarray | None]] = {
    "ours": ours,
    "pandas": by_pandas,
    "polars": by_polars,
    "sniffer": by_sniffer,
}


def is_right(reader: Callable[[bytes], np.ndarray | None], data: bytes, expected: np.ndarray) -> bool:
    """Whether a reader finds engine speed and every value of it."""
    try:
        values = reader(data)
    except (LogError, ValueError, StopIteration, csv.Error, pd.errors.ParserError, pl.exceptions.PolarsError):
        return False
    return values is not None and np.array_equal(values, expected)


def expected_of(name: str) -> np.ndarray:
    return TRUTH[:-1] if name == "cut last line" else TRUTH


@pytest.mark.parametrize("name", FILES)
def test_every_file_is_read_right_with_no_hints(name):
    assert is_right(ours, FILES[name], expected_of(name))


@pytest.mark.parametrize("reader", ["pandas", "polars", "sniffer"])
def test_the_plain_file_is_read_alike_by_all(reader):
    assert is_right(READERS[reader], FILES["plain"], TRUTH)


@pytest.mark.parametrize("reader", ["pandas", "polars"])
def test_where_another_reader_is_right_so_are_we_and_more(reader):
    theirs = {name for name, data in FILES.items() if is_right(READERS[reader], data, expected_of(name))}
    assert "plain" in theirs and len(theirs) < len(FILES)


def table() -> str:
    """Files down, readers across."""
    lines = [f"{'':28}" + "".join(f"{name:>9}" for name in READERS)]
    for name, data in FILES.items():
        marks = ("right" if is_right(reader, data, expected_of(name)) else "-" for reader in READERS.values())
        lines.append(f"{name:28}" + "".join(f"{mark:>9}" for mark in marks))
    return "\n".join(lines)


if __name__ == "__main__":
    print(table())
