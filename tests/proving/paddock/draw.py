"""One car of a kind on one day: each fact a little off the kind's, the clutch set to what the tires hold.

Public: `draw_car`, `Drawn`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tests.proving.paddock.cars import changed
from tests.proving.paddock.engine import STANDARD_KPA
from tests.proving.paddock.moving_car import G
from tests.proving.paddock.specs import CarSpec, Day

CUT_AT = 2.2
"""No draw is further off than so many standard deviations."""
DRY_AIR, VAPOR = 287.05, 461.5
"""Gas constants. [J/(kg K)]"""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A car and its day."""

    car: CarSpec
    day: Day


class _Off:
    """Factors about 1, normally drawn, far ones cut."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng

    def __call__(self, deviation: float) -> float:
        return float(np.clip(self.rng.normal(1, deviation), 1 - CUT_AT * deviation, 1 + CUT_AT * deviation))


def draw_car(kind: CarSpec, rng: np.random.Generator) -> Drawn:
    """Draw a car and the air of its day.

    Parameters
    ----------
    kind : CarSpec
        What cars of the kind are about.
    rng : numpy Generator
        Of this case alone.
    """
    wind = float(rng.normal(0, 0.5))
    wind = wind if kind.strip.wind_mps is None else kind.strip.wind_mps
    car = _take_up(_off(kind, _Off(rng)), rng)
    day = _air(car, wind, rng)
    if car.take_up.kind != "converter" and not car.electric:
        car = changed(car, take_up={"share": _first_share(car, day, float(rng.uniform(0.66, 0.92)))})
    return Drawn(car, day)


def _off(car: CarSpec, u: _Off) -> CarSpec:
    body, box, tire = car.body, car.box, car.tire
    mass, torque, grip, area, height = (u(spread) for spread in (0.04, 0.06, 0.04, 0.05, 0.05))
    stiffness, lag, engine_i, wheel_i, rolling = (u(spread) for spread in (0.2, 0.15, 0.08, 0.08, 0.1))
    mesh, growth = min(0.975, box.mesh * u(0.006)), u(0.2)
    ratios = tuple(round(ratio * u(0.01), 3) for ratio in box.ratios) if len(box.ratios) > 1 else box.ratios
    final, radius, free = round(box.final * u(0.03), 2), tire.radius_m * u(0.012), body.free_m * u(0.01)
    turbo = car.engine.turbo and replace(car.engine.turbo, lag_s=car.engine.turbo.lag_s * lag)
    return changed(
        replace(car, rollout_m=round(float(u.rng.uniform(0.21, 0.34)), 3)),
        engine={"peak_nm": car.engine.peak_nm * torque, "inertia_kgm2": car.engine.inertia_kgm2 * engine_i,
                "turbo": turbo},
        box={"mesh": mesh, "ratios": ratios, "final": final,
             "shafts": (box.shafts[0] * stiffness, *box.shafts[1:])},
        tire={"grip": tire.grip * grip, "radius_m": radius, "growth": tire.growth * growth,
              "inertia_kgm2": tire.inertia_kgm2 * wheel_i},
        body={"mass_kg": body.mass_kg * mass, "drag_area_m2": body.drag_area_m2 * area, "free_m": free,
              "height_m": body.height_m * height, "rolling": (body.rolling[0] * rolling, body.rolling[1])},
    )  # fmt: skip


def _take_up(car: CarSpec, rng: np.random.Generator) -> CarSpec:
    """Clutch, packs and the driver's feel."""
    u, take_up, driver = _Off(rng), car.take_up, car.driver
    bite_s, feed_s, hand_over_s = take_up.bite_s * u(0.2), take_up.feed_s * u(0.2), car.box.hand_over_s * u(0.15)
    wants_nm = _most_nm(car) * float(rng.uniform(1.4, 1.7)) / (take_up.sliding * (1 - take_up.fade))
    feather = driver.feather * float(rng.uniform(0.7, 1.7)) if driver.feather else 0.0
    return changed(
        car,
        take_up={"bite_s": bite_s, "feed_s": feed_s, "most_nm": max(take_up.most_nm, wants_nm)},
        box={"hand_over_s": hand_over_s},
        driver={"feather": feather, "feel_s": driver.feel_s * float(rng.uniform(0.4, 1.6))},
    )


def _most_nm(car: CarSpec) -> float:
    """Most torque of the engine in standard air."""
    turbo = car.engine.turbo
    return car.engine.peak_nm * (1 + turbo.boost_kpa / STANDARD_KPA if turbo else 1.0)


def _air(car: CarSpec, wind_mps: float, rng: np.random.Generator) -> Day:
    """Vapor by Magnus' formula, density by the gas laws (both from memory)."""
    temperature, kpa = round(float(rng.uniform(8, 36)), 1), round(float(rng.uniform(92, 102.5)), 1)
    humidity = round(float(rng.uniform(20, 80)))
    vapor = humidity / 100 * 0.6112 * math.exp(17.62 * temperature / (temperature + 243.1))
    kelvin = temperature + 273.15
    density = (kpa - vapor) * 1e3 / (DRY_AIR * kelvin) + vapor * 1e3 / (VAPOR * kelvin)
    dense = kpa / STANDARD_KPA if car.engine.turbo else (kpa - vapor) / 99.0
    return Day(temperature, kpa, humidity, density, dense * math.sqrt(298 / kelvin), wind_mps)


def _first_share(car: CarSpec, day: Day, boldly: float) -> float:
    """The share of the clutch's torque that its owner lets bite first: what tires hold and the engine keeps up."""
    body, take_up = car.body, car.take_up
    share = {"front": body.front_share * 0.85, "rear": (1 - body.front_share) + 0.25}.get(body.driven, 1.0)
    load = body.mass_kg * G * share
    overall = car.box.ratios[0] * car.box.final
    by_tires = boldly * car.tire.grip * load * car.tire.radius_m / (overall * take_up.most_nm * 0.92)
    breathes = 0.75 if car.engine.turbo else 1.0
    opened = 1.08 * car.driver.first_open**0.7
    return min(0.92, by_tires, opened * _most_nm(car) * day.charge / (take_up.most_nm * 0.9) * breathes)
