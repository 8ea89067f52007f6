"""A clock that was set on amid a recording: time that its stamps skip though no row is missing.

Where the recording's own values cannot tell such a step from rows lost (`analysis.reading.time.clock_jumps`), the ECU's
log can: laid on it, the two parts lie a step apart, and no single place fits both.

Public: `steps_taken_out`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding

LEAST_STEP_S, LEAST_STEPS = 0.15, 10.0
"""A gap is asked about from so long on, and so many of the log's own steps. [s], [-] A shorter one leaves engine speeds
alike."""
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
    engine = log.get("engine_speed")
    if engine is None or engine.time_s.size < LEAST_STEPS:
        return
    took_s = np.diff(engine.time_s)
    step_s = float(np.median(took_s))
    gaps = np.flatnonzero(took_s > max(LEAST_STEP_S, LEAST_STEPS * step_s))
    if gaps.size > MOST_GAPS:
        return
    for gap in gaps.tolist():
        skips_s = float(took_s[gap]) - step_s
        after_s = float(engine.time_s[gap + 1])
        text = (
            f"{log.name} jumps ahead by {skips_s:.3g} s, {after_s:.1f} s into the log; only without the jump do both "
            "its parts lie on the ECU's engine speed, so it is taken for its clock set on, not for missing rows. "
            "What follows was moved back, to a row's time: times across the jump are less sure."
        )
        finding = Finding("clock-jumped-ahead", "caution", text, log.name)
        yield log.with_channels((_moved_back(one, after_s, skips_s) for one in log.channels), finding)


def _moved_back(channel: Channel, from_s: float, by_s: float) -> Channel:
    time: FloatArray = np.where(channel.time_s < from_s, channel.time_s, channel.time_s - by_s)
    return replace(channel, time_s=np.maximum.accumulate(time))
