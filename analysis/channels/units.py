"""Units as loggers write them: is this text a unit, which one, gauge or absolute, and how it becomes SI.

Public: `WrittenUnit`, `is_unit`, `is_volume_flow`, `plain_unit`, `read_unit`, `stoichiometric_in`, `turns_in`,
`is_turning`, `is_degrees_and_minutes`, `conversion_for`, `time_scale_s`, `STOICHIOMETRIC_AFR`,
`STOICHIOMETRIC_OF`.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from passband.analysis.quantities import ALIASES, Conversion, conversion_to_si

Reference = Literal["gauge", "absolute", ""]

# Turning speeds: pint takes 1 Hz as 1 rad/s, a logger means one turn a second.
STOICHIOMETRIC_AFR = 14.7
"""Air to fuel ratio by mass at lambda 1 of petrol, which most gauges print whatever the fuel is. Common practice."""
TURNING: dict[str, float] = {
    "hz": 60.0, "1/s": 60.0, "rev/s": 60.0, "rps": 60.0, "r/s": 60.0, "krpm": 1000.0, "rpm*1000": 1000.0,
    "x1000rpm": 1000.0, "1000rpm": 1000.0, "rpmx1000": 1000.0, "rpm x1000": 1000.0, "x1000 rpm": 1000.0,
    "x10rpm": 10.0, "rpm x10": 10.0, "rpm/10": 10.0, "rpm*10": 10.0, "rad/s": 9.549296585513721,
    "radps": 9.549296585513721,
    "rpm/1000": 1000.0, "r.p.m.": 1.0, "r.p.m": 1.0, "rot/min": 1.0, "turns/min": 1.0,
    "об/мин.": 1.0, "мин-1": 1.0, "回転/分": 1.0, "转/分": 1.0, "轉/分": 1.0,
    "ot/min": 1.0, "obr/min": 1.0, "об/мин": 1.0, "varv/min": 1.0, "toeren/min": 1.0, "omw/min": 1.0,  # cs pl ru sv nl
    "tpm": 1.0,  # nl
    "omdr/min": 1.0, "o/min": 1.0, "kierr/min": 1.0, "ford/perc": 1.0, "1/perc": 1.0, "f/perc": 1.0,  # da no fi hu
    "d/dk": 1.0, "dev/dk": 1.0, "devir/dk": 1.0, "devir/dakika": 1.0, "σαλ": 1.0, "σ.α.λ.": 1.0,  # tr el
    "vrt/min": 1.0, "okr/min": 1.0, "ob/min": 1.0, "obr./min": 1.0, "ot./min": 1.0, "vòng/phút": 1.0, "v/ph": 1.0,
    "دورة/دقيقة": 1.0, "د/د": 1.0, "รอบ/นาที": 1.0, 'סל"ד': 1.0, "סל״ד": 1.0, "putaran/menit": 1.0, "obrt/min": 1.0,
    "omdr./min": 1.0, "об./мин": 1.0, "об/хв": 1.0, "обр/мин": 1.0, "o/dk": 1.0, "回転数/分": 1.0, "회전/분": 1.0,
    "στρ/λεπτό": 1.0, "об/хв.": 1.0, "giri/m": 1.0,
}  # fmt: skip
_MULTIPLE = re.compile(
    r"(?:[x×*] ?(?P<before>1000|100|10) ?)?(?P<unit>rpm|r\.?p\.?m\.?|1/min|min-1|[urt]r?/min|rev/min|)"
    r"(?: ?[x×*/] ?(?P<after>1000|100|10))?|"
    r"(?P<of>1000|100|10)(?:/min| ?[x×*·]? ?(?:rpm|r\.?p\.?m\.?|1/min|min-1|[urt]/min|rev/min))"
)
_PULSES = re.compile(r"hz/([1-9]\d{0,2})")
"""Pulses a second of a sensor that gives so many a turn."""
# What stands where a unit would and says that there is none, or a count, a state, a sensor's raw step.
NO_UNIT = frozenset(
    "0-1 0..1 - -- --- . – — − "
    "0/1 1/0 on/off off/on bool boolean flag state status enum # no. count counts cnt bits raw index "
    "number num none fraction fract frac decimal p.u. pu "
    "n/a na unitless dimensionless ratio lambda la λ afr a/f gear sat sats text string yes/no y/n true/false "
    "lam 단 段 档 挡 檔 速 단수".split()
)
_SHARE_OF = re.compile(r"0 ?(?:-|\.{2,3}|to|bis|à) ?(100|255|1000|1023|4095|10000|65535)")
"""What a share of all is written in, from none to all; of a quantity it is a sensor's counts and says nothing."""
_MORE_UNITS = frozenset(
    "a ma ohm kohm ω kω w kw kwh °/s deg/s rad/s rad rad/s2 gal gal/h gal/hr l l/h l/hr l/min lpm cc cc/min "
    "cm3/min ml/min l/100km mpg nm lbft lb-ft "
    "lb·ft ft-lb ftlb ft·lb n kn inlb km/l usec µsec μs μsec msec nsec hours hour hr h hrs minutes mins days date "
    "hh:mm:ss hh:mm:ss.sss hh:mm:ss.fff h:m:s "
    "mm:ss yyyy-mm-dd iso iso8601 mg/stroke mg/st mg/cyl g/cyl cm hpa/s kpa/s rpm/s %/s "
    "km/h/s mph/s n/m ppm db dbm %ds %dc %rh rh pulses steps inwc ue strain ustrain µstrain με kg g/rev deg/rev "
    "kg·m2 mh2o km/s".split()
)
_TIME_SCALE_S: dict[str, float] = {
    "s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0, "sek": 1.0, "ms": 0.001, "msec": 0.001,
    "millisecond": 0.001, "milliseconds": 0.001, "us": 1e-06, "µs": 1e-06, "μs": 1e-06, "usec": 1e-06,
    "µsec": 1e-06, "microsecond": 1e-06, "microseconds": 1e-06, "ns": 1e-09, "nsec": 1e-09, "nanoseconds": 1e-09,
    "min": 60.0, "mins": 60.0, "minutes": 60.0, "h": 3600.0, "hr": 3600.0, "hours": 3600.0, "days": 86400.0,
    "d": 86400.0, "0.1s": 0.1, "0.01s": 0.01, "10ms": 0.01, "100us": 0.0001, "1/100s": 0.01, "1/10s": 0.1,
    "1/1000s": 0.001, "sek.": 1.0, "sekunden": 1.0, "seg": 1.0, "segundos": 1.0, "сек": 1.0, "с": 1.0, "秒": 1.0,
    "초": 1.0, "мс": 0.001, "毫秒": 0.001, "ミリ秒": 0.001, "밀리초": 0.001,
    "sn": 1.0, "sn.": 1.0, "saniye": 1.0, "msn": 0.001, "δευτ": 1.0, "δευτ.": 1.0, "δευτερόλεπτα": 1.0, "mp": 1.0,
    "másodperc": 1.0, "sekunder": 1.0, "sekundy": 1.0, "secondi": 1.0, "secondes": 1.0, "seconde": 1.0, "сек.": 1.0,
    "секунды": 1.0, "мсек": 0.001, "millisekunden": 0.001, "millisecondes": 0.001, "milisegundos": 0.001,
    "millisecondi": 0.001, "วินาที": 1.0, "giây": 1.0, "שניות": 1.0, "ث": 1.0, "ثانية": 1.0, "menit": 60.0, "detik": 1.0,
}  # fmt: skip

