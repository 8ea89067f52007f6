"""How many threads the libraries under numpy and polars start: said in the environment before either is imported.

A review's matrices are small: several threads for one of them only wait for each other, up to ten times as long on busy
cores. Who knows better sets the variable before the start; it is then left as it is.

Public: `one_algebra_thread`, `one_thread_each`.
"""

from __future__ import annotations

import os

ALGEBRA = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""What the linear algebra under numpy and scipy looks at when it is loaded."""
TABLES = ("POLARS_MAX_THREADS", "RAYON_NUM_THREADS")
"""What polars looks at: reading one large file gains by threads, one of several workers does not."""


def one_algebra_thread() -> None:
    """One thread for linear algebra, unless the environment says otherwise; call it before numpy is imported."""
    for name in ALGEBRA:
        os.environ.setdefault(name, "1")


def one_thread_each() -> None:
    """One thread for everything, as a process that is one worker of several needs."""
    os.environ.update(dict.fromkeys((*ALGEBRA, *TABLES), "1"))
