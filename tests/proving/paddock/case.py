"""A case of the paddock, written as the proving ground writes its own: logs, setup, slip, truth.

python -m tests.proving.paddock.case FOLDER [--seeds 1..2] [--kind NAME NAME ...]

Written by somebody who had seen neither the analysis nor the other simulators, and tidied since: thirty-four owners
with the devices they fit and the habits they have. It shares no line with the others, so that what holds on all of them
is no belief of one. A case's draws are those of its kind and seed alone.

Public: `write_paddock`.
"""

from __future__ import annotations

import argparse
import json
import math
import zlib
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from passband.demo_logs.owner import as_an_owner_knows
from tests.proving.paddock.draw import draw_car
from tests.proving.paddock.drive import Driven, FloatArray, drive
from tests.proving.paddock.engine import RAD
from tests.proving.paddock.kinds import KINDS, Kind
from tests.proving.paddock.logs import Written, dash_log, ecu_log, write_log
from tests.proving.paddock.recording import Recorded, record
from tests.proving.paddock.specs import CarSpec, Day
from tests.proving.paddock.true_run import true_run

MPH = 0.44704
LIMIT_OVER = 1.08
"""An owner's limit of engine speed over the limiter's."""
ROLLING_AT = 0.15
"""Rolling resistance is told for 39 m/s: the square of speed over 100 m/s."""
COPY_LAGS_S = np.arange(-0.05, 0.3, 0.002)
"""What the lag of a copy of engine speed is looked for in."""


def draws_of(kind: str, seed: int) -> np.random.Generator:
    """What a case is drawn from."""
    return np.random.default_rng([zlib.crc32(kind.encode()), seed])


def write_paddock(folder: Path, kind: str, seed: int, *, facts: str = "exact") -> None:
    """Drive one case and write what its devices and its owner tell, and what is true.

    Parameters
    ----------
    folder : Path
        Made if need be.
    kind : str
        One of `KINDS`.
    seed : int
        With the kind it settles every draw.
    facts : str
        ``exact``, or ``owner``: measured ones are off by what an owner's are; logs and truth stay the same.
    """
    rng, told = draws_of(kind, seed), KINDS[kind]
    drawn = draw_car(told.car, rng)
    driven = drive(drawn.car, drawn.day, rng)
    run = record(driven, rng, burnout=told.burnout)
    folder.mkdir(parents=True, exist_ok=True)
    logs = _write_logs(folder, told, run, rng)
    truth = true_run(driven, logs["ecu"].at_s[0])
    setup = _setup(told, driven)
    if facts == "owner":
        setup = as_an_owner_knows(setup, np.random.default_rng([zlib.crc32(kind.encode()), seed, 1]))
    _write(folder / "setup.json", setup | {"case": folder.name})
    _write(folder / "conditions.json", _conditions(told, drawn.day))
    _write(folder / "slip.json", _slip(truth, rng))
    whole = _truth(told, run, truth, logs) | {"case": folder.name, "seed": seed}
    _write(folder / "truth.json", whole)


def _write(place: Path, what: dict[str, Any]) -> None:
    place.write_text(json.dumps(what), encoding="utf-8")


def _write_logs(folder: Path, kind: Kind, run: Recorded, rng: np.random.Generator) -> dict[str, Written]:
    """The ECU's log begins a little after its driver starts it; a dash's whenever it is switched on."""
    begins_s = run.time_s[0] + rng.uniform(0.05, 0.6)
    log, sent_rpm = ecu_log(run, kind.devices, rng)
    ends_s = run.time_s[-1] - rng.uniform(0.02, 0.4)
    written = {"ecu": write_log(folder / "ecu.csv", log, (begins_s, ends_s), kind.devices.ecu.form)}
    if kind.devices.dash:
        written["dash"] = _write_dash(folder, kind, run, (begins_s, ends_s, sent_rpm), rng)
    return written


