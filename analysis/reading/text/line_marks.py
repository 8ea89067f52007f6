"""What stands around the rows of a text that came by a terminal, a mail, a chat or a programmer's print-out.

Digits of other scripts, line numbers, what each line begins with, brackets around rows, rare
delimiters. Each is looked for in the last lines of the head and taken off all lines alike.

Public: `without_line_marks`.
"""

from __future__ import annotations

import itertools
import re
import unicodedata
from dataclasses import replace

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.cells import number_of, split_line
from passband.analysis.reading.text.encoding import HEAD_BYTES, Text
from passband.analysis.reading.text.listed_names import names_listed
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.reading.text.named_values import with_values_in_columns
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.reading.text.sections import columns_of_sections
from passband.analysis.reading.text.streams import kinds_by_turns, streams_apart
from passband.analysis.results.findings import Finding

HEAD_READ = 32 * 1024
"""Bytes that show it."""
FEWEST_LINES, LOOKED_AT, FOOTER = 8, 24, 8
"""Lines that show how rows begin and end, and those at the end of a short file that may be none."""
MOSTLY = 0.9
"""Share of them that must agree. [-]"""
LEAST_FULL, FULL_SHARE = 40, 0.3
"""Signs at which programs break lines, and the share of lines that must be as long. [-]"""
MOST_LONE_COLUMNS = 500
"""Channels that stand one below another: more are no log."""
FOOTER_BYTES = 4000
"""Bytes at the end of a file in which lines that explain its names may stand."""
MOST_LINES_OF_NAMES = 12
"""Lines that the names of wrapped rows may take: 60 columns of 12 letters at 76 letters a line."""
FEWEST_WRAPPED = 4
"""Rows put together of several lines that must hold as many cells each."""
FEWEST_DIGITS = 20
"""Digits of another script in the head that make it the script of the numbers."""
FEWEST_CELLS = 3
"""Cells that a rare delimiter must part: fewer are a date or a name."""

_BEFORE_DIGITS = bytes(range(0xD9))
"""Bytes of UTF-8 with which no digit of another script begins: the first is U+0660. Latin and Greek letters do."""
_EXPLAINS = re.compile(r"([^\W\d][^:=,;\t|]{0,40}?)\s*[:=]\s*([^\W\d][^,;\t|]*)")
_TYPES = re.compile(
    r"(?m)^(?:(?:-{3}|f32|f64|[iu](?:8|16|32|64)|str|bool|cat|date|datetime\[\w+\])(?:\|(?=.)|(?=\r?$)))+\r?$"
)
"""A row that says by what type a program holds each column, and one of rules above it."""
_NO_HEADER = re.compile(r"[-+.,\d\s\"]+[,;\t|]")
"""How a row of numbers begins."""
_PLACE = re.compile(r"[^\W\d_]{1,8}[ _.]?(\d{1,4})")
_WORD = re.compile(r"[^\W\d_]{2,}")
_RARE = ("~", "^", "\x1f", "\x1e", "\x01", "::", "¦", "&", "，", "；", "、", "؛", "،")
_INSTEAD = (";", "\t", "|")
_MARKS = {"٫": ".", "٪": "%", "٬": "", "−": "-", **{chr(at + 0xFEE0): chr(at) for at in range(0x21, 0x7F)}}
"""Marks between digits of other scripts, and all plain signs in full width (U+FF01 on)."""
_ENDS = (": ", "> ", "] ", "$ ")
_IN_BRACKETS = re.compile(rb"(?m)^[ \t]*\[?[\[({](.*)[\])}]\]?[,;]?[ \t]*(?=\r?$)")
_SENTENCE = re.compile(r"\$(?P<kind>\w{1,8})(?P<cells>,.+?)(?P<sum>\*[0-9A-Fa-f]{2})?\s*")
_BEFORE_NAMES = re.compile(r"[#;%/!][\s#;%/!]*\$\w{1,8},")
"""A sign of comments and the word of the rows, before the names of their cells."""
_SAYS_UNITS = re.compile(
    r"(?i)\W*(?:units?|einheiten|unités|unidades|unità|eenheden|enheter|enheder|jednostki|jednotky|единицы)\s*[:=].*[=:]"
)
"""A line that gives the units of several columns."""
_RULE = re.compile(r"\s*\+(?:[-=]+\+)+\s*")
"""A line of a frame drawn in plain signs: ``+-----+-----+``."""
_NAMED_VALUE = re.compile(r"[^\W\d]\w{0,40}:\s?[-+.\d]")
_SUMMED = re.compile(r"\d\*[0-9A-Fa-f]{2}$")
_NUMBERED = re.compile(r"^\s*(\d+)(?:\t|: ?|[.)] +| {2,})(?=\S)")


