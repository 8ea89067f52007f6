"""The air taken out of a comparison: what pressure and temperature explain, as a bracket, with the rule that was used.

Public: `AirRule`, `AirSeen`, `AirExponents`, `air_seen`, `take_air_out`, `explain_air`, `published_exponents`,
`charge_of`, `vapour_of`, `elapsed_by_power`, `elapsed_by_wind`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.air.atmosphere import vapour_pressure
from passband.analysis.air.day import HUMIDITY_HALF_WIDTH, PRESSURE_HALF_WIDTH_PA, TEMPERATURE_HALF_WIDTH_K
from passband.analysis.quantities import FloatArray
from passband.analysis.results.air import AirState
from passband.analysis.results.unknown import known
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.sensors.boost_trace import BOOSTED_PA

PRESSURE_EXPONENT, PRESSURE_PLUS_MINUS = 1.1, 0.1
"""Brake power goes with the pressure of the charge to this power: indicated power goes with it as it is, and friction,
which does not, makes it 1.18 at the 85 % mechanical efficiency that SAE J1349 takes. [-]"""
TEMPERATURE_EXPONENT, TEMPERATURE_PLUS_MINUS = -0.25, 0.35
"""At one pressure an engine without boost goes with the air's absolute temperature to -0.59 (SAE J1349), -0.6 (ISO
1585) or -0.5 (DIN 70020) by the published rules; where fuel, ports and plenum set the charge's own temperature, hardly
at all. Simulated engines lie at either end, so that the half-width must hold both. [-]"""
BOOSTED_TEMPERATURE_EXPONENT, BOOSTED_TEMPERATURE_PLUS_MINUS = -0.35, 0.4
"""No rule speaks for a boosted one. At one pressure ratio a compressor's delivery goes with its inlet's absolute
temperature, and a cooler ends in the same day's air, so that the charge warms as without boost; parts that coolant
keeps warm, and a control by charge temperature, may hold it: from nothing to more than without boost. Chosen. [-]"""
VAPOUR_COUNTS, VAPOUR_PLUS_MINUS = 0.5, 0.7
"""How much of the vapour counts: all of it by the published rules (SAE J1349, ISO 1585: dry pressure), none where the
humidity given was typed once for a day. Simulated engines lie at either end, so that the half-width must hold both.
What a hygrometer may be off by is a cause of its own. [-]"""
BY_THE_RULES = 0.5
"""How far temperature's and vapour's brackets go together: an engine that goes by the published rules goes by both. [-]
Six kinds of engines of four simulators, each at one end or the other of both: 0.45."""
HELD_EXPONENT, HELD_PLUS_MINUS = 0.55, 0.55
"""A boosted engine without its manifold pressure logged: between boost held (0) and pressure ratio held (1.1). [-]"""
READINGS = ("thermometer", "hygrometer", "barometer")
"""Instruments that the day's air was read by, as `AirRule.readings` has them."""


@dataclass(frozen=True, slots=True)
class AirRule:
    """What the air explains of each run's power, to a constant that all runs share."""

    explained: FloatArray
    """Per run and cell: natural logarithm of power that the air explains, less the mean, shape (runs, cells). [-]"""
    of_run: FloatArray
    """Mean over a run's cells by time, or of the station alone where there are none, shape (runs,). [-]"""
    half_widths: tuple[FloatArray, ...]
    """How `of_run` moves with each exponent, then with vapour, at the end of its bracket, shape (runs,) each; what
    temperature and vapour have in common is the temperature's. [-]"""
    readings: tuple[FloatArray, ...]
    """How `of_run` moves with each instrument of the day at the end of its 95 %: `READINGS`, shape (runs,) each. [-]"""
    rule: str
    """What was done, for a reader."""


@dataclass(frozen=True, slots=True)
class AirSeen:
    """The air of one run, as far as power goes with it."""

    temperature_k: float
    """[K]"""
    pressure_pa: float
    """At the station, absolute. [Pa]"""
    dry_pa: float
    """Of it without water vapour. [Pa]"""
    boosted: bool
    """Whether the run logs boost, and has some."""


