"""A dynamometer's curve beside the track's own: where each falls off, and how much of the run is spent past it.

Public: `CurvePoint`, `BesideTrack`, `lay_beside_track`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.bench.sheets import DynoCurve
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.power import Power

FALLEN_OFF = 0.95
"""A curve has fallen off where it is below this share of its peak, above the peak. [-] Our choice: half of what bounds
the band that a run's own data shows."""


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """One class of engine speed on the track, and the dynamometer at its centre."""

    engine_rpm: float
    """Centre of the class. [rpm]"""
    track_w: float
    """Flywheel power on the track, all gears that were there, weighed by time. [W]"""
    track_plus_minus_w: float
    """95 % half-width. [W]"""
    bench_w: float | None
    """The dynamometer's curve there; None beyond its ends. [W]"""
    track_over_bench: float | None
    """[-]"""
    time_s: float
    """Time spent in the class while pulling. [s]"""
    manifold_pa: float | None
    """Mean absolute manifold pressure there; None where not logged. [Pa]"""


@dataclass(frozen=True, slots=True)
class BesideTrack:
    """Two curves on one axis."""

    points: tuple[CurvePoint, ...]
    """By rising engine speed."""
    bench_peak_rpm: float
    """[rpm]"""
    bench_falls_off_rpm: float | None
    """Lowest engine speed above its peak below 95 % of it; None where the sheet ends before. [rpm]"""
    track_peak_rpm: float | None
    """Centre of the class of highest power. [rpm]"""
    track_falls_off_rpm: float | None
    """As of the bench; None where the run never came so far. [rpm]"""
    share_past_bench: float | None
    """Share of the pulling time above `bench_falls_off_rpm`. [-]"""
    share_past_track: float | None
    """Share of the pulling time above `track_falls_off_rpm`. [-]"""
    findings: tuple[Finding, ...]
    """What the two do not share."""


def lay_beside_track(curve: DynoCurve, power: Power | None) -> BesideTrack:
    """Lay a dynamometer's curve beside the power that one run showed.

    Parameters
    ----------
    curve : DynoCurve
        The bench's.
    power : Power or None
        Of a run, with its curves per gear.

    Returns
    -------
    BesideTrack
        Without points where the run shows no curve.
    """
    points = _points(curve, power)
    bench_peak = float(curve.engine_rpm[int(np.argmax(curve.power_w))])
    bench_off = _falls_off(curve.engine_rpm, curve.power_w)
    rpm, track = (np.array([getattr(one, name) for one in points]) for name in ("engine_rpm", "track_w"))
    track_peak = float(rpm[int(np.argmax(track))]) if points else None
    track_off = _falls_off(rpm, track) if points else None
    return BesideTrack(
        points=points,
        bench_peak_rpm=bench_peak,
        bench_falls_off_rpm=bench_off,
        track_peak_rpm=track_peak,
        track_falls_off_rpm=track_off,
        share_past_bench=_share_past(points, bench_off),
        share_past_track=_share_past(points, track_off),
        findings=tuple(_apart(curve, points)),
    )


def _points(curve: DynoCurve, power: Power | None) -> tuple[CurvePoint, ...]:
    """Classes of all gears together, each weighed by the time in it."""
    found: dict[float, list[tuple[float, ...]]] = {}
    for gear in power.curves if power is not None else ():
        times = gear.time_s or (1.0,) * len(gear.rpm)
        charge = gear.manifold_pa or (math.nan,) * len(gear.rpm)
        for rpm, *row in zip(gear.rpm, gear.power_w, gear.plus_minus_w, times, charge, strict=True):
            found.setdefault(rpm, []).append(tuple(row))
    return tuple(_point(curve, rpm, rows) for rpm, rows in sorted(found.items()))


def _point(curve: DynoCurve, rpm: float, rows: list[tuple[float, ...]]) -> CurvePoint:
    watts, half, time_s, charge = (np.array(column) for column in zip(*rows, strict=True))
    whole = float(np.sum(time_s))
    track = float(np.sum(watts * time_s) / whole)
    within = curve.engine_rpm[0] <= rpm <= curve.engine_rpm[-1]
    bench = float(np.interp(rpm, curve.engine_rpm, curve.power_w)) if within else None
    pressure = float(np.sum(charge * time_s) / whole)
    return CurvePoint(
        rpm, track, float(np.sum(half * time_s) / whole), bench, None if not bench else track / bench, whole,
        pressure if math.isfinite(pressure) else None,
    )  # fmt: skip


def _falls_off(rpm: FloatArray, watts: FloatArray) -> float | None:
    """Where a line through the points comes below `FALLEN_OFF` of the peak, above the peak."""
    peak = int(np.argmax(watts))
    least = FALLEN_OFF * float(watts[peak])
    below = np.flatnonzero(watts[peak:] < least)
    if not below.size:
        return None
    at = peak + int(below[0])
    share = (watts[at - 1] - least) / (watts[at - 1] - watts[at])
    return float(rpm[at - 1] + share * (rpm[at] - rpm[at - 1]))


def _share_past(points: tuple[CurvePoint, ...], falls_off_rpm: float | None) -> float | None:
    whole = math.fsum(one.time_s for one in points)
    if falls_off_rpm is None or not whole:
        return None
    return math.fsum(one.time_s for one in points if one.engine_rpm >= falls_off_rpm) / whole


def _apart(curve: DynoCurve, points: tuple[CurvePoint, ...]) -> list[Finding]:
    said = (
        f"corrected ({curve.correction})" if curve.correction else "with nothing said of a correction to standard air"
    )
    findings = [
        Finding(
            "bench-and-track-air",
            "note",
            f"The dynamometer's curve is {said}; the track's is as the day's air was. Where the two differ by "
            "one factor all along, it is air, losses or calibration; where their shapes differ, it is the engine in "
            "the car; where boost had not come up yet, the manifold pressure beside it says so.",
            curve.name,
        )
    ]
    if not points:
        findings.append(
            Finding(
                "bench-without-track",
                "caution",
                "The run shows no power against engine speed to lay beside the dynamometer's curve: it needs engine "
                "speed, gears, mass and a motion that was logged.",
                curve.name,
            )
        )
    return findings
