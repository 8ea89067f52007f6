"""A compressor's map with one run's way over it: a picture that needs no script and prints.

Public: `map_svg`.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.shifts import Shift
from passband.analysis.turbo.map import CompressorMap
from passband.analysis.turbo.path import MapPath
from passband.web.wording.units import UnitSystem, unit_for

_WIDTH, _HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 640, 420, 52, 20, 16, 40
_GEAR_DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 4", "12 4")
_STEPS = (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0)


def map_svg(compressor: CompressorMap, way: MapPath, shifts: Sequence[Shift], *, units: UnitSystem = "us") -> str:
    """Draw the map's speed lines and the run's way over it, gear by gear.

    Parameters
    ----------
    compressor : CompressorMap
        The map.
    way : MapPath
        The run on it.
    shifts : sequence of Shift
        The run's; each is marked where the way goes on after it.
    units : {"us", "metric"}
        Pounds a minute or kilograms a second.

    Returns
    -------
    str
        One ``<svg>`` element.
    """
    frame = _Frame(compressor, way, units)
    parts = [frame.grid()]
    for line in compressor.lines:
        parts.append(frame.line(line.flow_kgps, line.pressure_ratio, 'stroke="#8a908a" stroke-width="1"'))
        parts.append(frame.word(line.flow_kgps[-1], line.pressure_ratio[-1], f"{line.speed_rpm / 1000:.0f}"))
        best = int(np.argmax(line.efficiency))
        said = f"{100 * line.efficiency[best]:.0f} %"
        parts.append(frame.word(line.flow_kgps[best], line.pressure_ratio[best], said, up=9.0))
    for at, name in ((0, "surge"), (-1, "choke")):
        edge = [np.array([getattr(line, field)[at] for line in compressor.lines]) for field in _FIELDS]
        parts.append(frame.line(edge[0], edge[1], 'stroke="#46505c" stroke-width="2" stroke-dasharray="6 3"'))
        middle = 0.4 * edge[0][-1] + 0.6 * edge[0][-2], 0.4 * edge[1][-1] + 0.6 * edge[1][-2]
        parts.append(frame.word(*middle, name, up=-14.0 if at else 14.0, left=40.0 if not at else -10.0))
    parts += _way(frame, way)
    parts += [_shift(frame, way, shift) for shift in shifts]
    words = (
        f"Corrected flow {frame.shown(way.flow_kgps.min())} to {frame.shown(way.flow_kgps.max())} "
        f"{frame.unit}, pressure ratio {way.pressure_ratio.min():.2f} to {way.pressure_ratio.max():.2f}"
    )
    return (
        f'<svg class="map" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'aria-labelledby="map-title map-desc" font-size="12" font-family="sans-serif">'
        f'<title id="map-title">The run on the map {escape(compressor.name)}</title>'
        f'<desc id="map-desc">{escape(words)}</desc><rect width="{_WIDTH}" height="{_HEIGHT}" fill="#ffffff"/>'
        f"{''.join(parts)}</svg>\n"
    )


_FIELDS = ("flow_kgps", "pressure_ratio")


class _Frame:
    """Where a point stands in the picture."""

    def __init__(self, compressor: CompressorMap, way: MapPath, units: UnitSystem) -> None:
        unit = unit_for("compressor_flow", units)
        self.unit, self.unit_kgps, self.digits = unit.label, unit.scale, unit.digits
        flows = [line.flow_kgps.max() for line in compressor.lines] + [float(way.flow_kgps.max())]
        ratios = [line.pressure_ratio.max() for line in compressor.lines] + [float(way.pressure_ratio.max())]
        self.most_flow, self.most_ratio = max(flows) * 1.06, 1.0 + (max(ratios) - 1.0) * 1.06

    def x(self, flow: float) -> float:
        return float(_LEFT + flow / self.most_flow * (_WIDTH - _LEFT - _RIGHT))

    def y(self, ratio: float) -> float:
        return float(_HEIGHT - _BOTTOM - (ratio - 1.0) / (self.most_ratio - 1.0) * (_HEIGHT - _TOP - _BOTTOM))

    def points(self, flow: FloatArray, ratio: FloatArray) -> str:
        return " ".join(f"{self.x(f):.1f} {self.y(r):.1f}" for f, r in zip(flow, ratio, strict=True))

    def shown(self, flow: float) -> str:
        return f"{flow / self.unit_kgps:.{self.digits}f}"

    def line(self, flow: FloatArray, ratio: FloatArray, style: str) -> str:
        return f'<path d="M{self.points(flow, ratio)}" fill="none" {style}/>'

    def word(self, flow: float, ratio: float, text: str, *, up: float = 0.0, left: float = 0.0) -> str:
        x, y = self.x(flow) + 3.0 - left, self.y(ratio) + 4.0 - up
        return f'<text x="{x:.1f}" y="{y:.1f}" fill="#46505c">{escape(text)}</text>'

    def grid(self) -> str:
        bottom, right = _HEIGHT - _BOTTOM, _WIDTH - _RIGHT
        drawn = [f'<path d="M{_LEFT} {_TOP}V{bottom}H{right}" fill="none" stroke="#1b1e24"/>']
        for ratio in _ticks(1.0, self.most_ratio):
            drawn.append(f'<path d="M{_LEFT} {self.y(ratio):.1f}H{right}" stroke="#dfe2dd"/>')
            drawn.append(f'<text x="{_LEFT - 5}" y="{self.y(ratio) + 4:.1f}" text-anchor="end">{ratio:.2f}</text>')
        for flow in _ticks(0.0, self.most_flow / self.unit_kgps):
            x = self.x(flow * self.unit_kgps)
            drawn.append(f'<text x="{x:.1f}" y="{bottom + 15}" text-anchor="middle">{flow:.{self.digits}f}</text>')
        drawn.append(f'<text x="{right}" y="{_HEIGHT - 6}" text-anchor="end">corrected flow, {self.unit}</text>')
        said = "pressure ratio; speed lines in 1,000 rpm with their best efficiency"
        drawn.append(f'<text x="{_LEFT + 5}" y="{_TOP + 8}">{said}</text>')
        return "".join(drawn)


def _ticks(low: float, high: float) -> list[float]:
    step = next((one for one in _STEPS if (high - low) / one <= 7), _STEPS[-1])
    first = -(-low // step) * step
    return [first + step * number for number in range(int((high - first) // step) + 1)]


def _way(frame: _Frame, way: MapPath) -> list[str]:
    """One line for each stretch of one gear without a hole; its gear at its end, and its own dash."""
    gear = np.nan_to_num(way.gear)
    usual = float(np.median(np.diff(way.time_s)))
    cuts = np.flatnonzero((np.diff(gear) != 0) | (np.diff(way.time_s) > 3.0 * usual)) + 1
    drawn = []
    for part in np.split(np.arange(gear.size), cuts):
        if part.size < 2:
            continue
        number = int(gear[part[0]])
        dash = _GEAR_DASHES[max(number - 1, 0) % len(_GEAR_DASHES)]
        flow, ratio = (_calmed(values[part], usual) for values in (way.flow_kgps, way.pressure_ratio))
        style = f'stroke="#b2451b" stroke-width="2.2"{f" stroke-dasharray={chr(34)}{dash}{chr(34)}" if dash else ""}'
        drawn.append(frame.line(flow, ratio, style))
        if number and part.size * usual > 0.3:
            x, y = frame.x(way.flow_kgps[part[-1]]), frame.y(way.pressure_ratio[part[-1]])
            drawn.append(f'<text x="{x:.1f}" y="{y - 6:.1f}" font-weight="bold" fill="#b2451b">{number}</text>')
    return drawn


def _calmed(values: FloatArray, step_s: float) -> FloatArray:
    """Means over a tenth of a second: what a compressor does not follow is noise in the picture."""
    each = max(1, round(0.1 / step_s))
    return np.array([part.mean() for part in np.array_split(values, max(2, values.size // each))])


def _shift(frame: _Frame, way: MapPath, shift: Shift) -> str:
    """A ring where the way goes on after a shift."""
    after = np.flatnonzero(way.time_s >= shift.end_s)
    if not after.size:
        return ""
    x, y = frame.x(way.flow_kgps[after[0]]), frame.y(way.pressure_ratio[after[0]])
    name = f"after {shift.from_gear}-{shift.to_gear}"
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#fff" stroke="#b2451b"><title>{name}</title></circle>'
