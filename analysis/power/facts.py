"""What power asks of the car: each fact as given, or its usual range where nobody gave it.

Public: `Fact`, `Facts`, `read_facts`, `rotating_mass`, `missing_mass`, `tell_not_given`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from passband.analysis.given.car import Car
from passband.analysis.results.air import AirState
from passband.analysis.results.findings import Finding

MASS_DOUBT = 0.0015
"""95 % of a mass told, as a share: the strip's scales and the fuel burnt since; 1.5 kg in 1000."""
DRAG_AREA_DOUBT = 0.015
"""95 % of a drag area told, as a share: one told to two digits is rounded by half of that, the rest is its source."""
ROLLING_DOUBT = 0.05
"""95 % of a rolling resistance told, as a share."""
EFFICIENCY_DOUBT = 0.0045
"""95 % of a driveline efficiency told: the rounding of a figure told to two digits."""
INERTIA_DOUBT = 0.05
"""95 % of an inertia told, as a share."""
WIND_DOUBT_MPS = 0.3
"""95 % of a wind told, as the mean of a run along the strip. [m/s]"""

NOT_GIVEN_DRAG_AREA_M2, NOT_GIVEN_DRAG_AREA_DOUBT_M2 = 0.66, 0.16
"""Closed cars from a small hatchback to a saloon with a scoop; chosen. [m2]"""
NOT_GIVEN_ROLLING, NOT_GIVEN_ROLLING_DOUBT = 0.015, 0.005
"""Textbook 0.010 to 0.015 on asphalt for road tires, more for soft ones on a prepared track; chosen. [-]"""
NOT_GIVEN_EFFICIENCY = {"front": 0.91, "rear": 0.90, "all": 0.86}
NOT_GIVEN_EFFICIENCY_DOUBT = 0.05
"""Gear Technology, Sept 2012, p. 58, fig. 2: manual gearboxes 0.92 to 0.97, hypoid axles 0.90 to 0.93; all-wheel drive
has two."""
NOT_GIVEN_ENGINE_SHARE, NOT_GIVEN_ENGINE_SHARE_DOUBT = 0.0016, 0.0008
"""Engine inertia over mass x radius squared. Wong's mass factor 1.04 + 0.0025 N^2 says 0.0025 for road cars; a
light flywheel and clutch make it about two thirds of that."""
INPUT_INERTIA, INPUT_INERTIA_DOUBT = 0.006, 0.004
"""Clutch disc and gearbox input shaft, which no engine inertia told holds: a disc of 1 kg whose lining lies at 90 mm
has 0.008 kg m2, a small one of several plates half of that, the shaft's gears a little more. Chosen. [kg m2]"""
NOT_GIVEN_WHEEL_SHARE, NOT_GIVEN_WHEEL_SHARE_DOUBT = 0.036, 0.014
"""Wheel inertia over mass x radius squared: the 0.04 of Wong's mass factor, a little less for light wheels."""
NOT_GIVEN_RADIUS_M, NOT_GIVEN_RADIUS_DOUBT_M = 0.32, 0.04
"""Rolling radius of a driven tire; chosen. [m]"""
UNKNOWN_WIND_HALF_WIDTH_MPS = 0.3
"""95 % of what moves in still air. Where no wind was given still air is presumed, and a finding says what each m/s
would do: no plus-minus could cover a windy day without hiding what a calm one shows; `gear_agreement` opens it where
the gears themselves show that something was given wrong. Chosen. [m/s]"""

TOLD_EFFECT = 0.002
"""A missing fact is told if it opens average power by at least this share. [-]"""

UNDRIVEN_SHARE = {"front": 0.34, "rear": 0.25, "all": 0.0}
"""Share of the wheel inertia on the axle that is not driven, at the driven wheels' speed; a front-driven car has wheels
of one size, a rear-driven one has heavy slicks, half shafts and a differential behind."""
UNDRIVEN_SHARE_DOUBT = 0.045
"""95 % of it. [-]"""


@dataclass(frozen=True, slots=True)
class Fact:
    """One quantity that power rests on."""

    source: str
    """Its name for a reader, e.g. ``drag area``."""
    value: float
    """SI."""
    doubt: float
    """95 % half-width, SI."""
    told: bool = True
    """False where its usual range stands in for it."""


