"""What the driveline does at each moment: which gear is in, and whether it carries, slips, or none is in.

Found once from engine turns for the way covered; gears, launch and shifts all read it.

Public: `DrivelineState`, `read_driveline`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passband.analysis.driveline.gear_path import (
    GearPath,
    follow_gears,
    read_gear_signs,
    settle_levels,
    with_drawn_down,
)
from passband.analysis.driveline.ratios import (
    GearLevels,
    TurnRatio,
    find_gear_levels,
    known_gear_levels,
    measure_turn_ratio,
)
from passband.analysis.driveline.unmade_changes import without_unmade_changes
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.results.gears import GearBasis
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence

TAIL_S = 0.8
"""The path is followed so far past the end of the run: a shift begun before the line ends after it. [s]"""
LEAST_RUN_S = 0.5
"""A shorter run has no gears to name. [s]"""


@dataclass(frozen=True, slots=True)
class DrivelineState:
    """Gear and state on the even grid of the turn ratio, a little past the end of the run. Arrays of shape (n,)."""

    engine: EngineSpeed
    """What it rests on."""
    turn: TurnRatio
    """Engine turns for the way covered."""
    gear_levels: GearLevels | None
    """Levels as given or found; None where the ratio never stands, without a level where it glides."""
    levels: FloatArray
    """Log ratio at which each gear carried in this run, first gear first; empty where no levels are known. [-]"""
    gear: IntArray
    """From 1; 0 where none is in or known."""
    carrying: BoolArray
    """The gear is in and neither clutch nor tires slip."""
    spinning: BoolArray
    """The driven tires spin."""

    @property
    def time_s(self) -> FloatArray:
        """The grid, ET, in s."""
        return self.turn.time_s

    @property
    def neutral(self) -> BoolArray:
        """Where no gear is in, or none is known."""
        return np.asarray(self.gear == 0)

    @property
    def slipping(self) -> BoolArray:
        """Where a gear is in and clutch, converter or tires let the engine run off it."""
        return np.asarray((self.gear > 0) & ~self.carrying)

    @property
    def known_levels(self) -> FloatArray:
        """Log ratio at which each gear is known to carry: as given, else as found; a converter's as if locked. [-]."""
        if self.gear_levels is None or self.gear_levels.basis is not GearBasis.GIVEN:
            return self.levels
        return np.asarray(self.gear_levels.level + self.gear_levels.offset)


def read_driveline(motion: Motion, evidence: RunEvidence) -> DrivelineState | None:
    """Follow the driveline through a run.

    Parameters
    ----------
    motion : Motion
        ET, with the driven tires' speed where a sensor shows it.
    evidence : RunEvidence
        Of the run; a gear channel and signals that cut torque are witnesses.

    Returns
    -------
    DrivelineState or None
        None where engine speed is not known or the run is too short.
    """
    engine, car = evidence.engine, evidence.car
    if engine is None or evidence.end_s - evidence.launch_s < LEAST_RUN_S:
        return None
    turn = measure_turn_ratio(engine, motion, evidence, tail_s=TAIL_S)
    spinning = np.interp(turn.time_s, motion.time_s, motion.spinning.astype(np.float64)) > 0.5
    gear_levels = known_gear_levels(turn, car) or find_gear_levels(
        turn, slips=None if car.transmission is None else evidence.converter
    )
    if gear_levels is None or not gear_levels.level.size:
        nowhere = np.zeros(turn.time_s.size, dtype=np.int64)
        return DrivelineState(engine, turn, gear_levels, np.zeros(0), nowhere, nowhere > 0, spinning)
    levels, path = _followed(turn, gear_levels, evidence)
    return DrivelineState(engine, turn, gear_levels, levels, path.gear, path.carries, spinning)


def _followed(turn: TurnRatio, gear_levels: GearLevels, evidence: RunEvidence) -> tuple[FloatArray, GearPath]:
    """The path, and behind a clutch once more with each gear's own level in this run."""
    levels: FloatArray = gear_levels.level + gear_levels.offset
    signs = read_gear_signs(turn, evidence.traces)
    path = follow_gears(turn, levels, signs, slips=evidence.converter)
    if evidence.converter:
        return levels, with_drawn_down(turn, path, levels, evidence.traces)
    levels = settle_levels(turn, path, levels)
    path = follow_gears(turn, levels, signs, slips=False)
    return levels, without_unmade_changes(turn, path, levels, evidence.traces)
