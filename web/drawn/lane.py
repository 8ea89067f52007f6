"""What one lane of the strip shows, along the track: under, in and over the band, on boost, shifts, wheelspin, limits.

Public: `Stretch`, `Spot`, `MarginLine`, `Lane`, `lane_of`, `scale_ft`.

Everything shown comes from the review; the channels only serve to say where on the track a moment was and
where the engine speed crossed the ends of the band, for the eye. No figure is made here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import polars as pl

from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import MARKS_FT
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import ShiftKind
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.runs.verdict import NO_BAND, NO_BOOST
from passband.analysis.runs.why import WRONG_SHIFTS, find_causes
from passband.analysis.statistics.intervals import find_true_runs
from passband.web.sheets.sheet import Mark, heading
from passband.web.wording.figures import Figure, estimate
from passband.web.wording.units import UnitSystem

AT_MARK = 0.985
"""A run that got this share of the way to a mark is drawn as if it ended there. [-]"""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
"""Signs of the limits passed, in the order the car lists them."""
MARGINS_MOST = 3
"""Most margins drawn in a lane: more would push the rest of the answer off a phone. [-]"""
QUARTER_FT = 1320.0
"""A lane is as long as the furthest run it lies beside, a quarter mile where nothing is known. [ft]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of the track."""

    start_ft: float
    """[ft]"""
    end_ft: float
    """[ft]"""
    mark: Mark
    """What held there: ``under``, ``inside``, ``over``."""


@dataclass(frozen=True, slots=True)
class Spot:
    """One place on the track."""

    at_ft: float
    """[ft]"""
    sign: str
    """What stands there: a shift's number, a limit's letter, an elapsed time."""
    text: str
    """What it means."""
    wrong: bool = False
    """Whether it went wrong: a missed shift, a skipped gear, a lift in one, a late one."""


@dataclass(frozen=True, slots=True)
class MarginLine:
    """How far a limit was from being passed, along the track."""

    sign: str
    """Its letter, where it was passed; else empty."""
    text: str
    """The limit's name."""
    points: tuple[tuple[float, float], ...]
    """Place [ft] and margin as a share of its greatest, -1..1; minus is outside."""
    outside: tuple[Stretch, ...]
    """Where it was passed."""


@dataclass(frozen=True, slots=True)
class Lane:
    """One run from start to finish line, as the strip draws it."""

    title: str
    """What the run is called."""
    boards: str
    """Elapsed time and trap speed in one line."""
    length_ft: float
    """How far the run went. [ft]"""
    band: tuple[Stretch, ...]
    """Empty where no band or no engine speed is known."""
    band_text: str
    """The band, or why it is not drawn."""
    boost: tuple[Stretch, ...]
    """Stretches at or above the threshold; empty where none."""
    boost_text: str
    """The threshold, or why it is not drawn."""
    spin: tuple[Stretch, ...]
    """Stretches of wheelspin."""
    shifts: tuple[Spot, ...]
    """Numbered as in the shift table."""
    lifts: tuple[Spot, ...]
    """Where the driver lifted, or the engine stood on its limiter, in a gear."""
    passed: tuple[Spot, ...]
    """Limits passed, lettered."""
    margins: tuple[MarginLine, ...]
    """Margins of the limits passed; of the one that came nearest where none was."""
    marks: tuple[Spot, ...]
    """Marks reached, with their elapsed time."""


def lane_of(review: Review, table: pl.DataFrame | None, *, units: UnitSystem = "us") -> Lane:
    """What the strip shows of a run.

    Parameters
    ----------
    review : Review
        Of one run.
    table : polars.DataFrame or None
        The run's channels by time, SI, with ``time_s``, ``distance_m`` and ``engine_speed``; without it the band is
        not drawn and places come from the splits.
    units : {"us", "metric"}
        For speeds and pressures in words.

    Returns
    -------
    Lane
        Parts that the review does not know are empty, and their text says so.
    """
    path = _path(review, table)
    end_ft = _length_ft(review)
    head = heading(review, units)
    band, band_text = _band_of(review, table, end_ft)
    boost, boost_text = _boost_of(review, path, end_ft, units)
    return Lane(
        head.title,
        _boards(head.time, head.speed) if head.time.known else review.window.outcome,
        end_ft,
        band,
        band_text,
        boost,
        boost_text,
        _spin_of(review, path, end_ft),
        _shifts_of(review, path),
        _lifts_of(review, path),
        _passed_of(review, path),
        _margins_of(review, path, end_ft),
        _marks_of(review, units),
    )


