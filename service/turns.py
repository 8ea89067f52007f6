"""Work on the same thing, one after another.

Public: `Turns`.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager


class Turns:
    """One at a time for each key: the same logs sent twice at once are reviewed once."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._taken: set[str] = set()

    @contextmanager
    def of(self, key: str) -> Iterator[None]:
        """Wait until nobody else works on a key, and hold it meanwhile."""
        with self._changed:
            self._changed.wait_for(lambda: key not in self._taken)
            self._taken.add(key)
        try:
            yield
        finally:
            with self._changed:
                self._taken.discard(key)
                self._changed.notify_all()
