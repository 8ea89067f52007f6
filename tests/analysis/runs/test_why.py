"""Why a run went as it went: what is told, in which order, with which cost."""

from __future__ import annotations

from typing import Any

import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.runs.companions import Companions
from passband.analysis.runs.cost import CostPart, PairCosts
from passband.analysis.runs.faults import faults_of
from passband.analysis.runs.why import (
    Against,
    against_words,
    cause_words,
    find_causes,
    launch_beside,
    since_words,
)
from tests.analysis.sparse_review import read


def shift(gear: int, kind: str, cost_s: float, **more: Any) -> dict[str, Any]:
    cost = {"value": cost_s, "plus_minus": 0.01}
    return {"from_gear": gear, "to_gear": gear + 1, "time_s": 2.0 * gear, "kind": kind, "cost_s": cost, **more}


def spun(start_s: float, end_s: float) -> dict[str, Any]:
    return {"wheelspin": [{"start_s": start_s, "end_s": end_s, "peak_slip": 0.3}]}


def finished(time_s: float, **more: Any) -> Any:
    split = {"at_ft": 1320, "time_s": {"value": time_s, "plus_minus": 0.0}}
    return read({"window": {"outcome": "quarter"}, "distance": {"splits": [split]}, **more})


def part(name: str, cost_s: float, plus_minus_s: float = 0.01) -> CostPart:
    cost = Estimate(cost_s, plus_minus_s)
    kind = name.split()[0]
    beside = Companions(**dict.fromkeys(Companions.__dataclass_fields__))  # type: ignore[arg-type]
    return CostPart(kind, name, 0.0, 10.0, cost, cost, cost_s, beside)


def test_a_missed_shift_costs_what_it_cost_beyond_the_sound_ones():
    # Hand: 0.25 less the median of 0.05 and 0.07, which is 0.06
    run = read({"shifts": [shift(1, "normal", 0.05), shift(2, "missed", 0.25), shift(3, "normal", 0.07)]})
    [cause] = find_causes(run)
    assert cause_words(cause) == "Missed shift 2-3 at 4.00 s: cost 0.19 ±0.01 s beyond a sound shift."


def test_a_late_shift_says_how_far_over_the_band_and_claims_no_cost():
    # Hand: the cost of an interruption is not that of being late
    run = read({"shifts": [shift(1, "normal", 0.05), shift(2, "late", 0.06, margin_to_band_high_rpm=-240.0)]})
    assert [cause_words(one) for one in find_causes(run)] == ["Late shift 2-3 at 4.00 s, 240 rpm over the band."]


def test_several_late_shifts_are_one_sentence():
    # Hand: a car short-geared for its band is late in every gear, and a telephone's first screen holds few lines
    late = [shift(gear, "late", 0.06, margin_to_band_high_rpm=-240.0 + 100 * gear) for gear in (1, 2)]
    (cause,) = find_causes(read({"shifts": late}))
    assert cause_words(cause) == "Late shifts 1-2, 2-3, 40 to 140 rpm over the band."
    assert cause.start_s == find_causes(read({"shifts": late[:1]}))[0].start_s


def test_known_costs_come_first_and_then_shifts_spin_lift_and_limiter():
    # Planted
    held = [
        {"code": "limiter-in-gear", "level": "note", "text": "The engine stood on its limiter for 0.40 s: no more.",
         "where": "3.10 s from clock start"},
        {"code": "lift-in-gear", "level": "note", "text": "The driver lifted for 0.30 s: no shift.",
         "where": "2.20 s from clock start"},
    ]  # fmt: skip
    shifts = [shift(1, "normal", 0.05), shift(2, "late", 0.05), shift(3, "missed", 0.2)]
    run = read({"shifts": shifts, "distance": spun(0.2, 0.9), "findings": held})
    assert [one.text for one in find_causes(run)] == [
        "Missed shift 3-4 at 6.00 s",
        "Late shift 2-3 at 4.00 s",
        "The tires spun for 0.70 s from 0.20 s, at worst 30 % slip",
        "The driver lifted for 0.30 s at 2.20 s",
        "The engine stood on its limiter for 0.40 s at 3.10 s",
    ]


def test_a_clean_run_has_no_cause():
    # Planted: one sound shift, tires that spun a moment less than is told
    assert find_causes(read({"shifts": [shift(1, "normal", 0.05)], "distance": spun(0.0, 0.099)})) == ()
    assert len(find_causes(read({"distance": spun(0.0, 0.101)}))) == 1


