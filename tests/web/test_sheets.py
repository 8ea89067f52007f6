"""A review laid out: reasons said once, parts of a plus-minus that add up, a car of one gear."""

from __future__ import annotations

import math
import re

import pytest

from passband.web.sheets.sheet import key_figures
from passband.web.sheets.whole import AS_ABOVE, sections
from tests.analysis.sparse_review import read

WHY = {"code": "power-by-slip-alone", "level": "caution", "text": "No log shows how the car moved.", "where": ""}


def section(review, key):
    return next(one for one in sections(read(review), "metric") if one.key == key)


def test_a_reason_of_several_figures_is_said_at_the_first(review):
    lost = ("average_w", "average_pulling_w", "peak_w")
    review["power"] |= dict.fromkeys(lost)
    review["unknown"] = {f"power.{name}": WHY for name in lost}
    reasons = [line.figure.reason for line in section(review, "power").lines if line.figure.reason]
    assert reasons[:3] == ["No log shows how the car moved", AS_ABOVE, AS_ABOVE]


def test_power_at_the_wheels_is_a_key_figure_where_that_at_the_flywheel_is_not_known(review):
    review["power"]["average_w"] = None
    review["unknown"] = {"power.average_w": WHY}
    first = key_figures(read(review), "metric")[0]
    assert first.label == "average power at the wheels" and first.figure.known


def test_the_parts_of_a_plus_minus_add_up_to_the_whole_with_what_nobody_can_measure_last(review):
    # Planted: eight inputs and what calibration adds, in kW
    sizes = [9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0]
    shares = [{"source": f"input {n}", "plus_minus_w": 1e3 * size} for n, size in enumerate(sizes)]
    review["power"]["shares"] = [*shares, {"source": "calibration", "plus_minus_w": 12e3}]
    (table,) = section(review, "power").tables
    rows = [(row.cells[0].text, float(re.sub(r"[^\d.]", "", row.cells[1].text))) for row in table.rows]
    assert [name for name, _ in rows] == [*(f"input {n}" for n in range(6)), "the method, and all else"]
    whole = math.hypot(*sizes, 12.0)
    assert math.hypot(*(size for _, size in rows)) == pytest.approx(whole, abs=0.1)


def test_a_car_of_one_gear_lacks_no_data_for_shifts(review):
    review["shifts"] = []
    gears = review["gears"]
    review["gears"] = gears | {
        "overall_ratios": gears["overall_ratios"][:1],
        "intervals": [{"gear": 1, "start_s": -0.2, "end_s": 10.8}],
    }
    assert section(review, "shifts").missing == "the car has one gear: there is nothing to shift"
