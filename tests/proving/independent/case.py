"""A case of the independent simulator, written as the proving ground writes its own: logs, setup, slip, truth.

python -m tests.proving.independent.case FOLDER [--seeds 1..2] [--kind NAME ...]

Written by somebody who had seen neither the analysis nor `demo_logs`, and tidied since: its couplings, tire, boxes,
sensors and cars share no line with them. Widths that hold on both need not be beliefs of either.

Public: `write_independent`, `KINDS`.
"""

from __future__ import annotations

import argparse
import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from passband.demo_logs.owner import as_an_owner_knows
from tests.proving.independent.coupled_car import G
from tests.proving.independent.devices import Fit, sense
from tests.proving.independent.happened import RunTruth, happened
from tests.proving.independent.kinds import KINDS, TROUBLES, Draw, draw_car
from tests.proving.independent.run import Ran, drive
from tests.proving.independent.specs import Day

NAMES = {
    "rpm": "Engine Speed", "rpm2": "Engine RPM", "tps": "Throttle Position", "map": "Manifold Pressure",
    "cut": "Shift Cut", "dws": "Driven Wheel Speed", "dsh": "Driveshaft Speed", "gps": "GPS Speed",
    "accx": "Longitudinal Acceleration",
}  # fmt: skip

AT_THE_FLYWHEEL = ["average power at the flywheel", "the same without shifts", "peak power"]
"""Figures that nobody can know of a belt drive, whose ratio no log shows."""


@dataclass(frozen=True, slots=True)
class Device:
    """A logger."""

    fits: tuple[Fit, ...]
    start_s: float
    """Its own zero on the ECU's clock."""
    ppm: float
    """What its clock is slow by, parts in a million."""
    jitter_s: float
    """Of its stamps."""


def write_independent(folder: Path, kind: str, seed: int, *, facts: str = "exact") -> None:
    """Simulate one case and write it; with `facts` of an owner measured ones are off by what theirs are."""
    rng = np.random.default_rng([list(KINDS).index(kind), seed, 20])
    day, spec = _day(Draw(rng)), draw_car(kind, rng)
    ran = drive(spec, day, rng)
    run = happened(ran)
    devices = _devices(ran, kind, rng)
    folder.mkdir(parents=True, exist_ok=True)
    sensors = {name: _write_log(folder / f"{name}.csv", ran, device, rng) for name, device in devices.items()}
    setup = _setup(ran, run, kind, with_dash="dash" in devices)
    if facts == "owner":
        setup = as_an_owner_knows(setup, rng)
    _write(folder / "setup.json", setup | {"case": folder.name})
    _write(folder / "conditions.json", _conditions(day, rng))
    slip = _slip(run, rng) if ran.lifted_s is None else None
    if slip is not None:
        _write(folder / "slip.json", slip)
    _write(folder / "truth.json", _truth(ran, run, kind, devices, sensors) | {"case": folder.name, "seed": seed})


def _write(place: Path, what: dict[str, Any]) -> None:
    place.write_text(json.dumps(what, indent=1), encoding="utf-8")


def _day(u: Draw) -> Day:
    """Air by Magnus' formula for water's vapor and the gas laws (both from memory)."""
    temperature, kpa, humidity = u(8, 36), u(93, 102.5), u(0.15, 0.85)
    vapor = humidity * 0.61094 * math.exp(17.625 * temperature / (temperature + 243.04))
    kelvin = temperature + 273.15
    density = (1e3 * (kpa - vapor) / 287.055 + 1e3 * vapor / 461.52) / kelvin
    wind, sign = u(0, 3.5), 1.0 if u(0, 1) < 0.5 else -1.0
    charge = (kpa - vapor) / 99.0 * (298.15 / kelvin) ** 0.6
    grade = u(-0.005, 0.005) if u(0, 1) < 0.5 else 0.0
    return Day(temperature, kpa, humidity, density, charge, sign * wind, u(0.2, 0.9), grade)


