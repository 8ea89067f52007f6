"""How the text is laid out: delimiter, decimal mark, where the rows of numbers begin, what each column holds.

Public: `Layout`, `find_layout`, `widened`, `widened_by`, `share_of_numbers`, `DELIMITERS`.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from passband.analysis.channels.log import NotALog
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.cells import kind_of_cell, number_of, split_line, thousands_alone, unit_in_cell
from passband.analysis.reading.text.encoding import HEAD_BYTES, Line, Text
from passband.analysis.reading.text.refusal import quoted_lines
from passband.analysis.reading.text.stated_scales import says_scale
from passband.analysis.reading.text.unpack import EXPORT_ADVICE

DELIMITERS = (",", ";", "\t", "|")
MOST_LINES = 400
"""Lines of the head that are looked at."""
TRIAL_LINES = 24
"""Lines at the end of the head on which delimiters and decimal marks are tried: there the data has begun."""
MOST_COLUMNS = 5000
"""More columns than any logger has channels; a file with more is something else."""
RARE_WIDTH = 0.12
"""Share of rows below which the widest of them are damaged; above it, others leave trailing blanks out."""
FEWEST_CELLS, ODD_CELLS = 4, 0.4
"""A line above the rows is one of them, though this share of its cells is odd, if it holds so many."""
FEWEST_COLUMNS = 2
"""A log holds at least a time, or a second channel."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things are in the text."""

    delimiter: str
    """One character."""
    decimal: str
    """``.`` or ``,``."""
    width: int
    """Cells in a row of data, the empty one after a trailing delimiter included."""
    first_data: Line
    """The first row of data."""
    above: tuple[Line, ...]
    """The lines before it."""
    column_kinds: tuple[str, ...]
    """What most cells of each column hold: ``number``, ``clock``, ``flag``, ``words``, ``no value`` or ``blank``."""
    quoted: bool
    """Whether the rows of data hold quotation marks."""
    plain: bool
    """Whether the numbers are bare; grouped thousands and units behind them are read the slow way only."""
    cell_units: tuple[str, ...]
    """Unit printed behind the numbers of each column; empty where there is none."""


@dataclass(frozen=True, slots=True)
class _Trial:
    """One delimiter and decimal mark tried on some lines."""

    delimiter: str
    decimal: str
    width: int
    score: float
    kinds: list[list[str]]
    """Of each cell of each line."""
    ragged: bool = False
    """Whether no width is common: each row leaves out its own number of blanks at its end."""


def find_layout(text: Text, *, name: str, start: int = 0, stop: int | None = None) -> Layout:
    """Find out how a text is laid out, without being told.

    Parameters
    ----------
    text : Text
        The file.
    name : str
        Its name, for the sentence of a refusal.
    start : int
        Byte at which to begin: a recording after the first.
    stop : int, optional
        Byte at which that recording ends.

    Returns
    -------
    Layout
        The delimiter and decimal mark under which most cells below the header are numbers.

    Raises
    ------
    NotALog
        If nothing in the head is a row of numbers.
    """
    size = HEAD_BYTES if stop is None else min(stop - start, HEAD_BYTES)
    lines = text.lines(start, size)[:MOST_LINES]
    if not lines:  # one line longer than the head
        lines = text.lines(start, 16 * HEAD_BYTES)[:MOST_LINES]
    filled = [line for line in lines if line.text.strip()]
    if not filled:
        start_of_it = quoted_lines([text.decode(text.data[start : start + 200])])
        raise NotALog(f"{name}: looked for rows of numbers, found one line without end: {start_of_it}. {EXPORT_ADVICE}")
    sample = filled[-TRIAL_LINES:]
    widest = max(line.text.count(delimiter) for line in sample[-2:] for delimiter in DELIMITERS) + 1
    if widest > MOST_COLUMNS:
        raise NotALog(
            f"{name}: looked for the channels of a log, found {widest} columns, more than the {MOST_COLUMNS} that "
            "are read. Export fewer channels."
        )
    trials = [
        _try(sample, delimiter, decimal)
        for delimiter in DELIMITERS
        for decimal in (".", ",")
        if any(delimiter in line.text and _may_be_decimal(decimal, delimiter, line.text) for line in sample)
    ]
    best = max(trials, key=lambda trial: trial.score, default=None)
    if best is not None and best.score > 0:
        best = _by_its_names(best, trials, filled)
        best = _by_more_lines(best, trials, filled)
        cells = (split_line(line.text, best.delimiter) for line in filled)
        if best.decimal == "." and best.delimiter != "," and thousands_alone(cells, "."):
            best = _try(sample, best.delimiter, ",")
    layout = _layout_of(best, lines, sample) if best is not None and best.score > 0 else None
    if layout is None:
        raise NotALog(_no_table(lines, name))
    return layout


