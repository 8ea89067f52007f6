"""A shaft behind the gears told as the car's speed: a computer's km/h that its sensor at the gearbox shows.

Such a sensor counts the output shaft's teeth, and the computer tells it as a road speed by the tires and final drive
set in it. It is the driven wheels' speed, then, whatever the shaft is called.

Public: `shaft_as_road_speed`.
"""

from __future__ import annotations

from passband.analysis.channels.plain_words import plain_words
from passband.analysis.channels.recognition import NameMatch, recognise_name
from passband.analysis.channels.telling_words import FILLER
from passband.analysis.channels.units import conversion_for

AT_THE_GEARBOX = frozenset(
    frozenset(words.split())
    for words in ("gearbox speed", "transmission speed", "trans speed", "speedometer", "speedo", "speedometer speed")
)
"""Names that say where the sensor sits: in turns they may be the shaft before the gears, as a road speed only the one
behind them."""
SAID_AT_THE_GEARBOX = 0.7
"""How sure such a name is where its unit is a road speed's. [-]"""


def shaft_as_road_speed(bare: str, unit: str) -> NameMatch | None:
    """The driven wheels' speed, where a name is of a shaft behind the gears and the unit a road speed's.

    Parameters
    ----------
    bare : str
        A header without its unit.
    unit : str
        As written; empty where none is.

    Returns
    -------
    NameMatch or None
        None where the name is of no such shaft, or the unit is not one of speed.

    Examples
    --------
    >>> [found and found.channel for found in (shaft_as_road_speed("Gearbox Speed", u) for u in ("km/h", "rpm"))]
    ['wheel_speed_driven', None]
    """
    if not unit or conversion_for(unit, kept="m/s") is None:
        return None
    sure = [match.confidence for match in recognise_name(bare) if match.channel == "driveshaft_speed"]
    words = frozenset(plain_words(bare))
    if not sure and (words in AT_THE_GEARBOX or words - FILLER in AT_THE_GEARBOX):
        sure = [SAID_AT_THE_GEARBOX]
    return NameMatch("wheel_speed_driven", sure[0]) if sure else None
