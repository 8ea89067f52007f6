"""Bench sheets and a compressor's map kept with a car, so that they need not be chosen again for each run.

Each is an item of the car, so that backup, recheck and undo are those of any item; one that was replaced or taken off
stays kept.

Public: `SheetGiven`, `SHEET`, `kept_sheet_json`, `sheet_shown`, `sheets_of`, `keep_sheet`, `take_sheet_off`,
`with_kept`.
"""

from __future__ import annotations

import secrets
from dataclasses import replace
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from passband.analysis.bench.sheets import read_dyno_curve, read_flow_sheet
from passband.analysis.channels.log import NotALog
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.turbo.map import read_compressor_map
from passband.service.given.details import BenchSheets, Sheet
from passband.service.http.errors import Problem, not_found
from passband.service.library import Library
from passband.service.reviewing.upload_review import now
from passband.service.store.records import ItemRecord, RunRecord
from passband.web.shown.parts import SheetOfCar

SHEET = "sheet"
What = Literal["flow_sheet", "flow_sheet_before", "dynamometer", "dynamometer_before", "compressor_map"]
READERS = {
    "flow_sheet": read_flow_sheet, "flow_sheet_before": read_flow_sheet,
    "dynamometer": read_dyno_curve, "dynamometer_before": read_dyno_curve,
    "compressor_map": read_compressor_map,
}  # fmt: skip
INSTALLED = ("compressors", "volumetric_efficiency", "inlet_loss", "charge_loss")
"""What is said of a compressor's installation, kept with its map."""


class SheetGiven(BaseModel):
    """One sheet as text, with the name of its file; of a compressor's map also how it is installed."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    what: What
    name: str = Field(min_length=1, max_length=200)
    text: Sheet = Field(min_length=1)
    compressors: int = Field(1, ge=1, le=4)
    volumetric_efficiency: str = Field("", max_length=100)
    inlet_loss: str = Field("0 kPa", max_length=100)
    charge_loss: str = Field("0 kPa", max_length=100)


def kept_sheet_json(item: ItemRecord) -> JsonObject:
    """A sheet as the API tells it."""
    return {"id": item.id, "car": item.car_id, "made_at": item.made_at, **item.given}


def sheet_shown(item: ItemRecord) -> SheetOfCar:
    """The same for a page, without its text."""
    return SheetOfCar(item.given["what"], item.given["name"], item.made_at)


def sheets_of(library: Library, car_id: str) -> list[ItemRecord]:
    """Sheets kept with a car, one of each kind; 404 if there is no such car."""
    if library.records.car(car_id) is None:
        raise not_found("car")
    return [one for one in library.records.items(SHEET, car=car_id) if not one.gone]


def keep_sheet(library: Library, car_id: str, given_now: SheetGiven) -> ItemRecord:
    """Keep a sheet with a car in place of the one of its kind.

    Parameters
    ----------
    library : Library
        Where the car is.
    car_id : str
        The car.
    given_now : SheetGiven
        The sheet.

    Returns
    -------
    ItemRecord
        As it is kept; the same as before where nothing of it is other.

    Raises
    ------
    Problem
        404 if there is no such car, 422 if it is no such sheet.
    """
    before = [one for one in sheets_of(library, car_id) if one.given["what"] == given_now.what]
    given = given_now.model_dump()
    for one in before:
        if one.given == given:
            return one
    try:
        READERS[given_now.what](given_now.text.encode(), name=given_now.name)
    except NotALog as error:
        raise Problem(422, "Not usable", str(error)) from None
    item = ItemRecord(secrets.token_hex(16), SHEET, car_id, now(), gone=False, given=given)
    library.records.keep_item(item)
    for one in before:
        library.records.keep_item(replace(one, gone=True))
    return item


def take_sheet_off(library: Library, sheet_id: str) -> None:
    """Take a sheet off its car; it stays kept among what was let go."""
    item = library.records.item(sheet_id)
    if item is None or item.kind != SHEET or item.gone:
        raise not_found("sheet")
    library.records.keep_item(replace(item, gone=True))


def with_kept(library: Library, run: RunRecord, asked: BenchSheets) -> BenchSheets:
    """What was asked, and where no sheet was sent those that are kept with the run's car.

    Parameters
    ----------
    library : Library
        Where they are.
    run : RunRecord
        The run.
    asked : BenchSheets
        As sent.

    Returns
    -------
    BenchSheets
        As sent where it holds a sheet.
    """
    if run.car is None or any(getattr(asked, what) for what in READERS):
        return asked
    kept = {one.given["what"]: one.given for one in sheets_of(library, run.car[0])}
    given_now: JsonObject = {what: given["text"] for what, given in kept.items()}
    if "compressor_map" in kept:
        given_now |= {key: kept["compressor_map"][key] for key in INSTALLED if key not in asked.model_fields_set}
    return asked.model_copy(update=given_now)
