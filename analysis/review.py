"""The whole job in one call: logs of a run in, reviews out. Reads like the story of a run.

Public: `review` (all runs in the logs), `review_run` (one of them), `RunInLogs`, `FullReview`, `Setup`, `STAGES`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from passband.analysis.air.day import measure_air
from passband.analysis.channels.log import Log, NoRunInLog, Traces
from passband.analysis.clocks.gather import gather_logs, logs_of_run, recordings_of_one_logger
from passband.analysis.clocks.match import on_one_clock
from passband.analysis.driveline.behind_converter import tell_converter
from passband.analysis.driveline.drive_lost import tell_drive_lost
from passband.analysis.driveline.gear_doubts import ratios_in_order, settled_by_slip, tell_ratios_out_of_order
from passband.analysis.driveline.gears import gears_between_shifts, label_gears
from passband.analysis.driveline.launch import engine_in_first, measure_launch, tires_follow_from
from passband.analysis.driveline.state import read_driveline
from passband.analysis.driveline.transmission import with_transmission
from passband.analysis.driveline.wheelspin import tell_wheelspin, with_wheelspin
from passband.analysis.engine.kept_run import Found, KeptRun, hold_to_bounds
from passband.analysis.engine.run_times import RunTimes
from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.given.facts_together import tell_facts_unlike_each_other
from passband.analysis.kept_memory import keep_freed_memory
from passband.analysis.motion.distance import time_the_run
from passband.analysis.motion.felt_alike import lay_on_clock
from passband.analysis.motion.ground_speed import GroundSpeed, Motion, fuse_ground_speed
from passband.analysis.motion.repeated_speed import tell_repeats
from passband.analysis.motion.run_window import tell_early_lift, window_of_run, window_of_unseen_run
from passband.analysis.motion.slip_against_log import settle_slip
from passband.analysis.motion.slip_alone import SlipRun, distance_by_slip_alone, read_slip_alone
from passband.analysis.motion.slip_used import tell_slips_left_over, tell_unused_slip
from passband.analysis.motion.timed import Timed
from passband.analysis.power.measure import Driven, measure_power
from passband.analysis.power.slip_alone import power_by_slip
from passband.analysis.reading import check_between_channels, doubts_of
from passband.analysis.reading.engine_speed_wanted import may_be_engine_speed
from passband.analysis.reading.parts_of_a_log import whole_logs
from passband.analysis.reading.settled_elsewhere import without_settled_questions
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.distance import SpeedBasis
from passband.analysis.results.findings import Finding, by_weight
from passband.analysis.results.gears import Gears
from passband.analysis.results.review import CarFacts, Review, RunFacts
from passband.analysis.results.unknown import HasFindings, Unknown, known
from passband.analysis.results.window import FINISHES
from passband.analysis.sensors.boost_trace import find_boost
from passband.analysis.sensors.evidence import prepare_evidence
from passband.analysis.sensors.wheels import driven_as_logged, with_final_drive
from passband.analysis.shifts.find import find_shifts
from passband.analysis.shifts.shake import tell_shake
from passband.analysis.versions import VERSION
from passband.analysis.widths.calibrated import Widths, with_widths
from passband.analysis.widths.evidence import Seen, seen_in_run
from passband.analysis.widths.table import CALIBRATED
from passband.analysis.windows.log_ends import tell_log_end
from passband.analysis.windows.window import RunWindow, find_runs

LEAST_RUN_M = 18.288
"""What does not reach the 60 ft mark was a hop or a burnout, no run. [m]"""
P = TypeVar("P", bound=HasFindings | None)
NO_FACTS = RunFacts((), "", "", "")
"""A run that nobody named."""
STAGES = ("clocks", "window", "speed", "gears", "power")
"""What a review goes through with each run, in order."""


def _to_nobody(_: str) -> None:
    """Nobody listens."""


@dataclass(frozen=True, slots=True)
class Setup:
    """What a run is reviewed with, besides its logs."""

    car: Car
    """The car."""
    air: Air | None = None
    """The day's air."""
    finish_ft: int = 1320
    """Where the finish line is. [ft]"""
    facts: RunFacts = NO_FACTS
    """Which run it is."""
    widths: Widths = CALIBRATED
    """What its plus-minuses are calibrated by."""
    tell: Callable[[str], None] = field(default=_to_nobody, compare=False, repr=False)
    """Hears each stage as it begins."""
    told: tuple[Finding, ...] = ()
    """What was found of the setup alone."""


