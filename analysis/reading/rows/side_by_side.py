"""Runs that stand side by side in a sheet, each with the same names over its columns, put one below another.

Public: `one_below_another`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.cells import split_line
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.results.findings import Finding

MOST_LINES_ABOVE = 6
"""Lines above the rows in which the names are looked for."""
_COUNTED = re.compile(r"(?:[ ._]\d{1,2}|[ _]?\(\d{1,2}\))$")
"""What a program puts behind a name that stands there already."""


def one_below_another(text: Text, layout: Layout) -> Text:
    """Put the columns of each run under the rows of the one before, its names above them.

    Parameters
    ----------
    text : Text
        The file.
    layout : Layout
        Of its rows.

    Returns
    -------
    Text
        The same where no line of names repeats itself from left to right, the time among them.
    """
    above = layout.above[-MOST_LINES_ABOVE:]
    found = next(((at, wide) for at, line in enumerate(above) if (wide := _width(line.text, layout))), None)
    if found is None:
        return text
    at, wide = found
    begins = above[max(at - 1, 0)].start
    lines = [split_line(line, layout.delimiter) for line in text.decode(text.data[begins:]).split(text.line_end)]
    heads = len(above) - max(at - 1, 0)
    made: list[str] = []
    for first in range(0, layout.width, wide):
        own = [row[first : first + wide] for row in lines]
        kept = own[:heads] + [row for row in own[heads:] if any(row)]
        made += [_line(row, layout.delimiter) for row in kept] + [""]
    many = len(range(0, layout.width, wide))
    said = f"{many} runs stand side by side under the same names; they were put one below another."
    told = Finding("shape-changed", "note", said, f"line {above[at].number}")
    data = text.data[:begins] + text.line_end.join(made).encode(text.byte_encoding, "replace")
    return replace(text, data=data, findings=(*text.findings, told))


def _width(line: str, layout: Layout) -> int:
    """Columns of each run, a free one behind it among them; 0 where the line does not repeat itself."""
    cells = [_COUNTED.sub("", cell) for cell in split_line(line, layout.delimiter)]
    cells = (cells + [""] * layout.width)[: layout.width]
    times = [at for at, cell in enumerate(cells) if _is_time(cell)]
    if len(times) < 2 or times[0] != 0:
        return 0
    wide = times[1]
    parts = [cells[first : first + wide] for first in range(0, len(cells), wide)]
    if not parts[-1:] or not any(parts[-1]):
        parts.pop()
    bare = [[cell for cell in part if cell] for part in parts]
    same = len(parts) > 1 and all(part == bare[0] for part in bare) and any(map(_is_channel, bare[0][1:]))
    return wide if same and len(parts) * wide >= layout.width - 1 else 0


def _is_time(cell: str) -> bool:
    return bool(cell) and any(match.channel == "time" for match in recognise_name(split_name_and_unit(cell)[0]))


def _is_channel(cell: str) -> bool:
    return any(match.channel != "time" for match in recognise_name(split_name_and_unit(cell)[0]))


def _line(cells: Sequence[str], delimiter: str) -> str:
    return delimiter.join(f'"{cell}"' if delimiter in cell else cell for cell in cells)
