"""Files as they come in: written and hashed beside the receiving, in the order of their pieces.

Public: `FileComing`.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path

HERE_BYTES = 1024 * 1024
"""The beginning of a file is written where it comes in: handing over costs more than it wins for a usual log."""
AHEAD = 3
"""Pieces that may wait to be written: of 1 MiB each at the most, as the line gives them amid a long body."""


class FileComing:
    """One file on its way to disk.

    Parameters
    ----------
    path : Path
        Where; it must not be there.
    """

    def __init__(self, path: Path) -> None:
        self.path, self.bytes = path, 0
        self._file, self._hash = path.open("xb"), hashlib.sha256()
        self._beside: ThreadPoolExecutor | None = None
        self._waiting: deque[Future[None]] = deque()

    def take(self, piece: bytes) -> None:
        """The next piece; `OSError` if one before could not be written."""
        self.bytes += len(piece)
        if self._beside is None and self.bytes <= HERE_BYTES:
            self._put(piece)
            return
        if self._beside is None:
            self._beside = ThreadPoolExecutor(1, thread_name_prefix="coming")
        self._waiting.append(self._beside.submit(self._put, piece))

    async def keep_up(self, most: int = AHEAD) -> None:
        """Wait until no more than so many pieces wait."""
        while len(self._waiting) > most:
            await asyncio.wrap_future(self._waiting.popleft())

    async def end(self) -> str:
        """All of it is written: its SHA-256, in hexadecimal."""
        await self.keep_up(0)
        self.close()
        return self._hash.hexdigest()

    def close(self) -> None:
        """Write no more of it."""
        if self._beside is not None:
            self._beside.shutdown(cancel_futures=True)
        self._file.close()

    def _put(self, piece: bytes) -> None:
        self._file.write(piece)
        self._hash.update(piece)
