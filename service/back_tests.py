"""A car's runs foretold one from the other: each clean run from the clean run before it.

Public: `PairTested`, `Unusable`, `back_tests`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.results.findings import Finding
from passband.analysis.runs.faults import is_clean
from passband.analysis.whatif.back_test import BackTest, back_test, change_between
from passband.analysis.whatif.made_of_run import model_of_run
from passband.analysis.whatif.model import ModelledRun
from passband.service.library import Library
from passband.service.remembered import Remembered
from passband.service.side_by_side import car_of, fetch_run
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


def back_tests(library: Library, car_id: str, *, most: int = MOST_PAIRS) -> list[PairTested]:
    """Foretell a car's runs, each clean one from the clean one before it to the same finish.

    Parameters
    ----------
    library : Library
        Where they are.
    car_id : str
        The car; runs keep the version of it that they were reviewed with, and so say what was changed.
    most : int
        Pairs, the newest.

    Returns
    -------
    list of PairTested
        The newest first; runs that make no model are passed over.
    """
    newest_first = library.records.find_runs(event=None, car=car_id, limit=2 * most, after=None)
    pairs: list[PairTested] = []
    before: dict[int, tuple[RunRecord, ModelledRun]] = {}
    for run in reversed(newest_first):
        this = _side(library, run)
        if this is None:
            continue
        if run.details.finish_ft in before:
            base_run, base = before[run.details.finish_ft]
            pairs.append(PairTested(base_run, run, _tested(_key(base_run), base, _key(run), this)))
        before[run.details.finish_ft] = run, this
    return pairs[::-1][:most]


Key = tuple[str, str]
_SIDES: Remembered[ModelledRun | Unusable] = Remembered(4 * MOST_PAIRS)
_TESTED: Remembered[BackTest] = Remembered(8 * MOST_PAIRS)
"""A run's model, and what came of a pair, change with a new review only; a page of them is looked at again."""


def _key(run: RunRecord) -> Key:
    return run.id, run.reviewed_at


def _side(library: Library, run: RunRecord) -> ModelledRun | None:
    """A run with its model; None of a run that has a fault or makes no model."""
    side = _SIDES.get(_key(run))
    if side is None:
        side = _SIDES.put(_key(run), _made_side(library, run))
    return side if isinstance(side, ModelledRun) else None


def _made_side(library: Library, run: RunRecord) -> ModelledRun | Unusable:
    one = fetch_run(library, run.id, channels=MODEL_CHANNELS)
    if not is_clean(one.review):
        return Unusable()
    car = car_of(library, run)
    model = model_of_run(one.review, one.table, car)
    return Unusable() if isinstance(model, Finding) else ModelledRun(one.review, car, model)


def _tested(base_key: Key, base: ModelledRun, key: Key, this: ModelledRun) -> BackTest:
    known = _TESTED.get((base_key, key))
    return (
        known if known is not None else _TESTED.put((base_key, key), back_test(base, this, change_between(base, this)))
    )
