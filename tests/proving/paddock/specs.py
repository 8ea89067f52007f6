"""What a car of the paddock is made of, who drives it, and the day.

Public: `Engine`, `Turbo`, `TakeUp`, `Converter`, `Gearbox`, `Tire`, `Body`, `Driver`, `Strip`, `CarSpec`, `Day`.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Turbo:
    """What fills the manifold above the air's own pressure."""

    boost_kpa: float = 120.0
    """Full, gauge, in standard air."""
    threshold_kpa: float = 60.0
    """What the owner asks for, gauge."""
    spools_rpm: tuple[float, float] = (1900.0, 4200.0)
    """Engine speed at which it begins to fill, and at which it may fill wholly."""
    lag_s: float = 0.45
    """Time constant at the upper of these speeds."""
    launch_kpa: float = 60.0
    """No more than this while the car is held, gauge."""


@dataclass(frozen=True, slots=True)
class Engine:
    """What turns the crank: a parabola of torque over engine speed, and friction."""

    peak_nm: float = 420.0
    """Most torque at 101.3 kPa in the manifold; an electric motor's below its base speed."""
    peak_rpm: float = 4800.0
    """Where it is."""
    falls: tuple[float, float] = (0.55, 0.45)
    """How steeply torque falls below and above it: share lost at no speed, and at twice the speed."""
    friction: tuple[float, float, float] = (10.0, 0.0022, 0.22)
    """At rest [N m], more for each rpm, more for each square of 1000 rpm."""
    inertia_kgm2: float = 0.18
    """Crank, flywheel, clutch cover; a converter's pump."""
    limiter_rpm: float = 7400.0
    """Spark is cut above it, and comes back 110 rpm below."""
    idle_rpm: float = 950.0
    """Foot off."""
    spark_s: float = 0.010
    """Time constant from spark to torque."""
    manifold_s: float = 0.035
    """Time constant with which the manifold fills and empties."""
    turbo: Turbo | None = None
    """None breathes freely."""
    motor_w: float = 0.0
    """Most power of an electric motor; 0 burns fuel."""
    worked: tuple[tuple[float, float], ...] = ()
    """What work on it made of its torque: engine speeds [rpm] and shares of it; none: as it was."""


@dataclass(frozen=True, slots=True)
class TakeUp:
    """How the drive is taken up at the launch."""

    kind: str = "clutch"
    """``clutch``, ``packs`` (a dual clutch's, or an electric car's fixed gear), ``converter``."""
    most_nm: float = 650.0
    """What clutch or pack holds, cold and stuck."""
    fade: float = 0.15
    """Share lost when it is hot."""
    hot_j: float = 150e3
    """Heat at which it is."""
    sliding: float = 0.88
    """Share of the grip that is left when it slides fast."""
    profile: str = "slip"
    """``slip`` fed in, ``two`` stages, ``dump`` at once."""
    bite_s: float = 0.09
    """To the first share."""
    share: float = 0.45
    """The first share of `most_nm`."""
    feed_s: float = 1.3
    """To all of it."""
    feed_power: float = 1.7
    """How the rest grows."""
    stage_s: float = 0.8
    """When the second stage begins."""


@dataclass(frozen=True, slots=True)
class Converter:
    """A torque converter and its lock-up."""

    capacity: float = 0.0024
    """Pump torque over the square of its speed, at stall. [N m s2]"""
    stall_ratio: float = 1.9
    """Turbine torque over pump torque at stall."""
    coupling: float = 0.88
    """Speed ratio from which it multiplies no more."""
    locks_from_gear: int = 0
    """0: never."""
    lock_nm: float = 900.0
    """What the lock-up holds."""
    brake: bool = False
    """Held by a brake within the gearbox."""


@dataclass(frozen=True, slots=True)
class Gearbox:
    """What changes the gears, and how."""

    ratios: tuple[float, ...] = (3.0, 2.0, 1.45, 1.12, 0.9)
    """First to last."""
    final: float = 3.9
    """Final drive."""
    shift: str = "lift"
    """``lift`` by foot and hand, ``flat`` with the foot down, ``cut`` sequential, ``packs``, ``auto``."""
    pace: float = 1.0
    """How slow the hand or the box is, over the usual."""
    sync_nm: float = 70.0
    """Of a synchronizer."""
    dog_nm: float = 2600.0
    """What dogs take while the shafts still turn apart."""
    cut_depth: float = 0.0
    """Share of the spark left in a cut."""
    hand_over_s: float = 0.09
    """Torque goes from one pack to the other."""
    flare_s: float = 0.0
    """The new pack comes so late."""
    firm: float = 0.35
    """By so much the new pack presses more than it must."""
    eased: float = 0.75
    """Share of the spark left while packs bring the engine down."""
    misses: tuple[int, float] = (0, 0.0)
    """Gear from which the next is not found at once, and the time it takes longer [s]."""
    mesh: float = 0.955
    """Share of power that the gears pass on."""
    drags: tuple[float, float] = (5.0, 0.04)
    """At the output: torque at rest [N m], more for each rad/s."""
    input_kgm2: float = 0.015
    """Clutch disc and input shaft; a converter's turbine."""
    output_kgm2: float = 0.5
    """All behind the gears, at wheel speed."""
    shafts: tuple[float, float, float] = (9000.0, 42.0, 0.012)
    """To the wheels: stiffness [N m/rad], damping [N m s/rad], half of the backlash [rad]."""


