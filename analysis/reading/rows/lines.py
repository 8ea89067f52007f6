"""The lines of some rows as places in their bytes, so that a file of a million rows is not cut into as many strings.

Public: `Lines`, `find_lines`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passband.analysis.quantities import BoolArray, IntArray

LINES_AT_ONCE = 4096
"""Lines counted at a time: enough that numpy's own cost does not show, few enough that memory does not."""
Bytes = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines with their ends left out; arrays have shape (n,)."""

    data: bytes
    """What they lie in."""
    starts: IntArray
    """Byte at which each starts."""
    stops: IntArray
    """Byte after its last."""

    @property
    def size(self) -> int:
        """How many."""
        return int(self.starts.size)

    @property
    def filled(self) -> BoolArray:
        """Which of them hold any byte."""
        return np.asarray(self.stops > self.starts)

    def bytes_at(self, at: int) -> bytes:
        """One of them."""
        return self.data[self.starts[at] : self.stops[at]]

    def count(self, of_kind: Callable[[Bytes], Bytes]) -> IntArray:
        """How many bytes of each line are of a kind: `of_kind` makes ones of those and zeros of the others."""
        raw = np.frombuffer(self.data, dtype=np.uint8)
        counts = np.zeros(self.size, dtype=np.int64)
        filled = self.filled
        for first in range(0, self.size, LINES_AT_ONCE):
            held = np.flatnonzero(filled[first : first + LINES_AT_ONCE]) + first
            if held.size:
                base = int(self.starts[held[0]])
                hits = of_kind(raw[base : int(self.stops[held[-1]])])
                counts[held] = np.add.reduceat(hits, self.starts[held] - base, dtype=np.int64)
        return counts

    def count_of(self, character: str) -> IntArray:
        """How many of one character each line holds."""
        return self.count(lambda part: (part == ord(character)).view(np.uint8))


def find_lines(data: bytes, *, line_end: str, skip: int = 0) -> Lines:
    r"""Start and stop byte of each line.

    Parameters
    ----------
    data : bytes
        Some rows.
    line_end : str
        ``\n``, before which a carriage return is left out too, or ``\r``.
    skip : int
        So many lines at the start are left out.

    Returns
    -------
    Lines
        The last one is empty where the data end with a line end.

    Examples
    --------
    >>> lines = find_lines(b"1,2\r\n3,4", line_end="\n")
    >>> [lines.bytes_at(at) for at in range(lines.size)], lines.count_of(",").tolist()
    ([b'1,2', b'3,4'], [1, 1])
    """
    raw = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(raw == ord(line_end))
    starts, stops = np.concatenate(([0], ends + 1))[skip:], np.concatenate((ends, [raw.size]))[skip:]
    if raw.size:
        stops = stops - ((stops > starts) & (raw[np.maximum(stops - 1, 0)] == 13))
    return Lines(data, starts, stops)
