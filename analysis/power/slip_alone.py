"""Mean power to the ground from a timing slip and the car's mass, where no log shows how the car moved.

Public: `power_by_slip`.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from passband.analysis.given.car import Car
from passband.analysis.motion.slip_alone import SlipRun
from passband.analysis.power.facts import FACT_NAMES, Facts, missing_mass, read_facts
from passband.analysis.quantities import G_MPS2
from passband.analysis.results.air import AirState
from passband.analysis.results.estimate import CAR, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.power import Power
from passband.analysis.results.unknown import Unknown

SHAPE_SHARE = 0.06
"""95 % of what the speed between the marks leaves open in the work against the air, as a share. [-]"""


def power_by_slip(run: SlipRun, car: Car, air: AirState) -> Power | Unknown:
    """Mean power to the ground between clock start and the last mark of a slip.

    Parameters
    ----------
    run : SlipRun
        The slip's own run.
    car : Car
        Needs the mass.
    air : AirState
        The day's air.

    Returns
    -------
    Power or Unknown
        The power that moved the car, and nothing else: the engine is not seen. Unknown without the mass.

    Notes
    -----
    (m (v1^2 - v0^2) / 2 + work against air and rolling) / time, with the undriven wheels' spin in the mass.
    """
    facts = read_facts(car, air)
    if facts is None:
        return Unknown(missing_mass())
    value = _mean_w(run, facts)
    shared = {
        f"{CAR}: {getattr(facts, name).source}": _mean_w(run, facts.moved(name)) - value
        for name in FACT_NAMES
        if name not in ("wind", "density", "slope") and getattr(facts, name).half_width > 0
    }
    faster = replace(run, end_speed=replace(run.end_speed, value=run.end_speed.value + run.end_speed.plus_minus))
    alone = (
        _mean_w(faster, facts),
        _mean_w(run, facts.moved("wind")),
        _mean_w(run, facts.moved("density")),
        _mean_w(run, facts.moved("slope")),
    )
    shape_w = SHAPE_SHARE * _against_air_j(run, facts) / run.time_s
    own = math.hypot(*(moved - value for moved in alone), shape_w)
    text = (
        "No log shows how the car moved: mean power to the ground is from the slip and the mass alone, and power at "
        "the flywheel is not known. Log a wheel speed, a driveshaft or GPS speed."
    )
    why = Unknown(Finding("power-by-slip-alone", "caution", text))
    return Power(
        average_w=why, average_pulling_w=why, average_over_distance_w=why,
        average_wheel_w=Estimate.parted(value, own, shared), peak_w=why, work_j=value * run.time_s,
        corrected_average_w=why, correction_factor=why, correction_rule=None, from_trap_speed_w=why,
        balance_error=why, shares=(), curves=(), mean_piston_speed_mps=why, bmep_pa=why, clutch_heat_j=why,
        findings=why.findings,
    )  # fmt: skip


def _against_air_j(run: SlipRun, facts: Facts) -> float:
    wind = run.speed_mps - facts.wind.value
    force = 0.5 * facts.density.value * facts.drag_area.value * wind * np.abs(wind)
    return float(np.trapezoid(force, run.way_m))


def _mean_w(run: SlipRun, facts: Facts) -> float:
    gained = 0.5 * facts.rolling_mass * (run.end_speed.value**2 - float(run.speed_mps[0]) ** 2)
    rolling = (facts.rolling.value + facts.slope.value) * facts.mass.value * G_MPS2 * float(run.way_m[-1])
    return (gained + _against_air_j(run, facts) + rolling) / run.time_s
