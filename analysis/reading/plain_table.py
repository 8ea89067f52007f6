"""Tables without a clock: a bench's sheet, a curve, a map, read as a log's text is.

Public: `PlainTable`, `read_plain_table`, `Wanted`, `value_above`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.quantities import FloatArray, conversion_to_si
from passband.analysis.reading.rows.damaged_rows import read_damaged_rows
from passband.analysis.reading.rows.decimal_commas import join_decimal_commas
from passband.analysis.reading.rows.fixed_width import part_at_blanks
from passband.analysis.reading.rows.table import Column, read_clean_rows, row_source
from passband.analysis.reading.text.encoding import read_text
from passband.analysis.reading.text.header import Header, read_header
from passband.analysis.reading.text.layout import find_layout

# How a bench writes units that no channel of a log has, in lower case without blanks.
BENCH_UNITS: dict[str, str] = {
    "cfm": "ft^3/min", "ft3/min": "ft^3/min", "ft³/min": "ft^3/min", "scfm": "ft^3/min", "m3/h": "m^3/hour",
    "m³/h": "m^3/hour", "m3/s": "m^3/s", "l/min": "liter/minute", "lb-ft": "lbf ft", "lbft": "lbf ft",
    "lb.ft": "lbf ft",
    "lbf-ft": "lbf ft", "ft-lb": "lbf ft", "ftlb": "lbf ft", "ftlbs": "lbf ft", "ft-lbs": "lbf ft", "ft.lb": "lbf ft",
    "\"": "inch", "\"h2o": "inH2O", "in.h2o": "inH2O", "lbs/min": "lb/min", "lbm/min": "lb/min", "pk": "PS", "cv": "PS",
    "ps": "PS", "bhp": "hp", "in2": "inch^2", "cm2": "cm^2", "mm2": "mm^2",
}  # fmt: skip
NO_UNIT = frozenset({"", "-", "1", "none", "ratio"})
_BRACKETS = re.compile(r"^(.*?)\s*[(\[{]\s*([^()\[\]{}]*?)\s*[)\]}]\s*$")


@dataclass(frozen=True, slots=True)
class Wanted:
    """A column that a table may hold."""

    field: str
    """Our name of it."""
    si_unit: str
    """What it is kept in; empty for a ratio."""
    words: tuple[str, ...]
    """Regular expressions, lower case, of which one is the whole name of the column."""


@dataclass(frozen=True, slots=True)
class PlainTable:
    """Columns of numbers under names, each with a unit as written."""

    name: str
    """The file's."""
    names: tuple[str, ...]
    """Names without their units."""
    units: tuple[str, ...]
    """As written; empty where nowhere."""
    columns: tuple[FloatArray, ...]
    """Values, each of shape (rows,); NaN where a cell holds none."""
    above: tuple[tuple[str, str], ...]
    """Key and value of each line above the header."""

    def column(self, wanted: Wanted) -> FloatArray | None:
        """One column in SI.

        Parameters
        ----------
        wanted : Wanted
            Which.

        Returns
        -------
        array or None
            Shape (rows,); None where no column is called so.

        Raises
        ------
        NotALog
            If two columns are called so, or its unit is missing or of another kind.
        """
        hits = [at for at, name in enumerate(self.names) if _is_called(name, wanted)]
        if wanted.si_unit and len(hits) > 1:  # torque (lb-ft) and torque (kW), say: the unit chooses
            hits = [at for at in hits if _conversion(self.units[at], wanted.si_unit) is not None] or hits
        if not hits:
            return None
        if len(hits) > 1:
            twice = " and ".join(repr(self.names[at]) for at in hits)
            raise NotALog(f"{self.name}: {twice} may each be the {wanted.field}: leave one of them out.")
        return self._in_si(hits[0], wanted)

    def _in_si(self, at: int, wanted: Wanted) -> FloatArray:
        unit, values = self.units[at].strip() or _named_by_its_unit(self.names[at], wanted), self.columns[at]
        if not wanted.si_unit and unit.casefold() in NO_UNIT:
            return values
        conversion = _conversion(unit, wanted.si_unit)
        if conversion is not None:
            return values * conversion[0] + conversion[1]
        said = f"says {unit!r}, which is none" if unit else "says no unit"
        raise NotALog(
            f"{self.name}: column {self.names[at]!r} {said}: write one behind its name, such as "
            f"'{self.names[at]} ({EXAMPLES.get(wanted.si_unit, '%')})'."
        )


