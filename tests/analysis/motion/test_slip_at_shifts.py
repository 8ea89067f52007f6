"""What a lone driven wheel slips, read at its shifts."""

from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.channels.log import Channel
from passband.analysis.motion.slip_at_shifts import slip_shown
from passband.analysis.motion.tire_slip import TireSlip
from passband.analysis.windows.window import RunWindow
from tests.analysis.planted_run import Logger, plant_run

RUN = plant_run(logger=Logger(rate_hz=100.0))
WINDOW = RunWindow(0.0, 0.02, RUN.end_s, None, (), ())
TIME_S = np.arange(0.0, RUN.end_s, 0.01)
USUAL = TireSlip(0.004, 0.003, 3.3e-4)
PULL_MPS2, LATE_S = 6.0, 0.022


def wheel(slip, *, spins_before=0.0):
    """Planted: a car that pulls with 6 m/s2 beside air and rolling, its tires `slip` for each m/s2 of thrust.

    Through each shift nothing drives it; slip builds up and goes within 20 ms, then the wheel is as fast as the ground.
    """
    at = TIME_S - LATE_S
    drives = np.ones(at.size)
    for shift in RUN.shifts:
        drives[(at > shift.start_s) & (at < shift.end_s)] = 0.0
    speed = np.zeros(at.size)
    for place in range(1, at.size):
        held_back = USUAL.drag_per_m * speed[place - 1] ** 2 + 0.15
        gained = PULL_MPS2 if drives[place] else -held_back
        speed[place] = max(speed[place - 1] + gained * 0.01, 0.0) if at[place] > 0.0 else 0.0
    share = np.convolve(np.pad(drives, 1, mode="edge"), np.ones(3) / 3.0, mode="valid")
    thrust = PULL_MPS2 + USUAL.drag_per_m * speed**2 + 0.15
    turned = speed * (1.0 + slip * thrust * share)
    for shift in RUN.shifts:
        turned += spins_before * np.clip(at - shift.start_s + 0.5, 0.0, 0.5) * (at < shift.start_s)
    return Channel("wheel_speed_driven", "W", "m/s", "m/s", TIME_S, turned, 100.0)


@pytest.mark.parametrize("slip", [0.002, 0.008])
def test_a_wheel_falls_by_its_slip_as_the_drive_is_cut(slip):
    # Planted: of the fall 0.93 is taken, for no shaft swings here; and usual slip is weighed in
    shown = slip_shown(USUAL, wheel(slip), RUN.traces, RUN.car, WINDOW)
    assert shown.per_mps2 == pytest.approx(0.93 * slip, rel=0.2, abs=0.0003)
    assert shown.per_mps2_sd < 0.5 * USUAL.per_mps2_sd


def test_where_no_shift_shows_it_the_usual_stands():
    # Limit: no gearing, a converter, a shaft, a slow log, tires that spin before each shift
    told = wheel(0.008)
    assert slip_shown(USUAL, told, RUN.traces, RUN.car.model_copy(update={"gear_ratios": None}), WINDOW) == USUAL
    behind = RUN.car.model_copy(update={"transmission": "converter"})
    assert slip_shown(USUAL, told, RUN.traces, behind, WINDOW) == USUAL
    assert slip_shown(USUAL, replace(told, name="driveshaft_speed"), RUN.traces, RUN.car, WINDOW) == USUAL
    assert slip_shown(USUAL, replace(told, rate_hz=20.0), RUN.traces, RUN.car, WINDOW) == USUAL
    assert slip_shown(USUAL, wheel(0.008, spins_before=8.0), RUN.traces, RUN.car, WINDOW) == USUAL
