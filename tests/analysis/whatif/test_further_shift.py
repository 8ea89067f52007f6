"""A shift more before the line, or one less: planted cars that end just under, or just over, a shift point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.results.findings import Finding
from passband.analysis.whatif.changes import Changes, GearingGiven, ShiftPoint, apply_changes
from passband.analysis.whatif.drive import drive
from passband.analysis.whatif.further_shift import drive_changed, shifts_told
from passband.analysis.whatif.left_open import left_open
from tests.analysis.whatif.planted_model import planted_model, power_torque

GIVEN = GearingGiven((2.0, 1.4, 1.1), 4.0, 2.0)
TURNS = (20.0, 14.0)


def ends_at_rpm() -> float:
    return drive(planted_model(power_torque(240e3), turns=TURNS, shifts=(7000.0,))).line_rpm


def model_of(shift_rpm: float):
    """Shifts into second so that second's own shift point lies where it is put."""
    model = planted_model(power_torque(240e3), turns=TURNS, shifts=(shift_rpm,))
    pause = replace(model.shifts[0], force_n=model.shifts[0].force_n * 0.0)
    return replace(model, shifts=(pause,))


def told(model, changes, given=GIVEN):
    as_run, changed = drive(model), apply_changes(model, changes, given)
    assert not isinstance(changed, Finding)
    made = drive_changed(model, as_run, changed, changes, given)
    return as_run, made, shifts_told(model, as_run, made)


def test_earlier_shifts_put_a_further_one_before_the_line_and_it_costs():
    # Planted: second gear ends its run 100 rpm under the shift point; shifts are made 250 rpm earlier
    model = model_of(ends_at_rpm() + 100.0)
    as_run, made, (said,) = told(model, Changes(shift_points=(ShiftPoint(None, -250.0, by=True),)))
    assert len(as_run.rpm_after) == 1 and len(made.driven.rpm_after) == 2
    assert made.driven.rpm_before[-1] == pytest.approx(ends_at_rpm() - 150.0, abs=15.0)
    assert made.driven.rpm_after[-1] == pytest.approx(made.driven.rpm_before[-1] * 1.1 / 1.4, rel=0.01)
    assert made.costs_s > 0.0 and said.code == "whatif-further-shift"
    assert "gear 2" in said.text and "2-3" in said.text and f"{made.costs_s:+.3f} s" in said.text


def test_a_shorter_final_drive_asks_for_it_too():
    model = model_of(ends_at_rpm() + 100.0)
    _, made, (said,) = told(model, Changes(final_drive=4.2))
    assert len(made.driven.rpm_after) == 2 and "2-3" in said.text


def test_a_change_that_stays_below_the_shift_point_adds_none():
    model = model_of(ends_at_rpm() + 400.0)
    _, made, said = told(model, Changes(shift_points=(ShiftPoint(None, -250.0, by=True),)))
    assert made.driven is made.without and not said


def test_a_driver_who_held_the_gear_to_the_line_holds_it_again():
    # Planted: second gear's end lies 300 rpm beyond the shift point already
    model = model_of(ends_at_rpm() - 300.0)
    _, made, said = told(model, Changes(shift_points=(ShiftPoint(None, -100.0, by=True),)))
    assert made.driven is made.without and not said


def test_without_a_further_gear_none_is_added():
    model = model_of(ends_at_rpm() + 100.0)
    given = GearingGiven((2.0, 1.4), 4.0, 2.0)
    _, made, said = told(model, Changes(final_drive=4.2), given)
    assert made.driven is made.without and not said


def test_a_shift_that_comes_no_more_is_told():
    # Planted: the one shift lies just before the line, and a longer final drive puts it behind it
    one_gear = drive(planted_model(power_torque(240e3), turns=TURNS)).line_rpm
    model = planted_model(power_torque(240e3), turns=TURNS, shifts=(one_gear - 50.0,))
    as_run, made, (said,) = told(model, Changes(final_drive=3.8))
    assert len(as_run.rpm_after) == 1 and not made.driven.rpm_after
    assert said.code == "whatif-shift-less" and "gear 1" in said.text
    assert made.driven is made.without  # 5 % of gearing are 400 rpm: it is not near


def test_a_shift_that_is_just_missed_stays_open():
    # Planted: the shift lies just before the line, and 1 % of final drive puts it just behind it
    one_gear = drive(planted_model(power_torque(240e3), turns=TURNS)).line_rpm
    model = planted_model(power_torque(240e3), turns=TURNS, shifts=(one_gear - 20.0,))
    pause = replace(model.shifts[0], force_n=np.zeros(20), time_s=0.005 * np.arange(20), carried=20)
    _, made, (said,) = told(replace(model, shifts=(pause,)), Changes(final_drive=3.96))
    assert not made.driven.rpm_before and made.without.rpm_before
    assert made.costs_mps > 0.0 and "may still make it" in said.text


def test_a_further_shift_that_the_line_cuts_short_is_told_and_its_cost_left_open():
    # Planted: shifts of 0.2 s without a drive; the further one begins some 20 rpm before the line and carries behind it
    model = model_of(ends_at_rpm() + 160.0)
    slow = replace(model.shifts[0], force_n=np.zeros(40), time_s=0.005 * np.arange(40), carried=40)
    changes = Changes(shift_points=(ShiftPoint(None, -250.0, by=True),))
    model = replace(model, shifts=(slow,))
    _, made, said = told(model, changes)
    assert len(made.driven.rpm_before) == 2 > len(made.driven.rpm_after)
    assert [one.code for one in said] == ["whatif-further-shift"]
    left = left_open(model, made.model, changes, made.driven)
    assert left.with_further(made.costs_s, made.costs_mps).trap_mps >= abs(made.costs_mps)
