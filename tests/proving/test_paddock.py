"""The paddock: its physics held against laws it does not use, its devices against sums by hand, its cases against ours.

Hand: work and energy, distance as the integral of speed, engine speed by the gears. Planted: its own runs.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.proving.cases import KINDS_OF, PADDOCK, make_case, review_case
from tests.proving.paddock import case as writing
from tests.proving.paddock.case import draws_of, write_paddock
from tests.proving.paddock.devices import Wheel
from tests.proving.paddock.draw import draw_car
from tests.proving.paddock.drive import Driven, drive
from tests.proving.paddock.kinds import KINDS
from tests.proving.paddock.recording import Recorded
from tests.proving.paddock.sensing import crank_speed, filtered, held, tooth_speed
from tests.proving.paddock.specs import Day
from tests.proving.paddock.true_run import true_run
from tests.proving.scoring import pair_shifts

STILL_AIR = Day(20.0, 101.3, 50.0, 1.2, 1.0, 0.0)
PER_RPM = np.pi / 30.0
QUICK_KINDS = ("sequential_flagged", "packs_all_driven", "two_speed_slicks", "bike_by_foot")


@pytest.fixture(scope="module", params=QUICK_KINDS)
def driven(request) -> Driven:
    rng = draws_of(request.param, 61)
    car = draw_car(KINDS[request.param].car, rng).car
    return drive(car, STILL_AIR, rng)


@pytest.fixture(scope="module")
def true(driven):
    return true_run(driven, 0.0)


def pulling(driven: Driven) -> np.ndarray:
    time, way = driven.of["time_s"], driven.of["way_m"]
    return (time >= 0.0) & (way <= 402.336)


def test_the_tires_work_is_kinetic_energy_and_what_air_and_rolling_took(driven):
    # Hand: force times way = 1/2 m v^2 (free wheels' spin counted) + (1/2 rho cdA w^2 + rolling) v dt; w is 0.3 m/s
    # gusts from v, and fuel burnt makes the car some 0.1 % lighter
    body, of = driven.spec.body, driven.of
    inside = pulling(driven)
    speed = of["speed_mps"][inside]
    work = np.sum(of["tire_n"][inside] * speed) * 1e-3
    moved_kg = body.mass_kg + body.free_kgm2 / body.free_m**2
    at_rest, faster = body.rolling
    rolling_n = body.mass_kg * 9.80665 * (at_rest + faster * (speed / 100.0) ** 2)
    took = np.sum((0.5 * 1.2 * body.drag_area_m2 * speed**2 + rolling_n) * speed) * 1e-3
    assert work == pytest.approx(0.5 * moved_kg * speed[-1] ** 2 + took, rel=0.01)


def test_energy_from_crank_to_ground_is_all_accounted_for(driven):
    # Hand: what the crank gave, and had, is in heat of clutch, gears, shafts and tires, in the car, or still turning
    books = driven.books
    spent = books.slipping + books.mesh + books.damping + books.tire + books.ground + books.kinetic
    assert books.crank + books.at_release == pytest.approx(spent, rel=0.005)


def test_way_is_the_integral_of_speed(driven, true):
    way = np.cumsum(driven.of["speed_mps"]) * 1e-3 - driven.spec.rollout_m
    assert np.max(np.abs(way - driven.of["way_m"])) < 0.05
    crossed = np.interp([0.0, 18.288, 402.336], way, driven.of["time_s"])
    assert true["clock_start"] == pytest.approx(crossed[0], abs=0.01)
    assert true["splits"]["60ft"] == pytest.approx(crossed[1] - crossed[0], abs=0.01)
    assert true["splits"]["1320ft"] == pytest.approx(crossed[2] - crossed[0], abs=0.01)


def test_the_trap_speed_lies_within_the_speeds_it_is_the_mean_of(driven, true):
    inside = (driven.of["way_m"] > 382.0) & (driven.of["way_m"] < 402.4)
    speeds = driven.of["speed_mps"][inside]
    assert speeds.min() < true["trap_speeds"]["1320ft"] < speeds.max()


def test_between_shifts_engine_and_wheels_turn_by_the_gear_told(driven, true):
    # Hand: rpm = wheel's turns a minute times ratio and final drive; a converter slips, shafts wind up by less than 1 %
    of, box = driven.of, driven.spec.box
    overall = np.array(box.ratios)[np.maximum(of["gear"].astype(int), 1) - 1] * box.final
    share = of["engine_rads"] / np.maximum(of["wheel_rads"] * overall, 1.0)
    between = pulling(driven) & (of["time_s"] > 2.5) & (of["gear"] > 0)
    for shift in true["shifts"]:
        between &= (of["time_s"] < shift["time_start"] - 0.05) | (of["time_s"] > shift["torque_restored"] + 0.2)
    if driven.spec.take_up.kind == "converter":
        assert 1.01 < np.median(share[between]) < 1.3
    else:
        assert np.quantile(np.abs(share[between] - 1.0), 0.99) < 0.02


def test_engine_speed_at_a_shift_goes_by_the_wheels_before_and_after(driven, true):
    # Hand: the engine turns the wheels by the old gear where the shift starts, and by the new one where it is lowest,
    # shafts wound up by less than a tenth then; a converter lets it stay anywhere between the two
    of, box, converter = driven.of, driven.spec.box, driven.spec.take_up.kind == "converter"
    assert [shift["from"] for shift in true["shifts"]] == list(range(1, len(true["shifts"]) + 1))
    for shift in true["shifts"]:
        during = (of["time_s"] >= shift["time_start"]) & (of["time_s"] <= shift["time_end"] + 0.15)
        at_s = shift["time_start"], of["time_s"][during][np.argmin(of["engine_rads"][during])]
        wheel_rpm = np.interp(at_s, of["time_s"], of["wheel_rads"]) / PER_RPM
        old, new = (box.ratios[shift[which] - 1] * box.final for which in ("from", "to"))
        assert 0.985 * wheel_rpm[0] * old < shift["rpm_before"] < (1.25 if converter else 1.01) * wheel_rpm[0] * old
        most = shift["rpm_before"] if converter else 1.1 * wheel_rpm[1] * new
        assert 0.9 * wheel_rpm[1] * new < shift["rpm_after"] < most
        assert shift["rpm_drop"] == pytest.approx(shift["rpm_before"] - shift["rpm_after"])


def test_a_shift_begins_where_drive_still_is_and_soon_is_not(driven, true):
    # By definition: until it begins, what gear and crank give is whole; a cut or a lift takes the crank's away within
    # 0.15 s, packs the old gear's by the shift's end
    of, by_clutch = driven.of, driven.spec.take_up.kind == "clutch"
    for shift in true["shifts"]:
        begins, ends = np.searchsorted(of["time_s"], [shift["time_start"], shift["time_end"]])
        for given in ("gear_nm", "engine_nm") if by_clutch else ("engine_nm",):
            assert of[given][begins - 5 : begins].mean() > 0.85 * of[given][begins - 30 : begins - 10].mean()
        given, until = ("engine_nm", begins + 150) if by_clutch else ("pull_nm", ends + 1)
        assert of[given][begins:until].min() < 0.5 * of[given][begins - 30 : begins].mean()


def test_less_comes_out_of_each_part_than_went_into_it(true):
    flow = [true["power"][name]["avg_w"] for name in ("flywheel_brake", "clutch_output", "wheel_hub", "tractive")]
    assert flow == sorted(flow, reverse=True)


def spinning_up(per_s: float = 5.0) -> Recorded:
    """A shaft that gains speed evenly from 100 rad/s, the engine's as well."""
    time = np.arange(4000) * 1e-3
    turning = 100.0 + per_s * time
    return Recorded(None, time, {"rpm": turning / PER_RPM, "turning": turning}, ())  # type: ignore[arg-type]


