"""The demo weekend: one car of one team of our own invention, nine runs in two days, each with its own story.

Public: `CAR`, `EVENT`, `TEAM`, `RUNS`, `DemoRun`, `car_table`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from passband.demo_logs.car_specs import CarSpec, TireSpec
from passband.demo_logs.engine_bay import BayPlan
from passband.demo_logs.engine_model import EngineSpec
from passband.demo_logs.recording import Day
from passband.demo_logs.story import RunPlan

POUND_KG, INCH_M, INHG_PA, MPH, PSI_PA = 0.45359237, 0.0254, 3386.389, 0.44704, 6894.757293168
TEAM = "Threeboat"
EVENT = "Lantern Weekend"
CAR = CarSpec(
    name="Dunlin",
    mass_kg=3080.0 * POUND_KG,
    driven="rear",
    shifting="lever",
    gears=(2.61, 1.96, 1.49, 1.15),
    final=3.70,
    engine=EngineSpec(
        ((0, 110), (2000, 214), (4200, 286), (5700, 302), (7000, 282), (8400, 212)),
        0.235,
        1250,
        8150,
        friction_nm=(22.0, 4.6),
        boost_pa=140e3,
        launch_boost_pa=52e3,
        flow_rpm=4700,
        spool_s=0.40,
    ),
    tire=TireSpec(85.5 * INCH_M / (2 * math.pi), 0.026, 2.05),
    undriven_radius_m=78.5 * INCH_M / (2 * math.pi),
    launch_rpm=4900,
    shift_rpm=(7700, 7650, 7650),
    band_rpm=(5300, 7800),
    clutch_spring_nm=210.0,
    clutch_fly_nm=1240.0,
    clutch_full=(1.15, 1.25, 1.4, 1.5),
    input_inertia_kgm2=0.010,
    driven_inertia_kgm2=4.4,
    undriven_inertia_kgm2=1.5,
    shaft_stiffness_nm=30000.0,
    shaft_damping_nms=280.0,
    drag_area_m2=0.69,
    rolling=0.016,
    efficiency=0.90,
    driven_load=0.52,
    height_over_base=0.17,
    gear_share=(0.52, 0.84, 1.0),
    rollout_m=11.0 * INCH_M,
    cut_s=(0.090, 0.082, 0.076),
)
"""A rear-drive car of 3,080 lb with a turbocharged straight six on gasoline that lives from 5,300 to 7,800 rpm."""
BOOST_THRESHOLD_PA = 15.0 * PSI_PA
SATURDAY = {"temperature_k": 288.15, "pressure_pa": 30.09 * INHG_PA, "relative_humidity": 0.61}
SUNDAY = {"temperature_k": 307.15, "pressure_pa": 29.02 * INHG_PA, "relative_humidity": 0.43, "wind_mps": -5.0 * MPH}
EVENING = {"temperature_k": 297.15, "pressure_pa": 29.10 * INHG_PA, "relative_humidity": 0.52}
"""Cool and still; hot, thin and a headwind; and what the heat left of it at sundown."""


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
    taste: str = "imperial"
    """Units of the ECU's log."""
    burnout_s: float = 2.8
    """Length of the burnout."""
    offset_s: float = 0.0
    """Dash clock's zero on the ECU's clock."""
    finds: dict[str, Any] = field(default_factory=dict)
    """What a reader of the logs should come upon."""


def _day(air: dict[str, float], **bay: Any) -> Day:
    ambient = air["temperature_k"]
    ails = {"ambient_k": ambient, "coolant_k": 342.0 + 0.25 * (ambient - 290.0), "rich_lambda": 0.81, **bay}
    return Day(bay=BayPlan(cylinders=6, **ails), **air)


def _plan(reaction_s: float, **changes: Any) -> RunPlan:
    return RunPlan(reaction_s=reaction_s, shift_scatter_rpm=30.0, stage_s=2.4, **changes)


