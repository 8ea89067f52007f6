"""A clock that was set on amid a recording: time that its stamps skip though no row is missing.

Where the recording's own values cannot tell such a step from rows lost (`analysis.reading.time.clock_jumps`), the ECU's
log can: laid on it, the two parts lie a step apart, and no single place fits both. A step of some hundredths of a
second leaves engine speeds alike, and its log would be laid in between: there each part is laid by itself.

Public: `steps_taken_out`, `without_a_step_seen`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.clocks.engine_copy import CopyFit, fit_engine_copy
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding

LEAST_STEP_S, LEAST_STEPS = 0.15, 10.0
"""A gap is asked about from so long on, and so many of the log's own steps, where the log cannot be laid as it is. [s],
[-] A shorter one leaves engine speeds alike."""
LEAST_SEEN_S, LEAST_SEEN_STEPS = 0.03, 2.5
"""The same where each part is laid by itself. [s], [-]"""
NEAR_S, CLEAR_SIGMAS, PART_SIGMA_S = 0.03, 5.0, 0.003
"""Parts lie a step apart, or none, where they do to this; a step so many deviations long is told from none; and what a
part's place errs by beside what its fit leaves open. [s], [-], [s]"""
MOST_UNLIKE = 0.03
"""A part that disagrees with the ECU's for more of the time than this is laid wrong. [-]"""
MOST_GAPS = 3
"""A log with more gaps than this loses rows. [-]"""


def steps_taken_out(log: Log) -> Iterator[Log]:
    """The recording as it would be if its clock had been set on at one of its gaps.

    Parameters
    ----------
    log : Log
        One that cannot be laid on the ECU's as it is.

    Yields
    ------
    Log
        For each gap in its engine speed, with the finding that is true if it can be laid now; nothing where it has
        no gap, or many.
    """
    for gap in _gaps(log, LEAST_STEP_S, LEAST_STEPS):
        yield _without(log, gap)


def without_a_step_seen(ecu: Log, log: Log) -> Log:
    """The recording without the step of its clock that its parts show, each laid on the ECU's engine speed by itself.

    Parameters
    ----------
    ecu : Log
        The ECU's.
    log : Log
        Of the same run.

    Returns
    -------
    Log
        With the finding that says so; as it is where it has no gap, or many, where a gap's parts lie as if rows were
        missing, or where a part holds too little of the engine at work to be laid.
    """
    own, copy = ecu.get("engine_speed"), log.get("engine_speed")
    if own is None or copy is None:
        return log
    for gap in _gaps(log, LEAST_SEEN_S, LEAST_SEEN_STEPS):
        parts = (copy.within(-np.inf, gap.before_s), copy.within(gap.after_s, np.inf))
        first, second = (fit_engine_copy(own, part, part_of=copy) for part in parts)
        if first is None or second is None or max(first.unlike_share, second.unlike_share) > MOST_UNLIKE:
            continue
        apart_s = _place(second, gap.after_s) - _place(first, gap.after_s)
        sigma_s = float(np.linalg.norm([PART_SIGMA_S, first.offset_sigma_s, second.offset_sigma_s]))
        if abs(apart_s + gap.skips_s) < min(NEAR_S, 0.5 * gap.skips_s) and gap.skips_s > CLEAR_SIGMAS * sigma_s:
            return _without(log, gap)
    return log


def _place(fit: CopyFit, at_s: float) -> float:
    """Where a part's clock lies at a moment of it, s."""
    return fit.offset_s + (at_s - fit.pivot_s) * fit.rate_ppm * 1e-6


@dataclass(frozen=True, slots=True)
class _Gap:
    """Stamps between which a clock may have been set on."""

    before_s: float
    after_s: float
    skips_s: float


def _gaps(log: Log, least_s: float, least_steps: float) -> list[_Gap]:
    engine = log.get("engine_speed")
    if engine is None or engine.time_s.size < LEAST_STEPS:
        return []
    took_s = np.diff(engine.time_s)
    step_s = float(np.median(took_s))
    gaps = np.flatnonzero(took_s > max(least_s, least_steps * step_s))
    if gaps.size > MOST_GAPS:
        return []
    return [
        _Gap(float(engine.time_s[gap]), float(engine.time_s[gap + 1]), float(took_s[gap]) - step_s)
        for gap in gaps.tolist()
    ]


def _without(log: Log, gap: _Gap) -> Log:
    text = (
        f"{log.name} jumps ahead by {gap.skips_s:.3g} s, {gap.after_s:.1f} s into the log; only without the jump do "
        "both its parts lie on the ECU's engine speed, so it is taken for its clock set on, not for missing rows. "
        "What follows was moved back, to a row's time: times across the jump are less sure."
    )
    finding = Finding("clock-jumped-ahead", "caution", text, log.name)
    return log.with_channels((_moved_back(one, gap.after_s, gap.skips_s) for one in log.channels), finding)


def _moved_back(channel: Channel, from_s: float, by_s: float) -> Channel:
    time: FloatArray = np.where(channel.time_s < from_s, channel.time_s, channel.time_s - by_s)
    return replace(channel, time_s=np.maximum.accumulate(time))
