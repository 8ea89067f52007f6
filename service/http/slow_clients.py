"""Connections that are waited for only as long as they move.

The server beneath ends a connection that is silent after an answer, and no other: one that never asks, asks a byte at a
time, or does not read what it asked for would hold its place for ever. Bodies have their own watch (`service.bodies`).

Public: `WatchedProtocol`.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import struct
from typing import Any

import h11
from starlette.requests import Request
from starlette.types import Receive, Scope, Send
from uvicorn import Config
from uvicorn.server import ServerState

from passband.service.http.answered import RequestIds
from passband.service.http.bodies import CLOSING, LEAST_BYTES_A_SECOND
from passband.service.http.errors import MEDIA_TYPE, Problem, problem_headers, problem_json, problem_response
from passband.service.http.long_bodies import LongBodies
from passband.service.http.request_ids import new_request_id, request_id

LOOKS = 5
"""So often within the patience a connection is looked at: none outlasts it by more than a fifth."""
SENDING_BYTES = 256 * 1024
"""What the system may hold of an answer for one client: enough for any line, and a thousand are no danger. [B]"""
FULL = "Too many connections are open at once; try again in a little while."

log = logging.getLogger("passband")


class WatchedProtocol(LongBodies):
    """HTTP/1.1 that ends a client who neither asks nor reads.

    Parameters
    ----------
    config, server_state, app_state, _loop
        As the server gives them to any protocol.
    patience_s : float
        A question must be whole within it, and an answer be taken at `LEAST_BYTES_A_SECOND` over it. [s]
    most_connections : int
        At once; beyond them the one idle longest makes room, and where all are busy the newest is told so.
    """

    def __init__(
        self,
        config: Config,
        server_state: ServerState,
        app_state: dict[str, Any],
        _loop: asyncio.AbstractEventLoop | None = None,
        *,
        patience_s: float,
        most_connections: int,
    ) -> None:
        super().__init__(config, server_state, app_state, _loop)
        self._patience_s = patience_s
        self._most = most_connections
        self._idle_since_s = 0.0
        self._unread = 0
        self._unread_since_s = 0.0
        self._watch: asyncio.TimerHandle | None = None

    @property
    def busy(self) -> bool:
        """Whether a question is being answered."""
        return self.cycle is not None and not self.cycle.response_complete

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to watch; make room if there are too many."""
        super().connection_made(transport)
        self._idle_since_s = self.loop.time()
        self._set(socket.SO_SNDBUF, SENDING_BYTES)
        self._look_later()
        if len(self.connections) > self._most:
            self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        """Watch no longer."""
        if self._watch is not None:
            self._watch.cancel()
        super().connection_lost(exc)

    def on_response_complete(self) -> None:
        """From here on the next question is waited for."""
        self._idle_since_s = self.loop.time()
        super().on_response_complete()

    def send_400_response(self, msg: str) -> None:
        """Tell what is no HTTP so, in the form of every other problem."""
        self._refuse(Problem(400, "Not HTTP", "What was sent is not HTTP/1.1 as it should be."))

    def _unsupported_upgrade_warning(self) -> None:
        """An offer of another protocol may be passed over in silence."""

    def _look_later(self) -> None:
        self._watch = self.loop.call_later(self._patience_s / LOOKS, self._look)

    def _look(self) -> None:
        now_s = self.loop.time()
        if self._reads_too_slowly(now_s):
            log.info("a client at %s does not read its answer and was ended", self._where())
            self._cut()
            return
        if not self.busy and not self.transport.is_closing() and now_s - self._idle_since_s >= self._patience_s:
            self._end_idle()
        self._look_later()

    def _reads_too_slowly(self, now_s: float) -> bool:
        """Whether what waits to be read has hardly shrunk over the patience; it grows only where room was made."""
        unread = self.transport.get_write_buffer_size()
        waited_s = now_s - self._unread_since_s
        if unread == 0 or self._unread == 0 or unread > self._unread:
            self._unread, self._unread_since_s = unread, now_s
        elif waited_s >= self._patience_s:
            if self._unread - unread < LEAST_BYTES_A_SECOND * waited_s:
                return True
            self._unread, self._unread_since_s = unread, now_s
        return False

    def _end_idle(self) -> None:
        if self.conn.trailing_data[0] and self.conn.our_state is h11.IDLE:
            log.info("a client at %s did not end its question and was ended", self._where())
            detail = f"The question was not whole within {self._patience_s:g} s; ask again."
            self._refuse(Problem(408, "Stalled", detail))
        else:
            self.transport.close()

    def _refuse(self, problem: Problem) -> None:
        if self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE):
            request_id.set(new_request_id())
            headers = {**problem_headers(problem), **CLOSING, "Content-Type": MEDIA_TYPE}
            body = problem_json(problem, instance="")
            answer = h11.Response(
                status_code=problem.status, headers=[*headers.items(), ("Content-Length", str(len(body)))]
            )
            for part in (answer, h11.Data(data=body), h11.EndOfMessage()):
                self.transport.write(self.conn.send(part) or b"")
        self.transport.close()

    def _make_room(self) -> None:
        others = (one for one in self.connections if isinstance(one, WatchedProtocol) and one is not self)
        idle = min((one for one in others if not one.busy), key=lambda one: one._idle_since_s, default=None)
        if idle is not None:
            idle._cut()
            self.connections.discard(idle)
            return
        log.warning("%d connections are busy at once; one more was sent away", self._most)
        self.app = RequestIds(_full)

    def _cut(self) -> None:
        """End the connection now, with what the system holds of it: an orderly end would wait for the reader again."""
        self._set(socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.transport.abort()

    def _set(self, option: int, value: int | bytes) -> None:
        line = self.transport.get_extra_info("socket")
        if line is not None:
            line.setsockopt(socket.SOL_SOCKET, option, value)

    def _where(self) -> str:
        return self.client[0] if self.client else "no address"


async def _full(scope: Scope, receive: Receive, send: Send) -> None:
    headers = {**CLOSING, "Retry-After": "5"}
    await problem_response(Request(scope), Problem(503, "Busy", FULL, headers=headers))(scope, receive, send)