EXAMPLES = {
    "m": "mm", "m^3/s": "cfm", "kg/s": "lb/min", "Pa": "inH2O", "rpm": "rpm", "N*m": "Nm", "W": "kW", "K": "degC",
    "m^2": "mm^2",
}  # fmt: skip
"""A unit to write, for each that a column is kept in."""


def _is_called(name: str, wanted: Wanted) -> bool:
    plain = re.sub(r"[\s_.-]+", " ", name.casefold()).strip()
    return any(re.fullmatch(words, plain) for words in wanted.words)


def _named_by_its_unit(name: str, wanted: Wanted) -> str:
    """Engine speed is in rpm wherever nothing else is said; a column may be called ``kW`` and nothing else."""
    if wanted.si_unit == "rpm":
        return "rpm"
    return name if wanted.si_unit and _conversion(name, wanted.si_unit) is not None else ""


def _conversion(unit: str, si_unit: str) -> tuple[float, float] | None:
    plain = re.sub(r"\s+", "", unit.casefold())
    if si_unit and plain in NO_UNIT:
        return None
    found = conversion_to_si(BENCH_UNITS.get(plain, unit), si_unit=si_unit)
    return None if found is None else (found.scale, found.offset)


def read_plain_table(data: bytes, *, name: str) -> PlainTable:
    """Read a table of numbers that needs no column of time.

    Parameters
    ----------
    data : bytes
        The file as it came: any encoding, delimiter and decimal mark that a log may have.
    name : str
        Its name, for refusals.

    Returns
    -------
    PlainTable
        At least one row.

    Raises
    ------
    NotALog
        If it is no table of numbers under names, with what was found.
    """
    text = part_at_blanks(read_text(data, name=name), name=name)
    text = join_decimal_commas(text, find_layout(text, name=name), name=name)
    layout = find_layout(text, name=name)
    header = read_header(layout)
    source = row_source(text, layout, None)
    rows = read_clean_rows(source, layout) or read_damaged_rows(source, layout, header, mostly_blank=False)
    if header.header_line is None:
        raise NotALog(f"{name}: no row names the columns: write one above the numbers.")
    named = [_name_and_unit(header, at) for at in range(layout.width)]
    return PlainTable(
        name,
        tuple(one for one, _ in named),
        tuple(unit for _, unit in named),
        tuple(_values(column, rows.rows) for column in rows.columns),
        header.preamble,
    )


def _name_and_unit(header: Header, at: int) -> tuple[str, str]:
    """A unit in brackets that no log has is parted here; others the header has parted."""
    written, unit = header.bare[at], header.units[at]
    parted = _BRACKETS.match(written)
    return (parted.group(1), parted.group(2)) if parted is not None and not unit else (written, unit)


def _values(column: Column, rows: int) -> FloatArray:
    if column.values is None:
        return np.full(rows, np.nan)
    if column.rows is None:
        return column.values
    full = np.full(rows, np.nan)
    full[column.rows] = column.values
    return full


def value_above(table: PlainTable, words: Sequence[str]) -> str | None:
    """What a line above the header says under one of some names; None where none does.

    Parameters
    ----------
    table : PlainTable
        Any.
    words : sequence of str
        Regular expressions, lower case, of which one is the whole key.

    Returns
    -------
    str or None
        As written.
    """
    for key, value in table.above:
        plain = re.sub(r"[\s_.-]+", " ", key.casefold()).strip(" :=")
        if value.strip() and any(re.fullmatch(one, plain) for one in words):
            return value.strip()
    return None
