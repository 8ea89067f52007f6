"""The launch: engine speed as the car leaves, how far it falls as the clutch bites, the way back up.

Public: `measure_launch`, `tires_follow_from`, `EngineInFirst`, `engine_in_first`, `back_in_band`.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from passband.analysis.driveline.launch_hold import release_seen, rpm_on_hold
from passband.analysis.driveline.launch_low import (
    BITE_S,
    FALLS_AGAIN,
    REBOUND,
    Leaving,
    limited_from,
    low_at_the_bite,
    rpm_lowest,
    smoothed,
)
from passband.analysis.driveline.ratios import GRID_HZ, TurnRatio, TurnSource
from passband.analysis.driveline.state import DrivelineState
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import Gears
from passband.analysis.results.launch import Launch
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.statistics.intervals import find_true_runs

LOCKED = 0.025
"""The clutch is taken as locked when engine and wheel agree this well with first gear... [-]"""
LOCKED_S = 0.08
"""...for this long. [s]"""
APPROACH_S = 0.1
"""The ratio's way to there is drawn on from the last of it, and by no more. [s]"""
LATEST_LOCK_S = 5.0
"""A clutch or converter that slips for longer does not lock in first gear at all. [s]"""
PEAK_S, PEAK_FT = 0.05, 60.0
"""Peak acceleration is the highest mean over 50 ms within the first 60 ft. [s], [ft]"""

NO_CLUTCH = Finding("converter-has-no-clutch", "note", "A converter has no clutch to lock.")
STANDS_RPM = 200.0
"""No engine runs so slowly: a motor stands there. [rpm] Common practice, no source: starters turn engines that fast."""
STOOD = Finding(
    "launched-from-standstill",
    "note",
    "The engine stood as the car left, as an electric motor does: no clutch bites, and engine speed does not fall.",
)
NO_LOCK_SEEN = Finding(
    "clutch-lock-unseen", "note", "Engine and drive were not seen to turn together for long enough in first gear."
)
NEVER_BELOW = Finding("launch-stayed-in-band", "note", "Engine speed never fell below the band in first gear.")
NEVER_BACK = Finding("launch-stayed-below-band", "note", "Engine speed did not come back into the band in first gear.")
NO_BOOST_THERE = Finding("boost-without-data", "caution", "The boost channel holds no data as the car leaves.")
PULL_UNSEEN = Finding(
    "launch-pull-unseen", "note", "No sensor shows the car's own motion over the first 60 ft, or not for long enough."
)


@dataclass(frozen=True, slots=True)
class EngineInFirst:
    """Engine speed from before the launch on, and where first gear ends."""

    time_s: FloatArray
    """When each sample was true, shape (n,). [s, ET]"""
    rpm: FloatArray
    """Shape (n,). [rpm]"""
    first_s: float
    """End of first gear. [s, ET]"""


def engine_in_first(
    driveline: DrivelineState | None, motion: Motion, evidence: RunEvidence, gears: Gears
) -> EngineInFirst | None:
    """Engine speed as the launch is read from it.

    Parameters
    ----------
    driveline : DrivelineState or None
        As read from the same motion and evidence.
    motion : Motion
        ET.
    evidence : RunEvidence
        Of the run.
    gears : Gears
        Where first gear ends.

    Returns
    -------
    EngineInFirst or None
        None where it is not known on both sides of the launch.
    """
    if driveline is None or not _around(driveline.engine, evidence):
        return None
    first_s = _first_left(gears) if gears.intervals else float(motion.time_s[-1])
    return EngineInFirst(driveline.engine.true_time_s, driveline.engine.rpm, first_s)


def _first_left(gears: Gears) -> float:
    """Where first gear ends: a change without a gap, which engine speed does not show, is made by tires that spin."""
    for left, right in pairwise(gears.intervals):
        if right.start_s > left.end_s:
            return left.end_s
    return gears.intervals[-1].end_s


