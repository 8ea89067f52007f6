"""Which lines above the rows hold names and which units: title rows, groups of columns above their names.

Public: `TitleRows`, `title_rows`, `choose_names_and_units`, `under_their_groups`, `without_label`, `all_units`,
`padded`.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter

from passband.analysis.channels.plain_words import plain_words
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.telling_words import CHANGES_MEANING
from passband.analysis.channels.units import is_unit
from passband.analysis.reading.text.cells import kind_of_cell, split_line
from passband.analysis.reading.text.encoding import Line
from passband.analysis.reading.text.layout import DELIMITERS, Layout
from passband.analysis.reading.text.name_and_unit import as_meant, bare_unit, split_name_and_unit
from passband.analysis.reading.text.paired_columns import named_in_pairs
from passband.analysis.reading.text.stated_scales import says_scale

MOST_TITLE_ROWS = 5
"""Rows between preamble and data that may name columns: name, long name, unit, source, and one blank."""
MOST_LONE_LINES = 3
"""Lines of one cell between names and data: a rule, a word such as "Data"; and as many first rows that are damaged."""
LINES_A_NAME = 4
"""Lines that a quoted name may be broken into: three words and a unit."""
FEWEST_NAMED_BY_BOTH = 2
"""Names that two title rows must give together beyond what one gives, to be read as one; a chance would give one."""
_LABELS = frozenset(
    "unit units channel channels name names signal signals parameter parameters variable variables column columns "
    "header label labels sensor sensors source type einheit einheiten kanal kanäle unité unités nom canal unidad "
    "unidades nombre unità nome unidade eenheid enhet jednostka jednotka единица единицы".split()
)
"""What a title row is called in a cell before it: in the languages whose names are known; from memory."""
_RULE = re.compile(r"[\s,;|+]*(?:[-=_]{2,}[\s,;|+]+)*[-=_]{2,}[\s,;|+]*")
"""A line drawn under the names, cell by cell or through."""
TitleRows = list[tuple[Line, list[str]]]
"""Lines that may name the columns and their cells, nearest to the rows first."""


def title_rows(layout: Layout) -> TitleRows:
    """Rows above the data that may name its columns.

    Parameters
    ----------
    layout : Layout
        Where the data begins and how it is delimited.

    Returns
    -------
    TitleRows
        Without those that explain another, two that name pairs of a time and its values made one.
    """
    return _in_pairs(_without_legend(_rows_above(layout)))


def _rows_above(layout: Layout) -> TitleRows:
    """Rows above the data that may name its columns, nearest first; a lone word or rule between them is passed over."""
    rows: TitleRows = []
    lines = list(layout.above)
    passed = damaged = 0
    while lines and len(rows) < MOST_TITLE_ROWS:
        line = lines.pop()
        if _RULE.fullmatch(line.text):
            continue
        if not line.text.strip(layout.delimiter + " "):
            if rows and not all(all_units(cells) for _, cells in rows):
                break
            continue
        line, lines = _joined(line, lines, most=LINES_A_NAME * layout.width)
        cells = _cells_of_title(line, layout)
        if says_scale(line.text, layout.delimiter):
            continue
        if len(cells) == 1 and not rows and passed < MOST_LONE_LINES:
            passed += 1
            continue
        filled = sum(bool(cell) for cell in cells)
        full = len(cells) >= 0.6 * layout.width and filled >= 0.3 * layout.width and not _are_values(cells, layout)
        units = all_units(cells) and len(cells) >= 0.6 * layout.width
        names = not any(map(_names_channels, rows)) and _names_channels((line, cells))
        if not (names or ((full or units) and not damaged)):
            if rows or damaged >= MOST_LONE_LINES:
                break
            damaged += 1
            continue
        rows.append((line, without_label(cells, layout.width)))
    return rows


def _are_values(cells: list[str], layout: Layout) -> bool:
    """Whether half of a row's cells are numbers with decimals: a row that is odd otherwise, and no names."""
    values = [layout.decimal in cell and kind_of_cell(cell, layout.decimal) == "number" for cell in cells if cell]
    return 2 * sum(values) >= max(len(values), 1)


def _cells_of_title(line: Line, layout: Layout) -> list[str]:
    """The cells of a row above the data; by another delimiter where that alone gives a name to each column."""
    cells = split_line(line.text, layout.delimiter)
    if len(cells) > layout.width > 1:
        return _with_commas_within(cells, line.text, layout)
    if len(cells) > 1 or layout.width < 2:
        return cells
    for delimiter in DELIMITERS:
        others = split_line(line.text, delimiter)
        if delimiter != layout.delimiter and len(others) == layout.width and _names_channels((line, others)):
            return others
    return cells


