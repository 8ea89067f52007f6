"""The demo weekend: one car of one team of our own invention, nine runs in two days, each with its own story.

Public: `CAR`, `EVENT`, `TEAM`, `RUNS`, `DemoRun`, `car_table`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from passband.demo_logs.car_specs import CarSpec, TireSpec
from passband.demo_logs.engine_bay import BayPlan
from passband.demo_logs.engine_model import EngineSpec
from passband.demo_logs.recording import Day
from passband.demo_logs.story import RunPlan

TEAM = "Threeboat"
EVENT = "Lantern Weekend"
CAR = CarSpec(
    name="Tansy",
    mass_kg=958.0,
    driven="front",
    shifting="lever",
    gears=(2.26, 1.78, 1.43, 1.18, 0.99),
    final=4.62,
    engine=EngineSpec(
        ((0, 45), (3000, 110), (7000, 172), (9400, 182), (11000, 168), (12400, 120)),
        0.098,
        1450,
        11400,
        boost_pa=172e3,
        launch_boost_pa=38e3,
        flow_rpm=7400,
        spool_s=0.42,
    ),
    tire=TireSpec(0.304, 0.020, 2.1),
    undriven_radius_m=0.279,
    launch_rpm=7400,
    shift_rpm=(11100, 11050, 11000, 10950),
    band_rpm=(8300, 11200),
    clutch_spring_nm=84.0,
    clutch_fly_nm=362.0,
    clutch_full=(0.85, 0.92, 1.12, 1.35),
    input_inertia_kgm2=0.006,
    driven_inertia_kgm2=2.3,
    undriven_inertia_kgm2=0.8,
    shaft_stiffness_nm=17000.0,
    shaft_damping_nms=240.0,
    drag_area_m2=0.56,
    rolling=0.015,
    efficiency=0.91,
    driven_load=0.67,
    height_over_base=0.15,
    gear_share=(0.30, 0.56, 0.82, 1.0),
    rollout_m=0.24,
    cut_s=(0.092, 0.085, 0.080, 0.076),
)
"""A front-drive car of 958 kg with a turbocharged four-cylinder that lives from 8,300 to 11,200 rpm."""
BOOST_THRESHOLD_PA = 120e3
SATURDAY = {"temperature_k": 290.4, "pressure_pa": 101.6e3, "relative_humidity": 0.52}
SUNDAY = {"temperature_k": 306.5, "pressure_pa": 98.4e3, "relative_humidity": 0.38}


@dataclass(frozen=True, slots=True)
class DemoRun:
    """One run of the weekend."""

    slug: str
    """Stem of its files."""
    label: str
    """What the crew calls it."""
    round: str
    """Qualifying or elimination."""
    plan: RunPlan
    """How it was driven."""
    day: Day
    """Air, and what ailed the engine."""
    notes: str
    """What the crew wrote."""
    ecu_dialect: str = "brackets"
    """How the ECU's log was exported."""
    dash_dialect: str = "brackets"
    """How the dash's was."""
    taste: str = "metric"
    """Units of the ECU's log."""
    burnout_s: float = 2.8
    """Length of the burnout."""
    offset_s: float = 0.0
    """Dash clock's nought on the ECU's clock."""
    finds: dict[str, Any] = field(default_factory=dict)
    """What a reader of the logs should come upon."""


def _day(air: dict[str, float], **bay: Any) -> Day:
    ambient = air["temperature_k"]
    ails = {"ambient_k": ambient, "coolant_k": 342.0 + 0.25 * (ambient - 290.0), "rich_lambda": 0.79, **bay}
    return Day(bay=BayPlan(**ails), **air)


def _plan(reaction_s: float, **changes: Any) -> RunPlan:
    return RunPlan(reaction_s=reaction_s, shift_scatter_rpm=30.0, stage_s=2.4, **changes)


