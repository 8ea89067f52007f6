"""Whether an engine was charged otherwise after a change than before.

The manifold's pressure is taken out of power with the air; with it goes what may have been the change, or a sensor that
drifted.

Public: `ChargeChange`, `find_charge_change`, `CHARGED`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.results.estimate import DEVICE, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.runs.cells import CellGrid
from passband.analysis.runs.same_air import PRESSURE_EXPONENT
from passband.analysis.runs.two_groups import TwoGroups

CHARGED = f"{DEVICE}: manifold pressure that changed beyond the barometer"
"""Cause of what such a change leaves open of power at one charge."""
WORTH_TELLING = 0.01
"""A pressure that changed by less is no news. [-] Chosen: a hundredth of power is what a change is asked for."""
OF_ONE_RUN = 0.005
"""95 % of what a manifold's pressure at one engine speed is by chance in a single run. [-] Chosen; of two runs and more
their spread tells."""


@dataclass(frozen=True, slots=True)
class ChargeChange:
    """By how much the manifold's pressure changed at one engine speed, and power with it; natural logarithms."""

    charge: Estimate
    """After less before. [-]"""
    station: float
    """The same of the barometer. [-]"""
    beyond: float
    """The most of it that no air explains. [-]"""
    as_run: Estimate
    """Power after less before, nothing taken out. [-]"""

    @property
    def of_power(self) -> float:
        """What was taken out of ln power for what no air explains. [-]."""
        return PRESSURE_EXPONENT * self.beyond

    def tell(self) -> Finding:
        """Say so, and where to look for what power did."""
        taken = math.expm1(PRESSURE_EXPONENT * self.charge.value)
        text = (
            f"At one engine speed in one gear the manifold's pressure was {_more(self.charge.value)} after than before "
            f"(give or take {100 * self.charge.plus_minus:.1f} %), the strip's {_more(self.station)}. Power by engine "
            f"speed has it taken out, {100 * taken:+.1f} % of power, and is left open by what the strip's air does not "
            f"explain; as run, power was {_more(self.as_run.value)} (give or take {100 * self.as_run.plus_minus:.1f} "
            "%). Where the charge is the change, or its sensor drifted, take the power as run; elapsed time and "
            "average power in the same air have only the strip's air taken out."
        )
        return Finding("charge-changed-too", "caution", text)


def find_charge_change(groups: TwoGroups, cells: CellGrid) -> ChargeChange | None:
    """Hold the manifold's pressure of two sides against each other, and against the barometer.

    Parameters
    ----------
    groups : TwoGroups
        The runs.
    cells : CellGrid
        Their cells.

    Returns
    -------
    ChargeChange or None
        None where the manifold's pressure is not logged, or changed no further than chance and the air make it.

    Notes
    -----
    Air makes it change by as much as the barometer (no boost, or a pressure ratio held), or not at all (an absolute
    pressure held), or by something between them (gauge boost held).
    """
    airs = [run.review.air for run in groups.runs]
    if cells.log_charge is None or not groups.two_sided or not cells.size:
        return None
    share = cells.time_s / cells.time_s.sum()
    charge = groups.difference(cells.log_charge @ share, np.full(len(airs), OF_ONE_RUN))
    known_pa = [air.pressure_pa for air in airs if air is not None]
    station = groups.apart(np.log(known_pa)) if len(known_pa) == len(airs) else 0.0
    least, most = sorted((charge.value, charge.value - station), key=abs)
    if least * most < 0 or abs(least) < max(WORTH_TELLING, charge.plus_minus):
        return None
    return ChargeChange(charge, station, most, groups.difference(cells.log_power @ share, cells.own @ share))


def _more(log: float) -> str:
    return f"{100 * abs(math.expm1(log)):.1f} % {'higher' if log > 0 else 'lower'}"
