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
    "type k j n t thermocouple thermocouples pt100 pt1000 pt nicr ni cr rtd ntc sensor sensors probe encoder ppr "
    "pulses piezo piezoresistive wideband broadband lsu hall inductive optical magnetic transducer range class "
    "accuracy filtered filter lowpass highpass smoothed raw measured recorded logged channel no nr number from "
    "via can bus ecu by the a with and of in at hz ms sampled calibrated calculated averaged mean value signal per rev "
    "revolution".split()
)
"""Words that tell how a value was come by."""
_COUNTS_FROM = frozenset(
    "absolute abs absolut gauge relative rel relativ above ambient over абс изб "
    "表压 表壓 绝对 絕對 絶対 절대 ゲージ圧".split()
)
_HOW: dict[str, str] = {
    **dict.fromkeys(
        "upstream of|upstream|ahead of|in front of|before|pre|vor|v.|avant|antes de|antes da|antes del|prima di|"
        "prima della|voor|före|før|foran|przed|před|pred|перед|înainte de|πριν από|ennen".split("|"), "before"),
    **dict.fromkeys(
        "downstream of|downstream|behind|after|post|nach|n.|après|después de|depois de|dopo|efter|etter|za|po|после|"
        "після|după|jälkeen".split("|"), "behind"),
    **dict.fromkeys("at|in|inside|from|of|on|am|im|an der|na|w|v|u|au|à la|en el|na entrada|på|i|ved".split("|"), "at"),
}  # fmt: skip
"""Words for a place before another, behind it, or at it; in other languages from memory."""
_PLACE = re.compile(
    rf"(?i)^(?P<what>.*?\w\.?)\s+(?P<how>{'|'.join(re.escape(how) for how in sorted(_HOW, key=len, reverse=True))})\s+"
    r"(?:the\s+|la\s+|le\s+|der\s+|dem\s+)?(?P<where>[^\d]*\w)$"
)
# Words of places, by what is measured there, and how: before it, behind it, or at it.
_PLACES: tuple[tuple[frozenset[str], dict[str, str]], ...] = (
    (frozenset({"exhaust", "temperature"}), {
        "before": "turbine turbo turbocharger catalyst catalytic converter cat collector muffler inlet turbin turbinen "
                  "turbolader turbina turbiną turbína turbínou turbínu turbiny turbină турбиной турбины турбіною "
                  "turbiinia turbinom turbino kat",
        "at": "turbine turbo turbocharger inlet exhaust manifold port ports cylinder header collector runner head "
              "primary pipe krümmer kruemmer タービン入口 ターボ前 涡轮前 涡前 渦輪前",
    }),
    (frozenset({"coolant", "temperature"}), {
        "before": "radiator thermostat",
        "at": "engine outlet out cylinder head block thermostat housing motoraustritt motorausgang "
              "motor",
    }),
    (frozenset({"oil", "temperature"}), {"at": "engine sump pan oil main gallery filter"}),
    (frozenset({"oil", "pressure"}), {
        "behind": "filter pump cooler oil", "at": "engine main oil gallery filter head block",
    }),
    (frozenset({"intake", "temperature"}), {
        "behind": "intercooler ic charge air cooler throttle llk ladeluftkühler laddluftkylare",
        "at": "intake inlet manifold plenum port",
        "before": "throttle body valve",
    }),
    (frozenset({"fuel", "pressure"}), {
        "behind": "filter pump", "before": "injectors injector", "at": "fuel rail regulator line",
    }),
    (frozenset({"manifold", "pressure"}), {"at": "intake inlet manifold plenum port", "behind": "throttle"}),
    (frozenset({"engine", "speed"}), {"at": "crankshaft crank flywheel"}),
)  # fmt: skip
_PHRASES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"(?i)\b(low|high)[ -]pass\b"), r"\1pass"),
    (re.compile(r"(?i)\bair[ -/]*(?:to[ -])?fuel[ -]equivalence[ -]ratio(?:,? \(?(?:lambda|λ)\)?)?"), "lambda"),
    (
        re.compile(r"(?i)\brotational[ _](?:speed|velocity)|\bangular[ _](?:speed|velocity)|\bspeed of rotation"),
        "speed",
    ),
    (re.compile(r"(?i)\bstatic[ _]pressure"), "pressure"),
    (re.compile(r"(?i)\brelative[ _]air[ /-]*(?:to[ -])?fuel[ -]ratio|\bexcess[ -]air[ -](?:ratio|factor)"), "lambda"),
    (
        re.compile(r"(?i)\b(?:vehicle |car )?(?:speed|velocity) (?:from|by|of) (?:gnss|gps)(?: receiver)?\b"),
        "gps speed",
    ),
    (re.compile(r"(?i)\bwheel[ -]based[ _](?=vehicle|car|speed|velocity)"), ""),
    (re.compile(r"(?i)\bgas[ _]temperature[ _](?:in|of)[ _](?:the[ _])?exhaust\b"), "exhaust temperature"),
)
"""Terms of papers and what they are in a log's words. By definition."""


