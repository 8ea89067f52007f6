"""The page of one car: its form, what each fact is worth, what each version changed, limits tried on a run.

Public: `render_car`, `tried_limits`, `TriedLimit`, `VersionLine`, `version_lines`, `worth_of_facts`,
`seen_in`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from passband.analysis.channels.catalogue import CATALOGUE, kind_of
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.plain_values import Stored
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.web.forms.car import CAR_FIELDS, STARTING_LIMITS, field_text
from passband.web.forms.limits import limit_cards
from passband.web.forms.understood import channel_units
from passband.web.pages.page import render
from passband.web.sheets.engine import limits_section
from passband.web.sheets.run_line import run_line
from passband.web.shown.car import CarShown, CarVersion, limits_given
from passband.web.shown.run import RunShown
from passband.web.wording.figures import Figure, figure, plain_number
from passband.web.wording.units import UnitSystem, kind_of_si, unit_for

if TYPE_CHECKING:
    import polars as pl

LONGER_STEP_S = 0.05
"""Steps in which a duration is proposed. [s]"""
TITLES = {"name": "Name", **{field.name: field.label for field in CAR_FIELDS}}
"""Of a car's facts, as the form has them."""
ASKED_WHETHER = ("mass", "final_drive", "gear_ratios", "tire_circumference")
"""Facts of which a new version is asked whether the car was changed or only described better."""
WORTH_TELLING = 0.002
"""Facts that move average power by a smaller share are not spoken of; chosen, no source. [-]"""


@dataclass(frozen=True, slots=True)
class FactLine:
    """A fact in which a version differs, asked whether the car was changed."""

    fact: str
    """Its key in the car."""
    title: str
    """As the form has it."""
    said: str | None
    """``changed`` or ``corrected``; None where nobody said."""


@dataclass(frozen=True, slots=True)
class VersionLine:
    """What one version of a car changed against the one before."""

    version: int
    made_at: str
    """To the minute, UTC."""
    changes: tuple[str, ...]
    """A line for each thing."""
    differ: tuple[FactLine, ...] = ()
    """Facts of which it matters whether the car was changed."""


@dataclass(frozen=True, slots=True)
class TriedLimit:
    """How a run stands to a limit that is not saved yet."""

    mark: str
    """``outside``, ``inside`` or ``missing``."""
    text: str
    """Worst value, margin and where."""
    longer_than_s: float | None
    """Just longer than its longest break; None where it was not broken. [s]"""


