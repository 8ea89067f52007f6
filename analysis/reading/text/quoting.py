"""Cells quoted otherwise than by the double quotes of RFC 4180, put into those or into none.

Apostrophes as quotes or before numbers, ``="3942"`` of spreadsheets, backslashes as escapes, cells quoted twice, whole
lines in quotes: each is taken for what it says only where the head shows it.

Public: `plainly_quoted`.
"""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import numpy as np

from passband.analysis.reading.text.encoding import HEAD_BYTES, Text
from passband.analysis.reading.text.mended_bytes import holds_letter

FEWEST_CELLS = 2
"""Cells of one line that must be written so: one alone may be prose."""
MOST_LINES_IN_A_CELL = 40
"""Lines of a quoted cell: a remark of more is none."""
# Possessive throughout: a line of a million blanks or quotes must not be tried from each of them.
_EDGE = rb"(?:(?<=[,;\t|\r\n])|\A)[ ]*+"
_END = rb"[ ]*+(?=[,;\t|\r\n]|\Z)"
_FORMULA = re.compile(_EDGE + rb'(?:="([^"\r\n]*)"|"=""([^"\r\n]*)""")' + _END)
_APOSTROPHES = re.compile(_EDGE + rb"'((?:[^'\r\n\"]|'')*+)'" + _END)
_APOSTROPHE_BEFORE = re.compile(_EDGE + rb"'(?=[-+]?[.,]?\d)")
_TWICE = re.compile(
    _EDGE + rb"(?:\"\"\"([^\"\r\n]*+)\"\"\"|'\"([^'\"\r\n]*+)\"'|\"'([^'\"\r\n]*+)'\"|''([^'\"\r\n]*+)'')" + _END
)
"""A cell that was quoted already when it was quoted: ``\"\"\"12.5\"\"\"``, ``'"12.5"'``, ``"'12.5'"``."""
_OPENING = tuple(mark.encode() for mark in "“”„«»「")
_TYPOGRAPHIC = re.compile(_EDGE + '(?:“|”|„|«|»|「)((?:(?!“|”|«|»|」)[^"\r\n])*+)(?:”|“|»|«|」)'.encode() + _END)
"""A cell in the marks that a word processor puts for straight ones; UTF-8."""
_ESCAPED = re.compile(rb"\\([,;\t|\"])")
_ESCAPED_CELL = re.compile(_EDGE + rb"([^,;\t|\r\n\"\\]*+(?:\\[,;\t|][^,;\t|\r\n\"\\]*+)++)" + _END)
_LONE_MARK = re.compile(rb'^([^"\r\n]*[,;\t|])"([,;\t|][^"\r\n]*)$', re.MULTILINE)
"""The only quotation mark of a line, and all of its cell: it opens nothing, and says "as above" or nothing at all."""
_ALONE = re.compile(rb'"(?<=[,;\t|]")[,;\t|]')
"""Begins with the mark itself, which is sought many times as fast as a line that holds but one."""
_PADDED = re.compile(rb'"(?:[ \t]++([,;|])[ \t]*+|([,;|])[ ]*+\t[ \t]*+)(?=")')
"""Blanks or tabs that stand between quoted cells beside what parts them."""
_CELL_TO_ITS_END = rb'[^"\r\n]*+(?:""[^"\r\n]*+)*+'
_OVER_LINES = re.compile(
    rb'"(?:(?<=[,;\t|]")|(?<=[,;\t|] "))%b(?:\r?\n%b){1,%d}+"(?=[,;\t|\r\n]|\Z)'
    % (_CELL_TO_ITS_END, _CELL_TO_ITS_END, MOST_LINES_IN_A_CELL)
)
"""Begins with the mark itself: from there it is sought ten times as fast as from each delimiter."""
_NO_END_OF_A_VALUE = np.frombuffer(b'",;\t| ', dtype=np.uint8)
"""Behind these a mark that ends a line may open a cell, or be one of two within it."""
_IS_ROW = re.compile(rb"\n[-+]?\d[\d.:]*+[,;\t|][^\r\n]*+(?=\r?\n)")
"""Within a cell of several lines: a quote that nothing closed would take rows with it."""
_QUOTE = re.compile("['\"]|“|”|„|«|»|「".encode())
_WHOLE_LINE = re.compile(r'"((?:[^"]|"")*+)"')
_WHOLE_LINES = re.compile(rb'^"((?:[^"\r\n]|"")*+)"(?=\r?$)', re.MULTILINE)
_PARTING = re.compile(r"[,;\t|]")


FEWEST_WITHIN, LATEST_QUOTE = 20, 4096
"""Lines of a table that stands in one cell, and the byte by which that cell begins, below what describes it."""


def _out_of_one_cell(data: bytes) -> bytes:
    r"""A file's only quoted cell, where it holds all of the table; what stands before it becomes lines above.

    Examples
    --------
    >>> rows = b"".join(b"%d,1\n" % at for at in range(30))
    >>> _out_of_one_cell(b'pull,log\n7,"Time,RPM\n' + rows + b'"\n').splitlines()[:4]
    [b'pull,log', b'7,', b'Time,RPM', b'0,1']
    """
    ends = data.rstrip()
    first = data.find(b'"', 0, LATEST_QUOTE)
    if first < 0 or not ends.endswith(b'"'):
        return data
    within = ends[first + 1 : -1]
    if b'"' in within[:LATEST_QUOTE].replace(b'""', b""):
        return data  # most files with quotes
    if within.count(b"\n") < FEWEST_WITHIN or within.replace(b'""', b"").count(b'"'):
        return data
    above = data[:first].rstrip(b" ")
    return (above + b"\n" if above else b"") + within.replace(b'""', b'"') + b"\n"


