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
    "563 "
    "cases "
).strip()  # fmt: skip
"""Seeds, kinds and settings."""

CALIBRATED = Widths(MADE_OF, (
    rule("clock_start", ("slip is given", "basis is gps"), 1.0, 145, 145),
    rule("clock_start", ("slip is given", "basis is undriven wheel"), 1.0, 319, 319),
    rule("clock_start", ("slip is none", "basis is driven wheel"), 1.0, 46, 46),
    rule("clock_start", ("slip is none", "basis is engine speed"), 1.0, 43, 43),
    rule("clock_start", ("slip is none", "basis is gps"), 1.0, 148, 148),
    rule("clock_start", ("slip is none", "basis is undriven wheel"), 1.0, 326, 326),
    rule("clock_start", (), 1.0, 563, 1067),
    rule("splits", ("slip is given", "basis is gps"), 0.8, 145, 721),
    rule("splits", ("slip is given", "basis is undriven wheel"), 0.81, 319, 1554),
    rule("splits", ("slip is none", "basis is driven wheel"), 1.0, 46, 230),
    rule("splits", ("slip is none", "basis is engine speed"), 1.0, 43, 215),
    rule("splits", ("slip is none", "basis is gps", "rise_s below 0.031"), 1.54, 56, 278),
    rule("splits", ("slip is none", "basis is gps", "rise_s from 0.031"), 1.0, 44, 212),
    rule("splits", ("slip is none", "basis is undriven wheel", "pull_mps2 below 10"), 1.0, 97, 476),
    rule("splits", ("slip is none", "basis is undriven wheel", "pull_mps2 from 10"), 1.53, 124, 594),
    rule("splits", (), 1.0, 563, 5220),
    rule("traps", ("slip is given", "basis is gps"), 0.85, 145, 288),
    rule("traps", ("slip is given", "basis is undriven wheel"), 0.81, 319, 615),
    rule("traps", ("slip is none", "basis is driven wheel"), 1.0, 46, 92),
    rule("traps", ("slip is none", "basis is engine speed"), 1.0, 43, 86),
    rule("traps", ("slip is none", "basis is gps"), 1.67, 145, 288),
    rule("traps", ("slip is none", "basis is undriven wheel"), 1.25, 324, 620),
    rule("traps", (), 1.03, 558, 2069),
    rule("rpm_at_launch", ("drive is clutch",), 1.0, 520, 981),
    rule("rpm_at_launch", ("drive is converter",), 1.1, 43, 86),
    rule("rpm_at_launch", (), 1.0, 563, 1067),
    rule("rpm_lowest", ("drive is clutch",), 1.0, 469, 879),
    rule("rpm_lowest", (), 1.0, 492, 925),
    rule("shift_start", ("drive is clutch",), 1.11, 510, 3449),
    rule("shift_start", ("drive is converter",), 1.0, 43, 202),
    rule("shift_start", (), 1.1, 553, 3651),
    rule("rpm_before", ("drive is clutch",), 1.19, 510, 3449),
    rule("rpm_before", ("drive is converter",), 1.0, 43, 202),
    rule("rpm_before", (), 1.08, 553, 3651),
    rule("rpm_after", ("drive is clutch", "swing_back below 0.033"), 1.06, 190, 1284),
    rule("rpm_after", ("drive is clutch", "swing_back from 0.033"), 1.0, 160, 1060),
    rule("rpm_after", ("drive is converter",), 1.0, 43, 202),
    rule("rpm_after", (), 1.06, 548, 3617),
    rule("rpm_drop", ("drive is clutch", "half_width below 0.016"), 1.26, 89, 260),
    rule("rpm_drop", ("drive is clutch", "half_width from 0.016", "drop_share below 0.2"), 1.18, 89, 229),
    rule("rpm_drop", ("drive is clutch", "half_width from 0.016", "drop_share from 0.2"), 1.0, 343, 1855),
    rule("rpm_drop", ("drive is converter",), 1.0, 43, 202),
    rule("rpm_drop", (), 1.0, 548, 3617),
    rule("average_w", ("slip is given", "basis is gps"), 1.01, 142, 142),
    rule("average_w", ("slip is given", "basis is undriven wheel"), 1.0, 312, 312),
    rule("average_w", ("slip is none", "basis is driven wheel"), 1.04, 46, 46),
    rule("average_w", ("slip is none", "basis is engine speed"), 1.0, 43, 43),
    rule("average_w", ("slip is none", "basis is gps"), 1.14, 145, 145),
    rule("average_w", ("slip is none", "basis is undriven wheel"), 1.0, 319, 319),
    rule("average_w", (), 1.0, 553, 1047),
    rule("average_pulling_w", ("slip is given", "basis is gps"), 1.03, 142, 142),
    rule("average_pulling_w", ("slip is given", "basis is undriven wheel"), 1.01, 312, 312),
    rule("average_pulling_w", ("slip is none", "basis is driven wheel"), 1.18, 46, 46),
    rule("average_pulling_w", ("slip is none", "basis is engine speed"), 1.0, 43, 43),
    rule("average_pulling_w", ("slip is none", "basis is gps"), 1.02, 145, 145),
    rule("average_pulling_w", ("slip is none", "basis is undriven wheel"), 1.01, 319, 319),
    rule("average_pulling_w", (), 1.06, 553, 1047),
    rule("average_wheel_w", ("slip is given", "basis is gps"), 1.14, 142, 142),
    rule("average_wheel_w", ("slip is given", "basis is undriven wheel"), 1.0, 317, 317),
    rule("average_wheel_w", ("slip is none", "basis is driven wheel"), 1.0, 46, 46),
    rule("average_wheel_w", ("slip is none", "basis is engine speed"), 1.0, 43, 43),
    rule("average_wheel_w", ("slip is none", "basis is gps"), 1.12, 145, 145),
    rule("average_wheel_w", ("slip is none", "basis is undriven wheel"), 1.0, 324, 324),
    rule("average_wheel_w", (), 1.0, 558, 1057),
    rule("peak_w", ("slip is given", "basis is gps"), 1.04, 142, 142),
    rule("peak_w", ("slip is given", "basis is undriven wheel"), 1.0, 312, 312),
    rule("peak_w", ("slip is none", "basis is driven wheel"), 1.07, 46, 46),
    rule("peak_w", ("slip is none", "basis is engine speed"), 1.1, 43, 43),
    rule("peak_w", ("slip is none", "basis is gps"), 1.05, 145, 145),
    rule("peak_w", ("slip is none", "basis is undriven wheel"), 1.0, 319, 319),
    rule("peak_w", (), 1.0, 553, 1047),
    rule("clock_offset", (), 0.93, 470, 930),
    rule("clock_rate", (), 0.99, 470, 930),
))  # fmt: skip
"""What reviews are made with."""
