"""Numbers with units and plus-minus: SI inside, units of the outside world converted once at the edge.

Public: `Conversion`, `conversion_to_si`, `parse_quantity`, `split_quantity`, `without_groups`,
`TEMPERATURE_DIFFERENCE`, `DIFFERENCE_SIGN`, `FloatArray`, `BoolArray`, `IntArray`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from tokenize import TokenError
from typing import Any

import numpy as np
import numpy.typing as npt

from passband.analysis.unit_factors import FACTORS, OTHER_COMMON

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

G_MPS2 = 9.80665
"""Standard gravity. [m/s2] Source: ISO 80000-3 (conventional value)."""
FOOT_M = 0.3048
"""International foot, exact. [m]"""
RPM_PER_RAD_S = 30.0 / math.pi
"""Turns a minute that are a radian a second, exact. [rpm s/rad]"""
TEMPERATURE_DIFFERENCE = "delta_K"
"""The unit that a difference of two temperatures is kept in: kelvin, under a name of its own, because 80 degC of
difference are 80 K where a temperature of 80 degC is 353.15 K."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """How a written unit becomes SI: ``si = value * scale + offset``."""

    scale: float
    """SI units per written unit."""
    offset: float
    """SI value at written zero; not 0 only for temperatures."""
    si_unit: str
    """The unit it becomes, as the catalogue writes it, e.g. ``Pa``."""


# Written units that pint does not know, or knows as something else, in lower case without blanks.
ALIASES: dict[str, str] = {
    "rpm": "rpm", "1/min": "rpm", "1min": "rpm", "min-1": "rpm", "u/min": "rpm", "rev/min": "rpm", "r/min": "rpm",
    "/min": "rpm", "revs/min": "rpm",
    "rev per min": "rpm", "tr/min": "rpm", "giri/min": "rpm", "upm": "rpm", "rpms": "rpm", "1/m": "rpm",
    "tr/mn": "rpm", "varv/min": "rpm", "v/min": "rpm",
    "c": "degC", "°c": "degC", "degc": "degC", "deg c": "degC", "deg. c": "degC", "celsius": "degC", "ºc": "degC",
    "cel": "degC", "degrees c": "degC",
    "degree c": "degC", "deg_c": "degC", "° c": "degC", "℃": "degC", "grad c": "degC",
    "graden c": "degC", "gradi c": "degC", "stopni c": "degC", "grados c": "degC", "graus c": "degC",
    "degrés c": "degC",
    "grader c": "degC", "stupňů c": "degC", "град c": "degC", "град. c": "degC", "град с": "degC", "град. с": "degC",
    "f": "degF", "°f": "degF", "degf": "degF", "deg f": "degF", "deg. f": "degF", "fahrenheit": "degF",
    "ºf": "degF", "degrees f": "degF",
    "degree f": "degF", "deg_f": "degF", "° f": "degF", "℉": "degF",
    "°r": "degR", "deg r": "degR", "degr": "degR", "rankine": "degR",
    "k": "K", "kelvin": "K", "°k": "K", "degk": "K", "deg k": "K",
    "kph": "km/h", "kmh": "km/h", "km/h": "km/h", "kmph": "km/h", "km/hr": "km/h", "kmhr": "km/h", "km.h-1": "km/h",
    "km h-1": "km/h", "km/t": "km/h", "km/sa": "km/h", "km/saat": "km/h", "km/ó": "km/h", "км/ч": "km/h",
    "км/год": "km/h", "km/u": "km/h", "км/час": "km/h", "km/std": "km/h", "km/godz": "km/h", "km/hod": "km/h",
    "km/tim": "km/h", "km/timme": "km/h", "km/óra": "km/h", "km/oră": "km/h", "km/ora": "km/h", "km/hora": "km/h",
    "km/heure": "km/h", "km/uur": "km/h", "km/time": "km/h", "χλμ/ώρα": "km/h", "χλμ./ώρα": "km/h", "χλμ/h": "km/h",
    "公里/時": "km/h", "公里/小時": "km/h", "千米/时": "km/h", "km/時": "km/h", "km/시": "km/h", "キロ/時": "km/h",
    "كم/س": "km/h", "كم/ساعة": "km/h", "km/giờ": "km/h", "km/jam": "km/h", "กม./ชม.": "km/h", "קמ״ש": "km/h",
    "קמ\"ש": "km/h",
    "บาร์": "bar", "χλμ/ω": "km/h", "公里/时": "km/h", "公里/小时": "km/h", "м/с": "m/s",
    "м/с2": "m/s^2", "м/с²": "m/s^2",
    "кпа": "kPa", "мпа": "MPa", "па": "Pa", "бар": "bar", "мбар": "mbar", "атм": "atm", "千帕": "kPa", "兆帕": "MPa",
    "بار": "bar", "°م": "degC", "м/сек": "m/s", "巴": "bar", "°с": "degC", "с°": "degC", "гр.с": "degC", "в": "V",
    "mph": "mile/hour", "mi/h": "mile/hour", "miles/h": "mile/hour", "mile/h": "mile/hour", "mi/hr": "mile/hour",
    "m.p.h.": "mile/hour",
    "m/s": "m/s", "mps": "m/s", "m/sec": "m/s", "m.s-1": "m/s", "m s-1": "m/s", "ft/s": "ft/s", "fps": "ft/s",
    "ft/sec": "ft/s",
    "kn": "knot", "kt": "knot", "kts": "knot", "knot": "knot", "knots": "knot",
    "psi": "psi", "psig": "psi", "psia": "psi", "psi(g)": "psi", "psi(a)": "psi", "lb/in2": "psi", "lbf/in2": "psi",
    "lbs/in2": "psi",
    "bar": "bar", "bars": "bar", "mbar": "mbar", "millibar": "mbar", "bara": "bar", "barg": "bar", "cbar": "cbar",
    "kpa": "kPa", "kpag": "kPa", "kpaa": "kPa", "kpa(a)": "kPa", "kpa(g)": "kPa", "hpa": "hPa", "mpa": "MPa",
    "pa": "Pa", "pascal": "Pa",
    "inhg": "inHg", "in hg": "inHg", "in.hg": "inHg", "\"hg": "inHg", "mmhg": "mmHg", "mm hg": "mmHg",
    "inhga": "inHg", "inhgg": "inHg", "torr": "torr", "cmhg": "cmHg", "atm": "atm",
    "кгс/см2": "kgf/cm^2", "кг/см2": "kgf/cm^2",
    "kg/cm2": "kgf/cm^2", "kgf/cm2": "kgf/cm^2", "kp/cm2": "kgf/cm^2", "at": "kgf/cm^2",
    "inh2o": "inH2O", "in h2o": "inH2O", "mmh2o": "mmH2O", "cmh2o": "cmH2O",
    "pct open": "percent", "% open": "percent", "percent open": "percent", "kilopascal": "kPa", "kilopascals": "kPa",
    "millibars": "mbar", "hectopascal": "hPa", "kilometres per hour": "km/h", "kilometers per hour": "km/h",
    "miles per hour": "mile/hour", "metres per second": "m/s", "meters per second": "m/s", "degrees celsius": "degC",
    "deg celsius": "degC", "degrees fahrenheit": "degF", "deg fahrenheit": "degF", "revolutions per minute": "rpm",
    "revs per minute": "rpm", "pounds per square inch": "psi", "inches of mercury": "inHg", "per minute": "rpm",
    "%": "percent", "pct": "percent", "percent": "percent", "per cent": "percent", "prozent": "percent",
    "perc": "percent", "proz": "percent", "proz.": "percent", "procent": "percent", "procento": "percent",
    "porcentaje": "percent", "%tps": "percent",
    "‰": "permille", "permille": "permille", "per mille": "permille", "promille": "permille", "permil": "permille",
    "per mil": "permille", "o/oo": "permille", "0/00": "permille", "pro mille": "permille",
    "g": "standard_gravity", "gs": "standard_gravity", "g's": "standard_gravity", "gee": "standard_gravity",
    "gn": "standard_gravity",
    "mg": "millistandard_gravity", "milli g": "millistandard_gravity", "milli-g": "millistandard_gravity",
    "millig": "millistandard_gravity", "mgee": "millistandard_gravity", "mgn": "millistandard_gravity",
    "m/s2": "m/s^2", "m/s²": "m/s^2", "m/s/s": "m/s^2", "m/s^2": "m/s^2", "m/sec2": "m/s^2", "m/ss": "m/s^2",
    "mps2": "m/s^2", "ms2": "m/s^2", "m s-2": "m/s^2",
    "cm/s2": "cm/s^2", "cm/s²": "cm/s^2", "cm/s^2": "cm/s^2", "cm/s/s": "cm/s^2",
    "ft/s2": "ft/s^2", "ft/s²": "ft/s^2", "ft/s/s": "ft/s^2",
    "°": "degree", "deg": "degree", "degrees": "degree", "degree": "degree", "°btdc": "degree", "degbtdc": "degree",
    "deg btdc": "degree", "° btdc": "degree",
    "btdc": "degree", "°ca": "degree", "degca": "degree", "deg ca": "degree", "°crk": "degree", "deg crk": "degree",
    "dega": "degree", "grad": "degree", "°kw": "degree", "° kw": "degree", "grad kw": "degree", "degkw": "degree",
    "°v.ot": "degree", "° v.ot": "degree", "°vot": "degree", "°pmh": "degree", "°apms": "degree",
    "° apms": "degree", "°av pmh": "degree", "°pms": "degree", "° pmh": "degree",
    "°av. pmh": "degree", "°prima pms": "degree", "°przed gmp": "degree", "°ööo": "degree", "°apmi": "degree",
    "°v": "degree", "°vilebrequin": "degree",
    "град": "degree", "град.": "degree", "°пкв": "degree", "° пкв": "degree", "град. пкв": "degree", "度": "degree",
    "°ca btdc": "degree", "°crank": "degree", "deg crank": "degree", "stupně": "degree", "stopnie": "degree",
    "rad": "radian", "v": "V", "volt": "V", "volts": "V", "vdc": "V", "mv": "mV", "millivolt": "mV",
    "lb/h": "lb/hour", "lb/hr": "lb/hour", "lbs/hr": "lb/hour", "lbs/h": "lb/hour", "pph": "lb/hour", "lbh": "lb/hour",
    "lb/min": "lb/min", "lbs/min": "lb/min", "ppm": "ppm", "kg/h": "kg/hour", "kg/hr": "kg/hour",
    "kg/min": "kg/min", "kg/s": "kg/s",
    "g/s": "gram/second", "g/sec": "gram/second", "g/min": "gram/minute", "g/h": "gram/hour",
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "ms": "ms", "msec": "ms", "us": "us",
    "µs": "us", "ns": "ns",
    "min": "minute", "m": "m", "meter": "m", "metre": "m", "ft": "ft", "feet": "ft", "in": "inch", "inch": "inch",
    "mm": "mm", "cm": "cm", "km": "km",
    "mi": "mile", "mile": "mile", "miles": "mile", "yd": "yard",
    "hz": "Hz", "khz": "kHz", "nm": "N*m", "n.m": "N*m", "n·m": "N*m", "lb": "lb", "lbs": "lb", "hp": "hp",
    "bhp": "hp", "whp": "hp", "ps": "metric_horsepower",
    "cv": "metric_horsepower", "kw": "kW", "w": "W", "a": "A", "amp": "A", "amps": "A", "ma": "mA", "ohm": "ohm",
    "ohms": "ohm", "ω": "ohm",
}  # fmt: skip

# How people write the units of a drag area and of inertias; no log holds such a column, so the reader knows none.
_AREAS_AND_INERTIAS: dict[str, str] = {
    "m2": "m^2", "m²": "m^2", "sq m": "m^2", "sqm": "m^2", "ft2": "ft^2", "ft²": "ft^2", "sq ft": "ft^2",
    "sqft": "ft^2", "kgm2": "kg*m^2", "kg m2": "kg*m^2", "kgm²": "kg*m^2", "kg m²": "kg*m^2", "kg·m²": "kg*m^2",
    "kg·m2": "kg*m^2", "kg*m2": "kg*m^2", "kg*m²": "kg*m^2", "lb ft2": "lb*ft^2", "lb ft²": "lb*ft^2",
    "lb·ft²": "lb*ft^2", "lb*ft2": "lb*ft^2", "lb*ft²": "lb*ft^2", "lb in2": "lb*in^2", "lb·in²": "lb*in^2",
    "lb*in2": "lb*in^2",
}  # fmt: skip

DIFFERENCE_SIGN = re.compile("(?:delta[ _]?|[\u0394\u03b4\u2206]) ?", re.IGNORECASE)
"""How a written unit says that it is of a difference: ``delta degC``, or the Greek letter or the increment sign."""
# Pint's names for a step of a scale whose zero is elsewhere.
_STEPS = {"degC": "delta_degC", "degF": "delta_degF"}

# The unit each dimension is kept in. Engine speed in rev/min and angles in degrees are what every user thinks in.
KEPT: dict[str, str] = {
    "rpm": "rpm", "pressure": "Pa", "temperature": "K", "temperature difference": TEMPERATURE_DIFFERENCE,
    "speed": "m/s", "ratio": "", "acceleration": "m/s^2",
    "angle": "deg",
    "voltage": "V", "mass flow": "kg/s", "time": "s", "length": "m", "mass": "kg", "area": "m^2",
    "inertia": "kg*m^2", "force": "N", "power": "W",
}  # fmt: skip


_COMMON = OTHER_COMMON.union(*FACTORS.values())


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # half a second to import and to make, so only a unit that is none of the common ones asks for it

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)


LONGEST_UNIT = 40
"""Characters of a unit that are looked at; the longest anyone writes is about half."""
_POWER = re.compile(r"\*\*|\^")
# The registry works powers out: only a unit to one digit is let through, or "9**9**9" would take for ever.
_SMALL_POWER = re.compile(r"(?<=[^\W\d_)])\s*(?:\*\*|\^)\s*[-+]?\d(?![\d.*^eE])")


@lru_cache(maxsize=512)
def conversion_to_si(unit: str, *, si_unit: str) -> Conversion | None:
    """How a unit as written becomes the unit a channel is kept in.

    Parameters
    ----------
    unit : str
        As written: ``km/h``, ``°C``, ``1/min``, ``psi(g)``.
    si_unit : str
        The unit wanted, as the catalogue writes it; empty for a ratio.

    Returns
    -------
    Conversion or None
        None where the text is no unit, or one of another dimension.

    Notes
    -----
    A table holds the common units, pint's registry knows the others. Gauge and absolute pressure convert alike: which
    of them a channel is, the channel says. A difference of temperatures (`TEMPERATURE_DIFFERENCE`) takes the size of a
    degree and never an offset, however its unit is written; a unit that says it is a difference is none for a
    temperature.

    Examples
    --------
    >>> conversion_to_si("km/h", si_unit="m/s").scale
    0.2777777777777778
    >>> conversion_to_si("km/h", si_unit="Pa") is None
    True
    >>> conversion_to_si("degC", si_unit="K").offset, conversion_to_si("degC", si_unit="delta_K").offset
    (273.15, 0.0)
    """
    plain = " ".join(unit.split())
    difference, step = si_unit == TEMPERATURE_DIFFERENCE, DIFFERENCE_SIGN.match(plain)
    if step is not None:
        if not difference:
            return None
        plain = plain[step.end() :]
    name = ALIASES.get(plain.lower()) or _AREAS_AND_INERTIAS.get(plain.lower(), plain)
    if len(name) > LONGEST_UNIT or len(_POWER.findall(name)) != len(_SMALL_POWER.findall(name)):
        return None
    if name in _COMMON and si_unit in FACTORS:
        factor = FACTORS[si_unit].get(name)
        return None if factor is None else Conversion(*factor, si_unit)
    return _by_the_registry(name, si_unit=si_unit)


def _by_the_registry(name: str, *, si_unit: str) -> Conversion | None:
    """The same for any unit that pint knows."""
    difference, ureg = si_unit == TEMPERATURE_DIFFERENCE, _registry()
    name = _STEPS.get(name, name) if difference else name
    target = {"": "dimensionless", "deg": "degree", "rpm": "rpm", TEMPERATURE_DIFFERENCE: "K"}.get(si_unit, si_unit)
    try:
        zero = ureg.Quantity(0.0, name).to(target).magnitude
        one = ureg.Quantity(1.0, name).to(target).magnitude
    except (AttributeError, AssertionError, TypeError, ValueError, ArithmeticError, KeyError, TokenError):
        return None  # pint's own errors derive from these; free text trips its tokenizer
    return Conversion(scale=float(one - zero), offset=0.0 if difference else float(zero), si_unit=si_unit)


# What is wanted, for the error, where the unit's own name would not tell a reader.
_WANTED = {"": "a plain number or %", TEMPERATURE_DIFFERENCE: "a difference of temperatures"}
_NUMBER = re.compile(r"\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$", re.DOTALL)


# Thousands in groups, where nothing else can be meant: two marks, one mark twice, or a blank or an apostrophe before
# three digits. "1.450" alone may be either, and is read as it stands.
_GROUPED = re.compile(
    r"(?P<points>\d{1,3}(?:\.\d{3})+,\d+|\d{1,3}(?:\.\d{3}){2,})(?![\d.,])|"
    r"(?P<commas>\d{1,3}(?:,\d{3})+\.\d+|\d{1,3}(?:,\d{3}){2,})(?![\d.,])|"
    r"(?P<blanks>\d{1,3}(?:[ \u00a0\u202f'\u2019]\d{3})+(?:[.,]\d+)?)(?![\d.,])"
)


def without_groups(text: str) -> str:
    """A number at the beginning of a text without the marks of its thousands.

    Examples
    --------
    >>> [without_groups(text) for text in ("1.450,5 kg", "1,013.2 hPa", "1 450 kg", "1'450'000 g", "1.450 kg")]
    ['1450.5 kg', '1013.2 hPa', '1450 kg', '1450000 g', '1.450 kg']
    """
    start = len(text) - len(text.lstrip(" +-"))
    match = _GROUPED.match(text, start)
    if match is None:
        return text
    number = match[0]
    if match["points"]:
        number = number.replace(".", "").replace(",", ".")
    elif match["commas"]:
        number = number.replace(",", "")
    else:
        number = re.sub(r"[ \u00a0\u202f'\u2019]", "", number).replace(",", ".")
    return text[:start] + number + text[match.end() :]


def split_quantity(text: str) -> tuple[str, str]:
    """The number and the unit of a quantity as written; the unit is empty where none is.

    Raises
    ------
    ValueError
        If the text does not begin with a number.

    Examples
    --------
    >>> split_quantity("2450 lb"), split_quantity("29.86")
    (('2450', 'lb'), ('29.86', ''))
    """
    match = _NUMBER.match(without_groups(text))
    if match is None:
        raise ValueError(f"a quantity must begin with a number, got {text!r}")
    return match.group(1), match.group(2)


def parse_quantity(given: float | str, *, si_unit: str, name: str = "quantity") -> float:
    """A quantity from a number in SI or from text with a unit.

    Parameters
    ----------
    given : float or str
        ``1111.3``, ``"2450 lb"``, ``"38 psi"``, ``"24 degC"``, ``"90 %"``.
    si_unit : str
        The unit it is kept in; empty for a ratio.
    name : str
        What it is, for the error.

    Returns
    -------
    float
        In `si_unit`.

    Raises
    ------
    ValueError
        If it is no number, not finite, or of another dimension; the text says what was expected.

    Examples
    --------
    >>> round(parse_quantity("2450 lb", si_unit="kg"), 2)
    1111.3
    """
    if isinstance(given, bool) or not isinstance(given, (int, float, str)):
        raise ValueError(f"{name} must be a number or a text with a unit, got {given!r}")
    if not isinstance(given, str):
        value = float(given)
    else:
        match = _NUMBER.match(without_groups(given))
        if match is None:
            shown = "K" if si_unit == TEMPERATURE_DIFFERENCE else si_unit
            wanted = f"a number with a unit such as '3.5 {shown}'" if shown else "a number such as 3.5"
            raise ValueError(f"{name} must be {wanted}, got {given!r}")
        number, unit = float(match.group(1).replace(",", ".")), match.group(2)
        if unit:
            conversion = conversion_to_si(unit, si_unit=si_unit)
            if conversion is None:
                wanted = _WANTED.get(si_unit, si_unit)
                raise ValueError(f"{name}: cannot turn {given!r} into {wanted}; write a unit of that kind")
            value = number * conversion.scale + conversion.offset
        else:
            value = number
    if not math.isfinite(value):
        raise ValueError(f"{name} must be finite, got {given!r}")
    return value
