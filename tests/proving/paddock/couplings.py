"""What couples engine, gearbox and wheels: each step all friction torques are found together, and clipped.

A coupling sticks as long as the torque that keeps both sides alike is within what it holds; else it slides and passes
on what it holds. Two of them in a row, or side by side, are solved together and then in turns.

Public: `STUCK`, `through_clutch`, `through_packs`, `through_converter`.
"""

from __future__ import annotations

from tests.proving.paddock.engine import STEP_S
from tests.proving.paddock.moving_car import MovingCar

STUCK = 1e5
"""What a coupling holds that cannot slip. [N m]"""
DISC_DRAG_NM = 0.4
"""Of the input shaft in its bearings."""
TURBINE_DRAG = 0.02
"""[N m s]"""


def through_clutch(car: MovingCar, nm: float, grip: float, *, held: bool) -> None:
    """A friction clutch, then one gear: a new one's dogs or synchronizer take hold once the old one is out.

    Parameters
    ----------
    car : MovingCar
        Its shafts are turned on by a step.
    nm : float
        At the crank.
    grip : float
        Share of the clutch's force that the driver lets on.
    held : bool
        The run has not begun: the clutch is open.
    """
    box = car.spec.box
    engine_i, input_i, output_i = car.engine_kgm2, car.input_kgm2, car.output_kgm2
    ahead = car.engine_rads - car.input_rads
    clutch_nm = 0.0 if held else car.clutch_nm(grip, ahead)
    new = car.holds_new > 0 and car.holds_old <= 0
    ratio, gear_nm = (car.new_ratio, car.holds_new) if new else (car.old_ratio, car.holds_old)
    gains = nm / engine_i, -DISC_DRAG_NM / input_i * (1 if car.input_rads > 1 else 0), -car.drag_nm() / output_i
    both, across = 1 / engine_i + 1 / input_i, -1 / input_i
    geared = 1 / input_i + ratio * ratio * box.mesh / output_i
    gap_1 = ahead / STEP_S + gains[0] - gains[1]
    gap_2 = (car.input_rads - ratio * car.output_rads) / STEP_S + gains[1] - ratio * gains[2]
    det = both * geared - across * across
    first, second = (gap_1 * geared - gap_2 * across) / det, (both * gap_2 - across * gap_1) / det
    if abs(first) > clutch_nm or abs(second) > gear_nm:
        second = max(-gear_nm, min(gear_nm, second))
        for _ in range(7):
            first = max(-clutch_nm, min(clutch_nm, (gap_1 - across * second) / both))
            second = max(-gear_nm, min(gear_nm, (gap_2 - across * first) / geared))
    _turn_behind_clutch(car, gains, first, second, ratio)


def _turn_behind_clutch(
    car: MovingCar, gains: tuple[float, float, float], first: float, second: float, ratio: float
) -> None:
    engine, inner, outer = car.engine_rads, car.input_rads, car.output_rads
    passed = car.spec.box.mesh if second * outer >= 0 else 1 / car.spec.box.mesh
    car.engine_rads += STEP_S * (gains[0] - first / car.engine_kgm2)
    car.input_rads += STEP_S * (gains[1] + (first - second) / car.input_kgm2)
    car.output_rads += STEP_S * (gains[2] + second * ratio * passed / car.output_kgm2)
    turned = outer + car.output_rads
    car.gear_nm, car.gear_rads, car.pull_nm = second, (inner + car.input_rads) / 2, first
    car.slipping_w = (
        first * ((engine + car.engine_rads) - (inner + car.input_rads)) / 2
        + second * ((inner + car.input_rads) - ratio * turned) / 2
    )
    car.mesh_w = second * ratio * (1 - passed) * turned / 2


def through_packs(car: MovingCar, nm: float) -> None:
    """Two packs side by side between the engine, with its input shaft, and two gears."""
    shaft_i = car.engine_kgm2 + car.input_kgm2
    lost = _turn_behind_packs(car, car.engine_rads, shaft_i, nm / shaft_i)
    car.engine_rads = car.input_rads = lost.shaft_rads
    car.slipping_w = lost.slipping_w


