"""Channels one below another, each in a section of its own: a title in brackets, what is said of it, a number a line.

Public: `columns_of_sections`.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable
from dataclasses import dataclass, field

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading.text.cells import number_of
from passband.analysis.reading.text.name_and_unit import split_name_and_unit

FEWEST_SECTIONS, MOST_SECTIONS = 2, 500
"""Channels; more are no log."""
FEWEST_SAMPLES = 4
"""Numbers below a title that are a channel's, and not what is said of it."""
_TITLE = re.compile(r"\[\s*(?P<name>[^\[\]=]{1,80}?)\s*\]")
_SAID = re.compile(r"(?P<key>[^\W\d][\w .-]{0,30}?)\s*[=:]\s*(?P<value>.{0,60})")
_RATE = re.compile(r"(?i)(?:sample |sampling )?(?:rate|frequency|freq|frequenz|fréquence)(?: hz)?")
_STEP = re.compile(r"(?i)(?:sample |sampling )?(?:interval|period|step|intervall|dt)(?: (?:s|ms))?")
_UNIT = re.compile(r"(?i)units?|einheit|unité|unidad|unità")
_NUMBER_AND_UNIT = re.compile(r"(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>hz|1/s|sps|ms|s|)", re.IGNORECASE)


@dataclass(slots=True)
class _Section:
    """One channel as it is read."""

    name: str
    said: dict[str, str] = field(default_factory=dict)
    cells: list[str] = field(default_factory=list)

    def title(self) -> str:
        """The name with the unit that is said of it."""
        unit = next((value for key, value in self.said.items() if _UNIT.fullmatch(key)), "")
        return f"{self.name} [{unit}]" if unit and not split_name_and_unit(self.name)[1] else self.name

    def step_s(self) -> float | None:
        """Seconds between its samples; None where nothing says so."""
        for key, value in self.said.items():
            match = _NUMBER_AND_UNIT.match(value)
            number = float(match["number"].replace(",", ".")) if match else 0.0
            if match is None or number <= 0.0:
                continue
            thousandths = match["unit"].lower() == "ms" or key.lower().endswith(" ms")
            if _RATE.fullmatch(key) and not thousandths:
                return 1.0 / number
            if _STEP.fullmatch(key):
                return number * (0.001 if thousandths else 1.0)
        return None


def columns_of_sections(lines: Iterable[str]) -> list[str] | None:
    r"""The lines of a table with two columns for each section, its times and its values.

    Parameters
    ----------
    lines : iterable of str
        All lines of the file.

    Returns
    -------
    list of str
        A header and rows, cells parted by tabs; None where sections are none, say no rate or name no channel.

    Examples
    --------
    >>> both = [["[RPM]", "rate = 10 Hz", *"1234"], ["[Oil]", "unit = bar", "rate = 5 Hz", *"5678"]]
    >>> columns_of_sections([line for one in both for line in one])[:2]
    ['Time [s]\tRPM\tTime [s]\tOil [bar]', '0\t1\t0\t5']
    """
    sections: list[_Section] = []
    for line in map(str.strip, lines):
        title = _TITLE.fullmatch(line)
        said = _SAID.fullmatch(line)
        if title:
            sections.append(_Section(title["name"]))
        elif sections and (number_of(line, ".") is not None or number_of(line, ",") is not None):
            sections[-1].cells.append(line)
        elif sections and said:
            sections[-1].said[said["key"].strip()] = said["value"].strip()
        elif sections and line:
            return None
    held = [one for one in sections if len(one.cells) >= FEWEST_SAMPLES]
    steps = [one.step_s() for one in held]
    known = sum(bool(recognise_name(split_name_and_unit(one.name)[0])) for one in held)
    if not FEWEST_SECTIONS <= len(held) <= MOST_SECTIONS or None in steps or 2 * known < len(held):
        return None
    columns = [
        cells
        for one, step in zip(held, steps, strict=True)
        for cells in ([f"{at * (step or 0.0):.9g}" for at in range(len(one.cells))], one.cells)
    ]
    names = "\t".join(f"Time [s]\t{one.title()}" for one in held)
    return [names, *map("\t".join, itertools.zip_longest(*columns, fillvalue=""))]
