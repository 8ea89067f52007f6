"""Files handed out: whole or one range of them (RFC 9110, 14), or by an address in the object store they lie in.

Public: `Download`, `file_answer`, `sent_there`, `encodings`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from fastapi import Request, Response
from fastapi.responses import RedirectResponse, StreamingResponse

from passband.service.answers.shared import attachment
from passband.service.http.errors import Problem

CHUNK_BYTES = 256 * 1024
_RANGE = re.compile(r"bytes=\s*(\d{0,18})-(\d{0,18})\s*")
"""A number with more digits is past the end of any file, and past what Python reads; such a range is passed over."""


@dataclass(frozen=True, slots=True)
class Download:
    """A file as it is offered."""

    name: str
    """Under which it is to be kept."""
    kind: str
    """Media type."""
    key: str
    """SHA-256 of the bytes, by which a client knows that they are still the same."""
    bytes: int


def file_answer(request: Request, file: BinaryIO, offered: Download) -> Response:
    """A file as a stream: all of it, or the one range that is asked for.

    Parameters
    ----------
    request : Request
        Its ``Range`` and ``If-Range`` are heeded; several ranges at once are answered with the whole, as they may be.
    file : binary file
        Seekable; closed when all is sent.
    offered : Download
        What it is.

    Returns
    -------
    Response
        200, or 206 for a range.

    Raises
    ------
    Problem
        416 if nothing of the range is there.
    """
    headers = {**attachment(offered.name), "ETag": f'"{offered.key}"', "Accept-Ranges": "bytes"}
    asked = _asked(request, offered)
    start, stop = asked or (0, offered.bytes)
    if start >= stop and asked:
        file.close()
        raise Problem(
            416, "No such range", f"The file has {offered.bytes} bytes, and none of them was asked for.",
            headers={"Content-Range": f"bytes */{offered.bytes}"},
        )  # fmt: skip
    if asked:
        headers["Content-Range"] = f"bytes {start}-{stop - 1}/{offered.bytes}"
    headers["Content-Length"] = str(stop - start)
    chunks = _chunks(file, start, stop)
    return StreamingResponse(chunks, 206 if asked else 200, media_type=offered.kind, headers=headers)


def sent_there(address: str) -> Response:
    """The answer that sends who asked to another address for a file."""
    return RedirectResponse(address, 307, headers={"Cache-Control": "no-store", "Vary": "Accept-Encoding, Range"})


def encodings(request: Request) -> frozenset[str]:
    """Encodings in which a client takes a file from elsewhere; none for a range, which is of the bytes as they came."""
    if "range" in request.headers:
        return frozenset()
    taken = (part.partition(";") for part in request.headers.get("accept-encoding", "").lower().split(","))
    return frozenset(name.strip() for name, _, weight in taken if not re.fullmatch(r"\s*q=0(\.0*)?\s*", weight))


def _asked(request: Request, offered: Download) -> tuple[int, int] | None:
    """Start and stop of the range asked for, empty where it lies outside; None where the whole is to be sent."""
    found = _RANGE.fullmatch(request.headers.get("range", ""))
    if found is None or request.headers.get("if-range", f'"{offered.key}"') != f'"{offered.key}"':
        return None
    first, last = found.groups()
    if not first:
        return (max(offered.bytes - int(last), 0), offered.bytes) if last else None
    if last and int(last) < int(first):
        return None
    return int(first), min(int(last) + 1, offered.bytes) if last else offered.bytes


def _chunks(file: BinaryIO, start: int, stop: int) -> Iterator[bytes]:
    with file:
        file.seek(start)
        while start < stop and (chunk := file.read(min(CHUNK_BYTES, stop - start))):
            start += len(chunk)
            yield chunk
