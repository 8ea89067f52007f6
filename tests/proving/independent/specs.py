"""What one of the independent simulator's cars is made of.

Public: `Engine`, `Clutch`, `Box`, `Tire`, `Body`, `Day`, `Drive`, `CarSpec`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

Points = tuple[tuple[float, float], ...]
"""Engine speed [rpm] and full torque [N m] at the day's air, without boost."""


@dataclass(frozen=True, slots=True)
class Engine:
    """What turns the crank."""

    torque: Points
    """At full throttle and ambient pressure, friction taken off."""
    inertia_kgm2: float = 0.2
    """Crank, flywheel, clutch cover."""
    limiter_rpm: float = 7200.0
    """Spark is cut above it, and comes back 150 rpm below."""
    idle_rpm: float = 1000.0
    """Foot off."""
    friction: tuple[float, float] = (10.0, 0.0035)
    """At rest [N m] and more of it for each rpm."""
    boost_kpa: float = 0.0
    """Full boost, gauge; 0 breathes freely."""
    spools: tuple[float, float, float] = (3000.0, 700.0, 0.4)
    """Engine speed of half boost, width of the rise [rpm], time to follow [s]."""
    launch_boost: float = 0.3
    """Share of it while the car is held."""
    threshold_kpa: float = 100.0
    """What the crew asks for."""
    by_fuel: bool = False
    """A diesel: torque follows the fuel, not the air."""
    motor: tuple[float, float] = (0.0, 0.0)
    """An electric motor on the crank: most torque [N m], most power [W]."""


@dataclass(frozen=True, slots=True)
class Clutch:
    """What takes the drive up."""

    kind: str = "foot"
    """``foot``; ``centrifugal``; ``direct``, the box's own packs; ``converter``."""
    most_nm: float = 700.0
    """What it holds."""
    bite: tuple[float, float, float] = (0.3, 0.5, 1.0)
    """Share at once, time to all of it [s], and the power of that growth."""
    feel: float = 3.0
    """How strongly the driver holds engine speed by it at the launch."""
    slipper: bool = False
    """It goes on slipping in first gear."""
    judder: float = 0.0
    """Share by which it chatters, 13 times a second."""
    centrifugal: tuple[float, float, float] = (0.0, 300.0, 0.0)
    """N m s2 of its weights, the speed at which they begin to press [rad/s], what springs press beside [N m]."""
    timed: tuple[float, float] = (0.0, 0.3)
    """What an air cylinder adds [N m], and when after the release [s]."""
    converter: tuple[float, float, float] = (16.0, 2.0, 0.86)
    """Capacity [rad/s per root N m], torque ratio at stall, speed ratio where it has gone."""
    locks_from_gear: int = 99
    """A converter's lock-up."""
    gives_way: float = 0.0
    """Torque that it still holds in top gear, where it gives way [N m]; 0: it holds."""


@dataclass(frozen=True, slots=True)
class Box:
    """What changes the gears."""

    ratios: tuple[float, ...]
    """First to last."""
    final: float
    """Final drive."""
    kind: str = "lever"
    """``lever``, ``sequential``, ``overlap`` (dual clutch, bands), ``belt``, ``single``."""
    lever: tuple[float, float, float, float] = (0.045, 0.08, 160.0, 0.09)
    """Seconds to open the clutch and in neutral, synchronizer's torque [N m], seconds to close."""
    lifts: bool = True
    """The driver lifts for a lever shift."""
    cut: tuple[float, float, float] = (0.065, 0.02, 0.04)
    """Seconds that the spark is off, until the old gear is out, until the new one is in."""
    overlap: tuple[float, float, float, float, float, float] = (0.0, 0.04, 0.2, 1.5, 0.1, 0.3)
    """Delay, torque phase [s], share taken over at once, pressure, tie-up, torque taken back while speed changes."""
    belt: tuple[float, float, float, float] = (0.75, 3.6, 8000.0, 1.6)
    """Least and most ratio, engine speed held [rpm], share of the ratio that it can move in a second."""
    efficiency: float = 0.95
    """Of its gears."""
    churning: float = 0.2
    """Loss that grows with its output's speed. [N m s]"""
    inertias_kgm2: tuple[float, float] = (0.009, 0.9)
    """Input shaft; output shaft with the final drive, at wheel speed."""
    misses: tuple[int, float] = (0, 0.35)
    """Gear after which the lever does not find its way, and for how long [s]."""


