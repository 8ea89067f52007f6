"""What was given, told back in words before it is kept."""

from __future__ import annotations

from fastapi import APIRouter

from passband.service.answers.shared import Json, TheBody, TheUnits
from passband.service.answers.understanding import understand
from passband.service.given.details import GivenSoFar
from passband.service.given.facts import read_given

router = APIRouter(prefix="/api/understand", tags=["cars"])


@router.post("")
def given_back(body: TheBody, units: TheUnits) -> Json:
    """What a car, a slip and an air would be understood as, in both systems of units; nothing is kept."""
    return Json(understand(read_given(GivenSoFar, body, what="body"), units=units))
