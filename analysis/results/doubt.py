"""What a log does not tell of a column: what it was taken for, why that may be wrong, what else it may be.

Public: `Doubt`, `ColumnOffered`, `sentences`, `AS_LOGGED`, `IGNORE`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace

from passband.analysis.results.findings import Finding

AS_LOGGED = "as logged"
"""What a user says of a column that is to stay under its own header, as no channel of the catalogue."""
IGNORE = "ignore"
"""What a user says of a column that is to be left out."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One column that the reader cannot be sure of, to be asked of whoever knows the car."""

    layout: str
    """Fingerprint of the log's header: an answer holds wherever the same names stand with the same units."""
    column: str
    """The header as it stands in the file."""
    taken_for: str
    """Catalogue name of the channel it was taken for, or ``as logged`` where none was."""
    unit: str
    """The unit its values were read in, empty where none is known."""
    why: str
    """What was found, in whole sentences."""
    channels: tuple[str, ...]
    """What it may be, what it was taken for first; leaving it out is always possible and does not stand here."""
    units: tuple[str, ...]
    """The units that its values may be in, that in which they were read first; empty where it has none."""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What was found, one by one, as long as the log is at hand."""
    least: float | None = None
    """Its least value as the file writes it, in `unit`; None where it holds none, or an earlier version asked."""
    greatest: float | None = None
    """Its greatest; None where there is no least."""

    def without(self, codes: Collection[str]) -> Doubt | None:
        """The same without findings of some codes, which something else settles; None where no other is left."""
        left = tuple(one for one in self.findings if one.code not in codes)
        if left == self.findings:
            return self
        return replace(self, why=sentences(left), findings=left) if left else None


@dataclass(frozen=True, slots=True)
class ColumnOffered:
    """One column of a log without engine speed, which may be it: offered to whoever knows the car."""

    log: str
    """Name of the file."""
    layout: str
    """Fingerprint of the log's header, under which the answer is kept."""
    column: str
    """The header as it stands in the file."""
    likely: bool
    """Whether its values go as an engine's speed does."""
    unit: str
    """Unit of its values as read, empty where none is known."""
    least: float
    """Its least value as the file writes it, in `unit`."""
    greatest: float
    """Its greatest."""


def sentences(findings: Collection[Finding]) -> str:
    """What findings say, one after another.

    Parameters
    ----------
    findings : collection of Finding
        In order.
    """
    return " ".join(one.text for one in findings)
