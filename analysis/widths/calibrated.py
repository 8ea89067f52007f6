"""A review's plus-minuses as calibration found them to be: each figure times the factor of its rule, in one place.

What facts of the car and the day make of a plus-minus stays as it is: they were given, with their own. What sensors and
the method make of it, the run's own part and the device's, is multiplied by the factor of the rule that holds there.

How much of a plus-minus is the run's own was calibrated apart, on pairs of runs of one car (`pairs_table.py`).

Public: `Widths`, `AS_FOUND`, `with_widths`, `widened`, `parted_anew`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.distance import Distance
from passband.analysis.results.estimate import NOT_EXPLAINED, Estimate
from passband.analysis.results.launch import Launch
from passband.analysis.results.power import Power, PowerShare
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown
from passband.analysis.widths.classes import means_of, own_factor
from passband.analysis.widths.evidence import POWERS, Seen, seen_of, seen_of_clock, seen_of_shift
from passband.analysis.widths.parts import is_of_device, of_devices, of_method
from passband.analysis.widths.rules import Rule

AnyReview = TypeVar("AnyReview", bound=Review)
Missing = TypeVar("Missing", Unknown, None)


@dataclass(frozen=True, slots=True)
class Widths:
    """Rules of one calibration."""

    version: str
    """Which one it was."""
    rules: Sequence[Rule] = ()
    """Of one figure the first that holds counts."""

    def factor(self, figure: str, seen: Seen) -> float:
        """The factor for one figure; 1 where no rule is for it."""
        return next((one.factor for one in self.rules if one.figure == figure and one.holds(seen)), 1.0)


AS_FOUND = Widths("as found")
"""Every plus-minus as the stages made it: what a calibration starts from."""


def widened(estimate: Estimate, factor: float, *, whole: bool = False) -> Estimate:
    """An estimate whose plus-minus of sensors and method is multiplied.

    Parameters
    ----------
    estimate : Estimate
        As the analysis made it.
    factor : float
        At least 0. [-]
    whole : bool
        True: all of the plus-minus becomes so many times what it was, not only what is not of facts.

    Returns
    -------
    Estimate
        The parts of car and day stay. What noise leaves open was measured in the run itself: what is more than it lies
        with the devices, and is shared by runs that share them, where the estimate was parted.

    Examples
    --------
    >>> round(widened(Estimate.parted(500.0, 3.0, {"car: mass": 8.0}), 2.0).plus_minus, 6)
    10.0
    """
    if factor == 1.0:
        return estimate
    if estimate.run_plus_minus is None:
        return Estimate(estimate.value, estimate.plus_minus * factor)
    own, shared = estimate.run_plus_minus, {part.cause: part.effect for part in estimate.shared}
    if factor < 1.0:
        narrowed = {cause: effect * (factor if is_of_device(cause) else 1.0) for cause, effect in shared.items()}
        return Estimate.parted(estimate.value, own * factor, narrowed)
    to_widen = estimate.plus_minus if whole else of_method(estimate)
    more = to_widen * math.sqrt(factor**2 - 1.0)
    return Estimate.parted(
        estimate.value, own, shared | {NOT_EXPLAINED: math.hypot(more, shared.get(NOT_EXPLAINED, 0.0))}
    )


def parted_anew(estimate: Estimate, factor: float) -> Estimate:
    """An estimate of whose plus-minus another share is the run's own.

    Parameters
    ----------
    estimate : Estimate
        Any; one that nobody parted stays.
    factor : float
        Of the run's own part, at least 1. [-]

    Returns
    -------
    Estimate
        What the run's own gains, the devices lose, so that the whole stays as far as they reach. The run's own is no
        more than the whole, which holds one run's error: what two such runs differ by goes by root two of it. Facts
        stay: where they are most of the whole, what devices leave says nothing of how far two runs are apart.

    Examples
    --------
    >>> got = parted_anew(Estimate.parted(7000.0, 3.0, {"device: pick-up lag": 4.0}), 1.5)
    >>> got.own, got.plus_minus
    (4.5, 5.0)
    """
    if factor == 1.0 or estimate.run_plus_minus is None:
        return estimate
    method, devices = of_method(estimate), of_devices(estimate)
    own = min(factor * estimate.run_plus_minus, estimate.plus_minus)
    left = math.sqrt(max(method**2 - own**2, 0.0)) / devices if devices else 1.0
    shared = {part.cause: part.effect * (left if is_of_device(part.cause) else 1.0) for part in estimate.shared}
    return Estimate.parted(estimate.value, own, shared)


def with_widths(review: AnyReview, widths: Widths, seen: Seen) -> AnyReview:
    """A review with every plus-minus of `FIGURES` as calibration found it to be.

    Parameters
    ----------
    review : Review
        As the stages made it.
    widths : Widths
        The table.
    seen : Seen
        What the run rests on.

    Returns
    -------
    Review
        Values stay; what no rule of the table stands for stays as it was.
    """
    of_run = _Factors(widths, seen)
    window, distance, launch, power = review.window, review.distance, review.launch, review.power
    began = Estimate(window.log_clock_start_s, window.clock_start_plus_minus_s)
    return replace(
        review,
        window=replace(window, clock_start_plus_minus_s=began.plus_minus * of_run.of("clock_start", began)),
        clocks=tuple(_clock(match, of_run) for match in review.clocks),
        distance=distance if isinstance(distance, Unknown) else _distance(distance, of_run),
        launch=launch if isinstance(launch, Unknown) else _launch(launch, of_run),
        shifts=tuple(_shift(shift, _Factors(widths, seen_of_shift(seen, shift))) for shift in review.shifts),
        power=power if isinstance(power, Unknown) else _power(power, of_run),
    )


@dataclass(frozen=True, slots=True)
class _Factors:
    """A table as one run, or one shift or mark of it, reads it."""

    widths: Widths
    seen: Seen

    def of(self, figure: str, estimate: Estimate) -> float:
        return self.widths.factor(figure, seen_of(self.seen, figure, estimate))

    def on(self, figure: str, estimate: Estimate | Missing) -> Estimate | Missing:
        """The estimate widened, then parted; what is missing stays as it is."""
        return self.known(figure, estimate) if isinstance(estimate, Estimate) else estimate

    def known(self, figure: str, estimate: Estimate) -> Estimate:
        """The same of a figure that is there."""
        own = 1.0 if self.widths is AS_FOUND else own_factor(figure, means_of(self.seen))
        return parted_anew(widened(estimate, self.of(figure, estimate), whole=figure in POWERS), own)

    def at_mark(self, at_ft: int) -> _Factors:
        """As a mark reads it."""
        return _Factors(self.widths, replace(self.seen, mark_ft=float(at_ft)))


def _clock(match: ClockMatch, of_run: _Factors) -> ClockMatch:
    factors = _Factors(of_run.widths, seen_of_clock(of_run.seen, match))
    offset = factors.of("clock_offset", match.offset_s)
    return replace(
        match,
        offset_s=widened(match.offset_s, offset),
        rate_ppm=widened(match.rate_ppm, factors.of("clock_rate", match.rate_ppm)),
        run_plus_minus_s=match.run_plus_minus_s * offset,
    )


def _distance(distance: Distance, factors: _Factors) -> Distance:
    splits = tuple(
        replace(one, time_s=factors.at_mark(one.at_ft).known("splits", one.time_s)) for one in distance.splits
    )
    traps = tuple(
        replace(one, speed_mps=factors.at_mark(one.at_ft).known("traps", one.speed_mps)) for one in distance.traps
    )
    return replace(distance, splits=splits, traps=traps)


def _launch(launch: Launch, factors: _Factors) -> Launch:
    return replace(
        launch,
        rpm_at_launch=factors.on("rpm_at_launch", launch.rpm_at_launch),
        rpm_lowest=factors.on("rpm_lowest", launch.rpm_lowest),
    )


def _shift(shift: Shift, factors: _Factors) -> Shift:
    began = Estimate(shift.time_s, shift.time_plus_minus_s)
    return replace(
        shift,
        time_plus_minus_s=shift.time_plus_minus_s * factors.of("shift_start", began),
        rpm_before=factors.on("rpm_before", shift.rpm_before),
        rpm_after=factors.on("rpm_after", shift.rpm_after),
        rpm_drop=factors.on("rpm_drop", shift.rpm_drop),
    )


def _power(power: Power, factors: _Factors) -> Power:
    average = factors.on("average_w", power.average_w)
    return replace(
        power,
        shares=(*power.shares, *_more(power.average_w, average)),
        average_w=average,
        average_pulling_w=factors.on("average_pulling_w", power.average_pulling_w),
        average_wheel_w=factors.on("average_wheel_w", power.average_wheel_w),
        peak_w=factors.on("peak_w", power.peak_w),
    )


def _more(before: Estimate | Unknown, after: Estimate | Unknown) -> tuple[PowerShare, ...]:
    """What calibration adds to the average's plus-minus, as one share of it."""
    if isinstance(before, Unknown) or isinstance(after, Unknown) or after.plus_minus <= before.plus_minus:
        return ()
    return (PowerShare("calibration", math.sqrt(after.plus_minus**2 - before.plus_minus**2)),)
