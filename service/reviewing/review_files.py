"""One upload's files reviewed: the heavy part, which may run in a process of its own.

Public: `ReviewTask`, `ReviewedRun`, `Broken`, `review_files`, `answer`, `serve_reviews`. Nothing heavy is imported with
this module: a server that only hands tasks on need not load it.
"""

from __future__ import annotations

import errno
import gc
import os
import signal
import traceback
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from importlib import import_module
from multiprocessing import parent_process
from multiprocessing.connection import Connection
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from passband.analysis.results.plain_values import JsonObject
from passband.service.reviewing.holding_again import HeldRun, HoldTask, NotKept, hold_run
from passband.service.reviewing.memory import limit_memory
from passband.service.reviewing.progress import Cancelled, Progress, Stage, unheard
from passband.service.reviewing.sorting import SortedFile, SortTask, sort_files
from passband.service.store.room import NO_ROOM

if TYPE_CHECKING:
    from passband.analysis.channels.log import Log, LogError
    from passband.analysis.given.car import Slip
    from passband.analysis.review import FullReview
    from passband.analysis.runs.kept_digest import KeptDigest
    from passband.service.given.facts import GivenError

    Done: TypeAlias = "tuple[ReviewedRun, ...] | tuple[SortedFile, ...] | HeldRun | NotKept"
    Answer: TypeAlias = "Done | LogError | GivenError | OSError | Broken"

Task: TypeAlias = "ReviewTask | SortTask | HoldTask"

DISK_FAILS = NO_ROOM | {errno.EIO, errno.EROFS}
"""What of a system's errors says that a table could not be written."""
AT_ONCE = 2
"""So many of an upload's logs are read at once: while tables of one are parsed another's columns are looked at. So many
threads also write what is kept of a run: packing lets go of the interpreter."""
THERE = "there?"
"""Sent to a process in place of a task it comes back as it is."""


@dataclass(frozen=True, slots=True)
class ReviewTask:
    """What is to be reviewed."""

    logs: tuple[tuple[Path, str], ...]
    """File and the name to show, the ECU's first."""
    car: JsonObject | None
    """As given."""
    slips: tuple[JsonObject, ...]
    """As given, one for each run in order; empty ones for runs without."""
    air: JsonObject | None
    """As given."""
    finish_ft: int
    label: str
    event: str
    round: str
    out: Path
    """Folder for the tables."""
    inputs: str = ""
    """Hash of what its figures are made of: what bounds are held against is written beside each table; empty where it
    need not be."""


@dataclass(frozen=True, slots=True)
class ReviewedRun:
    """One run found."""

    review: JsonObject
    """As JSON says it."""
    summary: JsonObject
    """What a list shows of it."""
    table: Path
    """Parquet file."""
    digest: KeptDigest | None = None
    """The run in few numbers."""
    kept: Path | None = None
    """File of what its bounds are held against; None where none was written."""
    made_at: str = ""
    """When it was made, as its logs tell, ISO 8601; empty where they do not."""


@dataclass(frozen=True, slots=True)
class Broken:
    """A review that broke off by an error that nobody foresaw: what a worker answers in place of runs."""

    kind: str
    """Name of the error."""
    trace: str
    """For the server's own log."""


def review_files(task: ReviewTask, progress: Progress | None = None) -> tuple[ReviewedRun, ...]:
    """Read the logs, review each run in them, and write each run's table.

    Parameters
    ----------
    task : ReviewTask
        Files must be readable, `out` writable.
    progress : Progress, optional
        Hears each stage.

    Returns
    -------
    tuple of ReviewedRun
        At least one, in the logs' order.

    Raises
    ------
    LogError
        If the files are no logs or hold no run.
    GivenError
        If car, slip or air cannot be used.
    """
    import passband.analysis.review
    from passband.analysis.channels.log import NoRunInLog
    from passband.analysis.given.car import Air, Slip
    from passband.analysis.reading import read_as_whole, read_log
    from passband.analysis.results.review import RunFacts
    from passband.service.given.facts import NO_CAR, read_car, read_given
    from passband.service.given.when_made import when_made, when_reached

    car = read_car(task.car or NO_CAR)
    slips = [read_given(Slip, slip, what="slip") for slip in task.slips]
    air = read_given(Air, task.air, what="air") if task.air else None
    tell = (progress or unheard()).tell

    def read(index: int, path: Path, name: str) -> tuple[Log, ...]:
        return read_log(path.read_bytes(), name=name, mapping=car.channels, layouts=car.layouts, index=index)

    with ThreadPoolExecutor(AT_ONCE, thread_name_prefix="reviewing") as beside:
        logs = []
        read_beside = [beside.submit(read, index, path, name) for index, (path, name) in enumerate(task.logs)]
        for (_, name), one in zip(task.logs, read_beside, strict=True):
            tell("reading", name)
            logs.append(one.result())
        logs = read_as_whole(logs, lambda at: task.logs[at][0].read_bytes(), mapping=car.channels, layouts=car.layouts)
        facts = RunFacts((), task.label, task.event, task.round)
        reviews = passband.analysis.review.review(
            logs, car, slips, air, finish_ft=task.finish_ft, facts=facts, tell=tell
        )
        if not reviews:
            raise NoRunInLog("The logs were read, but nothing in them looks like a run down the strip.")
        runs, begun = [], when_made(logs)
        for number, review in enumerate(reviews):
            slip = slips[number] if number < len(slips) else None
            made_at = when_reached(begun, review.window.log_launch_s) if number else begun
            runs.append(replace(_made_of(review, task, number, slip, beside), made_at=made_at))
    return tuple(runs)