@dataclass(frozen=True, slots=True)
class AirExponents:
    """With which powers of the charge's pressure and the air's absolute temperature an engine's power goes."""

    pressure: float
    """[-]"""
    temperature: float
    """[-]"""
    moves: tuple[tuple[float, float], ...]
    """By how much both move together, pressure's first, at the end of 95 % of each thing that is open of them. [-]"""
    of_runs: int = 0
    """Of how many of the engine's own runs they were learnt; 0: they are the published rules'."""

    @property
    def pressure_plus_minus(self) -> float:
        """95 % half-width of the pressure's. [-]."""
        return math.hypot(*(pressure for pressure, _ in self.moves))

    @property
    def temperature_plus_minus(self) -> float:
        """95 % half-width of the temperature's. [-]."""
        return math.hypot(*(temperature for _, temperature in self.moves))


def air_seen(run: ComparedRun) -> AirSeen | None:
    """The air of one run.

    Parameters
    ----------
    run : ComparedRun
        Any.

    Returns
    -------
    AirSeen or None
        None where its air is unknown.
    """
    air = run.review.air
    return AirSeen(air.temperature_k, air.pressure_pa, _dry_pa(air), _boosted(run)) if air is not None else None


def take_air_out(runs: Sequence[ComparedRun], cells: CellGrid, learnt: AirExponents | None = None) -> AirRule | None:
    """Say what the air explains of several runs' power.

    Parameters
    ----------
    runs : sequence of ComparedRun
        All that are held against each other.
    cells : CellGrid
        Their cells.
    learnt : AirExponents, optional
        Of the engine's own runs, as `own_air.learn_exponents` gives them; without it the published rules stand.

    Returns
    -------
    AirRule or None
        None where a run's air is unknown.

    Notes
    -----
    Pressure is the manifold's own, cell by cell, where all runs log it, and what is drawn in keeps its share of water
    vapour: `vapour_of`. Else an engine without boost goes by the dry pressure of the station, and a boosted one by a
    bracket between boost held and pressure ratio held.
    """
    return explain_air([air_seen(run) for run in runs], cells, learnt)


def explain_air(
    airs: Sequence[AirSeen | None], cells: CellGrid, learnt: AirExponents | None = None
) -> AirRule | None:  # fmt: skip
    """Say what the air explains of several runs' power, from what was kept of them.

    Parameters
    ----------
    airs : sequence of AirSeen or None
        Of each run.
    cells : CellGrid
        Their cells.
    learnt : AirExponents, optional
        As `take_air_out` takes it.

    Returns
    -------
    AirRule or None
        As `take_air_out` says.
    """
    known_airs = [air for air in airs if air is not None]
    if not airs or len(known_airs) < len(airs):
        return None
    warmth = _about_mean(np.log([air.temperature_k for air in known_airs]))
    station = _about_mean(np.log([air.dry_pa for air in known_airs]))
    charge = charge_of(known_airs, cells)
    charge = charge - charge.mean(axis=0)
    by_run = _over_time(charge, cells.time_s) if cells.size else station
    used = learnt if learnt is not None else published_exponents(known_airs, cells)
    vapour, vapour_open = (_about_mean(part) for part in vapour_of(known_airs, cells))
    explained = used.pressure * charge + (used.temperature * warmth + vapour)[:, None]
    return AirRule(
        explained,
        used.pressure * by_run + used.temperature * warmth + vapour,
        _together(
            used, [pressure * by_run + temperature * warmth for pressure, temperature in used.moves], vapour_open
        ),
        _readings(used, known_airs, logged=cells.log_charge is not None),
        _in_words(used, known_airs, logged=cells.log_charge is not None),
    )


def _together(used: AirExponents, moves: list[FloatArray], vapour: FloatArray) -> tuple[FloatArray, ...]:
    """What each exponent and vapour leave open, as independent causes.

    By the published rules power falls with temperature and with vapour: their brackets are at one end together, by
    `BY_THE_RULES`. What an engine's own runs taught knows of no rules.
    """
    if used.of_runs:
        return (*moves, vapour)
    pressure, temperature = moves
    return pressure, temperature - BY_THE_RULES * vapour, math.sqrt(1.0 - BY_THE_RULES**2) * vapour


