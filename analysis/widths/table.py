"""The table of widths, made by `python -m tests.benchmarks.calibrate --write`; not written by hand.

By class: the factor, and the cases and answers that it was found from.

Public: `CALIBRATED`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

from passband.analysis.widths.calibrated import Widths

MADE_OF = "nothing"
"""Seeds, kinds and settings."""
ROWS: Mapping[str, tuple[float, int, int]] = {}
"""Class: factor, cases, answers."""

CALIBRATED = Widths(MADE_OF, {name: row[0] for name, row in ROWS.items()})
"""What reviews are made with."""
