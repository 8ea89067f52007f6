"""Make the demo weekend: the same files, byte for byte, each time.

    python -m passband.demo_logs.make_weekend [FOLDER]

Writes for each run an ECU and a dash log (gzip), and car.toml, runs.toml, expected.json.

Public: `make_run`, `make_weekend`, `main`.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from passband.demo_logs import acts
from passband.demo_logs.dialects import DIALECTS, Dialect, write_log
from passband.demo_logs.drag_car import DragCar
from passband.demo_logs.driver import run
from passband.demo_logs.loggers import Device, Sensor, record
from passband.demo_logs.recording import simulate, true_signals
from passband.demo_logs.sensor_sets import ecu_sensors, make_sensor
from passband.demo_logs.story import Act, Story
from passband.demo_logs.strip import printed_slip
from passband.demo_logs.truth import other_event_truth, run_truth
from passband.demo_logs.weekend_story import BOOST_THRESHOLD_PA, CAR, EVENT, INHG_PA, MPH, RUNS, DemoRun, car_table

FOLDER = Path(__file__).parent / "weekend"
LEAD_S = 6.0
ECU_HZ, DASH_HZ, GPS_HZ, DASH_PPM = 100.0, 50.0, 10.0, 46.0
ECU_CHANNELS = (
    "rpm",
    "tps",
    "map",
    "boost",
    "baro",
    "lam",
    "fuelp",
    "oilp",
    "oilt",
    "clt",
    "clp",
    "iat",
    "egt1",
    "egt2",
    "egt3",
    "egt4",
    "egt5",
    "egt6",
    "ign",
    "duty",
    "fuelf",
    "knock",
    "crank",
    "backp",
    "turbo",
    "cut",
    "strain",
    "gear",
    "dws",
    "batt",
)
"""Engine speed and what else the ECU logs: 30 channels."""
SENSOR_SEED = 90210
"""The same sensors sit in the car all weekend."""


@dataclass(frozen=True, slots=True)
class MadeRun:
    """One run as made."""

    slip: dict[str, Any]
    """The printed slip."""
    expected: dict[str, Any]
    """What a reader should find."""


def _acts(planned: DemoRun, rng: np.random.Generator) -> Any:
    def play(car: DragCar, story: Story) -> Act:
        yield from acts.rest(car, LEAD_S + float(rng.uniform(1.0, 2.0)))
        yield from acts.burnout(car, story, planned.burnout_s)
        yield from acts.rest(car, float(rng.uniform(1.2, 2.2)))
        yield from acts.move_to(car, story, 0.7, 2.8)
        yield from acts.rest(car, float(rng.uniform(0.8, 1.4)))
        yield from run(car, story, planned.plan, rng)
        yield from acts.rest(car, 2.0)

    return play


def _dash_sensors() -> list[Sensor]:
    rng = np.random.default_rng(SENSOR_SEED + 1)
    wheels = [
        make_sensor(
            f"uws_{side}", "imperial", rng, signal="undriven_mps", header=f"Wheel Speed F{side.upper()}", floor=0.7
        )
        for side in "lr"
    ]
    return [
        make_sensor("gps", "imperial", rng, rate_hz=GPS_HZ, hold=True, latency_s=0.118),
        *wheels,
        make_sensor("accx", "imperial", rng, bias=0.14, scale=1.004, header="Accel X"),
        make_sensor("accy", "imperial", rng, bias=-0.08, header="Accel Y"),
        make_sensor("rpm2", "imperial", rng, rate_hz=20.0, hold=True, header="Engine Speed"),
        Sensor("satellites", "sats", "GPS Satellites", "", digits=0, step=1.0),
    ]


def make_run(planned: DemoRun, folder: Path) -> MadeRun:
    """Simulate one run and write its two logs."""
    rng = np.random.default_rng([sum(planned.slug.encode()), 4])
    made = simulate(CAR, planned.day, _acts(planned, rng), lead_s=LEAD_S)
    true = true_signals(made, planned.day, rng)
    end = float(true.time_s[-1]) - 0.5
    ecu = record(
        Device("ecu", ECU_HZ, 0.0, end - 0.4),
        ecu_sensors(ECU_CHANNELS, planned.taste, np.random.default_rng(SENSOR_SEED)),
        true,
        rng,
    )
    dash = record(Device("dash", DASH_HZ, planned.offset_s, end, DASH_PPM), _dash_sensors(), true, rng)
    for name, log, dialect in (("ecu", ecu, planned.ecu_dialect), ("dash", dash, planned.dash_dialect)):
        write_log(folder / f"{planned.slug}_{name}.csv.gz", log, _export(dialect), compress=True)
    facts = made.story.runs()[0]
    truth = run_truth(made, facts, band_rpm=CAR.band_rpm, threshold_pa=BOOST_THRESHOLD_PA)
    slip = printed_slip(truth["splits"], truth["trap_speeds"], planned.plan.reaction_s)
    log_end = float(ecu.time_s[-1])
    return MadeRun(_slip_table(slip), _expected(planned, truth, other_event_truth(made, log_end_s=log_end)))


def _export(name: str) -> Dialect:
    """The dialect with this car's preamble."""
    dialect = DIALECTS[name]
    if name != "preamble":
        return dialect
    return replace(
        dialect, preamble=(f"Car,{CAR.name}", f'Note,"{EVENT}, stored by the box"', "Rate,{rate} Hz", "Rows,{rows}", "")
    )


