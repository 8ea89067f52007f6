"""Channels in pairs of columns, each with its own time beside it, whose names stand over two rows.

Public: `named_in_pairs`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import is_unit, time_scale_s
from passband.analysis.reading.text.name_and_unit import split_name_and_unit

FEWEST_PAIRS = 2
"""One pair is a log of one channel, whose names need no second row."""
_ABSCISSA = re.compile(r"(?i)x\d{0,3}(?:[ _-]?(?:values?|axis|data|werte?|achse))?")
_ORDINATE = re.compile(
    r"(?i)y\d{0,3}(?:[ _-]?(?:values?|axis|data|werte?|achse))?|values?|werte?|data|valeurs?|valor(?:es)?|valor[ei]"
)


def named_in_pairs(upper: Sequence[str], lower: Sequence[str]) -> list[str] | None:
    """A name for each column of two rows, the upper of which names pairs and the lower their times and values.

    Parameters
    ----------
    upper, lower : sequence of str
        The rows' cells.

    Returns
    -------
    list of str or None
        None where the rows are not so.

    Examples
    --------
    >>> named_in_pairs(["RPM", "", "MAP [kPa]", ""], ["Time [s]", "Value", "Time [s]", "Value"])
    ['Time [s]', 'RPM', 'Time [s]', 'MAP [kPa]']
    >>> named_in_pairs(["RPM", "RPM", "", "MAP", "MAP"], ["s", "rpm", "", "s", "kPa"])
    ['Time [s]', 'RPM [rpm]', '', 'Time [s]', 'MAP [kPa]']
    >>> named_in_pairs(["", "Engine", "", "Oil"], ["Time", "Speed", "Gear", "Pressure"]) is None
    True
    """
    lower = [*lower]
    while lower and not lower[-1]:
        lower.pop()
    for apart in (2, 3):  # a column left free between pairs
        if len(lower) % apart in (0, 2) and (len(lower) + 1) // apart >= FEWEST_PAIRS:
            padded = [*upper, *[""] * len(lower)]
            starts = range(0, len(lower), apart)
            named = [_names_of_pair(padded[at : at + apart], lower[at : at + apart]) for at in starts]
            pairs = [one for one in named if one is not None]
            if len(pairs) == len(named) and len({one[0] for one in pairs}) == 1:
                return [name for one in pairs for name in one]
    return None


def _names_of_pair(upper: Sequence[str], lower: Sequence[str]) -> list[str] | None:
    """Names of a time, its values, and a column left free, if there is one."""
    over = {cell for cell in upper if cell}
    time, value = _time_of(lower[0]), lower[1]
    if len(over) != 1 or time is None or any(lower[2:]):
        return None
    name, own = split_name_and_unit(over.pop())
    unit = value.strip("[](){}<> ")
    if is_unit(unit) and not _ORDINATE.fullmatch(value):
        name = f"{name} [{unit}]"
    elif not _ORDINATE.fullmatch(split_name_and_unit(value)[0]):
        return None
    else:
        unit = own or split_name_and_unit(value)[1]
        name = f"{name} [{unit}]" if unit else name
    return [time, name, *lower[2:]]


def _time_of(cell: str) -> str | None:
    """A column's name, by the lower row's cell of it; None where that is no time."""
    unit = cell.strip("[](){}<> ")
    if time_scale_s(unit) is not None:
        return f"Time [{unit}]"
    name, unit = split_name_and_unit(cell)
    if _ABSCISSA.fullmatch(name):
        return f"Time [{unit}]" if unit else "Time"
    return cell if any(match.channel == "time" for match in recognise_name(name)) else None
