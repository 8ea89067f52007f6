"""Where a change of gear truly begins and ends, and engine speed around it.

It begins where the old gear's drive begins to let go: with the foot's lift where the foot lifts, as the drive fades
from there on; else where torque falls, by the cut or the clutch, whichever is first. Behind a converter it begins where
engine speed is highest; where the old gear lets go before the new one holds and the engine flares, with the letting go.

Public: `true_shift`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from tests.proving.paddock.drive import Driven, FloatArray, Shifted
from tests.proving.paddock.engine import RAD

BEGINS, ENGINE_BEGINS, GONE = 0.93, 0.95, 0.5
"""Drive and engine torque over what they were, where they begin to let go; and once they are gone."""
BACK = 0.85
"""The next gear drives again from this share of what it will."""
AFTER_S = 0.150
"""Engine speed after a shift is looked for until so long after its end."""
FLARES_RPM = 80
"""An engine so far above its trend flares."""
_MS = 1e-3


def true_shift(driven: Driven, shift: Shifted) -> dict[str, Any]:
    """One shift with the keys of a case's truth; times from the release."""
    of, box = driven.of, driven.spec.box
    time, rpm = of["time_s"], of["engine_rads"] / RAD
    command, end = int(np.searchsorted(time, shift.begins_s)), int(np.searchsorted(time, shift.locked_s))
    if driven.spec.take_up.kind == "converter":
        begin, peak = _behind_converter(driven, command, end)
        most = float(rpm[peak])
    else:
        begin = command if box.shift == "lift" else _lets_go(driven, command, end)
        most = float(rpm[max(0, begin - 50) : begin + 51].max())
    before, step = float(rpm[begin]), box.ratios[shift.gear] / box.ratios[shift.gear - 1]
    after = float(rpm[begin : min(end + round(AFTER_S / _MS), time.size - 1) + 1].min())
    return {
        "time_start": float(time[begin]), "time_end": float(time[end]),
        "torque_restored": _restored(of["shaft_nm"], time, end),
        "from": shift.gear, "to": shift.gear + 1, "missed": shift.missed, "duration_s": float(time[end] - time[begin]),
        "rpm_before": before, "rpm_before_max": most, "rpm_after": after, "rpm_drop": before - after,
        "rpm_drop_from_max": most - after, "rpm_before_times_step": before * step,
        "expected_rpm_after": float(box.ratios[shift.gear] * box.final * of["wheel_rads"][end] / RAD),
        "distance_m": float(of["way_m"][begin]), "speed_mps": float(of["speed_mps"][begin]),
    }  # fmt: skip


def _last_above(values: FloatArray, level: float) -> int:
    """Place of the last value of at least so much; 0 without one."""
    return int(np.max(np.flatnonzero(values >= level), initial=0))


def _behind_converter(driven: Driven, command: int, end: int) -> tuple[int, int]:
    """Where it begins, and where engine speed is highest."""
    rpm, pull = driven.of["engine_rads"] / RAD, driven.of["pull_nm"]
    peak = command - 20 + int(np.argmax(rpm[command - 20 : end + 20]))
    carried = float(np.mean(pull[command - 30 : command + 1]))
    gone = np.flatnonzero(pull[command : end + 1] < GONE * carried)
    fades = pull[command : command + (int(gone[0]) if gone.size else 0) + 1]
    lets_go = command + _last_above(fades, BEGINS * carried)
    trend = rpm[lets_go] + (rpm[lets_go] - rpm[lets_go - 60]) / 60 * (peak - lets_go)
    return (lets_go if peak > lets_go and rpm[peak] > trend + FLARES_RPM else peak), peak


def _lets_go(driven: Driven, command: int, end: int) -> int:
    """Where the old gear's torque begins to fall, or the engine's before it."""
    of, kind = driven.of, driven.spec.take_up.kind
    drive, engine = of["pull_nm" if kind == "packs" else "gear_nm"], of["engine_nm"]
    carried = float(np.mean(drive[command - 30 : command + 1]))
    gone = np.flatnonzero(drive[command : end + 1] < GONE * carried)
    out = command + (int(gone[0]) if gone.size else end - command)
    begin = command + _last_above(drive[command : out + 1], BEGINS * carried)
    made = float(np.mean(engine[command - 10 : command + 1]))
    if kind != "clutch" or made <= GONE * engine[command - 300 : command].max():
        return begin
    cut = np.flatnonzero(engine[command : out + 1] < GONE * made)
    if not cut.size:
        return begin
    return min(begin, command + _last_above(engine[command : command + cut[0] + 1], ENGINE_BEGINS * made))


def _restored(shaft_nm: FloatArray, time: FloatArray, end: int) -> float:
    """When the next gear drives again as it will a tenth of a second later and on; the end where that is not seen."""
    later = np.mean(shaft_nm[end + 100 : end + 300]) if end + 300 < time.size else np.mean(shaft_nm[end:])
    smooth = np.convolve(shaft_nm, np.ones(50) / 50, "same")
    back = np.flatnonzero(smooth[end : end + 600] > BACK * later)
    return float(time[end + back[0]]) if back.size else float(time[end])
