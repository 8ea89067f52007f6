"""The page of one run: its review, and what stands around it.

Public: `AroundRun`, `render_run`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from passband.analysis.channels.catalogue import CATALOGUE
from passband.analysis.results.findings import GIVEN_NOT_USED
from passband.analysis.results.limits import Verdict
from passband.analysis.results.review import Review
from passband.analysis.runs.verdict import INSPECT, broken_words, limits_answer, verdict_lines
from passband.analysis.runs.why import Against, against_words, since_words
from passband.web.drawn.curves import curves_svg
from passband.web.drawn.lane import LETTERS
from passband.web.forms.doubts import UNLIKE_CAR
from passband.web.pages.page import render
from passband.web.pages.top_of_run import doubted, led_causes
from passband.web.sheets.sheet import banners, heading, key_figures, standing
from passband.web.sheets.whole import sections
from passband.web.shown.car import CarShown
from passband.web.shown.run import NO_COLUMNS, ColumnsAsked, NamedRun, UsualHere, WholeRun
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem

if TYPE_CHECKING:
    from passband.analysis.report import TableColumn


@dataclass(frozen=True, slots=True)
class AroundRun:
    """What a run's page shows beside its review."""

    car: CarShown | None = None
    """As it ran; None where the run has none."""
    cars: Sequence[CarShown] = ()
    """All cars, to choose another from."""
    channels: Sequence[TableColumn] = ()
    """What the logs were understood to hold."""
    columns: ColumnsAsked = NO_COLUMNS
    """What is asked about columns beside the review's doubts."""
    best: Review | None = None
    """The car's quickest other run of the weekend without a fault found, to hold the average power against; None where
    there is none."""
    best_id: str | None = None
    """Its id; None where there is none."""
    before_id: str | None = None
    """Id of the car's run before it at the event; None where there is none."""
    since: Against | None = None
    """This run held against that one; None where there is none, or the two share no track."""
    against: Against | None = None
    """This run held against the best fair one, where that is another than the one before; else None."""
    differs: str = ""
    """What was told otherwise of the car than at the run before, in a line; empty where nothing was."""
    engine: str = ""
    """Whether the engine was as in the car's runs before, in a line; empty where nothing can be said."""
    twins: Sequence[NamedRun] = ()
    """Runs of some of the same logs: likely this run once more."""
    takes_logs: bool = False
    """Whether another device's log may be added: it is the only run of its logs, and no baseline begins with it."""
    usual: UsualHere | None = None
    """From which run on the engine's usual is a new one; None where the run names no car."""


ALONE = AroundRun()
"""A run beside which nothing is known."""


def render_run(
    review: Review, run: WholeRun, strip_svg: str, around: AroundRun = ALONE, *, units: UnitSystem = "us"
) -> str:
    """One run's review.

    Parameters
    ----------
    review : Review
        Of the run.
    run : WholeRun
        What was said of it.
    strip_svg : str
        What `web.strip.strip_svg` drew of it.
    around : AroundRun
        What is shown beside the review.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    unlike_car = _unlike_car(review) if around.car else ""
    return render(
        "run.html",
        units,
        review=review,
        run=run.shown,
        said=run,
        head=heading(review, units),
        remedy=_remedy(review),
        standing=standing([limit.verdict for limit in review.limits]),
        banners=banners(review, units),
        unlike_car=unlike_car,
        keys=key_figures(review, units),
        limits=_limits(review, units),
        verdict=[
            in_units(line, units)
            for line in (*verdict_lines(review, around.best, units=units)[1:], around.engine)
            if line
        ],
        usual=around.usual,
        twins=around.twins,
        takes_logs=around.takes_logs,
        best_id=around.best_id,
        why=led_causes(review, units),
        before_id=around.before_id,
        since=since_words(around.since) if around.since else None,
        differs=around.differs,
        doubted=doubted(review, units, told=GIVEN_NOT_USED.union(UNLIKE_CAR if unlike_car else ())),
        against=[
            (of, in_units(against_words(pair), units))
            for of, pair in ((around.before_id, around.since), (around.best_id, around.against))
            if pair is not None
        ],
        strip=Markup(strip_svg),
        curves=Markup(curves_svg(review, units=units)),
        sections=sections(review, units, given=around.car.limits if around.car else (), slip=run.slip),
        car=around.car,
        cars=around.cars,
        channels=around.channels,
        known_channels=sorted(CATALOGUE),
        columns=around.columns,
        here="run",
    )


def _unlike_car(review: Review) -> str:
    """By how much the logs go against the gearing of the car chosen, as where another car's was chosen; else empty."""
    doubts = (one.text for one in review.findings if one.code in UNLIKE_CAR and one.level == "caution")
    return next((text.partition(", beyond")[0].partition(": ")[0] for text in doubts), "")


def _remedy(review: Review) -> str:
    """What would tell how far a car went whose motion no log shows."""
    gearing = next((one.text for one in review.findings if one.code == "speed-needs-gearing"), "")
    said = f"{gearing.partition('. ')[2]} " if gearing else ""
    return f"{said}With the timing slip given, its splits and the mean power by them stand here."


@dataclass(frozen=True, slots=True)
class _Broken:
    sign: str
    """Its letter on the strip; a ring for those without data."""
    text: str
    """By how much it was broken, and for how long."""


@dataclass(frozen=True, slots=True)
class _Limits:
    line: str
    """How the run stands to its limits, in a sentence or two."""
    broken: tuple[_Broken, ...]
    """The furthest outside first; last, where some had no data, which."""


def _limits(review: Review, units: UnitSystem) -> _Limits:
    """The first line of the page, and beneath it each limit that was broken with its letter on the strip."""
    answer = limits_answer(review, units=units)
    if not answer.broken:
        return _Limits(in_units(answer.line, units), ())
    outside = (one.name for one in review.limits if one.verdict is Verdict.OUTSIDE)
    signs = dict(zip(outside, LETTERS, strict=False))
    broken = (
        _Broken(signs.get(one.name, ""), in_units(broken_words(one, units=units), units)) for one in answer.broken
    )
    blind = any(one.verdict is Verdict.NO_DATA for one in review.limits)
    rest = (_Broken("○", answer.rest),) if blind else ()
    return _Limits(f"{answer.line}. {INSPECT}", (*broken, *rest))
