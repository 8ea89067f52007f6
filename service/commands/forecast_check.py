"""What was foretold against what was measured: a list's runs with one known change each, held against one run.

Public: `print_forecast_check`.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from passband.service.answers.listed_sheets import curve_text
from passband.service.answers.run_list import ListedRun, read_run_list
from passband.service.answers.whatif_answered import most_boost_pa
from passband.service.answers.whatif_asked import WhatIfAsked, read_changes
from passband.service.commands.many_runs import reviews_of
from passband.service.commands.printing import print_json
from passband.service.given.facts import GivenError, read_file, read_given

if TYPE_CHECKING:
    from passband.analysis.results.estimate import Estimate
    from passband.analysis.review import FullReview
    from passband.analysis.whatif.foretell import Foretold
    from passband.analysis.whatif.model import RunModel
    from passband.web.printed.whatif import CheckedForecast

MOST_CHANGES = 200
"""More pairs than a season has known changes. A longer list is refused."""


def print_forecast_check(path: Path, *, label: str, known: Path, car: Path | None, as_json: bool) -> int:
    """Foretell each known change from one run and print it beside what the changed run measured.

    Parameters
    ----------
    path : Path
        The list of runs.
    label : str
        The run that they are foretold from.
    known : Path
        A file of ``[[changes]]``, each with the ``label`` of the changed run and what was changed, in the words of
        `WhatIfAsked`: ``mass = "+30 kg"``; a power curve by its file, or as the list's ``dynamometer``.
    car : Path, optional
        The car of runs that name none.
    as_json : bool
        JSON instead of a table.

    Returns
    -------
    int
        0.

    Raises
    ------
    GivenError
        If a list cannot be used, a label is unknown, or the run makes no model.
    """
    listed = {one.label: one for one in read_run_list(path, car=car)}
    changes = _changes(known)
    for name in (label, *(name for name, _ in changes)):
        if name not in listed:
            raise GivenError(f"No run of the list is labelled {name!r}; its labels are {', '.join(map(repr, listed))}.")
    base = reviews_of(listed[label])[0]
    model, boost_pa = _model(base, listed[label])
    rows = []
    for name, given in changes:
        power = curve_text(given.power, listed[label].sheets, known.parent)
        asked = given.model_copy(update={"power": power})
        from passband.analysis.whatif.foretell import foretell_with
        from passband.analysis.whatif.model import ModelledRun

        wanted = read_changes(asked, listed[label].car, boost_pa=boost_pa, own_air=base.air)
        foretold = foretell_with(ModelledRun(base, listed[label].car, model), wanted)
        rows.append(_row(name, asked, foretold, base, reviews_of(listed[name])[0]))
    if as_json:
        from passband.analysis.results.codec import plain

        print_json({"run": label, "checked": plain(rows)})
        return 0
    from passband.web.printed.whatif import print_checked

    print(print_checked(label, rows), end="")
    return 0


def _changes(known: Path) -> list[tuple[str, WhatIfAsked]]:
    listed = read_file(known, what="list of changes").get("changes")
    if not isinstance(listed, list) or not 1 <= len(listed) <= MOST_CHANGES:
        raise GivenError(f"{known}: write [[changes]], each with the label of a run and what was changed in it.")
    out = []
    for number, one in enumerate(listed, start=1):
        if not isinstance(one, dict) or not isinstance(one.get("label"), str):
            raise GivenError(f"{known}: change {number} names no run: give its label.")
        words = {key: value for key, value in one.items() if key != "label"}
        out.append((one["label"], read_given(WhatIfAsked, words, what=f"change {number}")))
    return out


def _model(base: FullReview, listed: ListedRun) -> tuple[RunModel, float | None]:
    from passband.analysis.report import as_table
    from passband.analysis.results.findings import Finding
    from passband.analysis.whatif.made_of_run import model_of_run

    table = as_table(base).frame
    model = model_of_run(base, table, listed.car)
    if isinstance(model, Finding):
        raise GivenError(model.text)
    return model, most_boost_pa(table)


def _row(name: str, asked: WhatIfAsked, foretold: Foretold, base: FullReview, other: FullReview) -> CheckedForecast:
    from passband.service.answers.whatif_asked import asked_in_words
    from passband.web.printed.whatif import CheckedForecast

    measured, foretold_s = _measured(base, other), foretold.elapsed_time_s
    error = None if foretold_s is None or measured is None else foretold_s.value - measured.value
    why = next((one.text for one in foretold.findings if foretold_s is None), "")
    return CheckedForecast(name, asked_in_words(asked), foretold_s, measured, error, why)


def _measured(base: FullReview, other: FullReview) -> Estimate | None:
    """Elapsed time at the last mark that both reached, the changed run's less the base's."""
    from passband.analysis.results.estimate import difference
    from passband.analysis.results.unknown import known

    splits = [
        {split.at_ft: split.time_s for split in distance.splits}
        if (distance := known(one.distance)) is not None
        else {}
        for one in (base, other)
    ]
    shared = splits[0].keys() & splits[1].keys()
    return difference(splits[1][max(shared)], splits[0][max(shared)]) if shared else None
