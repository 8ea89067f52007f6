"""What hand, foot and box do in a change of gear, moment by moment.

Public: `Change`, `Wish`, `change_gear`, `is_done`.
"""

from __future__ import annotations

from tests.proving.paddock.couplings import STUCK
from tests.proving.paddock.moving_car import MovingCar

LASTS_S = {"cut": 0.085, "flat": 0.23, "lift": 0.40, "packs": 0.05, "auto": 0.06}
"""No change is done sooner, at the usual pace."""
GIVES_UP_S = 2.5
"""A change that takes longer counts as done."""
MEETS_RADS = 4.0
"""A synchronizer has done its work."""


class Wish:
    """What driver and boxes ask of the car at a moment."""

    __slots__ = ("flag", "grip", "shown", "spark", "throttle")

    def __init__(self, throttle: float, spark: float, grip: float, shown: int) -> None:
        self.throttle, self.spark, self.grip, self.shown, self.flag = throttle, spark, grip, shown, 0


class Change:
    """One change of gear on its way; times from the release."""

    __slots__ = ("begins_s", "carried_nm", "gear", "locked_s", "misses", "pace", "synchronized_s")

    def __init__(self, begins_s: float, pace: float, gear: int, carried_nm: float, *, misses: bool) -> None:
        self.begins_s, self.pace, self.gear, self.misses, self.carried_nm = begins_s, pace, gear, misses, carried_nm
        self.locked_s: float | None = None
        self.synchronized_s: float | None = None
        """Since it began."""


def _falls(since_s: float, lasts_s: float) -> float:
    """From 1 to 0 over so many seconds."""
    return min(1.0, max(0.0, 1 - since_s / lasts_s))


def _rises(since_s: float, lasts_s: float) -> float:
    """From 0 to 1 over so many seconds."""
    return min(1.0, max(0.0, since_s / lasts_s))


def change_gear(car: MovingCar, change: Change, wish: Wish, now_s: float) -> None:
    """Ask of throttle, spark, clutch, dogs and packs what this moment of the change is for."""
    BY_KIND[car.spec.box.shift](car, change, wish, now_s - change.begins_s)


def _by_cut(car: MovingCar, change: Change, wish: Wish, since: float) -> None:
    """Spark cut; dogs pulled out and in by the barrel."""
    out, into, ends = 0.022 * change.pace, 0.050 * change.pace, 0.068 * change.pace
    wish.flag = 1 if since < ends else 0
    if 0.004 < since < ends:
        wish.spark = car.spec.box.cut_depth
    car.holds_old = STUCK if since < out else 0.0
    if since >= into:
        car.holds_new = car.spec.box.dog_nm
    if 0.012 < since < ends + 0.02:
        wish.shown = 0 if since < into else change.gear + 1


def _flat(car: MovingCar, change: Change, wish: Wish, since: float) -> None:
    """Foot down: the clutch is dipped, its pedal's switch cuts the spark."""
    pace, met_s = change.pace, change.synchronized_s
    out, into = 0.07 * pace, 0.15 * pace
    wish.flag = 1 if 0.006 < since < 0.19 * pace else 0
    if wish.flag or (since < 0.4 and met_s is None):
        wish.spark = 0.0
    if since < into or met_s is None:
        wish.grip *= _falls(since, 0.035 * pace)
    else:
        wish.grip *= _rises(since - max(0.155 * pace, met_s + 0.01), 0.055 * pace)
    car.holds_old = STUCK if since < out else 0.0
    wish.shown = 0 if out < since < into else (change.gear + 1 if since >= into else change.gear)
    if since >= out + 0.02:
        _synchronize(car, change, since)


def _lift(car: MovingCar, change: Change, wish: Wish, since: float) -> None:
    """Foot off, clutch down, lever across, clutch up, foot down; a gear that is missed takes longer."""
    pace, met_s, box = change.pace, change.synchronized_s, car.spec.box
    longer = box.misses[1] if change.misses else 0.0
    out, into = 0.11 * pace, 0.20 * pace
    if since < 0.31 * pace + longer:
        wish.throttle = 0.0
    if change.misses and 0.33 * pace < since < 0.33 * pace + 0.22:  # the driver takes it to be in
        wish.throttle = 0.85
    if since < 0.27 * pace + longer or met_s is None:
        wish.grip *= _falls(since - 0.025 * pace, 0.05 * pace)
    else:
        wish.grip *= _rises(since - max(0.27 * pace + longer, met_s + 0.015), 0.10 * pace)
    car.holds_old = STUCK if since < out else 0.0
    wish.shown = 0 if out < since < into + longer else (change.gear + 1 if since >= into + longer else change.gear)
    if since >= 0.15 * pace + longer:
        _synchronize(car, change, since)


def _synchronize(car: MovingCar, change: Change, since: float) -> None:
    apart = abs(car.input_rads - car.new_ratio * car.output_rads)
    if change.synchronized_s is None and apart < MEETS_RADS:
        change.synchronized_s = since
    car.holds_new = car.spec.box.sync_nm if (apart > MEETS_RADS and not change.locked_s) else STUCK


def _by_packs(car: MovingCar, change: Change, wish: Wish, since: float) -> None:
    """A dual clutch hands over under power, then brings the engine down."""
    box, carried = car.spec.box, max(60.0, change.carried_nm)
    lasts = box.hand_over_s * change.pace
    share = _rises(since - 0.03, lasts)
    car.holds_old = carried * 1.25 * (1 - share)
    car.holds_new = carried * (1.0 + box.firm) * share * (1 + 2.0 * max(0.0, since - 0.03 - lasts))
    _bring_down(car, change, wish, share)
    wish.shown = change.gear if since < 0.05 else change.gear + 1


def _automatic(car: MovingCar, change: Change, wish: Wish, since: float) -> None:
    """The same behind a converter, where the new pack may come late."""
    box, carried = car.spec.box, max(60.0, change.carried_nm)
    lasts, comes = box.hand_over_s * change.pace, 0.05 + box.flare_s
    share = _rises(since - comes, lasts)
    car.holds_old = carried * 1.3 * (1 - _rises(since - 0.05, lasts))
    car.holds_new = carried * (1.0 + box.firm) * share * (1 + 2.0 * max(0.0, since - comes - lasts))
    _bring_down(car, change, wish, share)
    wish.shown = change.gear if since < 0.02 else change.gear + 1


def _bring_down(car: MovingCar, change: Change, wish: Wish, share: float) -> None:
    if share >= 1:
        wish.spark = car.spec.box.eased
    if change.locked_s:
        car.holds_new, wish.spark = STUCK, 1.0


BY_KIND = {"cut": _by_cut, "flat": _flat, "lift": _lift, "packs": _by_packs, "auto": _automatic}


def is_done(car: MovingCar, change: Change, now_s: float) -> bool:
    """Notes when the next gear has caught; true once the change is over."""
    box, since, goal = car.spec.box, now_s - change.begins_s, car.new_ratio * car.output_rads
    if change.locked_s is None:
        turning = car.input_rads if car.spec.take_up.kind == "converter" else car.engine_rads
        caught = abs(turning - goal) < 0.008 * goal + 1
        if car.holds_new > 0 and car.holds_old <= 0 and caught and since > 0.03:
            change.locked_s = now_s
    longer = box.misses[1] if change.misses else 0
    late_enough = since > LASTS_S[box.shift] * change.pace + longer
    done = change.locked_s is not None and late_enough and now_s > change.locked_s + 0.02
    return done or since > GIVES_UP_S
