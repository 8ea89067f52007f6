"""What lies in the trash, as pages are given it.

Public: `TrashShown`, `TrashedRun`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TrashedRun:
    """A run that comes back with its entry."""

    label: str
    """The user's name for it; may be empty."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""


@dataclass(frozen=True, slots=True)
class TrashShown:
    """One entry."""

    id: str
    """Its id."""
    at: str
    """When it was put there, ISO 8601, UTC; empty where nobody knows."""
    why: str
    """A sentence."""
    runs: tuple[TrashedRun, ...]
    """Those that come back with it."""
    logs: tuple[str, ...]
    """Names of its files."""

    @property
    def restorable(self) -> bool:
        """Whether a run comes back with it."""
        return bool(self.runs)
