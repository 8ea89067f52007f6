"""The table of widths, made by `python -m tests.benchmarks.calibrate --write`; not written by hand.

By class: the factor, and the cases and answers that it was found from.

Public: `CALIBRATED`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

from passband.analysis.widths.calibrated import Widths

MADE_OF = (
    "seed 1000 (51 cases), 1001 (14), gps_alone:1100..1113; 79 cases; engine-speed rows and clocks taken out since"
)
"""Seeds, kinds and settings."""
ROWS: Mapping[str, tuple[float, int, int]] = {
    "average_pulling_w": (1.07, 78, 158),
    "average_pulling_w/quick": (1.07, 47, 93),
    "average_w": (1.1, 78, 158),
    "average_w/quick": (1.1, 47, 93),
    "average_wheel_w": (1.0, 78, 158),
    "average_wheel_w/quick": (1.0, 47, 93),
    "clock_start": (1.1, 79, 160),
    "clock_start/no slip": (1.26, 79, 81),
    "clock_start/no slip/undriven wheel": (1.1, 48, 49),
    "clock_start/no slip/undriven wheel/felt": (1.0, 47, 48),
    "clock_start/slip": (1.01, 77, 79),
    "clock_start/slip/undriven wheel": (1.0, 47, 48),
    "clock_start/slip/undriven wheel/felt": (1.0, 46, 47),
    "peak_w": (1.0, 78, 158),
    "peak_w/quick": (1.06, 47, 93),
    "rpm_lowest": (1.04, 79, 160),
    "rpm_lowest/quick": (1.0, 47, 93),
    "splits": (1.17, 79, 778),
    "splits/no slip": (1.29, 79, 391),
    "splits/no slip/undriven wheel": (1.34, 48, 234),
    "splits/no slip/undriven wheel/felt": (1.17, 47, 229),
    "splits/slip": (1.0, 77, 387),
    "splits/slip/undriven wheel": (1.0, 47, 232),
    "splits/slip/undriven wheel/felt": (1.0, 46, 227),
    "traps": (1.0, 77, 308),
    "traps/no slip": (1.06, 77, 154),
    "traps/no slip/undriven wheel": (1.06, 47, 92),
    "traps/no slip/undriven wheel/felt": (1.0, 46, 90),
    "traps/slip": (1.0, 77, 154),
    "traps/slip/undriven wheel": (1.0, 47, 92),
    "traps/slip/undriven wheel/felt": (1.0, 46, 90),
}
"""Class: factor, cases, answers."""

CALIBRATED = Widths(MADE_OF, {name: row[0] for name, row in ROWS.items()})
"""What reviews are made with."""
