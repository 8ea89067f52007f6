"""A fitted run read at the strip's marks: splits, traps, finish, motion, each with its plus-minus.

Public: `Timed`, `Disagreement`, `SharedCause`, `read_timed`, `read_split`, `moment_passed`, `TRAP_LENGTH_M`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.given.car import Slip
from passband.analysis.motion.factors import COMMON
from passband.analysis.motion.ground_speed import GroundSpeed, Motion, SpeedErrors
from passband.analysis.motion.open_errors import SMEARED
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import MARKS_FT, Distance, SpeedBasis, Split, Trap
from passband.analysis.results.estimate import CAR, DEVICE, Estimate
from passband.analysis.results.findings import Finding

TRAPS_FT = (660, 1320)
"""Marks whose last 66 ft are a speed trap. [ft]"""
TRAP_LENGTH_M = 66 * FOOT_M
"""[m]"""
ABORTED_SHARE = 0.75
"""A driver who lifts for good before this share of the strip has given the run up. [-]"""
AT_ITS_END_S = 0.05
"""A mark passed this close to the run's end is where it ended: the car gains no more than 2 m/s meanwhile. [s]"""
STRAGGLE_M = 0.008
"""Error of distance that the model does not see, at the marks. [m] From simulated runs."""
STAGING, STAGED_ALIKE = f"{DEVICE}: how the car stages", 0.7
"""Cause of what is open of the rollout, and the share of its variance that runs of one car share: what its tire and the
strip's beams make of it, and how deep its driver stages by habit; the rest is how deep he staged in that run. An inch
(25 mm) of the 45 mm that a rollout may be off by anew in each run. Common practice, no source. [-]"""
ERROR_SHARE = 0.01
"""Main axes of the speed's error that hold less of its variance move no figure. [-]"""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Where a slip lies furthest from the logs."""

    feet: int
    """The mark. [ft]"""
    both: str
    """What each says of it, as part of a sentence; empty where the logs do not reach it."""


@dataclass(frozen=True, slots=True)
class Timed:
    """A run with the strip's marks laid on it."""

    clock_start_s: Estimate
    """On the log's clock. [s]"""
    distance: Distance
    """Splits and traps; wheelspin is still empty."""
    motion: Motion
    """ET; tire speed and wheelspin are still empty."""
    finish_s: float | None
    """When the finish line was passed under power; None if it was not. [s, ET]"""
    end_s: float
    """Where the run ends: the finish, the lift of an aborted run, or the end of the record. [s, ET]"""
    disagreement: Disagreement | None = None
    """Set where the slip contradicts the logs and was left out: `analysis.motion.slip_against_log` settles it."""
    findings: tuple[Finding, ...] = ()
    """A mark of the slip that does not fit, a rollout that was assumed, which of slip and logs was believed."""

    @property
    def last_trap(self) -> Estimate | None:
        """The trap at the run's end, in m/s; one before a finish of 1000 ft or a lift says nothing of the end."""
        splits = self.distance.splits
        if not splits or abs(splits[-1].time_s.value - self.end_s) > AT_ITS_END_S:
            return None
        return next((trap.speed_mps for trap in self.distance.traps if trap.at_ft == splits[-1].at_ft), None)


@dataclass(frozen=True, slots=True)
class SharedCause:
    """A parameter of the fit whose error other runs share."""

    place: int
    """Among the fit's unknowns."""
    sd: float
    """Its standard deviation, in its unit."""
    cause: str
    """What it stands for: ``device: wheel scale``."""
    share: float = 1.0
    """How much of its variance they share; the rest is each run's own. [-]"""


