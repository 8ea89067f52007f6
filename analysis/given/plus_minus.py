"""A fact with its own plus-minus, as people write it: ``958 kg +- 2 kg``, ``0.56 m^2 ± 5 %``.

Public: `part_plus_minus`, `half_width_in_si`.
"""

from __future__ import annotations

import math
import re

from passband.analysis.given.ranges import Range
from passband.analysis.quantities import conversion_to_si, split_quantity

_SIGN = re.compile(r"\s*(?:\u00b1|\+\s*/?\s*[-\u2212])\s*")


def part_plus_minus(text: str) -> tuple[str, str] | None:
    """A text's value and its half-width, each with a unit where it has one; None where it names no half-width.

    Examples
    --------
    >>> part_plus_minus("958 kg +- 2 kg"), part_plus_minus("958 \u00b1 2 kg"), part_plus_minus("0.56 m^2 +/- 5 %")
    (('958 kg', '2 kg'), ('958 kg', '2 kg'), ('0.56 m^2', '5 %'))
    >>> part_plus_minus("958 kg") is None
    True
    """
    parts = _SIGN.split(text.strip())
    if len(parts) != 2 or not all(parts):
        return None
    value, half = parts
    try:
        (_, value_unit), (_, half_unit) = split_quantity(value), split_quantity(half)
    except ValueError:
        return None
    if half_unit and half_unit != "%" and not value_unit:
        value = f"{value} {half_unit}"
    return value, half if half_unit or not value_unit else f"{half} {value_unit}"


def half_width_in_si(half: str | float, value: str | float, can_be: Range) -> float:
    """A half-width in the unit that its fact is kept in.

    Parameters
    ----------
    half : str or float
        ``"2 kg"``; a number is in SI. Per cent are of the value, but points where the value itself is written in
        per cent.
    value : str or float
        The fact it belongs to, as written.
    can_be : Range
        What is known of such facts.

    Returns
    -------
    float
        95 % half-width, SI.

    Raises
    ------
    ValueError
        If it is no number, below zero, or of another unit.

    Examples
    --------
    >>> from passband.analysis.given.ranges import FACTS
    >>> round(half_width_in_si("5 lb", "2450 lb", FACTS["mass"]), 3)
    2.268
    >>> round(half_width_in_si("5 %", "0.56 m^2", FACTS["drag_area"]), 4)
    0.028
    >>> half_width_in_si("3 %", "91 %", FACTS["driveline_efficiency"])
    0.03
    """
    number, unit = split_quantity(half) if isinstance(half, str) else (f"{half!r}", "")
    width = float(number.replace(",", "."))
    if not (math.isfinite(width) and width >= 0):
        raise ValueError(f"a plus-minus must be a number from 0 up, got {half!r}")
    own, value_unit = split_quantity(value) if isinstance(value, str) and value else (f"{value or 0!r}", "")
    if unit == "%" and value_unit != "%":
        scale = _scale(value_unit, can_be)
        return width / 100.0 * abs(float(own.replace(",", "."))) * scale
    return width * _scale(unit, can_be)


def _scale(unit: str, can_be: Range) -> float:
    """What a difference in a unit is to be multiplied by."""
    if not unit:
        return 1.0
    conversion = conversion_to_si(unit, si_unit=can_be.si_unit)
    if conversion is None:
        raise ValueError(f"a plus-minus in {unit!r} does not go with a value in {can_be.si_unit or 'a plain number'}")
    return conversion.scale
