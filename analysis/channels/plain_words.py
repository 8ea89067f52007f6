"""The words of a header, evened out: case, abbreviations, digits, shafts and letters that stand for a quantity.

Public: `plain_words`, `CAMEL`.
"""

from __future__ import annotations

import itertools
import re

from passband.analysis.channels.abbreviations import ABBREVIATIONS
from passband.analysis.channels.languages import english_words, evened_letters

_SHAFT = frozenset("shaft shft sft shf".split())
_BEFORE_SHAFT = {
    "drv": "drive", "drive": "drive", "dr": "drive", "drvn": "drive", "driven": "drive", "d": "drive", "prop": "prop",
    "prp": "prop", "output": "output", "outp": "output", "out": "output", "otp": "output", "tail": "tail",
    "cardan": "cardan", "card": "cardan",
}  # fmt: skip
"""Words before a shaft that turns with the driven wheels, and what they are in full."""
_KEPT_TOGETHER = re.compile(r"^(o2|wbo2|h2o|2step|2d|3d|e85|e98|e100|m100)$")
_ELISION = re.compile(r"(?i)\b(?:d|l|dell|all|nell)['’´`](?=[^\W\d_])")
"""French and Italian words for of and the before a vowel: ``pression d'admission``, ``all'albero``."""
_DOTTED = re.compile(r"(?<![^\W_])(?:[^\W\d_]\.){2,6}[^\W\d_]?(?![^\W\d_])")
"""Letters of a short form, each with its point: ``R.P.M.``."""
_WORD = re.compile(r"[^\W\d_]+|\d+")
CAMEL = re.compile(r"(?<=[a-zäöüß])(?=[A-ZÄÖÜ])|(?<=[A-Z])(?=[A-Z][a-z]{2,})|(?<=[A-Za-z])(?=\d)|(?<=\d)(?=[A-Za-z])")
"""Where words written together part: oilTemp, RPMLimit, Gear1."""


def plain_words(text: str) -> list[str]:
    """The words of a header, evened out; numbers are words of their own.

    Parameters
    ----------
    text : str
        A header, or a part of one.

    Returns
    -------
    list of str
        In order, in lower case and in English where one language knows them; abbreviations in full.

    Examples
    --------
    >>> plain_words("Drv Shft RPM1")
    ['drive', 'shaft', 'rpm', '1']
    """
    words: list[str] = []
    text = _ELISION.sub("", evened_letters(text))
    text = _DOTTED.sub(lambda match: match[0].replace(".", ""), text) if "." in text else text
    for piece in re.split(r"[\s_\-./:,;()\[\]{}#+*|\\&'\"]+", text):
        if _KEPT_TOGETHER.match(piece.lower()):
            words.append(piece.lower())
            continue
        for part in CAMEL.sub(" ", piece).split():
            words.extend(word.lower() for word in _WORD.findall(part))
    joined = _shafts_in_full(_letters_spelled_out(_kept_digits(words)))
    english = english_words()
    even = " ".join(ABBREVIATIONS.get(word) or english.get(word, word) for word in joined).split()
    return [ABBREVIATIONS.get(word, word) for word in even]


def _kept_digits(words: list[str]) -> list[str]:
    """``o 2`` and ``h 2 o`` put together again where a header was split between letters and digits."""
    if "2" not in words:
        return words
    text = " ".join(words)
    for apart, together in (("wb o 2", "wbo2"), ("wbo 2", "wbo2"), ("h 2 o", "h2o"), ("o 2", "o2")):
        text = re.sub(rf"\b{apart}\b", together, text)
    return text.split()


def _shafts_in_full(words: list[str]) -> list[str]:
    """``drv shft`` and its like: cut short, a shaft looks like a shift and the word before it like another."""
    full = list(words)
    for at, (before, word) in enumerate(itertools.pairwise(words), start=1):
        if word in _SHAFT and before in _BEFORE_SHAFT:
            full[at - 1 : at + 1] = [_BEFORE_SHAFT[before], "shaft"]
    return full


def _letters_spelled_out(words: list[str]) -> list[str]:
    """``t oil`` and ``oil t`` mean the temperature, ``p oil`` the pressure; a letter alone means nothing."""
    if len(words) < 2:
        return words
    letters = {"t": "temperature", "p": "pressure"}
    last = max((at for at, word in enumerate(words) if not word.isdecimal()), default=0)
    return [letters.get(word, word) if at in (0, last) else word for at, word in enumerate(words)]
