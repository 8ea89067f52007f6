"""The user's limits: worst value, margin, when, where, how long; no data is a verdict of its own.

Public: `CheckedLimits`, `check_limits`, `NONE_SETTLED`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Traces
from passband.analysis.engine.channels_meant import Logged, channels_meant, name_meant
from passband.analysis.engine.excursions import (
    Excursions,
    about,
    find_excursions,
    least_margins,
    share_known,
    sustained_margin,
)
from passband.analysis.engine.exhaust import EXHAUST_SPREAD, find_exhaust_spread, why_no_spread
from passband.analysis.engine.limits_given import tell_unknown_channels
from passband.analysis.engine.run_times import RunTimes, Whereabouts
from passband.analysis.engine.sensor_ends import cut_off_at
from passband.analysis.given.car import Condition, Curve, Limit, bound_in_si
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.limits import LimitVerdict, Side, Verdict
from passband.analysis.sensors.evidence import ABOUT_S

LEAST_KNOWN = 0.5
"""With data for less than this share of its time a limit that was not passed is not known to have been kept. [-]"""
TOLD_MISSING = 0.02
"""A larger share of the time without data stands in the verdict's note. [-]"""
NONE_SETTLED: Mapping[int, LimitVerdict] = MappingProxyType({})
"""All limits are to be looked at."""


@dataclass(frozen=True, slots=True)
class _Rule:
    """A limit with its bounds in the channel's unit and its channels found."""

    limit: Limit
    side: Side
    channels: tuple[Channel, ...]
    bounds: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True)
class _Worst:
    """The worst of one channel."""

    channel: str
    worst: float
    bound: float
    margin: float
    at_s: float
    excursions: Excursions
    known: float
    margins: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class CheckedLimits:
    """The user's limits as a run kept them."""

    verdicts: tuple[LimitVerdict, ...]
    """One for each limit, in the car's order."""
    findings: tuple[Finding, ...]
    """Limits that could not be read, channels nobody knows, and spreads of exhaust temperatures for which too few are
    logged."""


def check_limits(
    logged: Logged,
    limits: Sequence[Limit],
    where: Whereabouts,
    *,
    times: RunTimes,
    settled: Mapping[int, LimitVerdict] = NONE_SETTLED,
) -> CheckedLimits:
    """Hold a run against the user's limits, sample by sample as logged.

    Parameters
    ----------
    logged : Logged
        The whole log, ET.
    limits : sequence of Limit
        As the car lists them.
    where : Whereabouts
        For the place and the gear of the worst moment.
    times : RunTimes
        When the run was.
    settled : mapping of int to LimitVerdict, optional
        By their places, verdicts that stand: of the same limits on the same run, with data. They are taken as they are.

    Returns
    -------
    CheckedLimits
        One verdict for each limit.

    Notes
    -----
    Worst is a logged sample, never a smoothed one. Time outside runs between crossings found between samples. With
    ``longer_than``, only stretches outside for longer count, and the worst of a limit kept is the level that was
    held that long. Samples that are NaN, or taken while a condition does not hold or is not known, do not count.
    A limit above the level at which its sensor ends is not known to have been kept.
    The note of a limit on the spread of the exhaust temperatures names the hottest and the coldest at the worst moment.
    """
    verdicts, found = [], []
    asked = {limit.during for place, limit in enumerate(limits) if place not in settled}
    near = {during: _near(logged, times.spans(during)) for during in asked}
    for place, limit in enumerate(limits):
        if place in settled:
            found += tell_unknown_channels(limit, logged.traces)
            verdicts.append(settled[place])
            continue
        about_it = near[limit.during]
        try:
            rule = _read(limit, about_it)
        except ValueError as problem:
            found.append(Finding("limit-not-read", "caution", f"The limit {limit.name!r} cannot be read: {problem}."))
            verdicts.append(_no_data(limit, f"its bound cannot be used: {problem}"))
            continue
        if not rule.channels and name_meant(limit.channel) == EXHAUST_SPREAD:
            text = f"The limit {limit.name!r} cannot be looked at: {why_no_spread(about_it.traces)}."
            found.append(Finding("exhaust-spread-unknown", "note", text))
        found += tell_unknown_channels(limit, logged.traces)
        verdicts.append(_check(rule, about_it, times, where))
    return CheckedLimits(tuple(verdicts), tuple(found))


def _near(logged: Logged, spans: Sequence[tuple[float, float]]) -> Logged:
    """What a limit can ask for: of a long log the rest says nothing of its time."""
    if not spans:
        return logged
    start_s, stop_s = min(start for start, _ in spans) - ABOUT_S, max(stop for _, stop in spans) + ABOUT_S
    return logged.within(start_s, stop_s)


