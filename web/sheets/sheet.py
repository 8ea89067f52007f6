"""A review laid out for a reader: sections of lines, tables and sentences, the same for page and print.

Public: `Line`, `Cell`, `Row`, `Table`, `Bar`, `Section`, `Standing`, `Banner`, `Heading`, `CAUTIONS`,
`standing`, `banners`, `heading`, `key_figures`, `track_feet`.

The sections themselves are written in `web.sheet_track` (where the car was) and `web.sheet_engine` (what the
engine did); `web.printed` and the page's templates set them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from passband.analysis.results.findings import GIVEN_NOT_USED
from passband.analysis.results.limits import Verdict
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.runs.verdict import counts_in_words
from passband.web.wording.figures import Figure, estimate, figure, missing, reason_of
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem

Mark = Literal["", "outside", "inside", "missing", "under", "over", "stop", "caution", "note"]
"""What a cell must say by shape and word besides colour."""

CAUTIONS: tuple[str, ...] = (
    "Figures are estimates from the logs and the setup given: they decide nothing.",
    "Limits are the user's own; the engine's builder, the fuel's and parts' makers, the sanctioning body's rule book "
    "and the track's officials come first.",
    "A run outside a limit: stop and inspect before another.",
    "Never on a public road.",
)
"""What every report carries."""


@dataclass(frozen=True, slots=True)
class Line:
    """One figure with its label."""

    label: str
    """What it is."""
    figure: Figure
    """The figure, or why there is none."""
    note: str = ""
    """What it rests on or means, in a few words."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One place in a table."""

    text: str
    """What stands in it."""
    plus_minus: str = ""
    """Behind the plus-minus sign; empty where there is none."""
    mark: Mark = ""
    """What it must stand out for."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table, and a sentence that belongs under it."""

    cells: tuple[Cell, ...]
    """One for each head."""
    detail: str = ""
    """Further figures in words; may be empty."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table with a caption."""

    caption: str
    """What it shows, with the unit that all its figures share."""
    head: tuple[str, ...]
    """Titles of the columns."""
    rows: tuple[Row, ...]
    """In order."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One class of a distribution."""

    label: str
    """The class."""
    text: str
    """Its figure."""
    share: float
    """Of the largest, 0..1. [-]"""
    mark: Mark = ""
    """``under``, ``inside`` or ``over`` the band."""


@dataclass(frozen=True, slots=True)
class Section:
    """One part of a review as read."""

    key: str
    """Short name: ``launch``, ``shifts`` ..."""
    title: str
    """What a reader is shown."""
    lines: tuple[Line, ...] = ()
    """Figures in order."""
    tables: tuple[Table, ...] = ()
    """Below the lines."""
    bars: tuple[Bar, ...] = ()
    """A distribution, below the tables."""
    bars_caption: str = ""
    """What the bars show."""
    sentences: tuple[str, ...] = ()
    """What the figures say, in words."""
    basis: str = ""
    """What the figures rest on."""
    missing: str = ""
    """Why the whole section is empty; empty where it is not."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How a run stands to all of its limits."""

    word: str
    """``OUTSIDE``, ``INSIDE``, ``NO VERDICT``."""
    mark: Mark
    """Its shape on the page."""
    text: str
    """How many of how many."""
    counts: str = ""
    """The same in a few words, for lists: ``9 inside, 1 broken, 2 without data``; empty where there are no limits."""


def standing(verdicts: Sequence[Verdict]) -> Standing:
    """How a run stands to its limits, in one word and one line.

    Parameters
    ----------
    verdicts : sequence of Verdict
        One for each limit.

    Returns
    -------
    Standing
        ``OUTSIDE`` where one limit is broken; ``NO VERDICT`` where none was but some or all had no data.

    Examples
    --------
    >>> standing([Verdict.INSIDE, Verdict.NO_DATA]).text
    'no data for 1 of 2 limits; 1 inside, none broken'
    """
    broken, blind = verdicts.count(Verdict.OUTSIDE), verdicts.count(Verdict.NO_DATA)
    inside, count = verdicts.count(Verdict.INSIDE), len(verdicts)
    limits, counts = "limit" if count == 1 else "limits", counts_in_words(inside, broken, blind)
    if not count:
        return Standing("NO LIMITS SET", "missing", "nothing was checked")
    if broken:
        rest = counts_in_words(inside, 0, blind)
        return Standing(
            "OUTSIDE", "outside", f"{broken} of {count} {limits} broken{f'; {rest}' if rest else ''}", counts
        )
    if blind:
        return Standing(
            "NO VERDICT", "missing", f"no data for {blind} of {count} {limits}; {inside} inside, none broken"
        )
    return Standing("INSIDE", "inside", f"all {count} {limits} kept" if count > 1 else "its limit kept", counts)


