"""Numbers that no logger measures, and columns that hold none at all.

Infinity and what lies near the end of what a double can hold come from damaged cells. One of them makes the sum, the
square or the conversion of a whole channel infinite, so they are set aside before anything is computed.

Public: `without_absurd_values`, `tell_empty_columns`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

GREATEST = 1e30
"""Far above any quantity in any unit (nanoseconds since 1970 are 2e18), far below where cubes overflow. [-]"""
LOOKED_AT = 100
"""Rows that are looked at before all."""
NAMED = 6
"""Columns named in the finding."""


def without_absurd_values(table: Table, header: Header) -> Table:
    """Set aside values that cannot be measured.

    Parameters
    ----------
    table : Table
        The rows; words have become numbers where they could.
    header : Header
        Names, for the finding.

    Returns
    -------
    Table
        The same where nothing is wrong; else with NaN in place of such values, and a finding of how many and where.
    """
    if table.bare:
        return table
    columns, wrong = list(table.columns), {}
    for at, column in enumerate(table.columns):
        if column.values is None or _all_sane(column.values):
            continue
        with np.errstate(invalid="ignore"):
            absurd = np.abs(column.values) > GREATEST
        columns[at] = replace(column, values=np.where(absurd, np.nan, column.values))
        wrong[header.names[at]] = int(np.count_nonzero(absurd))
    if not wrong:
        return table
    number = sum(wrong.values())
    shown = ", ".join([*wrong][:NAMED]) + (f" and {len(wrong) - NAMED} more" if len(wrong) > NAMED else "")
    text = (
        f"{number} value{'s' if number > 1 else ''} of {shown} {'are' if number > 1 else 'is'} infinite or beyond "
        f"anything that can be measured and {'were' if number > 1 else 'was'} set aside."
    )
    return table.with_columns(columns, Finding("values-beyond-measure", "caution", text, shown))


def tell_empty_columns(table: Table, header: Header) -> list[Finding]:
    """One finding for all named columns without a single value.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names.

    Returns
    -------
    list of Finding
        Empty or one note.
    """
    of_words = {finding.where for finding in table.findings if finding.code == "columns-of-words"}
    empty = [
        header.names[at]
        for at, column in enumerate(table.columns)
        if header.names[at] not in of_words
        and header.bare[at]
        and column.words is None
        and not _holds_value(column.values)
    ]
    if not empty or not table.rows:
        return []
    shown = ", ".join(empty[:NAMED]) + (f" and {len(empty) - NAMED} more" if len(empty) > NAMED else "")
    text = f"{len(empty)} column{'s hold' if len(empty) > 1 else ' holds'} no value in any row: {shown}."
    return [Finding("columns-without-values", "note", text, "")]


def _holds_value(values: FloatArray | None) -> bool:
    """Whether any value is one; nearly always one of the first is."""
    return values is not None and bool(np.isfinite(values[:LOOKED_AT]).any() or np.isfinite(values).any())


def _all_sane(values: FloatArray) -> bool:
    least, most = np.fmin.reduce(values, initial=0.0), np.fmax.reduce(values, initial=0.0)
    return bool(least >= -GREATEST and most <= GREATEST)
