"""A logger that was restarted writes a second recording into the same file: where each begins.

Public: `find_repeated_headers`.
"""

from __future__ import annotations

from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import Layout


def find_repeated_headers(text: Text, layout: Layout, header: Header) -> list[int]:
    """Bytes at which the header stands again: a logger that was restarted writes a second recording.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of its first recording.
    header : Header
        Of its first recording.

    Returns
    -------
    list of int
        Start of each later recording, its own preamble included; empty where there is none.
    """
    if header.header_line is None:
        return []
    first = text.data[header.start : layout.first_data.start].split(text.line_end.encode("ascii"))[0].rstrip(b"\r")
    cuts: list[int] = []
    at = text.data.find(first, layout.first_data.start)
    while at >= 0:
        if text.data[at - 1 : at] == text.line_end.encode("ascii"):
            cuts.append(_start_of_preamble(text, layout, at))
        at = text.data.find(first, at + len(first))
    return cuts


def _start_of_preamble(text: Text, layout: Layout, header_at: int) -> int:
    """Go up from a repeated header past the lines that are no rows of data."""
    line_end = text.line_end.encode("ascii")
    delimiter = layout.delimiter.encode("ascii")
    start = header_at
    for _ in range(70):
        if start <= layout.first_data.start:
            break
        before = text.data.rfind(line_end, 0, start - 1) + 1
        line = text.data[before:start].strip()
        if line.count(delimiter) >= layout.width - 2 and line[:1] in b'0123456789.-+"':
            break
        start = before
    return start
