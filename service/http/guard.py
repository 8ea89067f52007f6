"""The door: which names the service answers to, who may change things, and what every response carries.

The service knows no users, so a page from elsewhere that a browser has open must not be able to use it: neither by a
form that it sends here, nor by a name of its own that it points at this machine.

Public: `Guard`, `is_own_name`, `is_own_page`, `is_this_machine`.
"""

from __future__ import annotations

import asyncio
import ipaddress
import re
import socket

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from passband.service.http.errors import ENDING_SECONDS, Problem, not_found, problem_response
from passband.service.http.headers import CHANGING, SAFE_HEADERS

PORTS = {"http": 80, "https": 443}
"""Schemes that a page of ours may have, and the port that each leaves unsaid."""
ENDING = Problem(
    503,
    "Ending",
    "The service is ending, and nothing was changed; send it again in a minute.",
    headers={"Retry-After": str(ENDING_SECONDS)},
)
FOREIGN = (
    "Only this service's own page may change anything here. If this is its page behind a proxy, let the proxy pass the "
    "Host on, and name that host in PASSBAND_HOSTS."
)
TWO_LENGTHS = (
    "A question says the length of its body in one way: by Content-Length, or in chunks. One that says both may end at "
    "another place for a proxy than it does here (RFC 9112, 6.3)."
)

_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_AUTHORITY = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(?::([0-9]{1,5}))?", re.IGNORECASE | re.ASCII)


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
    named = _AUTHORITY.fullmatch(host)
    if named is None:
        return not host
    name = named[1].lower().strip("[]").rstrip(".")
    if _is_named(name, others):
        return True
    machine = socket.gethostname().lower()
    if name in ("localhost", machine, f"{machine.partition('.')[0]}.local") or name.endswith(".localhost"):
        return True
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _is_named(name: str, others: tuple[str, ...]) -> bool:
    return "*" in others or name in others


def is_this_machine(host: str) -> bool:
    """Whether an address is reached from this machine only."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == "localhost"


def is_own_page(origin: str, *, host: str, scheme: str, others: tuple[str, ...] = ()) -> bool:
    """Whether a page of some origin is one of ours.

    Parameters
    ----------
    origin : str
        As sent.
    host : str
        The Host header, which names this machine.
    scheme : {"http", "https"}
        Of the request as it was seen, or as a proxy on this machine says it was.
    others : tuple of str
        Names given in the settings; a proxy that speaks https may stand before them.

    Returns
    -------
    bool
        True where scheme, name and port are the request's own.

    Examples
    --------
    >>> is_own_page("http://localhost:8080", host="localhost:8080", scheme="http")
    True
    >>> is_own_page("https://localhost:8080", host="localhost:8080", scheme="http")
    False
    >>> is_own_page("https://strip.example", host="strip.example", scheme="http", others=("strip.example",))
    True
    """
    of, _, authority = origin.lower().partition("://")
    here, there = (_AUTHORITY.fullmatch(text.lower()) for text in (host, authority))
    if of not in PORTS or here is None or there is None:
        return False
    ports = [int(found[2]) if found[2] else PORTS[of] for found in (here, there)]
    known = _is_named(here[1].strip("[]").rstrip("."), others)
    return here[1] == there[1] and ports[0] == ports[1] and (of == scheme or (of == "https" and known))


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

        begun = False

        async def send_marked(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in SAFE_HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        problem = self._objection(Headers(scope=scope), scope)
        app = self._app if problem is None else problem_response(Request(scope), problem)
        asked = scope
        if scope["method"] == "HEAD":  # answered as GET is; the server leaves the body out
            asked = {**scope, "method": "GET"}
        try:
            await app(asked, receive, send_marked)
        except asyncio.CancelledError:  # the server ends, and has waited long enough
            if begun:
                raise
            await problem_response(Request(scope), ENDING)(scope, receive, send_marked)
        finally:
            scope.update({key: asked[key] for key in ("route", "endpoint") if key in asked})

    def _objection(self, headers: Headers, scope: Scope) -> Problem | None:
        host = headers.get("host", "")
        if not is_own_name(host, others=self._hosts):
            detail = f"This service does not go by the name {host[:100]!r}; add it to PASSBAND_HOSTS if it should."
            return Problem(421, "Wrong host", detail)
        if "content-length" in headers and "transfer-encoding" in headers:
            return Problem(400, "Not HTTP", TWO_LENGTHS, headers={"Connection": "close"})
        if scope["method"] not in CHANGING:
            return None
        if _CONTROL.search(scope["path"]):  # a pattern's end matches before a line end too: none may stand in a path
            return not_found("page")
        origins = headers.getlist("origin")
        ours = all(is_own_page(page, host=host, scheme=scope["scheme"], others=self._hosts) for page in origins)
        if not ours or headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return Problem(403, "Foreign page", FOREIGN)
        return None
