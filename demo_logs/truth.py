"""What is true of a simulated drive: the figures that a reader of its logs should find.

Public: `Drive`, `run_truth`, `other_event_truth`, `margin_truth`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from passband.demo_logs.car_specs import CarSpec
from passband.demo_logs.story import Story
from passband.demo_logs.strip import FT, marks_passed, trap_speeds

FloatArray = npt.NDArray[np.float64]
RPM = 30.0 / np.pi
SPIN_MPS, SPIN_RATIO, SPIN_S = 1.5, 0.15, 0.08
"""An episode of wheelspin: slip speed, slip ratio, least length."""


@dataclass(frozen=True, slots=True)
class Drive:
    """One recording's worth of driving. Times from the first row of the ECU log."""

    spec: CarSpec
    """The car."""
    trace: dict[str, FloatArray]
    """Columns of the model at its own, uneven, steps."""
    story: Story
    """What happened."""
    ambient_pa: float
    """Air pressure."""
    air_density: float
    """[kg/m3]"""


class _Run:
    """Arrays of one run, cut from the drive, with distances from the start line."""

    def __init__(self, drive: Drive, facts: dict[str, Any]) -> None:
        t = drive.trace["time_s"]
        first = int(np.searchsorted(t, facts["clutch_release"] - 0.6))
        last = int(np.searchsorted(t, facts["end"] + 1.1))
        self.spec, self.facts = drive.spec, facts
        self.columns = {name: values[first:last] for name, values in drive.trace.items()}
        self.t = self.columns["time_s"]
        self.x = self.columns["distance_m"] - facts["x_line"]
        self.v = self.columns["speed_mps"]
        self.rpm = self.columns["engine_rads"] * RPM
        self.release = facts["clutch_release"]
        moving = self.t > self.release
        self.crossings = marks_passed(self.t[moving], self.x[moving], finish_ft=facts["plan"].finish_ft)
        self.clock_start = self.crossings[0].time_s
        finish = [c.time_s for c in self.crossings if c.at_ft == facts["plan"].finish_ft]
        self.end = float(facts["abort"]) if "abort" in facts else finish[0] if finish else float(facts["end"])

    def at(self, values: FloatArray, time: float) -> float:
        return float(np.interp(time, self.t, values))

    def between(self, start: float, stop: float) -> npt.NDArray[np.bool_]:
        return (self.t >= start) & (self.t <= stop)


def run_truth(
    drive: Drive,
    facts: dict[str, Any],
    *,
    band_rpm: tuple[float, float],
    threshold_pa: float | None,
    stop_s: float | None = None,
) -> dict[str, Any]:
    """Everything true of one run; `stop_s` cuts boost and band where the log ends."""
    run = _Run(drive, facts)
    finish_ft = facts["plan"].finish_ft
    passed = {int(c.at_ft): c.time_s for c in run.crossings[1:] if "abort" not in facts or c.time_s <= run.end}
    marks = {f"{ft}ft": passed.get(ft) for ft in (60, 330, 660, 1000, 1320)}
    traps = trap_speeds(run.t, run.x, finish_ft=finish_ft)
    until = run.end if stop_s is None else min(run.end, stop_s)
    shifts = [_shift(run, s) for s in facts["shifts"] if s["completed"] and s["time_start"] < run.end]
    return {
        "launch": _launch(run),
        "clock_start": run.clock_start,
        "rollout_m": drive.spec.rollout_m,
        "mark_times": marks,
        "splits": {k: None if v is None else v - run.clock_start for k, v in marks.items()},
        "trap_speeds": {f"{ft}ft": traps.get(ft) if marks.get(f"{ft}ft") else None for ft in (660, 1320)},
        "end_of_run": run.end,
        "aborted": "abort" in facts,
        "abort_time": facts.get("abort"),
        "abort_distance_m": run.at(run.x, run.end) if "abort" in facts else None,
        "gear_intervals": _gears(run),
        "shifts": shifts,
        "power": _powers(run, shifts),
        "boost": _boost(run, drive.ambient_pa, threshold_pa, until, shifts),
        "rpm_band": _band(run, band_rpm, until),
        **_extremes(run),
        "rev_limiter": facts["limiter"],
        "lifts": facts["lifts"],
        **_spin(run),
        "arrays": _arrays(run),
    }


def _launch(run: _Run) -> dict[str, Any]:
    moving = np.flatnonzero((run.t > run.release) & (run.v > 0.005))
    locked = run.facts["clutch_locked"]
    shifts = run.facts["shifts"]
    stop = min((locked or run.release + 1.5) + 0.3, shifts[0]["time_start"] if shifts else np.inf)
    return {
        "clutch_release": run.release,
        "first_motion": float(run.t[moving[0]]),
        "clutch_locked": locked,
        "rpm_at_release": _mean(run.t, run.rpm, run.release - 0.2, run.release),
        "rpm_min_after_release": float(run.rpm[run.between(run.release, stop)].min()),
    }


