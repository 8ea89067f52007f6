"""What truly happened in a run, by the definitions that reviews are held to.

Public: `happened`, `RunTruth`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from tests.proving.independent.coupled_car import RPM, STEP_S, Shifting
from tests.proving.independent.run import FloatArray, Ran

FT = 0.3048
MARKS_FT = (60, 330, 660, 1000, 1320)
TRAP_M = 20.1168
"""66 ft, over which a strip's timing system measures speed."""
EVERY = round(0.01 / STEP_S)
"""Truth is kept every 10 ms."""
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class RunTruth:
    """One run as it was."""

    of: dict[str, Any]
    """With the keys of a case's ``truth.json``."""
    times: dict[int, float]
    """Of each mark passed, powered or not, as the strip's beams see it. [s]"""
    traps: dict[int, float]
    """At 660 and 1320 ft. [m/s]"""


def happened(ran: Ran) -> RunTruth:
    """All that a review of the run is asked for."""
    time, way = ran.of["time_s"], ran.of["distance_m"] - ran.rollout_m
    released = round(ran.release_s / STEP_S)
    start = _crossing(time, way, 0.0, released)
    assert start is not None, "the car never left"
    marks = [ft for ft in MARKS_FT if ft * FT <= ran.spec.drive.finish_m + 0.01]
    passed = {ft: at for ft in marks if (at := _crossing(time, way, ft * FT, released)) is not None}
    traps = {ft: TRAP_M / (passed[ft] - at) for ft in (660, 1320) if ft in passed
             and (at := _crossing(time, way, ft * FT - TRAP_M, released)) is not None}  # fmt: skip
    finish = _crossing(time, way, ran.spec.drive.finish_m, released)
    end = min(at for at in (ran.lifted_s, finish, float(time[-1])) if at is not None)
    inside = (time >= start) & (time <= end)
    shifts = _shifts(ran, end, way)
    timed = {ft: at if at <= end + 1e-9 else None for ft, at in passed.items()}
    of = {
        "launch": _launch(ran),
        "clock_start": start,
        "rollout_m": ran.rollout_m,
        "splits": {f"{ft}ft": at - start if (at := timed.get(ft)) is not None else None for ft in MARKS_FT},
        "trap_speeds": {f"{ft}ft": traps[ft] for ft in traps if timed.get(ft) is not None},
        "end_of_run": end,
        "aborted": ran.lifted_s is not None,
        "abort_time": ran.lifted_s,
        "shifts": shifts,
        "power": _powers(ran, inside, shifts),
        "boost": _boost(ran, inside),
        "rpm_band": _band(ran, inside),
        "wheelspin": _wheelspin(ran, end),
        "rev_limiter": [],
        "lifts": [],
        "speed_at_end_mps": float(np.interp(end, time, ran.of["speed_mps"])),
        "arrays": _arrays(ran, end),
    }
    return RunTruth(of, {ft: at - start for ft, at in passed.items()}, traps)


def _crossing(time: FloatArray, values: FloatArray, level: float, since: int) -> float | None:
    beyond = np.flatnonzero(values[since:] >= level)
    if not beyond.size:
        return None
    at = since + int(beyond[0])
    if at == 0 or values[at] == values[at - 1]:
        return float(time[at])
    return float(time[at - 1] + (level - values[at - 1]) / (values[at] - values[at - 1]) * STEP_S)


