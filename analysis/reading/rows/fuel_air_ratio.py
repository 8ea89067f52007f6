"""Fuel to air where a log has no air to fuel: phi, which is one over lambda, or the ratio of the masses.

Public: `lambda_from_fuel_air`, `MadeLambda`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import NO_UNIT, STOICHIOMETRIC_AFR, plain_unit
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

PHI_MIDDLE, FAR_MIDDLE = (0.85, 1.6), (0.045, 0.13)
"""Where the median of a log lies: an engine idles near 1 and is up to half richer under load; by mass that is a part of
`STOICHIOMETRIC_AFR` of it, as gauges print it. Common practice. [-], [-]"""
PHI_MOST, FAR_MOST = 4.0, 0.3
"""No mixture that burns is richer by more, but for a moment's spray. [-], [-]"""

_NAMES = re.compile(
    r"(?i)(?:phi|φ|fuel air equivalence ratio|equivalence ratio(?: (?:phi|φ))?|(?:phi|φ) equivalence ratio|"
    r"equiv\.? ratio|eq ratio|richesse|当量比|當量比|당량비|"
    r"1 (?:lambda|λ)|inverse lambda|fuel air ratio|far|f a|f a ratio|far ratio)"
    r"(?: (?:bank |b|cyl(?:inder)? |sensor |#)?(?P<number>\d{1,2}))?"
)


@dataclass(frozen=True, slots=True)
class MadeLambda:
    """A table whose fuel to air ratio became lambda, and its header, which says so."""

    table: Table
    """With a finding of what was done."""
    header: Header
    """The same but for what the column is called in recognising it."""


def lambda_from_fuel_air(table: Table, header: Header, given: Mapping[int, str]) -> MadeLambda:
    """Turn a ratio of fuel to air round where the log holds no lambda.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names and units.
    given : mapping of int to str
        What the user said a column is; that stands.
    """
    named = [at for at, bare in enumerate(header.bare) if at not in given and _is_named(bare, header.units[at])]
    if not named or any(_is_lambda(bare) for at, bare in enumerate(header.bare) if at not in named):
        return MadeLambda(table, header)
    numbered = [at for at in named if _number_of(header.bare[at])]
    made = MadeLambda(table, header)
    for at in numbered if len(numbered) > 1 else named[:1]:
        made = _turned(made, at)
    return made


def _turned(made: MadeLambda, at: int) -> MadeLambda:
    """With one column's fuel to air as lambda, its number behind it."""
    table, header = made.table, made.header
    values = table.columns[at].values
    scale = None if values is None else _phi_in_one(values)
    if values is None or scale is None:
        return made
    phi = values * scale
    with np.errstate(divide="ignore", invalid="ignore"):
        turned = np.where(phi > 1.0 / PHI_MOST, 1.0 / phi, np.nan)
    columns, bare, units = list(table.columns), list(header.bare), list(header.units)
    columns[at], units[at] = Column(turned, table.columns[at].rows), ""
    bare[at] = f"lambda {_number_of(bare[at])}".strip()
    what = "phi, fuel to air over what just burns" if scale == 1.0 else "fuel to air by mass"
    text = f"{header.names[at]} is read as {what}, and lambda is made of it: one over it."
    if scale != 1.0:
        text += f" Lambda 1 is taken at an air to fuel ratio of {STOICHIOMETRIC_AFR:g}, as gauges do."
    found = Finding("fuel-to-air", "note" if scale == 1.0 else "caution", text, header.names[at])
    return MadeLambda(table.with_columns(columns, found), replace(header, bare=tuple(bare), units=tuple(units)))


def _plain(bare: str) -> str:
    """A header's words with blanks between."""
    return " ".join(re.split(r"[\s_/\-().]+", bare.strip())).strip()


def _number_of(bare: str) -> str:
    """The bank or cylinder of a ratio; empty where it says none."""
    match = _NAMES.fullmatch(_plain(bare))
    return (match["number"] or "") if match else ""


def _is_named(bare: str, unit: str) -> bool:
    return bool(_NAMES.fullmatch(_plain(bare))) and (not unit or plain_unit(unit) in NO_UNIT | {"phi", "φ", "f/a"})


def _is_lambda(bare: str) -> bool:
    return any(family_of(match.channel) == "lambda" for match in recognise_name(bare)[:1])


def _phi_in_one(values: FloatArray) -> float | None:
    """Phi in one of the values; None where they are neither ratio, as an angle called phi."""
    known = values[np.isfinite(values) & (values > 0.0)]
    if known.size < 0.5 * values.size or not known.size:
        return None
    middle, most = float(np.median(known)), float(np.quantile(known, 0.99))
    if PHI_MIDDLE[0] <= middle <= PHI_MIDDLE[1] and most <= PHI_MOST:
        return 1.0
    return STOICHIOMETRIC_AFR if FAR_MIDDLE[0] <= middle <= FAR_MIDDLE[1] and most <= FAR_MOST else None