NEARLY_AS_GOOD = 0.6
"""Share of the best mark's score that another has which parts a line of names as it parts the rows. [-]"""
FEWEST_NAMES = 2
"""Known names in such a line."""


def _by_its_names(best: _Trial, trials: list[_Trial], filled: list[Line]) -> _Trial:
    """Of delimiters that fit nearly alike, the one that parts the names as the rows: decimal commas part rows too."""
    near = [trial for trial in trials if trial.score >= NEARLY_AS_GOOD * best.score and trial.width > 1]
    if len({trial.delimiter for trial in near}) < 2 or _parts_names(best, filled):
        return best
    named = [trial for trial in near if trial.delimiter != best.delimiter and _parts_names(trial, filled)]
    return max(named, key=lambda trial: trial.score, default=best)


def _parts_names(trial: _Trial, filled: list[Line]) -> bool:
    """Whether a line above the rows has as many cells as these and holds known names."""
    for line in filled[: MOST_LINES - TRIAL_LINES]:
        cells = split_line(line.text, trial.delimiter)
        if len(cells) == trial.width and sum(map(_is_a_name, cells)) >= FEWEST_NAMES:
            return True
        if kind_of_cell(cells[0], trial.decimal) == "number":
            break
    return False


def _is_a_name(cell: str) -> bool:
    name = re.sub(r"\s*[\[({].*", "", cell)
    return bool(re.match(r"[^\W\d]", name)) and bool(recognise_name(name))


def _by_more_lines(best: _Trial, trials: list[_Trial], filled: list[Line]) -> _Trial:
    """Of decimal marks that fit the last lines alike, the one that fits the whole head better: 0,999 groups nothing."""
    alike = [trial for trial in trials if trial.delimiter == best.delimiter and trial.score == best.score]
    if len(alike) < 2:
        return best
    return max(alike, key=lambda trial: _try(filled, trial.delimiter, trial.decimal).score)


def _may_be_decimal(decimal: str, delimiter: str, line: str) -> bool:
    """Whether a line can hold numbers with that decimal mark: a comma that parts cells is one only inside quotes."""
    return decimal == "." or (decimal in line and (decimal != delimiter or '"' in line))


def _no_table(lines: Sequence[Line], name: str) -> str:
    filled = [line for line in lines if line.text.strip()]
    named = any(
        recognise_name(re.sub(r"[\[(].*", "", cell))
        for line in filled[:8]
        for mark in DELIMITERS
        for cell in split_line(line.text, mark)
    )
    lines_read = "the only line" if len(filled) == 1 else f"{len(filled)} lines"
    what = "column names but no rows of data" if named and len(filled) <= 70 else f"none in {lines_read}"
    found = quoted_lines([line.text for line in lines])
    return (
        f"{name}: looked for rows of numbers parted by comma, semicolon, tab or bar, found {what}: {found}. "
        f"{EXPORT_ADVICE}"
    )


