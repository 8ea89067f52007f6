"""What lets the gears of a sound car pull unlike, though every fact was given true.

One efficiency, one rolling resistance and one engine for the whole run are what owners give, and none is quite so.

Public: `power_astray`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.quantities import FloatArray

TURNING_SHARE = 1.0
"""The most of a driveline's loss at full speed and power that goes with how fast its shafts turn, oil churned
and seals rubbed, and not with what they carry, as the one efficiency given has it: all of it. Gear Technology, Sept
2012, p. 58, says that both parts exist and not how much of each. [-]"""
TURNING_POWER = 2.0
"""Churning's torque goes with speed, its power with the square: between seals (1) and oil flung (3). [-]"""
ROLLING_GROWTH, ROLLING_AT_MPS = 0.5, 55.0
"""The most by which rolling resistance grows from rest to that speed, with its square: road tires of radial
ply grow by an eighth, those of bias ply by half (0.0136 + 0.40e-7 V^2 and 0.0169 + 0.19e-6 V^2, V in km/h: Wong, from
memory). [-], [m/s]"""
RUN_SHARE = 0.02
"""95 % of what an engine gains or loses from the start of a run to its end at one speed and manifold pressure, evenly:
a charge 6 K warmer of 300 K costs 2 %. [-]"""


def power_astray(
    power_w: FloatArray, speed_mps: FloatArray, *, lost_share: float, rolling_n: float
) -> tuple[FloatArray, ...]:
    """What each of them takes of the engine's power beyond what one figure for the run says.

    Parameters
    ----------
    power_w : array, shape (n,)
        Flywheel power over the run; NaN where not known. [W]
    speed_mps : array, shape (n,)
        Of the car.
    lost_share : float
        What the driveline loses of the engine's power, as given. [-]
    rolling_n : float
        Rolling resistance as given. [N]

    Returns
    -------
    tuple of arrays, shape (n,)
        Shafts that turn faster and tires that roll harder with speed, each at the most; an engine that drifts along the
        run either way, 95 %. NaN where power is. [W]

    Notes
    -----
    Each is beside its level at full speed, or at the run's start: levels are one curve's matter, not the gears'.
    """
    known = np.isfinite(power_w) & np.isfinite(speed_mps)
    if not known.any():
        return (np.full(power_w.shape, np.nan),) * 3
    greatest_w, fastest_mps = float(np.max(power_w[known])), float(np.max(speed_mps[known]))
    turning = TURNING_SHARE * lost_share * greatest_w * (speed_mps / max(fastest_mps, 1.0)) ** TURNING_POWER
    rolling = ROLLING_GROWTH * rolling_n * (speed_mps / ROLLING_AT_MPS) ** 2 * speed_mps
    inside = np.flatnonzero(known)
    along = (np.arange(power_w.size) - inside[0]) / max(inside[-1] - inside[0], 1)
    return turning, rolling, RUN_SHARE * along * power_w
