"""Power against engine speed in each gear, and its peak.

Public: `smooth_pulls`, `measure_curves`, `measure_peak`, `find_power_band`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.estimate import DEVICE, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.power import GearCurve
from passband.analysis.results.unknown import Unknown
from passband.analysis.statistics.filters import smooth
from passband.analysis.statistics.intervals import find_true_runs

PEAK_SPAN_S = 0.05
"""Peak power is the highest mean over this time. [s]"""
SMOOTH_SPAN_S = 0.25
"""Span of the sliding fit before a peak is sought: power changes slowly within a gear, noise does not. [s]"""
LEAST_PULL_S = 0.3
"""A pull shorter than this between two shifts holds no peak and no curve. [s]"""
CLASS_RPM = 250.0
"""Width of a class of engine speed in a curve. [rpm]"""
LEAST_IN_CLASS_S = 0.02
"""A class visited for less has no mean worth the name. [s]"""
SPUN = f"{DEVICE}: tires that spun"
"""What a peak made while the tires spun leaves open: how fast they and the car gained speed shows there roughly."""
BAND_SHARE = 0.9
"""The band that the data shows is where power stays above this share of its peak. [-]"""


def smooth_pulls(brake_w: FloatArray, pulling: BoolArray, *, step_s: float) -> FloatArray:
    """Power smoothed within each pull, unknown elsewhere.

    Parameters
    ----------
    brake_w : array, shape (n,)
        Even grid. [W]
    pulling : array of bool, shape (n,)
        Clutch locked, tires gripping, no shift under way.
    step_s : float
        Step of the grid. [s]

    Returns
    -------
    array, shape (n,)
        NaN outside pulls and in pulls shorter than `LEAST_PULL_S`. [W]

    Examples
    --------
    >>> smooth_pulls(np.full(100, 5.0), np.arange(100) < 80, step_s=0.005)[[0, 79, 80]].round(6).tolist()
    [5.0, 5.0, nan]
    """
    out = np.full(brake_w.size, np.nan)
    for piece in find_true_runs(pulling):
        if (piece.stop - piece.start) * step_s >= LEAST_PULL_S:
            part = slice(piece.start, piece.stop)
            out[part] = smooth(brake_w[part], step_s=step_s, span_s=SMOOTH_SPAN_S, order=1)
    return out


def measure_peak(
    power_w: FloatArray, jitter_w: FloatArray, *, step_s: float, average: Estimate, spun_w: FloatArray | None = None
) -> Estimate | Unknown:
    """Highest mean over `PEAK_SPAN_S`.

    Parameters
    ----------
    power_w : array, shape (n,)
        As of `smooth_pulls`. [W]
    jitter_w : array, shape (n,)
        What acceleration's own half-width makes of it at each sample, 95 %. [W]
    step_s : float
        Step of the grid. [s]
    average : Estimate
        The run's mean power: what it leaves open, all samples share in their proportion. [W]
    spun_w : array, shape (n,), optional
        The same as `power_w` where the tires spun, NaN elsewhere: where the engine made more there than it is sure to
        have made while they gripped, the peak is that, open down to the other. [W]

    Returns
    -------
    Estimate or Unknown
        Unknown where no pull is long enough.
    """
    count = max(round(PEAK_SPAN_S / step_s), 1)
    means, spun = (
        np.convolve(values, np.ones(count) / count, mode="same")
        for values in (power_w, power_w * np.nan if spun_w is None else spun_w)
    )
    if not np.isfinite(means).any():
        text = "No pull between shifts is long enough, and quiet enough, to show a peak of power."
        return Unknown(Finding("no-pull-for-peak", "note", text))
    at = int(np.nanargmax(means))
    # The fit averages over its span: of the samples' own half-width about a third is left.
    like = average.scaled(float(means[at]) / max(abs(average.value), 1.0))
    own = math.hypot(like.own, float(jitter_w[at]) / 3.0)
    gripping = Estimate.parted(float(means[at]), own, {part.cause: part.effect for part in like.shared})
    top_w = float(np.nanmax(spun)) if np.isfinite(spun).any() else 0.0
    if top_w <= gripping.value + gripping.plus_minus:
        return gripping
    shared = {part.cause: part.effect for part in gripping.shared}
    return Estimate.parted(top_w, own, shared | {SPUN: top_w - gripping.value})


def measure_curves(
    series: DrivelineSeries, power_w: FloatArray, *, average: Estimate, charge_pa: FloatArray | None = None
) -> tuple[GearCurve, ...]:
    """Power against engine speed, gear by gear.

    Parameters
    ----------
    series : DrivelineSeries
        Grid of shape (n,).
    power_w : array, shape (n,)
        As of `smooth_pulls`. [W]
    average : Estimate
        The run's mean power: what it leaves open, all samples share in their proportion. [W]
    charge_pa : array, shape (n,), optional
        Absolute manifold pressure on the same grid, NaN where unknown. [Pa]

    Returns
    -------
    tuple of GearCurve
        Gears in order; empty where engine speed or gears are unknown.
    """
    rpm = series.engine_rad_per_s * 30.0 / math.pi
    curves = []
    for gear in sorted({int(g) for g in series.gear if g > 0}):
        use = (series.gear == gear) & np.isfinite(power_w) & np.isfinite(rpm)
        numbers = np.floor(np.where(use, rpm, -1.0) / CLASS_RPM)
        classes = [use & (numbers == number) for number in np.unique(numbers[use])]
        kept = [one for one in classes if one.sum() * series.step_s >= LEAST_IN_CLASS_S]
        if kept:
            curves.append(replace(_curve(gear, kept, series, power_w, average), manifold_pa=_means(charge_pa, kept)))
    return tuple(curves)


def _means(charge_pa: FloatArray | None, classes: Sequence[BoolArray]) -> tuple[float, ...]:
    """Mean pressure in each class; empty where it is not known in all."""
    means = () if charge_pa is None else tuple(float(np.mean(charge_pa[one])) for one in classes)
    return means if all(map(math.isfinite, means)) else ()


def _curve(
    gear: int, classes: Sequence[BoolArray], series: DrivelineSeries, power_w: FloatArray, average: Estimate
) -> GearCurve:
    """One gear: centre, mean, half-widths and the rest of each class."""
    rpm, step_s = series.engine_rad_per_s * 30.0 / math.pi, series.step_s
    whole, own = (part / max(abs(average.value), 1.0) for part in (average.plus_minus, average.own))
    rows = []
    for one in classes:
        power, mean = power_w[one], float(np.mean(power_w[one]))
        apart = max(power.size * step_s / SMOOTH_SPAN_S, 1.0)
        jitter = 2.0 * float(np.std(power)) / math.sqrt(apart)
        centre = (math.floor(float(rpm[one][0]) / CLASS_RPM) + 0.5) * CLASS_RPM
        through = min(float(np.ptp(rpm[one])) / CLASS_RPM, 1.0)
        both = math.hypot(whole * mean, jitter), math.hypot(own * mean, jitter)
        rows.append(
            (centre, mean, both[0], power.size * step_s, through, both[1], float(np.mean(series.speed_mps[one])))
        )
    centres, means, halves, times, covered, alone, speeds = (tuple(column.tolist()) for column in np.array(rows).T)
    return GearCurve(
        gear, centres, means, halves, time_s=times, covered=covered, run_plus_minus_w=alone, speed_mps=speeds
    )


def find_power_band(curves: Sequence[GearCurve], *, share: float = BAND_SHARE) -> tuple[float, float] | None:
    """The engine speeds between which power stays above a share of its peak.

    Parameters
    ----------
    curves : sequence of GearCurve
        Of one run or several.
    share : float
        Of the peak. [-]

    Returns
    -------
    (low, high) or None
        Edges of the unbroken stretch about the peak, all gears taken together; None where there is no curve. [rpm]

    Notes
    -----
    A lower bound of the band: an end where the run itself stopped tells nothing of what lies beyond it.
    """
    if not curves:
        return None
    rpm = np.concatenate([curve.rpm for curve in curves])
    power = np.concatenate([curve.power_w for curve in curves])
    centres = np.unique(rpm)
    means = np.array([np.mean(power[rpm == centre]) for centre in centres])
    peak = int(np.argmax(means))
    strong = (means >= share * means[peak]).tolist()
    first = last = peak
    while first > 0 and strong[first - 1]:
        first -= 1
    while last < len(strong) - 1 and strong[last + 1]:
        last += 1
    return float(centres[first] - CLASS_RPM / 2), float(centres[last] + CLASS_RPM / 2)
