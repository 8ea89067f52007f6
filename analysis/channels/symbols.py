"""Formula signs as test benches write them: a quantity's letter and an index that says of what, ``T_Abg``, ``p_L``.

Letter and index each mean little alone; together they name a channel. The tables hold the letters of ISO 80000-3,
-4 and -5 for the quantities, and the indices that German and English engine and vehicle dynamics texts put to them,
written from memory.

Public: `Symbol`, `symbol_read`, `SIGNS_OF`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from passband.analysis.channels.units import Reference

# Indices parted by blanks, by the quantity's letter and the channel.
_TURNING = {
    "engine_speed": "mot m motor eng e engine vm vkm icm ice bkm kw kurbelwelle cr crank crankshaft",
    "driveshaft_speed": "kardan kard gelenkwelle abtrieb abtriebswelle prop driveshaft ds",
    "turbo_speed": "tl tc tur turbo atl lader turbolader",
    "wheel_speed_driven": "antr antrieb driven",
}
_PRESSURE = {
    "boost": "l lad lade ladeluft ladel ldr lader ll boost ld",
    "manifold_pressure": "im int man mani manifold sr saug saugr saugrohr sammler plenum intake inlet ein",
    "oil_pressure": "oel oil o schmieroel",
    "fuel_pressure": "kr kst krst kraftst kraftstoff fuel rail",
    "barometer": "u umg umgebung amb ambient atm env luft baro",
    "crankcase_pressure": "kge kgh kurbelgeh kurbelgehaeuse crankcase cc",
    "back_pressure": "abg abgas exh exhaust em",
    "coolant_pressure": "w kw km kuehl kuehlm kuehlwasser cool coolant",
}
_TEMPERATURE = {
    "exhaust_temperature": "abg abgas exh exhaust eg em egt",
    "oil_temperature": "oel oil o schmieroel",
    "coolant_temperature": "w kw km kuehl kuehlm kuehlmittel kuehlwasser wasser mot cool coolant clt ect",
    "intake_temperature": "l lad ladeluft ll ans ansaug ansaugluft sr saug saugrohr im int intake air luft man inlet",
}
_SPEED = {
    "ground_speed": "fzg fahrzeug fahrz veh vehicle x car",
    "gps_speed": "gps gnss sat",
    "wheel_speed_driven": "antr antrieb driven",
    "wheel_speed_fl": "vl fl lf va fa vorn vorne front",
    "wheel_speed_fr": "vr fr rf",
    "wheel_speed_rl": "hl rl lr ha ra hinten rear",
    "wheel_speed_rr": "hr rr",
}
_CORNERS = {channel: of for channel, of in _SPEED.items() if channel[-2:] in ("fl", "fr", "rl", "rr")}
_ANGLE = {
    "throttle": "th thr throttle dk dkl drossel drosselklappe dros pedal fp fahrpedal ped",
    "ignition_advance": "z zuend zund zzp zw ign",
}
_SYMBOLS: dict[str, dict[str, str]] = {
    "n": _TURNING | _CORNERS,
    "omega": _TURNING | _CORNERS,
    "p": _PRESSURE,
    "t": _TEMPERATURE,
    "theta": _TEMPERATURE,
    "v": _SPEED,
    "alpha": _ANGLE,
    "phi": {"throttle": "dk dkl drossel drosselklappe", "ignition_advance": "z zuend zund zzp zw ign"},
    "w": {"throttle": "dk dkl drossel drosselklappe ped pedal fp"},
    "lambda": {"lambda": "sonde mot motor e eng exh abg abgas ist vk"},
    "lam": {"lambda": "sonde mot motor e eng exh abg abgas ist vk"},
    "a": {"acceleration": "x long longi laengs", "acceleration_lateral": "y q quer lat"},
    "u": {"battery": "b bat batt batterie bord bordnetz"},
    "mdot": {"fuel_flow": "b kr kst krst kraftst kraftstoff fuel f"},
}
SIGNS_OF: dict[str, tuple[str, ...]] = {
    "n": ("rpm",), "ω": ("rpm",), "v": ("m/s",), "p": ("Pa",), "t": ("K",), "ϑ": ("K",), "θ": ("K",),
}  # fmt: skip
"""The catalogue's units of what a letter stands for, where it has one."""
_OF_INDEX: dict[tuple[str, str], str] = {
    (letter, index): channel
    for letter, channels in _SYMBOLS.items()
    for channel, indices in channels.items()
    for index in indices.split()
}
_COUNTS_FROM: dict[str, Reference] = {
    **dict.fromkeys("rel relativ relative gauge ue".split(), "gauge"),
    **dict.fromkeys("abs absolut absolute".split(), "absolute"),
}
_BESIDE = frozenset("ist act actual mess meas measured mittel mean vt vk".split())
"""What may stand behind the index and changes no meaning; ``vT`` is before the turbine, ``vK`` before the catalyst."""
_WHEELS = frozenset("rad wheel whl r".split())
"""Words before the corner at which a wheel is: ``vRad_HL``."""
_SIGN = re.compile(
    r"\\?(?P<letter>omega|ω|theta|θ|ϑ|vartheta|alpha|α|varphi|phi|φ|lambda|λ|lam|mdot|ṁ|dot ?m|n|p|t|v|w|a|u)"
    r"(?P<index>[\w .,]*[^\W_])",
    re.IGNORECASE,
)
_LETTERS = {
    "ω": "omega", "θ": "theta", "ϑ": "theta", "vartheta": "theta", "α": "alpha", "φ": "phi", "varphi": "phi",
    "λ": "lambda", "ṁ": "mdot", "dotm": "mdot", "dot m": "mdot",
}  # fmt: skip
_PARTED = re.compile(r"[ _.,]+")
_WITH_NUMBER = re.compile(r"([^\W\d_]+)(\d{1,2})")
_MARKUP = re.compile(r"[${}]|\\(?:mathrm|text|rm|,)")
_UMLAUTS = str.maketrans({"ö": "oe", "ü": "ue", "ä": "ae", "Ö": "Oe", "Ü": "Ue", "Ä": "Ae"})