def _write_dash(
    folder: Path, kind: Kind, run: Recorded, ecu: tuple[float, float, FloatArray], rng: np.random.Generator
) -> Written:
    dash = kind.devices.dash
    assert dash is not None
    ppm = float(rng.normal(0, dash.ppm))
    begins_s = run.time_s[0] + rng.uniform(0.0, 1.5) if rng.random() < 0.5 else ecu[0] + rng.uniform(0, 1.2)
    log = dash_log(run, kind.devices, dash, ecu[2], rng)
    ends_s = min(run.time_s[-1] - 0.02, ecu[1] + rng.uniform(-0.5, 0.3))
    if not run.driven.spec.driver.shuts_off:
        ends_s = max(ends_s, _ends_s(run.driven) + 0.4)
    return write_log(folder / "dash.csv", log, (begins_s, ends_s), dash.form, ppm=ppm)


def _ends_s(driven: Driven) -> float:
    """When the finish is passed; the record's end where it is not."""
    time, way, finish_m = driven.of["time_s"], driven.of["way_m"], driven.spec.strip.finish_m
    return float(np.interp(finish_m, way, time)) if way[-1] > finish_m else float(time[-1])


def _setup(kind: Kind, driven: Driven) -> dict[str, Any]:
    """Facts as they are; efficiency as one figure over the run."""
    car = driven.spec
    body, box, tire, engine = car.body, car.box, car.tire, car.engine
    setup: dict[str, Any] = {
        "ecu_file": "ecu.csv", "mass_kg": round(body.mass_kg), "driven_axle": body.driven,
        "transmission": "automatic" if car.take_up.kind == "converter" else "manual with clutch",
        "gear_ratios": list(box.ratios), "final_drive": box.final, "rpm_band": list(car.driver.band_rpm),
        "tyre_circumference_m": round(2 * math.pi * tire.radius_m, 4), "cda_m2": round(body.drag_area_m2, 3),
        "crr": round(body.rolling[0] + body.rolling[1] * ROLLING_AT, 4),
        "driveline_efficiency": round(driven.books.efficiency if driven.books else box.mesh, 3),
        "engine_inertia_kgm2": round(engine.inertia_kgm2 + box.input_kgm2, 4),
        "wheels_driveline_inertia_kgm2": round(_turning_kgm2(car), 3), "track_length_ft": 1320,
        "limits": [{"quantity": "engine speed", "kind": "max", "value": _limit_rpm(car), "unit": "rpm"}],
    }  # fmt: skip
    if kind.devices.dash:
        setup["dash_file"] = "dash.csv"
    if body.driven != "all":
        setup["undriven_tyre_circumference_m"] = round(2 * math.pi * body.free_m, 4)
    if engine.turbo:
        setup["boost_threshold"] = {"value": engine.turbo.threshold_kpa, "unit": "kPa"}
    return setup


def _turning_kgm2(car: CarSpec) -> float:
    """All wheels and the driveline, at the speed of the driven wheels."""
    free = car.body.free_kgm2 * (car.tire.radius_m / car.body.free_m) ** 2
    return car.tire.inertia_kgm2 + car.box.output_kgm2 + free


def _limit_rpm(car: CarSpec) -> float:
    return float(round(car.engine.limiter_rpm * LIMIT_OVER, -2))


def _conditions(kind: Kind, day: Day) -> dict[str, Any]:
    given = {"air_temperature_c": day.temperature_c, "pressure_kpa": day.pressure_kpa, "humidity_pct": day.humidity_pct}
    return given | ({"wind_mps": round(day.wind_mps, 1)} if kind.wind_told else {})


def _slip(run: dict[str, Any], rng: np.random.Generator) -> dict[str, Any]:
    slip: dict[str, Any] = {"reaction_s": round(float(rng.uniform(0.03, 0.4)), 3)}
    slip |= {f"{mark}_s": round(time, 3) for mark, time in run["splits"].items() if time is not None}
    return slip | {f"{mark}_mph": round(v / MPH, 2) for mark, v in run["trap_speeds"].items() if v is not None}


