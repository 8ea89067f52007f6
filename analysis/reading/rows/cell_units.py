"""Numbers with a unit behind each, which need not be the same in all cells of a column: 98 kPa, then 1.2 bar.

Public: `units_in_cells`, `columns_with_other_units`, `other_units`, `in_one_unit`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import polars as pl

from passband.analysis.channels.units import conversion_for
from passband.analysis.quantities import Conversion
from passband.analysis.reading.rows.table import Column

_BEHIND = r"\d[.,]?\s*([^\d\s.,+-][^\d,]*)$"
_KEPT = ("Pa", "K", "m/s", "m/s^2", "V", "rpm", "s", "kg/s", "")


def units_in_cells(words: pl.Series) -> set[str]:
    """The units that stand behind the numbers of a column's cells; an empty one where none does.

    Parameters
    ----------
    words : Series of str
        The cells.

    Examples
    --------
    >>> sorted(units_in_cells(pl.Series(["98 kPa", "1.2 bar", "7", None])))
    ['', 'bar', 'kPa']
    """
    return {unit.strip() for unit in words.drop_nulls().str.extract(_BEHIND).unique().fill_null("").to_list()}


def columns_with_other_units(words: pl.DataFrame, units: Mapping[str, str]) -> list[str]:
    """The columns in which some cell has another unit behind its number than the rest; all are asked at once.

    Parameters
    ----------
    words : DataFrame
        The cells.
    units : mapping of str to str
        The unit of each column that has one, by its name.

    Examples
    --------
    >>> cells = pl.DataFrame({"0": ["98 kPa", "1.2 bar", None], "1": ["7 V", "8", "9 V"]})
    >>> columns_with_other_units(cells, {"0": "kPa", "1": "V"})
    ['0']
    """
    if not units:
        return []
    names = list(units)
    column = pl.concat([words[name] for name in names], rechunk=False)
    behind = column.str.extract(_BEHIND).str.strip_chars().fill_null("").to_list()
    height = len(words)
    each = zip(names, range(0, len(behind), max(height, 1)), strict=False)
    return [name for name, first in each if not {units[name], ""}.issuperset(behind[first : first + height])]


def other_units(words: pl.Series, unit: str) -> set[str]:
    """Units behind the cells of a column that are of the same kind as one, and of another size.

    Parameters
    ----------
    words : Series of str
        The cells.
    unit : str
        The one unit.

    Examples
    --------
    >>> other_units(pl.Series(["98 kPa", "1.2 bar", "98 KPA", "7 V", "12 %"]), "kPa")
    {'bar'}
    """
    ways = {other: _between(other, unit) for other in units_in_cells(words) - {unit, ""}}
    return {other for other, way in ways.items() if way is not None and (way.scale, way.offset) != (1.0, 0.0)}


def in_one_unit(column: Column, words: pl.Series, unit: str) -> Column:
    """The numbers of a column in one unit where its cells are printed in several.

    Parameters
    ----------
    column : Column
        The numbers as they stand before their units.
    words : Series of str
        The cells, one for each row.
    unit : str
        The unit wanted.

    Returns
    -------
    Column
        A number whose own unit is of something else, or of nothing known, is no value.

    Examples
    --------
    >>> cells = pl.Series(["98 kPa", "1.2 bar", "9 V"])
    >>> in_one_unit(Column(np.array([98.0, 1.2, 9.0]), None), cells, "kPa").values.round(9).tolist()
    [98.0, 120.0, nan]
    """
    others = units_in_cells(words) - {unit, ""}
    if not others or column.values is None:
        return column
    written = words.str.extract(_BEHIND).str.strip_chars().fill_null("")
    if column.rows is not None:
        written = written.gather(pl.Series(column.rows))
    values = column.values.copy()
    for other in others:
        here = (written == other).to_numpy()
        way = _between(other, unit)
        values[here] = np.nan if way is None else values[here] * way.scale + way.offset
    return replace(column, values=values)


def _between(written: str, wanted: str) -> Conversion | None:
    """How one unit becomes another; None where they are not of one kind."""
    for kept in _KEPT:
        one, other = conversion_for(written, kept=kept), conversion_for(wanted, kept=kept)
        if one is not None and other is not None:
            return Conversion(one.scale / other.scale, (one.offset - other.offset) / other.scale, wanted)
    return None
