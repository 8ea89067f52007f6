"""Columns with a place on the line of their own: a blank cell and a name of two words are told from the space between.

Public: `parted_by_place`.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.quantities import BoolArray
from passband.analysis.reading.text.cells import kind_of_cell
from passband.analysis.reading.text.encoding import Line, Text
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import find_true_runs

FEWEST_ROWS, MOST_LOOKED_AT = 20, 400
"""Rows that show where columns stand; fewer leave gaps by chance."""
LONGEST_LINE = 20_000
"""Signs in a line above which nothing was laid out by place."""


def parted_by_place(text: Text, titles: Sequence[Line], rows: Sequence[Line]) -> Text | None:
    """Put tabs between columns whose numbers stand under each other.

    Parameters
    ----------
    text : Text
        The file; blanks part its cells.
    titles : sequence of Line
        The line of names, and what stands between it and the rows.
    rows : sequence of Line
        Those of the head.

    Returns
    -------
    Text or None
        None where no blank runs through all rows between columns, numbers do not stand at one edge of theirs, or a
        word of some line would be cut.
    """
    shown = [row.text.rstrip() for row in rows[:MOST_LOOKED_AT] if row.text.strip()]
    heads = [line.text.rstrip() for line in titles]
    if len(shown) < FEWEST_ROWS or max(map(len, [*shown, *heads])) > LONGEST_LINE or "\t" in "".join(shown):
        return None
    runs = find_true_runs(_held(shown))
    if len(runs) < 2:
        return None
    body = text.decode(text.data[rows[0].start :]).replace("\r", "" if text.line_end == "\n" else "\r")
    lines = [line.rstrip() for line in body.split(text.line_end)]
    filled = [line for line in lines if line and _holds_numbers(line.split())]
    if all(_aligned(line, [run.stop - 1 for run in runs], [run.start for run in runs]) for line in filled):
        cuts = [run.stop for run in runs[:-1]]
    elif all(_aligned(line, [run.start for run in runs], [run.start for run in runs]) for line in filled):
        cuts = [run.start for run in runs[1:]]
    else:
        return None
    if any(_cut(line, cuts) for line in [*heads, *filled]) or not all(_cells(heads[0], cuts)):
        return None
    if not all(_holds_numbers(_cells(line, cuts)) for line in filled):
        return None
    above = text.data[: titles[0].start]
    table = ["\t".join(_cells(line, cuts)) if line else "" for line in [*heads, *lines]]
    told = Finding("marks-taken-off", "note", "The columns were told apart by their places on the line.", "")
    data = above + text.line_end.join(table).encode(text.byte_encoding, "replace")
    return replace(text, data=data, delimiter_written=" ", findings=(*text.findings, told))


def _held(lines: Sequence[str]) -> BoolArray:
    """At which places of a line some row holds a sign."""
    held = np.zeros(max(map(len, lines)), dtype=bool)
    for line in lines:
        held[: len(line)] |= np.frombuffer(line.encode("utf-32-le"), dtype=np.uint32) != ord(" ")
    return held


def _aligned(line: str, edges: Sequence[int], starts: Sequence[int]) -> bool:
    """Whether each word of a row stands at its column's edge; else a cell may be gone, and others in its place."""
    ends = [*starts[1:], len(line)]
    return all(
        not line[start:end].strip() or (edge < len(line) and line[edge] != " ")
        for start, end, edge in zip(starts, ends, edges, strict=True)
    )


def _cut(line: str, cuts: Sequence[int]) -> bool:
    """Whether a word would be cut."""
    return any(0 < at < len(line) and line[at - 1] != " " and line[at] != " " for at in cuts)


def _cells(line: str, cuts: Sequence[int]) -> list[str]:
    return [line[start:stop].strip() for start, stop in itertools.pairwise([0, *cuts, len(line)])]


def _holds_numbers(cells: Sequence[str]) -> bool:
    return all(not cell or min(_kind(cell, "."), _kind(cell, ",")) == "" for cell in cells)


def _kind(cell: str, decimal: str) -> str:
    kind = kind_of_cell(cell, decimal)
    return "" if kind in ("number", "clock", "no value", "flag") else kind
