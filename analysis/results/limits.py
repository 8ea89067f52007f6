"""How a run stands to its limits.

Public: `Verdict`, `Side`, `LimitVerdict`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

Side = Literal["at_least", "at_most"]
"""Which way a bound goes, as the car's description writes it."""


class Verdict(StrEnum):
    """How a run stands to one limit."""

    OUTSIDE = "outside"
    """It was broken."""
    NO_DATA = "no data"
    """Nobody could look: it was not kept either."""
    INSIDE = "inside"
    """It was kept."""


@dataclass(frozen=True, slots=True)
class LimitVerdict:
    """How one run stands to one limit."""

    name: str
    """The limit's name."""
    channel: str
    """The channel that was worst, with its number (``exhaust_temperature_3``)."""
    verdict: Verdict
    """How it stands."""
    worst: float | None
    """The value nearest to or furthest past the limit, in `unit`."""
    unit: str
    """Unit of worst, limit and margin: the channel's; ``delta_K`` for a spread, whose kelvin have no offset."""
    limit: float | None
    """The bound at the worst moment (a curve has a different one at each), in `unit`."""
    side: Side
    """Which way the bound goes."""
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
    outside: tuple[tuple[float, float], ...] = ()
    """Start and end of each stretch outside that counts. [s, ET]"""
    margins: tuple[tuple[float, float], ...] = ()
    """How the margin went along the run, for drawing: time [s, ET] and least margin about it, in `unit`."""
