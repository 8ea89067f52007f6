"""Heads and feet of printed pages among rows parted by blanks, as text copied off a page holds them.

Public: `without_page_heads`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from passband.analysis.reading.text.encoding import Text
from passband.analysis.results.findings import Finding

LARGEST_BYTES = 8_000_000
"""Nobody copies more off pages: a page holds 60 rows."""
MOST_SHARE = 0.3
"""Share of the lines below the first row that pages may add; more are something else. [-]"""


def without_page_heads(text: Text, is_row: Callable[[str], bool]) -> Text:
    """The text with the lines that each page prints again taken out.

    Parameters
    ----------
    text : Text
        The file.
    is_row : function
        Whether a line is a row.

    Returns
    -------
    Text
        The same where no line above the rows stands below the first of them again, numbers aside, or where some line
        there is neither a row, nor empty, nor printed more than once.
    """
    if len(text.data) > LARGEST_BYTES or text.line_end != "\n":
        return text
    head = text.lines()
    row = next((line for line in head if is_row(line.text)), None)
    named = [line.text.strip() for line in head if row is not None and line.start < row.start and line.text.strip()]
    if row is None or not any(text.data.find(name.encode(text.byte_encoding), row.start) > 0 for name in named):
        return text
    lines = [line.removesuffix("\r") for line in text.decode(text.data).split("\n")]
    first = next((at for at, line in enumerate(lines) if is_row(line)), None)
    if first is None:  # a row by itself, whose broken letters are others amid the whole
        return text
    heads = {_evened(line) for line in lines[:first] if line.strip()}
    others = {at: _evened(line) for at, line in enumerate(lines[first:], first) if line.strip() and not is_row(line)}
    often = Counter(others.values())
    if not heads.intersection(often) or len(others) > MOST_SHARE * (len(lines) - first):
        return text
    if any(one not in heads and number == 1 for one, number in often.items()):
        return text
    kept = [line for at, line in enumerate(lines) if at < first or (line.strip() and at not in others)]
    said = f"The rows were printed on pages: {len(others)} lines that stand on each of them were taken out."
    data = ("\n".join(kept) + "\n").encode(text.byte_encoding, "replace")
    return replace(text, data=data, findings=(*text.findings, Finding("marks-taken-off", "note", said, "")))


def _evened(line: str) -> str:
    """A line as all pages print it, whatever its number."""
    return re.sub(r"\d+", "0", " ".join(line.split()))
