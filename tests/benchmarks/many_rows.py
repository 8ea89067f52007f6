"""What lists, a sheet, an upload's rows and a start cost among few and many runs: processor time, in ratios.

python -m tests.benchmarks.many_rows [--rows 10000 1000000] [--review-bytes 500] [--data FOLDER]

Each library holds the demo weekend's runs as one event of 200, and so many rows beside it, put there by SQL. Every
figure is the least of several; only opening is taken once. Rows of a million take some minutes to make and 5 GB.
"""

from __future__ import annotations

import argparse
import secrets
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from functools import partial
from pathlib import Path

from fastapi.testclient import TestClient

from passband.service.app import create_app
from passband.service.library import Library
from passband.service.settings import read_settings
from passband.service.store.records import NewReview, NewUpload
from passband.service.store.schema import check_database
from tests.benchmarks.season_pages import EVENT, make_library
from tests.service.many_rows import RUNS_AN_EVENT, fill_with_runs

SHEET_RUNS, LOOKS = 200, 4
PAGES = {
    "start page": "/",
    "runs, first page": "/api/runs",
    "runs, deep": "/api/runs?after={middle}",
    "runs of an event": "/api/runs?event=Meet 200",
    "runs of a car": "/api/runs?car={car}",
    "runs of an event and a car": "/api/runs?event=Meet 200&car={car}",
    "events, first page": "/api/events",
    "events, deep": "/api/events?after={event}",
    "sheet of 200 runs": f"/api/events/{EVENT}/sheet",
}


def least_ms(piece: Callable[[], object]) -> float:
    """The least of some looks, in milliseconds of processor time."""
    times = []
    for _ in range(LOOKS):
        began = time.process_time()
        piece()
        times.append(time.process_time() - began)
    return 1e3 * min(times)


def look(client: TestClient, path: str) -> None:
    """Ask for a page; it must be there."""
    answer = client.get(path)
    if answer.status_code != 200:
        raise RuntimeError(f"{path}: {answer.text[:200]}")


def change_rows(library: Library) -> dict[str, Callable[[], object]]:
    """One run put among the rows, and one review in the place of another."""
    listed = library.records.find_runs(event=EVENT, car=None, limit=1, after=None)[0]
    run, review = library.records.run(listed.id), library.records.review(listed.id)
    if run is None or review is None:
        raise RuntimeError("the weekend is not there")
    again = NewReview(run.position, run.details, run.car, run.summary, review, run.table_key, run.reviewed_at)

    def add() -> None:
        new = NewUpload(secrets.token_hex(32), run.logs, (again,))
        library.records.add_upload(secrets.token_hex(16), new, [secrets.token_hex(16)])

    return {"one run's rows": add, "one review replaced": lambda: library.records.replace_review(run.id, again)}


def timed(folder: Path, rows: int) -> dict[str, float]:
    """Each piece by its name, in milliseconds."""
    names = {"middle": f"{rows // 2:032x}", "car": f"{3:032x}", "event": f"Meet {rows // RUNS_AN_EVENT // 2}"}
    database = folder / "library.sqlite"
    began = time.process_time()
    check_database(database)
    taken = {"database looked through": 1e3 * (time.process_time() - began)}
    began = time.process_time()
    with closing(Library(read_settings(data=folder, workers=0))) as library:
        taken["opened, that among it"] = 1e3 * (time.process_time() - began)
        settings = read_settings(data=folder, workers=0, hosts="testserver")
        with TestClient(create_app(settings, library=library)) as client:
            for name, address in PAGES.items():
                taken[name] = least_ms(partial(look, client, address.format(**names)))
        for name, change in change_rows(library).items():
            taken[name] = least_ms(change)
    return taken


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs=2, default=(10_000, 1_000_000))
    parser.add_argument("--review-bytes", type=int, default=500)
    parser.add_argument("--data", type=Path)
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        found = []
        for rows in told.rows:
            folder = (told.data or Path(passing)) / str(rows)
            if not (folder / "library.sqlite").exists():
                make_library(folder, SHEET_RUNS)
                fill_with_runs(folder / "library.sqlite", rows, review_bytes=told.review_bytes)
            found.append(timed(folder, rows))
    few, many = found
    print(f"{'processor, ms':30} {told.rows[0]:>10} {told.rows[1]:>10} {'ratio':>7}")
    for name in few:
        print(f"{name:30} {few[name]:10.1f} {many[name]:10.1f} {many[name] / few[name]:7.1f}")


if __name__ == "__main__":
    main()
