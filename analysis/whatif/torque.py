"""An engine's torque against engine speed, from one run's pulls, with a factor for each gear.

Public: `TorqueCurve`, `fit_torque`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray, IntArray

NODE_RPM = 100.0
"""Distance of the curve's nodes. [rpm]"""
BELOW_RPM, ABOVE_RPM = 1500.0, 600.0
"""How far beyond what the run showed the curve is drawn on, straight. [rpm]"""
STIFFNESS = 30.0
"""How much a bend weighs against samples: with 5 ms samples a bend of two nodes' width is smoothed to half. [-] Chosen:
the curve keeps what lasts over 300 rpm, as a quarter of a second of a pull does, over which power is smoothed
elsewhere."""
LOW_RPM = 1000.0
"""The slope below the samples is that of so much of the curve above. Chosen: a drive that swings for a tenth of a
second more moves it by little. [rpm]"""
FALL_RPM = 700.0
"""A torque peak so far below the highest engine speed seen shows how torque falls beyond it. [rpm]"""
SWINGS_RPM = 800.0
"""So far above the lowest samples a drive that swings behind a shift still makes torque of its own. [rpm]"""
ROUNDS = 6
"""Rounds between the curve and the gears' factors; they settle in three or four."""


@dataclass(frozen=True, slots=True)
class TorqueCurve:
    """Torque before the engine's own inertia, perhaps per pascal of manifold pressure."""

    rpm: FloatArray
    """Nodes, `NODE_RPM` apart, shape (n,). [rpm]"""
    torque: FloatArray
    """Shape (n,). [N m], or [N m/Pa] where it is per manifold pressure"""
    gear_factor: tuple[float, ...]
    """What each gear's torque is of the curve's, first gear first; 1 where a gear showed nothing. [-]"""
    least_rpm: float
    """Lowest engine speed that the run showed under load. [rpm]"""
    most_rpm: float
    """Highest. [rpm]"""

    def factor_of(self, gear: int) -> float:
        """A gear's factor; 1 where it showed nothing."""
        return self.gear_factor[gear - 1] if 0 < gear <= len(self.gear_factor) else 1.0

    def at(self, rpm: float, gear: int) -> float:
        """Torque at an engine speed in a gear."""
        return float(np.interp(rpm, self.rpm, self.torque)) * self.factor_of(gear)

    def scaled(self, factor: FloatArray) -> TorqueCurve:
        """The curve times a factor at each node."""
        return replace(self, torque=self.torque * factor)


def fit_torque(
    rpm: FloatArray, torque: FloatArray, gear: IntArray, weight: FloatArray, *, falls_from_peak: bool = True
) -> TorqueCurve:
    """Fit one curve and a factor for each gear.

    Parameters
    ----------
    rpm, torque : array, shape (n,)
        Samples under load. [rpm], [N m] or [N m/Pa]
    gear : array of int, shape (n,)
        From 1.
    weight : array, shape (n,)
        Time that each sample stands for. [s]
    falls_from_peak : bool
        Whether the peak seen is the engine's own. A turbine's torque is highest at stall and says nothing of how the
        engine's falls at its end: there the curve goes straight on.

    Returns
    -------
    TorqueCurve
        Piecewise straight, bends dear; below the samples straight on, above them as it fell since its peak, or so too.

    Raises
    ------
    ValueError
        If there are fewer than ten samples.

    Notes
    -----
    Least squares with second differences penalised (Whittaker's graduation; Eilers 2003, from memory). Gears share the
    curve's shape, so a gear that stops early is drawn on by those that go further. The factors' mean, weighed by time,
    is 1.
    """
    if rpm.size < 10:
        raise ValueError(f"a torque curve needs ten samples under load or more, got {rpm.size}")
    nodes = _nodes(rpm)
    factor = np.ones(int(gear.max()) + 1)
    curve = np.zeros(nodes.size)
    for _ in range(ROUNDS):
        curve = _graduate(nodes, rpm, torque, factor[gear], weight)
        on_curve = np.interp(rpm, nodes, curve)
        for one in np.unique(gear):
            at = gear == one
            factor[one] = np.sum(weight[at] * torque[at] * on_curve[at]) / np.sum(weight[at] * on_curve[at] ** 2)
        mean = np.sum(weight * factor[gear]) / np.sum(weight)
        factor[np.unique(gear)] /= mean
    curve = _drawn_down(nodes, _graduate(nodes, rpm, torque, factor[gear], weight), least_rpm=float(rpm.min()))
    seen_rpm = float(rpm.min()), float(rpm.max())
    curve = _drawn_on(nodes, curve, *seen_rpm) if falls_from_peak else _drawn_straight_on(nodes, curve, seen_rpm[1])
    return TorqueCurve(nodes, curve, tuple(factor[1:].tolist()), float(rpm.min()), float(rpm.max()))


