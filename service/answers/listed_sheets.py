"""Sheets that a list of runs names for its runs: a bench's, a dynamometer's, a compressor's map.

Public: `SheetsNamed`, `ListedSheets`, `listed_sheets`, `curve_text`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from passband.service.given.facts import GivenError

Named = Annotated[str, Field(min_length=1, max_length=500)]
Said = Annotated[str, Field(max_length=100)]
FILES = ("flow_sheet", "flow_sheet_before", "dynamometer", "dynamometer_before", "compressor_map")
"""What may be named, by the words under which a car keeps it in a library."""


class SheetsNamed(BaseModel):
    """As written: ``[sheets]`` of the list, or ``sheets`` of one run. Paths are relative to the list."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    flow_sheet: Named | None = None
    flow_sheet_before: Named | None = None
    dynamometer: Named | None = None
    dynamometer_before: Named | None = None
    compressor_map: Named | None = None
    compressors: int | None = Field(None, ge=1, le=4)
    volumetric_efficiency: Said | None = None
    inlet_loss: Said | None = None
    charge_loss: Said | None = None


@dataclass(frozen=True, slots=True)
class ListedSheets:
    """Sheets of one run, as files that are there; None where the list names none."""

    flow_sheet: Path | None = None
    """The flow bench's."""
    flow_sheet_before: Path | None = None
    """The same before a change of the head."""
    dynamometer: Path | None = None
    """The dynamometer's curve."""
    dynamometer_before: Path | None = None
    """The same before a change of the engine."""
    compressor_map: Path | None = None
    """Points along a map's speed lines."""
    compressors: int | None = None
    """Alike and side by side."""
    volumetric_efficiency: str | None = None
    """With its plus-minus or without. [-]"""
    inlet_loss: str | None = None
    """With its unit."""
    charge_loss: str | None = None
    """With its unit."""


def listed_sheets(folder: Path, of_all: SheetsNamed | None, own: SheetsNamed | None, *, label: str) -> ListedSheets:
    """The sheets of one run: its own, and of each kind that it does not name the list's.

    Parameters
    ----------
    folder : Path
        Where the list lies.
    of_all, own : SheetsNamed, optional
        What the list says of all its runs, and of this one.
    label : str
        The run's.

    Returns
    -------
    ListedSheets
        Files that are there.

    Raises
    ------
    GivenError
        If one is not there.
    """
    said = {**_said(of_all), **_said(own)}
    files = {name: folder / str(said[name]) for name in FILES if name in said}
    missing = [f"{name} {said[name]!r}" for name, path in files.items() if not path.is_file()]
    if missing:
        raise GivenError(
            f"Sheets of run {label!r} are not there: {', '.join(missing)}. Paths are relative to the list of runs."
        )
    asked = SheetsNamed.model_validate(said)
    return ListedSheets(
        files.get("flow_sheet"), files.get("flow_sheet_before"), files.get("dynamometer"),
        files.get("dynamometer_before"), files.get("compressor_map"),
        asked.compressors, asked.volumetric_efficiency, asked.inlet_loss, asked.charge_loss,
    )  # fmt: skip


def _said(one: SheetsNamed | None) -> dict[str, str | int]:
    return {} if one is None else one.model_dump(exclude_none=True)


def curve_text(named: str, sheets: ListedSheets, folder: Path) -> str:
    """The text of an engine's curve that is named by its file, or by what the list calls it.

    Parameters
    ----------
    named : str
        A file, ``dynamometer`` or ``dynamometer_before``; or the curve itself, which has more than one line.
    sheets : ListedSheets
        Of the run.
    folder : Path
        What a file's name is relative to.

    Returns
    -------
    str
        Empty where nothing is named.

    Raises
    ------
    GivenError
        If the list names no such curve, or the file is not there.
    """
    name = named.strip()
    if not name or "\n" in name:
        return named
    path: Path | None = folder / name
    if name in ("dynamometer", "dynamometer_before"):
        path = sheets.dynamometer if name == "dynamometer" else sheets.dynamometer_before
    if path is None:
        raise GivenError(f'The list of runs names no {name}: write {name} = "CURVE.csv" under its [sheets].')
    if not path.is_file():
        raise GivenError(f"The engine's curve {name!r} is not there.")
    return path.read_text(encoding="utf-8", errors="replace")