def test_counted_teeth_give_the_mean_speed_between_them():
    # Hand: over a whole turn of 2 pi / 110 = 57 ms, the last tooth of 20 up to 3 ms ago: at most 60 ms old at the start
    run = spinning_up()
    told = tooth_speed(run, run.of["turning"], Wheel(20, whole_turn=True))[1000:]
    assert np.all(told < run.of["turning"][1000:])
    assert np.all(told > run.of["turning"][1000:] - 5.0 * 0.5 * 0.070)


def test_a_wheel_that_stops_is_forgotten():
    run = spinning_up()
    stops = np.where(run.time_s < 2.0, 100.0, 0.0)
    told = tooth_speed(run, stops, Wheel(20, forgets_s=0.3))
    assert np.all(told[2000:2290] > 90.0) and np.all(told[2350:] == 0.0)


def test_engine_speed_is_the_mean_over_its_degrees():
    # Hand: a mean over 360 degrees at 1000 rpm lasts 60 ms and is 30 ms old: 0.03 s times 50 rad/s2 is 14.3 rpm
    run = spinning_up(50.0)
    late = run.of["rpm"] - crank_speed(run, 360.0)
    assert late[500] == pytest.approx(50.0 / PER_RPM * 0.5 * 2.0 * np.pi / 125.0, rel=0.05)


