"""How many pulses a turn a header says its sensor gives, so that pulses a second become turns.

Public: `Pickup`, `pulses_said`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from passband.analysis.channels.units import plain_unit

_PULSES = re.compile(
    r"(?i)[\s,;:(\[-]*\b(?P<many>[1-9]\d{0,2})[ -]?(?:(?:pulses?|imp(?:ulse?s?)?\.?|teeth|tooth|counts?|ticks?|"
    r"triggers?|zähne|magnets?)\s*(?:/|per|pro|je|a|an|each)\s*(?:rev(?:olution)?s?|turn|u|umdr(?:ehung)?|rot(?:ation)?)\b\.?|"
    r"ppr|p/r|ipr)\s*[)\]]?"
)
"""``3 pulses per rev``, ``(8 ppr)``, ``60 teeth/rev``."""
_PER_SECOND = frozenset({"hz", "1/s", "pulses/s", "imp/s", "p/s", "pps"})


@dataclass(frozen=True, slots=True)
class Pickup:
    """A header whose sensor counts pulses."""

    name: str
    """Without what is said of pulses."""
    unit: str
    """Of turns: ``Hz/3``."""


def pulses_said(name: str, unit: str) -> Pickup | None:
    """The turns behind pulses a second, where the header tells how many pulses make one.

    Parameters
    ----------
    name : str
        A header without its unit.
    unit : str
        As written.

    Returns
    -------
    Pickup or None
        None where the header says nothing of it, or the unit is of no pulses.

    Examples
    --------
    >>> pulses_said("Engine pickup (3 pulses per rev)", "Hz")
    Pickup(name='Engine pickup', unit='Hz/3')
    >>> pulses_said("Engine speed, encoder 360 ppr", "rpm") is None
    True
    """
    match = _PULSES.search(name) if plain_unit(unit) in _PER_SECOND else None
    if match is None:
        return None
    plain = f"{name[: match.start()]} {name[match.end() :]}".strip(" ,;:-_")
    return Pickup(plain, f"Hz/{match['many']}") if plain else None