def _boards(time: Figure, speed: Figure) -> str:
    """As the boards show it, without plus-minus."""
    shown = f"{time.value} {time.unit}"
    return f"{shown} at {speed.value} {speed.unit}" if speed.known else shown


def _length_ft(review: Review) -> float:
    distance_m = known(review.window.distance_m)
    return QUARTER_FT if distance_m is None or distance_m <= 0 else float(distance_m) / FOOT_M


@dataclass(frozen=True, slots=True)
class _Path:
    time_s: FloatArray
    feet: FloatArray

    def feet_at(self, time_s: float) -> float:
        return float(np.interp(time_s, self.time_s, self.feet)) if self.time_s.size else 0.0


def _path(review: Review, table: pl.DataFrame | None) -> _Path:
    if table is not None and {"time_s", "distance_m"} <= set(table.columns):
        time, distance = (table[name].cast(pl.Float64).to_numpy() for name in ("time_s", "distance_m"))
        known = np.isfinite(time) & np.isfinite(distance)
        if known.any():
            return _Path(time[known], np.maximum.accumulate(distance[known]) / FOOT_M)
    splits = () if isinstance(review.distance, Unknown) else review.distance.splits
    return _Path(
        np.array([0.0, *(split.time_s.value for split in splits)]),
        np.array([0.0, *(float(split.at_ft) for split in splits)]),
    )


def _band_of(review: Review, table: pl.DataFrame | None, end_ft: float) -> tuple[tuple[Stretch, ...], str]:
    band = review.band
    if isinstance(band, Unknown):
        return (), f"band not drawn: {NO_BAND.get(band.reason.code, 'where the car was is not known')}"
    text = f"band {band.low_rpm:,.0f} to {band.high_rpm:,.0f} rpm"
    if table is None or not {"distance_m", "engine_speed"} <= set(table.columns):
        return (), f"{text}, not drawn: the channels are not at hand"
    feet = table["distance_m"].cast(pl.Float64).to_numpy() / FOOT_M
    rpm = table["engine_speed"].cast(pl.Float64).to_numpy()
    on_track = np.isfinite(feet) & (feet >= 0) & (feet <= end_ft)
    feet, rpm = feet[on_track], rpm[on_track]
    stretches = [
        stretch
        for mark, holds in (
            ("under", rpm < band.low_rpm),
            ("inside", (rpm >= band.low_rpm) & (rpm <= band.high_rpm)),
            ("over", rpm > band.high_rpm),
        )
        for stretch in _stretches(feet, holds, mark)  # type: ignore[arg-type]
    ]
    return tuple(sorted(stretches, key=lambda stretch: stretch.start_ft)), text


def _stretches(feet: FloatArray, holds: np.ndarray, mark: Mark) -> list[Stretch]:
    """Each stretch reaches half way to its neighbours, so that no sliver between two stays blank."""
    edges = np.concatenate((feet[:1], (feet[:-1] + feet[1:]) / 2, feet[-1:]))
    return [Stretch(float(edges[run.start]), float(edges[run.stop]), mark) for run in find_true_runs(holds)]


def _boost_of(review: Review, path: _Path, end_ft: float, units: UnitSystem) -> tuple[tuple[Stretch, ...], str]:
    boost = review.boost
    if isinstance(boost, Unknown):
        return (), f"boost not drawn: {NO_BOOST.get(boost.reason.code, 'it is not known')}"
    if boost.threshold_pa is None:
        return (), "boost not drawn: no threshold is given with the car"
    text = f"boost at or above {estimate(Estimate(boost.threshold_pa, 0.0), 'pressure', units)}"
    if isinstance(boost.first_reached_s, Unknown):
        return (), f"{text}: never reached"
    starts = [path.feet_at(boost.first_reached_s)]
    ends = []
    for dip in boost.dips:
        ends.append(path.feet_at(dip.start_s))
        starts.append(path.feet_at(dip.end_s))
    ends.append(end_ft)
    pairs = zip(starts, ends, strict=True)
    return tuple(Stretch(max(a, 0.0), min(b, end_ft), "inside") for a, b in pairs if min(b, end_ft) > max(a, 0.0)), text