def _side(limit: Limit) -> Side:
    if limit.curve is not None:
        return limit.curve.side
    return "at_least" if limit.at_least is not None else "at_most"


def _read(limit: Limit, logged: Logged) -> _Rule:
    channels = tuple(channels_meant(limit.channel, logged))
    bounds = tuple(_bound(limit, channel, logged) for channel in channels)
    if not channels:
        _bound(limit, _empty(name_meant(limit.channel)), logged)
    return _Rule(limit, _side(limit), channels, bounds)


def _in_unit_of(channel: Channel, given: float | str) -> float:
    return bound_in_si(given, channel=channel.name, log_unit=channel.unit if channel.time_s.size else None)


def _empty(name: str) -> Channel:
    return Channel(name, name, "", "", np.empty(0), np.empty(0), 0.0)


def _bound(limit: Limit, channel: Channel, logged: Logged) -> FloatArray:
    """The bound at each of the channel's samples, in its unit; NaN where a curve's other channel is not known."""
    if limit.curve is not None:
        return _curve_bound(limit.curve, channel, logged)
    for given in (limit.at_least, limit.at_most):
        if given is not None:
            return np.full(channel.time_s.size, _in_unit_of(channel, given))
    raise ValueError(f"limit {limit.name!r} names no bound")


def _curve_bound(curve: Curve, channel: Channel, logged: Logged) -> FloatArray:
    against = name_meant(curve.against)
    others = channels_meant(curve.against, logged)
    other = others[0] if others else _empty(against)
    points = sorted((_in_unit_of(other, x), _in_unit_of(channel, y)) for x, y in curve.points)
    at, level = (np.array(side, dtype=np.float64) for side in zip(*points, strict=True))
    if not others:
        return np.full(channel.time_s.size, np.nan)
    return np.asarray(np.interp(others[0].at(channel.time_s), at, level), dtype=np.float64)


def _holds(conditions: Sequence[Condition], time_s: FloatArray, logged: Logged) -> BoolArray:
    """True where all conditions are known to hold."""
    holds = np.ones(time_s.size, dtype=np.bool_)
    for condition in conditions:
        others = channels_meant(condition.channel, logged)
        if not others:
            return np.zeros(time_s.size, dtype=np.bool_)
        value = others[0].at(time_s)
        if condition.at_least is not None:
            holds &= value >= _in_unit_of(others[0], condition.at_least)
        if condition.at_most is not None:
            holds &= value <= _in_unit_of(others[0], condition.at_most)
    return holds


def _check(rule: _Rule, logged: Logged, times: RunTimes, where: Whereabouts) -> LimitVerdict:
    spans = times.spans(rule.limit.during)
    if not rule.channels:
        return _no_data(rule.limit, _why_absent(rule.limit.channel, logged.traces))
    if not spans:
        return _no_data(rule.limit, f"the log holds no {rule.limit.during}")
    worsts, silent = [], []
    for channel, bound in zip(rule.channels, rule.bounds, strict=True):
        holds = _holds(rule.limit.when, channel.time_s, logged)
        worst = _worst_of(channel, bound, holds, spans, rule)
        (worsts.append(worst) if worst is not None else silent.append(channel.name))
    if not worsts:
        return _no_data(rule.limit, _why_silent(rule, logged, spans), channel=rule.channels[0])
    worst = min(worsts, key=lambda item: (not item.excursions.count, item.margin))
    return _with_cylinders(_verdict(rule, worst, silent, where), logged.traces)


def _worst_of(
    channel: Channel, bound: FloatArray, holds: BoolArray, spans: Sequence[tuple[float, float]], rule: _Rule
) -> _Worst | None:
    """The worst of a channel within the spans; None where no sample counts."""
    near = about(channel.time_s, (min(start for start, _ in spans), max(stop for _, stop in spans)))
    if near.stop - near.start > 1:  # one sample alone would not tell how often it is logged
        channel = replace(channel, time_s=channel.time_s[near], values=channel.values[near])
        bound, holds = bound[near], holds[near]
    sign = 1.0 if rule.side == "at_least" else -1.0
    margin = sign * (channel.values - bound)
    within = np.zeros(channel.time_s.size, dtype=np.bool_)
    for start, stop in spans:
        within |= (channel.time_s >= start) & (channel.time_s <= stop)
    asked = within & (holds if rule.limit.when else True)
    counts = asked & np.isfinite(margin)
    if not counts.any():
        return None
    margins = least_margins(channel.time_s, margin, counts) if rule.limit.during == "run" else ()
    longer = rule.limit.longer_than
    excursions = find_excursions(channel.time_s, margin, counts, spans, longer_than_s=longer)
    known = float(counts.sum() / asked.sum())
    if longer > 0 and not excursions.count:  # the worst is what it did not stay beyond for longer
        left, at = sustained_margin(channel.time_s, margin, counts, spans, longer_than_s=longer)
        value = float(bound[at]) + sign * left
    else:
        at = excursions.worst if excursions.count else int(np.flatnonzero(counts)[np.argmin(margin[counts])])
        left, value = float(margin[at]), float(channel.values[at])
        if not rule.limit.when:
            known = share_known(channel.time_s, within & np.isfinite(channel.values), spans)
    return _Worst(
        channel=channel.name,
        worst=value,
        bound=float(bound[at]),
        margin=left,
        at_s=float(channel.time_s[at]),
        excursions=excursions,
        known=known,
        margins=margins,
    )


