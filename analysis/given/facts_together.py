"""Facts that each could be and together hardly can: a number meant in another unit.

Public: `tell_facts_unlike_each_other`.
"""

from __future__ import annotations

import math

from passband.analysis.given.car import Car
from passband.analysis.results.findings import Finding

LEAST_AREA_PER_KG, MOST_AREA_PER_KG = 1e-4, 3e-3
"""Drag area for mass: on 221 cars of the tests' simulators from 0.0003 (a heavy saloon) to 0.0017 (a light motorcycle
with its rider); square feet read as square metres, or the other way round, are off by 10.76. [m2/kg]"""
MOST_WHEELS_SHARE = 0.25
"""Wheels, hubs, brakes and driveline as a mass at the tread, beside the car's: on the same from 0.02 to 0.11; lb ft2
read as kg m2 are 23.7 times too great. [-]"""
MOST_ENGINE_SHARE = 1.5
"""The engine's turning parts as a mass at the tread in first gear, beside the car's: on the same 0.02 to 0.6. [-]"""


def tell_facts_unlike_each_other(car: Car) -> list[Finding]:
    """Hold drag area and inertias against the mass that they go with.

    Parameters
    ----------
    car : Car
        What is not given is not held.

    Returns
    -------
    list of Finding
        A caution for each; all are believed nevertheless.
    """
    found = [*_area(car), *_wheels(car), *_engine(car)]
    return [Finding("fact-unlikely", "caution", text, where) for text, where in found]


def _area(car: Car) -> list[tuple[str, str]]:
    if car.drag_area is None or car.mass is None:
        return []
    per_kg = car.drag_area / car.mass
    if LEAST_AREA_PER_KG <= per_kg <= MOST_AREA_PER_KG:
        return []
    side, unit = ("great", "ft2") if per_kg > MOST_AREA_PER_KG else ("small", "m2")
    text = (
        f"The drag area given is far too {side} for the car's mass: was it meant in {unit}? It was believed, and power "
        "holds as much of the air's drag. Give it with its unit."
    )
    return [(text, "drag_area")]


def _wheels(car: Car) -> list[tuple[str, str]]:
    if car.wheel_inertia is None or car.mass is None or not car.tire_circumference:
        return []
    radius_m = car.tire_circumference / math.tau
    share = car.wheel_inertia / (radius_m**2 * car.mass)
    if share <= MOST_WHEELS_SHARE:
        return []
    text = (
        f"The wheels' inertia given weighs at the tread as much as {100 * share:.0f} % of the car, where wheels and "
        "driveline make 2 to 11 %: was it meant in another unit, as lb ft2? It was believed, and power holds what it "
        "takes to spin them. Give it with its unit."
    )
    return [(text, "wheel_inertia")]


def _engine(car: Car) -> list[tuple[str, str]]:
    if not car.gear_ratios or None in (car.engine_inertia, car.mass, car.final_drive, car.tire_circumference):
        return []
    geared = max(car.gear_ratios) * (car.final_drive or 0.0) * math.tau / (car.tire_circumference or math.inf)
    share = (car.engine_inertia or 0.0) * geared**2 / (car.mass or math.inf)
    if share <= MOST_ENGINE_SHARE:
        return []
    text = (
        f"The engine's inertia given weighs in first gear as much as {100 * share:.0f} % of the car, where engines "
        "with their clutch make 2 to 60 %: was it meant in another unit, as lb ft2? It was believed. "
        "Give it with its unit."
    )
    return [(text, "engine_inertia")]
