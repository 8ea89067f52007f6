"""The user's limits: planted values in, and the verdict, the worst moment and the time outside that they must give."""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.engine.channels_meant import Logged
from passband.analysis.engine.limits import check_limits
from passband.analysis.engine.limits_given import tell_bare_bounds
from passband.analysis.engine.run_times import RunTimes, Whereabouts
from passband.analysis.given.car import Condition, Curve, Limit
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.boost import BoostBasis
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.sensors.boost_trace import BoostTrace

TIMES = RunTimes(launch_s=-0.3, end_s=8.0, burnouts=((-30.0, -25.0),))
TIME = np.arange(-40.0, 20.0, 0.02)
GRID = np.arange(0.0, 8.0, 0.005)
ZERO = np.zeros(GRID.size)
MOTION = Motion(GRID, ZERO + 30, ZERO, ZERO, ZERO, 30 * GRID, ZERO, ZERO * np.nan, ZERO > 1, SpeedBasis.GPS, None, ())
GEARS = Gears(GearBasis.GIVEN, (Estimate(9.0, 0.1),), (GearInterval(1, 0.0, 3.0), GearInterval(2, 3.0, 9.0)))
WHERE = Whereabouts(MOTION, GEARS)


def channel(name, values, unit="Pa", time=TIME, header=None):
    return Channel(name, header or name, unit, unit, time, np.asarray(values, dtype=float), 50.0)


def dented(base, dent, at_s=5.0, width_s=0.5):
    """Steady but for a triangle of a given depth, `width_s` wide at its foot."""
    return base - dent * np.clip(1 - np.abs(TIME - at_s) / (width_s / 2), 0, None)


OIL = channel("oil_pressure", dented(400e3, 200e3))


def verdict(limit, *channels, boost=None, times=TIMES):
    checked = check_limits(Logged(Traces(channels), boost), [limit], WHERE, times=times)
    assert checked.findings == ()
    (got,) = checked.verdicts
    return got


def checked_alone(traces, limit):
    """The verdict on one limit, and what is told of it."""
    checked = check_limits(Logged(traces), [limit], WHERE, times=TIMES)
    (got,) = checked.verdicts
    return got, checked.findings


def oil(**rule):
    return Limit(name="oil", channel="oil_pressure", **rule)


def test_the_worst_sample_as_logged_with_margin_place_and_gear():
    got = verdict(oil(at_least="150 kPa"), OIL)
    worst = OIL.values.min()
    assert (got.verdict, got.worst, got.limit, got.side, got.unit) == ("inside", worst, 150e3, "at_least", "Pa")
    assert got.margin == worst - 150e3 and got.margin_share == pytest.approx(got.margin / 150e3)
    assert got.at_s == pytest.approx(5.0, abs=0.011) and got.gear == 2
    assert got.at_distance_m == pytest.approx(150.0, abs=0.4)
    assert got.time_outside_s == 0.0 and got.times_outside == 0


def test_time_outside_ends_between_samples():
    # Hand: a triangle 200 kPa deep and 0.5 s wide lies under 250 kPa for a quarter of its width
    got = verdict(oil(at_least="250 kPa"), OIL)
    assert got.verdict == "outside" and got.times_outside == 1
    assert got.time_outside_s == pytest.approx(0.125, abs=0.003)
    assert got.margin < 0


@pytest.mark.parametrize(("bound", "want"), [(199e3, "inside"), (206e3, "outside")])
def test_just_either_side_of_the_worst(bound, want):
    assert OIL.values[(TIME >= 0) & (TIME <= 8)].min() == pytest.approx(200e3, abs=4e3)
    assert verdict(oil(at_least=bound), OIL).verdict == want


def test_a_value_on_the_limit_is_inside():
    steady = channel("engine_speed", np.full(TIME.size, 9000.0), "rpm")
    got = verdict(Limit(name="r", channel="engine_speed", at_most="9000 rpm"), steady)
    assert got.verdict == "inside" and got.margin == 0.0


