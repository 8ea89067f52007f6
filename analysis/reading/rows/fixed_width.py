"""Columns parted by runs of blanks, as on a printed page.

Read where the line of names and every row hold as many words, where each column has its place on the line, where the
words make so many known names in one way, or where a list above names the columns; refused otherwise, because a blank
cell and a name of two words look alike there.

Public: `part_at_blanks`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from passband.analysis.channels.log import NotALog
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.rows.columns_by_digits import parted_by_digits
from passband.analysis.reading.rows.columns_by_place import parted_by_place
from passband.analysis.reading.rows.printed_pages import without_page_heads
from passband.analysis.reading.text.cells import kind_of_cell, split_line
from passband.analysis.reading.text.encoding import Line, Text
from passband.analysis.reading.text.listed_names import names_listed
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.reading.text.names_in_a_line import names_among
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.reading.text.title_rows import all_units

_TAIL_BYTES = 8000
"""Part of the file's end that tells whether its rows are parted by blanks; a row of 500 numbers fits."""
_FOOTER = 3
"""Lines of words below the rows, as programs end a table with its size, and one more."""
_FEWEST = 2
"""Numbers in a row: a time and a channel."""


def part_at_blanks(text: Text, *, name: str) -> Text:
    """Put tabs for the runs of blanks between columns, where nothing else parts them.

    Parameters
    ----------
    text : Text
        The file.
    name : str
        Its name, for the sentence of a refusal.

    Returns
    -------
    Text
        The same where its rows are not numbers parted by blanks.

    Raises
    ------
    NotALog
        If they are, and names and rows do not agree on how many there are.
    """
    if not _is_row(_last_row(text)):
        return parted_by_digits(text) or text
    text = without_page_heads(text, _is_row)
    lines = text.lines()
    first = next((at for at, line in enumerate(lines) if _is_row(line.text)), None)
    if first is None:
        return text
    titles, cells = _titles(lines[:first]), len(lines[first].text.split())
    rows, footer = _with_tabs(text, lines[first].start)
    uneven = any(row and row.count(b"\t") != cells - 1 for row in rows[:-1]) or rows[-1].count(b"\t") >= cells
    listed = names_listed([line.text for line in lines[:first]], cells)
    if listed is not None and titles and titles[0] in lines[listed.first : listed.stop]:
        titles = []
    if any(mark in line.text for line in titles for mark in ",;\t|"):
        return text  # its names are parted otherwise
    names = [_words(line.text, cells) for line in titles]
    if names and len(names[0]) == cells > 1:
        names[0] = _under_words_above(lines[: lines.index(titles[0])], titles[0].text, names[0])
    if names and len(names[0]) == cells - 1 and _count(rows):
        names = [["", *words] if len(words) == cells - 1 else words for words in names]
    if uneven or not titles or not _agree(names, cells):
        placed = parted_by_place(text, titles, lines[first:]) if titles else None
        if placed is not None:
            return placed
        names[:1] = [names_among(_line_of_names(line.text).split(), wanted=cells) or ["?"] for line in titles[:1]]
        if not _agree(names, cells) and listed is not None:
            titles, names = [], []
        if uneven or not _agree(names, cells) or not (titles or listed):
            raise NotALog(_refusal(name, cells, titles, lines[first]))
    above = [text.data[: (titles or lines[first:])[0].start]]
    above += [("\t".join(words) + text.line_end).encode(text.byte_encoding) for words in names]
    return replace(
        text, data=b"".join(above) + text.line_end.encode("ascii").join(rows + footer), delimiter_written=" "
    )


def _count(rows: list[bytes]) -> bool:
    """Whether the first cells of the rows count them, from 0 or 1, as a program numbers rows that have no number."""
    first = [row.split(b"\t", 1)[0].strip(b'"') for row in rows if row]
    return first == [b"%d" % at for at in range(int(first[0] == b"1"), len(first) + int(first[0] == b"1"))]


def _agree(names: list[list[str]], cells: int) -> bool:
    return all(len(words) in (0, cells) for words in names)


def _last_row(text: Text) -> str:
    """One of the last whole lines that is a row, above what may stand below the rows; else the last."""
    lines = text.decode(text.data[-_TAIL_BYTES:].rstrip()).splitlines()
    whole = [line for line in lines[:-1] if line.strip()][-_FOOTER:]
    return next((line for line in reversed(whole) if _is_row(line)), "")


