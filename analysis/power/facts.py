"""What power asks of the car: each fact as given, or its usual range where nobody gave it.

Public: `Fact`, `Facts`, `FactValues`, `read_facts`, `missing_mass`, `tell_not_given`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.given.car import Car
from passband.analysis.given.ranges import FACTS
from passband.analysis.quantities import FloatArray
from passband.analysis.results.air import AirState
from passband.analysis.results.findings import Finding

MASS_SHARE = 0.008
"""95 % of a mass given, as a share: the strip's scales, the driver's gear, the fuel in the tank; 8 kg in 1000. This and
the next are what a careful owner knows, who weighed and looked up but has no laboratory: common practice, no source.
Where a fact came with its own plus-minus, that stands instead."""
DRAG_AREA_SHARE = 0.10
"""95 % of a drag area given, as a share."""
ROLLING_SHARE = 0.40
"""95 % of a rolling resistance given, as a share."""
EFFICIENCY_POINTS = 0.03
"""95 % of a driveline efficiency given. [-]"""
INERTIA_SHARE = 0.25
"""95 % of an inertia given, as a share."""
CIRCUMFERENCE_SHARE = 0.008
"""95 % of a circumference given, as a share."""
WIND_GIVEN_MPS = 0.5
"""95 % of a wind given, as the mean of one run along the strip: gusts within the minute it was read. Chosen. [m/s]"""
FUEL_BURNT_SHARE = 0.001
"""95 % of what a car's mass differs by from run to run: fuel and ice, a kilogram in 1000; common practice, no
source."""

NOT_GIVEN_DRAG_AREA_M2, NOT_GIVEN_DRAG_AREA_HALF_WIDTH_M2 = 0.66, 0.16
"""Closed cars from a small hatchback to a saloon with a scoop; chosen. [m2]"""
NOT_GIVEN_ROLLING, NOT_GIVEN_ROLLING_HALF_WIDTH = 0.015, 0.009
"""Textbook 0.010 to 0.015 on asphalt for road tires, more for soft ones on a prepared track, less for hard ones at
pressure; chosen. [-]"""
NOT_GIVEN_EFFICIENCY = {"front": 0.91, "rear": 0.90, "all": 0.86}
NOT_GIVEN_EFFICIENCY_HALF_WIDTH = 0.05
"""Gear Technology, Sept 2012, p. 58, fig. 2: manual gearboxes 0.92 to 0.97, hypoid axles 0.90 to 0.93; all-wheel drive
has two."""
NOT_GIVEN_ENGINE_SHARE, NOT_GIVEN_ENGINE_SHARE_HALF_WIDTH = 0.0016, 0.0008
"""Engine inertia over mass x radius squared. Wong's mass factor 1.04 + 0.0025 N^2 says 0.0025 for road cars; a
light flywheel and clutch make it about two thirds of that."""
INPUT_INERTIA, INPUT_INERTIA_HALF_WIDTH = 0.006, 0.004
"""Clutch disc and gearbox input shaft, which no engine inertia given holds: a disc of 1 kg whose lining lies at 90 mm
has 0.008 kg m2, a small one of several plates half of that, the shaft's gears a little more. Chosen. [kg m2]"""
TURBINE_INERTIA, TURBINE_INERTIA_HALF_WIDTH = 0.05, 0.05
"""A converter's turbine with the oil in it, and the box's drums that turn with it: 5 to 8 kg at 80 to 100 mm make 0.03
to 0.08. Some count all of the converter into the engine's inertia that they tell: then none of it is left. Chosen.
[kg m2]"""
NOT_GIVEN_WHEEL_SHARE, NOT_GIVEN_WHEEL_SHARE_HALF_WIDTH = 0.036, 0.014
"""Wheel inertia over mass x radius squared: the 0.04 of Wong's mass factor, a little less for light wheels."""
NOT_GIVEN_RADIUS_M, NOT_GIVEN_RADIUS_HALF_WIDTH_M = 0.32, 0.04
"""Rolling radius of a driven tire; chosen. [m]"""
NOT_GIVEN_WIND_HALF_WIDTH_MPS = 2.0
"""95 % of a wind that nobody gave: still air is taken, and most racing days blow less along the strip. Chosen. [m/s]"""
WIND_OF_THE_RUN_MPS = 0.8
"""95 % of what one run's mean wind differs by from that of its day: gusts last minutes, runs seconds. Chosen: a mean
over ten seconds strays by some 0.2 of the mean wind (the turbulence of open country, from memory). [m/s]"""

SLOPE_HALF_WIDTH = 0.004
"""95 % of a strip's mean slope, which nobody gives: built level, they fall or rise by a metre or two over a quarter
mile. Chosen; runways, which many of them were, may slope by 0.01 overall (ICAO Annex 14, from memory). [-]"""

TOLD_EFFECT = 0.002
"""A missing fact is named if it opens average power by at least this share. [-]"""

