"""A bench's sheets and a compressor's map laid beside one run; nothing of them is kept here."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from passband.analysis.bench.beside_track import lay_beside_track
from passband.analysis.bench.head import measure_head
from passband.analysis.bench.sheets import read_dyno_curve, read_flow_sheet
from passband.analysis.channels.log import NotALog
from passband.analysis.given.car import Car
from passband.analysis.results.codec import plain
from passband.analysis.results.unknown import known
from passband.analysis.turbo.map import read_compressor_map
from passband.service.answers import Json, TheBody, TheLibrary, TheSettings, TheUnits
from passband.service.bench_and_map import lay_on_map, turbo_given
from passband.service.details import BenchSheets
from passband.service.errors import Problem
from passband.service.given import read_given
from passband.service.side_by_side import ComparedRun, car_of, lay_side_by_side
from passband.web.bench_picture import bench_svg
from passband.web.map_picture import map_svg
from passband.web.printed_bench import print_beside, print_head, print_way
from passband.web.units import UnitSystem

router = APIRouter(prefix="/api/runs", tags=["runs"])

CHANNELS = (
    "gear", "engine_speed", "throttle", "manifold_pressure", "boost", "intake_temperature", "fuel_flow", "lambda",
    *(f"lambda_{number}" for number in range(1, 13)),
)  # fmt: skip
"""What of a run shows its air."""


@router.post("/{run_id}/bench")
def bench(library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, body: TheBody) -> Json:
    """A head's flow sheet, a dynamometer's curve, a compressor's map: each that is given, beside the run."""
    sheets = read_given(BenchSheets, body, what="body")
    if not (sheets.flow_sheet or sheets.dynamometer or sheets.compressor_map):
        raise Problem(422, "Not usable", "Give a flow sheet, a dynamometer's curve or a compressor's map, as text.")
    one = lay_side_by_side(library, run_id, settings, channels=CHANNELS)[0]
    car = car_of(library, one.run)
    try:
        return Json({**_of_bench(one, car, sheets, units), **_of_map(one, car, sheets, units)})
    except NotALog as error:
        raise Problem(422, "Not usable", str(error)) from None


def _of_bench(one: ComparedRun, car: Car, sheets: BenchSheets, units: UnitSystem) -> dict[str, Any]:
    answer: dict[str, Any] = {"head": None, "dynamometer": None}
    limit_rpm = None
    if sheets.flow_sheet:
        sheet = read_flow_sheet(sheets.flow_sheet.encode(), name="flow sheet")
        head = measure_head(sheet, bore_m=car.bore, stroke_m=car.stroke)
        limit_rpm = head.rpm_at_limit
        answer["head"] = {"figures": plain(head), "print": print_head(head, band=car.rpm_band, units=units)}
    if sheets.dynamometer:
        curve = read_dyno_curve(sheets.dynamometer.encode(), name="dynamometer's curve")
        beside = lay_beside_track(curve, known(one.review.power))
        answer["dynamometer"] = {
            "figures": plain(beside),
            "print": print_beside(one.run.details.label or "the run", beside, units=units),
            "picture": bench_svg(curve, beside, limit_rpm, units=units),
        }
    return answer


def _of_map(one: ComparedRun, car: Car, sheets: BenchSheets, units: UnitSystem) -> dict[str, Any]:
    if not sheets.compressor_map:
        return {"compressor_map": None}
    compressor = read_compressor_map(sheets.compressor_map.encode(), name="compressor's map")
    given = turbo_given(
        sheets.compressors, sheets.volumetric_efficiency.strip() or None, sheets.inlet_loss, sheets.charge_loss
    )
    way = lay_on_map(one.review, one.table, car, compressor, given)
    return {
        "compressor_map": {
            "figures": plain(way),
            "print": print_way(one.run.details.label or "the run", compressor, way, units=units),
            "picture": map_svg(compressor, way, one.review.shifts, units=units),
        }
    }
