"""Tables in marks: a page of HTML, as dashes and spreadsheets save it, or XML with an element for each row.

Marks are read one after the other and never nested deeper than a list grows; nothing is fetched, run or expanded.

Public: `rows_of_html`, `rows_of_xml`.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

FEWEST_ROWS = 3
"""Elements of one name, each with two values or more, that are rows of a table."""
FEWEST_VALUES = 20
"""Of a channel whose values stand in one element; fewer are what describes one."""
_NAMES = ("name", "channel", "label", "title", "id")
MOST_SPANNED = 200
"""Columns that one cell may say it spans; more is damage."""
DEEPEST = 40
"""Elements of XML within one another; a table lies less deep, and damage without end."""
MOST_NAMES = 2000
"""Different names of values in rows of XML; more is damage."""
_TAG = re.compile(r"<([/!?]?)([^\s<>/]*)([^<>]*)>")
_ATTRIBUTE = re.compile(r"""([\w.:-]{1,80})\s{0,9}=\s{0,9}("[^"]*"|'[^']*')""")
_SPAN = re.compile(r"(?i)\bcolspan\s{0,9}=\s{0,9}[\"']?(\d{1,4})")
_UNSEEN = frozenset({"script", "style"})


@dataclass(frozen=True, slots=True)
class _Mark:
    """One tag, and the text before it."""

    text: str
    name: str
    """In lower case, without a namespace."""
    closes: bool
    within: str
    """What stands behind its name."""


def _marks(text: str) -> Iterator[_Mark]:
    """Each tag with the text since the one before it; comments, scripts and styles left out."""
    at, until = 0, ""
    for tag in _TAG.finditer(text):
        before = text[at : tag.start()]
        at = tag.end()
        name = tag[2].rpartition(":")[2].lower()
        if until:  # a script, a style or a comment goes on
            ended = name == until and tag[1] == "/" if until != "--" else "--" in tag[3] or "-->" in before
            until = "" if ended else until
        elif tag[1] == "!" and name.startswith("--"):
            until = "" if tag[0].endswith("-->") else "--"
        elif tag[1] in "!?" and tag[1]:
            continue
        else:
            until = name if name in _UNSEEN and not tag[1] else ""
            yield _Mark(before, name, tag[1] == "/", tag[3])


def _plain(parts: list[str]) -> str:
    return " ".join(html.unescape("".join(parts)).split())


def rows_of_html(text: str) -> list[list[str]] | None:
    """The rows of all tables of a page, an empty one between tables.

    Parameters
    ----------
    text : str
        The page.

    Returns
    -------
    list of list of str
        Cells without marks; a cell that spans several columns is followed by empty ones. None where no table is.

    Examples
    --------
    >>> rows_of_html("<table><tr><th>Time<th>Oil&deg;<tr><td>0.1<td><b>8</b>4</table>")
    [['Time', 'Oil°'], ['0.1', '84']]
    """
    rows: list[list[str]] = []
    cells: list[str] | None = None
    parts: list[str] | None = None
    for mark in _marks(text):
        if parts is not None:
            parts.append(mark.text)
        if mark.name in ("td", "th", "tr", "table", "tbody", "thead", "tfoot", "caption"):
            if parts is not None and cells is not None:
                cells[_last_of(cells)] = _plain(parts)
            parts = None
            if mark.name in ("tr", "table") and cells is not None:
                rows.append(cells)
                cells = None
            if mark.name == "tr" and not mark.closes:
                cells = []
            if mark.name in ("td", "th") and not mark.closes:
                cells = [] if cells is None else cells
                span = _SPAN.search(mark.within)
                cells += [_OPEN, *[""] * (min(int(span[1]) if span else 1, MOST_SPANNED) - 1)]
                parts = []
            if mark.name == "table" and rows and rows[-1]:
                rows.append([])
        elif mark.name in ("br", "p", "div") and parts is not None:
            parts.append(" ")
    if parts is not None and cells is not None:
        cells[_last_of(cells)] = _plain(parts)
    rows += [cells] if cells else []
    while rows and not rows[-1]:
        rows.pop()
    return [["" if cell == _OPEN else cell for cell in row] for row in rows] or None


_OPEN = "\x00"
"""What stands for a cell until its text is known."""


def _last_of(cells: list[str]) -> int:
    """Where the cell stands that is being read."""
    at = len(cells) - 1
    while at > 0 and cells[at] != _OPEN:
        at -= 1
    return at


@dataclass(slots=True)
class _Element:
    """An element of XML that is being read."""

    name: str
    values: dict[str, str]
    """Its attributes; then what its children hold, by their names."""
    listed: list[str] = field(default_factory=list)
    """What its children hold, in order."""
    children: set[str] = field(default_factory=set)
    parts: list[str] = field(default_factory=list)
    """Its own text."""
    column: list[str] = field(default_factory=list)
    """What the children of one of its children hold: the values of a channel."""


