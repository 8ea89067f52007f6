"""What the page asks of a car: its fields, and the limits that a careful tuner would begin with, values left empty.

Public: `CarField`, `CAR_FIELDS`, `STARTING_LIMITS`, `field_text`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class CarField:
    """One thing that can be told of a car."""

    name: str
    """Key of the car's description."""
    label: str
    """What the page asks."""
    hint: str
    """How to write it."""
    group: str
    """Heading it stands under."""
    choices: tuple[str, ...] = ()
    """Where only these can be told."""


_WHOLE, _DRIVE, _ENGINE, _WANTED = "The car", "Driveline and tires", "Engine", "What you want of it"
CAR_FIELDS: tuple[CarField, ...] = (
    CarField("mass", "Weight with driver", "kg or lb", _WHOLE),
    CarField("drag_area", "Drag area, Cd times frontal area", "m^2 or ft^2", _WHOLE),
    CarField("rolling_resistance", "Rolling resistance, share of the weight", "such as 0.015", _WHOLE),
    CarField("rollout", "Rollout from staged to clock start", "m, ft or in", _WHOLE),
    CarField("driven_axle", "Driven axle", "", _DRIVE, ("front", "rear", "all")),
    CarField("transmission", "Between engine and gearbox", "", _DRIVE, ("clutch", "converter")),
    CarField("gear_ratios", "Gear ratios, first to last", "numbers with blanks between", _DRIVE),
    CarField("final_drive", "Final drive ratio", "a number", _DRIVE),
    CarField("tire_circumference", "Circumference of the driven tires", "m or in", _DRIVE),
    CarField("undriven_tire_circumference", "Circumference of the others", "m or in", _DRIVE),
    CarField("driveline_efficiency", "Driveline efficiency", "a share or %", _DRIVE),
    CarField("wheel_inertia", "Inertia of all wheels, hubs, brakes, shafts", "kg*m^2", _DRIVE),
    CarField("engine_inertia", "Inertia of crank, flywheel, clutch", "kg*m^2", _ENGINE),
    CarField("bore", "Bore", "mm or in", _ENGINE),
    CarField("stroke", "Stroke", "mm or in", _ENGINE),
    CarField("cylinders", "Cylinders", "a number", _ENGINE),
    CarField("fuel_stoichiometric_afr", "Fuel's stoichiometric air to fuel ratio", "a number", _ENGINE),
    CarField("rpm_band", "Usable RPM band, low and high", "two numbers", _WANTED),
    CarField("boost_threshold", "Boost threshold (gauge)", "kPa, psi or bar", _WANTED),
)


def _limit(name: str, channel: str, rule: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "channel": channel, "rule": rule, "during": "run", "when": [], **more}


STARTING_LIMITS: tuple[dict[str, Any], ...] = (
    _limit("Engine speed over", "engine_speed", "at_most", unit="rpm"),
    _limit("Boost over", "boost", "at_most", unit="kPa or psi"),
    _limit("Oil pressure against engine speed", "oil_pressure", "curve", against="engine_speed", unit="kPa or psi"),
    _limit("Fuel pressure against boost", "fuel_pressure", "curve", against="boost", unit="kPa or psi"),
    _limit("Lambda under load", "lambda", "at_most", when=["throttle at least", "boost at least"], unit="lambda"),
    _limit("Exhaust temperature", "exhaust_temperature", "at_most", unit="degC or degF"),
    _limit("Spread of exhaust temperatures", "exhaust_temperature_spread", "at_most", unit="K, degC or degF"),
    _limit("Coolant warm at staging", "coolant_temperature", "at_least", during="staging", unit="degC or degF"),
    _limit("Coolant at the finish", "coolant_temperature", "at_most", unit="degC or degF"),
    _limit("Coolant pressure, a lifting head", "coolant_pressure", "at_most", unit="kPa or psi"),
    _limit("Crankcase pressure", "crankcase_pressure", "at_most", unit="kPa or psi"),
    _limit("Injector duty", "injector_duty", "at_most", unit="%"),
    _limit("Knock", "knock", "at_most", unit="as logged"),
)
"""Names, channels and rules only: every value is the user's own to fill in."""


def field_text(value: Any) -> str:
    """What was told of a field as the form shows it again: a list with blanks between, nothing for None.

    Examples
    --------
    >>> field_text([2.55, 1.8]), field_text("2450 lb"), field_text(None)
    ('2.55 1.8', '2450 lb', '')
    """
    if value is None:
        return ""
    return " ".join(str(one) for one in value) if isinstance(value, (list, tuple)) else str(value)
