"""The pages: HTML over the same JSON that the API gives. Everything written by a user is escaped by the templates.

Public: `render_runs`, `carried_fields`, `render_run`, `render_overlay`, `render_cars`, `render_event`,
`render_beside_run`, `render_error`, `render`, `load_templates`.

Addresses that the pages link to, for the service to answer: ``/`` (upload and runs; ``?event=&car=&after=&deleted=``),
``/trash``, ``/runs/{id}``, ``/runs/{id}/bench``, ``/runs/{id}/whatif``, ``/overlay?runs=a,b``, ``/costs?runs=a,b``,
``/change?before=a,b&after=c``, ``/changes/{id}``, ``/cars``, ``/cars/new``, ``/cars/{id}``,
``/cars/{id}/parts``, ``/events/{name}``,
``/static/...`` (`web.assets.STATIC`). Every page takes
``?units=us|metric``; our script remembers the choice in the cookie ``units``: pass
``web.units.chosen_units(query, cookie)``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from functools import lru_cache
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from passband.analysis.channels.catalogue import CATALOGUE
from passband.analysis.given.ranges import FACTS
from passband.analysis.results.review import Review
from passband.analysis.runs.verdict import verdict_lines
from passband.analysis.runs.why import Against, against_words, cause_words, find_causes
from passband.web.assets import TEMPLATES, stamped
from passband.web.carform import field_text
from passband.web.curves import curves_svg
from passband.web.doubts import READ_WITH_DOUBT
from passband.web.runline import run_line
from passband.web.season import season
from passband.web.sheet import CAUTIONS, banners, heading, key_figures, standing
from passband.web.sheets import sections
from passband.web.understood import field_value
from passband.web.units import UnitSystem
from passband.web.words import Json


def render_runs(
    runs: Sequence[Json],
    cars: Sequence[Json],
    *,
    events: Sequence[str] = (),
    next_events: str | None = None,
    chosen: Json | None = None,
    next_run: str | None = None,
    doubt: str = "",
    deleted: Json | None = None,
    from_older: bool = False,
    carried: Json | None = None,
    units: UnitSystem = "us",
) -> str:
    """The start page: drop logs here, and what was dropped before.

    Parameters
    ----------
    runs : sequence of mapping
        Summaries, newest first, as ``GET /api/runs`` gives them.
    cars : sequence of mapping
        Cars, as ``GET /api/cars`` gives them.
    events : sequence of str
        Names of events to choose from.
    next_events : str, optional
        Name to go on from, where there are more events.
    chosen : mapping, optional
        The filter in force: ``event``, ``car``.
    next_run : str, optional
        Id to go on from, where there are more runs.
    doubt : str
        Why not all that is kept is shown, a sentence; empty where all is.
    deleted : mapping, optional
        What was deleted just now, an entry as ``GET /api/trash`` gives it.
    carried : mapping, optional
        What the next run begins with, out of the last one of its event: ``title``, ``event``, ``car``, ``finish_ft``,
        ``air``.
    from_older : bool
        Whether these are older runs, so that the first of them is not the last one made.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    lines = [run_line(run, units) for run in runs]
    names = events or tuple(dict.fromkeys(line.event for line in lines if line.event))
    return render(
        "runs.html",
        units,
        runs=lines,
        cars=cars,
        events=names,
        next_events=next_events,
        chosen={"event": "", "car": "", **(chosen or {})},
        latest=lines[0] if lines and not from_older else None,
        next_run=next_run,
        doubt=doubt,
        deleted=deleted,
        doubts=READ_WITH_DOUBT,
        carried=carried,
        here="runs",
    )


def carried_fields(carried: Json | None, units: UnitSystem) -> Json | None:
    """What is carried over to the next run, as the start page's fields take it.

    Parameters
    ----------
    carried : mapping or None
        As `render_runs` takes it.
    units : {"us", "metric"}
        The reader's choice, for what was given without a unit.

    Returns
    -------
    dict or None
        The same, each quantity of the air as ``{"text", "unit"}``.
    """
    if carried is None:
        return None
    air = {key: field_value(told, FACTS[key], units) for key, told in (carried["air"] or {}).items() if key in FACTS}
    return {**carried, "air": {key: {"text": one.text, "unit": one.unit} for key, one in air.items()}}