def through_converter(car: MovingCar, nm: float, *, since_s: float, shifting: bool) -> None:
    """A pump drives a turbine, beside it the lock-up; behind them two packs."""
    converter = car.spec.converter
    engine_i, turbine_i = car.engine_kgm2, car.input_kgm2
    turbine = 0.0 if since_s < 0 and converter.brake else car.input_rads
    car.input_rads = turbine
    pump_nm, turbine_nm = _hydraulic(car)
    lock_nm, gain = 0.0, (nm - pump_nm) / engine_i
    if converter.locks_from_gear and car.gear >= converter.locks_from_gear and (shifting or since_s > 1):
        may = 0.5 * converter.lock_nm if shifting else converter.lock_nm
        closing = (car.engine_rads - turbine) / STEP_S + gain - (turbine_nm - TURBINE_DRAG * turbine) / turbine_i
        lock_nm = max(-may, min(may, closing / (1 / engine_i + 1 / (turbine_i + car.output_kgm2 / car.old_ratio**2))))
    gain -= lock_nm / engine_i
    on_nm = turbine_nm - TURBINE_DRAG * turbine + lock_nm
    lost = _turn_behind_packs(car, turbine, turbine_i, on_nm / turbine_i)
    car.input_rads, engine = lost.shaft_rads, car.engine_rads
    car.engine_rads += STEP_S * gain
    car.slipping_w = lost.slipping_w + (
        (pump_nm + lock_nm) * (engine + car.engine_rads) / 2 - on_nm * (turbine + car.input_rads) / 2
    )


def _hydraulic(car: MovingCar) -> tuple[float, float]:
    """Torque of the pump and of the turbine."""
    converter, engine = car.spec.converter, car.engine_rads
    ratio = max(car.input_rads / engine if engine > 5 else 0.0, 0.0)
    if ratio < converter.coupling:
        gain = converter.stall_ratio - (converter.stall_ratio - 1) * ratio / converter.coupling
        takes = 1 - 0.25 * (ratio / converter.coupling) ** 2
    else:
        gain = 1.0
        takes = 0.75 * max(-0.4, (1 - ratio) / (1 - converter.coupling)) if ratio < 1.4 else -0.3
    pump_nm = converter.capacity * takes * engine * engine
    return pump_nm, pump_nm * gain


class _Turned:
    """The shaft before the packs after a step, and what they turned into heat."""

    __slots__ = ("shaft_rads", "slipping_w")

    def __init__(self, shaft_rads: float, slipping_w: float) -> None:
        self.shaft_rads, self.slipping_w = shaft_rads, slipping_w


def _turn_behind_packs(car: MovingCar, shaft: float, shaft_i: float, gain: float) -> _Turned:
    old, new, mesh, output_i = car.old_ratio, car.new_ratio, car.spec.box.mesh, car.output_kgm2
    outer, back = car.output_rads, -car.drag_nm() / output_i
    by_old = 1 / shaft_i + old * old * mesh / output_i
    gap_old = (shaft - old * outer) / STEP_S + gain - old * back
    may = car.holds_old
    if car.holds_new > 0:
        cross, by_new = 1 / shaft_i + old * new * mesh / output_i, 1 / shaft_i + new * new * mesh / output_i
        gap_new, most, second = (shaft - new * outer) / STEP_S + gain - new * back, car.holds_new, car.new_nm
        for _ in range(12):
            first = max(-may, min(may, (gap_old - cross * second) / by_old))
            second = max(-most, min(most, (gap_new - cross * first) / by_new))
    else:
        first, second = max(-may, min(may, gap_old / by_old)), 0.0
    turned = shaft + STEP_S * (gain - (first + second) / shaft_i)
    passed = mesh if (first + second) >= 0 else 1 / mesh
    car.output_rads += STEP_S * (back + (first * old + second * new) * passed / output_i)
    way = outer + car.output_rads
    car.new_nm, car.pull_nm, car.gear_nm, car.gear_rads = second, first, first + second, (shaft + turned) / 2
    car.mesh_w = (first * old + second * new) * (1 - passed) * way / 2
    slipping = first * ((shaft + turned) - old * way) / 2 + second * ((shaft + turned) - new * way) / 2
    return _Turned(turned, slipping)
