"""Bytes read lately of a store elsewhere, so that what is looked at again need not be fetched again.

A copy stands for the bytes under a key that is their hash, and was held against it: it cannot grow old. What happens to
the object meanwhile is seen by whoever looks at the store itself, as a recheck does.

Public: `ReadLately`, `READ_LATELY`.
"""

from __future__ import annotations

import threading
from collections import OrderedDict


class ReadLately:
    """Copies of what was read, those least lately asked for forgotten first.

    Parameters
    ----------
    most_bytes : int
        Of all together.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most, self._bytes, self._lock = most_bytes, 0, threading.Lock()
        self._kept: OrderedDict[str, bytes] = OrderedDict()

    def get(self, name: str) -> bytes | None:
        """What was read under a name; None where nothing is kept of it."""
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
            return self._kept.get(name)

    def put(self, name: str, body: bytes) -> None:
        """Keep what was read, if it is not too much."""
        if len(body) > self._most:
            return
        with self._lock:
            self._drop(name)
            self._kept[name] = body
            self._bytes += len(body)
            while self._bytes > self._most:
                self._drop(next(iter(self._kept)))

    def forget(self, name: str) -> None:
        """Keep nothing under a name."""
        with self._lock:
            self._drop(name)

    def _drop(self, name: str) -> None:
        self._bytes -= len(self._kept.pop(name, b""))


READ_LATELY = ReadLately(64 * 1024 * 1024)
"""Of the whole process, however many libraries it has open: two hundred tables of usual runs (0.31 MB each, measured on
the demo weekend)."""
