"""A row of the catalogue of findings.

Public: `Entry`, and which levels a kind of finding may have: `NOTE`, `CAUTION`, `STOP`, `EITHER`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.results.findings import Level


@dataclass(frozen=True, slots=True)
class Entry:
    """One kind of finding."""

    code: str
    """Short name, kebab-case; never changed once released, since programs may look for it."""
    levels: frozenset[Level]
    """How weighty it may be; which of two, the finding itself says."""
    meaning: str
    """What it says, in general."""
    to_do: str
    """What the reader can do about it."""


NOTE: frozenset[Level] = frozenset({"note"})
CAUTION: frozenset[Level] = frozenset({"caution"})
STOP: frozenset[Level] = frozenset({"stop"})
EITHER: frozenset[Level] = frozenset({"note", "caution"})
