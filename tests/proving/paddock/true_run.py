"""What truly happened in a run, read off its motion, by the definitions that reviews are held to.

Public: `true_run`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from tests.proving.paddock.drive import Driven, FloatArray
from tests.proving.paddock.engine import RAD
from tests.proving.paddock.true_shifts import true_shift

FT = 0.3048
MARKS_FT = (60, 330, 660, 1000, 1320)
TRAPS_FT, TRAP_FT = (660, 1320), 66
HZ = 1000
BoolArray = npt.NDArray[np.bool_]
MOVES_MPS = 0.03
LOCKED, LOCKED_MS = 0.012, 95
"""The engine turns with its gear to such a share, for so much of a tenth of a second."""
SPINS_MPS, SPINS, SPINS_S = 1.5, 0.15, 0.08
"""Wheelspin: the rim is ahead by so much, and by such a share of its own speed, for longer than that."""


def true_run(driven: Driven, log_begins_s: float) -> dict[str, Any]:
    """Everything true of one run; times from the first row of the ECU's log.

    Parameters
    ----------
    driven : Driven
        The run, its times from the release.
    log_begins_s : float
        The log's first row on that clock.
    """
    of, strip = driven.of, driven.spec.strip
    start = _passes(of, 0.0)
    shuts_off = driven.spec.driver.shuts_off
    end = driven.lifted_s if shuts_off and driven.lifted_s is not None else _passes(of, strip.finish_m)
    assert start is not None and end is not None, "the run never came to its end"
    inside = (of["time_s"] >= start) & (of["time_s"] <= end)
    shifts = [true_shift(driven, one) for one in driven.shifts]
    splits = _splits(of, start, driven.lifted_m if shuts_off else np.inf)
    run = {
        "launch": _launch(driven, min([end, *(shift["time_start"] for shift in shifts)])),
        "clock_start": start, "rollout_m": driven.spec.rollout_m, "splits": splits, "trap_speeds": _traps(of, splits),
        "end_of_run": end, "aborted": shuts_off, "abort_time": end if shuts_off else None,
        "shifts": [shift | {"completed": shift["time_end"] <= end} for shift in shifts if shift["time_start"] < end],
        "power": _powers(of, inside, shifts), "rpm_band": _band(driven, inside), "boost": _boost(driven, inside),
        "rev_limiter": [], "lifts": [] if driven.lifted_s is None else [driven.lifted_s],
        "wheelspin": _wheelspin(of, end), "arrays": _arrays(driven, end),
    }  # fmt: skip
    return _from(run, log_begins_s)


def _passes(of: Mapping[str, FloatArray], way_m: float) -> float | None:
    """When the car is so far from the start line; None if it never is."""
    gone = of["time_s"] >= 0
    return float(np.interp(way_m, of["way_m"][gone], of["time_s"][gone])) if of["way_m"][-1] > way_m else None


def _splits(of: Mapping[str, FloatArray], start: float, until_m: float) -> dict[str, float | None]:
    """Elapsed time at each mark passed under power."""
    passed = {ft: _passes(of, ft * FT) if ft * FT < until_m else None for ft in MARKS_FT}
    return {f"{ft}ft": None if at is None else at - start for ft, at in passed.items()}


def _traps(of: Mapping[str, FloatArray], splits: Mapping[str, float | None]) -> dict[str, float | None]:
    """Mean speed over the 66 ft before a mark, in m/s."""
    traps: dict[str, float | None] = {}
    for ft in TRAPS_FT:
        ends, begins = _passes(of, ft * FT), _passes(of, (ft - TRAP_FT) * FT)
        passed = splits[f"{ft}ft"] is not None and ends is not None and begins is not None
        traps[f"{ft}ft"] = TRAP_FT * FT / (ends - begins) if passed else None
    return traps


def _launch(driven: Driven, until: float) -> dict[str, Any]:
    """Until the first shift begins; an electric car has no clutch to let go."""
    of, rpm, electric = driven.of, driven.of["engine_rads"] / RAD, driven.spec.electric
    time = of["time_s"]
    before, after = (time >= -0.2) & (time < 0), (time >= 0) & (time <= until)
    return {
        "clutch_release": 0.0,
        "first_motion": float(time[np.flatnonzero((of["speed_mps"] > MOVES_MPS) & (time > 0))[0]]),
        "clutch_locked": None if electric or driven.spec.take_up.kind == "converter" else _locked(driven),
        "rpm_at_release": None if electric else float(np.mean(rpm[before])),
        "rpm_min_after_release": None if electric else float(rpm[after].min()),
    }


def _locked(driven: Driven) -> float | None:
    """From when on engine and gearbox turn together for a tenth of a second."""
    of, box = driven.of, driven.spec.box
    rpm = of["engine_rads"] / RAD
    alike = np.abs(rpm - of["output_rads"] * box.ratios[0] * box.final / RAD) < LOCKED * rpm
    lasts = np.convolve(alike, np.ones(100), "full")[99:][: alike.size] >= LOCKED_MS
    from_here = np.flatnonzero(alike & lasts & (of["time_s"] > 0.05))
    return float(of["time_s"][from_here[0]]) if from_here.size else None


def _powers(of: Mapping[str, FloatArray], inside: BoolArray, shifts: list[dict[str, Any]]) -> dict[str, Any]:
    """Means over time, with what shifts carried and without; and the highest 50 ms mean, in W."""
    pulling = inside.copy()
    for shift in shifts:
        until = max(shift["time_end"], shift["torque_restored"])
        pulling &= (of["time_s"] < shift["time_start"]) | (of["time_s"] > until)
    kinds = {
        "flywheel_brake": of["engine_nm"] * of["engine_rads"], "clutch_output": of["gear_nm"] * of["gear_rads"],
        "wheel_hub": of["shaft_nm"] * of["wheel_rads"], "tractive": of["tire_n"] * of["speed_mps"],
    }  # fmt: skip
    return {
        name: {
            "avg_w": float(np.mean(power[inside])), "avg_excl_shifts_w": float(np.mean(power[pulling])),
            "peak_50ms_w": float(np.convolve(power, np.ones(50) / 50, "same")[inside].max()),
        }
        for name, power in kinds.items()
    }  # fmt: skip


def _band(driven: Driven, inside: BoolArray) -> dict[str, float]:
    """Seconds below, in and above the owner's band."""
    low, high = driven.spec.driver.band_rpm
    rpm = (driven.of["engine_rads"] / RAD)[inside]
    below, above = int((rpm < low).sum()), int((rpm > high).sum())
    seconds = {"under_s": below / HZ, "over_s": above / HZ, "in_s": (rpm.size - below - above) / HZ}
    return {"low": low, "high": high, **seconds}