def _made_of(review: FullReview, task: ReviewTask, number: int, slip: Slip | None, beside: Executor) -> ReviewedRun:
    """What is kept of a review: while it is put in short its table is written and packed beside."""
    from passband.analysis.report import as_table
    from passband.analysis.results.codec import as_json, plain
    from passband.analysis.runs.compared_run import prepare_run
    from passband.analysis.runs.digest import digest_run
    from passband.analysis.runs.kept_digest import keep_digest
    from passband.analysis.runs.summary import summarise
    from passband.service.given.details import title
    from passband.service.reviewing.tables import write_table

    kept = beside.submit(_keep, review, task, number)
    path, table = task.out / f"run{number}.parquet", as_table(review)
    written = beside.submit(write_table, table, path)
    in_short: Any = plain(summarise(review))
    called = title(task.label, task.event, task.round, review.run.log_names)
    digest = keep_digest(digest_run(prepare_run(review, table.frame, label=called, slip=slip)))
    told = as_json(review)
    written.result()
    return ReviewedRun(told, in_short, path, digest, kept.result())


def _keep(review: FullReview, task: ReviewTask, number: int) -> Path | None:
    """Write what a run's bounds are held against; a disk that fails over it spoils no review."""
    from passband.analysis.engine.kept_bytes import kept_run_to_bytes
    from passband.service.store.kept_runs import MadeOf, write_kept

    if not task.inputs or review.kept is None:
        return None
    path = task.out / f"run{number}.kept"
    with suppress(OSError):
        write_kept(path, kept_run_to_bytes(review.kept.about_the_run()), MadeOf(task.inputs, review.version))
        return path
    return None


def answer(task: Task, progress: Progress | None = None) -> Answer:
    """Do a task and return whatever comes of it: nothing is raised that damaged logs could cause.

    Parameters
    ----------
    task : ReviewTask, SortTask or HoldTask
        What is to be reviewed, sorted, or held against other bounds.
    progress : Progress, optional
        Hears each stage of a review, and may end it by `Cancelled`.

    Returns
    -------
    tuple of ReviewedRun or SortedFile, HeldRun, NotKept, LogError, GivenError, OSError or Broken
        The runs, files sorted, or the run held; why there are none; that the disk failed; or that an error broke it
        off.
    """
    from passband.analysis.channels.log import LogError
    from passband.service.given.facts import GivenError

    try:
        if isinstance(task, HoldTask):
            return hold_run(task)
        return sort_files(task) if isinstance(task, SortTask) else review_files(task, progress)
    except (LogError, GivenError) as refusal:
        return refusal
    except (KeyboardInterrupt, SystemExit, Cancelled):
        raise
    except BaseException as error:  # the one place: an upload's bytes may break any library; panics derive from this
        if isinstance(error, OSError) and error.errno in DISK_FAILS:
            return OSError(error.errno, error.strerror)  # the disk's fault and not the logs'
        return Broken(type(error).__name__, traceback.format_exc())


def serve_reviews(line: Connection, memory_bytes: int) -> None:
    """Take tasks from a line and answer each, until the line closes: what a process of `Workers` does.

    Parameters
    ----------
    line : Connection
        Tasks come in; runs, or why there are none, go out.
    memory_bytes : int
        Memory that it may take beyond what the program itself has mapped.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to the server, which ends us in its own time
    _load_ahead()
    _behind_pages()
    limit_memory(memory_bytes)
    while True:
        try:
            task: Task | str = line.recv()
        except (EOFError, ConnectionError):
            return
        got = task if isinstance(task, str) else answer(task, Progress(lambda stage: _send(line, stage)))
        if isinstance(got, Broken) and _left_alone():
            return
        try:
            line.send(got)
        except ConnectionError:
            return


BEHIND = 5
"""Steps of niceness: where all want the same core, three quarters of it go to who reads a page. Linux's scheduler gives
each step a weight of about 1.25 (sched(7)); the number itself is common practice, no source."""


def _behind_pages() -> None:
    """Whoever reads a page waits for an answer of some milliseconds, whoever uploads for a second: pages go first."""
    if hasattr(os, "nice"):  # not on Windows
        os.nice(BEHIND)


def _send(line: Connection, stage: Stage) -> None:
    """Tell the server; where it is gone, the review's end will show it."""
    with suppress(ConnectionError):
        line.send(stage)


def _left_alone() -> bool:
    """Whether the server is gone: then the next one may have taken the files away, and nobody waits for an answer."""
    server = parent_process()
    return server is not None and not server.is_alive()


AHEAD = (
    "passband.analysis.held_again", "passband.analysis.report", "passband.analysis.review", "pyarrow.parquet",
)  # fmt: skip


def _load_ahead() -> None:
    """What a review imports as it goes, a second of it, so that the first one need not wait."""
    for name in AHEAD:
        import_module(name)
    from passband.analysis.quantities import conversion_to_si

    conversion_to_si("dyn/cm^2", si_unit="Pa")  # a rare unit makes the registry of units
    gc.collect()
    gc.freeze()  # all that was loaded stays: looked through again and again it was a fifth of a usual pair's review
