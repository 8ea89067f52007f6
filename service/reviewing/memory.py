"""How much memory this process may take, held by the operating system.

Public: `can_limit_memory`, `limit_memory`.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

MAPPED = Path("/proc/self/statm")
"""Where Linux says how many pages a process has mapped."""


def can_limit_memory() -> bool:
    """Whether this system can hold a process to a limit of memory: Linux can, Windows and macOS cannot."""
    return importlib.util.find_spec("resource") is not None and MAPPED.exists()


def limit_memory(more_bytes: int) -> bool:
    """Hold this process to what it has mapped already and so much more.

    Parameters
    ----------
    more_bytes : int
        Address space, which is what an array asks for.

    Returns
    -------
    bool
        False where the system cannot; nothing is changed then.
    """
    if not can_limit_memory():
        return False
    import resource

    mapped = int(MAPPED.read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    soft = mapped + more_bytes if hard == resource.RLIM_INFINITY else min(mapped + more_bytes, hard)
    resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
    return True