def measure_launch(driveline: DrivelineState | None, motion: Motion, evidence: RunEvidence, gears: Gears) -> Launch:
    """Measure how the car left.

    Parameters
    ----------
    driveline : DrivelineState or None
        As read from the same motion and evidence; None where engine speed is not known.
    motion : Motion
        ET.
    evidence : RunEvidence
        Of the run.
    gears : Gears
        Where first gear ends.

    Returns
    -------
    Launch
        What is not known in it says why; its findings say what the reader must know besides.
    """
    peak, boosted = _peak_acceleration(motion, evidence), _boost_at_launch(evidence)
    seen = engine_in_first(driveline, motion, evidence, gears)
    if driveline is None or seen is None:
        why = Unknown(_engine_missing())
        return Launch(why, why, why, why, boosted, peak, why, findings=why.findings)
    leaving, turn = _leaving(driveline.engine, evidence, seen), driveline.turn
    locked_s = Unknown(NO_CLUTCH) if evidence.converter else _clutch_locked(turn, leaving)
    unseen = turn.source is TurnSource.GROUND_SPEED and not evidence.converter
    rebound = _rebound(leaving, motion=motion, locked_s=known(locked_s), unlocked_counts=unseen)
    hides = rebound[1] if rebound is not None and unseen else None
    if hides is not None:
        locked_s = Unknown(_lock_hidden(hides))
    at_launch = rpm_on_hold(driveline.engine, evidence)
    if (held := known(at_launch)) is not None and held.value < STANDS_RPM:
        why = Unknown(STOOD)
        back = back_in_band(seen, evidence.band, launch_s=evidence.launch_s)
        return Launch(at_launch, why, why, back, boosted, peak, why)
    lowest = rpm_lowest(leaving, rebound)
    if not evidence.converter and not isinstance(lowest, Unknown):
        lowest = low_at_the_bite(leaving, lowest)
    back = back_in_band(seen, evidence.band, launch_s=evidence.launch_s)
    found = () if hides is None else (_lock_hidden(hides),)
    return Launch(at_launch, lowest, _fall(at_launch, lowest), back, boosted, peak, locked_s, hides, findings=found)


def _leaving(engine: EngineSpeed, evidence: RunEvidence, seen: EngineInFirst) -> Leaving:
    return Leaving(
        engine, evidence.launch_s, seen.first_s, release_seen(engine, evidence), limited_s=limited_from(evidence)
    )


def _fall(at_launch: Estimate | Unknown, lowest: Estimate | Unknown) -> float | Unknown:
    if isinstance(at_launch, Unknown):
        return at_launch
    return lowest if isinstance(lowest, Unknown) else at_launch.value - lowest.value


def _around(engine: EngineSpeed, evidence: RunEvidence) -> bool:
    launch_s = evidence.launch_s
    return bool((engine.time_s > launch_s).any() and (engine.time_s < launch_s - 0.1).any())


def _engine_missing() -> Finding:
    text = "The log holds no engine speed around the launch: launch RPM and its fall are not known."
    return Finding("launch-engine-speed-missing", "caution", text)


def _lock_hidden(rises_s: float) -> Finding:
    """Tires that let go and a clutch that slips once more look alike from the ground."""
    text = (
        f"When the clutch locked is not known: at {rises_s:z.1f} s the engine rose again before the drive carried, as "
        "when tires spin, and no log shows the driven tires' speed. Log a driven wheel or the driveshaft."
    )
    return Finding("clutch-lock-hidden", "note", text, f"{rises_s:.2f} s from clock start")


def tires_follow_from(launch: Launch) -> float | None:
    """From when engine speed through the gear shows the driven tires', where nothing else does.

    Parameters
    ----------
    launch : Launch
        Of the run.

    Returns
    -------
    float or None
        When the clutch has locked; where that is hidden, when the engine rises again from its lowest: then the tires
        let go, or the clutch slips once more, which look alike. None where neither is seen. [s, ET]
    """
    return known(launch.clutch_locked_s) if launch.rises_again_s is None else launch.rises_again_s


def _rebound(
    leaving: Leaving, *, motion: Motion, locked_s: float | None, unlocked_counts: bool
) -> tuple[float, float] | None:
    """When an engine whose tires let go was lowest before, and when it had risen by `REBOUND`; None if they did not.

    A driver's lift or a limiter later in first gear makes such a rise and fall as well: where sensors show the tires
    they must spin about the rise, else the engine must fall again before the drive carries, or, where
    `unlocked_counts`, the drive must not have carried by the end of first gear. Where they do show the tires, nothing
    but the clutch pulls the engine down until it turns with them, though it may flare before.
    """
    engine, launch_s, shown = leaving.engine, leaving.launch_s, locked_s is not None and not unlocked_counts
    start_s = max(launch_s, locked_s - LOCKED_S) if locked_s is not None and shown else launch_s
    inside = (engine.true_time_s >= start_s) & (engine.true_time_s <= leaving.first_s)
    time_s, rpm = engine.true_time_s[inside], smoothed(engine)[inside]
    risen = rpm > (1.0 + REBOUND) * np.minimum.accumulate(rpm) if rpm.size else np.zeros(0, dtype=np.bool_)
    if not risen.any():
        return None
    up = int(np.argmax(risen))
    falls_again = np.maximum.accumulate(rpm[up:]) > (1.0 + FALLS_AGAIN) * rpm[up:]
    low_s, up_s = float(time_s[int(np.argmin(rpm[: up + 1]))]), float(time_s[up])
    if not falls_again.any():
        return (low_s, up_s) if locked_s is None and unlocked_counts else None
    falls_s = float(time_s[up + int(np.argmax(falls_again))])
    spun = bool((motion.spinning & (motion.time_s > low_s) & (motion.time_s < up_s + BITE_S)).any())
    return (low_s, up_s) if spun or locked_s is None or (not shown and falls_s < locked_s + LOCKED_S) else None


