"""Six runs of one car of the independent simulator or the paddock on two days, something done to it between them.

Public: `What`, `WHATS`, `write_season`.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from passband.demo_logs.owner import as_an_owner_knows
from tests.benchmarks.runs_of_one_car import FIRST_DAY, RUNS
from tests.proving.cases import INDEPENDENT
from tests.proving.independent import case as independent
from tests.proving.independent.happened import happened
from tests.proving.independent.kinds import KINDS as INDEPENDENT_KINDS
from tests.proving.independent.kinds import Draw
from tests.proving.independent.kinds import draw_car as draw_independent
from tests.proving.independent.run import drive as drive_independent
from tests.proving.independent.specs import CarSpec as IndependentCar
from tests.proving.independent.specs import Day as IndependentDay
from tests.proving.paddock import case as paddock
from tests.proving.paddock.cars import changed
from tests.proving.paddock.draw import draw_car as draw_paddock
from tests.proving.paddock.drive import drive as drive_paddock
from tests.proving.paddock.engine import TABLE_RPM, _tables
from tests.proving.paddock.kinds import KINDS as PADDOCK_KINDS
from tests.proving.paddock.recording import record
from tests.proving.paddock.specs import CarSpec as PaddockCar
from tests.proving.paddock.specs import Day as PaddockDay
from tests.proving.paddock.true_run import true_run

DAY_WIND_MPS, RUN_WIND_MPS = 1.0, 0.4
"""As of `runs_of_one_car`."""
RUN_MASS, RUN_GRIP, RUN_LAUNCH, RUN_WARMTH_K = 0.0005, 0.012, 0.01, 0.7
"""What runs of a day differ by, one standard deviation: mass, grip, launch speed, air. [-], [K]"""
DAY_WARMTH_K, DAY_PRESSURE = 5.0, 0.005
"""The same of two days."""
OTHER_CAR = 5000
"""Its seed lies so far from the first one's."""
HEIGHT_OF_2000_FT = (0.955, 3.5)
"""2000 ft of density altitude: pressure's share, and warmth. [-], [K]"""
GAIN_BEGINS = 0.80
"""Of the shift speed: where work on an engine begins to tell. [-]"""


@dataclass(frozen=True, slots=True)
class What:
    """What is done between the days; shares and additions of what stands in the names."""

    torque: tuple[tuple[float, float], ...] = ()
    """Shares of the shift speed, and of torque there."""
    radius: float = 1.0
    """Of the driven tires."""
    told: bool = True
    """Whether the owner measures the tires anew."""
    grip: float = 1.0
    """Of the driven tires."""
    capacity: float = 1.0
    """Of a converter: torque that it takes at one speed."""
    shift_rpm: float = 0.0
    """Later."""
    height: tuple[float, float] = (1.0, 0.0)
    """Of the second day's air: pressure's share, warmth."""
    wind_mps: float = 0.0
    """Of the second day, from behind positive."""
    undriven: float = 1.0
    """Of the undriven wheels, untold."""
    manifold: float = 1.0
    """Of what its sensor reads."""
    other_car: bool = False
    """The second day's runs are another car's of the kind."""


# Work on the head gives 3 % above it; a cam takes 2.5 % below it and gives as much above.
HEAD = ((GAIN_BEGINS - 0.03, 1.0), (GAIN_BEGINS, 1.03))
CAM = ((GAIN_BEGINS - 0.03, 0.975), (GAIN_BEGINS + 0.03, 1.025))
WHATS: Mapping[str, What] = {
    "nothing": What(),
    "head": What(torque=HEAD, height=HEIGHT_OF_2000_FT),
    "cam": What(torque=CAM),
    "looser converter": What(capacity=0.8),
    "tires told": What(radius=1.03, grip=1.05),
    "tires not told": What(radius=1.03, told=False),
    "two cars": What(other_car=True),
    "manifold drifts": What(manifold=1.02),
    "free wheels shrink": What(undriven=0.99),
    "late shifts": What(shift_rpm=200.0),
    "slick track": What(grip=0.75),
    "head wind": What(wind_mps=-4.0),
}


