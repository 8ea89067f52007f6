"""Rules that a table of widths is made of."""

from __future__ import annotations

from dataclasses import replace

import pytest

from passband.analysis.widths.evidence import FIGURES, NUMBERS, WORDS, Seen
from passband.analysis.widths.rules import condition_of, rule
from tests.analysis.widths.test_calibrated import GPS_ALONE


@pytest.mark.parametrize(
    ("text", "holds"),
    [
        ("slip is none", True), ("slip is given", False), ("slip is not given", True), ("slip is not none", False),
        ("gps_hz below 10", False), ("gps_hz below 10.1", True), ("gps_hz from 10", True), ("gps_hz from 10.1", False),
    ],
)  # fmt: skip
def test_a_condition_holds_from_its_number_on_and_below_it_not(text: str, holds: bool) -> None:
    # Hand: the run has GPS at 10 Hz and no slip
    assert condition_of(text).holds(GPS_ALONE) is holds


def test_a_rule_holds_where_all_its_conditions_do() -> None:
    both = rule("traps", ("slip is none", "gps_hz below 11"), 1.2, 40, 80)
    assert both.holds(GPS_ALONE)
    assert not both.holds(replace(GPS_ALONE, slip="given"))
    assert rule("traps", (), 1.2, 40, 80).holds(GPS_ALONE)


def test_a_rule_reads_aloud() -> None:
    read = rule("rpm_after", ("drive is clutch", "swing_back below 0.026"), 3.9, 40, 265)
    assert str(read) == (
        "rpm_after, where drive is clutch and swing_back below 0.026: times 3.9, found from 40 cases and 265 answers"
    )
    assert str(rule("rpm_after", (), 2.6, 40, 265)).startswith("rpm_after, anywhere else: times 2.6")


def test_a_condition_is_written_as_it_is_read() -> None:
    for text in ("slip is not none", "gps_hz below 2.5", "half_width from 0.00123"):
        assert str(condition_of(text)) == text


@pytest.mark.parametrize("text", ["slip none", "gps_hz is below 3", "slip below 3", "noise from 3", "gps_hz is fast"])
def test_what_is_no_condition_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"a condition reads|asks for evidence that is not gathered so"):
        condition_of(text)


def test_evidence_is_either_a_word_or_a_number() -> None:
    shown = {name: getattr(GPS_ALONE, name) for name in (*WORDS, *NUMBERS)}
    assert set(shown) == set(Seen.__dataclass_fields__)
    assert {name for name, value in shown.items() if isinstance(value, str)} == set(WORDS)
    assert len(set(FIGURES)) == len(FIGURES)
