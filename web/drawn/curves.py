"""Power against engine speed, gear by gear, with how sure each point is: a picture that needs no script and prints.

Public: `curves_svg`.
"""

from __future__ import annotations

from html import escape

from passband.analysis.results.power import GearCurve
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown
from passband.web.wording.units import UnitSystem, unit_for

_WIDTH, _HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 380, 250, 46, 30, 12, 36
# Each gear has its own dash, so that lines are told apart without colour; the gear's number stands at its end.
_DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 4", "12 4")
_STEPS = (10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0)


def curves_svg(review: Review, *, units: UnitSystem = "us") -> str:
    """Flywheel power against engine speed, one line a gear.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        Horsepower or kilowatt.

    Returns
    -------
    str
        One ``<svg>`` element; empty where power is not known in any gear.
    """
    curves = [] if isinstance(review.power, Unknown) else [one for one in review.power.curves if len(one.rpm) > 1]
    if not curves:
        return ""
    shown = unit_for("power", units)
    low, high = min(c.rpm[0] for c in curves), max(c.rpm[-1] for c in curves)
    tallest = max(shown.of(p + d) for c in curves for p, d in zip(c.power_w, c.plus_minus_w, strict=True))
    frame = _Frame(low, high, tallest * 1.05)
    parts = [_grid(frame, shown.label)]
    parts += [_curve(number, curve, frame, shown.scale) for number, curve in enumerate(curves)]
    words = "; ".join(
        f"gear {c.gear}: {shown.of(max(c.power_w)):,.0f} {shown.label} at most, "
        f"from {c.rpm[0]:,.0f} to {c.rpm[-1]:,.0f} rpm"
        for c in curves
    )
    return (
        f'<svg class="curves" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" role="img" '
        f'aria-labelledby="curves-title curves-desc" font-size="12">'
        f'<title id="curves-title">Flywheel power against engine speed, by gear</title>'
        f'<desc id="curves-desc">{escape(words)}</desc>{"".join(parts)}</svg>'
    )


class _Frame:
    """Where a figure stands in the picture."""

    def __init__(self, low_rpm: float, high_rpm: float, tallest: float) -> None:
        self.low_rpm, self.high_rpm, self.tallest = low_rpm, high_rpm, tallest

    def x(self, rpm: float) -> float:
        return _LEFT + (rpm - self.low_rpm) / (self.high_rpm - self.low_rpm) * (_WIDTH - _LEFT - _RIGHT)

    def y(self, power: float) -> float:
        return _HEIGHT - _BOTTOM - power / self.tallest * (_HEIGHT - _TOP - _BOTTOM)


def _ticks(low: float, high: float, most: int) -> list[float]:
    step = next((one for one in _STEPS if (high - low) / one <= most), _STEPS[-1])
    first = -(-low // step) * step
    return [first + step * n for n in range(int((high - first) // step) + 1)]


def _grid(frame: _Frame, unit: str) -> str:
    bottom = _HEIGHT - _BOTTOM
    drawn = [f'<path class="c-axis" d="M{_LEFT} {_TOP}V{bottom}H{_WIDTH - _RIGHT}" fill="none" stroke="#1b1e24"/>']
    for power in _ticks(0, frame.tallest, 5)[1:]:
        y = frame.y(power)
        drawn.append(f'<path class="c-grid" d="M{_LEFT} {y:.1f}H{_WIDTH - _RIGHT}" stroke="#c9cec6"/>')
        drawn.append(f'<text x="{_LEFT - 5}" y="{y + 4:.1f}" text-anchor="end">{power:,.0f}</text>')
    for rpm in _ticks(frame.low_rpm, frame.high_rpm, 5):
        drawn.append(f'<text x="{frame.x(rpm):.1f}" y="{bottom + 15}" text-anchor="middle">{rpm:,.0f}</text>')
    drawn.append(f'<text x="{_LEFT + 5}" y="{_TOP + 8}">{unit}</text>')
    drawn.append(f'<text x="{_WIDTH - _RIGHT}" y="{_HEIGHT - 4}" text-anchor="end">rpm</text>')
    return "".join(drawn)


def _curve(number: int, curve: GearCurve, frame: _Frame, scale: float) -> str:
    rpm = [frame.x(one) for one in curve.rpm]
    power = [one / scale for one in curve.power_w]
    doubt = [one / scale for one in curve.plus_minus_w]
    upper = [f"{x:.1f} {frame.y(p + d):.1f}" for x, p, d in zip(rpm, power, doubt, strict=True)]
    lower = [f"{x:.1f} {frame.y(max(p - d, 0.0)):.1f}" for x, p, d in zip(rpm, power, doubt, strict=True)]
    line = [f"{x:.1f} {frame.y(p):.1f}" for x, p in zip(rpm, power, strict=True)]
    dash = _DASHES[number % len(_DASHES)]
    style = f' stroke-dasharray="{dash}"' if dash else ""
    x, y = rpm[-1], frame.y(power[-1])
    return (
        f'<path class="c-doubt" d="M{" ".join(upper + lower[::-1])}z" fill="#14578f" fill-opacity=".16"/>'
        f'<path class="c-line" d="M{" ".join(line)}" fill="none" stroke="#14578f" stroke-width="2.2"{style}/>'
        f'<text class="c-gear" x="{min(x + 3, _WIDTH - 9):.1f}" y="{y + 4:.1f}" font-weight="bold">'
        f"{curve.gear}</text>"
    )