def _clutch_locked(turn: TurnRatio, leaving: Leaving) -> float | Unknown:
    """When the log ratio first stays at the level at which first gear carries."""
    launch_s = leaving.launch_s
    seen = np.isfinite(turn.log_ratio) & (turn.time_s > launch_s) & (turn.time_s < leaving.first_s)
    if seen.sum() < 0.2 * GRID_HZ:
        return Unknown(NO_LOCK_SEEN)
    late = np.flatnonzero(seen)[-round(0.5 * GRID_HZ) :]
    level = float(np.median(turn.log_ratio[late]))
    near = seen & (np.abs(turn.log_ratio - level) < LOCKED)
    for run in find_true_runs(near):
        if run.stop - run.start >= LOCKED_S * GRID_HZ:
            moment = _meets(turn, level, run.start)
            return moment if moment < launch_s + LATEST_LOCK_S else Unknown(NO_LOCK_SEEN)
    return Unknown(NO_LOCK_SEEN)


def _meets(turn: TurnRatio, level: float, near: int) -> float:
    """When a ratio that comes near its level reaches it, drawn on from the last tenth of a second."""
    before = slice(max(near - round(APPROACH_S * GRID_HZ), 0), near + 1)
    time_s, above = turn.time_s[before], turn.log_ratio[before] - level
    known = np.isfinite(above)
    if known.sum() < 3:
        return float(turn.time_s[near])
    rate = float(np.polyfit(time_s[known], above[known], 1)[0])
    late_s = -float(turn.log_ratio[near] - level) / rate if rate < 0.0 else 0.0
    return float(turn.time_s[near]) + min(max(late_s, 0.0), APPROACH_S)


def back_in_band(seen: EngineInFirst, band: tuple[float, float] | Unknown, *, launch_s: float) -> float | Unknown:
    """The end of the last stretch below the band before the first shift.

    Parameters
    ----------
    seen : EngineInFirst
        ET.
    band : (low, high) or Unknown
        Of engine speed. [rpm]
    launch_s : float
        First motion. [s]

    Returns
    -------
    float or Unknown
        Unknown where it never fell below, or did not come back. [s, ET]
    """
    if isinstance(band, Unknown):
        return band
    time_s, rpm, low = seen.time_s, seen.rpm, band[0]
    inside = np.flatnonzero((time_s >= launch_s) & (time_s < seen.first_s))
    below = inside[rpm[inside] < low]
    if below.size == 0:
        return Unknown(NEVER_BELOW)
    if below[-1] + 1 >= rpm.size or below[-1] == inside[-1]:
        return Unknown(NEVER_BACK)
    last = int(below[-1])
    rise = rpm[last + 1] - rpm[last]
    share = (low - rpm[last]) / rise if rise > 0 else 1.0
    return float(time_s[last] + share * (time_s[last + 1] - time_s[last]))


def _boost_at_launch(evidence: RunEvidence) -> float | Unknown:
    boost = evidence.boost
    if isinstance(boost, Unknown):
        return boost
    if not boost.time_s.size:
        return Unknown(NO_BOOST_THERE)
    value = float(np.interp(evidence.launch_s, boost.time_s, boost.boost_pa, left=np.nan, right=np.nan))
    return value if np.isfinite(value) else Unknown(NO_BOOST_THERE)


def _peak_acceleration(motion: Motion, evidence: RunEvidence) -> float | Unknown:
    launch_s = evidence.launch_s
    if motion.basis is SpeedBasis.ENGINE_SPEED:
        return Unknown(PULL_UNSEEN)
    rest_m = float(np.interp(launch_s, motion.time_s, motion.distance_m))
    inside = (motion.time_s >= launch_s) & (motion.distance_m <= max(PEAK_FT * FOOT_M, rest_m + PEAK_FT * FOOT_M))
    step_s = float(np.median(np.diff(motion.time_s))) if motion.time_s.size > 1 else 0.0
    width = max(1, round(PEAK_S / step_s)) if step_s > 0 else 1
    forward = motion.acceleration_mps2[inside]
    if forward.size < width:
        return Unknown(PULL_UNSEEN)
    means = np.convolve(forward, np.full(width, 1.0 / width), mode="valid")
    means = means[np.isfinite(means)]
    return float(means.max()) if means.size else Unknown(PULL_UNSEEN)