def without_line_marks(text: Text) -> Text:
    """The text with nothing but its rows on its lines.

    Parameters
    ----------
    text : Text
        The file.

    Returns
    -------
    Text
        The same where nothing stands around the rows; else with a finding of what was taken off.
    """
    text = _in_plain_digits(text)
    lines = _lines(text)
    if len(lines) < FEWEST_LINES or text.line_end != "\n":
        return text
    for take_off in (
        _quotes_of_mail,
        _frames,
        _names_below,
        _legend_below,
        _list_below,
        _lone_columns,
        _line_numbers,
        _sentences,
        _beginnings,
        _ends,
        _brackets,
        _rare_delimiter,
        _wrapped,
    ):
        changed = take_off(text, lines)
        if changed is not text:
            text, lines = changed, _lines(changed)
            if len(lines) < FEWEST_LINES:
                return text
    text = _streams(text, lines)
    return with_values_in_columns(text, _rows(lines))


def _lines(text: Text) -> list[str]:
    return [line.text for line in text.lines(size=HEAD_READ) if line.text.strip()]


def _rows(lines: list[str]) -> list[str]:
    """Lines near the end of the head, where rows have begun; before what may stand below the rows."""
    return lines[-LOOKED_AT - FOOTER : -FOOTER] if len(lines) >= LOOKED_AT + 2 * FOOTER else lines[-LOOKED_AT:]


def _told(text: Text, data: bytes, said: str) -> Text:
    return replace(text, data=data, findings=(*text.findings, Finding("marks-taken-off", "note", said, "")))


def _in_plain_digits(text: Text) -> Text:
    """Digits of other scripts, of full width too, and the marks between them, as plain ones."""
    if text.byte_encoding != "utf-8" or not text.data[:HEAD_BYTES].translate(None, _BEFORE_DIGITS):
        return text
    head = text.decode(text.data[:HEAD_BYTES])
    foreign = {letter for letter in set(head) if not letter.isascii() and unicodedata.decimal(letter, None) is not None}
    if sum(map(head.count, foreign)) < FEWEST_DIGITS:
        return text
    table = {ord(letter): str(unicodedata.decimal(letter)) for letter in set(text.decode(text.data)) - set(_MARKS)
             if not letter.isascii() and unicodedata.decimal(letter, None) is not None}  # fmt: skip
    table |= {ord(mark): plain for mark, plain in _MARKS.items()}
    said = f"The numbers are written in other digits ({quoted_start(min(foreign))}) and are read as plain ones."
    return _told(text, text.decode(text.data).translate(table).encode("utf-8"), said)


def _quotes_of_mail(text: Text, lines: list[str]) -> Text:
    """The signs of answered mails before each line, empty ones too."""
    quoted = [line for line in lines if line.lstrip().startswith(">")]
    if len(quoted) < max(MOSTLY * len(lines), FEWEST_LINES):
        return text
    data = re.sub(rb"(?m)^[ \t]*>[> \t]*", b"", text.data)
    return _told(text, data, "Each line begins with the sign of an answered mail, which was taken off.")


