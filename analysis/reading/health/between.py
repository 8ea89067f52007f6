"""Plausibility between channels: what one channel says of another once the car is known.

Public: `check_between_channels`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.log import Channel, Log
from passband.analysis.channels.units import STOICHIOMETRIC_AFR
from passband.analysis.given.car import Car
from passband.analysis.reading.columns.pressure_reference import mend_pressure_reference
from passband.analysis.reading.health.accelerometer import mend_accelerometer
from passband.analysis.reading.health.dead_speeds import without_dead_speeds
from passband.analysis.reading.health.speed_scale import mend_engine_scale, mend_speed_scale, speeds_from_turning
from passband.analysis.results.findings import Finding

ALCOHOLS = {"methanol": 6.45, "ethanol": 9.0}
"""Stoichiometric air to fuel ratios by mass, rounded. Common practice."""
_AFR = frozenset({"afr", "a/f", "af"})
USUAL_LAMBDA = (0.65, 1.25)
"""Where lambda lies most of the time in a log of a run: idle near 1, full load at 0.75 to 0.9, alcohol down to 0.65."""

AT_LOAD = 0.85
"""Where most of a run's lambda lies, at full load: of two fuels that fit, the one nearer to it. Common practice. [-]"""


def check_between_channels(logs: Sequence[Log], car: Car) -> tuple[Log, ...]:
    """Hold channels against each other and against the car, and mend what they leave no doubt about.

    Parameters
    ----------
    logs : sequence of Log
        All logs of the run, as read.
    car : Car
        Gearing, tires, fuel: each used where it is given.

    Returns
    -------
    tuple of Log
        With the channels mended or renamed, and a finding for each. A channel that the user mapped himself
        (confidence 1) is told about but keeps its name.
    """
    each = [mend_pressure_reference(mend_engine_scale(log)) for log in logs]
    each = [_mend_mixture(speeds_from_turning(log, car), car) for log in each]
    return tuple(mend_accelerometer(log) for log in without_dead_speeds(mend_speed_scale(each, car)))


def _mend_mixture(log: Log, car: Car) -> Log:
    """Lambda from an air to fuel ratio by the fuel's own stoichiometric ratio, where petrol's cannot be."""
    channels: list[Channel] = []
    findings: list[Finding] = []
    for channel in log.channels:
        known = channel.known.values
        if family_of(channel.name) == "lambda" and channel.unit_written.casefold() in _AFR and known.size:
            ratio = float(np.median(known)) * STOICHIOMETRIC_AFR
            used = _stoichiometric_for(ratio, car.fuel_stoichiometric_afr, channel.header)
            findings += [replace(finding, where=f"{log.name}, {channel.header}") for finding in used.findings]
            factor = STOICHIOMETRIC_AFR / used.afr
            channel = replace(channel, values=channel.values * factor, resolution=channel.resolution * factor)
        channels.append(channel)
    return log.with_channels(channels, *findings) if findings else log


@dataclass(frozen=True, slots=True)
class _Stoichiometric:
    """The air to fuel ratio that a gauge prints where lambda is 1."""

    afr: float
    """By mass. [-]"""
    findings: tuple[Finding, ...] = ()
    """Where it is not petrol's, or might not be."""


def _stoichiometric_for(ratio: float, of_fuel: float | None, header: str) -> _Stoichiometric:
    """Which of them a gauge with this median ratio uses."""
    petrol = _is_usual(ratio / STOICHIOMETRIC_AFR)
    if of_fuel is not None and abs(of_fuel / STOICHIOMETRIC_AFR - 1.0) > 0.02 and _is_usual(ratio / of_fuel):
        if not petrol:
            text = f"{header} is an air to fuel ratio of the fuel itself; lambda was found with the car's {of_fuel:g}."
            return _Stoichiometric(of_fuel, (Finding("afr-taken-as-lambda", "note", text),))
        text = (
            f"{header} fits both a gauge that prints petrol's ratios ({STOICHIOMETRIC_AFR}) and one set to the fuel's "
            f"own {of_fuel:g}; petrol's was used. Log lambda itself to be sure."
        )
        return _Stoichiometric(STOICHIOMETRIC_AFR, (Finding("afr-taken-as-lambda", "caution", text),))
    if petrol:
        return _Stoichiometric(STOICHIOMETRIC_AFR)
    fitting = [fuel for fuel, own in ALCOHOLS.items() if _is_usual(ratio / own)]
    if not fitting:
        return _Stoichiometric(STOICHIOMETRIC_AFR)
    fuel = min(fitting, key=lambda one: abs(math.log(ratio / ALCOHOLS[one] / AT_LOAD)))
    others = "".join(f", though {one} ({ALCOHOLS[one]:g}) could be meant as well" for one in fitting if one != fuel)
    text = (
        f"{header} has ratios of {ratio:.1f}, too low for petrol; lambda was found with {ALCOHOLS[fuel]:g}, as for "
        f"{fuel}{others}. Give the fuel's stoichiometric ratio with the car."
    )
    return _Stoichiometric(ALCOHOLS[fuel], (Finding("afr-taken-as-lambda", "caution", text),))


def _is_usual(value: float) -> bool:
    return USUAL_LAMBDA[0] <= value <= USUAL_LAMBDA[1]
