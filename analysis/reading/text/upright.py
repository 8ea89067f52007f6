"""Tables of other shapes stood upright: one row of cells for each moment, under one row of names.

Public: `rows_of_marks`, `Upright`, `may_be_transposed`, `transposed`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from passband.analysis.channels.log import NotALog
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.cells import number_of, split_line
from passband.analysis.reading.text.json_tables import rows_of_json
from passband.analysis.reading.text.markup_tables import rows_of_html, rows_of_xml
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.reading.text.rich_text import in_angle_brackets, plain_of_rich_text
from passband.analysis.reading.text.sql_tables import rows_of_sql

LARGEST_BYTES = 24_000_000
"""More of JSON, XML or HTML is not looked into: it takes several times its size to stand upright."""
FEWEST_MOMENTS, MOST_CHANNELS = 20, 1000
"""Cells in each line, and lines, of a table whose channels lie one below the other."""
LOOKED_AT = 80
"""Lines above such a table that may be something else."""
MOSTLY_NUMBERS = 0.8
"""Share of such a line's cells, behind its names, that are numbers or blank."""
_LONG_LINE = re.compile(
    rb"[\r\n][^\W\d](?:[^\r\n;\t,|]*(?:[;\t,|][^\r\n;\t,|]*){0,2}(?:[;\t,|][-+ ]?[\d.:]{1,30}){20}|"
    rb"[^\r\n:=]{0,60}[:=][ \t\[({]{0,8}(?:[-+]?[\d.]{1,30}[;,|]?[ \t]{1,8}){20})"
)
"""Begins with an end of line, which is sought fifty times as fast as a beginning."""
_NAMED = re.compile(r"([^\W\d][^;\t|:=]{0,60})[:=]")
"""A name and a colon before the values of a channel from left to right."""
_ENTITY = re.compile(r"<!ENTITY\b")


@dataclass(frozen=True, slots=True)
class Upright:
    """A table stood upright."""

    text: str
    """Lines that end in a line feed, cells parted by tabs."""
    said: str
    """What was done, in a whole sentence."""


def rows_of_marks(text: str, *, name: str) -> Upright | None:
    """A table that JSON, XML or HTML holds.

    Parameters
    ----------
    text : str
        The whole file.
    name : str
        Its name, for the sentence of a refusal.

    Returns
    -------
    Upright or None
        None where the text is neither, or holds no table. More than `LARGEST_BYTES` should not be given.

    Raises
    ------
    NotALog
        If it declares entities of its own, which may grow without bound.
    """
    start = text[:4096].lstrip("\ufeff \t\r\n")
    plain = plain_of_rich_text(text.lstrip())
    if plain is not None:
        return Upright(plain, "The file is rich text; its marks were taken off.")
    page = in_angle_brackets(text)
    if page is not None:
        rows = rows_of_html(page)
        return None if rows is None else _of_rows(rows, "a forum's post")
    if start[:1] not in ("{", "[", "<"):
        rows = rows_of_sql(text)
        return None if rows is None else _of_rows(rows, "a dump of a database (SQL)")
    is_html = start[:1] == "<" and re.search(r"(?i)<t[rd][\s>]", text[:200_000]) is not None
    if start[:1] == "<" and not is_html and not re.match(r"<[?!A-Za-z_]", start):
        return None
    if start[:1] != "<":
        rows, what = rows_of_json(text), "JSON"
    elif is_html:
        rows, what = rows_of_html(text), "a page (HTML)"
    elif _ENTITY.search(text):
        raise NotALog(
            f"{name}: looked for rows of numbers, found XML that declares entities of its own, which are not expanded. "
            "Export the run as text (CSV)."
        )
    else:
        rows, what = rows_of_xml(text), "XML"
    if rows is None:
        return None
    return _of_rows(rows, what)


def _of_rows(rows: list[list[str]], what: str) -> Upright:
    lines = ["\t".join(cell.replace("\t", " ") for cell in row) for row in rows]
    return Upright("\n".join(lines) + "\n", f"The file is {what}; the rows of its table were read.")


def may_be_transposed(start: bytes) -> bool:
    """Whether a file may be a table whose lines are channels: a long line of numbers behind words.

    Parameters
    ----------
    start : bytes
        Where the file begins.
    """
    return _LONG_LINE.search(b"\n" + start) is not None


def transposed(lines: list[str]) -> Upright | None:
    """A table whose lines are channels, with a name before the values of each.

    Parameters
    ----------
    lines : list of str
        All lines of the file; those before the first channel are kept as they are.

    Returns
    -------
    Upright or None
        None where the lines are no such table: where fewer than two begin with names and go on in numbers, where they
        differ in length, or where none of the names means a channel.
    """
    filled = [_parted_alike(line) for line in lines if line.strip()]
    if not 2 <= len(filled) <= MOST_CHANNELS:
        return None
    for delimiter in (";", "\t", ",", "|"):
        first = next((at for at, line in enumerate(filled[:LOOKED_AT]) if _is_channel(line, delimiter)), None)
        if first is None:
            continue
        of_channels = filled[first:]
        if len(of_channels) < 2 or not all(_is_channel(line, delimiter) for line in of_channels):
            continue
        made = _stood_up([split_line(line, delimiter) for line in of_channels])
        if made is not None:
            text = "\n".join([*filled[:first], *made]) + "\n"
            return Upright(text, "Each line holds one channel from left to right; they were made columns.")
    return None


def _parted_alike(line: str) -> str:
    """``RPM: 990 1004 ...`` or ``rpm = [990, 1004, ...]`` parted by tabs, name and all; other lines as they are."""
    match = _NAMED.match(line.strip())
    if match is None:
        return line
    values = line.strip()[match.end() :].strip().rstrip(";,").strip("[](){} ")
    delimiter = next((mark for mark in ";\t|" if mark in values), "," if ", " in values or " " not in values else None)
    cells = [cell.strip() for cell in values.split(delimiter)]
    return "\t".join([match[1].strip(), *cells]) if all(map(_is_number, filter(None, cells))) else line


def _is_channel(line: str, delimiter: str) -> bool:
    if line.count(delimiter) < FEWEST_MOMENTS:
        return False
    cells = split_line(line, delimiter)
    if not re.match(r"[^\W\d]", cells[0]) or cells[0].casefold() in ("nan", "inf"):
        return False
    numbers = [cell for cell in cells[1:] if not cell or _is_number(cell)]
    return len(numbers) >= MOSTLY_NUMBERS * len(cells[1:]) and any(numbers)


def _is_number(cell: str) -> bool:
    return number_of(cell, ".") is not None or number_of(cell, ",") is not None or ":" in cell


def _stood_up(rows: list[list[str]]) -> list[str] | None:
    """One line of names and one for each moment; names may take several cells, as a name and a unit do."""
    width = max(map(len, rows))
    if min(map(len, rows)) < width - 1 or width <= len(rows):
        return None
    rows = [row + [""] * (width - len(row)) for row in rows]
    while not any(row[-1] for row in rows):  # a delimiter behind the last value
        rows = [row[:-1] for row in rows]
    heads = next((at for at in range(1, 4) if sum(_is_number(row[at]) for row in rows) > 0.5 * len(rows)), None)
    if heads is None:
        return None
    names = [row[0] for row in rows]
    known = sum(bool(recognise_name(split_name_and_unit(name)[0])) for name in names)
    if known < 2 or len(set(names)) < len(names):
        return None
    table = [["\t".join(cell.replace("\t", " ") for cell in column)] for column in zip(*rows, strict=True)]
    return [line[0] for line in table]
