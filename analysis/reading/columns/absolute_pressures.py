"""Pressures that are kept against the air outside, where the log says that it holds them absolute.

An oil pressure read a bar too high hides a limit that was passed; so what the header says is done, and told.

Public: `gauge_from_absolute`.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from passband.analysis.air.atmosphere import STANDARD_PRESSURE_PA
from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.log import Channel, Log, Logged
from passband.analysis.channels.units import read_unit
from passband.analysis.quantities import Conversion
from passband.analysis.results.findings import Finding

_LEAST_PA = {
    "oil_pressure": 60e3,
    "fuel_pressure": 60e3,
    "coolant_pressure": 60e3,
    "back_pressure": 60e3,
    "crankcase_pressure": 20e3,
}
"""Pressures kept as gauge, and the least that each can be, absolute: the air outside at 4000 m, but for a crankcase
that a pump draws down. Common practice, from memory. [Pa]"""
FALLS_BELOW = 0.02
"""Share of samples that may: a sensor's noise, a loose contact. [-]"""
_TAKEN_OFF = "{} is absolute; it is kept against the air outside, and {:.1f} kPa were taken off for that, {}."
_ABSOLUTE = re.compile(r"(?i)(?:^|[^a-z])(?:abs|absolute?|absolu[te]?|assoluta?|absolut[ao])(?:$|[^a-z])")


def gauge_from_absolute(log: Log) -> Log:
    """Take the air outside off pressures that are logged absolute and kept as gauge.

    Parameters
    ----------
    log : Log
        As understood.

    Returns
    -------
    Log
        The same where no header or unit says absolute; a pressure whose own values refute it stays as it is, told.
    """
    for channel in log.channels:
        if family_of(channel.name) in _LEAST_PA and channel.unit == "Pa" and _says_absolute(channel):
            log = _against_outside(log, channel)
    return log


def _says_absolute(channel: Channel) -> bool:
    return read_unit(channel.unit_written).reference == "absolute" or _ABSOLUTE.search(channel.header) is not None


def _against_outside(log: Log, channel: Channel) -> Log:
    known = channel.known.values
    if not known.size:
        return log
    if float(np.mean(known < _LEAST_PA[family_of(channel.name)])) > FALLS_BELOW:
        text = (
            f"{channel.header} says absolute, but falls to what no such pressure can be; it is "
            "read as it stands, against the air outside. Check what its sensor is."
        )
        return log.with_findings(Finding("gauge-or-absolute", "caution", text, channel.header))
    barometer = log.get("barometer")
    if barometer is None or not barometer.known.values.size:
        text = _TAKEN_OFF.format(channel.header, STANDARD_PRESSURE_PA / 1e3, "as at sea level: no barometer is logged")
        told = Finding("gauge-or-absolute", "caution", text, channel.header)
        return log.with_channel(channel, _less(channel, STANDARD_PRESSURE_PA), told)
    outside = float(np.median(barometer.known.values))
    text = _TAKEN_OFF.format(channel.header, outside / 1e3, f"which {barometer.header} shows")
    told = Finding("gauge-or-absolute", "note", text, channel.header)
    return log.with_channel(channel, _less(channel, outside), told)


def _less(channel: Channel, outside_pa: float) -> Channel:
    way = channel.logged or Logged(channel.unit, Conversion(1.0, 0.0, channel.unit))
    way = replace(way, conversion=replace(way.conversion, offset=way.conversion.offset - outside_pa))
    return replace(channel, values=channel.values - outside_pa, logged=way)
