"""From the ground to the crank: road load, rotating mass, clutch and converter, each against a hand's sum."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.power.balance import balance, integrate, road_load
from passband.analysis.power.clutch_slip import find_clutch_slip
from passband.analysis.power.driveline_series import GivenDriveline, engine_turn, read_driveline_series
from passband.analysis.power.facts import read_facts
from passband.analysis.sensors.engine_speed import read_engine_speed
from tests.analysis.planted_pull import Setup, plant

SETUP = Setup()
PULL = plant(SETUP, end_s=3.0)
FACTS = read_facts(SETUP.car(), SETUP.air())


def series_of(pull=PULL, *, converter=False):
    given = GivenDriveline(converter, SETUP.car().tire_circumference, SETUP.ratios)
    return read_driveline_series(pull.motion, pull.gears, pull.shifts, read_engine_speed(pull.traces), given)


def test_road_load_by_hand():
    # Hand: 0.6 x 0.6 x 1600 + 0.015 x 1000 x 9.80665 = 576 + 147.1
    got = road_load(np.array([40.0]), mass_kg=1000.0, drag_area_m2=0.6, rolling=0.015, density_kgpm3=1.2)
    assert got[0] == pytest.approx(723.1, abs=0.01)


def test_a_wind_from_behind_pushes_a_slow_car():
    got = road_load(np.array([2.0 - 5.0]), mass_kg=0.0, drag_area_m2=1.0, rolling=0.0, density_kgpm3=2.0)
    assert got[0] == pytest.approx(-9.0)


def test_nan_speed_gives_nan_load():
    got = road_load(np.array([np.nan, 0.0]), mass_kg=1.0, drag_area_m2=1.0, rolling=0.0, density_kgpm3=1.0)
    assert np.isnan(got[0]) and got[1] == 0.0


def test_engine_turn_of_a_ratio_of_one_is_a_turn_per_circumference():
    assert engine_turn(1.0, 2.0) == pytest.approx(np.pi)


def test_locked_in_gear_the_balance_gives_the_planted_power():
    parts = balance(series_of(), FACTS, PULL.motion.tire_speed_mps)
    still = ~series_of().settling & (PULL.motion.time_s > 0.1) & (PULL.motion.time_s < 2.9)
    # Tire speed at rest radius stands in for the true one: growth is under 0.4 % here
    np.testing.assert_allclose(parts.brake_w[still], SETUP.power_w, rtol=0.01)


def test_a_slipping_clutch_counts_its_heat_as_the_engines_work():
    series = series_of()
    faster = replace(series, engine_rad_per_s=1.2 * series.engine_rad_per_s, slipping=~series.shifting)
    plain, slid = (balance(c, FACTS, PULL.motion.tire_speed_mps) for c in (series, faster))
    where = slice(20, 80)
    np.testing.assert_allclose(slid.clutch_w[where], 1.2 * plain.clutch_w[where], rtol=0.02)
    np.testing.assert_allclose(slid.ground_w, plain.ground_w)


def test_a_converter_multiplies_torque_and_so_asks_less_of_the_engine():
    series = series_of()
    slow = replace(series, engine_rad_per_s=2.0 * series.engine_rad_per_s, slipping=~series.shifting)
    as_clutch = balance(slow, FACTS, PULL.motion.tire_speed_mps)
    as_converter = balance(replace(slow, converter=True), FACTS, PULL.motion.tire_speed_mps, stall_ratio=1.8)
    # Hand: at a speed ratio of a half, 1.8 - 0.8 x 0.5 / 0.88 = 1.345
    ratio = as_clutch.clutch_w[40] / as_converter.clutch_w[40]
    assert ratio == pytest.approx(1.345, abs=0.01)


def test_a_wheel_scaled_by_another_tire_is_found_out():
    wrong = replace(PULL, motion=replace(PULL.motion, tire_speed_mps=1.3 * PULL.motion.tire_speed_mps))
    got, want = series_of(wrong), series_of()
    late = slice(-150, -100)
    np.testing.assert_allclose(got.surface_mps[late], want.surface_mps[late], rtol=0.04)  # a road tire may slip more
    assert not got.slipping[late].any()


def test_spin_through_the_whole_pull_is_not_believed():
    odd = replace(PULL, motion=replace(PULL.motion, spinning=np.ones(PULL.motion.time_s.size, dtype=bool)))
    assert not series_of(odd).spinning.any()


def test_tires_that_come_to_grip_at_the_end_had_spun_until_then():
    motion = PULL.motion
    spinning = motion.time_s < 0.75 * motion.time_s[-1]
    assert series_of(replace(PULL, motion=replace(motion, spinning=spinning))).spinning.any()


@pytest.mark.parametrize(
    ("shift", "lasts_s", "spun", "slips"),
    [(0, 0.3, False, False), (0, 0.3, True, True), (0, 0.7, False, True), (None, 0.3, False, True)],
)
def test_a_clutch_slips_amid_a_gear_after_wheelspin_or_for_long(shift, lasts_s, spun, slips):
    # Planted: the engine runs a tenth above its gear, in first or amid second; after wheelspin or after nothing
    start = 0.4 if shift is None else PULL.shifts[shift].end_s + 0.5
    time, (engine,) = PULL.motion.time_s, PULL.traces.channels
    above = (engine.time_s > start) & (engine.time_s < start + lasts_s)
    traces = replace(PULL.traces, channels=(replace(engine, values=np.where(above, 1.1, 1.0) * engine.values),))
    spinning = (time > start - 0.1) & (time <= start + 0.02) & spun
    series = series_of(replace(PULL, motion=replace(PULL.motion, spinning=spinning), traces=traces))
    assert series.slipping[(time > start + 0.05) & (time < start + lasts_s - 0.05)].all() == slips
    told = find_clutch_slip(replace(series, end_s=PULL.end_s))
    assert bool(told) == (slips and not spun)
    if told:
        assert told[0].start_s == pytest.approx(start, abs=0.02) and told[0].share == pytest.approx(0.1, abs=0.02)


def test_without_gears_the_engine_is_taken_as_locked():
    series = read_driveline_series(
        PULL.motion, None, (), read_engine_speed(PULL.traces), GivenDriveline(circumference_m=2.0)
    )
    assert not series.slipping.any() and np.isnan(series.turns_rad_per_m).all()
    assert np.isfinite(balance(series, FACTS, PULL.motion.speed_mps).brake_w).all()


def test_integrals_between_samples_and_outside():
    time, ones = np.array([0.0, 1.0, 2.0]), np.ones(3)
    assert integrate(time, ones, start_s=0.25, stop_s=1.5) == pytest.approx(1.25)
    assert integrate(time, ones, start_s=-1.0, stop_s=9.0) == pytest.approx(2.0)
    assert integrate(time, ones, start_s=3.0, stop_s=4.0) == 0.0
    assert np.isnan(integrate(time, np.array([1.0, np.nan, 1.0]), start_s=0.0, stop_s=2.0))


@pytest.mark.parametrize(("kept", "felt", "at_once"), [(0.95, True, True), (0.7, True, False), (0.95, False, False)])
def test_packs_that_hand_over_under_power_take_it_up_as_the_shift_starts(kept, felt, at_once):
    # Planted: the car keeps so much of its pull through its first shift
    shift, motion = PULL.shifts[0], PULL.motion
    pull = float(np.interp(shift.time_s - 0.1, motion.time_s, motion.acceleration_mps2))
    near = (motion.time_s > shift.time_s - 0.06) & (motion.time_s < shift.end_s + 0.06)
    pulled = replace(motion, acceleration_mps2=np.where(near, kept * pull, motion.acceleration_mps2))
    given = GivenDriveline(circumference_m=2.0)
    engine = read_engine_speed(PULL.traces)
    series = read_driveline_series(pulled, PULL.gears, PULL.shifts, engine, given, felt=felt)
    early = shift.time_s + 0.25 * (shift.end_s - shift.time_s)
    assert (series.gear[np.searchsorted(series.time_s, early)] == shift.to_gear) == at_once
