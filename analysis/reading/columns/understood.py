"""The columns of a recording as far as they are understood: which channel each is, and how its values become SI.

Public: `Understood`, `Columns`, `AS_WRITTEN`, `own_name`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.quantities import Conversion, FloatArray
from passband.analysis.reading.text.header import Header
from passband.analysis.results.findings import Finding

AS_WRITTEN = Conversion(1.0, 0.0, "")


@dataclass(frozen=True, slots=True)
class Understood:
    """One column, understood."""

    channel: str
    """Catalogue name, the user's own, or the header where nothing is known."""
    unit: str
    """The unit the values are kept in."""
    unit_written: str
    """As the log writes it; empty where nowhere."""
    conversion: Conversion
    """From the values as written."""
    confidence: float
    """0..1."""
    findings: tuple[Finding, ...] = ()
    """What was assumed."""
    unit_guessed: str | None = None
    """The unit that its values were read in because none is written; empty for a share of 1. None where one is
    written, or the name tells it."""
    asked_with: tuple[Finding, ...] = ()
    """Findings that stand on another column and are about this one as well."""


@dataclass(frozen=True, slots=True)
class Columns:
    """The columns of a recording that hold numbers and no time, by their places in the file."""

    understood: Mapping[int, Understood]
    """What each is taken for so far."""
    header: Header
    """Names and units of all columns."""
    samples: Mapping[int, FloatArray]
    """Finite values of each, as written, thinned."""
    given: Mapping[int, str]
    """What the user said a column is; that stands."""

    def with_read(self, understood: Mapping[int, Understood]) -> Columns:
        """The same with some columns taken for something else."""
        return replace(self, understood={**self.understood, **understood})


def own_name(header: str) -> str:
    """The name of a column that is no channel of the catalogue: its header, kept apart from the catalogue's names.

    Examples
    --------
    >>> own_name("Nitrous Bottle"), own_name("throttle")
    ('Nitrous Bottle', 'throttle (as logged)')
    """
    return header if kind_of(header) is None else f"{header} (as logged)"
