"""Samples that nobody measured: drawn straight between two that were, so that slow channels share quick rows.

A box that asks its sensors in turn, or a program that lays channels of several rates side by side, fills the rows
between two samples with a straight line. Such a signal bends at its own samples only, and these lie a whole number of
rows apart.

Public: `keep_measured`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Log
from passband.analysis.quantities import BoolArray, FloatArray, IntArray
from passband.analysis.reading.health.updates import update_rate_hz
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import middle

MOST_ROWS = 25
"""Samples further apart are not looked for: 1 Hz on rows of 25 Hz. [rows]"""
FEWEST_BENDS = 24
"""So many all fall on one row in two by chance once in sixteen million logs. [-]"""
ON_SAMPLES = 0.98
"""Share of bends that lie on the signal's own samples: a lost row moves one or two. [-]"""
ROUNDED_STEPS = 1.01
"""A row drawn between two is rounded to the printed step, and so are they: it lies off their middle by no more. [-]"""
BENDS_STEPS = 3.0
"""A clear bend is off by more than so many. [-]"""
LOOKED_AT = 4000
"""Rows about the middle of a log that show a signal to be measured in each of them as well as all do. [rows]"""


@dataclass(frozen=True, slots=True)
class _Samples:
    """Which rows hold a sample."""

    every: int
    """One in so many rows."""
    measured: BoolArray
    """Shape (n,)."""


def keep_measured(log: Log) -> Log:
    """Keep of each channel the samples that were measured, where the rest were drawn between them.

    Parameters
    ----------
    log : Log
        As read.

    Returns
    -------
    Log
        Such channels with their own samples alone, at their own rate, and a finding for each.

    Notes
    -----
    A row is bent where it lies off the middle of the two beside it by more than rounding leaves. It does not see lines
    drawn on rows that are no whole number of times quicker, nor curves drawn in place of lines.
    """
    rows = _Rows()
    for channel in log.channels:
        kind = kind_of(channel.name)
        found = _find_samples(channel, rows) if kind is not None and channel.resolution > 0 else None
        if kind is None or found is None:
            continue
        kept_s, values = channel.time_s[found.measured], channel.values[found.measured]
        rate_hz = update_rate_hz(kept_s, values, step=channel.resolution)
        text = (
            f"{kind.title} ({channel.header}) was measured on one row in {found.every} only, {rate_hz:.3g} "
            "times a second: each row between lies on the straight line from one sample to the next. These rows are "
            "left out, as they hide how quickly it changed."
        )
        finding = Finding("drawn-between-samples", "note", text, f"{log.name}, {channel.header}")
        log = log.with_channel(channel, replace(channel, time_s=kept_s, values=values, rate_hz=rate_hz), finding)
    return log


class _Rows:
    """Row numbers of a time array, or of its middle, worked out once for all channels that share it."""

    def __init__(self) -> None:
        self._known: dict[tuple[int, bool], tuple[FloatArray, IntArray]] = {}

    def of(self, time_s: FloatArray) -> IntArray:
        return self._held(time_s, part=slice(None), whole=True)

    def about_the_middle(self, time_s: FloatArray) -> IntArray:
        return self._held(time_s, part=_middle(time_s.size), whole=False)

    def _held(self, time_s: FloatArray, *, part: slice, whole: bool) -> IntArray:
        key = id(time_s), whole
        if key not in self._known:  # the array is kept, so that no other takes its place
            self._known[key] = time_s, _row_numbers(time_s[part])
        return self._known[key][1]


def _middle(size: int) -> slice:
    return slice((size - LOOKED_AT) // 2, (size + LOOKED_AT) // 2)


def _find_samples(channel: Channel, rows_of: _Rows) -> _Samples | None:
    """Which rows were measured; None where all were, or it cannot be told."""
    time_s, values = channel.time_s, channel.values
    if values.size > LOOKED_AT:
        if _one_in(rows_of.about_the_middle(time_s), values[_middle(values.size)], channel.resolution) is None:
            return None
    rows = rows_of.of(time_s)
    found = _one_in(rows, values, channel.resolution)
    return None if found is None else _Samples(found.every, rows % found.every == found.first)


@dataclass(frozen=True, slots=True)
class _Lattice:
    """Where the bends lie."""

    every: int
    """[rows]"""
    first: int
    """Row number of the first."""


def _row_numbers(time_s: FloatArray) -> IntArray:
    """Numbers of the rows, those counted that a gap left out."""
    step_s = np.diff(time_s)
    usual_s = middle(step_s) if step_s.size else 0.0
    if not usual_s > 0:
        return np.arange(time_s.size)
    return np.concatenate(([0], np.cumsum(np.maximum(np.rint(step_s / usual_s), 1.0)))).astype(np.int64)


def _one_in(rows: IntArray, values: FloatArray, step: float) -> _Lattice | None:
    """The widest lattice on which the bends lie; None where they lie on none."""
    if values.size < 3:
        return None
    off = np.abs(values[1:-1] - 0.5 * (values[:-2] + values[2:]))
    off[(rows[2:] - rows[:-2]) != 2] = 0.0
    if np.count_nonzero(off > BENDS_STEPS * step) < FEWEST_BENDS:
        return None
    bent = rows[1:-1][off > ROUNDED_STEPS * step]
    beside = int(np.count_nonzero(bent[1:] - bent[:-1] == 1))
    if beside > 2.0 * (bent.size - ON_SAMPLES * bent.size):
        return None  # of two bent rows beside each other one lies on no sample, whatever the lattice
    for every in range(MOST_ROWS, 1, -1):
        counts = np.bincount(bent % every, minlength=every)
        if counts.max() >= ON_SAMPLES * bent.size:
            return _Lattice(every, int(counts.argmax()))
    return None
