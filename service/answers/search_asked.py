"""A search as people write it: what is to be tried, and what is to be least.

Public: `SearchAsked`, `read_search`, `search`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from passband.service.given.facts import GivenError

if TYPE_CHECKING:
    from passband.analysis.whatif.model import ModelledRun
    from passband.analysis.whatif.search import Found

STEPS = 12
"""A range is tried at so many places and one more."""
MOST = 60
"""Things tried in one search."""
HOW = (
    "write 'shift-rpm', final drives '4.56, 4.71' or '4.1..4.7', one gear's 'gear 2=1.70..1.95', "
    "or sets '2.6/1.9; 2.5/1.8'"
)
AIMS: dict[str, Literal["elapsed", "under band"]] = {"elapsed": "elapsed", "under-band": "under band"}


@dataclass(frozen=True, slots=True)
class SearchAsked:
    """One of these is to be tried."""

    shifts: bool = False
    """Each shift point earlier and later."""
    final_drives: tuple[float, ...] = ()
    """[-]"""
    gear: int | None = None
    """The gear whose ratio is to be tried."""
    ratios: tuple[float, ...] = ()
    """Of that gear. [-]"""
    sets: tuple[tuple[float, ...], ...] = ()
    """Whole sets of ratios. [-]"""


def read_search(text: str) -> SearchAsked:
    """What is to be tried.

    Parameters
    ----------
    text : str
        ``shift-rpm``; ``4.56, 4.71`` or ``4.1..4.7`` for final drives; ``gear 2=1.70..1.95``; ``2.6/1.9; 2.5/1.8``.

    Returns
    -------
    SearchAsked
        One kind.

    Raises
    ------
    GivenError
        If it cannot be read, with how to write it.
    """
    text = text.strip()
    if text == "shift-rpm":
        return SearchAsked(shifts=True)
    if "/" in text:
        sets = tuple(_numbers(one.replace("/", ","), text) for one in text.split(";") if one.strip())
        return SearchAsked(sets=sets[:MOST])
    named = re.fullmatch(r"gear\s*(\d+)\s*[=:]?\s*(.+)", text)
    if named is not None:
        return SearchAsked(gear=int(named[1]), ratios=_numbers(named[2], text))
    return SearchAsked(final_drives=_numbers(text, text))


def _numbers(written: str, whole: str) -> tuple[float, ...]:
    """A list, or a range at even places."""
    try:
        if ".." in written:
            low, high = (float(one) for one in written.split(".."))
            return tuple(round(float(one), 4) for one in np.linspace(low, high, STEPS + 1))
        numbers = tuple(float(one) for one in re.split(r"[,;\s]+", written.strip()) if one)
    except ValueError:
        numbers = ()
    if not numbers or len(numbers) > MOST:
        raise GivenError(f"Search {whole!r} cannot be read: {HOW}.")
    return numbers


def search(run: ModelledRun, asked: SearchAsked, *, aim: str = "elapsed") -> tuple[Found, ...]:
    """Try what was asked.

    Parameters
    ----------
    run : ModelledRun
        As it ran.
    asked : SearchAsked
        Of `read_search`.
    aim : {"elapsed", "under-band"}
        What is to be least.

    Returns
    -------
    tuple of Found
        One, or one for each shift.

    Raises
    ------
    GivenError
        If the car has no such gear, or there is no such aim.
    """
    from passband.analysis.whatif.search import (
        search_final_drive,
        search_gear,
        search_ratio_sets,
        search_shift_points,
    )

    if aim not in AIMS:
        raise GivenError(f"Aim {aim!r} is none: write elapsed or under-band.")
    least = AIMS[aim]
    if asked.shifts:
        return search_shift_points(run, aim=least)
    if asked.sets:
        return (search_ratio_sets(run, asked.sets, aim=least),)
    if asked.gear is None:
        return (search_final_drive(run, asked.final_drives, aim=least),)
    try:
        return (search_gear(run, asked.gear, asked.ratios, aim=least),)
    except ValueError as error:
        raise GivenError(f"Search: {error}.") from None