@dataclass(frozen=True, slots=True)
class Facts:
    """All that power rests on but motion and engine speed."""

    mass: Fact
    """With driver. [kg]"""
    drag_area: Fact
    """[m2]"""
    rolling: Fact
    """Rolling resistance. [-]"""
    efficiency: Fact
    """Driveline, engine to wheel hub. [-]"""
    engine_inertia: Fact
    """[kg m2]"""
    input_inertia: Fact
    """Clutch disc and gearbox input; nobody tells it. [kg m2]"""
    wheel_inertia: Fact
    """All wheels at the driven wheels' speed. [kg m2]"""
    undriven_share: Fact
    """Of the wheel inertia. [-]"""
    radius: Fact
    """Rolling radius of the driven tires at rest. [m]"""
    density: Fact
    """Of the air. [kg/m3]"""
    wind: Fact
    """From behind positive. [m/s]"""

    @property
    def all(self) -> tuple[Fact, ...]:
        """Each fact, in the order above."""
        return tuple(getattr(self, name) for name in FACT_NAMES)

    def moved(self, name: str) -> Facts:
        """The same facts with one of them raised by its doubt."""
        fact: Fact = getattr(self, name)
        return replace(self, **{name: replace(fact, value=fact.value + fact.doubt)})

    @property
    def driven_inertia(self) -> float:
        """Wheel inertia that the engine turns, in kg m2."""
        return self.wheel_inertia.value * (1.0 - self.undriven_share.value)

    @property
    def rolling_mass(self) -> float:
        """Mass with what the undriven wheels' spin adds to it, in kg."""
        undriven = self.wheel_inertia.value * self.undriven_share.value
        return self.mass.value + rotating_mass(ratio=0.0, radius_m=self.radius.value, wheel_inertia_kgm2=undriven)

    @property
    def spinning_mass(self) -> float:
        """What the driven wheels' spin weighs at the tires' surface, in kg."""
        return rotating_mass(ratio=0.0, radius_m=self.radius.value, wheel_inertia_kgm2=self.driven_inertia)


FACT_NAMES = (
    "mass", "drag_area", "rolling", "efficiency", "engine_inertia", "input_inertia", "wheel_inertia", "undriven_share",
    "radius", "density", "wind",
)  # fmt: skip


def rotating_mass(
    *, ratio: float, radius_m: float, wheel_inertia_kgm2: float, engine_inertia_kgm2: float = 0.0
) -> float:
    """Mass that the spin of wheels and engine adds to a car in a gear.

    Parameters
    ----------
    ratio : float
        Engine turns per turn of the driven wheels. [-]
    radius_m : float
        Rolling radius. [m]
    wheel_inertia_kgm2, engine_inertia_kgm2 : float
        [kg m2]

    Returns
    -------
    float
        [kg]

    Notes
    -----
    (Jw + Je N^2) / r^2 (Gillespie, Fundamentals of Vehicle Dynamics, ch. 2, from memory).

    Examples
    --------
    >>> round(rotating_mass(ratio=10.0, radius_m=0.31, wheel_inertia_kgm2=3.75, engine_inertia_kgm2=0.15), 1)
    195.1
    """
    return (wheel_inertia_kgm2 + engine_inertia_kgm2 * ratio**2) / radius_m**2


