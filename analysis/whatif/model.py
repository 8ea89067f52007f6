"""A model of one run: its engine, its gearing, its launch and its shifts.

Public: `RunModel`, `ModelledRun`, `LaunchModel`, `ShiftModel`, `resistance`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.given.car import Car
from passband.analysis.power.facts import Facts
from passband.analysis.quantities import G_MPS2, FloatArray
from passband.analysis.results.review import Review
from passband.analysis.whatif.converter import TurbineLink
from passband.analysis.whatif.torque import TorqueCurve


@dataclass(frozen=True, slots=True)
class LaunchModel:
    """The launch until the clutch locks, against time since the car moved."""

    time_s: FloatArray
    """Even grid from 0, shape (n,). [s]"""
    torque_nm: FloatArray
    """That the clutch carries into the gearbox. [N m]"""
    engine_rpm: FloatArray
    """[rpm]"""
    spinning: bool
    """Whether the tires spun."""
    locks: bool
    """Whether it ends where a clutch locks; behind a converter it ends by time."""
    untold: bool = False
    """Whether the engine stood above the road's speed for long and rose in it, and no sensor tells a slipping clutch
    from spinning tires."""
    from_mps: float = 0.0
    """Speed at time 0: a record that was smoothed, or begins late, has the car roll a little already. [m/s]"""


@dataclass(frozen=True, slots=True)
class ShiftModel:
    """One shift: what the drive did from where it let go until the next gear carried."""

    from_gear: int
    """[-]"""
    to_gear: int
    """[-]"""
    at_rpm: float
    """Engine speed, through the gear, at which it began. [rpm]"""
    time_s: FloatArray
    """Even grid from 0, shape (n,). [s]"""
    force_n: FloatArray
    """At the tires' surface, wheels' own inertia included. [N]"""
    torque_nm: tuple[float, float]
    """The engine's at the speed where it began, and at that where the next gear carried. [N m]"""
    rpm_before: float | None
    """As the review has it. [rpm]"""
    rpm_after: float | None
    """As the review has it. [rpm]"""
    rpm_through_gear: float
    """Engine speed through the next gear where it carried; behind a converter the turbine's. [rpm]"""
    carried: int
    """At which place of the grid the next gear carried; the drive still settles after it."""
    left_rpm: float = 0.0
    """Where the run itself left the gear, as `at_rpm`, which a change may move. [rpm]"""
    peak_rpm: float | None = None
    """Highest engine speed of the shift: an engine let go may flare. None where the finish cut it short. [rpm]"""
    peak_place: int = 0
    """At which place of the grid."""
    gains: float = 1.0
    """Speed where the next gear carried over speed where the shift began. [-]"""
    peak_follows: float = 1.0
    """How much of a change of `at_rpm` the peak makes: all, or where a limiter may hold it half, or nothing. [-]"""


@dataclass(frozen=True, slots=True)
class RunModel:
    """All that one run says of how its car goes down the track."""

    facts: Facts
    """Mass, drag, rolling, inertias, air, wind."""
    torque: TorqueCurve
    """Of the engine."""
    charge_pa: tuple[tuple[FloatArray, FloatArray], ...] | None
    """For each gear, manifold pressure against time since its shift (the first: since the car moved); None where torque
    is not per manifold pressure. [s], [Pa]"""
    turns_rad_per_m: FloatArray
    """Engine angle per metre of ground in each gear, without slip, at rest radius; shape (gears,). [rad/m]"""
    slip_per_weight: float
    """Slip of the driven tires per car weight of pull. [-]"""
    growth_at_70: float
    """Growth of their radius at 70 m/s. [-]"""
    launch: LaunchModel
    """[-]"""
    shifts: tuple[ShiftModel, ...]
    """In order."""
    rollout_m: float
    """From rest to where the clock starts. [m]"""
    finish_m: float
    """[m]"""
    marks_ft: tuple[int, ...]
    """Where the run's splits are."""
    band: tuple[float, float] | None
    """[rpm]"""
    on_boost_pa: float | None
    """Absolute manifold pressure from which on the engine counts as on boost; None without boost or threshold. [Pa]"""
    used_gears: tuple[int, ...]
    """Gears that pulled long enough to show their torque."""
    usual_charge_pa: FloatArray | None
    """Manifold pressure at the torque curve's nodes, as the pulls had it; None where torque is not per it. [Pa]"""
    link: TurbineLink | None
    """Engine speed against turbine speed; None with a clutch. With it all speeds through the gears are the turbine's,
    and torque is the turbine's against its speed."""
    ambient_pa: float
    """The air's own. [Pa]"""
    ambient_k: float
    """[K]"""
    vapour_pa: float
    """[Pa]"""

    @property
    def boosted(self) -> bool:
        """Whether torque is per manifold pressure."""
        return self.charge_pa is not None

    @property
    def node_rpm(self) -> FloatArray:
        """Engine speed at the torque curve's nodes, shape (n,). [rpm]."""
        return self.engine_rpm(self.torque.rpm)

    def engine_rpm(self, through_gear_rpm: FloatArray | float) -> FloatArray:
        """Engine speed at a speed through the gear. [rpm]."""
        through = np.asarray(through_gear_rpm, dtype=np.float64)
        return through if self.link is None else self.link.engine_of(through)

    def through_gear_rpm(self, engine_rpm: float) -> float:
        """Speed through the gear at an engine speed. [rpm]."""
        return engine_rpm if self.link is None else self.link.turbine_of(engine_rpm)

    def with_fact(self, name: str, value: float) -> RunModel:
        """The same with another value of one fact; forces of launch and shifts stay."""
        fact = getattr(self.facts, name)
        return replace(self, facts=replace(self.facts, **{name: replace(fact, value=value)}))


@dataclass(frozen=True, slots=True)
class ModelledRun:
    """A run with the model that was made of it."""

    review: Review
    """Of the run."""
    car: Car
    """As it ran."""
    model: RunModel
    """Made of it."""


def resistance(facts: Facts, speed_mps: FloatArray | float) -> FloatArray:
    """Air and rolling at a speed.

    Parameters
    ----------
    facts : Facts
        Of car and day.
    speed_mps : float or array
        [m/s]

    Returns
    -------
    array
        [N]
    """
    through = np.asarray(speed_mps, float) - facts.wind.value
    air = 0.5 * facts.density.value * facts.drag_area.value * through * np.abs(through)
    return np.asarray(air + facts.rolling.value * facts.mass.value * G_MPS2)