def _boost(driven: Driven, inside: BoolArray) -> dict[str, Any] | None:
    """Gauge boost against the owner's threshold, in kPa."""
    turbo = driven.spec.engine.turbo
    if turbo is None:
        return None
    kpa = (driven.of["manifold"] - 1) * driven.day.pressure_kpa
    spans = _spans(driven.of["time_s"], (kpa > turbo.threshold_kpa) & inside)
    return {
        "threshold_kpa": turbo.threshold_kpa, "spans": spans,
        "time_above_s": float(((kpa > turbo.threshold_kpa) & inside).sum() / HZ),
        "min_after_first_kpa": float(kpa[inside & (driven.of["time_s"] >= spans[0][0])].min()) if spans else None,
    }  # fmt: skip


def _wheelspin(of: Mapping[str, FloatArray], end: float) -> list[list[float]]:
    rim = of["wheel_rads"] * of["radius_m"]
    ahead = rim - of["speed_mps"]
    spins = (ahead > SPINS_MPS) & (ahead > SPINS * np.maximum(rim, 0.1)) & (of["time_s"] > 0) & (of["time_s"] < end)
    return [span for span in _spans(of["time_s"], spins) if span[1] - span[0] > SPINS_S]


def _spans(time: FloatArray, where: BoolArray) -> list[list[float]]:
    """First and last moment of each stretch."""
    change = np.diff(np.concatenate([[0], where.astype(int), [0]]))
    ends = zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1) - 1, strict=True)
    return [[float(time[first]), float(time[last])] for first, last in ends]


def _arrays(driven: Driven, end: float) -> dict[str, list[float]]:
    """The run every 10 ms, from half a second before the release until a second after the end."""
    of, radius = driven.of, driven.spec.tire.radius_m
    shown = np.flatnonzero((of["time_s"] > -0.5) & (of["time_s"] < end + 1))[::10]
    kept = {
        "time": (of["time_s"], 5), "distance_m": (of["way_m"], 4), "speed_mps": (of["speed_mps"], 5),
        "accel_mps2": (of["accel_mps2"], 4), "rpm": (of["engine_rads"] / RAD, 2), "gear": (of["gear"], 0),
        "driven_wheel_speed_mps": (of["wheel_rads"] * radius, 4),
        "flywheel_power_w": (of["engine_nm"] * of["engine_rads"], 0),
        "tractive_power_w": (of["tire_n"] * of["speed_mps"], 0),
    }  # fmt: skip
    return {name: values[shown].round(digits).tolist() for name, (values, digits) in kept.items()}


MOMENTS = ("clutch_release", "first_motion", "clutch_locked", "clock_start", "end_of_run", "abort_time", "time_start",
           "time_end", "torque_restored", "lifts", "wheelspin", "spans", "time")  # fmt: skip
"""Keys of truth that tell when."""


def _from(part: Any, zero: float, *, moment: bool = False) -> Any:
    """The same with every moment counted from another zero."""
    if isinstance(part, dict):
        return {key: _from(value, zero, moment=key in MOMENTS) for key, value in part.items()}
    if isinstance(part, list):
        return [_from(one, zero, moment=moment) for one in part]
    return round(part - zero, 6) if moment and part is not None else part
