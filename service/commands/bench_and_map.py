"""Commands that lay a bench's sheets and a compressor's map beside one run of a list.

Public: `TurboFile`, `SheetFiles`, `print_turbo`, `print_bench`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from passband.service.answers.bench_laid import BenchedRun, Sheets, lay_bench
from passband.service.answers.listed_sheets import ListedSheets
from passband.service.answers.map_laid import lay_on_map, turbo_given
from passband.service.answers.run_list import read_run_list, run_labelled
from passband.service.commands.many_runs import reviews_of
from passband.service.commands.printing import Form, drawn_in, print_json
from passband.service.given.facts import GivenError

if TYPE_CHECKING:
    from passband.analysis.bench.sheets import DynoCurve, FlowSheet
    from passband.analysis.turbo.path import TurboGiven

NO_LOSS = "0 kPa"
Given = TypeVar("Given", Path, str, int)


def _first(given: Given | None, listed: Given | None) -> Given | None:
    return listed if given is None else given


@dataclass(frozen=True, slots=True)
class TurboFile:
    """A compressor's map as a file and how it is installed; what is None is as the list of runs has it."""

    map: Path | None = None
    """Points along the map's speed lines."""
    compressors: int | None = None
    """Alike and side by side; 1 where nobody says."""
    volumetric_efficiency: str | None = None
    """A share or per cent, with its plus-minus or without."""
    inlet_loss: str | None = None
    """With its unit; none where nobody says."""
    charge_loss: str | None = None
    """With its unit; none where nobody says."""

    def with_listed(self, sheets: ListedSheets) -> TurboFile:
        """The same, and what is not said of it as the list says."""
        return TurboFile(
            _first(self.map, sheets.compressor_map),
            _first(self.compressors, sheets.compressors),
            _first(self.volumetric_efficiency, sheets.volumetric_efficiency),
            _first(self.inlet_loss, sheets.inlet_loss),
            _first(self.charge_loss, sheets.charge_loss),
        )

    @property
    def given(self) -> TurboGiven:
        """The installation, checked."""
        losses = [NO_LOSS if one is None else one for one in (self.inlet_loss, self.charge_loss)]
        return turbo_given(1 if self.compressors is None else self.compressors, self.volumetric_efficiency, *losses)


def print_turbo(path: Path, *, label: str, car: Path | None, turbo: TurboFile, picture: Path | None, form: Form) -> int:
    """Lay one run of a list over a compressor's map and print its way over it.

    Parameters
    ----------
    path : Path
        The list of runs.
    label : str
        The run.
    car : Path, optional
        The car of runs that name none.
    turbo : TurboFile
        The map and its installation; what it does not say is taken from the list.
    picture : Path, optional
        Where to write a picture, ``.svg``.
    form : {"json", "us", "metric"}
        JSON, or a page in these units.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If the list, the label or the picture's name cannot be used, no map is named, or the run cannot be laid on it.
    LogError
        If the map cannot be read.
    """
    from passband.analysis.report import as_table
    from passband.analysis.turbo.map import read_compressor_map

    _check_picture(picture)
    listed = run_labelled(read_run_list(path, car=car), label)
    turbo = turbo.with_listed(listed.sheets)
    if turbo.map is None:
        raise GivenError('Name a map: --map MAP.csv, or compressor_map = "MAP.csv" under [sheets] in the list of runs.')
    given, compressor = turbo.given, read_compressor_map(turbo.map.read_bytes(), name=turbo.map.name)
    full = reviews_of(listed)[0]
    way = lay_on_map(full, as_table(full).frame, listed.car, compressor, given)
    if picture is not None:
        from passband.web.drawn.map_picture import map_svg

        picture.write_text(map_svg(compressor, way, full.shifts, units=drawn_in(form)), encoding="utf-8")
    if form == "json":
        from passband.analysis.results.codec import plain

        print_json({"run": label, "way": plain(way)})
        return 0
    from passband.web.printed.bench import print_way

    print(print_way(label, compressor, way, units=form), end="")
    return 0


@dataclass(frozen=True, slots=True)
class SheetFiles:
    """A bench's sheets as files."""

    flow: Path | None = None
    """The flow bench's."""
    flow_before: Path | None = None
    """The same before a change."""
    dyno: Path | None = None
    """The dynamometer's."""
    dyno_before: Path | None = None
    """The same before a change."""

    def with_listed(self, sheets: ListedSheets) -> SheetFiles:
        """The same; where it names none at all, those of the list."""
        if self != SheetFiles():
            return self
        return SheetFiles(sheets.flow_sheet, sheets.flow_sheet_before, sheets.dynamometer, sheets.dynamometer_before)


def print_bench(
    path: Path, *, label: str, car: Path | None, files: SheetFiles, picture: Path | None, form: Form
) -> int:
    """Lay a flow sheet and a dynamometer's curve beside one run of a list and print both.

    Parameters
    ----------
    path : Path
        The list of runs.
    label : str
        The run.
    car : Path, optional
        The car of runs that name none.
    files : SheetFiles
        The bench's sheets, one at least that is not of before; without any those that the list names.
    picture : Path, optional
        Where to write a picture of both power curves, ``.svg``.
    form : {"json", "us", "metric"}
        JSON, or a page in these units.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If no sheet is given, or the list, the label or the picture's name cannot be used.
    LogError
        If a sheet cannot be read.
    """
    listed = run_labelled(read_run_list(path, car=car), label)
    files = files.with_listed(listed.sheets)
    _check_files(files)
    _check_picture(picture, of=files.dyno)
    sheet, sheet_before = (_flow(one) for one in (files.flow, files.flow_before))
    curve, curve_before = (_dyno(one) for one in (files.dyno, files.dyno_before))
    full = reviews_of(listed)[0]
    from passband.analysis.report import as_table

    run = BenchedRun(full, as_table(full).frame, listed.car, label)
    laid = lay_bench(run, Sheets(sheet, sheet_before, curve, curve_before), units=drawn_in(form))
    if picture is not None:
        picture.write_text(laid.dynamometer.picture if laid.dynamometer else "", encoding="utf-8")
    if form == "json":
        figures = {name: None if one is None else one.figures for name, one in laid.by_name().items()}
        print_json({"run": label, **figures})
        return 0
    print("\n".join(one.print for one in laid.by_name().values() if one is not None), end="")
    return 0


def _check_files(files: SheetFiles) -> None:
    if files.flow is None and files.dyno is None:
        raise GivenError(
            "Name a sheet: --flow for a flow bench's, --dyno for a dynamometer's curve, or both; or flow_sheet and "
            "dynamometer under [sheets] in the list of runs."
        )
    for before, after, name in ((files.flow_before, files.flow, "flow"), (files.dyno_before, files.dyno, "dyno")):
        if before is not None and after is None:
            raise GivenError(f"--{name}-before is held against --{name}: name both.")


def _flow(path: Path | None) -> FlowSheet | None:
    from passband.analysis.bench.sheets import read_flow_sheet

    return None if path is None else read_flow_sheet(path.read_bytes(), name=path.name)


def _dyno(path: Path | None) -> DynoCurve | None:
    from passband.analysis.bench.sheets import read_dyno_curve

    return None if path is None else read_dyno_curve(path.read_bytes(), name=path.name)


def _check_picture(picture: Path | None, of: Path | None = Path()) -> None:
    if picture is not None and picture.suffix.lower() != ".svg":
        raise GivenError(f"--picture {picture} must end in .svg.")
    if picture is not None and of is None:
        raise GivenError("--picture draws a dynamometer's curve beside the track's: name one with --dyno.")