def _mean(t: FloatArray, values: FloatArray, start: float, stop: float) -> float:
    """Time mean between two moments, by the trapezoidal rule."""
    inside = (t > start) & (t < stop)
    times = np.concatenate([[start], t[inside], [stop]])
    return float(np.trapezoid(np.interp(times, t, values), times) / (stop - start))


def _gears(run: _Run) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    start, gear = run.release, 1
    for shift in run.facts["shifts"]:
        if "gear_out" not in shift or shift["gear_out"] > run.end:
            break
        out.append({"gear": gear, "time_start": start, "time_end": shift["gear_out"]})
        start, gear = shift.get("gear_in", run.end), shift["to"]
    out.append({"gear": gear, "time_start": start, "time_end": run.end})
    return out


def _shift(run: _Run, shift: dict[str, Any]) -> dict[str, Any]:
    start, end = shift["time_start"], shift["time_end"]
    spec, c = run.spec, run.columns
    near, during = run.between(start - 0.05, start + 0.05), run.between(start, end)
    after = run.between(start, end + 0.15)
    lowest = int(np.argmin(np.where(after, run.rpm, np.inf)))
    before, after_rpm = run.at(run.rpm, start), float(run.rpm[lowest])
    before_max = max(before, float(run.rpm[near].max()))
    step = spec.gears[shift["to"] - 1] / spec.gears[shift["from"] - 1]
    wheel = run.at(c["wheel_rads"], end) * RPM
    return {
        "time_start": start,
        "time_end": end,
        "completed": True,
        "torque_restored": shift["torque_restored"],
        "from": shift["from"],
        "to": shift["to"],
        "rpm_before": before,
        "rpm_before_max": before_max,
        "rpm_after": after_rpm,
        "rpm_after_time": float(run.t[lowest]),
        "rpm_at_end": run.at(run.rpm, end),
        "rpm_settled": run.at(run.rpm, end + 0.15),
        "rpm_drop": before - after_rpm,
        "rpm_drop_from_max": before_max - after_rpm,
        "rpm_peak_during": float(run.rpm[during].max()),
        "expected_rpm_after": spec.gears[shift["to"] - 1] * spec.final * wheel,
        "rpm_before_times_step": before * step,
        "distance_m": run.at(run.x, start),
        "speed_mps": run.at(run.v, start),
        "missed": shift["missed"],
        "duration_s": end - start,
    }


def _powers(run: _Run, shifts: list[dict[str, Any]]) -> dict[str, Any]:
    c = run.columns
    signals = {
        "flywheel_brake": c["brake_torque_nm"] * c["engine_rads"],
        "clutch_output": c["clutch_torque_nm"] * c["input_rads"],
        "wheel_hub": c["shaft_torque_nm"] * c["wheel_rads"],
        "tractive": c["tire_force_n"] * c["speed_mps"],
    }
    even = np.arange(run.clock_start, run.end, 0.0005)
    shifting = np.zeros(even.size, dtype=bool)
    for shift in shifts:
        shifting |= (even >= shift["time_start"]) & (even <= shift["time_end"])
    out = {}
    for name, values in signals.items():
        power = np.interp(even, run.t, values)
        box = np.convolve(power, np.full(100, 0.01), mode="valid")
        top = int(np.argmax(power))
        out[name] = {
            "avg_w": float(power.mean()),
            "avg_excl_shifts_w": float(power[~shifting].mean()),
            "peak_w": float(power[top]),
            "peak_50ms_w": float(box.max()),
            "peak_time": float(even[top]),
            "peak_rpm": run.at(run.rpm, float(even[top])),
        }
    return out


def _spans(time: FloatArray, holds: npt.NDArray[np.bool_], shortest_s: float = 0.0) -> list[list[float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], holds.astype(int), [0]])))
    pairs = [(float(time[a]), float(time[min(b, time.size - 1)])) for a, b in edges.reshape(-1, 2)]
    return [[a, b] for a, b in pairs if b - a > shortest_s]


def _boost(
    run: _Run, ambient_pa: float, threshold_pa: float | None, until: float, shifts: list[dict[str, Any]]
) -> dict[str, Any] | None:
    if threshold_pa is None:
        return None
    inside = run.between(run.clock_start, until)
    time, boost = run.t[inside], (run.columns["map_pa"][inside] - ambient_pa) / 1e3
    spans = _spans(time, boost >= threshold_pa / 1e3)
    top = int(np.argmax(boost))
    out: dict[str, Any] = {
        "threshold_kpa": threshold_pa / 1e3,
        "time_above_s": float(sum(b - a for a, b in spans)),
        "longest_above_s": max((b - a for a, b in spans), default=0.0),
        "spans": spans,
        "max_kpa": float(boost[top]),
        "max_time": float(time[top]),
        "first_reached_time": spans[0][0] if spans else None,
        "min_after_first_kpa": None,
        "min_after_first_time": None,
        "shift_dips": [],
    }
    if spans:
        later = time >= spans[0][0]
        k = int(np.argmin(np.where(later, boost, np.inf)))
        out["min_after_first_kpa"], out["min_after_first_time"] = float(boost[k]), float(time[k])
    for shift in shifts:
        near = (time >= shift["time_start"]) & (time <= shift["time_end"] + 0.3)
        if near.any():
            k = int(np.argmin(np.where(near, boost, np.inf)))
            out["shift_dips"].append(
                {
                    "from": shift["from"],
                    "to": shift["to"],
                    "min_kpa": float(boost[k]),
                    "boost_at_cut_kpa": float(np.interp(shift["time_start"], time, boost)),
                    "min_time": float(time[k]),
                }
            )
    return out