def _is_row(line: str) -> bool:
    """Whether a line is numbers parted by blanks alone."""
    words = line.split(" ") if " " in line else []
    filled = [word for word in words if word]
    return len(filled) >= _FEWEST and _are_numbers(filled, ".") | _are_numbers(filled, ",")


def _are_numbers(words: list[str], decimal: str) -> bool:
    kinds = [kind_of_cell(word.strip('"'), decimal) for word in words]
    return all(kind in ("number", "clock", "no value", "flag") for kind in kinds) and kinds.count("number") >= 1


def _titles(above: Sequence[Line]) -> list[Line]:
    """The line of names and what stands between it and the rows: a line of units, an empty one."""
    titles: list[Line] = []
    for line in reversed(above):
        titles.insert(0, line)
        if line.text.strip(" -=_") and not all_units(_with_brackets_whole(line.text.split())):
            return titles
    return []


def _words(line: str, wanted: int) -> list[str]:
    """The words of a line; where these are too many, what stands between runs of two blanks or more.

    A sign that marks the line as no row, as programs that draw curves want it, is no word.
    """
    line = _line_of_names(line)
    words = _with_brackets_whole([word for word in split_line(line.strip(), " ") if word])
    return words if len(words) in (0, wanted) or '"' in line else re.split(r" {2,}", line.strip())


def _with_brackets_whole(words: list[str]) -> list[str]:
    """Words with those of one bracket as one: ``[deg C]``."""
    whole: list[str] = []
    for word in words:
        opened = whole and any(whole[-1].startswith(left) and right not in whole[-1] for left, right in ("[]", "()"))
        if opened and re.fullmatch(r"[^\[(]*[\])]", word):
            whole[-1] = f"{whole[-1]} {word}"
        else:
            whole.append(word)
    return whole


FEWEST_NAMED_BY_BOTH = 2
"""Names that two lines together must make known; one may be by chance."""


def _under_words_above(above: Sequence[Line], title: str, names: list[str]) -> list[str]:
    """Names with the words that stand right above each, where both lines together name more than the lower alone."""
    spans = [match.span() for match in re.finditer(r"\S+", title)]
    upper = above[-1].text if above else ""
    words = [(match.group(), match.start(), match.end()) for match in re.finditer(r"\S+", upper)]
    if len(spans) != len(names) or not words:
        return names
    made = [*names]
    for word, start, stop in reversed(words):
        over = [at for at, (left, right) in enumerate(spans) if start < right and left < stop]
        if len(over) != 1:
            return names
        made[over[0]] = f"{word} {made[over[0]]}"
    known, were = ([bool(recognise_name(split_name_and_unit(one)[0])) for one in some] for some in (made, names))
    lost = any(was and not now for was, now in zip(were, known, strict=True))
    return made if not lost and sum(known) >= sum(were) + FEWEST_NAMED_BY_BOTH else names


def _line_of_names(line: str) -> str:
    return line.strip().lstrip("#%;!").strip()


def _with_tabs(text: Text, start: int) -> tuple[list[bytes], list[bytes]]:
    """The rows from a byte on, blanks around each taken off and those within made tabs; and lines of words below them.

    The last row may be cut, or empty behind the last line end.
    """
    data = text.data[start:].replace(b"\r", b"") if text.line_end == "\n" else text.data[start:]
    lines = data.split(text.line_end.encode("ascii"))
    end = len(lines)
    while end > 1 and len(lines) - end < _FOOTER + 2 and not _is_row(text.decode(lines[end - 1])):
        end -= 1
    below = [line for line in lines[end:] if line.strip()]
    is_footer = any(re.search(rb"[A-Za-z]{2}", line) or not re.search(rb"\d", line) for line in below)
    rows, footer = (lines[:end], [*below, b""]) if is_footer else (lines, [])
    return [b"\t".join(row.split()) for row in rows], footer


def _refusal(name: str, cells: int, titles: list[Line], row: Line) -> str:
    over = f"under {quoted_start(titles[0].text.strip())}" if titles else "under no names"
    return (
        f"{name}: looked for columns parted by blanks under as many names, found {cells} numbers in "
        f"{quoted_start(row.text.strip())} {over}, or rows of other lengths; a blank cell cannot be told from the "
        "space between columns. Export with a comma, a semicolon or a tab between the cells."
    )
