"""Numbers with an unquoted decimal comma in rows parted by commas: each becomes two cells.

They are put together again where one way alone fits names and rows, and refused otherwise: a guess would put numbers
under the wrong names.

Public: `join_decimal_commas`.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.rows.lines_set_aside import CUT_LAST_LINE
from passband.analysis.reading.text.cells import kind_of_cell, split_line
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.reading.text.title_rows import all_units
from passband.analysis.results.findings import Finding

_WHOLE = re.compile(r"[-+]?(?:0|[1-9]\d*)")
_WHOLES, _FRACTIONS = re.compile(rf"{_WHOLE.pattern}(?:\n{_WHOLE.pattern})*"), re.compile(r"\d+(?:\n\d+)*")
"""The cells of a column, one a line: at once, since a large file holds half a million of them."""
MOSTLY_ALIKE = 0.9
"""Share of rows of one number of cells above which the others are damage."""
_SAMPLE_ROWS = 60
"""Rows by which the file is suspected; all are looked at before anything is put together."""


def join_decimal_commas(text: Text, layout: Layout, *, name: str) -> Text:
    """Put numbers together that an unquoted decimal comma has parted.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        How it looks with the comma as delimiter.
    name : str
        Its name, for the sentence of a refusal.

    Returns
    -------
    Text
        With rows rewritten with a decimal point, and what was joined or set aside, where the file needs it; the same
        text where it does not.

    Raises
    ------
    NotALog
        If the rows hold more cells than there are names, no decimal point, and more than one way or none to join them.

    Notes
    -----
    Each name takes one cell or two. Two are a whole number as it is printed (no leading zero) and a fraction of as
    many digits in every row. One way alone must fit all rows, and some fraction must begin with a zero before
    another digit, as no whole number does; fractions of one digit are believed where every name has one.
    """
    if layout.delimiter != "," or layout.decimal != "." or layout.quoted or _has_point(layout.first_data.text):
        return text
    rows = [split_line(line.text, ",") for line in text.lines(layout.first_data.start)[:_SAMPLE_ROWS] if line.text]
    names = _number_of_names(layout)
    if (
        not rows
        or not names < float(np.median([len(row) for row in rows]))
        or any(_has_point(",".join(row)) for row in rows)
    ):
        return text
    return _joined(text, layout, names, name=name) if names else text


def _has_point(row: str) -> bool:
    """Whether some number of a row has a decimal point: then the comma is none."""
    return "." in row and any("." in cell and kind_of_cell(cell, ".") == "number" for cell in split_line(row, ","))


def _number_of_names(layout: Layout) -> int:
    """How many columns the line above the data names; 0 where there is none."""
    for line in reversed(layout.above):
        cells = split_line(line.text, ",")
        if not any(cells) or (len(cells) > 1 and all_units(cells)):
            continue
        named = len(cells) - (not cells[-1])
        return named if named >= 2 and all(kind_of_cell(cell, ".") != "number" for cell in cells) else 0
    return 0


def _joined(text: Text, layout: Layout, names: int, *, name: str) -> Text:
    written = _rows(text, layout)
    rows = written[:-1] if _is_cut(text, written) else written
    filled = [row for row in rows if row]
    cells, alike = Counter(map(len, filled)).most_common(1)[0]
    if not names < cells <= 2 * names:
        return text
    ways = _ways_to_share(filled, names, cells) if alike == len(filled) else _Ways(0)
    if ways.number != 1 or not _is_sure(filled, ways.taken, names):
        if alike > MOSTLY_ALIKE * len(filled) and not ways.number and not any(map(_holds_fraction, filled)):
            return text  # columns without a name, and whole numbers in all
        raise NotALog(_refusal(name, names, [len(row) for row in filled], ",".join(filled[0])))
    joined = (
        f"The decimal commas of the numbers are commas between cells as well: the {cells} cells of each row were put "
        f"together under {names} names, which fits in one way only. Export with a semicolon or a decimal point."
    )
    findings = [Finding("decimal-commas-joined", "note", joined, f"line {layout.first_data.number}")]
    if rows is not written:
        findings.insert(0, Finding("cut-last-line", "caution", CUT_LAST_LINE, "last line"))
    line_end = text.line_end.encode("ascii")
    lines = b"".join(",".join(_put_together(row, ways.taken)).encode("latin-1") + line_end for row in rows)
    data = text.data[: layout.first_data.start] + lines
    return replace(text, data=data, decimal_written=",", findings=(*text.findings, *findings))


def _rows(text: Text, layout: Layout) -> list[list[str]]:
    """The cells of each row, empty for an empty line."""
    lines = text.data[layout.first_data.start :].split(text.line_end.encode("ascii"))
    rows = [[cell.strip() for cell in line.decode("latin-1").split(",")] if line.strip() else [] for line in lines]
    while rows and not rows[-1]:
        rows.pop()
    return [row[:-1] for row in rows] if all(not row[-1] for row in rows if row) else rows


def _is_cut(text: Text, rows: list[list[str]]) -> bool:
    """Whether the text ends amid the last row."""
    return len(rows) > 1 and not text.data.endswith(text.line_end.encode("ascii")) and len(rows[-1]) != len(rows[-2])


def _refusal(name: str, names: int, cells: list[int], row: str) -> str:
    least, most = min(cells), max(cells)
    found = f"{least} to {most} cells in a row" if least < most else f"{most} cells in each row"
    return (
        f"{name}: looked for one number under each of {names} names, found {found} and no decimal point, as where "
        f"decimal commas part the numbers as well, and no one sure way to put them together: {quoted_start(row)}. "
        "Export with a semicolon or a tab between the cells, or with a decimal point."
    )


def _put_together(row: list[str], taken: list[int]) -> list[str]:
    """One cell for each name."""
    edges = [0, *itertools.accumulate(taken)]
    return [".".join(row[a:b]) for a, b in itertools.pairwise(edges)] if row else []


@dataclass(frozen=True, slots=True)
class _Ways:
    """How the cells of a row can be shared out to the names."""

    number: int
    """Ways that fit; 2 stands for more as well."""
    taken: list[int] = field(default_factory=list)
    """Cells that each name takes, 1 or 2; empty where there is no way, or more than one."""


def _ways_to_share(rows: list[list[str]], names: int, cells: int) -> _Ways:
    """How many cells each name takes, 1 or 2, so that it fits every row."""
    columns = [[row[at] for row in rows] for at in range(cells)]
    whole = [_are_whole(column) for column in columns]
    alone = [
        fits or all(_is_whole(cell) or not cell for cell in column) for fits, column in zip(whole, columns, strict=True)
    ]
    fraction = [_is_fraction(column) for column in columns]
    return _ways(alone, [a and b for a, b in zip(whole, [*fraction[1:], False], strict=True)], names)


def _is_sure(rows: list[list[str]], taken: list[int], names: int) -> bool:
    """Whether the second cells of some names, or of all, cannot be anything but fractions."""
    edges = [0, *itertools.accumulate(taken)]
    seconds = [[row[edge + 1] for row in rows] for edge, number in zip(edges, taken, strict=False) if number == 2]
    if any(_holds_fraction(column) for column in seconds):
        return True
    return len(seconds) == names and all("0" in column for column in seconds)


def _holds_fraction(cells: list[str]) -> bool:
    """Whether some cell begins with a zero as no whole number does."""
    return any(len(cell) > 1 and cell[0] == "0" and cell.isdigit() for cell in cells)


def _are_whole(column: list[str]) -> bool:
    return _WHOLES.fullmatch("\n".join(column)) is not None or all(_is_whole(cell) for cell in column)


def _is_whole(cell: str) -> bool:
    return _WHOLE.fullmatch(cell) is not None or kind_of_cell(cell, ".") in ("clock", "flag", "no value")


def _is_fraction(column: list[str]) -> bool:
    return len({len(cell) for cell in column}) == 1 and _FRACTIONS.fullmatch("\n".join(column)) is not None


def _ways(alone: list[bool], paired: list[bool], names: int) -> _Ways:
    """Share cells out to names, one or two to each, where a cell may stand alone and may begin a pair.

    A table holds, by names served and pairs among them, in how many ways the cells so far can be shared out.
    """
    pairs = len(alone) - names
    one, two = (np.concatenate((fits, np.zeros(pairs + 1))).astype(np.uint8) for fits in (alone, paired))
    number = np.zeros((names + 1, pairs + 1), dtype=np.uint8)
    number[0, 0] = 1
    for served in range(names):
        reached = number[served] * one[served : served + pairs + 1]
        reached[1:] += number[served, :-1] * two[served : served + pairs]
        number[served + 1] = np.minimum(reached, 2)
    if number[names, pairs] != 1:
        return _Ways(int(number[names, pairs]))
    taken: list[int] = []
    for served in range(names - 1, -1, -1):
        alone_here = number[served, pairs] and one[served + pairs]
        taken.append(1 if alone_here else 2)
        pairs -= not alone_here
    return _Ways(1, taken[::-1])
