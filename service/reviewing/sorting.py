"""Which files of a heap are of one run: by their clocks where they are whole, else by names and when they were saved.

Nothing is decided by it: a person nods, and the review holds the clocks against each other once more. Nothing heavy
is imported with this module: processes that review import it first.

Public: `SortTask`, `SortedFile`, `sort_files`, `pair_files`, `Named`.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from passband.analysis.results.plain_values import JsonObject

if TYPE_CHECKING:
    from passband.analysis.channels.log import Log
    from passband.analysis.given.car import Car

ENGINE_CHANNELS = frozenset(
    {"lambda", "manifold_pressure", "boost", "ignition_advance", "injector_duty", "fuel_pressure", "oil_pressure",
     "fuel_flow", "knock", "crankcase_pressure", "throttle"}
)  # fmt: skip
"""Channels that tell an engine's own log from one that only copies its speed."""
ALIKE_CHANNELS = 0.7
"""Share of channels that two files of one device have in common at least; chosen, no source: a tuner adds one now and
then, and on the demo weekend an ECU and a dash share a thirtieth."""
SAVED_TOGETHER_S = 180.0
"""Files taken off two devices after one run were saved this close; chosen, no source. Rounds are further apart. [s]"""


@dataclass(frozen=True, slots=True)
class SortTask:
    """Files to be sorted."""

    logs: tuple[tuple[Path, str], ...]
    """File and the name to show."""
    whole: tuple[bool, ...]
    """Whether a file is all that its logger wrote; else its beginning."""
    saved_s: tuple[float | None, ...]
    """When each was last written, as the sender's system says. [s]"""
    car: JsonObject | None
    """As given."""


@dataclass(frozen=True, slots=True)
class SortedFile:
    """Where one file belongs."""

    name: str
    run: int | None
    """Files with the same number are of one run, from 0; null where it could not be read."""
    leads: bool
    """Whether it is the engine's own log."""
    why: str
    """What says that it belongs there; empty where nothing needs to."""
    problem: str
    """Why it is of no run: it cannot be read, or is another of the files once more; empty else."""
    made_at: str
    """When it was begun, as it tells itself, ISO 8601; empty where it does not."""


@dataclass(frozen=True, slots=True)
class Named:
    """What a file says of itself without being read."""

    name: str
    saved_s: float | None


def sort_files(task: SortTask) -> tuple[SortedFile, ...]:
    """Sort files into runs.

    Parameters
    ----------
    task : SortTask
        Files must be readable.

    Returns
    -------
    tuple of SortedFile
        One for each file, in order.
    """
    from passband.analysis.given.car import Car
    from passband.service.given.facts import read_car
    from passband.service.given.when_made import when_log_made

    car = read_car(task.car) if task.car else Car(name="no car given")
    logs: list[Log | None] = []
    problems: list[str] = []
    again = _sent_twice(task)
    for at, (path, name) in enumerate(task.logs):
        log, problem = (None, again[at]) if at in again else _read(path, name, car)
        logs.append(log)
        problems.append(problem)
    part_of = _parts(task, logs, car)
    left = {at for at, log in enumerate(logs) if log is not None and at not in part_of}
    of_run: dict[int, tuple[int, str]] = {}
    all_leads: list[int] = []
    while left:
        leads = sorted(_lead_device(logs, left) or left, key=lambda at: _natural(task.logs[at][1]))
        found = {at: (run, "") for run, at in enumerate(leads)}
        for device in _devices(logs, left - set(leads)):
            found |= _placed(task, logs, leads, device, car)
        of_run |= {at: (len(all_leads) + run, why) for at, (run, why) in found.items()}
        all_leads += leads
        left -= found.keys()
    for at, first in part_of.items():
        if first in of_run:
            of_run[at] = (of_run[first][0], f"it is a part of the same log as {task.logs[first][1]}")
    return tuple(
        SortedFile(
            name, *_place(of_run.get(at), leads=at in all_leads), problems[at], when_log_made(log) if log else ""
        )
        for at, ((_, name), log) in enumerate(zip(task.logs, logs, strict=True))
    )


