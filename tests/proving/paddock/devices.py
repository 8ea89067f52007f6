"""The devices that owners fit, and how they set them.

Public: `Wheel`, `Receiver`, `Form`, `Ecu`, `Dash`, `Devices`.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Wheel:
    """A toothed wheel and what counts it."""

    teeth: int
    """Of one turn."""
    whole_turn: bool = False
    """Timed over a whole turn; else from each edge to the next, with the wheel's own unevenness."""
    forgets_s: float = 0.4
    """Without an edge for so long it reads zero."""


@dataclass(frozen=True, slots=True)
class Receiver:
    """A satellite receiver's speed."""

    hz: float
    """How often it is renewed."""
    lag_s: float
    """Of its smoothing, two equal filters."""
    late_s: float | None = None
    """Besides; None: drawn, 0.02 to 0.08 s."""
    holds_s: float = 0.0
    """It stands still once for so long."""


@dataclass(frozen=True, slots=True)
class Form:
    """How a log is written."""

    separator: str = ","
    decimal: str = "."
    units: str = "brackets"
    """``brackets``, ``parens``, or a ``row`` of their own."""
    true_stamps: bool = False
    """Rows are stamped when they are taken; else evenly."""
    jitter: float = 0.0
    """Rows are taken late by up to this share of a step."""


@dataclass(frozen=True, slots=True)
class Ecu:
    """The engine's logger. `None`: not fitted."""

    hz: float = 100.0
    """Rows a second."""
    inner_hz: float = 200.0
    """Engine speed is renewed so often."""
    degrees: float = 180.0
    """Of crank that engine speed is a mean over."""
    step_rpm: float = 1.0
    """Last digit of engine speed."""
    gauges: bool = True
    """Throttle, manifold pressure, oil, coolant."""
    driven: Wheel | None = None
    """At a driven wheel."""
    shaft: Wheel | None = None
    """At the driveshaft."""
    gear_late_s: float | None = None
    """Its gear channel is so late."""
    flag_late_s: float | None = None
    """Its flag of the shift cut is so late."""
    form: Form = field(default_factory=Form)
    """Of its log."""


@dataclass(frozen=True, slots=True)
class Dash:
    """A dash of another make, with a clock of its own. `None`: not fitted."""

    hz: float = 50.0
    """Rows a second."""
    receiver: Receiver | None = None
    """Satellites."""
    free: Wheel | None = None
    """At the undriven wheels."""
    felt_s: float | None = None
    """Time constant of the filter before its accelerometer."""
    copy_late_s: float | None = None
    """It shows the ECU's engine speed, so late."""
    copy_hz: float = 25.0
    """So often."""
    ppm: float = 60.0
    """Standard deviation of its clock's rate."""
    form: Form = field(default_factory=Form)
    """Of its log."""


@dataclass(frozen=True, slots=True)
class Devices:
    """All of one car's."""

    ecu: Ecu = field(default_factory=Ecu)
    """Always there."""
    dash: Dash | None = None
    """None: the ECU's log is all there is."""
    speeds_in: str = "km/h"
    """``km/h`` or ``mph``."""