def render_car(
    car: CarShown | None = None,
    *,
    copied_from: str = "",
    versions: Sequence[CarVersion] = (),
    last_run: RunShown | None = None,
    last_review: Review | None = None,
    units: UnitSystem = "us",
) -> str:
    """A form to describe a car and its limits: a new one, or the next version of one that is known.

    Parameters
    ----------
    car : CarShown, optional
        Without an id it is a new one that begins as another.
    copied_from : str
        Name of that other; empty where there is none.
    versions : sequence of CarVersion
        Earlier and present ones, the oldest first.
    last_run : RunShown, optional
        The car's newest run; of a new car the one that it is described for.
    last_review : Review, optional
        What was found in it.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    given = car or CarShown("")
    kept = given.id or None
    return render(
        "car.html",
        units,
        car=car,
        kept=kept,
        for_run=last_run if kept is None else None,
        copied_from=copied_from,
        fields=CAR_FIELDS,
        limits=[card.filled() for card in limit_cards(given.limits, units)],
        renamed=given.channels,
        layouts=given.layouts,
        channel_units={name: asdict(one) for name, one in channel_units(units).items()},
        groups=tuple(dict.fromkeys(field.group for field in CAR_FIELDS)),
        starting=[one.filled() for one in STARTING_LIMITS],
        known_channels=sorted(CATALOGUE),
        versions=version_lines(versions)[::-1],
        last_run=run_line(last_run, units) if last_run else None,
        facts_before={name: given.fact(name) for name in ASKED_WHETHER if kept and given.fact(name) is not None},
        titles=TITLES,
        worth=worth_of_facts(last_review, units) if last_review else {},
        here="cars",
    )


def worth_of_facts(review: Review, units: UnitSystem) -> dict[str, str]:
    """What the doubt of each fact leaves open in average power, by the field's name.

    Parameters
    ----------
    review : Review
        Of a run of the car.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    dict of str to str
        ``±5 hp``; only of facts that matter, empty where there is no power.
    """
    power = known(review.power)
    average = known(power.average_w) if power is not None else None
    if power is None or average is None:
        return {}
    names = {field.name for field in CAR_FIELDS}
    worth = {}
    for share in power.shares:
        name = share.source.replace(" ", "_")
        if name in names and share.plus_minus_w >= WORTH_TELLING * abs(average.value):
            shown = unit_for("power", units)
            half = share.plus_minus_w / shown.scale
            worth[name] = f"±{plain_number(half, 0 if half >= 2 else 1)} {shown.label}"
    return worth


def version_lines(versions: Sequence[CarVersion]) -> list[VersionLine]:
    """What each version changed.

    Parameters
    ----------
    versions : sequence of CarVersion
        The oldest first; the first shown is held against nothing.

    Returns
    -------
    list of VersionLine
        In the same order.
    """
    lines, before = [], None
    for one in versions:
        car, given = one.car, one.car.given
        changes = ("described",) if before is None else tuple(_changes(before, given)) or ("nothing was changed",)
        differ = tuple(FactLine(fact.fact, TITLES[fact.fact], fact.said) for fact in one.differ)
        lines.append(VersionLine(car.version, car.made_at[:16].replace("T", " "), changes, differ))
        before = given
    return lines


def _changes(before: Stored, after: Stored) -> list[str]:
    """What stands otherwise in one version of a car, as written, than in the one before."""
    found = [
        f"{title}: {_as_text(before.get(name))} → {_as_text(after.get(name))}"
        for name, title in TITLES.items()
        if before.get(name) != after.get(name)
    ]
    old, new = ({limit["name"]: limit for limit in car.get("limits") or ()} for car in (before, after))
    found += [f"Limit {name}: added" for name in new if name not in old]
    found += [f"Limit {name}: taken out" for name in old if name not in new]
    for name in (name for name in new if name in old and new[name] != old[name]):
        keys = [key for key in {**old[name], **new[name]} if old[name].get(key) != new[name].get(key)]
        said = "; ".join(
            f"{key.replace('_', ' ')} {_as_text(old[name].get(key))} → {_as_text(new[name].get(key))}" for key in keys
        )
        found.append(f"Limit {name}: {said}")
    renamed = [car.get("channels") or {} for car in (before, after)]
    found += [
        f"Column {header}: {_as_text(renamed[0].get(header))} → {_as_text(renamed[1].get(header))}"
        for header in {**renamed[0], **renamed[1]}
        if renamed[0].get(header) != renamed[1].get(header)
    ]
    return found


def _as_text(value: Any) -> str:
    if isinstance(value, dict) or (isinstance(value, list) and any(isinstance(one, (dict, list)) for one in value)):
        return "another"
    return field_text(value) or "not given"


def tried_limits(review: Review, given: Stored, units: UnitSystem) -> dict[str, TriedLimit]:
    """How a run stands to limits that are only tried.

    Parameters
    ----------
    review : Review
        Made with them.
    given : mapping
        The car as it would be.
    units : {"us", "metric"}
        For limits whose owner wrote no unit.

    Returns
    -------
    dict of str to TriedLimit
        By the limit's name.
    """
    section = limits_section(review, units, given=limits_given(given))
    rows = {str(row.cells[1].text): row for table in section.tables for row in table.rows}
    found = {}
    for limit in review.limits:
        verdict, _, worst, _, margin = (cell.text for cell in rows[limit.name].cells)
        words = [f"{verdict.lower()}: worst {worst}" if limit.worst is not None else verdict.lower()]
        words += [f"margin {margin}" if margin else "", rows[limit.name].detail]
        mark = {Verdict.OUTSIDE: "outside", Verdict.INSIDE: "inside"}.get(limit.verdict, "missing")
        found[limit.name] = TriedLimit(mark, ", ".join(filter(None, words)), _longer(limit))
    return found


def _longer(limit: LimitVerdict) -> float | None:
    longest = max((stop - start for start, stop in limit.outside), default=0.0)
    if limit.verdict is not Verdict.OUTSIDE or longest <= 0:
        return None
    return round((math.floor(longest / LONGER_STEP_S) + 1) * LONGER_STEP_S, 2)


def seen_in(table: pl.DataFrame, *, end_s: float, units: UnitSystem) -> dict[str, dict[str, str]]:
    """Least and greatest of each channel between clock start and finish, as a limit's fields would write them.

    Parameters
    ----------
    table : DataFrame
        A run's table.
    end_s : float
        Finish or lift. [s, ET]
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    dict of str to dict
        By channel: ``least``, ``greatest`` and ``unit``; a channel without a number under its numbers together.
    """
    import polars as pl

    during = table.filter(pl.col("time_s").is_between(0.0, end_s))
    ends: dict[str, tuple[float, float]] = {}
    for name in during.columns:
        values = during[name].drop_nulls().drop_nans()
        if values.dtype.is_numeric() and values.len():
            low, high = float(values.min()), float(values.max())  # type: ignore[arg-type]
            for key in {name, _family(name)}:
                old = ends.get(key, (low, high))
                ends[key] = (min(low, old[0]), max(high, old[1]))
    return {name: _seen(name, low, high, units) for name, (low, high) in ends.items()}


def _family(name: str) -> str:
    head, _, number = name.rpartition("_")
    return head if number.isdecimal() else name


def _seen(name: str, low: float, high: float, units: UnitSystem) -> dict[str, str]:
    kind = kind_of(name)
    shown = kind_of_si(kind.unit, shown_unit=kind.shown_unit) if kind else "plain"
    least, greatest = (figure(value, shown, units) for value in (low, high))
    return {"least": _plain(least), "greatest": _plain(greatest), "unit": greatest.unit}


def _plain(shown: Figure) -> str:
    """A figure as a field takes it."""
    return shown.value.replace(",", "").replace("−", "-")
