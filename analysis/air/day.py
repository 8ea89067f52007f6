"""The day's air: what was given and measured becomes density, density altitude and wind.

Public: `measure_air`, `other_air`, `logged_barometer`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.air.atmosphere import (
    STANDARD_PRESSURE_PA,
    density_altitude,
    moist_air_density,
    standard_atmosphere,
    station_pressure,
    vapour_pressure,
    vapour_pressure_from_dew_point,
)
from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Air
from passband.analysis.results.air import AirState, PressureBasis
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding

TEMPERATURE_HALF_WIDTH_K = 1.0
"""95 % of a thermometer read at the strip, in the shade. Chosen: 0.35 % in density."""
PRESSURE_HALF_WIDTH_PA = 150.0
"""95 % of a station pressure read at the strip, 0.15 % in density. Chosen: half an hour's drift, a phone's sensor."""
HUMIDITY_HALF_WIDTH = 0.10
"""95 % of a relative humidity read at the strip. Chosen: common hygrometers; 0.1 % in density at 25 degC."""

NOT_GIVEN_TEMPERATURE_K, NOT_GIVEN_TEMPERATURE_HALF_WIDTH_K = 293.15, 15.0
NOT_GIVEN_PRESSURE_PA, NOT_GIVEN_PRESSURE_HALF_WIDTH_PA = STANDARD_PRESSURE_PA, 6000.0
NOT_GIVEN_HUMIDITY, NOT_GIVEN_HUMIDITY_HALF_WIDTH = 0.5, 0.5
"""Taken for air that nobody gave: a mild day, sea level, half humid; 5 to 35 degC, up to some 500 m of height."""
ELEVATION_HALF_WIDTH_PA = 1500.0
"""95 % of the weather about the standard pressure of an elevation. Chosen: most days lie within 15 hPa."""

SEA_LEVEL_LOOK_PA = 2500.0
"""A pressure given this near 101.3 kPa, and `LOST_PA` off its elevation's, is one reduced to sea level. [Pa]"""
LOST_PA = 3500.0
"""More than weather makes at one elevation (some 300 m of height). [Pa]"""
BAROMETER_APART_PA = 1500.0
"""Given and logged pressures further apart than this are not both right: weather moves less in a day. [Pa]"""


@dataclass(frozen=True, slots=True)
class _Reading:
    value: float
    half_width: float
    basis: str
    finding: Finding | None = None


def measure_air(air: Air | None, traces: Traces) -> AirState:
    """The air of a run, from what was given and what the log shows.

    Parameters
    ----------
    air : Air or None
        As the user gave it; None where nothing was given.
    traces : Traces
        The run's channels; a ``barometer`` among them stands in for a pressure not given.

    Returns
    -------
    AirState
        Always given; what nobody gave is taken as a mild day at sea level, with a plus-minus to match. Its findings say
        what was taken for granted, and what two sources disagree on.

    Notes
    -----
    Plus-minus of density adds those of temperature, pressure and humidity in quadrature. It does not see air that
    differs from the strip's between the start and the finish, nor the heat of the track.
    """
    given = air or Air()
    temperature = _temperature(given)
    pressure = _pressure(given, traces)
    humidity = _humidity(given, temperature.value, pressure.value)
    density = _density(temperature, pressure, humidity)
    taken = [reading.finding for reading in (temperature, pressure, humidity) if reading.finding is not None]
    return AirState(
        temperature_k=temperature.value,
        pressure_pa=pressure.value,
        vapour_pressure_pa=humidity.value,
        density_kgpm3=density,
        density_altitude_m=density_altitude(density.value),
        wind_mps=given.wind,
        wind_plus_minus_mps=given.plus_minus.get("wind"),
        basis="; ".join((temperature.basis, pressure.basis, humidity.basis)),
        pressure_basis=PressureBasis(pressure.basis),
        findings=(*taken, *_pressure_conflicts(given, traces)),
    )


def other_air(own: AirState, given: Air) -> AirState:
    """Another day's air, of which only what differs is given.

    Parameters
    ----------
    own : AirState
        A run's.
    given : Air
        What is to be other; the rest stays, moisture as its vapour pressure.

    Returns
    -------
    AirState
        Its wind is None unless it is given. Density keeps the half-width, as a share, that the run's has.
    """
    temperature_k = own.temperature_k if given.temperature is None else given.temperature
    pressure_pa = own.pressure_pa
    if given.pressure is not None or given.elevation is not None:
        pressure_pa = _pressure(given, Traces()).value
    saturated = vapour_pressure(1.0, temperature_k, pressure_pa)
    vapour_pa = min(own.vapour_pressure_pa, saturated)
    if given.relative_humidity is not None or given.dew_point is not None:
        vapour_pa = _humidity(given, temperature_k, pressure_pa).value
    density = moist_air_density(temperature_k, pressure_pa, vapour_pa)
    half = density * own.density_kgpm3.plus_minus / own.density_kgpm3.value
    return replace(
        own,
        temperature_k=temperature_k, pressure_pa=pressure_pa, vapour_pressure_pa=vapour_pa,
        density_kgpm3=Estimate(density, half), density_altitude_m=density_altitude(density),
        wind_mps=given.wind, wind_plus_minus_mps=given.plus_minus.get("wind"),
    )  # fmt: skip


