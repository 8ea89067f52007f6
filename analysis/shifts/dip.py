"""How slow an engine-speed pick-up may be, by how far quick shifts are seen to dip below the next gear's speed.

An engine that dogs drag into the next gear falls below that gear's speed and swings back: the shafts ring for 5 to
10 ms. A pick-up that averages for longer hides the dip, one that shows it cannot be so slow. A dip that is missing does
not prove a slow one; it leaves it open.

Public: `are_quick`, `longest_lag_s`, `USUAL_LAG_S`.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.priors import PICKUP_LAG_PLUS_MINUS_S, PICKUP_LAG_S

USUAL_LAG_S = PICKUP_LAG_S + PICKUP_LAG_PLUS_MINUS_S
"""The longest of usual pick-ups. [s]"""
LONGEST_LAG_S = 0.025
"""The longest of any: a mean over three turns at 5,000 to 10,000 rpm, by arithmetic. [s]"""
HIDDEN_DIP, PLAIN_DIP = 0.05, 0.15
"""Share of the drop: a dip of less than the one rules no lag out, one of the other all but usual ones; straight
between. [-] Chosen on 147 simulated runs of both models and both sets of sensors, seeds 3000..3002."""
QUICK_S = 0.12
"""Shifts longer than this need not ring: a clutch that slips in takes the dip out. [s]"""


def are_quick(shifts: Sequence[Shift]) -> bool:
    """Whether a run's shifts are quick, by their median: such ones ring.

    Parameters
    ----------
    shifts : sequence of Shift
        All shifts of the run.

    Returns
    -------
    bool
        False where there is none.
    """
    return bool(shifts) and statistics.median(shift.duration_s for shift in shifts) < QUICK_S


def longest_lag_s(shifts: Sequence[Shift], *, converter: bool) -> float:
    """The longest lag that a run's own shifts leave open to its pick-up.

    Parameters
    ----------
    shifts : sequence of Shift
        All shifts of the run, measured with the usual lag.
    converter : bool
        Whether the car has one: it softens every shift.

    Returns
    -------
    float
        `USUAL_LAG_S` to `LONGEST_LAG_S`; the first where most shifts are not quick, and nothing would show it. [s]

    Notes
    -----
    The dip is the engine speed that the step between the ratios asks for, less RPM after, as a share of the drop; its
    median over the shifts counts. It does not see a pure delay, and of a car whose shifts are soft nothing. A quick
    shift whose shafts hardly ring looks like a slow pick-up: that price is taken for RPM before, where it is small, and
    not for RPM after, where prompt pick-ups would pay five times their plus-minus.
    """
    if converter or not are_quick(shifts):
        return USUAL_LAG_S
    dips = [dip for shift in shifts if (dip := _dip(shift)) is not None]
    if not dips:
        return USUAL_LAG_S
    hides = min(max((PLAIN_DIP - statistics.median(dips)) / (PLAIN_DIP - HIDDEN_DIP), 0.0), 1.0)
    return USUAL_LAG_S + hides * (LONGEST_LAG_S - USUAL_LAG_S)


def _dip(shift: Shift) -> float | None:
    """How far below the next gear's speed the engine was seen, as a share of its drop."""
    after, drop, asked_rpm = shift.rpm_after, shift.rpm_drop, shift.expected_rpm_after
    if isinstance(after, Unknown) or isinstance(drop, Unknown) or isinstance(asked_rpm, Unknown):
        return None
    return (asked_rpm - after.value) / drop.value if drop.value > 0.0 else None
