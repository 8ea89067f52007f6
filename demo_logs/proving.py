"""Proving ground: write cases of simulated drives with known truth.

    python -m passband.demo_logs.proving OUTDIR --seeds 1..3 [--kind NAME ...] [--sensors usual|wide]
        [--facts exact|owner] [--model first|second] [--list]

One folder a case: ecu.csv, perhaps dash.csv and gps.csv, setup.json, conditions.json, slip.json, truth.json.

Public: `KINDS`, `plan_case`, `write_case`, `main`.
"""

from __future__ import annotations

import argparse
import json
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from passband.demo_logs import acts as around
from passband.demo_logs.car_models import MODELS
from passband.demo_logs.case_plans import PLAIN, SPARSE, CasePlan
from passband.demo_logs.dialects import DIALECTS, write_log
from passband.demo_logs.drag_car import DragCar
from passband.demo_logs.driver import run as drive_run
from passband.demo_logs.loggers import UNITS, Device, Recording, TrueSignals, copy_lag_s, record
from passband.demo_logs.owner import as_an_owner_knows
from passband.demo_logs.recording import simulate, true_signals
from passband.demo_logs.sensor_ranges import SETS
from passband.demo_logs.sensor_sets import dash_sensors, ecu_sensors, gps_sensors
from passband.demo_logs.story import Act, Story
from passband.demo_logs.strip import printed_slip
from passband.demo_logs.trouble_plans import TROUBLES
from passband.demo_logs.troubles import SPOIL
from passband.demo_logs.truth import Drive, margin_truth, other_event_truth, run_truth

KINDS = {**PLAIN, **TROUBLES, **SPARSE}
"""All kinds of case, by name."""
RATE_IS_THE_POINT = ("gps_1_hz", "gps_5_hz", "gps_25_hz")
"""Kinds whose GPS rate stays what their name says, whatever set the sensors are of."""
FACTS = ("exact", "owner")
"""How the car's facts are given: as they are, or as a careful owner knows them, who gives no wind either."""
LEAD_S = 6.0
"""The model starts so long before the ECU log's first row, so that a dash may start first."""
FORMULA = (
    "t_ecu = offset_s + t_dash * (1 + rate_ppm*1e-6); t_dash = seconds since the first row of dash.csv by the dash "
    "clock; t_ecu = seconds since the first row of ecu.csv"
)
LIMITS: dict[str, tuple[str, str, str, str]] = {
    "engine speed": ("rpm", "engine_speed", "rpm", "max"),
    "oil pressure": ("oilp", "oil_pressure", "kPa", "min"),
    "fuel pressure": ("fuelp", "fuel_pressure", "kPa", "min"),
    "coolant temperature": ("clt", "coolant_temperature", "degC", "max"),
    "injector duty": ("duty", "injector_duty", "%", "max"),
    "boost pressure": ("boost", "boost", "kPa", "max"),
    "lambda": ("lam", "lambda", "lambda", "max"),
    "battery voltage": ("batt", "battery", "V", "min"),
    "intake air temperature": ("iat", "intake_temperature", "degC", "max"),
}
"""Limit: sensor, signal, unit, side."""


def acts_of(plan: CasePlan, rng: np.random.Generator) -> Any:
    """The acts of a plan, for `simulate`."""

    def acts(car: DragCar, story: Story) -> Act:
        yield from around.rest(car, LEAD_S + plan.wait_s)
        if plan.burnout_s:
            yield from around.burnout(car, story, plan.burnout_s)
            yield from around.rest(car, float(rng.uniform(1.0, 3.0)))
        if plan.false_start_m:
            yield from around.false_start(car, story, plan.false_start_m)
            yield from around.rest(car, 2.0)
        if not plan.runs:
            yield from around.return_road(car, story, 8.0)
        for number, run in enumerate(plan.runs):
            if number:
                yield from around.return_road(car, story, plan.return_s or 10.0)
                yield from around.rest(car, 4.0)
            yield from around.move_to(car, story, float(rng.uniform(0.5, 0.9)), float(rng.uniform(2.5, 4.0)))
            if plan.bumps:
                yield from around.bump_in(car, story, plan.bumps)
            yield from around.rest(car, float(rng.uniform(0.6, 1.6)))
            yield from drive_run(car, story, run, rng)
        if plan.return_s:
            yield from around.return_road(car, story, plan.return_s)
        yield from around.rest(car, plan.after_s + 2.0)

    return acts


