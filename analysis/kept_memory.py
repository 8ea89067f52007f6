"""Memory that a review frees stays with the process: it is asked for again at once, thousands of times.

Public: `keep_freed_memory`.
"""

from __future__ import annotations

from functools import cache

import numpy as np

KEPT_BYTES = 16 * 2**20
"""The array once taken and given back. [bytes] A usual pair takes and frees no more than this at a time."""


@cache
def keep_freed_memory() -> None:
    """Have the allocator keep up to twice `KEPT_BYTES` of what is freed, once in a process.

    Notes
    -----
    glibc hands freed memory back to the system beyond a threshold that follows the greatest block ever freed, at first
    128 KiB; the system then clears every page anew as it is touched again. A review of a usual pair so takes 5,000 to
    17,000 pages, a twentieth to a seventh of its processor time; after one block of 16 MiB, given back untouched, 300.
    Other allocators do not mind.

    Examples
    --------
    >>> keep_freed_memory()
    """
    np.empty(KEPT_BYTES, dtype=np.uint8)
