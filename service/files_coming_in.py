"""Files of an upload written and hashed beside the receiving, in a thread of their own, in order.

Whoever receives has its hands full with taking bytes off the line: writing them and taking their hash as they come
costs it nothing where another core is free, and the hash is there with the last byte.

Public: `FilesComingIn`, `WAITING_BYTES`.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import BinaryIO

WAITING_BYTES = 4 * 1024 * 1024
"""So much may have come in and not be written yet: a disk that is slower than the line slows the line. [B]"""


class FilesComingIn:
    """Takes one file after the other, in pieces; `close` it at the end, whatever came of it."""

    def __init__(self) -> None:
        self._beside = ThreadPoolExecutor(1, thread_name_prefix="coming-in")
        self._under_way: deque[tuple[Future[None] | Future[str], int]] = deque()
        self._waiting_bytes = 0
        self._file: BinaryIO | None = None
        self._hash = hashlib.sha256()

    def begin(self, path: Path) -> None:
        """Begin a file, which must not be there."""
        self._note(self._beside.submit(self._begin, path), 0)

    def add(self, data: bytes | memoryview) -> None:
        """More of it; nobody may change the bytes behind it."""
        self._note(self._beside.submit(self._add, data), len(data))

    def end(self) -> Future[str]:
        """No more of it: its SHA-256, in hexadecimal, once all of it is written."""
        ended = self._beside.submit(self._end)
        self._note(ended, 0)
        return ended

    async def keep_up(self, *, most_bytes: int = WAITING_BYTES) -> None:
        """Wait until no more than so much is still to be written; raises what stood in the way of it."""
        while self._under_way and (self._waiting_bytes > most_bytes or self._under_way[0][0].done()):
            one, size = self._under_way.popleft()
            self._waiting_bytes -= size
            if one.done():
                one.result()
            else:
                await asyncio.wrap_future(one)

    async def all_in(self) -> None:
        """Wait until all is written; raises what stood in the way of it."""
        await self.keep_up(most_bytes=-1)

    def close(self) -> None:
        """Write nothing more; afterwards nothing touches the files."""
        self._beside.shutdown(cancel_futures=True)
        if self._file is not None:
            self._file.close()

    def _note(self, one: Future[None] | Future[str], size: int) -> None:
        self._under_way.append((one, size))
        self._waiting_bytes += size

    def _begin(self, path: Path) -> None:
        self._file, self._hash = path.open("xb", buffering=0), hashlib.sha256()

    def _add(self, data: bytes | memoryview) -> None:
        if self._file is None:
            raise ValueError("no file was begun")
        left = memoryview(data)
        while left:
            left = left[self._file.write(left) :]
        self._hash.update(data)

    def _end(self) -> str:
        if self._file is not None:
            self._file.close()
            self._file = None
        return self._hash.hexdigest()
