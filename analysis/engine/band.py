"""The usable RPM band: time and distance below, in and above it, per gear, and where the engine dwelt.

Public: `measure_band`, `HeldToBand`, `shift_point_for`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.motion.ground_speed import HasWay
from passband.analysis.power.curve import find_power_band
from passband.analysis.quantities import FloatArray
from passband.analysis.results.band import Band, Dwell, GearBand
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import Gears
from passband.analysis.results.power import GearCurve
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.engine_speed import find_ignition_noise
from passband.analysis.shifts.step import needed_step

DWELL_RPM = 250.0
"""Width of a class of engine speed. [rpm]"""
MAX_GAP_S = 0.15
"""Engine speed is joined over gaps up to this long; what is longer counts as unknown: a shift fits into more. [s]"""

NO_CURVES = Finding(
    "band-not-shown-by-power", "note", "No pull shows power against engine speed: the band it shows is not known."
)


class HeldToBand(Protocol):
    """What the band asks of a run; a run's evidence has it."""

    @property
    def band(self) -> tuple[float, float] | Unknown:
        """Low and high, in rpm."""

    @property
    def end_s(self) -> float:
        """Finish or lift, in seconds ET."""

    @property
    def traces(self) -> Traces:
        """All channels about the run, ET."""


@dataclass(frozen=True, slots=True)
class _Pieces:
    """The window cut at samples, band edges and dwell classes' edges: each piece lies on one side of each."""

    start_s: FloatArray
    stop_s: FloatArray
    middle_rpm: FloatArray
    distance_m: FloatArray

    @property
    def length_s(self) -> FloatArray:
        return self.stop_s - self.start_s


def measure_band(
    evidence: HeldToBand,
    motion: HasWay,
    gears: Gears | None,
    shifts: Sequence[Shift],
    *,
    curves: Sequence[GearCurve] = (),
) -> Band | Unknown:
    """Time and distance against the band, from clock start to finish or lift.

    Parameters
    ----------
    evidence : HeldToBand
        Of the run: its car's band, its ECU's engine speed at the log's own rate.
    motion : HasWay
        ET; for distance.
    gears : Gears or None
        ET; without it nothing is said per gear.
    shifts : sequence of Shift
        ET; those that left the band say what would have kept it.
    curves : sequence of GearCurve
        For the band that the data shows.

    Returns
    -------
    Band or Unknown
        Unknown where no band is given or no engine speed known in the window.

    Notes
    -----
    Straight between samples; edges are found there. Each class of engine speed counts from its lower edge up to, not
    with, its upper. The band's ends themselves are inside. A constant delay of the sensor moves all edges alike.
    """
    band, end_s, engine_speed = evidence.band, evidence.end_s, evidence.traces.get("engine_speed")
    if isinstance(band, Unknown):
        return band
    known = _believed(engine_speed) if engine_speed is not None else None
    if known is None or not ((known.time_s >= 0) & (known.time_s <= end_s)).sum() >= 2:
        return Unknown(_no_engine_speed())
    low, high = band
    edges = np.unique(np.concatenate((np.array(band), _class_edges(known.within(0.0, end_s).values))))
    pieces = _cut(known, motion, edges, end_s)
    inside = (pieces.middle_rpm >= low) & (pieces.middle_rpm <= high)
    total = float(pieces.length_s.sum())
    return Band(
        low_rpm=low,
        high_rpm=high,
        time_in_s=_time(pieces, inside),
        time_below_s=_time(pieces, pieces.middle_rpm < low),
        time_above_s=_time(pieces, pieces.middle_rpm > high),
        share_in=_time(pieces, inside) / total if total > 0 else 0.0,
        distance_in_m=float(pieces.distance_m[inside].sum()),
        by_gear=_by_gear(pieces, inside, low, gears),
        dwell=_dwell(pieces),
        shown_by_data=find_power_band(curves) or Unknown(NO_CURVES),
        would_have_kept=tuple(_what_would_keep(shift, band) for shift in shifts if _left(shift, band)),
        time_unknown_s=max(end_s - total, 0.0),
    )


def _no_engine_speed() -> Finding:
    text = "No log holds an engine speed to be believed during the run: it cannot be held against the band."
    return Finding("band-without-engine-speed", "caution", text)


def _believed(engine_speed: Channel) -> Channel:
    """Its samples without NaN and ignition noise."""
    known = engine_speed.known
    keep = ~find_ignition_noise(known.time_s, known.values)
    return replace(known, time_s=known.time_s[keep], values=known.values[keep])


def _class_edges(rpm: FloatArray) -> FloatArray:
    first, last = np.floor(rpm.min() / DWELL_RPM), np.ceil(rpm.max() / DWELL_RPM)
    return np.arange(first, last + 1) * DWELL_RPM