def _frames(text: Text, lines: list[str]) -> Text:
    """Lines and corners of a frame drawn around the cells: upright ones part cells, the others are no rows."""
    rows = _rows(lines)
    rules = [line for line in rows if _RULE.fullmatch(line)]
    if rules and all(line.lstrip().startswith("|") for line in rows if not _RULE.fullmatch(line)):
        plain = re.sub(r"(?m)^[ \t]*\+(?:[-=]+\+)+[ \t]*\r?\n?", "", text.decode(text.data))
        plain = re.sub(r"(?m)^[ \t]*\|[ \t]*|[ \t]*\|[ \t]*(?=\r?$)", "", plain)
        data = re.sub(r"[ \t]*\|[ \t]*", "|", plain).encode(text.byte_encoding, "replace")
        return _told(text, data, "The table is drawn in a frame, whose lines were taken for the ends of cells.")
    if sum(line.count("│") + line.count("┆") + line.count("┃") + line.count("║") > 1 for line in rows) < MOSTLY * len(
        rows
    ):
        return text
    plain = re.sub(r"(?m)^[ \t]*[─━═┄┈╌┌┬┐├┼┤└┴┘╞╪╡╔╦╗╠╬╣╚╩╝╟╫╢╒╤╕╘╧╛╭╮╰╯]+[ \t]*\r?$", "", text.decode(text.data))
    plain = re.sub(r"(?m)^[ \t]*[│┃║][ \t]*|[ \t]*[│┃║][ \t]*(?=\r?$)", "", plain)
    plain = re.sub(r"[ \t]*[│┆┃║┊][ \t]*", "|", plain)
    data = _TYPES.sub("", plain).encode(text.byte_encoding, "replace")
    return _told(text, data, "The table is drawn in a frame, whose lines were taken for the ends of cells.")


def _names_below(text: Text, lines: list[str]) -> Text:
    """Rows of numbers from the first line on whose names stand in the last: a sheet sorted with its header in it."""
    if not _NO_HEADER.match(lines[0]) or _WORD.search(lines[0]):
        return text
    body = text.data.rstrip()
    last = text.decode(body[body.rfind(b"\n") + 1 :])
    names = next((split_line(last, mark) for mark in ",;\t|" if lines[0].count(mark) == last.count(mark) > 0), [])
    known = [match[0].channel for name in names if (match := recognise_name(split_name_and_unit(name)[0]))]
    if "time" not in known or 2 * len(known) < len(names):
        return text
    data = last.encode(text.byte_encoding, "replace") + b"\n" + body[: body.rfind(b"\n") + 1]
    return _told(text, data, "The columns are named in the last line, below the rows.")


def _legend_below(text: Text, lines: list[str]) -> Text:
    """Lines below the rows that explain the names above them, put above them: ``n: Motordrehzahl [1/min]``."""
    start = max(text.data.rfind(b"\n", 0, max(len(text.data) - FOOTER_BYTES, 0)), 0)
    tail = text.decode(text.data[start:]).splitlines(keepends=True)
    if (last := next((line for line in reversed(tail) if line.strip()), "")) and _SAYS_UNITS.match(last):
        at = text.data.rstrip().rfind(b"\n") + 1
        above = last.strip().encode(text.byte_encoding, "replace") + b"\n"
        return _told(text, above + text.data[:at], "The units stand in the last line, below the rows.")
    below = list(itertools.takewhile(lambda line: not line.strip() or _explained(line), tail[::-1]))[::-1]
    keys = {key.casefold() for line in below if (key := _explained(line))}
    if len(keys) < 2 or len(below) == len(tail):
        return text
    heads = ({cell.casefold() for mark in ",;\t|" for cell in split_line(line, mark)} for line in lines[:LOOKED_AT])
    if not any(keys <= head for head in heads):
        return text
    explained = "".join(below).encode(text.byte_encoding, "replace").strip() + b"\n"
    rows = text.data[: len(text.data) - len("".join(below).encode(text.byte_encoding, "replace"))]
    return _told(text, explained + rows, "Lines below the rows explain the names above them.")


