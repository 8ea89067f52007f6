"""What the record says against the setup: which figure is blamed, and which is believed."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.gear_doubts import (
    _least_off,
    doubt_gear_channel,
    doubt_one_ratio,
    doubt_setup,
    ratios_in_order,
    settled_by_slip,
    tell_noise,
    tell_ratios_out_of_order,
)
from passband.analysis.driveline.gears import gear_at
from passband.analysis.driveline.ratios import find_gear_levels, known_gear_levels, measure_turn_ratio
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.engine_speed import read_engine_speed
from tests.analysis.planted_run import CIRCUMFERENCE_M, RATIOS, Logger, plant_run
from tests.analysis.stages import evidence_of, label_gears


def codes(run, car):
    engine = read_engine_speed(run.traces)
    turn = measure_turn_ratio(engine, run.motion, evidence_of(run.motion, run.traces, run.car, end_s=run.end_s))
    gears = label_gears(run.motion, run.traces, car, launch_s=0.0, end_s=run.end_s)
    carried = gear_at(turn.time_s, [replace(p, start_s=p.start_s + 1.3) for p in gears.intervals])
    return [finding.code for finding in doubt_setup(known_gear_levels(turn, car), turn, carried, run.motion, car)]


def with_driven_wheel(run, factor):
    return replace(run, motion=replace(run.motion, tire_speed_mps=factor * 1.01 * run.motion.speed_mps))


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        (0.95, ["ratios-disagree-with-speed"]),
        (0.985, []),
        (1.0, []),
        (1.02, []),
        (1.06, ["ratios-disagree-with-speed"]),
    ],
)
def test_a_circumference_beyond_slip_and_growth_is_told(told, expected):
    run = plant_run()
    assert codes(run, run.car.model_copy(update={"tire_circumference": told * CIRCUMFERENCE_M})) == expected


def test_a_setup_so_wrong_that_the_tires_seem_to_spin_all_the_way_is_told():
    # Planted: a final drive 13 % too small lets the tires seem to turn as much too fast
    run = plant_run()
    spinning = np.ones(run.motion.time_s.size, dtype=bool)
    run = replace(run, motion=replace(run.motion, spinning=spinning))
    car = run.car.model_copy(update={"final_drive": 0.87 * run.car.final_drive})
    assert codes(run, car) == ["ratios-disagree-with-speed"]


def test_a_wrong_circumference_is_told_though_a_driveshaft_names_the_gears():
    run = plant_run(logger=Logger(driveshaft=True))
    car = run.car.model_copy(update={"tire_circumference": 0.93 * CIRCUMFERENCE_M})
    assert codes(run, car) == ["ratios-disagree-with-speed"]


def test_wrong_ratios_against_a_driveshaft_are_told():
    run = plant_run(logger=Logger(driveshaft=True))
    car = run.car.model_copy(update={"gear_ratios": [1.03 * ratio for ratio in RATIOS]})
    assert codes(run, car) == ["ratios-disagree-with-driveshaft"]


@pytest.mark.parametrize(("ahead", "expected"), [(1.08, []), (1.13, ["shaft"]), (0.97, ["shaft"])])
def test_a_converter_without_lock_up_stays_ahead_of_its_driveshaft(ahead, expected):
    # Planted: ratios given 8 and 13 % below what the engine turns, as a converter's slip looks, and 3 % above
    run = plant_run(logger=Logger(driveshaft=True))
    given = {"gear_ratios": [ratio / ahead for ratio in RATIOS], "transmission": "converter"}
    told = codes(run, run.car.model_copy(update=given))
    assert [code.removeprefix("ratios-disagree-with-drive") for code in told if "drive" in code] == expected


def test_a_tire_that_grows_by_more_at_higher_speed_is_no_wrong_circumference():
    # Hand: two deviations of growth, 0.039 at 70 m/s, are 0.08 of lead at 100 m/s and 0.013 at 40; 0.03 is let in
    assert _least_off(np.array([100.0])) == pytest.approx(-0.0796, abs=1e-4)
    assert _least_off(np.array([40.0])) == -0.03


def test_a_driven_wheel_scaled_by_another_tire_is_told_from_a_wrong_setup():
    run = with_driven_wheel(plant_run(), 0.94)
    assert codes(run, run.car) == ["driven-wheel-scale-wrong"]


def test_a_right_driven_wheel_is_not_doubted():
    run = with_driven_wheel(plant_run(), 1.0)
    assert codes(run, run.car) == []


def test_ratios_found_in_the_data_cannot_disagree_with_it():
    run = plant_run()
    engine = read_engine_speed(run.traces)
    turn = measure_turn_ratio(engine, run.motion, evidence_of(run.motion, run.traces, run.car, end_s=run.end_s))
    assert doubt_setup(find_gear_levels(turn), turn, np.zeros(turn.time_s.size, dtype=int), run.motion, run.car) == []


TIME = np.arange(0.0, 10.0, 0.01)
GEAR = np.where(TIME < 5.0, 1, 2)


@pytest.mark.parametrize(("late_s", "told"), [(0.3, 0), (2.5, 1)])
def test_a_gear_channel_may_lag_but_not_lie(late_s, told):
    channel = Channel("gear", "Gear", "", "", TIME, np.where(TIME < 5.0 + late_s, 1.0, 2.0), 100.0)
    assert len(doubt_gear_channel(Traces((channel,)), TIME, GEAR)) == told


def test_no_gear_channel_no_doubt():
    assert doubt_gear_channel(Traces(()), TIME, GEAR) == []


def test_noise_is_counted_within_the_run_only():
    run = plant_run()
    engine = run.traces.get("engine_speed")
    values = engine.values.copy()
    values[np.searchsorted(engine.time_s, [-0.8, 4.0, 4.2])] *= 2.0
    spoiled = Traces((replace(engine, values=values),))
    (finding,) = tell_noise(evidence_of(run.motion, spoiled, end_s=9.0))
    assert "misses 2 samples" in finding.text
    assert tell_noise(evidence_of(run.motion, run.traces, end_s=9.0)) == []


@pytest.mark.parametrize(
    ("by_power", "level"), [("tires-slip-throughout", "note"), ("slip-or-circumference", "caution")]
)
def test_ratios_that_disagree_are_a_note_once_power_finds_the_tires_to_slip_so_much(by_power, level):
    told = (Finding("gear-channel-disagrees", "caution", "A."), Finding("ratios-disagree-with-speed", "caution", "B."))
    other, ratios = settled_by_slip(told, (Finding(by_power, "note", "C."),))
    assert other == told[0] and (ratios.code, ratios.level) == (told[1].code, level)


@pytest.mark.parametrize(
    ("given", "read", "level"),
    [
        ([2.6, 1.8, 1.35], [2.6, 1.8, 1.35], None),
        ([1.35, 1.8, 2.6], [2.6, 1.8, 1.35], "note"),
        ([2.6, 1.35, 1.8], None, "caution"),
        ([2.6, 2.6, 1.8], None, "caution"),
        ([1.0], [1.0], None),
        (None, None, None),
    ],
)
def test_ratios_that_do_not_fall_are_no_gearboxes(given, read, level):
    was = plant_run().car.model_copy(update={"gear_ratios": given})
    car = ratios_in_order(was)
    told = tell_ratios_out_of_order(was, car)
    assert car.gear_ratios == read and [one.level for one in told] == ([] if level is None else [level])


@pytest.mark.parametrize(("gear", "by", "told"), [(2, 1.0, False), (2, 1.1, True), (3, 0.9, True), (2, 1.02, False)])
def test_one_ratio_written_wrong_is_told_with_what_fits(gear, by, told):
    run = plant_run()
    ratios = list(RATIOS)
    ratios[gear - 1] *= by
    car = run.car.model_copy(update={"gear_ratios": ratios})
    found = label_gears(run.motion, run.traces, car, launch_s=0.0, end_s=run.end_s).findings
    texts = [one.text for one in found if one.code == "one-ratio-disagrees"]
    assert [f"In gear {gear} " in text for text in texts] == [True] * told
    for text in texts:
        assert float(text.partition("about ")[2].split()[0]) == pytest.approx(RATIOS[gear - 1], rel=0.01)


def test_no_ratio_is_doubted_behind_a_converter():
    run = plant_run()
    ratios = [RATIOS[0], 1.1 * RATIOS[1], *RATIOS[2:]]
    car = run.car.model_copy(update={"gear_ratios": ratios, "transmission": "converter"})
    found = label_gears(run.motion, run.traces, car, launch_s=0.0, end_s=run.end_s).findings
    assert "one-ratio-disagrees" not in [one.code for one in found]


def test_nothing_is_said_of_a_ratio_where_all_of_its_gear_is_doubtful():
    run = plant_run()
    turn = measure_turn_ratio(
        read_engine_speed(run.traces), run.motion, evidence_of(run.motion, run.traces, run.car, end_s=run.end_s)
    )
    turn = replace(turn, doubtful=np.ones(turn.time_s.size, dtype=np.bool_))
    carried = np.clip(turn.time_s.astype(np.int64), 0, len(RATIOS))
    assert doubt_one_ratio(known_gear_levels(turn, run.car), turn, carried, run.car) == []
