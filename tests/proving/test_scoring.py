"""The scorer itself: a right review passes, and each figure made wrong is noticed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from passband.analysis.results.estimate import Estimate
from tests.proving.cases import Answer, Case, make_case, review_case
from tests.proving.requirements import shortcomings, too_many_misses
from tests.proving.scores import UNKNOWABLE, FigureLine, Score
from tests.proving.scoring import FOUND, GEARS, REAL, hold_case


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Case:
    return make_case(tmp_path_factory.mktemp("case"), "plain_front_foot", 301)


@pytest.fixture(scope="module")
def answer(case: Case) -> Answer:
    return review_case(case)


def held(case: Case, answer: Answer, **changes: object) -> Score:
    """The score of the one review, changed."""
    score = Score()
    hold_case(score, case, replace(answer, reviews=(replace(answer.reviews[0], **changes),)))
    return score


def test_a_right_review_passes(case: Case, answer: Answer) -> None:
    score = held(case, answer)
    assert shortcomings(score) == []
    assert score.lines()[FOUND].asked == len(case.truth["runs"][0]["shifts"]) > 2


def test_a_run_placed_50_ms_late_is_noticed(case: Case, answer: Answer) -> None:
    window = answer.reviews[0].window
    late = replace(window, log_launch_s=window.log_launch_s + 0.15, log_clock_start_s=window.log_clock_start_s + 0.05)
    lines = held(case, answer, window=late).lines()
    for figure in ("launch, s", "clock start (slip), s", "shift start, s"):
        assert lines[figure].share == 0.0


def test_a_shift_left_out_and_one_invented_are_noticed(case: Case, answer: Answer) -> None:
    first, *rest = answer.reviews[0].shifts
    lines = held(case, answer, shifts=(replace(first, time_s=first.time_s - 0.5), *rest)).lines()
    assert lines[FOUND].misses == 1 and lines[REAL].misses == 1


def test_a_gear_named_wrong_is_noticed(case: Case, answer: Answer) -> None:
    first, *rest = answer.reviews[0].shifts
    assert held(case, answer, shifts=(replace(first, to_gear=3), *rest)).lines()[GEARS].misses == 1


def test_a_figure_withheld_is_a_miss_unless_nobody_can_know_it(case: Case, answer: Answer) -> None:
    assert held(case, answer, power=None).lines()["peak power, W"].misses == 1
    unknowable = replace(case, truth=case.truth | {"untrusted": ["peak power"]})
    lines = held(unknowable, answer, power=None).lines()
    assert "peak power, W" not in lines and lines[UNKNOWABLE].misses == 0


def test_errors_cover_and_width_of_a_figure_by_hand() -> None:
    score = Score()
    for value, plus_minus in ((10.0, 1.0), (12.0, 1.0), (9.0, 4.0)):
        score.ask("figure", "case", Estimate(value, plus_minus), (10.0, 10.5), 1.2)
    score.ask("figure", "case", None, 10.0, 1.2)
    # Hand: errors 0, 1.5, 1.0 and one answer withheld; covered by 1.0, not by 1.0, by 4.0.
    line = score.lines()["figure"]
    assert (line.asked, line.misses, line.share) == (4, 2, 0.5)
    assert (line.median, line.covered, line.plus_minus, line.width) == (1.0, pytest.approx(2 / 3), 1.0, 1.0)


@pytest.mark.parametrize(
    ("figure", "asked", "misses", "short"),
    [("peak power, W", 5, 1, False), ("peak power, W", 5, 2, True), ("peak power, W", 40, 2, False),
     ("peak power, W", 40, 3, True), (FOUND, 400, 1, True)],
)  # fmt: skip
def test_one_miss_in_few_is_not_yet_five_in_a_hundred(figure: str, asked: int, misses: int, short: bool) -> None:
    assert too_many_misses(FigureLine(figure, asked, misses, 1 - misses / asked)) is short
