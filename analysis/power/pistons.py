"""What power and engine speed mean at the pistons.

Public: `mean_piston_speed`, `brake_mean_effective_pressure`.
"""


def mean_piston_speed(stroke_m: float, engine_rpm: float) -> float:
    """Mean piston speed.

    Parameters
    ----------
    stroke_m, engine_rpm : float
        [m], [rpm]

    Returns
    -------
    float
        [m/s]

    Notes
    -----
    2 S n.

    Examples
    --------
    >>> mean_piston_speed(0.090, 3000.0)
    9.0
    """
    return 2.0 * stroke_m * engine_rpm / 60.0


def brake_mean_effective_pressure(power_w: float, displacement_m3: float, engine_rpm: float) -> float:
    """Brake mean effective pressure of a four-stroke engine.

    Parameters
    ----------
    power_w, displacement_m3, engine_rpm : float
        [W], [m3], [rpm]

    Returns
    -------
    float
        [Pa]

    Notes
    -----
    P / (V n / 2): one working stroke in two turns.

    Examples
    --------
    >>> round(brake_mean_effective_pressure(100e3, 2.0e-3, 6000.0))
    1000000
    """
    return power_w / (displacement_m3 * engine_rpm / 120.0)
