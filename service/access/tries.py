"""How often something was tried within a time: counted in the database that several services share, else here.

Public: `Allowed`, `TooManyTries`, `Tries`, `TriesHere`, `SharedTries`, `tries_of`.
"""

from __future__ import annotations

import hashlib
import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from limits import RateLimitItem, RateLimitItemPerSecond
from limits.storage import MemoryStorage
from limits.strategies import MovingWindowRateLimiter

from passband.service.access.records import AccessRecords

SET_BACK_S = 5.0
"""A clock that is disciplined slows down and does not step back so far. Common practice, no source. [s]"""


@dataclass(frozen=True, slots=True)
class Allowed:
    """How often within what time."""

    what: str
    """A word for it: each is counted apart."""
    most: int
    """So many are let through."""
    within_s: int
    """Within any so long. [s]"""


class TooManyTries(Exception):
    """Too many passwords were tried.

    Parameters
    ----------
    wait_s : int
        Another may be tried after so long. [s]
    """

    def __init__(self, wait_s: int) -> None:
        super().__init__(f"Too many tries; wait {wait_s} s.")
        self.wait_s = wait_s


class Tries(Protocol):
    """What counts."""

    def hit(self, allowed: Allowed, *of: str) -> int:
        """Count one more of somebody, if it may be: 0, or how long is to be waited first. [s]."""

    def forget(self, allowed: Allowed, *of: str) -> None:
        """As if somebody had never tried."""


class TriesHere:
    """Counted in this process, which has the teams to itself."""

    def __init__(self) -> None:
        self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._ahead_s = time.time() - time.monotonic()

    def hit(self, allowed: Allowed, *of: str) -> int:
        """Count one more."""
        self._see_clock()
        item = _item(allowed)
        if self._limiter.hit(item, allowed.what, *of):
            return 0
        left_s = self._limiter.get_window_stats(item, allowed.what, *of).reset_time - time.time()
        return max(1, math.ceil(left_s))

    def _see_clock(self) -> None:
        """Begin anew where the clock was set back: what was counted would stand until it is as late again."""
        ahead_s = time.time() - time.monotonic()
        if ahead_s < self._ahead_s - SET_BACK_S:
            self._limiter = MovingWindowRateLimiter(MemoryStorage())
        self._ahead_s = ahead_s

    def forget(self, allowed: Allowed, *of: str) -> None:
        """Count from nothing."""
        self._limiter.clear(_item(allowed), allowed.what, *of)


class SharedTries:
    """Counted in the database: whoever is turned away by one service is by all of them.

    Parameters
    ----------
    records : AccessRecords
        On a server.
    clock : callable
        Seconds since 1970.
    """

    def __init__(self, records: AccessRecords, clock: Callable[[], float]) -> None:
        self._records, self._clock = records, clock

    def hit(self, allowed: Allowed, *of: str) -> int:
        """Count one more."""
        now_ms, within_ms = int(1000 * self._clock()), 1000 * allowed.within_s
        wait_ms = self._records.count_try(_key(allowed, of), most=allowed.most, within_ms=within_ms, now_ms=now_ms)
        return math.ceil(wait_ms / 1000)

    def forget(self, allowed: Allowed, *of: str) -> None:
        """Count from nothing."""
        self._records.forget_tries(_key(allowed, of))


def tries_of(records: AccessRecords, clock: Callable[[], float]) -> Tries:
    """What counts for the services that have these records."""
    return SharedTries(records, clock) if records.are_shared else TriesHere()


def _item(allowed: Allowed) -> RateLimitItem:
    return RateLimitItemPerSecond(allowed.most, allowed.within_s)


def _key(allowed: Allowed, of: tuple[str, ...]) -> str:
    """Of fixed length, and neither name nor address stands in it."""
    return hashlib.sha256("\0".join((allowed.what, *of)).encode("utf-8", "surrogatepass")).hexdigest()
