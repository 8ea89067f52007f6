"""An engine further ahead of the ground in a high gear than it was in a lower one, and no sensor at the tires.

Tires slip as they pull, and pull less in each higher gear: slip that grows with the gear is the clutch's.

Public: `find_slip_on_top`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.power.clutch_slip import ClutchSlip
from passband.analysis.power.driveline_series import DrivelineSeries
from passband.analysis.statistics.intervals import bridge, find_true_runs

MORE_BY = 0.04
"""Ahead by so much more than in any lower gear: tires grip alike within half of it, and ratios given to two places are
as good. [-] Of 76 simulated runs on sound clutches none was ahead by more than 0.005, three whose clutch slips on top
by 0.06, 0.095 and 0.12 (independent simulator, seeds 7000..7002; first model, wide sensors, seeds 7000 and 7001; facts
as an owner has them)."""
LEAST_S, BREAK_S = 0.5, 0.04
"""It lasts so long; noise breaks it for a moment. [s]"""
LEAST_MPS, LEAST_MPS2 = 15.0, 0.5
"""Slower, a late sensor makes a lead of its own; a car that hardly gains may be in neutral. [m/s], [m/s2]"""
LEAST_IN_GEAR_S = 0.4
"""A lower gear that was held for less shows no lead. [s]"""


def find_slip_on_top(series: DrivelineSeries) -> list[ClutchSlip]:
    """Where a clutch slipped though only ground and engine tell.

    Parameters
    ----------
    series : DrivelineSeries
        Of a run.

    Returns
    -------
    list of ClutchSlip
        In order, `share` by how much more than in the lower gears; none behind a converter.

    Notes
    -----
    A track that loses its grip toward the end looks alike. Ratios found in the run itself hide a slip that lasts.
    """
    if series.converter:
        return []
    with np.errstate(divide="ignore", invalid="ignore"):
        lead = np.log(series.engine_rad_per_s / (series.turns_rad_per_m * series.speed_mps))
    inside = (series.time_s > 0) & (series.time_s < series.end_s) & (series.speed_mps > LEAST_MPS)
    use = inside & ~series.settling & ~series.spinning & np.isfinite(lead) & (series.acceleration_mps2 > LEAST_MPS2)
    found, most = [], np.nan
    for gear in sorted({int(one) for one in series.gear[use]}):
        here = use & (series.gear == gear)
        if np.isfinite(most):
            ahead = here & (lead > most + MORE_BY)
            for piece in bridge(find_true_runs(ahead), round(BREAK_S / series.step_s)):
                start_s, stop_s = float(series.time_s[piece.start]), float(series.time_s[piece.stop - 1])
                if stop_s - start_s > LEAST_S:
                    share = float(np.nanmax(lead[piece.start : piece.stop])) - most
                    found.append(ClutchSlip(start_s, stop_s, gear, share))
        if np.count_nonzero(here) * series.step_s > LEAST_IN_GEAR_S:
            most = float(np.fmax(most, np.median(lead[here])))
    return found
