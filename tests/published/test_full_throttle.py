"""Power from speed alone against a government laboratory's vehicle model at full throttle.

Source: the rows in data/full_throttle_*.csv, printed by fastsim 3.1.0 (Apache-2.0): its speed goes in, its own powers
are held against ours. It has no gears and no engine speed: it checks the power to the ground and the driveline's share.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.power.balance import balance, integrate
from passband.analysis.power.driveline_series import GivenDriveline, read_driveline_series
from passband.analysis.power.facts import Fact, Facts
from passband.analysis.results.distance import SpeedBasis

DATA = Path(__file__).parent / "data"
NAMES = ("stock", "600kW")
MASS_KG, DRAG_AREA_M2, ROLLING, RADIUS_M = 1644.27245, 0.83316, 0.007, 0.326
WHEELS_KGM2, EFFICIENCY, DENSITY = 4 * 0.82, 0.875, 1.17284769
FIRST_M, LAST_M = 18.288, 402.336


def table(name):
    with (DATA / f"full_throttle_{name}.csv").open() as file:
        rows = list(csv.DictReader(file))
    return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}


def facts(undriven_share=1.0, wheels=WHEELS_KGM2):
    """All wheels counted at the ground, as that model counts them."""
    told = {
        "mass": MASS_KG, "drag_area": DRAG_AREA_M2, "rolling": ROLLING, "efficiency": EFFICIENCY, "engine_inertia": 0.0,
        "input_inertia": 0.0, "wheel_inertia": wheels, "undriven_share": undriven_share, "radius": RADIUS_M,
        "density": DENSITY, "wind": 0.0, "slope": 0.0,
    }  # fmt: skip
    return Facts(**{name: Fact(name, value, 0.0) for name, value in told.items()})


def motion_of(rows, noise_mps=0.0):
    """Its speed on our grid, its steps' slopes as acceleration."""
    time = np.arange(rows["time_s"][0], rows["time_s"][-1], 0.005)
    speed = np.interp(time, rows["time_s"], rows["speed_m_s"])
    if noise_mps:
        own = rows["speed_m_s"] + noise_mps * np.random.default_rng(7).standard_normal(rows["time_s"].size)
        speed = np.interp(time, rows["time_s"], np.convolve(own, np.ones(9) / 9, mode="same"))
    zero = np.zeros(time.size)
    distance = np.interp(time, rows["time_s"], rows["dist_m"])
    return Motion(
        time,
        speed,
        zero,
        np.gradient(speed, time),
        zero,
        distance,
        zero,
        zero * np.nan,
        zero > 1,
        SpeedBasis.GPS,
        None,
        (),
    )


def mean_between(rows, values, time=None):
    """Mean from 60 ft to a quarter mile from rest."""
    start, stop = (float(np.interp(mark, rows["dist_m"], rows["time_s"])) for mark in (FIRST_M, LAST_M))
    at = rows["time_s"] if time is None else time
    return integrate(at, values, start_s=start, stop_s=stop) / (stop - start)


def balance_of(motion, told):
    return balance(read_driveline_series(motion, None, (), None, GivenDriveline()), told, motion.speed_mps)


@pytest.mark.parametrize("name", NAMES)
def test_mean_power_at_the_wheels_from_speed_alone(name):
    # Printed; 0.5 %: their steps and the thinning of the table
    rows = table(name)
    motion = motion_of(rows)
    got = mean_between(rows, balance_of(motion, facts()).ground_w, motion.time_s)
    assert got == pytest.approx(mean_between(rows, rows["tractive_power_W"]), rel=5e-3)


@pytest.mark.parametrize("name", NAMES)
def test_mean_power_under_speed_noise(name):
    rows = table(name)
    motion = motion_of(rows, noise_mps=0.1)
    got = mean_between(rows, balance_of(motion, facts()).ground_w, motion.time_s)
    assert got == pytest.approx(mean_between(rows, rows["tractive_power_W"]), rel=1e-2)


@pytest.mark.parametrize(("name", "kilowatts"), [("stock", (107.860, 123.268)), ("600kW", (511.869, 584.994))])
def test_its_printed_means_at_wheel_and_engine(name, kilowatts):
    # Printed: mean tractive and engine power from 60 ft to a quarter mile; the engine's is the wheels' over 0.875
    rows = table(name)
    motion = motion_of(rows)
    parts = balance_of(motion, facts())
    assert mean_between(rows, parts.ground_w, motion.time_s) == pytest.approx(1e3 * kilowatts[0], rel=5e-3)
    assert mean_between(rows, parts.clutch_w, motion.time_s) == pytest.approx(1e3 * kilowatts[1], rel=5e-3)


@pytest.mark.parametrize("name", NAMES)
def test_leaving_out_the_wheels_spin_costs_what_it_says(name):
    # Printed: 1.6 % of the power
    rows = table(name)
    motion = motion_of(rows)
    whole, bare = (
        mean_between(rows, balance_of(motion, facts(wheels=wheels)).ground_w, motion.time_s)
        for wheels in (WHEELS_KGM2, 0.0)
    )
    assert bare / whole - 1.0 == pytest.approx(-0.016, abs=0.001)


def test_the_driven_wheels_spin_is_the_engines_work():
    # The same whole, whichever axle it is laid to
    rows = table("stock")
    motion = motion_of(rows)
    undriven, driven = (
        mean_between(rows, balance_of(motion, facts(undriven_share=share)).hub_w, motion.time_s) for share in (1.0, 0.0)
    )
    assert driven == pytest.approx(undriven, rel=1e-6)
