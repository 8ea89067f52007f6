"""From the ground back to the flywheel: what the car's motion asked of tires, wheels, gearbox, clutch and engine.

Public: `Balance`, `balance`, `balances`, `alike`, `road_load`, `integrate`,
`integrals`, `between`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from passband.analysis.power.driveline_series import SLOPE_SPAN_S, DrivelineSeries
from passband.analysis.power.facts import Facts, FactValues
from passband.analysis.quantities import G_MPS2, BoolArray, FloatArray, IntArray
from passband.analysis.statistics.filters import greatest_near, slope
from passband.analysis.statistics.intervals import find_true_runs

QUIET_SPAN_S, LEAST_QUIET_MPS = 0.25, 8.0
"""The same in a quiet pull, where only slip and growth change it, and the speed from which there is one. [s], [m/s]"""
LETS_GO = 0.8
"""Share of the greatest force so near that a quiet pull keeps: less is a lift, a cut or a limiter. [-]"""
STALL_TORQUE_RATIO, STALL_TORQUE_RATIO_HALF_WIDTH = 1.8, 0.4
"""Torque multiplication of a drag-race converter at stall, and its 95 % range. Common practice, no source."""
COUPLING_SPEED_RATIO = 0.88
"""Speed ratio at which a converter stops multiplying torque. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Balance:
    """Where the power went, at each sample; shape (n,), of several cases at once (m, n)."""

    force_n: FloatArray
    """Of the driven tires on the car. [N]"""
    ground_w: FloatArray
    """Force times ground speed. [W]"""
    hub_w: FloatArray
    """At the driven hubs: with tire slip and the driven wheels' own inertia. [W]"""
    clutch_w: FloatArray
    """Into the clutch: with driveline losses and the clutch's slip. [W]"""
    engine_own_w: FloatArray
    """Taken by the inertia of the engine, and of the gearbox's input where it is locked to it. [W]"""
    brake_w: FloatArray
    """At the crank, before that. [W]"""

    load_w: FloatArray
    """Of the ground's, what air and rolling take. [W]"""

    def some(self, rows: Sequence[int] | int) -> Balance:
        """Some of several cases, or one."""
        return Balance(*(getattr(self, field.name)[rows] for field in fields(self)))


def road_load(
    through_air_mps: FloatArray,
    *,
    mass_kg: float | FloatArray,
    drag_area_m2: float | FloatArray,
    rolling: float | FloatArray,
    density_kgpm3: float | FloatArray,
    grade: float | FloatArray = 0.0,
) -> FloatArray:
    """Force that holds a car at a steady speed: air, rolling, grade.

    Parameters
    ----------
    through_air_mps : array, shape (n,)
        Ground speed less the wind from behind. [m/s]
    mass_kg, drag_area_m2, rolling, density_kgpm3 : float
        [kg], Cd x A [m2], [-], [kg/m3]
    grade : float
        Rise over distance, uphill positive. [-]

    Returns
    -------
    array, shape (n,)
        [N]

    Notes
    -----
    1/2 rho CdA u|u| + (Crr + grade) m g. Lift and the growth of rolling resistance with speed are left out.

    Examples
    --------
    >>> load = road_load(np.array([30.0]), mass_kg=1000.0, drag_area_m2=0.6, rolling=0.015, density_kgpm3=1.2)
    >>> load.round(1).tolist()
    [471.1]
    """
    air = 0.5 * density_kgpm3 * drag_area_m2 * through_air_mps * np.abs(through_air_mps)
    return air + (rolling + grade) * mass_kg * G_MPS2


def balance(
    series: DrivelineSeries, facts: Facts, tire_mps: FloatArray, *, rest_mps: FloatArray | None = None,
    stall_ratio: float = STALL_TORQUE_RATIO,
) -> Balance:  # fmt: skip
    """Follow the power from the ground back to the crank at each sample.

    Parameters
    ----------
    series : DrivelineSeries
        Grid of shape (n,).
    facts : Facts
        Of car and day.
    tire_mps : array, shape (n,)
        True surface speed of the driven tires. [m/s]
    rest_mps : array, shape (n,), optional
        The same at rest radius, which is what turns with the engine; `tire_mps` where left out. [m/s]
    stall_ratio : float
        A converter's torque multiplication at stall. [-]

    Returns
    -------
    Balance
        NaN where motion is.

    Notes
    -----
    F = (m + Ju / r^2) a + road load; hub F vt + Jd w dw/dt; gearbox input hub / eta (times eta when it brakes); clutch:
    input torque times engine speed while it slips, so the slip's heat counts as the engine's work, and a grown tire is
    a longer lever; brake power adds
    (Je + Jin) w dw/dt. A converter's torque ratio falls straight from stall to 1 at the coupling point; through a shift
    it is 1: the turbine still turns nearly with the engine, and it is the next gear's pack that slips.
    """
    return balances(series, facts.values, tire_mps, rest_mps=rest_mps, stall_ratio=stall_ratio).some(0)


