"""The whole job in one call: logs of a run in, reviews out. Reads like the story of a run.

Public: `review` (all runs that the logs hold), `review_run` (one of them), `Review`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from passband.analysis.air.day import AirState, measure_air
from passband.analysis.channels.log import Log, NoRunInLog, Traces
from passband.analysis.clocks.match import ClockMatch, ClocksDoNotMatch, match_clocks, on_one_clock
from passband.analysis.driveline.gears import Gears, gears_between_shifts, label_gears
from passband.analysis.driveline.launch import Launch, measure_launch, tires_follow_from
from passband.analysis.driveline.state import read_driveline
from passband.analysis.driveline.wheelspin import tell_wheelspin, with_wheelspin
from passband.analysis.engine.band import Band, measure_band
from passband.analysis.engine.boost import Boost, BoostTrace, find_boost, measure_boost
from passband.analysis.engine.limits import LimitVerdict, RunTimes, check_limits
from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.motion.distance import Distance, Timed, time_the_run
from passband.analysis.motion.ground_speed import Motion, fuse_ground_speed
from passband.analysis.power.measure import Power, measure_power
from passband.analysis.quantities import Estimate, FloatArray
from passband.analysis.reading import check_between_channels
from passband.analysis.results.findings import Finding, by_weight
from passband.analysis.sensors.evidence import prepare_evidence
from passband.analysis.sensors.wheels import with_final_drive
from passband.analysis.shifts.find import find_shifts
from passband.analysis.shifts.shake import tell_shake
from passband.analysis.shifts.shift import Shift
from passband.analysis.windows.decoys import Decoy
from passband.analysis.windows.window import RunWindow, find_runs

LEAST_RUN_M = 18.288
"""What does not reach the 60 ft mark was a hop or a burnout, no run. [m]"""
VERSION = "1"
"""Version of the analysis: a stored review tells which one made it."""


@dataclass(frozen=True, slots=True)
class RunFacts:
    """Which run it is."""

    log_names: tuple[str, ...]
    """Files, the ECU's first."""
    label: str
    """The user's name for it; may be empty."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""


@dataclass(frozen=True, slots=True)
class Window:
    """When the run was, on the ECU log's own clock."""

    log_launch_s: float
    """First forward motion. [s]"""
    log_clock_start_s: float
    """The ET clock starts. [s]"""
    clock_start_plus_minus_s: float
    """95 % half-width. [s]"""
    log_finish_s: float | None
    """Finish line, or the lift of an aborted run. [s]"""
    distance_m: float | None
    """How far from clock start. [m]"""
    outcome: str
    """``quarter``, ``thousand``, ``eighth``, ``aborted``, ``log ends before the finish``."""
    decoys: tuple[Decoy, ...]
    """What else the log holds."""


@dataclass(frozen=True, slots=True)
class Review:
    """Everything found in one run."""

    run: RunFacts
    """Which run."""
    window: Window
    """When."""
    clocks: tuple[ClockMatch, ...]
    """One for each further log."""
    distance: Distance | None
    """Splits, traps, wheelspin."""
    gears: Gears | None
    """Gear intervals."""
    launch: Launch | None
    """The launch."""
    shifts: tuple[Shift, ...]
    """In order."""
    boost: Boost | None
    """None where no boost or threshold is known."""
    power: Power | None
    """None where the mass is unknown."""
    band: Band | None
    """None where no band is given."""
    limits: tuple[LimitVerdict, ...]
    """As the car lists them."""
    air: AirState | None
    """The air used."""
    findings: tuple[Finding, ...]
    """Weightiest first."""
    car: Car
    """The car it was made with."""
    version: str
    """Version of the analysis."""
    traces: Traces
    """All channels, ET. Not part of the JSON."""
    motion: Motion | None
    """The car's motion, ET. Not part of the JSON."""


@dataclass(frozen=True, slots=True)
class Setup:
    """What a run is reviewed with, besides its logs."""

    car: Car
    """The car."""
    air: Air | None = None
    """The day's air."""
    finish_ft: int = 1320
    """Where the finish line is. [ft]"""
    facts: RunFacts = RunFacts((), "", "", "")
    """Which run it is."""


def review(
    logs: Sequence[Log | Sequence[Log]],
    car: Car,
    slips: Sequence[Slip] = (),
    air: Air | None = None,
    *,
    finish_ft: int = 1320,
    facts: RunFacts | None = None,
) -> list[Review]:
    """Review every run that the logs of one trip to the line hold.

    Parameters
    ----------
    logs : sequence of Log, or of the recordings of one file each
        The ECU's first. A file whose logger restarted gives several recordings.
    car : Car
        What the user knows of the vehicle.
    slips : sequence of Slip
        One for each run, in order; fewer is fine.
    air : Air, optional
        The day's air.
    finish_ft : int
        1320, 1000 or 660. [ft]
    facts : RunFacts, optional
        Label, event, round.

    Returns
    -------
    list of Review
        In order of time; never empty.

    Raises
    ------
    NoRunInLog
        If no log holds an engine speed, the logs are not of one run, or nothing in them is a run.
    ValueError
        If no log is given.
    """
    files = [(log,) if isinstance(log, Log) else tuple(log) for log in logs]
    if not files or not any(files):
        raise ValueError("review needs at least one log, got none")
    files = _engine_log_first(files)
    names = tuple(recordings[0].name for recordings in files)
    told = replace(facts or RunFacts((), "", "", ""), log_names=names)
    setup = Setup(car, air, finish_ft, told)
    reviews: list[Review] = []
    refusals: list[NoRunInLog] = []
    for recording in files[0]:
        try:
            reviews += _review_recording(recording, files[1:], setup, slips[len(reviews) :])
        except NoRunInLog as refusal:
            refusals.append(refusal)
    if not reviews:
        raise refusals[0]
    return reviews


