"""Numbers as a form asks for them and as they were understood: the unit beside each field, the value in both systems.

Public: `FieldValue`, `UnitChoice`, `ChannelUnits`, `ASKED_BESIDE`, `field_value`, `unit_choices`, `in_both`,
`channel_units`, `channel_choices`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from passband.analysis.channels.catalogue import CATALOGUE
from passband.analysis.given.plus_minus import part_plus_minus
from passband.analysis.given.ranges import Range, range_of_bound
from passband.analysis.given.written import listed
from passband.analysis.quantities import TEMPERATURE_DIFFERENCE, conversion_to_si, split_quantity
from passband.web.wording.figures import plain_number
from passband.web.wording.units import UnitSystem

US = frozenset({"lb", "in", "ft", "ft^2", "lb*ft^2", "psi", "degF", "delta degF", "mph", "inHg", "lb/h"})
"""Units of the United States."""
EVERYWHERE = frozenset({"rpm", "s", "%", "V", "g"})
"""Units that one reader writes like the other."""
NOT_ASKED = frozenset({"krpm"})
"""Units that are understood but not offered."""
LABELS = {
    "degF": "°F", "degC": "°C", "delta degF": "°F", "ft^2": "ft²", "m^2": "m²", "lb*ft^2": "lb ft²",
    "kg*m^2": "kg m²", "m/s^2": "m/s²", "": "(0–1)",
}  # fmt: skip
"""How a unit is shown where that is not how it is sent."""
PER_CENT_LEAST = 0.25
"""Where nothing given reaches this share, a number in the field is a share of 1, not per cent: 0.015 is no 0.015 %."""
DIGITS = 5
"""Digits of a value as understood: enough to see a slip of the unit."""


ASKED_BESIDE = {
    "inlet_loss": Range("Pa", units=("psi", "kPa", "bar")),
    "charge_loss": Range("Pa", units=("psi", "kPa", "bar")),
    "volumetric_efficiency": Range("", units=("%",)),
}
"""What the bench's page asks beside the facts of car, slip and air: the units to choose from."""


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """One unit that a number may be in."""

    unit: str
    """As it is sent; empty for a plain number."""
    label: str
    """As it is shown."""


@dataclass(frozen=True, slots=True)
class ChannelUnits:
    """What a bound on a channel may be written in."""

    units: tuple[UnitChoice, ...]
    """To choose from; empty where it has none."""
    kept: str
    """The unit that a number without one is in."""


@dataclass(frozen=True, slots=True)
class FieldValue:
    """What stands in a field, and in the choice of units beside it."""

    text: str
    """The number as its owner wrote it; a text that is no plain number stands as it is."""
    unit: str
    """The unit chosen."""
    choices: tuple[UnitChoice, ...]
    """Units to choose from, the reader's own first; empty where the number needs none."""


def unit_choices(can_be: Range, units: UnitSystem) -> tuple[UnitChoice, ...]:
    """The units beside a field, the reader's own first.

    Examples
    --------
    >>> from analysis.given.ranges import FACTS
    >>> [one.label for one in unit_choices(FACTS["mass"], "metric")], unit_choices(FACTS["final_drive"], "us")
    (['kg', 'lb'], ())
    """
    names = [unit for unit in can_be.units if unit not in NOT_ASKED]
    if "%" in names:
        names = ["", "%"] if can_be.high < PER_CENT_LEAST else ["%", ""]
    else:
        names.sort(key=lambda unit: unit not in EVERYWHERE and (unit in US) != (units == "us"))
    return tuple(UnitChoice(unit, LABELS.get(unit, unit)) for unit in names)


def field_value(given: Any, can_be: Range, units: UnitSystem) -> FieldValue:
    """What was given, parted into number and unit for a form.

    Parameters
    ----------
    given : object
        A number in SI, text with or without a unit, a list of such, or None.
    can_be : Range
        What it is given for.
    units : {"us", "metric"}
        The reader's choice, for a field that is empty.

    Examples
    --------
    >>> from analysis.given.ranges import FACTS
    >>> kept = field_value("958 kg", FACTS["mass"], "us")
    >>> kept.text, kept.unit, field_value(None, FACTS["mass"], "us").unit
    ('958', 'kg', 'lb')
    """
    choices = unit_choices(can_be, units)
    first = choices[0].unit if choices else ""
    if given is None or given == "" or given == []:
        return FieldValue("", first, choices)
    two = part_plus_minus(given) if isinstance(given, str) else None
    if two is not None:
        return _with_plus_minus(given, two, field_value(two[0], can_be, units))
    parts = given if isinstance(given, (list, tuple)) else [given]
    try:
        parts = listed(given) if isinstance(given, str) and not _plain(given) else parts
        split = [_split(one, can_be) for one in parts]
    except ValueError:
        return FieldValue(" ".join(map(str, parts)), first, choices)
    written = {unit for _, unit in split}
    if len(written) > 1:
        return FieldValue(" ".join(map(str, parts)), first, choices)
    unit = _same_unit(written.pop(), choices, can_be.si_unit)
    if choices and unit not in [one.unit for one in choices]:
        choices = (*choices, UnitChoice(unit, LABELS.get(unit, unit)))
    return FieldValue(" ".join(number for number, _ in split), unit if choices else "", choices)


