"""What a part cost at the finish: planted faults are booked where they were planted, and both columns add up."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.runs.as_json import costs_as_json
from passband.analysis.runs.compared_run import errors_from_splits
from passband.analysis.runs.cost import compare_costs
from tests.analysis.runs.planted_pair import planted_run, true_time


def part(costs, name):
    return next(one for one in costs.parts if one.name == name)


def coasting(from_m, to_m, share=0.0):
    return lambda at_m, speed: share if from_m <= at_m < to_m else 1.0


FAULTS = {
    "gear 1": ("gear 1", {"fault": coasting(15.0, 30.0, 0.5)}),
    "gear 2": ("gear 2", {"fault": coasting(90.0, 110.0)}),
    "gear 3": ("gear 3", {"fault": coasting(250.0, 280.0)}),
    "slow shift": ("shift 1-2", {"shifts": ((1, 40.0, 0.35), (2, 150.0, 0.05))}),
}


@pytest.mark.parametrize("planted", FAULTS)
@pytest.mark.parametrize("slip", [True, False])
def test_a_planted_fault_is_booked_where_it_was_planted(planted, slip):
    # Planted: constant power before and after, so that all of the difference was caused on one part
    name, how = FAULTS[planted]
    base, other = planted_run(slip=slip), planted_run("other", slip=slip, **how)
    costs = compare_costs(base, other)
    lost = true_time(other, 402.336) - true_time(base, 402.336)
    assert lost > 0.02
    assert costs.difference_s.value == pytest.approx(lost, abs=0.0011)
    assert part(costs, name).cost_s.value == pytest.approx(lost, abs=0.0035)
    rest = [one.cost_s.value for one in costs.parts if one.name != name]
    assert max(abs(one) for one in rest) < 0.003


def test_a_launch_lost_while_the_tires_rule_lies_within_the_bracket():
    # Planted: until 20 m/s the car pulls at constant force, then at constant power; the launch ends before that
    base, other = planted_run(), planted_run("other", fault=coasting(0.0, 3.0, 0.6))
    launch = part(compare_costs(base, other), "launch")
    lost = true_time(other, 402.336) - true_time(base, 402.336)
    assert launch.cost_s.value < lost < launch.cost_constant_force_s


@pytest.mark.parametrize("planted", FAULTS)
def test_both_columns_add_up(planted):
    costs = compare_costs(planted_run(), planted_run("other", **FAULTS[planted][1]))
    for column in ("elapsed_s", "cost_s"):
        total = sum(getattr(one, column).value for one in costs.parts)
        assert total == pytest.approx(costs.difference_s.value, abs=1e-9)
    assert sum(one.cost_constant_force_s for one in costs.parts) == pytest.approx(costs.difference_s.value, abs=1e-9)


def test_time_goes_by_later_than_it_is_caused():
    # Hand: a car slowed at 90 m is late mostly behind the place
    costs = compare_costs(planted_run(), planted_run("other", fault=coasting(90.0, 110.0)))
    second = part(costs, "gear 2")
    assert second.elapsed_s.value < 0.5 * second.cost_s.value


def test_the_difference_is_the_slips_own_where_both_have_one():
    base, other = planted_run(), planted_run("other", fault=coasting(90.0, 110.0))
    costs = compare_costs(base, other)
    assert costs.difference_s.value == pytest.approx(other.slip_s[1320] - base.slip_s[1320], abs=1e-9)
    assert costs.difference_s.plus_minus == pytest.approx(0.001)
    assert "slip-of-one-run-only" not in [one.code for one in costs.findings]
    mixed = compare_costs(base, planted_run("other", fault=coasting(90.0, 110.0), slip=False))
    assert "slip-of-one-run-only" in [one.code for one in mixed.findings]


def test_a_shift_made_elsewhere_is_told_and_booked_with_the_gear_after_it():
    # Planted: at constant power a shift that comes 12 m early costs what its cut costs more at lower speed
    base, other = planted_run(), planted_run("other", shifts=((1, 40.0, 0.05), (2, 138.0, 0.05)))
    costs = compare_costs(base, other)
    assert [one.code for one in costs.findings] == ["shift-at-another-place"]
    together = part(costs, "shift 2-3").cost_s.value + part(costs, "gear 3").cost_s.value
    lost = true_time(other, 402.336) - true_time(base, 402.336)
    assert together == pytest.approx(lost, abs=0.002)
    assert part(costs, "shift 2-3").from_m == pytest.approx(138.0, abs=0.2)


def test_an_aborted_run_is_compared_to_where_it_was_lifted_from():
    costs = compare_costs(planted_run(), planted_run("short", stop_m=250.0))
    assert costs.at_m == pytest.approx(250.0)
    assert costs.parts[-1].to_m == pytest.approx(250.0)
    assert "compared-to-last-common-place" in [one.code for one in costs.findings]
    assert abs(costs.difference_s.value) < 0.001


def test_a_run_costs_nothing_against_itself():
    run = planted_run()
    costs = compare_costs(run, run)
    assert {one.cost_s.value for one in costs.parts} == {0.0} and costs.difference_s.value == 0.0


def test_the_other_way_round_turns_every_sign():
    base, other = planted_run(), planted_run("other", fault=coasting(90.0, 110.0))
    there, back = compare_costs(base, other), compare_costs(other, base)
    forth = [one.cost_s.value for one in there.parts]
    np.testing.assert_allclose(forth, [-one.cost_s.value for one in back.parts], atol=1e-9)


def test_the_weights_are_those_of_the_exact_integral():
    # Slow twin: the difference of times is minus the integral of (cB - cA) k over distance, trapezoids of 1 cm
    base, other = planted_run(), planted_run("other", fault=coasting(90.0, 110.0))
    at = np.arange(20.0, 402.336, 0.01)
    slow, fast = (np.interp(at, run.distance_m, run.speed_mps) for run in (base, other))
    weight = 3.0 / (slow * fast * (slow**2 + slow * fast + fast**2))
    apart = -np.trapezoid((fast**3 - slow**3) / 3.0 * weight, at)
    direct = np.trapezoid(1.0 / fast - 1.0 / slow, at)
    assert apart == pytest.approx(direct, abs=1e-12)
    costs = compare_costs(base, other)
    assert sum(one.cost_s.value for one in costs.parts if one.from_m > 20) == pytest.approx(direct, abs=0.003)


def test_runs_without_motion_share_no_track():
    base = planted_run()
    nowhere = planted_run(told={"window": {"outcome": "aborted", "distance_m": 0.0}})
    assert compare_costs(base, nowhere) is None


def test_plain_values_say_with_what():
    told = costs_as_json(compare_costs(planted_run(), planted_run("other", **FAULTS["slow shift"][1])))
    shift = next(one for one in told["parts"] if one["name"] == "shift 1-2")
    assert shift["with"]["shift_duration_s"] == {"base": 0.05, "other": 0.35}
    assert told["label"] == "other" and "beside" not in shift


def test_a_run_without_motion_is_laid_with_no_way_to_be_wrong():
    # Hand: no row and no split; a digest is made of such runs too
    errors = errors_from_splits(np.empty(0), None)
    assert errors.own.shape == (0, 0)


def test_a_printed_time_leaves_half_of_its_last_digit_open_on_the_parts_beside_its_mark():
    # Hand: both runs' clocks agree to 0.5 ms each at every mark, so no gear between marks is surer than a third of that
    costs = compare_costs(planted_run(slip=True), planted_run("other", slip=True))
    gears = [one.elapsed_s.plus_minus for one in costs.parts if one.kind == "gear"]
    assert min(gears) > 0.0005 * 2.0**0.5 / 3.0
