"""A clutch that slips in a high gear where only ground and engine tell."""

import math
from dataclasses import replace

import numpy as np
import pytest

from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.slip_on_top import find_slip_on_top

TIME_S = np.arange(0.0, 9.0, 0.01)
GEAR = np.minimum(1 + TIME_S // 3.0, 3).astype(np.int64)
SPEED_MPS = 10.0 + 5.0 * TIME_S
TURNS = np.array([math.nan, 30.0, 22.0, 17.0])[GEAR]
NEVER = np.zeros(TIME_S.size, dtype=np.bool_)


def series_with(lead, *, converter=False):
    return DrivelineSeries(
        time_s=TIME_S,
        speed_mps=SPEED_MPS,
        acceleration_mps2=np.full(TIME_S.size, 5.0),
        gear=GEAR,
        turns_rad_per_m=TURNS,
        engine_rad_per_s=TURNS * SPEED_MPS * (1.0 + lead),
        engine_rad_per_s2=np.zeros(TIME_S.size),
        shifting=NEVER,
        settling=NEVER,
        slipping=NEVER,
        spinning=NEVER,
        surface_mps=SPEED_MPS,
        converter=converter,
        step_s=0.01,
        end_s=8.5,
    )


def test_an_engine_further_ahead_on_top_than_below_is_found():
    # Planted: tires slip 5, 4 and 3 %; for 1.5 s in the third gear the clutch slips 8 % too
    lead = np.array([0.0, 0.05, 0.04, 0.03])[GEAR] + np.where((TIME_S > 6.5) & (TIME_S < 8.0), 0.08, 0.0)
    (slip,) = find_slip_on_top(series_with(lead))
    assert slip.gear == 3
    assert (slip.start_s, slip.stop_s) == pytest.approx((6.5, 8.0), abs=0.03)
    # Hand: ln(1.11 / 1.05)
    assert slip.share == pytest.approx(math.log(1.11 / 1.05), abs=0.002)
    assert find_slip_on_top(replace(series_with(lead), converter=True)) == []


def test_tires_that_slip_less_in_each_gear_are_none():
    assert find_slip_on_top(series_with(np.array([0.0, 0.12, 0.08, 0.05])[GEAR])) == []


def test_a_flare_of_a_moment_is_none():
    assert find_slip_on_top(series_with(np.where((TIME_S > 7.0) & (TIME_S < 7.3), 0.1, 0.0))) == []
