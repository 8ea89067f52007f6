"""Pages over several runs. Evidence: hand, on two invented runs."""

import pytest

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.runs.change import BothAirs, GroupChange, GroupOfRuns, RunsNeeded
from passband.analysis.runs.companions import Companions
from passband.analysis.runs.cost import CostPart, PairCosts
from passband.web.many_pages import render_change, render_costs
from passband.web.run_shown import NamedRun


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


def test_costs_call_runs_by_their_names_too():
    part = CostPart("gear", "gear 2", 100.584, 402.336, Estimate(0.1, 0.01), Estimate(0.1, 0.01), 0.1, Companions())
    finding = Finding("shifts-elsewhere", "note", "2-3 (272 ft in a1b2, 262 ft in c3d4).")
    costs = PairCosts("c3d4", Estimate(0.1, 0.01), 402.336, (part,), (finding,))
    page = render_costs(NamedRun("a1b2", "Meet, Q1"), [(NamedRun("c3d4", "Meet, Q2"), costs)])
    assert "272 ft in Meet, Q1, 262 ft in Meet, Q2" in page
