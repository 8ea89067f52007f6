"""The logs of a run: which columns each device writes, under which names, and how.

Public: `Column`, `Log`, `Written`, `ecu_log`, `dash_log`, `write_log`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from tests.proving.paddock.devices import Dash, Devices, Form
from tests.proving.paddock.drive import FloatArray
from tests.proving.paddock.engine import RAD
from tests.proving.paddock.moving_car import G
from tests.proving.paddock.recording import Recorded
from tests.proving.paddock.sensing import crank_speed, felt_g, filtered, held, late, receiver_speed, tooth_speed

SPEEDS = {"km/h": 3.6, "mph": 1 / 0.44704}
"""Per m/s."""
NAMES = {
    "rpm": ("Engine rpm", "Engine speed", "Crank rpm", "RPM"),
    "tps": ("Throttle", "Throttle position", "Throttle opening"),
    "map": ("Manifold pressure", "Intake manifold pressure"), "oilp": ("Oil pressure", "Engine oil pressure"),
    "clt": ("Coolant temp", "Water temperature"),
    "dws": ("Driven wheel speed", "Rear wheel speed", "Drive wheel speed"),
    "dsh": ("Driveshaft rpm", "Prop shaft speed", "Output shaft speed"),
    "gear": ("Gear", "Gear position", "Current gear"), "cut": ("Shift cut", "Shift cut active"),
    "gps": ("GPS speed", "GPS velocity", "Speed GPS"), "rpm2": ("Engine speed", "RPM", "Engine rpm (bus)"),
    "accx": ("Accel long", "Long accel", "Acceleration X", "G force long"),
}  # fmt: skip
"""What owners call a quantity."""
WHEEL_NAMES = (("Wheel speed {}", "Wheel spd {}"), ("{} wheel speed", "{} wheel"))
CORNERS = {"FL": "front left", "FR": "front right", "RL": "rear left", "RR": "rear right"}
SPAN_S = 0.004
"""Lateness of a counted wheel."""


@dataclass(frozen=True, slots=True)
class Column:
    """One quantity of a log."""

    quantity: str
    """As truth names it."""
    name: str
    unit: str
    values: FloatArray
    """What the device would tell every millisecond, in its unit."""
    step: float
    """Of the last digit."""
    digits: int
    lag_s: float
    """Mean lateness."""
    hz: float
    """So often there may be something new."""


@dataclass(slots=True)
class Log:
    """A device's columns."""

    run: Recorded
    rng: np.random.Generator
    hz: float
    """Rows a second."""
    columns: list[Column] = field(default_factory=list)

    def add(
        self, quantity: str, values: FloatArray, unit: str, form: tuple[float, int, float], *, name: str = "",
        hz: float = 0.0,
    ) -> None:  # fmt: skip
        """A column; `form` is the step of its last digit, its digits and its lag [s]."""
        name = name or NAMES[quantity][self.rng.integers(len(NAMES[quantity]))]
        while any(name == column.name for column in self.columns):
            name += " 2"
        self.columns.append(Column(quantity, name, unit, values, *form[:2], form[2], hz or self.hz))

    def one(self, quantity: str) -> Column:
        """The column of a quantity."""
        return next(column for column in self.columns if column.quantity == quantity)


def ecu_log(run: Recorded, devices: Devices, rng: np.random.Generator) -> tuple[Log, FloatArray]:
    """Columns of the ECU's log, and the engine speed that it sends to a dash."""
    ecu, car, of = devices.ecu, run.driven.spec, run.of
    log = Log(run, rng, ecu.hz)
    late_s = rng.uniform(0.001, 0.006)
    sent = held(run, late(run, crank_speed(run, ecu.degrees), late_s), ecu.inner_hz, rng)
    lag_s = late_s + 0.5 * ecu.degrees / 6 / (0.85 * car.driver.shift_rpm) + 0.5 / ecu.inner_hz
    log.add("rpm", np.maximum(sent + rng.normal(0, 4, sent.size), 0), "rpm", (ecu.step_rpm, 0, lag_s))
    if ecu.gauges:
        _add_gauges(log)
    if ecu.driven:
        counted = held(run, late(run, tooth_speed(run, of["wheel_rads"], ecu.driven), SPAN_S), 100, rng)
        speed = counted * car.tire.radius_m * rng.normal(1, 0.002) * SPEEDS[devices.speeds_in]
        log.add("dws", speed, devices.speeds_in, (0.1, 1, 0.01))
    if ecu.shaft:
        counted = held(run, tooth_speed(run, of["output_rads"] * car.box.final, ecu.shaft), 100, rng)
        log.add("dsh", counted / RAD, "rpm", (1, 0, 0.01))
    if ecu.gear_late_s:
        renewed_hz = 1000 if ecu.gear_late_s < 0.03 else 20
        log.add("gear", held(run, _shifted(of["gear"], ecu.gear_late_s), renewed_hz, rng), "", (1, 0, ecu.gear_late_s))
    if ecu.flag_late_s is not None:
        log.add("cut", _shifted(of["cut"], ecu.flag_late_s), "", (1, 0, ecu.flag_late_s))
    return log, sent


def _shifted(values: FloatArray, by_s: float) -> FloatArray:
    return values[np.maximum(np.arange(values.size) - int(by_s * 1000), 0)]


