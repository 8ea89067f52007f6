"""Signals that tell when drive torque is cut for a shift: flag, lever, ignition, throttle, manifold pressure.

Public: `Edge`, `find_commanded_cut`, `renewed`, `find_commands`, `foot_stayed`, `torque_is_cut`, `find_edge_down`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.sensors.priors import (
    FLAG_LATENCY_S,
    IGNITION_DELAY_S,
    LIFTED,
    MANIFOLD_DELAY_S,
    THROTTLE_DELAY_S,
)
from passband.analysis.statistics.filters import own_updates
from passband.analysis.statistics.fits import middle
from passband.analysis.statistics.intervals import find_true_runs

SWITCH_DOUBT_S = 0.0025
"""95 % of what a switch's delay leaves open beside the rate. [s]"""
STEP_DOUBT_S = 0.003
"""The same of an angle's lag. [s]"""
RELEASE_DOUBT_S = 0.0085
"""The same of a plate's course, delay and lag, which 74 shifts by foot of simulated cars with sensors of both sets
(seeds 9700..9706) show from 3 to 12 ms late. [s]"""
STEPPED = 0.9
"""An ignition angle that is through so much of its fall in two samples has stepped. [-]"""
STEP_LAG_S = 0.004
"""It then lags by so long. [s]"""
STEP_LAG_PLUS_MINUS_S = 0.003
"""95 % half-width of that. [s]"""
DRAWN_BACK = 0.4
"""95 % of what is open of a fall drawn back straight from its first two samples, in steps between them: anywhere in
the step would be 0.475. [-]"""
EASES = 0.7
"""A plate that falls less than this share as far in its second step as in its first runs out towards its stop. [-]"""
FOOT_S = 0.003
"""The foot that let it go had begun so long before its course drawn back says. [s]"""
SHUT = 0.05
"""A plate with no more left in its first lower sample began to fall anywhere in the step before. [-]"""
ANYWHERE = 0.475
"""95 % of what is open of a fall that was through at its first lower sample: anywhere in the step before. [-] By
arithmetic."""
LEAST_LAG_S = 0.01
"""A fall that was through at its second lower sample ran out along any lag from this up to what the two show; where no
third is seen yet, up to one that began at the sample before. [s] A plate's spring."""
FOOT_POWER = 2.5
"""A foot's release grows as this power of time, the sensor's lag with it. [-]"""
FLAG_LATE_S = 0.02
"""A flag or a lever's strain is logged late by less than this: a bus cycle of 100 Hz and the logger's own. [s] Common
practice, no source."""
RETARD_DEG = 4.0
"""A torque cut by ignition takes at least this much out within `EDGE_S`. [deg]"""
THROTTLE_FALL = 0.25
"""A lift for a shift closes the throttle by at least this share of its opening. [-]"""
MANIFOLD_FALL = 0.3
"""It empties the manifold by at least this share of its absolute pressure. [-]"""
EMPTIES_DOUBT_S = 0.008
"""95 % of what is open, beside an edge's own, of how soon a manifold follows its throttle. Chosen. [s]"""
NEAR_S = 0.02
"""A cut is looked for to so long past the middle of the fall, and a switch from so long before its window: a row or
two. [s]"""
LEVEL_OVER_S = 0.35
"""A signal's level is its middle over so long before the window. [s]"""
OFF_LEVEL = 0.02
"""A sample is off it by this share of the least fall that counts. [-]"""
GATHERS = 1.15
"""A fall gathers pace where each step is so many times the one before. [-]"""
USUAL_OVER_S = 0.7
"""What is usual for ignition and throttle is the middle of so much before. [s]"""
LIFTS_WITHIN_S = 0.08
"""A foot that lifts for a shift has done so within this of where engine speed shows it. [s]"""
LEAST_STAYED = 3
"""By so many samples."""
EDGE_S = 0.15
"""Within this an edge of any of them has fallen so far. [s]"""
LIFT_BEFORE_FALL_S = 0.7
"""A lift with the foot comes at most this long before the engine's fall into the next gear. [s]"""
CUT_BEFORE_FALL_S = 0.3
"""A cut by the ECU comes at most this long before it. [s]"""
CHOPS_OVER_S = 0.35
"""A limiter that cuts the ignition is looked for over so long. [s]"""
LEAST_CHOPS = 3
"""It comes back at least so often in that."""
CHOP_S = 0.006
"""A shift's command within one of its chops is not told from it. [s]"""
CHOP_BEFORE_FALL_S = 0.12
"""The last chop lies no further than this before the fall. [s]"""
RETARD_BEFORE_FALL_S = 0.16
"""A retard that has stood for longer is a limiter's, or of another purpose. [s]"""
FREED_AFTER_CUT_S = 0.25
"""An engine that no gear holds is seen to run free within this of the cut. [s]"""
SHORTEST_CHOP_S = 0.02
"""A cut that commands a shift lasts no less. [s]"""
LONGEST_CHOP_S = 0.16
"""And no more. [s]"""
ALONE_S = 0.35
"""A limiter's chops lie closer together than this. [s]"""
LEAST_EASED = 6
"""So many samples tell whether a signal had been easing off. [-]"""
HELD = ("throttle", "manifold_pressure")
"""Signals that a log may hold between values of their own; flag, lever and angle step, and their steps are all new."""
BREAK_S = 0.012
"""A signal that comes back up for no longer than this has stayed down. [s]"""