RUNS: tuple[DemoRun, ...] = (
    DemoRun(
        "01_q1",
        "Q1",
        "Qualifying 1",
        _plan(0.214, early_shift=1, early_by_rpm=1000.0),
        _day(SATURDAY),
        "First pass off the trailer. Grabbed second a thousand early.",
        offset_s=-2.184,
        finds={"short_shift": 1},
    ),
    DemoRun(
        "02_q2",
        "Q2",
        "Qualifying 2",
        _plan(0.137),
        _day(SATURDAY),
        "All as planned.",
        offset_s=1.422,
        finds={"clean": True},
    ),
    DemoRun(
        "03_q3",
        "Q3",
        "Qualifying 3",
        _plan(0.088, slick=((1.5, 11.0, 0.55),), lifts=((3.6, 0.40, 0.15),)),
        _day(SATURDAY),
        "Right lane. Blew the tires off, pedaled it, went on.",
        offset_s=-0.731,
        ecu_dialect="preamble",
        finds={"wheelspin": True},
    ),
    DemoRun(
        "04_e1",
        "E1",
        "Elimination 1",
        _plan(0.061, missed_gear=3, missed_s=0.36),
        _day(SATURDAY),
        "Missed third and found it again. The other lane went red.",
        offset_s=3.057,
        ecu_dialect="preamble",
        finds={"missed_shift": 2},
    ),
    DemoRun(
        "05_sunday",
        "Sunday first",
        "Warm-up",
        _plan(0.166),
        _day(SUNDAY),
        "Hot, and a wind in the face. Same tune as yesterday.",
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
        _plan(0.093, launch_rpm=3700.0, bite=1.4),
        _day(SUNDAY),
        "Twelve hundred off the two-step for the hot lane. Bogged; won on the top end.",
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
        _plan(0.108, boost_share=0.78),
        _day(SUNDAY),
        "Flat all the way down. A hose clamp hung by its screw.",
        offset_s=-3.447,
        ecu_dialect="tab",
        dash_dialect="hash",
        taste="metric",
        finds={"boost_leak": True, "thin_air": True},
    ),
    DemoRun(
        "08_semi",
        "Semi",
        "Semi-final",
        _plan(0.119, boost_share=1.05),
        _day(EVENING, oil_sag=(2.0e4, 0.28)),
        "New clamps, a pound more spring in the gate. Oil light blinked as it left.",
        offset_s=2.218,
        ecu_dialect="tab",
        dash_dialect="hash",
        taste="metric",
        finds={"oil_sag": True, "more_boost": True},
    ),
    DemoRun(
        "09_final",
        "Final",
        "Final",
        _plan(0.052, boost_share=1.05, through_s=1.6),
        _day(EVENING),
        "A quart over full. Same spring. Stayed in it well past the stripe.",
        offset_s=0.294,
        ecu_dialect="pipe",
        dash_dialect="preamble",
        taste="bar",
        finds={"clean": True, "more_boost": True, "driven_through": True},
    ),
)
"""In order."""

LIMITS: list[dict[str, Any]] = [
    {"name": "Engine speed", "channel": "engine_speed", "at_most": "8050 rpm"},
    {
        "name": "Oil pressure against engine speed",
        "channel": "oil_pressure",
        "curve": {
            "against": "engine_speed",
            "side": "at_least",
            "points": [["2500 rpm", "22 psi"], ["4000 rpm", "35 psi"], ["6000 rpm", "50 psi"], ["8000 rpm", "60 psi"]],
        },
    },
    {
        "name": "Fuel pressure against boost",
        "channel": "fuel_pressure",
        "curve": {
            "against": "boost",
            "side": "at_least",
            "points": [["-10 psi", "26 psi"], ["0 psi", "36 psi"], ["12 psi", "47 psi"], ["24 psi", "58 psi"]],
        },
    },
    {
        "name": "Mixture under load",
        "channel": "lambda",
        "at_most": 0.88,
        "longer_than": "0.2 s",
        "when": [{"channel": "throttle", "at_least": "90 %"}, {"channel": "boost", "at_least": "8 psi"}],
    },
    {"name": "Exhaust temperature", "channel": "exhaust_temperature", "at_most": "1680 degF"},
    {
        "name": "Exhaust temperature spread",
        "channel": "exhaust_temperature_spread",
        "at_most": "150 degF",
        "longer_than": "0.5 s",
    },
    {"name": "Coolant at staging", "channel": "coolant_temperature", "at_least": "130 degF", "during": "staging"},
    {"name": "Coolant in the run", "channel": "coolant_temperature", "at_most": "205 degF"},
    {"name": "Crankcase pressure", "channel": "crankcase_pressure", "at_most": "0.9 psi"},
    {"name": "Boost ceiling", "channel": "boost", "at_most": "24 psi"},
    {
        "name": "Boost in the top gears",
        "channel": "boost",
        "at_least": "17.5 psi",
        "longer_than": "0.8 s",
        "when": [{"channel": "throttle", "at_least": "90 %"}, {"channel": "gear", "at_least": 3}],
    },
    {"name": "Injector duty", "channel": "injector_duty", "at_most": "85 %"},
]
"""The team's own limits for this car."""


def car_table() -> dict[str, Any]:
    """The car as its team would describe it, SI and US units mixed: keys of the car file."""
    spec = CAR
    return {
        "name": f"{spec.name} ({TEAM})",
        "mass": f"{spec.mass_kg / POUND_KG:.0f} lb",
        "driven_axle": spec.driven,
        "transmission": "clutch",
        "gear_ratios": list(spec.gears),
        "final_drive": spec.final,
        "tire_circumference": f"{spec.tire_circumference_m / INCH_M:.1f} in",
        "undriven_tire_circumference": f"{spec.undriven_circumference_m / INCH_M:.1f} in",
        "drag_area": f"{spec.drag_area_m2:g} m^2",
        "rolling_resistance": spec.rolling,
        "driveline_efficiency": f"{100 * spec.efficiency:g} %",
        "engine_inertia": f"{spec.engine.inertia_kgm2:g} kg*m^2",
        "wheel_inertia": f"{spec.wheel_inertia_kgm2:.2f} kg*m^2",
        "rollout": f"{spec.rollout_m / INCH_M:g} in",
        "bore": "87.5 mm",
        "stroke": "91 mm",
        "cylinders": 6,
        "fuel_stoichiometric_afr": 14.6,
        "rpm_band": [f"{rpm:g} rpm" for rpm in spec.band_rpm],
        "boost_threshold": f"{BOOST_THRESHOLD_PA / PSI_PA:g} psi",
        "limits": LIMITS,
    }
