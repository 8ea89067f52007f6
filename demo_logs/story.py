"""What a drive is made of: the plan of a run, the record of what happened, and time going by.

Each act is a generator that yields once a time step; the car moves on in between.

Public: `RunPlan`, `Story`, `Act`, `wait`, `pedal_now`, `drive`.
"""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

from passband.demo_logs.drag_car import DragCar

Act = Generator[None, None, None]
FINE_S = 0.0005
"""Time step in a run. [s]"""
COARSE_S = 0.001
"""Time step elsewhere while something moves. [s]"""


@dataclass(frozen=True, slots=True)
class RunPlan:
    """How one run is driven."""

    finish_ft: float = 1320.0
    """Where the driver lifts."""
    stage_s: float = 2.2
    """Time on the two-step before the launch."""
    launch_rpm: float | None = None
    """Two-step; None: the car's."""
    bite: float = 1.0
    """Clutch setting: above 1 bites harder."""
    grip: float = 1.0
    """Share of the tire's grip the surface gives."""
    slick: tuple[tuple[float, float, float], ...] = ()
    """Stretches of poor surface: from m, to m, share of grip."""
    shift_rpm: tuple[float, ...] = ()
    """Shift points; empty: the car's."""
    shift_scatter_rpm: float = 40.0
    """Spread of the driver's shift points."""
    boost_share: float = 1.0
    """Share of the boost target that is reached (a leak below 1)."""
    missed_gear: int = 0
    """Gear that is missed at the first try; 0: none."""
    missed_s: float = 0.42
    """How long the miss lasts."""
    skip_gear: int = 0
    """Gear that is left out; 0: none."""
    early_shift: int = 0
    """Shift (1 for the first) that comes short by `early_by_rpm`; 0: none."""
    early_by_rpm: float = 900.0
    """By how much."""
    late_shift: int = 0
    """Shift that comes late: the limiter holds the engine for `late_by_s`; 0: none."""
    late_by_s: float = 0.35
    """How long the engine sits at the limiter."""
    lifts: tuple[tuple[float, float, float], ...] = ()
    """Lift and re-apply: at m, for s, to pedal share."""
    abort_m: float | None = None
    """Where the driver gives up."""
    through_s: float = 0.12
    """Time from the finish line to the lift; several seconds: driven through."""
    shake: tuple[float, float, float, float] | None = None
    """Tire shake: from s after the clutch has locked, for s, N m, Hz."""
    power_step: tuple[float, float] | None = None
    """Less power at first: until s after the release, share before."""
    first_gear_share: float = 1.0
    """Torque share in first gear by retard."""
    clutch_lead_s: float = 0.012
    """In a foot shift: from the foot's lift off the throttle to the clutch beginning to open."""
    reaction_s: float = 0.12
    """For the slip."""


@dataclass(slots=True)
class Story:
    """What happened, as the truth knows it."""

    events: list[dict[str, Any]] = field(default_factory=list)
    """Decoys (kind, start, end) and one entry a run."""

    def runs(self) -> list[dict[str, Any]]:
        """The runs in order."""
        return [event for event in self.events if event["kind"] == "run"]


def wait(car: DragCar, seconds: float) -> Act:
    """Let `seconds` go by."""
    until = car.t + seconds
    while car.t < until - 1e-9:
        yield


def pedal_now(car: DragCar, facts: dict[str, Any]) -> float:
    until, pedal = facts.get("lift_now", (0.0, 1.0))
    return float(pedal) if car.t < until else 1.0


def drive(car: DragCar, acts: Act) -> list[tuple[float, ...]]:
    """Play the acts on the car and return its rows."""
    rows: list[tuple[float, ...]] = []
    step, keep = car.step, rows.append
    for _ in acts:
        keep(step())
    return rows