UNDRIVEN_SHARE = {"front": 0.34, "rear": 0.25, "all": 0.0}
"""Share of the wheel inertia on the axle that is not driven, at the driven wheels' speed; a front-driven car has wheels
of one size, a rear-driven one has heavy slicks, half shafts and a differential behind."""
UNDRIVEN_SHARE_HALF_WIDTH = 0.11
"""95 % of it. [-] By arithmetic: the inertia of disc-like wheels goes with mass and radius squared; skinny front wheels
of a rear-driven car hold 0.15 to 0.2 of it, four alike 0.4 to 0.45 of a front-driven one's."""


@dataclass(frozen=True, slots=True)
class Fact:
    """One quantity that power rests on."""

    source: str
    """Its name for a reader, e.g. ``drag area``."""
    value: float
    """SI."""
    half_width: float
    """95 % half-width, SI."""
    given: bool = True
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
    slope: Fact
    """Of the strip, uphill positive; nobody tells it. [-]"""

    @property
    def all(self) -> tuple[Fact, ...]:
        """Each fact, in the order above."""
        return tuple(getattr(self, name) for name in FACT_NAMES)

    def moved(self, name: str) -> Facts:
        """The same facts with one of them raised by its half-width."""
        fact: Fact = getattr(self, name)
        return replace(self, **{name: replace(fact, value=fact.value + fact.half_width)})

    @property
    def values(self) -> FactValues:
        """Their values alone, shape (1, 1) each."""
        return FactValues.of([self])

    @property
    def rolling_mass(self) -> float:
        """Mass with what the undriven wheels' spin adds to it, in kg."""
        return self.values.rolling_mass.item()

    @property
    def spinning_mass(self) -> float:
        """What the driven wheels' spin weighs at the tires' surface, in kg."""
        return self.values.spinning_mass.item()


@dataclass(frozen=True, slots=True)
class FactValues:
    """The values of the facts, of several cases at once: columns of shape (m, 1), units as in `Facts`."""

    mass: FloatArray
    drag_area: FloatArray
    rolling: FloatArray
    efficiency: FloatArray
    engine_inertia: FloatArray
    input_inertia: FloatArray
    wheel_inertia: FloatArray
    undriven_share: FloatArray
    radius: FloatArray
    density: FloatArray
    wind: FloatArray
    slope: FloatArray

    @classmethod
    def of(cls, cases: Sequence[Facts]) -> FactValues:
        """Those of cases, in order."""
        rows = np.array([[fact.value for fact in case.all] for case in cases])
        return cls(*rows.T[:, :, None])

    def some(self, rows: Sequence[int]) -> FactValues:
        """Those of some cases; one case stands for all."""
        return self if self.mass.size == 1 else FactValues(*(getattr(self, name)[list(rows)] for name in FACT_NAMES))

    @property
    def rolling_mass(self) -> FloatArray:
        """Mass with what the undriven wheels' spin adds to it, in kg."""
        return self.mass + self.wheel_inertia * self.undriven_share / self.radius**2

    @property
    def spinning_mass(self) -> FloatArray:
        """What the driven wheels' spin weighs at the tires' surface, in kg."""
        return self.wheel_inertia * (1.0 - self.undriven_share) / self.radius**2


FACT_NAMES = (
    "mass", "drag_area", "rolling", "efficiency", "engine_inertia", "input_inertia", "wheel_inertia", "undriven_share",
    "radius", "density", "wind", "slope",
)  # fmt: skip


def read_facts(car: Car, air: AirState) -> Facts | None:
    """The facts of a car on a day, as given or usual.

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
    Half-widths of given facts are the owner's own where they came with one, else stated above: what a careful owner
    knows. They do not cover a blunder, such as a mass without the driver.
    """
    if car.mass is None:
        return None
    axle = car.usual_axle
    radius = _radius(car)
    reach = car.mass * radius.value**2
    return Facts(
        mass=Fact("mass", car.mass, car.plus_minus.get("mass", MASS_SHARE * car.mass)),
        drag_area=_given("drag area", "drag_area", car, DRAG_AREA_SHARE)
        or Fact("drag area", NOT_GIVEN_DRAG_AREA_M2, NOT_GIVEN_DRAG_AREA_HALF_WIDTH_M2, given=False),
        rolling=_given("rolling resistance", "rolling_resistance", car, ROLLING_SHARE)
        or Fact("rolling resistance", NOT_GIVEN_ROLLING, NOT_GIVEN_ROLLING_HALF_WIDTH, given=False),
        efficiency=_efficiency(car, axle),
        engine_inertia=_inertia(
            "engine inertia", car, reach, NOT_GIVEN_ENGINE_SHARE, NOT_GIVEN_ENGINE_SHARE_HALF_WIDTH
        ),
        input_inertia=_input_inertia(car),
        wheel_inertia=_inertia("wheel inertia", car, reach, NOT_GIVEN_WHEEL_SHARE, NOT_GIVEN_WHEEL_SHARE_HALF_WIDTH),
        undriven_share=Fact(
            "undriven wheels' share of the inertia",
            UNDRIVEN_SHARE[axle],
            0.0 if axle == "all" else (1.0 if car.driven_axle else 1.5) * UNDRIVEN_SHARE_HALF_WIDTH,
        ),
        radius=radius,
        density=Fact("air density", air.density_kgpm3.value, air.density_kgpm3.plus_minus),
        wind=_wind(air),
        slope=Fact("strip's slope", 0.0, SLOPE_HALF_WIDTH, given=False),
    )


