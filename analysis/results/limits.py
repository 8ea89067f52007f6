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
    """The value nearest to or furthest past the limit, in `unit`; None where there is no data, as `note` says."""
    unit: str
    """Unit of worst, limit and margin: the channel's; ``delta_K`` for a spread, whose kelvin have no offset."""
    limit: float | None
    """The bound at the worst moment (a curve has a different one at each), in `unit`; None where
    there is no data."""
    side: Side
    """Which way the bound goes."""
    margin: float | None
    """Positive inside, in `unit`; None where there is no data."""
    margin_share: float | None
    """margin / abs(limit); None where there is no data or the limit is zero. [-]"""
    at_s: float | None
    """When it was worst; None where there is no data. [s, ET]"""
    at_distance_m: float | None
    """Where; None where there is no data or the car's motion is not known. [m]"""
    gear: int | None
    """Gear at that moment; None where there is no data or no gear is known there."""
    time_outside_s: float | None
    """Total time outside; None where there is no data. [s]"""
    times_outside: int | None
    """How often; None where there is no data."""
    note: str
    """Why there is no data, or what to know of the figure; else empty."""
    outside: tuple[tuple[float, float], ...] = ()
    """Start and end of each stretch outside that counts. [s, ET]"""
    margins: tuple[tuple[float, float], ...] = ()
    """How the margin went along the run, for drawing: time [s, ET] and least margin about it, in `unit`."""
