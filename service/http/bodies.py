"""How the body of a request comes in: steadily and under a limit, or it is ended.

Public: `steadily`, `too_large`, `LEAST_BYTES_A_SECOND`.
"""

from __future__ import annotations

import time
from collections.abc import AsyncIterator

import anyio
from starlette.requests import Request

from passband.service.http.errors import Problem

LEAST_BYTES_A_SECOND = 1024
"""Slower than any telephone a person would wait for; who holds the line on purpose is far below. [B/s]"""
CLOSING = {"Connection": "close"}
"""Goes with an answer that comes before the body is whole: the rest of it is not worth reading."""


def too_large(what: str, limit: int) -> Problem:
    """The problem of something that passes a limit.

    Parameters
    ----------
    what : str
        A sentence without its stop.
    limit : int
        The most taken.

    Returns
    -------
    Problem
        413.
    """
    return Problem(413, "Too large", f"{what}; the most taken is {limit:,}.", headers=CLOSING)


async def steadily(request: Request, *, most_bytes: int, seconds: float, what: str) -> AsyncIterator[bytes]:
    """The body of a request as it comes, for as long as it comes.

    Parameters
    ----------
    request : Request
        Its body not yet read.
    most_bytes : int
        Longest body taken.
    seconds : float
        A sender may stay below `LEAST_BYTES_A_SECOND` for so long.
    what : str
        What it is, for the sentence: ``upload``, ``body``.

    Yields
    ------
    bytes
        In order; perhaps empty.

    Raises
    ------
    Problem
        408 if the sender stalls; 413 if the length announced, or what came, passes the limit.
    """
    announced = request.headers.get("content-length", "")
    if announced.isdecimal() and int(announced[:20]) > most_bytes:
        raise too_large(f"The {what} is {int(announced[:20]):,} bytes", most_bytes)
    stream = request.stream().__aiter__()
    total = window_bytes = 0
    window_start = time.monotonic()
    while True:
        with anyio.move_on_after(seconds) as patience:
            chunk = await anext(stream, None)
        passed = time.monotonic() - window_start
        slow = passed > seconds and window_bytes < LEAST_BYTES_A_SECOND * passed
        if patience.cancelled_caught or (slow and chunk is not None):
            raise Problem(408, "Stalled", f"The {what} stood still for {seconds:g} s; send it again.", headers=CLOSING)
        if chunk is None:
            return
        if passed > seconds:
            window_bytes, window_start = 0, time.monotonic()
        total += len(chunk)
        window_bytes += len(chunk)
        if total > most_bytes:
            raise too_large(f"The {what} goes on too long", most_bytes)
        yield chunk
