"""The command that foretells: one run of a list, one change or several.

Public: `Beside`, `FoundBeside`, `print_whatif`, `answer_whatif`, `look_beside`, `most_boost_pa`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.listed_sheets import curve_text
from passband.service.answers.run_list import read_run_list, run_labelled
from passband.service.answers.search_asked import SearchAsked, search
from passband.service.answers.whatif_asked import WhatIfAsked, asked_in_words, read_changes
from passband.service.commands.many_runs import reviews_of
from passband.service.commands.printing import Form, drawn_in, print_json
from passband.service.given.facts import GivenError

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


def print_whatif(path: Path, *, label: str, asked: WhatIfAsked, car: Path | None, beside: Beside, form: Form) -> int:
    """Foretell what a change would have done to one run of a list, and print it.

    Parameters
    ----------
    path : Path
        The list of runs.
    label : str
        The run.
    asked : WhatIfAsked
        What is to be other, a power curve by its file; may be nothing where something is wanted beside.
    car : Path, optional
        The car of runs that name none.
    beside : Beside
        Worth of torque, a search.
    form : {"json", "us", "metric"}
        JSON, or a page in these units.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If the list, the label or what is asked cannot be used.
    """
    from passband.analysis.report import as_table
    from passband.analysis.results.findings import Finding
    from passband.analysis.whatif.foretell import foretell_with, no_answer
    from passband.analysis.whatif.made_of_run import model_of_run
    from passband.analysis.whatif.model import ModelledRun

    listed = run_labelled(read_run_list(path, car=car), label)
    asked = asked.model_copy(update={"power": curve_text(asked.power, listed.sheets, Path())})
    wanted = asked != WhatIfAsked() or beside == Beside()
    if wanted:
        read_changes(asked, listed.car, boost_pa=0.0)  # a wrong word is told before a review is made
    full = reviews_of(listed)[0]
    table = as_table(full).frame
    model = model_of_run(full, table, listed.car)
    run = model if isinstance(model, Finding) else ModelledRun(full, listed.car, model)
    units = drawn_in(form)
    out: JsonObject = {"run": label}
    pages: list[str] = []
    if wanted:
        foretold = (
            no_answer(run)
            if isinstance(run, Finding)
            else foretell_with(run, read_changes(asked, listed.car, boost_pa=most_boost_pa(table), own_air=full.air))
        )
        out = answer_whatif(label, asked, foretold)
        from passband.web.printed.whatif import print_foretold

        pages.append(print_foretold(label, asked_in_words(asked), foretold, units=units))
    elif isinstance(run, Finding):
        raise GivenError(run.text)
    if not isinstance(run, Finding):
        _more(run, beside, out=out, pages=pages)
    if form == "json":
        print_json(out)
        return 0
    print("".join(pages), end="")
    return 0


def _more(run: ModelledRun, beside: Beside, *, out: JsonObject, pages: list[str]) -> None:
    """Worth of torque and a search, where asked."""
    from passband.analysis.results.codec import plain
    from passband.web.printed.whatif import print_found, print_worth

    found = look_beside(run, beside)
    if found.worth is not None:
        out["worth"] = [plain(one) for one in found.worth]
        pages.append(print_worth(run.review.run.label or "the run", found.worth))
    if found.searched is not None:
        out["searched"] = [plain(one) for one in found.searched]
        pages.append(print_found(found.searched))


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