@dataclass(frozen=True, slots=True)
class RunInLogs:
    """One run, as the logs hold it."""

    window: RunWindow
    """When it was, on the ECU log's clock."""
    traces: Traces
    """All channels on that clock."""
    clocks: tuple[ClockMatch, ...] = ()
    """How the further logs' clocks lie."""
    findings: tuple[Finding, ...] = ()
    """What reading and clocks found."""


@dataclass(frozen=True, slots=True)
class FullReview(Review):
    """A review, and what it was made of: what JSON does not hold."""

    setup: Setup
    """What it was made with."""
    traces: Traces
    """All channels, ET."""
    motion: Motion | None
    """The car's motion, ET; None where nothing shows it."""
    kept: KeptRun | None = field(default=None, kw_only=True)
    """What its bounds were held against; None where they were held against nothing."""
    seen: Seen | None = field(default=None, kw_only=True)
    """What its plus-minuses are calibrated by; None where nothing shows the car's motion."""


def review(
    logs: Sequence[Log | Sequence[Log]],
    car: Car,
    slips: Sequence[Slip] = (),
    air: Air | None = None,
    *,
    finish_ft: int = 1320,
    facts: RunFacts | None = None,
    widths: Widths = CALIBRATED,
    tell: Callable[[str], None] = _to_nobody,
) -> list[FullReview]:
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
    widths : Widths
        What plus-minuses are calibrated by.
    tell : callable
        Hears each of `STAGES` as it begins; may raise to end the review.

    Returns
    -------
    list of FullReview
        In order of time; never empty.

    Raises
    ------
    NoRunInLog
        If no log holds an engine speed, the logs are not of one run, or nothing in them is a run.
    ValueError
        If no log is given, or no finish line stands there.
    """
    keep_freed_memory()
    files = [(log,) if isinstance(log, Log) else tuple(log) for log in logs]
    if not files or not any(files):
        raise ValueError("review needs at least one log, got none")
    if finish_ft not in FINISHES:
        raise ValueError(f"finish_ft must be one of {', '.join(map(str, FINISHES))}, got {finish_ft}")
    files = without_settled_questions(_engine_log_first(files))
    names = tuple(dict.fromkeys(name for recordings in files for name in recordings[0].files))
    files = recordings_of_one_logger(whole_logs(files), car)
    facts_of_logs = replace(facts or NO_FACTS, log_names=names)
    taken = ratios_in_order(car)
    told = (*tell_ratios_out_of_order(car, taken), *tell_facts_unlike_each_other(taken))
    setup = Setup(taken, air, finish_ft, facts_of_logs, widths, tell, told)
    reviews: list[FullReview] = []
    refusals: list[NoRunInLog] = []
    for recording in files[0]:
        try:
            reviews += _review_recording(recording, files[1:], setup, slips[len(reviews) :])
        except NoRunInLog as refusal:
            refusals.append(refusal)
    if not reviews:
        raise refusals[0]
    doubts = tuple(doubt for recordings in files for doubt in doubts_of(recordings))
    layouts = tuple(dict.fromkeys(log.layout for recordings in files for log in recordings if log.layout))
    reviews = [replace(one, doubts=doubts, layouts=layouts) for one in reviews]
    last, left_over = reviews[-1], tuple(tell_slips_left_over(slips, len(reviews)))
    findings = tuple(by_weight([*last.findings, *left_over]))
    kept = replace(last.kept, after=left_over) if last.kept is not None else None
    return [*reviews[:-1], replace(last, findings=findings, kept=kept)]


def _engine_log_first(files: list[tuple[Log, ...]]) -> list[tuple[Log, ...]]:
    """The log that holds engine speed leads; of several, the one given first."""
    for place, recordings in enumerate(files):
        if any(log.get("engine_speed") is not None for log in recordings):
            return [recordings, *files[:place], *files[place + 1 :]]
    could_be = [
        one.text for recordings in files for one in recordings[0].findings if one.code == "engine-speed-unclear"
    ]
    headers = ", ".join(channel.header for channel in files[0][0].channels[:12])
    raise NoRunInLog(
        f"No engine speed was found in {', '.join(recordings[0].name for recordings in files)}: looked for a channel "
        f"called engine speed, RPM or the like, found {headers or 'no channel'}. "
        + (could_be[0] if could_be else "Tell which channel it is, or add the ECU's log."),
        columns=may_be_engine_speed(files),
    )


def _review_recording(ecu: Log, others: list[tuple[Log, ...]], setup: Setup, slips: Sequence[Slip]) -> list[FullReview]:
    """One recording of the ECU's with what belongs to it of the other logs."""
    setup.tell("clocks")
    gathered = gather_logs(ecu, others, setup.car)
    logs = check_between_channels([gathered.ecu, *gathered.others], setup.car)
    findings = [*setup.told, *gathered.findings, *(finding for log in logs for finding in log.findings)]
    setup.tell("window")
    found = find_runs(on_one_clock(logs, gathered.matches), setup.car)
    findings += found.findings
    reviews = []
    for place, window in enumerate(found.windows):
        kept = logs_of_run(logs[1:], gathered.matches, launch_s=window.launch_s, stop_s=window.stop_s)
        matches = [gathered.matches[at] for at in kept.places]
        traces = on_one_clock([logs[0], *(logs[1 + at] for at in kept.places)], matches)
        slip = slips[place] if place < len(slips) else None
        setup.tell("speed")
        run = RunInLogs(window, traces, tuple(matches), (*findings, *kept.findings))
        reviews.append(review_run(run, setup, slip))
    runs = [
        one for one in reviews if isinstance(one.window.distance_m, Unknown) or one.window.distance_m >= LEAST_RUN_M
    ]
    if not runs:
        raise NoRunInLog(_no_run(ecu), findings=tuple(findings))
    return runs


