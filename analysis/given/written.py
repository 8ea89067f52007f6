"""Texts as people write them: a list of numbers with one unit behind it, a condition in words.

Public: `listed`, `condition_written`.
"""

from __future__ import annotations

import re

_DASH = re.compile(r"(?<=[\w%.])\s*(?:-|\u2013|\u2014|\bto\b|\band\b|\bup to\b)\s*(?=\d)", re.IGNORECASE)
_SLASH = re.compile(r"(?<=\d)\s*/\s*(?=\d)")
# "2,55": a comma is a decimal one between digits, unless points are there too or four digits follow ("6200,8600").
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d{1,3}(?!\d))")
_PART = re.compile(r"([-+]?\d*\.?\d+(?:[eE][-+]?\d+)?)\s*([^\d\s,;][^\d,;]*)?")
_CONDITION = re.compile(
    r"\s*(?P<channel>.+?)\s*(?P<rule>at least|at most|no less than|no more than|above|over|more than|below|under|"
    r"less than|>=|<=|=>|=<|>|<|\u2265|\u2264)\s*(?P<bound>.+?)\s*$",
    re.IGNORECASE | re.DOTALL,
)
_LEAST = frozenset({"at least", "no less than", "above", "over", "more than", ">=", "=>", ">", "\u2265"})


def listed(text: str) -> list[str]:
    """The quantities of a list written as text; a unit behind the last is that of all without one.

    Parameters
    ----------
    text : str
        Parted by blanks, commas, semicolons, a dash or ``to``; decimals by point or comma.

    Returns
    -------
    list of str
        A number, with its unit where there is one, for each.

    Raises
    ------
    ValueError
        If something in it is no number.

    Examples
    --------
    >>> listed("2.55, 1.8"), listed("2,55 1,8"), listed("6200-8600 rpm")
    (['2.55', '1.8'], ['2.55', '1.8'], ['6200 rpm', '8600 rpm'])
    """
    plain = _SLASH.sub(" ", _DASH.sub(" ", text.strip()))
    if "." not in plain:
        plain = _DECIMAL_COMMA.sub(".", plain)
    parts = [(match[1], (match[2] or "").strip()) for match in _PART.finditer(plain)]
    left = _PART.sub("", plain).strip(" ,;")
    if not parts or left:
        raise ValueError(f"write numbers with blanks or commas between, got {text!r}")
    last = parts[-1][1]
    return [f"{number} {unit or last}".strip() for number, unit in parts]


def condition_written(text: str) -> dict[str, str]:
    """A condition in words as its keys.

    Parameters
    ----------
    text : str
        ``throttle at least 90 %``, ``boost > 100 kPa``.

    Returns
    -------
    dict
        ``channel`` and ``at_least`` or ``at_most``.

    Raises
    ------
    ValueError
        If it names no channel, side and bound.

    Examples
    --------
    >>> condition_written("throttle > 90%"), condition_written("gear at most 3")
    ({'channel': 'throttle', 'at_least': '90%'}, {'channel': 'gear', 'at_most': '3'})
    """
    match = _CONDITION.match(text)
    if match is None:
        raise ValueError(f"write a condition as: throttle at least 90 %, got {text!r}")
    side = "at_least" if match["rule"].lower() in _LEAST else "at_most"
    return {"channel": match["channel"], side: match["bound"]}
