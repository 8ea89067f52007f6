"""What no sensor of a run shows of its speed's error: a scale that all share, tires that always slip, their growth.

Public: `open_errors`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.motion.counted_wheels import WAY, way_left_open
from passband.analysis.motion.fusion import GRID_S, SpeedSensor
from passband.analysis.motion.posterior import Posterior
from passband.analysis.quantities import FloatArray
from passband.analysis.sensors.priors import (
    DRIVEN_SCALE_SD,
    GPS_SCALE_SD,
    GROWTH_SD,
    SLIP_PER_MPS2_SD,
    UNDRIVEN_SCALE_SD,
)


def open_errors(posterior: Posterior, sensors: list[SpeedSensor], *, felt: bool, driven: bool) -> dict[str, FloatArray]:
    """Errors that no sensor shows, as changes of speed by one standard deviation.

    Parameters
    ----------
    posterior : Posterior
        The speed.
    sensors : list of SpeedSensor
        It rests on.
    felt : bool
        Whether an accelerometer shows how the car began to move.
    driven : bool
        Whether it rests on what the engine turns.

    Returns
    -------
    dict of str to array, shape (n,)
        By the parameter that stands for each. [m/s]
    """
    speed = posterior.speed
    zero = np.zeros_like(speed)
    way = way_left_open(posterior, sensors, felt=felt, driven=driven)
    if not driven:
        gps = any(sensor.delay_s > 0.1 for sensor in sensors)
        sd = GPS_SCALE_SD if gps else UNDRIVEN_SCALE_SD
        return {"scale": sd * speed, "slip": zero, "growth": zero, WAY: way}
    thrust = np.convolve(np.maximum(np.gradient(speed, GRID_S), 0.0), np.ones(21) / 21, mode="same")
    return {
        "scale": DRIVEN_SCALE_SD * speed,
        "slip": -SLIP_PER_MPS2_SD * thrust * speed,
        "growth": GROWTH_SD * speed**3,
        WAY: way,
    }
