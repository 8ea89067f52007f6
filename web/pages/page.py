"""The pages: HTML out of dataclasses, which the service reads once. Templates escape everything a user wrote.

Public: `render_overlay`, `render_cars`, `render_event`, `render_beside_run`, `render_put_right`, `render_trash`,
`render_error`, `ProblemShown`, `render`, `load_templates`. Pages that hold more have files of their own:
`start_page`, `run_page`, `car_page`, `parts_page`.

Addresses that the pages link to, for the service to answer: ``/`` (upload and runs; ``?event=&car=&after=&deleted=``),
``/trash``, ``/put-right?runs=a,b``, ``/runs/{id}``, ``/runs/{id}/bench``, ``/runs/{id}/whatif``,
``/overlay?runs=a,b``, ``/costs?runs=a,b``, ``/change?before=a,b&after=c``, ``/changes/{id}``, ``/cars``,
``/cars/new``, ``/cars/{id}``, ``/cars/{id}/parts``, ``/events/{name}``, ``/static/...`` (`web.assets.STATIC`). Every
page takes
``?units=us|metric``; our script remembers the choice in the cookie ``units``: pass
``web.units.chosen_units(query, cookie)``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from passband.analysis.given.ranges import FACTS
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.web.assets import TEMPLATES, stamped
from passband.web.forms.car import field_text
from passband.web.forms.understood import ASKED_BESIDE, field_value
from passband.web.sheets.run_line import run_line
from passband.web.sheets.season import EventShown, season
from passband.web.sheets.sheet import CAUTIONS, heading
from passband.web.shown.car import CarShown
from passband.web.shown.groups import GroupsShown
from passband.web.shown.put_right import PutRightShown
from passband.web.shown.run import RunShown
from passband.web.shown.trash import TrashShown
from passband.web.wording.channel_titles import channel_title
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem


def render_overlay(
    runs: Sequence[RunShown], chosen: Sequence[RunShown], *, strips_svg: str = "", units: UnitSystem = "us"
) -> str:
    """Runs laid over each other; the charts are drawn from ``/api/overlay`` by our script.

    Parameters
    ----------
    runs : sequence of RunShown
        Those to choose from.
    chosen : sequence of RunShown
        Those shown, the one the others are held against first.
    strips_svg : str
        What `web.strip.strips_svg` drew of the chosen.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    picked = [run_line(run, units) for run in chosen]
    others = [run_line(run, units) for run in runs]
    return render("overlay.html", units, chosen=picked, runs=others, strips=Markup(strips_svg), here="overlay")


def render_cars(cars: Sequence[CarShown], *, units: UnitSystem = "us") -> str:
    """All cars.

    Parameters
    ----------
    cars : sequence of CarShown
        In their newest versions.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render("cars.html", units, cars=cars, here="cars")


def render_event(sheet: EventShown, *, changes: Sequence[GroupsShown] = (), units: UnitSystem = "us") -> str:
    """The sheet of one event: every run in order, with what was different.

    Parameters
    ----------
    sheet : EventShown
        Its runs and figures.
    changes : sequence of GroupsShown
        Groups of its runs that were given a name.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render(
        "event.html",
        units,
        event=sheet.event,
        season=season(sheet, units),
        cars=list({run.car.id: run.car for run in sheet.runs if run.car is not None}.values()),
        air_rules=[in_units(rule, units) for rule in sheet.sheet.air_rules],
        changes=changes,
        here="event",
    )


def render_beside_run(
    template: str, run: RunShown, review: Review, *, car: CarShown | None = None, units: UnitSystem = "us"
) -> str:
    """A page that asks something beside one run: what if, or bench and compressor map.

    Parameters
    ----------
    template : str
        ``whatif.html`` or ``bench.html``.
    run : RunShown
        Any.
    review : Review
        What was found in it.
    car : CarShown, optional
        The car as it ran, whose sheets the browser remembers.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    head, band = heading(review, units), known(review.band)
    return render(template, units, run=run, head=head, band=band, car=car, here="runs")


@dataclass(frozen=True, slots=True)
class ProblemShown:
    """What went wrong."""

    title: str
    """In two or three words."""
    detail: str
    """What happened and what to do."""
    findings: tuple[Finding, ...] = ()
    """What was found in a log that could not be used."""


def render_put_right(
    runs: Sequence[RunShown],
    cars: Sequence[CarShown],
    before: Sequence[PutRightShown],
    *,
    units: UnitSystem = "us",
) -> str:
    """Runs that are to be put right at once, and what was put right before.

    Parameters
    ----------
    runs : sequence of RunShown
        Those chosen; may be none.
    cars : sequence of CarShown
        All there are.
    before : sequence of PutRightShown
        What can be taken back, newest first.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render("put_right.html", units, runs=runs, cars=cars, before=before, here="runs")


def render_trash(entries: Sequence[TrashShown], *, units: UnitSystem = "us") -> str:
    """What lies in the trash.

    Parameters
    ----------
    entries : sequence of TrashShown
        Newest first.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render("trash.html", units, entries=entries, here="trash")


def render_error(problem: ProblemShown, *, units: UnitSystem = "us") -> str:
    """What went wrong and what to do.

    Parameters
    ----------
    problem : ProblemShown
        As problem details say it.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render("error.html", units, problem=problem, here="error")


reader_name: ContextVar[str] = ContextVar("reader_name", default="")
"""Who reads, and for which team; empty where nobody signs in. Set by the service for each request."""


def load_templates() -> Iterator[str]:
    """Read all templates, one after the other, so that no first page waits for that.

    Yields
    ------
    str
        Name of each.
    """
    for name in _environment().list_templates():
        _environment().get_template(name)
        yield name


def render(template: str, units: UnitSystem, **given: Any) -> str:
    """A page of one of our templates.

    Parameters
    ----------
    template : str
        Its file's name.
    units : {"us", "metric"}
        The reader's choice.
    **given
        What the template shows.

    Returns
    -------
    str
        HTML, with the cautions that every page carries.
    """
    reader = reader_name.get()
    page = _environment().get_template(template).render(units=units, cautions=CAUTIONS, reader=reader, **given)
    return stamped(page)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        auto_reload=False,  # they change with a release: else each page asks the disk after each of its templates
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["path"] = lambda text: quote(str(text), safe="")
    environment.filters["field_text"] = field_text
    environment.filters["in_units"] = in_units
    environment.filters["channel_title"] = channel_title
    environment.filters["breakable"] = _breakable
    environment.globals["facts"] = {**FACTS, **ASKED_BESIDE}
    environment.globals["asked"] = field_value
    return environment


def _breakable(text: str) -> Markup:
    """A name that may break behind its low lines, where a file's has no blank."""
    return Markup(escape(text).replace("_", Markup("_<wbr>")))
