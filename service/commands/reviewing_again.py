"""All stored runs reviewed again, or those of an event or a car: after a new version, or a better description of a car.

All old reviews stand until all new ones are there. A pass that is broken off goes on where it was: it is a job of the
library, which the service goes on with too.

Public: `print_review_again`.
"""

from __future__ import annotations

import sys
import time
from contextlib import closing
from pathlib import Path

from passband.service.commands.mending import NOT_ALL, with_settings
from passband.service.jobs.job_work import BEYOND_WORKERS, JobRunner
from passband.service.jobs.passes import put_pass
from passband.service.kept.run_answers import title_of
from passband.service.library import Library
from passband.service.settings import Settings
from passband.service.store.jobs import OPEN, Job

ONCE_BEGUN = "review-again.json"
"""Where earlier programs kept when a pass began; nothing reads it any more."""
LOOK_S = 0.2
"""How often it is looked how far a pass is. [s]"""
BAR = 30
"""Signs that the bar is long."""
EVERY_S = 10.0
"""Where no terminal shows a bar, a line is said so often. [s]"""


def print_review_again(*, data: Path | None, event: str | None = None, car: str | None = None) -> int:
    """Review stored runs again, with a bar.

    Parameters
    ----------
    data : Path, optional
        Folder of the library; no service may have it open. Else the setting's.
    event : str, optional
        Only runs of this event.
    car : str, optional
        Only runs of the car of this name or id.

    Returns
    -------
    int
        0 if each has a new review, 2 if one could not have one or nothing is meant; its old one stands.
    """

    def work(settings: Settings) -> int:
        with closing(Library(settings)) as library:
            job = put_pass(library, event=event, car=car, beside={})
            (settings.data / ONCE_BEGUN).unlink(missing_ok=True)
            if job is None:
                print("No run in this library is meant; nothing was done.", file=sys.stderr)
                return NOT_ALL
            return _follow_pass(library, job, settings)

    return with_settings(data, work)


def _follow_pass(library: Library, job: Job, settings: Settings) -> int:
    """Work on a pass until it is through, with a bar."""
    bar = _Bar(job.task["runs"], _done(library, job))
    runner = JobRunner(lambda: [library], at_once=settings.workers + BEYOND_WORKERS)
    runner.start()
    try:
        while job.state in OPEN:
            bar.stand_at(_done(library, job))
            time.sleep(LOOK_S)
            job = library.records.jobs.job(job.id) or job
    finally:
        runner.close()
        bar.end()
    return _print_outcome(library, job)


def _done(library: Library, job: Job) -> int:
    counts = library.records.new_reviews.counts(job.id)
    return counts.reviewed + counts.left


def _print_outcome(library: Library, job: Job) -> int:
    result = job.result or {}
    if "problem" in result:
        print(result["problem"]["detail"], file=sys.stderr)
        return NOT_ALL
    for left in result["left"]:
        run = library.records.run(left["run"])
        name = title_of(run) if run is not None else left["run"]
        print(f"{name}: the review before stands. {left['why']}", file=sys.stderr)
    print(f"{result['reviewed']} of {result['runs']} runs were reviewed again.")
    return NOT_ALL if result["left"] else 0


class _Bar:
    """How far a pass is, on a terminal's line; else now and then in a line of its own."""

    def __init__(self, count: int, done: int) -> None:
        self._count, self._before, self._done = count, done, done
        self._began = self._said = time.monotonic()
        self._shown = sys.stderr.isatty()
        if done:
            print(f"Going on where it was broken off: {done} of {count} runs have their new review.", file=sys.stderr)

    def stand_at(self, done: int) -> None:
        """So many are done."""
        if done == self._done:
            return
        self._done = done
        at = time.monotonic()
        left_s = (at - self._began) / (self._done - self._before) * (self._count - self._done)
        words = f"{self._done} of {self._count} runs reviewed again, about {_long(left_s)} to go"
        if self._shown:
            full = BAR * self._done // self._count
            print(f"\r\x1b[K{'█' * full}{'░' * (BAR - full)} {words}", end="", file=sys.stderr, flush=True)
        elif at - self._said >= EVERY_S:
            self._said = at
            print(words, file=sys.stderr, flush=True)

    def end(self) -> None:
        """The line is free again."""
        if self._shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _long(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