def _with_plus_minus(given: str, two: tuple[str, str], value: FieldValue) -> FieldValue:
    """A value and its half-width in one field where both are in one unit; else as written, no unit chosen for it."""
    number, unit = split_quantity(two[1])
    if unit == split_quantity(two[0])[1]:
        return replace(value, text=f"{value.text} ± {number}")
    return replace(value, text=given)


def _plain(text: str) -> bool:
    try:
        split_quantity(text)
    except ValueError:
        return False
    return len(text.split()) <= 2


def _split(one: Any, can_be: Range) -> tuple[str, str]:
    """Number and unit; a number without a unit is SI."""
    number, unit = (
        split_quantity(one) if isinstance(one, str) else (f"{one:g}" if isinstance(one, float) else str(one), "")
    )
    return number, unit or can_be.si_unit


def _same_unit(written: str, choices: Sequence[UnitChoice], si_unit: str) -> str:
    """The choice that means the same as a unit written otherwise."""
    meant = conversion_to_si(written, si_unit=si_unit) if written else None
    for one in choices:
        if one.unit == written or (one.unit and meant and conversion_to_si(one.unit, si_unit=si_unit) == meant):
            return one.unit
    return written


def in_both(value: float, can_be: Range, *, plus_minus: float | None = None) -> str:
    """A value in the units of either reader: ``60 psi = 413.69 kPa``; with its own plus-minus, where it has one.

    Examples
    --------
    >>> from analysis.given.ranges import FACTS
    >>> in_both(958.0, FACTS["mass"], plus_minus=2.0)
    '2,112 ±4.4 lb = 958 ±2 kg'
    >>> in_both(62.4508, FACTS["v1320"]), in_both(0.48, FACTS["relative_humidity"]), in_both(2.26, FACTS["gear_ratios"])
    ('139.7 mph = 224.82 km/h', '48 %', '2.26')
    """
    names = [unit for unit in can_be.units if unit not in NOT_ASKED]
    ours = next((unit for unit in names if unit in US or unit in EVERYWHERE), "")
    theirs = next((unit for unit in names if unit not in US and unit not in EVERYWHERE), "")
    shown = [_in_unit(value, unit, can_be.si_unit, plus_minus) for unit in (ours, theirs) if unit]
    return " = ".join(shown) if shown else _number(value) + _give_or_take(plus_minus, 1.0)


def _in_unit(value: float, unit: str, si_unit: str, plus_minus: float | None) -> str:
    conversion = conversion_to_si(unit, si_unit=si_unit)
    if conversion is None:
        return _number(value) + _give_or_take(plus_minus, 1.0)
    number = _number((value - conversion.offset) / conversion.scale)
    return f"{number}{_give_or_take(plus_minus, conversion.scale)} {LABELS.get(unit, unit)}"


def _give_or_take(plus_minus: float | None, scale: float) -> str:
    """A half-width with two figures behind its value; a whole number of more stays whole."""
    if plus_minus is None:
        return ""
    half = plus_minus / scale
    return f" ±{half:,.0f}" if half >= 10 else f" ±{half:.2g}"


def _number(value: float) -> str:
    """With as many decimals as make five digits, without idle zeros."""
    whole = len(f"{abs(value):.0f}".lstrip("0"))
    text = plain_number(value, max(DIGITS - max(whole, 1), 0))
    return text.rstrip("0").rstrip(".") if "." in text else text


def channel_units(units: UnitSystem) -> dict[str, ChannelUnits]:
    """Of each channel of the catalogue the units that a bound may be in, and the one a number without is in.

    Examples
    --------
    >>> channel_units("us")["oil_pressure"].units[0], channel_units("us")["oil_pressure"].kept
    (UnitChoice(unit='psi', label='psi'), 'Pa')
    """
    return {name: channel_choices(name, units) for name in CATALOGUE}


def channel_choices(channel: str, units: UnitSystem) -> ChannelUnits:
    """The same of one channel; no units for one that nobody knows."""
    can_be = range_of_bound(channel)
    if can_be is None:
        return ChannelUnits((), "")
    kept = {TEMPERATURE_DIFFERENCE: "K"}.get(can_be.si_unit, can_be.si_unit)
    return ChannelUnits(unit_choices(can_be, units), kept)