def _spin_of(review: Review, path: _Path, end_ft: float) -> tuple[Stretch, ...]:
    episodes = () if isinstance(review.distance, Unknown) else review.distance.wheelspin
    spans = [(path.feet_at(spin.start_s), path.feet_at(spin.end_s)) for spin in episodes]
    return tuple(Stretch(max(a, 0.0), min(b, end_ft), "caution") for a, b in spans if b > 0 and a < end_ft)


def _shifts_of(review: Review, path: _Path) -> tuple[Spot, ...]:
    spots = []
    for number, shift in enumerate(review.shifts, 1):
        at_m = known(shift.distance_m)
        feet = path.feet_at(shift.time_s) if at_m is None else at_m / FOOT_M
        kind = "" if shift.kind is ShiftKind.NORMAL else f", {shift.kind}"
        text = f"shift {number}, gear {shift.from_gear} to {shift.to_gear} at {feet:,.0f} ft{kind}"
        spots.append(Spot(max(feet, 0.0), str(number), text, shift.kind in WRONG_SHIFTS))
    return tuple(spots)


def _lifts_of(review: Review, path: _Path) -> tuple[Spot, ...]:
    held = [one for one in find_causes(review) if one.kind in ("lift", "limiter") and one.start_s is not None]
    spots = [(path.feet_at(one.start_s or 0.0), one) for one in held]
    return tuple(
        Spot(max(feet, 0.0), one.kind, f"{one.text}, {feet:,.0f} ft".replace(" -", " −"))
        for feet, one in sorted(spots, key=lambda each: each[0])
    )


def _passed_of(review: Review, path: _Path) -> tuple[Spot, ...]:
    outside = [one for one in review.limits if one.verdict is Verdict.OUTSIDE]
    spots = []
    for letter, limit in zip(LETTERS, outside, strict=False):
        at_m, at_s = limit.at_distance_m, limit.at_s
        feet = at_m / FOOT_M if at_m is not None else path.feet_at(at_s) if at_s is not None else 0.0
        place = f"{feet:,.0f} ft" if feet > 0 else "before the start" if at_s is not None and at_s < 0 else ""
        text = ", ".join(filter(None, (limit.name, place)))
        spots.append(Spot(max(feet, 0.0), letter, text))
    return tuple(spots)


def _margins_of(review: Review, path: _Path, end_ft: float) -> tuple[MarginLine, ...]:
    drawable = [one for one in review.limits if len(one.margins) > 1 and one.limit]
    outside = [one for one in review.limits if one.verdict is Verdict.OUTSIDE]
    letters = dict(zip((one.name for one in outside), LETTERS, strict=False))
    nearest = sorted(drawable, key=_share_of_limit)[:1]
    shown = [one for one in drawable if one.name in letters][:MARGINS_MOST] or nearest
    return tuple(_margin_line(one, letters.get(one.name, ""), path, end_ft) for one in shown)


def _share_of_limit(one: LimitVerdict) -> float:
    return abs(one.margin / one.limit) if one.margin is not None and one.limit else math.inf


def _margin_line(limit: LimitVerdict, letter: str, path: _Path, end_ft: float) -> MarginLine:
    most = max(abs(margin) for _, margin in limit.margins) or 1.0
    points = tuple((min(path.feet_at(at_s), end_ft), margin / most) for at_s, margin in limit.margins)
    spans = [(path.feet_at(start_s), path.feet_at(end_s)) for start_s, end_s in limit.outside]
    stretches = tuple(Stretch(a, min(b, end_ft), "outside") for a, b in spans if a < end_ft)
    return MarginLine(letter, limit.name, points, stretches)


def _marks_of(review: Review, units: UnitSystem) -> tuple[Spot, ...]:
    splits = () if isinstance(review.distance, Unknown) else review.distance.splits
    times = [estimate(one.time_s, "time", units).value for one in splits]
    return tuple(Spot(float(one.at_ft), time, f"{one.at_ft:,} ft") for one, time in zip(splits, times, strict=True))


def scale_ft(lengths_ft: Iterable[float]) -> float:
    """How much track is drawn for runs of these lengths: up to the mark they end at, or as far as the furthest went.

    Examples
    --------
    >>> scale_ft([1320.4, 1319.9]), scale_ft([400.0])
    (1320.0, 660.0)
    """
    furthest = max(lengths_ft, default=QUARTER_FT)
    return next((float(mark) for mark in MARKS_FT if mark >= AT_MARK * furthest), furthest)
