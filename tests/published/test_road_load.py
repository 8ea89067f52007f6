"""Road load, coasting, rotating mass, gearing and pistons against regulations and textbooks."""

import math

import numpy as np
import pytest

from passband.analysis.engine.band import shift_point_for
from passband.analysis.power.balance import road_load
from passband.analysis.power.driveline_series import engine_turn
from passband.analysis.power.facts import FactValues
from passband.analysis.power.pistons import mean_piston_speed
from passband.analysis.shifts.step import needed_step, rpm_after_shift

FOOT_M = 0.3048  # international foot, exact

POUND_N, POUND_KG, SLUG_FT3, MPH_MPS, GRAVITY = 4.4482216, 0.45359237, 515.378818, 0.44704, 9.80665
INCH_M = 0.0254


@pytest.mark.parametrize(
    ("mass", "rolling_n", "per_kmh2", "force_n", "seconds"),
    [
        (100, 0.0, 0.0224, 94.8, 2.95), (200, 8.69, 0.0252, 115.1, 4.85), (250, 13.06, 0.0266, 125.3, 5.57),
        (300, 17.43, 0.0279, 135.4, 6.18), (330, 20.05, 0.0288, 141.6, 6.50),
    ],
)  # fmt: skip
def test_coasting_from_70_to_60(mass, rolling_n, per_kmh2, force_n, seconds):
    # Published (40 CFR 86.529-98, figure F98-9): F = A + C V^2, V in km/h; time from 70 to 60 km/h
    def load(speed_mps):
        return road_load(
            speed_mps, mass_kg=mass, drag_area_m2=2 * per_kmh2 * 3.6**2, rolling=rolling_n / (mass * GRAVITY),
            density_kgpm3=1.0,
        )  # fmt: skip

    assert load(np.array([65 / 3.6]))[0] == pytest.approx(force_n, abs=0.25)
    speed = np.linspace(60.0, 70.0, 2001) / 3.6
    assert mass * np.trapezoid(1.0 / load(speed), speed) == pytest.approx(seconds, abs=0.02)


def test_a_highway_textbook_s_grade():
    # Published (Mannering, Principles of Highway Engineering 4e, problem 2.31): 209.41 lb at 70 mph on 5 %, the rolling
    # coefficient rounded to 0.017 by 0.01 (1 + V / 147), V in ft/s
    speed = 70 * MPH_MPS
    got = road_load(
        np.array([speed]), mass_kg=2000 * POUND_KG, drag_area_m2=0.35 * 20 * FOOT_M**2,
        rolling=0.01 * (1 + speed / FOOT_M / 147), density_kgpm3=0.002045 * SLUG_FT3, grade=0.05,
    )  # fmt: skip
    assert got[0] / POUND_N == pytest.approx(209.41, abs=0.25)


def test_the_same_textbook_s_power_to_push_air():
    # Computed from its problem 2.1: Cd 0.30, 21 ft2, 110 mph, 0.002378 slug/ft3: 57.19 hp
    speed = 110 * MPH_MPS
    drag = road_load(
        np.array([speed]),
        mass_kg=0.0,
        drag_area_m2=0.30 * 21 * FOOT_M**2,
        rolling=0.0,
        density_kgpm3=0.002378 * SLUG_FT3,
    )
    assert drag[0] * speed / 745.69987 == pytest.approx(57.19, abs=0.03)


def test_a_wind_seen_by_the_car():
    # Published (40 CFR 1037.528, worked example): 64.9 mph against 7.1 mph at 47 degrees is 69.93 mph of air
    along = 7.1 * math.cos(math.radians(47.0))
    still, windy = (
        road_load(np.array([(64.9 + w) * MPH_MPS]), mass_kg=0.0, drag_area_m2=1.0, rolling=0.0, density_kgpm3=1.0)
        for w in (0.0, along)
    )
    felt = math.hypot(math.sqrt(windy[0] / still[0]) * 64.9, 7.1 * math.sin(math.radians(47.0)))
    assert felt == pytest.approx(69.93, abs=0.01)


