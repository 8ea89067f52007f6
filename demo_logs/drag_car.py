"""The forward model of a drag car, moved on in steps of 0.5 to 5 ms.

Engine - clutch (slips or sticks) or converter - input shaft - gears - springy shafts - driven wheels - tire with a
relaxation length - car. Losses: clutch, gears, shaft damping, tire slip, drag, rolling, brakes.

Public: `Controls`, `DragCar`, `COLUMNS`.
"""

from __future__ import annotations

import math

from passband.demo_logs.car_specs import CarSpec, ConverterSpec
from passband.demo_logs.engine_model import Engine

G = 9.80665
RPM = 30.0 / math.pi
"""rev/min in one rad/s."""
CURVE_POINTS = 400
"""Points of the tire curve over slip 0..1."""
COLUMNS = (
    "time_s", "distance_m", "speed_mps", "accel_mps2", "engine_rads", "front_rads", "input_rads", "wheel_rads",
    "twist_rad", "brake_torque_nm", "clutch_torque_nm", "input_torque_nm", "shaft_torque_nm", "tire_force_n",
    "resistance_n", "slip", "radius_m", "gear", "pedal", "plate", "map_pa", "turbo", "fire", "cut", "clutch_share",
    "locked", "power_share", "run", "lever", "brake_n",
)  # fmt: skip
"""What a step records, in order."""


class Controls:
    """What the driver, the ECU and the strip do to the car at the moment."""

    __slots__ = (
        "bite",
        "brake_n",
        "clutch_share",
        "cut",
        "dt",
        "gear",
        "grip",
        "lever",
        "pedal",
        "push_mps",
        "run",
        "shake_hz",
        "shake_nm",
        "trans_brake",
    )  # fmt: skip

    def __init__(self) -> None:
        self.pedal = 0.0
        self.clutch_share = 0.0
        """Share of the clutch's capacity: 0 pedal down, 1 as built."""
        self.gear = 0
        """0 is neutral."""
        self.cut = False
        self.brake_n = 20000.0
        """Brake force on the car; also what holds it still."""
        self.push_mps: float | None = None
        """Speed the car is brought to from outside (crew, creeping); None: by itself."""
        self.grip = 1.0
        """Share of the tire's grip that the surface gives."""
        self.shake_nm = 0.0
        self.shake_hz = 0.0
        """Torque that swings the driven wheels (tire shake), and how fast."""
        self.run = 0
        """Number of the run that is on, from 1; 0 between runs."""
        self.lever = 0.0
        """Force on the shift lever, 0..1."""
        self.dt = 0.001
        """Time step. [s]"""
        self.bite = 1.0
        """How hard the clutch is set for this launch."""
        self.trans_brake = False
        """True while the gearbox holds its own output still."""


