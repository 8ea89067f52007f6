"""A list of the columns above rows that have no names of their own.

A line for each, counted, or a name and its unit; or all of them in quotes on one line.

Public: `Listed`, `names_listed`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import is_unit, time_scale_s
from passband.analysis.reading.text.cells import kind_of_cell
from passband.analysis.reading.text.name_and_unit import split_name_and_unit

FEWEST = 2
"""Columns: one line is no list."""
FARTHEST = 70
"""Lines above the rows in which it may end, as a preamble may be long."""
KNOWN = 0.5
"""Share of the names of a list without counts that must be known: other pairs of words stand above rows too. [-]"""
_COUNTED = re.compile(
    r"(?i)(?:column|col|channel|chan|ch|field|spalte|kanal|colonne|columna|coluna|colonna|kolom|kolumn)?[ .#:]{0,3}"
    r"(?P<at>\d{1,4}|[A-Z])(?:[ \t]*[:=.)\]>;,|-]+[ \t]*|[ \t]+)(?P<rest>\S.*)"
)
_IN_BRACKETS = re.compile(r"[^'\"]{0,60}[\[{(] ?(['\"].*['\"]) ?[\]})] ?;?")
_QUOTED = re.compile(r"'([^']{1,60})'|\"([^\"]{1,60})\"")
"""A name of a list as programs write it: ``names = {'Time', 'RPM'}``."""
_ALL_ON_ONE = re.compile(
    r"(?i)(?:columns?|channels?|fields?|names?|spalten|kanäle|colonnes|columnas|colunas|colonne|kolommen)\s*[:=]\s*(.+)"
)
_DASHED = re.compile(r"\s*[-*•]\s+([^\W\d].*)")
_PARTING_SAID = re.compile(r"(?i)sep(?:arator)?\s*=")
"""What a sheet's program is told on the first line: ``sep=;``."""
_PARTED = re.compile(r"[ \t]*[;\t|][ \t]*| {2,}|,[ ]*")


@dataclass(frozen=True, slots=True)
class Listed:
    """The columns' names as a list gives them."""

    names: tuple[str, ...]
    """One for each column, its unit in brackets where the list tells it."""
    first: int
    """Place of its first line among those given."""
    stop: int
    """Place after its last."""


def names_listed(above: Sequence[str], columns: int) -> Listed | None:
    """The last list of so many columns in the lines above some rows.

    Parameters
    ----------
    above : sequence of str
        The lines.
    columns : int
        Columns of the rows.

    Returns
    -------
    Listed or None
        None where no lines, one after another, count that many columns or name them with their units.

    Examples
    --------
    >>> names_listed(["# 0 time (s)", "# 1 engine speed (rpm)"], 2).names
    ('time (s)', 'engine speed (rpm)')
    >>> names_listed(["[Channels]", "Time;s", "Oil Pressure;kPa", "", "[Data]"], 2).names
    ('Time [s]', 'Oil Pressure [kPa]')
    >>> names_listed(["Driver: 7", "Car: 3"], 2) is None
    True
    >>> names_listed(["sep=;", "Time;s", "Time;RPM;MAP kPa"], 3) is None
    True
    """
    lines = [line.strip().lstrip("#;%*!/").strip() for line in above]
    for first in range(len(lines) - columns, max(len(lines) - FARTHEST - columns, 0) - 1, -1):
        shown = lines[first : first + columns]
        if columns < FEWEST or not all(shown):
            continue
        names = _counted(shown) or _with_units(shown) or _dashed(above[first : first + columns])
        if names is not None:
            return Listed(names, first, first + columns)
    for at, line in enumerate(lines[-FARTHEST:], start=max(len(lines) - FARTHEST, 0)):
        for names in (_in_quotes(line), _behind_a_word(line)):
            if len(names) == columns and columns >= FEWEST and 2 * sum(map(_is_known, names)) >= columns:
                return Listed(names, at, at + 1)
    return None


def _counted(lines: Sequence[str]) -> tuple[str, ...] | None:
    """Names behind numbers or letters that count from the first on."""
    found = [_COUNTED.fullmatch(line) for line in lines]
    marks = [match["at"] for match in found if match is not None]
    if len(marks) < len(lines):
        return None
    counts = [int(mark) if mark.isdecimal() else ord(mark.upper()) - ord("A") + 1 for mark in marks]
    if counts[0] not in (0, 1) or counts != [*range(counts[0], counts[0] + len(counts))]:
        return None
    names = tuple(_name_of(match["rest"]) for match in found if match is not None)
    if not all(re.match(r"[^\W\d]", name) for name in names):
        return None  # rows that are counted
    return names if sum(map(_says_something, names)) >= KNOWN * len(names) else None


def _in_quotes(line: str) -> tuple[str, ...]:
    match = _IN_BRACKETS.fullmatch(line)
    return tuple(one or other for one, other in _QUOTED.findall(match[1])) if match else ()


def _behind_a_word(line: str) -> tuple[str, ...]:
    """Names on one line behind the word for them: ``Columns: Time [s], RPM``."""
    match = _ALL_ON_ONE.fullmatch(line)
    return tuple(cell.strip() for cell in re.split(r"[,;\t|]", match[1])) if match else ()


def _dashed(lines: Sequence[str]) -> tuple[str, ...] | None:
    """Names that each follow a dash; a time is among them, and half are known."""
    found = [_DASHED.fullmatch(line) for line in lines]
    names = tuple(_name_of(match[1]) for match in found if match is not None)
    return names if len(names) == len(lines) and _are_channels(names) else None


def _are_channels(names: Sequence[str]) -> bool:
    known = [match[0].channel for name in names if (match := recognise_name(split_name_and_unit(name)[0]))]
    return "time" in known and len(known) >= KNOWN * len(names)


def _with_units(lines: Sequence[str]) -> tuple[str, ...] | None:
    """Names that each have their unit behind a delimiter; a time is among them, and half are known."""
    cells = [_PARTED.split(line) for line in lines]
    if not all(2 <= len(row) <= 4 and (is_unit(row[1]) or row[1] in ("", "-")) for row in cells):
        return None
    if any(kind_of_cell(row[0], ".") != "words" or _is_no_pair(*row[:2]) for row in cells):
        return None
    names = tuple(map(_name_of, lines))
    return names if _are_channels(names) else None


def _is_no_pair(name: str, unit: str) -> bool:
    """Whether two cells are no name and its unit: a word for how cells are parted, or a time in a unit of none."""
    if _PARTING_SAID.fullmatch(name):
        return True
    is_time = any(match.channel == "time" for match in recognise_name(name))
    return is_time and unit not in ("", "-") and time_scale_s(unit.strip("[](){}")) is None


def _name_of(rest: str) -> str:
    """A name with its unit in brackets, if a unit stands behind it."""
    cells = [cell for cell in _PARTED.split(rest) if cell]
    name, *others = cells or [rest]
    unit = others[0].strip("[](){}") if others else ""
    if others and not is_unit(unit):
        whole, behind = split_name_and_unit(rest)
        if behind and recognise_name(whole):  # "Intake manifold pressure, absolute [kPa]": the comma is the name's
            return rest
    return f"{name} [{unit}]" if unit and is_unit(unit) else name


def _says_something(name: str) -> bool:
    return _is_known(name) or bool(split_name_and_unit(name)[1])


def _is_known(name: str) -> bool:
    return bool(recognise_name(split_name_and_unit(name)[0]))
