"""The door: which names the service answers to, who may change things, and what every response carries.

The service knows no users, so a page from elsewhere that a browser has open must not be able to use it: neither by a
form that it sends here, nor by a name of its own that it points at this machine.

Public: `Guard`, `is_own_name`.
"""

from __future__ import annotations

import ipaddress
import socket
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from passband.service.errors import Problem, problem_response
from passband.service.headers import SAFE_HEADERS

CHANGING = frozenset({"POST", "PUT", "PATCH", "DELETE"})


def is_own_name(host: str, *, others: tuple[str, ...] = ()) -> bool:
    """Whether a Host header names this machine.

    Parameters
    ----------
    host : str
        As sent, perhaps with a port; empty counts as own.
    others : tuple of str
        Further names, in lower case; ``*`` for any.

    Returns
    -------
    bool
        True for addresses, ``localhost``, the machine's own name and the others.

    Examples
    --------
    >>> is_own_name("192.168.4.20:8080"), is_own_name("elsewhere.example"), is_own_name("[::1]:8080")
    (True, False, True)
    """
    try:
        name = (urlsplit(f"//{host}").hostname or "").lower().rstrip(".")
    except ValueError:
        return False
    if not host or "*" in others or name in others:
        return True
    machine = socket.gethostname().lower()
    if name in ("localhost", machine, f"{machine.partition('.')[0]}.local") or name.endswith(".localhost"):
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


class Guard:
    """ASGI middleware that turns foreign requests away and marks every response.

    Parameters
    ----------
    app : ASGI application
        What it stands before.
    hosts : tuple of str
        Names allowed besides the machine's own.
    """

    def __init__(self, app: ASGIApp, *, hosts: tuple[str, ...] = ()) -> None:
        self._app = app
        self._hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_marked(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in SAFE_HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        problem = self._objection(Headers(scope=scope), scope["method"])
        app = self._app if problem is None else problem_response(Request(scope), problem)
        if scope["method"] == "HEAD":  # answered as GET is; the server leaves the body out
            scope = {**scope, "method": "GET"}
        await app(scope, receive, send_marked)

    def _objection(self, headers: Headers, method: str) -> Problem | None:
        host = headers.get("host", "")
        if not is_own_name(host, others=self._hosts):
            detail = f"This service does not go by the name {host[:100]!r}; add it to PASSBAND_HOSTS if it should."
            return Problem(421, "Wrong host", detail)
        if method not in CHANGING:
            return None
        origin = headers.get("origin")
        foreign_origin = origin is not None and urlsplit(origin).netloc.lower() != host.lower()
        if foreign_origin or headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return Problem(403, "Foreign page", "Only this service's own page may change anything here.")
        return None
