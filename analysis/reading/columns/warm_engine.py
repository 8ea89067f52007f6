"""Figures that make a cold engine in degrees Fahrenheit and a warm one in degrees Celsius.

Both can be, so neither is mended; whoever knows the car is asked.

Public: `would_be_warm`.
"""

from __future__ import annotations

from passband.analysis.quantities import Conversion

_WARM_C = {
    "coolant_temperature": (75.0, 75.0, 118.0, 320.0),
    "oil_temperature": (75.0, 75.0, 118.0, 320.0),
    "exhaust_temperature": (-40.0, 650.0, 930.0, 773.0),
}
"""Of a warm engine: the least of its lowest, the least and the most of its highest, from thermostat to hot lap, exhaust
at full load; as written the highest stays below the last. Common practice, from memory. [degC] three times, [K]"""


def would_be_warm(family: str, least: float, most: float, written: Conversion) -> bool:
    """Whether figures that make a cold engine as written are those of a warm one in degrees Celsius.

    Parameters
    ----------
    family : str
        Of the channel.
    least, most : float
        Between which the column goes, in figures as written.
    written : Conversion
        From the unit written.

    Examples
    --------
    >>> would_be_warm("coolant_temperature", 84.0, 92.0, Conversion(5 / 9, 255.37, "K"))
    True
    """
    if family not in _WARM_C:
        return False
    lowest, low, high, cold_k = _WARM_C[family]
    return bool(least >= lowest and low <= most <= high and most * written.scale + written.offset < cold_k)
