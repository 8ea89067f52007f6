"""Digests of stored runs: kept beside their rows, made anew from review and table where a run has none of our form.

Public: `digests_of`, `engine_of`, `engines_of`, `beside_of`, `sheet_of`, `EventSheet`, `EngineFound`, `Beside`,
`air_of_engine`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from passband.analysis.results.codec import plain
from passband.analysis.results.plain_values import JsonObject, Stored
from passband.analysis.runs.compared_run import KEPT
from passband.analysis.runs.digest import RunDigest, digest_run
from passband.analysis.runs.faults import beyond_usual, usual_faults
from passband.analysis.runs.kept_digest import FORM, keep_digest, read_digest
from passband.analysis.runs.own_air import learn_of_digests
from passband.analysis.runs.same_air import AirExponents
from passband.analysis.runs.same_engine import follow_engine, hold_against_own
from passband.analysis.runs.season_sheet import Noted, SeasonSheet, make_season_sheet
from passband.analysis.runs.verdict import SAME_AIR
from passband.service.answers.side_by_side import fetch_run, prepare_stored
from passband.service.cars.car_between import CarsOfRuns
from passband.service.cars.usuals import begun_at, usuals_of_car
from passband.service.kept.run_answers import title_of
from passband.service.library import Library
from passband.service.reviewing.remembered import Remembered
from passband.service.store.digest_rows import EngineLink
from passband.service.store.records import RunRecord
from passband.web.sheets.season import EngineShown

FORM_OF_ENGINE = 2
"""Of what is kept of an engine: one of another form is held against its own anew."""


@dataclass(frozen=True, slots=True)
class EngineFound:
    """A run's engine against the car's own before it, as it is kept."""

    said: Stored
    """A `SameEngine`, as JSON says it."""

    @property
    def shown(self) -> EngineShown:
        """What of it a page shows."""
        return EngineShown(self.said["line"], self.said["as_before"], self.said["fault"])


@dataclass(frozen=True, slots=True)
class EventSheet:
    """Runs on one sheet."""

    runs: tuple[RunRecord, ...]
    """In the order of the rows."""
    sheet: SeasonSheet
    """A row a run."""
    engine: tuple[EngineFound | None, ...]
    """Each run's engine against the car's own before it."""
    best: tuple[RunRecord | None, ...]
    """Of each car on the sheet the quickest without a fault found; None where there is none."""
    new_usual: tuple[str | None, ...]
    """What was changed for good before each run from which the engine's usual is new; None for the others."""


class Unlearnt:
    """What stands where an engine's runs say nothing of the air, so that they are not asked again."""


Key = tuple[str, str]


_DIGESTS: Remembered[RunDigest] = Remembered(1000)
_ENGINES: Remembered[EngineFound] = Remembered(2000)
_SHEETS: Remembered[SeasonSheet] = Remembered(8)


def digests_of(library: Library, keys: Sequence[Key]) -> list[RunDigest]:
    """Digests of stored runs.

    Parameters
    ----------
    library : Library
        Where they are.
    keys : sequence of (str, str)
        Id of each, and when it was reviewed: what is told of a run changes with a new review only.

    Returns
    -------
    list of RunDigest
        One for each, called as pages call the run.
    """
    found = {key: digest for key in keys if (digest := _DIGESTS.get(key)) is not None}
    lacking = [key for key in keys if key not in found]
    rows = library.records.digests.of([run_id for run_id, _ in lacking]) if lacking else {}
    for run_id, at in lacking:
        row = rows.get(run_id)
        digest = read_digest(row.figures, row.arrays) if row is not None else None
        found[run_id, at] = _DIGESTS.put((run_id, at), digest or _made_anew(library, run_id))
    return [found[key] for key in keys]


def _made_anew(library: Library, run_id: str) -> RunDigest:
    fetched = fetch_run(library, run_id, channels=KEPT)
    digest = replace(digest_run(prepare_stored(fetched)), label=title_of(fetched.run))
    library.records.digests.keep(run_id, fetched.run.reviewed_at, keep_digest(digest))
    return digest


def _key(run: RunRecord) -> Key:
    return run.id, run.reviewed_at


@dataclass(frozen=True, slots=True)
class _Kept:
    """How an engine stood, as it was kept."""

    held_by: str
    as_before: bool


@dataclass(frozen=True, slots=True)
class _Followed:
    """A car's engine from run to run."""

    links: Sequence[EngineLink]
    """All its runs, oldest first."""
    since: Sequence[str]
    """Of each, the run from which its usual holds; empty before any that was given."""
    against: Mapping[str, str]
    """By run, what it was held against, of those that could be."""


