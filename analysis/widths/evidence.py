"""What a run and a figure of it show that tells how far its plus-minus may be trusted: the evidence that rules ask for.

All of it is seen in the logs, the car's description and the review itself. Whether a rule of the table asks for it, the
calibration decides (`rules.py`, `table.py`).

Public: `Seen`, `NUMBERS`, `WORDS`, `FIGURES`, `POWERS`, `seen_in_run`, `seen_of_shift`,
`seen_of_clock`, `seen_of`.
"""

from __future__ import annotations

import statistics
from dataclasses import dataclass, fields, replace

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.teeth import read_teeth
from passband.analysis.sensors.wheels import undriven_wheels
from passband.analysis.shifts.dip import pickup_evidence
from passband.analysis.widths.parts import of_devices, of_method

WHEN = ("clock_start", "splits", "traps")
AT_THE_ENGINE = ("rpm_at_launch", "rpm_lowest", "shift_start", "rpm_before", "rpm_after", "rpm_drop")
POWERS = ("average_w", "average_pulling_w", "average_wheel_w", "peak_w")
CLOCKS = ("clock_offset", "clock_rate")
FIGURES = (*WHEN, *AT_THE_ENGINE, *POWERS, *CLOCKS)
"""All figures that the table knows."""
TIMES = ("clock_start", "splits", "shift_start", *CLOCKS)
"""Figures whose half-width counts as it is, and not as a share of the value."""
LAUNCH_FROM_S = 0.2
"""The launch is looked at from so long before the first motion. [s]"""
LAUNCH_TO_S = 1.5
"""To so long after it. [s]"""
SHARE_OF_PULL = 0.5
"""The pull has come where it is that share of the greatest. [-]"""
HOLD_S = (0.25, 0.05)
"""Engine speed is on its hold between these, before the first motion. [s]"""
PLAIN = 1.0
"""Dip and swing back of a run that shows none, behind a converter or logged too rarely: nothing tells of a slow
pick-up. [-]"""


@dataclass(frozen=True, slots=True)
class Seen:
    """What one figure of one run rests on. What is not there is 0, or ``none``."""

    slip: str
    """``given`` where a timing slip was laid on the speed, else ``none``."""
    basis: str
    """What ground speed rests on; ``nothing`` where nothing shows it."""
    felt: str
    """``yes`` where an accelerometer shows how the car began to move, else ``no``."""
    drive: str
    """``converter`` or ``clutch``."""
    lag_shown: str
    """``yes`` where beats of a two-step show how slow the pick-up of engine speed is, else ``no``."""
    gps_hz: float
    """How often GPS speed tells something new. [Hz]"""
    wheel_hz: float
    """The same of undriven wheels' speed. [Hz]"""
    engine_hz: float
    """The same of engine speed. [Hz]"""
    tooth_way_m: float
    """How late undriven wheels are by a way, as their first moments show their teeth. [m]"""
    rise_s: float
    """From the first motion until the pull is half of the launch's greatest. [s]"""
    pull_mps2: float
    """Greatest pull of the launch, by the accelerometer or the speed. [m/s2]"""
    rollout_s: float
    """From the first motion until the clock starts. [s]"""
    launch_slip: float
    """Greatest slip of driven tires that spin as the car leaves. [-]"""
    start_open_s: float
    """Half-width of the clock start as found. [s]"""
    hold_rpm: float
    """By how much engine speed strays on its hold before the launch. [rpm]"""
    usual_shift_s: float
    """How long the run's shifts take, their median. [s]"""
    dip: float
    """How far the engine falls below the next gear's speed in them, over its drop, the median: a slow pick-up hides it.
    1 where nothing shows it. [-]"""
    swing_back: float
    """How far it then swings above, likewise. [-]"""
    pickup_lag_s: float
    """The longest lag of the pick-up that these, or its beats, give reason to fear. [s]"""
    half_width: float = 0.0
    """What sensors and method make of the figure's own plus-minus as found: of times as it is, of all else as a share
    of the value. [s], [-]"""
    clock: str = "none"
    """Of a further log's clock what it was matched on."""
    mark_ft: float = 0.0
    """Of a split or trap its mark. [ft]"""
    shift_s: float = 0.0
    """Of a figure of a shift how long that one takes. [s]"""
    shift_kind: str = "none"
    """What kind it is."""
    shift_open_s: float = 0.0
    """Half-width of where it starts as found: a command tells it sharply. [s]"""
    drop_share: float = 0.0
    """How far the engine falls in it, over the engine speed before. [-]"""
    device_share: float = 0.0
    """How much of the figure's plus-minus the devices make. [-]"""


WORDS = ("slip", "basis", "felt", "drive", "lag_shown", "clock", "shift_kind")
"""Evidence that is a word."""
NUMBERS = tuple(one.name for one in fields(Seen) if one.name not in WORDS)
"""Evidence that is a number."""


