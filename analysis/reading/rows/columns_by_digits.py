"""Columns at fixed places with nothing between them, as a controller prints digits: ``000.0200980035.1``.

Read where the names above stand over their columns and every row, cut there, is a number in each place.

Public: `parted_by_digits`.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import replace

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.results.findings import Finding

FEWEST_ROWS, LONGEST_ROW = 20, 2000
"""Rows of one length that show it, and the signs of the longest that is looked at."""
_ROW = re.compile(r"[-+.\d]{6,}")
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d*)?")
_SAID = "The columns stand at fixed places with nothing between them; they were parted where their names begin or end."


def parted_by_digits(text: Text) -> Text | None:
    """The text with tabs between its columns.

    Parameters
    ----------
    text : Text
        The file.

    Returns
    -------
    Text or None
        None where its last lines are not digits of one length, or the names above do not part them into numbers, the
        point of each column in one place, or fewer than two of the names are known.
    """
    lines = text.lines()
    last = lines[-2].text if len(lines) > FEWEST_ROWS else ""
    if len(last) > LONGEST_ROW or _ROW.fullmatch(last) is None:
        return None
    first = next((at for at, line in enumerate(lines) if len(line.text) == len(last) and _ROW.fullmatch(line.text)), 0)
    rows = [line.text for line in lines[first:-1] if len(line.text) == len(last)]
    names = next((line for line in reversed(lines[:first]) if re.search(r"[^\W\d]", line.text)), None)
    if names is None or len(rows) < FEWEST_ROWS:
        return None
    placed = _names_by_place([line.text for line in lines[max(first - MOST_LINES_OF_PLACES, 0) : first]], len(last))
    if placed and _are_columns(rows, [0, *placed]):
        return _parted(text, lines[first].start, lines[first].start, [*placed.values()], [0, *placed])
    for word in (r"\S+(?: \S+)*", r"\S+"):
        found = list(re.finditer(word, names.text))
        written = [match[0] for match in found]
        if sum(bool(recognise_name(split_name_and_unit(one)[0])) for one in written) < 2:
            continue
        begins = [0, *(match.start() for match in found[1:]), len(last)]
        ends = [0, *(match.end() for match in found[:-1]), len(last)]
        for cuts in (begins, ends):
            if _are_columns(rows, cuts):
                return _parted(text, names.start, lines[first].start, written, cuts)
    return None


MOST_LINES_OF_PLACES = 60
"""Lines above the rows that may say where columns stand."""
_PLACES = re.compile(r"(\d{1,4})\s*(?:-|–|to|\.\.|…)\s*(\d{1,4})\s*[:=]?\s*([^\W\d][^,;]*)")


def _names_by_place(above: list[str], width: int) -> dict[int, str]:
    """The columns' names by the place at which each ends, as lines above say: ``1-6 time [ms], 7-11 rpm``."""
    spoken = [match for line in above for match in _PLACES.finditer(line)]
    spans = [(int(match[1]), int(match[2]), match[3].strip()) for match in spoken]
    base = spans[0][0] if spans else 0
    if base not in (0, 1) or len(spans) < 2:
        return {}
    ends = [stop + 1 - base for _, stop, _ in spans]
    if [start - base for start, _, _ in spans] != [0, *ends[:-1]] or ends[-1] != width:
        return {}
    return dict(zip(ends, (name for _, _, name in spans), strict=True))


def _are_columns(rows: list[str], cuts: list[int]) -> bool:
    """Whether every row is a number between each two places, its point always in one place."""
    if sorted(set(cuts)) != cuts:
        return False
    for start, stop in itertools.pairwise(cuts):
        cells = [row[start:stop] for row in rows]
        if not all(map(_NUMBER.fullmatch, cells)) or len({cell.find(".") for cell in cells}) > 1:
            return False
    return True


def _parted(text: Text, names_at: int, rows_at: int, names: list[str], cuts: list[int]) -> Text:
    end = text.line_end.encode("ascii")
    pieces = list(itertools.pairwise(cuts))
    rows = [
        b"\t".join(row[start:stop] for start, stop in pieces) if len(row.rstrip(b"\r")) == cuts[-1] else row
        for row in text.data[rows_at:].split(end)
    ]
    above = text.data[:names_at] + "\t".join(names).encode(text.byte_encoding, "replace") + end
    told = Finding("marks-taken-off", "note", _SAID, "")
    return replace(text, data=above + end.join(rows), findings=(*text.findings, told))
