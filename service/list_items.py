"""Parts and groups that a list of runs names, kept in a library beside its runs.

Public: `keep_list_items`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from passband.service.items import GROUPS, PART, GroupsGiven, PartGiven, add_item
from passband.service.library import Library
from passband.service.run_list import ListedPart, ListedRun
from passband.service.store.records import RunRecord

Runs = Sequence[tuple[ListedRun, RunRecord]]


def keep_list_items(library: Library, listed: Sequence[ListedRun], parts: Sequence[ListedPart]) -> Iterator[str]:
    """Keep the parts of a list, and its two groups where it names just two; what is kept already is left as it is.

    Parameters
    ----------
    library : Library
        Where the list's runs are.
    listed : sequence of ListedRun
        All runs of the list.
    parts : sequence of ListedPart
        Its parts; a part counts for the car of its first run.

    Yields
    ------
    str
        What was kept, in words.
    """
    here = _runs_here(library, listed)
    for part in parts:
        span = [(given, run) for given, run in here if _between(listed, part, given)]
        if span and (car := span[0][1].car) is not None:
            given = _part(part, span)
            if not _is_kept(library, PART, given):
                add_item(library, PartGiven(**given), car=car[0])
                yield f"part {part.name}: kept"
    names = list(dict.fromkeys(given.group for given, _ in here if given.group))
    if len(names) == 2:
        sides = [[run.id for given, run in here if given.group == name] for name in names]
        groups = {"name": f"{names[1]} against {names[0]}", "before": sides[0], "after": sides[1], "notes": ""}
        if not _is_kept(library, GROUPS, groups):
            add_item(library, GroupsGiven(**groups))
            yield f"groups {groups['name']}: kept"


def _runs_here(library: Library, listed: Sequence[ListedRun]) -> list[tuple[ListedRun, RunRecord]]:
    """Runs of the list that the library holds, each by its label and event; the newest where two are called alike."""
    known = library.records.find_runs(event=None, car=None, limit=2**31 - 1, after=None)
    by_name = {(run.details.label, run.details.event): run for run in reversed(known)}
    found = ((one, by_name.get((one.label, one.event))) for one in listed)
    return [(one, run) for one, run in found if run is not None]


def _between(listed: Sequence[ListedRun], part: ListedPart, given: ListedRun) -> bool:
    labels = [one.label for one in listed]
    first = labels.index(part.first) if part.first else 0
    last = labels.index(part.last) if part.last else len(labels) - 1
    return first <= labels.index(given.label) <= last


def _part(part: ListedPart, span: Runs) -> dict[str, Any]:
    """A part as the library keeps it: without a last run of its own it is still in the car."""
    return PartGiven(
        name=part.name,
        first_run=span[0][1].id if part.first else "",
        last_run=span[-1][1].id if part.last else "",
        above_rpm=part.above_rpm,
    ).model_dump()


def _is_kept(library: Library, kind: str, given: dict[str, Any]) -> bool:
    return any(one.given == given for one in library.records.items(kind))
