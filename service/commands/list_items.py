"""Parts, groups and sheets that a list of runs names, kept in a library beside its runs.

Public: `keep_list_items`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.items import GROUPS, PART, GroupsGiven, PartGiven, add_item
from passband.service.answers.listed_sheets import FILES, ListedSheets
from passband.service.answers.run_list import ListedPart, ListedRun
from passband.service.cars.kept_sheets import INSTALLED, SheetGiven, keep_sheet, sheets_of
from passband.service.given.facts import read_given
from passband.service.http.errors import Problem
from passband.service.library import Library
from passband.service.store.records import RunRecord

Runs = Sequence[tuple[ListedRun, RunRecord]]


def keep_list_items(library: Library, listed: Sequence[ListedRun], parts: Sequence[ListedPart]) -> Iterator[str]:
    """Keep the parts of a list, its two groups where it names just two, and its sheets; what is kept already is left.

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
    yield from _keep_sheets(library, here)


def _keep_sheets(library: Library, here: Runs) -> Iterator[str]:
    """The sheets of each car's last run that names any: a library keeps one of a kind with a car."""
    by_car = {run.car[0]: given.sheets for given, run in here if run.car is not None and given.sheets != ListedSheets()}
    for car, sheets in by_car.items():
        kept = {one.given["what"] for one in sheets_of(library, car)}
        for what in FILES:
            path = getattr(sheets, what)
            if path is not None and what not in kept:
                yield f"{what} {path.name}: {_keep_sheet(library, car, _sheet(what, path, sheets))}"


def _keep_sheet(library: Library, car: str, given: SheetGiven) -> str:
    try:
        keep_sheet(library, car, given)
    except Problem as problem:
        return f"not kept: {problem.detail}"
    return "kept with the car"


def _sheet(what: str, path: Path, sheets: ListedSheets) -> SheetGiven:
    text = path.read_text(encoding="utf-8", errors="replace")
    given: JsonObject = {"what": what, "name": path.name, "text": text}
    if what == "compressor_map":
        given |= {key: said for key in INSTALLED if (said := getattr(sheets, key)) is not None}
    return read_given(SheetGiven, given, what=f"sheet {path.name}")


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


def _part(part: ListedPart, span: Runs) -> JsonObject:
    """A part as the library keeps it: without a last run of its own it is still in the car."""
    return PartGiven(
        name=part.name,
        first_run=span[0][1].id if part.first else "",
        last_run=span[-1][1].id if part.last else "",
        above_rpm=part.above_rpm,
    ).model_dump()


def _is_kept(library: Library, kind: str, given: JsonObject) -> bool:
    return any(one.given == given for one in library.records.items(kind))
