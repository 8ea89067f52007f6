"""Rows that name each of their values: ``rpm=7200 map=101.3``, ``rpm: 7200, map: 101.3``, or an object of JSON a line.

So do records that hold a named value on each of their lines.

Public: `with_values_in_columns`.
"""

from __future__ import annotations

import itertools
import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import is_unit
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.json_tables import SAYS_NOTHING
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.results.findings import Finding

MOSTLY = 0.9
"""Share of the lines looked at that must name their values. [-]"""
FEWEST_VALUES, MOST_NAMES = 2, 500
"""Values a line, and names in all lines."""
MOST_SPREAD = 20
"""Names in all lines over those in one: more are no names."""
MOST_ABOVE = 60
"""Lines before the first that names its values which are kept above the table: a rate, units."""
LARGEST_BYTES = 200_000_000
"""Larger files of named values are no log of a run; each costs several times its size to turn."""

_PAIR = re.compile(
    r"[\s,;|]{0,9}(?P<name>[^\W\d][^=:,;|\"]{0,60}?)\s{0,4}[=:]\s{0,4}"
    r"(?P<value>\"[^\"]{0,99}\"|[-+]?[\d.][\w.+:-]{0,40}(?: ?[%°µA-Za-z/²]{1,6})?|nan|null|none|true|false|on|off)"
    r"(?=[\s,;|]|$)",
    re.IGNORECASE,
)

MOST_IN_A_LIST, DEEPEST = 32, 8
"""Items of a list within a line that are read, and names one within another."""
_LIST_MARK = re.compile(r"^\s*[-*•]\s+")
"""What begins a record in a list."""
_SECTION = re.compile(r"\[[^\[\]]{1,60}\]|-{3,}|={3,}")
"""What stands between records: a title in brackets, or a rule."""
_STAMPED = re.compile(
    r"[^=]{0,40}?(?P<clock>(?:\d{4}-\d\d-\d\d[T ])?\d{1,2}:\d\d:\d\d(?:[.,]\d{1,9})?)[^=,;]{0,60}?\s"
    r"(?=[^\W\d]\w{0,40}\s?[=:]\s?[-+.\d])"
)
"""A clock, and who says so, before the first name: as programs write what happens."""

_COUNTED_BEFORE = re.compile(r"[\[(<]\s{0,9}(?P<clock>\d{1,12}(?:[.,]\d{1,9})?)\s{0,3}s?[\])>]:?\s{1,9}(?=[^\W\d])")
"""Seconds, or another count of time, in brackets before the first name."""


def with_values_in_columns(text: Text, rows: list[str]) -> Text:
    """A table with a column for each name, where the lines name their values.

    Parameters
    ----------
    text : Text
        The file.
    rows : list of str
        Some of its lines, where rows have begun.

    Returns
    -------
    Text
        The same where they do not; else with a header of the names and a tab between cells.
    """
    named = [_values(line) for line in rows]
    enough = MOSTLY * len(rows)
    in_lines = sum(len(one) >= FEWEST_VALUES for one in named) >= enough
    spoken = [line for line in rows if not _SECTION.fullmatch(line.strip())]
    one_each = not in_lines and _are_records(
        [_values(_LIST_MARK.sub("", line)) for line in spoken], MOSTLY * len(spoken)
    )
    if not rows or not (in_lines or one_each) or len(text.data) > LARGEST_BYTES:
        return text
    lines = _records(text) if one_each else [_values(line) for line in _lines(text)]
    held = [one for one in lines if len(one) >= FEWEST_VALUES]
    names = list(dict.fromkeys(name for one in held for name in one))
    if len(names) > MOST_SPREAD * len(named[-1]) > 0:
        return text  # words by turns with numbers that are states, no names
    if len(names) > MOST_NAMES:
        return text
    first = next((at for at, one in enumerate(lines) if len(one) >= FEWEST_VALUES), 0)
    above = (
        [f"{name}: {value}" for one in lines[: min(first, MOST_ABOVE)] for name, value in one.items()]
        if one_each
        else [line.replace("\t", " ") for line in itertools.islice(_lines(text), min(first, MOST_ABOVE))]
    )
    table = [*above, "\t".join(names), *("\t".join(one.get(name, "") for name in names) for one in held)]
    more = ", ..." if len(names) > 3 else ""
    what = "its value" if one_each else "its values"
    said = f"Each line names {what} ({', '.join(names[:3])}{more}); they were put into columns."
    lines = lines[min(first, MOST_ABOVE) :]
    if len(held) < len(lines):
        said += f" {len(lines) - len(held)} {'alone' if one_each else 'lines that do not'} were set aside."
    found = Finding("marks-taken-off", "note" if len(held) == len(lines) else "caution", said, "")
    data = ("\n".join(table) + "\n").encode("utf-8")
    return replace(text, data=data, byte_encoding="utf-8", line_end="\n", findings=(*text.findings, found))