_OF_PETROL = re.compile(
    r"^(?:(?:gasoline|petrol|gas) )?(afr|a/f)(?: ?\(?(?:gasoline|petrol|gas|stoich(?:iometric)? 14[.,]7|14[.,]7)\)?)?$"
)
"""A ratio of air to fuel said to be of petrol, which it is taken for where nothing is said."""
_STOICHIOMETRIC = re.compile(
    r"(?:(?:afr|a/f)[ ,;]*)?(?:stoich(?:iometric|iometry|io)?\.?|stöch(?:iometrisch)?\.?|lambda 1|λ ?1|λ ?= ?1)"
    r"(?: afr)?"
    r"[ :=@]*(\d{1,2}[.,]\d{1,3})(?: ?: ?1)?"
)
STOICHIOMETRIC_OF: dict[str, float] = {
    "methanol": 6.45, "meth": 6.45, "m100": 6.45, "ethanol": 9.0, "e100": 9.0, "e98": 9.1, "e85": 9.8,
}  # fmt: skip
"""Air to fuel ratios by mass at lambda 1 of racing fuels, rounded. Common practice; of blends by weight of their parts
(ethanol 0.79 kg/L, petrol 0.745): 0.85 * 0.79 * 9.0 + 0.15 * 0.745 * 14.7 over 0.783 is 9.8. [-]"""
_OF_FUEL = re.compile(rf"(?:afr|a/f)[ ,(]*({'|'.join(STOICHIOMETRIC_OF)})\)?")
_DEGREES = frozenset(
    "grad град град. градусы 度 stupně stopnie องศา độ 도 درجة מעלות derece βαθμοί fok astetta grader stopni".split()
)
"""Degrees without a letter, in languages that have but one of temperature."""
_TENTHS = re.compile(r"(?P<part>0[.,]0{0,3}1|1e-[1-6])[ *x×·]*(?P<unit>[^\d\W].*|[°%].*)")
"""A decimal part of a unit: ``0.1 K``. A whole number before one may be a sensor's range (``3 bar``)."""
_A_COUNT = re.compile(
    r"(?P<part>\d{0,5}[.,]?\d{1,6})[ *x×·]*(?P<unit>[^\d\W][^0-9]*?|[°%][^0-9]*?)(?: ?/ ?|[ _]per[ _])"
    r"(?:bit|count|cnt|lsb|digit|step|inc(?:rement)?)s?"
)
"""So much of a unit for each count: ``0.25 rpm/bit``."""
_COUNTS_OF_TIME = re.compile(
    rf"(?P<many>\d{{1,6}}(?:[.,]\d{{1,6}})?)(?:/(?P<parts>[1-9]\d{{0,6}}))?[*x·]?"
    rf"(?P<unit>{'|'.join(re.escape(unit) for unit in _TIME_SCALE_S if not unit[0].isdigit())})"
)
"""So many of a unit, or a part of one: ``20 ms``, ``1/64 s``."""