def _explained(line: str) -> str:
    """The name that a line explains, behind a colon or in cells; empty where it is none."""
    match = _EXPLAINS.fullmatch(line.strip())
    if match:
        return match[1]
    mark = next((mark for mark in ";\t|," if mark in line), "")
    cells = split_line(line.strip(), mark) if mark else []
    words = 2 <= len(cells) <= 4 and bool(_WORD.search(cells[1])) and re.match(r"[^\W\d]", cells[1]) is not None
    return cells[0] if words and re.fullmatch(r"[^\W\d]\w{0,40}", cells[0]) else ""


def _list_below(text: Text, lines: list[str]) -> Text:
    """A list of the columns below rows without a header, or one of places alone, put above them: ``Column 2: RPM``."""
    counted = _counts_places(lines[0])
    if not counted and (not _NO_HEADER.match(lines[0]) or _WORD.search(lines[0])):
        return text
    start = max(text.data.rfind(b"\n", 0, max(len(text.data) - FOOTER_BYTES, 0)), 0)
    tail = text.decode(text.data[start:]).splitlines(keepends=True)
    below = list(itertools.takewhile(lambda line: not line.strip() or _WORD.search(line), tail[::-1]))[::-1]
    if len(below) == len(tail):
        return text
    rows = text.data[: len(text.data) - len("".join(below).encode(text.byte_encoding, "replace"))]
    for mark in (";", "\t", "|", ","):
        found = names_listed([line.strip() for line in below], lines[0].count(mark) + 1) if mark in lines[0] else None
        if found is not None:
            rows = rows[rows.index(b"\n") + 1 :] if counted else rows
            listed = "".join(below[found.first : found.stop]).encode(text.byte_encoding, "replace").strip() + b"\n\n"
            return _told(text, listed + rows, "The columns are named in a list below the rows.")
    return text


def _counts_places(header: str) -> bool:
    """Whether a line names columns by their places alone: ``C1,C2,C3``."""
    cells = next((split_line(header, mark) for mark in ";\t|," if mark in header), [])
    marks = [match[1] for cell in cells if (match := _PLACE.fullmatch(cell))]
    return len(marks) == len(cells) > 1 and [*map(int, marks)] in ([*range(len(marks))], [*range(1, len(marks) + 1)])


def _lone_columns(text: Text, lines: list[str]) -> Text:
    """Channels one below another, each a name and a number a line: made columns where all hold as many."""
    rows = _rows(lines)
    if not any(map(_is_number, (rows[0].strip(), rows[-1].strip()))):
        return text  # most files
    if sum(_is_number(line.strip()) for line in rows) < MOSTLY * len(rows):
        return text
    whole = text.decode(text.data).split(text.line_end)
    made = columns_of_sections(whole) if lines[0].lstrip().startswith("[") else None
    if made is not None:
        data = ("\n".join(made) + "\n").encode(text.byte_encoding, "replace")
        return _told(text, data, "Channels stand one below another, each in a section; they were made columns.")
    named: list[tuple[str, list[str]]] = []
    for line in map(str.strip, whole):
        if _is_number(line) and named:
            named[-1][1].append(line)
        elif line:
            named.append((line, []))
    columns = [cells for _, cells in named if cells]
    if len(columns) == 1 and named[-1][1] and not any(mark in name for name, _ in named for mark in ",;\t|"):
        table = _cells_by_turns([name for name, _ in named], columns[0])
        data = ("\n".join(table) + "\n").encode(text.byte_encoding, "replace")
        return _told(text, data, "Each cell stands on a line of its own; they were put in rows.") if table else text
    if not 2 <= len(columns) <= MOST_LONE_COLUMNS or len(set(map(len, columns))) > 1:
        return text
    above = [name for name, cells in named if not cells]
    names = "\t".join(name.replace("\t", " ") for name, cells in named if cells)
    table = [names, *("\t".join(row) for row in zip(*columns, strict=True))]
    data = ("\n".join([*above, *table]) + "\n").encode(text.byte_encoding, "replace")
    return _told(text, data, "Channels stand one below another, a number a line; they were made columns.")