def _are_records(values: list[dict[str, str]], enough: float) -> bool:
    """Whether lines hold one named value each, and the names come again and again."""
    alone = [next(iter(one)) for one in values if len(one) == 1]
    return len(alone) >= enough and FEWEST_VALUES <= len(set(alone)) <= len(alone) / 2


def _records(text: Text) -> list[dict[str, str]]:
    """The values of each record of a file with one on a line: a record ends where a name comes again, or at a mark."""
    records: list[dict[str, str]] = [{}]
    for line in text.data.split(text.line_end.encode("ascii")):
        shown = text.decode(line)
        values = _values(_LIST_MARK.sub("", shown))
        if not shown.strip() or _LIST_MARK.match(shown) or records[-1].keys() & values.keys():
            records.append({})
        records[-1].update(values)
    return [one for one in records if one]


def _lines(text: Text) -> Iterator[str]:
    for line in text.data.split(text.line_end.encode("ascii")):
        if line.strip():
            yield text.decode(line)


def _values(line: str) -> dict[str, str]:
    """Each name of a line with its value as written; empty where the line is not made of these alone."""
    line = line.strip()
    if _LIST_MARK.match(line) and "{" in line[:8]:
        line = _LIST_MARK.sub("", line)
    if line.startswith("{"):
        made = _of_json(line)
        if made:
            return made
        line = line.strip("{}, ").replace("'", "")  # as a program prints what it holds, or names without quotes
    stamp = _STAMPED.match(line)
    stamp = stamp or _COUNTED_BEFORE.match(line)
    values: dict[str, str] = {"time": stamp["clock"]} if stamp else {}
    at = stamp.end() if stamp else 0
    while at < len(line) and (match := _PAIR.match(line, at)):
        values.setdefault(match["name"].strip().replace("\t", " "), match["value"].strip('"').replace("\t", " "))
        at = match.end()
    return values if not line[at:].strip(" ,;|}") else _by_turns(line)


_STAMP = re.compile(
    r"[\[(<]?\s*(?P<time>[-+]?\d+(?:[.,]\d+)?|\d{1,2}:\d\d:\d\d(?:[.,]\d+)?)\s*[\])>]?\s*(?:[,;\t|]|\s)\s*"
)
_NAME_BY_TURNS = re.compile(r"[^\W\d][\w /.%()°\[\]-]{0,40}")
_NUMBER_BY_TURNS = re.compile(r"[-+]?\d+(?:[.,]\d+)?")


def _by_turns(line: str) -> dict[str, str]:
    """A time, then names and numbers by turns, parted alike: ``0.02,RPM,1208,TPS,1.5``; empty where it is no such."""
    stamp = _STAMP.match(line)
    rest = line[stamp.end() :] if stamp else line
    if not _NAME_BY_TURNS.match(rest.lstrip(" ;,|").lstrip()):
        return {}
    mark = next((one for one in ";\t|," if one in rest), None)
    cells = [cell.strip() for cell in rest.strip(" ;,|").split(mark)]
    names, numbers = cells[::2], cells[1::2]
    if len(names) < FEWEST_VALUES or len(names) != len(numbers) or len({*names}) < len(names):
        return {}
    if not all(map(_NAME_BY_TURNS.fullmatch, names)) or not all(map(_NUMBER_BY_TURNS.fullmatch, numbers)):
        return {}
    if 2 * sum(map(_is_known, names)) < len(names):
        return {}  # words of a state between numbers, no names
    return ({"time": stamp["time"]} if stamp else {}) | dict(zip(names, numbers, strict=True))


