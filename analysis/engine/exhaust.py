"""How far the cylinders' exhaust temperatures lie apart: hottest less coldest at one moment.

Public: `EXHAUST_SPREAD`, `ExhaustSpread`, `exhaust_temperatures`, `find_exhaust_spread`, `spread_of`,
`why_no_spread`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.log import GAP_PERIODS, Channel, Traces
from passband.analysis.quantities import TEMPERATURE_DIFFERENCE, FloatArray, IntArray
from passband.analysis.statistics.fits import middle

EXHAUST_SPREAD = "exhaust_temperature_spread"
"""Its name among the channels."""
FAMILY = "exhaust_temperature"
"""The channels it is made of, by their stem; those without a number stand for no cylinder."""
FEWEST = 2
"""A spread lies between two, or more. [-]"""
LONGEST_PERIOD_S = 2.0
"""A temperature logged less often says nothing of a run of some seconds, and would thin the others out. [s]"""
_NOBODY = -1


@dataclass(frozen=True, slots=True)
class ExhaustSpread:
    """Hottest less coldest at each moment, and which they were."""

    time_s: FloatArray
    """Shape (n,), rising; the clock of the channels it was made of. [s]"""
    spread_k: FloatArray
    """Shape (n,), never below zero; NaN where fewer than two temperatures are known. [K, a difference]"""
    hottest: IntArray
    """Shape (n,); place among `cylinders`, -1 where the spread is not known."""
    coldest: IntArray
    """Likewise."""
    known: IntArray
    """Shape (n,); how many temperatures were known. [-]"""
    cylinders: tuple[Channel, ...]
    """The channels it was made of."""

    @property
    def channel(self) -> Channel:
        """As a channel, for limits, charts and tables."""
        rate_hz = min((cylinder.rate_hz for cylinder in self.cylinders), default=0.0)
        step = max((cylinder.resolution for cylinder in self.cylinders), default=0.0)
        return Channel(
            EXHAUST_SPREAD, EXHAUST_SPREAD, TEMPERATURE_DIFFERENCE, "", self.time_s, self.spread_k, rate_hz,
            resolution=step,
        )  # fmt: skip

    def words_at(self, time_s: float) -> str:
        """Which was the hottest and which the coldest at a sample's time, and which were not known; may be empty."""
        at = int(np.searchsorted(self.time_s, time_s))
        if at >= self.time_s.size or self.hottest[at] == _NOBODY:
            return ""
        hottest, coldest = (self.cylinders[place[at]].name for place in (self.hottest, self.coldest))
        words = f"hottest {_number(hottest)}, coldest {_number(coldest)}"
        if self.known[at] == len(self.cylinders):
            return words
        return f"{words}, of {self.known[at]} known out of {len(self.cylinders)}"


def _number(name: str) -> str:
    return f"{FAMILY.replace('_', ' ')}{name.removeprefix(FAMILY).replace('_', ' ')}"


def exhaust_temperatures(traces: Traces) -> list[Channel]:
    """The exhaust temperatures that stand for one cylinder or bank each.

    Parameters
    ----------
    traces : Traces
        Any.

    Returns
    -------
    list of Channel
        Those with a number and a sample at least every 2 s, the ECU log's before another's of the same number;
        empty where there is none.
    """
    by_name: dict[str, Channel] = {}
    there = [one for one in traces.family(FAMILY) if one.name != FAMILY and one.time_s.size > 1]
    periods_s = _periods_s(there)
    for channel in there:
        if periods_s[id(channel.time_s)] <= LONGEST_PERIOD_S:
            by_name.setdefault(channel.name, channel)
    return list(by_name.values())