def _add_gauges(log: Log) -> None:
    run, rng, of, car = log.run, log.rng, log.run.of, log.run.driven.spec
    count = run.time_s.size
    opened = held(run, late(run, of["throttle"], 0.005), 100, rng) * 100
    log.add("tps", np.clip(opened + rng.normal(0, 0.25, count), 0, 100), "%", (0.1, 1, 0.01))
    if car.engine.turbo:
        kpa = late(run, filtered(of["manifold"] * run.driven.day.pressure_kpa, 0.012), 0.004)
        log.add("map", held(run, kpa, 100, rng) + rng.normal(0, 0.5, count), "kPa", (0.1, 1, 0.02))
    if not car.electric:
        oil = 180 + filtered(of["rpm"], 0.15) * 0.045 - 35 * np.maximum(of["felt_mps2"], 0) / G
        log.add("oilp", oil + rng.normal(0, 4, count), "kPa", (1, 0, 0.03))
    log.add("clt", filtered(76 + 0.15 * (run.time_s - run.time_s[0]), 2), "C", (0.5, 1, 1.5))


def dash_log(run: Recorded, devices: Devices, dash: Dash, sent_rpm: FloatArray, rng: np.random.Generator) -> Log:
    """Columns of a dash; names of wheels go through a whole log."""
    log, unit = Log(run, rng, dash.hz), devices.speeds_in
    words = WHEEL_NAMES[rng.integers(2)][rng.integers(2)]
    short = rng.random() < 0.5 and words.startswith("Wheel")
    if dash.receiver:
        _add_receiver(log, dash, unit)
    if dash.free:
        _add_wheels(log, dash, unit, words, short=short)
    if dash.felt_s is not None:
        felt = felt_g(run, dash.felt_s, rng.normal(0, 0.012), rng.normal(1, 0.008), rng)
        log.add("accx", held(run, felt, min(100, dash.hz), rng), "g", (0.01, 2, dash.felt_s))
    if dash.copy_late_s is not None:
        copied = held(run, late(run, sent_rpm, dash.copy_late_s), dash.copy_hz, rng)
        log.add("rpm2", np.maximum(copied, 0), "rpm", (10, 0, 0))
    return log


def _add_receiver(log: Log, dash: Dash, unit: str) -> None:
    run, rng, receiver = log.run, log.rng, dash.receiver
    late_s = rng.uniform(0.02, 0.08)
    late_s = late_s if receiver.late_s is None else receiver.late_s
    speed = held(run, receiver_speed(run, receiver.lag_s, late_s, rng), receiver.hz, rng)
    if receiver.holds_s:
        from_s = float(rng.uniform(2.5, 5.0))
        first, last = np.searchsorted(run.time_s, [from_s, from_s + receiver.holds_s])
        speed[first:last] = speed[first]
    step = 0.1 if rng.random() < 0.5 else 0.01
    log.add("gps", speed * SPEEDS[unit], unit, (step, 2, 0), hz=receiver.hz)


def _add_wheels(log: Log, dash: Dash, unit: str, words: str, *, short: bool) -> None:
    run, rng, body = log.run, log.rng, log.run.driven.spec.body
    scale = float(rng.normal(1, 0.002))
    end = "R" if body.driven == "front" else "F"
    both = [("uws_l", f"{end}L")] if body.two_wheels else [("uws_l", f"{end}L"), ("uws_r", f"{end}R")]
    for quantity, corner in both:
        turning = run.of["free_rads"] * (1 if quantity == "uws_l" else 1.0006)
        speed = late(run, tooth_speed(run, turning, dash.free), SPAN_S) * body.free_m * scale
        name = words.format(corner if short else CORNERS[corner])
        name = "Front wheel speed" if body.two_wheels else name if words.startswith("Wheel") else name.capitalize()
        log.add(quantity, held(run, speed, 100, rng) * SPEEDS[unit], unit, (0.01, 2, 0.01), name=name)


@dataclass(frozen=True, slots=True)
class Written:
    """A log as it lies on the disk."""

    at_s: FloatArray
    """True time of each row, from the release; shape (n,)."""
    of: dict[str, FloatArray]
    """By quantity, what stands there."""
    facts: list[dict[str, Any]]
    """Each sensor's truth."""
    ppm: float
    """What its clock is slow by."""


def write_log(place: Path, log: Log, span_s: Sequence[float], form: Form, *, ppm: float = 0.0) -> Written:
    """Write a log over a span of true time, by a clock that is slow by `ppm`."""
    run, rng, begins_s = log.run, log.rng, span_s[0]
    count = int((span_s[1] - begins_s) * log.hz)
    at_s = begins_s + np.arange(count) / log.hz * (1 + ppm * 1e-6)
    at_s = at_s + (rng.uniform(0, form.jitter, count) / log.hz if form.jitter else 0)
    at_s -= at_s[0] - begins_s
    stamps = (at_s - begins_s) / (1 + ppm * 1e-6) if form.true_stamps else np.arange(count) / log.hz
    last = np.clip(np.searchsorted(run.time_s, at_s, side="right") - 1, 0, run.time_s.size - 1)
    told = {one.quantity: np.round(one.values[last] / one.step) * one.step for one in log.columns}
    cells = [[f"{stamp:.3f}" for stamp in stamps]]
    cells += [[f"{value:.{one.digits}f}" for value in told[one.quantity]] for one in log.columns]
    rows = _heads(log, form) + [form.separator.join(row).replace(".", form.decimal) for row in zip(*cells, strict=True)]
    place.write_text("\n".join(rows) + "\n", encoding="utf-8")
    facts = [{"column": one.name, "quantity": one.quantity, "unit": one.unit, "latency_s": 0, "lag_s": one.lag_s,
              "rate_hz": one.hz} for one in log.columns]  # fmt: skip
    return Written(at_s, told, facts, ppm)


def _heads(log: Log, form: Form) -> list[str]:
    heads = [("Time", "s"), *((one.name, one.unit) for one in log.columns)]
    if form.units == "row":
        return [form.separator.join(part) for part in zip(*heads, strict=True)]
    opens, closes = "[]" if form.units == "brackets" else "()"
    return [form.separator.join(f"{name} {opens}{unit}{closes}" if unit else name for name, unit in heads)]
