"""Where on the track one run gained or lost time against another."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter

from passband.analysis.results.codec import plain
from passband.analysis.results.unknown import known
from passband.analysis.runs.compare import Change, Track, compare_tracks
from passband.service.answers import Json, TheLibrary, TheSettings
from passband.service.side_by_side import ComparedRun, lay_side_by_side

router = APIRouter(prefix="/api/compare", tags=["compare"])


@router.get("")
def compare(library: TheLibrary, settings: TheSettings, runs: str, by: Literal["distance"] = "distance") -> Json:
    """Elapsed-time difference of each further run to the first, along the track and from mark to mark."""
    laid = lay_side_by_side(library, runs, settings, least=2)
    tracks = [_track(one) for one in laid]
    others = [
        {"run": one.run.id, "label": one.run.details.label, "against_first": plain(compare_tracks(tracks[0], track))}
        for one, track in zip(laid[1:], tracks[1:], strict=True)
    ]
    return Json({"by": by, "first": laid[0].run.id, "others": others})


def _track(one: ComparedRun) -> Track:
    distance = known(one.review.distance)
    splits = {split.at_ft: split.time_s for split in distance.splits} if distance is not None else {}
    time_s, distance_m = (one.table.get_column(name).cast(float).to_numpy() for name in ("time_s", "distance_m"))
    changes = [Change(shift.from_gear, shift.to_gear, shift.time_s, shift.end_s) for shift in one.review.shifts]
    return Track(time_s, distance_m, splits, changes)
