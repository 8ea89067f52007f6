"""A season's folder put into a library: every run of a list, with its car, slip and air, and progress.

Public: `print_load`, `load_list`, `TakenIn`.
"""

from __future__ import annotations

import shutil
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from passband.analysis.channels.log import LogError
from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.run_list import ListedRun, read_parts, read_run_list
from passband.service.commands.list_items import keep_list_items
from passband.service.commands.mending import NOT_ALL
from passband.service.given.details import UploadDetails
from passband.service.given.facts import GivenError, read_given
from passband.service.library import Library, LibraryInUse
from passband.service.reviewing.workers import TaskFailed, TaskTooLong
from passband.service.serving import CANNOT_START
from passband.service.settings import SettingsError, read_settings
from passband.service.store.faults import FilesAway, LibraryDamaged
from passband.service.store.records import CarRecord
from passband.service.store.schema import SchemaError
from passband.service.uploads.received import ReceivedFile


def print_load(path: Path, *, data: Path | None, car: Path | None) -> int:
    """Put the runs of a list into a library and say what became of each.

    Parameters
    ----------
    path : Path
        The list of runs.
    data : Path, optional
        Folder of the library; no service may have it open.
    car : Path, optional
        The car of runs that name none.

    Returns
    -------
    int
        0 if every run is there, else 2.

    Raises
    ------
    GivenError
        If the list cannot be used; nothing was taken in.
    """
    listed, parts = read_run_list(path, car=car), read_parts(path)
    try:
        settings = read_settings(data=data)
        with closing(Library(settings)) as library:
            left, taken = 0, load_list(library, listed, at_once=settings.workers + 1)
            for number, (run, taken_in) in enumerate(zip(listed, taken, strict=True), start=1):
                left += taken_in.failed
                print(f"{number} of {len(listed)}: {run.label}: {taken_in.said}", flush=True)
            for said in keep_list_items(library, listed, parts):
                print(said, flush=True)
    except (SettingsError, LibraryInUse, FilesAway, LibraryDamaged, SchemaError) as error:
        print(error, file=sys.stderr)
        return CANNOT_START
    if left:
        print(f"{left} of {len(listed)} runs could not be taken in; all others are there.", file=sys.stderr)
    return NOT_ALL if left else 0


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What became of one run of a list."""

    said: str
    """In words."""
    failed: bool = False
    """Whether it could not be taken in."""


def load_list(library: Library, listed: list[ListedRun], *, at_once: int = 3) -> Iterator[TakenIn]:
    """Take the runs of a list in, several at a time, kept in the list's order.

    Parameters
    ----------
    library : Library
        Where to.
    listed : list of ListedRun
        What.
    at_once : int
        Uploads under way: one more than there are workers, so that none of them waits for a copy.

    Yields
    ------
    TakenIn
        Of each run in order. Runs that are there already are left as they are.
    """
    cars = _cars(library, listed)
    kept = [threading.Event() for _ in listed]

    def load(place: int) -> TakenIn:
        try:
            before = kept[place - 1] if place else None
            return _take_in(library, listed[place], cars[place], before)
        finally:
            if place:
                kept[place - 1].wait()
            kept[place].set()

    with ThreadPoolExecutor(at_once) as pool:
        yield from pool.map(load, range(len(listed)))


def _take_in(library: Library, run: ListedRun, car: CarRecord, before: threading.Event | None) -> TakenIn:
    try:
        details = read_given(UploadDetails, _details(run), what=f"run {run.label!r}")
        with library.incoming() as folder:
            files = [_copy(log, folder / str(n)) for n, log in enumerate(run.logs)]
            taken = library.take_in(files, car=car, details=details, not_before=before)
    except (LogError, GivenError, TaskFailed, TaskTooLong) as error:
        return TakenIn(f"not taken in: {error}", failed=True)
    if not taken.new:
        return TakenIn("is here already")
    return TakenIn("taken in" if len(taken.runs) == 1 else f"taken in, {len(taken.runs)} runs")


def _details(run: ListedRun) -> JsonObject:
    """What was said of it; what the service has no field for goes into the notes."""
    notes = "\n".join(filter(None, (run.notes, f"Group: {run.group}." if run.group else "")))
    said = {
        "label": run.label, "event": run.event, "round": run.round, "notes": notes, "finish_ft": run.finish_ft,
        "at": run.at or None,
    }  # fmt: skip
    given: JsonObject = {"slip": list(run.slips_given) or None, "air": run.air_given}
    return {**said, **{name: value for name, value in given.items() if value}}


def _copy(log: Path, folder: Path) -> ReceivedFile:
    folder.mkdir()
    copy = Path(shutil.copy(log, folder / "log.part"))
    return ReceivedFile(copy, log.name, copy.stat().st_size)


def _cars(library: Library, listed: list[ListedRun]) -> list[CarRecord]:
    """The car of each run: one that is given just so is the same car."""
    here, found = list(library.records.all_cars()), []
    for run in listed:
        same = next((car for car in here if car.given == run.car_given), None)
        if same is None:
            same = library.cars.add(run.car_given)
            here.append(same)
        found.append(same)
    return found