def _devices(ran: Ran, kind: str, rng: np.random.Generator) -> dict[str, Device]:
    u = Draw(rng)
    ecu_hz = float(rng.choice([20, 25, 50, 100, 100, 200]))
    ecu = [*_ecu_fits(ran, ecu_hz, rng), *([] if kind in ("ecu_alone", "slow_receiver") else _driven_fit(ecu_hz, rng))]
    if kind == "ecu_alone":
        ecu += (
            [_wheel("uws_l", ecu_hz, "km/h", rng)]
            if u(0, 1) < 0.5
            else [Fit("dws", ecu_hz, "km/h", 0.01, teeth=24, over=2)]
        )
        return {"ecu": Device(tuple(ecu), 0.0, 0.0, 0.0)}
    dash_hz = float(rng.choice([20, 25, 50, 100]))
    dash = _dash_fits(ran, dash_hz, slow=kind == "slow_receiver", rng=rng)
    start_s = u(-12, 1.5) if u(0, 1) < 0.85 else -u(100, 600)
    return {
        "ecu": Device(tuple(ecu), 0.0, 0.0, float(rng.choice([0.0, 0.0, 0.0008]))),
        "dash": Device(tuple(dash), start_s, u(-150, 150), float(rng.choice([0.0, 0.001, 0.003]))),
    }


def _ecu_fits(ran: Ran, rate_hz: float, rng: np.random.Generator) -> list[Fit]:
    u = Draw(rng)
    teeth = int(rng.choice([12, 36, 60, 60]))
    over = int(rng.choice({12: [3, 6, 12], 36: [6, 12, 36], 60: [10, 30, 60]}[teeth]))
    fits = [
        Fit("rpm", rate_hz, "rpm", u(0.001, 0.012), float(rng.choice([0, 0.004, 0.012])), teeth=teeth, over=over,
            held_s=float(rng.choice([0, 0.005, 0.01])), noise=u(1, 6), step=float(rng.choice([1, 1, 5, 10]))),
        Fit("tps", rate_hz, "%", 0.004),
    ]  # fmt: skip
    if ran.spec.engine.boost_kpa:
        fits.append(Fit("map", rate_hz, str(rng.choice(["kPa", "bar", "psi", "mbar"])), 0.004, u(0.008, 0.04)))
    if ran.spec.box.kind == "sequential" and u(0, 1) < 0.5:
        fits.append(Fit("cut", rate_hz, "", 0.004))
    return fits


def _driven_fit(rate_hz: float, rng: np.random.Generator) -> list[Fit]:
    u = Draw(rng)
    lot = u(0, 1)
    if lot < 0.6:
        unit = str(rng.choice(["km/h", "mph", "rpm"]))
        teeth, over = int(rng.choice([12, 24, 44, 48])), int(rng.choice([1, 2, 4]))
        return [Fit("dws", rate_hz, unit, u(0.002, 0.02), teeth=teeth, over=over, noise=0.0008)]
    if lot < 0.88:
        teeth, over = int(rng.choice([4, 8, 16, 24])), int(rng.choice([1, 2]))
        return [Fit("dsh", rate_hz, "rpm", u(0.002, 0.02), teeth=teeth, over=over, noise=0.0008)]
    return []


def _wheel(quantity: str, rate_hz: float, unit: str, rng: np.random.Generator) -> Fit:
    teeth = int(rng.choice([4, 8, 12, 24, 48]))
    return Fit(
        quantity, rate_hz, unit, float(rng.uniform(0.003, 0.03)), float(rng.choice([0, 0.01, 0.02])), teeth=teeth,
        over=min(teeth, int(rng.choice([1, 2, 4]))), noise=0.0008, scale=1.0 + float(rng.normal(0.0, 0.003)),
    )  # fmt: skip


