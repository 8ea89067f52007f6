"""Gears of a published cycle whose gear changes are prescribed.

Source: New European Driving Cycle, extra-urban part (UN Regulation No. 83, type I test): speed and prescribed gear of
its first acceleration, as carried by the package wltp 0.1.2a0 (module cycles/nedc, seconds 799 to 860).
"""

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.gears import gear_at
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from tests.analysis.stages import label_gears

# second, km/h; straight lines between
SPEED_KMH = [(0, 0), (5, 15), (7, 15), (16, 35), (18, 35), (26, 50), (28, 50), (41, 70), (61, 70)]
# second from which the gear is prescribed; a change takes two seconds with the clutch out
PRESCRIBED = [(0, 1), (7, 2), (18, 3), (28, 4), (43, 5)]
RATIOS = [3.45, 1.95, 1.28, 0.97, 0.78]
FINAL_DRIVE, CIRCUMFERENCE_M = 4.1, 1.9


def cycle():
    time_s = np.arange(0.0, 60.0, 0.01)
    at, kmh = np.array(SPEED_KMH, dtype=float).T
    speed = np.interp(time_s, at, kmh) / 3.6
    since, gear = np.array(PRESCRIBED).T
    return time_s, speed, gear[np.searchsorted(since, time_s, side="right") - 1]


def driven(time_s, speed, gear):
    """Motion and engine speed of a car that follows the cycle; the engine drops while the clutch is out."""
    one = np.ones(time_s.size)
    motion = Motion(
        time_s=time_s, speed_mps=speed, speed_plus_minus_mps=0.05 * one, acceleration_mps2=np.gradient(speed, time_s),
        acceleration_plus_minus_mps2=0.1 * one, distance_m=np.cumsum(speed) * 0.01, distance_plus_minus_m=one,
        tire_speed_mps=np.nan * one, spinning=np.zeros(time_s.size, dtype=np.bool_), basis=SpeedBasis.UNDRIVEN_WHEEL,
        scale=None, wheelspin=(),
    )  # fmt: skip
    locked = 60.0 * np.array(RATIOS)[gear - 1] * FINAL_DRIVE / CIRCUMFERENCE_M * speed
    out = np.zeros(time_s.size, dtype=np.bool_)
    for since, _ in PRESCRIBED[1:]:
        out |= (time_s >= since - 2.0) & (time_s < since)
    rpm = np.where(out, np.maximum(1000.0, 0.6 * locked), np.maximum(900.0, locked))
    rows = time_s[::5]
    seen = rpm[::5] + np.random.default_rng(4).normal(0, 8.0, rows.size)
    return motion, Traces((Channel("engine_speed", "RPM", "rpm", "rpm", rows, seen, 20.0),)), out


@pytest.mark.parametrize("told", [True, False])
def test_the_prescribed_gears_come_out_of_engine_and_road_speed(told):
    # published (NEDC): outside the prescribed changes nineteen in twenty moments named right, ratios told or not
    time_s, speed, gear = cycle()
    motion, traces, out = driven(time_s, speed, gear)
    car = Car(
        name="cycle", gear_ratios=RATIOS if told else None, final_drive=FINAL_DRIVE, tire_circumference=CIRCUMFERENCE_M,
        transmission="clutch",
    )  # fmt: skip
    gears = label_gears(motion, traces, car, launch_s=0.0, end_s=60.0)
    carried = ~out & (speed > 2.0) & (time_s < 59.0)
    assert np.mean(gear_at(time_s, gears.intervals)[carried] == gear[carried]) > 0.95
    assert sorted({piece.gear for piece in gears.intervals}) == [1, 2, 3, 4, 5]
