"""Pages over several runs. Evidence: hand, on two invented runs."""

import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.runs.change import BothAirs, GroupChange, GroupOfRuns, RunsNeeded
from passband.analysis.runs.change_in_power import PowerRatio
from passband.analysis.runs.companions import Companions
from passband.analysis.runs.cost import CostPart, PairCosts
from passband.web.pages.many_runs import render_change, render_costs
from passband.web.printed.runs import needed_words
from passband.web.shown.run import NamedRun


@pytest.mark.parametrize("units", ["us", "metric"])
def test_places_on_the_track_are_in_feet_whatever_the_other_units(units):
    # Hand: 100.584 m are 330 ft, 402.336 m are 1,320 ft
    part = CostPart("gear", "gear 2", 100.584, 402.336, Estimate(0.1, 0.01), Estimate(0.1, 0.01), 0.1, Companions())
    costs = PairCosts("b", Estimate(0.1, 0.01), 402.336, (part,), ())
    page = render_costs(NamedRun("a", "a"), [(NamedRun("b", "b"), costs)], units=units)
    assert "330 to 1,320 ft" in page
    assert "at 1,320 ft" in page


@pytest.mark.parametrize(
    ("codes", "said"), [((), "that of car and sensors too"), (("runs-of-two-cars",), "cars are two")]
)
def test_what_cancels_is_said_as_it_is_for_one_car_or_two(codes, said):
    part = CostPart("gear", "gear 2", 100.584, 402.336, Estimate(0.1, 0.01), Estimate(0.1, 0.01), 0.1, Companions())
    findings = tuple(Finding(code, "caution", "Two cars.") for code in codes)
    costs = PairCosts("b", Estimate(0.1, 0.01), 402.336, (part,), findings)
    assert said in render_costs(NamedRun("a", "a"), [(NamedRun("b", "b"), costs)])


def test_a_change_calls_runs_by_their_names_and_says_what_it_doubts_first():
    nothing, side = BothAirs(None, None), GroupOfRuns("stock", ("a1b2",), ())
    findings = (
        Finding("runs-left-out", "note", "It leaves out runs in which something went wrong: a1b2 (lifted)."),
        Finding("runs-of-two-cars", "caution", "The runs are of more than one car."),
    )
    change = GroupChange(side, side, (), None, None, (), nothing, nothing, nothing, RunsNeeded(None, None), findings)
    page = render_change(change, ([NamedRun("a1b2", "Meet, Q1")], [NamedRun("c3d4", "Meet, Q2")]))
    assert "went wrong: Meet, Q1 (lifted)." in page
    assert page.index("of more than one car") < page.index("After less before") < page.index("went wrong")


@pytest.mark.parametrize(("half_width", "needed", "told"), [(0.018, 2, True), (0.008, 2, False), (0.018, 9, False)])
def test_runs_that_would_tell_are_not_promised_what_the_air_leaves_open(half_width, needed, told):
    # Hand: two runs a side made; where two are enough by their spread, a wider plus-minus is not the runs'.
    nothing, side = BothAirs(None, None), GroupOfRuns("stock", ("a", "b"), ("a", "b"))
    ratio = PowerRatio(5000.0, 5250.0, (2, 3), Estimate(1.01, half_width), 4)
    change = GroupChange(side, side, (ratio,), None, None, (), nothing, nothing, nothing, RunsNeeded(needed, 40), ())
    assert ("±1.8 % here at the least, no more runs of the same days narrow" in needed_words(change)) == told


def test_costs_call_runs_by_their_names_too():
    part = CostPart("gear", "gear 2", 100.584, 402.336, Estimate(0.1, 0.01), Estimate(0.1, 0.01), 0.1, Companions())
    finding = Finding("shifts-elsewhere", "note", "2-3 (272 ft in a1b2, 262 ft in c3d4).")
    costs = PairCosts("c3d4", Estimate(0.1, 0.01), 402.336, (part,), (finding,))
    page = render_costs(NamedRun("a1b2", "Meet, Q1"), [(NamedRun("c3d4", "Meet, Q2"), costs)])
    assert "272 ft in Meet, Q1, 262 ft in Meet, Q2" in page