def _band(run: _Run, band_rpm: tuple[float, float], until: float) -> dict[str, Any]:
    even = np.arange(run.clock_start, until, 0.0005)
    rpm = np.interp(even, run.t, run.rpm)
    low, high = band_rpm
    return {
        "low": low,
        "high": high,
        "under_s": float((rpm < low).sum() * 0.0005),
        "over_s": float((rpm > high).sum() * 0.0005),
        "in_s": float(((rpm >= low) & (rpm <= high)).sum() * 0.0005),
    }


def _extremes(run: _Run) -> dict[str, Any]:
    inside = run.between(run.clock_start, run.end)
    top = int(np.argmax(np.where(inside, run.rpm, -np.inf)))
    return {
        "rpm_max": float(run.rpm[top]),
        "rpm_max_time": float(run.t[top]),
        "speed_at_end_mps": run.at(run.v, run.end),
        "tyre_growth_at_end": run.at(run.columns["radius_m"], run.end) / run.spec.tire.radius_m - 1.0,
        "peak_accel_mps2": float(run.columns["accel_mps2"][inside].max()),
    }


def _spin(run: _Run) -> dict[str, Any]:
    c = run.columns
    inside = run.between(run.release, run.end)
    time = run.t[inside]
    gap = (c["wheel_rads"] * c["radius_m"] - run.v)[inside]
    ratio = gap / np.maximum(run.v[inside], 0.5)
    late = ratio[time > run.release + 0.3]
    return {
        "wheelspin": _spans(time, (gap > SPIN_MPS) & (ratio > SPIN_RATIO), SPIN_S),
        "wheelspin_peak_slip_ratio": float(late.max()) if late.size else 0.0,
    }


def _arrays(run: _Run) -> dict[str, list[float]]:
    even = np.arange(run.release - 0.5, run.end + 1.0, 0.01)
    c = run.columns
    back = np.clip(np.searchsorted(run.t, even, side="right") - 1, 0, run.t.size - 1)

    def sample(values: FloatArray, digits: int) -> list[float]:
        return [round(float(v), digits) for v in np.interp(even, run.t, values)]

    return {
        "time": [round(float(t), 4) for t in even],
        "distance_m": sample(run.x, 4),
        "speed_mps": sample(run.v, 4),
        "accel_mps2": sample(c["accel_mps2"], 3),
        "rpm": sample(run.rpm, 1),
        "gear": [int(g) for g in c["gear"][back]],
        "driven_wheel_speed_mps": sample(c["wheel_rads"] * run.spec.tire.radius_m, 3),
        "map_kpa": sample(c["map_pa"] / 1e3, 2),
        "flywheel_power_w": sample(c["brake_torque_nm"] * c["engine_rads"], 0),
        "tractive_power_w": sample(c["tire_force_n"] * c["speed_mps"], 0),
    }


def other_event_truth(drive: Drive, *, log_end_s: float) -> list[dict[str, Any]]:
    """What else the log holds."""
    return [
        {**event, "inside_ecu_log": event["time_end"] > 0.0 and event["time_start"] < log_end_s}
        for event in drive.story.events
        if event["kind"] != "run"
    ]


def margin_truth(
    time_s: FloatArray, values: FloatArray, logged: FloatArray, limit: dict[str, Any], shifts: list[dict[str, Any]]
) -> dict[str, Any]:
    """How far one signal stayed from its limit, truly and as logged; all in the limit's own unit."""
    worst = np.max if limit["kind"] == "max" else np.min
    side = -1.0 if limit["kind"] == "max" else 1.0
    shifting = np.zeros(time_s.size, dtype=bool)
    for shift in shifts:
        shifting |= (time_s >= shift["time_start"] - 0.05) & (time_s <= shift["time_end"] + 0.2)
    true, seen = float(worst(values)), float(worst(logged)) if logged.size else None
    away = values[~shifting]
    return {
        "kind": limit["kind"],
        "limit": limit["value"],
        "unit": limit["unit"],
        "worst_true": true,
        "worst_true_time": float(time_s[int(np.argmax(values == true))]),
        "worst_true_away_from_shifts": float(worst(away)) if away.size else None,
        "worst_logged": seen,
        "margin_true": side * (true - limit["value"]),
        "margin_logged": None if seen is None else side * (seen - limit["value"]),
        "exceeded_true": side * (true - limit["value"]) < 0,
    }


__all__ = ["Drive", "run_truth", "other_event_truth", "margin_truth", "FT"]
