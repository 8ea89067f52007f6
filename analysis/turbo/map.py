"""A compressor's map, from points along its speed lines.

Public: `SpeedLine`, `CompressorMap`, `read_compressor_map`, `Placed`, `place_on_map`, `REGIONS`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.quantities import FloatArray, IntArray, parse_quantity
from passband.analysis.reading.plain_table import PlainTable, Wanted, read_plain_table, value_above
from passband.analysis.results.findings import Finding

REFERENCE_K = 298.0
"""Where a map names none. [K] Source: SAE J1826, from memory."""
REFERENCE_PA = 100_000.0
"""Likewise. [Pa]"""
FLOW = Wanted("flow", "kg/s", (r"(corrected |corr )?(air |mass )?flow",))
RATIO = Wanted("pressure ratio", "", (r"(total )?pressure ratio", r"pr", r"p2 ?/ ?p1"))
EFFICIENCY = Wanted("efficiency", "", (r"(isentropic |adiabatic |compressor )?efficiency", r"eta"))
SPEED = Wanted("speed", "rpm", (r"(corrected |corr )?(compressor |turbo )?speed", r"(compressor |turbo )?rpm", r"n"))
FEWEST_LINES, FEWEST_POINTS = 2, 3
ACROSS = 25
"""Points that a speed line is divided into: a hundredth of efficiency on lines of ten points."""
REGIONS = ("on the map", "past surge", "past choke", "below the map", "above the map")
"""What `Placed.region` counts."""
ON, SURGE, CHOKE, BELOW, ABOVE = range(5)


@dataclass(frozen=True, slots=True)
class SpeedLine:
    """Points of one corrected speed, by rising flow: the first lies on the surge line, the last on the choke line."""

    speed_rpm: float
    """Corrected. [rpm]"""
    flow_kgps: FloatArray
    """Corrected, shape (n,). [kg/s]"""
    pressure_ratio: FloatArray
    """Shape (n,). [-]"""
    efficiency: FloatArray
    """Shape (n,), 0..1. [-]"""


@dataclass(frozen=True, slots=True)
class CompressorMap:
    """Speed lines by rising speed, and the conditions they are corrected to."""

    name: str
    """Of the file."""
    lines: tuple[SpeedLine, ...]
    """Two at least."""
    reference_k: float
    """[K]"""
    reference_pa: float
    """[Pa]"""
    findings: tuple[Finding, ...]
    """What the file left open."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Points on a map."""

    region: IntArray
    """Place in `REGIONS`, shape (n,); -1 where flow or ratio is NaN."""
    efficiency: FloatArray
    """NaN off the map. [-]"""
    speed_rpm: FloatArray
    """Corrected; NaN off the map. [rpm]"""
    surge_margin: FloatArray
    """1 less flow at surge over flow, at one pressure ratio; below 0 past it, NaN where no line reaches. [-]"""
    choke_margin: FloatArray
    """Flow at choke over flow, less 1, at one pressure ratio; as above. [-]"""


def read_compressor_map(data: bytes, *, name: str) -> CompressorMap:
    """Read a map's points.

    Parameters
    ----------
    data : bytes
        A table with columns of speed, flow (kg/s, lb/min ...), pressure ratio and efficiency, a row each point; above
        it lines ``Reference temperature, 298 K`` and ``Reference pressure, 100 kPa``.
    name : str
        Its name, for refusals.

    Returns
    -------
    CompressorMap
        Lines by rising speed, points by rising flow.

    Raises
    ------
    NotALog
        If a column is missing, fewer than two lines have three points, or a value cannot be.
    """
    table = read_plain_table(data, name=name)
    columns = [_required(table, wanted) for wanted in (SPEED, FLOW, RATIO, EFFICIENCY)]
    speed, flow, ratio, efficiency = columns
    efficiency = efficiency / 100.0 if np.nanmax(efficiency) > 1.5 else efficiency
    usable = np.all([np.isfinite(one) for one in (speed, flow, ratio, efficiency)], axis=0)
    _check(table, flow[usable], ratio[usable], efficiency[usable])
    lines = []
    for one in np.unique(speed[usable]):
        at = np.flatnonzero(usable & (speed == one))
        at = at[np.argsort(flow[at], kind="stable")]
        if at.size >= FEWEST_POINTS:
            lines.append(SpeedLine(float(one), flow[at], ratio[at], efficiency[at]))
    if len(lines) < FEWEST_LINES:
        raise NotALog(f"{name}: {len(lines)} speed lines have {FEWEST_POINTS} points or more: a map needs two.")
    reference = _reference(table)
    return CompressorMap(
        name, tuple(lines), reference.temperature_k, reference.pressure_pa, findings=reference.findings
    )


