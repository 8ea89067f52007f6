"""The start page: logs are dropped here, and what was dropped before is listed.

Public: `RunList`, `CarriedFields`, `QuantityField`, `render_runs`, `carried_fields`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.given.ranges import FACTS
from passband.web.forms.doubts import READ_WITH_DOUBT, UNLIKE_CAR
from passband.web.forms.understood import field_value
from passband.web.pages.page import render
from passband.web.sheets.run_line import run_line
from passband.web.shown.car import CarShown
from passband.web.shown.run import CarriedOver, RunShown
from passband.web.shown.trash import TrashShown
from passband.web.wording.units import UnitSystem


@dataclass(frozen=True, slots=True)
class CarriedFields:
    """The same as the start page's fields take it."""

    title: str
    """What that run is called."""
    event: str
    """May be empty."""
    car: str
    """Its car's id; empty where it named none."""
    finish_ft: int
    """Where the finish line was. [ft]"""
    air: dict[str, QuantityField]
    """By field."""


@dataclass(frozen=True, slots=True)
class QuantityField:
    """What stands in a field and the unit chosen beside it."""

    text: str
    """A number."""
    unit: str
    """Empty where it needs none."""


@dataclass(frozen=True, slots=True)
class RunList:
    """Runs to be listed, and what stands around them."""

    runs: Sequence[RunShown]
    """Newest first."""
    cars: Sequence[CarShown]
    """To choose from."""
    events: Sequence[str] = ()
    """Names of events to choose from; those of the runs where none is named."""
    next_events: str | None = None
    """Name to go on from; None where there are no more events."""
    event: str = ""
    """Only its runs are listed; empty for all."""
    car: str = ""
    """Id of the car whose runs alone are listed; empty for all."""
    next_run: str | None = None
    """Id to go on from; None where there are no more runs."""
    from_older: bool = False
    """Whether these are older runs, so that the first of them is not the last one made."""
    doubt: str = ""
    """Why not all that is kept is shown, a sentence; empty where all is."""
    deleted: TrashShown | None = None
    """What was deleted just now; None where nothing was."""
    carried: CarriedOver | None = None
    """What the next run begins with; None where there was no run of late."""


def render_runs(shown: RunList, *, units: UnitSystem = "us") -> str:
    """The start page: drop logs here, and what was dropped before.

    Parameters
    ----------
    shown : RunList
        What it lists.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    lines = [run_line(run, units) for run in shown.runs]
    return render(
        "runs.html",
        units,
        runs=lines,
        cars=shown.cars,
        events=shown.events or tuple(dict.fromkeys(line.event for line in lines if line.event)),
        next_events=shown.next_events,
        chosen={"event": shown.event, "car": shown.car},
        latest=lines[0] if lines and not shown.from_older else None,
        next_run=shown.next_run,
        doubt=shown.doubt,
        deleted=shown.deleted,
        doubts=READ_WITH_DOUBT,
        unlike=UNLIKE_CAR,
        carried=shown.carried,
        here="runs",
    )


def carried_fields(carried: CarriedOver | None, units: UnitSystem) -> CarriedFields | None:
    """What is carried over to the next run, as the start page's fields take it.

    Parameters
    ----------
    carried : CarriedOver or None
        As `RunList` holds it.
    units : {"us", "metric"}
        The reader's choice, for what was given without a unit.

    Returns
    -------
    CarriedFields or None
        The same, each quantity of the air parted into number and unit.
    """
    if carried is None:
        return None
    air = {key: field_value(given, FACTS[key], units) for key, given in (carried.air or {}).items() if key in FACTS}
    fields = {key: QuantityField(one.text, one.unit) for key, one in air.items()}
    return CarriedFields(carried.title, carried.event, carried.car, carried.finish_ft, fields)
