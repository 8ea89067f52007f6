"""The invented cars of the proving ground and of the demo weekend.

Public: `TireSpec`, `ConverterSpec`, `CarSpec`, `CARS`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from passband.demo_logs.engine_model import EngineSpec


@dataclass(frozen=True, slots=True)
class TireSpec:
    """The driven tire."""

    radius_m: float
    """Rolling radius at rest."""
    growth: float
    """Share it grows by at 75 m/s."""
    grip: float
    """Greatest force over load. [-]"""
    slide: float = 0.84
    """Share of the greatest force left in full slide. [-]"""
    peak_slip: float = 0.085
    """Slip of the greatest force, against the wheel's speed. [-]"""
    relaxation_m: float = 0.30
    """Distance in which the force builds up."""


@dataclass(frozen=True, slots=True)
class ConverterSpec:
    """A torque converter."""

    capacity: float
    """Pump torque over speed squared at stall. [N m s2]"""
    stall_ratio: float
    """Torque multiplication at stall. [-]"""
    turbine_inertia_kgm2: float
    """Turbine and what turns with it before the gears."""
    lock_up: bool = False
    """True where a clutch locks it in the top gear."""


@dataclass(frozen=True, slots=True)
class CarSpec:
    """One invented car, all of it."""

    name: str
    """What it is called."""
    mass_kg: float
    """With driver."""
    driven: str
    """``front``, ``rear``, ``all``."""
    shifting: str
    """``foot`` (clutch pedal), ``lever`` (torque cut, no clutch), ``converter``."""
    gears: tuple[float, ...]
    """First to last."""
    final: float
    """Final drive."""
    engine: EngineSpec
    """The engine."""
    tire: TireSpec
    """The driven tire."""
    undriven_radius_m: float
    """Rolling radius of the undriven wheels at rest."""
    launch_rpm: float
    """Two-step, or stall."""
    shift_rpm: tuple[float, ...]
    """Where each gear but the last is left."""
    band_rpm: tuple[float, float]
    """Usable band."""
    clutch_spring_nm: float = 0.0
    """Clutch torque at rest."""
    clutch_fly_nm: float = 0.0
    """Clutch torque added by centrifugal arms at 1000 rad/s; it grows with the square."""
    clutch_full: tuple[float, ...] = (1.0,)
    """What it holds in each gear once the launch is over, over the launch's; the last stands for those after."""
    converter: ConverterSpec | None = None
    """The converter, where it has one."""
    input_inertia_kgm2: float = 0.006
    """Clutch disc and gearbox at input speed."""
    driven_inertia_kgm2: float = 3.0
    """Driven wheels, brakes, shafts, at their own speed."""
    undriven_inertia_kgm2: float = 1.0
    """Undriven wheels at their own speed."""
    shaft_stiffness_nm: float = 20000.0
    """Shafts at wheel speed. [N m/rad]"""
    shaft_damping_nms: float = 45.0
    """Shafts at wheel speed. [N m s/rad]"""
    drag_area_m2: float = 0.65
    """Cd x A."""
    rolling: float = 0.015
    """Rolling resistance. [-]"""
    efficiency: float = 0.91
    """Gears, joints, final drive. [-]"""
    driven_load: float = 0.5
    """Share of the weight on the driven axle at rest. [-]"""
    height_over_base: float = 0.16
    """Height of the mass over the wheelbase. [-]"""
    gear_share: tuple[float, ...] = ()
    """Share the tune allows in each gear, of boost (turbo) or torque; empty: all. The last stands for those after."""
    rollout_m: float = 0.25
    """From the stage beam's first break to where the clock starts."""
    cut_s: tuple[float, ...] = (0.075,)
    """Torque cut of each lever shift; the last stands for those after."""
    facts: dict[str, float] = field(default_factory=dict)
    """Further facts a reader may be given (bore_m, stroke_m, cylinders, stoich)."""

    @staticmethod
    def of_gear(values: tuple[float, ...], gear: int) -> float:
        """The value of a gear from 1; the last stands for those after, 1 for none."""
        return values[min(max(gear, 1), len(values)) - 1] if values else 1.0

    @property
    def wheel_inertia_kgm2(self) -> float:
        """All wheels and the driveline as one figure at the driven wheels' speed."""
        return (
            self.driven_inertia_kgm2 + self.undriven_inertia_kgm2 * (self.tire.radius_m / self.undriven_radius_m) ** 2
        )

    @property
    def tire_circumference_m(self) -> float:
        """At rest."""
        return 2 * math.pi * self.tire.radius_m

    @property
    def undriven_circumference_m(self) -> float:
        """At rest."""
        return 2 * math.pi * self.undriven_radius_m