def test_missing_is_no_data_never_inside():
    got = verdict(oil(at_least=1e5))
    assert got.verdict == "no data" and got.worst is None and got.margin is None
    assert "no channel" in got.note


def test_a_dead_sensor_is_no_data():
    got = verdict(oil(at_least=1e5), channel("oil_pressure", np.full(TIME.size, np.nan)))
    assert got.verdict == "no data" and "nothing to be believed" in got.note


def test_mostly_missing_is_no_data_unless_outside():
    few = np.where((TIME > 1) & (TIME < 3), 400e3, np.nan)
    assert verdict(oil(at_least=300e3), channel("oil_pressure", few)).verdict == "no data"
    got = verdict(oil(at_least=500e3), channel("oil_pressure", few))
    assert got.verdict == "outside" and "of the time only" in got.note


def test_a_gap_is_told_and_never_counts_as_inside():
    holed = np.where(np.abs(TIME - 5.0) < 0.6, np.nan, OIL.values)
    got = verdict(oil(at_least=250e3), channel("oil_pressure", holed))
    assert got.verdict == "inside" and "85 % of the time" in got.note


def test_a_family_is_judged_by_its_worst_and_says_which():
    hot = [channel(f"exhaust_temperature_{n}", np.full(TIME.size, 1100.0 + 10 * n), "K") for n in (1, 2, 3, 4)]
    limit = Limit(name="egt", channel="exhaust_temperature", at_most="960 degC")
    got = verdict(limit, *hot)
    assert got.channel == "exhaust_temperature_4" and got.worst == 1140.0
    assert got.limit == pytest.approx(1233.15) and got.margin == pytest.approx(93.15)


def cylinders(*levels):
    """Exhaust temperatures that are steady but for one: the last rises by its triangle of 0.5 s about 5 s."""
    rise = dented(0.0, -60.0)
    values = [np.full(TIME.size, level) + (rise if n == len(levels) - 1 else 0.0) for n, level in enumerate(levels)]
    return [channel(f"exhaust_temperature_{n}", one, "K") for n, one in enumerate(values, 1)]


@pytest.mark.parametrize(
    ("bound", "bound_k"),
    [("80 degC", 80.0), ("150 degF", 83.3333), ("80 K", 80.0), (80, 80.0), ("80 delta_degC", 80.0)],
)
def test_a_limit_on_the_spread_of_exhaust_temperatures_is_a_difference(bound, bound_k):
    # Hand: 1150 - 1100 = 50 K, and 60 K more at the top of a triangle 0.5 s wide; above b for 0.5 x (110 - b) / 60 s
    hot = cylinders(1100.0, 1120.0, 1150.0)
    got = verdict(Limit(name="spread", channel="EGT spread", at_most=bound), *hot)
    worst = max(hot[2].values) - 1100.0
    assert (got.channel, got.verdict, got.worst, got.unit) == (
        "exhaust_temperature_spread",
        "outside",
        worst,
        "delta_K",
    )
    assert got.limit == pytest.approx(bound_k, abs=1e-4) and got.margin == pytest.approx(bound_k - worst, abs=1e-4)
    assert got.at_s == pytest.approx(5.0, abs=0.011) and got.gear == 2 and got.times_outside == 1
    assert got.time_outside_s == pytest.approx(0.5 * (110.0 - bound_k) / 60.0, abs=0.005)
    assert got.note == "hottest exhaust temperature 3, coldest exhaust temperature 1"
    assert len(got.margins) > 1


def test_a_spread_leaves_out_the_sensor_that_is_not_to_be_believed():
    first, second, third = cylinders(400.0, 1120.0, 1150.0)
    dead = channel(first.name, np.full(TIME.size, np.nan), "K")
    got = verdict(Limit(name="spread", channel="exhaust temperature spread", at_most="100 degC"), dead, second, third)
    assert got.verdict == "inside" and got.worst == max(third.values) - 1120.0
    assert got.note == "hottest exhaust temperature 3, coldest exhaust temperature 2, of 2 known out of 3"


