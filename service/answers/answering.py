"""What a user answers about columns that a log leaves open: kept with the car, by the log's layout.

Public: `answer_columns`, `with_answers`, `check_answers`, `layouts_of`, `given_answers`, `others_asked`, `Answered`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import orjson

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import LogError
from passband.analysis.channels.recognition import channel_named
from passband.analysis.channels.units import conversion_for
from passband.analysis.reading.columns.answers import answer_text
from passband.analysis.results.doubt import AS_LOGGED, IGNORE
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.results.review import Review
from passband.service.given.details import ColumnAnswer, ColumnAnswers, RunChanges
from passband.service.given.facts import Fault, GivenError
from passband.service.library import Library
from passband.service.store.records import CarRecord, RunRecord
from passband.web.shown.run import AnswerGiven

Answers = Mapping[str, Mapping[str, str]]

NO_CAR = (
    "This run names no car, and answers are kept with one, so that nobody is asked twice. Say which car it is (`car`), "
    "or how a new one is to be named (`new_car`)."
)


@dataclass(frozen=True, slots=True)
class Answered:
    """What became of answers."""

    run: RunRecord
    """Reviewed again."""
    car: tuple[str, int]
    """Id and version that holds the answers."""
    others: tuple[RunRecord, ...]
    """Other runs of the car that were asked the same and are not reviewed with the answers yet."""


def answer_columns(library: Library, run_id: str, said: ColumnAnswers, *, most: int) -> Answered | None:
    """Keep answers with the run's car, and review the run again with them.

    Parameters
    ----------
    library : Library
        Where the run is.
    run_id : str
        Which run.
    said : ColumnAnswers
        What was answered; without answers the run is only reviewed again.
    most : int
        Runs of the car to look through for the same questions, newest first.

    Returns
    -------
    Answered or None
        None if there is no such run.

    Raises
    ------
    GivenError
        If an answer cannot be used, or no car is known; nothing is kept.
    LogError
        If the logs hold no run when they are read so; the car then says again what it said before.
    """
    run, review = library.records.run(run_id), _review(library, run_id)
    if run is None or review is None:
        return None
    car_id = run.car[0] if run.car else said.car
    before = library.records.car(car_id) if car_id else None
    if before is None and not said.new_car.strip():
        raise GivenError(NO_CAR)
    check_answers(said.answers, review, (before.given.get("layouts") if before else None) or {})
    before = before or _named_car(library, said.new_car.strip())
    after = library.cars.amend(before.id, lambda car: with_answers(car, said.answers))
    try:
        again = library.review_again(run_id, RunChanges(car=before.id))
    except (LogError, GivenError):
        if after is not None and after.version != before.version:
            library.cars.amend(before.id, lambda car: {**car, "layouts": before.given.get("layouts") or {}})
        raise
    if again is None or after is None:
        return None
    return Answered(again, (after.id, after.version), others_asked(library, again, most=most))


def _named_car(library: Library, name: str) -> CarRecord:
    """A car of which no more is known than its name: one that is there, else a new one."""
    bare = {"name": name}
    known = (car for car in library.records.all_cars() if car.given == bare)
    return next(known, None) or library.cars.add(bare)


def with_answers(car: JsonObject, answers: Sequence[ColumnAnswer]) -> JsonObject:
    """A car that holds answers, and none that were taken back.

    Parameters
    ----------
    car : dict
        As given.
    answers : sequence of ColumnAnswer
        In order; a later one wins.
    """
    layouts = {layout: dict(of) for layout, of in (car.get("layouts") or {}).items()}
    for one in answers:
        of = layouts.setdefault(one.layout, {})
        if one.channel is None:
            of.pop(one.column, None)
        else:
            of[one.column] = answer_text(one.channel, one.unit)
    kept = {layout: of for layout, of in layouts.items() if of}
    rest = {key: value for key, value in car.items() if key != "layouts"}
    return {**rest, "layouts": kept} if kept else rest


def check_answers(answers: Sequence[ColumnAnswer], review: JsonObject, before: Answers) -> None:
    """Refuse answers about columns that the run's logs do not have, channels and units that nobody knows.

    Parameters
    ----------
    answers : sequence of ColumnAnswer
        As given.
    review : dict
        Of the run, as JSON says it.
    before : mapping
        What the car holds already.

    Raises
    ------
    GivenError
        With a fault for each.
    """
    asked = {(one["layout"], one["column"]) for one in review.get("doubts") or ()}
    asked |= {(layout, column) for layout in _layouts_in(review) for column in before.get(layout, {})}
    faults = tuple(
        Fault(f"answers.{at}", fault) for at, one in enumerate(answers) if (fault := _fault(one, asked))
    )  # fmt: skip
    if faults:
        raise GivenError(
            "The answers cannot be used: " + "; ".join(fault.text for fault in faults) + ".", faults=faults
        )


def _fault(one: ColumnAnswer, asked: set[tuple[str, str]]) -> str:
    """What is wrong with one answer; empty where nothing is."""
    name = f"{one.column[:80]!r}"
    if (one.layout, one.column) not in asked:
        return f"nothing is asked about a column {name} of that layout in this run"
    if one.channel is None or one.channel in (AS_LOGGED, IGNORE):
        return ""
    known = one.channel if kind_of(one.channel) is not None else channel_named(one.channel)
    kind = kind_of(known) if known is not None else None
    if kind is None:
        return f"{one.channel!r} is no channel, so column {name} cannot be one"
    if one.unit and kind.unit and conversion_for(one.unit, kept=kind.unit) is None:
        return f"{one.unit!r} is no unit of {one.channel}, so column {name} cannot be in it"
    return ""


def layouts_of(review: Review) -> tuple[str, ...]:
    """Fingerprints of the headers of a run's logs."""
    return tuple(dict.fromkeys([*review.layouts, *(one.layout for one in review.doubts)]))