@dataclass(frozen=True, slots=True)
class Tire:
    """Driven tires and the shafts to them."""

    radius_m: float = 0.32
    """At rest."""
    growth: float = 0.007
    """Share at 80 m/s; grows with the square of speed."""
    grip: float = 1.2
    """Most force over load."""
    peak_slip: float = 0.12
    """Where it is."""
    sliding: float = 0.8
    """Share left far beyond."""
    load_loss: float = 0.06
    """Grip lost with twice the load."""
    rubber: float = 0.0
    """Grip won or lost over the first 60 m."""
    relaxation_m: float = 0.3
    """Way in which it deflects."""
    inertia_kgm2: float = 3.0
    """Wheels."""
    shafts: tuple[float, float, float] = (15000.0, 100.0, 0.02)
    """Stiffness [N m/rad], damping [N m s/rad], backlash [rad]."""


@dataclass(frozen=True, slots=True)
class Body:
    """What is moved."""

    mass_kg: float
    """With driver."""
    drag_area_m2: float
    """Drag coefficient times frontal area."""
    driven: str = "rear"
    """``rear``, ``front``, ``all``."""
    geometry_m: tuple[float, float, float] = (2.6, 0.5, 1.25)
    """Wheelbase, height of the center of mass, its way behind the front axle."""
    lift_area_m2: float = 0.0
    """Down positive."""
    rolling: tuple[float, float, float] = (0.012, 0.001, 0.002)
    """Resistance over weight: at rest, with speed over 50 m/s, with its square."""
    undriven_m: float = 0.30
    """Radius of the undriven wheels."""
    undriven_inertia_kgm2: float = 1.6
    """Both of them."""
    pitch: tuple[float, float, float] = (0.08, 2.0, 0.0014)
    """Time that weight takes to shift [s], the body's own rate [Hz], its pitch for 1 m/s2 [rad]."""


@dataclass(frozen=True, slots=True)
class Day:
    """Air, wind and strip."""

    temperature_c: float
    pressure_kpa: float
    humidity: float
    """Share."""
    density: float
    """[kg/m3]"""
    charge: float
    """Torque of a freely breathing engine over that in standard air."""
    wind_mps: float
    """From behind positive."""
    gust_mps: float
    """Standard deviation."""
    grade: float


@dataclass(frozen=True, slots=True)
class Drive:
    """What the driver and the strip do."""

    launch_rpm: float = 4200.0
    """Held before the release."""
    held_by: str = "two-step"
    """``two-step``, ``throttle``, ``idle``."""
    two_step_band_rpm: float = 150.0
    """Between cut and fire."""
    shift_rpm: float = 6950.0
    """Where gears are changed."""
    burnout: tuple[float, float, float] = (0.0, 0.0, 20.0)
    """Begin and length [s], speed of the tires [m/s]; no length: none."""
    hop_s: float = 0.0
    """A dry hop then; 0: none."""
    pedals: int = 0
    """Times that the driver lifts when the tires spin."""
    lifts_at_m: float = 0.0
    """An early lift; 0: none."""
    shake: tuple[float, float, float, float] = (0.0, 0.0, 10.0, 0.0)
    """From and to after the release [s], rate [Hz], share of the grip."""
    finish_m: float = 402.336
    """From the start line."""


@dataclass(frozen=True, slots=True)
class CarSpec:
    """A car and its run."""

    body: Body
    engine: Engine
    box: Box
    clutch: Clutch = field(default_factory=Clutch)
    tire: Tire = field(default_factory=Tire)
    drive: Drive = field(default_factory=Drive)
    band_rpm: tuple[float, float] = (0.0, 0.0)
    """Of the crew; 0: from 74 % of the shift speed to it."""
    says: tuple[str, ...] = ()
    """Words one of which must be said of its trouble; none where there is none."""
