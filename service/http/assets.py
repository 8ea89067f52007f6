"""Files of the page: those asked for by their stamp are kept by a browser for a year, others asked about each time.

Public: `PageFiles`.
"""

from __future__ import annotations

import os
from pathlib import Path

from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

from passband.web.assets import STAMP, STATIC

FOR_A_YEAR = "public, max-age=31536000, immutable"
ASK_EACH_TIME = "no-cache"


class PageFiles(StaticFiles):
    """`STATIC`, by plain names and by the stamp."""

    def __init__(self) -> None:
        super().__init__(directory=STATIC)

    def get_path(self, scope: Scope) -> str:
        """The file's name, the stamp left out."""
        path = Path(super().get_path(scope))
        return os.path.join(*path.parts[1:]) if path.parts[:1] == (STAMP,) and path.parts[1:] else str(path)

    async def get_response(self, path: str, scope: Scope) -> Response:
        """The file, and how long it holds."""
        response = await super().get_response(path, scope)
        by_stamp = f"/{STAMP}/" in scope["path"]
        response.headers["Cache-Control"] = FOR_A_YEAR if by_stamp else ASK_EACH_TIME
        return response
