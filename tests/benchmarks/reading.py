"""How fast files are read, and in how much memory, against bare `polars.read_csv` of the clean one in the same run.

python -m tests.benchmarks.reading [rounds]

Rounds are interleaved and the least time of each counts, so that a busy machine slows all alike.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import polars as pl

from passband.analysis.reading import read_log

ROWS, COLUMNS = 60_000, 100
RATE_HZ = 500.0
# Most of the time of bare polars on the clean file that each may take.
MOST = {
    "clean": 1.2,
    "semicolon, decimal comma, preamble, units row, Latin-1": 1.3,
    "90 % blank cells": 1.0,
    "UTF-16": 1.5,
}
MOST_MEMORY = 4.5
"""Most memory while reading, in sizes of the file."""


def clean_file() -> bytes:
    """60,000 rows of 100 channels with two decimals: about 44 MB."""
    rng = np.random.default_rng(1)
    columns = {"Time [s]": np.arange(ROWS) / RATE_HZ, "Engine Speed [rpm]": np.round(rng.normal(6000, 900, ROWS))}
    columns |= {f"Channel {at} [kPa]": np.round(rng.normal(100, 30, ROWS), 2) for at in range(3, COLUMNS + 1)}
    return pl.DataFrame(columns).write_csv(float_precision=3).encode()


def files() -> dict[str, bytes]:
    """The clean file and its three dialects."""
    clean = clean_file()
    header, *rows = clean.decode().splitlines()
    names, units = zip(*(cell.rstrip("]").split(" [") for cell in header.split(",")), strict=True)
    above = ["Driver;Bj\u00f6rn", "Fuel;methanol; cold", 'Note;"a stray quote', ";".join(names)]
    units_row = ";".join("\u00b0C" if unit == "kPa" else unit for unit in units)
    comma = "\n".join([*above, units_row, *(row.replace(",", ";").replace(".", ",") for row in rows)])
    sparse = [row if at % 10 == 0 else row.split(",", 1)[0] + "," * (COLUMNS - 1) for at, row in enumerate(rows)]
    return dict(
        zip(
            MOST,
            (
                clean,
                comma.encode("latin-1"),
                "\n".join([header, *sparse]).encode(),
                b"\xff\xfe" + clean.decode().encode("utf-16-le"),
            ),
            strict=True,
        )
    )


def seconds(work: Callable[[], object]) -> float:
    """How long it takes once."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _resident_bytes() -> int:
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()


def _peak_bytes(path: str, answer: multiprocessing.Queue[int]) -> None:
    rows = "\n".join(
        ",".join([f"{at * 0.01:.2f}", *["1.5"] * 99]) for at in range(2000)
    )  # what starts up once, started
    read_log(("Time [s],RPM [rpm]" + ",x [kPa]" * 98 + "\n" + rows + "\n").encode(), name="warm.csv")
    before = _resident_bytes()
    most = [before]
    done = threading.Event()

    def watch() -> None:
        while not done.wait(0.001):
            most.append(_resident_bytes())

    watcher = threading.Thread(target=watch)
    watcher.start()
    read_log(Path(path).read_bytes(), name="run.csv")
    done.set()
    watcher.join()
    answer.put(max(most) - before)


def memory_in_files(data: bytes) -> float:
    """Most memory a fresh process adds while it holds the file and reads it, in sizes of the file."""
    context = multiprocessing.get_context("spawn")
    answer: multiprocessing.Queue[int] = context.Queue()
    with tempfile.NamedTemporaryFile(suffix=".csv") as file:
        file.write(data)
        file.flush()
        process = context.Process(target=_peak_bytes, args=(file.name, answer))
        process.start()
        peak = answer.get(timeout=120)
        process.join()
    return peak / len(data)


def main(rounds: int = 15) -> int:
    """Print the table; 1 where a target is missed."""
    made = files()
    clean = made["clean"]
    bare: list[float] = []
    taken: dict[str, list[float]] = {name: [] for name in made}
    for _ in range(rounds):
        bare.append(seconds(lambda: pl.read_csv(clean)))
        for name, data in made.items():
            taken[name].append(seconds(lambda data=data, name=name: read_log(data, name=name)))
    print(f"bare polars.read_csv of the clean file: {1e3 * min(bare):.0f} ms (1.0)")
    print(f"{'file':56} {'MB':>5} {'ratio':>6} {'most':>5} {'memory':>7} {'most':>5}")
    missed = 0
    for name, data in made.items():
        ratio, memory = min(taken[name]) / min(bare), memory_in_files(data)
        missed += ratio > MOST[name] or memory > MOST_MEMORY
        print(f"{name:56} {len(data) / 1e6:5.0f} {ratio:6.2f} {MOST[name]:5.1f} {memory:7.1f} {MOST_MEMORY:5.1f}")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1])) if len(sys.argv) > 1 else main())