class _SameDevices:
    """A generator whose single draws are the devices' own, the same each run; whole arrays are a run's noise."""

    def __init__(self, devices: np.random.Generator, run: np.random.Generator) -> None:
        self.devices, self.run = devices, run

    def __getattr__(self, name: str) -> Callable[..., Any]:
        def draw(*args: Any, **more: Any) -> Any:
            made = getattr(self.run, name)(*args, **more)
            return made if np.ndim(made) else getattr(self.devices, name)(*args, **more)

        return draw


def _seeds_of(kind: str, seed: int, *more: int) -> np.random.Generator:
    return np.random.default_rng([zlib.crc32(kind.encode()), seed, *more])


def _write(place: Path, what: Mapping[str, Any]) -> None:
    place.write_text(json.dumps(what), encoding="utf-8")


def _winds(kind: str, seed: int, what: What) -> list[float]:
    rng = _seeds_of(kind, seed, 7)
    days = rng.normal(0.0, DAY_WIND_MPS, 2) + np.array([0.0, what.wind_mps])
    return [float(days[int(place >= FIRST_DAY)] + rng.normal(0.0, RUN_WIND_MPS)) for place in range(RUNS)]


def _airs(kind: str, seed: int, what: What, day: tuple[float, float]) -> list[tuple[float, float]]:
    """Each run's temperature and pressure; the second day's apart by chance or by height."""
    rng = _seeds_of(kind, seed, 8)
    warmer, share = float(rng.normal(0.0, DAY_WARMTH_K)), 1.0 + float(rng.normal(0.0, DAY_PRESSURE))
    if what.height != (1.0, 0.0):
        share, warmer = what.height
    second = day[0] + warmer, day[1] * share
    out = []
    for place in range(RUNS):
        at = second if place >= FIRST_DAY else day
        out.append((round(at[0] + float(rng.normal(0.0, RUN_WARMTH_K)), 1), round(at[1], 2)))
    return out


def write_season(model: str, kind: str, seed: int, what: What, folder: Path) -> None:
    """Drive and write all runs, each a case."""
    (_independent if model == INDEPENDENT else _paddock)(kind, seed, what, folder)


def _independent(kind: str, seed: int, what: What, folder: Path) -> None:
    setups: dict[bool, dict[str, Any]] = {}
    base, _ = _drawn_independent(kind, seed)
    for place in range(RUNS):
        after = place >= FIRST_DAY
        own = seed + OTHER_CAR * (after and what.other_car)
        car, run = _drawn_independent(kind, own)[1], _seeds_of(kind, seed, 100 + place)
        car = _worked_independent(car, what) if after else car
        car = replace(
            car,
            body=replace(car.body, mass_kg=car.body.mass_kg * (1.0 + float(run.normal(0.0, RUN_MASS)))),
            tire=replace(car.tire, grip=car.tire.grip * float(run.normal(1.0, RUN_GRIP))),
            drive=replace(car.drive, launch_rpm=car.drive.launch_rpm * float(run.normal(1.0, RUN_LAUNCH))),
        )
        temperature, kpa = _airs(kind, seed, what, (base.temperature_c, base.pressure_kpa))[place]
        day = _independent_day(base, temperature, kpa, _winds(kind, seed, what)[place])
        ran = drive_independent(car, day, run)
        true = happened(ran)
        devices = independent._devices(ran, kind, _seeds_of(kind, own, 21))
        where = folder / str(place)
        where.mkdir(parents=True, exist_ok=True)
        if after:
            ran.of["map_kpa"] = ran.of["map_kpa"] * what.manifold
        sensors = {name: independent._write_log(where / f"{name}.csv", ran, one, run) for name, one in devices.items()}
        if after and what.undriven != 1.0:
            _scale_columns(where / "dash.csv", ("Left Wheel", "Right Wheel"), 1.0 / what.undriven)
        if after not in setups:
            setup = independent._setup(ran, true, kind, with_dash="dash" in devices)
            known = as_an_owner_knows(setup, _seeds_of(kind, own, 22))
            setups[after] = _told_anew(setups[False], what) if after and not what.other_car else known
        _write(where / "setup.json", setups[after] | {"case": f"{kind}_{own}"})
        given = {"air_temperature_c": temperature, "pressure_kpa": kpa, "humidity_pct": round(100 * day.humidity)}
        _write(where / "conditions.json", given)
        _write(where / "slip.json", independent._slip(true, run))
        rpm = np.arange(0.0, 14000.0, 10.0)
        nm = np.interp(rpm, *zip(*car.engine.torque, strict=True))
        told = {"case": str(place), "seed": seed, "rpm": rpm.tolist(), "nm": nm.tolist()}
        _write(where / "truth.json", independent._truth(ran, true, kind, devices, sensors) | told)


