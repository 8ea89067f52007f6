"""Rows between names and numbers that say by what each column is to be multiplied, and what is to be added.

Public: `says_scale`, `Scales`, `scales_above`, `scales_of_names`, `Scaled`, `scale_said`, `said_of_names`,
`scales_tabled`, `Tabled`, `span_said`, `Span`, `units_tabled`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from passband.analysis.channels.units import is_unit
from passband.analysis.reading.text.cells import number_of, split_line

_FACTOR = re.compile(
    r"(?i)[#;%/* ]*(?:scale|scaling|factor|scale factor|multiplier|mult|gain|faktor|skalierung|facteur|"
    r"échelle|fattore|factor de escala|fator|współczynnik|множитель|倍率|系数)[ .:=]*"
)
_OFFSET = re.compile(r"(?i)[#;%/* ]*(?:offset|versatz|décalage|scostamento|desplazamiento|смещение)[ .:=]*")
"""What such a row is called in the cell before it; from memory."""
_TIMES = re.compile(r"[x×*] ?\d+(?:[.,]\d+)?")
_STATED = re.compile(
    r"(?i)(?:scale|scaling|factor|multiplier|gain|faktor|facteur|fattore|fator)\s*[:=]?\s*[x×*]?\s*(\d+(?:[.,]\d+)?)|"
    r"[x×*]\s*(\d+(?:[.,]\d+)?)"
)
"""A factor that a line above gives for the column it names."""
_AMOUNT = r"(\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?)"
_SIGNED = r"([-+−–]?\s*\d+(?:[.,]\d+)?)"
_BEHIND = r"\s*[,;]?\s*(?:\[([^\[\]]{1,20})\]|\(([^()]{1,20})\)|(?:in )?([^\s\d,;]{1,12}))?\s*"
_BY_WORDS = re.compile(
    rf"(?i)(?:scale|scaling|factor|multiplier|mult|gain|slope|lsb|resolution|faktor|facteur|fattore|fator)\s*[:=]?\s*"
    rf"[x×*]?\s*{_AMOUNT}(?:\s*[,;]?\s*(?:offset|bias|versatz|décalage)\s*[:=]?\s*{_SIGNED})?{_BEHIND}"
)
"""``scale 0.5, offset -40 [degC]``."""
_BY_FORMULA = re.compile(
    rf"(?i)(?:raw|x|n|count|counts|cnt|value|val|adc|dn|rohwert|roh|brut|[^\W\d]\w{{0,20}}[ _]?raw)\s*(?:([*x×·/÷])\s*"
    rf"{_AMOUNT})?(?:\s*([-+−–])\s*{_AMOUNT})?{_BEHIND}"
)
"""``raw * 0.5 - 40 degC``; the sum comes last, as written."""
FEWEST = 2
"""Numbers that such a row holds: one alone is a setting of the logger."""


@dataclass(frozen=True, slots=True)
class Scales:
    """How counts of each column become values: times the factor, plus the offset."""

    factors: tuple[float, ...]
    offsets: tuple[float, ...]
    in_order: bool = False
    """Whether it is written out that the factor comes first."""

    @property
    def changes(self) -> bool:
        """Whether any column is changed by them."""
        return any(one != 1.0 for one in self.factors) or any(self.offsets)


def says_scale(line: str, delimiter: str) -> bool:
    """Whether a line holds factors or offsets behind the word for them.

    Parameters
    ----------
    line : str
        Any.
    delimiter : str
        Of its cells.

    Examples
    --------
    >>> says_scale("Factor;0.001;0.25", ";"), says_scale("Gain;7;8;high", ";"), says_scale("0.001;0.25", ";")
    (True, False, False)
    >>> says_scale("x0.001;x0.25;", ";")
    True
    """
    cells = split_line(line, delimiter)
    if _times(cells):
        return True
    if not (_FACTOR.fullmatch(cells[0]) or _OFFSET.fullmatch(cells[0])):
        return False
    numbers = [_number(cell) for cell in cells[1:] if cell and cell != "-"]
    return len(numbers) >= FEWEST and None not in numbers


def scales_above(lines: Sequence[str], delimiter: str, *, width: int, labelled: bool) -> Scales | None:
    """The scales that lines above some rows state.

    Parameters
    ----------
    lines : sequence of str
        The lines.
    delimiter : str
        Of their cells.
    width : int
        Columns of the rows.
    labelled : bool
        Whether the rows leave the first cell blank, in which these have their word.

    Returns
    -------
    Scales or None
        None where none does.
    """
    factors, offsets = [1.0] * width, [0.0] * width
    found = False
    for line in lines:
        if not says_scale(line, delimiter):
            continue
        cells = split_line(line, delimiter)
        if _times(cells):
            cells, labelled = ["Factor", *(cell.lstrip("x×* ") for cell in cells)], False
        over_first = labelled or len(cells) == width  # its word stands over the first column, which has no factor
        numbers = [_number(cell) for cell in (["", *cells[1:]] if over_first else cells[1:])][:width]
        into = factors if _FACTOR.fullmatch(cells[0]) else offsets
        into[: len(numbers)] = [one if number is None else number for number, one in zip(numbers, into, strict=False)]
        found = True
    return Scales(tuple(factors), tuple(offsets)) if found else None


@dataclass(frozen=True, slots=True)
class Scaled:
    """How the counts of one column become values."""

    factor: float
    offset: float
    unit: str
    """Of the values; empty where it is not said."""
    in_order: bool
    """Whether it is written out that the factor comes first."""


def scale_said(text: str) -> Scaled | None:
    """A factor, an offset and a unit as words or a formula say them.

    Parameters
    ----------
    text : str
        Behind the name of a column.

    Returns
    -------
    Scaled or None
        None where the text says neither, or anything else too.

    Examples
    --------
    >>> scale_said("scale 0.5, offset -40 [degC]")
    Scaled(factor=0.5, offset=-40.0, unit='degC', in_order=False)
    >>> scale_said("raw / 4 rpm"), scale_said("x1000") is None
    (Scaled(factor=0.25, offset=0.0, unit='rpm', in_order=True), True)
    """
    text = text.strip()
    match = _BY_WORDS.fullmatch(text)
    if match:
        unit = match[3] or match[4] or match[5] or ""
        return Scaled(_plain(match[1]), _plain(match[2] or "0"), unit, False) if not unit or is_unit(unit) else None
    match = _BY_FORMULA.fullmatch(text)
    if match is None or not (match[2] or match[4]):
        return None
    factor = _plain(match[2]) if match[2] else 1.0
    if factor == 0.0:
        return None
    factor = 1.0 / factor if match[1] in ("/", "÷") else factor
    offset = _plain(match[4]) * (1.0 if match[3] == "+" else -1.0) if match[4] else 0.0
    unit = match[5] or match[6] or match[7] or ""
    return Scaled(factor, offset, unit, True) if not unit or is_unit(unit) else None


def _plain(number: str) -> float:
    return float(number.replace(" ", "").replace(",", ".").replace("−", "-").replace("–", "-"))


_PARTED = re.compile(r"\s*[;,\t|]\s*")
_TITLES = {
    "factor": _FACTOR,
    "offset": _OFFSET,
    "unit": re.compile(r"(?i)units?|einheit|unité|unidad|unidade|unità|eenheid|enhet|jednotka|jednostka|единица"),
    "name": re.compile(
        r"(?i)name|channel|signal|title|label|description|kanal|signalname|bezeichnung|nom|nombre|nome|naam|namn|nazwa|"
        r"název|имя|название|сигнал"
    ),
}
"""What the columns of a table of channels above the rows are called; from memory."""


_END = r"([-+]?\d+(?:[.,]\d+)?)"
_TO = r"\s*(?:-|–|—|\.{2,3}|…|to|bis|à|a)\s*"
_SPAN = re.compile(
    rf"(?i)(?P<name>.*[^\W_].*?)\s*[\[({{]\s*{_END}{_TO}{_END}(?:\s*(?:counts?|cnt|raw|bits?|adc))?\s*(?:=|:|->|→|=>)\s*"
    rf"{_END}{_TO}{_END}\s*(?P<unit>[^\d\s\])}}][^\])}}]{{0,15}})?\s*[\])}}]"
)


@dataclass(frozen=True, slots=True)
class Span:
    """A header that says what the ends of its counts stand for."""

    name: str
    scaled: Scaled


def span_said(header: str) -> Span | None:
    """The ends of a column's counts and of its values, as a header in brackets says: ``(0-1023 = 0-300 kPa)``.

    Parameters
    ----------
    header : str
        As written.

    Returns
    -------
    Span or None
        None where it says no such thing.

    Examples
    --------
    >>> span_said("Oil press (0-1000 = 0-10 bar)")
    Span(name='Oil press', scaled=Scaled(factor=0.01, offset=0.0, unit='bar', in_order=True))
    """
    match = _SPAN.fullmatch(header.strip()) if len(header) < LONGEST_HEADER else None
    if match is None:
        return None
    low, high, least, most = (_plain(match[at]) for at in (2, 3, 4, 5))
    unit = (match["unit"] or "").strip()
    if high <= low or most == least or (unit and not is_unit(unit)):
        return None
    factor = (most - least) / (high - low)
    return Span(match["name"].strip(), Scaled(factor, least - factor * low, unit, True))


LONGEST_HEADER = 120
"""Signs of a header beyond which it is prose."""


@dataclass(frozen=True, slots=True)
class Tabled:
    """What a table of channels above the rows says of one of them."""

    name: str
    """Empty where the table has no column of names beside its first."""
    scaled: Scaled


def scales_tabled(preamble: Sequence[tuple[str, str]]) -> dict[str, Tabled]:
    """A table of channels above the rows, with a column of factors: by its first cells, in lower case.

    Parameters
    ----------
    preamble : sequence of pairs
        Key and value of each line; the values hold the other cells.

    Returns
    -------
    dict of str to Tabled
        Empty where there is no such table.

    Examples
    --------
    >>> scales_tabled([("id", "name; factor; offset; unit"), ("16", "Engine speed; 0.25; 0; rpm")])["16"].scaled.factor
    0.25
    """
    found: dict[str, Tabled] = {}
    places: dict[str, int] = {}
    ends: tuple[int, ...] = ()
    width = 0
    for key, value in preamble:
        cells = _PARTED.split(value.strip())
        titles = {
            what: at for at, cell in enumerate(cells) for what, called in _TITLES.items() if called.fullmatch(cell)
        }
        points = _two_points(cells)
        if points or ("factor" in titles and len(titles) > 1):
            titles = {"factor": -1, **titles} if points else titles
            ends = points
            places, width = titles, len(cells)
            continue
        if not key or not places or len(cells) != width:
            continue
        if ends:
            factor, offset = _line_through(*(_number(cells[at]) for at in ends))
        else:
            factor = _number(cells[places["factor"]])
            offset = _number(cells[places["offset"]]) if "offset" in places else 0.0
        unit = cells[places["unit"]] if "unit" in places else ""
        if factor is None or offset is None:
            continue
        name = cells[places["name"]] if "name" in places else ""
        found[key.strip().casefold()] = Tabled(name, Scaled(factor, offset, unit if is_unit(unit) else "", False))
    return found


_POINT = (re.compile(r"(?i)(?:raw|counts?|adc|input|in|x|volts?)[ _]?(?:1|2|low|high|min|max)"),
          re.compile(r"(?i)(?:values?|phys(?:ical)?|eng|output|out|y|real)[ _]?(?:1|2|low|high|min|max)"))  # fmt: skip


def _two_points(cells: Sequence[str]) -> tuple[int, ...]:
    """Where two counts and their values stand that draw a line: lower count, its value, upper count, its value."""
    counts, values = ([at for at, cell in enumerate(cells) if one.fullmatch(cell)] for one in _POINT)
    return (counts[0], values[0], counts[1], values[1]) if len(counts) == len(values) == 2 else ()


def _line_through(
    low: float | None, least: float | None, high: float | None, most: float | None
) -> tuple[float | None, float | None]:
    if low is None or least is None or high is None or most is None or high == low:
        return None, None
    factor = (most - least) / (high - low)
    return factor, least - factor * low


def units_tabled(preamble: Sequence[tuple[str, str]]) -> dict[str, str]:
    """Units that a table of channels above the rows gives in a column of its own: by its first cells, in lower case.

    Parameters
    ----------
    preamble : sequence of pairs
        Key and value of each line; the values hold the other cells.

    Returns
    -------
    dict of str to str
        Empty where there is no such table.

    Examples
    --------
    >>> units_tabled([("Channel", "Unit; Min; Max"), ("Throttle", "%; 0; 99")])
    {'throttle': '%'}
    """
    found: dict[str, str] = {}
    at, width = None, 0
    for key, value in preamble:
        cells = _PARTED.split(value.strip())
        titled = [place for place, cell in enumerate(cells) if _TITLES["unit"].fullmatch(cell)]
        if titled and _TITLES["name"].fullmatch(key.strip()):
            counted = any(re.search(r"(?i)raw|count|adc|bits|rohwert", cell) for cell in cells)
            at, width = (None if counted else titled[0]), len(cells)
        elif at is not None and key and len(cells) == width and is_unit(cells[at]):
            found[key.strip().casefold()] = cells[at]
    return found


def said_of_names(preamble: Sequence[tuple[str, str]], names: Sequence[str]) -> dict[int, Scaled]:
    """What lines above say of columns by their names, by place: ``Engine Speed: factor 0.25``, ``ECT = raw - 40``.

    Parameters
    ----------
    preamble : sequence of pairs
        Key and value of each line.
    names : sequence of str
        Names of the columns, without units.

    Returns
    -------
    dict of int to Scaled
        Empty where none does.
    """
    places = {name.strip().casefold(): at for at, name in enumerate(names) if name.strip()}
    found: dict[int, Scaled] = {}
    for mark, tabled in scales_tabled(preamble).items():
        name = mark if mark in places else tabled.name.casefold()
        if name in places:
            found[places[name]] = tabled.scaled
    for key, value in preamble:
        if key and key.strip().casefold() in places:
            at, said = places[key.strip().casefold()], value
        else:
            line = f"{key} = {value}" if key else value
            name = max((one for one in places if line.casefold().startswith(f"{one} ")), key=len, default="")
            if not name:
                continue
            at, said = places[name], line[len(name) :].lstrip(" :=,;-")
        bare = _STATED.fullmatch(said.strip())
        scaled = Scaled(_plain(bare[1] or bare[2]), 0.0, "", False) if bare else scale_said(said)
        if scaled is not None:
            found[at] = scaled
    return found


def scales_of_names(
    preamble: Sequence[tuple[str, str]], names: Sequence[str], of_headers: Mapping[int, Scaled] | None = None
) -> Scales | None:
    """The factors and offsets that lines above give by the columns' names, as ``Engine Speed: factor 0.25``.

    Parameters
    ----------
    preamble : sequence of pairs
        Key and value of each line.
    names : sequence of str
        Names of the columns, without units.
    of_headers : mapping of int to Scaled, optional
        What the headers themselves say, by place; it wins.

    Returns
    -------
    Scales or None
        None where none does.

    Examples
    --------
    >>> scales_of_names([("Engine Speed", "factor 0.25"), ("Driver", "7")], ["Time", "Engine Speed"]).factors
    (1.0, 0.25)
    """
    said = said_of_names(preamble, names) | dict(of_headers or {})
    factors = tuple(said[at].factor if at in said else 1.0 for at in range(len(names)))
    offsets = tuple(said[at].offset if at in said else 0.0 for at in range(len(names)))
    scales = Scales(factors, offsets, all(one.in_order for one in said.values()))
    return scales if scales.changes else None


def _times(cells: Sequence[str]) -> bool:
    """Whether all cells that hold anything are factors with their sign: ``x0.25``."""
    held = [cell for cell in cells if cell]
    return len(held) >= FEWEST and all(_TIMES.fullmatch(cell) for cell in held)


def _number(cell: str) -> float | None:
    point = number_of(cell, ".")
    return number_of(cell, ",") if point is None else point
