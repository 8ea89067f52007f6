"""Where one run lost time against another, and what a change between two selections of runs did."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter

from passband.analysis.results.codec import Plain, plain
from passband.analysis.results.unknown import known
from passband.analysis.runs.as_json import costs_as_json
from passband.analysis.runs.compare import Change, Track, compare_tracks
from passband.analysis.runs.compared_run import KEPT, ComparedRun
from passband.analysis.runs.cost import compare_costs
from passband.service.answers.group_change import hold_groups
from passband.service.answers.shared import Json, TheLibrary, TheSettings
from passband.service.answers.side_by_side import FetchedRun, lay_side_by_side, prepare_stored
from passband.service.http.errors import Problem
from passband.service.library import Library
from passband.service.settings import Settings

router = APIRouter(prefix="/api", tags=["compare"])
NO_COSTS: dict[str, Plain] = {"difference_s": None, "at_m": None, "parts": [], "findings": []}
"""Of two runs that share no track."""


@router.get("/compare")
def compare(library: TheLibrary, settings: TheSettings, runs: str, by: Literal["distance"] = "distance") -> Json:
    """Elapsed-time difference of each further run to the first: along the track, mark to mark, and what it cost."""
    fetched = lay_side_by_side(library, runs, settings, channels=KEPT, least=2)
    tracks, compared = [_track(one) for one in fetched], [prepare_stored(one) for one in fetched]
    others = [
        {
            **_costs(compared[0], compared[place]),
            "run": one.run.id,
            "label": one.run.details.label,
            "against_first": plain(compare_tracks(tracks[0], tracks[place])),
        }
        for place, one in enumerate(fetched[1:], start=1)
    ]
    return Json({"by": by, "first": fetched[0].run.id, "others": others})


@router.get("/change")
def change(library: TheLibrary, settings: TheSettings, before: str, after: str) -> Json:
    """What a change did: the runs after it against the runs before it."""
    sides = two_sides(library, settings, before, after)
    return Json(plain(hold_groups(library, *sides)))


def two_sides(library: Library, settings: Settings, before: str, after: str) -> list[list[FetchedRun]]:
    """The runs of both sides of a change; a problem if one is on both, or a side has none."""
    sides = [
        lay_side_by_side(library, runs, settings, channels=KEPT, most=settings.page_runs) for runs in (before, after)
    ]
    twice = {one.run.id for one in sides[0]} & {one.run.id for one in sides[1]}
    if twice:
        raise Problem(422, "Not usable", f"Run {min(twice)} is named before and after the change: name it once.")
    return sides


def _costs(first: ComparedRun, other: ComparedRun) -> dict[str, Plain]:
    costs = compare_costs(first, other)
    return costs_as_json(costs) if costs is not None else dict(NO_COSTS)


def _track(one: FetchedRun) -> Track:
    distance = known(one.review.distance)
    splits = {split.at_ft: split.time_s for split in distance.splits} if distance is not None else {}
    time_s, distance_m = (one.table.get_column(name).cast(float).to_numpy() for name in ("time_s", "distance_m"))
    changes = [Change(shift.from_gear, shift.to_gear, shift.time_s, shift.end_s) for shift in one.review.shifts]
    return Track(time_s, distance_m, splits, changes)
