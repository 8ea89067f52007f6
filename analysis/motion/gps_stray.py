"""How far a GPS speed strays from the wheels beside it, over seconds, as a run itself shows it.

A receiver's errors are noise from value to value and, under it, an error that fades over seconds: of the satellites'
geometry, of its filters, of reflections. Wheels do not stray: they are off by a scale, a growth, a lateness. What is
left between the two, second by second, once those are out, tells how far the receiver strays; a wheel's scale that is
found from it is as sure as that.

Public: `measure_stray`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passband.analysis.motion.factors import STRAY_FADES_S, SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import GPS_STRAYS_MPS, GPS_STRAYS_SPREAD
from passband.analysis.statistics.correlation import samples_that_hang_together

OVER_S = 1.0
"""Speeds are held against each other in means over so long. [s]"""
LEAST_SECONDS = 6
"""A scale, a growth and a lateness leave nothing of fewer. [-]"""
LEAST_IN_MEAN = 2
"""Samples that a mean needs for what they scatter by to be told. [-]"""
TRIED_MPS = np.geomspace(0.003, 0.15, 15)
"""What is weighed. [m/s]"""


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
    The differences' second-by-second means are taken for normal: noise by their scatter within the second, a stray whose
    likeness fades by ``exp(-t / fade)``, and any multiple of speed, speed cubed and acceleration (scale, growth,
    lateness). Their restricted likelihood weighs each size of stray, beside what receivers stray by usually. It does
    not see a stray that looks like a scale or a growth: what is open of those is the fit's.
    """
    rows = _second_means(posterior, receiver, wheels)
    if rows.shape[1] < LEAST_SECONDS:
        return GPS_STRAYS_MPS
    at_s, apart, noise = rows
    speed = np.interp(at_s, posterior.time_s, posterior.speed)
    pull = np.interp(at_s, posterior.time_s, np.gradient(posterior.speed, posterior.time_s))
    smooth = np.array([speed, speed**3, pull])
    smooth = smooth / np.maximum(np.abs(smooth).max(axis=1, keepdims=True), 1e-9)
    alike = np.exp(-np.abs(at_s[:, None] - at_s) / STRAY_FADES_S)
    usual = -0.5 * (np.log(TRIED_MPS / GPS_STRAYS_MPS) / GPS_STRAYS_SPREAD) ** 2
    likely = usual + [_log_likelihood(apart, size**2 * alike + np.diag(noise**2), smooth) for size in TRIED_MPS]
    weight = np.exp(likely - likely.max())
    return float(np.sqrt((weight * TRIED_MPS**2).sum() / weight.sum()))


def _log_likelihood(apart: FloatArray, covariance: FloatArray, smooth: FloatArray) -> float:
    """Restricted to what the smooth rows leave, but for a constant."""
    inverse = np.linalg.inv(covariance)
    seen = smooth @ inverse @ smooth.T
    left = apart - smooth.T @ np.linalg.solve(seen, smooth @ inverse @ apart)
    sizes = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(seen)[1]
    return float(-0.5 * (sizes + left @ inverse @ left))


def _second_means(posterior: Posterior, receiver: SpeedSensor, wheels: Sequence[SpeedSensor]) -> FloatArray:
    """When, by how much the receiver is above the wheels, and the noise of that, shape (3, seconds)."""
    moments, left = _left(posterior, receiver)
    if not moments.size:
        return np.zeros((3, 0))
    seconds = max(int((moments[-1] - moments[0]) / OVER_S), 1)
    edges = moments[0] + OVER_S * np.arange(seconds + 1)
    every = [_means(moments, left, edges), *(_means(*_left(posterior, wheel), edges) for wheel in wheels)]
    apart = every[0][0] - np.nanmean([mean for mean, _ in every[1:]], axis=0)
    noise = np.sqrt(every[0][1] ** 2 + np.nanmean([sd**2 for _, sd in every[1:]], axis=0))
    known = np.isfinite(apart) & np.isfinite(noise)
    return np.array([edges[:-1] + OVER_S / 2, apart, noise])[:, known]


def _left(posterior: Posterior, sensor: SpeedSensor) -> tuple[FloatArray, FloatArray]:
    """When each sample of a sensor was true, and what the fit leaves of it."""
    sample, left = posterior.left[sensor.name]
    late, way = (
        posterior.parameter(f"{what} {sensor.name}") if f"{what} {sensor.name}" in posterior.names else usual
        for what, usual in (("delay", sensor.delay_s), ("way", sensor.way_m))
    )
    return sensor.time_s[sample] - late - way / np.maximum(sensor.speed_mps[sample], 1.0), left


def _means(moments: FloatArray, left: FloatArray, edges: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean of each second, and its noise; NaN where too few samples are in it."""
    place = np.searchsorted(edges, moments, side="right") - 1
    inside = (place >= 0) & (place < edges.size - 1)
    place, left = place[inside], left[inside]
    usual = 1.4826 * float(np.median(np.abs(left))) if left.size else 0.0
    left = np.clip(left, -4.0 * usual, 4.0 * usual)
    count = np.bincount(place, minlength=edges.size - 1)
    mean = np.bincount(place, left, minlength=edges.size - 1) / np.maximum(count, 1)
    within = left - mean[place]
    free = max(float(left.size - np.count_nonzero(count)), 1.0)
    scatter = float(within @ within) / free * samples_that_hang_together(within)
    few = count < LEAST_IN_MEAN
    return np.where(few, np.nan, mean), np.where(few, np.nan, np.sqrt(scatter / np.maximum(count, 1)))
