"""What a forecast leaves open beside its own error: moved shifts, engine speeds never seen, flares, other air.

Public: `Bracket`, `LeftOpen`, `left_open`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.whatif.changes import Changes
from passband.analysis.whatif.drive import Driven, drive
from passband.analysis.whatif.model import RunModel

SHIFT_MOVED_S = 0.004
"""What each shift leaves open of the elapsed time that is moved by `MOVED_RPM`: what a longer or shorter fall asks of
the clutch. Alike in all shifts. [s] By `tests.benchmarks.foretold` on seeds 1 to 4."""
SHIFT_MOVED_MPS = 0.03
"""The same of the trap speed. [m/s] Likewise."""
MOVED_RPM = 250.0
"""[rpm]"""
SEEN_RPM = 50.0
"""An engine that comes so far beyond what the run showed may meet its limiter. Chosen. [rpm]"""
LIMITER_RPM = 300.0
"""Which takes its torque away within so many. Chosen. [rpm]"""
OPEN_SHARE = 0.06
"""So much lower than drawn on torque may be at `OPEN_RPM` beyond the highest engine speed seen: eight shapes of torque
past the peak (square, cube, straight, flat, late, waved, choked inlet with friction by Heywood's form, and one that
breaks away just beyond what was seen), 40 each, drawn on from samples with 0.6 % of noise, were off by 1.2 % (root of
the mean square) at 125 rpm and 2.9 % at 250. [-]"""
OPEN_RPM = 250.0
"""[rpm]"""
OPEN_POWER = 1.5
"""It grows with this power of the way there. [-]"""

GRIP_SHARE = 0.7
"""So much of the way between tires that carry all and tires at their limit a launch that holds leaves open; all of it
where a clutch that slips is not told from tires that spin. [-] 36 changes of final drive of five seasons of a
simulator by somebody else, nearly all behind converters: 33 held, 27 without; 10 ms off in the middle, mostly to the
limit's side."""
LAST_GEAR_S, LAST_GEAR_MPS = 0.005, 0.3
"""A last gear that the run itself hardly pulled in: what it leaves open where the changed run pulls in it. [s], [m/s]
Trap speeds of 25 simulated cars with 4 % more final drive were up to 0.28 m/s off."""


@dataclass(frozen=True, slots=True)
class Bracket:
    """Half of what two answers differ by, or a half-width."""

    elapsed_s: float = 0.0
    """[s]"""
    trap_mps: float = 0.0
    """[m/s]"""


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """All that a changed run leaves open, by its cause."""

    moved: Bracket
    """Shifts moved."""
    beyond: Bracket
    """Engine speeds that the run never showed."""
    flare: Bracket
    """Whether a limiter holds the engine's flare within shifts."""
    air: Bracket
    """What the turbo does in other air."""
    last_gear: Bracket
    """A last gear that the finish cut short."""
    grip: Bracket
    """Whether the tires carry at the launch what the change asks of them."""

    @property
    def together(self) -> Bracket:
        """All of them at once; they are independent."""
        return self.with_further(0.0, 0.0)

    def with_further(self, costs_s: float, costs_mps: float) -> Bracket:
        """The same with what a shift costs that the run did not make: its driver may do without it."""
        parts = (self.moved, self.beyond, self.flare, self.air, self.last_gear, self.grip)
        return Bracket(
            math.hypot(costs_s, *(one.elapsed_s for one in parts)),
            math.hypot(costs_mps, *(one.trap_mps for one in parts)),
        )


def left_open(model: RunModel, changed: RunModel, changes: Changes, driven: Driven) -> LeftOpen:
    """What a change leaves open.

    Parameters
    ----------
    model, changed : RunModel
        As the run was, and changed; the changed one may hold a further shift at its end.
    changes : Changes
        What is other.
    driven : Driven
        The changed model's drive.

    Returns
    -------
    LeftOpen
        None of each where the change does not ask it.
    """
    return LeftOpen(
        _moved(model, changed),
        _beyond(model, changed, changes, driven),
        _flare(changed, driven),
        _air(model, changed, changes, driven),
        _last_gear(model, changed, driven),
        _grip(model, changed, driven),
    )