class DragCar:
    """The car's state; `step` moves it on by `controls.dt` seconds."""

    __slots__ = (
        "_converter_nm",
        "_curve",
        "_load_a",
        "_mass",
        "_shown_gear",
        "a",
        "air_density",
        "clutch_nm",
        "controls",
        "engine",
        "engine_rads",
        "front_rads",
        "grade",
        "input_nm",
        "input_rads",
        "lock_up",
        "locked",
        "radius",
        "ratio",
        "resist_n",
        "shaft_nm",
        "slip",
        "spec",
        "t",
        "tire_n",
        "twist",
        "v",
        "wheel_rads",
        "wind_mps",
        "x",
    )  # fmt: skip

    def __init__(self, spec: CarSpec, *, ambient_pa: float, air_density: float, wind_mps: float = 0.0,
                 grade: float = 0.0) -> None:  # fmt: skip
        self.spec = spec
        self.engine = Engine(spec.engine, ambient_pa)
        self.controls = Controls()
        self.wind_mps, self.air_density, self.grade = wind_mps, air_density, grade
        self.t = self.x = self.v = self.a = 0.0
        self.engine_rads = self.front_rads = spec.engine.idle_rpm / RPM
        self.input_rads = self.wheel_rads = self.twist = 0.0
        self.clutch_nm = self.input_nm = self.shaft_nm = self.tire_n = self.resist_n = self.slip = 0.0
        self.radius = spec.tire.radius_m
        self.locked = self.lock_up = False
        self._load_a = 0.0
        self.ratio = 0.0
        self._shown_gear = 0
        self._converter_nm = 0.0
        self._mass = spec.mass_kg + spec.undriven_inertia_kgm2 / spec.undriven_radius_m**2
        self._curve = _tire_curve(spec)

    @property
    def rpm(self) -> float:
        """Engine speed, rev/min."""
        return self.engine_rads * RPM

    def step(self) -> tuple[float, ...]:
        """Move on by one time step and return the row of `COLUMNS`."""
        c, e = self.controls, self.engine
        dt = c.dt
        e.step(dt, self.engine_rads * RPM, c.pedal, c.cut)
        self.select(c.gear)
        if self.ratio:
            output = self.input_rads / self.ratio
            self.twist += (output - self.wheel_rads) * dt
            spec = self.spec
            damping = 0.7 * spec.input_inertia_kgm2 * self.ratio * self.ratio / dt
            if damping > spec.shaft_damping_nms:
                damping = spec.shaft_damping_nms
            shaft = self._spring_nm() + damping * (output - self.wheel_rads)
            self.shaft_nm = shaft
            self.input_nm = (
                shaft / (self.ratio * spec.efficiency) if shaft > 0 else shaft * spec.efficiency / self.ratio
            )
        if self.spec.converter is None:
            self._clutch(dt, e.brake_nm, self.spec.engine.inertia_kgm2)
            self.engine_rads = self.front_rads
        else:
            self._convert(dt)
        self._roll(dt)
        self.t += dt
        return (
            self.t, self.x, self.v, self.a, self.engine_rads, self.front_rads, self.input_rads, self.wheel_rads,
            self.twist, e.brake_nm, self.clutch_nm, self.input_nm, self.shaft_nm, self.tire_n, self.resist_n,
            self.slip, self.radius, c.gear, c.pedal, e.plate, e.map_pa, e.turbo, e.fire, c.cut, c.clutch_share,
            self.locked, e.power_share, c.run, c.lever, c.brake_n,
        )  # fmt: skip

    def select(self, gear: int) -> None:
        """Put a gear in; 0 takes it out."""
        if gear == self._shown_gear:
            return
        self._shown_gear = gear
        if gear == 0:
            self.ratio = self.twist = self.shaft_nm = self.input_nm = 0.0
            return
        self.ratio = self.spec.gears[gear - 1] * self.spec.final
        if self.spec.converter is not None:  # a clutch pack takes over: the shaft keeps its torque, the turbine slips
            self.input_rads = self.ratio * self.wheel_rads
            self.locked = False

    def _spring_nm(self) -> float:
        """Torque of the twisted shafts."""
        return self.spec.shaft_stiffness_nm * self.twist

    def _capacity_nm(self) -> float:
        """The most that the clutch, or the packs behind a converter, can carry."""
        spec, c = self.spec, self.controls
        if spec.converter is None:
            w = self.front_rads * 1e-3
            return (spec.clutch_spring_nm + spec.clutch_fly_nm * w * w) * c.clutch_share * c.bite
        return 1500.0 * c.clutch_share

    def _clutch(self, dt: float, drive_nm: float, inertia: float) -> None:
        """Let the clutch stick or slip between what drives it and the input shaft (Karnopp's two states)."""
        spec = self.spec
        capacity = self._capacity_nm()
        capacity = capacity if capacity > 0.0 else 0.0
        both = inertia + spec.input_inertia_kgm2
        if self.locked:
            rise = (drive_nm - self.input_nm) / both
            self.clutch_nm = drive_nm - inertia * rise
            if -capacity <= self.clutch_nm <= capacity:
                self.front_rads += rise * dt
                self.input_rads = self.front_rads
                return
            self.locked = False
            side = 1.0 if self.clutch_nm > 0 else -1.0
        else:
            side = 1.0 if self.front_rads > self.input_rads else -1.0
        self.clutch_nm = side * capacity
        self.front_rads += (drive_nm - self.clutch_nm) / inertia * dt
        self.input_rads += (self.clutch_nm - self.input_nm) / spec.input_inertia_kgm2 * dt
        if capacity > 0.0 and side * (self.front_rads - self.input_rads) <= 0.0:
            common = (inertia * self.front_rads + spec.input_inertia_kgm2 * self.input_rads) / both
            self.front_rads = self.input_rads = common
            self.locked = True

    def _convert(self, dt: float) -> None:
        """Drive the turbine through the converter; the clutch packs then act like a clutch behind it."""
        spec, engine_nm = self.spec, self.engine.brake_nm
        converter = spec.converter
        if converter is None:
            return
        if self.lock_up:
            inertia = spec.engine.inertia_kgm2 + converter.turbine_inertia_kgm2
            self._clutch(dt, engine_nm, inertia)
            self.engine_rads = self.front_rads
            return
        pump_nm, turbine_nm = converter_torque(converter, self.engine_rads, self.front_rads)
        self.engine_rads += (engine_nm - pump_nm) / spec.engine.inertia_kgm2 * dt
        self._clutch(dt, turbine_nm, converter.turbine_inertia_kgm2)

    def _roll(self, dt: float) -> None:
        spec, c = self.spec, self.controls
        tire = spec.tire
        self.radius = radius = self._radius_m()
        carried = spec.mass_kg * G * min(spec.driven_load + self._weight_shift(), 1.0)
        rim = self.wheel_rads * radius
        speed = self.v
        travel = max(abs(rim), abs(speed))
        self.slip = (self.slip + dt * (rim - speed) / tire.relaxation_m) / (1.0 + dt * travel / tire.relaxation_m)
        share = self._force_share(rim - speed)
        self.tire_n = carried * c.grip * (share if self.slip > 0 else -share)
        shake = c.shake_nm * math.sin(2 * math.pi * c.shake_hz * self.t) if c.shake_nm else 0.0
        self.wheel_rads += (self.shaft_nm + shake - self.tire_n * radius) / spec.driven_inertia_kgm2 * dt
        if c.trans_brake:
            self.wheel_rads = self.slip = self.tire_n = 0.0
        self._move(dt)

    def _radius_m(self) -> float:
        """Rolling radius at the wheel's speed."""
        tire = self.spec.tire
        surface = self.wheel_rads * tire.radius_m / 75.0
        return tire.radius_m * (1.0 + tire.growth * surface * surface / (0.8 + 0.2 * surface * surface))

    def _force_share(self, sliding_mps: float) -> float:
        """Force over load at the tire's slip, its sign left out; here whatever the speed of sliding."""
        place = min(abs(self.slip), 0.9999) * CURVE_POINTS
        index = int(place)
        return self._curve[index] + (place - index) * (self._curve[index + 1] - self._curve[index])

    def _weight_shift(self) -> float:
        """Share of the weight that acceleration puts on the driven axle."""
        spec = self.spec
        if spec.driven == "all":
            return 0.0
        shift = spec.height_over_base * self._load_a / G
        return shift if spec.driven == "rear" else -shift

    def _move(self, dt: float) -> None:
        spec, c = self.spec, self.controls
        speed = self.v
        through_air = speed - self.wind_mps
        drag = 0.5 * self.air_density * spec.drag_area_m2 * through_air * abs(through_air) if speed > 1.0 else 0.0
        force = self.tire_n - drag - spec.mass_kg * G * self.grade * (speed > 0.05)
        if c.push_mps is not None:
            force += self._mass * (c.push_mps - speed) / 0.12
            hold = 0.0
        else:
            hold = c.brake_n + spec.rolling * spec.mass_kg * G
        if speed == 0.0:
            pull = 0.0 if -hold <= force <= hold else force - math.copysign(hold, force)
        else:
            pull = force - math.copysign(hold, speed)
        faster = speed + pull / self._mass * dt
        if speed * faster < 0.0 or (speed != 0.0 and abs(faster) < 1e-4 and hold > 0.0):
            faster = 0.0
        self.a = (faster - speed) / dt
        self.resist_n = self.tire_n - self._mass * self.a
        self.x += faster * dt
        self.v = faster
        self._load_a += (self.a - self._load_a) * dt / (0.05 + dt)


