"""What a pressure reads while the engine stands: then a manifold holds the air's own pressure, and a gauge zero.

Public: `pressure_at_rest`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.channels.log import Channel

STOPPED_RPM = 50.0
"""Below this the engine stands. [rpm]"""
LEAST_REST_S = 0.3
"""It must stand this long for its manifold to fill. [s]"""
FEWEST_OF_ENGINE, FEWEST_AT_REST = 10, 5
"""Samples of engine speed, and of the pressure while it stands, that tell anything. Chosen, no source."""


def pressure_at_rest(engine: Channel | None, pressure: Channel) -> float | None:
    """Median of a pressure while the engine stands.

    Parameters
    ----------
    engine : Channel or None
        Engine speed. [rpm]
    pressure : Channel
        Any pressure of the same log's time.

    Returns
    -------
    float or None
        In the pressure's unit; None where the engine never stands, or nothing tells.
    """
    if engine is None or engine.known.values.size < FEWEST_OF_ENGINE:
        return None
    known = pressure.known
    rpm = engine.known.at(known.time_s)
    stands = np.isfinite(rpm) & (rpm < STOPPED_RPM)
    enough = stands.sum() >= FEWEST_AT_REST
    if not enough or stands.sum() * float(np.median(np.diff(known.time_s))) < LEAST_REST_S:
        return None
    return float(np.median(known.values[stands]))
