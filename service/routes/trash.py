"""The trash: what was deleted, brought back or let go."""

from __future__ import annotations

from anyio import to_thread
from fastapi import APIRouter, Request, Response

from passband.analysis.results.plain_values import JsonObject
from passband.service.answers.shared import Json, TheLibrary
from passband.service.http.errors import not_found
from passband.service.kept.run_answers import run_json
from passband.service.store.trash import Entry
from passband.web.shown.trash import TrashedRun, TrashShown

router = APIRouter(prefix="/api/trash", tags=["trash"])


def entry_json(entry: Entry) -> JsonObject:
    """An entry of the trash: when and why, and the runs that come back with it."""
    runs = entry.upload.runs if entry.upload else ()
    logs = entry.upload.logs if entry.upload else ()
    return {
        "id": entry.id,
        "at": entry.at,
        "reason": entry.reason.value,
        "why": entry.why,
        "runs": [
            {"id": run.id, "label": run.details.label, "event": run.details.event, "round": run.details.round}
            for run in runs
        ],
        "logs": [{"name": log.name, "bytes": log.bytes, "sha256": log.sha256} for log in logs],
        "files": len(entry.files),
        "restorable": bool(runs),
    }


def entry_shown(entry: Entry) -> TrashShown:
    """The same for a page."""
    runs = (run.details for run in entry.upload.runs) if entry.upload else ()
    logs = tuple(log.name for log in entry.upload.logs) if entry.upload else ()
    trashed = tuple(TrashedRun(said.label, said.event, said.round) for said in runs)
    return TrashShown(entry.id, entry.at, entry.why, trashed, logs)


@router.get("")
def all_entries(library: TheLibrary) -> Json:
    """What lies in the trash, newest first."""
    return Json({"entries": [entry_json(entry) for entry in library.trash.entries()]})


@router.post("/{entry_id}/restore")
async def restore(request: Request, library: TheLibrary, entry_id: str) -> Json:
    """Bring an entry's runs back as they were, under the same ids."""
    limiter = request.app.state.review_turns
    runs = await to_thread.run_sync(lambda: library.deleting.restore(entry_id), limiter=limiter)
    if runs is None:
        raise not_found("entry")
    return Json({"runs": [run_json(run) for run in runs]})


@router.delete("/{entry_id}", status_code=204)
def let_go(library: TheLibrary, entry_id: str) -> Response:
    """Let go of an entry for good."""
    if not library.deleting.let_go(entry_id):
        raise not_found("entry")
    return Response(status_code=204)


@router.delete("", status_code=204)
def empty(library: TheLibrary) -> Response:
    """Let go of all that lies in the trash, for good."""
    for entry in list(library.trash.entries()):
        library.deleting.let_go(entry.id)
    return Response(status_code=204)