def _spans(time: FloatArray, within: BoolArray) -> list[list[float]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], within.astype(int), [0]])))
    return [[float(time[a]), float(time[min(b, time.size - 1)])] for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _launch(ran: Ran) -> dict[str, Any]:
    time, rpm = ran.of["time_s"], ran.of["engine_rads"] * RPM
    before = (time >= ran.release_s - 0.2) & (time < ran.release_s)
    at_release = float(rpm[before].mean())
    return {
        "clutch_release": ran.release_s,
        "first_motion": ran.moved_s,
        "clutch_locked": ran.locked_s if ran.spec.clutch.kind == "foot" else None,
        "rpm_at_release": at_release,
        "rpm_min_after_release": _lowest(ran, at_release),
    }


def _lowest(ran: Ran, at_release_rpm: float) -> float | None:
    """The first low of engine speed after the release, where there is a plain one."""
    time, rpm = ran.of["time_s"], ran.of["engine_rads"] * RPM
    until = min([shift.begins_s for shift in ran.shifts] + [ran.release_s + 3.0])
    pull = rpm[(time >= ran.release_s) & (time <= until)]
    so_far = np.minimum.accumulate(pull)
    up = np.flatnonzero((pull > so_far + 600.0) & (so_far < at_release_rpm - 200.0))
    pull = pull[: up[0]] if up.size else pull  # a dip after it has pulled up again is another
    place = int(np.argmin(pull))
    plain = pull[place] <= at_release_rpm - 200.0 and place >= 0.01 / STEP_S and pull[place:].max() >= pull[place] + 100
    return float(pull[place]) if plain and ran.spec.drive.held_by != "idle" else None


def _shifts(ran: Ran, end: float, way: FloatArray) -> list[dict[str, Any]]:
    out = []
    for shift in ran.shifts:
        assert shift.ends_s is not None
        begins = _begins(ran, shift)
        ends = _ends(ran, shift)
        if begins >= end:
            continue
        restored, ends = _restored(ran, shift, begins, ends) if ends <= end else (ends, ends)
        at = round(begins / STEP_S)
        known = {
            "time_start": begins, "time_end": ends, "torque_restored": restored, "duration_s": ends - begins,
            "from": shift.gear, "to": shift.gear + 1, "missed": shift.missed, "completed": ends <= end,
            "distance_m": float(way[at]), "speed_mps": float(ran.of["speed_mps"][at]),
        }  # fmt: skip
        out.append(known | _speeds(ran, shift, begins, ends))
    return out


def _begins(ran: Ran, shift: Shifting) -> float:
    """Where drive begins to let go; behind a converter where engine speed is highest."""
    rpm, box = ran.of["engine_rads"] * RPM, ran.spec.box
    at, ends = round(shift.begins_s / STEP_S), round((shift.ends_s or 0.0) / STEP_S)
    if ran.spec.clutch.kind == "converter":
        return (at + int(np.argmax(rpm[at : ends + 1]))) * STEP_S
    if box.kind == "overlap":
        return shift.begins_s + box.overlap[0]
    if box.kind == "lever" and not box.lifts:  # the pedal moves before the clutch slips or torque falls
        near = slice(at, at + round(0.2 / STEP_S))
        slips = np.abs(ran.of["engine_rads"][near] - ran.of["input_rads"][near]) > 0.5
        lets_go = slips | (ran.of["engine_nm"][near] < 0.93 * ran.of["engine_nm"][at])
        return (at + int(np.argmax(lets_go))) * STEP_S if lets_go.any() else shift.begins_s
    return shift.begins_s


def _ends(ran: Ran, shift: Shifting) -> float:
    """The engine turns as the new gear does; a clutch may slip on after the gear is in."""
    ends = shift.ends_s or 0.0
    if ran.spec.clutch.kind == "converter":
        return ends
    at = round(ends / STEP_S)
    near = slice(at, at + round(0.45 / STEP_S))
    alike = np.abs(ran.of["engine_rads"][near] - ran.of["input_rads"][near]) < 1.0
    return (at + int(np.argmax(alike))) * STEP_S if alike.any() else ends


def _restored(ran: Ran, shift: Shifting, begins: float, ends: float) -> tuple[float, float]:
    """When the new gear drives again, and the end, which is never before it where spark comes back last."""
    box, drives = ran.spec.box, ran.of["shaft_nm"]
    start, stop, geared = (round(at / STEP_S) for at in (begins, ends, shift.ends_s or ends))
    if box.kind == "lever":
        before = float(np.mean(drives[start - 20 : start - 1])) * box.ratios[shift.gear] / box.ratios[shift.gear - 1]
        low = np.flatnonzero(drives[start:stop] < 0.5 * before)
        return ((start + int(low[-1]) + 1) * STEP_S if low.size else ends), ends
    if box.kind == "sequential":
        torque = ran.of["engine_nm"]
        on = np.flatnonzero(torque[geared : geared + round(0.3 / STEP_S)] > 0.5 * torque[start - 10])
        restored = (geared + int(on[0])) * STEP_S if on.size else ends
        return (restored, ends) if restored <= ends else (shift.ends_s or ends, restored)
    return shift.ends_s or ends, ends


def _speeds(ran: Ran, shift: Shifting, begins: float, ends: float) -> dict[str, Any]:
    time, rpm, box = ran.of["time_s"], ran.of["engine_rads"] * RPM, ran.spec.box
    before = float(rpm[round(begins / STEP_S)])
    most = before if ran.spec.clutch.kind == "converter" else float(rpm[np.abs(time - begins) <= 0.05].max())
    after = float(rpm[(time >= begins) & (time <= ends + 0.15)].min())
    new, old = box.ratios[shift.gear] * box.final, box.ratios[shift.gear - 1] * box.final
    return {
        "rpm_before": before, "rpm_before_max": most, "rpm_after": after, "rpm_drop": before - after,
        "rpm_drop_from_max": most - after, "rpm_before_times_step": before * new / old,
        "expected_rpm_after": float(new * ran.of["wheel_rads"][round(ends / STEP_S)] * RPM),
    }  # fmt: skip


def _powers(ran: Ran, inside: BoolArray, shifts: list[dict[str, Any]]) -> dict[str, Any]:
    time, of, out = ran.of["time_s"], ran.of, {}
    pulling = inside.copy()
    for shift in shifts:
        pulling &= ~((time >= shift["time_start"]) & (time <= shift["time_end"]))
    kinds = {
        "flywheel_brake": of["engine_nm"] * of["engine_rads"], "clutch_output": of["clutch_nm"] * of["engine_rads"],
        "wheel_hub": of["shaft_nm"] * of["wheel_rads"], "tractive": of["tire_n"] * of["speed_mps"],
    }  # fmt: skip
    wide = round(0.05 / STEP_S)
    for name, power in kinds.items():
        summed = np.concatenate([[0.0], np.cumsum(power[inside])])
        out[name] = {
            "avg_w": float(power[inside].mean()), "avg_excl_shifts_w": float(power[pulling].mean()),
            "peak_w": float(power[inside].max()), "peak_50ms_w": float(((summed[wide:] - summed[:-wide]) / wide).max()),
        }  # fmt: skip
    return out


def _band(ran: Ran, inside: BoolArray) -> dict[str, Any]:
    low, high = ran.spec.band_rpm
    rpm = (ran.of["engine_rads"] * RPM)[inside]
    counts = {"under_s": rpm < low, "in_s": (rpm >= low) & (rpm <= high), "over_s": rpm > high}
    return {"low": low, "high": high} | {name: float(which.sum()) * STEP_S for name, which in counts.items()}


def _boost(ran: Ran, inside: BoolArray) -> dict[str, Any] | None:
    if not ran.spec.engine.boost_kpa:
        return None
    gauge, threshold = ran.of["map_kpa"] - ran.day.pressure_kpa, ran.spec.engine.threshold_kpa
    above = (gauge > threshold) & inside
    spans = _spans(ran.of["time_s"], above)
    out = {"threshold_kpa": threshold, "time_above_s": float(above.sum()) * STEP_S, "spans": spans,
           "max_kpa": float(gauge[inside].max())}  # fmt: skip
    if spans:
        first = spans[0][0]
        out |= {
            "first_reached_time": first,
            "min_after_first_kpa": float(gauge[inside & (ran.of["time_s"] >= first)].min()),
        }
    return out


def _wheelspin(ran: Ran, end: float) -> list[list[float]]:
    """Where the rim is faster than the car by 15 % and 1.5 m/s for more than 80 ms."""
    tire, time = ran.spec.tire, ran.of["time_s"]
    straight = ran.of["wheel_rads"] * tire.radius_m
    rim = straight * (1.0 + tire.growth * (straight / 80.0) ** 2)
    sliding = rim - ran.of["speed_mps"]
    spinning = (sliding > 1.5) & (sliding > 0.15 * rim) & (time >= ran.release_s) & (time <= end)
    return [span for span in _spans(time, spinning) if span[1] - span[0] > 0.08]


def _arrays(ran: Ran, end: float) -> dict[str, Any]:
    shown = slice(round((ran.release_s - 0.5) / STEP_S), round(min(end + 0.5, ran.of["time_s"][-1]) / STEP_S), EVERY)
    of = {name: ran.of[name][shown] for name in ("time_s", "gear", "speed_mps", "engine_rads")}
    return {
        "time": [round(float(at), 4) for at in of["time_s"]], "gear": [int(gear) for gear in of["gear"]],
        "speed_mps": [round(float(speed), 3) for speed in of["speed_mps"]],
        "rpm": [round(float(rads) * RPM, 1) for rads in of["engine_rads"]],
    }  # fmt: skip
