"""The order in which runs were made, as far as it is known; where nothing tells, that in which they came in.

Public: `made_order`, `made_day`, `within`, `newest_made_first`, `PLACE`, `DAY_MADE`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from sqlalchemy import ColumnElement, case, func

from passband.service.store.records import Days, RunRecord
from passband.service.store.schema import dates, runs

DAY = 10
"""Characters of a date without a time."""
DAY_MADE = "day_made"
"""What `made_day` is called in a question."""
PLACE = "made_order"
"""What `made_order` is called in a question."""


def made_order() -> ColumnElement[str]:
    """What the runs of a question are ordered by, their numbers behind it.

    Returns
    -------
    ColumnElement
        Text, of the runs that the question is about: all of them are looked through.

    Notes
    -----
    A run of which a time is known stands by it, in the strip's own time as written. One of which the day alone is
    known stands behind those of that day that came in before it; one of which nothing is known behind all that
    came in before it.
    """
    at = dates.c.at
    so_far = func.max(at).over(order_by=runs.c.number)
    that_day = func.max(at).over(partition_by=func.substr(at, 1, DAY), order_by=runs.c.number)
    return func.coalesce(case((at.is_(None), so_far), (func.length(at) <= DAY, that_day), else_=at), "").label(PLACE)


def made_day() -> ColumnElement[str]:
    """The day a run was made where that is known, else the day its logs came in (UTC); ``2031-05-04``."""
    return func.substr(func.coalesce(func.nullif(dates.c.at, ""), runs.c.added_at), 1, DAY).label(DAY_MADE)


def within(days: Days, day: ColumnElement[str]) -> list[ColumnElement[bool]]:
    """What holds a day within others; nothing where no bound is asked for."""
    return [*([day >= days.first] if days.first else []), *([day <= days.last] if days.last else [])]


def newest_made_first(runs: Sequence[RunRecord]) -> list[RunRecord]:
    """Runs that stand together, of one event and car, put in the same order; the others stay where they are.

    Parameters
    ----------
    runs : sequence of RunRecord
        The newest that came in first.
    """
    together = groupby(runs, key=lambda run: (run.details.event, run.car[0] if run.car else None))
    return [run for (event, _), some in together for run in (_made_anew(list(some)) if event else some)]


def _made_anew(newest_first: Sequence[RunRecord]) -> list[RunRecord]:
    places: list[tuple[str, int, RunRecord]] = []
    for number, run in enumerate(reversed(newest_first)):
        at = run.details.at
        before = [other.details.at for *_, other in places if len(at) == 0 or other.details.at[:DAY] == at[:DAY]]
        places.append((max((at, *before)) if len(at) <= DAY else at, number, run))
    return [run for *_, run in sorted(places, key=lambda place: place[:2], reverse=True)]