def _no_run(ecu: Log) -> str:
    engine = ecu.get("engine_speed")
    if engine is None or not engine.known.values.size:
        return f"{ecu.name} holds no usable engine speed, so no run can be found in it."
    long_s = ecu.time.last_s - ecu.time.first_s
    return (
        f"No run was found in {ecu.name}: looked for a launch followed by a pull through the gears, found "
        f"{long_s:.{0 if long_s >= 10 else 1}f} s of log with engine speed from {engine.known.values.min():.0f} to "
        f"{engine.known.values.max():.0f} rpm. Check that it is the log of a run."
    )


def review_run(found: RunInLogs, setup: Setup, slip: Slip | None) -> FullReview:
    """Read one run from launch to finish and return everything found in it.

    Parameters
    ----------
    found : RunInLogs
        The run.
    setup : Setup
        Car, air, finish line.
    slip : Slip or None
        The run's timing slip.

    Returns
    -------
    FullReview
        A part that could not be made out is Unknown, with its reason.
    """
    car, window, findings = setup.car, found.window, _Findings()
    ground = fuse_ground_speed(found.traces, car, window)
    if isinstance(ground, Unknown):
        findings.add(ground.beside)
        by_slip = read_slip_alone(slip, rollout_m=car.rollout, finish_ft=setup.finish_ft)
        findings.add(tell_unused_slip(slip, end_s=None) if by_slip is None else [distance_by_slip_alone()])
        return _without_motion(found, setup, findings, why=ground, by_slip=by_slip)
    on_clock = lay_on_clock(findings.by(ground), found.traces, found.clocks)
    ground = on_clock.ground
    timed = findings.by(_timed(ground, window, setup, slip))
    findings.add(tell_unused_slip(slip, end_s=float(timed.motion.time_s[-1])))
    start, end_s = timed.clock_start_s.value, timed.end_s
    when = window_of_run(window, timed, on_clock.open_s, finish_ft=setup.finish_ft)
    run, times = found.traces.shifted(-start), RunTimes.of(window, start_s=start, end_s=end_s)
    findings.add(tell_log_end(run, when.outcome, end_s=end_s))
    findings.add(tell_early_lift(window, timed))
    findings.add(tell_repeats(run, timed.motion, ground.sensors))
    car = _car_as_logged(car, run, ground, timed.motion, findings)
    air = findings.by(measure_air(setup.air, run))
    trace = find_boost(run, air)
    findings.by(trace if isinstance(trace, Unknown) else None)
    record_end_s = timed.motion.time_s[-1]
    evidence = prepare_evidence(
        run, car, launch_s=times.launch_s, end_s=end_s, record_end_s=record_end_s, boost=trace,
        launch_plus_minus_s=window.launch_plus_minus_s,
    )  # fmt: skip
    setup.tell("gears")
    motion = with_wheelspin(timed.motion, evidence, gears=None)
    evidence = findings.by(with_transmission(evidence, motion)).evidence
    driveline = read_driveline(motion, evidence)
    gears = findings.by(label_gears(driveline, motion, evidence))
    changes = findings.by(find_shifts(driveline, motion, evidence, gears))
    shifts = changes.shifts
    gears = gears_between_shifts(gears, shifts, evidence)
    launch = findings.by(measure_launch(driveline, motion, evidence, gears))
    findings.add(tell_shake(evidence, shifts, changes.limited, locked_s=known(launch.clutch_locked_s), motion=motion))
    motion = with_wheelspin(motion, evidence, gears=gears, follow_s=tires_follow_from(launch))
    findings.add(tell_wheelspin(motion, evidence))
    findings.add(tell_converter(motion, evidence, driveline, gears))
    findings.add(tell_drive_lost(motion, evidence))
    setup.tell("power")
    # A final drive found from the tires' own speed says nothing of their slip: power gets the car as it was given.
    as_given = setup.car.model_copy(update={"transmission": evidence.car.transmission})
    power = findings.by(measure_power(Driven(motion, gears, shifts, timed.last_trap), evidence, as_given, air))
    gears = findings.settled(gears, power.findings)
    curves = () if isinstance(power, Unknown) else power.curves
    kept = KeptRun(
        traces=run, times=times, until_s=evidence.until_s, way=motion, boost=trace,
        engine=engine_in_first(driveline, motion, evidence, gears), kinds=changes.kinds,
        before=found.findings, between=findings.all,
    )  # fmt: skip
    held = hold_to_bounds(kept, car, Found(gears, shifts, motion.wheelspin, curves))
    full = FullReview(
        run=setup.facts, window=when, clocks=found.clocks,
        distance=replace(timed.distance, wheelspin=motion.wheelspin), gears=gears, launch=launch, shifts=shifts,
        boost=held.boost, power=power, band=held.band, limits=held.limits, air=air, findings=held.findings,
        version=VERSION, car=CarFacts(setup.car.name), setup=setup, traces=run, motion=motion, kept=kept,
    )  # fmt: skip
    seen = seen_in_run(full, motion, evidence)
    return with_widths(replace(full, seen=seen), setup.widths, seen)


