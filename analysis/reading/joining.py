"""Recordings of one file that are one: blocks of unlike columns whose time goes on, or that cover the same time.

Public: `join_blocks`, `tell_headers`, `goes_on`, `without_copies`, `one_after_the_other`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.reading.rows.headers_within import PAGE_GAP_ROWS
from passband.analysis.results.findings import Finding

FEWEST_COPIES, SAME_STAMP = 3, 0.5
"""Samples of each channel that two exports must share to be seen to overlap, and how far apart in rows the same stamp
may be read. [-], [-]"""
LAST_DIGIT = 1.01
"""Two exports of one sample, in other digits, are no more of the coarser's steps apart. [-] By arithmetic one."""
SHARE_SHARED = 0.5
"""Share of the shorter block's time that both must cover to be one recording's."""


def join_blocks(logs: list[Log]) -> list[Log]:
    """Put recordings together whose time goes on, or that hold other channels of the same time.

    Parameters
    ----------
    logs : list of Log
        Recordings of one file, in order.

    Returns
    -------
    list of Log
        Fewer where a header stands again or another follows in one recording; the same where a logger was restarted.
    """
    joined: list[Log] = []
    for log in logs:
        before = joined[-1] if joined else None
        if before is None or _has_same_header_line(before, log):
            joined.append(log)
        elif goes_on(before, log):
            joined[-1] = one_after_the_other(before, log)
        elif (rest := without_copies(before, log)) is not None:
            joined[-1] = one_after_the_other(before, rest)
        elif _beside(before, log):
            joined[-1] = _one_beside_the_other(before, log)
        else:
            joined.append(log)
    return joined


def _has_same_header_line(before: Log, after: Log) -> bool:
    """Whether both are of one block, which was parted at its clock."""
    return before.text.header_line == after.text.header_line


def goes_on(before: Log, after: Log) -> bool:
    """Whether the written time of a later block goes on within a few rows of where the earlier ends.

    Parameters
    ----------
    before, after : Log
        In order.
    """
    wait = after.time.first_s - before.time.last_s
    rate_hz = min(before.time.rate_hz, after.time.rate_hz)
    return rate_hz > 0 and 0 < wait <= PAGE_GAP_ROWS / rate_hz and before.time.written and after.time.written


def without_copies(before: Log, after: Log, *, printed_alike: bool = True) -> Log | None:
    """What a later block holds beyond the rows above its header that it repeats; None where it repeats none.

    Two exports of one recording that overlap: the rows of the time that both cover are alike in all channels.

    Parameters
    ----------
    before, after : Log
        In order.
    printed_alike : bool
        Whether to the digit; else to the last digit that either prints.
    """
    shift = after.time.first_s - before.time.first_s
    end = before.time.last_s - before.time.first_s
    names = [[_key(channel) for channel in log.channels] for log in (before, after)]
    rate_hz = before.time.rate_hz
    if names[0] != names[1] or not (before.time.written and after.time.written) or rate_hz <= 0:
        return None
    if not 0 < shift <= end < after.time.last_s - before.time.first_s:
        return None
    slack = SAME_STAMP / rate_hz
    kept: list[Channel] = []
    for one, other in zip(before.channels, after.channels, strict=True):
        again, new = one.time_s >= shift - slack, other.time_s > end - shift + slack
        shared, held = one.values[again], other.values[~new]
        within = 0.0 if printed_alike else LAST_DIGIT * max(one.resolution, other.resolution)
        if held.size < FEWEST_COPIES or held.size != shared.size:
            return None
        if not np.allclose(shared, held, rtol=0.0, atol=within, equal_nan=True):
            return None
        kept.append(replace(other, time_s=other.time_s[new], values=other.values[new]))
    rows = round((end - shift) * rate_hz) + 1
    text = (
        f"The last {rows} rows above the header in line {after.text.header_line} stand below it again, as where two "
        "exports of one recording were put together; they were left out once."
    )
    told = Finding("repeated-time-stamps", "caution", text, f"line {after.text.header_line}")
    return replace(after, channels=tuple(kept), findings=(*after.findings, told))


def _beside(before: Log, after: Log) -> bool:
    names = [{_key(channel) for channel in log.channels} for log in (before, after)]
    if names[0] & names[1] or not (before.time.written and after.time.written):
        return False
    first, last = max(before.time.first_s, after.time.first_s), min(before.time.last_s, after.time.last_s)
    shorter = min(log.time.last_s - log.time.first_s for log in (before, after))
    return shorter > 0 and last - first >= SHARE_SHARED * shorter


