"""Digests of stored runs: kept in their rows, made anew from review and table where a row has none of our form.

Public: `digest_of`, `title_of`, `engine_of`, `best_beside`, `sheet_of`, `EventSheet`, `ENGINE_RUNS`.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

from passband.analysis.runs.digest import FORM, RunDigest, digest_from_json, digest_run
from passband.analysis.runs.laid import KEPT
from passband.analysis.runs.same_engine import hold_against_own, hold_all_against_own
from passband.analysis.runs.same_engine_found import SameEngine
from passband.analysis.runs.season_sheet import Noted, SeasonSheet, lay_season
from passband.analysis.runs.verdict import SAME_AIR
from passband.service.library import Library
from passband.service.settings import Settings
from passband.service.side_by_side import fetch_run, lay_stored
from passband.service.store.records import RunRecord

ENGINE_RUNS = 24
"""Runs before one that its engine is held against, at most, those with faults among them."""


@dataclass(frozen=True, slots=True)
class EventSheet:
    """Runs on one sheet."""

    runs: tuple[RunRecord, ...]
    """In the order of the rows."""
    sheet: SeasonSheet
    """A row a run."""
    engine: tuple[SameEngine | None, ...]
    """Each run's engine against the car's own before it."""
    best: RunRecord | None
    """The quickest without a told fault."""


Key = tuple[str, str]
T = TypeVar("T")


class _Remembered(Generic[T]):
    """What was made last, so that a sheet looked at again costs little; a new review has a new key."""

    def __init__(self, most: int) -> None:
        self._most, self._kept, self._lock = most, OrderedDict[object, T](), threading.Lock()

    def of(self, key: object, make: Callable[[], T]) -> T:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = make()
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made


_DIGESTS: _Remembered[RunDigest] = _Remembered(1000)
_ENGINES: _Remembered[SameEngine | None] = _Remembered(2000)
_SHEETS: _Remembered[tuple[SeasonSheet, tuple[SameEngine | None, ...]]] = _Remembered(8)


def _key(run: RunRecord) -> Key:
    """Of one review of one run: what is told of a run changes with a new review only."""
    return run.id, run.reviewed_at


def _hold_all(runs: Sequence[RunRecord], digests: Sequence[RunDigest]) -> tuple[SameEngine | None, ...]:
    keys = {id(digest): _key(run) for run, digest in zip(runs, digests, strict=True)}

    def hold(run: RunDigest, own: Sequence[RunDigest]) -> SameEngine | None:
        key = (keys[id(run)], *(keys[id(one)] for one in own))
        return _ENGINES.of(key, lambda: hold_against_own(run, own))

    return hold_all_against_own(digests, hold=hold)


def digest_of(library: Library, run: RunRecord) -> RunDigest:
    """The digest of a stored run.

    Parameters
    ----------
    library : Library
        Where it is.
    run : RunRecord
        Its row.

    Returns
    -------
    RunDigest
        Called as pages call the run.
    """

    def make() -> RunDigest:
        digest = digest_from_json(run.summary.get("digest"))
        if digest is None:
            digest = digest_run(lay_stored(fetch_run(library, run.id, channels=KEPT)))
        return replace(digest, label=title_of(run), event=run.details.event, round=run.details.round)

    return _DIGESTS.of(_key(run), make)


def title_of(run: RunRecord) -> str:
    """What pages call a run.

    Parameters
    ----------
    run : RunRecord
        Its row.

    Returns
    -------
    str
        The user's label, else event and round, else the first log's name.
    """
    said = run.details
    return said.label or ", ".join(filter(None, (said.event, said.round))) or str(run.summary["log_names"][0])


def engine_of(library: Library, run: RunRecord) -> SameEngine | None:
    """Whether a run's engine was as in the car's runs before it.

    Parameters
    ----------
    library : Library
        Where they are.
    run : RunRecord
        The run.

    Returns
    -------
    SameEngine or None
        None where the run names no car, or there is none to hold it against.
    """
    if run.car is None:
        return None
    before = library.records.find_runs(event=None, car=run.car[0], limit=ENGINE_RUNS, after=run.id)
    runs = (*reversed(before), run)
    return _hold_all(runs, [digest_of(library, one) for one in runs])[-1]


def best_beside(library: Library, run: RunRecord, settings: Settings) -> str | None:
    """The car's quickest other run of the same event without a told fault: in the same air, else in any.

    Parameters
    ----------
    library : Library
        Where they are.
    run : RunRecord
        The run that it is beside.
    settings : Settings
        How many are looked at, newest first.

    Returns
    -------
    str or None
        Its id; None where the run names no event or no car, or there is none.
    """
    if not run.details.event or not run.car:
        return None
    runs = library.records.find_runs(event=run.details.event, car=run.car[0], limit=settings.page_runs, after=None)
    own = _density(run)
    quick = [
        (not (own and density and abs(own / density - 1.0) <= SAME_AIR), told["value"], one.id)
        for one in runs
        if one.id != run.id and (told := one.summary["elapsed_time_s"]) is not None
        if one.summary["at_ft"] == run.details.finish_ft and not _after_shifts(library, one)["faults"]
        for density in (_density(one),)
    ]
    return min(quick)[2] if quick else None


def _after_shifts(library: Library, run: RunRecord) -> Mapping[str, Any]:
    kept = run.summary.get("digest")
    if isinstance(kept, dict) and kept.get("form") == FORM:
        return dict(kept["after_shifts"])
    return digest_of(library, run).after_shifts


def _density(run: RunRecord) -> float | None:
    kept = run.summary.get("digest") or {}
    return kept.get("after_shifts", {}).get("density_kgpm3") if isinstance(kept, dict) else None


def sheet_of(library: Library, runs: Sequence[RunRecord]) -> EventSheet:
    """Lay stored runs on one sheet.

    Parameters
    ----------
    library : Library
        Where they are.
    runs : sequence of RunRecord
        In order of time.

    Returns
    -------
    EventSheet
        Elapsed times are the slips' where there are any.
    """

    def make() -> tuple[SeasonSheet, tuple[SameEngine | None, ...]]:
        digests = [digest_of(library, run) for run in runs]
        numbered = [replace(one, label=str(place)) for place, one in enumerate(digests)]
        made = lay_season(numbered, [Noted(notes=run.details.notes) for run in runs])
        rows = tuple({**row, "label": one.label} for row, one in zip(made.runs, digests, strict=True))
        return replace(made, runs=rows), _hold_all(runs, digests)

    sheet, engine = _SHEETS.of(tuple(map(_key, runs)), make)
    best = runs[int(sheet.best)] if sheet.best is not None else None
    called = title_of(best) if best is not None else None
    return EventSheet(tuple(runs), replace(sheet, best=called), engine, best)