def render_run(
    review: Review,
    run: Json,
    strip_svg: str,
    *,
    car: Json | None = None,
    cars: Sequence[Json] = (),
    channels: Sequence[Json] = (),
    best: Review | None = None,
    against: Sequence[Against] = (),
    best_id: str | None = None,
    engine: str = "",
    usual: Json | None = None,
    columns: Json | None = None,
    units: UnitSystem = "us",
) -> str:
    """One run's review.

    Parameters
    ----------
    review : Review
        Of the run.
    run : mapping
        As ``GET /api/runs/{id}`` gives it.
    strip_svg : str
        What `web.strip.strip_svg` drew of it.
    car : mapping, optional
        As ``GET /api/cars/{id}`` gives it.
    cars : sequence of mapping
        All cars, to choose another from.
    best : Review, optional
        The car's quickest other run of the weekend without a fault found, to hold the average power against.
    best_id : str, optional
        Its id.
    engine : str
        Whether the engine was as in the car's runs before, in a line; empty where nothing can be said.
    usual : mapping, optional
        From which run on the engine's usual is a new one: ``run``, ``begins`` (whether it is this one), ``notes``.
    against : sequence of Against
        This run held against others of the car: the one before it, the best fair one.
    channels : sequence of mapping
        What the logs were understood to hold: ``name``, ``header``, ``unit``, and where known ``log``, ``confidence``.
    columns : mapping, optional
        What is asked about columns beside the review's doubts: ``layouts`` of the logs, ``given`` answers (``layout``,
        ``column``, ``said``), ``others`` (summaries of runs asked the same), ``just_answered``.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render(
        "run.html",
        units,
        review=review,
        run=run,
        head=heading(review, units),
        standing=standing([limit.verdict for limit in review.limits]),
        banners=banners(review),
        keys=key_figures(review, units),
        verdict=(*verdict_lines(review, best, units=units), *filter(None, (engine,))),
        usual=usual,
        best_id=best_id,
        why=[cause_words(cause) for cause in find_causes(review)],
        against=[against_words(pair) for pair in against],
        strip=Markup(strip_svg),
        curves=Markup(curves_svg(review, units=units)),
        sections=sections(review, units, car=car),
        car=car,
        cars=cars,
        channels=channels,
        known_channels=sorted(CATALOGUE),
        columns={"layouts": (), "given": (), "others": (), "just_answered": False, **(columns or {})},
        here="run",
    )


def render_overlay(
    runs: Sequence[Json], chosen: Sequence[Json], *, strips_svg: str = "", units: UnitSystem = "us"
) -> str:
    """Runs laid over each other; the charts are drawn from ``/api/overlay`` by our script.

    Parameters
    ----------
    runs : sequence of mapping
        Summaries to choose from.
    chosen : sequence of mapping
        Summaries of those shown, the one the others are held against first.
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


def render_cars(cars: Sequence[Json], *, units: UnitSystem = "us") -> str:
    """All cars.

    Parameters
    ----------
    cars : sequence of mapping
        As ``GET /api/cars`` gives them.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render("cars.html", units, cars=cars, here="cars")


def render_event(sheet: Json, *, changes: Sequence[Json] = (), units: UnitSystem = "us") -> str:
    """The sheet of one event: every run in order, with what was different.

    Parameters
    ----------
    sheet : mapping
        As ``GET /api/events/{name}/sheet`` gives it.
    changes : sequence of mapping
        Groups of its runs that were given a name, as ``GET /api/groups`` gives them.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    cars = {run["car"]["id"]: run["car"] for run in sheet["runs"] if run["car"]}
    return render(
        "event.html",
        units,
        event=sheet["event"],
        season=season(sheet, units),
        cars=list(cars.values()),
        air_rules=sheet.get("air_rules", ()),
        changes=changes,
        here="event",
    )


def render_beside_run(
    template: str, run: Json, review: Review, *, car: Json | None = None, units: UnitSystem = "us"
) -> str:
    """A page that asks something beside one run: what if, or bench and compressor map.

    Parameters
    ----------
    template : str
        ``whatif.html`` or ``bench.html``.
    run : mapping
        As ``GET /api/runs`` lists it.
    review : Review
        What was found in it.
    car : mapping, optional
        The car as it ran, whose sheets the browser remembers.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render(template, units, run=run, head=heading(review, units), car=car, here="runs")


def render_error(problem: Json, *, units: UnitSystem = "us") -> str:
    """What went wrong and what to do.

    Parameters
    ----------
    problem : mapping
        Problem details: ``title``, ``detail``, ``status``; ``findings`` where there are any.
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
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["path"] = lambda text: quote(str(text), safe="")
    environment.filters["field_text"] = field_text
    environment.globals["facts"] = FACTS
    environment.globals["asked"] = field_value
    return environment
