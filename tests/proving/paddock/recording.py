"""What devices look at: the run, and before it what a car does on its way to the beams, every millisecond.

Public: `Recorded`, `Before`, `record`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from tests.proving.paddock.drive import Driven, FloatArray
from tests.proving.paddock.engine import RAD
from tests.proving.paddock.specs import CarSpec

HZ = 1000
BURNOUT_SHARE = 0.62
"""Of the shift speed, in second gear."""


@dataclass(frozen=True, slots=True)
class Before:
    """Something done before the run; times from the release."""

    kind: str
    begins_s: float
    ends_s: float


@dataclass(frozen=True, slots=True)
class Recorded:
    """All that happens while devices log; times from the release."""

    driven: Driven
    time_s: FloatArray
    """Every millisecond, shape (n,), as all below."""
    of: dict[str, FloatArray]
    """``rpm``, ``speed_mps``, ``accel_mps2``, ``felt_mps2``, ``wheel_rads``, ``output_rads``, ``free_rads``,
    ``throttle``, ``manifold``, ``gear``, ``cut``."""
    before: tuple[Before, ...]
    """In order."""


@dataclass(frozen=True, slots=True)
class _Part:
    """A stretch of the way to the beams."""

    kind: str
    """Empty at rest."""
    lasts_s: float
    speed_mps: float
    rpm: float


def _parts(car: CarSpec, rng: np.random.Generator, *, burnout: bool) -> list[_Part]:
    idle_rpm = 0.0 if car.electric else car.engine.idle_rpm
    parts = [_Part("", rng.uniform(2, 4), 0, idle_rpm)]
    if burnout:
        turning = _Part("burnout", rng.uniform(2.5, 4.0), 0.2, BURNOUT_SHARE * car.driver.shift_rpm)
        parts += [turning, _Part("", 1.5, 0.3, idle_rpm)]
    creeping = _Part("creep", rng.uniform(3.5, 6.0), 1.1, idle_rpm + (0 if car.electric else 350))
    return [*parts, creeping, _Part("", rng.uniform(2.0, 4.0), 0, idle_rpm)]


def record(driven: Driven, rng: np.random.Generator, *, burnout: bool) -> Recorded:
    """Put in front of a run what its car did before."""
    parts = _parts(driven.spec, rng, burnout=burnout)
    before = _on_the_way(driven.spec, parts, rng)
    count, run = before["rpm"].size, driven.of
    begins_s = run["time_s"][0]
    time_s = np.concatenate([begins_s + (np.arange(count) - count) * 1e-3, run["time_s"]])
    during = {name: run[name] for name in before if name != "rpm"} | {"rpm": run["engine_rads"] / RAD}
    of = {name: np.concatenate([before[name], values]) for name, values in during.items()}
    of["accel_mps2"] = np.gradient(of["speed_mps"], time_s)
    of["accel_mps2"][count:] = run["accel_mps2"]
    edges = np.concatenate([[0.0], np.cumsum([part.lasts_s for part in parts])]) + time_s[0]
    done = zip(parts, edges[:-1], edges[1:], strict=True)
    return Recorded(driven, time_s, of, tuple(Before(part.kind, a, b) for part, a, b in done if part.kind))


def _on_the_way(car: CarSpec, parts: list[_Part], rng: np.random.Generator) -> dict[str, FloatArray]:
    each = [_stretch(car, part) for part in parts]
    made = {name: np.concatenate([one[name] for one in each]) for name in each[0]}
    count = made["rpm"].size
    uneven = lfilter([0.03], [1, -0.97], rng.normal(0, 60, count)) * (0 if car.electric else 1)
    made["rpm"] = np.maximum(made["rpm"] + uneven, 0)
    rest = np.zeros(count)
    made |= {"gear": rest + 1, "cut": rest, "felt_mps2": rest, "output_rads": made["wheel_rads"]}
    made |= {"free_rads": made["speed_mps"] / car.body.free_m}
    return made | {"manifold": np.interp(made["throttle"], [0, 1], [0.35, 1.0])}


def _stretch(car: CarSpec, part: _Part) -> dict[str, FloatArray]:
    count = int(part.lasts_s * HZ)
    share = np.arange(count) / count
    bell = np.clip(np.minimum(share, 1 - share) * 6, 0, 1) if part.kind != "creep" else np.sin(math.pi * share) ** 2
    ratios, idle_rpm = car.box.ratios, 0.0 if car.electric else car.engine.idle_rpm
    wheel = part.speed_mps * bell / car.tire.radius_m
    if part.kind == "burnout":
        second = ratios[min(1, len(ratios) - 1)] * car.box.final
        wheel = bell * BURNOUT_SHARE * car.driver.shift_rpm * RAD / second
    rpm = np.maximum(idle_rpm + (part.rpm - idle_rpm) * bell, 0)
    if car.electric:
        rpm = wheel / RAD * ratios[0] * car.box.final
    opened = {"burnout": 0.6, "creep": 0.04}.get(part.kind, 0.0)
    return {"speed_mps": part.speed_mps * bell, "wheel_rads": wheel, "rpm": rpm, "throttle": opened * bell}