def _cells_by_turns(names: list[str], cells: list[str]) -> list[str]:
    """A table of cells that stand on a line each, row by row; empty where no number of names lets the first rise."""
    for width in range(min(len(names), MOST_LONE_COLUMNS), 1, -1):
        first = (number_of(cell, ".") or number_of(cell, ",") or 0.0 for cell in cells[::width])
        if len(cells) < FEWEST_LINES * width or any(after <= before for before, after in itertools.pairwise(first)):
            continue
        named = "\t".join(name.replace("\t", " ") for name in names[-width:])
        rows = ["\t".join(cells[at : at + width]) for at in range(0, len(cells) - width + 1, width)]
        return [*names[:-width], named, *rows]
    return []


def _is_number(cell: str) -> bool:
    return number_of(cell, ".") is not None or number_of(cell, ",") is not None


def _line_numbers(text: Text, lines: list[str]) -> Text:
    """Lines that each begin with their number, the line of names too."""
    found = list(itertools.takewhile(lambda match: match is not None, map(_NUMBERED.match, lines)))
    if len(found) < len(lines):
        return text
    numbered = [(int(match[1]), line[match.end() :]) for line, match in zip(lines, found, strict=True) if match]
    if any(later - number != 1 for (number, _), (later, _) in itertools.pairwise(numbered)):
        return text
    if not any(re.match(r"[^\W\d_]", rest) for _, rest in numbered):
        return text
    data = re.sub(rb"(?m)^[ \t]*\d+(?:\t|: ?|[.)] +| {2,})", b"", text.data)
    return _told(text, data, "Each line begins with its number; the numbers were taken off.")


def _sentences(text: Text, lines: list[str]) -> Text:
    """Rows as receivers send them: a sign and a word first, a sum of the bytes last; names stand above without both."""
    found = [_SENTENCE.fullmatch(line) for line in _rows(lines)]
    kinds = {match["kind"] for match in found if match is not None}
    if None in found or len(kinds) != 1:
        return text
    cells = next(match["cells"].count(",") for match in found if match is not None)
    above = [_BEFORE_NAMES.sub("", line) for line in lines if not line.startswith("$")]
    named = next((line for line in above if line.count(",") == cells - 1), "")
    if not re.match(r"[^\W\d]", named):
        return text
    data = re.sub(rb"(?m)^(?:[#;%/!][ \t#;%/!]*)?\$\w{1,8},|\*[0-9A-Fa-f]{2}(?=[ \t]*\r?$)", b"", text.data)
    return _told(text, data, f"Each row begins with ${kinds.pop()} and may end in a sum; both were taken off.")


def _beginnings(text: Text, lines: list[str]) -> Text:
    """What rows and the line of names begin with alike, digits apart, up to a colon or bracket and a blank."""
    begin = _begins_with([re.sub(r"\d+", "0", line) for line in _rows(lines)])
    if not re.search(r"[^\W\d_]|>", begin) or begin.lstrip().startswith("{"):
        return text
    if "0:0:0" in begin and all("=" in line or len(_NAMED_VALUE.findall(line)) > 1 for line in _rows(lines)):
        return text  # a clock before named values is their time
    pattern = r"\d+".join(re.escape(part) for part in begin.split("0"))
    rest = [line[match.end() :] for line in lines if (match := re.match(pattern, line))]
    if not any(len(re.findall(r"[^\W\d_]{2,}", line)) >= FEWEST_CELLS - 1 and not line[:1].isdigit() for line in rest):
        return text  # no line of names begins so: it may be a column
    end = re.escape(text.line_end)
    data = re.sub(f"(?:^|(?<={end})){pattern}".encode(), b"", text.data)
    shown = quoted_start(_rows(lines)[0][: len(begin)], most=40)
    return _told(text, data, f"Each line begins with {shown} or the like, which was taken off.")


