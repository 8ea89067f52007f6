"""The engine of the forward model: torque against engine speed and manifold pressure, turbo, limiter, spark cut.

Public: `EngineSpec`, `Engine`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

TABLE_STEP_RPM = 25.0
"""Spacing of the torque table. [rpm] Fine enough that linear look-up between points is not needed."""
PLATE_S = 0.008
"""Throttle plate behind the driver's foot. [s] A cable's slack and stretch."""
MANIFOLD_S = 0.014
"""Filling and emptying of the manifold. [s] Plenum volume over flow at high engine speed."""
COMBUSTION_S = 0.005
"""From spark to torque: half a cycle at 9,000 rpm is 6.7 ms. [s]"""
THIN_PA, FLAME_PA = 60e3, 20e3
"""Manifold pressure below which the charge burns worse, and below which not at all: a closed throttle brakes."""
COMPRESSOR_GAIN = 2.2
"""Pressure ratio minus one at turbo speed 1. [-]"""


@dataclass(frozen=True, slots=True)
class EngineSpec:
    """What the engine can do."""

    torque_points: tuple[tuple[float, float], ...]
    """Full-load brake torque at 100 kPa in the manifold: (rpm, N m), rising."""
    inertia_kgm2: float
    """Crank, flywheel, clutch."""
    idle_rpm: float
    """Idle."""
    limiter_rpm: float
    """Where the limiter cuts the spark."""
    friction_nm: tuple[float, float] = (12.0, 2.6)
    """Friction and pumping: constant, and per 1000 rpm."""
    boost_pa: float = 0.0
    """Target gauge boost in the run; 0 for a naturally aspirated engine."""
    launch_boost_pa: float = 0.0
    """Target gauge boost on the two-step."""
    flow_rpm: float = 6000.0
    """Engine speed at full load and 200 kPa that spins the turbo to speed 1."""
    spool_s: float = 0.45
    """Time constant of the turbo when it spins fast."""
    vents_on_cut: float = 0.3
    """Share of the boost lost in a torque cut of the flat-out kind, where the blow-off valve opens a little."""


def _table(points: tuple[tuple[float, float], ...]) -> list[float]:
    rows: list[float] = []
    for k in range(int(16000 / TABLE_STEP_RPM)):
        rpm = k * TABLE_STEP_RPM
        torque = points[0][1]
        for (rpm_a, a), (rpm_b, b) in pairwise(points):
            if rpm >= rpm_a:
                share = min((rpm - rpm_a) / (rpm_b - rpm_a), 1.0)
                share = share * share * (3.0 - 2.0 * share)
                torque = a + (b - a) * share
        rows.append(torque)
    return rows


class Engine:
    """State of a running engine; `step` moves it on by one time step."""

    __slots__ = (
        "_top",
        "_torque_nm",
        "ambient_pa",
        "brake_nm",
        "charge",
        "fire",
        "indicated_nm",
        "limiting",
        "map_pa",
        "plate",
        "power_share",
        "spec",
        "target_pa",
        "turbo",
        "two_step_rpm",
        "vent",
    )  # fmt: skip

    def __init__(self, spec: EngineSpec, ambient_pa: float) -> None:
        self.spec = spec
        self._torque_nm = _table(spec.torque_points)
        self._top = len(self._torque_nm) - 1
        self.ambient_pa = ambient_pa
        self.plate = 0.03
        self.map_pa = 0.34 * ambient_pa
        self.turbo = 0.05
        self.vent = 0.0
        self.indicated_nm = 0.0
        self.brake_nm = 0.0
        self.fire = 1.0
        """1 where the spark burns, 0 where it is cut."""
        self.limiting = False
        """True while the rev limiter (not the two-step) cuts."""
        self.two_step_rpm = 0.0
        """The two-step's speed; 0 where it is off."""
        self.target_pa = spec.boost_pa
        """Wastegate's target, gauge."""
        self.charge = 1.0
        """Share of the torque that the air's temperature leaves, 1 at 20 degrees Celsius."""
        self.power_share = 1.0
        """Share of the torque that tune and nitrous give at the moment (retard below 1, a power step above)."""

    def step(self, dt: float, rpm: float, pedal: float, cut: bool) -> None:
        """Move on by `dt` seconds at engine speed `rpm`, throttle pedal 0..1, spark cut by the shift or not."""
        spec = self.spec
        rpm = rpm if rpm > 0.0 else 0.0
        idle = 0.036 + 0.00018 * (spec.idle_rpm - rpm)
        opening = max(pedal, 0.0 if idle < 0.0 else 0.12 if idle > 0.12 else idle)
        self.plate += (opening - self.plate) * dt / (PLATE_S + dt)
        self._limit(rpm, cut)
        self._breathe(dt, rpm, cut)
        friction = spec.friction_nm[0] + spec.friction_nm[1] * rpm * 1e-3
        index = int(rpm / TABLE_STEP_RPM)
        full = self._torque_nm[0 if index < 0 else index if index < self._top else self._top] + friction
        burns = 1.0 if self.map_pa > THIN_PA else max(0.0, (self.map_pa - FLAME_PA) / (THIN_PA - FLAME_PA))
        wanted = full * self.map_pa * 1e-5 * burns * self.fire * self.power_share * self.charge
        self.indicated_nm += (wanted - self.indicated_nm) * dt / (COMBUSTION_S + dt)
        self.brake_nm = self.indicated_nm - (friction if rpm > 0.0 else 0.0)

    def _limit(self, rpm: float, cut: bool) -> None:
        top = self.spec.limiter_rpm
        if rpm > top:
            self.limiting = True
        elif rpm < top - 70.0:
            self.limiting = False
        hold = self.two_step_rpm
        if self.limiting or cut or (hold and rpm > hold + 25.0):
            self.fire = 0.0
        elif not hold or rpm < hold - 25.0:
            self.fire = 1.0

    def _breathe(self, dt: float, rpm: float, cut: bool) -> None:
        spec, ambient = self.spec, self.ambient_pa
        before_plate = ambient
        if spec.boost_pa > 0.0:
            self._spin_turbo(dt, rpm)
            closed = self.plate < 0.4
            opens = 0.9 if closed else spec.vents_on_cut if cut else 0.0
            self.vent += (opens - self.vent) * dt / (0.05 + dt)
            before_plate += ambient * COMPRESSOR_GAIN * self.turbo * self.turbo * (1.0 - self.vent)
        flow = self.plate * (0.6 + 1.9 * self.plate) * 15000.0 / (rpm + 1500.0)
        share = 1.0 - math.exp(-1.35 * flow)
        floor = 0.27 * ambient
        wanted = floor + (before_plate - floor) * share
        self.map_pa += (wanted - self.map_pa) * dt / (MANIFOLD_S + dt)

    def _spin_turbo(self, dt: float, rpm: float) -> None:
        spec = self.spec
        heat = 1.7 if self.two_step_rpm and self.plate > 0.5 else 0.55 + 0.45 * self.fire
        flow = rpm / spec.flow_rpm * self.map_pa / 2e5 * heat
        reachable = min(1.25, flow**0.6)
        target = spec.launch_boost_pa if self.two_step_rpm else self.target_pa
        held = math.sqrt(target / (self.ambient_pa * COMPRESSOR_GAIN))
        goal = min(reachable, held)
        slow = spec.spool_s * (1.6 - 0.6 * min(self.turbo, 1.0)) if goal > self.turbo else 1.1
        if self.turbo > held:
            slow = 0.12
        self.turbo += (goal - self.turbo) * dt / (slow + dt)
