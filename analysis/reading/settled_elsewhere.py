"""Questions that another log of the same run settles: a dash need not hold the throttle that the ECU logs.

Public: `without_settled_questions`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from passband.analysis.channels.log import Log
from passband.analysis.reading.columns.doubts import OFFERED_BY

Files = list[tuple[Log, ...]]


def without_settled_questions(files: Sequence[tuple[Log, ...]]) -> Files:
    """Logs that do not ask which column a channel is where another file has one of that name.

    Parameters
    ----------
    files : sequence of tuples of Log
        The recordings of each file.
    """
    held = [{channel.name for log in recordings for channel in log.channels} for recordings in files]
    elsewhere = [set().union(*held[:at], *held[at + 1 :]) for at in range(len(held))]
    return [
        tuple(_without(log, names) for log in recordings) for recordings, names in zip(files, elsewhere, strict=True)
    ]


def _without(log: Log, elsewhere: set[str]) -> Log:
    """A log without the questions about channels that other files have."""
    settled = {code for code, channels in OFFERED_BY.items() if elsewhere.intersection(channels)}
    if not any(finding.code in settled for finding in log.findings):
        return log
    doubts = (doubt.without(settled) for doubt in log.doubts)
    return replace(
        log,
        findings=tuple(finding for finding in log.findings if finding.code not in settled),
        doubts=tuple(doubt for doubt in doubts if doubt is not None),
    )
