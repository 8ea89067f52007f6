"""A simulated case as a crew would hand it in: logs, car, slips, air. And the reviews of it.

Public: `Case`, `Answer`, `make_case`, `load_case`, `review_case`, `INDEPENDENT`, `PADDOCK`, `KINDS_OF`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from passband.analysis.channels.log import Log, NoRunInLog
from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.reading import read_log
from passband.analysis.results.review import Review
from passband.analysis.review import review
from passband.analysis.widths.calibrated import Widths
from passband.analysis.widths.table import CALIBRATED
from passband.demo_logs.proving import LIMITS, plan_case, write_case
from tests.proving.independent.case import write_independent
from tests.proving.independent.kinds import KINDS as INDEPENDENT_KINDS
from tests.proving.paddock.case import write_paddock
from tests.proving.paddock.kinds import KINDS as PADDOCK_KINDS

DEVICES = ("ecu", "dash", "gps")
INDEPENDENT, PADDOCK = "independent", "paddock"
"""Models that have kinds and sensors of their own (`tests.proving.independent`, `tests.proving.paddock`)."""
KINDS_OF: Mapping[str, tuple[str, ...]] = {INDEPENDENT: tuple(INDEPENDENT_KINDS), PADDOCK: tuple(PADDOCK_KINDS)}
"""By model; no two have a kind of one name."""
_WRITES: Mapping[str, Callable[..., None]] = {INDEPENDENT: write_independent, PADDOCK: write_paddock}
AS_TOLD = {
    "gear_ratios": "gear_ratios", "final_drive": "final_drive", "mass_kg": "mass", "driven_axle": "driven_axle",
    "tyre_circumference_m": "tire_circumference", "undriven_tyre_circumference_m": "undriven_tire_circumference",
    "cda_m2": "drag_area", "crr": "rolling_resistance", "driveline_efficiency": "driveline_efficiency",
    "engine_inertia_kgm2": "engine_inertia", "wheels_driveline_inertia_kgm2": "wheel_inertia", "rpm_band": "rpm_band",
}  # fmt: skip
"""Key of a case's setup to the car's own; all in SI already."""


@dataclass(frozen=True, slots=True)
class Case:
    """One case, read."""

    name: str
    """Kind and seed."""
    logs: tuple[tuple[Log, ...], ...]
    """One for each device, the ECU's first."""
    car: Car
    """As given, which a trouble may make wrong; without the rollout."""
    slips: tuple[Slip, ...]
    """One a run; none where the case has none."""
    air: Air | None
    """The day's, where a case tells it."""
    finish_ft: int
    """Where the finish is."""
    truth: dict[str, Any]
    """What happened."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a case."""

    reviews: tuple[Review, ...]
    """One a run."""
    refusal: str
    """Why there is none; else empty."""
    timed: bool
    """With a slip."""


def make_case(
    folder: Path, kind: str, seed: int, *, noise: float = 1.0, ecu_hz: float | None = None, sensors: str = "usual",
    facts: str = "exact", model: str = "first",
) -> Case:  # fmt: skip
    """Simulate a case of a kind, its noise, rate, sensors, facts and model of the car changed if asked; read it.

    Models of `KINDS_OF` have kinds of their own, and draw noise, rates and sensors themselves.
    """
    place = folder / f"{kind}_{seed}"
    if model in _WRITES:
        _WRITES[model](place, kind, seed, facts=facts)
        return load_case(place)
    plan = plan_case(kind, seed, sensors=sensors, model=model)
    plan = replace(plan, noise=noise, ecu_hz=ecu_hz or plan.ecu_hz)
    write_case(place, plan, seed, facts=facts)
    return load_case(place)


def load_case(folder: Path) -> Case:
    """Read a case that the simulator wrote."""
    told = {path.stem: json.loads(path.read_text(encoding="utf-8")) for path in folder.glob("*.json")}
    car = Car(**_car(told["setup"]))
    names = [f"{device}.csv" for device in DEVICES if (folder / f"{device}.csv").exists()]
    logs = tuple(
        read_log((folder / name).read_bytes(), name=name, mapping=car.channels, index=place)
        for place, name in enumerate(names)
    )
    slip = told.get("slip", {"runs": []})
    slips = tuple(Slip(**_slip(printed)) for printed in slip.get("runs", [slip]))
    finish_ft = told["setup"]["track_length_ft"]
    air = Air(**_air(told["conditions"])) if "conditions" in told else None
    return Case(folder.name, logs, car, slips, air, finish_ft, told["truth"])


def review_case(case: Case, *, with_slip: bool = True, widths: Widths = CALIBRATED) -> Answer:
    """Every run of a case; without its slip the car's rollout is told instead."""
    car, slips = case.car, case.slips if with_slip else ()
    if not slips and case.truth.get("runs"):
        car = car.model_copy(update={"rollout": case.truth["runs"][0]["rollout_m"]})
    try:
        found = review(case.logs, car, slips, case.air, finish_ft=case.finish_ft, widths=widths)
        return Answer(tuple(found), "", timed=bool(slips))
    except NoRunInLog as refusal:
        return Answer((), str(refusal), timed=bool(slips))


def _car(setup: dict[str, Any]) -> dict[str, Any]:
    car = {ours: setup[theirs] for theirs, ours in AS_TOLD.items() if theirs in setup}
    car |= {"name": setup["case"], "transmission": "converter" if setup["transmission"] == "automatic" else "clutch"}
    if "boost_threshold" in setup:
        car["boost_threshold"] = f"{setup['boost_threshold']['value']} {setup['boost_threshold']['unit']}"
    return car | {"limits": [_limit(limit) for limit in setup["limits"]]}


def _limit(limit: dict[str, Any]) -> dict[str, Any]:
    name = limit["quantity"]
    value = limit["value"] if name == "lambda" else f"{limit['value']} {limit['unit']}"
    return {"name": name, "channel": LIMITS[name][1], "at_most" if limit["kind"] == "max" else "at_least": value}


def _slip(printed: dict[str, Any]) -> dict[str, Any]:
    slip = {f"t{ft}_s": printed.get(f"{ft}ft_s") for ft in (60, 330, 660, 1000, 1320)}
    slip |= {f"v{ft}": f"{printed[f'{ft}ft_mph']} mph" for ft in (660, 1320) if f"{ft}ft_mph" in printed}
    return {"reaction_s": printed["reaction_s"]} | {key: value for key, value in slip.items() if value is not None}


def _air(conditions: dict[str, Any]) -> dict[str, Any]:
    air = {
        "temperature": f"{conditions['air_temperature_c']} degC",
        "pressure": f"{conditions['pressure_kpa']} kPa",
        "relative_humidity": conditions["humidity_pct"] / 100.0,
    }
    return air | ({"wind": conditions["wind_mps"]} if "wind_mps" in conditions else {})