def _engine_log_first(files: list[tuple[Log, ...]]) -> list[tuple[Log, ...]]:
    """The log that holds engine speed leads; of several, the one given first."""
    for place, recordings in enumerate(files):
        if any(log.get("engine_speed") is not None for log in recordings):
            return [recordings, *files[:place], *files[place + 1 :]]
    headers = ", ".join(channel.header for channel in files[0][0].channels[:12])
    raise NoRunInLog(
        f"No engine speed was found in {', '.join(recordings[0].name for recordings in files)}: looked for a channel "
        f"called engine speed, RPM or the like, found {headers or 'no channel'}. "
        "Tell which channel it is, or add the ECU's log."
    )


def _review_recording(ecu: Log, others: list[tuple[Log, ...]], setup: Setup, slips: Sequence[Slip]) -> list[Review]:
    """One recording of the ECU's with what belongs to it of the other logs."""
    matched, matches, findings = _on_the_ecu_clock(ecu, others, setup.car)
    logs, more = check_between_channels([ecu, *matched], setup.car)
    findings += [*(finding for log in logs for finding in log.findings), *more]
    traces = on_one_clock(logs, matches)
    windows, more = find_runs(traces, setup.car)
    findings += more
    reviews = [
        review_run(window, traces, setup, slips[place] if place < len(slips) else None, matches, findings)
        for place, window in enumerate(windows)
    ]
    runs = [one for one in reviews if one.window.distance_m is None or one.window.distance_m >= LEAST_RUN_M]
    if not runs:
        raise NoRunInLog(_no_run(ecu), findings=tuple(findings))
    return runs


def _no_run(ecu: Log) -> str:
    engine = ecu.get("engine_speed")
    if engine is None or not engine.known.values.size:
        return f"{ecu.name} holds no usable engine speed, so no run can be found in it."
    return (
        f"No run was found in {ecu.name}: looked for a launch followed by a pull through the gears, found "
        f"{ecu.time.last_s - ecu.time.first_s:.0f} s of log with engine speed from {engine.known.values.min():.0f} to "
        f"{engine.known.values.max():.0f} rpm. Check that it is the log of a run."
    )


def _on_the_ecu_clock(
    ecu: Log, others: list[tuple[Log, ...]], car: Car
) -> tuple[list[Log], list[ClockMatch], list[Finding]]:
    """Of each further file the recording that is of the same run, and how its clock lies."""
    matched: list[Log] = []
    matches: list[ClockMatch] = []
    findings: list[Finding] = []
    for recordings in others:
        refusals: list[ClocksDoNotMatch] = []
        for recording in recordings:
            try:
                match, more = match_clocks(ecu, recording, car=car)
            except ClocksDoNotMatch as refusal:
                refusals.append(refusal)
                continue
            findings += more
            if match is not None:
                matched.append(recording)
                matches.append(match)
        if len(refusals) == len(recordings):
            raise refusals[0]
    return matched, matches, findings