def read_facts(car: Car, air: AirState) -> Facts | None:
    """The facts of a car on a day, told or usual.

    Parameters
    ----------
    car : Car
        What the user knows of it.
    air : AirState
        The day's air.

    Returns
    -------
    Facts or None
        None where the mass is unknown: nothing stands in for it.

    Notes
    -----
    Doubts of given facts are small and stated above: what a careful owner knows. They do not cover a blunder, such as
    a mass without the driver.
    """
    if car.mass is None:
        return None
    axle = car.driven_axle or "rear"
    radius = _radius(car)
    reach = car.mass * radius.value**2
    return Facts(
        mass=Fact("mass", car.mass, MASS_DOUBT * car.mass),
        drag_area=_told(
            "drag area", car.drag_area, DRAG_AREA_DOUBT,
            NOT_GIVEN_DRAG_AREA_M2, NOT_GIVEN_DRAG_AREA_DOUBT_M2,
        ),
        rolling=_told(
            "rolling resistance", car.rolling_resistance, ROLLING_DOUBT,
            NOT_GIVEN_ROLLING, NOT_GIVEN_ROLLING_DOUBT,
        ),
        efficiency=_efficiency(car, axle),
        engine_inertia=_told(
            "engine inertia", car.engine_inertia, INERTIA_DOUBT,
            NOT_GIVEN_ENGINE_SHARE * reach, NOT_GIVEN_ENGINE_SHARE_DOUBT * reach,
        ),
        input_inertia=Fact("gearbox input inertia", INPUT_INERTIA, INPUT_INERTIA_DOUBT, told=False),
        wheel_inertia=_told(
            "wheel inertia", car.wheel_inertia, INERTIA_DOUBT,
            NOT_GIVEN_WHEEL_SHARE * reach, NOT_GIVEN_WHEEL_SHARE_DOUBT * reach,
        ),
        undriven_share=Fact(
            "undriven wheels' share of the inertia",
            UNDRIVEN_SHARE[axle],
            0.0 if axle == "all" else UNDRIVEN_SHARE_DOUBT if car.driven_axle else 1.5 * UNDRIVEN_SHARE_DOUBT,
        ),
        radius=radius,
        density=Fact("air density", air.density_kgpm3.value, air.density_kgpm3.plus_minus),
        wind=_wind(air),
    )  # fmt: skip


def _told(source: str, told: float | None, share: float, usual: float, doubt: float) -> Fact:
    if told is not None:
        return Fact(source, told, share * told)
    return Fact(source, usual, doubt, told=False)


def _wind(air: AirState) -> Fact:
    if air.wind_mps is None:
        return Fact("wind", 0.0, UNKNOWN_WIND_HALF_WIDTH_MPS, told=False)
    return Fact("wind", air.wind_mps, WIND_DOUBT_MPS)


def _efficiency(car: Car, axle: str) -> Fact:
    if car.driveline_efficiency is not None:
        return Fact("driveline efficiency", car.driveline_efficiency, EFFICIENCY_DOUBT)
    return Fact("driveline efficiency", NOT_GIVEN_EFFICIENCY[axle], NOT_GIVEN_EFFICIENCY_DOUBT, told=False)


def _radius(car: Car) -> Fact:
    if car.tire_circumference:
        radius = car.tire_circumference / (2.0 * math.pi)
        return Fact("tire circumference", radius, 0.005 * radius)
    return Fact("tire circumference", NOT_GIVEN_RADIUS_M, NOT_GIVEN_RADIUS_DOUBT_M, told=False)


def missing_mass() -> Finding:
    """The finding for a car whose mass nobody gave."""
    return Finding(
        "mass-missing",
        "note",
        "Power needs the car's mass with the driver, which was not given: weigh the car and add it to the setup.",
    )


def tell_not_given(facts: Facts, effects: Mapping[str, float], *, average_w: float) -> list[Finding]:
    """What nobody gave, and by how much telling it would narrow average power.

    Parameters
    ----------
    facts : Facts
        Told and usual.
    effects : mapping of str to float
        What each input's doubt makes of average power, by the fact's `source`. [W]
    average_w : float
        At the flywheel. [W]

    Returns
    -------
    list of Finding
        One for each fact that matters; wind apart, as nothing bounds it.
    """
    total = math.hypot(*effects.values())
    found = []
    for fact in facts.all:
        effect = abs(effects.get(fact.source, 0.0))
        if fact.told or fact is facts.input_inertia:  # which nobody can tell
            continue
        if fact is facts.wind:
            found += _tell_wind(effect / fact.doubt, average_w)
        elif effect >= TOLD_EFFECT * abs(average_w):
            without = math.sqrt(max(total**2 - effect**2, 0.0))
            text = (
                f"The {fact.source} was not given: {fact.value:.3g} give or take {fact.doubt:.2g} (SI) was taken. "
                f"Given, it would narrow average power from plus-minus {total / 1e3:.1f} kW to {without / 1e3:.1f} kW."
            )
            found.append(Finding("car-fact-missing", "note", text))
    return found


def _tell_wind(watts_per_mps: float, average_w: float) -> list[Finding]:
    if watts_per_mps < TOLD_EFFECT * abs(average_w):
        return []
    text = (
        "No wind was given: still air was taken. Each m/s along the strip moves average power by "
        f"{watts_per_mps / 1e3:.1f} kW, more than its plus-minus allows for on a windy day; tell the wind."
    )
    return [Finding("wind-not-told", "note", text)]
