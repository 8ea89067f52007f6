"""A change said of many runs at once, as a page shows it.

Public: `PutRightShown`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PutRightShown:
    """What was said of many runs, and can be taken back."""

    id: str
    made_at: str
    """When; ISO 8601, UTC."""
    said: str
    """What: ``car Heron, event Harvest Meet``."""
    runs: int
    """Of how many runs."""
    so: int
    """How many of them say so now."""
