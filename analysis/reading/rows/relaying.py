"""A layout that changes amid the rows: they are laid out again as the first ones are, and each change is told.

Quotes, another delimiter or decimal mark, grouped thousands, columns that come or go. One line stays one line, so that
findings go on naming lines of the file.

Public: `relaid`, `Relaid`, `holds_other_mark`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.reading.rows.columns_moved import FEWEST_ROWS, Moved, find_moved
from passband.analysis.reading.rows.table import RowSource, is_number
from passband.analysis.reading.text.cells import is_grouped, is_plain, split_line, thousands_alone, ungrouped
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.layout import DELIMITERS, Layout, share_of_numbers, widened_by
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import find_true_runs

SAMPLE_LINES = 24
"""Lines of a stretch on which another delimiter is tried, as on the head."""
MOSTLY = 0.9
"""Share of their cells that must be numbers under it."""


@dataclass(frozen=True, slots=True)
class Relaid:
    """A text whose rows are laid out alike."""

    text: Text
    """It ends where the recording does."""
    layout: Layout
    findings: tuple[Finding, ...]
    """One for each change."""


@dataclass(slots=True)
class _Rows:
    """Lines of rows while they are laid out again."""

    lines: list[str]
    first_line: int
    layout: Layout
    findings: list[Finding]

    def tell(self, at: int, what: str, *, weighty: bool = False) -> None:
        """Tell of a change at a line."""
        line = self.first_line + at
        text = f"From line {line} on {what}"
        self.findings.append(Finding("layout-changes", "caution" if weighty else "note", text, f"line {line}"))

    def filled(self) -> list[int]:
        """The lines that hold anything."""
        return [at for at, line in enumerate(self.lines) if line.strip()]


def holds_other_mark(source: RowSource, layout: Layout) -> bool:
    """Whether rows with decimal commas hold points: read plainly, grouped thousands would become thousandths.

    Parameters
    ----------
    source : RowSource
        The rows.
    layout : Layout
        What the columns hold; dates among them have points of their own.
    """
    return (
        layout.decimal == ","
        and all(map(is_number, layout.column_kinds))
        and source.data.find(b".", source.first_byte) >= 0
    )


def relaid(text: Text, layout: Layout, stop: int | None) -> Relaid | None:
    """Lay rows out again as the first ones are.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of the first rows.
    stop : int or None
        Byte at which the recording ends; None for the end of the file.

    Returns
    -------
    Relaid or None
        None where nothing is to be changed.
    """
    line_end = text.line_end.encode("ascii")
    body = text.data[layout.first_data.start : stop]
    lines = [line.rstrip("\r") for line in body.decode("latin-1").split(text.line_end)]
    rows = _Rows(lines, layout.first_data.number, layout, [])
    if layout.quoted:
        _unquote_all(rows)
    steps: tuple[Callable[[_Rows], bool], ...] = (_unquote, _part_alike, _mark_alike, _place_alike)
    if not any([step(rows) for step in steps]):
        return None
    data = text.data[: layout.first_data.start] + line_end.join(line.encode("latin-1") for line in rows.lines)
    written = text.decimal_written or layout.decimal
    return Relaid(replace(text, data=data, decimal_written=written), rows.layout, tuple(rows.findings))


def _unquote_all(rows: _Rows) -> None:
    """Take the cells of all rows out of quotes, with a decimal point where the decimal comma would part them."""
    delimiter, decimal = rows.layout.delimiter, rows.layout.decimal
    mark = "." if decimal == delimiter else decimal
    grouped: list[int] = []
    for at, line in enumerate(rows.lines):
        if line.count('"') % 2:
            continue  # a cell with a line break, or damage
        cells = split_line(line, delimiter)
        written = _mark_of(cells, decimal)
        alike = [ungrouped(cell, written) for cell in cells] if written == decimal else cells
        if alike != cells:
            grouped.append(at)
        in_mark = alike if written == decimal == mark else [_in_mark(cell, written, mark) for cell in alike]
        bare = [cell.replace('"', "") for cell in in_mark]
        # what is no number may be a time of day with decimals
        rows.lines[at] = delimiter.join(
            cell.replace(delimiter, mark if cell[:1].isdigit() else " ") if delimiter in cell else cell for cell in bare
        )
    rows.layout = replace(rows.layout, quoted=False, decimal=mark)
    if grouped and rows.layout.plain:
        rows.tell(grouped[0], "marks group the thousands; they were taken out.")


def _mark_of(cells: list[str], usual: str) -> str:
    """The decimal mark of a row: the usual one, unless only the other stands in its numbers."""
    other = "," if usual == "." else "."
    if any(usual in cell and is_plain(cell, usual) for cell in cells):
        return usual
    return other if any(other in cell and is_plain(cell, other) for cell in cells) else usual


def _unquote(rows: _Rows) -> bool:
    """Take cells out of quotes that the first rows do not have, and numbers in them out of another decimal mark."""
    delimiter, decimal = rows.layout.delimiter, rows.layout.decimal
    split = {at: split_line(line, delimiter) for at, line in enumerate(rows.lines) if line.count('"') >= 2}
    other = _in_other_mark(split, decimal)
    for at, cells in split.items():
        alike = [_in_mark(cell, other[at], decimal) if at in other else ungrouped(cell, decimal) for cell in cells]
        rows.lines[at] = delimiter.join(cell.replace(delimiter, " ").replace('"', "") for cell in alike)
    if split:
        rows.tell(min(split), "cells stand in quotes; they were taken off.")
    if other:
        at, mark = next(iter(other.items()))
        rows.tell(at, f"numbers in quotes have a decimal {'point' if mark == '.' else 'comma'}; they are read so.")
    return bool(rows.findings)


def _in_other_mark(rows: dict[int, list[str]], usual: str) -> dict[int, str]:
    """By line, the decimal mark of rows that have another than the usual one; none where it groups thousands alone."""
    marks = {at: _mark_of(cells, usual) for at, cells in rows.items()}
    other = {at: mark for at, mark in marks.items() if mark != usual}
    decimals = any(
        mark in cell and is_plain(cell, mark) and not is_grouped(cell, usual)
        for at, mark in other.items()
        for cell in rows[at]
    )
    return other if decimals else {}


def _part_alike(rows: _Rows) -> bool:
    """Put the delimiter of the first rows where another one parts the cells."""
    layout, full = rows.layout, rows.layout.width - 1
    filled = rows.filled()
    odd = np.array([rows.lines[at].count(layout.delimiter) != full for at in filled], dtype=bool)
    for run in find_true_runs(odd):
        sample = [rows.lines[at] for at in filled[run.start : run.stop][:SAMPLE_LINES]]
        other = _other_parting(sample, layout) if len(sample) > 1 else None
        if other is None:
            continue
        delimiter, decimal = other
        changed = [at for at in filled[run.start :] if rows.lines[at].count(delimiter) == full]
        for at in changed:
            cells = split_line(rows.lines[at], delimiter)
            rows.lines[at] = layout.delimiter.join(_in_mark(cell, decimal, layout.decimal) for cell in cells)
        marks = {",": "a comma", ";": "a semicolon", "\t": "a tab", "|": "a bar"}
        also = " and decimals have another mark" if decimal != layout.decimal else ""
        rows.tell(changed[0], f"{marks[delimiter]} parts the cells{also}; they are read so.")
        return True
    return False


def _other_parting(lines: list[str], layout: Layout) -> tuple[str, str] | None:
    """Another delimiter and decimal mark under which lines hold as many cells as the rows, most of them numbers."""
    tried = [
        (share_of_numbers(lines, delimiter, decimal, layout.width), delimiter, decimal)
        for delimiter in DELIMITERS
        if delimiter != layout.delimiter
        for decimal in (layout.decimal, "." if layout.decimal == "," else ",")
        if decimal != delimiter
    ]
    share, delimiter, decimal = max(tried, key=lambda one: one[0])
    return (delimiter, decimal) if share >= MOSTLY else None


def _in_mark(cell: str, written: str, wanted: str) -> str:
    """A number with another decimal mark, its thousands no longer grouped; any other cell as it is."""
    cell = ungrouped(cell, written)
    return cell.replace(written, wanted) if is_plain(cell, written) else cell


def _mark_alike(rows: _Rows) -> bool:
    """Give numbers the decimal mark of the first rows where they have another, and take grouping marks out."""
    delimiter, mark = rows.layout.delimiter, rows.layout.decimal
    other = "," if mark == "." else "."
    if other == delimiter:
        return False
    numeric = [at for at, kind in enumerate(rows.layout.column_kinds) if is_number(kind)]
    odd: dict[int, list[str]] = {}
    both: dict[int, bool] = {}
    for at, line in enumerate(rows.lines):
        if other in line:
            cells = odd[at] = [cell.strip() for cell in line.split(delimiter)]
            numbers = [cells[column] for column in numeric if column < len(cells)]
            both[at] = any(mark in cell and is_plain(cell, mark) for cell in numbers)
    grouping = [at for at in odd if both[at] and any(is_grouped(odd[at][i], mark) for i in _within(numeric, odd[at]))]
    decimals = [at for at in odd if not both[at]]
    held = ([odd[at][i] for i in _within(numeric, odd[at])] for at in decimals)
    if len(grouping) > len(decimals) or (not grouping and thousands_alone(held, other)):  # whole numbers alone
        grouping, decimals = [at for at in odd if at in set(grouping) or not both[at]], []
    _rewrite(rows, odd, grouping, numeric, lambda cell: ungrouped(cell, mark))
    _rewrite(rows, odd, decimals, numeric, lambda cell: _in_mark(cell, other, mark))
    if grouping and rows.layout.plain:
        rows.tell(grouping[0], f"{'points' if other == '.' else 'commas'} group the thousands; they were taken out.")
    if decimals:
        name = "point" if other == "." else "comma"
        rows.tell(decimals[0], f"numbers have a decimal {name}; they are read so.")
    return bool(grouping or decimals)


def _within(columns: list[int], cells: list[str]) -> list[int]:
    return [column for column in columns if column < len(cells)]


def _rewrite(
    rows: _Rows, cells: dict[int, list[str]], lines: list[int], columns: list[int], anew: Callable[[str], str]
) -> None:
    for at in lines:
        for column in _within(columns, cells[at]):
            cells[at][column] = anew(cells[at][column])
        rows.lines[at] = rows.layout.delimiter.join(cells[at])


def _place_alike(rows: _Rows) -> bool:
    """Put cells under the names they belong to where rows hold more or fewer of them from some line on."""
    delimiter, width = rows.layout.delimiter, rows.layout.width
    filled = rows.filled()
    counts = np.array([rows.lines[at].count(delimiter) + 1 for at in filled], dtype=np.int64)
    full = (counts == width) | (counts == width - (rows.layout.column_kinds[-1] == "blank"))
    placed: dict[int, list[str]] = {}
    added = 0
    for run in find_true_runs(~full):
        cells, alike = Counter(counts[run.start : run.stop].tolist()).most_common(1)[0]
        if alike < max(FEWEST_ROWS, MOSTLY * (run.stop - run.start)) or run.start < FEWEST_ROWS:
            continue
        habit = cells < width and not bool(full[: run.start].all())
        before = [row for row in _cells(rows, filled[run.start - FEWEST_ROWS : run.start]) if len(row) == width]
        after = [row for row in _cells(rows, filled[run.start : run.start + FEWEST_ROWS]) if len(row) == cells]
        moved = find_moved(before, after, decimal=rows.layout.decimal, ends_may_lack=habit)
        if moved is not None:
            _tell_of_moved(rows, filled[run.start], cells, moved)
            placed |= _placed(rows, filled[run.start : run.stop], cells, moved, added)
            added += len(moved.extra)
    whole = {at: rows.lines[at].split(delimiter) for at, is_full in zip(filled, full, strict=True) if added and is_full}
    for at, row in (whole | placed).items():
        rows.lines[at] = delimiter.join([*row, *[""] * (width + added - len(row))])
    rows.layout = widened_by(rows.layout, added) if added else rows.layout
    return bool(placed)


def _cells(rows: _Rows, lines: list[int]) -> list[list[str]]:
    return [[cell.strip() for cell in rows.lines[at].split(rows.layout.delimiter)] for at in lines]


def _tell_of_moved(rows: _Rows, at: int, cells: int, moved: Moved) -> None:
    lost = [at for at, take in enumerate(moved.takes) if take is None and at not in moved.dropped]
    names = _columns_named([*moved.dropped, *lost])
    what = f"rows hold {cells} cells instead of {len(moved.takes)}"
    if moved.extra:
        what += f", of which {_columns_named(moved.extra)} {'are' if len(moved.extra) > 1 else 'is'} new"
    if lost:
        what += f": the values of columns {names} cannot be told apart there and were set aside; the others go on."
    elif moved.dropped:
        what += f": column {names} ends, the others go on."
    else:
        what += ": the others go on."
    in_place = all(take in (None, place) for place, take in enumerate(moved.takes))
    rows.tell(at, what, weighty=bool(lost) or not in_place)


def _placed(rows: _Rows, lines: list[int], cells: int, moved: Moved, added: int) -> dict[int, list[str]]:
    """The rows of a stretch with each cell under its name, new ones behind all others."""
    placed: dict[int, list[str]] = {}
    for at in lines:
        row = rows.lines[at].split(rows.layout.delimiter)
        if len(row) == cells:
            own = [row[take] if take is not None else "" for take in moved.takes]
            placed[at] = [*own, *[""] * added, *(row[extra] for extra in moved.extra)]
    return placed


def _columns_named(columns: Sequence[int]) -> str:
    return ", ".join(str(at + 1) for at in columns[:8]) + (", ..." if len(columns) > 8 else "")
