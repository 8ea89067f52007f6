"""Which Passband this is.

Public: `version`.
"""

from importlib import metadata


def version() -> str:
    """The installed version, e.g. ``0.1.0``."""
    return metadata.version("passband")