def read_timed(
    fitted: Posterior, ground: GroundSpeed, slip: Slip | None, finish_ft: int, ends: tuple[float, float | None]
) -> Timed:
    """The run as its fit has it, with the strip's marks laid on it.

    Parameters
    ----------
    fitted : Posterior
        Rollout, and the slip if there is one, taken in.
    ground : GroundSpeed
        What the sensors alone gave.
    slip : Slip or None
        Whose marks were taken in.
    finish_ft : int
        Where the strip ends. [ft]
    ends : tuple of (float, float or None)
        The end of the window, and when the driver lifted for good. [s, log]

    Returns
    -------
    Timed
        Splits and traps up to the finish, as far as the record goes.
    """
    end_log_s, lift_log_s = ends
    start, together = fitted.parameter("clock start"), fitted.parameter(COMMON)
    together *= ground.late_share
    row_start = fitted.row_parameter("clock start") - ground.late_share * fitted.row_parameter(COMMON)
    start_sd = float(fitted.deviation(row_start[None, :])[0])
    rollout_sd = float(fitted.deviation(fitted.row_parameter("rollout")[None, :])[0])
    rollout = Estimate(fitted.parameter("rollout"), 1.96 * rollout_sd)
    reach = min(float(fitted.time_s[-1]), end_log_s + 0.3)
    shared = _shared_causes(fitted, ground, slip)
    marks, ends_ft = ([feet for feet in all_ft if feet <= finish_ft] for all_ft in (MARKS_FT, TRAPS_FT))
    splits, traps = _read_marks(fitted, (marks, ends_ft), reach, shared)
    scale = _scale(fitted, ground) if slip is not None else None
    basis = ground.basis + (", timing slip" if slip is not None else "")
    motion = _motion(fitted, start, ground.basis, scale, shared)
    finish = moment_passed(fitted, finish_ft * FOOT_M, reach)
    if finish is not None and lift_log_s is not None and _lifted_early(fitted, lift_log_s, finish_ft):
        finish = None
    last = float(fitted.time_s[-1]) if lift_log_s is None else min(lift_log_s, float(fitted.time_s[-1]))
    distance = Distance(basis, rollout, scale, tuple(splits), tuple(traps), ())
    return Timed(
        clock_start_s=Estimate(start - together, 1.96 * start_sd),
        distance=distance,
        motion=motion,
        finish_s=None if finish is None else finish - start,
        end_s=(last if finish is None else finish) - start,
    )


def _lifted_early(fitted: Posterior, lift_log_s: float, finish_ft: int) -> bool:
    gone = float(np.interp(lift_log_s, fitted.time_s, fitted.distance)) - fitted.parameter("rollout")
    return gone < ABORTED_SHARE * finish_ft * FOOT_M


def moment_passed(fitted: Posterior, metres: float, reach_s: float) -> float | None:
    """When the car has gone so far past its rollout.

    Parameters
    ----------
    fitted : Posterior
        Of the run.
    metres : float
        From clock start. [m]
    reach_s : float
        The last moment that counts. [s, log]

    Returns
    -------
    float or None
        None where it is not reached by then. [s, log]
    """
    wanted = metres + fitted.parameter("rollout")
    distance = fitted.distance
    if wanted > float(np.interp(reach_s, fitted.time_s, distance)):
        return None
    return float(np.interp(wanted, distance, fitted.time_s))


def _row_moment(fitted: Posterior, at_s: float) -> FloatArray:
    """Row that reads when a fixed place is passed: later by what the car is short of it, over its speed."""
    pace = max(float(np.interp(at_s, fitted.time_s, fitted.speed)), 0.5)
    return -(fitted.row_distance(at_s) - fitted.row_parameter("rollout")) / pace


@dataclass(frozen=True, slots=True)
class _Figure:
    """A linear figure of the fit."""

    value: float
    row: FloatArray
    """That reads it, shape (n + p,)."""
    more_sd: float = 0.0
    """What its error has beside the fit's, a deviation."""