def _drawn_down(nodes: FloatArray, curve: FloatArray, *, least_rpm: float) -> FloatArray:
    """The curve below the samples, by the straight line through the `LOW_RPM` above them.

    The lowest samples stand right after shifts, where the drive still swings: their own slope is no engine's.
    """
    seen = nodes >= least_rpm
    low = np.flatnonzero(seen & (nodes <= least_rpm + LOW_RPM))
    if low.size < 3:
        return curve
    slope = float(np.polyfit(nodes[low], curve[low], 1)[0])
    return np.where(seen, curve, curve[low[0]] + slope * (nodes - nodes[low[0]]))


def _drawn_straight_on(nodes: FloatArray, curve: FloatArray, most_rpm: float) -> FloatArray:
    """The curve beyond the samples by the straight line through the `FALL_RPM` below their end.

    The last two nodes' own slope is a few samples' noise: it sent one turbine's torque up where it falls.
    """
    end = np.flatnonzero((nodes <= most_rpm) & (nodes > most_rpm - FALL_RPM))
    if end.size < 3:
        return curve
    slope = float(np.polyfit(nodes[end], curve[end], 1)[0])
    return np.where(nodes <= most_rpm, curve, curve[end[-1]] + slope * (nodes - nodes[end[-1]]))


def _drawn_on(nodes: FloatArray, curve: FloatArray, least_rpm: float, most_rpm: float) -> FloatArray:
    """The curve beyond the samples, falling as it has fallen since its peak: as square and cube of the way.

    A highest torque right above the lowest samples, which stand behind shifts, is no peak of the engine's. Where the
    peak lies too near the end to show how it falls, the straight line of the end stays.
    """
    seen = nodes <= most_rpm
    if seen.sum() < 3:
        return curve
    within = seen & (nodes >= min(least_rpm + SWINGS_RPM, most_rpm - FALL_RPM))
    end, peak = int(np.flatnonzero(seen)[-1]), int(np.argmax(np.where(within, curve, -np.inf)))
    way = nodes - nodes[peak]
    if way[end] < FALL_RPM:
        return _drawn_straight_on(nodes, curve, most_rpm)
    past = slice(peak, end + 1)
    square, cube = _fall(way[past] / way[end], curve[peak] - curve[past])
    on = np.flatnonzero(~seen & (nodes > most_rpm))
    out, far = curve.copy(), way / way[end]
    out[on] = curve[end] - square * (far[on] ** 2 - 1.0) - cube * (far[on] ** 3 - 1.0)
    return out


def _fall(way: FloatArray, fallen: FloatArray) -> tuple[float, float]:
    """Share of the fall that goes with the square of the way from the peak, and with its cube; none below 0."""
    powers = np.column_stack([way**2, way**3])
    square, cube = np.linalg.lstsq(powers, fallen, rcond=None)[0]
    if square < 0.0:
        return 0.0, max(float(np.sum(fallen * powers[:, 1]) / np.sum(powers[:, 1] ** 2)), 0.0)
    if cube < 0.0:
        return max(float(np.sum(fallen * powers[:, 0]) / np.sum(powers[:, 0] ** 2)), 0.0), 0.0
    return float(square), float(cube)


def _nodes(rpm: FloatArray) -> FloatArray:
    first = np.floor((rpm.min() - BELOW_RPM) / NODE_RPM) * NODE_RPM
    last = np.ceil((rpm.max() + ABOVE_RPM) / NODE_RPM) * NODE_RPM
    return np.arange(max(first, NODE_RPM), last + NODE_RPM / 2, NODE_RPM)


def _graduate(
    nodes: FloatArray, rpm: FloatArray, torque: FloatArray, factor: FloatArray, weight: FloatArray
) -> FloatArray:
    """The smooth curve through the samples, each sample between two nodes."""
    place = np.clip((rpm - nodes[0]) / NODE_RPM, 0.0, nodes.size - 1.000001)
    left = place.astype(int)
    share = place - left
    size = nodes.size
    normal, right = np.zeros((size, size)), np.zeros(size)
    per_sample = weight / np.median(weight)
    for at, part in ((left, 1.0 - share), (left + 1, share)):
        np.add.at(right, at, per_sample * factor * part * torque)
        for other, rest in ((left, 1.0 - share), (left + 1, share)):
            np.add.at(normal, (at, other), per_sample * factor**2 * part * rest)
    bends = np.diff(np.eye(size), 2, axis=0)
    normal += STIFFNESS * bends.T @ bends + 1e-9 * np.eye(size)
    return np.asarray(np.linalg.solve(normal, right), dtype=np.float64)
