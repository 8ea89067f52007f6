"""How near a figure must come, by what the case's sensors can show.

Public: `Means`, `means_of`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

UNDRIVEN, GPS, DRIVEN, ENGINE = "undriven wheels", "GPS", "driven wheel", "engine alone"
CLOCK_START_S = {"slip": 0.025, UNDRIVEN: 0.025, GPS: 0.04, DRIVEN: 0.08, ENGINE: 0.15}
"""A wheel that stands still reads nothing below a walking pace; GPS shows the first foot late and coarse; an engine
shows nothing of the car until its clutch has locked."""
SPLIT_S = {"slip": 0.003, UNDRIVEN: 0.008, GPS: 0.010, DRIVEN: 0.06, ENGINE: 0.15}
"""A slip prints milliseconds; 8 ms is half a metre at a finish of 60 m/s."""
TRAP_MPS = {"slip": 0.06, UNDRIVEN: 0.06, GPS: 0.08, DRIVEN: 0.5, ENGINE: 1.0}
"""One part in a thousand at a finish of 60 m/s; of a driven wheel its tire's growth is not known to better than 1 %."""
GROUND_POWER = {UNDRIVEN: 0.010, GPS: 0.015, DRIVEN: 0.05, ENGINE: 0.08}
FLYWHEEL_POWER = {UNDRIVEN: 0.025, GPS: 0.035, DRIVEN: 0.08, ENGINE: 0.10}
"""Shares of the power to the ground; at the flywheel the tire's slip and the driveline come in."""
CONVERTER_POWER = 0.02
"""More where a converter's slip must be told apart."""
PEAK_POWER = {UNDRIVEN: 0.06, GPS: 0.06, DRIVEN: 0.10, ENGINE: 0.12}
"""A peak is 50 ms of a run, and no mean smooths it."""
QUICK_S = 0.12
"""A torque cut shorter than this rings the driveline for 5 to 10 ms after it."""
NO_FACTS = {"cda_m2", "driveline_efficiency", "engine_inertia_kgm2", "wheels_driveline_inertia_kgm2"}
"""Without one of these a power may be withheld."""


@dataclass(frozen=True, slots=True)
class Means:
    """What a case gives to work with."""

    ground: str
    """Best sensor of ground speed."""
    timed: str
    """That, or ``slip``."""
    ecu_hz: float
    """Rate of the ECU's fastest channel. [Hz]"""
    rpm_lag_s: float
    """Time constant of its engine speed. [s]"""
    ratios_given: bool
    """Whether the car's gears are."""
    facts_given: bool
    """Whether all that power needs is."""
    converter: bool
    """An automatic."""

    @property
    def sample_s(self) -> float:
        """No moment is known better than one sample, nor than 10 ms."""
        return max(0.010, 1.0 / self.ecu_hz)

    def rpm_after(self, shift: dict[str, Any], *, quick: bool) -> float:
        """How near the lowest engine speed of a shift: of a rattling one only as near as rate and filter show."""
        if not quick:
            return float(0.008 * shift["rpm_after"] + 20.0)
        if self.ecu_hz > 100.0:
            blur = 0.015 + 1.5 * max(0.0, self.rpm_lag_s - 0.006)
        else:
            blur = 0.05 if self.ecu_hz < 50.0 else 0.025
        return float(blur * shift["rpm_after"] + 30.0)

    def expected_rpm(self, shift: dict[str, Any]) -> float:
        """How near the engine speed that the step asks for; found ratios leave more room."""
        return float((0.01 if self.ratios_given else 0.03) * shift["rpm_before"])


def means_of(truth: dict[str, Any], *, with_slip: bool) -> Means:
    """What a case gives, told by its truth."""
    dash = {sensor["quantity"] for sensor in truth["sensors"].get("dash", [])}
    ecu = truth["sensors"]["ecu"]
    turning = {sensor["quantity"] for sensor in ecu} & {"dws", "dsh"}
    ground = UNDRIVEN if dash & {"uws_l", "uws_r"} else GPS if dash else DRIVEN if turning else ENGINE
    return Means(
        ground=ground,
        timed="slip" if with_slip else ground,
        ecu_hz=max(sensor["rate_hz"] for sensor in ecu),
        rpm_lag_s=next((sensor["lag_s"] for sensor in ecu if sensor["quantity"] == "rpm"), 0.0),
        ratios_given="gear_ratios" not in truth["not_given"],
        facts_given=not NO_FACTS & set(truth["not_given"]),
        converter=truth["car_true"]["auto"],
    )