def _given(source: str, key: str, car: Car, share: float) -> Fact | None:
    """A fact as given, with its own plus-minus or a careful owner's."""
    value = getattr(car, key)
    return None if value is None else Fact(source, value, car.plus_minus.get(key, share * value))


def _input_inertia(car: Car) -> Fact:
    if car.has_converter:
        return Fact("turbine inertia", TURBINE_INERTIA, TURBINE_INERTIA_HALF_WIDTH, given=False)
    return Fact("gearbox input inertia", INPUT_INERTIA, INPUT_INERTIA_HALF_WIDTH, given=False)


def _inertia(source: str, car: Car, reach_kgm2: float, usual_share: float, half_width: float) -> Fact:
    given = _given(source, source.replace(" ", "_"), car, INERTIA_SHARE)
    return given or Fact(source, usual_share * reach_kgm2, half_width * reach_kgm2, given=False)


def _wind(air: AirState) -> Fact:
    if air.wind_mps is None:
        return Fact("wind", 0.0, NOT_GIVEN_WIND_HALF_WIDTH_MPS, given=False)
    own = air.wind_plus_minus_mps
    return Fact("wind", air.wind_mps, WIND_GIVEN_MPS if own is None else own)


def _efficiency(car: Car, axle: str) -> Fact:
    source = "driveline efficiency"
    if car.driveline_efficiency is None:
        return Fact(source, NOT_GIVEN_EFFICIENCY[axle], NOT_GIVEN_EFFICIENCY_HALF_WIDTH, given=False)
    own = car.plus_minus.get("driveline_efficiency", EFFICIENCY_POINTS)
    return Fact(source, car.driveline_efficiency, own)


def _radius(car: Car) -> Fact:
    around = _given("tire circumference", "tire_circumference", car, CIRCUMFERENCE_SHARE)
    if around is None:
        return Fact("tire circumference", NOT_GIVEN_RADIUS_M, NOT_GIVEN_RADIUS_HALF_WIDTH_M, given=False)
    return replace(around, value=around.value / (2.0 * math.pi), half_width=around.half_width / (2.0 * math.pi))


def missing_mass() -> Finding:
    """The finding for a car whose mass nobody gave."""
    return Finding(
        "mass-missing",
        "note",
        "Power needs the car's mass with the driver, which was not given: weigh the car and add it to the setup.",
    )


def tell_not_given(facts: Facts, effects: Mapping[str, float], *, average_w: float) -> list[Finding]:
    """What nobody gave, and what not knowing it leaves open in average power.

    Parameters
    ----------
    facts : Facts
        As given, or usual.
    effects : mapping of str to float
        What each input's half-width makes of average power, by the fact's `source`. [W]
    average_w : float
        At the flywheel. [W]

    Returns
    -------
    list of Finding
        One for each fact that matters; wind apart, as nothing bounds it.
    """
    found = []
    for fact in facts.all:
        effect = abs(effects.get(fact.source, 0.0))
        if fact.given or fact in (facts.input_inertia, facts.slope):  # which nobody can tell
            continue
        if fact is facts.wind:
            found += _tell_wind(effect / fact.half_width, average_w)
        elif effect >= TOLD_EFFECT * abs(average_w):
            text = (
                f"The {fact.source} was not given; taken was {_as_taken(fact)}. That leaves average power open by "
                f"{effect / 1e3:.1f} kW either way: give it."
            )
            found.append(Finding("car-fact-missing", "note", text))
    return found


def _as_taken(fact: Fact) -> str:
    """Value and half-width in the unit that the fact is kept in; a share that can be all of 1 in per cent."""
    can_be = FACTS.get(fact.source.replace(" ", "_"))
    unit, scale = (f" {can_be.si_unit}", 1.0) if can_be is not None and can_be.si_unit else ("", 1.0)
    if can_be is not None and "%" in can_be.units and fact.value > 0.25:
        unit, scale = " %", 0.01
    return f"{fact.value / scale:.3g}{unit}, give or take {fact.half_width / scale:.2g}"


def _tell_wind(watts_per_mps: float, average_w: float) -> list[Finding]:
    if watts_per_mps < TOLD_EFFECT * abs(average_w):
        return []
    text = (
        f"No wind was given: still air was taken, give or take {NOT_GIVEN_WIND_HALF_WIDTH_MPS:.0f} m/s. Each 1 m/s "
        f"along the strip moves average power by {watts_per_mps / 1e3:.1f} kW; give the wind."
    )
    return [Finding("wind-not-given", "note", text)]