def _try(lines: list[Line], delimiter: str, decimal: str) -> _Trial:
    """How much of some lines becomes numbers under a delimiter and a decimal mark."""
    kinds = [_kinds(line, delimiter, decimal) for line in lines]
    held = [row.count("number") + row.count("clock") for row in kinds]
    widths = Counter(len(row) for row, n in zip(kinds, held, strict=True) if n and len(row) >= FEWEST_COLUMNS)
    if not widths:
        return _Trial(delimiter, decimal, 0, 0.0, kinds)
    common = [w for w in widths if widths[w] >= RARE_WIDTH * widths.total()]
    width = max(common or widths)
    like = [i for i, row in enumerate(kinds) if FEWEST_COLUMNS <= len(row) <= width and held[i]]
    filled = sum(len(kinds[i]) - kinds[i].count("blank") for i in like)
    share = sum(held[i] + kinds[i].count("flag") + kinds[i].count("no value") for i in like) / max(filled, 1)
    steady = len(like) / max(len(kinds) - like[0], 1)
    return _Trial(delimiter, decimal, width, share * steady * min(1.0, 0.7 + 0.1 * width), kinds, not common)


def _kinds(line: Line, delimiter: str, decimal: str) -> list[str]:
    return [kind_of_cell(cell, decimal) for cell in split_line(line.text, delimiter)]


def _layout_of(trial: _Trial, lines: Sequence[Line], sample: Sequence[Line]) -> Layout | None:
    columns = _column_kinds(trial.kinds, trial.width)
    first = _first_data_row(lines, trial, columns)
    if first is None:
        return None
    while first + 1 < len(lines) and says_scale(lines[first].text, trial.delimiter):
        first += 1
    columns = _clocks_now_and_then(columns, lines[first:], trial)
    below = [line for line in sample if line.number >= lines[first].number]
    cell_units = _cell_units(split_line(below[-1].text, trial.delimiter), columns) if below else ("",) * trial.width
    return Layout(
        delimiter=trial.delimiter,
        decimal=trial.decimal,
        width=trial.width,
        first_data=lines[first],
        above=tuple(lines[:first]),
        column_kinds=tuple(columns),
        quoted=any('"' in line.text for line in lines[first:]),
        plain=not any(cell_units) and not any(_has_grouped(line, trial) for line in below),
        cell_units=cell_units,
    )


def _clocks_now_and_then(columns: list[str], rows: Sequence[Line], trial: _Trial) -> list[str]:
    """Columns that are blank where most lines are looked at, and hold a clock in some row of the head."""
    if "blank" not in columns:
        return columns
    cells = [row for line in rows if len(row := split_line(line.text, trial.delimiter)) == len(columns)]
    out = [*columns]
    for at in (at for at, kind in enumerate(columns) if kind == "blank"):
        kinds = {kind_of_cell(row[at], trial.decimal) for row in cells} - {"blank"}
        out[at] = "clock" if kinds == {"clock"} else columns[at]
    return out


def widened(layout: Layout, row: list[str]) -> Layout:
    """The layout of a table some rows of which hold more cells, as one of these shows.

    Parameters
    ----------
    layout : Layout
        Of the others.
    row : list of str
        The cells of one such row.
    """
    more = row[layout.width :]
    return replace(
        layout,
        width=len(row),
        column_kinds=(*layout.column_kinds, *(kind_of_cell(cell, layout.decimal) for cell in more)),
        cell_units=(*layout.cell_units, *(unit_in_cell(cell) for cell in more)),
    )


def widened_by(layout: Layout, more: int) -> Layout:
    """The layout with columns behind the others that begin amid the rows.

    Parameters
    ----------
    layout : Layout
        Of the others.
    more : int
        How many.
    """
    return replace(
        layout,
        width=layout.width + more,
        column_kinds=(*layout.column_kinds, *["blank"] * more),
        cell_units=(*layout.cell_units, *[""] * more),
    )


