"""Pages over several runs: what each part cost, what a change did, and many put right at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import HTMLResponse

from passband.analysis.runs.compared_run import KEPT
from passband.analysis.runs.cost import compare_costs
from passband.service.answers.group_change import hold_groups
from passband.service.answers.items import GROUPS, groups_shown, item_of, sides_here
from passband.service.answers.put_right import MOST_RUNS, put_rights
from passband.service.answers.shared import TheLibrary, TheSettings, TheUnits, listed
from passband.service.answers.side_by_side import FetchedRun, lay_side_by_side, prepare_stored
from passband.service.http.errors import not_found
from passband.service.kept.run_answers import car_shown, named_runs, run_shown
from passband.service.routes.compare import two_sides
from passband.web.shown.run import NamedRun

router = APIRouter(include_in_schema=False)


@router.get("/costs")
def costs(library: TheLibrary, settings: TheSettings, units: TheUnits, runs: str) -> HTMLResponse:
    """Where runs lost time against the first, and what each part cost."""
    from passband.web.pages.many_runs import render_costs

    fetched = lay_side_by_side(library, runs, settings, channels=KEPT, least=2)
    compared = [prepare_stored(one) for one in fetched]
    base, *others = named_runs([one.run for one in fetched])
    costs = [(one, compare_costs(compared[0], compared[place])) for place, one in enumerate(others, start=1)]
    return HTMLResponse(render_costs(base, costs, units=units))


@router.get("/change")
def change(library: TheLibrary, settings: TheSettings, units: TheUnits, before: str, after: str) -> HTMLResponse:
    """What a change between two selections of runs did."""
    from passband.web.pages.many_runs import render_change

    sides = two_sides(library, settings, before, after)
    found = hold_groups(library, *sides)
    return HTMLResponse(render_change(found, _named(sides), units=units))


@router.get("/changes/{groups_id}")
def named_change(library: TheLibrary, settings: TheSettings, units: TheUnits, groups_id: str) -> HTMLResponse:
    """What a change did that was given a name."""
    from passband.web.pages.many_runs import render_change

    item = item_of(library, groups_id, GROUPS)
    sides = two_sides(library, settings, *sides_here(library, item))
    found = hold_groups(library, *sides)
    return HTMLResponse(render_change(found, _named(sides), named=groups_shown(item), units=units))


@router.get("/put-right")
def put_right(
    library: TheLibrary, units: TheUnits, runs: str = "", run: Annotated[list[str] | None, Query()] = None
) -> HTMLResponse:
    """Many runs to be put right at once, and what was put right before."""
    from passband.web.pages.page import render_put_right

    found = [
        library.records.run(one)
        for one in listed(",".join(filter(None, (runs, *(run or ())))), most=MOST_RUNS, what="runs")
    ]
    chosen = [run_shown(one) for one in found if one is not None]
    if len(chosen) < len(found):
        raise not_found("run")
    cars = [car_shown(one) for one in library.records.all_cars()]
    return HTMLResponse(render_put_right(chosen, cars, put_rights(library), units=units))


def _named(sides: Sequence[Sequence[FetchedRun]]) -> tuple[list[NamedRun], list[NamedRun]]:
    """Runs of both sides by their names."""
    named = named_runs([one.run for side in sides for one in side])
    return named[: len(sides[0])], named[len(sides[0]) :]