class _Findings:
    """What the stages say of a run, gathered in the order of the run."""

    def __init__(self) -> None:
        self._findings: list[Finding] = []

    def by(self, part: P) -> P:
        """What a stage made; it owns its findings."""
        self._findings += part.findings if part is not None else ()
        return part

    def add(self, findings: Iterable[Finding]) -> None:
        """Findings of no part."""
        self._findings += findings

    def settled(self, gears: Gears, by_power: Sequence[Finding]) -> Gears:
        """The gears, theirs and all findings weighed anew by what power found of the tires."""
        self._findings = [*settled_by_slip(self._findings, by_power)]
        return replace(gears, findings=settled_by_slip(gears.findings, by_power))

    @property
    def all(self) -> tuple[Finding, ...]:
        """In the order of the run."""
        return tuple(self._findings)


def _car_as_logged(car: Car, run: Traces, ground: GroundSpeed, motion: Motion, findings: _Findings) -> Car:
    """The car with what its own speeds show of its axle or final drive."""
    if motion.basis is SpeedBasis.DRIVEN_WHEEL:
        return driven_as_logged(car, run)
    if ground.through_driveline:
        return car
    return findings.by(with_final_drive(car, run, time_s=motion.time_s, speed_mps=motion.speed_mps)).car


def _timed(ground: GroundSpeed, window: RunWindow, setup: Setup, slip: Slip | None) -> Timed:
    timed = time_the_run(
        ground,
        rollout_m=setup.car.rollout,
        slip=slip,
        finish_ft=setup.finish_ft,
        end_log_s=window.stop_s,
        lift_log_s=window.lift_s,
    )
    return settle_slip(timed, ground, slip, finish_ft=setup.finish_ft, lift_log_s=window.lift_s)


