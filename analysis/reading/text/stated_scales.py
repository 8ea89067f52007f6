"""Rows between names and numbers that say by what each column is to be multiplied, and what is to be added.

Public: `says_scale`, `Scales`, `scales_above`, `scales_of_names`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

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
FEWEST = 2
"""Numbers that such a row holds: one alone is a setting of the logger."""


@dataclass(frozen=True, slots=True)
class Scales:
    """How counts of each column become values: times the factor, plus the offset."""

    factors: tuple[float, ...]
    offsets: tuple[float, ...]

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
        numbers = [_number(cell) for cell in (["", *cells[1:]] if labelled else cells[1:])][:width]
        into = factors if _FACTOR.fullmatch(cells[0]) else offsets
        into[: len(numbers)] = [one if number is None else number for number, one in zip(numbers, into, strict=False)]
        found = True
    return Scales(tuple(factors), tuple(offsets)) if found else None


def scales_of_names(preamble: Sequence[tuple[str, str]], names: Sequence[str]) -> Scales | None:
    """The factors that lines above give by the columns' names, as ``Engine Speed: factor 0.25``.

    Parameters
    ----------
    preamble : sequence of pairs
        Key and value of each line.
    names : sequence of str
        Names of the columns, without units.

    Returns
    -------
    Scales or None
        None where none does.

    Examples
    --------
    >>> scales_of_names([("Engine Speed", "factor 0.25"), ("Driver", "7")], ["Time", "Engine Speed"]).factors
    (1.0, 0.25)
    """
    found = {
        key.strip().casefold(): float((match[1] or match[2]).replace(",", "."))
        for key, value in preamble
        if key and (match := _STATED.fullmatch(value.strip()))
    }
    factors = tuple(found.get(name.strip().casefold(), 1.0) for name in names)
    return Scales(factors, (0.0,) * len(factors)) if any(one != 1.0 for one in factors) else None


def _times(cells: Sequence[str]) -> bool:
    """Whether all cells that hold anything are factors with their sign: ``x0.25``."""
    held = [cell for cell in cells if cell]
    return len(held) >= FEWEST and all(_TIMES.fullmatch(cell) for cell in held)


def _number(cell: str) -> float | None:
    point = number_of(cell, ".")
    return number_of(cell, ",") if point is None else point