@dataclass(frozen=True, slots=True)
class Edge:
    """A moment and how it is known."""

    time_s: float
    """[s]"""
    plus_minus_s: float
    """95 % half-width. [s]"""
    evidence: str
    """Channel it rests on."""

    def not_before(self, other: Edge) -> Edge:
        """The same, or at the other where it would come sooner: one of the two is wrong then, and that is open."""
        wrong_s = max(other.time_s - self.time_s, 0.0)
        return replace(self, time_s=self.time_s + wrong_s, plus_minus_s=float(np.hypot(self.plus_minus_s, wrong_s)))


def find_commanded_cut(
    traces: Traces, *, fall_s: float, earliest_s: float, freed_s: float | None = None
) -> Edge | None:
    """The command for a shift's torque cut, from the surest signal that shows one.

    Parameters
    ----------
    traces : Traces
        Cut flag, shift lever, ignition, throttle and manifold pressure are looked at.
    fall_s : float
        When the engine falls to the next gear's speed. [s]
    earliest_s : float
        The gear before was not yet in earlier than this. [s]
    freed_s : float, optional
        Where the engine was let loose, if that is long before the fall: the first cut about it is meant, not the last.
        [s]

    Returns
    -------
    Edge or None
        None where no signal is logged that shows one.

    Notes
    -----
    Each channel is allowed its usual delay; half a sample and the delay's spread make the plus-minus.
    """
    looks: tuple[tuple[str, float, Callable[[Channel, float, float], Edge | None]], ...] = (
        ("shift_cut", CUT_BEFORE_FALL_S, _switched),
        ("shift_lever", CUT_BEFORE_FALL_S, _switched),
        ("ignition_advance", CUT_BEFORE_FALL_S, _retarded),
        ("throttle", LIFT_BEFORE_FALL_S, _closed),
        ("manifold_pressure", LIFT_BEFORE_FALL_S, _emptied),
    )
    edges: dict[str, Edge] = {}
    for name, reach_s, look in looks:
        channel = traces.get(name)
        if channel is None or channel.known.time_s.size < 4:
            continue
        signal = renewed(channel) if name in HELD else channel.known
        start_s, stop_s = fall_s - reach_s, fall_s + NEAR_S
        if freed_s is not None:
            start_s, stop_s = freed_s - FREED_AFTER_CUT_S, freed_s  # a limiter's retard follows close upon it
        edge = look(signal, max(start_s, earliest_s), stop_s)
        if edge is not None:
            edges[name] = edge
    return _surest(edges)


