"""What a change would have done to one run, and how forecasts of a car's runs held: nothing of it is kept."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

from passband.analysis.results.codec import plain
from passband.analysis.results.findings import Finding
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.whatif.back_test import tally
from passband.analysis.whatif.foretell import Foretold, foretell_with, no_answer
from passband.analysis.whatif.made_of_run import model_of_run
from passband.analysis.whatif.model import ModelledRun
from passband.service.answers.back_tests import MODEL_CHANNELS, PairTested, back_tests
from passband.service.answers.search_asked import read_search
from passband.service.answers.shared import Json, TheBody, TheLibrary, TheSettings, TheUnits
from passband.service.answers.side_by_side import car_of, lay_side_by_side
from passband.service.answers.whatif_answered import Beside, FoundBeside, answer_whatif, look_beside, most_boost_pa
from passband.service.answers.whatif_asked import WhatIfBody, asked_in_words, read_changes
from passband.service.given.facts import read_given
from passband.service.http.errors import not_found
from passband.service.kept.run_answers import car_shown, named_run
from passband.service.library import Library
from passband.web.printed.whatif import print_foretold, print_found, print_worth
from passband.web.shown.car import CarShown
from passband.web.wording.prose import sentences_in_units
from passband.web.wording.units import UnitSystem

router = APIRouter(prefix="/api", tags=["runs"])
page = APIRouter(include_in_schema=False)

NOT_ASKED = Foretold(None, None, (), (), None, None, None, None, ())
"""Where a search alone was asked."""


@router.post("/runs/{run_id}/whatif")
def whatif(library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, body: TheBody) -> Json:
    """What another shift point, mass, gearing, boost, air or power would have done, and what torque is worth where."""
    asked = read_given(WhatIfBody, body, what="body")
    tried = read_search(asked.search) if asked.search else None
    one = lay_side_by_side(library, run_id, settings, channels=MODEL_CHANNELS)[0]
    car = car_of(library, one.run)
    label = one.run.details.label or "the run"
    model = model_of_run(one.review, one.table, car)
    changes = None
    if asked_in_words(asked) or tried is None:
        changes = read_changes(asked, car, boost_pa=most_boost_pa(one.table), own_air=one.review.air)
    if isinstance(model, Finding):
        foretold = no_answer(model)
        printed = print_foretold(label, {}, foretold, units=units)
        return Json(_answer(answer_whatif(label, asked, foretold), FoundBeside(), printed, units))
    run = ModelledRun(one.review, car, model)
    beside = look_beside(run, Beside(True, tried, asked.aim))
    foretold = NOT_ASKED if changes is None else foretell_with(run, changes)
    printed = "" if changes is None else print_foretold(label, asked_in_words(asked), foretold, units=units)
    printed += print_found(beside.searched) if beside.searched else ""
    printed += print_worth(label, beside.worth or ())
    return Json(_answer(answer_whatif(label, asked, foretold), beside, printed, units))


def _answer(answer: JsonObject, beside: FoundBeside, printed: str, units: UnitSystem) -> JsonObject:
    more = {"worth": plain(beside.worth or ()), "searched": plain(beside.searched or ()), "print": printed}
    whole = {**answer, **more}
    return {**whole, "sentences": sentences_in_units(whole, units)}


@router.get("/cars/{car_id}/foretold", tags=["cars"])
def foretold(library: TheLibrary, car_id: str) -> Json:
    """A car's clean runs, each foretold from the one before it, beside what was measured."""
    car = _car(library, car_id)
    pairs = back_tests(library, car_id)
    return Json(
        {
            "car": {"id": car.id, "name": car.name},
            "pairs": [_pair_json(one) for one in pairs],
            "total": plain(tally([p.test for p in pairs])),
        }
    )


@page.get("/cars/{car_id}/foretold")
def foretold_page(library: TheLibrary, units: TheUnits, car_id: str) -> HTMLResponse:
    """The same as a page."""
    from passband.web.pages.foretold import ForetoldRow, render_foretold

    car = _car(library, car_id)
    pairs = back_tests(library, car_id)
    rows = [ForetoldRow(named_run(one.base), named_run(one.other), one.test) for one in pairs]
    return HTMLResponse(render_foretold(car, rows, tally([one.test for one in pairs]), units=units))


def _car(library: Library, car_id: str) -> CarShown:
    record = library.records.car(car_id)
    if record is None:
        raise not_found("car")
    return car_shown(record)


def _pair_json(one: PairTested) -> JsonObject:
    test = one.test
    return {
        "run": one.other.id,
        "from": one.base.id,
        "changed": list(test.change.words),
        "corrected": list(test.change.corrected),
        "logs_show": list(test.change.measured),
        "foretold_s": plain(test.foretold_s),
        "measured_s": plain(test.measured_s),
        "error_s": test.error_s,
        "held": test.held,
        "why": test.why,
    }