def _key(channel: Channel) -> str:
    return channel.name


def one_after_the_other(before: Log, after: Log) -> Log:
    """One recording of both: a channel that only one of them holds has no samples in the other's time.

    Parameters
    ----------
    before, after : Log
        In order, their times as written on one clock.
    """
    shift = after.time.first_s - before.time.first_s
    later = {(_key(channel), channel.unit): channel for channel in after.channels}
    channels = [_continued(one, later.pop((_key(one), one.unit), None), shift) for one in before.channels]
    channels += [_moved(channel, shift) for channel in later.values()]
    headers = [[channel.header for channel in log.channels] for log in (before, after)]
    return replace(
        before,
        channels=tuple(channels),
        text=replace(before.text, rows=before.text.rows + after.text.rows),
        time=replace(before.time, last_s=after.time.last_s),
        findings=_tell(before, after, alike=headers[0] == headers[1], how="the time goes on"),
    )


def _continued(before: Channel, after: Channel | None, shift: float) -> Channel:
    if after is None:
        return before
    return replace(
        before,
        time_s=np.concatenate((before.time_s, after.time_s + shift)),
        values=np.concatenate((before.values, after.values)),
        confidence=max(before.confidence, after.confidence),
    )


def _moved(channel: Channel, shift: float) -> Channel:
    return replace(channel, time_s=channel.time_s + shift) if shift else channel


def _one_beside_the_other(before: Log, after: Log) -> Log:
    """One recording of two blocks of other channels, from the earlier one's first row."""
    early, late = sorted((before, after), key=lambda log: log.time.first_s)
    shift = late.time.first_s - early.time.first_s
    shifts = {id(early): 0.0, id(late): shift}
    channels = [_moved(channel, shifts[id(log)]) for log in (before, after) for channel in log.channels]
    rate_hz = max(before.time.rate_hz, after.time.rate_hz)
    last_s = max(before.time.last_s, after.time.last_s)
    return replace(
        before,
        channels=tuple(channels),
        text=replace(before.text, rows=max(before.text.rows, after.text.rows)),
        time=replace(early.time, last_s=last_s, rate_hz=rate_hz),
        findings=_tell(before, after, alike=False, how="it covers the same time"),
    )


def _tell(before: Log, after: Log, *, alike: bool, how: str) -> tuple[Finding, ...]:
    """The findings of both, and one for the header between them."""
    known = {(finding.code, finding.text) for finding in before.findings}
    findings = [*before.findings]
    findings += [finding for finding in after.findings if (finding.code, finding.text) not in known]
    line = after.text.header_line
    if alike:
        if "header-repeats" not in {finding.code for finding in before.findings}:
            text = "The header is printed again in the middle of the rows and the time goes on: read as one recording."
            findings.append(Finding("header-repeats", "note", text, f"line {line}"))
        return tuple(findings)
    text = (
        f"Another header stands in line {line}: the rows below it are read under its names and, since {how}, joined "
        "by their time to those above."
    )
    return (*findings, Finding("header-changes", "note", text, f"line {line}"))


def tell_headers(logs: list[Log]) -> list[Log]:
    """Tell every recording of a file where a header begins another: the logger was restarted, or logs other channels.

    Parameters
    ----------
    logs : list of Log
        Recordings of one file, in order.
    """
    findings: list[Finding] = []
    for at, log in enumerate(logs):
        line = log.text.header_line
        if not at or line is None or line == logs[at - 1].text.header_line:
            continue
        headers = [[channel.header for channel in one.channels] for one in (logs[at - 1], log)]
        if headers[0] == headers[1]:
            text = (
                f"The header stands again in line {line}: the logger was restarted, and what follows is read as "
                f"recording {at + 1} with its own time."
            )
            findings.append(Finding("logger-restarted", "caution", text, f"line {line}"))
        else:
            text = (
                f"Another header stands in line {line}: what follows is read under its names as recording {at + 1} "
                "with its own time."
            )
            findings.append(Finding("header-changes", "caution", text, f"line {line}"))
    return [replace(log, findings=(*findings, *log.findings)) for log in logs] if findings else logs