def plan_case(kind: str, seed: int, *, sensors: str = "usual", model: str = "first") -> CasePlan:
    """The plan of a kind for a seed, with sensors of a set and a model of the car; the same seed gives the same."""
    rng = np.random.default_rng([seed, zlib.crc32(kind.encode())])
    plan = replace(KINDS[kind](rng), sensors=sensors, model=model)
    rates = [rate for rate in SETS[sensors]["gps"].rate_hz if plan.dash_hz and plan.dash_hz % rate == 0]
    if not rates or kind in RATE_IS_THE_POINT:
        return plan
    return replace(plan, dash={**plan.dash, "gps_hz": float(rng.choice(rates))})


def write_case(
    folder: Path, plan: CasePlan, seed: int, *, facts: str = "exact", device_seed: int | None = None
) -> None:
    """Simulate a plan and write its folder, the car's facts given as one of `FACTS`.

    Two seeds with one `device_seed` are two drives with the same loggers and sensors.
    """
    if facts == "owner":
        plan = replace(plan, not_given=(*plan.not_given, "wind"))
    rng = np.random.default_rng([seed, 77])
    made = simulate(plan.car, plan.day, acts_of(plan, rng), lead_s=LEAD_S, model=plan.model)
    true = true_signals(made, plan.day, rng)
    devices = rng if device_seed is None else np.random.default_rng([device_seed, 79])
    logs = _record(plan, made, true, rng, devices)
    if plan.dash_of_another_run:
        other = simulate(plan.car, plan.day, acts_of(plan, rng), lead_s=LEAD_S, model=plan.model)
        logs["dash"] = _record(plan, other, true_signals(other, plan.day, rng), rng, devices)["dash"]
    spoilt: dict[str, Any] = {}
    for name in plan.spoil:
        spoilt |= SPOIL[name](logs, made, rng) or {}
    if "restart_s" in spoilt:
        made = _from(made, spoilt["restart_s"])
        true = replace(true, time_s=true.time_s - spoilt["restart_s"])
        for log in logs.values():
            log.device = replace(log.device, start_s=log.device.start_s - spoilt["restart_s"])
    folder.mkdir(parents=True, exist_ok=True)
    dialects = {"ecu": plan.ecu_dialect, "dash": plan.dash_dialect, "gps": "brackets"}
    for name, log in logs.items():
        write_log(folder / f"{name}.csv", log, DIALECTS[dialects[name]])
    if not plan.runs:
        _put(folder / "setup.json", _setup(plan, folder.name, logs))
        _put(folder / "truth.json", {"case": folder.name, "kind": plan.truth_kind, "expect": plan.says, "mention": []})
        return
    truth = _truth(plan, made, logs, true, seed) | spoilt
    setup = _setup(plan, folder.name, logs)
    if facts == "owner":
        setup = as_an_owner_knows(setup, np.random.default_rng([seed, zlib.crc32(folder.name.encode())]))
    _put(folder / "setup.json", setup)
    _put(folder / "conditions.json", _conditions(plan))
    if plan.slip:
        slips = truth["slips"]
        _put(folder / "slip.json", slips[0] if len(slips) == 1 else {"runs": slips})
    _put(folder / "truth.json", {"case": folder.name, **truth})


