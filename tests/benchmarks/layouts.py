"""Hard layouts of one pass (`tests.analysis.reading.hard_layouts`), read here and by general readers of tables.

python -m tests.benchmarks.layouts [FOLDER]

A general reader is right where some columns of what it returns hold every value of engine speed and of the last channel
of the case, in order and to the last row, whatever their names: it knows neither units nor recordings. pandas comes
with the tests; DuckDB and CleverCSV are asked where they can be imported, also from FOLDER (`pip install --target`).
"""

from __future__ import annotations

import contextlib
import importlib
import importlib.util
import io
import os
import sys
import tempfile
import warnings
from collections.abc import Callable

import numpy as np
import pandas
import polars as pl

from passband.analysis.channels.log import LogError
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_layouts import CASES, CHANNELS, COLUMNS, Case

Columns = list[np.ndarray]


def _printed(case: Case, channel: str) -> np.ndarray:
    """A channel's values as the file prints them, all recordings one after the other."""
    scale, offset = COLUMNS[CHANNELS.index(channel)][3:5]
    return np.concatenate([(samples[channel][1] - offset) / scale for samples in case.recordings])


def _holds(columns: Columns, values: np.ndarray) -> bool:
    held = [column[np.isfinite(column)] for column in columns]
    return any(one.size == values.size and bool(np.allclose(one, values, atol=1e-6)) for one in held)


def is_right(case: Case, columns: Columns) -> bool:
    """Whether columns hold all of engine speed and of the case's last channel."""
    last = list(case.recordings[0])[-1]
    return all(_holds(columns, _printed(case, channel)) for channel in ("engine_speed", last))


def _numbers(frame: pandas.DataFrame) -> Columns:
    return [pandas.to_numeric(frame[name], errors="coerce").to_numpy(dtype=float) for name in frame.columns]


def by_pandas(data: bytes) -> Columns:
    """pandas, its Python engine with the delimiter sniffed."""
    return _numbers(pandas.read_csv(io.BytesIO(data), sep=None, engine="python", on_bad_lines="skip"))


def by_polars(data: bytes) -> Columns:
    """polars, lenient."""
    frame = pl.read_csv(data, ignore_errors=True, truncate_ragged_lines=True, infer_schema_length=None)
    return [column.cast(pl.Float64, strict=False).to_numpy() for column in frame.get_columns()]


def by_duckdb(data: bytes) -> Columns:
    """DuckDB, all sniffed, errors ignored."""
    duckdb = importlib.import_module("duckdb")
    with tempfile.NamedTemporaryFile(suffix=".csv") as file:
        file.write(data)
        file.flush()
        query = "select * from read_csv(?, sample_size=-1, ignore_errors=true, null_padding=true)"
        relation = duckdb.connect().execute(query, [file.name])
        return _numbers(relation.df())


def by_clevercsv(data: bytes) -> Columns:
    """CleverCSV, its dialect found by its own measure."""
    clevercsv = importlib.import_module("clevercsv")
    with tempfile.NamedTemporaryFile(suffix=".csv") as file:
        file.write(data)
        file.flush()
        return _numbers(clevercsv.read_dataframe(file.name, num_chars=20_000))


READERS: dict[str, Callable[[bytes], Columns]] = {
    "pandas": by_pandas,
    "polars": by_polars,
    "duckdb": by_duckdb,
    "clevercsv": by_clevercsv,
}


def _here(case: Case) -> bool:
    """Whether this reader is right, names, units and times included."""
    try:
        logs = read_log(case.data, name="run.csv")
    except LogError:
        return False
    if len(logs) != len(case.recordings):
        return False
    for log, samples in zip(logs, case.recordings, strict=True):
        for channel, (times, values) in samples.items():
            found = log.get(channel)
            if found is None or found.known.values.size != values.size:
                return False
            if not (np.allclose(found.known.values, values, rtol=1e-6) and np.allclose(found.known.time_s, times)):
                return False
    return True


def _asked(reader: Callable[[bytes], Columns], case: Case) -> bool:
    """Whether a general reader is right; whatever it raises is a miss."""
    try:
        with warnings.catch_warnings(), contextlib.redirect_stderr(io.StringIO()):
            warnings.simplefilter("ignore")
            return is_right(case, reader(case.data))
    except Exception:
        return False


def main(folder: str = "") -> int:
    """Print which of the readers is right on which case; 1 where this one is not on some."""
    if folder:
        sys.path.append(os.path.abspath(folder))
    asked = {name: reader for name, reader in READERS.items() if importlib.util.find_spec(name) is not None}
    counts = dict.fromkeys(("passband", *asked), 0)
    print(f"{'case':52} {' '.join(f'{name:>9}' for name in counts)}")
    for name, case in CASES.items():
        right = {"passband": _here(case), **{one: _asked(reader, case) for one, reader in asked.items()}}
        for one, is_so in right.items():
            counts[one] += is_so
        print(f"{name:52} {' '.join(f'{int(is_so):9d}' for is_so in right.values())}")
    print(f"{f'right of {len(CASES)}':52} {' '.join(f'{count:9d}' for count in counts.values())}")
    return int(counts["passband"] < len(CASES))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:2]))
