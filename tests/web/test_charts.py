"""The specification of the charts. Evidence: Vega-Lite's own compiler, and planted differences."""

import copy
import json
from collections import Counter

import polars as pl
import pytest
import vl_convert

from passband.web.drawn.charts import overlay
from tests.analysis.sparse_review import read


@pytest.fixture
def slower(review, table):
    other = copy.deepcopy(review)
    other["run"]["label"] = "Q3"
    return other, table.with_columns(pl.col("time_s") * 1.01)


def signals(vega: object) -> list[str]:
    if isinstance(vega, dict):
        own = [one["name"] for one in vega.get("signals", [])]
        return own + [name for value in vega.values() for name in signals(value)]
    return [name for one in vega for name in signals(one)] if isinstance(vega, list) else []


def test_the_specification_compiles_and_names_no_signal_twice(review, table, slower):
    # Vega-Lite's own compiler; a name used twice stops the drawing in the browser though the schema lets it pass
    vega = vl_convert.vegalite_to_vega(overlay([read(review), read(slower[0])], [table, slower[1]]))
    twice = [name for name, count in Counter(signals(vega)).items() if count > 1]
    assert twice == []


def test_panels_stand_in_order_and_name_their_units(review, table, slower):
    told = overlay([read(review), read(slower[0])], [table, slower[1]], units="metric")["usermeta"]["panels"]
    assert [(one["data"], one["unit"]) for one in told] == [
        ("engine_speed", "rpm"),
        ("boost", "kPa"),
        ("speed_mps", "km/h"),
        ("difference", "s"),
    ]


def test_the_difference_is_what_was_planted(review, table, slower):
    # Planted: all times 1 % longer, so 0.108 s at the line
    rows = overlay([read(review), read(slower[0])], [table, slower[1]])["datasets"]["difference"]
    assert rows[-1]["ft"] == pytest.approx(1318, abs=4)
    assert rows[-1]["y"] == pytest.approx(0.108, abs=0.002)


def test_one_run_alone_has_no_difference(review, table):
    assert "difference" not in overlay([read(review)], [table])["datasets"]


def test_a_channel_that_no_run_has_is_left_out(review, table):
    assert list(overlay([read(review)], [table], ["boost", "lambda"])["datasets"]) == ["boost", "speed_mps"]


@pytest.mark.parametrize(("units", "label", "shown"), [("metric", "K", 92.4), ("us", "°F", 166.3)])
def test_a_spread_of_temperatures_is_drawn_as_a_difference(review, table, units, label, shown):
    # Hand: 92.4 K of difference are 166.32 degF of it
    with_spread = table.with_columns(exhaust_temperature_spread=pl.lit(92.4))
    told = overlay([read(review)], [with_spread], ["exhaust_temperature_spread"], units=units)
    panel = told["usermeta"]["panels"][0]
    assert (panel["title"], panel["unit"]) == ("Exhaust temperature spread", label)
    assert {row["y"] for row in told["datasets"]["exhaust_temperature_spread"]} == {shown}


def test_a_thinned_line_says_so_and_keeps_its_peak(review, table):
    told = overlay([read(review)], [table], ["engine_speed"])
    rows = told["datasets"]["engine_speed"]
    assert len(rows) <= 600
    assert "600 points" in told["usermeta"]["thinned"]
    on_track = table.filter(pl.col("distance_m").is_between(0, 402.336))
    assert max(row["y"] for row in rows) == pytest.approx(on_track["engine_speed"].max(), abs=0.1)


def test_a_hole_stays_a_hole(review, table):
    holed = table.with_columns(boost=pl.when(pl.col("time_s").is_between(6, 6.5)).then(None).otherwise(pl.col("boost")))
    rows = overlay([read(review)], [holed])["datasets"]["boost"]
    assert sum(row["y"] is None for row in rows) == 1
    assert "NaN" not in json.dumps(rows)


def test_runs_of_one_name_are_told_apart(review, table):
    told = overlay([read(review), read(review)], [table, table])
    assert told["usermeta"]["runs"] == ["Q2 left lane (1)", "Q2 left lane (2)"]


def test_lines_differ_by_dash_as_well_as_by_colour(review, table, slower):
    line = overlay([read(review), read(slower[0])], [table, slower[1]])["vconcat"][0]["layer"][-1]["encoding"]
    assert line["strokeDash"]["field"] == line["color"]["field"] == "run"


def test_a_table_for_each_run_is_asked_for(review, table):
    with pytest.raises(ValueError, match="one table for each run"):
        overlay([read(review)], [])
