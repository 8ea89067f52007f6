"""The runs of a list reviewed, several at a time, each in a process of its own.

Public: `ReviewedOne`, `review_listed`, `reviews_of`.
"""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, TypeVar

from passband.service.answers.run_list import ListedRun
from passband.service.given.facts import GivenError
from passband.service.reviewing.threads import one_thread_each

if TYPE_CHECKING:
    from passband.analysis.results.review import Review
    from passband.analysis.review import FullReview
    from passband.analysis.runs.compared_run import ComparedRun

T = TypeVar("T")

WORTH_A_PROCESS = 3
"""Fewer runs are reviewed here: a new process takes as long to start as a run to review."""


@dataclass(frozen=True, slots=True)
class ReviewedOne:
    """One run of the list, reviewed."""

    listed: ListedRun
    """What was given."""
    compared: ComparedRun
    """What was found, ready to be held against others."""

    @property
    def review(self) -> Review:
        """What was found."""
        return self.compared.review


def review_listed(listed: Sequence[ListedRun], *, processes: int | None = None) -> list[ReviewedOne]:
    """Review the runs of a list, with a line on a terminal that says how far it is.

    Parameters
    ----------
    listed : sequence of ListedRun
        What to review.
    processes : int, optional
        How many at a time; as many as this process may use cores by default.

    Returns
    -------
    list of ReviewedOne
        In the list's order. Logs that hold several runs give several, labelled ``Q1``, ``Q1 (2)``.

    Raises
    ------
    GivenError
        If a run's logs cannot be read as a run; the sentence begins with its label.
    """
    wanted = min(processes or len(os.sched_getaffinity(0)), len(listed))
    if wanted < 2 or len(listed) < WORTH_A_PROCESS:
        found = {place: _review_one(one) for place, one in _counted(enumerate(listed), listed)}
    else:
        found = _in_processes(listed, wanted)
    return [ReviewedOne(listed[place], compared) for place in range(len(listed)) for compared in found[place]]


def _in_processes(listed: Sequence[ListedRun], wanted: int) -> dict[int, list[ComparedRun]]:
    context = multiprocessing.get_context("spawn")  # never forked: a process forked after polars has run hangs
    found: dict[int, list[ComparedRun]] = {}
    with ProcessPoolExecutor(wanted, mp_context=context, initializer=one_thread_each) as pool:
        places = {pool.submit(_review_one, one): place for place, one in enumerate(listed)}
        whole = False
        try:
            for future in _counted(as_completed(places), listed):
                found[places[future]] = future.result()
            whole = True
        finally:  # one that cannot be read ends it all: what has not begun need not
            pool.shutdown(wait=whole, cancel_futures=not whole)
    return found


def _counted(done: Iterable[T], listed: Sequence[ListedRun]) -> Iterator[T]:
    """Say how many are done, on a terminal only, and wipe it away afterwards."""
    say: Callable[[str], object] = sys.stderr.write if sys.stderr.isatty() else len
    try:
        say(f"\r\x1b[Kreviewing {len(listed)} runs ...")
        for number, one in enumerate(done, start=1):
            yield one
            say(f"\r\x1b[K{number} of {len(listed)} runs reviewed ...")
            sys.stderr.flush()
    finally:
        say("\r\x1b[K")


def reviews_of(listed: ListedRun) -> list[FullReview]:
    """Read the logs of one run of a list and review the runs in them.

    Parameters
    ----------
    listed : ListedRun
        What to review.

    Returns
    -------
    list of FullReview
        In the order of the logs; at least one.

    Raises
    ------
    GivenError
        If the logs cannot be read as a run; the sentence begins with the run's label.
    """
    from passband.analysis.channels.log import LogError
    from passband.analysis.reading import read_as_whole, read_log
    from passband.analysis.results.review import RunFacts
    from passband.analysis.review import review

    car = listed.car
    facts = RunFacts((), listed.label, listed.event, listed.round)
    try:
        logs = [
            read_log(path.read_bytes(), name=path.name, mapping=car.channels, layouts=car.layouts, index=index)
            for index, path in enumerate(listed.logs)
        ]
        logs = read_as_whole(logs, lambda at: listed.logs[at].read_bytes(), mapping=car.channels, layouts=car.layouts)
        return review(logs, car, listed.slips, listed.air, finish_ft=listed.finish_ft, facts=facts)
    except LogError as error:
        raise GivenError(f"Run {listed.label!r} cannot be reviewed: {error}") from None


def _review_one(listed: ListedRun) -> list[ComparedRun]:
    return [_prepared(listed, one, number) for number, one in enumerate(reviews_of(listed))]


def _prepared(listed: ListedRun, full: FullReview, number: int) -> ComparedRun:
    """A review and what was measured, without what is too large to hand from process to process."""
    from passband.analysis.report import as_table
    from passband.analysis.results.review import Review
    from passband.analysis.runs.compared_run import prepare_run

    review = Review(**{one.name: getattr(full, one.name) for one in fields(Review)})
    motion = full.motion
    return prepare_run(
        review,
        as_table(full).frame,
        label=listed.label if number == 0 else f"{listed.label} ({number + 1})",
        slip=listed.slips[number] if number < len(listed.slips) else None,
        errors=(motion.time_s, motion.errors) if motion is not None else None,
        tire_circumference_m=listed.car.tire_circumference,
    )
