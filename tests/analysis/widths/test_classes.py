"""Classes of what is a run's own."""

from __future__ import annotations

from dataclasses import replace

import pytest

from passband.analysis.widths.classes import Means, classes_of, means_of, own_factor
from passband.analysis.widths.pairs_table import FACTORS
from tests.analysis.widths.test_calibrated import GPS_ALONE


def test_the_means_are_those_of_the_run() -> None:
    assert means_of(GPS_ALONE) == Means("gps", False, False, 10.0, 100.0, "clutch")
    assert means_of(replace(GPS_ALONE, slip="given", felt="yes", gps_hz=0.0)) == Means(
        "gps", True, True, None, 100.0, "clutch"
    )


@pytest.mark.parametrize(
    ("drive", "usual_shift_s", "told"),
    [("clutch", 0.05, "quick"), ("clutch", 0.3, "clutch"), ("clutch", 0.0, "clutch"), ("converter", 0.05, "converter")],
)
def test_a_run_without_shifts_is_not_quick(drive: str, usual_shift_s: float, told: str) -> None:
    assert means_of(replace(GPS_ALONE, drive=drive, usual_shift_s=usual_shift_s)).drive == told


def test_the_narrowest_class_that_is_known_counts() -> None:
    means = means_of(replace(GPS_ALONE, basis="undriven wheel", felt="yes", gps_hz=0.0))
    assert own_factor("traps", means) == FACTORS["traps/no slip/undriven wheel/felt"]
    assert own_factor("rpm_lowest", means) == 1.0


def test_a_figure_without_classes_is_refused() -> None:
    with pytest.raises(ValueError, match="figure must be one of clock_start"):
        classes_of("speed", means_of(GPS_ALONE))