def _required(table: PlainTable, wanted: Wanted) -> FloatArray:
    column = table.column(wanted)
    if column is None:
        found = ", ".join(repr(one) for one in table.names[:12])
        raise NotALog(f"{table.name}: a compressor's map needs a column '{wanted.field}'; found {found}.")
    return column


def _check(table: PlainTable, flow: FloatArray, ratio: FloatArray, efficiency: FloatArray) -> None:
    if not flow.size or flow.min() <= 0.0:
        raise NotALog(f"{table.name}: flow must be above 0 at every point.")
    if ratio.min() < 0.9 or ratio.max() > 12.0:
        raise NotALog(
            f"{table.name}: pressure ratios run from {ratio.min():g} to {ratio.max():g}: absolute outlet over inlet."
        )
    if not (0.0 < efficiency.min() and efficiency.max() < 1.0):
        raise NotALog(
            f"{table.name}: efficiencies run from {efficiency.min():g} to {efficiency.max():g}: write 72 % or 0.72."
        )


@dataclass(frozen=True, slots=True)
class _Reference:
    """The conditions that a map's flow and speed are corrected to."""

    temperature_k: float
    pressure_pa: float
    findings: tuple[Finding, ...] = ()
    """That one had to be taken for granted."""


def _reference(table: PlainTable) -> _Reference:
    temperature_k = _condition(table, r"ref(erence)?( inlet)? temp(erature)?", "K")
    pressure_pa = _condition(table, r"ref(erence)?( inlet)? pressure", "Pa")
    if temperature_k is not None and pressure_pa is not None:
        return _Reference(temperature_k, pressure_pa)
    taken = _Reference(temperature_k or REFERENCE_K, pressure_pa or REFERENCE_PA)
    finding = Finding(
        "map-conditions-not-given",
        "caution",
        f"The map does not name both of its reference conditions: {taken.temperature_k:.1f} K and "
        f"{taken.pressure_pa / 1000.0:.1f} kPa are taken. One 10 K off moves flow by 1.7 %, one 1 kPa off by 1 %. "
        "Write them above the header.",
        table.name,
    )
    return replace(taken, findings=(finding,))


def _condition(table: PlainTable, named: str, si_unit: str) -> float | None:
    """What stands of it above the table; None where nothing does."""
    text = value_above(table, (named,))
    if text is None:
        return None
    if re.fullmatch(r"[\d.,\s]+", text):
        raise NotALog(f"{table.name}: reference {text!r} says no unit: write '298 K' and '100 kPa'.")
    try:
        return parse_quantity(text, si_unit=si_unit, name="reference")
    except ValueError as error:
        raise NotALog(f"{table.name}: {error}") from None


def place_on_map(compressor: CompressorMap, flow_kgps: FloatArray, pressure_ratio: FloatArray) -> Placed:
    """Where points lie on a map.

    Parameters
    ----------
    compressor : CompressorMap
        The map.
    flow_kgps : array, shape (n,)
        Corrected to the map's conditions. [kg/s]
    pressure_ratio : array, shape (n,)
        [-]

    Returns
    -------
    Placed
        Arrays of shape (n,).

    Notes
    -----
    Speed lines are divided evenly from surge to choke and joined at like places; between four such points values lie on
    two flat triangles. A drawn map's islands are not used: they hold no more than its lines.
    """
    flow, ratio = np.asarray(flow_kgps, float), np.asarray(pressure_ratio, float)
    grid = _grid(compressor)
    efficiency, speed = _inside(grid, flow, ratio)
    surge, choke = _surge(grid, ratio), _choke(grid, ratio)
    region = np.select(
        [
            ~(np.isfinite(flow) & np.isfinite(ratio)), np.isfinite(efficiency),
            ratio > grid.ratio.max(), flow < surge, flow > choke, ratio > grid.ratio[-1, -1],
        ],
        [-1, ON, ABOVE, SURGE, CHOKE, ABOVE],
        BELOW,
    )  # fmt: skip
    with np.errstate(invalid="ignore", divide="ignore"):
        return Placed(region, efficiency, speed, 1.0 - surge / flow, choke / flow - 1.0)


