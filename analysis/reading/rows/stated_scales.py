"""Counts made values by the factors and offsets that rows above them state.

Public: `in_stated_scales`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding


def in_stated_scales(table: Table, header: Header) -> Table:
    """Multiply each column by its factor and add its offset.

    Parameters
    ----------
    table : Table
        The rows, as counts.
    header : Header
        Names, and the scales if any are stated.

    Returns
    -------
    Table
        The same where none is, or where some column that has a factor holds fractions: then they are values already.
        A column with both is told as a caution: some loggers add before they multiply.
    """
    scales = header.scales
    if scales is None or not scales.changes:
        return table
    if not all(
        _holds_counts(column)
        for column, one, other in zip(table.columns, scales.factors, scales.offsets, strict=False)
        if one != 1.0 or other
    ):
        text = (
            "Rows above the numbers state a factor for each column, but the numbers are no whole counts: they are "
            "taken as values already."
        )
        return table.with_findings(Finding("scales-stated", "caution", text, ""))
    columns = [
        column if column.values is None else replace(column, values=column.values * factor + offset)
        for column, factor, offset in zip(table.columns, scales.factors, scales.offsets, strict=False)
    ]
    columns += table.columns[len(columns) :]
    text = "Rows above the numbers state what each column is to be multiplied by; its values were."
    if any(scales.offsets):
        text = (
            "Rows above the numbers state a factor and an offset for each column; its values were multiplied by the "
            "one, and the other was added then."
        )
    shown = next(at for at, one in enumerate(scales.factors) if one != 1.0 or scales.offsets[at])
    header_of_it = header.names[shown]
    both = any(offset and factor != 1.0 for factor, offset in zip(scales.factors, scales.offsets, strict=True))
    if both and not scales.in_order:
        return table.with_columns(columns, Finding("scales-stated", "caution", text, header_of_it))
    return table.with_columns(columns, Finding("scales-stated", "note", text, header_of_it))


def _holds_counts(column: Column) -> bool:
    known = column.values[np.isfinite(column.values)] if column.values is not None else np.empty(0)
    return bool(np.all(known == np.round(known)))
