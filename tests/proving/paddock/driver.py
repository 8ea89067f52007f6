"""Hands and feet, and the boxes that help them: the hold, the clutch let out, feeling for grip, lifting, when to shift.

Public: `Hands`.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import lfilter

from tests.proving.paddock.changing import Change, Wish
from tests.proving.paddock.engine import RAD, STEP_S
from tests.proving.paddock.moving_car import MovingCar

WANDERS = 6001
"""Hundredths of a second that a driver's and a wind's wander are drawn for."""
EASES_S = 0.04
"""The clutch is eased with this time constant."""
PEDAL_S = 0.45
"""A lift to get grip back."""


class Hands:
    """The driver of one run; times from the release."""

    def __init__(self, car: MovingCar, rng: np.random.Generator) -> None:
        driver, box = car.spec.driver, car.spec.box
        self.car, self.driver, self.take_up = car, driver, car.spec.take_up
        self.converter = self.take_up.kind == "converter"
        self.wander: list[float] = (lfilter([0.05], [1, -0.95], rng.normal(0, 1, WANDERS) * 4)).tolist()
        self.shift_rpm = [driver.shift_rpm + rng.normal(0, driver.shift_spread_rpm) for _ in box.ratios]
        self.paces = [rng.uniform(0.85, 1.25) for _ in box.ratios]
        self.foot, self.ease, self.cut = 1.0, 1.0, False
        self.pedal_until, self.pedalled, self.lifted = -1.0, False, False
        self.finished = False
        self.lifted_s: float | None = None
        self.lifted_way = 0.0
        self.change: Change | None = None
        self.shown = 1

    def ask(self, now_s: float) -> Wish:
        """What they want now, but for what a change of gear asks."""
        car, driver = self.car, self.driver
        sliding = car.wheel_rads * car.spec.tire.radius_m - car.speed
        if now_s < 0:
            throttle = self._hold(now_s)
        else:
            self.cut = False
            throttle = self._pull(now_s)
            self._maybe_pedal(now_s)
            if driver.feather:
                throttle *= self._feel(sliding)
        if now_s < self.pedal_until:
            throttle = 0.05
        if self._lifts(now_s):
            throttle = 0.0
        wish = Wish(throttle, 1.0, self._let_out(now_s), self.shown)
        self._maybe_change(now_s, sliding)
        return wish

    def _hold(self, now_s: float) -> float:
        """Throttle before the release; the two-step's cut beside it."""
        driver, car = self.driver, self.car
        rpm, since = car.engine_rads / RAD, now_s + driver.waits_s
        if driver.launch == "two-step" and not car.spec.electric:
            if rpm > driver.launch_rpm + (15 if self.converter else 20):
                self.cut = True
            elif rpm < driver.launch_rpm - driver.two_step_band_rpm:
                self.cut = False
        if self.converter and driver.launch == "foot":
            return (
                min(1.0, max(0.03, 0.45 + (driver.launch_rpm - rpm) / 900)) if now_s > -driver.waits_s + 0.4 else 0.05
            )
        if driver.launch == "foot":
            goal_rpm = driver.launch_rpm + self.wander[int(since * 100)] * 60
            return min(1.0, max(0.0, 0.06 + (goal_rpm - rpm) / 1200)) if now_s > -driver.waits_s + 0.3 else 0.05
        if car.spec.electric:
            return 0.0
        return 1.0 if now_s > -driver.waits_s + 0.3 else 0.06

    def _pull(self, now_s: float) -> float:
        driver, wanted = self.driver, 1.0
        if driver.first_open < 1 and now_s < 1.2:
            wanted = driver.first_open + (1 - driver.first_open) * min(1.0, max(0.0, (now_s - 0.3) / 0.7))
        if driver.eases_in_the_air and self.car.front_up:
            wanted = 0.72
        if driver.eases_from_mps2 and self.car.felt > driver.eases_from_mps2:
            wanted = min(wanted, 0.55)
        return wanted

    def _maybe_pedal(self, now_s: float) -> None:
        at_m = self.driver.pedals_at_m
        if at_m and not self.pedalled and now_s > 0.8 and self.car.way > at_m:
            self.pedalled, self.pedal_until = True, now_s + PEDAL_S

    def _feel(self, sliding: float) -> float:
        """Share of the throttle left by a foot, or a box of wires, that feels for grip."""
        car, driver = self.car, self.driver
        slip = sliding / max(car.wheel_rads * car.spec.tire.radius_m, 4.0)
        least = 0.16
        if car.gear == 1:
            rpm, held_rpm = car.engine_rads / RAD, driver.launch_rpm
            least = max(0.16, min(1.0, (0.8 * held_rpm - rpm) / (0.25 * held_rpm + 1)))
        self.foot += (max(least, min(1.0, 1 - 4.5 * (slip - driver.feather))) - self.foot) * STEP_S / driver.feel_s
        return self.foot

    def _lifts(self, now_s: float) -> bool:
        """Off for good; the brakes follow the finish, or an end of the run before it."""
        driver, car = self.driver, self.car
        if driver.lifts_at_m is not None and car.way > driver.lifts_at_m and self.lifted_s is None:
            self.lifted_s, self.lifted_way = now_s, car.way
        self.lifted = self.lifted_s is not None or self.finished
        if self.lifted and (driver.shuts_off or self.finished):
            car.brake = min(driver.brakes_mps2, car.brake + STEP_S * 3.0)
        return self.lifted

    def _let_out(self, now_s: float) -> float:
        """Share of the clutch's force at the launch."""
        take_up, grip = self.take_up, 1.0
        if now_s >= 0 and not self.converter:
            first = min(1.0, max(0.0, now_s / take_up.bite_s))
            if take_up.profile == "dump":
                grip = first
            elif take_up.profile == "slip":
                rest = min(1.0, max(0.0, (now_s - take_up.bite_s) / take_up.feed_s))
                grip = take_up.share * first + (1 - take_up.share) * rest**take_up.feed_power
            else:
                rest = min(1.0, max(0.0, (now_s - take_up.stage_s) / 0.25))
                grip = take_up.share * first + (1 - take_up.share) * rest
        if 0 < now_s < 2.5 and self.car.gear == 1 and self.change is None:
            held_rpm, rpm = self.driver.launch_rpm, self.car.engine_rads / RAD
            goal = max(0.3, min(1.0, (rpm - self.driver.sag * held_rpm) / (0.2 * held_rpm + 1)))
            self.ease += (goal - self.ease) * STEP_S / EASES_S
            grip *= self.ease
        return 0.0 if now_s < 0 else grip

    def _maybe_change(self, now_s: float, sliding: float) -> None:
        car, box = self.car, self.car.spec.box
        if self.change is not None or self.lifted or now_s <= 0.3 or car.gear >= len(box.ratios):
            return
        if car.engine_rads / RAD <= self.shift_rpm[car.gear - 1] or now_s <= self.take_up.bite_s + 0.15:
            return
        if not self.converter:
            geared = abs(car.engine_rads - car.old_ratio * car.output_rads) < 0.03 * car.engine_rads
            grips = sliding < 0.22 * car.wheel_rads * car.spec.tire.radius_m or car.engine.limited_s > 0.6
            if not (geared and grips):
                return
        if now_s <= self.pedal_until + 0.3:
            return
        carried = max(car.pull_nm, (0.9 if self.take_up.kind == "packs" else 0.75) * car.engine.most_nm)
        pace, misses = self.paces[car.gear] * box.pace, box.misses[0] == car.gear
        self.change = Change(now_s, pace, car.gear, carried, misses=misses)
        car.new_ratio = box.ratios[car.gear] * box.final
