"""What lines above the names say of the columns: keys and values, units, legends, names by place.

Public: `read_preamble`, `units_from_preamble`, `legend_of`, `named_by_place`, `without_formulas`.
"""

from __future__ import annotations

import re

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import is_unit
from passband.analysis.reading.text.cells import split_line
from passband.analysis.reading.text.encoding import Line
from passband.analysis.reading.text.name_and_unit import bare_unit, split_name_and_unit
from passband.analysis.reading.text.stated_scales import scale_said, units_tabled


def read_preamble(lines: list[Line], delimiter: str) -> tuple[tuple[str, str], ...]:
    """Key and value of each line above the names; free text has an empty key.

    Parameters
    ----------
    lines : list of Line
        In any order.
    delimiter : str
        Of the rows.
    """
    pairs: list[tuple[str, str]] = []
    for line in sorted(lines, key=lambda line: line.number):
        text = line.text.strip().lstrip("#;%").removeprefix("//").strip()
        if not text.strip(delimiter + " "):
            continue
        pairs.append(_key_and_value(text, delimiter))
    return tuple(pairs)


def _key_and_value(text: str, delimiter: str) -> tuple[str, str]:
    prose = text[1:-1] if re.fullmatch(r'"[^"]+"', text) else text  # in quotes
    explained = re.fullmatch(r"([^\W\d]\w{0,11}) +[-–—] +([^\W\d].*)", prose)
    if explained:
        return explained.group(1), explained.group(2)
    cells = split_line(text, delimiter)
    if len(cells) >= 2 and cells[0] and not re.search(r"[:=].*[^\s:=]", cells[0]):
        return cells[0].rstrip(": ="), (delimiter + " ").join(cell for cell in cells[1:] if cell).strip()
    match = re.match(r"^([^:=]{1,60}?)\s*[:=]\s*(.*)$", prose, re.DOTALL)
    if match:
        return match.group(1).strip(), match.group(2).strip().strip(delimiter)
    return "", text


LONGEST_ROW = 4000
"""Letters of a line of units; longer ones are none."""


def units_from_preamble(preamble: tuple[tuple[str, str], ...], names: list[str]) -> list[str]:
    """Units that the preamble states: one line for each column, or one line for all.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line.
    names : list of str
        Names of the columns without units.

    Returns
    -------
    list of str
        One for each name; empty where none is stated.
    """
    stated: dict[str, str] = {}
    for key, value in preamble:
        unit = re.sub(r"(?i)^\s*(?:units?\s*[:=]?|(?:ticks?|counts?|steps?)\s+(?:of|in))\s*", "", value).strip(" []()")
        plain_key = re.sub(r"(?i)\s*\b(units?|einheit)\b\s*", " ", key).strip().casefold()
        if unit and is_unit(unit):
            stated[plain_key] = unit
        stated |= _units_in_a_line(f"{key} = {value}" if key else value, names)
        row = [] if key else re.split(r"[,;\t|]\s*|\s+", value[:LONGEST_ROW])
        if len(row) == len(names) > 1 and all(is_unit(cell) for cell in row):
            return ["" if cell == "-" else cell for cell in row]
        if re.fullmatch(r"(?i)\s*units?\s*", key):
            cells = [cell.strip() for cell in re.split(r"[,;\t|]", value)]
            if len(cells) == len(names) and 2 * sum(is_unit(cell or "-") for cell in cells) >= len(cells):
                return ["" if cell == "-" else cell for cell in cells]
    stated = units_tabled(preamble) | stated
    return [stated.get(name.casefold(), "") for name in names]


_WITH_UNIT = re.compile(r"(.{1,60}?)\s*(?:=|:|->|\[|\()\s*([^=:;]{1,20}?)[\])]?")


def _units_in_a_line(line: str, names: list[str]) -> dict[str, str]:
    """Units that one line states for several columns: ``units: time = s; oil temp = deg C``."""
    if len(line) < 2 or not any(mark in line for mark in ";,|"):
        return {}
    known = {name.casefold() for name in names if name}
    found: dict[str, str] = {}
    for piece in re.split(r"\s*[;,|]\s*", re.sub(r"[{}\"']", "", line)):
        behind = re.split(r"[:=]\s*", piece, maxsplit=1)[-1]
        match = next((one for text in (piece, behind) if (one := _WITH_UNIT.fullmatch(text.strip()))
                      and one[1].casefold() in known), None)  # fmt: skip
        if match and match[1].casefold() in known and is_unit(match[2]):
            found[match[1].casefold()] = match[2]
    return found if len(found) > 1 else {}


def legend_of(cells: list[str], preamble: tuple[tuple[str, str], ...]) -> dict[int, str]:
    """By place, what names stand for that lines above explain, as "Ch1 = Engine Speed [rpm]".

    Parameters
    ----------
    cells : list of str
        The names.
    preamble : tuple of pairs
        Key and value of each line.
    """
    said = {
        key.casefold(): re.split(r"\s*[,;\t|]\s*", value, maxsplit=1)
        for key, value in preamble
        if key and value and scale_said(value) is None
    }
    explained = {
        at: " ".join([name, *(f"[{unit.strip('[]() ')}]" for unit in units if is_unit(bare_unit(unit)))])
        for at, cell in enumerate(cells)
        for name, *units in [said.get(cell.casefold(), [""])]
        if name and not recognise_name(split_name_and_unit(cell)[0])
    }
    if not any(recognise_name(split_name_and_unit(name)[0]) for name in explained.values()):
        return {}
    return explained


def without_formulas(preamble: tuple[tuple[str, str], ...], names: list[str]) -> tuple[tuple[str, str], ...]:
    """Lines that explain a name and say how its counts become values, as two: ``ne: engine speed = raw / 4 [rpm]``.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line.
    names : list of str
        As written.
    """
    known = {name.casefold() for name in names if name}
    parted: list[tuple[str, str]] = []
    for key, value in preamble:
        name, mark, formula = value.rpartition("=")
        if key.casefold() in known and mark and name.strip() and scale_said(formula) is not None:
            parted += [(key, name.strip()), (key, formula.strip())]
        else:
            parted.append((key, value))
    return tuple(parted)


_PLACE = re.compile(
    r"(?i)(?:column|col|channel|ch|field|spalte|kanal|colonne|columna|coluna|colonna|kolom|kolumn)\.? ?(\d{1,4})"
)


def named_by_place(preamble: tuple[tuple[str, str], ...], width: int) -> list[str]:
    """Names that lines above rows without a header give, as "Column 3: MAP [kPa]"; none unless each column has one.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line.
    width : int
        Cells of a row of data.
    """
    named = {int(match[1]): value for key, value in preamble if (match := _PLACE.fullmatch(key)) and value}
    return [named[at] for at in range(1, width + 1)] if all(at in named for at in range(1, width + 1)) else []