def _follow(library: Library, car: str) -> _Followed:
    """What was not kept of a car's engine is found now."""
    links = library.records.digests.engine_links(car)
    keys = [(link.run_id, link.reviewed_at) for link in links]
    lacking = [key for key, link in zip(keys, links, strict=True) if link.comparable is None]
    fresh = dict(zip(lacking, digests_of(library, lacking), strict=True))
    comparable = [_comparable(fresh, link) for link in links]
    if sum(not link.held_by for link in links) > FEW:
        digests_of(library, keys)  # all in one question
    news: list[tuple[str, str, JsonObject | None]] = []

    def hold(place: int, own: Sequence[int]) -> _Kept | None:
        held_by = _held_by([keys[place], *(keys[one] for one in own)])
        link = links[place]
        if link.held_by == held_by:
            return _Kept(held_by, link.as_before) if link.as_before is not None else None
        run, *references = digests_of(library, [keys[place], *(keys[one] for one in own)])
        found = hold_against_own(run, references)
        kept: Any = plain(found)
        news.append((link.run_id, held_by, kept))
        if kept is not None:
            _ENGINES.put(held_by, EngineFound(kept))
        return _Kept(held_by, found.as_before) if found is not None else None

    since = begun_at([link.run_id for link in links], usuals_of_car(library, car))
    found = follow_engine(since, comparable, hold)
    if news:
        library.records.digests.keep_held(news)
    against = {link.run_id: one.held_by for link, one in zip(links, found, strict=True) if one is not None}
    return _Followed(links, since, against)


FEW = 3
"""Runs that are looked for one by one."""


def _comparable(fresh: Mapping[Key, RunDigest], link: EngineLink) -> bool:
    if link.comparable is not None:
        return link.comparable
    digest = fresh[link.run_id, link.reviewed_at]
    return digest.clean and digest.cells.size > 0


def _held_by(keys: Sequence[Key]) -> str:
    written = "|".join(f"{run_id}@{at}" for run_id, at in keys)
    return hashlib.sha256(f"{FORM}.{FORM_OF_ENGINE}|{written}".encode()).hexdigest()[:32]


def engines_of(library: Library, runs: Sequence[RunRecord]) -> list[EngineFound | None]:
    """Whether runs' engines were as in their cars' runs before them.

    Parameters
    ----------
    library : Library
        Where they are.
    runs : sequence of RunRecord
        Of any cars.

    Returns
    -------
    list of EngineFound or None
        One each; None where a run names no car, or there is none to hold it against.
    """
    return _engines(library, runs, _follow_all(library, runs))


def _follow_all(library: Library, runs: Sequence[RunRecord]) -> dict[str, _Followed]:
    """The engines of all cars that runs name, by car."""
    cars = dict.fromkeys(run.car[0] for run in runs if run.car is not None)
    return {car: _follow(library, car) for car in cars}


def _engines(
    library: Library, runs: Sequence[RunRecord], followed: Mapping[str, _Followed]
) -> list[EngineFound | None]:
    against = {run_id: key for one in followed.values() for run_id, key in one.against.items()}
    found = _engines_kept(library, {run.id: against[run.id] for run in runs if run.id in against})
    return [found.get(run.id) for run in runs]


def _engines_kept(library: Library, held_by: Mapping[str, str]) -> dict[str, EngineFound]:
    """What was found of engines, by run; what each was held against names it."""
    found = {run_id: kept for run_id, key in held_by.items() if (kept := _ENGINES.get(key)) is not None}
    lacking = [run_id for run_id in held_by if run_id not in found]
    for run_id, said in library.records.digests.held(lacking).items() if lacking else ():
        found[run_id] = _ENGINES.put(held_by[run_id], EngineFound(said))
    return found


def engine_of(library: Library, run: RunRecord) -> EngineFound | None:
    """Whether a run's engine was as in the car's runs before it; as `engines_of` says."""
    return engines_of(library, [run])[0]


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside one run of many."""

    engine: EngineFound | None
    """Whether its engine was as in the car's runs before it, as `engines_of` says."""
    best: str | None
    """Id of the car's quickest other run of the same event without a fault found: in the same air, else in any. One
    whose engine was down is taken only where there is no other; None where the run names no event or no car."""


def beside_of(library: Library, run: RunRecord) -> Beside:
    """A run's engine and the best fair run beside it, the car's runs looked through once for both.

    Parameters
    ----------
    library : Library
        Where they are.
    run : RunRecord
        The run.

    Returns
    -------
    Beside
        Both.
    """
    against = _follow(library, run.car[0]).against if run.car is not None else {}
    own = {run.id: against[run.id]} if run.id in against else {}
    return Beside(_engines_kept(library, own).get(run.id), _best_beside(library, run, against))


def _best_beside(library: Library, run: RunRecord, against: Mapping[str, str]) -> str | None:
    if not run.details.event or not run.car:
        return None
    keys = library.records.digests.keys(event=run.details.event, car=run.car[0])
    beside = dict(zip((run_id for run_id, _ in keys), digests_of(library, keys), strict=True))
    own = _density(beside[run.id]) if run.id in beside else None
    engine = _engines_kept(library, {run_id: against[run_id] for run_id in beside if run_id in against})
    habits = usual_faults([one.faults for one in beside.values() if one.finish_ft == run.details.finish_ft])
    quick = [
        (
            bool(run_id in engine and engine[run_id].shown.fault),
            not (own and density and abs(own / density - 1.0) <= SAME_AIR),
            float(elapsed_s),
            run_id,
        )
        for run_id, one in beside.items()
        if run_id != run.id and one.finish_ft == run.details.finish_ft and not beyond_usual(one.faults, habits)
        for elapsed_s, density in ((one.before_shifts["elapsed_time_s"], _density(one)),)
        if isinstance(elapsed_s, (int, float))
    ]
    return min(quick)[-1] if quick else None