def balances(
    series: DrivelineSeries, facts: FactValues, tire_mps: FloatArray, *, rest_mps: FloatArray | None = None,
    stall_ratio: float = STALL_TORQUE_RATIO,
) -> Balance:  # fmt: skip
    """Follow the power from the ground back to the crank, of several cases at once.

    Parameters
    ----------
    series : DrivelineSeries
        Grid of shape (n,); its speed and acceleration may be of shape (m, n).
    facts : FactValues
        Of one case or of m.
    tire_mps : array, shape (n,)
        As in `balance`. [m/s]
    rest_mps : array, shape (n,) or (m, n), optional
        As in `balance`. [m/s]
    stall_ratio : float
        As in `balance`.

    Returns
    -------
    Balance
        Of shape (m, n).
    """
    speed, acceleration = np.atleast_2d(series.speed_mps), series.acceleration_mps2
    load = road_load(
        speed - facts.wind, mass_kg=facts.mass, drag_area_m2=facts.drag_area, rolling=facts.rolling,
        density_kgpm3=facts.density, grade=facts.slope,
    )  # fmt: skip
    force = np.where(speed > 0.05, facts.rolling_mass * acceleration + load, 0.0)
    surface = np.where(np.isfinite(series.surface_mps), series.surface_mps, tire_mps)
    rest = np.atleast_2d(tire_mps if rest_mps is None else rest_mps)
    surface_mps2 = _rate(series, force, surface, rest)
    spin_force = facts.spinning_mass * surface_mps2
    hub = force * tire_mps + spin_force * surface
    carried = np.where(hub > 0, 1.0 / facts.efficiency, facts.efficiency)
    grown = np.where(rest > 0, tire_mps / np.where(rest > 0, rest, 1.0), 1.0)
    slip_w = (force * grown + spin_force) * carried / series.turns_rad_per_m * series.engine_rad_per_s
    slip_w = slip_w / _torque_ratio(series, surface, stall_ratio)
    use_slip = series.slipping & np.isfinite(slip_w) & (force + spin_force > 0)
    clutch = np.where(use_slip, slip_w, hub * carried)
    own = _engine_own(series, facts, surface_mps2)
    ground = force * speed
    load_w = ground - facts.rolling_mass * acceleration * speed
    return Balance(force, ground, hub, clutch, own, clutch + own, load_w)


def _rate(series: DrivelineSeries, force_n: FloatArray, surface: FloatArray, rest: FloatArray) -> FloatArray:
    """Rate of change of the tires' surface speed, shape (m, n).

    As their slip eases and they grow, it is some per cent off the car's own acceleration, which stands in where the
    drive is not quiet.
    """
    step = series.step_s
    near = np.convolve(series.spinning.astype(np.float64), np.ones(9), mode="same") > 0
    rate = np.array(np.broadcast_to(series.acceleration_mps2, force_n.shape))
    if near.any():
        measured = slope(surface, step_s=step, span_s=SLOPE_SPAN_S)
        rate = np.where(near & np.isfinite(measured), measured, rate)
    quiet = ~near & ~series.settling & ~series.slipping & np.isfinite(series.turns_rad_per_m) & np.isfinite(rest)
    quiet = (
        quiet
        & (series.speed_mps > LEAST_QUIET_MPS)
        & (
            force_n
            > LETS_GO * greatest_near(np.where(np.isfinite(force_n), force_n, 0.0), reach=round(QUIET_SPAN_S / step))
        )
    )
    for cases in alike(quiet):
        for pull in find_true_runs(quiet[cases[0]]):
            if (pull.stop - pull.start) * step > 2.0 * QUIET_SPAN_S:
                part = slice(pull.start, pull.stop)
                its = rest[:, part] if rest.shape[0] == 1 else rest[cases, part]
                rate[cases, part] = slope(its, step_s=step, span_s=QUIET_SPAN_S)
    return rate


def alike(masks: BoolArray) -> Iterator[IntArray]:
    """Rows that are the same, together.

    Parameters
    ----------
    masks : array of bool, shape (m, n)
        Any.

    Yields
    ------
    array of int
        Places of rows that are the same, each row once.

    Examples
    --------
    >>> [rows.tolist() for rows in alike(np.array([[True], [False], [True]]))]
    [[0, 2], [1]]
    """
    left = np.arange(masks.shape[0])
    while left.size:
        same = (masks[left] == masks[left[0]]).all(axis=1)
        yield left[same]
        left = left[~same]


