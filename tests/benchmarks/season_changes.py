"""What a crew chief asks of two days' runs, on simulated cars: whether `change` says what is true, and no more.

python -m tests.benchmarks.season_changes [--model independent|paddock] [--seeds 1..2] [--kind NAME ...]
    [--what NAME ...] [--cache FILE] [--keep FOLDER] [--by what,model,kind]

Each car is driven six times, three runs on each of two days of their own air and wind, by the same devices; between the
days something is done to it (`WHATS`), told or not. Facts are an owner's. Held against the truth: power after over
before by engine speed, top over rest, and the differences of RPM after, average power, elapsed time and time in the
band. Then what was told of each, in words.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.runs.change import compare_groups
from passband.demo_logs.owner import as_an_owner_knows
from tests.benchmarks.runs_of_one_car import FIRST_DAY, RUNS, Row, pair_rows, prepared
from tests.proving.cases import INDEPENDENT, PADDOCK, Case, load_case, review_case
from tests.proving.independent import case as independent
from tests.proving.independent.happened import happened
from tests.proving.independent.kinds import KINDS as INDEPENDENT_KINDS
from tests.proving.independent.kinds import Draw
from tests.proving.independent.kinds import draw_car as draw_independent
from tests.proving.independent.run import drive as drive_independent
from tests.proving.independent.specs import Day as IndependentDay
from tests.proving.paddock import case as paddock
from tests.proving.paddock.cars import changed
from tests.proving.paddock.draw import draw_car as draw_paddock
from tests.proving.paddock.drive import drive as drive_paddock
from tests.proving.paddock.kinds import KINDS as PADDOCK_KINDS
from tests.proving.paddock.recording import record
from tests.proving.paddock.specs import Day as PaddockDay
from tests.proving.paddock.true_run import true_run

DAY_WIND_MPS, RUN_WIND_MPS = 1.0, 0.4
"""As of `runs_of_one_car`."""
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
    days = rng.normal(0.0, DAY_WIND_MPS, 2) + [0.0, what.wind_mps]
    return [float(days[int(place >= FIRST_DAY)] + rng.normal(0.0, RUN_WIND_MPS)) for place in range(RUNS)]


def _airs(kind: str, seed: int, what: What, day: tuple[float, float]) -> list[tuple[float, float]]:
    """Each run's temperature and pressure; the second day's apart by chance or by height."""
    rng = _seeds_of(kind, seed, 8)
    first = day
    warmer, share = float(rng.normal(0.0, 5.0)), 1.0 + float(rng.normal(0.0, 0.005))
    if what.height != (1.0, 0.0):
        share, warmer = what.height
    second = first[0] + warmer, first[1] * share
    out = []
    for place in range(RUNS):
        at = second if place >= FIRST_DAY else first
        out.append((round(at[0] + float(rng.normal(0.0, 0.7)), 1), round(at[1], 2)))
    return out


def write_season(model: str, kind: str, seed: int, what: What, folder: Path) -> None:
    """Drive and write all runs, each a case."""
    (_independent if model == INDEPENDENT else _paddock)(kind, seed, what, folder)


def _independent(kind: str, seed: int, what: What, folder: Path) -> None:
    setups: dict[bool, dict[str, Any]] = {}
    place_of = list(INDEPENDENT_KINDS).index(kind)
    for place in range(RUNS):
        after = place >= FIRST_DAY
        own = seed + 5000 * (after and what.other_car)
        rng = np.random.default_rng([place_of, own, 20])
        base, car = independent._day(Draw(np.random.default_rng([place_of, seed, 20]))), draw_independent(kind, rng)
        if own == seed:
            independent._day(Draw(rng := np.random.default_rng([place_of, seed, 20])))
            car = draw_independent(kind, rng)
        run = _seeds_of(kind, seed, 100 + place)
        if after:
            car = _worked_independent(car, what)
        car = replace(
            car,
            body=replace(car.body, mass_kg=car.body.mass_kg * (1.0 + float(run.normal(0.0, 0.0005)))),
            tire=replace(car.tire, grip=car.tire.grip * float(run.normal(1.0, 0.012))),
            drive=replace(car.drive, launch_rpm=car.drive.launch_rpm * float(run.normal(1.0, 0.01))),
        )
        temperature, kpa = _airs(kind, seed, what, (base.temperature_c, base.pressure_kpa))[place]
        day = _independent_day(base, temperature, kpa, _winds(kind, seed, what)[place])
        ran = drive_independent(car, day, run)
        true = happened(ran)
        devices = independent._devices(ran, kind, _seeds_of(kind, own, 21))
        where = folder / str(place)
        where.mkdir(parents=True, exist_ok=True)
        if after and what.manifold != 1.0:
            ran.of["map_kpa"] = ran.of["map_kpa"] * what.manifold
        sensors = {name: independent._write_log(where / f"{name}.csv", ran, one, run) for name, one in devices.items()}
        if after and what.undriven != 1.0:
            _scale_columns(where / "dash.csv", ("Left Wheel", "Right Wheel"), 1.0 / what.undriven)
        if after not in setups:
            setup = independent._setup(ran, true, kind, with_dash="dash" in devices)
            setups[after] = as_an_owner_knows(setup, _seeds_of(kind, own, 22))
            if after and not what.other_car:
                setups[after] = _told_anew(setups[False], what)
        _write(where / "setup.json", setups[after] | {"case": f"{kind}_{own}"})
        given = {"air_temperature_c": temperature, "pressure_kpa": kpa, "humidity_pct": round(100 * day.humidity)}
        _write(where / "conditions.json", given)
        _write(where / "slip.json", independent._slip(true, run))
        rpm = np.arange(0.0, 14000.0, 10.0)
        nm = np.interp(rpm, *zip(*car.engine.torque, strict=True))
        told = {"case": str(place), "seed": seed, "rpm": rpm.tolist(), "nm": nm.tolist()}
        _write(where / "truth.json", independent._truth(ran, true, kind, devices, sensors) | told)


def _worked_independent(car: Any, what: What) -> Any:
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
        out.append(mark.join(f"{float(cell) * share:.3f}" if wanted and _is_number(cell) else cell for cell, wanted in cells))
    log.write_text("\n".join(out) + "\n", encoding="utf-8")


def _is_number(cell: str) -> bool:
    return cell.replace(".", "", 1).replace("-", "", 1).isdigit()


def _paddock(kind: str, seed: int, what: What, folder: Path) -> None:
    told, setups = PADDOCK_KINDS[kind], {}
    for place in range(RUNS):
        after = place >= FIRST_DAY
        own = seed + 5000 * (after and what.other_car)
        base = draw_paddock(told.car, paddock.draws_of(kind, seed)).day
        car = draw_paddock(told.car, paddock.draws_of(kind, own)).car
        run = _seeds_of(kind, seed, 100 + place)
        if after:
            car = _worked_paddock(car, what)
        launch = {"launch_rpm": car.driver.launch_rpm * float(run.normal(1.0, 0.01))}
        car = changed(
            car,
            body={"mass_kg": car.body.mass_kg * (1.0 + float(run.normal(0.0, 0.0005)))},
            tire={"grip": car.tire.grip * float(run.normal(1.0, 0.012))},
            driver=launch,
        )
        temperature, kpa = _airs(kind, seed, what, (base.temperature_c, base.pressure_kpa))[place]
        day = _paddock_day(base, temperature, kpa, _winds(kind, seed, what)[place], turbo=bool(car.engine.turbo))
        driven = drive_paddock(replace(car, rollout_m=car.rollout_m + float(run.normal(0.0, 0.01))), day, run)
        if after and what.manifold != 1.0:
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
            setups[after] = as_an_owner_knows(paddock._setup(told, driven), _seeds_of(kind, own, 22))
            if after and not what.other_car:
                setups[after] = _told_anew(setups[False], what)
        _write(where / "setup.json", setups[after] | {"case": f"{kind}_{own}"})
        _write(where / "conditions.json", paddock._conditions(told, day))
        _write(where / "slip.json", paddock._slip(true, run))
        rpm, nm = _paddock_torque(car)
        more = {"case": str(place), "seed": seed, "rpm": rpm, "nm": nm}
        _write(where / "truth.json", paddock._truth(told, recorded, true, logs) | more)


def _paddock_torque(car: Any) -> tuple[list[float], list[float]]:
    from tests.proving.paddock.engine import TABLE_RPM, _tables

    gas, friction = (np.array(one) for one in _tables(car.engine))
    return (np.arange(gas.size) * TABLE_RPM).tolist(), (gas - friction).tolist()


def _worked_paddock(car: Any, what: What) -> Any:
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


def rows_of_season(model: str, kind: str, seed: int, name: str, keep: Path | None) -> list[Row]:
    """All that is told of one season, each with its truth."""
    with tempfile.TemporaryDirectory() as passing:
        folder = (keep or Path(passing)) / f"{model}_{kind}_{seed}_{name.replace(' ', '_')}"
        if not (folder / str(RUNS - 1) / "truth.json").exists():
            write_season(model, kind, seed, WHATS[name], folder)
        cases = [load_case(folder / str(place)) for place in range(RUNS)]
    whence = {"model": model, "kind": kind, "seed": seed, "what": name}
    return [whence | row for row in _rows(cases)]


def _rows(cases: list[Case]) -> Iterator[Row]:
    reviews = [one[0] if one else None for one in (review_case(case).reviews for case in cases)]
    runs = [
        None if review is None else prepared(review, case, with_slip=True, place=place)
        for place, (review, case) in enumerate(zip(reviews, cases, strict=True))
    ]
    yield from pair_rows(runs, reviews, [case.truth["runs"][0] for case in cases])
    if None in runs:
        yield {"figure": "season", "said": [f"runs not read: {[p for p, one in enumerate(runs) if one is None]}"]}
        return
    sure = [one for one in runs if one is not None]
    found = compare_groups(sure[:FIRST_DAY], sure[FIRST_DAY:])
    truths = [case.truth["runs"][0] for case in cases]
    gain = _gain(cases)
    for one in found.power_ratio:
        true = float(np.mean(gain(np.linspace(one.low_rpm, one.high_rpm, 20))))
        yield _row("power by engine speed", one.ratio, true, at=f"{one.low_rpm:.0f}", none=bool(abs(true - 1) < 1e-3))
    if found.top_over_rest is not None and found.top_from_rpm is not None:
        from_rpm = found.top_from_rpm
        above, below = ([o for o in found.power_ratio if (o.low_rpm >= from_rpm) == side] for side in (True, False))
        below = [one for one in below if one.high_rpm <= from_rpm - 249.0]
        if above and below:
            levels = [
                float(np.mean([gain(np.linspace(o.low_rpm, o.high_rpm, 20)).mean() for o in side]))
                for side in (above, below)
            ]
            yield _row("top over rest", found.top_over_rest, levels[0] / levels[1], at=f"{from_rpm:.0f}")
    clean = [found.before.clean, found.after.clean]
    side_of = [[t for r, t in zip(sure, truths, strict=True) if r.label in names] for names in clean]
    for name, got, of in (
        ("average power", found.average_w.raw, lambda run: run["power"]["flywheel_brake"]["avg_w"]),
        ("time in band", found.time_in_band_s.raw, lambda run: run["rpm_band"]["in_s"]),
        ("elapsed time", found.elapsed_time_s.raw, lambda run: run["splits"]["1320ft"]),
    ):
        if got is not None and all(side_of):
            true = float(np.mean([of(t) for t in side_of[1]]) - np.mean([of(t) for t in side_of[0]]))
            yield _row(name, got, true, size=of(truths[0]))
    for shift in found.rpm_after:
        rpm = [[s["rpm_after"] for s in run["shifts"] if f"{s['from']}-{s['to']}" == shift.shift] for run in truths]
        if all(rpm):
            mean = [float(np.mean([one[0] for one in side])) for side in (rpm[:FIRST_DAY], rpm[FIRST_DAY:])]
            yield _row("RPM after", shift.difference, mean[1] - mean[0], at=shift.shift)
    said = [f"{one.code}: {one.text}" for one in found.findings]
    yield {"figure": "season", "said": said, "clean": [len(side) for side in clean]}


def _row(figure: str, got: Any, true: float, **more: Any) -> Row:
    row = {"figure": figure, "got": got.value, "true": true, "error": got.value - true, "plus_minus": got.plus_minus}
    return row | {"size": 1.0, "own": got.own} | more


def _gain(cases: list[Case]) -> Callable[[FloatArray], FloatArray]:
    """Torque of the second day's engine over the first's in one air, by engine speed."""
    first, last = cases[0].truth, cases[-1].truth
    return lambda rpm: np.interp(rpm, last["rpm"], last["nm"]) / np.interp(rpm, first["rpm"], first["nm"])


def main() -> None:
    """Print one line a figure, then what was said."""
    from tests.benchmarks.pairs import print_figures

    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.season_changes", description=__doc__)
    parser.add_argument("--model", choices=(INDEPENDENT, PADDOCK), default=INDEPENDENT)
    parser.add_argument("--seeds", default="1", help="one, or first..last")
    parser.add_argument("--kind", action="append", help="as often as wanted")
    parser.add_argument("--what", action="append", choices=tuple(WHATS))
    parser.add_argument("--cache", type=Path, help="file that answers are kept in")
    parser.add_argument("--keep", type=Path, help="folder that simulated logs are kept in")
    parser.add_argument("--by", default="", help="what parts the lines further, by commas")
    told = parser.parse_args()
    first, _, last = told.seeds.partition("..")
    rows: list[Row] = []
    for seed, kind, what in product(range(int(first), int(last or first) + 1), told.kind, told.what or WHATS):
        rows += rows_of_season(told.model, kind, seed, what, told.keep)
        if told.cache is not None:
            with told.cache.open("a", encoding="utf-8") as file:
                file.write(json.dumps([f"{told.model} {kind} {seed} {what}", rows_of_last(rows, what)]) + "\n")
    print_figures([row | {"slip": True} for row in rows], tuple(filter(None, told.by.split(","))))
    for row in rows:
        if row["figure"] == "season":
            print("\n", row["model"], row["kind"], row["seed"], row["what"], row.get("clean"), *row["said"], sep="\n  ")


def rows_of_last(rows: list[Row], what: str) -> list[Row]:
    """Those of the season that was made last."""
    last = rows[-1]
    return [row for row in rows if all(row[key] == last[key] for key in ("model", "kind", "seed", "what"))]


if __name__ == "__main__":
    main()