def test_a_spread_between_sensors_of_which_one_lives_is_no_data():
    dead = channel("exhaust_temperature_1", np.full(TIME.size, np.nan), "K")
    got = verdict(Limit(name="spread", channel="EGT spread", at_most="80 K"), dead, cylinders(1100.0, 1150.0)[1])
    assert got.verdict == "no data" and got.unit == "delta_K" and "no two exhaust temperatures" in got.note


@pytest.mark.parametrize(("logged", "held"), [(0, "none"), (1, "only exhaust_temperature_1")])
def test_a_spread_of_fewer_than_two_is_no_data_and_a_finding(logged, held):
    traces, limit = Traces(tuple(cylinders(1100.0)[:logged])), Limit(name="s", channel="EGT spread", at_most="80 K")
    got, (finding,) = checked_alone(traces, limit)
    assert (got.verdict, got.worst, got.margin, got.channel) == ("no data", None, None, "exhaust_temperature_spread")
    assert got.note.endswith(held)
    assert (finding.code, finding.level) == ("exhaust-spread-unknown", "note") and held in finding.text


def test_a_spread_is_no_bound_in_kilopascals():
    limit = Limit(name="s", channel="EGT spread", at_most="80 kPa")
    got, (finding,) = checked_alone(Traces(tuple(cylinders(1100.0, 1150.0))), limit)
    assert got.verdict == "no data" and finding.code == "limit-not-read"
    assert "a difference of temperatures" in finding.text


def test_a_spread_serves_as_a_condition_and_as_what_a_curve_runs_against():
    hot = cylinders(1100.0, 1150.0)
    only = Condition(channel="EGT spread", at_least="100 degC")
    got = verdict(Limit(name="o", channel="oil_pressure", at_least="250 kPa", when=[only]), *hot, OIL)
    assert got.verdict == "outside" and got.at_s == pytest.approx(5.0, abs=0.011)
    curve = Curve(against="EGT spread", points=[("0 K", "100 kPa"), ("90 degF", "200 kPa")], side="at_least")
    got = verdict(oil(curve=curve), *hot, channel("oil_pressure", np.full(TIME.size, 400e3)))
    assert got.verdict == "inside" and got.limit == pytest.approx(200e3)


def test_a_dead_member_of_a_family_is_named():
    good = channel("lambda_1", np.full(TIME.size, 0.8), "")
    dead = channel("lambda_2", np.full(TIME.size, np.nan), "")
    got = verdict(Limit(name="l", channel="lambda", at_most=0.9), good, dead)
    assert got.verdict == "inside" and "lambda_2" in got.note


def test_a_users_own_words_and_an_unknown_channel():
    battery = channel("battery", np.full(TIME.size, 13.5), "V")
    assert verdict(Limit(name="b", channel="battery voltage", at_least="12.5 V"), battery).verdict == "inside"
    bottle = channel("Nitrous Bottle", np.full(TIME.size, 900.0), "psi")
    got = verdict(Limit(name="n", channel="nitrous bottle", at_least=950), bottle)
    assert got.verdict == "outside" and got.unit == "psi" and got.margin == -50.0


@pytest.mark.parametrize(
    ("during", "when_s", "want"),
    [
        ("run", 5.0, "outside"), ("run", -3.0, "inside"), ("run", 12.0, "inside"),
        ("staging", -3.0, "outside"), ("staging", -20.0, "inside"),
        ("burnout", -27.0, "outside"), ("burnout", 5.0, "inside"),
        ("after", 12.0, "outside"), ("log", -35.0, "outside"),
    ],
)  # fmt: skip
def test_each_time_of_the_run_looks_only_at_itself(during, when_s, want):
    pressure = channel("oil_pressure", dented(400e3, 300e3, at_s=when_s))
    assert verdict(oil(at_least=200e3, during=during), pressure).verdict == want


