"""A car as masses that turn and one that rolls: what weight, air and tires do to it, and where its energy went.

Public: `MovingCar`, `Books`, `G`.
"""

from __future__ import annotations

import math

from tests.proving.paddock.engine import STEP_S, RunningEngine
from tests.proving.paddock.specs import CarSpec, Day

G = 9.80665
FUEL_KG_PER_J = 9e-8
"""About 28 % of what fuel holds comes out at the crank."""
PITCH_DAMPING = 0.42
LOAD_LOSS = 0.09
"""Share of the grip lost with twice the load."""
WALKS_MPS = 1.2
"""Below it slip is counted over this."""
COOLS_S = 8.0
"""A clutch."""


class Books:
    """Where energy went between the release and the finish, in J."""

    __slots__ = ("at_release", "crank", "damping", "ground", "hub", "kinetic", "mesh", "slipping", "tire")

    def __init__(self) -> None:
        self.crank = self.slipping = self.mesh = self.damping = self.hub = self.tire = self.ground = 0.0
        self.kinetic = self.at_release = 0.0

    @property
    def efficiency(self) -> float:
        """Share of what enters the gears that comes to the wheels."""
        return self.hub / (self.hub + self.mesh + self.damping)


class MovingCar:
    """State of a car; time from the release, way from the start line."""

    __slots__ = (
        "accel", "books", "brake", "day", "drag_n", "engine", "engine_kgm2", "engine_rads", "felt", "felt_rate",
        "free_kg", "free_rads", "front_up", "gear", "gear_nm", "gear_rads", "heat_j", "holds_new", "holds_old",
        "input_kgm2", "input_rads", "load_n", "mass", "mesh_w", "new_nm", "new_ratio", "old_ratio", "output_kgm2",
        "output_rads", "pull_nm", "radius", "shaft_nm", "slip", "slipping_w", "spec", "speed", "swing", "tire_n",
        "turned_rads", "twist", "way", "wheel_rads", "wound",
    )  # fmt: skip

    def __init__(self, spec: CarSpec, day: Day) -> None:
        self.spec, self.day, self.engine = spec, day, RunningEngine(spec.engine, day.charge)
        box, body = spec.box, spec.body
        self.engine_kgm2, self.input_kgm2, self.output_kgm2 = spec.engine.inertia_kgm2, box.input_kgm2, box.output_kgm2
        self.engine_rads = 0.0 if spec.electric else spec.engine.idle_rpm * math.pi / 30
        self.input_rads = self.output_rads = self.wheel_rads = self.free_rads = 0.0
        self.twist = self.wound = self.shaft_nm = self.slip = self.tire_n = 0.0
        self.felt = self.felt_rate = self.speed = self.accel = 0.0
        self.way, self.mass = -spec.rollout_m, body.mass_kg
        self.gear, self.old_ratio, self.new_ratio = 1, box.ratios[0] * box.final, 0.0
        self.holds_old, self.holds_new, self.new_nm = 1e5, 0.0, 0.0
        self.pull_nm = self.gear_nm = self.gear_rads = self.slipping_w = self.mesh_w = self.heat_j = 0.0
        self.radius, self.drag_n, self.front_up, self.brake, self.turned_rads = spec.tire.radius_m, 0.0, False, 0.0, 0.0
        weight = body.mass_kg * G
        self.load_n = weight * (body.front_share if body.driven == "front" else 1 - body.front_share)
        self.swing = 2 * math.pi * body.pitch_hz
        self.free_kg = body.free_kgm2 / body.free_m**2
        self.books = Books()

    def clutch_nm(self, grip: float, ahead_rads: float) -> float:
        """What the clutch holds: less when hot, less when it slides."""
        take_up = self.spec.take_up
        cool = 1 - take_up.fade * min(1.0, self.heat_j / take_up.hot_j)
        slides = take_up.sliding + (1 - take_up.sliding) * math.exp(-abs(ahead_rads) / 12.0)
        return take_up.most_nm * grip * cool * slides

    def pack_nm(self, grip: float) -> float:
        """The same of a launching pack, which slides in oil."""
        take_up = self.spec.take_up
        return take_up.most_nm * grip * (1 - take_up.fade * min(1.0, self.heat_j / take_up.hot_j))

    def drag_nm(self) -> float:
        """What the shafts and the drag of bearings and oil take from the gearbox's output."""
        at_rest, each = self.spec.box.drags
        return self.shaft_nm + ((at_rest + each * self.output_rads) if self.output_rads > 0.5 else 0.0)

    def feel_ground(self, since_s: float, gust_mps: float) -> None:
        """Air, the weight's shift, and the tires' force."""
        spec, day, body, tire = self.spec, self.day, self.spec.body, self.spec.tire
        against = self.speed - (day.wind_mps + gust_mps)
        self.drag_n = 0.5 * day.density * body.drag_area_m2 * against * abs(against)
        pushed = (self.tire_n - self.drag_n) / self.mass
        swing = self.swing
        self.felt_rate += STEP_S * (swing * swing * (pushed - self.felt) - 2 * PITCH_DAMPING * swing * self.felt_rate)
        self.felt += STEP_S * self.felt_rate
        load = self._load()
        grip = tire.grip * (1 - LOAD_LOSS * (load / self.load_n - 1))
        if spec.strip.patch and spec.strip.patch[0] < self.way < spec.strip.patch[1]:
            grip *= spec.strip.patch[2]
        if spec.strip.shake and spec.strip.shake[0] < since_s < spec.strip.shake[1]:
            grip *= 0.72 + 0.42 * math.sin(2 * math.pi * spec.strip.shake[2] * since_s)
        self._push(grip * load)

    def _load(self) -> float:
        """Of the driven tires, in N."""
        body, weight = self.spec.body, self.mass * G
        moved = self.mass * self.felt * body.height_m / body.wheelbase_m
        self.front_up = body.driven == "rear" and moved > weight * body.front_share
        if body.driven == "rear":
            return min(weight * (1 - body.front_share) + moved, weight)
        return weight * body.front_share - moved if body.driven == "front" else weight

    def _push(self, most_n: float) -> None:
        """The tires' force: slip builds up over a way, the shorter the more they slide."""
        tire, peak = self.spec.tire, self.spec.tire.peak_slip
        self.radius = tire.radius_m * (1 + tire.growth * (self.wheel_rads * tire.radius_m / 70.0) ** 2)
        sliding = self.wheel_rads * self.radius - self.speed
        over = abs(self.speed) if self.speed > WALKS_MPS else WALKS_MPS
        builds_m = tire.relaxation_m * max(0.15, 1 - 0.3 * abs(self.slip) / peak)
        self.slip += (sliding / over - self.slip) * (1 - math.exp(-over * STEP_S / builds_m))
        bent = 1.08 * (self.slip / peak)
        self.tire_n = most_n * math.sin(1.55 * math.atan(bent - 0.25 * (bent - math.atan(bent))))
        self.tire_n += tire.damping * max(-2.0, min(2.0, sliding - over * self.slip))

    def wind_shafts(self) -> None:
        """Torque of the shafts to the wheels, through their backlash."""
        stiffness, damping, lash = self.spec.box.shafts
        twist = self.twist
        self.wound = twist - lash if twist > lash else (twist + lash if twist < -lash else 0.0)
        ahead = self.output_rads - self.wheel_rads
        self.shaft_nm = stiffness * self.wound + (damping * ahead if self.wound else 0.0)

    def roll(self, *, held: bool) -> None:
        """Wheels and car over one step."""
        if self.engine_rads < 0:
            self.engine_rads = 0.0
        self.twist += STEP_S * (self.output_rads - self.wheel_rads)
        self.turned_rads = self.wheel_rads
        if held:
            self.wheel_rads = self.slip = self.tire_n = self.speed = self.accel = 0.0
        else:
            brakes_n = self.brake * self.mass * 0.5
            braked_nm = brakes_n * self.radius * (1 if self.wheel_rads > 1 else 0)
            inertia = self.spec.tire.inertia_kgm2
            self.wheel_rads += STEP_S * (self.shaft_nm - self.tire_n * self.radius - braked_nm) / inertia
            self._gain_speed(brakes_n if self.speed > 1 else 0.0)
        self.mass -= STEP_S * max(0.0, self.engine.nm * self.engine_rads) * FUEL_KG_PER_J

    def _gain_speed(self, brakes_n: float) -> None:
        body, before = self.spec.body, self.speed
        at_rest, with_speed = body.rolling
        rolling_n = self.mass * G * (at_rest + with_speed * before * before * 1e-4)
        held_n = rolling_n if before > 0.02 else min(rolling_n, max(0.0, self.tire_n))
        net_n = self.tire_n - self.drag_n - held_n - brakes_n - self.mass * G * self.spec.strip.grade
        self.accel = net_n / (self.mass + self.free_kg)
        if before <= 0.0 and self.accel < 0:
            self.accel = 0.0
        self.speed = max(before + STEP_S * self.accel, 0.0)
        self.way += STEP_S * (before + self.speed) / 2

    def turn_free_wheels(self) -> None:
        """Undriven wheels follow the road, but for one in the air."""
        if self.front_up:
            self.free_rads *= 1 - STEP_S * 0.12
            return
        radius = self.spec.body.free_m * (1 + 0.004 * (self.speed / 70) ** 2)
        self.free_rads += (self.speed / radius - self.free_rads) * min(1.0, STEP_S * (60 + 8 * self.speed))

    def warm_clutch(self) -> None:
        """Heat of what slips, and its cooling."""
        self.heat_j += self.slipping_w * STEP_S
        self.heat_j *= 1 - STEP_S / COOLS_S

    def book(self, engine_before: float) -> None:
        """Note where a step's energy went."""
        books, ahead = self.books, self.output_rads - self.wheel_rads
        at_rest, each = self.spec.box.drags
        drags_nm = (at_rest + each * self.output_rads) if self.output_rads > 0.5 else 0.0
        turned = (self.wheel_rads + self.turned_rads) / 2
        books.crank += self.engine.nm * (engine_before + self.engine_rads) / 2 * STEP_S
        books.slipping += self.slipping_w * STEP_S
        books.mesh += (self.mesh_w + drags_nm * self.output_rads) * STEP_S
        books.damping += (self.shaft_nm - self.spec.box.shafts[0] * self.wound) * ahead * STEP_S
        books.hub += self.shaft_nm * turned * STEP_S
        books.tire += self.tire_n * (self.radius * turned - self.speed) * STEP_S
        books.ground += self.tire_n * self.speed * STEP_S

    def turning_j(self) -> float:
        """Energy of all that turns and of the wound shafts, but for free wheels."""
        packs = self.spec.take_up.kind == "packs"
        engine_i = self.engine_kgm2 + (self.input_kgm2 if packs else 0.0)
        behind = 0.0 if packs else 0.5 * self.input_kgm2 * self.input_rads**2
        turning = 0.5 * engine_i * self.engine_rads**2 + behind + 0.5 * self.output_kgm2 * self.output_rads**2
        wheels = 0.5 * self.spec.tire.inertia_kgm2 * self.wheel_rads**2
        return turning + wheels + 0.5 * self.spec.box.shafts[0] * self.wound**2