def _torque_ratio(series: DrivelineSeries, surface: FloatArray, stall_ratio: float) -> FloatArray:
    if not series.converter:
        return np.ones(surface.size)
    with np.errstate(divide="ignore", invalid="ignore"):
        speed_ratio = series.turns_rad_per_m * surface / series.engine_rad_per_s
    share = np.clip(np.nan_to_num(speed_ratio, nan=1.0) / COUPLING_SPEED_RATIO, 0.0, 1.0)
    return np.where(series.shifting, 1.0, stall_ratio + (1.0 - stall_ratio) * share)


def _engine_own(series: DrivelineSeries, facts: FactValues, surface_mps2: FloatArray) -> FloatArray:
    """Power that speeds the engine's own inertia up."""
    locked = np.isfinite(series.turns_rad_per_m) & ~series.slipping & ~series.settling
    rate = np.where(locked, series.turns_rad_per_m * surface_mps2, series.engine_rad_per_s2)
    inertia = facts.engine_inertia + np.where(locked, facts.input_inertia, 0.0)
    own = inertia * series.engine_rad_per_s * rate
    return np.where(np.isfinite(own), own, 0.0)


def integrate(time_s: FloatArray, values: FloatArray, *, start_s: float, stop_s: float) -> float:
    """Integral over a window, trapezoids, its ends between samples.

    Parameters
    ----------
    time_s, values : array, shape (n,)
        Rising times [s] and values.
    start_s, stop_s : float
        The window; what lies outside the record counts nothing. [s]

    Returns
    -------
    float
        In the values' unit times seconds; NaN if a value in the window is.

    Examples
    --------
    >>> integrate(np.array([0.0, 1.0, 2.0]), np.array([0.0, 1.0, 2.0]), start_s=0.5, stop_s=1.5)
    1.0
    """
    return float(integrals(time_s, values[None], [(start_s, stop_s)])[0, 0])


def integrals(time_s: FloatArray, values: FloatArray, stretches_s: Sequence[tuple[float, float]]) -> FloatArray:
    """Integrals of several cases over several windows, as `integrate` has them.

    Parameters
    ----------
    time_s, values : array, shape (n,) and (m, n)
        Rising times [s] and values.
    stretches_s : sequence of (start, stop)
        The windows. [s]

    Returns
    -------
    array, shape (m, windows)
        In the values' unit times seconds.

    Examples
    --------
    >>> integrals(np.array([0.0, 1.0, 2.0]), np.array([[0.0, 1.0, 2.0]]), [(0.5, 1.5), (0.0, 2.0)]).tolist()
    [[1.0, 2.0]]
    """
    found = np.zeros((values.shape[0], len(stretches_s)))
    for window, (start_s, stop_s) in enumerate(stretches_s):
        start, stop = max(start_s, float(time_s[0])), min(stop_s, float(time_s[-1]))
        if stop <= start:
            continue
        inside = slice(int(np.searchsorted(time_s, start, side="right")), int(np.searchsorted(time_s, stop)))
        at = np.concatenate(([start], time_s[inside], [stop]))
        ends = between(time_s, values, np.array([start, stop]))
        level = np.concatenate((ends[:, :1], values[:, inside], ends[:, 1:]), axis=1)
        # no matrix product, which adds up in another order for one row than for many
        found[:, window] = ((level[:, 1:] + level[:, :-1]) * (at[1:] - at[:-1])).sum(axis=1) / 2
    return found


def between(time_s: FloatArray, values: FloatArray, at_s: FloatArray) -> FloatArray:
    """Values of several cases between samples, straight lines; held beyond the record.

    Parameters
    ----------
    time_s, values : array, shape (n,) and (m, n)
        Rising times [s] and values.
    at_s : array, shape (k,)
        Moments. [s]

    Returns
    -------
    array, shape (m, k)
        In the values' unit.

    Examples
    --------
    >>> between(np.array([0.0, 1.0]), np.array([[0.0, 4.0]]), np.array([0.25, 3.0])).tolist()
    [[1.0, 4.0]]
    """
    at = np.clip(at_s, time_s[0], time_s[-1])
    after = np.clip(np.searchsorted(time_s, at, side="right"), 1, time_s.size - 1)
    share = (at - time_s[after - 1]) / (time_s[after] - time_s[after - 1])
    left, right = values[:, after - 1], values[:, after]
    return np.where(share == 0.0, left, np.where(share == 1.0, right, left + (right - left) * share))
