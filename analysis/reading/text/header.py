"""What the columns are called and in which units: header row, units row, preamble.

Which lines are what is found in `title_rows`; what stands above them is read in `preamble`.

Public: `Header`, `read_header`, `behind_row_numbers`, `tell_apart`.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from passband.analysis.channels.units import NO_UNIT, is_unit, plain_unit
from passband.analysis.reading.text.fuel_said import counts_air_by_fuel, ratio_said
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.listed_names import names_listed
from passband.analysis.reading.text.name_and_unit import as_meant, bare_unit, split_name_and_unit
from passband.analysis.reading.text.place_labels import under_their_names, without_place_labels
from passband.analysis.reading.text.preamble import (
    legend_of,
    named_by_place,
    read_preamble,
    units_from_preamble,
    without_formulas,
)
from passband.analysis.reading.text.pulses_said import pulses_said
from passband.analysis.reading.text.stated_scales import Scales, said_of_names, scales_above, scales_of_names, span_said
from passband.analysis.reading.text.title_rows import (
    TitleRows,
    choose_names_and_units,
    padded,
    title_rows,
    under_their_groups,
)


@dataclass(frozen=True, slots=True)
class Header:
    """Names and units, one for each column of data."""

    names: tuple[str, ...]
    """As written; duplicates and empty names told apart by a suffix; ``Column 3`` where there is no header."""
    units: tuple[str, ...]
    """As written, empty where nowhere."""
    bare: tuple[str, ...]
    """The names without the unit in them and without the suffix, for recognition."""
    header_line: int | None
    """Line of the header, from 1."""
    units_line: int | None
    """Line of the units, from 1; None where they are in the header, the preamble or nowhere."""
    preamble: tuple[tuple[str, str], ...]
    """Key and value of each line before; free text has an empty key."""
    start: int
    """Byte at which the header row starts; the first row of data where there is none."""
    names_written: int = 0
    """Names in the header row, up to the last; 0 where there is none."""
    rows_counted: bool = False
    """Whether a counter of rows without a name stands before the first named column."""
    scales: Scales | None = None
    """What each column's counts are to be multiplied by and added to; None where nothing says so."""


def read_header(layout: Layout) -> Header:
    """Read names, units and preamble from the lines above the data.

    Parameters
    ----------
    layout : Layout
        Where the data begins and how it is delimited.

    Returns
    -------
    Header
        One name and one unit for each column.
    """
    rows = title_rows(layout)
    names_at, units_at = choose_names_and_units(rows)
    listed = _listed(layout, rows if names_at is None else [rows[names_at]])
    if listed:
        rows, names_at, units_at = [], None, None
    rows = under_their_groups(rows, names_at, units_at, layout)
    used = {at for at in (names_at, units_at) if at is not None}
    first_title = min((rows[at][0].number for at in used), default=layout.first_data.number)
    spare = [line for at, (line, _) in enumerate(rows) if at not in used]
    preamble = read_preamble([line for line in layout.above if line.number < first_title] + spare, layout.delimiter)
    written = [as_meant(cell) for cell in rows[names_at][1]] if names_at is not None else []
    preamble = without_formulas(preamble, written)
    cells = padded(written or listed or named_by_place(preamble, layout.width), layout.width)
    legend = legend_of(cells, preamble)
    spans = {at: span for at, cell in enumerate(cells) if (span := span_said(cell)) is not None}
    split = [
        (spans[at].name, spans[at].scaled.unit) if at in spans else split_name_and_unit(legend.get(at, cell))
        for at, cell in enumerate(without_place_labels(cells))
    ]
    row_units = padded([*map(as_meant, rows[units_at][1])] if units_at is not None else [], layout.width)
    row_units = under_their_names(row_units, [name for name, _ in split])
    of_preamble = units_from_preamble(preamble, [name for name, _ in split])
    of_scales = said_of_names(preamble, cells if legend else [name for name, _ in split])
    units = [
        _unit_of_row(row, own, cells[i])
        or own
        or bare_unit(row)
        or of_preamble[i]
        or (of_scales[i].unit if i in of_scales else "")
        or layout.cell_units[i]
        for i, ((_, own), row) in enumerate(zip(split, row_units, strict=True))
    ]
    bare = [name for name, _ in split]
    for i, (name, unit) in enumerate(zip(bare, units, strict=True)):
        pickup = pulses_said(name, unit)
        if pickup is not None:
            bare[i], units[i] = pickup.name, pickup.unit
    of_fuel = ratio_said(preamble) if any(map(counts_air_by_fuel, bare)) else None
    if of_fuel is not None:
        units = [
            f"AFR stoich {of_fuel:.2f}" if counts_air_by_fuel(name) and plain_unit(unit) in ("", "afr") else unit
            for name, unit in zip(bare, units, strict=True)
        ]
    return Header(
        names=tuple(tell_apart([f"{cell}: {legend[at]}" if at in legend else cell for at, cell in enumerate(cells)])),
        units=tuple(units),
        bare=tuple(bare),
        header_line=rows[names_at][0].number if names_at is not None else None,
        units_line=rows[units_at][0].number if units_at is not None else None,
        preamble=preamble,
        start=rows[names_at][0].start if names_at is not None else layout.first_data.start,
        scales=_scales(layout)
        or scales_of_names(
            preamble, cells if legend else [name for name, _ in split], {at: one.scaled for at, one in spans.items()}
        ),
        names_written=max((at for at, cell in enumerate(written or listed, start=1) if cell), default=0),
    )


