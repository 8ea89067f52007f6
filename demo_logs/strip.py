"""The strip: where the marks are, when the car passed them, the timing slip, the air.

Public: `Crossing`, `MARKS_FT`, `marks_passed`, `trap_speeds`, `printed_slip`, `air_density`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
FT = 0.3048
"""International foot, exact. [m]"""
MPH = 0.44704
"""Mile per hour, exact. [m/s]"""
MARKS_FT = (60, 330, 660, 1000, 1320)
TRAP_FT = 66.0
"""Length of the speed trap before the 660 and 1320 ft marks."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """When the front tire passed a distance from the start line."""

    at_ft: float
    """Distance."""
    time_s: float
    """On the trace's clock."""


def _time_at(time_s: FloatArray, distance_m: FloatArray, at_m: float) -> float | None:
    """First time a distance is reached; None where it never is."""
    if distance_m[-1] < at_m:
        return None
    k = int(np.argmax(distance_m >= at_m))
    if k == 0:
        return float(time_s[0])
    step = distance_m[k] - distance_m[k - 1]
    share = (at_m - distance_m[k - 1]) / step if step > 0 else 1.0
    return float(time_s[k - 1] + share * (time_s[k] - time_s[k - 1]))


def marks_passed(time_s: FloatArray, distance_m: FloatArray, *, finish_ft: float) -> list[Crossing]:
    """Start line (0 ft), then the marks up to the finish, as far as the car came."""
    wanted = [0.0] + [float(ft) for ft in MARKS_FT if ft <= finish_ft]
    times = [(ft, _time_at(time_s, distance_m, ft * FT)) for ft in wanted]
    return [Crossing(ft, time) for ft, time in times if time is not None]


def trap_speeds(time_s: FloatArray, distance_m: FloatArray, *, finish_ft: float) -> dict[int, float]:
    """Mean speed over the last 66 ft before 660 and 1320 ft (1000 ft where that is the finish), m/s."""
    out: dict[int, float] = {}
    for ft in (660, 1320):
        if ft > finish_ft:
            continue
        a, b = _time_at(time_s, distance_m, (ft - TRAP_FT) * FT), _time_at(time_s, distance_m, ft * FT)
        if a is not None and b is not None and b > a:
            out[ft] = TRAP_FT * FT / (b - a)
    return out


def printed_slip(splits: dict[str, float | None], traps: dict[str, float | None], reaction_s: float) -> dict[str, Any]:
    """The slip as the strip prints it: times to a millisecond, speeds to a hundredth of a mile per hour."""
    out: dict[str, Any] = {"reaction_s": round(reaction_s, 3)}
    out |= {f"{name}_s": round(time, 3) for name, time in splits.items() if time is not None}
    out |= {f"{name}_mph": round(speed / MPH, 2) for name, speed in traps.items() if speed is not None}
    return out


def air_density(temperature_k: float, pressure_pa: float, relative_humidity: float) -> float:
    """Density of moist air. [kg/m3] Ideal gases; saturation by Magnus' formula (coefficients of WMO No. 8)."""
    celsius = temperature_k - 273.15
    vapour = relative_humidity * 611.2 * math.exp(17.62 * celsius / (243.12 + celsius))
    return (pressure_pa - vapour) / (287.055 * temperature_k) + vapour / (461.495 * temperature_k)