def renewed(channel: Channel) -> Channel:
    """A signal without the rows that only repeat it, where it comes less often than the log has rows.

    Parameters
    ----------
    channel : Channel
        As logged.

    Returns
    -------
    Channel
        Known samples alone, each where a new value came: between two of them anything may have happened. A held value
        taken for a new one has a plate stand still mid-way, and its lift lie a whole row later than it can be told.
    """
    known = channel.known
    keep = own_updates(known.time_s, known.values, rate_hz=known.rate_hz)
    return known if bool(keep.all()) else replace(known, time_s=known.time_s[keep], values=known.values[keep])


def _surest(edges: dict[str, Edge]) -> Edge | None:
    """A flag or lever, unless the spark was cut before it; else the first of ignition and throttle; else pressure.

    Torque goes with the spark: a flag that comes after it by more than both leave open was logged late.
    """
    for name in ("shift_cut", "shift_lever"):
        if name in edges:
            flag, spark = edges[name], edges.get("ignition_advance", edges[name])
            late_s, open_s = flag.time_s - spark.time_s, float(np.hypot(flag.plus_minus_s, spark.plus_minus_s))
            return spark if open_s < late_s < FLAG_LATE_S else flag
    direct = [edges[name] for name in ("ignition_advance", "throttle") if name in edges]
    return min(direct, key=lambda edge: edge.time_s, default=edges.get("manifold_pressure"))


def _switched(channel: Channel, start_s: float, stop_s: float) -> Edge | None:
    """The last rise of a flag, or of a lever's strain, in the window."""
    near = channel.within(start_s - NEAR_S, stop_s)
    if near.values.size < 2:
        return None
    on = _is_on(near.values, channel.values)
    rises = np.flatnonzero(on[1:] & ~on[:-1])
    if rises.size == 0:
        return None
    last = int(rises[-1])
    step_s = float(near.time_s[last + 1] - near.time_s[last])
    moment = float(near.time_s[last + 1]) - 0.5 * step_s - FLAG_LATENCY_S
    return Edge(moment, float(np.hypot(0.5 * step_s, SWITCH_DOUBT_S)), channel.name)


def _is_on(values: FloatArray, record: FloatArray) -> BoolArray:
    """Where a flag, or a lever's strain, is off its rest by more than half of its most; nowhere if it never moves."""
    rest = middle(record)
    most = float(np.abs(record - rest).max())
    return np.asarray((np.abs(values - rest) > 0.5 * most) & (most > 0))


def _retarded(channel: Channel, start_s: float, stop_s: float) -> Edge | None:
    edge = find_edge_down(channel, start_s, stop_s, least=RETARD_DEG, delay_s=IGNITION_DELAY_S)
    if edge is None:
        edge = _off_the_limiter(channel, stop_s)
    return None if edge is None or edge.time_s < stop_s - NEAR_S - RETARD_BEFORE_FALL_S else edge


def _off_the_limiter(channel: Channel, stop_s: float) -> Edge | None:
    """Where a limiter chops the ignition: the shift's own cut is the chop that it does not come back from."""
    near = channel.within(stop_s - CHOPS_OVER_S, stop_s)
    if near.values.size < 8:
        return None
    low, high = float(near.values.min()), float(near.values.max())
    lit = near.values > 0.5 * (low + high)
    chops = np.count_nonzero(lit[1:] & ~lit[:-1])
    lit = lit[: int(np.flatnonzero(~lit)[-1]) + 1]  # power is back soon after the fall
    if high - low < RETARD_DEG or chops < LEAST_CHOPS or not lit.any():
        return None
    last = int(np.flatnonzero(lit)[-1])
    if stop_s - near.time_s[last] > CHOP_BEFORE_FALL_S:
        return None
    step_s = float(near.time_s[last + 1] - near.time_s[last])
    share = float((near.values[last] - 0.5 * (low + high)) / (near.values[last] - near.values[last + 1]))
    return Edge(
        float(near.time_s[last]) + share * step_s - IGNITION_DELAY_S, float(np.hypot(step_s, CHOP_S)), channel.name
    )


