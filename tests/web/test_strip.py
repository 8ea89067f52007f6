"""The strip. Evidence: planted, the review and traces of conftest."""

import xml.etree.ElementTree as ElementTree
from itertools import pairwise

import pytest

from passband.web.drawn.lane import lane_of
from passband.web.drawn.strip import strip_svg, strip_text, strips_svg
from tests.analysis.sparse_review import read

SVG = "{http://www.w3.org/2000/svg}"


def drawn(svg: str, name: str) -> list[ElementTree.Element]:
    return [one for one in ElementTree.fromstring(svg).iter() if one.get("class") == name]


def test_each_shift_is_a_numbered_flag(review, table):
    assert [one.text for one in drawn(strip_svg(read(review), table), "s-flag-no")] == ["1", "2", "3", "4"]


def test_the_band_is_told_by_place_and_pattern_not_by_colour_alone(review, table):
    svg = strip_svg(read(review), table)
    blocks = {name: drawn(svg, f"s-{name}")[0] for name in ("inside", "under", "over")}
    assert float(blocks["over"].get("y")) < float(blocks["inside"].get("y")) < float(blocks["under"].get("y"))
    assert len({blocks[name].get("fill") for name in blocks}) == 3


def test_the_band_covers_the_track_without_gap_or_overlap(review, table):
    stretches = lane_of(read(review), table).band
    edges = [(one.start_ft, one.end_ft) for one in stretches]
    assert all(a[1] == pytest.approx(b[0]) for a, b in pairwise(edges))
    assert edges[0][0] == pytest.approx(0, abs=2)
    assert edges[-1][1] == pytest.approx(1320, abs=2)


def test_boost_is_drawn_between_first_reached_and_finish_but_for_the_dips(review, table):
    # Hand: first reached at 5.578 s, two dips, so three stretches, the last one up to the line
    boost = lane_of(read(review), table).boost
    assert len(boost) == 3
    assert boost[-1].end_ft == pytest.approx(1320, abs=1)


def test_a_limit_passed_stands_where_it_was_worst(review, table):
    passed = lane_of(read(review), table).passed
    assert [(spot.sign, round(spot.at_ft)) for spot in passed] == [("A", 670)]
    assert "A outside: Oil pressure under power" in "".join(
        ElementTree.fromstring(strip_svg(read(review), table)).itertext()
    )


def test_the_margin_of_a_limit_passed_dips_under_its_line_where_it_was_passed(review, table):
    # Planted: inside but for one piece, so the drawn line is above the limit's but for one place
    line = lane_of(read(review), table).margins[0]
    assert (line.sign, line.text) == ("A", "Oil pressure under power")
    assert [share < 0 for _, share in line.points].count(True) == 1
    assert len(drawn(strip_svg(read(review), table), "s-beyond")) == 2


def test_where_no_limit_was_passed_the_nearest_one_is_drawn(review, table):
    # Hand: coolant came within 15 of 378 K, engine speed within 489 of 9100 rpm
    review["limits"] = [limit for limit in review["limits"] if limit["verdict"] == "inside"]
    assert [line.text for line in lane_of(read(review), table).margins] == ["Coolant at the finish"]


def test_the_picture_says_in_words_what_it_shows(review, table):
    told = ElementTree.fromstring(strip_svg(read(review), table)).find(f"{SVG}desc").text
    for words in (
        "Under from",
        "Over from",
        "Boost at or above 21.8 psi",
        "Shift 3, gear 3 to 4",
        "Wheelspin",
        "Limit",
    ):
        assert words.lower() in told.lower()


def test_what_is_not_known_is_said_and_not_drawn(review):
    review |= {"band": None, "boost": None, "distance": None, "shifts": [], "limits": []}
    svg = strip_svg(read(review), None)
    assert not drawn(svg, "s-inside")[1:]  # the key's one block only
    assert "not drawn" in "".join(ElementTree.fromstring(svg).itertext())


def test_shifts_close_together_do_not_cover_each_other(review, table):
    for place, shift in enumerate(review["shifts"]):
        shift["distance_m"] = 40.0 + place
    tops = [
        one.get("y") for one in ElementTree.fromstring(strip_svg(read(review), table)).iter(f"{SVG}svg") if one.get("y")
    ]
    assert len(set(tops)) > 1


def test_limits_passed_at_one_place_do_not_cover_each_other(review, table):
    for limit in review["limits"][:3]:
        limit["verdict"] = "outside"
    middles = [
        one.get("y")
        for one in ElementTree.fromstring(strip_svg(read(review), table)).iter(f"{SVG}svg")
        if one.find(f"{SVG}path[@class='s-passed']") is not None
    ]
    assert len(set(middles)) == 3


def test_several_runs_are_lanes_of_one_scale(review, table):
    svg = strips_svg([read(review), read(review)], [table, None])
    assert [one.text[:12] for one in drawn(svg, "s-title")] == ["Q2 left lane"] * 2


def test_names_are_escaped(review, table):
    review["run"]["label"] = '<script>alert("x")</script>'
    review["limits"][1]["name"] = "<img src=x>"
    svg = strips_svg([read(review), read(review)], [table, table])
    assert "<script" not in svg
    assert "<img" not in svg


def test_a_table_for_each_run_is_asked_for(review):
    with pytest.raises(ValueError, match="one table for each run"):
        strips_svg([read(review)], [])


def test_the_text_strip_shows_the_same_by_signs(review, table):
    lines = strip_text(read(review), table, width=72).splitlines()
    rows = {line.split()[0]: line[6:] for line in lines if line[:1] != " "}
    assert rows["shift"].split() == ["1", "2", "3", "4"]
    assert rows["band"].startswith("_")
    assert set(rows["band"]) == {"_", "=", "^"}
    assert set(rows["boost"]) == {".", "#"}
    assert rows["ET"].split()[-1] == "10.813"
    assert max(map(len, lines)) <= 80


def test_what_stands_below_is_wrapped_for_a_phone_and_whole_where_there_is_room(review):
    svg = strip_svg(read(review))  # without a table the band's line is longer than a phone's
    narrow, wide = ("".join(drawn(svg, name)[0].itertext()) for name in ("s-narrow", "s-wide"))
    assert narrow.replace(" ", "") == wide.replace(" ", "") and "not drawn: the channels are not at hand" in wide
    assert drawn(svg, "s-wide")[0].get("display") == "none"  # unless a style shows it
    assert max(len(one.text or "") for one in drawn(svg, "s-narrow")[0]) <= 39
