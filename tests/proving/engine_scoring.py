"""Holds what a review says of the engine against what truly happened: power, boost, band, limits.

Public: `hold_engine`, `LIMIT_VERDICTS`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from passband.analysis.channels.log import Channel
from passband.analysis.results.limits import LimitVerdict
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.results.window import Window
from passband.demo_logs.loggers import UNITS
from tests.proving.scores import Score
from tests.proving.tolerances import (
    CLOCK_START_S,
    CONVERTER_POWER,
    ENGINE,
    FLYWHEEL_POWER,
    GROUND_POWER,
    PEAK_POWER,
    Means,
)

LIMIT_VERDICTS = "limit verdicts"
"""Inside or outside, where the log shows what is true."""
BALANCE = 0.01
"""Work and energy must agree to one part in a hundred."""
LOWEST_BOOST_PA = 4000.0
"""A dip of some hundredths of a second, through the sensor's own lag."""


def hold_engine(
    score: Score, name: str, review: Review, happened: dict[str, Any], margins: dict[str, Any], means: Means
) -> None:
    """Note what one run's review says of the engine; boost and band end where the ECU's log does."""
    _hold_power(score, name, review, happened["power"], means)
    _hold_boost(score, name, review, happened["boost"], means)
    _hold_band(score, name, review, happened["rpm_band"], means)
    _hold_limits(score, name, review, happened, margins)


def _hold_power(score: Score, name: str, review: Review, true: dict[str, Any], means: Means) -> None:
    power, scale = known(review.power), abs(true["tractive"]["avg_w"])
    tag = "" if means.facts_given else ", facts missing"
    flywheel = FLYWHEEL_POWER[means.ground] + (CONVERTER_POWER if means.converter else 0.0)
    ground, brake, clutch = GROUND_POWER[means.ground], true["flywheel_brake"], true["clutch_output"]
    peak = (brake["peak_50ms_w"], clutch["peak_50ms_w"])  # with and without what the engine's own inertia gives back
    figures = (
        ("average power to the ground", power and power.average_wheel_w, true["tractive"]["avg_w"], ground),
        ("average power at the flywheel", power and power.average_w, brake["avg_w"], flywheel),
        ("the same without shifts", power and power.average_pulling_w, brake["avg_excl_shifts_w"], flywheel + 0.01),
        ("peak power", power and power.peak_w, peak, PEAK_POWER[means.ground]),
    )  # fmt: skip
    for figure, given, truth, share in figures:
        if means.facts_given or given is not None:
            score.ask(f"{figure}{tag}, W", name, given, truth, share * scale)
    if power is not None and not isinstance(power.balance_error, Unknown):
        score.ask("work less energy, share", name, power.balance_error, 0.0, BALANCE)


def _hold_boost(score: Score, name: str, review: Review, true: dict[str, Any] | None, means: Means) -> None:
    boost = known(review.boost)
    if true is None:
        score.tell("no boost where there is none", name, boost is None or known(boost.time_above_s) is None)
        return
    edges = max(2 * len(true["spans"] or [1]), 2)
    near = edges / means.ecu_hz + 0.02 + (CLOCK_START_S[ENGINE] if means.timed == ENGINE else 0.0)
    score.ask("time above the boost threshold, s", name, boost and boost.time_above_s, true["time_above_s"], near)
    if true["min_after_first_kpa"] is not None:
        lowest = true["min_after_first_kpa"] * 1e3
        score.ask("lowest boost once reached, Pa", name, boost and boost.lowest_after_pa, lowest, LOWEST_BOOST_PA)


def _hold_band(score: Score, name: str, review: Review, true: dict[str, Any], means: Means) -> None:
    band, near = known(review.band), 12 / means.ecu_hz + 0.03  # two edges at every shift
    times = (
        ("below", band and band.time_below_s, true["under_s"]),
        ("in", band and band.time_in_s, true["in_s"]),
        ("above", band and band.time_above_s, true["over_s"]),
    )
    for side, given, seconds in times:
        score.ask("time below, in, above the band, s", f"{name} {side}", given, seconds, near)


def _hold_limits(score: Score, name: str, review: Review, happened: dict[str, Any], margins: dict[str, Any]) -> None:
    """Verdicts where the log shows what is true, and the worst value to one step of what was logged."""
    told = {verdict.name: verdict for verdict in review.limits}
    for limit, true in margins.items():
        if true["margin_logged"] is None or true["exceeded_true"] != (true["margin_logged"] < 0):
            continue
        place, verdict = f"{name} {limit}", told.get(limit)
        right = "outside" if true["exceeded_true"] else "inside"
        score.tell(LIMIT_VERDICTS, place, verdict is not None and verdict.verdict == right)
        if verdict is None or verdict.worst is None:
            continue
        _hold_worst(score, place, verdict, review, happened, true)


def _hold_worst(
    score: Score, place: str, verdict: LimitVerdict, review: Review, happened: dict[str, Any], true: dict[str, Any]
) -> None:
    """The worst value against the worst one written in the log; boost made of manifold pressure has no such step."""
    channel = review.traces.get(verdict.channel)
    if channel is None or verdict.worst is None or channel.resolution <= 0:
        return
    scale, offset = UNITS[true["unit"]]
    step = channel.resolution
    logged = (true["worst_logged"] - offset) / scale / step
    around = [value / step for value in _worst_around(channel.known, review.window, happened, true["kind"])]
    ends = (min(logged, *around), max(logged, *around))
    score.ask("worst value of a limit, steps of its channel", place, verdict.worst / step, ends, 1.01)
    if verdict.at_s is not None:
        there = channel.known.at(np.array([verdict.at_s]))[0]
        score.tell("worst value at its moment", place, abs(there - verdict.worst) <= 1.01 * step)


def _worst_around(channel: Channel, window: Window, happened: dict[str, Any], kind: str) -> tuple[float, float]:
    """Worst value of the true run, cut and lengthened at its ends by what the review may be off there."""
    start, doubt = window.log_clock_start_s, window.clock_start_plus_minus_s
    worst = np.max if kind == "max" else np.min
    values = [
        channel.within(happened["clock_start"] - start + by, happened["end_of_run"] - start - by).values
        for by in (doubt, -doubt)
    ]
    return float(worst(values[0])), float(worst(values[1]))