def plainly_quoted(text: Text) -> Text:
    """The text with its cells in double quotes or in none.

    Parameters
    ----------
    text : Text
        The file.

    Returns
    -------
    Text
        The same where it holds nothing of the kind.
    """
    data = _out_of_one_cell(text.data)
    head = data[:HEAD_BYTES]
    if b'"' in head and (b'="' in head or b'"=""' in head):
        data = _FORMULA.sub(lambda match: match[1] if match[1] is not None else match[2], data)
    opening = not head.isascii() and any(holds_letter(mark, head) for mark in _OPENING)
    if opening and _most_in_a_line(_TYPOGRAPHIC, head) >= FEWEST_CELLS:
        data = _TYPOGRAPHIC.sub(rb'"\1"', data)
        head = data[:HEAD_BYTES]
    marked = b'"' in head or b"'" in head
    twice = marked and any(mark in head for mark in (b'"""', b"'\"", b"\"'", b"''"))
    if twice and _most_in_a_line(_TWICE, head) >= FEWEST_CELLS:
        data = _TWICE.sub(lambda match: b'"' + next(one for one in match.groups() if one is not None) + b'"', data)
        head = data[:HEAD_BYTES]
    if b"'" in head:
        data = _without_apostrophes(data, head)
    if b"\\" in head:
        data = _without_backslashes(data)
    if b'"' in data:
        if (b'" ' in head or b"\t" in head) and _most_in_a_line(_PADDED, head) >= FEWEST_CELLS:
            data = _PADDED.sub(lambda match: b'"' + (match[1] or match[2]), data)
        if text.line_end == "\n":
            data = _cells_in_one_line(data)
    if head.lstrip().startswith(b'"') or b'\n"' in head or b'\r"' in head:
        data = _without_quotes_around_lines(text, data)
    if b'"' in head and _ALONE.search(head) and _LONE_MARK.search(head):
        data = _LONE_MARK.sub(rb"\1\2", data)
    return text if data is text.data else replace(text, data=data)


def _cells_in_one_line(data: bytes) -> bytes:
    """Looked for in the head alone where no mark stands behind it, as in a large file with some in its preamble."""
    end = HEAD_BYTES if data.find(b'"', HEAD_BYTES - 1) < 0 else len(data)
    marked = data[:end]
    if not _may_go_on(marked):
        return data
    plain = _OVER_LINES.sub(_in_one_line, marked)
    return data if plain == marked else plain + data[end:]


def _may_go_on(data: bytes) -> bool:
    """Whether a quoted cell may go on in the next line: some line with a mark does not end with a closed cell.

    Seen so, rows that are quoted throughout cost a fortieth of trying each of their marks.
    """
    raw = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(raw == ord("\n"))
    begins = np.concatenate(([0], ends + 1))
    ends = np.append(ends, raw.size)
    last = ends - 1 - (raw[np.maximum(ends - 1, 0)] == ord("\r"))
    before = raw[np.maximum(last - 1, 0)]
    closed = (last > begins) & (raw[np.maximum(last, 0)] == ord('"')) & ~np.isin(before, _NO_END_OF_A_VALUE)
    return any(
        data.find(b'"', *line) >= 0 for line in zip(begins[~closed].tolist(), ends[~closed].tolist(), strict=True)
    )


def _in_one_line(match: re.Match[bytes]) -> bytes:
    """A quoted cell of several lines with blanks for its line ends; as it stands where rows are within."""
    return match[0] if _IS_ROW.search(match[0]) else re.sub(rb"\r?\n", b" ", match[0])


def _most_in_a_line(pattern: re.Pattern[bytes], head: bytes) -> int:
    return max((len(pattern.findall(line)) for line in re.split(rb"[\r\n]+", head) if _QUOTE.search(line)), default=0)


def _without_apostrophes(data: bytes, head: bytes) -> bytes:
    if _most_in_a_line(_APOSTROPHES, head) >= FEWEST_CELLS:
        return _APOSTROPHES.sub(lambda match: b'"' + match[1].replace(b"''", b"'") + b'"', data)
    if _most_in_a_line(_APOSTROPHE_BEFORE, head) >= FEWEST_CELLS:
        return _APOSTROPHE_BEFORE.sub(b"", data)
    return data


def _without_backslashes(data: bytes) -> bytes:
    """Escaped quotes doubled, as within quotes; a cell with an escaped delimiter put into quotes."""
    data = data.replace(b'\\"', b'""')
    return _ESCAPED_CELL.sub(lambda match: b'"' + _ESCAPED.sub(rb"\1", match[1]) + b'"', data)


def _without_quotes_around_lines(text: Text, data: bytes) -> bytes:
    """Lines that are one quoted cell, with cells of their own within, out of their quotes."""
    head = data[:HEAD_BYTES].decode(text.byte_encoding, errors="replace")
    lines = [line for line in re.split(r"[\r\n]+", head) if line]
    around = [line for line in lines if _WHOLE_LINE.fullmatch(line) and _PARTING.search(line)]
    inner = max((len(_PARTING.findall(line)) + 1 for line in around), default=0)
    if inner < FEWEST_CELLS or any(_cells(line) > inner for line in lines):
        return data  # prose: the rows hold more cells than it

    def out_of_quotes(match: re.Match[bytes]) -> bytes:
        return match[1].replace(b'""', b'"') if re.search(rb"[,;\t|]", match[1]) else match[0]

    data = data.replace(b"\r", b"\n") if text.line_end == "\r" else data
    data = _WHOLE_LINES.sub(out_of_quotes, data)
    return data.replace(b"\n", b"\r") if text.line_end == "\r" else data


def _cells(line: str) -> int:
    """Cells of a line under the delimiter that parts it most."""
    return max(len(next(csv.reader([line], delimiter=mark), [])) for mark in ",;\t|")