def _truth(kind: Kind, run: Recorded, true: dict[str, Any], logs: dict[str, Written]) -> dict[str, Any]:
    car, begins_s = run.driven.spec, logs["ecu"].at_s[0]
    return {
        "kind": "good", "expect": kind.told, "runs": [true], "dash_clock": _clock(kind, run, logs),
        "decoys": [
            {"kind": one.kind, "time_start": one.begins_s - begins_s, "time_end": one.ends_s - begins_s,
             "inside_ecu_log": bool(one.begins_s > begins_s)} for one in run.before
        ],
        "margins": {"engine speed": _margin(run.driven, true, logs["ecu"])},
        "sensors": {device: written.facts for device, written in logs.items()},
        "not_given": [], "trouble": list(kind.trouble), "mention_any": list(kind.says), "untrusted": [],
        "untrusted_no_slip": [], "runs_cut_at_ecu_end": None, "air_density_kgm3": run.driven.day.density,
        "car_true": {"auto": car.take_up.kind == "converter", "final": car.box.final, "gears": list(car.box.ratios)},
    }  # fmt: skip


def _margin(driven: Driven, true: dict[str, Any], ecu: Written) -> dict[str, Any]:
    """Engine speed against the owner's limit, as it was and as it was logged."""
    of, limit = driven.of, _limit_rpm(driven.spec)
    pulling = (of["time_s"] > 0) & (of["way_m"] < driven.spec.strip.finish_m)
    worst, log_s = float(of["engine_rads"][pulling].max() / RAD), ecu.at_s - ecu.at_s[0]
    logged = float(ecu.of["rpm"][(log_s > true["clock_start"]) & (log_s < true["end_of_run"])].max())
    return {"kind": "max", "limit": limit, "unit": "rpm", "worst_true": worst, "worst_logged": logged,
            "margin_true": limit - worst, "margin_logged": limit - logged, "exceeded_true": worst > limit}  # fmt: skip


def _clock(kind: Kind, run: Recorded, logs: dict[str, Written]) -> dict[str, Any] | None:
    """The dash's zero on the ECU's clock; a copy of engine speed shows it later by its own lag."""
    if "dash" not in logs:
        return None
    ecu, dash, of_dash = logs["ecu"], logs["dash"], kind.devices.dash
    assert of_dash is not None
    offset_s = float(dash.at_s[0] - ecu.at_s[0])
    clock = {"offset_s": offset_s, "rate_ppm": dash.ppm, "rpm_copy_lag_s": None, "apparent_offset_by_rpm_s": offset_s}
    if of_dash.copy_late_s is None:
        return clock
    used = (dash.at_s > 0.1) & (dash.at_s < _ends_s(run.driven))
    at_s, copied = dash.at_s[used], dash.of["rpm2"][used]
    off = [np.mean((np.interp(at_s - lag_s, ecu.at_s, ecu.of["rpm"]) - copied) ** 2) for lag_s in COPY_LAGS_S]
    lag_s = float(COPY_LAGS_S[int(np.argmin(off))])
    return clock | {"rpm_copy_lag_s": lag_s, "apparent_offset_by_rpm_s": offset_s - lag_s}


def main() -> None:
    """Write some cases to look at, each in a folder of its kind and seed."""
    parser = argparse.ArgumentParser(prog="python -m tests.proving.paddock.case", description=__doc__.splitlines()[0])
    parser.add_argument("into", type=Path, metavar="FOLDER")
    parser.add_argument("--seeds", default="1..1", help="FIRST..LAST, or one")
    parser.add_argument("--kind", nargs="*", choices=[*KINDS], default=[*KINDS], help="all unless told")
    parser.add_argument("--facts", choices=("exact", "owner"), default="exact", help="how the car's facts are given")
    told = parser.parse_args()
    ends = [int(end) for end in told.seeds.split("..")]
    for kind, seed in product(told.kind, range(ends[0], ends[-1] + 1)):
        write_paddock(told.into / f"{kind}_{seed}", kind, seed, facts=told.facts)


if __name__ == "__main__":
    main()
