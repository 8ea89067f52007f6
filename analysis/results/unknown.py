"""What is not known, and why: it stands where the figure or part would, so that nobody has to look elsewhere.

Public: `Unknown`, `HasFindings`, `known`, `gather`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from passband.analysis.results.findings import Finding, by_weight

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Unknown:
    """A part of a review that could not be made out. In JSON it is null, its reason under ``unknown``."""

    reason: Finding
    """What is missing, and what to do."""
    beside: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What else was found in trying; gathered by the review."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The reason is a finding like any other, after what led to it."""
        return (*self.beside, self.reason)


class HasFindings(Protocol):
    """A result that owns what must be known of it."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was mended, chosen or doubted in making it."""


def known(part: T | Unknown) -> T | None:
    """The part itself; None where it is unknown.

    Parameters
    ----------
    part : a result or Unknown
        Any.

    Examples
    --------
    >>> known(3.0), known(Unknown(Finding("no-ground-speed", "stop", "Nothing shows it.")))
    (3.0, None)
    """
    return None if isinstance(part, Unknown) else part


def gather(parts: Iterable[HasFindings]) -> tuple[Finding, ...]:
    """All findings of some results, weightiest first, each once.

    Parameters
    ----------
    parts : iterable of results
        In the order of the run.

    Returns
    -------
    tuple of Finding
        Stop, then caution, then note; the parts' order within each.
    """
    return tuple(by_weight([finding for part in parts for finding in part.findings]))
