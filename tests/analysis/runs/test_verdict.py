"""Three plain sentences from a review's JSON: every branch, both systems of units."""

import copy

import pytest

from passband.analysis.runs.verdict import verdict_lines
from tests.analysis.sparse_review import read

LIMIT = {
    "name": "oil pressure", "channel": "oil_pressure", "verdict": "inside", "worst": 410e3, "unit": "Pa",
    "limit": 250e3, "side": "at_least", "margin": 160e3, "margin_share": 0.64, "at_s": 1.7, "at_distance_m": 10.0,
    "gear": 1, "time_outside_s": 0.0, "times_outside": 0, "note": "",
}  # fmt: skip
RUN = {
    "window": {"outcome": "quarter"},
    "limits": [LIMIT, LIMIT | {"name": "rpm", "channel": "engine_speed", "unit": "rpm", "worst": 8614.0,
                               "limit": 9100.0, "margin": 486.0, "margin_share": 0.053}],
    "band": {"low_rpm": 6200.0, "high_rpm": 8600.0, "share_in": 0.81, "time_below_s": 2.03, "time_above_s": 0.0},
    "boost": {"threshold_pa": 150e3, "first_reached_s": 5.6, "share_above": 0.39, "highest_pa": 207e3,
              "dips": [{"start_s": 7.2, "lowest_pa": -68e3, "shift": 0, "cause": "shift"}]},
    "shifts": [{"from_gear": 3, "to_gear": 4, "margin_to_band_low_rpm": -95.0}],
    "power": {"average_w": {"value": 289e3, "plus_minus": 3e3}},
    "air": {"density_kgpm3": {"value": 1.18, "plus_minus": 0.005}},
}  # fmt: skip


def lines_of(run, best=None, **units):
    return verdict_lines(read(run), read(best) if best is not None else None, **units)


def changed(**parts):
    return copy.deepcopy(RUN) | parts


def with_power(watts, density=1.18):
    return changed(
        power={"average_w": {"value": watts, "plus_minus": 3e3}},
        air={"density_kgpm3": {"value": density, "plus_minus": 0.005}},
    )


def test_inside_tells_the_nearest_limit():
    limits, _, _ = lines_of(RUN)
    assert limits == "Inside all 2 limits; nearest: rpm, 8614 rpm against 9100 rpm."


def test_outside_comes_first_and_says_to_inspect():
    bad = LIMIT | {"verdict": "outside", "worst": 180e3, "margin": -70e3, "margin_share": -0.28, "time_outside_s": 0.4}
    limits, _, _ = lines_of(changed(limits=[LIMIT, bad]))
    assert limits == (
        "1 of 2 limits broken: oil pressure 180 kPa against 250 kPa at 1.70 s in gear 1, 0.40 s in all. "
        "Stop and inspect before another run. 1 inside."
    )


@pytest.mark.parametrize(("units", "told"), [("metric", "92.4 K against 80.0 K"), ("us", "166 degF against 144 degF")])
def test_a_spread_of_temperatures_is_told_as_a_difference(units, told):
    # Hand: 92.4 K of difference are 166.3 degF of it, 80 K are 144 degF
    spread = LIMIT | {
        "name": "EGT spread", "channel": "exhaust_temperature_spread", "unit": "delta_K", "worst": 92.4, "limit": 80.0,
        "side": "at_most", "margin": -12.4, "margin_share": -0.155, "verdict": "outside", "time_outside_s": 0.4,
    }  # fmt: skip
    limits, _, _ = lines_of(changed(limits=[spread]), units=units)
    assert f"EGT spread {told} at 1.70 s in gear 1" in limits


def test_no_data_is_never_inside():
    silent = LIMIT | {"verdict": "no data", "worst": None, "limit": None, "margin": None, "margin_share": None}
    limits, _, _ = lines_of(changed(limits=[LIMIT, silent | {"name": "fuel pressure"}]))
    assert limits.startswith("1 of 2 limits inside, 1 without data (fuel pressure); nearest: oil pressure")
    broken = LIMIT | {"verdict": "outside", "margin": -1.0, "margin_share": -0.1, "time_outside_s": 0.1}
    limits, _, _ = lines_of(changed(limits=[LIMIT, broken, silent | {"name": "fuel pressure"}]))
    assert limits.startswith("1 of 3 limits broken: ") and limits.endswith("1 inside, 1 without data (fuel pressure).")
    limits, _, _ = lines_of(changed(limits=[silent]))
    assert limits == "No data for any of the limits set (1): none could be checked."
    limits, _, _ = lines_of(changed(limits=[]))
    assert "No limits are set" in limits


