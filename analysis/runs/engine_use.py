"""How much an engine turned in one run, counted from its logged speed.

Public: `CLASS_RPM`, `EngineUse`, `count_use`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from passband.analysis.quantities import FloatArray

CLASS_RPM = 50
"""Time is kept by classes so wide: time above a speed is exact at their edges. [rpm]"""
RUNNING_RPM = 200.0
"""Below it the engine stands, or is being cranked. Common practice, no source. [rpm]"""


@dataclass(frozen=True, slots=True)
class EngineUse:
    """What the engine did about one run: from a minute before the clock to half a minute after the finish."""

    revolutions: float
    """All that are recorded. [-]"""
    run_revolutions: float
    """Of those, from clock start to the finish or lift. [-]"""
    running_s: float
    """Time that the engine turned. [s]"""
    not_seen_s: float
    """Time in which its speed is not logged; counted as nothing. [s]"""
    time_by_rpm_s: Mapping[int, float]
    """Time by classes of engine speed, by their lower ends. [s]"""

    def above_s(self, speed_rpm: float) -> float:
        """Time at or above an engine speed.

        Parameters
        ----------
        speed_rpm : float
            Taken at the next edge of a class above it. [rpm]

        Returns
        -------
        float
            [s]
        """
        return sum(time_s for low, time_s in self.time_by_rpm_s.items() if low >= speed_rpm)


def count_use(time_s: FloatArray, speed_rpm: FloatArray, *, end_s: float) -> EngineUse:
    """Count what an engine did.

    Parameters
    ----------
    time_s : array, shape (n,)
        Rising. [s, ET]
    speed_rpm : array, shape (n,)
        NaN where not logged. [rpm]
    end_s : float
        Finish or lift. [s, ET]

    Returns
    -------
    EngineUse
        Each sample stands for the time until the next.

    Examples
    --------
    >>> use = count_use(np.array([0.0, 1.0, 2.0]), np.array([6000.0, 6000.0, 6000.0]), end_s=1.0)
    >>> use.revolutions, use.run_revolutions, use.above_s(6000.0)
    (200.0, 100.0, 2.0)
    """
    step_s, speed, start_s = np.diff(time_s), speed_rpm[:-1], time_s[:-1]
    seen = np.isfinite(speed)
    turning = seen & (speed >= RUNNING_RPM)
    turned = np.where(turning, speed / 60.0 * step_s, 0.0)
    inside = (start_s >= 0) & (start_s < end_s)
    lows = (speed[turning] // CLASS_RPM).astype(np.int64) * CLASS_RPM
    classes, place = np.unique(lows, return_inverse=True)
    times = np.bincount(place, weights=step_s[turning], minlength=classes.size)
    return EngineUse(
        revolutions=float(turned.sum()),
        run_revolutions=float(turned[inside].sum()),
        running_s=float(step_s[turning].sum()),
        not_seen_s=float(step_s[~seen].sum()),
        time_by_rpm_s={int(low): float(time) for low, time in zip(classes, times, strict=True)},
    )