@lru_cache(maxsize=4096)
def _is_known(name: str) -> bool:
    return bool(recognise_name(split_name_and_unit(name)[0]))


def _of_json(line: str) -> dict[str, str]:
    try:
        made = json.loads(line.rstrip(","))
    except (ValueError, RecursionError):
        return {}
    if not isinstance(made, dict):
        return {}
    plain = list(_flat(made))
    units = _units_beside(plain)
    plain = [(path, value) for path, value in plain if path not in units]
    last = Counter(path[-1] for path, _ in plain)
    named = {
        _with_unit(_shortest(path, alone=last[path[-1]] == 1), _unit_of(path, units)): value for path, value in plain
    }
    return {
        name.replace("\t", " "): "" if value is None else str(value).replace("\t", " ").replace("\n", " ")
        for name, value in named.items()
    }


_UNIT_BESIDE = re.compile(r"(?i)(?P<of>.*?)[ _.-]?units?")
"""The name of a unit that stands beside its value or group of values: ``wheels_unit``; alone, that of its object."""


def _units_beside(plain: list[tuple[tuple[str, ...], object]]) -> dict[tuple[str, ...], tuple[tuple[str, ...], str]]:
    """By the path of each unit that is a value of its own, the path of what is in it, and the unit."""
    found: dict[tuple[str, ...], tuple[tuple[str, ...], str]] = {}
    for path, value in plain:
        match = _UNIT_BESIDE.fullmatch(path[-1])
        of = (*path[:-1], match["of"]) if match and match["of"] else path[:-1]
        if match and of and isinstance(value, str) and is_unit(value):
            found[path] = (of, value)
    return found


def _unit_of(path: tuple[str, ...], units: dict[tuple[str, ...], tuple[tuple[str, ...], str]]) -> str:
    """The unit of the nearest of the objects that a value is in, or its own."""
    of = [(len(group), unit) for group, unit in units.values() if group and path[: len(group)] == group]
    return max(of, default=(0, ""))[1]


def _with_unit(name: str, unit: str) -> str:
    return f"{name} [{unit}]" if unit else name


@lru_cache(maxsize=4096)
def _shortest(path: tuple[str, ...], *, alone: bool) -> str:
    """The last of some names one within another; with those before it where they say which one it is."""
    telling = [name for name in path[:-1] if name.lower() not in SAYS_NOTHING]
    whole = " ".join([*telling, path[-1]])
    if not alone or not telling or path[-1].lower() in ("value", "val", "v"):
        return " ".join(path) if not alone else (whole.removesuffix(f" {path[-1]}") if telling else whole)
    short, full = (
        {match.channel for match in recognise_name(split_name_and_unit(name)[0])} for name in (path[-1], whole)
    )
    return whole if full and not short & full else path[-1]


def _flat(made: dict[str, object], *above: str) -> Iterator[tuple[tuple[str, ...], object]]:
    """Each plain value with the names that lead to it; items of a list are numbered from 1."""
    for name, value in made.items():
        path = (*above, str(name))
        if isinstance(value, list):
            value = {str(at): one for at, one in enumerate(value[:MOST_IN_A_LIST], start=1)}
            if not any(isinstance(one, (dict, list)) for one in value.values()):
                path = above
                value = {f"{name} {at}": one for at, one in value.items()}
        if isinstance(value, dict):
            yield from _flat(value, *path) if len(path) <= DEEPEST else ()
        elif isinstance(value, (int, float, str)) or value is None:
            yield path, value
