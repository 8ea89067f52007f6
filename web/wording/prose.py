"""Sentences that the analysis wrote in SI, as a reader of one unit system reads them.

Public: `in_units`, `sentences_in_units`.

A finding is kept as it was written, with kW, m/s and the catalogue's names of channels in it. On a page whose figures
are in hp and mph it is shown in those, its numbers are grouped and signed as all others are, and channels stand by
their titles. What stands in quotes was written by somebody, or is to be written just so: it stays.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from passband.web.wording.channel_titles import QUOTED, by_title
from passband.web.wording.units import Unit, UnitSystem, unit_for

_KINDS = {
    "kPa": ("pressure", 1000.0), "kW": ("power", 1000.0), "kJ": ("energy", 1000.0), "m/s": ("speed", 1.0),
    "km/h": ("speed", 1 / 3.6), "kg": ("mass", 1.0), "kg/h": ("mass_flow", 1 / 3600.0), "m": ("length", 1.0),
}  # fmt: skip
"""What a unit of our sentences measures, and what one of it is in SI."""
_DEGREES = {"degC": "°C", "degF": "°F"}
_LB_PER_HP_H = 453.59237 / (550 * 0.3048 * 0.45359237 * 9.80665 / 1000.0)
"""Grams a kilowatt-hour in a pound a horsepower-hour, by definition of pound, foot and standard gravity."""
_NUMBER = r"(?<![\w.,])[-+−]?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?(?![\d.,]*\d)"
_TOGETHER = r"(?: / | to | and | give or take |, give or take | ?\+- ?| ?± ?)"
_QUANTITY = re.compile(
    rf"(?P<numbers>{_NUMBER}(?:{_TOGETHER}{_NUMBER})*) (?P<unit>kPa|kW|kJ|km/h|m/s|kg/h|kg|g/kWh|degC|degF|m)(?![\w/^])"
    rf"(?P<after>,? give or take {_NUMBER}(?! ?[\w%]))?"
    rf"(?P<again> \({_NUMBER} (?:psi|mph|hp|lb|m)\))?"
)
_GROUPED = re.compile(rf"(?P<numbers>{_NUMBER}(?:{_TOGETHER}{_NUMBER})*)(?= rpm| ft\b)")
_GIVEN_OR_TAKEN = re.compile(rf"({_NUMBER}) ([^\s,;]+),? give or take ({_NUMBER})(?! ?[\w%])")
"""A plus-minus behind the unit: on a page it stands before it, as beside every other figure."""


def in_units(text: str, units: UnitSystem) -> str:
    """A sentence with its quantities in the reader's units, numbers and channels written as on the page.

    Parameters
    ----------
    text : str
        As the analysis wrote it.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        The same where it holds no quantity; what is quoted in it is left alone.

    Notes
    -----
    A converted number keeps the step of the one that was written, or two figures if that would leave fewer.

    Examples
    --------
    >>> in_units("Each 1 m/s moves average power by 1.7 kW; the engine went to 8197 rpm.", "us")
    'Each 2.2 mph moves average power by 2.3 hp; the engine went to 8,197 rpm.'
    >>> in_units("wheel_speed_driven tops out at 10 m/s", "metric")
    'Driven wheel speed tops out at 36 km/h'
    >>> in_units("boost 66 / 71 kPa, 2 m/s of wind, 300 ft (91 m)", "us")
    'boost 9.6 / 10.3 psi, 4.5 mph of wind, 300 ft (91 m)'
    >>> in_units("would be 60 Pa: write '60 psi' or '60 kPa'", "us")
    "would be 60 Pa: write '60 psi' or '60 kPa'"
    """
    parts = QUOTED.split(by_title(text))
    return "".join(part if at % 2 else _plain(part, units) for at, part in enumerate(parts))


def sentences_in_units(answer: object, units: UnitSystem) -> dict[str, str]:
    """Every finding's text in an answer as the reader's units have it, by the text.

    Parameters
    ----------
    answer : object
        Plain values, as JSON has them.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    dict of str to str
        Empty where nothing was found.

    Examples
    --------
    >>> sentences_in_units({"findings": [{"level": "note", "text": "It was 7 kPa."}]}, "us")
    {'It was 7 kPa.': 'It was 1.0 psi.'}
    """
    if isinstance(answer, dict):
        text = answer.get("text")
        own = {text: in_units(text, units)} if "level" in answer and isinstance(text, str) else {}
        answer = list(answer.values())
    else:
        own = {}
    if not isinstance(answer, (list, tuple)):
        return own
    return {**own, **{key: said for one in answer for key, said in sentences_in_units(one, units).items()}}


def _plain(text: str, units: UnitSystem) -> str:
    text = _QUANTITY.sub(lambda found: _converted(found, units), text)
    text = _GROUPED.sub(lambda found: re.sub(_NUMBER, _grouped, found["numbers"]), text)
    text = _GIVEN_OR_TAKEN.sub(r"\1 ±\3 \2", text)
    text = re.sub(r" ?\+- ?(?=\d)", " ±", text)
    text = re.sub(r"(?<=\d)%", " %", text)
    return re.sub(r"(?<![\w-])-(?=\d)", "−", text)


def _grouped(number: re.Match[str]) -> str:
    text = number[0].replace(",", "")
    sign, digits = (text[0], text[1:]) if text[0] in "-+−" else ("", text)
    return sign + _number(float(digits), len(digits.partition(".")[2]))


def _number(value: float, digits: int) -> str:
    return f"{value:,.{digits}f}".replace("-", "−")


def _converted(found: re.Match[str], units: UnitSystem) -> str:
    """One quantity, or several of one unit, with what is given or taken."""
    unit, numbers, after = found["unit"], found["numbers"], found["after"] or ""
    if unit == "m" and not _is_length(found, units):
        return found[0]
    change, label = _change(unit, units)
    if change is None:
        return f"{numbers} {label}{after}{found['again'] or ''}"
    ahead = found.string[: found.start()]
    shown = re.sub(_NUMBER, lambda one: change(one, _is_doubt(ahead + numbers[: one.start()])), numbers)
    return f"{shown} {label}" + re.sub(_NUMBER, lambda one: change(one, True), after)


def _is_length(found: re.Match[str], units: UnitSystem) -> bool:
    """Places on the track are in feet for both; metres of a text that gives feet beside them stay."""
    return units == "us" and not found.string[: found.start()].endswith("ft (")


def _is_doubt(ahead: str) -> bool:
    return ahead.rstrip().endswith(("+-", "±", "give or take"))


def _change(unit: str, units: UnitSystem) -> tuple[Callable[[re.Match[str], bool], str] | None, str]:
    """How a number of that unit is shown, and in which; None for the first where it stays."""
    if unit == "g/kWh":
        return (None, unit) if units == "metric" else (_scaled(_LB_PER_HP_H, 0.0), "lb/hp·h")
    if unit in _DEGREES:
        same = (unit == "degF") == (units == "us")
        if same:
            return None, _DEGREES[unit]
        return (_scaled(5 / 9, -160 / 9), "°F") if units == "us" else (_scaled(9 / 5, 32.0), "°C")
    kind, si = _KINDS[unit]
    shown: Unit = unit_for(kind, units)
    if shown.label == unit:
        return None, unit
    return _scaled(shown.scale / si, 0.0), shown.label


def _scaled(scale: float, offset: float) -> Callable[[re.Match[str], bool], str]:
    def change(number: re.Match[str], difference: bool) -> str:
        text = number[0].replace("−", "-").replace(",", "")
        value = (float(text) - (0.0 if difference else offset)) / scale
        step = 10.0 ** -len(text.partition(".")[2]) / scale
        digits = max(0, -math.floor(math.log10(step) + 0.03))  # a Btu is 1.06 kJ: the same step
        if value:
            digits = max(digits, 1 - math.floor(math.log10(abs(value)) + 1e-9))
        return ("+" if text.startswith("+") else "") + _number(value, min(digits, 4))

    return change