def rotating_mass(ratio: float, *, radius_m: float, wheels_kgm2: float, engine_kgm2: float) -> float:
    """What the spin of wheels and engine adds to a car's mass, out of what the balance of power takes."""
    none, mass, half = np.zeros((1, 1)), np.full((1, 1), 1000.0), np.full((1, 1), 0.5)
    facts = FactValues(mass, none, none, none, none, none, none + wheels_kgm2, half, none + radius_m, none, none, none)
    wheels = (facts.rolling_mass + facts.spinning_mass - mass).item()
    return wheels + engine_kgm2 * engine_turn(ratio, 2 * math.pi * radius_m) ** 2


def test_rotating_mass_of_a_textbook_car():
    # Inputs of Gillespie, Fundamentals of Vehicle Dynamics, example 2-1 (from memory); result computed: 850.6 lb
    kgm2 = 0.112984829  # one in lb s2
    radius = 5280 * 12 / (801 * 2 * math.pi) * INCH_M
    wheels, engine = (11.0 + 1.2 * 2.92**2) * kgm2, (0.8 + 1.3) * kgm2
    got = rotating_mass(4.28 * 2.92, radius_m=radius, wheels_kgm2=wheels, engine_kgm2=engine)
    assert got / POUND_KG == pytest.approx(850.6, rel=2e-3)


def test_the_mass_factor_of_an_exercise():
    # Computed from a Wong-type exercise: 2165 kg, 0.33 m, four wheels of 24.5 kg at 0.25 m, engine 0.733 kg m2, 4.28:1
    got = rotating_mass(4.28, radius_m=0.33, wheels_kgm2=4 * 24.5 * 0.25**2, engine_kgm2=0.733)
    assert 1 + got / 2165 == pytest.approx(1.0829, abs=2e-4)


@pytest.mark.parametrize(
    ("mph", "ratio", "inches", "rpm"),
    [(65.0, 3.08, 30.0, 2243.1), (55.508, 2.72, 29.0, 1750.0)],
)
def test_engine_speed_by_road_speed_ratio_and_tire(mph, ratio, inches, rpm):
    # Published tables (rpm = mph x ratio x 336 / inches; exactly 336.135): 2242, and 1750 rpm at 55.51 mph
    turn = engine_turn(ratio, math.pi * inches * INCH_M)
    assert turn * mph * MPH_MPS * 30 / math.pi == pytest.approx(rpm, rel=2e-4)


def test_the_fall_of_a_homework_shift():
    # Published (front-drive homework): 4th 1.07 to 5th 0.81 at 45 mph drops 662 rpm; 24.299 % whatever the axle
    after = rpm_after_shift(2724.0, ratio_before=1.07, ratio_after=0.81)
    assert 2724.0 - after == pytest.approx(662.0, abs=0.5)


@pytest.mark.parametrize(
    ("stroke_mm", "rpm", "mps"),
    [(90, 3000, 9.0), (85, 5500, 15.58), (90, 7200, 21.6), (92.8, 8700, 26.9), (50, 10000, 16.67)],
)
def test_mean_piston_speed_is_that_of_worked_examples(stroke_mm, rpm, mps):
    # Published (several worked examples): 2 S n
    assert mean_piston_speed(stroke_mm / 1000, rpm) == pytest.approx(mps, abs=0.02)


def test_the_least_step_of_a_high_winding_engine():
    # Common practice, no source: run to 11,200 rpm and never under 8,300, an engine needs steps of no less than 0.741
    assert needed_step(8300.0, 11200.0) == pytest.approx(0.741, abs=5e-4)
    assert shift_point_for(8300.0, rpm_before=11200.0, rpm_after=11200.0 * 0.741) == pytest.approx(11200.0, abs=2.0)