def _closed(channel: Channel, start_s: float, stop_s: float) -> Edge | None:
    least = THROTTLE_FALL * _usual(channel, start_s)
    return find_edge_down(channel, start_s, stop_s, least=least, delay_s=THROTTLE_DELAY_S)


def _emptied(channel: Channel, start_s: float, stop_s: float) -> Edge | None:
    least = MANIFOLD_FALL * _usual(channel, start_s)
    edge = find_edge_down(channel, start_s, stop_s, least=least, delay_s=MANIFOLD_DELAY_S)
    return (
        None if edge is None else Edge(edge.time_s, float(np.hypot(edge.plus_minus_s, EMPTIES_DOUBT_S)), edge.evidence)
    )


def _usual(channel: Channel, start_s: float) -> float:
    """The signal's level in the third of a second before the window."""
    before = channel.within(start_s - LEVEL_OVER_S, start_s).values
    return middle(before) if before.size else float("inf")


def find_edge_down(channel: Channel, start_s: float, stop_s: float, *, least: float, delay_s: float) -> Edge | None:
    """Where a signal leaves its level for the fall in which it still stands at the end of a window, or stood last.

    Parameters
    ----------
    channel : Channel
        The signal, without missing samples.
    start_s, stop_s : float
        Where the fall may begin and where it must have happened. [s]
    least : float
        The fall below what the signal was before the window, in its unit. A limiter's chops before it are other falls.
    delay_s : float
        How late the signal shows what it measures. [s]

    Returns
    -------
    Edge or None
        None where nothing falls so far.

    Notes
    -----
    The first sample that is clearly off the level and the steep part after it give the moment between samples.
    """
    near = channel.within(start_s - LEVEL_OVER_S, stop_s)
    time_s, values = near.time_s, near.values
    if values.size < 4 or not np.isfinite(least):
        return None
    usual = _usual(channel, start_s)
    fallen = np.flatnonzero((usual - values > least) & (time_s >= start_s))
    if fallen.size == 0:
        return None
    step_s = middle(np.diff(time_s))
    # Only a sample that came back up parts two falls: a held signal's renewals may lie two of its own periods apart.
    apart = np.flatnonzero((np.diff(fallen) > 1) & (np.diff(time_s[fallen]) > BREAK_S + 1.5 * step_s))
    first = last = int(fallen[apart[-1] + 1] if apart.size else fallen[0])
    floor = max(OFF_LEVEL * least, 2.0 * near.resolution, 5.0 * _flutter(values))
    while first > 1 and time_s[first - 1] > time_s[last] - EDGE_S:
        if _rest_before(values[max(0, first - 9) : first - 1], 0.5 * least) - values[first - 1] <= floor:
            break
        first -= 1
    if first == 0:
        return None  # it is low from the first sample in sight
    rest = middle(values[max(0, first - 8) : first])
    drop = rest - values[first : max(last, first + 1) + 2]
    if drop[0] <= 0 or float(drop.max()) < 0.5 * least:
        return None  # it stood low already: where it fell is out of sight
    return _began(time_s[first : first + drop.size], drop, step_s, delay_s, near.name)


def _rest_before(values: FloatArray, gently: float) -> float:
    """Where a signal would stand next had it kept to its level, or gone on to ease off as it had before its fall.

    A foot that feathers the throttle eases it gently; what falls away from that is the lift. What had fallen by more
    than `gently` is the fall itself.
    """
    level = middle(values)
    if values.size < LEAST_EASED:
        return level
    half = values.size // 2
    first, last = middle(values[:half]), middle(values[-half:])
    if first - last > gently:
        return level
    eases = (last - first) / (values.size - half)
    return min(level, last + eases * 0.5 * (half + 1))


