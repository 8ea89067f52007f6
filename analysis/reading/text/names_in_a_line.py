"""Names of one word or more in a line that parts all words by single blanks, told apart by what is known of names.

Public: `names_among`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.channels.recognition import VAGUE, recognise_name
from passband.analysis.reading.text.name_and_unit import split_name_and_unit

MOST_WORDS = 5
"""Words of one name with its unit: "Wheel Speed Front Left km/h"."""
MOST_IN_A_LINE = 200
"""Words of a line that are looked at."""
WAYS_KEPT = 3
"""Ways to part the words before a place that are gone on from: the best, and those that may prove it no better."""
CLEARLY = 0.04
"""How much surer of all its names together the best way must be than one that names other channels: less than one
filler word costs, more than rounding."""


@dataclass(frozen=True, slots=True)
class _Way:
    """Some words parted into names."""

    names: tuple[str, ...] = ()
    channels: tuple[str, ...] = ()
    sure: float = 0.0


def names_among(words: Sequence[str], *, wanted: int) -> list[str] | None:
    """Put the words of a line together to so many names, each of a known channel.

    Parameters
    ----------
    words : sequence of str
        In their order, units among them.
    wanted : int
        Names that there must be.

    Returns
    -------
    list of str or None
        None where no way gives so many known names, or two ways that are as good give other channels.

    Examples
    --------
    >>> names_among("Time Engine Speed Throttle Position Oil Pressure kPa".split(), wanted=4)
    ['Time', 'Engine Speed', 'Throttle Position', 'Oil Pressure kPa']
    >>> names_among("Time Engine Speed Nonsense Oil".split(), wanted=4) is None
    True
    """
    if not wanted < len(words) <= min(MOST_WORDS * wanted, MOST_IN_A_LINE):
        return None
    ways: dict[tuple[int, int], list[_Way]] = {(0, 0): [_Way()]}
    for stop in range(1, len(words) + 1):
        for start in range(max(stop - MOST_WORDS, 0), stop):
            name = " ".join(words[start:stop])
            known = recognise_name(split_name_and_unit(name)[0])
            if not known or (known[0].confidence < VAGUE and stop - start > 1):
                continue
            for number in range(wanted):
                for way in ways.get((start, number), ()):
                    more = _Way((*way.names, name), (*way.channels, known[0].channel), way.sure + known[0].confidence)
                    ways.setdefault((stop, number + 1), []).append(more)
        for number in range(1, wanted + 1):
            if (stop, number) in ways:
                ways[stop, number] = _best(ways[stop, number])
    found = ways.get((len(words), wanted), [])
    if not found or any(found[0].sure - other.sure < CLEARLY for other in found[1:]):
        return None
    return [*found[0].names]


def _best(ways: list[_Way]) -> list[_Way]:
    """The surest ways, the first of each row of channels."""
    kept: dict[tuple[str, ...], _Way] = {}
    for way in sorted(ways, key=lambda way: -way.sure):
        kept.setdefault(way.channels, way)
    return [*kept.values()][:WAYS_KEPT]