def seen_in_run(review: Review, motion: Motion, evidence: RunEvidence) -> Seen:
    """What all figures of one run rest on.

    Parameters
    ----------
    review : Review
        As the stages made it.
    motion : Motion
        The car's, ET.
    evidence : RunEvidence
        Of the run.

    Returns
    -------
    Seen
        With nothing yet of a single figure.
    """
    launch, window = _at_launch(motion, evidence.launch_s), review.window
    wheels = undriven_wheels(evidence.traces, evidence.car).channels
    pickup = pickup_evidence(evidence.engine, review.shifts, converter=evidence.converter)
    return Seen(
        slip="none" if motion.scale is None else "given",
        basis=motion.basis.value,
        felt="no" if evidence.traces.get("acceleration") is None else "yes",
        drive="converter" if evidence.converter else "clutch",
        lag_shown="yes" if evidence.engine is not None and evidence.engine.lag_measured else "no",
        gps_hz=_rate(evidence.traces.get("gps_speed")),
        wheel_hz=max(map(_rate, wheels), default=0.0),
        engine_hz=_rate(evidence.traces.get("engine_speed")),
        tooth_way_m=max((read_teeth(wheel, evidence.launch_s).way_m for wheel in wheels), default=0.0),
        rise_s=launch.rise_s,
        pull_mps2=launch.pull_mps2,
        rollout_s=window.log_clock_start_s - window.log_launch_s,
        launch_slip=_launch_slip(motion, evidence.launch_s),
        start_open_s=window.clock_start_plus_minus_s,
        hold_rpm=_hold(evidence.engine, evidence.launch_s),
        usual_shift_s=statistics.median([shift.duration_s for shift in review.shifts] or [0.0]),
        dip=PLAIN if pickup.dip is None else pickup.dip,
        swing_back=PLAIN if pickup.back is None else pickup.back,
        pickup_lag_s=pickup.lag_s,
    )


def _rate(channel: Channel | None) -> float:
    """To a tenth: a log's own clock makes 5.00 of one receiver and 4.99 of the next."""
    return 0.0 if channel is None else round(channel.rate_hz, 1)


@dataclass(frozen=True, slots=True)
class _Launch:
    rise_s: float
    pull_mps2: float


def _at_launch(motion: Motion, launch_s: float) -> _Launch:
    """How the pull came, as the fitted motion has it."""
    near = (motion.time_s > launch_s - LAUNCH_FROM_S) & (motion.time_s < launch_s + LAUNCH_TO_S)
    if not near.any():
        return _Launch(0.0, 0.0)
    time_s, pull = motion.time_s[near], motion.acceleration_mps2[near]
    most = float(pull.max())
    return _Launch(float(time_s[int(np.argmax(pull >= SHARE_OF_PULL * most))] - launch_s), most)


def _launch_slip(motion: Motion, launch_s: float) -> float:
    """The greatest slip of an episode that begins in the launch; one that is not measured counts as none."""
    return max((one.peak_slip or 0.0 for one in motion.wheelspin if one.start_s < launch_s + LAUNCH_TO_S), default=0.0)


def _hold(engine: EngineSpeed | None, launch_s: float) -> float:
    """By how much engine speed strays on its hold, rpm."""
    if engine is None:
        return 0.0
    since_s = launch_s - engine.true_time_s
    held = engine.rpm[(since_s < HOLD_S[0]) & (since_s > HOLD_S[1])]
    return float(held.std()) if held.size > 1 else 0.0


def seen_of(seen: Seen, figure: str, estimate: Estimate) -> Seen:
    """What one figure rests on.

    Parameters
    ----------
    seen : Seen
        Of its run, or of its shift.
    figure : str
        One of `FIGURES`.
    estimate : Estimate
        The figure, as the stages made it.

    Returns
    -------
    Seen
        With the figure's own half-width: of a power all of it, else what sensors and method make of it.

    Raises
    ------
    ValueError
        If no such figure is known.
    """
    if figure not in FIGURES:
        raise ValueError(f"figure must be one of {', '.join(FIGURES)}, got {figure!r}")
    whole = estimate.plus_minus
    size = 1.0 if figure in TIMES else abs(estimate.value)
    half = (whole if figure in POWERS else of_method(estimate)) / size if size else 0.0
    return replace(seen, half_width=half, device_share=of_devices(estimate) / whole if whole else 0.0)


def seen_of_clock(seen: Seen, match: ClockMatch) -> Seen:
    """What the figures of one further log's clock rest on.

    Parameters
    ----------
    seen : Seen
        Of its run.
    match : ClockMatch
        As it was matched.

    Returns
    -------
    Seen
        With what it was matched on.
    """
    return replace(seen, clock=" and ".join(sorted(match.matched_on)) or "nothing")


def seen_of_shift(seen: Seen, shift: Shift) -> Seen:
    """What the figures of one shift rest on.

    Parameters
    ----------
    seen : Seen
        Of its run.
    shift : Shift
        As the stages made it.

    Returns
    -------
    Seen
        With the shift's own.
    """
    before, drop = known(shift.rpm_before), known(shift.rpm_drop)
    return replace(
        seen,
        shift_s=shift.duration_s,
        shift_kind=shift.kind.value,
        shift_open_s=shift.time_plus_minus_s,
        drop_share=drop.value / before.value if before and drop and before.value > 0.0 else 0.0,
    )