def _beyond_the_slip() -> Unknown:
    """Why a slip alone, which knows of splits and mean power, says nothing of what the engine and the gearbox did."""
    text = (
        "No wheel, shaft or GPS speed covers the run: launch, gears and shifts are not known, splits and mean "
        "power to the ground are the slip's. Log a wheel speed, a driveshaft or GPS speed."
    )
    return Unknown(Finding("distance-by-slip-alone", "caution", text))


def _band_beyond_the_slip() -> Unknown:
    """Why a slip alone gives no time in the band, though engine speed is logged."""
    text = (
        "No wheel, shaft or GPS speed covers the run: when its clock started is told by engine speed and throttle to "
        "some tenths of a second, and nothing tells the gear: time in the band is left out. Log a wheel speed, a "
        "driveshaft or GPS speed."
    )
    return Unknown(Finding("distance-by-slip-alone", "caution", text))


def _without_motion(
    found: RunInLogs, setup: Setup, findings: _Findings, *, why: Unknown, by_slip: SlipRun | None
) -> FullReview:
    """A run whose ground speed nothing shows: when it was, its limits against time, what its slip says by itself."""
    unseen = window_of_unseen_run(found.window, why, by_slip, finish_ft=setup.finish_ft)
    start, end = unseen.window.log_clock_start_s, unseen.end_s
    run = found.traces.shifted(-start)
    findings.by(why if by_slip is None else None)
    air = findings.by(measure_air(setup.air, run))
    power = why if by_slip is None else findings.by(power_by_slip(by_slip, setup.car, air))
    trace = find_boost(run, air)
    findings.by(trace if isinstance(trace, Unknown) else None)
    times = RunTimes.of(found.window, start_s=start, end_s=end)
    not_seen, no_band = (why, why) if by_slip is None else (_beyond_the_slip(), _band_beyond_the_slip())
    kept = KeptRun(run, times, end, Unknown(no_band.reason), trace, before=found.findings, between=findings.all)
    held = hold_to_bounds(kept, setup.car, Found(None))
    return FullReview(
        run=setup.facts, window=unseen.window, clocks=found.clocks,
        distance=why if by_slip is None else by_slip.distance, gears=not_seen, launch=not_seen, shifts=(),
        boost=held.boost, power=power, band=held.band, limits=held.limits, air=air, findings=held.findings,
        version=VERSION, car=CarFacts(setup.car.name), setup=setup, traces=run, motion=None, kept=kept,
    )  # fmt: skip