_PLACES_ALONE = frozenset("タービン入口 ターボ前 涡轮前 涡前 渦輪前".split())
"""Places that stand in brackets without a word for how."""
_SIGN_BEHIND = re.compile(r"(?<=\S)\s+(?P<sign>[nNvVpPTtλαωϑθ](?:[ _][A-Za-z0-9]{1,4})?)(?<! [a-z] [lr])\Z")
_WORD = re.compile(r"[^\W\d_]{3}")
"""A sign behind a name, and what makes it a name: ``Crank speed N``, ``Plenum pressure p_pl``."""


@dataclass(frozen=True, slots=True)
class PlainName:
    """A shorter name within one that describes."""

    name: str
    """What is measured, and what a pressure counts from."""
    place: str = ""
    """``before``, ``behind`` or ``at``; empty where no place is told."""
    where: tuple[str, ...] = ()
    """Words of the place."""
    besides: tuple[str, ...] = ()
    """What else stands there: another name of the same, or a formula's sign for it, if it is to be taken."""

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
        None where the header tells no sensor, place or paper's term.

    Examples
    --------
    >>> name_within("Exhaust gas temperature upstream of turbine, K-type")
    PlainName(name='Exhaust gas temperature', place='before', where=('turbine',), besides=())
    >>> name_within("Rotational speed of crankshaft, encoder 360 ppr").name
    'speed of crankshaft'
    >>> name_within("Static pressure in intake plenum, absolute").name
    'pressure in intake plenum absolute'
    >>> name_within("Throttle opening, TPS").besides, name_within("Engine speed") is None
    (('TPS',), True)
    """
    plain = header.replace("_", " ")
    for phrase, instead in _PHRASES:
        plain = phrase.sub(instead, plain)
    clauses = [clause for clause in _CLAUSE.split(plain) if clause]
    if not clauses:
        return None
    name, *others = clauses
    place = ""
    where: tuple[str, ...] = ()
    reference: list[str] = []
    besides: list[str] = []
    for clause in others:
        words = [word for word in re.split(r"[\W_]+", clause.casefold()) if word and not word.isdecimal()]
        if _COUNTS_FROM.issuperset(words):
            reference.append(clause)
        elif _PLACES_ALONE.issuperset(words):
            place, where = "at", tuple(words)
        elif not _OF_SENSORS.issuperset(words):
            besides.append(clause)
    match = _PLACE.fullmatch(name.strip())
    how = match["how"].casefold() if match is not None else ""
    if match is not None and how in _HOW and how not in ("of", "in", "on"):  # (a dotless i is taken for an i)
        place, where = _HOW[how], tuple(word for word in re.split(r"[\W_]+", match["where"].casefold()) if word)
        name = match["what"]
    sign = _SIGN_BEHIND.search(name.strip())
    if sign is not None and not place and _WORD.search(sign.string, 0, sign.start()):
        name = sign.string[: sign.start()]
        besides.append(sign["sign"])
    name = " ".join([name.strip(), *reference])
    if place or besides:
        return PlainName(name, place, where, tuple(besides))
    return PlainName(name) if name != header.replace("_", " ") else None
