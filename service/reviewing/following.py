"""Work that is followed while it goes on: its stages as server-sent events, then its answer as the last of them.

Whoever closes the line wants the work no longer, and it ends.

Public: `follow`, `wants_events`, `stage_json`, `EVENT_STREAM`.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import suppress
from typing import Any, cast

import orjson
from fastapi import Request, Response
from fastapi.responses import StreamingResponse

from passband.analysis.results.plain_values import JsonObject
from passband.service.reviewing.progress import STAGES, Progress, Stage

EVENT_STREAM = "text/event-stream"
BEAT_S = 5.0
"""A line that nothing is said on for so long gets a word without meaning, so that nobody takes it for dead. [s]"""

_under_way: set[asyncio.Task[Any]] = set()
"""Tasks whose follower may have gone: they end by themselves, and must not be lost meanwhile."""


def wants_events(request: Request) -> bool:
    """Whether who asks wants to follow the work."""
    return EVENT_STREAM in request.headers.get("accept", "")


def follow(request: Request, work: Callable[[Progress], Awaitable[Response]]) -> Response:
    """A response that tells what `work` tells, then what it answers.

    Parameters
    ----------
    request : Request
        Its body taken in already.
    work : callable
        Gives the response that would have been sent without a follower, or raises what would have been told.

    Returns
    -------
    Response
        Events ``stage`` with ``{"stage", "what", "of", "number"}``, then one ``answer`` with ``{"status", "body"}``.
    """
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(_events(request, work), media_type=EVENT_STREAM, headers=headers)


async def _events(request: Request, work: Callable[[Progress], Awaitable[Response]]) -> AsyncIterator[bytes]:
    heard: asyncio.Queue[Stage | None] = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def hear(stage: Stage | None) -> None:
        with suppress(RuntimeError):  # the loop is closed: the service has ended
            loop.call_soon_threadsafe(heard.put_nowait, stage)

    progress = Progress(hear)
    task = asyncio.ensure_future(work(progress))
    _under_way.add(task)
    task.add_done_callback(_under_way.discard)
    task.add_done_callback(lambda _: hear(None))
    try:
        while True:
            try:
                stage = await asyncio.wait_for(heard.get(), BEAT_S)
            except TimeoutError:
                yield b": still at it\n\n"
                continue
            if stage is None:
                break
            yield _event("stage", stage_json(stage))
        yield _event("answer", await _answer(request, task))
    finally:
        progress.cancel()


def stage_json(stage: Stage) -> JsonObject:
    """A stage as who follows is told of it."""
    return {"stage": stage.key, "what": stage.what, "number": STAGES.index(stage.key) + 1, "of": len(STAGES)}


async def _answer(request: Request, task: asyncio.Future[Response]) -> JsonObject:
    error = task.exception()
    response = task.result() if error is None else await _as_problem(request, error)
    return {"status": response.status_code, "body": orjson.Fragment(bytes(response.body))}


async def _as_problem(request: Request, error: BaseException) -> Response:
    handlers = request.app.exception_handlers
    handler = next((handlers[kind] for kind in type(error).__mro__ if kind in handlers), None)
    if handler is None:
        raise error
    return cast("Response", await handler(request, error))


def _event(name: str, data: JsonObject) -> bytes:
    return b"event: " + name.encode() + b"\ndata: " + orjson.dumps(data) + b"\n\n"
