"""Runs laid over each other, as a drawing."""

from __future__ import annotations

from fastapi import APIRouter

from passband.service.answers import Json, TheLibrary, TheSettings, TheUnits, listed
from passband.service.side_by_side import lay_side_by_side

router = APIRouter(prefix="/api/overlay", tags=["overlay"])


@router.get("")
def overlay(
    library: TheLibrary, settings: TheSettings, units: TheUnits, runs: str, channels: str = "engine_speed,boost"
) -> Json:
    """A Vega-Lite specification: channels, speed and elapsed-time difference to the first run, by distance."""
    from passband.web.charts import overlay as draw

    names = listed(channels, most=settings.channels, what="channels")
    laid = lay_side_by_side(library, runs, settings, channels=names)
    return Json(draw([one.review for one in laid], [one.table for one in laid], names, units=units))