@dataclass(frozen=True, slots=True)
class Tire:
    """Driven tires."""

    radius_m: float = 0.33
    """Slow."""
    growth: float = 0.006
    """Share at 70 m/s; with the square of speed."""
    grip: float = 1.25
    """Most force over load, at the load they have at rest."""
    peak_slip: float = 0.10
    """About where it is."""
    relaxation_m: float = 0.22
    """Way in which slip builds up."""
    damping: float = 350.0
    """Force for slip speed beyond the slip that has built up. [N s/m]"""
    inertia_kgm2: float = 2.4
    """Wheels and tires."""


@dataclass(frozen=True, slots=True)
class Body:
    """What is moved, and what holds it back."""

    mass_kg: float = 1400.0
    """With driver and fuel."""
    driven: str = "rear"
    """``rear``, ``front``, ``all``."""
    front_share: float = 0.52
    """Share of the weight on the front axle."""
    wheelbase_m: float = 2.6
    """Between the axles."""
    height_m: float = 0.5
    """Of the center of mass."""
    drag_area_m2: float = 0.68
    """Drag coefficient times frontal area."""
    rolling: tuple[float, float] = (0.013, 0.01)
    """Resistance over weight, and more at 100 m/s."""
    pitch_hz: float = 1.9
    """Weight shifts as a damped swing of this rate."""
    pitch_rad: float = 0.022
    """The body pitches so far at 1 g."""
    free_m: float = 0.31
    """Radius of the undriven wheels."""
    free_kgm2: float = 1.6
    """Inertia of both of them."""
    two_wheels: bool = False
    """A motorcycle."""


@dataclass(frozen=True, slots=True)
class Driver:
    """Hands, feet and the boxes that help them."""

    launch: str = "two-step"
    """``two-step``, or held by ``foot``."""
    launch_rpm: float = 4800.0
    """Held before the release."""
    two_step_band_rpm: float = 110.0
    """Spark comes back so far below."""
    first_open: float = 1.0
    """Throttle just after the release; all of it a second later."""
    shift_rpm: float = 6900.0
    """Where gears are changed."""
    shift_spread_rpm: float = 70.0
    """Standard deviation of it."""
    sag: float = 0.38
    """The clutch is eased where the engine falls towards this share of the launch speed."""
    feather: float = 0.09
    """Slip ratio that the foot allows; 0: no feel for it."""
    feel_s: float = 0.10
    """How quickly it answers."""
    eases_from_mps2: float = 0.0
    """Throttle is eased where the front rises by more; 0: never."""
    eases_in_the_air: bool = False
    """Throttle is eased while the front wheel is off the ground."""
    pedals_at_m: float | None = None
    """Lifted once from here on."""
    lifts_at_m: float | None = None
    """Lifted for good."""
    shuts_off: bool = False
    """That lift is the end of the run: the brakes follow."""
    band_rpm: tuple[float, float] = (5200.0, 7000.0)
    """Of the owner."""
    waits_s: float = 1.8
    """Staged, before the release."""
    goes_on_s: float = 3.2
    """Logged after the finish or the lift."""
    brakes_mps2: float = 2.5
    """After it."""


@dataclass(frozen=True, slots=True)
class Strip:
    """The strip and what is odd on it."""

    finish_m: float = 402.336
    """From the start line."""
    patch: tuple[float, float, float] | None = None
    """From and to [m], share of the grip there."""
    shake: tuple[float, float, float] | None = None
    """Tires shake from and to after the release [s], at this rate [Hz]."""
    gust_mps: float = 0.25
    """What drives the wind's wander."""
    grade: float = 0.0
    """Uphill positive."""
    wind_mps: float | None = None
    """From behind positive; None: drawn."""


@dataclass(frozen=True, slots=True)
class CarSpec:
    """A car and its run."""

    engine: Engine = field(default_factory=Engine)
    take_up: TakeUp = field(default_factory=TakeUp)
    converter: Converter = field(default_factory=Converter)
    box: Gearbox = field(default_factory=Gearbox)
    tire: Tire = field(default_factory=Tire)
    body: Body = field(default_factory=Body)
    driver: Driver = field(default_factory=Driver)
    strip: Strip = field(default_factory=Strip)
    rollout_m: float = 0.28
    """From where the car stands staged to where the clock starts."""

    @property
    def electric(self) -> bool:
        """Whether a motor drives it."""
        return self.engine.motor_w > 0.0


@dataclass(frozen=True, slots=True)
class Day:
    """The air."""

    temperature_c: float
    pressure_kpa: float
    humidity_pct: float
    density: float
    """[kg/m3]"""
    charge: float
    """Torque over that in standard air."""
    wind_mps: float
    """Its mean, from behind positive."""
