"""How fast files are read, and in how much memory, against bare `polars.read_csv` of the clean one in the same run.

python -m tests.benchmarks.reading [rounds]

Rounds are interleaved and the least time of each counts, so that a busy machine slows all alike. Both read on all
cores; the ratio of wall times judges, and that of processor times stands beside it.

polars' allocator is set as in a server (`passband.service`, imported before polars): blocks that a log used are not
cleared anew for the next, of either reader.

What is compared is not alike: the bare reader guesses types and parts numbers, and leaves each column in some twenty
pieces. Reading a log also makes each column one array, in SI units, and asks what it is and whether its sensor is
sound. The clean file names one channel that is known, so it shows what reading costs; the one of known channels shows
what understanding adds, against a bare reading of the same bytes.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import passband.service  # noqa: F401  # before polars, whose allocator it sets

# isort: split
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
    "known channels": 2.6,
}
KNOWN = (
    *(f"{name} [rpm]" for name in ("Engine Speed", "Driveshaft Speed")),
    *(f"{name} Pressure [kPa]" for name in ("Manifold", "Oil", "Fuel")),
    *(f"{name} [\u00b0C]" for name in ("Oil Temp", "Coolant Temp", *(f"EGT {at}" for at in range(1, 9)))),
    *(f"Wheel Speed {at} [km/h]" for at in ("FL", "FR", "RL", "RR")),
)
"""Channels whose health is looked at in many ways."""
MOST_MEMORY = 4.5
"""Most memory while reading, in sizes of the file."""


def clean_file() -> bytes:
    """60,000 rows of 100 channels with two decimals: about 44 MB."""
    rng = np.random.default_rng(1)
    columns = {"Time [s]": np.arange(ROWS) / RATE_HZ, "Engine Speed [rpm]": np.round(rng.normal(6000, 900, ROWS))}
    columns |= {f"Channel {at} [kPa]": np.round(rng.normal(100, 30, ROWS), 2) for at in range(3, COLUMNS + 1)}
    return pl.DataFrame(columns).write_csv(float_precision=3).encode()


def known_file() -> bytes:
    """60,000 rows of channels that are known, each moving slowly and with noise: about 8 MB."""
    rng = np.random.default_rng(3)
    time_s = np.arange(ROWS) / RATE_HZ
    ranges = {"rpm": (2500.0, 9000.0, 15.0), "kPa": (150.0, 500.0, 2.0), "km/h": (50.0, 300.0, 0.4)}

    def of(name: str) -> np.ndarray:
        low, high, noise = ranges.get(name.rpartition("[")[2].rstrip("]"), (70.0, 110.0, 0.3))
        moved = np.interp(time_s, np.linspace(0.0, time_s[-1], 60), rng.uniform(low, high, 60))
        return np.round(moved + rng.normal(0.0, noise, ROWS), 1)

    return (
        pl.DataFrame({"Time [s]": time_s, **{name: of(name) for name in KNOWN}}).write_csv(float_precision=3).encode()
    )


def files() -> dict[str, bytes]:
    """The clean file and its dialects, and the one of known channels."""
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
                known_file(),
            ),
            strict=True,
        )
    )


@dataclass
class Least:
    """The least times that some work took."""

    wall_s: list[float] = field(default_factory=list)
    processor_s: list[float] = field(default_factory=list)

    def take(self, work: Callable[[], object]) -> None:
        """Do it once more."""
        began, used = time.perf_counter(), time.process_time()
        work()
        self.wall_s.append(time.perf_counter() - began)
        self.processor_s.append(time.process_time() - used)

    def over(self, bare: Least) -> tuple[float, float]:
        """In the bare reader's: wall time, processor time."""
        return min(self.wall_s) / min(bare.wall_s), min(self.processor_s) / min(bare.processor_s)


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
    clean, known = made["clean"], made["known channels"]
    bare, bare_known = Least(), Least()
    taken = {name: Least() for name in made}
    for _ in range(rounds):
        bare.take(lambda: pl.read_csv(clean))
        bare_known.take(lambda: pl.read_csv(known))
        for name, data in made.items():
            taken[name].take(lambda data=data, name=name: read_log(data, name=name))
    print(f"bare polars.read_csv of the clean file: {1e3 * min(bare.wall_s):.0f} ms (1.0)")
    print(f"{'file':56} {'MB':>5} {'ratio':>6} {'most':>5} {'processor':>9} {'memory':>7} {'most':>5}")
    missed = 0
    for name, data in made.items():
        ratio, processor = taken[name].over(bare_known if data is known else bare)
        memory = memory_in_files(data)
        missed += ratio > MOST[name] or memory > MOST_MEMORY
        print(
            f"{name:56} {len(data) / 1e6:5.0f} {ratio:6.2f} {MOST[name]:5.1f} {processor:9.2f} {memory:7.1f} "
            f"{MOST_MEMORY:5.1f}"
        )
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1])) if len(sys.argv) > 1 else main())
