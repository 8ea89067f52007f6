"""What a launch's clutch turned to heat: its torque times the speed by which the engine runs ahead of the gearbox.

Public: `clutch_heat`, `tell_no_heat`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.motion.ground_speed import Motion
from passband.analysis.power.balance import Balance
from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.power.facts import FactValues
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding

BEFORE_S = 1.0
"""A clutch bites before the clock starts, while the car rolls through the beam; never so long before. Common practice,
no source. [s]"""


def clutch_heat(series: DrivelineSeries, parts: Balance, facts: FactValues) -> FloatArray:
    """Heat into the clutch, from its bite to the end of the run, shifts left out, of m cases at once.

    Parameters
    ----------
    series : DrivelineSeries
        Motion, gears, engine.
    parts : Balance
        Where the power went, on the same grid, shape (m, n).
    facts : FactValues
        Of car and day.

    Returns
    -------
    array, shape (m,)
        [J]

    Notes
    -----
    The integral of T (we - wi) where the clutch slips: T wi is what leaves it for the gearbox, hub power over the
    driveline's efficiency; T we is what comes in, as `balance` has it. In a shift dogs may slip in its place, and a
    fast one shows nothing of either: what that turns to heat is not in here. Slip of less than 3 % is not seen.
    """
    use = np.flatnonzero(_slips(series))
    hub_w = parts.hub_w[:, use]
    lost_w = parts.clutch_w[:, use] - hub_w * np.where(hub_w > 0, 1.0 / facts.efficiency, facts.efficiency)
    # row by row in memory, or one case would be added up in another order than many
    return np.asarray(np.nansum(np.ascontiguousarray(np.maximum(lost_w, 0.0)), axis=1) * series.step_s)


def tell_no_heat(series: DrivelineSeries, motion: Motion, *, logged: bool) -> Finding | None:
    """Say why the heat into a clutch is not known.

    Parameters
    ----------
    series : DrivelineSeries
        Motion, gears, engine.
    motion : Motion
        What it was made from.
    logged : bool
        Whether engine speed is.

    Returns
    -------
    Finding or None
        None where it is known.
    """
    slips = _slips(series)
    gap = series.spinning & ~np.isfinite(series.surface_mps)
    if series.converter:
        text = "The car has a converter: there is no clutch whose heat could be counted."
    elif not logged:
        text = "Heat into the clutch needs the engine's speed, which is not logged."
    elif motion.through_driveline:
        text = "Speed was made from engine or driven tires, which shows nothing of the clutch's slip; log ground speed."
    elif not (slips & (series.time_s < series.end_s)).any():
        text = "No slip of the clutch shows in this launch, so its heat is not known: engine speed is too coarse there."
    elif (slips & gap).any():
        text = (
            "The tires spun while the clutch slipped, and nothing shows their speed: which of the two turned the "
            "engine's work to heat is not known. Log a driven wheel or the driveshaft."
        )
    else:
        return None
    return Finding("clutch-heat-not-known", "note", text)


def _slips(series: DrivelineSeries) -> BoolArray:
    inside = (series.time_s >= -BEFORE_S) & (series.time_s <= series.end_s)
    return np.asarray(series.slipping & ~series.shifting & inside & ~series.converter, dtype=np.bool_)
