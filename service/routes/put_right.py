"""Many runs put right at once, and that taken back."""

from __future__ import annotations

from anyio import to_thread
from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool

from passband.service.answers.put_right import (
    PUT_RIGHT,
    PutRightAsked,
    Turned,
    Turning,
    begin,
    end,
    put_right_json,
    turn,
    turning_back,
)
from passband.service.answers.shared import Json, TheBody, TheLibrary
from passband.service.given.facts import read_given
from passband.service.library import Library

router = APIRouter(prefix="/api/put-right", tags=["runs"])


@router.get("")
def all_put_right(library: TheLibrary) -> Json:
    """Changes of many runs that were not taken back, newest first."""
    items = [one for one in library.records.items(PUT_RIGHT) if not one.gone]
    return Json({"put_right": [put_right_json(one) for one in reversed(items)]})


@router.post("")
async def put_many_right(request: Request, library: TheLibrary, body: TheBody) -> Json:
    """Say one thing of many runs; each is reviewed again, and what stood of it is kept to be put back."""
    asked = read_given(PutRightAsked, body, what="change")
    turning = await run_in_threadpool(begin, library, asked)
    return Json(put_right_json(turning.item, await _turn_each(request, library, turning)))


@router.post("/{put_right_id}/undo")
async def take_back(request: Request, library: TheLibrary, put_right_id: str) -> Json:
    """Put every run back to what it was; one of which somebody has said otherwise since stays as it is."""
    turning = await run_in_threadpool(turning_back, library, put_right_id)
    turned = await _turn_each(request, library, turning)
    await run_in_threadpool(end, library, turning.item, turned)
    return Json(put_right_json(turning.item, turned))


async def _turn_each(request: Request, library: Library, turning: Turning) -> list[Turned]:
    """Each run by itself waits for its turn, so that an upload meanwhile waits for one review and not for all."""
    limiter, turned = request.app.state.review_turns, []
    for run_id, changes in turning.changes:
        turned.append(await to_thread.run_sync(turn, library, run_id, changes, limiter=limiter))
    return turned