def _density(run: RunDigest) -> float | None:
    density = run.after_shifts["density_kgpm3"]
    return float(density) if isinstance(density, (int, float)) else None


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
    followed = _follow_all(library, runs)
    engine = _engines(library, runs, followed)
    keys = list(map(_key, runs))
    down = [one.shown.fault if one is not None else "" for one in engine]
    fresh = _new_usuals(library, runs)
    cars = {run.car[0]: str(run.summary["car_name"]) for run in runs if run.car is not None}
    learnt = {name: _air_of(library, car, followed[car], {}) for car, name in cars.items()}
    noted = _noted(library, runs, fresh)
    remembered = (tuple(keys), tuple(down), tuple(noted), tuple(learnt.items()))
    sheet = _SHEETS.get(remembered)
    if sheet is None:
        digests = digests_of(library, keys)
        numbered = [replace(one, label=str(place)) for place, one in enumerate(digests)]
        made = make_season_sheet(numbered, noted, engine=down, learnt=learnt)
        rows = tuple({**row, "label": one.label} for row, one in zip(made.runs, digests, strict=True))
        sheet = _SHEETS.put(remembered, replace(made, runs=rows))
    best = tuple(runs[int(one.best)] if one.best is not None else None for one in sheet.cars)
    called = tuple(
        replace(one, best=title_of(quickest) if quickest is not None else None)
        for one, quickest in zip(sheet.cars, best, strict=True)
    )
    only = called[0].best if len(called) == 1 else None
    return EventSheet(tuple(runs), replace(sheet, best=only, cars=called), tuple(engine), best, fresh)


_AIRS: Remembered[AirExponents | Unlearnt] = Remembered(100)


def air_of_engine(library: Library, car: str, *, apart: Mapping[str, str] | None = None) -> AirExponents | None:
    """How the power of a car's engine goes with the air, learnt of all its clean runs that are here.

    Parameters
    ----------
    library : Library
        Where they are.
    car : str
        Its id.
    apart : mapping, optional
        Sides of a change by ids of runs: those of one are not held against those of another.

    Returns
    -------
    AirExponents or None
        None where they show no more than the published rules say; runs of one meeting and one usual are held against
        each other.
    """
    return _air_of(library, car, _follow(library, car), apart or {})


def _air_of(library: Library, car: str, followed: _Followed, apart: Mapping[str, str]) -> AirExponents | None:
    use = [
        (link.run_id, link.reviewed_at, (since, apart.get(link.run_id, "")))
        for link, since in zip(followed.links, followed.since, strict=True)
        if link.comparable is not False and (link.as_before is not False or link.run_id not in followed.against)
    ]
    known = _AIRS.get((car, tuple(use)))
    if known is None:
        digests = digests_of(library, [(run_id, at) for run_id, at, _ in use])
        clean = [(one, since) for one, (_, _, since) in zip(digests, use, strict=True) if one.clean]
        found = learn_of_digests([one for one, _ in clean], [(one.event, *since) for one, since in clean])
        known = _AIRS.put((car, tuple(use)), found if found is not None else Unlearnt())
    return known if isinstance(known, AirExponents) else None


def _new_usuals(library: Library, runs: Sequence[RunRecord]) -> tuple[str | None, ...]:
    named: dict[str, str] = {}
    for car in dict.fromkeys(run.car[0] for run in runs if run.car is not None):
        named |= usuals_of_car(library, car)
    return tuple(named.get(run.id) for run in runs)


def _noted(library: Library, runs: Sequence[RunRecord], fresh: Sequence[str | None]) -> list[Noted]:
    changed = ["" if one is None else f"new baseline: {one}" if one else "new baseline" for one in fresh]
    told = zip(runs, changed, _differs(library, runs), strict=True)
    return [
        Noted(at=run.details.at, notes=run.details.notes, changed="; ".join(filter(None, (said, *differs))))
        for run, said, differs in told
    ]  # fmt: skip


def _differs(library: Library, runs: Sequence[RunRecord]) -> list[tuple[str, ...]]:
    """What was told otherwise of each run's car than at its run before on the sheet."""
    cars, last = CarsOfRuns(library), dict[str, RunRecord]()
    found: list[tuple[str, ...]] = []
    for run in runs:
        before = last.get(run.car[0]) if run.car else None
        found.append(cars.differ(run, before) if before is not None else ())
        if run.car:
            last[run.car[0]] = run
    return found