def rows_of_xml(text: str) -> list[list[str]] | None:
    """The rows of a table whose rows are elements of one name: their values are attributes or elements in them.

    Parameters
    ----------
    text : str
        The document. Entities that it declares itself are not expanded.

    Returns
    -------
    list of list of str
        Names first, where values are named; None where no such table is.

    Examples
    --------
    >>> rows_of_xml('<log><s t="0" rpm="1"/><s t="1" rpm="2"/><s t="2" rpm="3"/></log>')
    [['t', 'rpm'], ['0', '1'], ['1', '2'], ['2', '3']]
    >>> rows_of_xml("<l>" + 3 * "<r><t>0</t><v>5</v></r>" + "</l>")[:2]
    [['t', 'v'], ['0', '5']]
    """
    named: dict[str, list[dict[str, str]]] = {}
    listed: dict[str, list[list[str]]] = {}
    series: dict[str, list[str]] = {}
    open_ones: list[_Element] = []
    for mark in _marks(text):
        if open_ones:
            open_ones[-1].parts.append(mark.text)
        if not mark.closes:
            values = {
                key.rpartition(":")[2]: html.unescape(value[1:-1]) for key, value in _ATTRIBUTE.findall(mark.within)
            }
            open_ones.append(_Element(mark.name, values))
            if len(open_ones) > DEEPEST:
                return None
        if not (mark.closes or mark.within.endswith("/")):
            continue
        if not any(one.name == mark.name for one in open_ones[-4:]):
            continue
        while open_ones:
            element = open_ones.pop()
            _keep_channel(element, open_ones[-1] if open_ones else None, series)
            _close(element, open_ones[-1] if open_ones else None, named, listed)
            if element.name == mark.name:
                break
    return _side_by_side(series) or _most_rows(named, listed)


def _keep_channel(element: _Element, parent: _Element | None, series: dict[str, list[str]]) -> None:
    """Keep the values of an element that has a name and holds a list of them: its text, or its child's children."""
    if len(element.children) == 1 and len(element.listed) >= FEWEST_VALUES and parent is not None:
        parent.column = parent.column or element.listed
    lower = {key.lower(): value for key, value in element.values.items()}
    name = next((lower[key] for key in _NAMES if lower.get(key)), "")
    if not name or len(series) >= MOST_NAMES:
        return
    values = element.column or ([] if element.children else re.split(r"[\s,;]+", _plain(element.parts)))
    if len(values) >= FEWEST_VALUES:
        unit = lower.get("unit") or lower.get("units")
        series.setdefault(f"{name} [{unit}]" if unit else name, values)


def _side_by_side(series: dict[str, list[str]]) -> list[list[str]] | None:
    """Channels with as many values each, as a table; None where they are fewer than two."""
    if len(series) < 2 or len(set(map(len, series.values()))) > 1:
        return None
    return [list(series), *map(list, zip(*series.values(), strict=True))]


def _close(
    element: _Element,
    parent: _Element | None,
    named: dict[str, list[dict[str, str]]],
    listed: dict[str, list[list[str]]],
) -> None:
    """Keep an element as a row if it holds two values or more, and hand what it holds to the one around it."""
    if len(element.children) == 1 and len(element.listed) > 1:
        listed.setdefault(element.name, []).append(element.listed)
    elif len(element.values) > 1:
        named.setdefault(element.name, []).append(element.values)
    if parent is None:
        return
    held = element.listed[0] if len(element.listed) == 1 else _plain(element.parts)
    place = element.values.get("Index", "")
    if place.isdecimal() and len(parent.listed) < int(place) - 1 <= MOST_SPANNED:  # empty cells are left out before it
        parent.listed += [""] * (int(place) - 1 - len(parent.listed))
    parent.listed.append(held)
    parent.children.add(element.name)
    if len(parent.values) < MOST_NAMES:
        parent.values.setdefault(element.name, held)


_MARKS = ("id", "key", "code", "short", "ref", "attr", "field", "column", "col")
"""What an element that describes a channel calls the mark by which rows name it."""


def _names_of_marks(described: list[dict[str, str]]) -> dict[str, str]:
    """What marks of values stand for, as elements beside the rows describe them: a mark, a name, perhaps a unit."""
    said: dict[str, str] = {}
    for one in described:
        lower = {key.lower(): value for key, value in one.items()}
        mark = next((lower[key] for key in _MARKS if lower.get(key)), "")
        name = next((lower[key] for key in _NAMES if lower.get(key) and lower[key] != mark), "")
        unit = lower.get("unit") or lower.get("units") or ""
        if mark and name:
            said[mark] = f"{name} [{unit}]" if unit else name
    return said


def _most_rows(named: dict[str, list[dict[str, str]]], listed: dict[str, list[list[str]]]) -> list[list[str]] | None:
    records = max(named.values(), key=len, default=[])
    lines = max(listed.values(), key=len, default=[])
    if max(len(records), len(lines)) < FEWEST_ROWS:
        return None
    if len(lines) >= len(records):
        return lines
    names = list(dict.fromkeys(name for record in records for name in record))
    if len(names) > MOST_NAMES:
        return None
    said = _names_of_marks([one for held in named.values() if held is not records for one in held[:MOST_NAMES]])
    return [[said.get(name, name) for name in names], *([record.get(name, "") for name in names] for record in records)]
