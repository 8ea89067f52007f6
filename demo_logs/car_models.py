"""Models that move a car: the first, and a second of another form, so that no method is fitted to one of them.

The second differs where a method may take a form for granted: the tire is a brush whose force saturates, slides with
less the faster it slides; it grows with the speed of its tread
until its cords hold it; shafts stiffen as they twist; the clutch loses torque as it heats, and cools again.

Public: `MODELS`, `SecondCar`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from passband.demo_logs.drag_car import DragCar

SLIDING_FADE_MPS, SLIDING_LEAST = 9.0, 0.72
"""Speed of sliding at which friction has lost two thirds of what it can lose, and the share left. [m/s], [-]
An exponential fall of friction with speed (Stribeck's form), from memory; the values are common practice, no source."""
HOLDS_AT_MPS = 60.0
"""Tread speed by which growth has made two thirds of its way: cords hold a tread that a spring alone would let go on.
[m/s] Chosen."""
STIFFENS_AT_NM = 2600.0
"""Torque at which twisted shafts are a quarter stiffer than at rest. [N m] Chosen."""
FADES_BY, FADE_J, COOLS_S = 0.12, 1.2e5, 8.0
"""Share of its torque that a clutch loses with heat, the heat for two thirds of it, and the time in which it goes.
[-], [J], [s] Order of a dry clutch's fade, from memory."""


class SecondCar(DragCar):
    """The same driver, engine and strip; tire, growth, shafts and clutch of another form."""

    __slots__ = ("_heat_j",)

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self._heat_j = 0.0

    def _force_share(self, sliding_mps: float) -> float:
        """A brush of springy bristles under a parabola of pressure (Fiala; Pacejka's textbook, ch. 3, from memory).

        With z = 1 - slip / slip at full sliding, force is grip (1 - z^3); its first slope is that of the first model.
        """
        tire = self.spec.tire
        all_slides = 1.6 * tire.peak_slip
        left = 1.0 - min(abs(self.slip) / all_slides, 1.0)
        lost = (1.0 - SLIDING_LEAST) * (1.0 - math.exp(-abs(sliding_mps) / SLIDING_FADE_MPS)) * (1.0 - left)
        return tire.grip * (1.0 - left * left * left) * (1.0 - lost)

    def _radius_m(self) -> float:
        """Growth along an exponential: the same at 75 m/s, more of it at lower speeds, hardly any above."""
        tire = self.spec.tire
        share = 1.0 - math.exp(-((self.wheel_rads * tire.radius_m / HOLDS_AT_MPS) ** 2))
        return tire.radius_m * (1.0 + tire.growth * share / (1.0 - math.exp(-((75.0 / HOLDS_AT_MPS) ** 2))))

    def _spring_nm(self) -> float:
        straight = self.spec.shaft_stiffness_nm * self.twist
        return straight * (1.0 + 0.25 * min((straight / STIFFENS_AT_NM) ** 2, 4.0)) * 0.8

    def _capacity_nm(self) -> float:
        dt = self.controls.dt
        slipping = abs(self.front_rads - self.input_rads) * abs(self.clutch_nm)
        self._heat_j += (slipping - self._heat_j / COOLS_S) * dt
        fade = 0.0 if self.spec.converter else FADES_BY * (1.0 - math.exp(-self._heat_j / FADE_J))
        return super()._capacity_nm() * (1.0 - fade)


MODELS: Mapping[str, type[DragCar]] = {"first": DragCar, "second": SecondCar}
"""By name."""