_OF_CRANK = re.compile(
    r"(?:°|deg(?:rees?)?|grad|degrés?|gradi|grados)?[ .]*(?:ca|cad|crank|crk|kw|vil|cigüeñal)?[ .]*"
    r"(?:(?P<before>btdc|b\.t\.d\.c\.|before tdc|bf tdc|v\. ?ot|vor ot|avant pmh|av\.? ?pmh|apms|a\. ?pms|ppms)|"
    r"(?P<after>atdc|a\.t\.d\.c\.|after tdc|n\. ?ot|nach ot|après pmh|ap\.? ?pmh|dpms|d\. ?pms))"
    r"(?:[ ,]+neg(?:ative)?\.?)?"
)
"""Degrees of the crankshaft before or after top dead centre, as the trade writes them in four languages."""
_DEGREES_AND_MINUTES = re.compile(r"(?:[nsew+-]?/?[nsew-]? ?)?d{2,3}[ .°]?m{2}(?:[.,]m*|[.,]?)'?(?: ?s{2}(?:[.,]s*)?)?")
"""How a receiver's positions are written: ``DDMM.mmmm``."""
_VOLUME_FLOW = re.compile(
    r"(?:us |uk |imp |imp\. )?(?:l|lt|ltr|litres?|liters?|ml|cc|ccm|cm3|dm3|gal|gals|gallons?) ?(?:/|per) ?"
    r"(?:s|sec|m|min|minute|h|hr|hour)s?|lpm|lph|gpm|gph"
)


@dataclass(frozen=True, slots=True)
class WrittenUnit:
    """A unit as written, understood."""

    plain: str
    """In the alias the table of units knows."""
    reference: Reference
    """For a pressure: what it is measured against, where the unit says so."""


def turns_in(plain: str) -> float | None:
    """Revolutions a minute in one of a unit of turning, as `plain_unit` gives it; None where it is none.

    Examples
    --------
    >>> [turns_in(unit) for unit in ("hz", "x1000", "rpm/10", "1000/min", "100 1/min", "kpa")]
    [60.0, 1000.0, 10.0, 1000.0, 100.0, None]
    """
    if plain in TURNING:
        return TURNING[plain]
    pulses = _PULSES.fullmatch(plain)
    if pulses:
        return 60.0 / int(pulses[1])
    match = _MULTIPLE.fullmatch(plain)
    many = match and (match["before"] or match["after"] or match["of"])
    return float(many) if many else None


def is_turning(written: str) -> bool:
    """Whether a text is a unit of a turning speed.

    Examples
    --------
    >>> is_turning("giri/min"), is_turning("rpm x10"), is_turning("km/h"), is_turning("Turbo/min")
    (True, True, False, False)
    """
    plain = read_unit(written).plain
    return turns_in(plain) is not None or ALIASES.get(plain) == "rpm"


