"""How far a review is, told while it is made; and the word to stop.

Public: `Progress`, `Stage`, `Cancelled`, `unheard`, `STAGES`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass

STAGES = ("reading", "clocks", "window", "speed", "gears", "power", "keeping")
"""What an upload goes through; those between are of `analysis.review.STAGES`."""


class Cancelled(Exception):
    """Whoever asked for the review wants it no longer."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage that begins."""

    key: str
    """One of `STAGES`."""
    what: str = ""
    """The file that is read."""


class Progress:
    """Passes stages on to who wants to hear them, and stops the work when it is told to.

    Parameters
    ----------
    hear : callable
        Called with each `Stage`, in the thread or process that works.
    """

    def __init__(self, hear: Callable[[Stage], None]) -> None:
        self._hear = hear
        self._stopped = threading.Event()
        self._past_reading = threading.Event()

    @property
    def past_reading(self) -> threading.Event:
        """Set once a stage behind the reading has begun."""
        return self._past_reading

    def cancel(self) -> None:
        """Let the work end at its next stage, or sooner."""
        self._stopped.set()

    def check(self) -> None:
        """Go on, or raise `Cancelled`."""
        if self._stopped.is_set():
            raise Cancelled

    def tell(self, key: str, what: str = "") -> None:
        """Tell a stage that begins; `Cancelled` if it need not."""
        self.check()
        if key != STAGES[0]:
            self._past_reading.set()
        self._hear(Stage(key, what))


def unheard() -> Progress:
    """Progress that nobody hears and nobody stops."""
    return Progress(lambda stage: None)
