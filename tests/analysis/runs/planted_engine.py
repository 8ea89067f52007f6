"""Runs whose power is planted cell by cell: what a change is tested on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np

from passband.analysis.results.estimate import Estimate, SharedPart
from passband.analysis.results.power import GearCurve
from passband.analysis.runs.compared_run import ComparedRun
from tests.analysis.runs.planted_pair import planted_run

GEARS = range(1, 5)
LOWS = (8000.0, 8250.0, 8500.0, 8750.0, 9000.0, 9250.0, 9500.0)
MPS_AT_9000 = {1: 20.0, 2: 30.0, 3: 40.0, 4: 50.0}
WARM = -0.25
"""With which power of the air's absolute temperature the planted engine goes."""
WIND_W = 0.7
"""Watts for each (m/s)2 of speed that one sigma of wind is worth."""


def engine_run(
    label: str,
    rng: np.random.Generator,
    *,
    gain: Callable[[float], float] = lambda rpm: 1.0,
    temperature_k: float = 293.15,
    pressure_pa: float = 101_000.0,
    noise: float = 0.004,
    wind: float | None = None,
    rpm_after: float = 8000.0,
    skip: tuple[tuple[int, float], ...] = (),
    air: bool = True,
    mps_share: float = 1.0,
    manifold_pa: float | None = None,
) -> ComparedRun:
    """A run with 200 kW in every class, times a gain, the air's share, a run's and a cell's own scatter, and a wind."""
    level = (pressure_pa / 101_000.0) ** 1.1 * (temperature_k / 293.15) ** WARM * np.exp(rng.normal(0, noise))
    blown = rng.normal(0, WIND_W) if wind is None else wind
    curves = []
    for gear in GEARS:
        kept = [low for low in LOWS if (gear, low) not in skip]
        speeds = [mps_share * MPS_AT_9000[gear] * (low + 125.0) / 9000.0 for low in kept]
        power = [
            200e3 * gain(low + 125.0) * level * np.exp(rng.normal(0, noise)) + blown * v**2
            for low, v in zip(kept, speeds, strict=True)
        ]
        alike = [(value,) * len(kept) for value in (2e3, 0.25 * gear, 1.0, 1e3)]
        centres = tuple(low + 125.0 for low in kept)
        charge = () if manifold_pa is None else (manifold_pa,) * len(kept)
        curves.append(GearCurve(gear, centres, tuple(power), *alike, speed_mps=tuple(speeds), manifold_pa=charge))
    plain = _plain()
    review, shift = plain.review, plain.review.shifts[0]
    sky = replace(review.air, temperature_k=temperature_k, pressure_pa=pressure_pa)
    of_day = SharedPart("day: wind", 0.9 * WIND_W * 1.96 * 36.0**2)
    average = Estimate(180e3 * level, 5e3, 1.5e3, (of_day,))
    after = Estimate(rpm_after + rng.normal(0, 15.0), 40.0, 20.0)
    review = replace(
        review,
        run=replace(review.run, label=label),
        air=sky if air else None,
        power=replace(review.power, average_w=average, curves=tuple(curves)),
        shifts=(replace(shift, rpm_after=after),),
    )
    return replace(plain, label=label, review=review)


@cache
def _plain() -> ComparedRun:
    """One integrated run serves for all of them."""
    told = {
        "power": {"average_w": {"value": 1.0}, "shares": [{"source": "wind", "plus_minus_w": WIND_W * 1.96 * 36.0**2}]},
        "band": {"low_rpm": 7600.0, "high_rpm": 9900.0, "time_in_s": 8.0, "share_in": 0.8},
        "air": {"vapour_pressure_pa": 0.0, "density_kgpm3": {"value": 1.2, "plus_minus": 0.01}},
    }  # fmt: skip
    return planted_run(shifts=((1, 40.0, 0.1),), told=told)