def _parts(task: SortTask, logs: list[Log | None], car: Car) -> dict[int, int]:
    """Files that are parts of another's log, each with the place of that; there all of it stands from now on."""
    from passband.analysis.reading import parts_of_logs

    whole = [at for at, log in enumerate(logs) if log is not None and task.whole[at]]
    read = [(log,) for at in whole if (log := logs[at]) is not None]
    found = parts_of_logs(
        read, lambda at: task.logs[whole[at]][0].read_bytes(), mapping=car.channels, layouts=car.layouts
    )
    part_of: dict[int, int] = {}
    for one in found:
        first = whole[min(one.places)]
        logs[first] = one.recordings[0]
        part_of |= {whole[at]: first for at in one.places if whole[at] != first}
    return part_of


def _sent_twice(task: SortTask) -> dict[int, str]:
    """Files of the same bytes as another: all but the one of the shortest name, as a copy's is longer, and why."""
    alike: dict[bytes, list[int]] = {}
    for at, ((path, _), whole) in enumerate(zip(task.logs, task.whole, strict=True)):
        if whole:
            with path.open("rb") as file:
                alike.setdefault(hashlib.file_digest(file, "sha256").digest(), []).append(at)
    of: dict[int, str] = {}
    for files in alike.values():
        first, *copies = sorted(files, key=lambda at: (len(task.logs[at][1]), _natural(task.logs[at][1])))
        of |= {at: f"it is the same file as {task.logs[first][1]}" for at in copies}
    return of


def _place(place: tuple[int, str] | None, *, leads: bool) -> tuple[int | None, bool, str]:
    return (None, False, "") if place is None else (place[0], leads, place[1])


def _read(path: Path, name: str, car: Car) -> tuple[Log | None, str]:
    from passband.analysis.channels.log import LogError
    from passband.analysis.reading import read_log

    try:
        recordings = read_log(path.read_bytes(), name=name, mapping=car.channels, layouts=car.layouts)
    except LogError as refusal:
        return None, str(refusal)
    return max(recordings, key=lambda log: log.time.last_s - log.time.first_s), ""


def _devices(logs: Sequence[Log | None], files: set[int]) -> list[list[int]]:
    """Files of one device hold nearly the same channels; in order of their first file."""
    devices: list[tuple[set[str], list[int]]] = []
    for at in sorted(files):
        log = logs[at]
        names = {channel.name for channel in log.channels} if log else set()
        for known, of_device in devices:
            if len(names & known) >= ALIKE_CHANNELS * len(names | known):
                of_device.append(at)
                break
        else:
            devices.append((names, [at]))
    return [of_device for _, of_device in devices]


def _lead_device(logs: Sequence[Log | None], left: set[int]) -> list[int]:
    """Files of the device that knows most of the engine, its speed first; none where no file has an engine speed."""

    def engine(files: list[int]) -> tuple[int, int]:
        log = logs[files[0]]
        names = {channel.name for channel in log.channels} if log else set()
        return len(names & ENGINE_CHANNELS), len(files)

    with_speed = [
        files
        for files in _devices(logs, left)
        if any((log := logs[at]) is not None and log.get("engine_speed") is not None for at in files)
    ]
    return max(with_speed, key=engine, default=[])


def _placed(
    task: SortTask, logs: Sequence[Log | None], leads: Sequence[int], device: Sequence[int], car: Car
) -> dict[int, tuple[int, str]]:
    """Files of one further device, each with its run and what says so; those that belong nowhere are left out."""

    def named(files: Sequence[int]) -> list[Named]:
        return [Named(task.logs[at][1], task.saved_s[at]) for at in files]

    guessed = pair_files(named(leads), named(device))
    placed: dict[int, tuple[int, str]] = {}
    free = set(range(len(leads)))
    for file, guess in sorted(zip(device, guessed, strict=True), key=lambda pair: pair[1] is None):
        order = sorted(free, key=lambda run: (guess is None or run != guess[0], run))
        refuted: set[int] = set()
        for run in order if task.whole[file] else ():
            if (lead := leads[run]) != file and task.whole[lead]:
                same = _one_run(logs[lead], logs[file], car)
                if same:
                    placed[file] = (run, f"its clock fits that of {task.logs[lead][1]}")
                    break
                refuted |= {run} if same is False else set()
        else:
            if guess is not None and guess[0] in free - refuted:
                placed[file] = guess
        if file in placed:
            free.discard(placed[file][0])
    return placed