def _from(made: Drive, start_s: float) -> Drive:
    """The same drive with its clock's zero at `start_s`: times count from the part of the log that holds the run."""
    timed = (
        "time_start",
        "time_end",
        "clutch_release",
        "clutch_locked",
        "finish",
        "end",
        "abort",
        "lock_up",
        "gear_out",
        "gear_in",
        "torque_restored",
    )

    def earlier(fact: dict[str, Any]) -> dict[str, Any]:
        out = {key: value - start_s if key in timed and value is not None else value for key, value in fact.items()}
        if "shifts" in fact:
            out["shifts"] = [earlier(shift) for shift in fact["shifts"]]
            out |= {
                key: [[a - start_s, b - start_s] for a, b in fact[key]] for key in ("lifts", "limiter") if key in fact
            }
        return out

    trace = {**made.trace, "time_s": made.trace["time_s"] - start_s}
    return replace(made, trace=trace, story=Story([earlier(event) for event in made.story.events]))


def _put(path: Path, what: Any) -> None:
    path.write_text(json.dumps(what, default=float, indent=None if path.name == "truth.json" else 1), encoding="utf-8")


def _record(
    plan: CasePlan, made: Drive, true: TrueSignals, rng: np.random.Generator, devices_rng: np.random.Generator
) -> dict[str, Recording]:
    end = float(true.time_s[-1]) - 0.4
    ecu_end = end - float(rng.uniform(0, 0.8))
    if plan.ecu_stops_before_finish_s:
        ecu_end = made.story.runs()[-1]["finish"] - plan.ecu_stops_before_finish_s
    ranges = SETS[plan.sensors]
    devices = {
        "ecu": (Device("ecu", plan.ecu_hz, 0.0, ecu_end), ecu_sensors(plan.ecu, plan.taste, devices_rng, ranges))
    }
    if plan.dash_hz:
        sensors = dash_sensors(devices_rng, ranges, taste=plan.taste, **plan.dash)
        devices["dash"] = (
            Device("dash", plan.dash_hz, plan.offset_s, end - float(rng.uniform(0, 1)), plan.ppm),
            sensors,
        )
    if plan.gps_box_hz:
        start = plan.offset_s / 2 + 0.7
        devices["gps"] = (
            Device("gps", plan.gps_box_hz, start, end - 0.5, -plan.ppm),
            gps_sensors(devices_rng, ranges, taste="metric", gps_hz=plan.gps_box_hz),
        )
    return {
        name: record(device, [replace(s, noise=s.noise * plan.noise) for s in sensors], true, rng)
        for name, (device, sensors) in devices.items()
    }


def _conditions(plan: CasePlan) -> dict[str, Any]:
    day = plan.day
    out = {
        "air_temperature_c": round(day.temperature_k - 273.15, 1),
        "pressure_kpa": round(day.pressure_pa / 1e3, 1),
        "humidity_pct": round(100 * day.relative_humidity),
    }
    if day.wind_mps and "wind" not in plan.not_given:
        out["wind_mps"] = day.wind_mps
    return out


def _limits(plan: CasePlan) -> list[dict[str, Any]]:
    spec, have = plan.car, set(plan.ecu)
    bounds = {
        "engine speed": spec.engine.limiter_rpm + 180.0,
        "oil pressure": 250.0,
        "fuel pressure": 200.0,
        "coolant temperature": 105.0,
        "injector duty": 90.0,
        "lambda": 0.92,
        "battery voltage": 12.5,
        "boost pressure": round(spec.engine.boost_pa / 1e3 + 14.0),
        "intake air temperature": 70.0,
    }
    out = []
    for name, (sensor, _, unit, kind) in LIMITS.items():
        if name == "boost pressure" and not spec.engine.boost_pa:
            continue
        if sensor in have or (sensor == "boost" and "map" in have):
            out.append({"quantity": name, "kind": kind, "value": bounds[name], "unit": unit})
    return out


