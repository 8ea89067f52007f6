"""All stored runs reviewed again, or those of an event or a car: after a new version, or a better description of a car.

Each run's old review stands, and is what the library holds, until its new one is whole. A pass that is broken off goes
on where it was: when it began is kept beside the library until it is through.

Public: `print_review_again`, `review_all_again`, `RunAgain`.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from passband.analysis.channels.log import LogError
from passband.service.details import RunChanges
from passband.service.digests import engines_of, title_of
from passband.service.given import GivenError
from passband.service.library import Library
from passband.service.mending import NOT_ALL, with_settings
from passband.service.settings import Settings
from passband.service.store.faults import NotWhole
from passband.service.store.records import RunRecord
from passband.service.upload_review import now
from passband.service.workers import TaskFailed, TaskTooLong

BEGUN = "review-again.json"
"""In the library's folder, while a pass is not through: when it began, and over what."""
ALL_RUNS = 1_000_000
BAR = 30
"""Signs that the bar is long."""
EVERY_S = 10.0
"""Where no terminal shows a bar, a line is said so often. [s]"""


@dataclass(frozen=True, slots=True)
class RunAgain:
    """What became of one run."""

    title: str
    """What pages call it."""
    left: str
    """Why its old review stands; empty where it has a new one."""


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
            runs = _wanted(library, event, car)
            if not runs:
                print("No run in this library is meant; nothing was done.", file=sys.stderr)
                return NOT_ALL
            return _follow_pass(library, runs, settings, f"event={event} car={car}")

    return with_settings(data, work)


def _wanted(library: Library, event: str | None, car: str | None) -> list[RunRecord]:
    """Oldest first."""
    runs = library.records.find_runs(event=event, car=None, limit=ALL_RUNS, after=None)[::-1]
    return [run for run in runs if car is None or (run.car and car in (run.car[0], run.summary["car_name"]))]


def _follow_pass(library: Library, runs: list[RunRecord], settings: Settings, over: str) -> int:
    place = settings.data / BEGUN
    begun = _begun(place, over)
    todo = [run for run in runs if run.reviewed_at < begun]
    bar, left = _Bar(len(runs), len(runs) - len(todo)), []
    for one in review_all_again(library, todo, at_once=settings.workers + 1):
        left += [one] if one.left else []
        bar.step(one.title)
    bar.end()
    engines_of(library, _again(library, runs))
    place.unlink(missing_ok=True)
    for one in left:
        print(f"{one.title}: the review before stands. {one.left}", file=sys.stderr)
    print(f"{len(todo) - len(left)} of {len(runs)} runs were reviewed again{_others(len(runs) - len(todo))}.")
    return NOT_ALL if left else 0


def _others(count: int) -> str:
    return f", {count} had been before this was broken off" if count else ""


def _again(library: Library, runs: list[RunRecord]) -> list[RunRecord]:
    return [run for one in runs if (run := library.records.run(one.id)) is not None]


def _begun(place: Path, over: str) -> str:
    """When the pass over just these runs began that was broken off; else now, which is kept."""
    try:
        kept = json.loads(place.read_text())
        if kept["over"] == over:
            return str(kept["begun"])
    except (OSError, ValueError, KeyError, TypeError):
        pass
    begun, writing = now(), place.with_suffix(".part")
    writing.write_text(json.dumps({"begun": begun, "over": over}))
    os.replace(writing, place)
    return begun


def review_all_again(library: Library, runs: list[RunRecord], *, at_once: int) -> Iterator[RunAgain]:
    """Review runs again, several at a time, each with the newest version of its car.

    Parameters
    ----------
    library : Library
        Where they are.
    runs : list of RunRecord
        Which.
    at_once : int
        Reviews asked for at once: one more than there are workers, so that none of them waits.

    Yields
    ------
    RunAgain
        As each is done.
    """
    with ThreadPoolExecutor(at_once) as pool:
        under_way = [pool.submit(_review_one, library, run) for run in runs]
        try:
            for one in as_completed(under_way):
                yield one.result()
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _review_one(library: Library, run: RunRecord) -> RunAgain:
    try:
        library.review_again(run.id, RunChanges())
    except (LogError, GivenError, NotWhole, TaskFailed, TaskTooLong) as error:
        return RunAgain(title_of(run), str(error))
    return RunAgain(title_of(run), "")


class _Bar:
    """How far a pass is, on a terminal's line; else now and then in a line of its own."""

    def __init__(self, count: int, done: int) -> None:
        self._count, self._before, self._done = count, done, done
        self._began = self._said = time.monotonic()
        self._shown = sys.stderr.isatty()
        if done:
            print(f"Going on where it was broken off: {done} of {count} runs have their new review.", file=sys.stderr)

    def step(self, title: str) -> None:
        """One more is done."""
        self._done += 1
        at = time.monotonic()
        left_s = (at - self._began) / (self._done - self._before) * (self._count - self._done)
        words = f"{self._done} of {self._count} runs reviewed again, about {_long(left_s)} to go"
        if self._shown:
            full = BAR * self._done // self._count
            print(f"\r\x1b[K{'█' * full}{'░' * (BAR - full)} {words}", end="", file=sys.stderr, flush=True)
        elif at - self._said >= EVERY_S:
            self._said = at
            print(f"{words}; last {title}", file=sys.stderr, flush=True)

    def end(self) -> None:
        """The line is free again."""
        if self._shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _long(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
