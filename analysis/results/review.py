"""Everything found in one run.

Public: `RunFacts`, `CarFacts`, `Review`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from passband.analysis.results.air import AirState
from passband.analysis.results.band import Band
from passband.analysis.results.boost import Boost
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.distance import Distance
from passband.analysis.results.doubt import Doubt
from passband.analysis.results.estimate import LEFT_OUT_UNLESS_SAID
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import Gears
from passband.analysis.results.launch import Launch
from passband.analysis.results.limits import LimitVerdict
from passband.analysis.results.power import Power
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown
from passband.analysis.results.window import Window


@dataclass(frozen=True, slots=True)
class RunFacts:
    """Which run it is."""

    log_names: tuple[str, ...]
    """Files, the ECU's first."""
    label: str
    """The user's name for it; may be empty."""
    event: str
    """The meeting; may be empty."""
    round: str
    """Which run of it; may be empty."""


@dataclass(frozen=True, slots=True)
class CarFacts:
    """Which car it was."""

    name: str
    """The user's name for it."""


@dataclass(frozen=True, slots=True)
class Review:
    """Everything found in one run."""

    run: RunFacts
    """Which run."""
    window: Window
    """When."""
    clocks: tuple[ClockMatch, ...]
    """One for each further log."""
    distance: Distance | Unknown
    """Splits, traps, wheelspin."""
    gears: Gears | Unknown
    """Gear intervals."""
    launch: Launch | Unknown
    """The launch."""
    shifts: tuple[Shift, ...]
    """In order."""
    boost: Boost | Unknown
    """Its threshold is None where the car names none."""
    power: Power | Unknown
    """Unknown where the mass is."""
    band: Band | Unknown
    """Unknown where no band is given."""
    limits: tuple[LimitVerdict, ...]
    """As the car lists them."""
    air: AirState | None
    """The air used; None where a stored review does not tell it."""
    findings: tuple[Finding, ...]
    """Weightiest first."""
    version: str
    """Version of the analysis."""
    car: CarFacts
    """The car it was made with."""
    doubts: tuple[Doubt, ...] = field(default=(), kw_only=True, metadata=LEFT_OUT_UNLESS_SAID)
    """Columns of the logs that are to be asked about."""
    layouts: tuple[str, ...] = field(default=(), kw_only=True, metadata=LEFT_OUT_UNLESS_SAID)
    """Fingerprints of the logs' headers, by which answers about columns are kept."""
