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
    name, unit = split_name_and_unit(written)
    if not recognise_name(name):
        return header
    return replace(
        header,
        names=(header.names[0], written),
        bare=(header.bare[0], name),
        units=(header.units[0], unit or header.units[1]),
    )