def _layouts_in(review: JsonObject) -> tuple[str, ...]:
    """The same out of a review as JSON says it."""
    asked = (one["layout"] for one in review.get("doubts") or ())
    return tuple(dict.fromkeys([*(review.get("layouts") or ()), *asked]))


def given_answers(layouts: Sequence[str], car: JsonObject | None) -> tuple[AnswerGiven, ...]:
    """What was answered for the layouts of a run, in the car's order."""
    kept = (car or {}).get("layouts") or {}
    return tuple(
        AnswerGiven(layout, column, said) for layout in layouts for column, said in (kept.get(layout) or {}).items()
    )


def others_asked(library: Library, run: RunRecord, *, most: int) -> tuple[RunRecord, ...]:
    """Other runs with a log of the same layout: of the car and reviewed with an older version, or sent with the run.

    Parameters
    ----------
    library : Library
        Where they are.
    run : RunRecord
        Just reviewed.
    most : int
        Runs to look through.
    """
    review = _review(library, run.id)
    if run.car is None or review is None:
        return ()
    layouts, now = set(_layouts_in(review)), library.records.car(run.car[0])
    if now is None or not layouts:
        return ()
    found = library.records.find_runs(event=None, car=now.id, limit=most, after=None)
    older = [one for one in found if one.id != run.id and one.car is not None and one.car[1] != now.version]
    sent_with = [one for one in library.records.siblings(run.upload_id) if one.id != run.id and one.car is None]
    return tuple(one for one in (*sent_with, *older) if _asked_otherwise(library, one, layouts, now.given))


def _asked_otherwise(library: Library, run: RunRecord, layouts: set[str], now: JsonObject) -> bool:
    """Whether a run has one of the layouts and was reviewed with other answers for it than stand now."""
    review, car = _review(library, run.id), library.records.car(*run.car) if run.car else None
    shared = layouts & set(_layouts_in(review)) if review is not None else set()
    was, are = (((one or {}).get("layouts") or {}) for one in (car.given if car else None, now))
    return any((was.get(layout) or {}) != (are.get(layout) or {}) for layout in shared)


def _review(library: Library, run_id: str) -> JsonObject | None:
    stored = library.records.review(run_id)
    return orjson.loads(stored) if stored is not None else None
