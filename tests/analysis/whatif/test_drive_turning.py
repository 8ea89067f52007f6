"""A smeared speed is sharpened by what turned with the road: planted pulls with a shift between them."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from passband.analysis.given.car import Car
from passband.analysis.statistics.filters import smooth
from passband.analysis.whatif.drive_turning import shaft_of, sharpened, tells_spin
from passband.analysis.whatif.rows_of_run import Rows

GRID_S, SHIFT_S, END_S = 0.005, 3.0, 3.3


def planted() -> tuple[Rows, np.ndarray, SimpleNamespace]:
    """Pulls at 6 and 4 m/s2, a shift at 0.5 between them; the run's speed smeared over 0.4 s, the engine's not."""
    time = np.arange(0.0, 6.0, GRID_S)
    rate = np.where(time < SHIFT_S, 6.0, np.where(time < END_S, 0.5, 4.0))
    speed = 2.0 + np.cumsum(rate) * GRID_S
    smeared = smooth(speed, step_s=GRID_S, span_s=0.4, order=1)
    gear = np.where(time < SHIFT_S, 1, np.where(time < END_S, 0, 2))
    engine = speed * np.where(time < SHIFT_S + 0.1, 250.0, 170.0)
    slope = np.gradient(smeared, GRID_S)
    rows = Rows(time, smeared, slope, gear, engine, np.full(time.size, np.nan), felt=False)
    shift = SimpleNamespace(time_s=SHIFT_S, end_s=END_S)
    return rows, speed, SimpleNamespace(shifts=(shift,), distance=SimpleNamespace(wheelspin=()))


def test_a_pull_is_sharp_up_to_its_shift():
    rows, speed, review = planted()
    sharp = sharpened(review, rows, rows.engine_rpm, growth_at_70=0.0, locked_s=0.3, settle_s=0.15)
    ends = int((SHIFT_S - 0.06) / GRID_S)
    # Planted: 6 m/s2 to the end of the pull, of which the smeared speed has lost a quarter and more
    assert rows.acceleration_mps2[ends] < 4.6
    assert sharp.acceleration_mps2[ends] == pytest.approx(6.0, abs=0.05)
    assert sharp.speed_mps[ends] == pytest.approx(speed[ends], rel=0.004)
    assert sharp.sharp
    assert not rows.sharp


def test_what_a_shift_takes_adds_up():
    rows, speed, review = planted()
    sharp = sharpened(review, rows, rows.engine_rpm, growth_at_70=0.0, locked_s=0.3, settle_s=0.15)
    first, last = (int(one / GRID_S) for one in (SHIFT_S - 0.06, END_S + 0.2))
    took = float(np.sum(sharp.acceleration_mps2[first:last])) * GRID_S
    # Planted: what both pulls' speeds say of it, within two steps of the integration
    assert took == pytest.approx(speed[last] - speed[first], abs=0.06)


def test_behind_a_converter_only_a_shaft_turns_with_the_road():
    rows, speed, _ = planted()
    table = pl.DataFrame({"time_s": rows.time_s, "driveshaft_speed": 90.0 * speed})
    assert shaft_of(rows, table, behind_converter=True) == pytest.approx(90.0 * speed)
    assert shaft_of(rows, table.drop("driveshaft_speed"), behind_converter=True) is None
    assert shaft_of(rows, table, behind_converter=False) is rows.engine_rpm


@pytest.mark.parametrize(
    ("channel", "axle", "told"),
    [("driveshaft_speed", "front", True), ("wheel_speed_fl", "front", True), ("wheel_speed_fl", "rear", False)],
)
def test_a_spin_is_told_by_what_the_engine_drives(channel, axle, told):
    car = Car(name="one", driven_axle=axle)
    assert tells_spin(pl.DataFrame({"time_s": [0.0], channel: [1.0]}), car) is told
