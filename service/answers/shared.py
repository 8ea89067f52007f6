"""What all routes share: where the library is, how a body comes in, how an answer goes out.

Public: `Json`, `TheLibrary`, `TheSettings`, `TheUnits`, `TheBody`, `json_body`, `listed`, `attachment`.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

import orjson
from fastapi import Cookie, Depends, Request, Response

from passband.analysis.results.plain_values import JsonObject
from passband.service.http.bodies import steadily
from passband.service.http.errors import Problem
from passband.service.library import Library
from passband.service.settings import Settings
from passband.web.wording.units import UnitSystem, chosen_units, units_of_language


class Json(Response):
    """JSON by orjson: what is not finite becomes null."""

    media_type = "application/json"

    def __init__(self, content: Any, status_code: int = 200, headers: Mapping[str, str] | None = None) -> None:
        super().__init__(content, status_code, {"Cache-Control": "no-store", **(headers or {})})

    def render(self, content: Any) -> bytes:
        """The content as bytes; bytes are taken to be JSON already."""
        return content if isinstance(content, bytes) else orjson.dumps(content, option=orjson.OPT_SERIALIZE_NUMPY)


# None of these waits for anything. One that is no coroutine would be handed to a thread and back, each a wait for the
# interpreter where others compute: three of them were half of a short question's time under load.
async def _library(request: Request) -> Library:
    library: Library | None = getattr(request.state, "library", None)  # a team's own, where there are teams
    return library if library is not None else request.app.state.library


async def _settings(request: Request) -> Settings:
    settings: Settings = request.app.state.settings
    return settings


TheLibrary = Annotated[Library, Depends(_library)]
TheSettings = Annotated[Settings, Depends(_settings)]


async def _units(
    request: Request, units: str | None = None, cookie: Annotated[str | None, Cookie(alias="units")] = None
) -> UnitSystem:
    return chosen_units(units, cookie, units_of_language(request.headers.get("accept-language")))


TheUnits = Annotated[UnitSystem, Depends(_units)]
"""Units that a reader wants to see: the address's, else those remembered, else those of the browser's language."""


async def _body(request: Request, settings: TheSettings) -> JsonObject:
    kind = request.headers.get("content-type", "application/json").partition(";")[0].strip().lower()
    if not kind.endswith(("/json", "+json")):
        raise Problem(415, "Not JSON", "Send a JSON object, and say so: Content-Type: application/json.")
    body = bytearray()
    most_bytes, seconds = settings.json_bytes, settings.stall_seconds
    async for chunk in steadily(request, most_bytes=most_bytes, seconds=seconds, what="body"):
        body += chunk
    if not body:
        raise Problem(422, "Not usable", "The body is empty; send a JSON object, if only {}.")
    return json_body(bytes(body), what="body")


TheBody = Annotated[JsonObject, Depends(_body)]
"""A JSON object that was sent, under the limit."""


def json_body(sent: bytes, *, what: str) -> JsonObject:
    """A JSON object out of bytes.

    Parameters
    ----------
    sent : bytes
        As sent; nothing is an empty object.
    what : str
        What it is, for the sentence.

    Returns
    -------
    dict
        Plain values.

    Raises
    ------
    Problem
        422 if it is no JSON, or no object.
    """
    try:
        body = orjson.loads(sent or b"{}")
    except ValueError as error:
        raise Problem(422, "Not usable", f"The {what} is no sound JSON: {error}.") from None
    if not isinstance(body, dict):
        raise Problem(422, "Not usable", f"The {what} must be a JSON object, not a {type(body).__name__}.")
    return body


def listed(text: str, *, most: int, what: str) -> list[str]:
    """Names parted by commas, each once; one that holds a comma stands in double quotes, as in a CSV row.

    Parameters
    ----------
    text : str
        ``a,b,"Boost, target"``; blanks around are dropped.
    most : int
        How many may be named, blanks and repetitions counted.
    what : str
        What they are, for the sentence.

    Returns
    -------
    list of str
        In order; may be empty.

    Raises
    ------
    Problem
        422 if there are too many.
    """
    names = next(csv.reader([" ".join(text.splitlines())], skipinitialspace=True), [])
    if len(names) > most:
        raise Problem(422, "Not usable", f"{len(names)} {what} are too many at once; ask for {most} at the most.")
    return list(dict.fromkeys(name.strip() for name in names if name.strip()))


def attachment(name: str) -> dict[str, str]:
    """Headers that make a browser keep bytes as a file and never show them.

    Parameters
    ----------
    name : str
        File name, any characters.

    Returns
    -------
    dict
        Header and value.

    Examples
    --------
    >>> attachment("läuf.csv")["Content-Disposition"]
    "attachment; filename*=UTF-8''l%C3%A4uf.csv"
    """
    return {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}", "Cache-Control": "no-store"}