def test_a_filter_lags_a_ramp_by_its_time_constant_and_a_held_value_by_half_its_step():
    run = spinning_up()
    lags = (run.of["turning"] - filtered(run.of["turning"], 0.05)) / 5.0
    assert lags[-1] == pytest.approx(0.05, abs=0.001)
    waits = (run.of["turning"] - held(run, run.of["turning"], 10.0, np.random.default_rng(1))) / 5.0
    assert waits[200:].mean() == pytest.approx(0.05, abs=0.002) and waits[200:].max() == pytest.approx(0.1, abs=0.002)


def test_the_same_seed_is_the_same_case_whatever_other_kinds_there_are(tmp_path, monkeypatch):
    write_paddock(tmp_path / "a", "jittering_stamps", 62)
    monkeypatch.setattr(writing, "KINDS", {"jittering_stamps": KINDS["jittering_stamps"]})
    write_paddock(tmp_path / "b" / "a", "jittering_stamps", 62)
    for name in ("ecu.csv", "dash.csv", "setup.json", "conditions.json", "slip.json", "truth.json"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / "a" / name).read_bytes()


def test_an_owners_facts_change_neither_logs_nor_truth(tmp_path):
    exact = make_case(tmp_path / "a", "bike_by_foot", 63, model=PADDOCK)
    owned = make_case(tmp_path / "b", "bike_by_foot", 63, model=PADDOCK, facts="owner")
    assert exact.truth == owned.truth and exact.slips == owned.slips
    assert exact.car.mass != owned.car.mass and exact.car.gear_ratios == owned.car.gear_ratios


@pytest.mark.parametrize("kind", ["sequential_flagged", "three_speed_old", "gusts_and_grade"])
def test_a_review_finds_its_shifts_and_invents_none(tmp_path, kind):
    # Planted; how near each figure comes is printed by `python -m tests.benchmarks.proving --model paddock`
    case = make_case(tmp_path, kind, 61, model=PADDOCK)
    (review,) = review_case(case).reviews
    (run,) = case.truth["runs"]
    assert len(pair_shifts(review, run)) == len(run["shifts"]) == len(review.shifts)


def test_every_kind_can_be_drawn_and_has_a_name_of_its_own():
    for kind, told in KINDS.items():
        car = draw_car(told.car, draws_of(kind, 60)).car
        assert car.electric or car.engine.idle_rpm < car.driver.shift_rpm < car.engine.limiter_rpm
        assert 200.0 < car.body.mass_kg < 2500.0 and len(car.box.ratios) in range(1, 11)
    names = [name for own in KINDS_OF.values() for name in own]
    assert len(names) == len(set(names))
