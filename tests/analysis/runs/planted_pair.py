"""Two runs integrated from a law of motion, one of them with a planted fault: what comparisons are tested on."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl

from passband.analysis.given.car import Slip
from passband.analysis.runs.compared_run import ComparedRun, prepare_run
from tests.analysis.sparse_review import read

FOOT_M = 0.3048
"""The international foot of 1959, exact."""

MARKS_FT = (60, 330, 660, 1000, 1320)
POWER_MPS3 = 180.0
"""Power over mass of the planted car. [W/kg]"""
LAUNCH_MPS2 = 9.0
"""What its tires hold. [m/s2]"""


def pull(speed: float) -> float:
    """Constant power behind a tire's limit."""
    return min(LAUNCH_MPS2, POWER_MPS3 / max(speed, 1e-3))


def planted_run(
    label: str = "base",
    *,
    fault: Callable[[float, float], float] = lambda at_m, speed: 1.0,
    shifts: tuple[tuple[int, float, float], ...] = ((1, 40.0, 0.05), (2, 150.0, 0.05)),
    slip: bool = True,
    stop_m: float = 402.336,
    told: dict[str, object] | None = None,
) -> ComparedRun:
    """A run of constant power; `fault` is the share of the pull that is left; a shift (gear left, metre, s) takes all.

    Integrated at 0.2 ms by the midpoint, so that its time is its own to a microsecond.
    """
    step, time, gone, speed = 0.0002, 0.0, 0.0, 0.0
    rows, changes, waiting, cut_until = [(0.0, 0.0, 0.0)], [], list(shifts), -1.0
    while gone < stop_m + 3.0:
        if waiting and gone >= waiting[0][1]:
            gear, _, long = waiting.pop(0)
            cut_until = time + long
            changes.append({"from_gear": gear, "to_gear": gear + 1, "time_s": time, "end_s": cut_until,
                            "duration_s": long, "distance_m": gone, "kind": "normal",
                            "rpm_before": {"value": 8000.0, "plus_minus": 10.0}})  # fmt: skip
        share = 0.0 if time < cut_until else fault(gone, speed)
        middle = speed + 0.5 * step * share * pull(speed)
        gone, speed = gone + step * middle, speed + step * share * pull(middle)
        time += step
        rows.append((time, gone, speed))
    table = np.array(rows)[::10]
    passed = {ft: float(np.interp(ft * FOOT_M, table[:, 1], table[:, 0])) for ft in MARKS_FT if ft * FOOT_M <= stop_m}
    finished = 1320 in passed
    review = {
        "run": {"label": label}, "car": {"name": "planted"},
        "window": {"outcome": "quarter" if finished else "aborted", "log_clock_start_s": 0.0, "distance_m": stop_m,
                   "log_finish_s": passed.get(1320, float(table[-1, 0]))},
        "distance": {"splits": [
            {"at_ft": ft, "time_s": {"value": at, "plus_minus": 0.004}, "speed_mps": {"value": 1.0, "plus_minus": 0.03}}
            for ft, at in passed.items()
        ]},
        "gears": {"intervals": [{"gear": 1, "start_s": 0.0, "end_s": 1.0}]},
        "launch": {"clutch_locked_s": 0.9}, "shifts": changes,
    }  # fmt: skip
    names = ("time_s", "distance_m", "speed_mps")
    frame = pl.DataFrame({name: table[:, place] for place, name in enumerate(names)})
    printed = Slip(**{f"t{ft}_s": round(at, 3) for ft, at in passed.items()}) if slip else None
    return prepare_run(read({**review, **(told or {})}), frame, label=label, slip=printed)


def true_time(run: ComparedRun, at_m: float) -> float:
    """When the planted run came by a place, to the microsecond."""
    return float(np.interp(at_m, run.distance_m, run.time_s))