def converter_torque(converter: ConverterSpec, pump_rads: float, turbine_rads: float) -> tuple[float, float]:
    """Torque the pump takes and the turbine gives, from the speed ratio, in N m."""
    spec = converter
    ratio = turbine_rads / pump_rads if pump_rads > 1.0 else 1.0
    if ratio < 1.0:
        r2 = ratio * ratio
        pump = spec.capacity * (1.0 - r2 * r2 * r2 * r2 * ratio) * pump_rads * pump_rads
        gain = spec.stall_ratio - (spec.stall_ratio - 1.0) * ratio / 0.87
        return pump, pump * (gain if gain > 1.0 else 1.0)
    back = -0.6 * spec.capacity * min(ratio - 1.0, 1.0) * 4.0 * pump_rads * pump_rads
    return back, back


def _tire_curve(spec: CarSpec) -> list[float]:
    """Force over load against slip 0..1: rises to `grip` at `peak_slip` and falls to `slide` of it."""
    tire = spec.tire
    shape = 2.0 - 2.0 / math.pi * math.asin(tire.slide)
    stiffness = math.tan(math.pi / (2.0 * shape)) / tire.peak_slip
    return [tire.grip * math.sin(shape * math.atan(stiffness * k / CURVE_POINTS)) for k in range(CURVE_POINTS + 1)]
