"""A run's air, from its review and its table of channels.

Public: `run_air_of`.
"""

from __future__ import annotations

import math
import re

import numpy as np
import polars as pl

from passband.analysis.given.car import Car
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.turbo.path import RunAir

AFTER_SHIFT_S = 0.15
"""After a shift its cut's exhaust is still at the lambda probe. [s] Common practice, no source."""
STEP_S = 0.01
"""Rows are taken no closer than this: a compressor is slower. [s]"""


def run_air_of(review: Review, table: pl.DataFrame, car: Car) -> RunAir | Finding:
    """What a run says of its air, from clock start to the end of the run.

    Parameters
    ----------
    review : Review
        Its window and its air.
    table : polars.DataFrame
        The run's table of channels.
    car : Car
        Bore, stroke, cylinders and the fuel's air.

    Returns
    -------
    RunAir or Finding
        The finding says that the run's air is not known.
    """
    if review.air is None or table.is_empty():
        return Finding(
            "map-needs",
            "caution",
            "The run cannot be laid on the map without its air: give temperature and pressure.",
            "Compressor map",
        )
    time_s = _column(table, "time_s")
    end_s = _end_s(review)
    rows = np.flatnonzero((time_s >= 0.0) & (time_s <= end_s))
    rows = rows[:: max(1, round(STEP_S / float(np.median(np.diff(time_s))))) if time_s.size > 1 else 1]
    part = table[rows.tolist()]
    ambient_pa = review.air.pressure_pa
    manifold = _column(part, "manifold_pressure")
    boost = _column(part, "boost")
    return RunAir(
        time_s=_column(part, "time_s"),
        distance_m=_column(part, "distance_m"),
        gear=_column(part, "gear"),
        engine_rpm=_column(part, "engine_speed"),
        manifold_pa=np.where(np.isfinite(manifold), manifold, boost + ambient_pa),
        manifold_k=_column(part, "intake_temperature"),
        throttle=_column(part, "throttle"),
        shifting=_shifting(review, _column(part, "time_s")),
        fuel_kgps=_column(part, "fuel_flow"),
        mixture=_mixture(part),
        ambient_pa=ambient_pa,
        ambient_k=review.air.temperature_k,
        displacement_m3=_displacement(car),
        stoichiometric_afr=car.fuel_stoichiometric_afr,
    )


def _shifting(review: Review, time_s: FloatArray) -> BoolArray:
    inside = np.zeros(time_s.size, dtype=bool)
    for shift in review.shifts:
        inside |= (time_s >= shift.time_s) & (time_s < shift.end_s + AFTER_SHIFT_S)
    return inside


def _end_s(review: Review) -> float:
    window = review.window
    start_s, finish_s = window.log_clock_start_s, window.log_finish_s
    return math.inf if start_s is None or finish_s is None else finish_s - start_s


def _column(table: pl.DataFrame, name: str) -> FloatArray:
    if name not in table.columns:
        return np.full(table.height, np.nan)
    values: FloatArray = table.get_column(name).cast(pl.Float64).fill_null(math.nan).to_numpy()
    return values


def _mixture(table: pl.DataFrame) -> FloatArray:
    """The engine's own lambda, else the mean of its cylinders' or banks'."""
    names = [name for name in table.columns if re.fullmatch(r"lambda(_\d+)?", name)]
    if "lambda" in names or not names:
        return _column(table, "lambda")
    return np.asarray(np.mean([_column(table, name) for name in names], axis=0))


def _displacement(car: Car) -> float | None:
    if car.bore is None or car.stroke is None or car.cylinders is None:
        return None
    return math.pi / 4.0 * car.bore**2 * car.stroke * car.cylinders
