"""Whether an engine was charged otherwise after a change than before: what is taken out of power, and with it what may
have been the change, or a sensor that drifted.

Public: `tell_charge`.
"""

from __future__ import annotations

import math

import numpy as np

from passband.analysis.results.findings import Finding
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.same_air import PRESSURE_EXPONENT
from passband.analysis.runs.two_groups import TwoGroups

WORTH_TELLING = 0.01
"""A pressure that changed by less is no news. [-] Chosen: a hundredth of power is what a change is asked for."""
OF_ONE_RUN = 0.005
"""95 % of what a manifold's pressure at one engine speed is by chance in a single run. [-] Chosen; of two runs and more
their spread tells."""


def tell_charge(groups: TwoGroups, cells: CellGrid) -> list[Finding]:
    """Say by how much the manifold's pressure changed at one engine speed, and power as it was run.

    Parameters
    ----------
    groups : TwoGroups
        The runs.
    cells : CellGrid
        Their cells.

    Returns
    -------
    list of Finding
        Empty where the manifold's pressure is not logged, or it did not change beyond chance and the barometer's part.
    """
    airs = [run.review.air for run in groups.runs]
    if cells.log_charge is None or not groups.two_sided or not cells.size:
        return []
    share = cells.time_s / cells.time_s.sum()
    charge = groups.difference(cells.log_charge @ share, np.full(len(airs), OF_ONE_RUN))
    station = groups.apart(np.log([air.pressure_pa for air in airs if air])) if all(airs) else 0.0
    off = charge.value - station
    if abs(off) < max(WORTH_TELLING, charge.plus_minus):
        return []
    as_run = groups.difference(cells.log_power @ share, cells.own @ share)
    taken = math.expm1(PRESSURE_EXPONENT * charge.value)
    text = (
        f"At one engine speed in one gear the manifold's pressure was {_more(charge.value, charge.plus_minus)} after "
        f"than before, the strip's {_more(station)}. Power by engine speed has that taken out, as {100 * taken:+.1f} % "
        f"of power; as run, power was {_more(as_run.value, as_run.plus_minus)}. Where the charge is the change, or its "
        "sensor drifted, take the power as run."
    )
    return [Finding("charge-changed-too", "caution", text)]


def _more(log: float, half_width: float | None = None) -> str:
    share = 100 * abs(math.expm1(log))
    give = "" if half_width is None else f" +- {100 * half_width:.1f}"
    return f"{share:.1f}{give} % {'higher' if log > 0 else 'lower'}"
