"""A bench's sheets and a compressor's map laid beside one run, and kept with its car."""

from __future__ import annotations

from fastapi import APIRouter, Response

from passband.analysis.bench.sheets import read_dyno_curve, read_flow_sheet
from passband.analysis.channels.log import NotALog
from passband.analysis.given.car import Car
from passband.analysis.results.codec import plain
from passband.analysis.turbo.map import read_compressor_map
from passband.service.answers.bench_laid import BenchedRun, LaidWithPicture, Sheets, lay_bench
from passband.service.answers.map_laid import lay_on_map, turbo_given
from passband.service.answers.shared import Json, TheBody, TheLibrary, TheSettings, TheUnits
from passband.service.answers.side_by_side import FetchedRun, car_of, lay_side_by_side
from passband.service.cars.kept_sheets import (
    SheetGiven,
    keep_sheet,
    kept_sheet_json,
    sheets_of,
    take_sheet_off,
    with_kept,
)
from passband.service.given.details import BenchSheets
from passband.service.given.facts import read_given
from passband.service.http.errors import Problem
from passband.web.drawn.map_picture import map_svg
from passband.web.printed.bench import print_way
from passband.web.wording.prose import sentences_in_units
from passband.web.wording.units import UnitSystem

router = APIRouter(prefix="/api/runs", tags=["runs"])
sheets_router = APIRouter(prefix="/api", tags=["items"])

CHANNELS = (
    "acceleration_mps2", "gear", "engine_speed", "throttle",
    "manifold_pressure", "boost", "intake_temperature", "fuel_flow", "lambda",
    *(f"lambda_{number}" for number in range(1, 13)),
)  # fmt: skip
"""What of a run shows its air, and what its model is made of."""


@router.post("/{run_id}/bench")
def bench(library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, body: TheBody) -> Json:
    """A head's flow sheet, a dynamometer's curve, a compressor's map beside the run: as sent, else as the car keeps."""
    run = library.records.run(run_id)
    asked = read_given(BenchSheets, body, what="body")
    sheets = asked if run is None else with_kept(library, run, asked)
    if not (sheets.flow_sheet or sheets.dynamometer or sheets.compressor_map):
        raise Problem(422, "Not usable", "Give a flow sheet, a dynamometer's curve or a compressor's map, as text.")
    one = lay_side_by_side(library, run_id, settings, channels=CHANNELS)[0]
    car = car_of(library, one.run)
    try:
        label = one.run.details.label or "the run"
        laid = lay_bench(BenchedRun(one.review, one.table, car, label), _read(sheets), units=units)
        on_map = _of_map(one, car, sheets, units)
        every = {**laid.by_name(), "compressor_map": on_map}
        whole = {name: None if sheet is None else sheet.as_json() for name, sheet in every.items()}
        return Json({**whole, "sentences": sentences_in_units(whole, units)})
    except NotALog as error:
        raise Problem(422, "Not usable", str(error)) from None


@sheets_router.get("/cars/{car_id}/sheets")
def sheets_of_car(library: TheLibrary, car_id: str) -> Json:
    """Bench sheets and a compressor's map that are kept with a car, with their text."""
    return Json({"car": car_id, "sheets": [kept_sheet_json(one) for one in sheets_of(library, car_id)]})


@sheets_router.post("/cars/{car_id}/sheets", status_code=201)
def keep_sheet_of_car(library: TheLibrary, car_id: str, body: TheBody) -> Json:
    """Keep a sheet with a car in place of the one of its kind, which stays among what was let go."""
    return Json(kept_sheet_json(keep_sheet(library, car_id, read_given(SheetGiven, body, what="sheet"))), 201)


@sheets_router.delete("/sheets/{sheet_id}", status_code=204)
def take_sheet_off_car(library: TheLibrary, sheet_id: str) -> Response:
    """Take a sheet off its car."""
    take_sheet_off(library, sheet_id)
    return Response(status_code=204)


def _read(sheets: BenchSheets) -> Sheets:
    """The bench's sheets as read."""
    flow, flow_before = (
        read_flow_sheet(text.encode(), name=name) if text else None
        for text, name in ((sheets.flow_sheet, "flow sheet"), (sheets.flow_sheet_before, "flow sheet before"))
    )
    curve, curve_before = (
        read_dyno_curve(text.encode(), name=name) if text else None
        for text, name in ((sheets.dynamometer, "curve"), (sheets.dynamometer_before, "curve before"))
    )
    return Sheets(flow, flow_before, curve, curve_before)


def _of_map(one: FetchedRun, car: Car, sheets: BenchSheets, units: UnitSystem) -> LaidWithPicture | None:
    if not sheets.compressor_map:
        return None
    compressor = read_compressor_map(sheets.compressor_map.encode(), name="compressor's map")
    given = turbo_given(
        sheets.compressors, sheets.volumetric_efficiency.strip() or None, sheets.inlet_loss, sheets.charge_loss
    )
    way = lay_on_map(one.review, one.table, car, compressor, given)
    figures = plain(way)
    assert isinstance(figures, dict)
    printed = print_way(one.run.details.label or "the run", compressor, way, units=units)
    return LaidWithPicture(figures, printed, map_svg(compressor, way, one.review.shifts, units=units))
