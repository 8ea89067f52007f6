"""A review's plus-minuses as calibration found them to be: each class of figure times its own factor, in one place.

What facts of the car and the day make of a plus-minus stays as it is: they were given, with their own. What sensors and
the method make of it, the run's own part and the device's, is multiplied by the factor of its class.

How much of a plus-minus is the run's own was calibrated apart, on pairs of runs of one car (`pairs_table.py`).

Public: `Widths`, `AS_FOUND`, `with_widths`, `widened`, `parted_anew`, `of_facts`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.distance import Distance
from passband.analysis.results.estimate import DEVICE, NOT_EXPLAINED, Estimate
from passband.analysis.results.launch import Launch
from passband.analysis.results.power import Power, PowerShare
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import Unknown
from passband.analysis.widths.classes import Means, classes_of
from passband.analysis.widths.pairs_table import FACTORS

AnyReview = TypeVar("AnyReview", bound=Review)
Missing = TypeVar("Missing", Unknown, None)


@dataclass(frozen=True, slots=True)
class Widths:
    """Factors of one calibration."""

    version: str
    """Which one it was."""
    factors: Mapping[str, float]
    """By class, as `classes_of` names them. [-]"""

    def factor(self, figure: str, means: Means, clock: ClockMatch | None = None) -> float:
        """The factor of the narrowest class that the calibration knows; 1 where it knows none."""
        return next((self.factors[name] for name in classes_of(figure, means, clock) if name in self.factors), 1.0)


AS_FOUND = Widths("as found", {})
"""Every plus-minus as the stages made it: what a calibration starts from."""
OF_PAIRS = Widths("pairs", FACTORS)
"""Factors of what is a run's own."""


def of_facts(estimate: Estimate) -> float:
    """What facts of the car and of the day make of a plus-minus.

    Parameters
    ----------
    estimate : Estimate
        Any.

    Returns
    -------
    float
        In the figure's unit; 0 where nobody parted it.
    """
    return math.hypot(*(part.effect for part in estimate.shared if not _of_device(part.cause)))


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
        narrowed = {cause: effect * (factor if _of_device(cause) else 1.0) for cause, effect in shared.items()}
        return Estimate.parted(estimate.value, own * factor, narrowed)
    to_widen = estimate.plus_minus if whole else _of_method(estimate)
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
        What the run's own gains, the devices lose, so that the whole stays as long as it holds both.

    Examples
    --------
    >>> got = parted_anew(Estimate.parted(7000.0, 3.0, {"device: pick-up lag": 4.0}), 1.5)
    >>> got.own, got.plus_minus
    (4.5, 5.0)
    """
    if factor == 1.0 or estimate.run_plus_minus is None:
        return estimate
    own = factor * estimate.run_plus_minus
    of_devices = math.hypot(*(part.effect for part in estimate.shared if _of_device(part.cause)))
    left = math.sqrt(max(_of_method(estimate) ** 2 - own**2, 0.0)) / of_devices if of_devices else 1.0
    shared = {part.cause: part.effect * (left if _of_device(part.cause) else 1.0) for part in estimate.shared}
    return Estimate.parted(estimate.value, own, shared)


def _of_method(estimate: Estimate) -> float:
    """What sensors and method make of a plus-minus: all but the facts."""
    return math.sqrt(max(estimate.plus_minus**2 - of_facts(estimate) ** 2, 0.0))


def _of_device(cause: str) -> bool:
    return cause.partition(":")[0] == DEVICE


def with_widths(review: AnyReview, widths: Widths, means: Means) -> AnyReview:
    """A review with every plus-minus of `FIGURES` as calibration found it to be.

    Parameters
    ----------
    review : Review
        As the stages made it.
    widths : Widths
        The table.
    means : Means
        What the run rests on.

    Returns
    -------
    Review
        Values stay; what no class of the table stands for stays as it was.
    """
    factors = _Factors(widths, means)
    start = review.window.clock_start_plus_minus_s * factors.of("clock_start")
    distance, launch, power = review.distance, review.launch, review.power
    return replace(
        review,
        window=replace(review.window, clock_start_plus_minus_s=start),
        clocks=tuple(_clock(match, factors) for match in review.clocks),
        distance=distance if isinstance(distance, Unknown) else _distance(distance, factors),
        launch=launch if isinstance(launch, Unknown) else _launch(launch, factors),
        shifts=tuple(_shift(shift, factors) for shift in review.shifts),
        power=power if isinstance(power, Unknown) else _power(power, factors),
    )


@dataclass(frozen=True, slots=True)
class _Factors:
    """A table as one run reads it."""

    widths: Widths
    means: Means

    def of(self, figure: str, clock: ClockMatch | None = None) -> float:
        return self.widths.factor(figure, self.means, clock)

    def on(self, figure: str, estimate: Estimate | Missing, *, whole: bool = False) -> Estimate | Missing:
        """The estimate widened, then parted; what is missing stays as it is."""
        return self.known(figure, estimate, whole=whole) if isinstance(estimate, Estimate) else estimate

    def known(self, figure: str, estimate: Estimate, *, whole: bool = False) -> Estimate:
        """The same of a figure that is there."""
        own = 1.0 if self.widths is AS_FOUND else OF_PAIRS.factor(figure, self.means)
        return parted_anew(widened(estimate, self.of(figure), whole=whole), own)


def _clock(match: ClockMatch, factors: _Factors) -> ClockMatch:
    offset = factors.of("clock_offset", match)
    return replace(
        match,
        offset_s=widened(match.offset_s, offset),
        rate_ppm=widened(match.rate_ppm, factors.of("clock_rate", match)),
        run_plus_minus_s=match.run_plus_minus_s * offset,
    )


def _distance(distance: Distance, factors: _Factors) -> Distance:
    splits = tuple(replace(one, time_s=factors.known("splits", one.time_s)) for one in distance.splits)
    traps = tuple(replace(one, speed_mps=factors.known("traps", one.speed_mps)) for one in distance.traps)
    return replace(distance, splits=splits, traps=traps)


def _launch(launch: Launch, factors: _Factors) -> Launch:
    return replace(
        launch,
        rpm_at_launch=factors.on("rpm_at_launch", launch.rpm_at_launch),
        rpm_lowest=factors.on("rpm_lowest", launch.rpm_lowest),
    )


def _shift(shift: Shift, factors: _Factors) -> Shift:
    return replace(
        shift,
        time_plus_minus_s=shift.time_plus_minus_s * factors.of("shift_start"),
        rpm_before=factors.on("rpm_before", shift.rpm_before),
        rpm_after=factors.on("rpm_after", shift.rpm_after),
        rpm_drop=factors.on("rpm_drop", shift.rpm_drop),
    )


def _power(power: Power, factors: _Factors) -> Power:
    average = factors.on("average_w", power.average_w, whole=True)
    return replace(
        power,
        shares=(*power.shares, *_more(power.average_w, average)),
        average_w=average,
        average_pulling_w=factors.on("average_pulling_w", power.average_pulling_w, whole=True),
        average_wheel_w=factors.on("average_wheel_w", power.average_wheel_w, whole=True),
        peak_w=factors.on("peak_w", power.peak_w, whole=True),
    )


def _more(before: Estimate | Unknown, after: Estimate | Unknown) -> tuple[PowerShare, ...]:
    """What calibration adds to the average's plus-minus, as one share of it."""
    if isinstance(before, Unknown) or isinstance(after, Unknown) or after.plus_minus <= before.plus_minus:
        return ()
    return (PowerShare("calibration", math.sqrt(after.plus_minus**2 - before.plus_minus**2)),)
