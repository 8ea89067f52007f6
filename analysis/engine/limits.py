"""The user's limits: worst value, margin, when, where, how long; no data is a verdict of its own."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LimitVerdict:
    """How one run stands to one limit."""

    name: str
    """The limit's name."""
    channel: str
    """The channel that was worst, with its number (``exhaust_temperature_3``)."""
    verdict: str
    """``inside``, ``outside``, ``no data``."""
    worst: float | None
    """The value nearest to or furthest past the limit, in `unit`."""
    unit: str
    """Unit of worst, limit and margin: the channel's."""
    limit: float | None
    """The bound at the worst moment (a curve has a different one at each), in `unit`."""
    side: str
    """``at_least`` or ``at_most``."""
    margin: float | None
    """Positive inside, in `unit`."""
    margin_share: float | None
    """margin / abs(limit). [-]"""
    at_s: float | None
    """[s, ET]"""
    at_distance_m: float | None
    """[m]"""
    gear: int | None
    """Gear at that moment."""
    time_outside_s: float | None
    """Total time outside. [s]"""
    times_outside: int | None
    """How often."""
    note: str
    """Why there is no data, or what to know of the figure; else empty."""
