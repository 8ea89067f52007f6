"""Columns of words that are numbers all the same: hexadecimal counts, thousands as "7.2k", "0.98±0.02", a raised point.

Public: `numbers_written_otherwise`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.rows.table import Table, TurnedWords
from passband.analysis.reading.text.cells import FLAGS, NO_VALUE
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.results.findings import Finding

LOOKED_AT = 40
"""Cells that show whether a column may be written so, before all are looked at."""
FEW_CELLS = 500
"""Cells of a column that are quicker gone through one by one than by calls over all of them."""
FEWEST = 8
"""Fewer cells show nothing."""

_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_HEXADECIMAL, _GEARS = "hexadecimal counts", "gears by their number"


@dataclass(frozen=True, slots=True)
class _Way:
    """One way of writing numbers."""

    said: str
    """What the cells are, in words."""
    pattern: str
    """What each cell matches; its first group holds the number."""
    turned: Callable[[str], float]
    """That group as a number."""


_WAYS = (
    _Way(_HEXADECIMAL, r"^0[xX]([0-9A-Fa-f]{1,8})$", lambda digits: float(int(digits, 16))),
    _Way(_HEXADECIMAL, r"^\$?([0-9A-F]{2}|[0-9A-F]{4}|[0-9A-F]{8})[hH]?$",
         lambda digits: float(int(digits, 16))),
    _Way("thousands, with a k behind", rf"^({_NUMBER} ?[kK]?)$", lambda number: _with_k(number)),
    _Way("numbers with their plus-minus, which is left out", rf"^({_NUMBER}) ?(?:±|\+/?-) ?\d+(?:\.\d+)?$", float),
    _Way("numbers with a raised point", r"^([-+]?\d+[·∙⋅˙]\d+)$", lambda number: float(re.sub("[·∙⋅˙]", ".", number))),
    _Way("seconds before and after a launch", r"^[Tt] ?([-+] ?\d+(?:\.\d+)?)(?: ?s)?$",
         lambda number: float(number.replace(" ", ""))),
    _Way("numbers with a mark behind", rf"^({_NUMBER})[;:,]$", float),
    _Way(_GEARS, r"^(?:(?:[Gg]ear|GEAR|[Gg]ang|[Mm]archa|[Vv]itesse) ?)?([1-9]|1[0-2])"
         r"(?:st|nd|rd|th|[eè]re?|[eè]me|\.|ª|º|°|a|o|da|速|档|檔|단|速ギア)?$",
         float),
)  # fmt: skip
_WAY_OF_A_GEARBOX = _Way(_GEARS, r"^[MDS]([1-9]|1[0-2])$", float)
"""A letter for the gearbox's mode before the gear; under another name it may be a map, a mode, a switch."""
FEWEST_COUNTS = 4
"""Different cells of two or more hexadecimal digits that are no one state's name, as ``D2``."""
_AT_REST = {
    **dict.fromkeys("n,neutral,p,0,leerlauf,point mort,neutre,folle,punto muerto,ニュートラル,空档".split(","), 0.0),
    **dict.fromkeys("r,reverse".split(","), -1.0),
}
"""Words for a gearbox that drives nothing, and backwards."""


def numbers_written_otherwise(table: Table, header: Header) -> Table:
    """Turn columns of words into numbers where every cell is one, written in another way than in digits and a point.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names, for the findings.

    Returns
    -------
    Table
        With a finding for each column that was turned.
    """
    return table.with_words_turned(lambda at, words: _told(words, header.names[at], header.bare[at]))


def _told(words: pl.Series, name: str, bare: str) -> TurnedWords | None:
    gear = any(one.channel == "gear" for one in recognise_name(bare))
    found = _turned(words, (_WAY_OF_A_GEARBOX, *_WAYS) if gear else _WAYS)
    if found is None:
        return None
    way, values, example = found
    text = f"{name} holds {way.said} ({quoted_start(example, most=20)}) and was read so."
    if way.said == _HEXADECIMAL:
        text += " What one count means stands nowhere; check the values."
        return TurnedWords(values, Finding("numbers-written-otherwise", "caution", text, name))
    return TurnedWords(values, Finding("numbers-written-otherwise", "note", text, name))


def _turned(words: pl.Series, ways: Sequence[_Way]) -> tuple[_Way, np.ndarray, str] | None:
    """The way in which all cells of a column are numbers, their values, and an example; None where there is none."""
    held = _held(words)
    first = [cell.strip(' "') for cell in held[:LOOKED_AT]]
    first = [cell for cell in first if cell and cell.lower() not in NO_VALUE]
    for way in ways:
        if len(first) < FEWEST or not all(re.match(way.pattern, cell) or cell.lower() in _AT_REST for cell in first):
            continue
        unique = {cell: _value(way, cell) for cell in dict.fromkeys(held)}
        if any(value is None for value in unique.values()) or not _shows_it(way, [*unique]):
            continue
        values = np.array([unique.get(cell, np.nan) for cell in words.to_list()], dtype=np.float64)
        return (
            way,
            values,
            next(cell for cell in unique if re.match(way.pattern, cell.strip(' "')) and not cell.isdigit()),
        )
    return None


def _held(words: pl.Series) -> list[str]:
    """The cells that hold anything; of many, each but once behind the first of them."""
    if len(words) <= FEW_CELLS:
        return [cell for cell in words.to_list() if cell is not None]
    known = words.drop_nulls()
    return [*known.head(LOOKED_AT).to_list(), *known.unique(maintain_order=True).to_list()]


def _value(way: _Way, cell: str) -> float | None:
    """What a cell is; NaN for no value, None where it is none of these."""
    plain = cell.strip(' "')
    if not plain or plain.lower() in NO_VALUE:
        return float("nan")
    match = re.match(way.pattern, plain)
    if match is not None:
        return way.turned(match[1])
    return _AT_REST.get(plain.lower()) if way.said == _GEARS else None


def _shows_it(way: _Way, cells: list[str]) -> bool:
    """Whether the cells can be nothing else: bare hexadecimal digits are all as many, and some are letters."""
    plain = [cell.strip(' "') for cell in cells]
    if way.said == _HEXADECIMAL and not plain[0].lower().startswith("0x"):
        lengths = {len(cell) for cell in plain if cell and cell.lower() not in NO_VALUE}
        return (
            len(lengths) == 1 and len(set(plain)) >= FEWEST_COUNTS and any(re.search(r"[A-DF]", cell) for cell in plain)
        )
    if way.said == _GEARS:
        return any(not cell.isdigit() and cell.lower() not in FLAGS | _AT_REST for cell in plain)
    return any(re.match(way.pattern, cell) and re.fullmatch(_NUMBER, cell) is None for cell in plain)


def _with_k(number: str) -> float:
    return 1000.0 * float(number[:-1]) if number[-1] in "kK" else float(number)
