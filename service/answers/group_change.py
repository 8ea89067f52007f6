"""Two groups of stored runs held against each other, with what all runs of the car tell of the air.

Public: `hold_groups`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.runs.change import GroupChange, compare_groups
from passband.service.answers.digests import air_of_engine
from passband.service.answers.side_by_side import FetchedRun, car_of, prepare_stored
from passband.service.library import Library


def hold_groups(library: Library, before: Sequence[FetchedRun], after: Sequence[FetchedRun]) -> GroupChange:
    """Hold runs after a change against runs before it.

    Parameters
    ----------
    library : Library
        Where they are.
    before, after : sequence of FetchedRun
        Fetched with the channels of `KEPT`; one of each at least.

    Returns
    -------
    GroupChange
        As `compare_groups` says. What is learnt of the car's air holds each run against those of its own side only.
    """
    cars = {one.run.car[0] if one.run.car is not None else None for one in (*before, *after)}
    sides = {one.run.id: side for side, runs in (("before", before), ("after", after)) for one in runs}
    car = cars.pop() if len(cars) == 1 else None
    learnt = air_of_engine(library, car, apart=sides) if car is not None else None
    ready = ([prepare_stored(one, car=car_of(library, one.run)) for one in side] for side in (before, after))
    return compare_groups(*ready, learnt=learnt)