def _began(time_s: FloatArray, drop: FloatArray, step_s: float, delay_s: float, name: str) -> Edge:
    """Where a drop began, from its first samples."""
    if name == "ignition_advance":
        since_s, doubt_s = _since_step(drop, step_s)
    else:
        since_s, doubt_s = _since_release(time_s, drop, step_s)
    return Edge(float(time_s[0]) - since_s - delay_s, doubt_s, name)


def _since_step(drop: FloatArray, step_s: float) -> tuple[float, float]:
    """How long before its first lower sample an angle that the ECU sets stepped, and the plus-minus. [s]."""
    share = float(drop[0] / max(float(drop.max()), 1e-12))
    through = drop.size < 2 or drop[1] > STEPPED * drop.max()
    if share > STEPPED:
        return 0.5 * step_s, float(np.hypot(0.5 * step_s, SWITCH_DOUBT_S))
    if through or drop[1] - drop[0] < EASES * drop[0]:
        lags = -float(np.log1p(-share))
        return min(step_s, lags * STEP_LAG_S), float(np.hypot(STEP_DOUBT_S, lags * STEP_LAG_PLUS_MINUS_S))
    return min(1.0, float(drop[0] / (drop[1] - drop[0]))) * step_s, float(np.hypot(DRAWN_BACK * step_s, STEP_DOUBT_S))


def _since_release(time_s: FloatArray, drop: FloatArray, step_s: float) -> tuple[float, float]:
    """How long before its first lower sample a plate was let go by a foot, and the plus-minus. [s].

    One that gathers pace over three samples or more is seen through a sensor's lag: it began between the square and
    the cube of time. One that runs out from the first is drawn back along its own exponential course, any other
    straight from its first two samples; one all but through by the third falls too quickly for its rows to tell the
    two apart, and began between them.
    """
    rises = np.diff(drop)
    doubt_s = float(np.hypot(RELEASE_DOUBT_S, 0.25 * step_s))
    anywhere_s = float(np.hypot(RELEASE_DOUBT_S, ANYWHERE * step_s))
    gathering = 1
    while gathering < rises.size and rises[gathering] > GATHERS * rises[gathering - 1]:
        gathering += 1
    if rises.size == 0:
        return 0.5 * step_s, anywhere_s
    if rises[0] < EASES * drop[0]:
        lag_s, left = _running_out(drop, step_s)
        since_s = min(-lag_s * float(np.log(left[0])), step_s)
        if left[0] <= SHUT:
            return max(since_s, 0.5 * step_s) + FOOT_S, anywhere_s
        least_s = min(-LEAST_LAG_S * float(np.log(left[0])), since_s) if left[1] <= SHUT else since_s
        since_s = step_s if rises.size < 2 else since_s
        either_s = 0.5 * (since_s - least_s)
        return since_s - either_s + FOOT_S, float(np.hypot(doubt_s, either_s))
    if gathering >= 3:
        root = drop[: gathering + 1] ** (1.0 / FOOT_POWER)
        since_s = float(root[0] * (time_s[gathering] - time_s[0]) / (root[-1] - root[0]))
        return min(since_s, 3 * step_s + 0.02), doubt_s
    straight_s = min(1.0, float(drop[0] / rises[0])) * step_s
    if rises.size > 1 and rises[1] > EASES * rises[0]:
        return straight_s, doubt_s
    lag_s, left = _running_out(drop, step_s)
    either_s = 0.5 * (straight_s - min(-lag_s * float(np.log(left[0])), straight_s))
    return straight_s - either_s, float(np.hypot(doubt_s, either_s))


def _running_out(drop: FloatArray, step_s: float) -> tuple[float, FloatArray]:
    """Lag of an exponential course through a drop's first two samples, and what it had left at each. [s], [-]."""
    left = np.maximum(1.0 - drop[:2] / float(drop.max()), 0.01)
    return step_s / float(np.log(left[0] / left[1])) if left[0] > left[1] else 0.0, left