def review_run(
    window: RunWindow,
    traces: Traces,
    setup: Setup,
    slip: Slip | None,
    clocks: Sequence[ClockMatch],
    findings: Sequence[Finding],
) -> Review:
    """Read one run from launch to finish and return everything found in it.

    Parameters
    ----------
    window : RunWindow
        The run, on the ECU log's clock.
    traces : Traces
        All channels on that clock.
    setup : Setup
        Car, air, finish line.
    slip : Slip or None
        The run's timing slip.
    clocks : sequence of ClockMatch
        How the further logs' clocks lie.
    findings : sequence of Finding
        What reading and clocks found.

    Returns
    -------
    Review
        What could not be computed is None, with a finding.
    """
    car, told = setup.car, list(findings)
    ground, found = fuse_ground_speed(traces, car, window)
    told += found
    if ground is None:
        return _without_motion(window, traces, setup, clocks, told)
    timed, found = time_the_run(
        ground,
        rollout_m=car.rollout,
        slip=slip,
        finish_ft=setup.finish_ft,
        end_log_s=window.stop_s,
        lift_log_s=window.lift_s,
    )
    told += found
    start = timed.clock_start_s.value
    run = traces.shifted(-start)
    launch_s, end_s = window.launch_s - start, timed.end_s
    if not ground.through_driveline:
        car, found = with_final_drive(car, run, time_s=timed.motion.time_s, speed_mps=timed.motion.speed_mps)
        told += found
    air, found = measure_air(setup.air, run)
    told += found
    boost_trace, found = find_boost(run, air)
    told += found
    evidence = prepare_evidence(
        run, car, launch_s=launch_s, end_s=end_s, record_end_s=timed.motion.time_s[-1], boost=_samples(boost_trace)
    )
    motion = with_wheelspin(timed.motion, evidence, gears=None)
    driveline = read_driveline(motion, evidence)
    gears, found = label_gears(driveline, motion, evidence)
    told += found
    shifts, found = find_shifts(driveline, motion, evidence, gears)
    told += found
    told += tell_shake(evidence, shifts)
    gears = gears_between_shifts(gears, shifts, motion, evidence)
    launch, found = measure_launch(driveline, motion, evidence, gears)
    motion = with_wheelspin(motion, evidence, gears=gears, follow_s=tires_follow_from(launch))
    told += found + tell_wheelspin(motion, evidence)

    boosted = boost_trace is not None and boost_trace.boosted(0.0, end_s)
    # A final drive found from the tires' own speed says nothing of their slip: power gets the car as it was told.
    power, found = measure_power(
        motion, gears, shifts, evidence, setup.car, air, boosted=boosted, trap_speed=_last_trap(timed)
    )
    told += found
    boost_review, found = measure_boost(
        boost_trace, shifts, motion.wheelspin, evidence.throttle, threshold_pa=car.boost_threshold, end_s=end_s
    )
    told += found
    curves = power.curves if power is not None else ()
    band = measure_band(run.get("engine_speed"), motion, gears, shifts, band=car.rpm_band, end_s=end_s, curves=curves)
    limits, found = check_limits(run, motion, gears, car.limits, boost_trace, times=_times(window, start, end_s))
    told += found

    distance = replace(timed.distance, wheelspin=motion.wheelspin)
    where = _window(window, timed, clocks, setup, end_s)
    return Review(
        setup.facts, where, tuple(clocks), distance, gears, launch, shifts, boost_review, power, band, limits, air,
        tuple(by_weight(told)), setup.car, VERSION, run, motion,
    )  # fmt: skip


def _samples(trace: BoostTrace | None) -> tuple[FloatArray, FloatArray] | None:
    return None if trace is None else (trace.time_s, trace.boost_pa)


def _last_trap(timed: Timed) -> Estimate | None:
    return timed.distance.traps[-1].speed_mps if timed.distance.traps else None


def _times(window: RunWindow, start_s: float, end_s: float) -> RunTimes:
    burnouts = tuple(
        (decoy.log_start_s - start_s, decoy.log_end_s - start_s) for decoy in window.decoys if decoy.kind == "burnout"
    )
    return RunTimes(launch_s=window.launch_s - start_s, end_s=end_s, burnouts=burnouts)


OUTCOMES = {660: "eighth", 1000: "thousand", 1320: "quarter"}


def _window(window: RunWindow, timed: Timed, clocks: Sequence[ClockMatch], setup: Setup, end_s: float) -> Window:
    start = timed.clock_start_s
    doubt = max([match.run_plus_minus_s for match in clocks], default=0.0)
    if timed.motion.basis == "engine speed" and timed.motion.scale is None:
        doubt = max(doubt, window.launch_plus_minus_s)  # nothing of the car is seen until the clutch has locked
    if timed.finish_s is not None:
        outcome = OUTCOMES.get(setup.finish_ft, f"{setup.finish_ft} ft")
    else:
        outcome = "aborted" if window.lift_s is not None else "log ends before the finish"
    last = min(int(timed.motion.time_s.searchsorted(end_s)), timed.motion.time_s.size - 1)
    gone = float(timed.motion.distance_m[last])
    return Window(
        log_launch_s=window.launch_s,
        log_clock_start_s=start.value,
        clock_start_plus_minus_s=float((start.plus_minus**2 + doubt**2) ** 0.5),
        log_finish_s=start.value + end_s,
        distance_m=gone,
        outcome=outcome,
        decoys=window.decoys,
    )


def _without_motion(
    window: RunWindow, traces: Traces, setup: Setup, clocks: Sequence[ClockMatch], told: list[Finding]
) -> Review:
    """A run whose ground speed nothing shows: when it was and its limits against time are all that can be said."""
    start = window.launch_s
    end = (window.lift_s if window.lift_s is not None else window.stop_s) - start
    run = traces.shifted(-start)
    air, found = measure_air(setup.air, run)
    boost_trace, more = find_boost(run, air)
    limits, most = check_limits(run, None, None, setup.car.limits, boost_trace, times=_times(window, start, end))
    boost, last = measure_boost(
        boost_trace, (), (), run.get("throttle"), threshold_pa=setup.car.boost_threshold, end_s=end
    )
    told = [*told, *found, *more, *most, *last]
    where = Window(start, start, window.launch_plus_minus_s + 0.3, start + end, None, "not known", window.decoys)
    return Review(
        setup.facts, where, tuple(clocks), None, None, None, (), boost, None, None, limits, air,
        tuple(by_weight(told)), setup.car, VERSION, run, None,
    )  # fmt: skip
