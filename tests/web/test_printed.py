"""The printed review. Evidence: hand, against the review of conftest."""

import pytest

from passband.web.printed.review import print_review
from passband.web.shown.car import limits_given
from tests.analysis.sparse_review import read


def test_the_verdict_comes_first_then_the_parts_in_order(review, table):
    page = print_review(read(review), table=table)
    order = [
        "OUTSIDE: 1 of 4 limits broken; 2 inside, 1 without data",
        "1 of 4 limits broken: ",
        "Average power at",
        "LAUNCH",
        "SHIFTS",
        "BOOST",
        "POWER",
        "BAND 6,400",
        "LIMITS",
        "SPLITS",
        "FINDINGS",
        "Never",
    ]
    assert [page.index(word) for word in order] == sorted(page.index(word) for word in order)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_no_line_is_wider_than_the_page(review, table, units):
    review["limits"][1]["name"] = "a limit with a very long name that somebody took for a good idea " * 2
    review["run"]["label"] = "a label " * 20
    assert max(len(line) for line in print_review(read(review), units=units, table=table).splitlines()) <= 80


@pytest.mark.parametrize(
    ("units", "expected"),
    [
        ("us", ["388 ±5 hp", "139.70 ±0.04", "21.8 psi", "6,205 ±45", "10.813 ±0.009"]),
        ("metric", ["289 ±4 kW", "224.82 ±0.07", "150 kPa", "6,205 ±45", "10.813 ±0.009"]),
    ],
)
def test_figures_stand_in_the_readers_units_with_their_plus_minus(review, units, expected):
    page = print_review(read(review), units=units)
    assert [figure for figure in expected if figure not in page] == []


def test_a_limit_is_answered_in_its_owners_unit(review, car):
    assert "231 kPa  min 250 kPa" in print_review(read(review), given=limits_given(car))


@pytest.mark.parametrize(
    ("units", "bound", "row"),
    [
        # Hand: 92.4 K against 80 K; in degrees Fahrenheit of difference 166 against 144
        ("metric", 80, ["92 K", "max 80 K", "−12"]),
        ("us", 80, ["166 °F", "max 144 °F", "−22"]),
        ("us", "80 degC", ["92 °C", "max 80 °C", "−12"]),
        ("metric", "144 degF", ["166 °F", "max 144 °F", "−22"]),
    ],
)
def test_a_spread_of_temperatures_stands_as_a_difference_with_its_two_cylinders(spread_review, units, bound, row):
    car = {"limits": [{"name": "EGT spread", "channel": "EGT spread", "at_most": bound}]}
    page = print_review(read(spread_review), units=units, given=limits_given(car))
    (line,) = [line for line in page.splitlines() if line.startswith("◆ OUTSIDE  EGT spread")]
    assert line.split("EGT spread")[1].split() == " ".join(row).split()
    told = " ".join(page.split())
    assert "hottest exhaust temperature 3, coldest exhaust temperature 1." in told
    assert "16 % outside" in told


def test_a_margin_outside_the_band_is_marked(review):
    assert "▼ −195" in print_review(read(review))


def test_empty_parts_say_why(review):
    review |= {"launch": None, "shifts": [], "boost": None, "power": None, "band": None, "limits": [], "distance": None}
    mass = {"code": "mass-missing", "level": "caution", "text": "The car's mass is not given. Weigh it.", "where": ""}
    review |= {"findings": [mass], "unknown": {"power": mass}}
    page = print_review(read(review))
    assert page.count("Not known:") == 7
    assert "Not known: The car's mass is not given." in page


def test_nothing_that_a_terminal_would_obey_is_printed(review):
    review["run"]["label"] = "x\x1b[2J\x07 \u202eevil"
    page = print_review(read(review))
    assert not [letter for letter in page if letter != "\n" and not letter.isprintable()]


def test_what_was_given_and_not_used_stands_at_the_top(review):
    text = "The timing slip does not fit the logs (worst at 60 ft): it may be of another run. It was not used."
    review["findings"].append({"code": "slip-does-not-fit", "level": "caution", "text": text, "where": "slip"})
    page = print_review(read(review))
    assert page.index("▲ The timing slip does not fit") < page.index("LAUNCH")


def test_a_slip_that_disagrees_stands_beside_the_logs_own_splits(review):
    # Hand: times as given, a mark that the slip lacks as a dash; a slip that fits is the splits already
    slip = {"t60_s": 1.9, "t330_s": "5.011 s"}
    assert "Slip s" not in print_review(read(review), slip=slip)
    review["findings"].append({"code": "slip-does-not-fit", "level": "caution", "text": "It does not.", "where": ""})
    page = print_review(read(review), slip=slip)
    marks = {line.split("ft")[0].strip(): line.split()[-1] for line in page.splitlines() if " ft  " in line}
    assert "Slip s" in page
    assert (marks["60"], marks["330"], marks["660"]) == ("1.900", "5.011", "–")