def _listed(layout: Layout, rows: TitleRows) -> list[str]:
    """Names that a list of the columns above gives, where no row of names stands, or one that is a line of the list."""
    width = layout.width - (layout.column_kinds[-1] == "blank")
    found = names_listed([line.text for line in layout.above], width)
    if found is None:
        return []
    lines = {line.number for line in layout.above[found.first : found.stop]}
    return [*found.names] if all(line.number in lines for line, _ in rows) else []


def _scales(layout: Layout) -> Scales | None:
    labelled = layout.column_kinds[0] == "blank"
    lines = [line.text for line in layout.above]
    return scales_above(lines, layout.delimiter, width=layout.width, labelled=labelled)


def behind_row_numbers(header: Header) -> Header:
    """The header with each name one column further right, behind a counter of rows that has none.

    Parameters
    ----------
    header : Header
        Of one name less than columns.
    """
    named = header.names_written
    return replace(
        header,
        names=("Column 1", *header.names[:named]),
        units=("", *header.units[:named]),
        bare=("", *header.bare[:named]),
        names_written=named + 1,
        rows_counted=True,
    )


def _unit_of_row(row: str, own: str, cell: str) -> str:
    """The row's unit where the name's last word is one as well, as ``Long G`` over ``mG``; a bracketed one stands."""
    unit = bare_unit(row)
    if not own or not unit or cell.rstrip().endswith((")", "]", "}", ">")) or plain_unit(unit) in NO_UNIT:
        return ""
    return unit if is_unit(unit) else ""


def tell_apart(cells: list[str]) -> list[str]:
    """Names with duplicates and empty ones told apart.

    Examples
    --------
    >>> tell_apart(["Time", "RPM", "RPM", ""])
    ['Time', 'RPM', 'RPM (2)', 'Column 4']
    """
    named = [cell or f"Column {at}" for at, cell in enumerate(cells, start=1)]
    taken = Counter(named)
    seen: Counter[str] = Counter()
    apart: list[str] = []
    for name in named:
        seen[name] += 1
        if seen[name] == 1:
            apart.append(name)
            continue
        number = seen[name]
        while f"{name} ({number})" in taken:
            number += 1
        apart.append(f"{name} ({number})")
        taken[apart[-1]] += 1
    return apart
