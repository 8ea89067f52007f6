"""Passwords hashed by argon2, a few at a time: each takes 64 MiB and a tenth of a second of all cores.

Whoever sends many at once, from however many addresses, gets no more memory by it, and no more of the threads that
answer everything else: beyond those that wait, the rest are told to come again.

Public: `Passwords`.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError, VerifyMismatchError

from passband.service.access.tries import TooManyTries

AT_ONCE = 2
"""Passwords hashed at once: 128 MiB. 60 log-ins at once without a bound took 2.5 GB and held up `/health` for 31 s."""
MOST_WAITING = 20
"""So many wait for their turn, two seconds at most; each holds one of the 40 threads that answer questions."""
COME_AGAIN_S = 2
"""How long whoever finds no place is to wait. [s]"""
MOST_LOOKED_AT = 1024
"""Letters of a password that are looked at."""


class Passwords:
    """Hashes passwords and holds them against hashes."""

    def __init__(self) -> None:
        self._hasher = PasswordHasher()
        self._turns, self._places = threading.Semaphore(AT_ONCE), threading.Semaphore(AT_ONCE + MOST_WAITING)
        self.of_nobody = self._hasher.hash(secrets.token_urlsafe(16))
        """What nobody's password has: held against it, an unknown name takes as long as a wrong password."""

    def hash(self, password: str) -> str:
        """What is kept of a password; `TooManyTries` if too many wait already."""
        with self._turn():
            return self._hasher.hash(password)

    def match(self, kept: str, password: str) -> bool:
        """Whether a hash is of this password; `TooManyTries` if too many wait already."""
        with self._turn():
            try:
                return self._hasher.verify(kept, password[:MOST_LOOKED_AT])
            except (VerifyMismatchError, VerificationError, InvalidHashError):
                return False

    def are_old(self, kept: str) -> bool:
        """Whether a hash was made at less cost than is asked for by now."""
        return self._hasher.check_needs_rehash(kept)

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if not self._places.acquire(blocking=False):
            raise TooManyTries(COME_AGAIN_S)
        try:
            with self._turns:
                yield
        finally:
            self._places.release()
