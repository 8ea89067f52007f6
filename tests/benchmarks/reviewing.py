"""How long a review takes, each against a yardstick beside it: cold on the command line, of a usual pair, of an hour.

python -m tests.benchmarks.reviewing [rounds] [OTHER]

A yardstick is what the same work costs at the least: a start that only loads what reading and a car's file need, or
bare `polars.read_csv` of the same bytes. Rounds are interleaved and the least processor time of each counts, so that a
busy machine slows all alike. OTHER is a folder that holds another state of the house as one package `passband`: both
states are then timed in turn, and the ratio of the two printed.
"""

from __future__ import annotations

import gzip
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

WEEKEND = Path(__file__).parents[2] / "demo_logs" / "weekend"
PAIR = ("02_q2_ecu.csv.gz", "02_q2_dash.csv.gz")
IDLES_S = 3300.0
"""Idling before the run that makes an hour of a log. [s]"""
ENGINE_COLUMN = {"02_q2_ecu.csv.gz": 1, "02_q2_dash.csv.gz": 6}
START = "import numpy, polars, pydantic"
COLD = "import sys; from passband.service.cli import main; sys.exit(main())"
WARM = """
import io, json, sys, time
from pathlib import Path
from passband.service.reviewing.threads import one_algebra_thread
one_algebra_thread()
import polars
from passband import read_log, review
from passband.service.given.facts import read_car, read_file
car = read_car(read_file(Path(sys.argv[1]), what="car"))
paths, repeats = [Path(at) for at in sys.argv[2:4]], int(sys.argv[4])
least = {}
def note(name, began):
    least[name] = min(least.get(name, 1e9), time.process_time() - began)
for _ in range(repeats):
    data = [path.read_bytes() for path in paths]
    began = time.process_time()
    for one in data:
        polars.read_csv(io.BytesIO(one))
    note("bare", began)
    began = time.process_time()
    given = enumerate(zip(data, paths))
    logs = [read_log(one, name=path.name, mapping=car.channels, index=at) for at, (one, path) in given]
    note("read", began)
    began = time.process_time()
    review(logs, car)
    note("review", began)
print(json.dumps(least))
"""


def hours_log(name: str) -> bytes:
    """The log with most of an hour of idling before it, on its own rows' step."""
    header, *rows = gzip.decompress((WEEKEND / name).read_bytes()).decode("utf-8-sig").splitlines()
    step_s = float(rows[1].split(",", 1)[0]) - float(rows[0].split(",", 1)[0])
    quiet = [row.split(",") for row in rows[:50]]
    chance, out, column = random.Random(4), [header], ENGINE_COLUMN[name]
    for at in range(round(IDLES_S / step_s)):
        cells = [f"{at * step_s:.3f}", *quiet[at % len(quiet)][1:]]
        cells[column] = f"{1300 + chance.gauss(0, 15):.0f}"
        out.append(",".join(cells))
    for row in rows:
        time_s, _, rest = row.partition(",")
        out.append(f"{float(time_s) + IDLES_S:.3f},{rest}")
    return ("\n".join(out) + "\n").encode()


def in_a_process(code: str, *given: object, house: str | None) -> tuple[float, str]:
    """Processor time of a fresh process, user's and system's, and what it printed. [s]."""
    environment = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    if house is not None:
        environment["PYTHONPATH"] = house
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-c", code, *map(str, given)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, done.stdout


def timed(folder: Path, *, house: str | None) -> dict[str, float]:
    """Each piece of work once, or a few times where it is short. [s]."""
    car, pair = WEEKEND / "car.toml", [folder / name.removesuffix(".gz") for name in PAIR]
    hour = [folder / f"hour_{name.removesuffix('.gz')}" for name in PAIR]
    taken = {"start": in_a_process(START, house=house)[0]}
    taken["cold review"] = in_a_process(COLD, "review", *pair, "--car", car, house=house)[0]
    for name, paths, repeats in (("pair", pair, 4), ("hour", hour, 2)):
        least = json.loads(in_a_process(WARM, car, *paths, repeats, house=house)[1])
        taken |= {f"{name}, bare read": least["bare"], f"{name}, read": least["read"]}
        taken[f"{name}, review"] = least["review"]
    return taken


YARDSTICK = {
    "cold review": "start", "pair, read": "pair, bare read", "pair, review": "pair, bare read",
    "hour, read": "hour, bare read", "hour, review": "hour, bare read",
}  # fmt: skip


def main(rounds: int = 5, other: str | None = None) -> int:
    """Print the table."""
    houses = {"this": None, "other": other} if other else {"this": None}
    least: dict[str, dict[str, float]] = {name: {} for name in houses}
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for name in PAIR:
            (folder / name.removesuffix(".gz")).write_bytes(gzip.decompress((WEEKEND / name).read_bytes()))
            (folder / f"hour_{name.removesuffix('.gz')}").write_bytes(hours_log(name))
        for _ in range(rounds):
            for name, house in houses.items():
                for work, taken_s in timed(folder, house=house).items():
                    least[name][work] = min(least[name].get(work, taken_s), taken_s)
    print(f"{'work':16} {'processor':>10} {'over yardstick':>15}" + (" this over other" if other else ""))
    for work, taken_s in least["this"].items():
        over = f"{taken_s / least['this'][YARDSTICK[work]]:15.1f}" if work in YARDSTICK else f"{'-':>15}"
        line = f"{work:16} {1e3 * taken_s:7.0f} ms {over}"
        print(line + (f" {taken_s / least['other'][work]:15.2f}" if other else ""))
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 5, sys.argv[2] if len(sys.argv) > 2 else None))
