"""Work on the same thing, one after another.

Public: `Turns`, `Writing`, `FILES`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from types import TracebackType

FILES = "files"
"""What is held, against other processes too, while files and the rows that name them are brought into agreement."""


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


class Writing:
    """One writer of a library at a time, also among processes; whoever is may begin again within.

    Parameters
    ----------
    hold : callable
        Holds a name against other processes, see `Records.turn`.
    """

    def __init__(self, hold: Callable[[str], AbstractContextManager[None]]) -> None:
        self.here = threading.RLock()
        """Held by who writes, against other threads; enough for who only reads."""
        self._hold, self._depth = hold, 0
        self._held = ExitStack()

    def __enter__(self) -> None:
        with ExitStack() as undone:
            undone.enter_context(self.here)
            if self._depth == 0:
                self._held.enter_context(self._hold(FILES))
            self._depth += 1
            undone.pop_all()

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            self._depth -= 1
            if self._depth == 0:
                self._held.__exit__(kind, error, trace)
        finally:
            self.here.release()