def _setup(plan: CasePlan, case: str, logs: dict[str, Recording]) -> dict[str, Any]:
    spec = plan.car
    out: dict[str, Any] = {
        "case": case,
        "ecu_file": "ecu.csv",
        "dash_file": "dash.csv" if "dash" in logs else None,
        "mass_kg": spec.mass_kg,
        "driven_axle": spec.driven,
        "gear_ratios": list(spec.gears),
        "final_drive": spec.final,
        "transmission": {"foot": "manual with clutch", "lever": "clutchless", "converter": "automatic"}[spec.shifting],
        "tyre_circumference_m": round(spec.tire_circumference_m, 3),
        "cda_m2": spec.drag_area_m2,
        "crr": spec.rolling,
        "driveline_efficiency": spec.efficiency,
        "engine_inertia_kgm2": round(spec.engine.inertia_kgm2, 4),
        "wheels_driveline_inertia_kgm2": round(spec.wheel_inertia_kgm2, 2),
        "rpm_band": list(spec.band_rpm),
        "track_length_ft": int(plan.finish_ft),
        "stoich_afr": 14.7,
        "limits": _limits(plan),
    }
    if spec.driven != "all":
        out["undriven_tyre_circumference_m"] = round(spec.undriven_circumference_m, 3)
    if spec.engine.boost_pa:
        out["boost_threshold"] = {"value": round(spec.engine.boost_pa * 0.72 / 1e4) * 10.0, "unit": "kPa"}
    out = {key: value for key, value in out.items() if key not in plan.not_given}
    return out | {key: round(out[key] * factor, 4) for key, factor in plan.setup_changes.items()}


def _truth(plan: CasePlan, made: Drive, logs: dict[str, Recording], true: TrueSignals, seed: int) -> dict[str, Any]:
    ecu = logs["ecu"]
    threshold = round(plan.car.engine.boost_pa * 0.72 / 1e4) * 1e4 if plan.car.engine.boost_pa else None
    log_end = float(ecu.true_time()[-1])
    known = {"band_rpm": plan.car.band_rpm, "threshold_pa": threshold}
    facts = made.story.runs()
    runs = [run_truth(made, fact, **known) for fact in facts]
    covers = [run["end_of_run"] <= log_end for run in runs]
    cut = None
    if not all(covers):
        cut = [
            None if ok else {k: run_truth(made, fact, **known, stop_s=log_end)[k] for k in ("boost", "rpm_band")}
            for ok, fact in zip(covers, facts, strict=True)
        ]
    slips = [
        printed_slip(run["splits"], run["trap_speeds"], fact["plan"].reaction_s)
        for run, fact in zip(runs, facts, strict=True)
    ]
    features = plan.says + (" (automatic)" if plan.car.shifting == "converter" else "")
    return {
        "kind": plan.truth_kind,
        "expect": features,
        "features": features,
        "dialect": DIALECTS[plan.ecu_dialect].says,
        "seed": seed,
        "mention": list(plan.mention),
        "time_base": "seconds since the first row of ecu.csv, ECU clock (taken as perfect)",
        "runs": runs,
        "runs_cut_at_ecu_end": cut,
        "dash_clock": _clock(logs),
        "ecu_log_end": log_end,
        "ecu_covers_finish": covers,
        "air_density_kgm3": made.air_density,
        "decoys": other_event_truth(made, log_end_s=log_end),
        "margins": _margins(plan, ecu, runs[0], true),
        "slip_given": plan.slip,
        "slips": slips,
        "sensors": {name: [_sensor_fact(s, log) for s in log.sensors] for name, log in logs.items()},
        "file_damage": {name: log.damage for name, log in logs.items()},
        "not_given": list(plan.not_given),
        "car_true": _car_facts(plan),
        "trouble": list(plan.trouble),
        "mention_any": list(plan.mention_any),
        "untrusted": list(plan.untrusted),
        "untrusted_no_slip": list(plan.untrusted_no_slip),
        "events": {k: fact[k] for fact in facts for k in ("lock_up", "lifts", "limiter", "shake") if fact.get(k)},
    }


def _sensor_fact(sensor: Any, log: Recording) -> dict[str, Any]:
    return {
        "column": sensor.header,
        "quantity": sensor.quantity,
        "unit": sensor.unit,
        "latency_s": sensor.latency_s,
        "lag_s": sensor.lag_s,
        "rate_hz": sensor.rate_hz or log.device.rate_hz,
        "tooth": sensor.tooth,
    }


