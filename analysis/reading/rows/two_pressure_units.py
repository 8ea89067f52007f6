"""A gauge's two scales in one column: below the air's pressure in inches of mercury, above it in psi.

Many a boost gauge counts vacuum in inHg or mmHg and boost in psi or bar; what it logs jumps in scale at zero.

Public: `in_one_pressure_unit`, `OneScale`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import conversion_for
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

_TWO = re.compile(r"\s*(?P<one>[-−–+]?\s*[^\s/|&,+-]+)\s*(?:/|\||&|,|\bor\b)\s*(?P<other>[-−–+]?\s*[^\s/|&,+-]+)\s*")
_OF_MERCURY = re.compile(r"(?i)(?:in|mm|cm|\")\s?hg")


@dataclass(frozen=True, slots=True)
class OneScale:
    """A table whose gauges count in one unit on both sides of zero, and its header, which says so."""

    table: Table
    """With a finding of what was done."""
    header: Header
    """The same but for the units."""


def in_one_pressure_unit(table: Table, header: Header) -> OneScale:
    """Bring what a gauge shows below zero to the unit in which it shows what is above.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names and units; ``-inHg/+psi`` is a unit of two scales, that of mercury below zero. Without the signs it is one
        only where the name says vacuum as well.
    """
    columns, units = list(table.columns), list(header.units)
    found: list[Finding] = []
    for at, unit in enumerate(header.units):
        said = re.search(r"(?i)\bvac(?:uum)?\b", header.bare[at]) is not None or re.search(r"[-−–+]", unit) is not None
        scales = _scales(unit) if said else None
        column = columns[at]
        if scales is None or column.values is None or not _is_boost(header.bare[at]):
            continue
        vacuum, boost, ratio = scales
        columns[at] = replace(column, values=np.where(column.values < 0.0, column.values * ratio, column.values))
        units[at] = boost
        text = f"{header.names[at]} counts in {vacuum} below zero and in {boost} above; all of it is read in {boost}."
        found.append(Finding("gauge-of-two-units", "note", text, header.names[at]))
    if not found:
        return OneScale(table, header)
    return OneScale(table.with_columns(columns, *found), replace(header, units=tuple(units)))


def _scales(unit: str) -> tuple[str, str, float] | None:
    """The unit below zero, that above, and how many of the second are one of the first; None where it is no such."""
    match = _TWO.fullmatch(unit)
    if match is None:
        return None
    parts = [match[name].lstrip("-−–+ ") for name in ("one", "other")]
    below = [part for part in parts if _OF_MERCURY.fullmatch(part)]
    above = [part for part in parts if not _OF_MERCURY.fullmatch(part)]
    if len(below) != 1:
        return None
    vacuum, boost = (conversion_for(part, kept="Pa") for part in (below[0], above[0]))
    return None if vacuum is None or boost is None else (below[0], above[0], vacuum.scale / boost.scale)


def _is_boost(bare: str) -> bool:
    return any(match.channel in ("boost", "manifold_pressure") for match in recognise_name(bare))