def _slip_table(slip: dict[str, Any]) -> dict[str, Any]:
    out = {"reaction_s": slip["reaction_s"]}
    out |= {f"t{ft}_s": slip[f"{ft}ft_s"] for ft in (60, 330, 660, 1000, 1320)}
    return out | {f"v{ft}": f"{slip[f'{ft}ft_mph']} mph" for ft in (660, 1320)}


def _expected(planned: DemoRun, truth: dict[str, Any], decoys: list[dict[str, Any]]) -> dict[str, Any]:
    keep = (
        "clock_start",
        "splits",
        "trap_speeds",
        "end_of_run",
        "launch",
        "shifts",
        "power",
        "rpm_band",
        "wheelspin",
        "rev_limiter",
        "rollout_m",
    )
    out = {"label": planned.label, "finds": planned.finds, **{key: truth[key] for key in keep}}
    out["boost"] = {k: truth["boost"][k] for k in ("threshold_kpa", "time_above_s", "max_kpa", "min_after_first_kpa")}
    out["decoys"] = decoys
    out["dash_clock"] = {"offset_s": planned.offset_s, "rate_ppm": DASH_PPM}
    return _rounded(out)


def _rounded(value: Any) -> Any:
    """Numbers to six significant figures, so that the last bit of a processor's arithmetic does not show."""
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_rounded(item) for item in value]
    return float(f"{value:.6g}") if isinstance(value, float) else value


def make_weekend(folder: Path) -> None:
    """Write the whole weekend into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    made = {planned.slug: make_run(planned, folder) for planned in RUNS}
    (folder / "car.toml").write_text(_toml(car_table()), encoding="utf-8", newline="\n")
    runs = [_run_table(planned, made[planned.slug]) for planned in RUNS]
    (folder / "runs.toml").write_text(
        'car = "car.toml"\n\n' + "".join("[[runs]]\n" + _toml(run) + "\n" for run in runs),
        encoding="utf-8",
        newline="\n",
    )
    expected = {planned.slug: made[planned.slug].expected for planned in RUNS}
    (folder / "expected.json").write_text(json.dumps(expected, indent=1) + "\n", encoding="utf-8", newline="\n")


def _run_table(planned: DemoRun, made: MadeRun) -> dict[str, Any]:
    day = planned.day
    air: dict[str, Any] = {
        "temperature": f"{1.8 * day.temperature_k - 459.67:.1f} degF",
        "pressure": f"{day.pressure_pa / INHG_PA:.2f} inHg",
        "relative_humidity": day.relative_humidity,
    }
    if day.wind_mps:
        air["wind"] = f"{day.wind_mps / MPH:g} mph"
    logs = [f"{planned.slug}_ecu.csv.gz", f"{planned.slug}_dash.csv.gz"]
    return {
        "logs": logs,
        "label": planned.label,
        "event": EVENT,
        "round": planned.round,
        "notes": planned.notes,
        "slip": made.slip,
        "air": air,
    }


def _toml(table: dict[str, Any]) -> str:
    """A table as TOML lines; nested tables inline, a list of tables one to a line."""
    lines = []
    for key, value in table.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            lines.append(f"{key} = [\n" + "".join(f"  {_inline(item)},\n" for item in value) + "]")
        else:
            lines.append(f"{key} = {_inline(value)}")
    return "\n".join(lines) + "\n"


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_inline(item)}" for key, item in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_inline(item) for item in value) + "]"
    return json.dumps(value, ensure_ascii=False)


def main(arguments: list[str] | None = None) -> None:
    """Write the weekend."""
    parser = argparse.ArgumentParser(
        prog="python -m passband.demo_logs.make_weekend", description="Make the demo weekend's logs."
    )
    parser.add_argument("folder", nargs="?", type=Path, default=FOLDER)
    make_weekend(parser.parse_args(arguments).folder)


if __name__ == "__main__":
    main()
