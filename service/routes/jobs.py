"""Work that goes on by itself: how far it is, and what came of it."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool

from passband.service.answers.shared import Json, TheBody, TheLibrary
from passband.service.given.details import PassAsked
from passband.service.given.facts import read_given
from passband.service.http.errors import Problem, not_found
from passband.service.http.request_ids import request_id
from passband.service.jobs.job_answers import accepted, answered
from passband.service.jobs.passes import put_pass

router = APIRouter(prefix="/api", tags=["jobs"])


@router.get("/jobs/{job_id}")
def one_job(library: TheLibrary, job_id: str) -> Json:
    """A job that was accepted: `Retry-After` says how soon to ask again, while it is not done."""
    job = library.records.jobs.job(job_id)
    if job is None or job.kind == "chunk":
        raise not_found("job")
    return answered(library, job)


@router.post("/review-again", status_code=202)
async def review_again(request: Request, library: TheLibrary, body: TheBody) -> Json:
    """Review stored runs again, with their cars' newest versions; old reviews stand until all new ones are there."""
    asked = read_given(PassAsked, body, what="pass")
    beside = {"asked": request.url.path, "request_id": request_id.get()}
    job = await run_in_threadpool(put_pass, library, event=asked.event, car=asked.car, beside=beside)
    if job is None:
        raise Problem(422, "Not usable", "No run in this library is meant; nothing was done.")
    return accepted(request, library, job)