def test_no_burnout_in_the_log_is_no_data():
    got = verdict(oil(at_least=1e5, during="burnout"), OIL, times=RunTimes(-0.3, 8.0))
    assert got.verdict == "no data" and "no burnout" in got.note


def test_a_limit_counts_only_while_its_condition_holds():
    throttle = channel("throttle", np.where(TIME > 6.0, 1.0, 0.2), "")
    open_only = Condition(channel="throttle", at_least="90 %")
    assert verdict(oil(at_least=250e3, when=[open_only]), OIL, throttle).verdict == "inside"
    shut = Condition(channel="throttle", at_most="50 %")
    assert verdict(oil(at_least=250e3, when=[shut]), OIL, throttle).verdict == "outside"


def test_a_condition_that_never_holds_or_is_not_logged_is_no_data():
    throttle = channel("throttle", np.zeros(TIME.size), "")
    rule = oil(at_least=1e5, when=[Condition(channel="throttle", at_least="90 %")])
    assert "never held" in verdict(rule, OIL, throttle).note
    assert "condition" in verdict(rule, OIL).note


@pytest.mark.parametrize(("longer", "want"), [(0.1, "outside"), (0.15, "inside")])
def test_only_what_lasts_longer_counts(longer, want):
    # Planted: outside for 0.125 s
    got = verdict(oil(at_least=250e3, longer_than=longer), OIL)
    assert got.verdict == want
    assert (got.margin >= 0) == (want == "inside")


def test_a_limit_kept_for_long_tells_the_level_that_was_held():
    # Hand: held below L for 0.15 s where the triangle is 0.15 s wide: 200 + 200 x 0.15 / 0.5 = 260 kPa
    got = verdict(oil(at_least=250e3, longer_than=0.15), OIL)
    assert got.worst == pytest.approx(260e3, abs=4e3)


def test_a_curve_against_another_channel():
    speed = channel("engine_speed", 4000.0 + 500.0 * np.clip(TIME, 0, 8), "rpm")
    curve = Curve(against="engine_speed", points=[("4000 rpm", "200 kPa"), ("8000 rpm", "400 kPa")], side="at_least")
    got = verdict(oil(curve=curve), channel("oil_pressure", np.full(TIME.size, 350e3)), speed)
    # Hand: the bound is 25 kPa a second above 200; it passes 350 kPa at 6 s, and ends at 400
    assert got.verdict == "outside" and got.limit == pytest.approx(400e3, abs=600)
    assert got.time_outside_s == pytest.approx(2.0, abs=0.001)


def test_a_curve_against_nothing_is_no_data():
    curve = Curve(against="engine_speed", points=[(4000, 2e5), (8000, 4e5)], side="at_least")
    assert "its curve runs against" in verdict(oil(curve=curve), OIL).note


def test_boost_from_absolute_pressure_and_the_reverse():
    trace = BoostTrace(TIME, np.full(TIME.size, 180e3), "absolute less barometer logged", 99e3, "manifold_pressure")
    got = verdict(Limit(name="b", channel="boost", at_most="170 kPa"), boost=trace)
    assert got.verdict == "outside" and got.margin == pytest.approx(-10e3)
    got = verdict(Limit(name="m", channel="manifold_pressure", at_most="300 kPa"), boost=trace)
    assert got.verdict == "inside" and got.worst == pytest.approx(279e3)
    no_baro = BoostTrace(TIME, trace.boost_pa, BoostBasis.AS_LOGGED, None, "boost")
    assert verdict(Limit(name="m", channel="manifold_pressure", at_most=3e5), boost=no_baro).verdict == "no data"