def _dash_fits(ran: Ran, rate_hz: float, *, slow: bool, rng: np.random.Generator) -> list[Fit]:
    u = Draw(rng)
    unit = str(rng.choice(["km/h", "mph", "km/h", "m/s"]))
    gps_hz = float(rng.choice([1, 5])) if slow else float(rng.choice([5, 10, 10, 25]))
    gps_hz = gps_hz if rate_hz % gps_hz == 0.0 else 5.0
    fits = [Fit("gps", gps_hz, unit, u(0.05, 0.3), u(0.02, 0.12), noise=u(0.02, 0.07))]
    if ran.spec.body.driven != "all" and not slow:
        left = _wheel("uws_l", rate_hz, str(rng.choice([unit, unit, "Hz"])), rng)
        fits.append(left)
        if u(0, 1) < 0.5 and ran.spec.body.mass_kg > 350.0:
            fits.append(Fit("uws_r", rate_hz, left.unit, left.late_s, left.filter_s, teeth=left.teeth, over=left.over,
                            noise=left.noise, scale=left.scale * (1.0 + float(rng.normal(0.0, 0.001)))))  # fmt: skip
    if u(0, 1) < (0.5 if slow else 0.75):
        fits.append(Fit("accx", rate_hz, "g", u(0.002, 0.02), u(0.01, 0.04), int(rng.choice([1, 2])),
                        noise=u(0.1, 0.8), scale=float(rng.normal(0.0, 0.02))))  # fmt: skip
    held_s, step = float(rng.choice([0.01, 0.02, 0.05])), float(rng.choice([1, 10, 25]))
    fits.append(Fit("rpm2", rate_hz, "rpm", u(0.01, 0.06), u(0, 0.02), over=60, held_s=held_s, noise=2.0, step=step))
    return fits


def _header(fit: Fit, ran: Ran) -> str:
    end = "Rear" if ran.spec.body.driven == "front" else "Front"
    name = {"uws_l": f"{end} Left Wheel Speed", "uws_r": f"{end} Right Wheel Speed"}.get(fit.quantity) or NAMES[
        fit.quantity
    ]
    return f"{name} [{fit.unit}]" if fit.unit else name


def _write_log(place: Path, ran: Ran, device: Device, rng: np.random.Generator) -> list[dict[str, Any]]:
    """A row each tick of the fastest channel; slower ones leave cells empty. Returns each sensor's truth."""
    base_hz, per = max(fit.rate_hz for fit in device.fits), 1.0 + 1e-6 * device.ppm
    count = int((ran.of["time_s"][-1] - float(rng.uniform(0.1, 0.6)) - device.start_s) / per * base_hz)
    own = np.arange(count) / base_hz
    stamps = own + np.concatenate([[0.0], rng.uniform(-device.jitter_s, device.jitter_s, count - 1)])
    columns, facts = [[f"{stamp:.4f}" for stamp in stamps]], []
    for fit in device.fits:
        every = round(base_hz / fit.rate_hz)
        sensed = sense(ran, fit, device.start_s + own[::every] * per, rng)
        cells = [""] * count
        cells[::every] = [f"{value:.{sensed.digits}f}" for value in sensed.values]
        columns.append(cells)
        facts.append({"column": _header(fit, ran), "quantity": fit.quantity, "unit": fit.unit, "latency_s": fit.late_s,
                      "lag_s": sensed.lag_s, "rate_hz": fit.rate_hz})  # fmt: skip
    head = ["Time [s]", *(fact["column"] for fact in facts)]
    place.write_text("\n".join(",".join(row) for row in [head, *zip(*columns, strict=True)]) + "\n", encoding="utf-8")
    return facts


def _setup(ran: Ran, run: RunTruth, kind: str, *, with_dash: bool) -> dict[str, Any]:
    """Facts as they are; efficiency and rolling resistance as one figure each over the run."""
    spec, of = ran.spec, ran.of
    body, box, tire = spec.body, spec.box, spec.tire
    inside = (of["time_s"] >= run.of["clock_start"]) & (of["time_s"] <= run.of["end_of_run"])
    pulling = inside & (of["throttle"] > 0.5) & (of["engine_nm"] > 0.0)
    efficiency = 1.0 - of["gear_loss_w"][pulling].sum() / max(of["input_w"][pulling].sum(), 1.0)
    rolling = of["rolling_w"][inside].sum() / (body.mass_kg * G * of["speed_mps"][inside].sum())
    free = 0.0 if body.driven == "all" else body.undriven_inertia_kgm2 * (tire.radius_m / body.undriven_m) ** 2
    setup: dict[str, Any] = {
        "ecu_file": "ecu.csv", "mass_kg": body.mass_kg, "driven_axle": body.driven,
        "transmission": "automatic" if spec.clutch.kind == "converter" else "manual with clutch",
        "gear_ratios": list(box.ratios), "final_drive": box.final,
        "tyre_circumference_m": 2.0 * math.pi * tire.radius_m, "cda_m2": body.drag_area_m2, "crr": float(rolling),
        "driveline_efficiency": round(min(float(efficiency), 0.99), 4),
        "engine_inertia_kgm2": spec.engine.inertia_kgm2 + box.inertias_kgm2[0],
        "wheels_driveline_inertia_kgm2": tire.inertia_kgm2 + box.inertias_kgm2[1] + free,
        "rpm_band": list(spec.band_rpm), "track_length_ft": round(spec.drive.finish_m / 0.3048), "limits": [],
    }  # fmt: skip
    if with_dash:
        setup["dash_file"] = "dash.csv"
    if body.driven != "all":
        setup["undriven_tyre_circumference_m"] = 2.0 * math.pi * body.undriven_m
    if box.kind == "belt":
        del setup["gear_ratios"], setup["final_drive"]
    if spec.engine.boost_kpa:
        setup["boost_threshold"] = {"value": spec.engine.threshold_kpa, "unit": "kPa"}
    return setup


