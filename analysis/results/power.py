"""Power of a run.

Public: `PowerShare`, `GearCurve`, `Power`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown

HEAT_NOT_KEPT = Unknown(
    Finding(
        "clutch-heat-not-known",
        "note",
        "The run was reviewed before heat into the clutch was counted; review it again.",
    )
)
"""Of a review of an earlier version."""


@dataclass(frozen=True, slots=True)
class PowerShare:
    """How much of the plus-minus one input makes."""

    source: str
    """``mass``, ``drag area``, ``driveline efficiency``, ``engine inertia``, ``speed``, ``wind``, ``air`` ..."""
    plus_minus_w: float
    """What this input alone leaves open in average_w. [W]"""


@dataclass(frozen=True, slots=True)
class GearCurve:
    """Flywheel power against engine speed in one gear."""

    gear: int
    """1 for the lowest."""
    rpm: tuple[float, ...]
    """Centres of the classes. [rpm]"""
    power_w: tuple[float, ...]
    """Mean in each class. [W]"""
    plus_minus_w: tuple[float, ...]
    """95 % half-width of each. [W]"""
    time_s: tuple[float, ...] = ()
    """Time spent in each class; empty in reviews of an earlier version. [s]"""
    covered: tuple[float, ...] = ()
    """Share of each class that the pull went through: the first and the last are entered or left midway. [-]"""
    run_plus_minus_w: tuple[float, ...] = ()
    """The part of each half-width that the same car's other runs do not share. [W]"""
    speed_mps: tuple[float, ...] = ()
    """Mean ground speed in each class: what a wind that nobody gave acts on. [m/s]"""
    manifold_pa: tuple[float, ...] = ()
    """Mean absolute manifold pressure in each class; empty where not logged. [Pa]"""


@dataclass(frozen=True, slots=True)
class Power:
    """Power of one run, from clock start to finish or lift.

    `average_w` is brake power before the engine's own inertia takes its share.
    """

    average_w: Estimate | Unknown
    """Flywheel, mean over time, shifts counted. [W]"""
    average_pulling_w: Estimate | Unknown
    """Flywheel, mean over time without the shifts. [W]"""
    average_over_distance_w: Estimate | Unknown
    """Flywheel, mean over distance. [W]"""
    average_wheel_w: Estimate | Unknown
    """Force at the contact patch times car speed, mean over time. [W]"""
    peak_w: Estimate | Unknown
    """Flywheel, highest 50 ms mean. [W]"""
    work_j: float
    """Work of the tires on the car. [J]"""
    corrected_average_w: Estimate | Unknown
    """average_w in standard air, where a rule is valid. [W]"""
    correction_factor: float | Unknown
    """Factor of that rule. [-]"""
    correction_rule: str | None
    """Its name, e.g. ``SAE J1349``; None where `corrected_average_w` is unknown."""
    from_trap_speed_w: Estimate | Unknown
    """Mean power that moved the mass, as trap speed, distance and mass alone imply; without air and rolling. [W]"""
    balance_error: float | Unknown
    """(work of the parts - change of energy - losses) / work; 0 when the balance closes. [-]"""
    shares: tuple[PowerShare, ...]
    """What the plus-minus of average_w is made of, greatest first."""
    curves: tuple[GearCurve, ...]
    """Power against engine speed per gear."""
    mean_piston_speed_mps: float | Unknown
    """Time mean, where the stroke is given. [m/s]"""
    bmep_pa: float | Unknown
    """Brake mean effective pressure of a four-stroke while pulling, where bore, stroke and cylinders are given. [Pa]"""
    clutch_heat_j: Estimate | Unknown = HEAT_NOT_KEPT
    """Into the clutch from its bite on, shifts left out: clutch torque times the engine's speed ahead of the gearbox.
    [J]"""
    findings: tuple[Finding, ...] = field(default=(), compare=False, repr=False)
    """What must be known of it; gathered by the review."""
