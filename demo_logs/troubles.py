"""What spoils logs: each function changes recordings in place and returns what the truth should add.

Public: `SPOIL`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passband.demo_logs.loggers import Recording
from passband.demo_logs.truth import Drive

FloatArray = npt.NDArray[np.float64]
Logs = dict[str, Recording]
Spoiler = Callable[[Logs, Drive, np.random.Generator], dict[str, Any] | None]


def _run_window(made: Drive) -> tuple[float, float]:
    facts = made.story.runs()[0]
    return facts["clutch_release"], facts["end"]


def gps_gap(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """The GPS falls silent for one to two seconds in the middle of the run: blank cells, or its last value held."""
    log = logs["dash"]
    start, stop = _run_window(made)
    gap = float(rng.uniform(1.0, 2.0))
    first = start + float(rng.uniform(0.35, 0.6)) * (stop - start)
    times = log.true_time()
    lost = (times >= first) & (times < first + gap)
    column = log.columns[log.find("gps")]
    column[lost] = np.nan if rng.random() < 0.6 else column[int(np.argmax(lost)) - 1]
    for k, sensor in enumerate(log.sensors):
        if sensor.quantity == "sats":
            log.columns[k] = np.where(lost, 2.0, log.columns[k])
    log.damage.append(f"no GPS from {first:.2f} s for {gap:.2f} s")
    return {}


def askew(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """The dash is mounted turned about its upright axis and nose up."""
    log = logs["dash"]
    turn, tilt = float(rng.uniform(12, 24)) * rng.choice([-1, 1]), float(rng.uniform(4, 10))
    x, y = log.columns[log.find("accx")], log.columns[log.find("accy")]
    g = 1.0 if log.sensors[log.find("accx")].unit == "g" else 9.80665
    a, b = np.radians(turn), np.radians(tilt)
    log.columns[log.find("accx")] = np.round((x * np.cos(a) + y * np.sin(a)) * np.cos(b) + g * np.sin(b), 3)
    log.columns[log.find("accy")] = np.round(y * np.cos(a) - x * np.sin(a), 3)
    log.damage.append(f"accelerometer turned by {turn:.0f} and tilted by {tilt:.0f} degrees")
    return {}


def swapped(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """What is called X points sideways."""
    log = logs["dash"]
    x, y = log.find("accx"), log.find("accy")
    log.columns[x], log.columns[y] = log.columns[y], log.columns[x]
    log.damage.append("accelerometer axes swapped")
    return {}


def turned(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """X points backwards."""
    log = logs["dash"]
    x = log.find("accx")
    log.columns[x] = -log.columns[x]
    log.damage.append("accelerometer sign turned")
    return {}


def wrong_wheel(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """The undriven wheels are scaled by another tire."""
    log = logs["dash"]
    factor = float(rng.choice([0.92, 0.95, 1.05, 1.08]))
    for side in ("uws_l", "uws_r"):
        k = log.find(side)
        log.columns[k] = np.round(log.columns[k] * factor, log.sensors[k].digits)
    log.damage.append(f"undriven wheels read {factor:.2f} of the truth")
    return {"wheel_factor": factor}


def wrong_driven(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """The driven wheel's speed in the ECU log is scaled by another tire."""
    log = logs["ecu"]
    factor = float(rng.choice([0.9, 0.94, 1.07]))
    k = log.find("dws")
    log.columns[k] = np.round(log.columns[k] * factor, log.sensors[k].digits)
    log.damage.append(f"driven wheel reads {factor:.2f} of the truth")
    return {}


def ignition_noise(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """Doubles, halves, losses and a burst in engine speed, one of them inside a shift."""
    log = logs["ecu"]
    rpm = log.columns[log.find("rpm")]
    times = log.true_time()
    start, stop = _run_window(made)
    places = list(rng.uniform(start + 0.5, stop, 7))
    shifts = [s for s in made.story.runs()[0]["shifts"] if s["completed"]]
    places += [s["time_start"] + 0.5 * (s["time_end"] - s["time_start"]) for s in shifts[:2]]
    for number, at in enumerate(places):
        k = int(np.searchsorted(times, at))
        n = int(rng.integers(1, max(2, round(0.03 * log.device.rate_hz))))
        factor = (2.0, 0.5, 0.0, 1.5)[number % 4]
        rpm[k : k + n] = np.round(rpm[k : k + n] * factor)
    first = int(np.searchsorted(times, start + 0.7 * (stop - start)))
    n = max(3, round(0.12 * log.device.rate_hz))
    rpm[first : first + n] = np.round(rpm[first : first + n] * rng.choice([1.0, 2.0, 0.5, 1.33], n))
    stage = (times > start - 1.2) & (times < start - 0.2)
    wild = stage & (rng.random(times.size) < 0.06)
    rpm[wild] = np.round(rpm[wild] * 2.0)
    log.damage.append("ignition noise in engine speed")
    return {}


def copy_noise(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """The dash's copy of engine speed has dropouts."""
    log = logs["dash"]
    column = log.columns[log.find("rpm2")]
    column[rng.random(column.size) < 0.004] = 0.0
    log.damage.append("dropouts in the dash's engine speed")
    return {}


def restarted(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """The ECU log stops before staging and starts again: its time begins anew, some seconds are lost."""
    log = logs["ecu"]
    release = made.story.runs()[0]["clutch_release"]
    cut = release - float(rng.uniform(3.0, 4.5))
    lost = float(rng.uniform(0.4, 1.2))
    first = int(np.searchsorted(log.time_s, cut))
    again = int(np.searchsorted(log.time_s, cut + lost))
    keep = np.concatenate([np.arange(first), np.arange(again, log.time_s.size)])
    shown = log.time_s[keep].copy()
    shown[first:] -= log.time_s[again]
    log.shown_time_s = shown
    log.columns = [column[keep] for column in log.columns]
    log.time_s = log.time_s[keep]
    log.damage.append(f"log restarted at {cut:.2f} s, {lost:.2f} s lost")
    return {"restart_s": float(log.time_s[first])}


def dropouts(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """Engine speed falls to zero for long stretches: no shift, and no guess."""
    log = logs["ecu"]
    rpm = log.columns[log.find("rpm")]
    times = log.true_time()
    start, stop = _run_window(made)
    for at in rng.uniform(start + 0.5, stop - 0.3, 6):
        length = float(rng.choice([0.0, 0.03, 0.1, 0.25]))
        rpm[(times >= at) & (times <= at + length + 1.0 / log.device.rate_hz)] = 0.0
    log.damage.append("engine speed drops to zero")
    return {}


def worn_row(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """A dead lambda: a flat line."""
    log = logs["ecu"]
    k = log.find("lam")
    log.columns[k] = np.full(log.columns[k].size, 1.0)
    log.damage.append("lambda stuck")
    return {}


def shared_header(logs: Logs, made: Drive, rng: np.random.Generator) -> dict[str, Any]:
    """Two columns of one name."""
    log = logs["ecu"]
    log.sensors.append(replace(log.sensors[log.find("clt")], quantity="double"))
    log.columns.append(log.columns[log.find("clt")].copy())
    return {}


SPOIL: dict[str, Spoiler] = {
    "gps_gap": gps_gap, "askew": askew, "swapped": swapped, "turned": turned, "wrong_wheel": wrong_wheel,
    "wrong_driven": wrong_driven, "ignition_noise": ignition_noise, "copy_noise": copy_noise, "restarted": restarted,
    "dropouts": dropouts, "worn_row": worn_row, "shared_header": shared_header,
}  # fmt: skip
"""By name."""
