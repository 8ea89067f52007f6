"""A torque converter that nobody gave: what engine and speed show of it.

Public: `ShownTransmission`, `with_transmission`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.driveline.ratios import GRID_HZ, LEAST_STEP, TurnRatio, drift_of, find_falls, measure_turn_ratio
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.evidence import RunEvidence

FIRST_PER_S = -0.03
"""Behind a converter an engine comes down on its first gear faster than this until it leaves it: -0.1 under three laws
of a converter. A clutch that holds, tires that grip and grow: between -0.006 and 0.011, seen on simulated runs. Log
ratio. [1/s]"""
LATER_PER_S = -0.01
"""And on its second faster than this: -0.012 to -0.035 under those laws. [1/s]"""
SETTLES_S = 0.35
"""After a change the drive rings for so long. [s]"""
LOOKED_AT_S = 1.6
"""The slip falls most within this. [s]"""
LEAST_S = 0.4
"""A gear that was in for less shows nothing. [s]"""


@dataclass(frozen=True, slots=True)
class ShownTransmission:
    """A run's evidence, its car with the transmission that the run showed."""

    evidence: RunEvidence
    """As it was where nothing was missing or nothing shows it."""
    findings: tuple[Finding, ...] = ()
    """What was taken, and what else looks like it."""


def with_transmission(evidence: RunEvidence, motion: Motion) -> ShownTransmission:
    """The evidence with a converter where the car tells no transmission and its slip shows one.

    Parameters
    ----------
    evidence : RunEvidence
        Of the run; a transmission that is given stands.
    motion : Motion
        ET.

    Returns
    -------
    ShownTransmission
        The same evidence where nothing was missing or nothing shows it.

    Notes
    -----
    A clutch slips, then holds, and from there the ratio of engine to ground stands. A converter lets the engine come
    down smoothly through all of first gear, and anew after each change. A clutch that slips through both looks alike.
    """
    if evidence.car.transmission is not None or evidence.engine is None or motion.basis is SpeedBasis.ENGINE_SPEED:
        return ShownTransmission(evidence)
    turn = measure_turn_ratio(evidence.engine, motion, evidence)
    if not _slips_smoothly(turn):
        return ShownTransmission(evidence)
    car = evidence.car.model_copy(update={"transmission": "converter"})
    return ShownTransmission(replace(evidence, car=car), (_tell(),))


def _slips_smoothly(turn: TurnRatio) -> bool:
    """Whether the engine comes down on first gear until it is left, and on the next anew."""
    falls = find_falls(turn, least=LEAST_STEP)
    if not falls:
        return False
    last = falls[1] if len(falls) > 1 else float(turn.time_s[-1])
    first = _drift(turn, 0.5 * (float(turn.time_s[0]) + falls[0]), falls[0] - 0.5 * SETTLES_S)
    later = _drift(turn, falls[0] + SETTLES_S, min(falls[0] + LOOKED_AT_S, last - 0.5 * SETTLES_S))
    return first is not None and later is not None and first < FIRST_PER_S and later < LATER_PER_S


def _drift(turn: TurnRatio, start_s: float, stop_s: float) -> float | None:
    """Median drift of a stretch, doubtful moments left out; None where it is too short."""
    drift = drift_of(turn)
    use = (turn.time_s > start_s) & (turn.time_s < stop_s) & np.isfinite(drift) & ~turn.doubtful
    return float(np.median(drift[use])) if use.sum() > LEAST_S * GRID_HZ else None


def _tell() -> Finding:
    text = (
        "The car tells no transmission. Its engine runs ahead of first gear by a share that falls smoothly until the "
        "gear is left, and of the next one anew, as behind a torque converter: it was taken for one. A clutch that "
        "slips through two gears looks alike; tell transmission to be sure."
    )
    return Finding("converter-seen", "note", text, "car setup, transmission")
