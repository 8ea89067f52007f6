"""The arithmetic of a step between two gears.

Public: `rpm_after_shift`, `needed_step`.
"""

from __future__ import annotations

from passband.analysis.quantities import FloatArray


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
        If the band does not rise from above zero.

    Notes
    -----
    low / high; the car's own gain or loss of speed during the shift is left out.

    Examples
    --------
    >>> round(needed_step(5300.0, 7800.0), 3)
    0.679
    """
    if not 0 < band_low_rpm < band_high_rpm:
        raise ValueError(f"the band must rise from above zero, got {band_low_rpm=}, {band_high_rpm=}")
    return band_low_rpm / band_high_rpm
