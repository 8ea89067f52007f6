"""From what ranges the simulator's sensors are drawn: how late, how filtered, how noisy, how many teeth, how often.

Two sets. `USUAL` is a trailer of good, well-chosen sensors; every mark of the proving ground is held on it. `WIDE` is
what may come through the gate, and asks nothing of what the analysis assumes: it was written down from how such
sensors work, not from the analysis' own priors, and is wider than they are. Where no source is named there is none.

Public: `SensorRange`, `USUAL`, `WIDE`, `SETS`, `range_of`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

PRACTICE = "common practice, no source"
WHEEL_TURN_M, SHAFT_TURN = 1.95, 60.0
"""What the signal adds up to in one turn: a wheel's metres (about), a shaft's rev/min times seconds."""
WHEEL_TEETH = (4, 5, 6, 8, 10, 12, 16, 20, 24, 30, 36, 40, 44, 48, 52, 60)
"""Bolts and wheel studs 4 to 6, added wheels 8 to 36, a road car's anti-lock ring 40 to 60: common practice, no
source."""
SHAFT_TEETH = (1, 2, 3, 4, 6, 8, 12)
"""One magnet on a collar to a toothed ring: common practice, no source."""


@dataclass(frozen=True, slots=True)
class SensorRange:
    """Where a kind of sensor may lie; each sensor is drawn evenly from it."""

    latency_s: tuple[float, float]
    """Pure delay. [s]"""
    lag_s: tuple[float, float]
    """Time constant of its filter. [s]"""
    noise: float
    """Standard deviation. [SI]"""
    source: str = PRACTICE
    """What the range rests on."""
    rate_hz: tuple[float, ...] = ()
    """Rates it comes in; none: its device's, or what the plan says. [Hz]"""
    teeth: tuple[int, ...] = ()
    """Teeth a turn it may count; none: its delay is a time, as if teeth were many."""
    turn: float = 0.0
    """What the signal adds up to over one turn, where teeth are counted. [m, or rev/min times s]"""


def _of(
    latency_s: tuple[float, float], lag_s: tuple[float, float], noise: float, source: str = PRACTICE
) -> SensorRange:
    return SensorRange(latency_s, lag_s, noise, source)


USUAL: Mapping[str, SensorRange] = {
    "rpm": _of((0.004, 0.009), (0.004, 0.010), 6.0, "a firing interval at 5,000 to 10,000 rpm; filter: " + PRACTICE),
    "tps": _of((0.001, 0.004), (0.002, 0.007), 0.0013),
    "map": _of((0.001, 0.004), (0.004, 0.009), 600.0),
    "boost": _of((0.001, 0.004), (0.004, 0.009), 600.0),
    "lam": _of((0.02, 0.08), (0.02, 0.08), 0.005),
    "fuelp": _of((0.004, 0.007), (0.010, 0.022), 2500.0),
    "oilp": _of((0.002, 0.008), (0.012, 0.032), 3000.0),
    "oilt": _of((0.0, 0.0), (1.0, 3.0), 0.2),
    "clt": _of((0.0, 0.0), (0.8, 2.4), 0.2),
    "iat": _of((0.0, 0.0), (0.4, 0.9), 0.15),
    "egt": _of((0.005, 0.04), (0.6, 1.4), 1.5),
    "ign": _of((0.0, 0.0), (0.002, 0.006), 0.1),
    "duty": _of((0.0, 0.0), (0.004, 0.008), 0.003),
    "batt": _of((0.0, 0.0), (0.004, 0.01), 0.03),
    "cut": _of((0.001, 0.004), (0.0, 0.0), 0.0),
    "strain": _of((0.001, 0.003), (0.002, 0.004), 0.012),
    "gear": _of((0.02, 0.06), (0.0, 0.0), 0.0),
    "dws": _of((0.004, 0.02), (0.006, 0.016), 0.05),
    "dsh": _of((0.002, 0.006), (0.004, 0.008), 4.0),
    "gps": _of((0.08, 0.22), (0.015, 0.04), 0.022),
    "rpm2": _of((0.025, 0.05), (0.010, 0.018), 3.0),
    "accx": _of((0.004, 0.012), (0.006, 0.020), 0.06),
    "accy": _of((0.004, 0.012), (0.006, 0.022), 0.03),
    "accz": _of((0.004, 0.012), (0.006, 0.020), 0.12),
    "crank": _of((0.004, 0.008), (0.01, 0.02), 250.0),
    "backp": _of((0.004, 0.008), (0.01, 0.02), 1500.0),
    "clp": _of((0.004, 0.008), (0.01, 0.02), 800.0),
    "turbo": _of((0.002, 0.004), (0.01, 0.02), 120.0),
    "fuelf": _of((0.002, 0.004), (0.02, 0.04), 0.0003),
    "baro": _of((0.0, 0.0), (0.05, 0.1), 20.0),
    "knock": _of((0.002, 0.004), (0.01, 0.02), 0.03),
    "uws": _of((0.007, 0.02), (0.006, 0.018), 0.03),
}
"""Good sensors, by quantity."""

