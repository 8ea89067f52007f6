"""Limits as the car's form shows them again: numbers apart from their units, conditions in words.

Public: `limit_cards`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from passband.analysis.engine.channels_meant import name_meant
from passband.analysis.given.ranges import range_of_bound
from passband.web.understood import FieldValue, field_value
from passband.web.units import UnitSystem
from passband.web.words import Json


def limit_cards(limits: Sequence[Json], units: UnitSystem) -> list[dict[str, Any]]:
    """What stands in the fields of each limit's card.

    Parameters
    ----------
    limits : sequence of mapping
        As the car's description holds them.
    units : {"us", "metric"}
        The reader's choice, for fields that are empty.

    Returns
    -------
    list of dict
        Keys are the card's fields; a unit is empty where the number needs none.

    Examples
    --------
    >>> card = limit_cards([{"name": "spread", "channel": "EGT spread", "at_most": "60 degC"}], "us")[0]
    >>> card["rule"], card["value"], card["unit"]
    ('at_most', '60', 'K')
    """
    return [_card(limit, units) for limit in limits]


def _card(limit: Json, units: UnitSystem) -> dict[str, Any]:
    curve = limit.get("curve")
    side = "at_least" if limit.get("at_least") is not None else "at_most"
    card = {
        "name": limit["name"],
        "channel": limit["channel"],
        "rule": "curve" if curve else side,
        "during": limit.get("during") or "run",
        "longer_than": _seconds(limit.get("longer_than")),
        "when": "; ".join(_condition(one) for one in limit.get("when") or ()),
    }
    if curve:
        return card | _points(curve, str(limit["channel"]), units)
    bound = _bound(limit.get(side), str(limit["channel"]), units)
    return card | {"value": bound.text, "unit": bound.unit}


def _bound(given: Any, channel: str, units: UnitSystem) -> FieldValue:
    can_be = range_of_bound(name_meant(channel))
    return field_value(given, can_be, units) if can_be is not None else FieldValue(str(given), "", ())


def _points(curve: Json, channel: str, units: UnitSystem) -> dict[str, Any]:
    """Numbers a line each in the unit that all share; where they share none each carries its own."""
    columns, chosen = [], []
    for side, name in ((0, str(curve["against"])), (1, channel)):
        values = [_bound(point[side], name, units) for point in curve["points"]]
        shared = {value.unit for value in values}
        one = len(shared) == 1
        chosen.append(shared.pop() if one else "")
        columns.append([value.text if one else f"{value.text} {value.unit}".strip() for value in values])
    lines = "\n".join(f"{x}; {y}" for x, y in zip(*columns, strict=True))
    keys = {"against": curve["against"], "side": curve["side"], "points": lines}
    return keys | {"against_unit": chosen[0], "points_unit": chosen[1]}


def _condition(given: Any) -> str:
    if isinstance(given, str):
        return given
    sides = (("at least", given.get("at_least")), ("at most", given.get("at_most")))
    return "; ".join(f"{given['channel']} {words} {bound}" for words, bound in sides if bound is not None)


def _seconds(given: Any) -> str:
    text = "" if given in (None, "", 0, 0.0) else str(given)
    return text.removesuffix(" s")