def _temperature(given: Air) -> _Reading:
    if given.temperature is not None:
        return _Reading(
            given.temperature, given.plus_minus.get("temperature", TEMPERATURE_HALF_WIDTH_K), "temperature as given"
        )
    finding = Finding(
        "air-temperature-missing",
        "caution",
        "No air temperature was given: 20 degC was taken, between 5 and 35 degC; air density and drag rest on it.",
    )
    return _Reading(
        NOT_GIVEN_TEMPERATURE_K, NOT_GIVEN_TEMPERATURE_HALF_WIDTH_K, "temperature taken as 20 degC", finding
    )


def _pressure(given: Air, traces: Traces) -> _Reading:
    if given.pressure is not None:
        return _Reading(given.pressure, given.plus_minus.get("pressure", PRESSURE_HALF_WIDTH_PA), PressureBasis.TOLD)
    logged = logged_barometer(traces)
    if logged is not None:
        return _Reading(logged, PRESSURE_HALF_WIDTH_PA, PressureBasis.BAROMETER)
    if given.elevation is not None:
        finding = Finding(
            "air-pressure-missing",
            "note",
            f"No air pressure was given: the standard pressure of the strip's {given.elevation:.0f} m was taken.",
        )
        pressure = standard_atmosphere(given.elevation).pressure_pa
        return _Reading(pressure, ELEVATION_HALF_WIDTH_PA, PressureBasis.ELEVATION, finding)
    finding = Finding(
        "air-pressure-missing",
        "caution",
        "No air pressure was given and no barometer logged: 101.3 kPa was taken, as at sea level; tell the station's "
        "own pressure or the strip's elevation.",
    )
    return _Reading(NOT_GIVEN_PRESSURE_PA, NOT_GIVEN_PRESSURE_HALF_WIDTH_PA, PressureBasis.TAKEN, finding)


def _humidity(given: Air, temperature_k: float, pressure_pa: float) -> _Reading:
    """Vapour pressure and its half-width."""
    saturated = vapour_pressure(1.0, temperature_k, pressure_pa)
    if given.relative_humidity is not None:
        own = given.plus_minus.get("relative_humidity", HUMIDITY_HALF_WIDTH)
        return _Reading(given.relative_humidity * saturated, own * saturated, "humidity as given")
    if given.dew_point is not None:
        vapour = vapour_pressure_from_dew_point(given.dew_point, pressure_pa)
        if vapour <= saturated:
            return _Reading(vapour, HUMIDITY_HALF_WIDTH * saturated, "humidity from the dew point given")
        finding = Finding(
            "dew-point-above-temperature",
            "caution",
            "The dew point given lies above the air temperature, which cannot be: saturated air was taken.",
        )
        return _Reading(saturated, HUMIDITY_HALF_WIDTH * saturated, "air taken as saturated", finding)
    finding = Finding(
        "humidity-missing",
        "note",
        "Neither humidity nor dew point was given: half-humid air was taken; density moves by less than one per cent.",
    )
    return _Reading(
        NOT_GIVEN_HUMIDITY * saturated, NOT_GIVEN_HUMIDITY_HALF_WIDTH * saturated, "humidity taken as one half", finding
    )


def _density(temperature: _Reading, pressure: _Reading, humidity: _Reading) -> Estimate:
    value = moist_air_density(temperature.value, pressure.value, humidity.value)
    parts = (
        temperature.half_width / temperature.value,
        pressure.half_width / pressure.value,
        0.378 * humidity.half_width / pressure.value,
    )
    return Estimate(value, value * math.hypot(*parts))


def logged_barometer(traces: Traces) -> float | None:
    """Median of the barometer channel in Pa; None where there is none."""
    channel = traces.get("barometer")
    if channel is None or not np.isfinite(channel.values).any():
        return None
    return float(np.nanmedian(channel.values))


def _pressure_conflicts(given: Air, traces: Traces) -> list[Finding]:
    found: list[Finding] = []
    if given.pressure is None:
        return found
    logged = logged_barometer(traces)
    if logged is not None and abs(logged - given.pressure) > BAROMETER_APART_PA:
        found.append(
            Finding(
                "air-pressure-disagrees",
                "caution",
                f"The air pressure given, {given.pressure / 1e3:.1f} kPa, and the barometer logged, "
                f"{logged / 1e3:.1f} kPa, do not agree: the one given was used for density; check whether it was "
                "reduced to sea level.",
            )
        )
    if given.elevation is None:
        return found
    standard = standard_atmosphere(given.elevation).pressure_pa
    if abs(given.pressure - standard) > LOST_PA and abs(given.pressure - STANDARD_PRESSURE_PA) < SEA_LEVEL_LOOK_PA:
        reduced = station_pressure(given.pressure, elevation_m=given.elevation)
        found.append(
            Finding(
                "air-pressure-looks-reduced",
                "caution",
                f"The air pressure given, {given.pressure / 1e3:.1f} kPa, looks reduced to sea level: at "
                f"{given.elevation:.0f} m the station's own would be {reduced / 1e3:.1f} kPa; it was used as given.",
            )
        )
    return found
