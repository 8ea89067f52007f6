"""A list of runs in a TOML file: which logs, what was given of each, which car.

Public: `ListedRun`, `ListedPart`, `read_run_list`, `run_labelled`, `read_parts`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.listed_sheets import ListedSheets, SheetsNamed, listed_sheets
from passband.service.given.details import FinishFt
from passband.service.given.facts import Fault, GivenError, read_car, read_file, read_given

MOST_RUNS = 2000
"""More than a car makes in ten seasons. A longer list is refused."""


def _no_blank(text: str) -> str:
    if not text.strip():
        raise ValueError("must not be blank")
    return text


Text = Annotated[str, Field(max_length=200)]
Rpm = Annotated[float, Field(gt=0, le=30_000)]
"""An engine speed above which time is counted."""
NotBlank = Annotated[str, Field(max_length=500), AfterValidator(_no_blank)]


class _Run(BaseModel):
    """One run of the list, as written."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    logs: list[NotBlank] = Field(min_length=1, max_length=20)
    label: Annotated[str, Field(max_length=200), AfterValidator(_no_blank)]
    event: Text = ""
    round: Text = ""
    notes: str = Field("", max_length=20_000)
    at: datetime | date | None = None
    group: Text = ""
    finish_ft: FinishFt = 1320
    slip: JsonObject | list[JsonObject] | None = None
    air: JsonObject | None = None
    car: NotBlank | None = None
    sheets: SheetsNamed | None = None


class ListedPart(BaseModel):
    """A part of the car, and in which runs of the list it was."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: Annotated[str, Field(max_length=200), AfterValidator(_no_blank)]
    first: Text = ""
    """Label of the first run; the list's first where empty."""
    last: Text = ""
    """Label of the last run; the list's last where empty."""
    above_rpm: list[Rpm] = Field(default_factory=list, max_length=20)
    """Engine speeds above which time is counted. [rpm]"""


class _List(BaseModel):
    """The file, as written."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    car: NotBlank | None = None
    sheets: SheetsNamed | None = None
    parts: list[ListedPart] = Field(default_factory=list, max_length=200)
    runs: list[JsonObject] = Field(min_length=1, max_length=MOST_RUNS)


@dataclass(frozen=True, slots=True)
class ListedRun:
    """One run of a list, checked."""

    label: str
    """Unique in the list."""
    logs: tuple[Path, ...]
    """Files that are there, the ECU's first."""
    car_given: JsonObject
    """The car as written."""
    car: Car
    """The car, in SI."""
    slips: tuple[Slip, ...]
    """One for each run in the logs, in order; fewer is fine."""
    air: Air | None
    """The day's air."""
    slips_given: tuple[JsonObject, ...]
    """The slips as written."""
    air_given: JsonObject | None
    """The air as written."""
    finish_ft: int
    """Where the finish line is. [ft]"""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""
    notes: str
    """The crew's own words; may be empty."""
    at: str
    """Date and time, ISO; empty where not given."""
    group: str
    """Which side of a change it is on; empty where on none."""
    sheets: ListedSheets = field(default_factory=ListedSheets)
    """Sheets of a bench and a compressor's map that the list names for it."""


def read_run_list(path: Path, *, car: Path | None = None) -> list[ListedRun]:
    """Read a list of runs and everything that it names but the logs themselves.

    Parameters
    ----------
    path : Path
        ``.toml`` or ``.json``; paths in it are relative to it.
    car : Path, optional
        The car of all runs that name none of their own; goes before the list's.

    Returns
    -------
    list of ListedRun
        In the list's order; never empty.

    Raises
    ------
    GivenError
        With the run's label, for a key that is unknown, a label used twice, a file that is not there, a car, slip or
        air that cannot be used, and a run without a car.
    """
    given = read_given(_List, read_file(path, what="list of runs"), what="list of runs")
    runs = [_read_run(number, run) for number, run in enumerate(given.runs, start=1)]
    _check_labels(path, runs)
    _check_logs(path, runs)
    cars = _Cars(path.parent, car or (path.parent / given.car if given.car else None))
    return [_listed(path.parent, run, cars, given.sheets) for run in runs]


