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
    """How to write it, where a unit beside the field does not say; may be empty."""
    group: str
    """Heading it stands under."""
    choices: tuple[str, ...] = ()
    """Where only these can be told."""


_WHOLE, _DRIVE, _ENGINE, _WANTED = "The car", "Driveline and tires", "Engine", "What you want of it"
CAR_FIELDS: tuple[CarField, ...] = (
    CarField("mass", "Weight with driver", "", _WHOLE),
    CarField("drag_area", "Drag area, Cd times frontal area", "", _WHOLE),
    CarField("rolling_resistance", "Rolling resistance, share of the weight", "0.015", _WHOLE),
    CarField("rollout", "Rollout from staged to clock start", "", _WHOLE),
    CarField("driven_axle", "Driven axle", "", _DRIVE, ("front", "rear", "all")),
    CarField("transmission", "Between engine and gearbox", "", _DRIVE, ("clutch", "converter")),
    CarField("gear_ratios", "Gear ratios, first to last", "2.55 1.8 1.36", _DRIVE),
    CarField("final_drive", "Final drive ratio", "", _DRIVE),
    CarField("tire_circumference", "Circumference of the driven tires", "", _DRIVE),
    CarField("undriven_tire_circumference", "Circumference of the others", "", _DRIVE),
    CarField("driveline_efficiency", "Driveline efficiency", "", _DRIVE),
    CarField("wheel_inertia", "Inertia of all wheels, hubs, brakes, shafts", "", _DRIVE),
    CarField("engine_inertia", "Inertia of crank, flywheel, clutch", "", _ENGINE),
    CarField("bore", "Bore", "", _ENGINE),
    CarField("stroke", "Stroke", "", _ENGINE),
    CarField("cylinders", "Cylinders", "", _ENGINE),
    CarField("fuel_stoichiometric_afr", "Fuel's stoichiometric air to fuel ratio", "", _ENGINE),
    CarField("rpm_band", "Usable RPM band, low and high", "6200 8600", _WANTED),
    CarField("boost_threshold", "Boost threshold (gauge)", "", _WANTED),
)


def _limit(name: str, channel: str, rule: str, **more: Any) -> dict[str, Any]:
    return {"name": name, "channel": channel, "rule": rule, "during": "run", "when": [], **more}


STARTING_LIMITS: tuple[dict[str, Any], ...] = (
    _limit("Engine speed over", "engine_speed", "at_most"),
    _limit("Boost over", "boost", "at_most"),
    _limit("Oil pressure against engine speed", "oil_pressure", "curve", against="engine_speed"),
    _limit("Fuel pressure against boost", "fuel_pressure", "curve", against="boost"),
    _limit("Lambda under load", "lambda", "at_most", when=["throttle at least", "boost at least"]),
    _limit("Exhaust temperature", "exhaust_temperature", "at_most"),
    _limit("Spread of exhaust temperatures", "exhaust_temperature_spread", "at_most"),
    _limit("Coolant warm at staging", "coolant_temperature", "at_least", during="staging"),
    _limit("Coolant at the finish", "coolant_temperature", "at_most"),
    _limit("Coolant pressure, a lifting head", "coolant_pressure", "at_most"),
    _limit("Crankcase pressure", "crankcase_pressure", "at_most"),
    _limit("Injector duty", "injector_duty", "at_most"),
    _limit("Knock", "knock", "at_most"),
)
"""Names, channels and rules only: every value is the user's own to fill in."""


def field_text(value: Any) -> str:
    """What was given of a field as the form shows it again: a list with blanks between, nothing for None.

    Examples
    --------
    >>> field_text([2.55, 1.8]), field_text("2450 lb"), field_text(None)
    ('2.55 1.8', '2450 lb', '')
    """
    if value is None:
        return ""
    return " ".join(str(one) for one in value) if isinstance(value, (list, tuple)) else str(value)
