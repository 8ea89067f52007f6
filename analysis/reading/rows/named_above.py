"""Tables of one channel each, whose name stands on the line above and not over the column: ``Channel: RPM [rpm]``.

Public: `named_by_line_above`.
"""

from __future__ import annotations

import re
from dataclasses import replace

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.name_and_unit import split_name_and_unit

_GENERIC = frozenset("value values val data reading wert werte messwert valeur valor valore värde waarde y".split())
"""What a column is called where the name stands elsewhere; from memory."""
_LABEL = re.compile(
    r"(?i)\W*(?:(?:channel|chan|ch|signal|name|parameter|variable|kanal|canal|canale|voie|señal)\b\s*\d*\s*[:=,;]?\s*)?"
    r"(?P<name>.*?)[\s:;,.=#*-]*$",
    re.DOTALL,
)
LONGEST_LINE = 200
"""Signs of a line that names a channel."""


_SAYS_CHANNEL = re.compile(
    r"(?i)\W*(?:channel|chan|ch|signal|name|parameter|variable|sensor|kanal|canal|canale|voie|señal)\b\s*\d*\s*[:=,;\t]\s*(.+)"
)
_SAYS_UNIT = re.compile(
    r"(?i)\W*(?:units?|einheit|unité|unidad|unidade|unità|eenheid|enhet|jednotka|jednostka)\s*[:=,;\t]\s*(.+)"
)
MOST_LINES_ABOVE = 8
"""Lines above such a table that describe its channel."""


def _of_lines_above(text: Text, start: int) -> str:
    """The name and unit that lines right above a table give, each on its own: ``CHANNEL;RPM``, ``UNIT;rpm``."""
    before = text.data[max(start - MOST_LINES_ABOVE * LONGEST_LINE, 0) : start].split(text.line_end.encode("ascii"))
    name = unit = ""
    for line in before[-2 : -2 - MOST_LINES_ABOVE : -1]:
        shown = text.decode(line).strip(" \t\r,;|")
        if not shown:
            break
        named, measured = _SAYS_CHANNEL.fullmatch(shown), _SAYS_UNIT.fullmatch(shown)
        name = name or (named[1].strip() if named else "")
        unit = unit or (measured[1].strip() if measured else "")
    return f"{name} [{unit}]" if name and unit else name


def named_by_line_above(text: Text, header: Header) -> Header:
    """The header with the name of the line above in place of a word that names nothing.

    Parameters
    ----------
    text : Text
        The file.
    header : Header
        Of two columns, a time and a value; any other is left alone.

    Returns
    -------
    Header
        The same where the line above names no channel that is known.
    """
    if len(header.names) != 2 or header.bare[1].strip().casefold() not in _GENERIC:
        return header
    mark = text.line_end.encode("ascii")
    before = text.data[max(header.start - 2 * LONGEST_LINE, 0) : header.start].rstrip(b" \t\r\n,;|")
    line = text.decode(before[before.rfind(mark) + 1 :]).strip(" \t\r,;|")
    match = _LABEL.fullmatch(line) if len(line) <= LONGEST_LINE else None
    written = match["name"] if match else ""
    if not recognise_name(split_name_and_unit(written)[0]):
        written = _of_lines_above(text, header.start) or written
    name, unit = split_name_and_unit(written)
    if not recognise_name(name):
        return header
    return replace(
        header,
        names=(header.names[0], written),
        bare=(header.bare[0], name),
        units=(header.units[0], unit or header.units[1]),
    )
