"""The command that foretells: one run of a list, one change or several.

Public: `print_whatif`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.listed_sheets import curve_text
from passband.service.answers.run_list import read_run_list, run_labelled
from passband.service.answers.whatif_answered import Beside, answer_whatif, look_beside, most_boost_pa
from passband.service.answers.whatif_asked import WhatIfAsked, asked_in_words, read_changes
from passband.service.commands.many_runs import reviews_of
from passband.service.commands.printing import Form, drawn_in, print_json
from passband.service.given.facts import GivenError

if TYPE_CHECKING:
    from passband.analysis.whatif.model import ModelledRun


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
