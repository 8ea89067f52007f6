"""Numbers in the names of columns: of a cylinder, bank or side, or of the input that a sensor is wired to.

Public: `number_in`, `is_one_of_several`, `may_number_an_input`.
"""

from __future__ import annotations

import itertools
import re

from passband.analysis.channels.plain_words import plain_words
from passband.analysis.channels.sides import NUMBER_OF_SIDE

_INPUTS = frozenset("c ch chan channel an analog analogue in input can".split())
"""Words before a number that may be an input's: a connector's row C as well as a cylinder; loggers' own words."""


def number_in(words: list[str]) -> tuple[int | None, list[str]]:
    """The one number in a header (cylinder, bank, left or right), and the words without it.

    Parameters
    ----------
    words : list of str
        Evened out.

    Returns
    -------
    (int or None, list of str)
        None where there is none, or several.

    Examples
    --------
    >>> number_in(["lambda", "bank", "2"]), number_in(["boost"])
    ((2, ['lambda', 'bank']), (None, ['boost']))
    """
    words = _bank_of_a_sensor(words)
    numbers = [word for word in words if word.isdecimal() and len(word) <= 2]
    rest = [word for word in words if not (word.isdecimal() and len(word) <= 2)]
    if len(numbers) == 1:
        return int(numbers[0]), [word for word in rest if word not in ("b", "c")]
    if numbers:
        return None, words
    for word, number in NUMBER_OF_SIDE.items():
        if word in rest:
            return number, [other for other in rest if other != word]
    return None, rest


def _bank_of_a_sensor(words: list[str]) -> list[str]:
    """``bank 2 sensor 1``, ``b2 s1`` as the bank's number alone; the second sensor of a bank stays as it is.

    Source: SAE J1979 names oxygen sensors by bank and by place, 1 being the nearest to the engine.
    """
    text = " ".join(words)
    if " 1" not in text:
        return words
    for pattern in (r"\b(?:bank|b) (\d) (?:sensor|s) 1\b", r"\b(?:sensor|s) 1 (?:bank|b) (\d)\b"):
        text = re.sub(pattern, r"bank \1", text)
    return text.split()


def is_one_of_several(header: str) -> bool:
    """Whether a header tells its column from others by a side or a number alone.

    Parameters
    ----------
    header : str
        Without its unit.

    Examples
    --------
    >>> [is_one_of_several(header) for header in ("Wheel Speed Left", "Wheel Speed 3", "Wheel Speed")]
    [True, True, False]
    """
    return number_in(plain_words(header))[0] is not None


def may_number_an_input(header: str) -> bool:
    """Whether the number in a header may be of the pin or input that the sensor is wired to, not of a cylinder.

    Parameters
    ----------
    header : str
        Without its unit.

    Notes
    -----
    ``C5`` is the fifth cylinder's in a row of such, and alone may be a pin of connector C: the name does not tell.

    Examples
    --------
    >>> [may_number_an_input(header) for header in ("Lambda C5", "EGT CH2", "EGT Cyl 2", "Lambda 2")]
    [True, True, False, False]
    """
    return any(word in _INPUTS and after.isdecimal() for word, after in itertools.pairwise(plain_words(header)))
