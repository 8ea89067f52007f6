"""Which channels a user's word means: one, all of a numbered family, or one that others stand in for.

Public: `Logged`, `name_meant`, `channels_meant`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.channels.log import Channel, Traces
from passband.analysis.channels.recognition import channel_named
from passband.analysis.engine.exhaust import EXHAUST_SPREAD, FAMILY, find_exhaust_spread
from passband.analysis.quantities import TEMPERATURE_DIFFERENCE, conversion_to_si
from passband.analysis.sensors.boost_trace import BoostTrace

_SPREAD = re.compile(r"\b(spread|difference)\b", re.IGNORECASE)
_AROUND = re.compile(r"\b(spread|difference|of|in|between|the|all|cylinders?|banks?)\b", re.IGNORECASE)
_MANY = re.compile(r"\b(temperature|temp|egt)s\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Logged:
    """All that the logs of a run hold."""

    traces: Traces
    """Every channel."""
    boost: BoostTrace | None = None
    """Stands in for a ``boost`` or ``manifold_pressure`` that is not logged."""

    def within(self, start_s: float, stop_s: float) -> Logged:
        """The same between two times."""
        boost = self.boost.within(start_s, stop_s) if self.boost is not None else None
        return Logged(self.traces.within(start_s, stop_s), boost)


def name_meant(text: str) -> str:
    """The catalogue's name for what a user wrote, or the text itself where the catalogue knows none.

    Parameters
    ----------
    text : str
        A name, or a plain alias. A spread goes by any of the words for an exhaust temperature, with ``spread``.

    Examples
    --------
    >>> name_meant("EGT spread"), name_meant("Spread of exhaust gas temperatures"), name_meant("Nitrous Bottle")
    ('exhaust_temperature_spread', 'exhaust_temperature_spread', 'Nitrous Bottle')
    """
    plain = text.replace("_", " ")
    if _SPREAD.search(plain) and channel_named(_MANY.sub(r"\1", _AROUND.sub(" ", plain))) == FAMILY:
        return EXHAUST_SPREAD
    return channel_named(text) or text


def channels_meant(text: str, logged: Logged) -> list[Channel]:
    """The channels that a user's word means: that one, or all of its family; the ECU log's before another's.

    Parameters
    ----------
    text : str
        A channel's name, a plain alias of it, or a header as written.
    logged : Logged
        Where to look.

    Returns
    -------
    list of Channel
        Empty where no log holds it and nothing stands in for it.

    Notes
    -----
    The spread of the exhaust temperatures is made from the cylinders' own where they are logged, before a spread that a
    logger made: a sensor that is not to be believed is left out of ours. A logger's own is taken in the unit it states;
    one that states none is compared by its bare numbers, as any channel that the catalogue does not know.
    """
    name, traces = name_meant(text), logged.traces
    spread = _spread(traces) if name == EXHAUST_SPREAD else None
    if spread is not None:
        return [spread]
    exact = traces.get(text)
    if exact is not None and kind_of(exact.name) is None:
        return [exact]
    family = traces.family(name) if family_of(name) == name else []
    by_name: dict[str, Channel] = {}
    for channel in family:
        by_name.setdefault(channel.name, channel)
    if by_name:
        return list(by_name.values())
    single = traces.get(name)
    if single is not None:
        return [single]
    return _from_boost(name, logged.boost)


def _spread(traces: Traces) -> Channel | None:
    """The spread made from the cylinders; else one that a logger made, under any name, if its unit is known."""
    made = find_exhaust_spread(traces)
    if made is not None:
        return made.channel
    logged = traces.get(EXHAUST_SPREAD)
    if logged is not None:
        return logged
    for channel in traces:
        if kind_of(channel.name) is None and name_meant(channel.header) == EXHAUST_SPREAD:
            degree = conversion_to_si(channel.unit, si_unit=TEMPERATURE_DIFFERENCE) if channel.unit else None
            if degree is not None:
                values = channel.values * degree.scale
                return replace(channel, name=EXHAUST_SPREAD, unit=TEMPERATURE_DIFFERENCE, values=values)
    return None


def _from_boost(name: str, boost: BoostTrace | None) -> list[Channel]:
    """Boost from absolute pressure, and the reverse, where only the other is logged."""
    if boost is None or name not in ("boost", "manifold_pressure"):
        return []
    if name == "boost":
        return [Channel("boost", boost.channel, "Pa", "", boost.time_s, boost.boost_pa, 0.0)]
    if boost.barometer_pa is None:
        return []
    return [Channel(name, boost.channel, "Pa", "", boost.time_s, boost.boost_pa + boost.barometer_pa, 0.0)]
