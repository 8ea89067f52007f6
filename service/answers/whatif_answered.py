"""What a foretelling is answered with, and what stands beside it: for command line and page alike.

Public: `answer_whatif`, `Beside`, `FoundBeside`, `look_beside`, `most_boost_pa`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.search_asked import SearchAsked, search
from passband.service.answers.whatif_asked import WhatIfAsked, asked_in_words

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.whatif.foretell import Foretold
    from passband.analysis.whatif.model import ModelledRun
    from passband.analysis.whatif.search import Found
    from passband.analysis.whatif.worth import WorthClass


def answer_whatif(label: str, asked: WhatIfAsked, foretold: Foretold) -> JsonObject:
    """The answer as the API and ``--json`` give it.

    Parameters
    ----------
    label : str
        The run's.
    asked : WhatIfAsked
        What was asked.
    foretold : Foretold
        What came of it.

    Returns
    -------
    dict
        ``run``, ``change`` and the figures.
    """
    from passband.analysis.results.codec import plain

    figures = plain(foretold)
    assert isinstance(figures, dict)
    return {"run": label, "change": asked_in_words(asked), **figures}


@dataclass(frozen=True, slots=True)
class Beside:
    """What is wanted beside the answer, or without any change."""

    worth: bool = False
    """What one per cent of torque is worth by engine speed."""
    search: SearchAsked | None = None
    """What is to be tried."""
    aim: str = "elapsed"
    """What is to be least."""


@dataclass(frozen=True, slots=True)
class FoundBeside:
    """What stands beside the answer; None of each that was not wanted."""

    worth: tuple[WorthClass, ...] | None = None
    """What one per cent of torque is worth; None too where the model does not reach the finish."""
    searched: tuple[Found, ...] | None = None
    """What came of what was tried."""


def look_beside(run: ModelledRun, beside: Beside) -> FoundBeside:
    """Worth of torque and what a search found.

    Parameters
    ----------
    run : ModelledRun
        As it ran.
    beside : Beside
        Which of them is wanted.

    Returns
    -------
    FoundBeside
        What was wanted of them.

    Raises
    ------
    GivenError
        If the search cannot be made with this car.
    """
    from passband.analysis.whatif.drive import drive
    from passband.analysis.whatif.worth import worth_of_torque

    as_run = drive(run.model) if beside.worth else None
    classes = None if as_run is None else worth_of_torque(run.model, as_run)
    wanted = beside.search
    return FoundBeside(classes, None if wanted is None else search(run, wanted, aim=beside.aim))


def most_boost_pa(table: pl.DataFrame) -> float | None:
    """Highest boost of a run's table that lasts: the 95th of a hundred; None where none is logged. [Pa]."""
    if "boost" not in table.columns:
        return None
    value = table.get_column("boost").quantile(0.95)
    return None if value is None else float(value)