def _why_absent(text: str, traces: Traces) -> str:
    return why_no_spread(traces) if name_meant(text) == EXHAUST_SPREAD else f"the log holds no channel {text!r}"


def _with_cylinders(verdict: LimitVerdict, traces: Traces) -> LimitVerdict:
    """Between which cylinders a spread was worst, where cylinders are what it was made of."""
    spread = find_exhaust_spread(traces) if verdict.channel == EXHAUST_SPREAD else None
    words = spread.words_at(verdict.at_s) if spread is not None and verdict.at_s is not None else ""
    return replace(verdict, note="; ".join(filter(None, (words, verdict.note))))


def _why_silent(rule: _Rule, logged: Logged, spans: Sequence[tuple[float, float]]) -> str:
    limit = rule.limit
    for condition in limit.when:
        if not channels_meant(condition.channel, logged):
            return f"the log holds no channel {condition.channel!r}, which its condition asks for"
    if limit.curve is not None and not channels_meant(limit.curve.against, logged):
        return f"the log holds no channel {limit.curve.against!r}, which its curve runs against"
    seen = any(
        bool(np.isfinite(channel.values[(channel.time_s >= a) & (channel.time_s <= b)]).any())
        for channel in rule.channels
        for a, b in spans
    )
    if seen and limit.when:
        return "its conditions never held"
    if rule.channels[0].name == EXHAUST_SPREAD:
        return "no two exhaust temperatures show anything to be believed in that time"
    return "the channel shows nothing to be believed in that time"


def _verdict(rule: _Rule, worst: _Worst, silent: list[str], where: Whereabouts) -> LimitVerdict:
    verdict = Verdict.OUTSIDE if worst.excursions.count else Verdict.INSIDE
    notes = []
    if silent:
        notes.append(f"{', '.join(silent)} shows nothing to be believed")
    if worst.known < 1.0 - TOLD_MISSING:
        notes.append(f"data for {100 * worst.known:.0f} % of the time only")
    if worst.excursions.single_sample:
        notes.append("outside by a single sample: check the sensor too")
    if verdict is Verdict.INSIDE and worst.known < LEAST_KNOWN:
        verdict = Verdict.NO_DATA
    if verdict is Verdict.INSIDE and rule.side == "at_most":
        channel = next(one for one in rule.channels if one.name == worst.channel)
        ends = cut_off_at(channel)
        if ends is not None and worst.worst >= ends:
            verdict = Verdict.NO_DATA
            notes.append("cut off flat at the end of its sensor: it was at least that")
    return LimitVerdict(
        name=rule.limit.name,
        channel=worst.channel,
        verdict=verdict,
        worst=worst.worst,
        unit=_unit(rule, worst.channel),
        limit=worst.bound,
        side=rule.side,
        margin=worst.margin,
        margin_share=worst.margin / abs(worst.bound) if worst.bound else None,
        at_s=worst.at_s,
        at_distance_m=where.distance_m(worst.at_s),
        gear=where.gear(worst.at_s),
        time_outside_s=worst.excursions.time_s,
        times_outside=worst.excursions.count,
        note="; ".join(notes),
        outside=worst.excursions.stretches,
        margins=worst.margins,
    )


def _unit(rule: _Rule, name: str) -> str:
    return next((channel.unit for channel in rule.channels if channel.name == name), "")


def _no_data(limit: Limit, why: str, *, channel: Channel | None = None) -> LimitVerdict:
    name = channel.name if channel is not None else name_meant(limit.channel)
    kind = kind_of(name)
    unit = channel.unit if channel is not None else kind.unit if kind is not None else ""
    return LimitVerdict(
        name=limit.name,
        channel=name,
        verdict=Verdict.NO_DATA,
        worst=None,
        unit=unit,
        limit=None,
        side=_side(limit),
        margin=None,
        margin_share=None,
        at_s=None,
        at_distance_m=None,
        gear=None,
        time_outside_s=None,
        times_outside=None,
        note=why,
    )
