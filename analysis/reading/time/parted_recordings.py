"""Where the time of a table parts one recording from the next, and which of them can be placed in time.

Public: `Parted`, `part_recordings`, `FEWEST_ROWS`, `LONGEST_RECORDING_S`.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray
from passband.analysis.reading.time.clock_jumps import long_gaps
from passband.analysis.reading.time.stamps import Stamps, count_of_rows
from passband.analysis.results.findings import Finding

FEWEST_ROWS = 3
"""Rows that a recording must have; fewer are set aside."""
MOST_RECORDINGS = 50
"""Recordings looked for in one file, the longest; a clock that starts again more often is none."""
STANDS_SHARE = 0.02
"""A recording that lasts less than this share of what its rows take at the usual interval is of a clock that stands."""
LONGEST_RECORDING_S = 86400.0
"""A recording that lasts longer has no time that can be believed: at ten rows a second it would be 100 MB. [s]"""

_Piece = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Parted:
    """The recordings that one column of time holds."""

    pieces: tuple[tuple[int, int], ...]
    """Rows ``[start, stop)`` of each."""
    findings: tuple[Finding, ...]
    """Where it was cut, and what was set aside."""


def part_recordings(stamps: Stamps) -> Parted:
    """Cut where the time falls back or leaves a gap that no run bridges.

    Parameters
    ----------
    stamps : Stamps
        Mended as far as they can be.

    Returns
    -------
    Parted
        No piece where the clock stands, or goes on for longer than any recording does.
    """
    time, rows = stamps.time_s, stamps.rows
    falls = np.flatnonzero(np.diff(time[rows]) < 0)
    gaps = long_gaps(time[rows], stamps.step_s)
    cuts = sorted({*falls.tolist(), *gaps.tolist()})
    edges = [0, *(int(rows[cut + 1]) for cut in cuts), time.size]
    parts = list(itertools.pairwise(edges))
    enough = [(a, b) for a, b in parts if np.isfinite(time[a:b]).sum() >= FEWEST_ROWS]
    too_long = [piece for piece in enough if _lasts_s(time, piece) > LONGEST_RECORDING_S]
    stands = [(a, b) for a, b in enough if _lasts_s(time, (a, b)) <= STANDS_SHARE * (b - a - 1) * stamps.step_s]
    longest = sorted(set(enough).difference(too_long, stands), key=lambda piece: piece[0] - piece[1])
    pieces = sorted(longest[:MOST_RECORDINGS])
    findings = [*(_too_long(time, piece) for piece in too_long), *(_clock_stands(piece) for piece in stands)]
    if len(pieces) > 1 or (gaps.size and pieces):
        findings += _cuts_given(time[rows], falls, gaps, pieces)
    kept = sum(b - a for a, b in [*pieces, *too_long, *stands])
    if kept < time.size and pieces:
        lost = count_of_rows(time.size - kept)
        text = f"{lost} stood between two steps of the time, too few to read, and were set aside."
        findings.append(Finding("rows-out-of-order", "caution", text, ""))
    return Parted(tuple(pieces), tuple(findings))


def _lasts_s(time: FloatArray, piece: _Piece) -> float:
    known = time[slice(*piece)]
    known = known[np.isfinite(known)]
    return float(known[-1] - known[0])


def _too_long(time: FloatArray, piece: _Piece) -> Finding:
    start, stop = piece
    text = (
        f"{count_of_rows(stop - start)} span {_lasts_s(time, piece):.3g} s, more than the "
        f"{LONGEST_RECORDING_S / 3600:.0f} h that a recording may last: their time cannot be believed and they "
        "were set aside."
    )
    return Finding("recording-too-long", "caution", text, f"row {start + 1}")


def _clock_stands(piece: _Piece) -> Finding:
    start, stop = piece
    text = f"The time stands still over {count_of_rows(stop - start)}: they cannot be placed and were set aside."
    return Finding("clock-stands-still", "caution", text, f"row {start + 1}")


def _cuts_given(known: FloatArray, falls: IntArray, gaps: IntArray, pieces: list[_Piece]) -> list[Finding]:
    as_many = f"the log is read as {len(pieces)} recordings, each with its own time."
    findings = []
    if falls.size and len(pieces) > 1:
        number = falls.size if gaps.size else len(pieces) - 1
        text = (
            f"The time steps backward and starts again {number} time{'s' if number > 1 else ''}, as when a logger is "
            f"restarted: {as_many}"
        )
        findings.append(Finding("clock-restarted", "caution", text, f"row {pieces[1][0] + 1}"))
    if gaps.size:
        longest = float(np.diff(known)[gaps].max())
        often = f"{gaps.size} times, by {longest:.3g} s at most" if gaps.size > 1 else f"by {longest:.3g} s"
        text = (
            f"The time jumps ahead {often}, as when a logger sleeps or its clock is set: "
            f"{as_many if len(pieces) > 1 else 'what lies beyond is too little to read.'}"
        )
        where = f"row {pieces[min(1, len(pieces) - 1)][0] + 1}"
        findings.append(Finding("clock-jumped", "caution", text, where))
    return findings