def _drawn_independent(kind: str, seed: int) -> tuple[IndependentDay, IndependentCar]:
    rng = np.random.default_rng([list(INDEPENDENT_KINDS).index(kind), seed, 20])
    return independent._day(Draw(rng)), draw_independent(kind, rng)


def _worked_independent(car: IndependentCar, what: What) -> IndependentCar:
    torque = car.engine.torque
    if what.torque:
        shares, gains = zip(*what.torque, strict=True)
        rpm = np.unique(np.concatenate([np.arange(0.0, 14000.0, 100.0), [p for p, _ in torque]]))
        nm = np.interp(rpm, *zip(*torque, strict=True)) * np.interp(rpm / car.drive.shift_rpm, shares, gains)
        torque = tuple(zip(rpm.tolist(), nm.tolist(), strict=True))
    size, *rest = car.clutch.converter
    return replace(
        car,
        engine=replace(car.engine, torque=torque, limiter_rpm=car.engine.limiter_rpm + what.shift_rpm),
        tire=replace(car.tire, radius_m=car.tire.radius_m * what.radius, grip=car.tire.grip * what.grip),
        clutch=replace(car.clutch, converter=(size / what.capacity**0.5, *rest)),
        drive=replace(car.drive, shift_rpm=car.drive.shift_rpm + what.shift_rpm),
    )


def _independent_day(base: IndependentDay, temperature_c: float, kpa: float, wind_mps: float) -> IndependentDay:
    vapor = base.humidity * 0.61094 * np.exp(17.625 * temperature_c / (temperature_c + 243.04))
    kelvin = temperature_c + 273.15
    density = float((1e3 * (kpa - vapor) / 287.055 + 1e3 * vapor / 461.52) / kelvin)
    charge = float((kpa - vapor) / 99.0 * (298.15 / kelvin) ** 0.6)
    return replace(
        base, temperature_c=temperature_c, pressure_kpa=kpa, density=density, charge=charge, wind_mps=wind_mps
    )


def _told_anew(setup: dict[str, Any], what: What) -> dict[str, Any]:
    out = dict(setup)
    if what.told:
        out["tyre_circumference_m"] = round(setup["tyre_circumference_m"] * what.radius, 4)
    return out


def _scale_columns(log: Path, words: tuple[str, ...], share: float) -> None:
    """Columns of a log whose head has one of the words, times a share."""
    head, *rows = log.read_text(encoding="utf-8").splitlines()
    mark = ";" if ";" in head else ","
    use = [any(word.lower() in name.lower() for word in words) for name in head.split(mark)]
    out = [head]
    for row in rows:
        cells = zip(row.split(mark), use, strict=True)
        out.append(
            mark.join(f"{float(cell) * share:.3f}" if wanted and _is_number(cell) else cell for cell, wanted in cells)
        )
    log.write_text("\n".join(out) + "\n", encoding="utf-8")


def _is_number(cell: str) -> bool:
    return cell.replace(".", "", 1).replace("-", "", 1).isdigit()