CARS: dict[str, CarSpec] = {
    "front_foot": CarSpec(
        "Teal Hatch",
        1065.0,
        "front",
        "foot",
        (2.72, 1.88, 1.41, 1.11, 0.91),
        3.94,
        EngineSpec(
            ((0, 60), (2500, 130), (5200, 196), (7000, 204), (8600, 184), (9800, 140)),
            0.145,
            1000,
            9100,
            boost_pa=195e3,
            launch_boost_pa=25e3,
            flow_rpm=5600,
            spool_s=0.5,
        ),
        TireSpec(0.312, 0.017, 2.0),
        0.291,
        6300,
        (8550, 8500, 8450, 8450),
        (6100, 8700),
        clutch_spring_nm=150.0,
        clutch_fly_nm=334.0,
        clutch_full=(1.3, 1.5, 1.9, 2.2),
        driven_inertia_kgm2=2.5,
        undriven_inertia_kgm2=1.3,
        shaft_stiffness_nm=14000.0,
        shaft_damping_nms=150.0,
        drag_area_m2=0.63,
        efficiency=0.905,
        driven_load=0.62,
        rollout_m=0.27,
        gear_share=(0.2, 0.48, 0.75, 1.0),
    ),
    "rear_lever": CarSpec(
        "Ochre Coupe",
        1155.0,
        "rear",
        "lever",
        (2.42, 1.80, 1.42, 1.16, 0.97),
        3.95,
        EngineSpec(
            ((0, 80), (2500, 170), (5000, 262), (7000, 285), (8800, 262), (10000, 205)),
            0.18,
            1100,
            9500,
            boost_pa=215e3,
            launch_boost_pa=75e3,
            flow_rpm=5600,
            spool_s=0.38,
        ),
        TireSpec(0.338, 0.030, 2.15),
        0.302,
        6700,
        (9000, 8950, 8950, 8900),
        (6600, 9150),
        clutch_spring_nm=330.0,
        clutch_fly_nm=560.0,
        clutch_full=(1.15, 1.35, 1.45, 1.55, 1.7),
        driven_inertia_kgm2=3.7,
        undriven_inertia_kgm2=0.9,
        shaft_stiffness_nm=26000.0,
        shaft_damping_nms=250.0,
        drag_area_m2=0.62,
        efficiency=0.9,
        driven_load=0.52,
        gear_share=(0.5, 0.86, 1.0),
        rollout_m=0.22,
        cut_s=(0.080, 0.072, 0.066, 0.062),
    ),
    "rear_natural": CarSpec(
        "Slate Sedan",
        1310.0,
        "rear",
        "lever",
        (2.28, 1.66, 1.28, 1.0),
        4.3,
        EngineSpec(
            ((0, 240), (2500, 520), (5200, 760), (6800, 800), (8200, 735), (9300, 590)),
            0.25,
            1150,
            8900,
            friction_nm=(26.0, 5.5),
        ),
        TireSpec(0.378, 0.034, 2.25),
        0.312,
        5900,
        (8450, 8400, 8350),
        (6300, 8600),
        clutch_spring_nm=420.0,
        clutch_fly_nm=912.0,
        clutch_full=(1.0, 1.1, 1.2),
        driven_inertia_kgm2=5.4,
        undriven_inertia_kgm2=0.9,
        shaft_stiffness_nm=32000.0,
        shaft_damping_nms=250.0,
        drag_area_m2=0.66,
        rolling=0.016,
        efficiency=0.915,
        driven_load=0.52,
        height_over_base=0.18,
        rollout_m=0.24,
        cut_s=(0.085, 0.08, 0.075),
        gear_share=(0.9, 1.0),
    ),
    "all_foot": CarSpec(
        "Moss Wagon",
        1475.0,
        "all",
        "foot",
        (3.15, 2.02, 1.42, 1.08, 0.87),
        3.75,
        EngineSpec(
            ((0, 70), (2500, 150), (4500, 212), (6000, 218), (7200, 196), (8200, 150)),
            0.2,
            950,
            7700,
            boost_pa=165e3,
            launch_boost_pa=70e3,
            flow_rpm=4900,
            spool_s=0.4,
        ),
        TireSpec(0.314, 0.011, 1.45),
        0.314,
        5200,
        (7250, 7150, 7100, 7100),
        (4700, 7200),
        clutch_spring_nm=60.0,
        clutch_fly_nm=1420.0,
        clutch_full=(1.6, 1.8, 2.2),
        input_inertia_kgm2=0.008,
        driven_inertia_kgm2=4.6,
        undriven_inertia_kgm2=0.02,
        shaft_stiffness_nm=22000.0,
        shaft_damping_nms=180.0,
        drag_area_m2=0.71,
        efficiency=0.855,
        driven_load=1.0,
        height_over_base=0.0,
        rollout_m=0.29,
        gear_share=(0.85, 1.0),
    ),
    "converter": CarSpec(
        "Copper Pickup",
        1560.0,
        "rear",
        "converter",
        (2.28, 1.45, 1.0),
        3.4,
        EngineSpec(
            ((0, 230), (2500, 470), (4600, 640), (6000, 690), (7200, 640), (8200, 500)),
            0.32,
            900,
            7800,
            friction_nm=(28.0, 6.0),
        ),
        TireSpec(0.365, 0.024, 1.95),
        0.33,
        3500,
        (7100, 7050),
        (5300, 7300),
        converter=ConverterSpec(0.00306, 1.65, 0.06, True),
        input_inertia_kgm2=0.02,
        driven_inertia_kgm2=5.0,
        undriven_inertia_kgm2=1.4,
        shaft_stiffness_nm=26000.0,
        shaft_damping_nms=250.0,
        drag_area_m2=0.84,
        efficiency=0.88,
        driven_load=0.48,
        height_over_base=0.17,
        rollout_m=0.26,
    ),
    "front_lever": CarSpec(
        "Quince Compact",
        985.0,
        "front",
        "lever",
        (2.36, 1.80, 1.43, 1.17, 0.98),
        4.35,
        EngineSpec(
            ((0, 50), (3000, 120), (6500, 178), (8600, 190), (10200, 176), (11500, 140)),
            0.105,
            1300,
            11300,
            boost_pa=185e3,
            launch_boost_pa=35e3,
            flow_rpm=7000,
            spool_s=0.42,
        ),
        TireSpec(0.302, 0.019, 2.05),
        0.276,
        7400,
        (10500, 10450, 10400, 10350),
        (8000, 10800),
        clutch_spring_nm=172.0,
        clutch_fly_nm=234.0,
        clutch_full=(1.0, 1.08, 1.35, 1.6),
        driven_inertia_kgm2=2.3,
        undriven_inertia_kgm2=0.8,
        shaft_stiffness_nm=16000.0,
        shaft_damping_nms=250.0,
        drag_area_m2=0.58,
        efficiency=0.91,
        driven_load=0.66,
        height_over_base=0.15,
        rollout_m=0.23,
        cut_s=(0.095, 0.085, 0.08, 0.075),
        gear_share=(0.28, 0.52, 0.78, 1.0),
    ),
    "eighth_lever": CarSpec(
        "Plum Roadster",
        940.0,
        "rear",
        "lever",
        (2.15, 1.62, 1.27, 1.05),
        4.75,
        EngineSpec(
            ((0, 130), (2500, 300), (5500, 470), (7400, 500), (8800, 465), (9800, 380)),
            0.17,
            1200,
            9700,
            friction_nm=(20.0, 4.0),
        ),
        TireSpec(0.362, 0.036, 2.1),
        0.30,
        6400,
        (9200, 9150, 9100),
        (6900, 9400),
        clutch_spring_nm=262.0,
        clutch_fly_nm=602.0,
        clutch_full=(0.9, 1.0, 1.1),
        driven_inertia_kgm2=4.4,
        undriven_inertia_kgm2=0.7,
        shaft_stiffness_nm=26000.0,
        shaft_damping_nms=250.0,
        drag_area_m2=0.52,
        efficiency=0.92,
        driven_load=0.56,
        rollout_m=0.2,
        cut_s=(0.07, 0.065, 0.06),
    ),
}
"""By a short name; ratios, masses and powers are of our own making."""
