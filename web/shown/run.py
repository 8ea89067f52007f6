"""Runs as pages are given them: what was said of each, and its figures in short.

Public: `CarOfRun`, `RunShown`, `WholeRun`, `NamedRun`, `AnswerGiven`, `ColumnsAsked`, `UsualHere`, `CarriedOver`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.results.plain_values import Stored
from passband.analysis.runs.summary import RunSummary


@dataclass(frozen=True, slots=True)
class CarOfRun:
    """Which car a run was reviewed with."""

    id: str
    """Its id."""
    version: int
    """Which version of it. [-]"""
    name: str
    """As the review calls it."""


@dataclass(frozen=True, slots=True)
class RunShown:
    """A run as lists show it."""

    id: str
    """Its id."""
    label: str
    """The user's name for it; may be empty."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""
    title: str
    """What pages call it: the user's label, else event and round, else the first log's name."""
    car: CarOfRun | None
    """None where it names none."""
    finish_ft: int
    """Where its finish line is. [ft]"""
    added_at: str
    """When its logs came, ISO 8601, UTC."""
    summary: RunSummary
    """Its figures in short."""
    at: str = ""
    """When it was made, ISO 8601; empty where nothing tells."""


@dataclass(frozen=True, slots=True)
class WholeRun:
    """A run as its own page shows it."""

    shown: RunShown
    """As lists do."""
    notes: str = ""
    """The crew's own words; may be empty."""
    slip: Stored | None = None
    """As its owner wrote it; None where none was given."""
    air: Stored | None = None
    """Likewise."""
    at: str = ""
    """When it was made, ISO 8601; empty where nothing tells."""


@dataclass(frozen=True, slots=True)
class NamedRun:
    """A run by its name, to choose or to go to."""

    id: str
    """Its id."""
    title: str
    """What pages call it."""


@dataclass(frozen=True, slots=True)
class AnswerGiven:
    """What was answered about a column."""

    layout: str
    """Fingerprint of the log's header."""
    column: str
    """The header."""
    said: str
    """What it is."""


@dataclass(frozen=True, slots=True)
class ColumnsAsked:
    """What is asked about a run's columns, and was answered."""

    layouts: tuple[str, ...] = ()
    """Fingerprints of the headers of its logs."""
    given: tuple[AnswerGiven, ...] = ()
    """Answers that stand."""
    others: tuple[NamedRun, ...] = ()
    """Runs that were asked the same and reviewed before the answers."""
    just_answered: bool = False
    """Whether they were given just now."""


NO_COLUMNS = ColumnsAsked()
"""Nothing is asked beside the review's own doubts, and nothing was answered."""


@dataclass(frozen=True, slots=True)
class UsualHere:
    """From where on a run's usual engine holds."""

    run: str
    """Id of the first run of its usual; empty where none was given."""
    begins: bool
    """Whether that is this one."""
    notes: str
    """What was changed; may be empty."""


@dataclass(frozen=True, slots=True)
class CarriedOver:
    """What the next run begins with, out of the last one of its event."""

    title: str
    """What that run is called."""
    event: str
    """May be empty."""
    car: str
    """Its car's id; empty where it named none."""
    finish_ft: int
    """Where the finish line was. [ft]"""
    air: Stored | None
    """As its owner wrote it; None where none was given."""
