"""A question's keys: one that a route does not know is refused, so that a misspelt filter is not taken for none.

Public: `known_keys`.
"""

from __future__ import annotations

from collections.abc import Iterator

from fastapi import Request
from fastapi.dependencies.models import Dependant

from passband.service.http.errors import Problem


async def known_keys(request: Request) -> None:
    """Refuse a question with a key that its route does not take; a route that takes none passes all over.

    Raises
    ------
    Problem
        422, naming the keys there are.
    """
    if not request.query_params:
        return
    keys = list(dict.fromkeys(_asked(request.scope["route"].dependant)))
    unknown = [key for key in request.query_params if keys and key not in keys]
    if unknown:
        text = f"{unknown[0]!r} is no key of this question; the keys are {', '.join(keys)}."
        raise Problem(422, "Not usable", text)


def _asked(dependant: Dependant) -> Iterator[str]:
    """Keys that a route or one of its dependencies asks for."""
    yield from (one.alias for one in dependant.query_params)
    for more in dependant.dependencies:
        yield from _asked(more)