def _cut(known: Channel, motion: HasWay, edges: FloatArray, end_s: float) -> _Pieces:
    """Cut the window at samples and wherever engine speed crosses an edge."""
    time, rpm = known.time_s, known.values
    inside = (time > 0) & (time < end_s)
    at = np.concatenate(([max(0.0, time[0])], time[inside], [min(end_s, time[-1])]))
    level = np.interp(at, time, rpm)
    left, right = level[:-1, None], level[1:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (edges[None, :] - left) / (right - left)
    crossed = (share > 0) & (share < 1)
    piece, edge = np.nonzero(crossed)
    extra = at[piece] + np.diff(at)[piece] * share[piece, edge]
    marks = np.unique(np.concatenate((at, extra)))
    middle = 0.5 * (marks[1:] + marks[:-1])
    keep = _gap_at(middle, time) <= MAX_GAP_S
    distance = np.diff(np.interp(marks, motion.time_s, motion.distance_m))
    return _Pieces(marks[:-1][keep], marks[1:][keep], np.interp(middle, time, rpm)[keep], distance[keep])


def _gap_at(at_s: FloatArray, time: FloatArray) -> FloatArray:
    """Length of the sample interval around each moment; the log's own step never counts as a gap."""
    steps = np.diff(time)
    index = np.clip(np.searchsorted(time, at_s, side="right") - 1, 0, steps.size - 1)
    own = float(np.median(steps))
    return np.where(steps[index] <= 2.5 * own, 0.0, steps[index])


def _time(pieces: _Pieces, where: np.ndarray) -> float:
    return float(pieces.length_s[where].sum())


def _by_gear(pieces: _Pieces, inside: np.ndarray, low: float, gears: Gears | None) -> tuple[GearBand, ...]:
    if gears is None:
        return ()
    middle = 0.5 * (pieces.start_s + pieces.stop_s)
    below = pieces.middle_rpm < low
    rows = []
    for gear in sorted({interval.gear for interval in gears.intervals}):
        spans = [(i.start_s, i.end_s) for i in gears.intervals if i.gear == gear]
        mine = np.zeros(middle.size, dtype=np.bool_)
        for start, stop in spans:
            mine |= (middle >= start) & (middle < stop)
        if mine.any():
            above = mine & ~inside & ~below
            distance = float(pieces.distance_m[mine & inside].sum())
            times = [_time(pieces, where) for where in (mine & inside, mine & below, above)]
            rows.append(GearBand(gear, times[0], times[1], times[2], distance))
    return tuple(rows)


def _dwell(pieces: _Pieces) -> tuple[Dwell, ...]:
    classes = np.floor(pieces.middle_rpm / DWELL_RPM).astype(np.int64)
    times = {int(k): _time(pieces, classes == k) for k in np.unique(classes)}
    if not times:
        return ()
    every = range(min(times), max(times) + 1)
    return tuple(Dwell(k * DWELL_RPM, (k + 1) * DWELL_RPM, times.get(k, 0.0)) for k in every)


def _left(shift: Shift, band: tuple[float, float]) -> bool:
    fell = not isinstance(shift.rpm_after, Unknown) and shift.rpm_after.value < band[0]
    over = not isinstance(shift.rpm_before, Unknown) and shift.rpm_before.value > band[1]
    return fell or over


def shift_point_for(low_rpm: float, *, rpm_before: float, rpm_after: float) -> float:
    """Engine speed to shift at so that the engine falls to the band's low end and no lower.

    Parameters
    ----------
    low_rpm : float
        The band's low end. [rpm]
    rpm_before, rpm_after : float
        As the shift went. [rpm]

    Returns
    -------
    float
        [rpm]

    Notes
    -----
    low times before / after: the fall as a share stays what it was, the step between the gears and the slip with it.

    Examples
    --------
    >>> round(shift_point_for(5300.0, rpm_before=7600.0, rpm_after=5150.0))
    7821
    """
    return low_rpm * rpm_before / rpm_after


def _what_would_keep(shift: Shift, band: tuple[float, float]) -> str:
    """One sentence on a shift that left the band."""
    low, high = band
    before, after = known(shift.rpm_before), known(shift.rpm_after)
    name = f"Shift {shift.from_gear}-{shift.to_gear}"
    if after is None or before is None or after.value >= low:
        made = f" made at {before.value:.0f} rpm," if before is not None else ""
        over = before.value - high if before is not None else 0.0
        return f"{name},{made} {over:.0f} rpm over the band's high end: at {high:.0f} rpm it would have stayed inside."
    fell = f"{name} fell to {after.value:.0f} rpm, {low - after.value:.0f} under the band's low end"
    needed = shift_point_for(low, rpm_before=before.value, rpm_after=after.value)
    step = after.value / before.value
    least = low / before.value
    if needed <= high:
        return (
            f"{fell}: at {needed:.0f} rpm, or with a step of {least:.3f} for {step:.3f}, it would have stayed inside."
        )
    return (
        f"{fell}: no shift point inside the band would have kept it; a step of at least {needed_step(low, high):.3f} "
        f"between the gears would, it was {step:.3f}."
    )