def _ends(text: Text, lines: list[str]) -> Text:
    """A semicolon, or what ends a row of a typeset table, behind each row whose cells are parted otherwise."""
    rows = [line.rstrip() for line in _rows(lines)]
    if all(row.endswith(r"\\") and "&" in row for row in rows):
        data = re.sub(rb"(?m)(?:\\\\|^[ \t]*\\[A-Za-z]+\S*)(?=[ \t]*\r?$)", b"", text.data).replace(rb"\%", b"%")
        return _told(text, data, r"Each row ends in \\, which was taken off.")
    if all(map(_SUMMED.search, rows)):
        data = re.sub(rb"(?m)\*[0-9A-Fa-f]{2}(?=[ \t]*\r?$)", b"", text.data)
        return _told(text, data, "Each row ends in a sum behind an asterisk, which was taken off.")
    if not all(row.endswith(";") and row.count(";") == 1 and _is_parted_otherwise(row) for row in rows):
        return text
    data = re.sub(rb"(?m);(?=[ \t]*\r?$)", b"", text.data)
    return _told(text, data, "Each row ends in a semicolon, which was taken off.")


def _is_parted_otherwise(row: str) -> bool:
    words = row.rstrip("; ").split()
    return max(map(row.count, "\t,|")) > 1 or (len(words) > 1 and all(number_of(one, ".") is not None for one in words))


def _wrapped(text: Text, lines: list[str]) -> Text:
    """Rows that go on in the next line where a delimiter ends one, the line of names too."""
    rows = [line.strip() for line in _rows(lines)]
    full = max(map(len, lines[:-1]))
    broken = LEAST_FULL <= full and sum(len(line) == full for line in lines) > FULL_SHARE * len(lines)
    for mark in ",;\t|":
        if broken:
            made = _out_of_full_lines(text, mark.encode(), full)
            if made is not None:
                return _told(text, made, f"Rows go on in the next line behind {full} signs; the lines were joined.")
        ends = [at for at, row in enumerate(rows) if not row.endswith(mark)]
        if not 2 * FEWEST_WRAPPED <= 2 * len(ends) <= len(rows) or _last_is_blank(rows, lines[:-LOOKED_AT], mark):
            continue
        whole = ["".join(rows[first + 1 : last + 1]) for first, last in itertools.pairwise(ends)]
        named = any(
            line.rstrip().endswith(mark) and len(re.findall(r"[^\W\d_]{2,}", line)) > 1 for line in lines[:-LOOKED_AT]
        )
        if not named or len({row.count(mark) for row in whole}) > 1:
            continue
        cells = whole[0].count(mark)
        sign = re.escape(mark.encode())
        data = re.sub(rb"(?<=" + sign + rb")[ \t]*\r?\n[ \t]*", b"", text.data)
        data = _with_names_in_one_line(data, mark.encode(), cells)
        return _told(text, data, "Each row goes on in the next line behind its last delimiter; the lines were joined.")
    return text


def _last_is_blank(rows: list[str], head: list[str], mark: str) -> bool:
    """Whether rows are whole and only their last cell is blank: a slower channel stands there.

    Then all have as many delimiters as the line of names, which ends in a name. Of names that go on in the next line
    the first part ends in a delimiter, as that of each row.
    """
    counts = {row.count(mark) for row in rows}
    if len(counts) > 1:
        return False
    alike = (line.strip() for line in head if {line.strip().count(mark)} == counts)
    names = next((line for line in alike if len(re.findall(r"[^\W\d_]{2,}", line)) > 1), mark)
    return not names.endswith(mark)


def _streams(text: Text, lines: list[str]) -> Text:
    """Rows of several kinds by turns, each kind under its own header."""
    rows = lines[-LOOKED_AT - FOOTER : -FOOTER] if len(lines) > 2 * LOOKED_AT else lines[-LOOKED_AT:]
    mark = kinds_by_turns(rows, lines)
    apart = None if mark is None else streams_apart(text.decode(text.data).split(text.line_end), mark)
    if apart is None:
        return text
    data = (text.line_end.join(apart.lines) + text.line_end).encode(text.byte_encoding, "replace")
    return replace(text, data=data, findings=(*text.findings, apart.finding))


