"""The first screen of a run's page: what is answered before anybody scrolls, each with the place that says more.

Public: `Led`, `Doubted`, `led_causes`, `doubted`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from passband.analysis.results.findings import GIVEN_NOT_USED
from passband.analysis.results.review import Review
from passband.analysis.runs.why import cause_words, find_causes
from passband.web.sheets.sheet import Mark
from passband.web.wording.figures import first_sentence
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem

SHOWN_MOST = 2
"""Findings told on the first screen; the others are counted: a third would push the strip off a phone."""
SHORT = 25
"""A finding is told up to where it explains itself if that is more letters: ``Tire shake`` alone says too little."""
_EXPLAINS = re.compile(r": |; | \(|\. ")
PLACES = {"shift": "shifts", "spin": "splits", "boost": "boost", "lift": "findings", "limiter": "findings"}
"""Which part of the page tells more of a cause, by its kind."""


@dataclass(frozen=True, slots=True)
class Led:
    """A line of the first screen and where it leads."""

    text: str
    """What is answered."""
    to: str
    """Key of the section that tells more; empty where none does."""
    mark: Mark = ""
    """Shape of a finding; empty of all else."""


@dataclass(frozen=True, slots=True)
class Doubted:
    """What the findings say to look at before a figure is believed."""

    lines: tuple[Led, ...]
    """The weightiest, those told above in a banner left out."""
    more: int
    """How many of that weight are told among the findings alone. [-]"""


def led_causes(review: Review, units: UnitSystem) -> tuple[Led, ...]:
    """What happened in a run that its elapsed time shows, each with the part of the page that tells more.

    Parameters
    ----------
    review : Review
        Of the run.
    units : {"us", "metric"}
        The reader's choice.
    """
    return tuple(
        Led(in_units(cause_words(cause), units), PLACES.get(cause.kind, "findings")) for cause in find_causes(review)
    )


def doubted(review: Review, units: UnitSystem, told: frozenset[str] = GIVEN_NOT_USED) -> Doubted:
    """The findings that forbid a figure or make it less sure, in short, what happened before what was not told.

    Parameters
    ----------
    review : Review
        Of the run.
    units : {"us", "metric"}
        The reader's choice.
    told : frozenset of str
        Codes that a banner tells whole; a missed shift stands among what happened.
    """
    weighty = [
        (at, one)
        for at, one in enumerate(review.findings, start=1)
        if one.level != "note" and one.code not in told | {"missed-shift"}
    ]
    weighty.sort(key=lambda row: (row[1].level != "stop", row[1].code.endswith("-missing")))
    lines = (Led(in_units(_short(one.text), units), f"findings-{at}", one.level) for at, one in weighty[:SHOWN_MOST])
    return Doubted(tuple(lines), max(len(weighty) - SHOWN_MOST, 0))


def _short(text: str) -> str:
    """A finding up to where it begins to explain itself."""
    head = _EXPLAINS.split(text, maxsplit=1)[0]
    return head if len(head) > SHORT else first_sentence(text).rstrip(".")