def published_exponents(airs: Sequence[AirSeen], cells: CellGrid) -> AirExponents:
    """What the published rules and the kind of engine leave open.

    Parameters
    ----------
    airs, cells
        As in `explain_air`.

    Returns
    -------
    AirExponents
        Wide enough for engines at either end.
    """
    held = cells.log_charge is None and any(air.boosted for air in airs)
    pressure = (HELD_EXPONENT, HELD_PLUS_MINUS) if held else (PRESSURE_EXPONENT, PRESSURE_PLUS_MINUS)
    warmth = (TEMPERATURE_EXPONENT, TEMPERATURE_PLUS_MINUS)
    if any(air.boosted for air in airs):
        warmth = BOOSTED_TEMPERATURE_EXPONENT, BOOSTED_TEMPERATURE_PLUS_MINUS
    return AirExponents(pressure[0], warmth[0], ((pressure[1], 0.0), (0.0, warmth[1])))


def charge_of(airs: Sequence[AirSeen], cells: CellGrid) -> FloatArray:
    """The pressure that power goes with.

    Parameters
    ----------
    airs, cells
        As in `explain_air`.

    Returns
    -------
    array, shape (runs, cells)
        Natural logarithm: of the manifold's as logged, else of the station's without water vapour. [ln Pa]
    """
    if cells.log_charge is not None:
        return cells.log_charge
    return np.repeat(np.log([air.dry_pa for air in airs])[:, None], cells.size, axis=1)


def vapour_of(airs: Sequence[AirSeen], cells: CellGrid) -> tuple[FloatArray, FloatArray]:
    """What vapour takes of the power that the manifold's pressure would make.

    Parameters
    ----------
    airs, cells
        As in `explain_air`.

    Returns
    -------
    (array, array), shape (runs,)
        Natural logarithm of power, to a constant, and by how much it moves at the end of what is open of it; zero
        where no manifold pressure is logged, since the station's counts dry. [-]

    Notes
    -----
    What is drawn in keeps its share of vapour, boosted or not: water takes the place of air and burns nothing.
    """
    if cells.log_charge is None:
        return np.zeros(len(airs)), np.zeros(len(airs))
    whole = np.asarray(PRESSURE_EXPONENT * np.log([air.dry_pa / air.pressure_pa for air in airs]), dtype=np.float64)
    return VAPOUR_COUNTS * whole, VAPOUR_PLUS_MINUS * whole


def _readings(used: AirExponents, airs: Sequence[AirSeen], *, logged: bool) -> tuple[FloatArray, ...]:
    """What thermometer, hygrometer and barometer make of ln power, each read a half-width too high.

    With the manifold logged the barometer does not count: what it moves of the vapour's share is next to nothing.
    """
    kelvin, dry = (np.array([getattr(air, name) for air in airs]) for name in ("temperature_k", "dry_pa"))
    humid = np.array([vapour_pressure(HUMIDITY_HALF_WIDTH, air.temperature_k, air.pressure_pa) for air in airs])
    counts = VAPOUR_COUNTS * PRESSURE_EXPONENT if logged else used.pressure
    return (
        used.temperature * TEMPERATURE_HALF_WIDTH_K / kelvin,
        -counts * humid / dry,
        np.zeros(len(airs)) if logged else used.pressure * PRESSURE_HALF_WIDTH_PA / dry,
    )


