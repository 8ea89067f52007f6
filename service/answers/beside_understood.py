"""What a form beside a run holds, told back before it is asked: a change to the run, how a turbo is installed.

Public: `words_of_change`, `words_of_turbo`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from passband.analysis.given.ranges import FACTS, Range, read_within
from passband.analysis.quantities import parse_quantity, split_quantity
from passband.analysis.results.plain_values import Stored
from passband.service.answers.map_laid import read_efficiency, read_loss
from passband.service.answers.search_asked import read_search
from passband.service.answers.whatif_asked import read_gains, read_ratios, read_shift_points
from passband.web.forms.understood import in_both

SIGNS = ("+", "-")
"""What makes a number a change."""


def words_of_change(asked: Stored) -> tuple[dict[str, str], dict[str, str]]:
    """What a change to a run would be understood as.

    Parameters
    ----------
    asked : mapping
        Fields as written, numbers with their units; those of an engine's curve are left alone.

    Returns
    -------
    (words, faults) : tuple of dict
        By field: what was understood, or why it cannot be.

    Examples
    --------
    >>> words_of_change({"mass": "-30 lb", "shift_rpm": "2=+200"})[0]
    {'shift_rpm': 'gear 2 left 200 rpm later', 'mass': '30 lb = 13.608 kg less'}
    """
    return _words(asked, _CHANGE)


def words_of_turbo(given: Stored) -> tuple[dict[str, str], dict[str, str]]:
    """What is said of a turbo's installation, as it would be understood.

    Parameters
    ----------
    given : mapping
        ``volumetric_efficiency``, ``inlet_loss``, ``charge_loss`` as written.

    Returns
    -------
    (words, faults) : tuple of dict
        By field.

    Examples
    --------
    >>> words_of_turbo({"inlet_loss": "1 psi"})[0]
    {'inlet_loss': '1 psi = 6.8948 kPa'}
    """
    return _words(given, _TURBO)


def _words(given: Stored, of: Mapping[str, Callable[[str], str]]) -> tuple[dict[str, str], dict[str, str]]:
    words, faults = {}, {}
    for name, say in of.items():
        text = str(given.get(name, "")).strip()
        if not text:
            continue
        try:
            words[name] = say(text)
        except ValueError as error:
            faults[name] = str(error).rstrip(".")
    return words, faults


def _shifts(text: str) -> str:
    said = []
    for one in read_shift_points(text):
        which = "every gear" if one.gear is None else f"gear {one.gear}"
        moved = (
            f"{abs(one.rpm):,.0f} rpm {'later' if one.rpm > 0 else 'earlier'}" if one.by else f"at {one.rpm:,.0f} rpm"
        )
        said.append(f"{which} left {moved}")
    return "; ".join(said)


def _change(text: str, can_be: Range) -> str:
    if not split_quantity(text)[1]:
        raise ValueError(f'write its unit, as "{text} {can_be.units[0]}" or "{text} {can_be.units[1]}"')
    by = parse_quantity(text, si_unit=can_be.si_unit, name="the change")
    return f"{in_both(abs(by), can_be)} {'more' if by >= 0 else 'less'}"


def _ratios(text: str) -> str:
    ratios = read_ratios(text) or ()
    return f"{len(ratios)} gears: {', '.join(f'{one:g}' for one in ratios)}"


def _gains(text: str) -> str:
    said = []
    for one in read_gains(text):
        where = (
            f"from {one.from_rpm:,.0f} rpm on"
            if math.isinf(one.to_rpm)
            else (f"from {one.from_rpm:,.0f} to {one.to_rpm:,.0f} rpm")
        )
        said.append(f"{abs(100 * one.share):g} % {'more' if one.share >= 0 else 'less'} {where}")
    return "; ".join(said)


def _search(text: str) -> str:
    asked = read_search(text)
    if asked.shifts:
        return "each shift, earlier and later"
    if asked.sets:
        return f"{len(asked.sets)} gear sets"
    ratios, what = (
        (asked.final_drives, "final drives") if asked.gear is None else (asked.ratios, f"ratios of gear {asked.gear}")
    )
    return f"{len(ratios)} {what}, {min(ratios):g} to {max(ratios):g}"


def _efficiency(text: str) -> str:
    value, half = read_efficiency(text)
    return f"{100 * value:g} % \N{PLUS-MINUS SIGN}{100 * half:g} %"


def _loss(text: str) -> str:
    return in_both(read_loss("loss", text), FACTS["boost_threshold"])


def _value(name: str) -> Callable[[str], str]:
    return lambda text: in_both(read_within(text, FACTS[name]), FACTS[name])


def _value_or_change(name: str) -> Callable[[str], str]:
    return lambda text: _change(text, FACTS[name]) if text.startswith(SIGNS) else _value(name)(text)


_CHANGE: dict[str, Callable[[str], str]] = {
    "shift_rpm": _shifts,
    "mass": _value_or_change("mass"),
    "final_drive": _value("final_drive"),
    "gear_ratios": _ratios,
    "tire_circumference": _value("tire_circumference"),
    "boost": _value_or_change("boost_threshold"),
    "power_gain": _gains,
    "search": _search,
}
_TURBO: dict[str, Callable[[str], str]] = {
    "volumetric_efficiency": _efficiency,
    "inlet_loss": _loss,
    "charge_loss": _loss,
}