RUNS: tuple[DemoRun, ...] = (
    DemoRun(
        "01_q1",
        "Q1",
        "Qualifying 1",
        _plan(0.182, early_shift=1, early_by_rpm=1050.0),
        _day(SATURDAY),
        "First pass off the trailer. Pulled second early.",
        offset_s=-2.184,
        finds={"short_shift": 1},
    ),
    DemoRun(
        "02_q2",
        "Q2",
        "Qualifying 2",
        _plan(0.121),
        _day(SATURDAY),
        "All as planned.",
        offset_s=1.422,
        finds={"clean": True},
    ),
    DemoRun(
        "03_q3",
        "Q3",
        "Qualifying 3",
        _plan(0.094, slick=((1.5, 13.0, 0.45),), lifts=((7.5, 0.45, 0.12),)),
        _day(SATURDAY),
        "Left lane. Spun on the hit, lifted and got back on it.",
        offset_s=-0.731,
        ecu_dialect="preamble",
        finds={"wheelspin": True},
    ),
    DemoRun(
        "04_e1",
        "E1",
        "Elimination 1",
        _plan(0.067, late_shift=2, late_by_s=0.34),
        _day(SATURDAY),
        "Won on a hole shot. Missed the light for third.",
        offset_s=3.057,
        ecu_dialect="preamble",
        finds={"late_shift": 2},
    ),
    DemoRun(
        "05_sunday",
        "Sunday first",
        "Warm-up",
        _plan(0.153),
        _day(SUNDAY),
        "Hot, thin air. Same tune.",
        offset_s=-1.309,
        ecu_dialect="euro",
        dash_dialect="euro",
        taste="bar",
        finds={"clean": True, "thin_air": True},
    ),
    DemoRun(
        "06_e2",
        "E2",
        "Elimination 2",
        _plan(0.088, launch_rpm=6200.0, bite=1.31),
        _day(SUNDAY),
        "Lower two-step against the heat. Fell on its face, won anyway.",
        offset_s=0.866,
        ecu_dialect="euro",
        dash_dialect="euro",
        taste="bar",
        finds={"bog": True, "thin_air": True},
    ),
    DemoRun(
        "07_e3",
        "E3",
        "Elimination 3",
        _plan(0.102, boost_share=0.80),
        _day(SUNDAY),
        "Lazy from the second gear on. Found a split coupling afterwards.",
        offset_s=-3.447,
        ecu_dialect="tab",
        dash_dialect="hash",
        finds={"boost_leak": True, "thin_air": True},
    ),
    DemoRun(
        "08_semi",
        "Semi",
        "Semi-final",
        _plan(0.111),
        _day(SUNDAY, oil_sag=(7.6e4, 0.28)),
        "New coupling. Oil light flickered on the hit.",
        offset_s=2.218,
        ecu_dialect="tab",
        dash_dialect="hash",
        finds={"oil_sag": True, "thin_air": True},
    ),
    DemoRun(
        "09_final",
        "Final",
        "Final",
        _plan(0.058, through_s=1.6),
        _day(SUNDAY),
        "One quart more in the pan. Stayed on it past the stripe.",
        offset_s=0.294,
        ecu_dialect="pipe",
        dash_dialect="preamble",
        finds={"clean": True, "thin_air": True, "driven_through": True},
    ),
)
"""In order."""

LIMITS: list[dict[str, Any]] = [
    {"name": "Engine speed", "channel": "engine_speed", "at_most": "11350 rpm"},
    {
        "name": "Oil pressure against engine speed",
        "channel": "oil_pressure",
        "curve": {
            "against": "engine_speed",
            "side": "at_least",
            "points": [
                ["3000 rpm", "140 kPa"],
                ["6000 rpm", "260 kPa"],
                ["8000 rpm", "360 kPa"],
                ["11000 rpm", "400 kPa"],
            ],
        },
    },
    {
        "name": "Fuel pressure against boost",
        "channel": "fuel_pressure",
        "curve": {
            "against": "boost",
            "side": "at_least",
            "points": [["0 kPa", "240 kPa"], ["100 kPa", "320 kPa"], ["200 kPa", "410 kPa"]],
        },
    },
    {
        "name": "Mixture under load",
        "channel": "lambda",
        "at_most": 0.86,
        "longer_than": "0.2 s",
        "when": [{"channel": "throttle", "at_least": "90 %"}, {"channel": "boost", "at_least": "60 kPa"}],
    },
    {"name": "Exhaust temperature", "channel": "exhaust_temperature", "at_most": "930 degC"},
    {"name": "Exhaust temperature spread", "channel": "exhaust_temperature_spread", "at_most": "60 degC"},
    {"name": "Coolant at staging", "channel": "coolant_temperature", "at_least": "60 degC", "during": "staging"},
    {"name": "Coolant in the run", "channel": "coolant_temperature", "at_most": "104 degC"},
    {"name": "Crankcase pressure", "channel": "crankcase_pressure", "at_most": "9 kPa"},
    {"name": "Boost ceiling", "channel": "boost", "at_most": "192 kPa"},
    {
        "name": "Boost in the top gears",
        "channel": "boost",
        "at_least": "140 kPa",
        "longer_than": "0.4 s",
        "when": [{"channel": "throttle", "at_least": "90 %"}, {"channel": "gear", "at_least": 4}],
    },
    {"name": "Injector duty", "channel": "injector_duty", "at_most": "92 %"},
]
"""The team's own limits for this car."""


def car_table() -> dict[str, Any]:
    """The car as its team would describe it: keys of the car file, quantities with units."""
    spec = CAR
    return {
        "name": f"{spec.name} ({TEAM})",
        "mass": f"{spec.mass_kg:g} kg",
        "driven_axle": spec.driven,
        "transmission": "clutch",
        "gear_ratios": list(spec.gears),
        "final_drive": spec.final,
        "tire_circumference": f"{spec.tire_circumference_m:.3f} m",
        "undriven_tire_circumference": f"{spec.undriven_circumference_m:.3f} m",
        "drag_area": f"{spec.drag_area_m2:g} m^2",
        "rolling_resistance": spec.rolling,
        "driveline_efficiency": spec.efficiency,
        "engine_inertia": f"{spec.engine.inertia_kgm2:g} kg*m^2",
        "wheel_inertia": f"{spec.wheel_inertia_kgm2:.2f} kg*m^2",
        "rollout": f"{spec.rollout_m:g} m",
        "bore": "86 mm",
        "stroke": "86 mm",
        "cylinders": 4,
        "fuel_stoichiometric_afr": 9.0,
        "rpm_band": [f"{rpm:g} rpm" for rpm in spec.band_rpm],
        "boost_threshold": f"{BOOST_THRESHOLD_PA / 1e3:g} kPa",
        "limits": LIMITS,
    }