def _in_words(used: AirExponents, airs: Sequence[AirSeen], *, logged: bool) -> str:
    """The rule for a reader."""
    source = "the manifold pressure logged at each gear and engine speed" if logged else "the dry pressure at the strip"
    if not logged and any(air.boosted for air in airs) and not used.of_runs:
        source += ", between boost held and pressure ratio held"
    why = (
        f"as this engine's own {used.of_runs} clean runs in different air show it, each against those of its meeting"
        if used.of_runs
        else _why_published(airs)
    )
    vapour = (
        f" Of what water vapour takes of that pressure {VAPOUR_COUNTS:g} +- {VAPOUR_PLUS_MINUS:g} was counted."
        if logged
        else ""
    )
    return (
        f"The air was taken out of power: by {source}, to the power {used.pressure:.3g} +- "
        f"{used.pressure_plus_minus:.2g}, and by the air's absolute temperature, to the power {used.temperature:.3g} "
        f"+- {used.temperature_plus_minus:.2g} ({why}).{vapour}"
    )


def _why_published(airs: Sequence[AirSeen]) -> str:
    if any(air.boosted for air in airs):
        return "of a boosted engine, which no published rule speaks for: from nothing to more than an unboosted one's"
    return "from nothing to all that the published rules have for an engine without boost"


def _about_mean(values: FloatArray) -> FloatArray:
    return np.asarray(values - values.mean(), dtype=np.float64)


def _dry_pa(air: AirState) -> float:
    return air.pressure_pa - air.vapour_pressure_pa


def _over_time(values: FloatArray, time_s: FloatArray) -> FloatArray:
    return np.asarray(values @ time_s / time_s.sum(), dtype=np.float64)


def _boosted(run: ComparedRun) -> bool:
    boost = known(run.review.boost)
    channel = run.channels.get("boost")
    if boost is None or channel is None or not np.isfinite(channel).any():
        return False
    return float(np.nanquantile(channel, 0.9)) > BOOSTED_PA


def elapsed_by_power(run: ComparedRun) -> float:
    """How much longer a run would have taken with less power throughout, to first order.

    Parameters
    ----------
    run : ComparedRun
        To its finish.

    Returns
    -------
    float
        Seconds for one unit of ln power, from where the clutch has locked on: until then power waits for the tires. [s]

    Notes
    -----
    With c = v^3 / 3 a share more of power adds that share of what c gains; over distance it is worth the integral of
    (c - c at the lock) / v^4, which is a third of the integral of 1 - (v at the lock / v)^3 over time. That drag goes
    with the air's density as power does is in it: the one mends part of what the other takes.
    """
    time_s, speed = _from_lock(run)
    if time_s.size < 2:
        return 0.0
    return float(np.trapezoid(1.0 - (speed[0] / speed) ** 3, time_s)) / 3.0


def elapsed_by_wind(run: ComparedRun) -> float:
    """How much longer a run would have taken with a wind less behind it, to first order.

    Parameters
    ----------
    run : ComparedRun
        To its finish.

    Returns
    -------
    float
        Seconds for a wind whose mean power is one unit of the run's own, from where the clutch has locked on. [s]

    Notes
    -----
    A wind's power goes with speed squared: most of it comes late, where little way is left for it to tell. With p the
    car's own v dv/dt and c as in `elapsed_by_power`, it takes from c the integral of v p (v^2 / mean v^2) over time, p
    its mean, which over distance is worth the integral of that over v^4.
    """
    time_s, speed = _from_lock(run)
    if time_s.size < 3:
        return 0.0
    lasts_s = float(time_s[-1] - time_s[0])
    mean = 0.5 * float(speed[-1] ** 2 - speed[0] ** 2) / lasts_s
    taken = speed**3 * (mean * lasts_s / float(np.trapezoid(speed**2, time_s)))
    steps = 0.5 * (taken[1:] + taken[:-1]) * np.diff(time_s)
    return float(np.trapezoid(np.concatenate(([0.0], np.cumsum(steps))) / speed**3, time_s))


def _from_lock(run: ComparedRun) -> tuple[FloatArray, FloatArray]:
    """Time and speed from where the clutch has locked on, under power. [s], [m/s]."""
    launch = known(run.review.launch)
    locked_s = (known(launch.clutch_locked_s) if launch is not None else None) or 0.0
    use = (run.time_s >= max(locked_s, 0.0)) & (run.distance_m <= run.under_power_to_m) & (run.speed_mps > 0)
    return run.time_s[use], run.speed_mps[use]
