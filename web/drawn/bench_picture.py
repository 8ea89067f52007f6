"""A dynamometer's curve and the track's power on one axis: a picture that needs no script and prints.

Public: `bench_svg`.
"""

from __future__ import annotations

from html import escape

from passband.analysis.bench.beside_track import BesideTrack
from passband.analysis.bench.sheets import DynoCurve
from passband.web.wording.units import Unit, UnitSystem, unit_for

_WIDTH, _HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 640, 380, 52, 20, 16, 40


def bench_svg(
    curve: DynoCurve, beside: BesideTrack, mach_limit_rpm: float | None = None, *, units: UnitSystem = "us"
) -> str:
    """Draw both curves, where each falls off, and where the run spent its time.

    Parameters
    ----------
    curve : DynoCurve
        The bench's.
    beside : BesideTrack
        The track's, with where each falls off.
    mach_limit_rpm : float, optional
        Engine speed at which the head's inlet Mach index comes to its limit. [rpm]
    units : {"us", "metric"}
        Horsepower or kilowatt.

    Returns
    -------
    str
        One ``<svg>`` element.
    """
    frame = _Frame(curve, beside, unit_for("power", units))
    bench = " ".join(f"{frame.x(r):.1f} {frame.y(p):.1f}" for r, p in zip(curve.engine_rpm, curve.power_w, strict=True))
    parts = [frame.grid(), *_time_bars(frame, beside)]
    parts.append(f'<path d="M{bench}" fill="none" stroke="#14578f" stroke-width="2.2" stroke-dasharray="7 3"/>')
    parts.append(f'<text x="{frame.x(curve.engine_rpm[0]) + 4:.1f}" y="{frame.y(curve.power_w[0]) - 8:.1f}" '
                 f'fill="#14578f">bench</text>')  # fmt: skip
    parts += _track(frame, beside)
    for rpm, name, level in (
        (beside.bench_falls_off_rpm, "bench 95 %", 0), (beside.track_falls_off_rpm, "track 95 %", 1),
        (mach_limit_rpm, "inlet Mach index 0.6", 2),
    ):  # fmt: skip
        if rpm is not None and frame.low <= rpm <= frame.high:
            parts.append(frame.mark(rpm, name, level))
    return (
        f'<svg class="bench" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'aria-labelledby="bench-title" font-size="12" font-family="sans-serif">'
        f'<title id="bench-title">Power of {escape(curve.name)} and of the track against engine speed</title>'
        f'<rect width="{_WIDTH}" height="{_HEIGHT}" fill="#ffffff"/>{"".join(parts)}</svg>\n'
    )


class _Frame:
    """Where a point stands in the picture."""

    def __init__(self, curve: DynoCurve, beside: BesideTrack, unit: Unit) -> None:
        self.unit = unit
        speeds = [*curve.engine_rpm, *(one.engine_rpm for one in beside.points)]
        powers = [*curve.power_w, *(one.track_w + one.track_plus_minus_w for one in beside.points)]
        self.low, self.high, self.most = min(speeds) - 100.0, max(speeds) + 100.0, max(powers) * 1.06

    def x(self, rpm: float) -> float:
        return float(_LEFT + (rpm - self.low) / (self.high - self.low) * (_WIDTH - _LEFT - _RIGHT))

    def y(self, power_w: float) -> float:
        return float(_HEIGHT - _BOTTOM - power_w / self.most * (_HEIGHT - _TOP - _BOTTOM))

    def mark(self, rpm: float, name: str, level: int) -> str:
        x, y = self.x(rpm), 0.55 * _HEIGHT + 16 * level
        side = "end" if x > 0.6 * _WIDTH else "start"
        shift = -4 if side == "end" else 4
        return (
            f'<path d="M{x:.1f} {_TOP}V{_HEIGHT - _BOTTOM}" stroke="#46505c" stroke-dasharray="2 3"/>'
            f'<text x="{x + shift:.1f}" y="{y}" text-anchor="{side}" fill="#46505c">{name}</text>'
        )

    def grid(self) -> str:
        bottom, right = _HEIGHT - _BOTTOM, _WIDTH - _RIGHT
        drawn = [f'<path d="M{_LEFT} {_TOP}V{bottom}H{right}" fill="none" stroke="#1b1e24"/>']
        most = int(self.most / self.unit.scale)
        for power in range(0, most + 1, 100 if most < 800 else 200):
            y = self.y(power * self.unit.scale)
            drawn.append(f'<path d="M{_LEFT} {y:.1f}H{right}" stroke="#dfe2dd"/>')
            drawn.append(f'<text x="{_LEFT - 5}" y="{y + 4:.1f}" text-anchor="end">{power:,}</text>')
        for rpm in range(-(-int(self.low) // 500) * 500, int(self.high) + 1, 500):
            drawn.append(f'<text x="{self.x(rpm):.1f}" y="{bottom + 15}" text-anchor="middle">{rpm:,}</text>')
        drawn.append(
            f'<text x="{_LEFT + 5}" y="{_TOP + 8}">{self.unit.label} at the flywheel; bars: time in the run</text>'
        )
        drawn.append(f'<text x="{right}" y="{_HEIGHT - 6}" text-anchor="end">rpm</text>')
        return "".join(drawn)


def _time_bars(frame: _Frame, beside: BesideTrack) -> list[str]:
    most = max((one.time_s for one in beside.points), default=1.0)
    return [_bar(frame.x(one.engine_rpm), 60.0 * one.time_s / most, one.time_s) for one in beside.points]


def _bar(x: float, high: float, time_s: float) -> str:
    return (
        f'<rect x="{x - 5:.1f}" y="{_HEIGHT - _BOTTOM - high:.1f}" width="10" height="{high:.1f}" fill="#46505c" '
        f'fill-opacity=".25"><title>{time_s:.2f} s</title></rect>'
    )


def _track(frame: _Frame, beside: BesideTrack) -> list[str]:
    if not beside.points:
        return []
    upper = [(one.engine_rpm, one.track_w + one.track_plus_minus_w) for one in beside.points]
    lower = [(one.engine_rpm, one.track_w - one.track_plus_minus_w) for one in beside.points]
    outline = " ".join(f"{frame.x(r):.1f} {frame.y(p):.1f}" for r, p in [*upper, *lower[::-1]])
    line = " ".join(f"{frame.x(one.engine_rpm):.1f} {frame.y(one.track_w):.1f}" for one in beside.points)
    last = beside.points[-1]
    return [
        f'<path d="M{outline}z" fill="#b2451b" fill-opacity=".16"/>',
        f'<path d="M{line}" fill="none" stroke="#b2451b" stroke-width="2.2"/>',
        f'<text x="{frame.x(last.engine_rpm) - 34:.1f}" y="{frame.y(last.track_w) + 30:.1f}" '
        f'fill="#b2451b">track</text>',
    ]
