"""Two groups of runs about a change, as pages are given them.

Public: `GroupsShown`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class GroupsShown:
    """Runs before a change and after it, by a name."""

    id: str
    """Its id."""
    name: str
    """As given."""
    before: tuple[str, ...]
    """Ids of the runs before it."""
    after: tuple[str, ...]
    """Ids of those after it."""
    notes: str = ""
    """The crew's own words; may be empty."""