def is_degrees_and_minutes(written: str) -> bool:
    """Whether a unit says that degrees and minutes stand in one number.

    Examples
    --------
    >>> is_degrees_and_minutes("DDMM.mmmm"), is_degrees_and_minutes("deg")
    (True, False)
    """
    return _DEGREES_AND_MINUTES.fullmatch(plain_unit(written)) is not None


_PRODUCT = re.compile(r"^(\d{0,4}[^\W\d_]{1,4}|1)[ ]?[*·⋅.× ]?[ ]?([^\W\d_]{1,4})-([12])$")
"""A quotient written as a product, as theses do: ``km*h^-1``, ``m s^-2``, ``km·h⁻¹``."""
_OVER = frozenset("s sec min h hr".split())


def _quotient(match: re.Match[str]) -> str:
    over, power = match[2], match[3] if match[3] != "1" else ""
    return f"{match[1]}/{over}{power}" if over in _OVER else match[0]


@lru_cache(maxsize=4096)
def plain_unit(written: str) -> str:
    """A unit in one alias: lower case, one kind of degree sign, no blanks around.

    Examples
    --------
    >>> plain_unit(" Deg  C "), plain_unit("[KPA]"), plain_unit("m/s²")
    ('deg c', 'kpa', 'm/s2')
    """
    text = written.strip().strip("[](){}<>").strip().casefold()
    text = text.replace("â°", "°").replace("º", "°").replace("˚", "°").replace("\ufffd", "°").replace("â", "")
    text = (
        text.replace("²", "2")
        .replace("^2", "2")
        .replace("³", "3")
        .replace("μ", "µ")
        .replace("**2", "2")
        .replace("⁻¹", "-1")
        .replace("⁻2", "-2")
        .replace("^-", "-")
        .replace("^(-1)", "-1")
        .replace("^(-2)", "-2")
        .replace("−", "-")
    )
    text = _PRODUCT.sub(_quotient, re.sub(r"^[øþ¡?](?=[cf]$)", "°", text))
    text = _OF_PETROL.sub(r"\1", text)
    if not text.isascii():  # letters of full width, units in one sign
        text = unicodedata.normalize("NFKC", text).replace("μ", "µ").casefold()
    return " ".join(text.split())


@lru_cache(maxsize=4096)
def read_unit(written: str) -> WrittenUnit:
    """Understand a unit as written.

    Examples
    --------
    >>> read_unit("psi(g)"), read_unit("kPa abs").reference, read_unit("deg C").plain
    (WrittenUnit(plain='psi', reference='gauge'), 'absolute', 'deg c')
    """
    text = re.sub(r"^degrees?\b\.?|^deg\.", "deg", plain_unit(written))
    reference: Reference = ""
    if text not in ALIASES or text in _WITH_REFERENCE:
        match = re.fullmatch(
            r"(.*?(?:psi|pa|бар|bar|кпа|hg|h2o|atm))[ _\-(\[,;]*"
            r"(g|gauge|gage|ga|rel|relativ|ü|üb|überdruck|eff|a|abs|absolut|absolute)\.?[)\]]*",
            text,
        )
        if match:
            reference = "gauge" if match.group(2).startswith(("g", "rel", "ü", "eff")) else "absolute"
            text = match.group(1).strip()
    if text not in ALIASES and text.replace(" ", "") in ALIASES:
        text = text.replace(" ", "")
    return WrittenUnit(text, reference)


_WITH_REFERENCE = frozenset("psig psia psi(g) psi(a) bara barg kpag kpaa kpa(a) kpa(g)".split())


@lru_cache(maxsize=4096)
def is_unit(text: str) -> bool:
    """Whether a text is a unit that loggers write, or a mark for having none.

    Examples
    --------
    >>> [is_unit(text) for text in ("km/h", "°C", "1/min", "-", "driven", "Throttle")]
    [True, True, True, True, False, False]
    """
    plain = read_unit(text).plain
    return bool(plain) and (
        plain in ALIASES
        or turns_in(plain) is not None
        or plain in NO_UNIT
        or plain in _DEGREES
        or _SHARE_OF.fullmatch(plain) is not None
        or plain in _MORE_UNITS
        or time_scale_s(plain) is not None
        or is_volume_flow(text)
        or _OF_CRANK.fullmatch(plain) is not None
        or _DEGREES_AND_MINUTES.fullmatch(plain) is not None
        or stoichiometric_in(text) is not None
        or ((tenths := _TENTHS.fullmatch(plain_unit(text))) is not None and is_unit(tenths["unit"]))
        or ((a_count := _A_COUNT.fullmatch(plain_unit(text))) is not None and is_unit(a_count["unit"]))
    )


