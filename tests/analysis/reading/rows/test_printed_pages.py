"""Tests of heads and feet of pages among rows."""

from __future__ import annotations

import re

from passband.analysis.reading.rows.printed_pages import without_page_heads
from passband.analysis.reading.text.encoding import read_text

PAGE = "run 3\nTime RPM\n" + "0.1 900\n" * 20 + "Page {}\n"


def without(lines: str) -> list[str]:
    text = read_text(lines.encode(), name="page.txt")
    return without_page_heads(text, lambda line: bool(re.fullmatch(r"[\d. ]+", line))).data.decode().split("\n")


def test_what_each_page_prints_is_taken_out():
    lines = without("".join(PAGE.format(at) for at in range(1, 9)))
    assert len(lines) == 2 + 8 * 20 + 1 and lines[:5] == [
        "run 3", "Time RPM", "0.1 900", "0.1 900", "0.1 900"
    ]  # fmt: skip


def test_a_line_that_stands_once_is_kept_with_all_others():
    lines = "Time RPM\n" + "0.1 900\n" * 40 + "Time RPM\n" + "0.1 900\n" * 40 + "pulled early\n"
    assert without(lines) == lines.split("\n")


def test_rows_whose_line_ends_are_of_two_kinds_are_rows():
    # Planted: every row of the second half ends as another system ends it
    half = "".join(PAGE.format(at) for at in range(1, 5))
    lines = without(half + half.replace("900\n", "900\r\n"))
    assert len(lines) == 2 + 8 * 20 + 1 and not any("\r" in line for line in lines)
