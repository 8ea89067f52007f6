"""What holds even where sensors are worse than the analysis takes them to be: nothing crashes, nothing is invented.

Planted: the simulator's runs with sensors of its wide set (tooth-counted wheels, GPS of 1 to 25 Hz up to 0.4 s late,
prompt and old copies, slow filters). Not every plus-minus holds there yet: clock start by GPS, RPM after quick shifts.
`python -m tests.benchmarks.proving --sensors wide` prints how far each figure is off; here stands only what does hold.
"""

from __future__ import annotations

import pytest

from tests.proving.cases import make_case, review_case
from tests.proving.scores import Score
from tests.proving.scoring import FOUND, GEARS, MISSED, REAL, RUNS, hold_case

RUNS_MADE = (
    ("plain_rear_lever", 301),
    ("plain_rear_natural", 302),
    ("plain_converter", 303),
    ("missed_shift", 304),
    ("gps_1_hz", 305),
)
"""Kind and seed."""
ALWAYS = (RUNS, FOUND, REAL, GEARS, MISSED, "limit verdicts", "worst value at its moment")
"""Counts of what happened: all right, in every case."""
BY_THE_SLIP = ("splits (slip), s", "trap speeds (slip), m/s")
"""Figures that a printed slip makes."""

HOLDS = ("clock start (slip), s", "average power to the ground, W")
"""Figures whose plus-minus the table of widths makes hold."""


@pytest.fixture(scope="module")
def score(tmp_path_factory: pytest.TempPathFactory) -> Score:
    """All runs, with their slips."""
    folder, score = tmp_path_factory.mktemp("wide"), Score()
    for kind, seed in RUNS_MADE:
        case = make_case(folder, kind, seed, sensors="wide")
        hold_case(score, case, review_case(case))
    return score


@pytest.mark.parametrize("figure", ALWAYS)
def test_what_happened_is_found_and_nothing_invented(score: Score, figure: str) -> None:
    line = score.lines()[figure]
    assert line.asked > 0 and line.misses == 0, "\n".join(score.wrong())


@pytest.mark.parametrize("figure", BY_THE_SLIP)
def test_what_the_slip_makes_stays_right_and_its_plus_minus_holds(score: Score, figure: str) -> None:
    line = score.lines()[figure]
    assert line.asked > 0 and line.misses == 0 and line.covered >= 0.9


@pytest.mark.parametrize("figure", HOLDS)
def test_the_plus_minus_holds(score: Score, figure: str) -> None:
    line = score.lines()[figure]
    assert line.asked > 0 and line.covered >= 0.9, "\n".join(score.wrong())


def test_the_launch_is_where_it_was(score: Score) -> None:
    line = score.lines()["launch, s"]
    assert line.asked == len(RUNS_MADE) and line.misses <= 1, "\n".join(score.wrong())