def _paddock(kind: str, seed: int, what: What, folder: Path) -> None:
    told = PADDOCK_KINDS[kind]
    setups: dict[bool, dict[str, Any]] = {}
    base = draw_paddock(told.car, paddock.draws_of(kind, seed)).day
    for place in range(RUNS):
        after = place >= FIRST_DAY
        own = seed + OTHER_CAR * (after and what.other_car)
        car, run = draw_paddock(told.car, paddock.draws_of(kind, own)).car, _seeds_of(kind, seed, 100 + place)
        car = _worked_paddock(car, what) if after else car
        car = changed(
            car,
            body={"mass_kg": car.body.mass_kg * (1.0 + float(run.normal(0.0, RUN_MASS)))},
            tire={"grip": car.tire.grip * float(run.normal(1.0, RUN_GRIP))},
            driver={"launch_rpm": car.driver.launch_rpm * float(run.normal(1.0, RUN_LAUNCH))},
        )
        temperature, kpa = _airs(kind, seed, what, (base.temperature_c, base.pressure_kpa))[place]
        day = _paddock_day(base, temperature, kpa, _winds(kind, seed, what)[place], turbo=bool(car.engine.turbo))
        driven = drive_paddock(replace(car, rollout_m=car.rollout_m + float(run.normal(0.0, 0.01))), day, run)
        if after:
            driven.of["manifold"] = driven.of["manifold"] * what.manifold
        recorded = record(driven, run, burnout=told.burnout)
        where = folder / str(place)
        where.mkdir(parents=True, exist_ok=True)
        same: Any = _SameDevices(_seeds_of(kind, own, 21), run)
        logs = paddock._write_logs(where, told, recorded, same)
        if after and what.undriven != 1.0:
            _scale_columns(where / "dash.csv", ("wheel",), 1.0 / what.undriven)
        true = true_run(driven, logs["ecu"].at_s[0])
        if after not in setups:
            known = as_an_owner_knows(paddock._setup(told, driven), _seeds_of(kind, own, 22))
            setups[after] = _told_anew(setups[False], what) if after and not what.other_car else known
        _write(where / "setup.json", setups[after] | {"case": f"{kind}_{own}"})
        _write(where / "conditions.json", paddock._conditions(told, day))
        _write(where / "slip.json", paddock._slip(true, run))
        rpm, nm = _paddock_torque(car)
        more = {"case": str(place), "seed": seed, "rpm": rpm, "nm": nm}
        _write(where / "truth.json", paddock._truth(told, recorded, true, logs) | more)


def _paddock_torque(car: PaddockCar) -> tuple[list[float], list[float]]:
    gas, friction = (np.array(one) for one in _tables(car.engine))
    return (np.arange(gas.size) * TABLE_RPM).tolist(), (gas - friction).tolist()


def _worked_paddock(car: PaddockCar, what: What) -> PaddockCar:
    worked = tuple((share * car.driver.shift_rpm, gain) for share, gain in what.torque)
    return changed(
        car,
        engine={"worked": worked, "limiter_rpm": car.engine.limiter_rpm + what.shift_rpm},
        tire={"radius_m": car.tire.radius_m * what.radius, "grip": car.tire.grip * what.grip},
        converter={"capacity": car.converter.capacity * what.capacity},
        driver={"shift_rpm": car.driver.shift_rpm + what.shift_rpm},
    )


def _paddock_day(base: PaddockDay, temperature_c: float, kpa: float, wind_mps: float, *, turbo: bool) -> PaddockDay:
    vapor = base.humidity_pct / 100 * 0.6112 * float(np.exp(17.62 * temperature_c / (temperature_c + 243.1)))
    kelvin = temperature_c + 273.15
    density = (kpa - vapor) * 1e3 / (287.05 * kelvin) + vapor * 1e3 / (461.5 * kelvin)
    dense = kpa / 101.3 if turbo else (kpa - vapor) / 99.0
    return PaddockDay(temperature_c, kpa, base.humidity_pct, density, dense * (298 / kelvin) ** 0.5, wind_mps)
