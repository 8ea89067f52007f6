"""A car of a few numbers, whose way down the track can be worked out by hand."""

from __future__ import annotations

import math

import numpy as np

from passband.analysis.power.facts import Fact, Facts
from passband.analysis.whatif.model import LaunchModel, RunModel, ShiftModel
from passband.analysis.whatif.torque import TorqueCurve

STEP_S = 0.005
MASS_KG = 1000.0
FOOT_M = 0.3048


def facts(mass_kg: float = MASS_KG) -> Facts:
    """No drag, no rolling, nothing that spins: only mass."""
    values = {
        "mass": mass_kg, "drag_area": 0.0, "rolling": 0.0, "efficiency": 1.0, "engine_inertia": 0.0,
        "input_inertia": 0.0, "wheel_inertia": 0.0, "undriven_share": 0.0, "radius": 0.3, "density": 1.2, "wind": 0.0,
        "slope": 0.0,
    }  # fmt: skip
    return Facts(**{name: Fact(name, value, 0.0) for name, value in values.items()})


def planted_model(
    torque_of_rpm, *, turns, shifts=(), launch_force_n=6000.0, lock_rpm=5000.0, rollout_m=0.3, band=None
) -> RunModel:
    """A model whose launch is one force until the road meets `lock_rpm`, whose shifts cost nothing."""
    rpm = np.arange(1000.0, 12000.0, 100.0)
    curve = TorqueCurve(rpm, torque_of_rpm(rpm), (1.0,) * len(turns), 2000.0, 11000.0)
    time = np.arange(0.0, 10.0, STEP_S)
    launch = LaunchModel(
        time, np.full(time.size, launch_force_n / turns[0]), np.full(time.size, lock_rpm), spinning=False, locks=True
    )
    made = tuple(_shift(torque_of_rpm, turns, gear, at_rpm) for gear, at_rpm in enumerate(shifts, start=1))
    return RunModel(
        facts(), curve, None, np.array(turns), 0.0, 0.0, launch, made, rollout_m, 1320 * FOOT_M,
        (60, 330, 660, 1000, 1320), band, None, tuple(range(1, len(turns) + 1)), None, None, 101325.0, 288.15, 0.0,
    )  # fmt: skip


def _shift(torque_of_rpm, turns, gear, at_rpm) -> ShiftModel:
    """Two steps in which the drive goes over from one gear to the next without letting go."""
    taken = at_rpm * turns[gear] / turns[gear - 1]
    torque = float(torque_of_rpm(at_rpm)), float(torque_of_rpm(taken))
    force = np.array([torque[0] * turns[gear - 1], torque[1] * turns[gear]])
    return ShiftModel(gear, gear + 1, at_rpm, np.array([0.0, STEP_S]), force, torque, at_rpm, None, taken, force.size)


def power_torque(power_w: float):
    """Torque of an engine that makes one power at every speed."""
    return lambda rpm: power_w / (rpm * math.pi / 30.0)
