"""Names that describe: what is measured, where, and with which sensor, as data sets of test benches are headed.

``Exhaust gas temperature upstream of turbine, K-type`` is the exhaust gas temperature: where it is taken is where that
channel is, and the sensor changes nothing. A place that is not the channel's own (coolant behind the radiator) does.

Public: `name_within`, `PlainName`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_CLAUSE = re.compile(r"\s*[,;]\s*|\s+-\s+|\s*[()\[\]]\s*")
_OF_SENSORS = frozenset(
    "type k j n t thermocouple thermocouples pt100 pt1000 pt nicr ni cr rtd ntc sensor sensors probe encoder ppr pulses "
    "piezo piezoresistive wideband broadband lsu hall inductive optical magnetic transducer range class accuracy low "
    "high pass filtered filter lowpass smoothed raw measured recorded logged channel no nr number from via can bus ecu "
    "by the a with and of in at hz ms sampled calibrated calculated averaged mean value signal per rev revolution".split()
)
"""Words that tell how a value was come by."""
_COUNTS_FROM = frozenset("absolute abs absolut gauge relative rel relativ above ambient over".split())
_PLACE = re.compile(
    r"(?i)^(?P<what>.*?\w)\s+(?P<how>upstream of|upstream|ahead of|in front of|before|pre|downstream of|downstream|"
    r"behind|after|post|at|in|inside|from|of|on)\s+(?:the\s+)?(?P<where>[^\d]*\w)$"
)
_BEFORE = frozenset({"upstream of", "upstream", "ahead of", "in front of", "before", "pre"})
_BEHIND = frozenset({"downstream of", "downstream", "behind", "after", "post"})
# Words of places, by what is measured there, and how: before it, behind it, or at it.
_PLACES: tuple[tuple[frozenset[str], dict[str, str]], ...] = (
    (frozenset({"exhaust", "temperature"}), {
        "before": "turbine turbo turbocharger catalyst catalytic converter cat collector muffler inlet",
        "at": "turbine turbo turbocharger inlet exhaust manifold port ports cylinder header collector runner head "
              "primary pipe",
    }),
    (frozenset({"coolant", "temperature"}), {
        "before": "radiator thermostat", "at": "engine outlet out cylinder head block thermostat housing",
    }),
    (frozenset({"oil", "temperature"}), {"at": "engine sump pan oil main gallery filter"}),
    (frozenset({"oil", "pressure"}), {
        "behind": "filter pump cooler oil", "at": "engine main oil gallery filter head block",
    }),
    (frozenset({"intake", "temperature"}), {
        "behind": "intercooler charge air cooler throttle", "at": "intake inlet manifold plenum port",
        "before": "throttle body valve",
    }),
    (frozenset({"fuel", "pressure"}), {
        "behind": "filter pump", "before": "injectors injector", "at": "fuel rail regulator line",
    }),
    (frozenset({"manifold", "pressure"}), {"at": "intake inlet manifold plenum port", "behind": "throttle"}),
    (frozenset({"engine", "speed"}), {"at": "crankshaft crank flywheel"}),
)  # fmt: skip
_PHRASES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"(?i)\bair[ -/]*(?:to[ -])?fuel[ -]equivalence[ -]ratio(?:,? \(?(?:lambda|λ)\)?)?"), "lambda"),
    (re.compile(r"(?i)\brotational[ _](?:speed|velocity)|\bangular[ _](?:speed|velocity)|\bspeed of rotation"), "speed"),
    (re.compile(r"(?i)\bstatic[ _]pressure"), "pressure"),
    (re.compile(r"(?i)\bwheel[ -]based[ _](?=vehicle|car|speed|velocity)"), ""),
    (re.compile(r"(?i)\bgas[ _]temperature[ _](?:in|of)[ _](?:the[ _])?exhaust\b"), "exhaust temperature"),
)
"""Terms of papers and what they are in a log's words. By definition."""


@dataclass(frozen=True, slots=True)
class PlainName:
    """A shorter name within one that describes."""

    name: str
    """What is measured, and what a pressure counts from."""
    place: str = ""
    """``before``, ``behind`` or ``at``; empty where no place is told."""
    where: tuple[str, ...] = ()
    """Words of the place."""

    def is_place_of(self, words: frozenset[str]) -> bool:
        """Whether the place is where a channel of these words is measured; true where none is told."""
        if not self.place:
            return True
        for what, places in _PLACES:
            if what <= words:
                usual = frozenset(places.get(self.place, "").split())
                return usual.issuperset(self.where)
        return False


def name_within(header: str) -> PlainName | None:
    """The plain name within a header that describes.

    Parameters
    ----------
    header : str
        Without its unit.

    Returns
    -------
    PlainName or None
        None where the header tells no sensor, place or paper's term, or tells anything else too.

    Examples
    --------
    >>> name_within("Exhaust gas temperature upstream of turbine, K-type")
    PlainName(name='Exhaust gas temperature', place='before', where=('turbine',))
    >>> name_within("Rotational speed of crankshaft, encoder 360 ppr").name
    'speed of crankshaft'
    >>> name_within("Static pressure in intake plenum, absolute").name
    'pressure in intake plenum absolute'
    >>> name_within("Boost, target") is None, name_within("Engine speed") is None
    (True, True)
    """
    plain = header.replace("_", " ")
    for phrase, instead in _PHRASES:
        plain = phrase.sub(instead, plain)
    clauses = [clause for clause in _CLAUSE.split(plain) if clause]
    if not clauses:
        return None
    name, *others = clauses
    kept = [name]
    for clause in others:
        words = [word for word in re.split(r"[\W_]+", clause.casefold()) if word and not word.isdecimal()]
        if _COUNTS_FROM.issuperset(words):
            kept.append(clause)
        elif not _OF_SENSORS.issuperset(words):
            return None
    name, reference = kept[0].strip(), kept[1:]
    match = _PLACE.fullmatch(name)
    if match is not None and match["how"].casefold() not in ("of", "in", "on"):
        how = match["how"].casefold()
        place = "before" if how in _BEFORE else "behind" if how in _BEHIND else "at"
        where = tuple(re.split(r"[\W_]+", match["where"].casefold()))
        return PlainName(" ".join([match["what"], *reference]), place, where)
    shorter = " ".join([name, *reference])
    return PlainName(shorter) if shorter != header.replace("_", " ") else None
