"""How far a GPS speed strays from the wheels beside it, over seconds, as a run itself shows it.

A receiver's errors are noise from value to value and, under it, an error that fades over seconds: of the satellites'
geometry, of its filters, of reflections. Wheels do not stray: they are off by a scale, a growth, a lateness. What is
left between the two once those are out, tells how far the receiver strays; a wheel's scale that is
found from it is as sure as that.

Public: `measure_stray`, `as_they_stray`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.motion.factors import STRAY_FADES_S, SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.solver import spread_about_fit
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import GPS_STRAYS_MPS, GPS_STRAYS_SPREAD

OVER_S = 0.5
"""Speeds are held against each other in means over so long: a receiver's filters make neighbours alike within it.
[s]"""
LEAST_MEANS, LEAST_S = 10, 6.0
"""A scale, a growth and a lateness leave nothing of fewer, and nothing that fades over seconds of less. [-], [s]"""
FAR_OUT = 4.0
"""Values further out than so many deviations are of another kind. [-]"""
STRAYS_MPS, NOISES_MPS = np.geomspace(0.003, 0.15, 15), np.geomspace(0.003, 0.3, 15)
"""What is weighed, stray and noise of such a mean. [m/s]"""


def measure_stray(posterior: Posterior, receiver: SpeedSensor, wheels: Sequence[SpeedSensor]) -> float:
    """How far a GPS speed strays over seconds, a standard deviation.

    Parameters
    ----------
    posterior : Posterior
        Of a first fit of receiver and wheels together.
    receiver : SpeedSensor
        The GPS.
    wheels : sequence of SpeedSensor
        Undriven, with their scales open.

    Returns
    -------
    float
        What receivers usually stray by where the run is too short to tell. [m/s]

    Notes
    -----
    The means of the differences are taken for normal: noise of any size, a stray whose likeness fades by
    ``exp(-t / fade)``, and any multiple of speed, speed cubed and acceleration (scale, growth, lateness). Their
    restricted likelihood weighs each size of stray, beside what receivers stray by usually. It does not see a stray
    that looks like a scale or a growth: what is open of those is the fit's.
    """
    at_s, apart = _apart(posterior, receiver, wheels)
    if at_s.size < LEAST_MEANS or at_s[-1] - at_s[0] < LEAST_S:
        return GPS_STRAYS_MPS
    speed = np.interp(at_s, posterior.time_s, posterior.speed)
    pull = np.interp(at_s, posterior.time_s, np.gradient(posterior.speed, posterior.time_s))
    alike = np.exp(-np.abs(at_s[:, None] - at_s) / STRAY_FADES_S)
    share, seen = _free_parts(apart, alike, np.column_stack((speed, speed**3, pull)))
    varies = STRAYS_MPS[:, None, None] ** 2 * share + NOISES_MPS[:, None] ** 2
    likely = -0.5 * (np.log(varies) + seen / varies).sum(axis=-1)
    likely -= 0.5 * (np.log(STRAYS_MPS / GPS_STRAYS_MPS) / GPS_STRAYS_SPREAD)[:, None] ** 2
    weight = np.exp(likely - likely.max()).sum(axis=1)
    return float(np.sqrt((weight * STRAYS_MPS**2).sum() / weight.sum()))


def as_they_stray(sensors: list[SpeedSensor], first: Posterior) -> list[SpeedSensor]:
    """Sensors of a fit, a receiver beside undriven wheels with what the first fit leaves between them.

    Parameters
    ----------
    sensors : list of SpeedSensor
        Of the fit.
    first : Posterior
        A first fit of them.

    Returns
    -------
    list of SpeedSensor
        As they were where no undriven wheel or no receiver is among them.
    """
    wheels = [sensor for sensor in sensors if sensor.growth_sd > 0.0]
    if not wheels:
        return sensors
    return [
        replace(sensor, stray_mps=measure_stray(first, sensor, wheels)) if sensor.mean_over_s else sensor
        for sensor in sensors
    ]


def _free_parts(apart: FloatArray, alike: FloatArray, smooth: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Parts of the differences that no smooth column reaches and that a stray leaves free of each other.

    How much of a stray's variance is in each, and what is seen of it, squared.
    """
    whole, _ = np.linalg.qr(smooth / np.maximum(np.abs(smooth).max(axis=0), 1e-9), mode="complete")
    beside = whole[:, smooth.shape[1] :]
    share, axes = np.linalg.eigh(beside.T @ alike @ beside)
    return np.maximum(share, 0.0), np.square(axes.T @ (beside.T @ apart))


def _apart(posterior: Posterior, receiver: SpeedSensor, wheels: Sequence[SpeedSensor]) -> tuple[FloatArray, FloatArray]:
    """When, and by how much the receiver is above the wheels beyond what the fit expects, in means."""
    moments, left = _left(posterior, receiver)
    if not moments.size:
        return moments, left
    edges = moments[0] + OVER_S * np.arange(int((moments[-1] - moments[0]) / OVER_S) + 2)
    by_wheels = np.array([_means(*_left(posterior, wheel), edges) for wheel in wheels])
    known = np.isfinite(by_wheels)
    wheel = np.where(known, by_wheels, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    apart = _means(moments, left, edges) - wheel
    both = known.any(axis=0) & np.isfinite(apart)
    return (edges[:-1] + OVER_S / 2)[both], apart[both]


def _left(posterior: Posterior, sensor: SpeedSensor) -> tuple[FloatArray, FloatArray]:
    """When each sample of a sensor was true, and what the fit leaves of it."""
    sample, left = posterior.left[sensor.name]
    late, way = (
        posterior.parameter(f"{what} {sensor.name}") if f"{what} {sensor.name}" in posterior.names else usual
        for what, usual in (("delay", sensor.delay_s), ("way", sensor.way_m))
    )
    return sensor.time_s[sample] - late - way / np.maximum(sensor.speed_mps[sample], 1.0), left


def _means(moments: FloatArray, left: FloatArray, edges: FloatArray) -> FloatArray:
    """Mean between each two edges, values far out drawn in; NaN where none is."""
    usual = spread_about_fit(left) if left.size else 0.0
    place = np.searchsorted(edges, moments, side="right") - 1
    inside = (place >= 0) & (place < edges.size - 1)
    count = np.bincount(place[inside], minlength=edges.size - 1)
    drawn_in = np.clip(left[inside], -FAR_OUT * usual, FAR_OUT * usual)
    total = np.bincount(place[inside], drawn_in, minlength=edges.size - 1)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
