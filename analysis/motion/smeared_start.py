"""How an accelerometer smears the start of motion: a filter is no pure delay, and a body squats before it carries.

A slow change passes a filter late by its time constant, a sharp one is spread out. Speed sought on the accelerometer's
clock has the delay taken off; what is left is spread: a car felt through a kernel of variance s^2 seems to have begun a
little early, and once it pulls with a it has seemingly gone a s^2 / 2 further than it has. On the beam that starts the
clock this is up to 6 ms, and every split has it with the other sign. How slow the filter may be is bounded by the
sharpest rise or fall that it let through. What stays open of it is not in the fit's covariance but in the calibrated
widths, which were made with all of it open.

Public: `late_of`, `smear_of`, `unsmeared`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.motion.fusion import GRID_S, Accelerometer
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import (
    ACCELEROMETER_LAGS_S,
    ACCELEROMETER_SAMPLED,
    SQUAT_SMEAR_S2,
    Lateness,
)

LATE_OVER_LAG = 1.2
"""How late a filter shows a slow change, over one over 2 pi f of where it cuts off: 1 of first order, root 2 of a flat
one of second, either as likely. [-] By arithmetic."""
WITHIN_M = 1.0
"""So far the start is looked at; later marks are passed so fast that it moves none. [m]"""
SMOOTHED_S = 0.03
"""The speed's second slope is taken of its mean over so long. [s]"""
BEYOND_SHARE = 0.1
"""What truly was may lie beyond what the filter showed by this share of the span. [-]"""
LEFT_SHARE = 0.25
"""A rise or fall is looked at as long as this share of the span is left to it. [-]"""
CLEAR_SIGMAS = 6.0
"""A slope is one where it stands out of the noise by so many deviations. [-]"""


def smear_of(accelerometer: Accelerometer) -> float:
    """Half the variance of the kernel through which motion is felt, as it is to be expected.

    Parameters
    ----------
    accelerometer : Accelerometer
        Samples of the run.

    Returns
    -------
    float
        [s2]

    Notes
    -----
    Filters are chosen by octaves, so their time constants are taken as even by logarithm, up to the slowest that the
    record allows: one of first order goes no faster than what is left to go over its time constant. A record without
    a sharp change, or with few samples, bounds nothing.

    Examples
    --------
    >>> at = np.arange(0.0, 2.0, 0.01)
    >>> slow, fast = (8.0 * (1.0 - np.exp(-np.maximum(at - 1.0, 0.0) / lag)) for lag in (0.05, 0.01))
    >>> means = [smear_of(Accelerometer(at, felt, 0.02)) for felt in (slow, fast)]
    >>> [round(1e6 * mean) for mean in means]
    [314, 117]
    """
    least_s, most_s = ACCELEROMETER_LAGS_S
    most_s = float(np.clip(_slowest(accelerometer), 2.0 * least_s, most_s))
    square = (most_s**2 - least_s**2) / (2.0 * np.log(most_s / least_s))
    return float(square / 2.0 + SQUAT_SMEAR_S2)


def late_of(accelerometer: Accelerometer) -> Lateness:
    """How late an accelerometer shows a slow change, by the sharpest one that it let through.

    Parameters
    ----------
    accelerometer : Accelerometer
        Samples of the run.

    Returns
    -------
    Lateness
        Its sampling's and its filter's, the latter even by logarithm up to the slowest that the record allows.

    Examples
    --------
    >>> at = np.arange(0.0, 2.0, 0.01)
    >>> slow, fast = (8.0 * (1.0 - np.exp(-np.maximum(at - 1.0, 0.0) / lag)) for lag in (0.05, 0.01))
    >>> late = [late_of(Accelerometer(at, felt, 0.02)) for felt in (slow, fast)]
    >>> [(round(1e3 * one.late_s), round(1e3 * one.sigma_s)) for one in late]
    [(29, 17), (17, 6)]
    """
    least_s, most_s = ACCELEROMETER_LAGS_S
    most_s = float(np.clip(_slowest(accelerometer), 2.0 * least_s, most_s))
    octaves = np.log(most_s / least_s)
    mean_s = LATE_OVER_LAG * (most_s - least_s) / octaves
    square_s2 = LATE_OVER_LAG**2 * (most_s**2 - least_s**2) / (2.0 * octaves)
    spread_s = float(np.sqrt(max(square_s2 - mean_s**2, 0.0)))
    return Lateness(
        float(ACCELEROMETER_SAMPLED.late_s + mean_s), float(np.hypot(ACCELEROMETER_SAMPLED.sigma_s, spread_s))
    )


def _slowest(accelerometer: Accelerometer) -> float:
    """The slowest filter of first order that lets through what the record shows, s."""
    time, felt = accelerometer.time_s, accelerometer.acceleration_mps2
    if time.size < 3:
        return np.inf
    step_s = time[2:] - time[:-2]
    slope = (felt[2:] - felt[:-2]) / step_s
    open_slope = accelerometer.noise_mps2 * np.sqrt(2.0) / step_s
    low, high = float(felt.min()), float(felt.max())
    span = high - low
    left = np.where(slope > 0.0, high - felt[1:-1], felt[1:-1] - low)
    clear = (np.abs(slope) > CLEAR_SIGMAS * open_slope) & (left > LEFT_SHARE * span)
    if not clear.any():
        return np.inf
    return float(np.min((left[clear] + BEYOND_SHARE * span) / (np.abs(slope[clear]) - 2.0 * open_slope[clear])))


def unsmeared(posterior: Posterior, smear_s2: float) -> FloatArray:
    """The speed with the smear of its start taken out.

    Parameters
    ----------
    posterior : Posterior
        The speed as it is felt.
    smear_s2 : float
        Half the variance of the kernel. [s2]

    Returns
    -------
    array, shape (n,)
        Other than it was only until the car has gone a metre. [m/s]
    """
    speed = posterior.mean[: posterior.time_s.size]
    width = round(SMOOTHED_S / GRID_S) | 1
    box = np.ones(width) / width
    padded = np.pad(speed, width - 1, mode="edge")
    smooth = np.convolve(np.convolve(padded, box, mode="valid"), box, mode="valid")
    bent = np.gradient(np.gradient(smooth, GRID_S), GRID_S)
    return np.asarray(speed - np.where(posterior.distance < WITHIN_M, smear_s2 * bent, 0.0))
