"""A job as whoever asks for it is told: what it is, how far it is, and what came of it.

Public: `accepted`, `job_json`, `wants_no_wait`, `RESPOND_ASYNC`.
"""

from __future__ import annotations

from fastapi import Request

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.shared import Json
from passband.service.kept.run_answers import run_json
from passband.service.library import Library
from passband.service.reviewing.following import stage_json
from passband.service.reviewing.progress import Stage
from passband.service.store.jobs import OPEN, Job

RESPOND_ASYNC = "respond-async"
"""The preference by which whoever asks says that they will not wait (RFC 7240, section 4.1)."""
ASK_AGAIN_S = {"upload": 1, "pass": 5, "sweep": 5}
"""How soon to ask again how far a job is. [s]"""
CALLED = {"upload": "upload", "pass": "review-again", "sweep": "review-again"}
"""What kinds of jobs are called to the outside; parts of a job are not told of."""


def wants_no_wait(request: Request) -> bool:
    """Whether who asks prefers an answer before the work is done.

    Parameters
    ----------
    request : Request
        Its ``Prefer`` headers may name several preferences, each with parameters; the first word is the preference.

    Returns
    -------
    bool
        False where nothing is said.
    """
    answer = ",".join(request.headers.getlist("prefer")).split(",")
    return any(one.partition(";")[0].strip().casefold() == RESPOND_ASYNC for one in answer)


def accepted(request: Request, library: Library, job: Job) -> Json:
    """The answer that work is kept and will be done, and where to ask for it.

    Parameters
    ----------
    request : Request
        What was asked.
    library : Library
        Whose job it is.
    job : Job
        Kept already.

    Returns
    -------
    Json
        202.
    """
    request.app.state.jobs.wake()
    headers = {"Location": f"/api/jobs/{job.id}", "Retry-After": str(ASK_AGAIN_S[job.kind])}
    if wants_no_wait(request):
        headers["Preference-Applied"] = RESPOND_ASYNC
    return Json(job_json(library, job), 202, headers)


def answered(library: Library, job: Job) -> Json:
    """How far a job is."""
    headers = {"Retry-After": str(ASK_AGAIN_S[job.kind])} if job.state in OPEN else {}
    return Json(job_json(library, job), headers={**headers, "Cache-Control": "no-store"})


def job_json(library: Library, job: Job) -> JsonObject:
    """A job as JSON says it.

    Parameters
    ----------
    library : Library
        Whose it is.
    job : Job
        No part of another.

    Returns
    -------
    dict
        What is not known yet is null.
    """
    key, _, what = job.stage.partition("\t")
    answer = {
        "id": job.id,
        "kind": CALLED[job.kind],
        "state": job.state if job.kind != "pass" or not _begun(library, job) else "working",
        "stage": stage_json(Stage(key, what)) if key else None,
        "put_at": job.put_at,
        "ended_at": job.ended_at or None,
        "problem": (job.result or {}).get("problem"),
        "uploaded": None,
        "reviewed_again": None,
    }
    if job.kind == "upload":
        answer["uploaded"] = _uploaded(library, job) if job.state == "done" else None
    else:
        answer["reviewed_again"] = _reviewed_again(library, job)
    return answer


def _begun(library: Library, job: Job) -> bool:
    counts = library.records.new_reviews.counts(job.id)
    return job.state == "waiting" and counts.reviewed + counts.left > 0


def _uploaded(library: Library, job: Job) -> JsonObject:
    result = job.result or {}
    runs = [run for id in result["runs"] if (run := library.records.run(id)) is not None]
    return {"new": result["new"], "runs": [run_json(run) for run in runs], "findings": result["findings"]}


def _reviewed_again(library: Library, job: Job) -> JsonObject:
    """How many runs are meant and have their new review; they stand when all are there."""
    if job.result is not None and "reviewed" in job.result:
        return {**job.result, "stands": True}
    counts = library.records.new_reviews.counts(job.id)
    return {"runs": job.task["runs"], "reviewed": counts.reviewed, "left": [], "stands": False}