def _conditions(day: Day, rng: np.random.Generator) -> dict[str, Any]:
    given = {"air_temperature_c": round(day.temperature_c, 1), "pressure_kpa": round(day.pressure_kpa, 2),
             "humidity_pct": round(100 * day.humidity)}  # fmt: skip
    wind = round(day.wind_mps + float(rng.normal(0.0, 0.5)), 1)
    return given | ({"wind_mps": wind} if rng.uniform() < 0.5 else {})


def _slip(run: RunTruth, rng: np.random.Generator) -> dict[str, Any]:
    slip: dict[str, Any] = {"reaction_s": round(float(rng.uniform(0.02, 0.35)), 3)}
    slip |= {f"{ft}ft_s": round(time, 3) for ft, time in run.times.items()}
    return slip | {f"{ft}ft_mph": round(speed / 0.44704, 2) for ft, speed in run.traps.items()}


def _truth(
    ran: Ran, run: RunTruth, kind: str, devices: dict[str, Device], sensors: dict[str, list[dict[str, Any]]]
) -> dict[str, Any]:
    clock = None
    if "dash" in devices:
        lags = [
            next(f["lag_s"] for f in sensors[name] if f["quantity"] == what)
            for name, what in (("dash", "rpm2"), ("ecu", "rpm"))
        ]
        start_s, late_s = devices["dash"].start_s, lags[0] - lags[1]
        clock = {"offset_s": start_s, "rate_ppm": devices["dash"].ppm, "rpm_copy_lag_s": late_s,
                 "apparent_offset_by_rpm_s": start_s - late_s}  # fmt: skip
    belt = ran.spec.box.kind == "belt"
    return {
        "kind": "good", "expect": (KINDS[kind].__doc__ or "").strip(), "runs": [run.of], "dash_clock": clock,
        "decoys": ran.before, "margins": {}, "sensors": sensors, "not_given": ["gear_ratios"] if belt else [],
        "trouble": [KINDS[kind].__doc__] if kind in TROUBLES else [], "mention_any": list(ran.spec.says),
        "untrusted": AT_THE_FLYWHEEL if belt else [], "untrusted_no_slip": [], "runs_cut_at_ecu_end": None,
        "air_density_kgm3": ran.day.density,
        "car_true": {"auto": ran.spec.clutch.kind == "converter", "final": ran.spec.box.final,
                     "gears": [] if belt else list(ran.spec.box.ratios)},
    }  # fmt: skip


def _seeds(text: str) -> range:
    first, _, last = text.partition("..")
    return range(int(first), int(last or first) + 1)


def main() -> None:
    """Write the cases asked for."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.proving.independent.case", description=__doc__.splitlines()[0]
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seeds", default="1", help="one, or first..last")
    parser.add_argument("--kind", action="append", choices=sorted(KINDS), help="as often as wanted; all unless given")
    parser.add_argument("--facts", default="exact", choices=("exact", "owner"))
    asked = parser.parse_args()
    for kind in asked.kind or KINDS:
        for seed in _seeds(asked.seeds):
            write_independent(asked.folder / f"{kind}_{seed}", kind, seed, facts=asked.facts)


if __name__ == "__main__":
    main()
