"""Many runs of one car: the sheet of a meeting, its spread and trend, and what an engine builder asks of them.

Public: `SheetRow`, `Spread`, `ShiftSpread`, `Sheet`, `make_sheet`, `find_best`, `measure_spread`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from passband.analysis.results.window import Outcome
from passband.analysis.runs.summary import summarise
from passband.analysis.statistics.trend import fit_trend


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One run on the sheet. None: not known, or not reached."""

    label: str
    """The user's name for it; may be empty."""
    round: str
    """Which run of the meeting; may be empty."""
    outcome: Outcome
    """As of the run's window."""
    finish_ft: int | None
    """Where elapsed time and speed were taken; None where no finish was reached. [ft]"""
    elapsed_time_s: Estimate | None
    """[s]"""
    trap_speed_mps: Estimate | None
    """[m/s]"""
    sixty_ft_s: Estimate | None
    """[s]"""
    temperature_k: float | None
    """Of the air. [K]"""
    pressure_pa: float | None
    """Of the air, station. [Pa]"""
    density_altitude_m: float | None
    """[m]"""
    wind_mps: float | None
    """From behind positive. [m/s]"""
    share_in_band: float | None
    """Of the time. [-]"""
    share_on_boost: float | None
    """Of the time. [-]"""
    boost_at_clock_start_pa: float | None
    """Gauge. [Pa]"""
    rpm_at_launch: Estimate | None
    """[rpm]"""
    average_w: Estimate | None
    """At the flywheel. [W]"""
    corrected_average_w: Estimate | None
    """The same in standard air, where a rule is valid. [W]"""
    least_margin_to_band_low_rpm: float | None
    """Over all shifts. [rpm]"""
    nearest_limit: str | None
    """Name of the limit with the least margin as a share of itself; outside before inside."""
    nearest_margin_share: float | None
    """That margin; negative outside. [-]"""
    limits_outside: int
    """How many."""
    limits_without_data: int
    """How many."""


@dataclass(frozen=True, slots=True)
class Spread:
    """One figure over the runs of the sheet."""

    figure: str
    """Name of the row's field."""
    runs: int
    """How many runs show it."""
    mean: float
    """SI."""
    standard_deviation: float | None
    """Sample's; None for a single run. SI."""
    least: float
    """SI."""
    greatest: float
    """SI."""
    per_run: Estimate | None
    """Trend: change from run to run in the order given, which an odd run does not bend; None for fewer than five. SI"""


