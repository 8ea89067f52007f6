"""What the page asks of a car: its fields, and the limits that a careful tuner would begin with, values left empty.

Public: `CarField`, `CAR_FIELDS`, `StartingLimit`, `STARTING_LIMITS`, `field_text`, `LAMBDA_LAG_S`, `PROBES_APART_S`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any


@dataclass(frozen=True, slots=True)
class CarField:
    """One thing that can be given of a car."""

    name: str
    """Key of the car's description."""
    label: str
    """What the page asks."""
    hint: str
    """How to write it, where a unit beside the field does not say; may be empty."""
    group: str
    """Heading it stands under."""
    without: str
    """What a review lacks without it, or takes in its place."""
    choices: tuple[str, ...] = ()
    """Where only these can be given."""


LAMBDA_LAG_S = 0.2
"""After a shift the probe shows the cut: five runs of the demo weekend stand past 0.86 and 0.88 for 0.10 to 0.16 s
after a sound shift, for 0.31 s after a missed one. [s]"""
PROBES_APART_S = 0.5
"""Thermocouples that lag differently differ for a while after launch and shifts; common practice, no source. [s]"""

_WHOLE, _DRIVE, _ENGINE, _WANTED = "The car", "Driveline and tires", "Engine", "Band and boost"
CAR_FIELDS: tuple[CarField, ...] = (
    CarField("mass", "Weight with driver", "", _WHOLE, "no power"),
    CarField("drag_area", "Drag area, Cd times frontal area", "", _WHOLE, "a typical value, and power is less certain"),
    CarField(
        "rolling_resistance",
        "Rolling resistance, share of the weight",
        "0.015",
        _WHOLE,
        "a typical value, and power is less certain",
    ),
    CarField(
        "rollout",
        "Rollout from staged to clock start",
        "",
        _WHOLE,
        "a typical value, and the clock start is less certain",
    ),
    CarField(
        "driven_axle",
        "Driven axle",
        "",
        _DRIVE,
        "looked for in the logs; where they do not tell, wheel speeds are not used",
        ("front", "rear", "all"),
    ),
    CarField(
        "transmission", "Between engine and gearbox", "", _DRIVE, "looked for in the logs", ("clutch", "converter")
    ),
    CarField("gear_ratios", "Gear ratios, first to last", "2.55 1.8 1.36", _DRIVE, "found from the logs, less certain"),
    CarField("final_drive", "Final drive ratio", "", _DRIVE, "found from the logs, less certain"),
    CarField(
        "tire_circumference",
        "Circumference of the driven tires",
        "",
        _DRIVE,
        "turns of the driven wheels or the driveshaft give no speed",
    ),
    CarField(
        "undriven_tire_circumference",
        "Circumference of the undriven tires",
        "",
        _DRIVE,
        "turns of these wheels give no speed",
    ),
    CarField("driveline_efficiency", "Driveline efficiency", "", _DRIVE, "a typical value, and power is less certain"),
    CarField(
        "wheel_inertia",
        "Inertia of all wheels, hubs, brakes, shafts",
        "",
        _DRIVE,
        "a typical value, and power in the low gears is less certain",
    ),
    CarField(
        "engine_inertia",
        "Inertia of crank, flywheel, clutch",
        "",
        _ENGINE,
        "a typical value, and power in the low gears is less certain",
    ),
    CarField("bore", "Bore", "", _ENGINE, "no BMEP"),
    CarField("stroke", "Stroke", "", _ENGINE, "no piston speed, no BMEP"),
    CarField("cylinders", "Cylinders", "", _ENGINE, "no BMEP"),
    CarField(
        "fuel_stoichiometric_afr",
        "Stoichiometric air-fuel ratio of the fuel",
        "",
        _ENGINE,
        "a logged air-fuel ratio becomes lambda by a typical one",
    ),
    CarField(
        "rpm_band", "Usable RPM band, low and high", "6200 8600", _WANTED, "no time in band, no margins of shifts"
    ),
    CarField("boost_threshold", "Boost threshold (gauge)", "", _WANTED, "no time on boost"),
)


@dataclass(frozen=True, slots=True)
class StartingLimit:
    """A limit to begin with: everything but its value."""

    name: str
    """What it is called."""
    channel: str
    """What it holds for."""
    rule: str
    """``at_least``, ``at_most`` or ``curve``."""
    during: str = "run"
    """When it is looked at."""
    when: tuple[str, ...] = ()
    """Conditions, in words, their values left out."""
    against: str | None = None
    """The channel that a curve goes with."""
    longer_than: float | None = None
    """How long it may be broken. [s]"""

    def filled(self) -> dict[str, str | float | tuple[str, ...]]:
        """What of it stands in a card, by field, for the form's script."""
        every = ((one.name, getattr(self, one.name)) for one in fields(self))
        return {name: value for name, value in every if value is not None}


STARTING_LIMITS = (
    StartingLimit("Engine speed over", "engine_speed", "at_most"),
    StartingLimit("Boost over", "boost", "at_most"),
    StartingLimit("Oil pressure against engine speed", "oil_pressure", "curve", against="engine_speed"),
    StartingLimit("Fuel pressure against boost", "fuel_pressure", "curve", against="boost"),
    StartingLimit(
        "Lambda under load", "lambda", "at_most", when=("throttle at least", "boost at least"), longer_than=LAMBDA_LAG_S
    ),
    StartingLimit("Exhaust temperature", "exhaust_temperature", "at_most"),
    StartingLimit(
        "Spread of exhaust temperatures", "exhaust_temperature_spread", "at_most", longer_than=PROBES_APART_S
    ),
    StartingLimit("Coolant warm at staging", "coolant_temperature", "at_least", during="staging"),
    StartingLimit("Coolant at the finish", "coolant_temperature", "at_most"),
    StartingLimit("Coolant pressure, a lifting head", "coolant_pressure", "at_most"),
    StartingLimit("Crankcase pressure", "crankcase_pressure", "at_most"),
    StartingLimit("Injector duty", "injector_duty", "at_most"),
    StartingLimit("Knock", "knock", "at_most"),
)
"""Names, channels, rules, and how long a probe that lags may stand past; every value is the user's own to fill in."""


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