def test_band_and_boost_say_where_and_how_much():
    _, middle, _ = lines_of(RUN)
    assert (
        "in its 6200 to 8600 rpm band for 81 % of the time, 2.03 s below; it fell under it on shift 3-4 by 95 rpm."
        in middle
    )
    assert "150 kPa threshold for 39 % of the time, with 1 dip, the deepest to -68 kPa at 7.20 s (shift 3-4)." in middle


def test_band_and_boost_unknown_or_never_left():
    band = RUN["band"] | {"share_in": 1.0, "time_below_s": 0.0}
    _, middle, _ = lines_of(changed(band=band, boost=None))
    assert middle == "The engine stayed in its 6200 to 8600 rpm band. Boost was not held against a threshold."
    _, middle, _ = lines_of(changed(band=None, boost=RUN["boost"] | {"first_reached_s": None}))
    assert middle.startswith("No RPM band") and "never reached the 150 kPa threshold; the highest was 207 kPa" in middle
    _, middle, _ = lines_of(changed(boost=RUN["boost"] | {"dips": []}))
    assert middle.endswith("without a dip once it was reached at 5.60 s.")


def test_no_band_and_no_boost_say_why_in_few_words():
    lost = {"band": {"code": "distance-by-slip-alone", "level": "caution", "text": "No speed.", "where": ""},
            "boost": {"code": "boost-without-barometer", "level": "caution", "text": "None.", "where": ""}}  # fmt: skip
    _, middle, _ = lines_of(changed(band=None, boost=None, unknown=lost))
    assert middle == (
        "No RPM band could be held against the run: no log shows how the car moved. "
        "Boost was not held against a threshold: the air's own pressure is not known."
    )
    _, middle, _ = lines_of(changed(boost=RUN["boost"] | {"threshold_pa": None}))
    assert middle.endswith("Boost was not held against a threshold: none is given with the car.")


@pytest.mark.parametrize(
    ("best", "words"),
    [
        (None, "289 kW give or take 3, clock start to finish."),
        (with_power(291e3), "no different from the weekend's best"),
        (with_power(320e3), "31 kW less than the weekend's best"),
        (with_power(260e3), "29 kW more than the weekend's best"),
        (with_power(320e3, density=1.10), "in other air and is no measure"),
        (changed(power=None), "clock start to finish."),
    ],
)
def test_power_is_held_against_the_best_only_in_the_same_air(best, words):
    assert words in lines_of(RUN, best)[2]


def test_power_unknown_says_where_to_look():
    assert "not known" in lines_of(changed(power=None))[2]
    assert "the run's end" in lines_of(changed(window={"outcome": "aborted"}))[2]


def test_a_verdict_is_told_in_us_units_where_they_are_asked_for():
    # Hand: 289 kW / 0.7457 = 387.6 hp; 150 kPa / 6.8948 = 21.8 psi
    lines = lines_of(RUN, units="us")
    assert "388 hp" in lines[2] and "21.8 psi" in lines[1]
    bad = LIMIT | {
        "verdict": "outside",
        "channel": "coolant_temperature",
        "worst": 383.15,
        "limit": 378.15,
        "unit": "K",
    }
    assert "230 degF against 221 degF" in lines_of(changed(limits=[bad]), units="us")[0]


def test_power_at_the_wheels_stands_where_that_at_the_flywheel_is_not_known():
    # Hand: 134 kW are 179.7 hp
    why = {
        "code": "power-by-slip-alone",
        "level": "caution",
        "text": "No log shows how it moved. Log a speed.",
        "where": "",
    }
    told = changed(
        power={"average_w": None, "average_wheel_w": {"value": 134e3, "plus_minus": 4e3}},
        unknown={"power.average_w": why},
    )
    _, _, power = lines_of(told, units="us")
    assert power == (
        "Average power at the wheels 180 hp give or take 5, clock start to finish. No log shows how it moved."
    )


def test_without_any_power_the_reason_is_said():
    why = {"code": "mass-missing", "level": "note", "text": "The mass was not given: weigh the car.", "where": ""}
    _, _, power = lines_of(changed(power=None, unknown={"power": why}))
    assert power == "Average power is not known. The mass was not given: weigh the car."
