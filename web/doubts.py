"""Which findings of a reading are questions: what the logs leave open and the person who made them knows.

Public: `READ_WITH_DOUBT`, `channel_title`.
"""

from __future__ import annotations

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.results.doubt import AS_LOGGED

READ_WITH_DOUBT = (
    "time-column-assumed", "time-unit-assumed", "speed-of-which-wheel", "unit-assumed", "speed-unit-assumed",
    "flow-unit-assumed", "pressure-unit-assumed", "unit-doubted", "unit-against-mapping", "gauge-or-absolute",
    "manifold-pressure-unit", "afr-taken-as-lambda", "engine-speed-assumed", "engine-speed-unclear", "throttle-unclear",
    "manifold-pressure-unclear", "scale-unclear", "unit-unusual", "unit-refuted", "unit-not-known", "name-unclear",
    "engine-speed-scale",
)  # fmt: skip
"""Codes, where they come as cautions; a note says what is as good as sure."""


def channel_title(channel: str) -> str:
    """What a reader is shown for a channel's name.

    Parameters
    ----------
    channel : str
        A catalogue name, ``as logged``, or a user's own name.

    Examples
    --------
    >>> channel_title("boost"), channel_title("lambda_2"), channel_title("as logged")
    ('Boost (gauge)', 'Lambda 2', 'No channel, under its own name')
    """
    kind = kind_of(channel)
    if channel == AS_LOGGED:
        return "No channel, under its own name"
    return channel if kind is None else f"{kind.title} {channel[len(family_of(channel)) + 1 :]}".strip()
