"""Runs laid over each other, as a drawing."""

from __future__ import annotations

from typing import Literal

from fastapi import APIRouter, Response

from passband.analysis.channels.catalogue import CATALOGUE
from passband.service.answers.shared import Json, TheLibrary, TheSettings, TheUnits, attachment, listed
from passband.service.answers.side_by_side import lay_side_by_side
from passband.service.http.errors import Problem

router = APIRouter(prefix="/api/overlay", tags=["overlay"])


@router.get("")
def overlay(
    library: TheLibrary,
    settings: TheSettings,
    units: TheUnits,
    runs: str,
    channels: str = "engine_speed,boost",
    format: Literal["vega", "pdf", "png"] = "vega",
) -> Response:
    """Channels, speed and elapsed-time difference to the first run: a Vega-Lite specification, or drawn."""
    from passband.web.drawn.charts import drawn
    from passband.web.drawn.charts import overlay as draw

    names = listed(channels, most=settings.channels, what="channels")
    fetched = lay_side_by_side(library, runs, settings, channels=names)
    there = {column.name for one in fetched for column in one.columns} | set(CATALOGUE)
    if there.isdisjoint(names):
        raise Problem(404, "Not found", f"channels: none of these runs has {' or '.join(names)}.")
    drawing = draw([one.review for one in fetched], [one.table for one in fetched], names, units=units)
    if format == "vega":
        return Json(drawing)
    body, kind = drawn(drawing, as_pdf=format == "pdf")
    return Response(body, media_type=kind, headers=attachment(f"side-by-side.{format}"))