def _with_commas_within(cells: list[str], line: str, layout: Layout) -> list[str]:
    """A row of names in which a name holds a comma and a blank, where that alone makes as many as the rows have."""
    written = line.split(layout.delimiter)
    if layout.delimiter != "," or len(written) != len(cells) or '"' in line:
        return cells
    within = [at for at, cell in enumerate(written) if at and cell[:1] == " " and cell.strip()]
    if len(cells) - len(within) != layout.width:
        return cells
    joined: list[str] = []
    for at, cell in enumerate(cells):
        if at in within:
            joined[-1] = f"{joined[-1]}, {cell}"
        else:
            joined.append(cell)
    return joined


def _without_legend(rows: TitleRows) -> TitleRows:
    """Title rows but for those that begin with a name which stands within a row below: they explain it."""
    kept: TitleRows = []
    for line, cells in rows:
        if not any(cells[0] and cells[0] in below[1:] for _, below in kept):
            kept.append((line, cells))
    return kept


def _in_pairs(rows: TitleRows) -> TitleRows:
    """Title rows, two that name pairs of a time and its values made one."""
    for at, ((_, lower), (line, upper)) in enumerate(itertools.pairwise(rows)):
        named = named_in_pairs(upper, lower)
        if named is not None:
            return [*rows[:at], (line, named), *rows[at + 2 :]]
    return rows


def _names_channels(row: tuple[Line, list[str]]) -> bool:
    """Whether half of a row's cells that hold anything are names known to be channels, and none is a number."""
    filled = [cell for cell in row[1] if cell]
    if len(filled) < 2 or any(kind_of_cell(cell, ".") in ("number", "clock") for cell in filled):
        return False
    return 2 * sum(bool(recognise_name(split_name_and_unit(cell)[0])) for cell in filled) >= len(filled)


def without_label(cells: list[str], width: int) -> list[str]:
    """A title row without the cell before its first that says what the row is, where it has one cell too many.

    Parameters
    ----------
    cells : list of str
        The row.
    width : int
        Cells of a row of data.

    Examples
    --------
    >>> without_label(["Units", "s", "rpm"], 2), without_label(["Time", "RPM", "MAP"], 2)
    (['s', 'rpm'], ['Time', 'RPM', 'MAP'])
    """
    last = max((at for at, cell in enumerate(cells, start=1) if cell), default=0)
    return cells[1:] if last > width and cells[0].casefold().rstrip(" :=") in _LABELS else cells


def _joined(line: Line, lines: list[Line], *, most: int) -> tuple[Line, list[Line]]:
    """A row whose quoted cells hold line breaks, put together again out of a number of lines at most."""
    if line.text.count('"') % 2 == 0:
        return line, lines
    texts, rest = [line.text], list(lines)
    odd = True
    while odd and rest and len(texts) < most:
        first = rest.pop()
        texts.insert(0, first.text)
        odd ^= first.text.count('"') % 2 == 1
    return (line, lines) if odd else (Line("\n".join(texts), first.number, first.start), rest)


def all_units(cells: list[str]) -> bool:
    """Whether every cell that holds anything is a unit."""
    filled = {cell for cell in cells if cell}
    return bool(filled) and all(is_unit(bare_unit(cell) or "-") for cell in filled)


def choose_names_and_units(rows: TitleRows) -> tuple[int | None, int | None]:
    """Which of the rows holds the names and which the units.

    Parameters
    ----------
    rows : TitleRows
        As found.

    Returns
    -------
    (int or None, int or None)
        Places in the list; None where none does.
    """
    if not rows:
        return None, None
    unit_share = [
        0.0 if _says_something(cells) else _share(cells, lambda cell: is_unit(bare_unit(cell) or "-"))
        for _, cells in rows
    ]
    known = [_share(cells, lambda cell: bool(recognise_name(split_name_and_unit(cell)[0]))) for _, cells in rows]
    units_at = next(
        (i for i, share in enumerate(unit_share) if share >= 0.5 and share > known[i] and len(rows) > 1), None
    )
    named = [i for i in range(len(rows)) if i != units_at and unit_share[i] < 0.8] or [
        i for i in range(len(rows)) if i != units_at
    ]
    names_at = max(named, key=lambda i: (round(known[i], 1), -i))
    return names_at, units_at


def _says_something(cells: list[str]) -> bool:
    """Whether a row begins with a key and what is said of it, as ``Fuel: E85, stoich 9.77``: no row of units."""
    key, mark, value = cells[0].partition(": ") if cells else ("", "", "")
    return bool(mark) and bool(value.strip()) and key.strip().casefold() not in _LABELS and not is_unit(value)


