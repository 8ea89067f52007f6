"""What was made last, so that what is looked at again costs little.

Public: `Remembered`.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from typing import Generic, TypeVar

T = TypeVar("T")


class Remembered(Generic[T]):
    """Things by their keys, the least lately asked for forgotten first; a new review has a new key.

    Parameters
    ----------
    most : int
        How many are kept.
    """

    def __init__(self, most: int) -> None:
        self._most, self._kept, self._lock = most, OrderedDict[object, T](), threading.Lock()

    def get(self, key: object) -> T | None:
        """What is kept under a key; None if there is nothing."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
            return self._kept.get(key)

    def put(self, key: object, made: T) -> T:
        """Keep something, and give it back."""
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made
