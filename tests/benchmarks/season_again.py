"""A season reviewed again as jobs, against one process that does nothing but review: runs per second, side by side.

python -m tests.benchmarks.season_again [--runs 200] [--parts 5] [--workers 2] [--data FOLDER]

A library is made of the demo weekend, its logs kept again and again as other files. The season is cut into parts, each
an event; each is reviewed again as a pass, from the question to the moment at which nothing is left to do, and before
and after it one warm process reviews such logs one after the other, so that a busy machine slows both alike.
What the pass reaches is told as a share of so many times what the one reaches, and the processor's time of both. On a
quiet machine "at work" tells the two reasons of a share below one apart: what of the cores' time was used at all. The
rest of it is that a run costs more as a job, or that the one process used more than one core.
"""

from __future__ import annotations

import argparse
import os
import secrets
import shutil
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from passband.service.commands.demo import load_weekend
from passband.service.jobs.job_work import BEYOND_WORKERS, JobRunner
from passband.service.jobs.passes import put_pass
from passband.service.library import Library
from passband.service.reviewing.progress import unheard
from passband.service.reviewing.upload_review import UploadReviewer
from passband.service.reviewing.workers import Workers
from passband.service.settings import read_settings
from passband.service.store.files import hash_of
from passband.service.store.jobs import OPEN
from passband.service.store.records import LogRecord, NewReview, NewUpload, RunRecord

WEEKEND = "Lantern Weekend"
TICK_S = 1 / os.sysconf("SC_CLK_TCK")
LOOK_S = 0.05
ALONE = 12
"""Runs that the one process reviews before and after each part."""


@dataclass(frozen=True)
class Rate:
    """Runs and what they took."""

    runs: int
    wall_s: float
    cpu_s: float

    @property
    def per_s(self) -> float:
        """Runs per second."""
        return self.runs / self.wall_s


def cpu_s(pids: list[int]) -> float:
    """Processor time of this process and some others so far."""
    fields = [Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split() for pid in [os.getpid(), *pids]]
    return sum(int(one[11]) + int(one[12]) for one in fields) * TICK_S


def processes() -> list[int]:
    """Processes that this one has started."""
    return [int(pid) for pid in Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children").read_text().split()]


def make_season(library: Library, runs: int, parts: int) -> None:
    """The weekend's logs again under other hashes, its reviews beside them as if they had been made of those."""
    load_weekend(library)
    began = time.monotonic()
    weekend = library.records.find_runs(event=WEEKEND, car=None, limit=1000, after=None)[::-1]
    with library.incoming() as folder, unsynced():
        for number in range(runs):
            run = library.records.run(weekend[number % len(weekend)].id)
            if run is not None:
                _again(library, run, number, f"part {number % parts}", folder)
    print(f"{runs} runs made in {time.monotonic() - began:.0f} s", flush=True)


@contextmanager
def unsynced() -> Iterator[None]:
    """Files are not made safe on disk meanwhile: a season that nobody misses is made in half the time so."""
    real = os.fsync
    os.fsync = lambda _handle: None
    try:
        yield
    finally:
        os.fsync = real


def _again(library: Library, run: RunRecord, number: int, event: str, folder: Path) -> None:
    logs = []
    for log in run.logs:
        opened = library.files.open_log(run.id, log.n)
        if opened is None:
            continue
        with opened[1] as source, (path := folder / f"{log.n}").open("wb") as target:
            shutil.copyfileobj(source, target)
            target.write(b"\n" * (number + 1))
        logs.append(LogRecord(log.n, log.name, hash_of(path), path.stat().st_size))
        library.folder.originals.put(path)
    review = NewReview(
        run.position, replace(run.details, event=event), run.car, run.summary, library.records.review(run.id) or b"{}",
        run.table_key, "2031-01-01T00:00:00.000Z",
    )  # fmt: skip
    new = NewUpload(secrets.token_hex(32), tuple(logs), (review,))
    library.records.add_upload(secrets.token_hex(16), new, [secrets.token_hex(16)])


def alone(library: Library, workers: Workers, runs: list[RunRecord], out: Path) -> Rate:
    """One process, one run after the other, logs out of files."""
    reviewer = UploadReviewer(workers, library.folder.originals)
    total = Rate(0, 0.0, 0.0)
    for n, one in enumerate(runs):
        run = library.records.run(one.id)
        if run is None:
            continue
        (folder := out / str(n)).mkdir()
        logs = reviewer.copy_out(run.logs, folder, run_id=run.id)
        car = library.records.car(*run.car) if run.car else None
        began, used = time.monotonic(), cpu_s(processes())
        reviewer.review(logs, car, run.details, [run.details.slip or {}], folder, progress=unheard())
        wall, cpu = time.monotonic() - began, cpu_s(processes()) - used
        total = Rate(total.runs + 1, total.wall_s + wall, total.cpu_s + cpu)
        shutil.rmtree(folder)
    return total


def as_pass(library: Library, event: str, *, workers: int) -> Rate:
    """An event reviewed again as jobs."""
    began, used = time.monotonic(), cpu_s(processes())
    job = put_pass(library, event=event, car=None, beside={})
    assert job is not None
    runner = JobRunner(lambda: [library], at_once=workers + BEYOND_WORKERS)
    runner.start()
    while job is not None and job.state in OPEN:
        time.sleep(LOOK_S)
        job = library.records.jobs.job(job.id)
    took = Rate(0, time.monotonic() - began, cpu_s(processes()) - used)
    runner.close()
    assert job is not None and job.result is not None and job.result["left"] == [], job
    return replace(took, runs=job.result["reviewed"])


def main() -> int:
    """Make the season, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--parts", type=int, default=5)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--data", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        settings = read_settings({}, data=asked.data or Path(passing) / "data", workers=asked.workers)
        with closing(Library(settings)) as library, closing(Workers(1, seconds=120, memory_bytes=2**33)) as one:
            make_season(library, asked.runs, asked.parts)
            _measure(library, one, asked.parts, asked.workers, Path(passing))
    return 0


def _measure(library: Library, one: Workers, parts: int, workers: int, passing: Path) -> None:
    shares, costs = [], []
    print(
        f"{'part':>6}{'runs':>6}{'one: runs/s':>14}{'as jobs: runs/s':>18}{'share':>8}{'CPU s a run':>14}{'at work':>9}"
    )
    as_pass(library, WEEKEND, workers=workers)  # every process has loaded what it needs
    for part in range(parts):
        runs = library.records.find_runs(event=f"part {part}", car=None, limit=ALONE, after=None)
        before = alone(library, one, runs, passing)
        passed = as_pass(library, f"part {part}", workers=workers)
        after = alone(library, one, runs, passing)
        single = Rate(before.runs + after.runs, before.wall_s + after.wall_s, before.cpu_s + after.cpu_s)
        shares.append(passed.per_s / (workers * single.per_s))
        costs.append(passed.cpu_s / passed.runs / (single.cpu_s / single.runs))
        cpu = f"{single.cpu_s / single.runs:.2f}, {passed.cpu_s / passed.runs:.2f}"
        print(
            f"{part:>6}{passed.runs:>6}{single.per_s:>14.2f}{passed.per_s:>18.2f}{shares[-1]:>8.0%}{cpu:>14}"
            f"{passed.cpu_s / passed.wall_s / workers:>9.0%}",
            flush=True,
        )
    print(
        f"median share {statistics.median(shares):.0%}, processor time {statistics.median(costs):.2f} of one process's"
    )


if __name__ == "__main__":
    raise SystemExit(main())