@dataclass(frozen=True, slots=True)
class ShiftSpread:
    """One change of gear over all runs: what a gearbox and a camshaft are chosen by."""

    from_gear: int
    """Gear that was left."""
    to_gear: int
    """Gear that carried next."""
    runs: int
    """How many such shifts."""
    rpm_before: float
    """Mean. [rpm]"""
    rpm_before_sd: float | None
    """[rpm]"""
    rpm_after: float
    """Mean. [rpm]"""
    rpm_after_sd: float | None
    """[rpm]"""
    lowest_rpm_after: float
    """Over all runs. [rpm]"""
    step: float
    """Mean of rpm after over rpm before: the gears' step with the shift's own loss in it. [-]"""
    duration_s: float
    """Mean. [s]"""
    below_band: int | None
    """How many fell below the band; None where no band is known."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """The runs of a meeting."""

    rows: tuple[SheetRow, ...]
    """In the order given."""
    spreads: tuple[Spread, ...]
    """Figures that at least one run shows."""
    shifts: tuple[ShiftSpread, ...]
    """By the gear that was left."""
    best: int | None
    """Row of the run with the greatest average power; None where none is known."""


SPREAD_OVER = (
    "elapsed_time_s", "trap_speed_mps", "sixty_ft_s", "density_altitude_m", "share_in_band", "share_on_boost",
    "boost_at_clock_start_pa", "rpm_at_launch", "average_w", "least_margin_to_band_low_rpm", "nearest_margin_share",
)  # fmt: skip
"""Figures of a row whose spread is shown."""


def make_sheet(reviews: Sequence[Review]) -> Sheet:
    """Lay the runs of a meeting on one sheet.

    Parameters
    ----------
    reviews : sequence of Review
        Runs of one car, in order.

    Returns
    -------
    Sheet
        Empty for no reviews.

    Notes
    -----
    Elapsed time and speed at different finishes do not mix: their spread is over the runs to the finish that most runs
    reached. A trend is a straight line by least squares, its plus-minus by Student's t.
    """
    rows = tuple(_row(review) for review in reviews)
    spreads = [measure_spread(name, _values(rows, name)) for name in SPREAD_OVER]
    return Sheet(rows, tuple(one for one in spreads if one is not None), _shift_spreads(reviews), find_best(reviews))


def find_best(reviews: Sequence[Review]) -> int | None:
    """Find the run with the greatest average power at the flywheel.

    Parameters
    ----------
    reviews : sequence of Review
        Any.

    Returns
    -------
    int or None
        Its place in the sequence; None where no power is known, or only of runs that did not reach a finish line.
    """
    powers = {
        place: average.value
        for place, review in enumerate(reviews)
        if (power := known(review.power)) is not None
        and (average := known(power.average_w)) is not None
        and review.window.outcome.finish_ft
    }
    return max(powers, key=lambda place: powers[place]) if powers else None


def measure_spread(figure: str, values: Sequence[float | None]) -> Spread | None:
    """Mean, spread and trend of one figure over runs in order.

    Parameters
    ----------
    figure : str
        Its name.
    values : sequence of float or None
        One for each run; None where not known.

    Returns
    -------
    Spread or None
        None where no run shows it.

    Examples
    --------
    >>> measure_spread("sixty_ft_s", [1.5, None, 1.7]).mean
    1.6
    """
    known = [(float(place), float(value)) for place, value in enumerate(values) if value is not None]
    if not known:
        return None
    place, value = (np.array(side) for side in zip(*known, strict=True))
    deviation = float(np.std(value, ddof=1)) if value.size > 1 else None
    mean = float(np.mean(value))
    return Spread(figure, value.size, mean, deviation, float(value.min()), float(value.max()), _trend(place, value))


def _trend(place: np.ndarray, value: np.ndarray) -> Estimate | None:
    found = fit_trend(place, value)
    if found is None:
        return None
    return Estimate(found.slope, max(found.upper - found.slope, found.slope - found.lower))


def _values(rows: Sequence[SheetRow], name: str) -> list[float | None]:
    finishes = [row.finish_ft for row in rows if row.finish_ft is not None]
    usual = max(finishes, key=finishes.count) if finishes else None
    of_finish = name in ("elapsed_time_s", "trap_speed_mps")
    found: list[float | None] = []
    for row in rows:
        value = getattr(row, name)
        value = value.value if isinstance(value, Estimate) else value
        found.append(None if of_finish and row.finish_ft != usual else value)
    return found


def _row(review: Review) -> SheetRow:
    summary, air = summarise(review), review.air
    boost, power, launch = known(review.boost), known(review.power), known(review.launch)
    nearest = _nearest(review.limits)
    margins = [shift.margin_to_band_low_rpm for shift in review.shifts]
    return SheetRow(
        label=review.run.label,
        round=review.run.round,
        outcome=summary.outcome,
        finish_ft=summary.at_ft,
        elapsed_time_s=summary.elapsed_time_s,
        trap_speed_mps=summary.trap_speed_mps,
        sixty_ft_s=summary.sixty_ft_s,
        temperature_k=air.temperature_k if air else None,
        pressure_pa=air.pressure_pa if air else None,
        density_altitude_m=air.density_altitude_m if air else None,
        wind_mps=air.wind_mps if air else None,
        share_in_band=summary.share_in_band,
        share_on_boost=summary.share_on_boost,
        boost_at_clock_start_pa=boost.at_clock_start_pa if boost else None,
        rpm_at_launch=known(launch.rpm_at_launch) if launch else None,
        average_w=summary.average_w,
        corrected_average_w=known(power.corrected_average_w) if power else None,
        least_margin_to_band_low_rpm=min((m for m in map(known, margins) if m is not None), default=None),
        nearest_limit=nearest.name if nearest else None,
        nearest_margin_share=nearest.margin_share if nearest else None,
        limits_outside=summary.limits.outside,
        limits_without_data=summary.limits.no_data,
    )


def _nearest(limits: Sequence[LimitVerdict]) -> LimitVerdict | None:
    judged = [
        (row.verdict is not Verdict.OUTSIDE, row.margin_share, row) for row in limits if row.margin_share is not None
    ]
    return min(judged, key=lambda one: one[:2], default=(True, 0.0, None))[2]


def _shift_spreads(runs: Sequence[Review]) -> tuple[ShiftSpread, ...]:
    found: dict[tuple[int, int], list[Shift]] = {}
    for run in runs:
        for shift in run.shifts:
            if known(shift.rpm_before) is not None and known(shift.rpm_after) is not None:
                found.setdefault((shift.from_gear, shift.to_gear), []).append(shift)
    return tuple(_shift_spread(*gears, found[gears]) for gears in sorted(found))


def _shift_spread(from_gear: int, to_gear: int, shifts: Sequence[Shift]) -> ShiftSpread:
    before = np.array([one.value for shift in shifts if (one := known(shift.rpm_before)) is not None])
    after = np.array([one.value for shift in shifts if (one := known(shift.rpm_after)) is not None])
    margins = [margin for shift in shifts if (margin := known(shift.margin_to_band_low_rpm)) is not None]
    several = len(shifts) > 1
    return ShiftSpread(
        from_gear=from_gear,
        to_gear=to_gear,
        runs=len(shifts),
        rpm_before=float(before.mean()),
        rpm_before_sd=float(before.std(ddof=1)) if several else None,
        rpm_after=float(after.mean()),
        rpm_after_sd=float(after.std(ddof=1)) if several else None,
        lowest_rpm_after=float(after.min()),
        step=float(np.mean(after / before)),
        duration_s=float(np.mean([shift.duration_s for shift in shifts])),
        below_band=sum(margin < 0 for margin in margins) if margins else None,
    )