def _begins_with(lines: list[str]) -> str:
    shortest, longest = min(lines), max(lines)
    same = sum(1 for _ in itertools.takewhile(lambda pair: pair[0] == pair[1], zip(shortest, longest, strict=False)))
    ends = [at + len(end) for end in _ENDS if (at := shortest.rfind(end, 0, same)) >= 0]
    return shortest[: max(ends, default=0)]


def _brackets(text: Text, lines: list[str]) -> Text:
    """Rows in brackets of any kind, with or without a comma behind."""
    rows = _rows(lines)
    inner = [match[1] for line in rows if (match := _IN_BRACKETS.fullmatch(line.encode()))]
    bare = [
        one for one in inner if not re.search(rb"[\[\](){}]|[\"']\s?:", one)
    ]  # "(2.88),1,(3.1)" holds negative numbers
    if len(bare) < MOSTLY * len(rows):
        return text
    data = _IN_BRACKETS.sub(rb"\1", text.data)
    return _told(text, data, "Each row stands in brackets, which were taken off.")


def _rare_delimiter(text: Text, lines: list[str]) -> Text:
    """Rows parted by a sign that hardly anything else parts by."""
    rows = _rows(lines)
    if _colons_part(rows, lines):
        return replace(text, data=text.data.replace(b":", b";"), delimiter_written=":")
    for sign in _RARE:
        if any(line.count(sign) < FEWEST_CELLS - 1 for line in rows):
            continue
        cells = [cell.strip() for line in rows for cell in line.split(sign)]
        numbers = max(sum(number_of(cell, decimal) is not None for cell in cells) for decimal in (".", ","))
        instead = next((one for one in _INSTEAD if one.encode() not in text.data), None)
        if instead is None or numbers < 0.5 * len(cells):
            continue
        data = text.data.replace(sign.encode(text.byte_encoding, "replace"), instead.encode())
        return replace(text, data=data, delimiter_written=sign)
    return text


def _colons_part(rows: list[str], lines: list[str]) -> bool:
    """Whether colons part numbers under as many names, and nothing else parts them."""
    counts = {row.count(":") for row in rows}
    if len(counts) != 1 or min(counts) < FEWEST_CELLS - 1 or any(mark in row for row in rows for mark in ",;\t|"):
        return False
    named = [line.split(":") for line in lines if line.count(":") in counts and not line[:1].isdigit()]
    if not all(_is_number(cell.strip()) for row in rows for cell in row.split(":")):
        return False
    return any(sum(bool(recognise_name(split_name_and_unit(cell.strip())[0])) for cell in one) > 1 for one in named)


def _out_of_full_lines(text: Text, mark: bytes, full: int) -> bytes | None:
    """The file with each line that is as long as any joined to the next; None unless all rows are alike then."""
    shown = [len(line.rstrip(b"\r")) for line in text.data[:HEAD_READ].split(b"\n")]
    if max(shown) != full:
        return None
    data = re.sub(rb"(?m)^([^\r\n]{%d})\r?\n(?=[^\r\n])" % full, rb"\1", text.data)
    rows = [line for line in data[:HEAD_READ].split(b"\n")[:-1] if line.strip()]
    counts = {row.count(mark) for row in rows}
    before = {line.count(mark) for line in text.data[:HEAD_READ].split(b"\n")[1:-1]}
    enough = len(rows) >= FEWEST_WRAPPED
    return data if enough and len(counts) == 1 and counts != {0} and len(before) > 1 else None


def _with_names_in_one_line(data: bytes, mark: bytes, cells: int) -> bytes:
    """The line of names, where it went on at a blank, put together out of the lines right above the first row."""
    lines = data[:HEAD_READ].split(b"\n")
    first = next((at for at, line in enumerate(lines) if line.count(mark) == cells and line[:1].isdigit()), 0)
    for start in range(first - 2, max(first - 1 - MOST_LINES_OF_NAMES, -1), -1):
        joined = b" ".join(line.strip() for line in lines[start:first])
        if joined.count(mark) == cells:
            return b"\n".join([*lines[:start], joined, *lines[first:]]) + data[HEAD_READ:]
    return data