def under_their_groups(rows: TitleRows, names_at: int | None, units_at: int | None, layout: Layout) -> TitleRows:
    """The rows, names put together with the groups above them where only both together name channels.

    Parameters
    ----------
    rows : TitleRows
        As found.
    names_at, units_at : int or None
        Which hold the names and the units.
    layout : Layout
        Of the lines above the data.

    Returns
    -------
    TitleRows
        The same where no group tells more than the names do.
    """
    return _under_few_groups(_with_groups(rows, names_at, units_at), names_at, layout)


def _with_groups(rows: TitleRows, names_at: int | None, units_at: int | None) -> TitleRows:
    """The rows, that of the names put together with the one above or below where only both together name channels."""
    if names_at is None:
        return rows
    known = _known(rows[names_at][1])
    best = rows
    for upper in (names_at, names_at + 1):
        lower = upper - 1
        if lower < 0 or upper >= len(rows) or units_at in (lower, upper):
            continue
        groups, names = rows[upper][1], rows[lower][1]
        for above in (groups, _spread(groups)):
            both = [f"{group} {name}".strip() for group, name in itertools.zip_longest(above, names, fillvalue="")]
            if _known(both) >= known + FEWEST_NAMED_BY_BOTH:
                known = _known(both)
                best = [*rows]
                best[names_at] = (rows[upper][0], both)
    return _alike_by_group(best, names_at, units_at) if best is rows else best


def _under_few_groups(rows: TitleRows, names_at: int | None, layout: Layout) -> TitleRows:
    """The rows, names that mean nothing alone put together with the group in the mostly blank row above them."""
    if names_at is None:
        return rows
    line, names = rows[names_at]
    above = next((one for one in reversed(layout.above) if one.number < line.number), None)
    groups = [as_meant(cell) for cell in split_line(above.text, layout.delimiter)] if above is not None else []
    filled = [cell for cell in groups if cell]
    if not 2 <= len(groups) <= len(names) + 1 or not filled or all(groups) or any(map(_is_number, filled)):
        return rows
    both = [
        f"{group} {name}" if group and not _known([name]) and _known([f"{group} {name}"]) else name
        for group, name in zip(padded(_spread(groups), len(names)), names, strict=True)
    ]
    changed = sum(one != name for one, name in zip(both, names, strict=True))
    return [*rows[:names_at], (line, both), *rows[names_at + 1 :]] if changed >= FEWEST_NAMED_BY_BOTH else rows


def _is_number(cell: str) -> bool:
    return kind_of_cell(cell, ".") in ("number", "clock")


def _alike_by_group(rows: TitleRows, names_at: int, units_at: int | None) -> TitleRows:
    """The rows, names that stand twice put together with their groups' where these tell them apart."""
    line, names = rows[names_at]
    again = {name for name, times in Counter(names).items() if name and times > 1}
    if not again or names_at + 1 >= len(rows) or names_at + 1 == units_at:
        return rows
    groups = _spread(rows[names_at + 1][1])
    both = [
        f"{group} {name}" if name in again and _says_which(group, name) else name
        for group, name in zip(padded(groups, len(names)), names, strict=True)
    ]
    told = {name for name in again if len({one for one, was in zip(both, names, strict=True) if was == name}) > 1}
    made = [one if was in told else was for one, was in zip(both, names, strict=True)]
    return [*rows[:names_at], (line, made), *rows[names_at + 1 :]] if told else rows


def _says_which(group: str, name: str) -> bool:
    """Whether a group makes a channel of a name, or something else than a measured one: ``Target`` over ``RPM``."""
    known = recognise_name(split_name_and_unit(f"{group} {name}")[0])
    return bool(known) or not CHANGES_MEANING.isdisjoint(plain_words(group))


def _known(cells: list[str]) -> int:
    return sum(bool(recognise_name(split_name_and_unit(cell)[0])) for cell in cells if cell)


def _spread(groups: list[str]) -> list[str]:
    """Each group's name over the empty cells right of it."""
    spread: list[str] = []
    for cell in groups:
        spread.append(cell or (spread[-1] if spread else ""))
    return spread


def padded(cells: list[str], width: int) -> list[str]:
    """Cells of a row, as many as the rows of data have.

    Parameters
    ----------
    cells : list of str
        Perhaps fewer or more.
    width : int
        Cells of a row of data.
    """
    return (cells + [""] * width)[:width]


def _share(cells: list[str], holds: object) -> float:
    filled = [cell for cell in cells if cell]
    return sum(bool(holds(cell)) for cell in filled) / max(len(filled), 1)  # type: ignore[operator]
