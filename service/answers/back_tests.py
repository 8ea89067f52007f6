"""A car's runs foretold one from the other: each clean run from the clean run before it.

Public: `PairTested`, `Unusable`, `back_tests`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.results.findings import Finding
from passband.analysis.runs.faults import is_clean
from passband.analysis.whatif.back_test import BackTest, back_test, change_between
from passband.analysis.whatif.made_of_run import model_of_run
from passband.analysis.whatif.model import ModelledRun
from passband.service.answers.side_by_side import fetch_run
from passband.service.cars.corrections import VersionFact, facts_of_versions, given_as_known, unsaid_between
from passband.service.given.facts import read_car
from passband.service.library import Library
from passband.service.reviewing.remembered import Remembered
from passband.service.store.records import RunRecord

MODEL_CHANNELS = ("acceleration_mps2", "gear", "engine_speed", "manifold_pressure", "boost")
"""What of a run its model is made of."""
MOST_PAIRS = 24
"""Pairs in one answer, the newest; each costs a drive or two."""


@dataclass(frozen=True, slots=True)
class PairTested:
    """One run foretold from another."""

    base: RunRecord
    """The run that foretells."""
    other: RunRecord
    """The run foretold."""
    test: BackTest
    """What came of it."""


class Unusable:
    """Stands for a run that makes no side of a pair."""


def back_tests(library: Library, car_id: str) -> list[PairTested]:
    """Foretell a car's runs, each clean one from the clean one before it to the same finish.

    Parameters
    ----------
    library : Library
        Where they are.
    car_id : str
        The car; runs keep the version of it that they were reviewed with, and so say what was changed. What was only
        corrected since is taken into the versions before.

    Returns
    -------
    list of PairTested
        The newest `MOST_PAIRS`, the newest first; runs that make no model are passed over.
    """
    facts = facts_of_versions(library, car_id)
    newest_first = library.records.find_runs(event=None, car=car_id, limit=2 * MOST_PAIRS, after=None)
    pairs: list[PairTested] = []
    before: dict[int, tuple[RunRecord, ModelledRun]] = {}
    for run in reversed(newest_first):
        this = _side(library, run, facts)
        if this is None:
            continue
        if run.details.finish_ft in before:
            base_run, base = before[run.details.finish_ft]
            pairs.append(PairTested(base_run, run, _tested((base_run, base), (run, this), facts)))
        before[run.details.finish_ft] = run, this
    return pairs[::-1][:MOST_PAIRS]


Facts = Sequence[VersionFact]
Key = tuple[str, str, str]
_SIDES: Remembered[ModelledRun | Unusable] = Remembered(4 * MOST_PAIRS)
_TESTED: Remembered[BackTest] = Remembered(8 * MOST_PAIRS)
"""A run's model, and what came of a pair, change with a new review or with what is given of the car's versions only; a
page of them is looked at again."""


def _key(run: RunRecord, facts: Facts) -> Key:
    return run.id, run.reviewed_at, repr(facts)


def _side(library: Library, run: RunRecord, facts: Facts) -> ModelledRun | None:
    """A run with its model; None of a run that has a fault or makes no model."""
    side = _SIDES.get(_key(run, facts))
    if side is None:
        side = _SIDES.put(_key(run, facts), _made_side(library, run, facts))
    return side if isinstance(side, ModelledRun) else None


def _made_side(library: Library, run: RunRecord, facts: Facts) -> ModelledRun | Unusable:
    one = fetch_run(library, run.id, channels=MODEL_CHANNELS)
    record = library.records.car(*run.car) if run.car else None
    if record is None or not is_clean(one.review):
        return Unusable()
    car = read_car(given_as_known(record, facts))
    model = model_of_run(one.review, one.table, car)
    return Unusable() if isinstance(model, Finding) else ModelledRun(one.review, car, model)


def _tested(base: tuple[RunRecord, ModelledRun], other: tuple[RunRecord, ModelledRun], facts: Facts) -> BackTest:
    key = _key(base[0], facts), _key(other[0], facts)
    known = _TESTED.get(key)
    if known is not None:
        return known
    versions = base[0].car, other[0].car
    unsaid = unsaid_between(facts, (versions[0][1], versions[1][1])) if versions[0] and versions[1] else {}
    change = change_between(base[1], other[1], unsaid=unsaid)
    return _TESTED.put(key, back_test(base[1], other[1], change))