@dataclass(frozen=True, slots=True)
class Banner:
    """Something given that could not be used, told above everything else."""

    mark: Mark
    """``stop`` or ``caution``."""
    text: str
    """What was given and why it was not used."""


def banners(review: Review, units: UnitSystem) -> tuple[Banner, ...]:
    """What of slip, air and limits was given and could not be used: told at the top, not among the findings alone.

    Parameters
    ----------
    review : Review
        Of the run.
    units : {"us", "metric"}
        The reader's choice.
    """
    unused = [finding for finding in review.findings if finding.code in GIVEN_NOT_USED]
    return tuple(
        Banner("stop" if finding.level == "stop" else "caution", in_units(finding.text, units)) for finding in unused
    )


@dataclass(frozen=True, slots=True)
class Heading:
    """What stands over a run."""

    title: str
    """What the run is called."""
    time: Figure
    """Elapsed time at the furthest mark."""
    speed: Figure
    """Trap speed there."""
    at_ft: int | None
    """That mark. [ft]"""


def run_title(label: str, event: str, round: str, log_names: Sequence[str]) -> str:
    """What pages call a run: the user's label, else event and round, else the first log's name.

    An event alone is no name: all its runs without a label would be called alike.

    Examples
    --------
    >>> run_title("", "Harvest Meet", "Q1", ["17.csv"]), run_title("", "Harvest Meet", "", ["17.csv"])
    ('Harvest Meet, Q1', '17.csv')
    """
    return label or (", ".join(filter(None, (event, round))) if round else str(log_names[0]))


def heading(review: Review, units: UnitSystem) -> Heading:
    """What a run is called, and what the boards would show: elapsed time and trap speed at its furthest mark.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    Heading
        Figures are missing where no mark was reached.
    """
    run = review.run
    title = run_title(run.label, run.event, run.round, run.log_names)
    distance = review.distance
    if isinstance(distance, Unknown):
        return Heading(title, missing(reason_of(distance)), missing("no trap was reached"), None)
    if not distance.splits:
        return Heading(title, missing("no mark was reached"), missing("no trap was reached"), None)
    last = distance.splits[-1]
    same = [trap for trap in distance.traps if trap.at_ft == last.at_ft]
    speed = estimate(same[-1].speed_mps, "speed", units) if same else missing("no trap was reached")
    return Heading(title, estimate(last.time_s, "time", units), speed, last.at_ft)


def key_figures(review: Review, units: UnitSystem) -> tuple[Line, ...]:
    """The three figures that are looked for first: mean power, share of the run in the band and on boost.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    tuple of Line
        Always three, in the order asked for; a figure may be missing. The note is the key of
        the section that tells more.
    """
    band, boost, power = known(review.band), known(review.boost), known(review.power)
    average = Line("average power", estimate(power.average_w if power else None, "power", units), "power")
    if power is not None and not average.figure.known and known(power.average_wheel_w) is not None:
        average = Line("average power at the wheels", estimate(power.average_wheel_w, "power", units), "power")
    return (
        average,
        Line("in its band", figure(band.share_in if band else None, "share", units), "band"),
        Line("on boost", figure(boost.share_above if boost else None, "share", units), "boost"),
    )


def track_feet(distance_m: float | None, units: UnitSystem) -> str:
    """A place on the track in feet, as the marks are told, whatever the other units.

    Examples
    --------
    >>> track_feet(201.168, "metric"), track_feet(None, "us")
    ('660 ft', '')
    """
    return "" if distance_m is None else str(figure(distance_m, "track", units))
