"""A change of gear: what is told of it, and the arithmetic of a step between two gears.

Public: `Shift`, `rpm_after_shift`, `needed_step`.
"""

from __future__ import annotations

from dataclasses import dataclass

from passband.analysis.quantities import Estimate, FloatArray


@dataclass(frozen=True, slots=True)
class Shift:
    """One change of gear. Times are ET."""

    from_gear: int
    """Gear that was left."""
    to_gear: int
    """Gear that carried next."""
    time_s: float
    """Drive torque is cut. [s]"""
    time_plus_minus_s: float
    """95 % half-width of it. [s]"""
    end_s: float
    """The next gear carries the car. [s]"""
    duration_s: float
    """end_s - time_s. [s]"""
    distance_m: float | None
    """Where the shift started. [m]"""
    kind: str
    """``normal``, ``missed``, ``short``, ``late``, ``double``, ``converter``, ``lifted``."""
    rpm_before: Estimate | None
    """Engine speed where the shift starts. [rpm]"""
    rpm_after: Estimate | None
    """Lowest engine speed from the start until 150 ms after the next gear carries. [rpm]"""
    rpm_drop: Estimate | None
    """The difference. [rpm]"""
    expected_rpm_after: float | None
    """RPM before times the step between the ratios; where it is not known, the next ratio times the wheels' speed as
    the next gear carries. A car that gains speed in the shift ends above it, one that loses speed below. [rpm]"""
    margin_to_band_low_rpm: float | None
    """rpm_after less the band's low end. [rpm]"""
    margin_to_band_high_rpm: float | None
    """The band's high end less rpm_before. [rpm]"""
    boost_before_pa: float | None
    """Gauge boost where the shift starts. [Pa]"""
    boost_lowest_pa: float | None
    """Lowest gauge boost from the start until boost recovers or 0.5 s after the end. [Pa]"""
    boost_recovery_s: float | None
    """From the end of the shift until boost is back at 95 % of what it was; None if it never is. [s]"""
    time_lost_s: float | None
    """Elapsed time that the shift cost against an uninterrupted pull. [s]"""
    speed_lost_mps: float | None
    """Speed that it cost. [m/s]"""


def rpm_after_shift(engine_rpm: float | FloatArray, *, ratio_before: float, ratio_after: float) -> float | FloatArray:
    """Engine speed right after a shift, from the step between two gear ratios.

    Parameters
    ----------
    engine_rpm : float or array, shape (n,)
        Engine speed just before the shift. [rpm]
    ratio_before, ratio_after : float
        Gear ratio, input turns per output turn, > 0. [-]

    Returns
    -------
    float or array, shape (n,)
        Engine speed at the same output-shaft speed; NaN where the input is NaN. [rpm]

    Raises
    ------
    ValueError
        If a ratio is not > 0.

    Notes
    -----
    The output shaft turns at the same speed on both sides of the shift, so n_after = n_before * i_after / i_before.
    Exact for a locked driveline; a slipping clutch or converter leaves the engine above this value.

    Examples
    --------
    >>> round(rpm_after_shift(7000.0, ratio_before=2.48, ratio_after=1.48), 1)
    4177.4
    """
    if not (ratio_before > 0 and ratio_after > 0):
        raise ValueError(f"gear ratios must be > 0, got {ratio_before=}, {ratio_after=}")
    return engine_rpm * ratio_after / ratio_before


def needed_step(band_low_rpm: float, band_high_rpm: float) -> float:
    """The least step between two gears that keeps an engine shifted at the band's top from falling below its low end.

    Parameters
    ----------
    band_low_rpm, band_high_rpm : float
        The usable band, ``0 < low < high``. [rpm]

    Returns
    -------
    float
        Next ratio over this ratio. [-]

    Raises
    ------
    ValueError
        If the band does not rise from above nought.

    Notes
    -----
    low / high; the car's own gain or loss of speed during the shift is left out.

    Examples
    --------
    >>> round(needed_step(8300.0, 11200.0), 3)
    0.741
    """
    if not 0 < band_low_rpm < band_high_rpm:
        raise ValueError(f"the band must rise from above nought, got {band_low_rpm=}, {band_high_rpm=}")
    return band_low_rpm / band_high_rpm