@dataclass(frozen=True, slots=True)
class _Grid:
    """A map divided evenly, each of shape (lines, `ACROSS`)."""

    flow: FloatArray
    ratio: FloatArray
    efficiency: FloatArray
    speed: FloatArray

    def corners(self, values: FloatArray) -> FloatArray:
        """Those of each cell between neighbouring lines, shape (cells, 4)."""
        return np.stack([values[:-1, :-1], values[:-1, 1:], values[1:, :-1], values[1:, 1:]], axis=-1).reshape(-1, 4)


def _grid(compressor: CompressorMap) -> _Grid:
    share = np.linspace(0.0, 1.0, ACROSS)
    rows = []
    for line in compressor.lines:
        flow = line.flow_kgps[0] + share * (line.flow_kgps[-1] - line.flow_kgps[0])
        ratio, efficiency = (np.interp(flow, line.flow_kgps, one) for one in (line.pressure_ratio, line.efficiency))
        rows.append((flow, ratio, efficiency, np.full(ACROSS, line.speed_rpm)))
    return _Grid(*(np.array(column) for column in zip(*rows, strict=True)))


def _inside(grid: _Grid, flow: FloatArray, ratio: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Efficiency and speed by the triangles between neighbouring lines; NaN outside all of them."""
    corners = [grid.corners(one) for one in (grid.flow, grid.ratio, grid.efficiency, grid.speed)]
    scale = np.array([np.ptp(grid.flow), np.ptp(grid.ratio)])
    efficiency, speed = np.full(flow.size, np.nan), np.full(flow.size, np.nan)
    for corner in ((0, 1, 2), (1, 3, 2)):
        x, y, value, turns = (one[:, corner] for one in corners)
        x, y, px, py = x / scale[0], y / scale[1], flow / scale[0], ratio / scale[1]
        det = (y[:, 1] - y[:, 2]) * (x[:, 0] - x[:, 2]) + (x[:, 2] - x[:, 1]) * (y[:, 0] - y[:, 2])
        sound = np.abs(det) > 1e-12
        for at in np.flatnonzero(sound):
            dx, dy = px - x[at, 2], py - y[at, 2]
            first = ((y[at, 1] - y[at, 2]) * dx + (x[at, 2] - x[at, 1]) * dy) / det[at]
            second = ((y[at, 2] - y[at, 0]) * dx + (x[at, 0] - x[at, 2]) * dy) / det[at]
            weights = np.stack([first, second, 1.0 - first - second])
            within = (weights >= -1e-9).all(axis=0)
            efficiency[within] = value[at] @ weights[:, within]
            speed[within] = turns[at] @ weights[:, within]
    return efficiency, speed


def _surge(grid: _Grid, ratio: FloatArray) -> FloatArray:
    """Flow at the left edge; NaN beyond."""
    return _against(grid.ratio[:, 0], grid.flow[:, 0], ratio)


def _choke(grid: _Grid, ratio: FloatArray) -> FloatArray:
    """Flow at the right edge: choke's line, then the fastest speed line; NaN beyond."""
    flow, level = grid.flow, grid.ratio
    fastest = slice(int(np.argmax(level[-1])), None)
    right_level = np.concatenate([level[:, -1], level[-1, fastest][::-1][1:]])
    right_flow = np.concatenate([flow[:, -1], flow[-1, fastest][::-1][1:]])
    return _against(right_level, right_flow, ratio)


def _against(level: FloatArray, flow: FloatArray, ratio: FloatArray) -> FloatArray:
    """A flow against rising pressure ratio, NaN beyond its ends."""
    order = np.argsort(level, kind="stable")
    return np.interp(ratio, level[order], flow[order], left=np.nan, right=np.nan)
