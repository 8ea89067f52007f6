"""What a sheet of many runs and a run's page beside them cost: processor time, in a fresh process and once warm.

python -m tests.benchmarks.season_pages [--runs 200] [--data FOLDER]

A library is made of the demo weekend, its runs kept again and again under new ids with their power and times strewn,
and kept in FOLDER if it is told. Every figure is the least of several; the yardstick beside it is what reading the bare
rows of the same runs costs, so that a busy machine slows both alike.
"""

from __future__ import annotations

import argparse
import json
import random
import secrets
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from passband.analysis.runs.cells import VALUES
from passband.analysis.runs.digest import RunDigest
from passband.analysis.runs.kept_digest import KeptDigest, keep_digest
from passband.service.answers.digests import digests_of
from passband.service.commands.demo import load_weekend
from passband.service.library import Library
from passband.service.made_ready import making_ready
from passband.service.settings import read_settings
from passband.service.store.records import NewReview, NewUpload, RunRecord

EVENT = "Lantern Weekend"
ROUNDS = 12


def strewn(digest: RunDigest, chance: random.Random) -> KeptDigest:
    """A digest of another run of the same car."""
    values, first = digest.cells.values.copy(), dict(digest.before_shifts)
    values[VALUES.index("power_w")] *= 1 + chance.gauss(0, 0.004)
    if isinstance(first["elapsed_time_s"], float):
        first["elapsed_time_s"] += chance.gauss(0, 0.02)
    return keep_digest(replace(digest, before_shifts=first, cells=replace(digest.cells, values=values)))


def make_library(folder: Path, runs: int) -> None:
    """The weekend, and its runs again until there are enough."""
    chance = random.Random(1)
    with closing(Library(read_settings(data=folder))) as library:
        load_weekend(library)
        weekend = library.records.find_runs(event=EVENT, car=None, limit=1000, after=None)[::-1]
        for number in range(max(runs - len(weekend), 0)):
            run = library.records.run(weekend[number % len(weekend)].id)
            review = library.records.review(run.id) if run is not None else None
            if run is None or review is None:
                continue
            digest = strewn(digests_of(library, [(run.id, run.reviewed_at)])[0], chance)
            said = replace(run.details, label=f"{run.details.label} {number}")
            again = NewReview(0, said, run.car, run.summary, review, run.table_key, run.reviewed_at, digest)
            upload = NewUpload(secrets.token_hex(32), run.logs, (again,))
            library.records.add_upload(secrets.token_hex(16), upload, [secrets.token_hex(16)])


def pieces(library: Library) -> dict[str, Callable[[], object]]:
    """What is timed."""
    from passband.analysis.runs.compared_run import KEPT
    from passband.service.answers.digests import beside_of, sheet_of
    from passband.service.answers.side_by_side import fetch_run, hold_against
    from passband.service.routes.events import event_shown
    from passband.web.pages.page import render_event

    def listed() -> list[RunRecord]:
        return library.records.find_runs(event=EVENT, car=None, limit=1000, after=None)[::-1]

    def rows() -> object:
        with library.records._engine.begin() as connection:
            query = "SELECT id, label, summary FROM runs WHERE event = ?"
            return connection.exec_driver_sql(query, (EVENT,)).fetchall()

    def page() -> str:
        return render_event(event_shown(sheet_of(library, listed()), EVENT), units="us")

    last = listed()[-1]
    this = fetch_run(library, last.id, channels=KEPT)

    def beside() -> object:
        found = beside_of(library, last)
        return found, hold_against(library, this, found.best)

    return {"bare rows": rows, "sheet, page": page, "run page, others": beside}


def timed(folder: Path) -> dict[str, list[float]]:
    """Each piece in this process, first time and the least of those after it. [s]."""
    taken: dict[str, list[float]] = {}
    with closing(Library(read_settings(data=folder))) as library:
        began = time.process_time()
        with making_ready(library, most_runs=1000) as behind:
            behind.start()
            behind.join()
        taken["made ready"] = [time.process_time() - began] * 2
        for name, piece in pieces(library).items():
            times = []
            for _ in range(ROUNDS):
                began = time.process_time()
                piece()
                times.append(time.process_time() - began)
            taken[name] = [times[0], min(times[1:])]
    return taken


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--data", type=Path)
    parser.add_argument("--timed", action="store_true", help=argparse.SUPPRESS)
    told = parser.parse_args()
    if told.timed:
        print(json.dumps(timed(told.data)))
        return 0
    with tempfile.TemporaryDirectory() as passing:
        folder = told.data or Path(passing) / "library"
        if not folder.exists():
            make_library(folder, told.runs)
        print(f"{'':18} {'first, ms':>10} {'warm, ms':>10} {'over bare rows':>15}")
        for which in ("library just made", "process just begun"):
            command = [sys.executable, "-m", "tests.benchmarks.season_pages", "--timed", "--data", str(folder)]
            taken = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)
            bare = taken["bare rows"][1]
            print(which)
            for name, (first, warm) in taken.items():
                print(f"  {name:16} {1e3 * first:10.1f} {1e3 * warm:10.1f} {warm / bare:15.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
