"""What a limit changed over many stored runs costs, against reviewing them from their logs, in turn.

python -m tests.benchmarks.limit_change [--runs 200] [--rounds 3] [--whole 12]

A library is made of the demo weekend, its runs kept again and again under new ids. Each round changes one limit of the
car and has all runs reviewed again, as one action of the page does; then it takes away
what is kept of some of them and has those reviewed from their logs. Both hold the same processes.
"""

from __future__ import annotations

import argparse
import secrets
import shutil
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

from passband.service.answers.digests import engines_of
from passband.service.commands.demo import load_weekend
from passband.service.given.details import RunChanges
from passband.service.library import Library
from passband.service.settings import read_settings
from passband.service.store.records import NewReview, NewUpload, RunRecord


def copy_runs(library: Library, count: int) -> None:
    """Keep the runs that are here again until there are so many, with what is kept of each."""
    first = library.records.find_runs(event=None, car=None, limit=1000, after=None)[::-1]
    for number in range(max(count - len(first), 0)):
        run = library.records.run(first[number % len(first)].id)
        review = library.records.review(run.id) if run is not None else None
        if run is None or review is None:
            continue
        new_id = secrets.token_hex(16)
        again = NewReview(0, run.details, run.car, run.summary, review, run.table_key, run.reviewed_at)
        library.records.add_upload(
            secrets.token_hex(16), NewUpload(secrets.token_hex(32), run.logs, (again,)), [new_id]
        )
        kept, copy = library.folder.kept.path(run.id), library.folder.kept.path(new_id)
        copy.parent.mkdir(exist_ok=True)
        shutil.copy(kept, copy)


def change_limit(library: Library, number: int) -> None:
    """Another bound of engine speed."""
    (car,) = library.records.all_cars()
    others = [limit for limit in car.given["limits"] if limit["channel"] != "engine_speed"]
    bound = {"name": "Engine speed", "channel": "engine_speed", "at_most": f"{7900 + 10 * number} rpm"}
    library.cars.change(car.id, {**car.given, "limits": [bound, *others]})


def again_s(library: Library, runs: Sequence[RunRecord], at_once: int) -> float:
    """How long it takes, in seconds, to review them again as the page asks for it, with what follows from it."""
    began = time.perf_counter()
    with ThreadPoolExecutor(at_once) as asking:
        now = list(asking.map(lambda run: library.review_again(run.id, RunChanges()), runs))
    there = [run for run in now if run is not None]
    if len(there) < len(runs):
        raise RuntimeError(f"{len(runs) - len(there)} runs were not reviewed again")
    engines_of(library, there)
    return time.perf_counter() - began


def main() -> None:
    """Print a line a round."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--whole", type=int, default=12, help="how many are reviewed from their logs a round")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        settings = read_settings(data=Path(folder))
        with closing(Library(settings)) as library:
            load_weekend(library)
            copy_runs(library, told.runs)
            runs = library.records.find_runs(event=None, car=None, limit=told.runs, after=None)
            engines_of(library, runs)
            for number in range(told.rounds):
                change_limit(library, 2 * number)
                held_s = again_s(library, runs, settings.workers + 1)
                some = runs[: told.whole]
                for run in some:
                    library.folder.kept.remove(run.id)
                change_limit(library, 2 * number + 1)
                whole_s = again_s(library, some, settings.workers + 1)
                print(
                    f"held {held_s:.2f} s for {len(runs)} runs, {1e3 * held_s / len(runs):.1f} ms each; "
                    f"reviewed {1e3 * whole_s / len(some):.1f} ms each, {whole_s / len(some) * len(runs):.1f} s for all"
                )


if __name__ == "__main__":
    main()