def read_parts(path: Path) -> list[ListedPart]:
    """Read the parts that a list of runs names.

    Parameters
    ----------
    path : Path
        A list that `read_run_list` takes.

    Returns
    -------
    list of ListedPart
        Empty where it names none.

    Raises
    ------
    GivenError
        If a part's first or last run is not in the list, or they are the wrong way round.
    """
    given = read_given(_List, read_file(path, what="list of runs"), what="list of runs")
    labels = [run.get("label") for run in given.runs]
    for part in given.parts:
        for key, label in (("first", part.first), ("last", part.last)):
            if label and label not in labels:
                raise GivenError(f"Part {part.name!r}: no run of the list is labelled {label!r}, its {key}.")
        if part.first and part.last and labels.index(part.first) > labels.index(part.last):
            raise GivenError(f"Part {part.name!r}: its first run {part.first!r} stands behind its last {part.last!r}.")
    return given.parts


def _read_run(number: int, given: JsonObject) -> _Run:
    label = given.get("label")
    name = f"run {label!r}" if isinstance(label, str) and label else f"run number {number}"
    return read_given(_Run, given, what=name)


def _check_labels(path: Path, runs: list[_Run]) -> None:
    twice = [label for label, times in Counter(run.label for run in runs).items() if times > 1]
    if twice:
        faults = tuple(Fault("runs", f"label {label!r} stands there more than once") for label in twice)
        raise GivenError(
            f"The list of runs {path} cannot be used: {'; '.join(fault.text for fault in faults[:5])}. Give each run a "
            "label of its own.",
            faults=faults,
        )


def _check_logs(path: Path, runs: list[_Run]) -> None:
    missing = [(run.label, log) for run in runs for log in run.logs if not (path.parent / log).is_file()]
    if missing:
        faults = tuple(Fault("runs", f"{log} of run {label!r} is not there") for label, log in missing)
        more = f"; and {len(faults) - 5} more" if len(faults) > 5 else ""
        raise GivenError(
            f"The list of runs {path} names logs that cannot be found: {'; '.join(f.text for f in faults[:5])}{more}. "
            "Paths are relative to the list.",
            faults=faults,
        )


class _Cars:
    """Cars by their files, each read once."""

    def __init__(self, folder: Path, of_all: Path | None) -> None:
        self._folder, self._of_all = folder, of_all
        self._read: dict[Path, tuple[JsonObject, Car]] = {}

    def of(self, run: _Run) -> tuple[JsonObject, Car]:
        path = self._folder / run.car if run.car else self._of_all
        if path is None:
            raise GivenError(f'Run {run.label!r} names no car: write car = "car.toml" into the list, or tell --car.')
        if path not in self._read:
            given = read_file(path, what="car")
            self._read[path] = given, read_car(given)
        return self._read[path]


def _listed(folder: Path, run: _Run, cars: _Cars, sheets: SheetsNamed | None) -> ListedRun:
    car_given, car = cars.of(run)
    slips = run.slip if isinstance(run.slip, list) else [run.slip] if run.slip else []
    return ListedRun(
        label=run.label,
        logs=tuple(folder / log for log in run.logs),
        car_given=car_given,
        car=car,
        slips=tuple(read_given(Slip, slip, what=f"slip of run {run.label!r}") for slip in slips),
        air=read_given(Air, run.air, what=f"air of run {run.label!r}") if run.air else None,
        slips_given=tuple(slips),
        air_given=run.air,
        finish_ft=run.finish_ft,
        event=run.event,
        round=run.round,
        notes=run.notes,
        at=run.at.isoformat() if run.at is not None else "",
        group=run.group,
        sheets=listed_sheets(folder, sheets, run.sheets, label=run.label),
    )


def run_labelled(listed: Sequence[ListedRun], label: str) -> ListedRun:
    """The run of a list that is called so.

    Parameters
    ----------
    listed : sequence of ListedRun
        As read.
    label : str
        Its label.

    Returns
    -------
    ListedRun
        The one.

    Raises
    ------
    GivenError
        If none is, with the labels that there are.
    """
    for one in listed:
        if one.label == label:
            return one
    labels = ", ".join(repr(one.label) for one in listed)
    raise GivenError(f"No run of the list is labelled {label!r}; its labels are {labels}.")
