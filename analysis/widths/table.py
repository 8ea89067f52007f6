"""The table of widths, made by `python -m tests.benchmarks.calibrate --write`; not written by hand.

Of one figure's rules the first that holds counts. A rule says: of this figure, where the run shows this (`Seen`), the
factor; and the cases and answers that it was found from.

Public: `CALIBRATED`, `MADE_OF`.
"""

from __future__ import annotations

from passband.analysis.widths.calibrated import Widths
from passband.analysis.widths.rules import rule

MADE_OF = (
    "seeds "
    "1000..1004, "
    "gps_alone:1100..1139, "
    "wheels_alone:1100..1139, "
    "ecu_only:1100..1139, "
    "engine_alone:1100..1139, "
    "slow_receiver:1100..1119, "
    "dual_clutch:1100..1119, "
    "732 "
    "cases "
).strip()  # fmt: skip
"""Seeds, kinds and settings."""

CALIBRATED = Widths(MADE_OF, (
    rule("clock_start", ("slip is given", "basis is gps"), 1.18, 200, 200),
    rule("clock_start", ("slip is given", "basis is undriven wheel"), 1.04, 418, 418),
    rule("clock_start", ("slip is none", "basis is driven wheel"), 1.19, 55, 55),
    rule("clock_start", ("slip is none", "basis is engine speed"), 1.0, 47, 47),
    rule("clock_start", ("slip is none", "basis is gps", "pull_mps2 below 11"), 1.0, 89, 89),
    rule("clock_start", ("slip is none", "basis is gps", "pull_mps2 from 11"), 1.36, 51, 51),
    rule("clock_start", ("slip is none", "basis is undriven wheel"), 1.09, 427, 429),
    rule("clock_start", (), 1.1, 732, 1405),
    rule("splits", ("slip is given", "basis is gps"), 0.81, 200, 996),
    rule("splits", ("slip is given", "basis is undriven wheel"), 0.81, 418, 2034),
    rule("splits", ("slip is none", "basis is driven wheel"), 1.0, 55, 275),
    rule("splits", ("slip is none", "basis is engine speed"), 1.0, 47, 235),
    rule("splits", ("slip is none", "basis is gps"), 1.41, 203, 1002),
    rule("splits", ("slip is none", "basis is undriven wheel"), 1.42, 427, 2073),
    rule("splits", (), 1.04, 732, 6880),
    rule("traps", ("slip is given", "basis is gps"), 0.85, 200, 398),
    rule("traps", ("slip is given", "basis is undriven wheel"), 0.81, 413, 803),
    rule("traps", ("slip is none", "basis is driven wheel"), 1.0, 55, 110),
    rule("traps", ("slip is none", "basis is engine speed"), 1.0, 47, 94),
    rule("traps", ("slip is none", "basis is gps"), 1.79, 200, 398),
    rule("traps", ("slip is none", "basis is undriven wheel"), 1.05, 420, 816),
    rule("traps", (), 1.05, 722, 2725),
    rule("rpm_at_launch", ("drive is clutch",), 1.15, 654, 1249),
    rule("rpm_at_launch", ("drive is converter",), 1.1, 73, 146),
    rule("rpm_at_launch", (), 1.13, 727, 1395),
    rule("rpm_lowest", ("drive is clutch",), 1.0, 603, 1147),
    rule("rpm_lowest", ("drive is converter",), 2.64, 53, 106),
    rule("rpm_lowest", (), 1.01, 656, 1253),
    rule("shift_start", ("drive is clutch",), 1.31, 644, 4368),
    rule("shift_start", ("drive is converter",), 1.22, 73, 394),
    rule("shift_start", (), 1.29, 717, 4762),
    rule("rpm_before", ("drive is clutch",), 1.37, 644, 4368),
    rule("rpm_before", ("drive is converter",), 1.06, 73, 394),
    rule("rpm_before", (), 1.34, 717, 4762),
    rule("rpm_after", ("drive is clutch",), 1.01, 639, 4334),
    rule("rpm_after", ("drive is converter",), 1.0, 73, 394),
    rule("rpm_after", (), 1.0, 712, 4728),
    rule("rpm_drop", ("drive is clutch",), 1.0, 639, 4334),
    rule("rpm_drop", ("drive is converter",), 1.0, 73, 394),
    rule("rpm_drop", (), 1.0, 712, 4728),
    rule("average_w", ("slip is given", "basis is gps"), 1.21, 197, 197),
    rule("average_w", ("slip is given", "basis is undriven wheel"), 1.07, 411, 411),
    rule("average_w", ("slip is none", "basis is driven wheel"), 1.21, 55, 55),
    rule("average_w", ("slip is none", "basis is engine speed"), 1.0, 47, 47),
    rule("average_w", ("slip is none", "basis is gps"), 1.23, 200, 200),
    rule("average_w", ("slip is none", "basis is undriven wheel"), 1.06, 420, 422),
    rule("average_w", (), 1.08, 722, 1385),
    rule("average_pulling_w", ("slip is given", "basis is gps"), 1.19, 197, 197),
    rule("average_pulling_w", ("slip is given", "basis is undriven wheel"), 1.05, 411, 411),
    rule("average_pulling_w", ("slip is none", "basis is driven wheel"), 1.64, 55, 55),
    rule("average_pulling_w", ("slip is none", "basis is engine speed"), 1.0, 47, 47),
    rule("average_pulling_w", ("slip is none", "basis is gps"), 1.24, 200, 200),
    rule("average_pulling_w", ("slip is none", "basis is undriven wheel"), 1.07, 420, 422),
    rule("average_pulling_w", (), 1.21, 722, 1385),
    rule("average_wheel_w", ("slip is given", "basis is gps"), 1.14, 197, 197),
    rule("average_wheel_w", ("slip is given", "basis is undriven wheel"), 1.0, 416, 416),
    rule("average_wheel_w", ("slip is none", "basis is driven wheel"), 1.0, 55, 55),
    rule("average_wheel_w", ("slip is none", "basis is engine speed"), 1.0, 47, 47),
    rule("average_wheel_w", ("slip is none", "basis is gps"), 1.12, 200, 200),
    rule("average_wheel_w", ("slip is none", "basis is undriven wheel"), 1.0, 425, 427),
    rule("average_wheel_w", (), 1.0, 727, 1395),
    rule("peak_w", ("slip is given", "basis is gps"), 1.0, 197, 197),
    rule("peak_w", ("slip is given", "basis is undriven wheel"), 1.0, 411, 411),
    rule("peak_w", ("slip is none", "basis is driven wheel"), 1.05, 55, 55),
    rule("peak_w", ("slip is none", "basis is engine speed"), 1.1, 47, 47),
    rule("peak_w", ("slip is none", "basis is gps"), 1.0, 200, 200),
    rule("peak_w", ("slip is none", "basis is undriven wheel"), 1.0, 420, 420),
    rule("peak_w", (), 1.0, 722, 1383),
    rule("clock_offset", (), 1.0, 624, 1238),
    rule("clock_rate", (), 0.99, 624, 1238),
))  # fmt: skip
"""What reviews are made with."""