WIDE: Mapping[str, SensorRange] = {
    **USUAL,
    # A tooth a turn to a tooth an ignition: 1 to 12 ms at 5,000 to 10,000 rpm; averaged over none to three turns.
    "rpm": _of(
        (0.001, 0.012), (0.001, 0.025), 8.0, "a firing interval to a turn at 5,000 to 10,000 rpm, by arithmetic"
    ),
    "rpm2": SensorRange((0.0, 0.10), (0.003, 0.030), 3.0, rate_hz=(10.0, 20.0, 25.0, 50.0)),
    "tps": _of((0.0, 0.010), (0.001, 0.020), 0.002),
    "map": _of((0.0, 0.010), (0.002, 0.030), 900.0),
    "boost": _of((0.0, 0.010), (0.002, 0.030), 900.0),
    "cut": _of((0.0, 0.015), (0.0, 0.0), 0.0),
    "strain": _of((0.0, 0.010), (0.001, 0.012), 0.02),
    "gear": _of((0.0, 0.20), (0.0, 0.0), 0.0),
    # Lateness in all 0.05 to 0.4 s.
    "gps": SensorRange((0.04, 0.34), (0.01, 0.06), 0.04, rate_hz=(1.0, 2.0, 5.0, 10.0, 20.0, 25.0)),
    # A low-pass of 3 to 80 Hz: one over 2 pi f.
    "accx": _of((0.001, 0.020), (0.002, 0.053), 0.12, "a filter of 3 to 80 Hz, by arithmetic; the band: " + PRACTICE),
    "accy": _of((0.001, 0.020), (0.002, 0.053), 0.06, "as the forward axis"),
    "accz": _of((0.001, 0.020), (0.002, 0.053), 0.20, "as the forward axis"),
    # Late by teeth, a way and not a time; what electronics add is little.
    "uws": SensorRange((0.001, 0.010), (0.001, 0.012), 0.01, teeth=WHEEL_TEETH, turn=WHEEL_TURN_M),
    "dws": SensorRange((0.001, 0.010), (0.001, 0.012), 0.01, teeth=WHEEL_TEETH, turn=WHEEL_TURN_M),
    "dsh": SensorRange((0.001, 0.010), (0.001, 0.012), 1.0, teeth=SHAFT_TEETH, turn=SHAFT_TURN),
}
"""What comes through the gate, by quantity; the slow channels stay as they are."""

SETS: Mapping[str, Mapping[str, SensorRange]] = {"usual": USUAL, "wide": WIDE}
"""Both, by name."""


def range_of(quantity: str, ranges: Mapping[str, SensorRange]) -> SensorRange:
    """The range of a quantity; a numbered probe or a wheel's side goes by its kind."""
    kind = next((kind for kind in ("uws", "egt") if quantity.startswith(kind)), quantity)
    return ranges[kind]