def foot_stayed(traces: Traces, at_s: float) -> bool:
    """Whether the throttle is seen to stay where it was about a moment: a shift then begins without a lift.

    Parameters
    ----------
    traces : Traces
        Throttle is looked at.
    at_s : float
        The moment. [s]

    Returns
    -------
    bool
        False where it is not logged, too.
    """
    throttle = traces.get("throttle")
    if throttle is None:
        return False
    about = throttle.known.within(at_s - LIFTS_WITHIN_S, at_s + LIFTS_WITHIN_S).values
    return about.size >= LEAST_STAYED and float(about.min()) > LIFTED * float(about.max()) > 0.0


def find_commands(traces: Traces, *, start_s: float, stop_s: float) -> FloatArray:
    """When torque was cut for a moment, as for a shift under full throttle, by the surest channel that shows it.

    Parameters
    ----------
    traces : Traces
        Cut flag, shift lever and ignition are looked at, in that order; a foot's lift commands nothing by itself.
    start_s, stop_s : float
        The stretch. [s]

    Returns
    -------
    array, shape (m,)
        Starts in order, to a sample; empty where none of them is logged or shows such a moment. [s]
    """
    for name in ("shift_cut", "shift_lever", "ignition_advance"):
        channel = traces.get(name)
        if channel is None:
            continue
        known = channel.known.within(start_s, stop_s)
        if known.time_s.size < 10:
            continue
        step_s = middle(np.diff(known.time_s))
        if name == "ignition_advance":
            on = known.values < _running_middle(known.values, round(USUAL_OVER_S / step_s)) - RETARD_DEG
        else:
            on = _is_on(known.values, channel.known.values)
        runs = [(float(known.time_s[r.start]), float(known.time_s[r.stop - 1]) + step_s) for r in find_true_runs(on)]
        shorts = np.array([a for a, b in runs if SHORTEST_CHOP_S <= b - a <= LONGEST_CHOP_S])
        apart = np.diff(shorts, prepend=-np.inf, append=np.inf)
        alone = shorts[(apart[:-1] > ALONE_S) & (apart[1:] > ALONE_S)]
        if alone.size:
            return np.asarray(alone, dtype=np.float64)
    return np.zeros(0)


def torque_is_cut(traces: Traces, time_s: FloatArray) -> BoolArray:
    """Where a flag, the ignition or the throttle says that torque is cut, be it for a shift or otherwise.

    Parameters
    ----------
    traces : Traces
        Any of the channels.
    time_s : array, shape (n,)
        An even grid. [s]

    Returns
    -------
    array of bool, shape (n,)
        False where none is logged.
    """
    cut = np.zeros(time_s.size, dtype=np.bool_)
    for name in ("shift_cut", "ignition_advance", "throttle"):
        channel = traces.get(name)
        if channel is None or channel.known.time_s.size < 4:
            continue
        known = channel.known
        index = np.clip(np.searchsorted(known.time_s, time_s, side="right") - 1, 0, None)
        values = known.values[index]
        if name == "shift_cut":
            cut |= (values > 0.5 * known.values.max()) & (known.values.max() > known.values.min())
        else:
            usual = _running_middle(values, round(USUAL_OVER_S / float(time_s[1] - time_s[0])))
            cut |= values < usual - (RETARD_DEG if name == "ignition_advance" else THROTTLE_FALL * np.abs(usual))
    return cut


def _running_middle(values: FloatArray, reach: int) -> FloatArray:
    """Median of each sample and the `reach` before it."""
    padded = np.concatenate((np.full(reach, values[0]), values))
    low, high = reach // 2, (reach + 1) // 2
    parted = np.partition(np.lib.stride_tricks.sliding_window_view(padded, reach + 1), (low, high), axis=1)
    return np.asarray(0.5 * (parted[:, low] + parted[:, high]), dtype=np.float64)


def _flutter(values: FloatArray) -> float:
    """Noise of a signal between edges, from the middle of its steps."""
    return middle(np.abs(np.diff(values))) if values.size > 1 else 0.0
