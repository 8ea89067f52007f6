"""What stands at which place: labels that number the columns, and units that stand a column beside their names.

In ``CH3: Lambda``, ``Y2 MAP``, ``04 Oil Temp`` the number is the logger's input or the column, and would else be taken
for a cylinder's or a bank's.

Public: `without_place_labels`, `under_their_names`.
"""

from __future__ import annotations

import re

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import conversion_for, time_scale_s

FITTING_MORE = 2
"""Units that must be of their names' kind one place on, beyond those that are where they stand; one may by chance."""

_LABELLED = re.compile(
    r"(?i)(?P<label>ch|chan|channel|kanal|canal|kan|y|ai|ain|an|analog|analogue|adc|in|input|col|column|spalte|sig|"
    r"signal|var|variable|field|)[ _]?(?P<number>\d{1,3})[ :._=|)-]+(?P<name>(?=[^\W\d_]).+)",
    re.DOTALL,
)
"""What loggers, and programs that draw curves, call their inputs and columns: common words, from memory."""


def without_place_labels(names: list[str]) -> list[str]:
    """Names without a label that numbers their place, where several columns have one.

    Parameters
    ----------
    names : list of str
        One for each column, as written.

    Returns
    -------
    list of str
        The same where fewer than two are labelled, where a number or the rest of a name comes twice (``In1 EGT`` and
        ``In2 EGT`` are two of a kind), or where mere numbers do not count the columns.

    Examples
    --------
    >>> without_place_labels(["CH0: Time", "CH1: RPM", "CH2: Lambda"])
    ['Time', 'RPM', 'Lambda']
    >>> without_place_labels(["Time", "Cyl1 EGT", "Cyl2 EGT"]), without_place_labels(["Time", "In1 EGT", "In2 EGT"])
    (['Time', 'Cyl1 EGT', 'Cyl2 EGT'], ['Time', 'In1 EGT', 'In2 EGT'])
    """
    found = {at: match for at, name in enumerate(names) if (match := _LABELLED.fullmatch(name.strip()))}
    labels = {match["label"].casefold() for match in found.values()}
    numbers = {at: int(match["number"]) for at, match in found.items()}
    rests = {match["name"].casefold() for match in found.values()}
    if len(found) < 2 or len(labels) > 1 or len(set(numbers.values())) < len(found) or len(rests) < len(found):
        return names
    if labels == {""} and (len(found) < len(names) or len({numbers[at] - at for at in found}) > 1):
        return names
    return [found[at]["name"] if at in found else name for at, name in enumerate(names)]


def under_their_names(units: list[str], names: list[str]) -> list[str]:
    """A row of units that leaves the first column's out, one place further right.

    Parameters
    ----------
    units, names : list of str
        One for each column; empty where none is.

    Returns
    -------
    list of str
        The same, unless the last is empty and more units are of their names' kind one place on.

    Examples
    --------
    >>> under_their_names(["rpm", "%", "kPa", ""], ["Time", "RPM", "TPS", "MAP"])
    ['', 'rpm', '%', 'kPa']
    """
    if not any(units) or units[-1]:
        return units
    moved = ["", *units[:-1]]
    return moved if _fitting(moved, names) >= _fitting(units, names) + FITTING_MORE else units


def _fitting(units: list[str], names: list[str]) -> int:
    return sum(_is_of(unit, name) for unit, name in zip(units, names, strict=True) if unit)


def _is_of(unit: str, name: str) -> bool:
    match = next(iter(recognise_name(name)), None)
    kind = None if match is None else kind_of(match.channel)
    if kind is None:
        return False
    return time_scale_s(unit) is not None if kind.name == "time" else conversion_for(unit, kept=kind.unit) is not None
