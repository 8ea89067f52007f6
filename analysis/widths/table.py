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
    "lone_driven_wheel:1100..1119, "
    "lone_driveshaft:1100..1119, "
    "engine_speed_alone:1100..1119, "
    "790 "
    "cases "
).strip()  # fmt: skip
"""Seeds, kinds and settings."""

CALIBRATED = Widths(MADE_OF, (
    rule("clock_start", ("slip is given", "basis is driven wheel"), 2.68, 71, 71),
    rule("clock_start", ("slip is given", "basis is engine speed"), 1.29, 42, 42),
    rule("clock_start", ("slip is given", "basis is gps"), 1.0, 200, 200),
    rule("clock_start", ("slip is given", "basis is undriven wheel"), 1.04, 418, 418),
    rule("clock_start", ("slip is none", "basis is driven wheel"), 1.3, 97, 97),
    rule("clock_start", ("slip is none", "basis is engine speed"), 1.0, 65, 65),
    rule("clock_start", ("slip is none", "basis is gps"), 1.02, 203, 203),
    rule("clock_start", ("slip is none", "basis is undriven wheel"), 1.01, 425, 425),
    rule("clock_start", (), 1.04, 790, 1521),
    rule("splits", ("slip is given", "basis is driven wheel"), 1.0, 71, 355),
    rule("splits", ("slip is given", "basis is engine speed"), 1.0, 42, 208),
    rule("splits", ("slip is given", "basis is gps"), 0.81, 200, 996),
    rule("splits", ("slip is given", "basis is undriven wheel"), 0.81, 418, 2034),
    rule("splits", ("slip is none", "basis is driven wheel"), 1.0, 97, 485),
    rule("splits", ("slip is none", "basis is engine speed"), 1.0, 65, 324),
    rule("splits", ("slip is none", "basis is gps"), 1.1, 203, 1002),
    rule("splits", ("slip is none", "basis is undriven wheel"), 1.27, 425, 2053),
    rule("splits", (), 1.0, 790, 7457),
    rule("traps", ("slip is given", "basis is driven wheel"), 1.0, 71, 142),
    rule("traps", ("slip is given", "basis is engine speed"), 1.0, 42, 82),
    rule("traps", ("slip is given", "basis is gps"), 0.85, 200, 398),
    rule("traps", ("slip is given", "basis is undriven wheel"), 0.81, 413, 803),
    rule("traps", ("slip is none", "basis is driven wheel"), 1.0, 97, 194),
    rule("traps", ("slip is none", "basis is engine speed"), 1.0, 65, 129),
    rule("traps", ("slip is none", "basis is gps"), 1.21, 200, 398),
    rule("traps", ("slip is none", "basis is undriven wheel"), 0.97, 418, 808),
    rule("traps", (), 1.0, 780, 2954),
    rule("rpm_at_launch", ("drive is clutch",), 1.09, 712, 1365),
    rule("rpm_at_launch", ("drive is converter",), 1.0, 73, 146),
    rule("rpm_at_launch", (), 1.07, 785, 1511),
    rule("rpm_lowest", ("drive is clutch",), 1.0, 661, 1263),
    rule("rpm_lowest", ("drive is converter",), 1.48, 53, 106),
    rule("rpm_lowest", (), 1.06, 714, 1369),
    rule("shift_start", ("drive is clutch",), 1.18, 702, 4802),
    rule("shift_start", ("drive is converter",), 1.15, 73, 394),
    rule("shift_start", (), 1.17, 775, 5196),
    rule("rpm_before", ("drive is clutch",), 1.23, 702, 4802),
    rule("rpm_before", ("drive is converter",), 1.05, 73, 394),
    rule("rpm_before", (), 1.23, 775, 5196),
    rule("rpm_after", ("drive is clutch",), 1.0, 697, 4768),
    rule("rpm_after", ("drive is converter",), 1.0, 73, 394),
    rule("rpm_after", (), 1.0, 770, 5162),
    rule("rpm_drop", ("drive is clutch",), 1.0, 697, 4768),
    rule("rpm_drop", ("drive is converter",), 1.0, 73, 394),
    rule("rpm_drop", (), 1.0, 770, 5162),
    rule("average_w", ("slip is given", "basis is driven wheel"), 1.29, 70, 70),
    rule("average_w", ("slip is given", "basis is engine speed"), 1.09, 42, 42),
    rule("average_w", ("slip is given", "basis is gps"), 1.16, 197, 197),
    rule("average_w", ("slip is given", "basis is undriven wheel"), 1.0, 411, 411),
    rule("average_w", ("slip is none", "basis is driven wheel"), 1.13, 97, 97),
    rule("average_w", ("slip is none", "basis is engine speed"), 1.0, 65, 65),
    rule("average_w", ("slip is none", "basis is gps"), 1.17, 200, 200),
    rule("average_w", ("slip is none", "basis is undriven wheel"), 1.03, 418, 418),
    rule("average_w", (), 1.04, 780, 1500),
    rule("average_pulling_w", ("slip is given", "basis is driven wheel"), 2.42, 70, 70),
    rule("average_pulling_w", ("slip is given", "basis is engine speed"), 1.78, 42, 42),
    rule("average_pulling_w", ("slip is given", "basis is gps"), 1.27, 197, 197),
    rule("average_pulling_w", ("slip is given", "basis is undriven wheel"), 1.0, 411, 411),
    rule("average_pulling_w", ("slip is none", "basis is driven wheel"), 1.47, 97, 97),
    rule("average_pulling_w", ("slip is none", "basis is engine speed"), 1.0, 65, 65),
    rule("average_pulling_w", ("slip is none", "basis is gps"), 1.24, 200, 200),
    rule("average_pulling_w", ("slip is none", "basis is undriven wheel"), 1.04, 418, 418),
    rule("average_pulling_w", (), 1.27, 780, 1500),
    rule("average_wheel_w", ("slip is given", "basis is driven wheel"), 1.1, 70, 70),
    rule("average_wheel_w", ("slip is given", "basis is engine speed"), 1.18, 42, 42),
    rule("average_wheel_w", ("slip is given", "basis is gps", "felt is no"), 1.0, 66, 66),
    rule("average_wheel_w", ("slip is given", "basis is gps", "felt is not no"), 1.16, 70, 70),
    rule("average_wheel_w", ("slip is given", "basis is undriven wheel"), 1.0, 416, 416),
    rule("average_wheel_w", ("slip is none", "basis is driven wheel"), 1.0, 97, 97),
    rule("average_wheel_w", ("slip is none", "basis is engine speed"), 1.0, 65, 65),
    rule("average_wheel_w", ("slip is none", "basis is gps"), 1.13, 200, 200),
    rule("average_wheel_w", ("slip is none", "basis is undriven wheel"), 1.0, 423, 423),
    rule("average_wheel_w", (), 1.0, 785, 1510),
    rule("peak_w", ("slip is given", "basis is driven wheel"), 3.2, 70, 70),
    rule("peak_w", ("slip is given", "basis is engine speed"), 1.34, 42, 42),
    rule("peak_w", ("slip is given", "basis is gps"), 1.05, 197, 197),
    rule("peak_w", ("slip is given", "basis is undriven wheel"), 1.01, 411, 411),
    rule("peak_w", ("slip is none", "basis is driven wheel"), 2.06, 97, 97),
    rule("peak_w", ("slip is none", "basis is engine speed"), 1.02, 65, 65),
    rule("peak_w", ("slip is none", "basis is gps"), 1.16, 200, 200),
    rule("peak_w", ("slip is none", "basis is undriven wheel"), 1.01, 418, 418),
    rule("peak_w", (), 1.02, 780, 1500),
    rule("clock_offset", (), 1.0, 624, 1238),
    rule("clock_rate", (), 0.99, 624, 1238),
))  # fmt: skip
"""What reviews are made with."""
