"""Limits as the car's form shows them again: numbers apart from their units, conditions in words.

Public: `LimitCard`, `limit_cards`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

from passband.analysis.engine.channels_meant import name_meant
from passband.analysis.given.ranges import range_of_bound
from passband.web.forms.understood import FieldValue, field_value
from passband.web.shown.car import CurveGiven, LimitGiven, Written
from passband.web.wording.units import UnitSystem


@dataclass(frozen=True, slots=True)
class LimitCard:
    """What stands in the fields of one limit's card; None where its rule has no such field."""

    name: str
    """Its name."""
    channel: str
    """What it holds for."""
    rule: str
    """``at_least``, ``at_most`` or ``curve``."""
    during: str
    """When it is looked at."""
    longer_than: str
    """How long it may be broken; empty where nobody said. [s]"""
    when: str
    """Conditions, in words."""
    value: str | None = None
    """The bound."""
    unit: str | None = None
    """Its unit; empty where it needs none."""
    against: str | None = None
    """The channel that a curve goes with."""
    side: str | None = None
    """``at_least`` or ``at_most``."""
    points: str | None = None
    """Where and value, a line each."""
    against_unit: str | None = None
    """Unit that all of the first numbers share; empty where each carries its own."""
    points_unit: str | None = None
    """Likewise of the second."""

    def filled(self) -> dict[str, str]:
        """Its fields by name, for the form's script."""
        every = ((one.name, getattr(self, one.name)) for one in fields(self))
        return {name: value for name, value in every if value is not None}


def limit_cards(limits: Sequence[LimitGiven], units: UnitSystem) -> list[LimitCard]:
    """What stands in the fields of each limit's card.

    Parameters
    ----------
    limits : sequence of LimitGiven
        As the car's owner wrote them.
    units : {"us", "metric"}
        The reader's choice, for fields that are empty.

    Returns
    -------
    list of LimitCard
        A unit is empty where the number needs none.

    Examples
    --------
    >>> card = limit_cards([LimitGiven("spread", "EGT spread", at_most="60 degC")], "us")[0]
    >>> card.rule, card.value, card.unit
    ('at_most', '60', 'K')
    """
    return [_card(limit, units) for limit in limits]


def _card(limit: LimitGiven, units: UnitSystem) -> LimitCard:
    during, longer_than, when = limit.during, _seconds(limit.longer_than), "; ".join(limit.when)
    if limit.curve is None:
        rule = "at_least" if limit.at_least is not None else "at_most"
        bound = _bound(limit.at_most if limit.at_least is None else limit.at_least, limit.channel, units)
        return LimitCard(limit.name, limit.channel, rule, during, longer_than, when, bound.text, bound.unit)
    points, (against_unit, points_unit) = _points(limit.curve, limit.channel, units)
    return LimitCard(
        limit.name, limit.channel, "curve", during, longer_than, when,
        against=limit.curve.against, side=limit.curve.side, points=points,
        against_unit=against_unit, points_unit=points_unit,
    )  # fmt: skip


def _bound(given: Written | None, channel: str, units: UnitSystem) -> FieldValue:
    can_be = range_of_bound(name_meant(channel))
    return field_value(given, can_be, units) if can_be is not None else FieldValue(str(given), "", ())


def _points(curve: CurveGiven, channel: str, units: UnitSystem) -> tuple[str, tuple[str, str]]:
    """Numbers a line each in the unit that all share, and that unit; where they share none each carries its own."""
    columns, chosen = [], []
    for side, name in enumerate((curve.against, channel)):
        values = [_bound(point[side], name, units) for point in curve.points]
        shared = {value.unit for value in values}
        one = len(shared) == 1
        chosen.append(shared.pop() if one else "")
        columns.append([value.text if one else f"{value.text} {value.unit}".strip() for value in values])
    lines = "\n".join(f"{x}; {y}" for x, y in zip(*columns, strict=True))
    return lines, (chosen[0], chosen[1])


def _seconds(given: Written | None) -> str:
    text = "" if given in (None, "", 0, 0.0) else str(given)
    return text.removesuffix(" s")
