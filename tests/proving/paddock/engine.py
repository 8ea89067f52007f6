"""An engine from throttle and spark to torque: manifold, turbo, limiter; or an electric motor.

Public: `RunningEngine`, `through_throttle`.
"""

from __future__ import annotations

import math

import numpy as np

from tests.proving.paddock.specs import Engine

STEP_S = 5e-4
"""Of all motion."""
RAD = math.pi / 30
"""From rpm. [rad/s]"""
TABLE_RPM = 20.0
"""Step of the tables."""
STANDARD_KPA = 101.3
LIMITER_BAND_RPM = 110.0
OPENS, SHUTS = 11.0, 14.0
"""How quickly a throttle moves. [1/s]"""


def _tables(spec: Engine) -> tuple[list[float], list[float]]:
    """Torque of the gas, and friction, by engine speed, in N m."""
    rpm = np.arange(0.0, 16000.0, TABLE_RPM)
    if spec.motor_w:
        motor = np.minimum(spec.peak_nm, spec.motor_w / np.maximum(rpm * RAD, 1))
        return motor.tolist(), (0.5 + 0.0004 * rpm).tolist()
    away = (rpm - spec.peak_rpm) / spec.peak_rpm
    brake = spec.peak_nm * (1 - np.where(away < 0, *spec.falls) * away * away)
    brake = np.maximum(brake, 0.25 * spec.peak_nm)
    brake = np.where(rpm > spec.limiter_rpm + 600, 0.5 * brake, brake)
    if spec.worked:
        brake = brake * np.interp(rpm, *zip(*spec.worked, strict=True))
    at_rest, each, each_square = spec.friction
    friction = at_rest + each * rpm + each_square * (rpm / 1000) ** 2
    return (brake + friction).tolist(), friction.tolist()


def through_throttle(opened: float) -> float:
    """Pressure behind a throttle over that before it, at its opening from 0 to 1."""
    return 0.12 + 0.88 * (1 - (1 - opened) ** 3) if opened < 1 else 1.0


class RunningEngine:
    """State of an engine; pressures over the air's own."""

    __slots__ = (
        "before", "charge", "cut_above", "electric", "fires_below", "friction", "full", "limited", "limited_s",
        "manifold", "most_nm", "nm", "spark", "spec", "throttle",
    )  # fmt: skip

    def __init__(self, spec: Engine, charge: float) -> None:
        self.spec, self.charge, self.electric = spec, charge, spec.motor_w > 0.0
        self.full, self.friction = _tables(spec)
        self.spark, self.throttle, self.manifold, self.before = 1.0, 0.0, 0.4, 1.0
        self.limited, self.limited_s = False, 0.0
        self.most_nm = self.nm = 0.0
        self.cut_above, self.fires_below = spec.limiter_rpm, spec.limiter_rpm - LIMITER_BAND_RPM

    def breathe(self, rads: float, wanted: float, spark: float, *, held: bool) -> None:
        """One step of spark, throttle, turbo and manifold, at an engine speed."""
        rpm, spec = rads / RAD, self.spec
        self.limited_s = self.limited_s + STEP_S if rpm > self.cut_above - 200 else 0.0
        if rpm > self.cut_above:
            self.limited = True
        elif rpm < self.fires_below:
            self.limited = False
        self.spark += ((0.0 if self.limited else spark) - self.spark) * STEP_S / spec.spark_s
        self.throttle += max(-STEP_S * SHUTS, min(STEP_S * OPENS, wanted - self.throttle))
        if spec.turbo is not None:
            self._spool(rpm, held=held)
        pressed = through_throttle(self.throttle) * self.before
        self.manifold += (pressed - self.manifold) * STEP_S / spec.manifold_s

    def _spool(self, rpm: float, *, held: bool) -> None:
        turbo = self.spec.turbo
        begins, whole = turbo.spools_rpm
        flows = 1.0 if self.manifold > 0.6 * self.before else 0.35
        goal = 1 + (turbo.boost_kpa / STANDARD_KPA) * min(1.0, max(0.0, (rpm - begins) / (whole - begins))) * flows
        lag_s = turbo.lag_s * (whole / max(rpm, 1200)) * (1.0 if goal > self.before else 1.6)
        if held:
            goal = min(goal, 1 + turbo.launch_kpa / STANDARD_KPA)
        self.before += (goal - self.before) * STEP_S / lag_s

    def turn(self, rads: float, wanted: float) -> float:
        """Torque at the crank, friction taken off, in N m."""
        rpm = rads / RAD
        place = min(max(int(rpm / TABLE_RPM), 0), 798)
        gas, friction = self.full[place], self.friction[place]
        self.most_nm = gas * self.charge * self.manifold - friction
        if self.electric:
            self.nm = gas * self.throttle - friction * (1 if rads > 1 else 0)
            return self.nm
        self.nm = gas * self.charge * self.spark * max(0.0, self.manifold * 1.09 - 0.09) - friction
        idle_rpm = self.spec.idle_rpm
        if rpm < idle_rpm + 200 and wanted < 0.3:
            self.nm = max(self.nm, (idle_rpm - rpm) * 0.15)
        if rpm < 500:
            self.nm = max(self.nm, 10.0)
        return self.nm
