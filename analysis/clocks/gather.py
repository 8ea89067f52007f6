"""The further logs of a run gathered onto the ECU log's clock, and told from those that hold nothing of it.

Public: `Gathered`, `LogsOfRun`, `recordings_of_one_logger`, `gather_logs`, `logs_of_run`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from passband.analysis.channels.log import Log
from passband.analysis.clocks.clock_step import steps_taken_out, without_a_step_seen
from passband.analysis.clocks.engine_scale import CountedByGears, agree_on_engine_scale, mend_by_gears
from passband.analysis.clocks.match import ClocksDoNotMatch, match_clocks
from passband.analysis.given.car import Car
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown

EARLY_S = 0.2
"""A log that ends so shortly after the launch holds nothing of the run either. [s]"""


@dataclass(frozen=True, slots=True)
class Gathered:
    """Logs of one run and how their clocks lie."""

    ecu: Log
    """The ECU's, its engine speed mended where another log shows its scale to be wrong."""
    others: tuple[Log, ...]
    """Those that could be laid on its clock, mended likewise."""
    matches: tuple[ClockMatch, ...]
    """One for each of `others`."""
    findings: tuple[Finding, ...]
    """What was chosen, mended or left out."""


@dataclass(frozen=True, slots=True)
class LogsOfRun:
    """Those of the further logs that hold anything of one run."""

    places: tuple[int, ...]
    """Where they stand among the further logs, rising."""
    findings: tuple[Finding, ...]
    """One for each log that holds nothing of it."""


def recordings_of_one_logger(files: Sequence[tuple[Log, ...]], car: Car) -> list[tuple[Log, ...]]:
    """Files with those of the ECU's own logger taken for further recordings of it, where they are of another time.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file, the ECU's first.
    car : Car
        As for `gather_logs`.

    Returns
    -------
    list of tuples of Log
        As many or fewer, in order. A file of the same columns whose engine goes as the ECU's log has it is another
        device's and stays.
    """
    ecu, others = files[0], files[1:]
    kept: list[tuple[Log, ...]] = []
    for recordings in others:
        if not ecu[0].layout or any(log.layout != ecu[0].layout for log in recordings):
            kept.append(recordings)
        elif any(_is_of_one_time(log, other, car) for log in ecu for other in recordings):
            kept.append(recordings)
        else:
            ecu = (*ecu, *(_told_apart(log, ecu[0]) for log in recordings))
    return [ecu, *kept]


def _is_of_one_time(ecu: Log, other: Log, car: Car) -> bool:
    try:
        return not isinstance(match_clocks(ecu, other, car=car), Unknown)
    except ClocksDoNotMatch:
        return False


def _told_apart(log: Log, first: Log) -> Log:
    text = (
        f"{log.name} has the columns of {first.name} and is of another time: it is read as a further recording of the "
        "same logger. If it goes on from there with a clock that begins anew, put both into one file."
    )
    of_logger = min((channel.log for channel in first.channels), default=0)
    channels = (replace(channel, log=of_logger) for channel in log.channels)
    return log.with_channels(channels, Finding("further-recording", "caution", text, log.name))


def gather_logs(ecu: Log, files: Sequence[Sequence[Log]], car: Car) -> Gathered:
    """Of each further file the recording that is of the same run, and how its clock lies.

    Parameters
    ----------
    ecu : Log
        The ECU's recording.
    files : sequence of the recordings of one file each
        Further loggers'.
    car : Car
        Gearing serves where the logs share no engine speed, or do not agree about it.

    Returns
    -------
    Gathered
        What was laid on the ECU's clock, and what must be said.

    Raises
    ------
    ClocksDoNotMatch
        If none of a file's recordings is of the same run.
    """
    agreed = agree_on_engine_scale([ecu, *(recording for recordings in files for recording in recordings)])
    ecu, rest = agreed.logs[0], iter(agreed.logs[1:])
    of_scale = list(agreed.findings)
    others: list[Log] = []
    matches: list[ClockMatch] = []
    for recordings in files:
        refusals: list[ClocksDoNotMatch] = []
        for recording in [next(rest) for _ in recordings]:
            try:
                laid = _laid(ecu, recording, car)
            except ClocksDoNotMatch as refusal:
                refusals.append(refusal)
                continue
            of_scale += laid.match.findings
            if not isinstance(laid.match, Unknown):
                others.append(laid.log)
                matches.append(laid.match)
        if refusals and len(refusals) == len(recordings):
            raise refusals[0]
    counted = mend_by_gears(ecu, others, matches, car)
    of_scale = [*_still_true(of_scale, counted), *counted.findings]
    matches = [replace(match, findings=_still_true(match.findings, counted)) for match in matches]
    return Gathered(counted.ecu, tuple(others), tuple(matches), tuple(of_scale))


@dataclass(frozen=True, slots=True)
class _Laid:
    """A recording as it could be laid on the ECU's clock."""

    log: Log
    match: ClockMatch | Unknown


def _laid(ecu: Log, recording: Log, car: Car) -> _Laid:
    """As it is, or else without a step of its clock; it raises `ClocksDoNotMatch` where it lies on it in no way."""
    recording = without_a_step_seen(ecu, recording)
    try:
        return _Laid(recording, match_clocks(ecu, recording, car=car))
    except ClocksDoNotMatch:
        for without in steps_taken_out(recording):
            try:
                return _Laid(without, match_clocks(ecu, without, car=car))
            except ClocksDoNotMatch:
                continue
        raise


def _still_true(findings: Sequence[Finding], counted: CountedByGears) -> tuple[Finding, ...]:
    """What was said of the clocks, without what the gears have settled since."""
    return tuple(one for one in findings if one is not counted.settled)


def logs_of_run(logs: Sequence[Log], matches: Sequence[ClockMatch], *, launch_s: float, stop_s: float) -> LogsOfRun:
    """Which further logs hold anything of a run, once it is known when it was.

    Parameters
    ----------
    logs : sequence of Log
        The further logs, each on its own clock.
    matches : sequence of ClockMatch
        One for each.
    launch_s, stop_s : float
        The run, on the ECU log's clock. [s]

    Returns
    -------
    LogsOfRun
        Places of those that do, and what must be said of the rest.
    """
    kept: list[int] = []
    findings: list[Finding] = []
    for place, (log, match) in enumerate(zip(logs, matches, strict=True)):
        first, last = (_on_ecu_clock(match, at_s) for at_s in _span(log))
        if last < launch_s + EARLY_S:
            findings.append(_without_run(log, f"ends {max(launch_s - last, 0.0):.1f} s before the launch"))
        elif first > stop_s:
            findings.append(_without_run(log, f"begins {first - stop_s:.1f} s after the run was over"))
        else:
            kept.append(place)
    return LogsOfRun(tuple(kept), tuple(findings))


def _span(log: Log) -> tuple[float, float]:
    times = [channel.time_s for channel in log.channels if channel.time_s.size]
    return min((float(time[0]) for time in times), default=0.0), max((float(time[-1]) for time in times), default=0.0)


def _on_ecu_clock(match: ClockMatch, time_s: float) -> float:
    return match.offset_s.value + time_s * (1 + match.rate_ppm.value * 1e-6)


def _without_run(log: Log, where: str) -> Finding:
    text = (
        f"{log.name} {where}: it holds nothing of the run and was left out of it. "
        "Let the logger run from staging until after the finish, or give the log of this run."
    )
    return Finding("log-misses-the-run", "caution", text, log.name)
