"""Streams of several kinds of rows by turns, each beginning with the word of its kind, under headers with that word.

Public: `Streams`, `kinds_by_turns`, `streams_apart`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from passband.analysis.reading.text.cells import kind_of_cell, split_line
from passband.analysis.results.findings import Finding

MOST_KINDS, FEWEST_KINDS = 60, 2
"""Kinds of rows; one alone is a column of words."""
FEWEST_ROWS = 3
"""Rows of a kind that is read."""
_WORD = re.compile(r"[^\W\d]\w{0,15}")
_BEGINS = re.compile(r"\s*\"?[^\W\d]")
DELIMITERS = (",", ";", "\t", "|")


@dataclass(frozen=True, slots=True)
class Streams:
    """Rows put apart."""

    lines: tuple[str, ...]
    """A block of rows under its header for each kind, an empty line between."""
    finding: Finding
    """What was done."""


def kinds_by_turns(rows: Sequence[str], head: Sequence[str]) -> str | None:
    """The delimiter of lines that each begin with the word of their kind, under headers with these words.

    Parameters
    ----------
    rows : sequence of str
        Some lines where rows have begun.
    head : sequence of str
        The lines of the head, in which two kinds or more must have a header.

    Returns
    -------
    str or None
        None where it is not so.

    Examples
    --------
    >>> rows = ["ENG,0.1,900", "GPS,0.1,3.4"]
    >>> kinds_by_turns(rows, ["#ENG,Time,RPM", "#GPS,Time,Speed", *rows]), kinds_by_turns(rows, rows)
    (',', None)
    """
    if not all(map(_BEGINS.match, rows)):
        return None
    for mark in DELIMITERS:
        kinds = [_kind(line, mark) for line in rows]
        if rows and None not in kinds and FEWEST_KINDS <= len(set(kinds)) <= MOST_KINDS:
            others = [_cells_of(line, mark)[:2] for line in head if _kind(line, mark) is None]
            if sum(not set(kinds).isdisjoint(cells) for cells in others) >= FEWEST_KINDS:
                return mark
    return None


def streams_apart(lines: Iterable[str], mark: str) -> Streams | None:
    """Put the rows of each kind one below another, under their own header.

    Parameters
    ----------
    lines : iterable of str
        All lines of the file.
    mark : str
        The delimiter.

    Returns
    -------
    Streams or None
        None where fewer than two kinds have a header.

    Examples
    --------
    >>> rows = [f"{kind},{at},{at * 2}" for at in range(9) for kind in ("ENG", "GPS")]
    >>> made = streams_apart(["#ENG,Time,RPM", "#GPS,Time,Speed", *rows], ",").lines
    >>> made[:2], made[10:13]
    (('Time,RPM', '0,0'), ('', 'Time,Speed', '0,0'))
    """
    rows: dict[str, list[str]] = {}
    others: list[list[str]] = []
    for line in lines:
        kind = _kind(line, mark) if line.strip() else None
        if kind is not None:
            rows.setdefault(kind, []).append(line.partition(mark)[2])
        elif line.strip():
            others.append(_cells_of(line, mark))
    headers = {kind: _header_of(kind, held, others, mark) for kind, held in rows.items() if len(held) >= FEWEST_ROWS}
    named = {kind: header for kind, header in headers.items() if header}
    if not FEWEST_KINDS <= len(named) <= MOST_KINDS:
        return None
    made: list[str] = []
    for kind, header in named.items():
        made += [*([""] if made else []), header, *rows[kind]]
    left = sum(len(held) for kind, held in rows.items() if kind not in named)
    said = f"Rows of {len(named)} kinds stand by turns ({', '.join([*named][:4])}); each kind is read under its header."
    if left:
        said += f" {left} rows of kinds without a header were set aside."
    return Streams(tuple(made), Finding("marks-taken-off", "caution" if left else "note", said, ""))


def _cells_of(line: str, mark: str) -> list[str]:
    """The cells of a line without the signs that mark it as no row."""
    return [cell.lstrip("#;%/!* ") for cell in split_line(line, mark)]


def _kind(line: str, mark: str) -> str | None:
    """The word that a row of numbers begins with; None where it does not."""
    cells = split_line(line, mark)
    if len(cells) < 2 or not _WORD.fullmatch(cells[0]):
        return None
    words = sum(kind_of_cell(cell, ".") == "words" for cell in cells[1:])
    return cells[0] if 2 * words <= len(cells) - 1 else None


def _header_of(kind: str, rows: Sequence[str], others: Sequence[Sequence[str]], mark: str) -> str:
    """The names of a kind's cells: a line that begins with its word, or has it second; empty where there is none."""
    width = Counter(row.count(mark) + 1 for row in rows).most_common(1)[0][0]
    for cells in others:
        if kind not in cells[:2] or len(cells) - cells.index(kind) - 1 < width:
            continue
        names = cells[-width:]
        if all(kind_of_cell(name, ".") == "words" for name in names):
            return mark.join(names)
    return ""