def test_boost_that_nothing_explains_is_told_and_a_shifts_dip_is_not():
    # Planted
    dips = [
        {"start_s": 3.0, "end_s": 3.2, "cause": "shift", "shift": 0},
        {"start_s": 5.0, "end_s": 5.5, "cause": "unexplained"},
    ]
    run = read({"boost": {"threshold_pa": 1e5, "first_reached_s": 1.0, "dips": dips}})
    assert [one.text for one in find_causes(run)] == [
        "Boost under its threshold for 0.50 s from 5.00 s, no shift, lift or spin there"
    ]
    never = read({"boost": {"threshold_pa": 1e5, "first_reached_s": None}})
    assert [one.text for one in find_causes(never)] == ["Boost never reached its threshold"]


def test_against_another_run_the_dearest_part_stands_first_and_doubtful_ones_are_left_out():
    # Hand
    parts = (part("launch", 0.03), part("gear 1", 0.005), part("shift 1-2", 0.15, 0.2), part("gear 2", -0.08))
    costs = PairCosts("a", Estimate(0.105, 0.001), 402.336, parts, ())
    said = against_words(Against("Q1, the run before", costs, "engine down to 2,000 rpm, 4,650 there"))
    assert said == (
        "Against Q1, the run before: 0.105 ±0.001 s slower at 1,320 ft; gear 2 −0.08 ±0.01 s, "
        "launch +0.03 ±0.01 s (engine down to 2,000 rpm, 4,650 there)."
    )


def test_the_first_screen_has_a_pair_in_as_few_words_as_it_can():
    # Hand
    parts = (part("launch", 0.03), part("shift 1-2", 0.15, 0.2), part("gear 2", -0.08))
    pair = Against("Q1, the run before", PairCosts("a", Estimate(-0.105, 0.001), 402.336, parts, ()))
    assert since_words(pair) == ("0.105 ±0.001 s quicker than Q1, the run before", "gear 2 −0.08, launch +0.03 s")
    alike = Against("Q1", PairCosts("a", Estimate(0.004, 0.01), 201.168, (), ()))
    assert since_words(alike) == ("As quick at 660 ft as Q1, within ±0.010 s", "")


def test_no_difference_is_said_where_there_is_none():
    # Hand
    costs = PairCosts("a", Estimate(0.004, 0.01), 201.168, (), ())
    assert against_words(Against("Q1", costs)) == "Against Q1: no difference at 660 ft beyond ±0.010 s."


def test_a_launch_that_bogged_is_set_beside_the_other():
    # Hand
    low, high = (read({"launch": {"rpm_lowest": {"value": rpm, "plus_minus": 40.0}}}) for rpm in (1997.0, 4650.0))
    assert launch_beside(low, high) == "engine down to 1,997 rpm, 4,650 there"
    assert launch_beside(low, low) == ""


@pytest.mark.parametrize(
    ("where", "long", "said"),
    [("-0.25", "3.75", ["The throttle was held back from the launch to 3.50 s"]), ("-0.31", "0.16", []),
     ("4.40", "1.08", ["The driver lifted in part for 1.08 s at 4.40 s"])],
)  # fmt: skip
def test_a_throttle_held_back_before_the_clock_is_the_launchs_and_no_lift(where, long, said):
    # Hand: -0.25 and 3.75 s make 3.50 s; what ended before the clock cost the run nothing.
    text = (
        f"The driver lifted in part, the throttle held back and not shut, in a gear for {long} s, as one pedals: none."
    )
    held = {"code": "lift-in-gear", "level": "note", "text": text, "where": f"{where} s from clock start"}
    run = read({"findings": [held]})
    assert [one.text for one in find_causes(run)] == said
    assert ("lifted in a gear" in faults_of(run)) == (float(where) > 0)


def test_a_lift_whose_place_is_not_known_is_told_without_one():
    # Hand
    run = read({"findings": [{"code": "lift-in-gear", "level": "note", "text": "The driver lifted.", "where": ""}]})
    assert isinstance(run.findings[0], Finding)
    assert [one.start_s for one in find_causes(run)] == [None]


def test_a_lift_just_behind_another_finish_line_asks_whether_that_is_the_finish():
    # Hand: 216 m are 708.7 ft, 49 behind 660 ft; 250 m are 160 behind it
    said = [
        cause_words(find_causes(read({"window": {"outcome": "aborted", "distance_m": went}}))[0])
        for went in (216.0, 250.0, 195.0)
    ]
    assert (
        said[0]
        == "The driver lifted for good before the finish, 49 ft behind 660 ft: if that is the finish line, tell it."
    )
    assert said[1] == said[2] == "The driver lifted for good before the finish."
