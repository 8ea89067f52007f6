"""A bench's sheet before a change and after it: what the change did, lift by lift or by engine speed.

Public: `LiftChange`, `FlowChange`, `SpeedChange`, `PowerChange`, `compare_flow`, `compare_dyno`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.bench.sheets import DynoCurve, FlowSheet
from passband.analysis.bench.valve_flow import at_depression
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding

STEP_RPM = 250.0
"""Curves are held against each other in steps of this. [rpm]"""
TOLD_SHARE = 0.01
"""Two flow benches, or one on two days, differ by about so much. From memory, no source. [-]"""


@dataclass(frozen=True, slots=True)
class LiftChange:
    """One lift."""

    lift_m: float
    """[m]"""
    intake: float | None
    """Inlet flow after over before; None where one of them is not measured. [-]"""
    exhaust: float | None
    """The same of the exhaust. [-]"""


@dataclass(frozen=True, slots=True)
class FlowChange:
    """What became of a head's flow."""

    rows: tuple[LiftChange, ...]
    """At the second sheet's lifts that the first reaches."""
    intake: float | None
    """Inlet flow after over before, evenly over these lifts. [-]"""
    exhaust: float | None
    """The same of the exhaust. [-]"""
    findings: tuple[Finding, ...]
    """What it rests on."""


@dataclass(frozen=True, slots=True)
class SpeedChange:
    """One engine speed."""

    engine_rpm: float
    """[rpm]"""
    before_w: float
    """[W]"""
    after_w: float
    """[W]"""

    @property
    def ratio(self) -> float:
        """After over before. [-]."""
        return self.after_w / self.before_w


@dataclass(frozen=True, slots=True)
class PowerChange:
    """What became of an engine's power."""

    rows: tuple[SpeedChange, ...]
    """In steps of 250 rpm where both curves reach."""
    ratio: float | None
    """After over before, evenly over these speeds; None where the curves share none. [-]"""
    findings: tuple[Finding, ...]
    """What it rests on."""


def compare_flow(before: FlowSheet, after: FlowSheet) -> FlowChange:
    """Hold a head's flow after a change against that before it.

    Parameters
    ----------
    before, after : FlowSheet
        Of one bench, best on one day.

    Returns
    -------
    FlowChange
        At one depression; the first sheet between its own lifts on straight lines, never beyond them.
    """
    sides = [
        {
            "intake": at_depression(one.intake_m3ps, one.depression_pa),
            "exhaust": at_depression(one.exhaust_m3ps, one.depression_pa),
        }
        for one in (before, after)
    ]
    shared = (after.lift_m >= before.lift_m[0]) & (after.lift_m <= before.lift_m[-1]) & (after.lift_m > 0.0)
    lift = after.lift_m[shared]
    ratios = {
        port: sides[1][port][shared] / _between(lift, before.lift_m, sides[0][port]) for port in ("intake", "exhaust")
    }
    rows = tuple(
        LiftChange(float(at), _or_none(one), _or_none(other))
        for at, one, other in zip(lift, ratios["intake"], ratios["exhaust"], strict=True)
    )
    text = (
        f"Flow is held against flow at the same lift and depression; the same bench differs by about {TOLD_SHARE:.0%} "
        "from day to day. More flow is no more power by itself: a dynamometer or the track says what became of it."
    )
    note = Finding("bench-before-after", "note", text, after.name)
    return FlowChange(rows, _mean(ratios["intake"]), _mean(ratios["exhaust"]), (note,))


def _between(at: FloatArray, known_at: FloatArray, values: FloatArray) -> FloatArray:
    fine = np.isfinite(values)
    if fine.sum() < 2:
        return np.full(at.size, np.nan)
    return np.interp(at, known_at[fine], values[fine], left=np.nan, right=np.nan)


def _mean(ratios: FloatArray) -> float | None:
    fine = ratios[np.isfinite(ratios)]
    return float(np.mean(fine)) if fine.size else None


def _or_none(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def compare_dyno(before: DynoCurve, after: DynoCurve) -> PowerChange:
    """Hold an engine's power after a change against that before it.

    Parameters
    ----------
    before, after : DynoCurve
        Of one dynamometer, corrected alike.

    Returns
    -------
    PowerChange
        Without rows where the curves share no engine speed.
    """
    low = max(before.engine_rpm[0], after.engine_rpm[0])
    high = min(before.engine_rpm[-1], after.engine_rpm[-1])
    speeds = np.arange(math.ceil(low / STEP_RPM) * STEP_RPM, high + 1e-6, STEP_RPM)
    sides = [np.interp(speeds, one.engine_rpm, one.power_w) for one in (before, after)]
    rows = tuple(SpeedChange(float(at), float(one), float(two)) for at, one, two in zip(speeds, *sides, strict=True))
    findings = [_curves_rest_on(before, after)]
    if not rows:
        text = f"{before.name} and {after.name} share no engine speed: nothing is held against anything."
        findings = [Finding("bench-not-alike", "caution", text, after.name)]
    return PowerChange(rows, float(np.mean([one.ratio for one in rows])) if rows else None, tuple(findings))


def _curves_rest_on(before: DynoCurve, after: DynoCurve) -> Finding:
    if before.correction.strip().lower() != after.correction.strip().lower():
        text = (
            f"The curves are not corrected alike ({before.correction or 'nothing said'}; "
            f"{after.correction or 'nothing said'}): part of what differs may be air."
        )
        return Finding("bench-not-alike", "caution", text, after.name)
    text = "Both curves as their sheets say them. Pulls of one engine on one day differ by a per cent or so as well."
    return Finding("bench-before-after", "note", text, after.name)