def test_a_single_sample_is_told_as_such():
    spiked = np.full(TIME.size, 400e3)
    spiked[np.searchsorted(TIME, 4.0)] = 100e3
    got = verdict(oil(at_least=2e5), channel("oil_pressure", spiked))
    assert got.verdict == "outside" and "single sample" in got.note


def test_a_bound_of_another_kind_is_a_finding():
    got, findings = checked_alone(Traces((OIL,)), oil(at_least="90 degC"))
    assert got.verdict == "no data" and findings[0].code == "limit-not-read"


def test_units_written_otherwise_give_the_same_verdict():
    in_psi, in_bar = (verdict(oil(at_least=text), OIL) for text in ("36.2594 psi", "2.5 bar"))
    assert in_psi.margin == pytest.approx(in_bar.margin, abs=1.0)


def test_a_bound_that_cannot_be_gives_no_data_and_never_inside():
    got, (finding,) = checked_alone(Traces((OIL,)), oil(at_least=60))
    assert got.verdict == "no data" and '60 would be 60 Pa (0.0087 psi): write "60 psi"' in got.note
    assert (finding.code, finding.level) == ("limit-not-read", "caution")


def test_a_channel_that_nobody_knows_has_no_data_and_the_nearest_names_are_told():
    bottle = channel("Nitrous Bottle", np.full(TIME.size, 900.0), unit="")
    limit = Limit(name="n", channel="Nitrous Botle", at_least=850)
    got, (finding,) = checked_alone(Traces((bottle,)), limit)
    assert got.verdict == "no data" and finding.code == "limit-channel-unknown"
    assert "the nearest known is Nitrous Bottle" in finding.text


@pytest.mark.parametrize(
    ("unit", "want"), [("psi", "inside"), ("bar", "outside"), ("", "no data"), ("degC", "no data")]
)
def test_a_bound_with_a_unit_is_held_in_the_unit_of_a_header_nobody_knows(unit, want):
    # Hand: 60 bar are 870 psi, under the 900 logged; 900 bar is over them
    bottle = channel("Nitrous Bottle", np.full(TIME.size, 900.0), unit=unit)
    limit = Limit(name="n", channel="Nitrous Bottle", at_most="70 bar")
    got, _ = checked_alone(Traces((bottle,)), limit)
    assert got.verdict == want


def test_a_condition_in_words_is_a_condition():
    limit = oil(at_least=250e3, when=["throttle > 90%"])
    assert limit.when == [Condition(channel="throttle", at_least="90%")]


def test_bounds_without_a_unit_are_told_as_they_were_read():
    # Hand: 100 kPa are 14.5 psi; 950 K is 1250 degF, 677 degC
    rules = [
        oil(at_least=1e5),
        Limit(name="e", channel="EGT", at_most=950),
        Limit(name="r", channel="rpm", at_most=9000),
    ]
    (finding,) = tell_bare_bounds(rules)
    assert "oil pressure at least 100000 Pa (14.5 psi); EGT at most 950 K (1250 degF, 677 degC)" in finding.text
    assert tell_bare_bounds([oil(at_least="100 kPa")]) == []


@pytest.mark.parametrize(("bound", "want"), [(190e3, "outside"), (220e3, "no data")])
def test_a_limit_above_the_end_of_a_sensor_is_not_known_to_be_kept(bound, want):
    # Planted: a pressure that rises above what its sensor shows, 200 kPa, with noise on it
    noise = np.random.default_rng(2).normal(0.0, 1e3, TIME.size)
    cut = np.minimum(150e3 + 80e3 * np.sin(TIME) + noise, 200e3)
    found = verdict(Limit(name="MAP", channel="manifold_pressure", at_most=bound), channel("manifold_pressure", cut))
    assert found.verdict == want
    uncut = verdict(
        Limit(name="MAP", channel="manifold_pressure", at_most=260e3), channel("manifold_pressure", cut + noise)
    )
    assert uncut.verdict == "inside"