def find_exhaust_spread(traces: Traces) -> ExhaustSpread | None:
    """Hottest less coldest exhaust temperature, at each moment at which two or more are known.

    Parameters
    ----------
    traces : Traces
        The whole log.

    Returns
    -------
    ExhaustSpread or None
        None where `exhaust_temperatures` finds fewer than two.

    Notes
    -----
    The moments are the samples of the slowest of the channels; where it has none (it began later, it fell silent) those
    of the next. The others are read there on the straight line between their neighbouring samples. Where all are logged
    at the same times, as is common, every value is the difference of two logged samples. Samples that are NaN, among
    them those marked as not to be believed, are left out, and the spread is that of the rest: it can then be less than
    it was, never more.

    *What it does not see.* A thermocouple lags the gas: its sheath needs from tenths of a second to seconds to follow.
    While the gas heats at a rate r, a probe of time constant tau settles r x tau below it, so two probes in equal gas
    lie r x (tau_2 - tau_1) apart: at 200 K/s, 0.2 s between their constants shows as 40 K. After the launch and
    after each shift a spread may be the probes' (their sheaths, depths, ages) and not the cylinders', and a run of a
    few seconds may end before they have settled. The reverse holds too: one cylinder's short excursion is smoothed, and
    the spread read is then less than the gas had. A limit on it says most with probes of one kind and with a
    ``longer_than`` of a second or so.

    Examples
    --------
    >>> time_s = np.arange(3.0)
    >>> hot, cold = (
    ...     Channel(f"exhaust_temperature_{n}", "", "K", "degC", time_s, np.array(values), 1.0)
    ...     for n, values in ((1, [900.0, 1000.0, 1100.0]), (2, [880.0, 1010.0, np.nan]))
    ... )
    >>> find_exhaust_spread(Traces((hot, cold))).spread_k.tolist()
    [20.0, 10.0, nan]
    """
    return spread_of(exhaust_temperatures(traces))


def spread_of(cylinders: Sequence[Channel]) -> ExhaustSpread | None:
    """The spread of some exhaust temperatures, as `find_exhaust_spread` makes it of a log's.

    Parameters
    ----------
    cylinders : sequence of Channel
        As `exhaust_temperatures` gives them, or a part of each between the same two times.

    Returns
    -------
    ExhaustSpread or None
        None of fewer than two.
    """
    if len(cylinders) < FEWEST:
        return None
    time_s = _common_times(cylinders)
    temperatures = np.vstack([_read_at(channel, time_s) for channel in cylinders])
    good = np.isfinite(temperatures)
    known = good.sum(axis=0)
    enough = known >= FEWEST
    hottest = np.where(good, temperatures, -np.inf).argmax(axis=0)
    coldest = np.where(good, temperatures, np.inf).argmin(axis=0)
    each = np.arange(time_s.size)
    spread = np.where(enough, temperatures[hottest, each] - temperatures[coldest, each], np.nan)
    return ExhaustSpread(
        time_s,
        spread,
        np.where(enough, hottest, _NOBODY),
        np.where(enough, coldest, _NOBODY),
        known.astype(np.int64),
        tuple(cylinders),
    )


def why_no_spread(traces: Traces) -> str:
    """What a spread lacks, for a reader.

    Parameters
    ----------
    traces : Traces
        Logs of which `find_exhaust_spread` makes none.

    Returns
    -------
    str
        Half a sentence.
    """
    there = list(dict.fromkeys(channel.name for channel in traces if family_of(channel.name) == FAMILY))
    held = f"only {' and '.join(there)}" if there else "none"
    often = f", each logged every {LONGEST_PERIOD_S:g} s at least" if len(there) >= FEWEST else ""
    return f"it takes the exhaust temperatures of two numbered cylinders or banks{often}, and the log holds {held}"


def _common_times(cylinders: Sequence[Channel]) -> FloatArray:
    """Sample times of the slowest channel, and of the next slowest where it has none near."""
    periods_s = _periods_s(cylinders)
    slowest, *others = sorted(cylinders, key=lambda channel: periods_s[id(channel.time_s)], reverse=True)
    reach_s, times = periods_s[id(slowest.time_s)], slowest.time_s
    for other in others:
        if other.time_s is times or np.array_equal(other.time_s, times):
            continue
        after = np.clip(np.searchsorted(times, other.time_s), 1, times.size - 1)
        away = np.minimum(np.abs(other.time_s - times[after - 1]), np.abs(times[after] - other.time_s))
        if bool((away > reach_s).any()):
            times = np.union1d(times, other.time_s[away > reach_s])
    return times


def _periods_s(channels: Sequence[Channel]) -> dict[int, float]:
    """The middle step of each set of times, by its id: channels of one log share theirs, an hour's are long."""
    times = {id(channel.time_s): channel.time_s for channel in channels}
    return {key: middle(np.diff(time_s)) for key, time_s in times.items()}


def _read_at(channel: Channel, time_s: FloatArray) -> FloatArray:
    """The channel at other times; NaN outside its record, beside a missing sample and in a hole between samples."""
    if channel.time_s is time_s or np.array_equal(channel.time_s, time_s):
        return channel.values
    steps = np.diff(channel.time_s)
    after = np.searchsorted(channel.time_s, time_s, side="right")
    in_hole = np.concatenate(([False], steps > GAP_PERIODS * np.median(steps), [False]))[after]
    on_sample = channel.time_s[np.clip(after - 1, 0, None)] == time_s
    return np.where(in_hole & ~on_sample, np.nan, channel.at(time_s))