def stoichiometric_in(written: str) -> float | None:
    """The air to fuel ratio at lambda 1 that a unit names; None where it names none.

    Examples
    --------
    >>> stoichiometric_in("stoich 9.77"), stoichiometric_in("AFR, stoich. 6.4:1"), stoichiometric_in("AFR")
    (9.77, 6.4, None)
    >>> stoichiometric_in("AFR E85")
    9.8
    """
    fuel = _OF_FUEL.fullmatch(plain_unit(written))
    if fuel:
        return STOICHIOMETRIC_OF[fuel[1]]
    match = _STOICHIOMETRIC.fullmatch(plain_unit(written))
    return float(match[1].replace(",", ".")) if match else None


def is_volume_flow(text: str) -> bool:
    """Whether a unit is of a volume in a time, which is no mass without a density.

    Examples
    --------
    >>> [is_volume_flow(text) for text in ("L/min", "gal / h", "gph", "kg/h")]
    [True, True, True, False]
    """
    return _VOLUME_FLOW.fullmatch(plain_unit(text)) is not None


@lru_cache(maxsize=4096)
def conversion_for(written: str, *, kept: str) -> Conversion | None:
    """How a written unit becomes the unit a channel is kept in.

    Parameters
    ----------
    written : str
        As the log writes it; must not be empty.
    kept : str
        The catalogue's unit.

    Returns
    -------
    Conversion or None
        None where it is a unit of something else, or none at all.

    Examples
    --------
    >>> conversion_for("Hz", kept="rpm").scale, conversion_for("V", kept="Pa") is None
    (60.0, True)
    >>> conversion_for("0.1 K", kept="K").scale, conversion_for("3 bar", kept="Pa") is None  # a sensor's range
    (0.1, True)
    >>> round(conversion_for("0-255", kept="").scale * 255, 12), conversion_for("0-255", kept="Pa") is None
    (1.0, True)
    """
    tenths = _TENTHS.fullmatch(plain_unit(written)) or _A_COUNT.fullmatch(plain_unit(written))
    if tenths:
        whole = conversion_for(tenths["unit"], kept=kept)
        part = float(tenths["part"].replace(",", "."))
        return None if whole is None else replace(whole, scale=round(part * whole.scale, 15))
    plain = read_unit(written).plain
    turns = turns_in(plain) if kept == "rpm" else None
    if turns is not None:
        return Conversion(turns, 0.0, "rpm")
    crank = _OF_CRANK.fullmatch(plain) if plain not in ALIASES else None
    if crank is not None:
        return Conversion(-1.0 if crank["after"] else 1.0, 0.0, "deg") if kept == "deg" else None
    full = _SHARE_OF.fullmatch(plain)
    if full is not None:
        return Conversion(1.0 / float(full[1]), 0.0, "") if kept == "" else None
    if plain in NO_UNIT:
        return Conversion(1.0, 0.0, "") if kept == "" else None
    if plain in _DEGREES and kept == "K":  # where nobody means Fahrenheit; of an angle it is a degree as well
        plain = "degc"
    if plain == "km/s" and kept == "m/s":  # Turkish, "saat" is the hour; no car is logged in kilometres a second
        plain = "km/h"
    return conversion_to_si(plain if plain in ALIASES else written.strip(), si_unit=kept)


def time_scale_s(written: str) -> float | None:
    """Seconds in one of a written unit of time; None where it is none.

    Examples
    --------
    >>> time_scale_s("ms"), time_scale_s("1/64 s"), time_scale_s("20 ms"), time_scale_s("1/min"), time_scale_s("kPa")
    (0.001, 0.015625, 0.02, None, None)
    """
    plain = plain_unit(written).replace(" ", "")
    scale = _TIME_SCALE_S.get(plain)
    if scale is not None:
        return scale
    match = _COUNTS_OF_TIME.fullmatch(plain)
    many = float(match["many"].replace(",", ".")) / int(match["parts"] or 1) if match else 0.0
    return round(many * _TIME_SCALE_S[match["unit"]], 15) if match and many > 0 else None
