"""Gears: planted runs named right, ratios found, wrong setups told, doubtful channels overruled."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline import gears as gears_module
from passband.analysis.driveline.gears import gear_at
from passband.analysis.results.gears import GearBasis, GearInterval
from tests.analysis.planted_run import CIRCUMFERENCE_M, FINAL_DRIVE, RATIOS, Logger, plant_run
from tests.analysis.stages import find_shifts, gears_between_shifts, label_gears


def labelled(run, car=None):
    return label_gears(run.motion, run.traces, car or run.car, launch_s=run.launch_s, end_s=run.end_s)


def share_right(run, gears):
    """Share of the time between shifts that is named right."""
    between = (run.fine_time_s > 0.0) & (run.fine_time_s < run.end_s)
    for shift in run.shifts:
        between &= (run.fine_time_s < shift.start_s - 0.03) | (run.fine_time_s > shift.end_s + 0.05)
    return float(np.mean(gear_at(run.fine_time_s[between], gears.intervals) == run.fine_gear[between]))


def settled(run, car=None):
    gears = labelled(run, car)
    shifts = find_shifts(run.motion, run.traces, gears, car or run.car, launch_s=0.0, end_s=run.end_s).shifts
    return gears_between_shifts(gears, shifts, run.motion, launch_s=0.0, end_s=run.end_s)


@pytest.mark.parametrize("rate_hz", [25.0, 100.0, 500.0])
@pytest.mark.parametrize("style", ["cut", "clutch", "converter"])
def test_the_planted_gears_are_named_nearly_all_the_time(rate_hz, style):
    # planted
    run = plant_run(style=style, logger=Logger(rate_hz=rate_hz))
    assert share_right(run, settled(run)) > (0.99 if style == "converter" else 0.995)


@pytest.mark.parametrize("style", ["cut", "clutch"])
def test_ratios_that_nobody_told_are_found_and_named_in_order(style):
    run = plant_run(style=style)
    car = run.car.model_copy(update={"gear_ratios": None})
    gears = labelled(run, car)
    assert gears.basis == "ratios found in the data"
    assert [ratio.value for ratio in gears.overall_ratios] == pytest.approx(np.array(RATIOS) * FINAL_DRIVE, rel=0.025)
    assert share_right(run, settled(run, car)) > 0.995


@pytest.mark.parametrize("told", [0.90, 1.12])
def test_a_wrong_circumference_is_told_and_the_gears_are_named_all_the_same(told):
    run = plant_run()
    car = run.car.model_copy(update={"tire_circumference": told * CIRCUMFERENCE_M})
    gears = labelled(run, car)
    assert [finding.code for finding in gears.findings] == ["ratios-disagree-with-speed"]
    assert "tire circumference" in gears.findings[0].text
    assert share_right(run, gears) > 0.95


def test_a_right_setup_is_not_doubted():
    _ = labelled(plant_run())
    findings = _.findings
    assert findings == ()


def test_a_driveshaft_tells_wrong_ratios_from_a_wrong_tire():
    run = plant_run(logger=Logger(driveshaft=True))
    car = run.car.model_copy(update={"gear_ratios": [1.05 * ratio for ratio in RATIOS]})
    _ = labelled(run, car)
    findings = _.findings
    assert "ratios-disagree-with-driveshaft" in [finding.code for finding in findings]


def test_a_gear_channel_that_lies_is_overruled_and_told():
    run = plant_run()
    engine = run.traces.get("engine_speed")
    stuck = Channel("gear", "Gear", "", "", engine.time_s, np.full(engine.time_s.size, 3.0), 100.0)
    gears = labelled(replace(run, traces=Traces((*run.traces.channels, stuck))))
    assert "gear-channel-disagrees" in [finding.code for finding in gears.findings]
    assert share_right(run, gears) > 0.95


def test_a_steady_engine_is_in_no_gear_but_what_its_channel_says():
    run = plant_run()
    engine = run.traces.get("engine_speed")
    idling = replace(engine, values=np.full(engine.time_s.size, 900.0))
    told = Channel("gear", "Gear", "", "", engine.time_s, np.where(engine.time_s < 3.0, 1.0, 2.0), 100.0)
    car = run.car.model_copy(update={"gear_ratios": None})
    moving = replace(run.motion, speed_mps=0.0 * run.motion.speed_mps)
    gears = label_gears(moving, Traces((idling, told)), car, launch_s=0.0, end_s=9.0)
    assert (gears.basis, [piece.gear for piece in gears.intervals]) == ("gear channel", [1, 2])
    assert gears.findings[-1].code == "gears-by-channel-alone"


def test_without_engine_speed_no_gear_is_guessed():
    run = plant_run()
    gears = label_gears(run.motion, Traces(()), run.car, launch_s=0.0, end_s=9.0)
    assert (gears.intervals, gears.basis, gears.findings[0].code) == ((), GearBasis.UNKNOWN, "gears-unknown")


def test_a_clean_pull_in_one_gear_is_one_interval():
    run = plant_run(shift_at_s=(), end_s=3.0)
    assert [piece.gear for piece in settled(run).intervals] == [1]


def test_ignition_noise_is_told():
    run = plant_run()
    engine = run.traces.get("engine_speed")
    values = engine.values.copy()
    values[400:500:10] *= 2.0
    _ = labelled(replace(run, traces=Traces((replace(engine, values=values),))))
    findings = _.findings
    assert (findings[0].code, findings[0].level) == ("engine-speed-noise", "caution")


def test_intervals_are_half_open():
    pieces = [GearInterval(1, 0.0, 1.0), GearInterval(2, 1.5, 2.0)]
    assert gear_at(np.array([0.0, 0.999, 1.0, 1.5, 2.0]), pieces).tolist() == [1, 1, 0, 2, 0]


def test_nothing_is_written_to():
    run = plant_run()
    before = run.traces.get("engine_speed").values.copy()
    labelled(run)
    assert (run.traces.get("engine_speed").values == before).all()


def test_a_change_that_slip_hid_was_made_at_its_command():
    # Planted: after a shift under full throttle the clutch slips on for a second, engine speed drawn down evenly
    run = plant_run(logger=Logger(cut_flag=True, throttle=False))
    hidden = run.shifts[1]
    engine = run.traces.get("engine_speed")
    slips = (engine.time_s > hidden.start_s + 0.03) & (engine.time_s < hidden.end_s + 1.0)
    ends = float(np.interp(hidden.end_s + 1.0, engine.time_s, engine.values))
    level = np.interp(engine.time_s, [hidden.start_s + 0.03, hidden.end_s + 1.0], [0.97 * hidden.rpm_before, ends])
    dragged = replace(engine, values=np.where(slips, np.maximum(level, engine.values), engine.values))
    traces = Traces(tuple(dragged if channel is engine else channel for channel in run.traces))
    gears = label_gears(run.motion, traces, run.car, launch_s=0.0, end_s=9.0)
    shifts = find_shifts(run.motion, traces, gears, run.car, launch_s=0.0, end_s=9.0).shifts
    assert [shift.time_s for shift in shifts] == pytest.approx([shift.start_s for shift in run.shifts], abs=0.02)
    assert [shift.kind for shift in shifts] == ["normal"] * len(run.shifts)


def test_a_change_laid_at_its_command_is_told():
    # Planted: the path sees gear 3 only 1.2 s after its command; the other changes close upon theirs
    seen = tuple(GearInterval(gear, start, start + 1.0) for gear, start in ((1, 0.0), (2, 1.05), (3, 3.2), (4, 4.55)))
    laid = gears_module._changed_on_command(seen, np.array([1.0, 2.0, 4.5]))
    assert [piece.start_s for piece in laid] == pytest.approx([0.0, 1.05, 2.06, 4.55])
    assert "commanded at 2.00 s" in gears_module._tell_hidden(seen, laid)[0].text
    assert gears_module._changed_on_command(seen, np.array([1.0, 2.0])) == seen  # a command too few tells nothing
