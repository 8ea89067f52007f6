"""The air to fuel ratio at lambda 1 that the lines above the rows state, by number or by the fuel's name.

Public: `ratio_said`, `counts_air_by_fuel`.
"""

from __future__ import annotations

import re

from passband.analysis.channels.units import STOICHIOMETRIC_OF

_NUMBER = re.compile(r"(?i)\b(?:stoich\w{0,9}|lambda 1|stöch\w{0,12})\b\D{0,20}?(\d{1,2}[.,]\d{1,3})(?!\d)")
_FUEL = re.compile(r"(?i)\W*(?:fuel|kraftstoff|sprit|carburant|essence|combustible|carburante|combustível|brandstof)\b")
_NAMED = re.compile(rf"(?i)\b(?:{'|'.join(STOICHIOMETRIC_OF)})\b")
_PETROL = re.compile(r"(?i)\b(?:petrol|gasoline|pump|super|benzin\w?|octane|ron|meth(?:anol)?[ /-]+(?:inj\w*|water))\b")
LONGEST = 300
"""Letters of a line that are looked at."""
LEAST, MOST = 5.0, 16.0
"""Ratios of what engines burn lie between nitromethane's neighbours and petrol; a number beyond is another. [-], [-]"""
_AIR_TO_FUEL = re.compile(r"(?i)(?:^|[\W_])(?:afr|a/f|air[ /-]?fuel)(?:[\W_\d]|$)")


def counts_air_by_fuel(name: str) -> bool:
    """Whether a header's words are of a ratio of air to fuel, and not of lambda.

    Examples
    --------
    >>> [counts_air_by_fuel(name) for name in ("AFR 1", "Lambda", "wb_afr")]
    [True, False, True]
    """
    return _AIR_TO_FUEL.search(name) is not None


def ratio_said(preamble: tuple[tuple[str, str], ...]) -> float | None:
    """The ratio of air to fuel by mass at lambda 1 of the fuel that a log's head names.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line; free text has an empty key.

    Returns
    -------
    float or None
        None where no line states one, or lines differ. [-]

    Examples
    --------
    >>> ratio_said((("Fuel", "E85, stoich 9.77"),)), ratio_said((("Fuel", "methanol"),))
    (9.77, 6.45)
    >>> ratio_said((("Fuel", "pump 98 with methanol injection"), ("Note", "E85 next time"))) is None
    True
    """
    lines = [(f"{key}: {value}" if key else value)[:LONGEST] for key, value in preamble]
    stated = {float(match[1].replace(",", ".")) for line in lines for match in _NUMBER.finditer(line)}
    if not stated:
        of_fuel = [line for line in lines if _FUEL.match(line) and not _PETROL.search(line)]
        stated = {STOICHIOMETRIC_OF[match[0].lower()] for line in of_fuel for match in _NAMED.finditer(line)}
    ratio = stated.pop() if len(stated) == 1 else 0.0
    return ratio if LEAST <= ratio <= MOST else None
