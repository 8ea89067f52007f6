"""How many threads the libraries under numpy and polars start: said in the environment before either is imported.

A review's matrices are small: several threads for one of them only wait for each other, up to ten times as long on busy
cores. Who knows better sets the variable before the start; it is then left as it is.

Public: `one_algebra_thread`, `one_thread_each`, `started_for_reviews`, `TABLE_THREADS`.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

ALGEBRA = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""What the linear algebra under numpy and scipy looks at when it is loaded."""
TABLES = ("POLARS_MAX_THREADS", "RAYON_NUM_THREADS")
"""What polars looks at: reading one large file gains by threads; where all cores are busy they cost a few per cent."""
TABLE_THREADS = 4
"""Most threads with which a process that reviews reads tables: more were never measured."""


def one_algebra_thread() -> None:
    """One thread for linear algebra, unless the environment says otherwise; call it before numpy is imported."""
    for name in ALGEBRA:
        os.environ.setdefault(name, "1")


def one_thread_each() -> None:
    """One thread for everything, as a process that is one worker of several needs."""
    os.environ.update(dict.fromkeys((*ALGEBRA, *TABLES), "1"))


@contextmanager
def started_for_reviews() -> Iterator[None]:
    """While processes are started that review: one thread each, but to read a large table as many as there are cores.

    Who waits for an hour's log waits for its reading most of all. It is said before anything of theirs is loaded: a
    process started afresh loads its parent's main module before it is asked anything, and with it whatever that one
    imports, so that said by the process itself it would come too late.

    Examples
    --------
    >>> with started_for_reviews():
    ...     os.environ["OMP_NUM_THREADS"], 1 <= int(os.environ["POLARS_MAX_THREADS"]) <= TABLE_THREADS
    ('1', True)
    """
    names = (*ALGEBRA, *TABLES)
    were = {name: os.environ[name] for name in names if name in os.environ}
    one_thread_each()
    os.environ.update(dict.fromkeys(TABLES, str(min(TABLE_THREADS, _cores()))))
    try:
        yield
    finally:
        for name in names:
            del os.environ[name]
        os.environ.update(were)


def _cores() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