def share_of_numbers(lines: list[str], delimiter: str, decimal: str, width: int) -> float:
    """Share of the cells of some lines that are numbers, times or no value; 0 where most have another width.

    Parameters
    ----------
    lines : list of str
        Some rows.
    delimiter, decimal : str
        How they may be laid out.
    width : int
        Cells that a row must hold.
    """
    rows = [cells for line in lines if len(cells := split_line(line, delimiter)) == width]
    kinds = [kind_of_cell(cell, decimal) for row in rows for cell in row]
    if 2 * len(rows) <= len(lines):
        return 0.0
    return sum(kind != "words" for kind in kinds) / len(kinds)


def _cell_units(cells: list[str], columns: list[str]) -> tuple[str, ...]:
    padded = cells + [""] * (len(columns) - len(cells))
    return tuple(unit_in_cell(cell) if kind == "number" else "" for cell, kind in zip(padded, columns, strict=False))


def _has_grouped(line: Line, trial: _Trial) -> bool:
    """Whether a number of the row has its thousands grouped."""
    mark = "," if trial.decimal == "." else "."
    if mark not in line.text.replace(trial.delimiter, ""):
        if not (mark == trial.delimiter and '"' in line.text):
            return False
    cells = split_line(line.text, trial.delimiter)
    return any(mark in cell and number_of(cell, trial.decimal) is not None for cell in cells)


def _column_kinds(rows: list[list[str]], width: int) -> list[str]:
    """What each column holds, by the lower half of the rows as wide as the data."""
    like = [kinds for kinds in rows if len(kinds) == width]
    like = like[len(like) // 2 :]
    columns: list[str] = []
    for kinds in zip(*like, strict=True) if like else itertools.repeat((), width):
        counts = Counter(kinds)
        blank = counts.pop("blank", 0)
        nothing = counts.pop("no value", 0)
        if counts:
            columns.append(counts.most_common(1)[0][0])
        else:
            columns.append("no value" if nothing > blank else "blank")
    return columns


def _first_data_row(lines: Sequence[Line], trial: _Trial, columns: list[str]) -> int | None:
    """The first row that holds what the columns hold, and is followed by such a row or the end."""
    fits: dict[int, bool] = {}

    def fit(at: int) -> bool:
        if at not in fits:
            kinds = _kinds(lines[at], trial.delimiter, trial.decimal)
            fits[at] = _fits(kinds, columns, least=FEWEST_COLUMNS if trial.ragged else 0.5 * len(columns))
        return fits[at]

    filled = [i for i, line in enumerate(lines) if line.text.strip()]
    for at, i in enumerate(filled):
        after = filled[at + 1 : at + 3]
        if fit(i) and (not after or any(fit(j) or _is_lone(lines[j], trial.decimal) for j in after)):
            before = itertools.takewhile(lambda j: _is_row_too(lines[j], trial, columns), reversed(filled[:at]))
            return min(before, default=i)
    return None


def _is_row_too(line: Line, trial: _Trial, columns: list[str]) -> bool:
    """Whether a line right above the rows is one of them: a lone time, or a whole row some cells of which are odd."""
    if _is_lone(line, trial.decimal):
        return True
    kinds = _kinds(line, trial.delimiter, trial.decimal)
    if len(kinds) != len(columns) or len(columns) < FEWEST_CELLS or kinds[0] != columns[0]:
        return False
    numeric = [kind for kind, column in zip(kinds, columns, strict=True) if column in ("number", "clock")]
    return kinds[0] in ("number", "clock") and numeric.count("words") < ODD_CELLS * len(numeric)


def _is_lone(line: Line, decimal: str) -> bool:
    """Whether a line is one number or time: a row that leaves all others out."""
    return kind_of_cell(line.text.strip(), decimal) in ("number", "clock")


def _fits(kinds: list[str], columns: list[str], *, least: float) -> bool:
    if len(kinds) < least or any(kind in ("words", "flag") for kind in kinds[len(columns) + 1 :]):
        return False
    numeric = [(kind, column) for kind, column in zip(kinds, columns, strict=False) if column in ("number", "clock")]
    wrong = sum(kind == "words" for kind, _ in numeric)
    right = sum(kind in ("number", "clock") for kind, _ in numeric)
    return right >= 1 and wrong <= 0.1 * len(numeric)