def _one_run(ecu: Log | None, other: Log | None, car: Car) -> bool | None:
    """Whether two clocks fit, by what both logs hold; None where nothing can tell."""
    from passband.analysis.clocks.match import ClocksDoNotMatch, match_clocks
    from passband.analysis.results.unknown import Unknown

    if ecu is None or other is None:
        return None
    try:
        match = match_clocks(ecu, other, car=car)
    except ClocksDoNotMatch:
        return False
    return None if isinstance(match, Unknown) else True


def pair_files(leads: Sequence[Named], others: Sequence[Named]) -> list[tuple[int, str] | None]:
    """Which of one device's files belong to which of another's, by names, else by when they were saved, else by order.

    Parameters
    ----------
    leads, others : sequence of Named
        Each of one device.

    Returns
    -------
    list of (int, str) or None
        For each of `others` the place of its lead and what says so; None where nothing does. No lead is taken twice.

    Notes
    -----
    Words and numbers of a name count by how rare they are among all names: what two files alone share says much, what
    all share says nothing. A pair counts only where neither of the two has another as good.

    Examples
    --------
    >>> ecu = [Named("Q1 ecu.csv", None), Named("Q2 ecu.csv", None)]
    >>> pair_files(ecu, [Named("dash_q2.csv", None), Named("dash_q1.csv", None)])
    [(1, 'by their names'), (0, 'by their names')]
    """
    if len(leads) == 1 and len(others) == 1:
        return [(0, "")]
    found: list[tuple[int, str] | None] = [None] * len(others)
    how_rare = Counter(word for file in (*leads, *others) for word in _words(file.name))

    def by_name(lead: Named, other: Named) -> float:
        return sum(1 / how_rare[word] for word in _words(lead.name) & _words(other.name))

    def by_time(lead: Named, other: Named) -> float:
        apart = abs(lead.saved_s - other.saved_s) if lead.saved_s is not None and other.saved_s is not None else None
        return 1 / (1 + apart) if apart is not None and apart < SAVED_TOGETHER_S else 0.0

    for score, why in ((by_name, "by their names"), (by_time, "saved at about the same time")):
        taken = {place[0] for place in found if place is not None}
        left = [at for at, place in enumerate(found) if place is None]
        free = [at for at in range(len(leads)) if at not in taken]
        scores = [[score(leads[lead], others[other]) for lead in free] for other in left]
        for row, column in _mutual(scores):
            found[left[row]] = (free[column], why)
    if len(leads) == len(others) and not any(found):
        order = [sorted(range(len(files)), key=lambda at: _natural(files[at].name)) for files in (leads, others)]
        for lead, other in zip(*order, strict=True):
            found[other] = (lead, "by the order of their names")
    return found


def _mutual(scores: list[list[float]]) -> list[tuple[int, int]]:
    """Places where a score is above zero and above all others of its row and of its column."""
    found = []
    for row, line in enumerate(scores):
        best = max(line, default=0.0)
        if best <= 0 or line.count(best) > 1:
            continue
        column = line.index(best)
        if all(other[column] < best for at, other in enumerate(scores) if at != row):
            found.append((row, column))
    return found


def _words(name: str) -> frozenset[str]:
    stem = name.lower().rsplit(".", 1)[0]
    parts = re.findall(r"[^\W_]+", stem)
    return frozenset(part.lstrip("0") or "0" for part in (*parts, *re.findall(r"\d+|[^\W\d_]+", stem)))


def _natural(name: str) -> list[tuple[int, str]]:
    return [(int(part), "") if part.isdigit() else (0, part) for part in re.findall(r"\d+|\D+", name.lower())]
