"""The way around a tire where the lines above a log's rows give its size, radius or circumference.

Public: `TireStated`, `tire_stated`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.quantities import parse_quantity

ROLLS = 0.97
"""A loaded tire goes so much of the way around its free diameter in a turn: its tread is pressed flat, and a belt keeps
its length. Common practice for radial tires, 0.96 to 0.98. [-]"""
CAN_BE_M = (1.2, 3.2)
"""Around a tire of a car, from a small front one to a drag slick of 37 inches. [m]"""
INCH_M = 0.0254

_TIRE = re.compile(
    r"(?i)\b(?:t[iy]res?|wheels?|reifen|räder|rad|pneus?|roues?|neum[aá]ticos?|gomme|banden|r[_ ]?dyn)\b|r_dyn"
)
_METRIC = re.compile(
    r"(?i)(?<!\d)(?P<width>[1-4]\d5)\s?/\s?(?P<height>[2-9]\d)\s?(?:z?r|-)?f?\s?(?P<rim>1[0-9]|2[0-4])(?!\d)"
)
"""Width in millimetres, height of the wall in per cent of it, rim in inches: ``245/40 R18``."""
_INCHES = re.compile(
    r"(?i)(?<![\d.])(?P<across>[2-3]\d(?:[.,]\d{1,2})?)\s?[x×]\s?\d{1,2}(?:[.,]\d{1,2})?\s?(?:-|r|x|×|\s)\s?\d{2}(?!\d)"
)
"""Across, width and rim in inches: ``28x10.5-15``."""
_LENGTH = re.compile(
    r"(?P<number>\d{1,4}(?:[.,]\d{1,4})?)\s*(?P<unit>mm|cm|m|in(?:ch(?:es)?)?|\")(?![a-z])", re.IGNORECASE
)
_MEANS = (
    (re.compile(r"(?i)circumference|roll[- ]?out|around|umfang|circonf[ée]rence|circunferencia|circonferenza"), 1.0),
    (re.compile(r"(?i)radius|r_dyn|halbmesser|rayon|radio|raggio"), 2.0 * math.pi),
    (re.compile(r"(?i)diameter|durchmesser|diam[eè]tre|di[aá]metro"), math.pi * ROLLS),
)
_FRONT, _REAR = re.compile(r"(?i)front|vorn|avant|\bva\b"), re.compile(r"(?i)rear|hinten|arri[eè]re|\bha\b")


@dataclass(frozen=True, slots=True)
class TireStated:
    """What a log's head says of its tires."""

    around_m: float
    """The way in a turn. [m]"""
    said: str
    """As it stands there."""


def tire_stated(preamble: Sequence[tuple[str, str]], *, wheel: str) -> TireStated | None:
    """The tire of a wheel as lines above the rows state it.

    Parameters
    ----------
    preamble : sequence of pairs
        Key and value of each line; free text has an empty key.
    wheel : str
        Catalogue name of the wheel's speed.

    Returns
    -------
    TireStated or None
        None where no line states one, or lines state several that differ for this wheel.

    Notes
    -----
    A size is of the free tire: in a turn it goes `ROLLS` of the way around it. A radius or a circumference is taken as
    it rolls. Growth with speed is not seen.

    Examples
    --------
    >>> round(tire_stated([("Tires", "245/40 R18")], wheel="wheel_speed_driven").around_m, 3)  # 2 * 98 + 457.2 mm
    1.991
    >>> tire_stated([("Tires", "new")], wheel="wheel_speed_driven") is None
    True
    """
    found: list[TireStated] = []
    for key, value in preamble:
        line = f"{key} {value}".strip()
        other = {"f": _REAR, "r": _FRONT}.get(wheel.removeprefix("wheel_speed_")[:1])
        own = {"f": _FRONT, "r": _REAR}.get(wheel.removeprefix("wheel_speed_")[:1])
        if not _TIRE.search(line) or (other and other.search(line) and not (own and own.search(line))):
            continue
        stated = _around(line, value or key)
        if stated is not None and CAN_BE_M[0] <= stated.around_m <= CAN_BE_M[1]:
            found.append(stated)
    alike = {round(one.around_m, 2) for one in found}
    return found[0] if len(alike) == 1 else None


def _around(line: str, said: str) -> TireStated | None:
    sizes = [*_METRIC.finditer(line), *_INCHES.finditer(line)]
    if len(sizes) == 1:
        size = sizes[0]
        if "across" in size.groupdict():
            across_m = float(size["across"].replace(",", ".")) * INCH_M
        else:
            across_m = 2e-5 * int(size["width"]) * int(size["height"]) + int(size["rim"]) * INCH_M
        return TireStated(math.pi * ROLLS * across_m, size[0])
    lengths = list(_LENGTH.finditer(line))
    means = [turn for words, turn in _MEANS if words.search(line)]
    if sizes or len(lengths) != 1 or len(means) != 1:
        return None
    unit = lengths[0]["unit"].replace('"', "in")
    length_m = parse_quantity(f"{lengths[0]['number'].replace(',', '.')} {unit}", si_unit="m")
    return TireStated(means[0] * length_m, said)
