"""Work on one piece or column after another, as many at once as tables are read with.

numpy lets go of the interpreter while it works on an array, so threads share out work on long ones; on short ones
they would wait for each other. Who asks works too, on whatever is left: on a busy machine another thread may come late.

Public: `each_at_once`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import polars as pl

Item = TypeVar("Item")
Found = TypeVar("Found")

WORTH_IT = 1 << 22
"""Bytes of all items together below which they are worked on one after another. Logs of 20 known channels: of 6,000 and
15,000 rows (1 and 2 MB of values) 3 ms of processor time more at once, and no less by the clock; of 60,000 rows (9 MB)
20 ms of work for the thread that reads where it was 29, for 3 ms of processor time more in all."""


def each_at_once(work: Callable[[Item], Found], items: Sequence[Item], *, total_bytes: int) -> Iterator[Found]:
    """What some work finds in each item, in their order.

    Parameters
    ----------
    work : callable
        Must not write to what it shares.
    items : sequence
        What is worked on.
    total_bytes : int
        How much all of them hold. [bytes]

    Examples
    --------
    >>> list(each_at_once(abs, [-1, 2, -3], total_bytes=0))
    [1, 2, 3]
    """
    threads = min(pl.thread_pool_size(), len(items)) if total_bytes >= WORTH_IT else 1
    if threads < 2:
        yield from map(work, items)
        return
    found: dict[int, Found] = {}
    left = iter(range(len(items)))

    def work_off(wanted: int) -> None:
        while wanted not in found and (at := next(left, None)) is not None:
            found[at] = work(items[at])

    with ThreadPoolExecutor(threads - 1) as beside:
        others = [beside.submit(work_off, -1) for _ in range(threads - 1)]  # they want all that is left
        try:
            for at in range(len(items)):
                work_off(at)
                if at not in found:  # another thread is at it, or has failed
                    for other in others:
                        other.result()
                yield found.pop(at)  # what is taken is kept no longer
        finally:
            deque(left, maxlen=0)  # nothing is begun that nobody takes
