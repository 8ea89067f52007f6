"""A run's sheet: everything that the printed page says, on one A4, as PDF and pixels. Evidence: hand."""

from __future__ import annotations

import re
import struct
import xml.etree.ElementTree as ElementTree

import pytest

from passband.analysis.results.codec import review_from_json
from passband.web.printed.paper import as_pdf, as_png, run_paper
from passband.web.printed.review import print_parts
from passband.web.shown.car import limits_given

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def sheet(review, table, car) -> str:
    return run_paper(review_from_json(review), table, given=limits_given(car))


def test_the_sheet_says_all_that_the_printed_page_says(sheet, review, car):
    parts = print_parts(review_from_json(review), given=limits_given(car))
    drawn = {"".join(text.itertext()) for text in ElementTree.fromstring(sheet).iter(f"{SVG}text")}
    said = {line for block in (parts.head, *parts.sections, parts.foot) for line in block if line}
    assert said - drawn == set()
    assert "1 of 4 limits" in sheet or "1 of 3 limits" in sheet


def test_nothing_of_the_sheet_lies_beyond_its_edge(sheet):
    # Hand: A4 is 210 by 297 mm; a letter of this face is 0.6 of its size wide
    root = ElementTree.fromstring(sheet)
    _, _, width, height = map(float, root.get("viewBox", "").split())
    assert height / width == pytest.approx(297 / 210, rel=1e-3)
    for group in root.findall(f"{SVG}g"):
        size = float(group.get("font-size", ""))
        for text in group.iter(f"{SVG}text"):
            assert float(text.get("x", "")) + 0.6 * size * len("".join(text.itertext())) <= width
            assert float(text.get("y", "")) <= height


def test_it_becomes_one_page_of_a4(sheet):
    # Hand: 210 mm are 595.3 pt, 297 mm are 841.9 pt; at 150 to the inch 1240 by 1754 pixels
    pdf = as_pdf(sheet)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    box = [float(number) for number in re.search(rb"/MediaBox\s*\[([^\]]+)\]", pdf)[1].split()]
    assert box == pytest.approx([0, 0, 595.3, 841.9], abs=1)
    assert struct.unpack(">II", as_png(sheet)[16:24]) == pytest.approx((1240, 1754), abs=2)
