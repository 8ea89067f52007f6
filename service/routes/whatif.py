"""What a change would have done to one run: a forecast, nothing of it is kept."""

from __future__ import annotations

from fastapi import APIRouter

from passband.analysis.results.codec import plain
from passband.analysis.results.findings import Finding
from passband.analysis.whatif.drive import drive
from passband.analysis.whatif.foretell import foretell_with, no_answer
from passband.analysis.whatif.model import model_of_run
from passband.analysis.whatif.worth import WorthClass, worth_of_torque
from passband.service.answers import Json, TheBody, TheLibrary, TheSettings, TheUnits
from passband.service.given import NO_CAR, read_car, read_given
from passband.service.side_by_side import lay_side_by_side
from passband.service.what_if import answer_whatif, most_boost_pa
from passband.service.whatif_asked import WhatIfAsked, asked_in_words, read_changes
from passband.web.printed_whatif import print_foretold, print_worth

router = APIRouter(prefix="/api/runs", tags=["runs"])

CHANNELS = ("acceleration_mps2", "gear", "engine_speed", "manifold_pressure", "boost")
"""What of a run its model is made of."""


@router.post("/{run_id}/whatif")
def whatif(library: TheLibrary, settings: TheSettings, units: TheUnits, run_id: str, body: TheBody) -> Json:
    """What another shift point, mass, gearing, boost, air or power would have done, and what torque is worth where."""
    asked = read_given(WhatIfAsked, body, what="body")
    one = lay_side_by_side(library, run_id, settings, channels=CHANNELS)[0]
    record = library.records.car(*one.run.car) if one.run.car else None
    car = read_car(record.told if record is not None else NO_CAR)
    changes = read_changes(asked, car, boost_pa=most_boost_pa(one.table))
    model = model_of_run(one.review, one.table, car)
    label = one.run.details.label or "the run"
    classes: tuple[WorthClass, ...] = ()
    if isinstance(model, Finding):
        foretold = no_answer(model)
    else:
        foretold = foretell_with(model, one.review, car, changes)
        as_run = drive(model)
        classes = () if as_run is None else worth_of_torque(model, as_run)
    page = print_foretold(label, asked_in_words(asked), foretold, units=units)
    page += print_worth(label, classes) if classes else ""
    return Json({**answer_whatif(label, asked, foretold), "worth": plain(classes), "print": page})