def _between(changed: RunModel, driven: Driven) -> Bracket:
    """Between a changed model's drive and another."""
    other = drive(changed)
    if other is None:
        return Bracket()
    return Bracket(abs(other.elapsed_s - driven.elapsed_s), abs(other.trap_mps - driven.trap_mps))


def _moved(model: RunModel, changed: RunModel) -> Bracket:
    by = sum(abs(now.at_rpm - was.at_rpm) for now, was in zip(changed.shifts, model.shifts, strict=False)) / MOVED_RPM
    return Bracket(SHIFT_MOVED_S * by, SHIFT_MOVED_MPS * by)


def _beyond(model: RunModel, changed: RunModel, changes: Changes, driven: Driven) -> Bracket:
    """What it makes if torque falls faster there; where no shift was asked for, half of what a limiter makes of it."""
    seen_rpm = float(model.engine_rpm(model.torque.most_rpm))
    if driven.pulled_rpm < seen_rpm + SEEN_RPM:
        return Bracket()
    past = np.maximum(model.node_rpm - seen_rpm, 0.0)
    if changes.shift_points:
        return _between(_scaled(changed, 1.0 - OPEN_SHARE * (past / OPEN_RPM) ** OPEN_POWER), driven)
    limited = _between(_scaled(changed, 1.0 - past / LIMITER_RPM), driven)
    return Bracket(0.5 * limited.elapsed_s, 0.5 * limited.trap_mps)


def _scaled(changed: RunModel, factor: FloatArray) -> RunModel:
    return replace(changed, torque=changed.torque.scaled(np.clip(factor, 0.0, 1.0)))


def _flare(changed: RunModel, driven: Driven) -> Bracket:
    """Between a flare that goes half the way of the shift and one that stays where it was."""
    shifts = changed.shifts
    if all(one.peak_follows == 1.0 or one.at_rpm == one.left_rpm for one in shifts):
        return Bracket()
    held = tuple(replace(one, peak_follows=0.0) if one.peak_follows < 1.0 else one for one in shifts)
    return _between(replace(changed, shifts=held), driven)


def _last_gear(model: RunModel, changed: RunModel, driven: Driven) -> Bracket:
    made = len(driven.rpm_after)
    if not made or changed.shifts[made - 1].to_gear in model.used_gears:
        return Bracket()
    return Bracket(LAST_GEAR_S, LAST_GEAR_MPS)


def _air(model: RunModel, changed: RunModel, changes: Changes, driven: Driven) -> Bracket:
    """Half of what the two rules for a boosted engine's other air differ by."""
    if changes.air is None or changed.charge_pa is None:
        return Bracket()
    air, ambient = changes.air, model.ambient_pa
    off = 0.5 * abs(air.pressure_pa / ambient - 1.0)
    charges = tuple((at, pa + off * (pa - ambient)) for at, pa in changed.charge_pa)
    return _between(replace(changed, charge_pa=charges), driven)


def _grip(model: RunModel, changed: RunModel, driven: Driven) -> Bracket:
    """Between tires that carry all that the change asks of them at the launch, and tires at their limit already.

    At its limit a tire carries what its load allows, whatever the engine asks: the push goes with the car's weight.
    Another run's own launch, as a back test takes it, was asked already.
    """
    if changed.launch.time_s is not model.launch.time_s:
        return Bracket()
    weighs = changed.facts.mass.value / model.facts.mass.value
    geared = changed.turns_rad_per_m[0] / model.turns_rad_per_m[0]
    limit = model.launch.torque_nm * weighs / geared
    if np.allclose(limit, changed.launch.torque_nm, rtol=1e-6):
        return Bracket()
    ends = _between(replace(changed, launch=replace(changed.launch, torque_nm=limit)), driven)
    share = 1.0 if model.launch.untold else GRIP_SHARE
    return Bracket(share * ends.elapsed_s, share * ends.trap_mps)