def _parted(fitted: Posterior, figures: Sequence[_Figure], shared: Sequence[SharedCause]) -> list[Estimate]:
    """Figures with what shared parameters make of them by cause, the rest the run's own."""
    unit = np.zeros((len(shared), fitted.mean.size))
    unit[np.arange(len(shared)), [one.place for one in shared]] = 1.0
    covariance = fitted.covariance(np.vstack((*(figure.row for figure in figures), unit)))
    estimates = []
    for place, figure in enumerate(figures):
        own = float(covariance[place, place]) + figure.more_sd**2
        effects: dict[str, float] = {}
        for one, together in zip(shared, covariance[place, len(figures) :].tolist(), strict=True):
            effect = one.share**0.5 * together / one.sd if one.sd > 0.0 else 0.0
            own -= effect**2
            effects[one.cause] = 1.96 * effect
        estimates.append(Estimate.parted(figure.value, 1.96 * max(own, figure.more_sd**2) ** 0.5, effects))
    return estimates


def read_split(fitted: Posterior, feet: int, reach_s: float, shared: Sequence[SharedCause]) -> Split | None:
    """Elapsed time and speed at a mark as a fit has them.

    Parameters
    ----------
    fitted : Posterior
        Of the run.
    feet : int
        The mark. [ft]
    reach_s : float
        How far the record goes. [s, log]
    shared : sequence of SharedCause
        What other runs' errors share with this one's.

    Returns
    -------
    Split or None
        None where the car did not get there.
    """
    splits, _ = _read_marks(fitted, ([feet], []), reach_s, shared)
    return splits[0] if splits else None


def _read_marks(
    fitted: Posterior, marks_ft: tuple[Sequence[int], Sequence[int]], reach_s: float, shared: Sequence[SharedCause]
) -> tuple[list[Split], list[Trap]]:
    """Splits at the first of the marks, traps at the second, as far as the record reaches; all read at once."""
    splits = {feet: figures for feet in marks_ft[0] if (figures := _figures_at(fitted, feet, reach_s)) is not None}
    traps = {feet: figure for feet in marks_ft[1] if (figure := _figure_of_trap(fitted, feet, reach_s)) is not None}
    every = [*(figure for both in splits.values() for figure in both), *traps.values()]
    found = iter(_parted(fitted, every, shared) if every else [])
    return [Split(feet, next(found), next(found)) for feet in splits], [Trap(feet, next(found)) for feet in traps]


def _figures_at(fitted: Posterior, feet: int, reach_s: float) -> tuple[_Figure, _Figure] | None:
    """Elapsed time and speed at a mark; None where the car did not get there."""
    at = moment_passed(fitted, feet * FOOT_M, reach_s)
    if at is None:
        return None
    row = _row_moment(fitted, at) - fitted.row_parameter("clock start")
    pace = float(np.interp(at, fitted.time_s, fitted.speed))
    moment = _Figure(at - fitted.parameter("clock start"), row, STRAGGLE_M / pace)
    return moment, _Figure(pace, fitted.row_speed(at))


def _figure_of_trap(fitted: Posterior, feet: int, reach_s: float) -> _Figure | None:
    at, before = (moment_passed(fitted, feet * FOOT_M - back, reach_s) for back in (0.0, TRAP_LENGTH_M))
    if at is None or before is None:
        return None
    speed = TRAP_LENGTH_M / (at - before)
    row = (_row_moment(fitted, at) - _row_moment(fitted, before)) * (-(speed**2) / TRAP_LENGTH_M)
    return _Figure(speed, row)


def _scale(fitted: Posterior, ground: GroundSpeed) -> Estimate:
    """By how much the slip stretched the distance that the sensors alone gave."""
    before = ground.posterior.distance[-1]
    row = fitted.row_distance(float(fitted.time_s[-1]))[None, :]
    return Estimate(float(fitted.distance[-1] / before), 1.96 * float(fitted.deviation(row)[0]) / float(before))