@dataclass(frozen=True, slots=True)
class Symbol:
    """A formula sign, understood."""

    channel: str
    """Catalogue name, a family's stem."""
    number: int | None = None
    """The one behind the index."""
    reference: Reference = ""
    """What a pressure is said to count from."""


def symbol_read(header: str) -> Symbol | None:
    """What a formula sign with its index names.

    Parameters
    ----------
    header : str
        Without its unit.

    Returns
    -------
    Symbol or None
        None where the header is no sign, or its index says nothing known.

    Examples
    --------
    >>> symbol_read("T_Abg2"), symbol_read("omega_e").channel
    (Symbol(channel='exhaust_temperature', number=2, reference=''), 'engine_speed')
    >>> symbol_read("pLade_abs").reference, symbol_read("$p_{L}$").channel
    ('absolute', 'boost')
    >>> symbol_read("n_soll"), symbol_read("Throttle"), symbol_read("T_3"), symbol_read("vl")
    (None, None, None, None)
    """
    plain = _MARKUP.sub("", header.strip().translate(_UMLAUTS)).replace("\\", "").strip()
    match = _SIGN.fullmatch(plain)
    if match is None:
        return None
    letter, rest = match["letter"], match["index"]
    parted = rest[0] in " _.," or (letter[-1].islower() and rest[0].isupper())
    if not parted and not (len(letter) == 1 and rest[0].isupper() and rest[1:2].islower()):
        return None  # letters joined are a word
    letter = _LETTERS.get(letter.lower(), letter.lower())
    words = [part for word in _PARTED.split(rest) if word for part in _apart(word)]
    number: int | None = None
    index = ""
    reference: Reference = ""
    if letter in ("v", "n", "omega") and len(words) > 1 and words[0] in _WHEELS:
        words = words[1:]
    for word in words:
        if word.isdecimal() and number is None and index:
            number = int(word)
        elif word in _COUNTS_FROM and index:
            reference = _COUNTS_FROM[word]
        elif word in _BESIDE and index:
            continue
        elif not index and not word.isdecimal():
            index = word
        else:
            return None
    channel = _OF_INDEX.get((letter, index))
    return None if channel is None else Symbol(channel, number, reference)


def _apart(word: str) -> list[str]:
    """An index and the number right behind it; capitals that begin words part them."""
    word = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", word)
    parts: list[str] = []
    for piece in word.split():
        match = _WITH_NUMBER.fullmatch(piece)
        parts += [match[1].lower(), match[2]] if match else [piece.lower()]
    return parts