def _clock(logs: dict[str, Recording]) -> dict[str, Any] | None:
    if "dash" not in logs:
        return None
    device = logs["dash"].device
    out: dict[str, Any] = {
        "offset_s": device.start_s,
        "rate_ppm": device.ppm,
        "formula": FORMULA,
        "rpm_copy_lag_s": None,
        "apparent_offset_by_rpm_s": device.start_s,
    }
    ecu = next(s for s in logs["ecu"].sensors if s.quantity == "rpm")
    copy = next((s for s in logs["dash"].sensors if s.quantity == "rpm2"), None)
    if copy is not None:
        lag = copy_lag_s(ecu, copy, min(copy.rate_hz or device.rate_hz, device.rate_hz))
        out |= {"rpm_copy_lag_s": lag, "apparent_offset_by_rpm_s": device.start_s - lag}
    return out


def _margins(plan: CasePlan, ecu: Recording, run: dict[str, Any], true: TrueSignals) -> dict[str, Any]:
    out, even = {}, true.time_s
    start, stop = run["clock_start"], min(run["end_of_run"], float(ecu.true_time()[-1]))
    inside = (even >= start) & (even <= stop)
    rows = (ecu.true_time() >= start) & (ecu.true_time() <= stop)
    have = {sensor.quantity: k for k, sensor in enumerate(ecu.sensors)}
    for limit in _limits(plan):
        name, signal, unit, _ = LIMITS[limit["quantity"]]
        less = 0.0
        if name not in have:
            name, less = "map", plan.day.pressure_pa
        scale, offset = UNITS[unit]
        sensor_scale, sensor_offset = UNITS[ecu.sensors[have[name]].unit]
        seen = ecu.columns[have[name]][rows]
        logged = ((seen[np.isfinite(seen)] - sensor_offset) / sensor_scale - less) * scale + offset
        out[limit["quantity"]] = margin_truth(
            even[inside], true.of[signal][inside] * scale + offset, logged, limit, run["shifts"]
        )
    return out


def _car_facts(plan: CasePlan) -> dict[str, Any]:
    spec = plan.car
    return {
        "mass": spec.mass_kg,
        "gears": list(spec.gears),
        "final": spec.final,
        "drive": spec.driven,
        "r0": spec.tire.radius_m,
        "growth": spec.tire.growth,
        "r_u": spec.undriven_radius_m,
        "Je": spec.engine.inertia_kgm2,
        "CdA": spec.drag_area_m2,
        "Crr": spec.rolling,
        "eta": spec.efficiency,
        "limiter": spec.engine.limiter_rpm,
        "launch_rpm": spec.launch_rpm,
        "turbo": spec.engine.boost_pa > 0,
        "auto": spec.shifting == "converter",
        "p_atm": plan.day.pressure_pa / 1e3,
        "wind_mps": plan.day.wind_mps,
    }


def _seeds(text: str) -> list[int]:
    first, _, last = text.partition("..")
    return list(range(int(first), int(last or first) + 1))


def main(arguments: list[str] | None = None) -> None:
    """Write the cases asked for."""
    parser = argparse.ArgumentParser(
        prog="python -m passband.demo_logs.proving", description="Write simulated drives with known truth."
    )
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--seeds", default="1", help="one, or first..last")
    parser.add_argument("--kind", action="append", choices=sorted(KINDS), help="as often as wanted; all unless given")
    parser.add_argument("--sensors", default="usual", choices=sorted(SETS), help="the set that sensors are drawn from")
    parser.add_argument("--facts", default="exact", choices=FACTS, help="how the car's facts are given")
    parser.add_argument("--model", default="first", choices=sorted(MODELS), help="what moves the car")
    parser.add_argument("--list", action="store_true", help="print the kinds")
    asked = parser.parse_args(arguments)
    if asked.list or asked.folder is None:
        print("\n".join(KINDS))
        return
    for kind in asked.kind or KINDS:
        for seed in _seeds(asked.seeds):
            plan = plan_case(kind, seed, sensors=asked.sensors, model=asked.model)
            write_case(asked.folder / f"{kind}_{seed}", plan, seed, facts=asked.facts)


if __name__ == "__main__":
    main()