def _motion(
    fitted: Posterior, start_s: float, basis: SpeedBasis, scale: Estimate | None, shared: Sequence[SharedCause]
) -> Motion:
    time, speed = fitted.time_s, fitted.speed
    coarse = time[:: max(1, time.size // 48)]
    rows_speed, rows_pull = fitted.rows_speed(coarse), fitted.rows_acceleration(coarse, over_s=0.05)
    rows_gone = fitted.rows_distance(coarse) - fitted.row_parameter("rollout")
    unit = np.zeros((len(shared), fitted.mean.size))
    unit[np.arange(len(shared)), [one.place for one in shared]] = 1.0
    together = fitted.covariance(np.vstack((rows_speed, unit)))
    left, by_shared = together[: coarse.size, : coarse.size], together[coarse.size :, : coarse.size]
    sds = (
        np.sqrt(np.maximum(np.diag(left), 0.0)),
        *np.split(fitted.deviation(np.vstack((rows_pull, rows_gone))), [coarse.size]),
    )
    wide = [np.interp(time, coarse, 1.96 * sd) for sd in sds]
    return Motion(
        time_s=time - start_s,
        speed_mps=np.maximum(speed, 0.0),
        speed_plus_minus_mps=wide[0],
        acceleration_mps2=np.gradient(speed, time),
        acceleration_plus_minus_mps2=wide[1],
        distance_m=fitted.distance - fitted.parameter("rollout"),
        distance_plus_minus_m=wide[2],
        tire_speed_mps=np.full(time.size, np.nan),
        spinning=np.zeros(time.size, dtype=np.bool_),
        basis=basis,
        scale=scale,
        wheelspin=(),
        parted_errors=_errors(fitted, left, by_shared, coarse, shared),
    )


def _shared_causes(fitted: Posterior, ground: GroundSpeed, slip: Slip | None) -> list[SharedCause]:
    """Parameters that other runs share, with the cause each stands for; a slip settles them anew in every run."""
    named = {name: cause for name, cause in _shared_parameters(ground, slip).items() if name in fitted.names}
    rows = np.array([fitted.row_parameter(name) for name in named]).reshape(len(named), fitted.mean.size)
    places = [fitted.time_s.size + fitted.names.index(name) for name in named]
    found = zip(places, fitted.deviation(rows).tolist(), named.values(), strict=True)
    return [SharedCause(*one, share=STAGED_ALIKE if one[2] == STAGING else 1.0) for one in found]


def _shared_parameters(ground: GroundSpeed, slip: Slip | None) -> dict[str, str]:
    if slip is not None:
        return {}
    staging = {"rollout": STAGING}
    if ground.through_driveline:
        return staging | {
            COMMON: f"{DEVICE}: sensors' lateness",
            "scale": f"{CAR}: tire's size",
            "slip": f"{CAR}: tire's usual slip",
            "growth": f"{CAR}: tire's growth",
        }
    smoothing = {SMEARED: f"{DEVICE}: receiver's smoothing"} if SMEARED in ground.posterior.modes else {}
    return staging | {"scale": f"{DEVICE}: speed's scale", COMMON: f"{DEVICE}: sensors' lateness"} | smoothing


def _errors(
    fitted: Posterior, left: FloatArray, by_shared: FloatArray, at_s: FloatArray, shared: Sequence[SharedCause]
) -> SpeedErrors:
    """The ways in which the speed may be wrong: those of shared parameters, then what is left by its main axes."""
    by_cause: dict[str, FloatArray] = {}
    for one, together in zip(shared, by_shared, strict=True):
        if one.sd > 0.0:
            way = one.share**0.5 * together / one.sd
            left = left - np.outer(way, way)
            by_cause[one.cause] = np.interp(fitted.time_s, at_s, 1.96 * way)
    size, axes = np.linalg.eigh((left + left.T) / 2.0)
    kept = size > ERROR_SHARE * max(float(size.sum()), 0.0)
    ways = (axes[:, kept] * np.sqrt(size[kept]) * 1.96).T
    own = np.array([np.interp(fitted.time_s, at_s, way) for way in ways])
    return SpeedErrors(own.reshape(-1, fitted.time_s.size), by_cause)
