"""An event's sheet on one A4 lying across. Evidence: hand."""

from __future__ import annotations

import re
import struct
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import pytest

from passband.analysis.runs.season_sheet import SeasonSheet
from passband.analysis.runs.summary import LimitCounts
from passband.web.printed.paper import as_pdf, as_png
from passband.web.printed.paper_event import event_paper
from passband.web.sheets.season import EventShown, season
from tests.web.conftest import RUN

SVG = "{http://www.w3.org/2000/svg}"
VERDICTS = LimitCounts(inside=3, outside=1, no_data=0)


def sheet_of(runs: int) -> EventShown:
    """Runs of which every third has a fault; the second is the best."""
    rows = [
        {"label": f"Round {number} of the long night", "faults": "missed shift 2-3" if number % 3 == 0 else "",
         "elapsed_time_s": 9.5 + number / 100, "t60_s": 1.4 + number / 1000, "notes": f"spring {number} <&>"}
        for number in range(runs)
    ]  # fmt: skip
    shown = tuple(
        replace(RUN, id=f"run{number}", summary=replace(RUN.summary, limits=VERDICTS)) for number in range(runs)
    )
    return EventShown("Winter Meet", shown, SeasonSheet((), tuple(rows), None, ()), (None,) * runs, ("run1",))


def lines_of(sheet: str) -> list[str]:
    return ["".join(text.itertext()) for text in ElementTree.fromstring(sheet).iter(f"{SVG}text")]


@pytest.mark.parametrize("runs", [1, 5, 16, 17, 40])
def test_every_run_and_figure_is_on_it_and_nothing_beyond_its_edge(runs):
    # Hand: A4 lying is 297 by 210 mm; a letter of this face is 0.6 of its size wide
    sheet = event_paper("Winter Meet", season(sheet_of(runs), "us"))
    root = ElementTree.fromstring(sheet)
    _, _, width, height = map(float, root.get("viewBox", "").split())
    assert width / height == pytest.approx(297 / 210, rel=1e-3)
    for group in root.findall(f"{SVG}g"):
        size = float(group.get("font-size", ""))
        for text in group.iter(f"{SVG}text"):
            assert float(text.get("x", "")) + 0.6 * size * len("".join(text.itertext())) <= width
            assert float(text.get("y", "")) <= height
    said = " ".join(lines_of(sheet))
    for number in range(runs):
        assert f"{9.5 + number / 100:.3f}" in said
        assert f"spring {number} <&>" in re.sub(r"\s+", " ", said)


def test_the_best_and_the_faulty_are_marked_by_shape_and_in_words():
    lines = lines_of(event_paper("Winter Meet", season(sheet_of(4), "us")))
    marks = next(line for line in lines if "★" in line and "best" not in line)
    assert marks.count("★") == 1
    assert marks.count("◆") == 2
    assert marks.index("★") > marks.index("◆")  # the first run has a fault, the second is the best
    assert re.sub(r"\s+", " ", " ".join(lines)).count("◆ missed shift 2-3") == 2


def test_it_becomes_one_page_of_a4_lying_across():
    # Hand: 297 mm are 841.9 pt, 210 mm are 595.3 pt; at 150 to the inch 1754 by 1240 pixels
    sheet = event_paper("Winter Meet", season(sheet_of(9), "metric"))
    pdf = as_pdf(sheet)
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    box = [float(number) for number in re.search(rb"/MediaBox\s*\[([^\]]+)\]", pdf)[1].split()]
    assert box == pytest.approx([0, 0, 841.9, 595.3], abs=1)
    assert struct.unpack(">II", as_png(sheet)[16:24]) == pytest.approx((1754, 1240), abs=2)
