"""How gears are changed: by hand, by a cut of the spark, by packs that take over from each other.

Public: `change_gear`.
"""

from __future__ import annotations

from tests.proving.independent.coupled_car import HOLDS, Asked, CoupledCar, Shifting, ramp

MEETS_RADS = 1.0
"""Shafts that turn so alike turn as one. [rad/s]"""


def change_gear(car: CoupledCar, shift: Shifting, asked: Asked, now_s: float) -> None:
    """What driver and box ask for at a moment of a shift; notes in it what has been reached."""
    by = {"lever": _by_hand, "sequential": _by_cut}.get(car.spec.box.kind, _by_overlap)
    by(car, shift, asked, now_s)


def _gap_rads(car: CoupledCar) -> float:
    return abs(car.input - car.new_ratio * car.output)


def _by_hand(car: CoupledCar, shift: Shifting, asked: Asked, now_s: float) -> None:
    """Clutch down and throttle shut (or not), lever across, synchronizer, clutch up."""
    box, most_nm = car.spec.box, car.spec.clutch.most_nm
    opens_s, neutral_s, synchronizer_nm, closes_s = box.lever
    since = now_s - shift.begins_s
    asked.clutch_nm = most_nm * (1.0 - ramp(since / opens_s))
    asked.old_nm = HOLDS if since < 0.9 * opens_s else 0.0
    if box.lifts:
        asked.throttle = min(asked.throttle, 0.08)
    in_s = opens_s + neutral_s + (box.misses[1] if shift.missed else 0.0)
    if shift.missed and opens_s + 0.8 * neutral_s < since < in_s:  # taken to be in: clutch up, throttle on, again down
        again = since > in_s - 0.15
        asked.clutch_nm, asked.throttle = (0.0, 0.1) if again else (most_nm, 1.0)
    if since <= in_s:
        return
    if shift.synchronized_s is None:
        asked.new_nm = synchronizer_nm
        if _gap_rads(car) < 2.0:
            shift.synchronized_s = now_s
        return
    asked.new_nm = HOLDS
    share = (now_s - shift.synchronized_s - 0.015) / closes_s
    asked.clutch_nm = most_nm * ramp(share) ** 1.3
    if share > -0.1:
        asked.throttle = 1.0
    if share > 0.2 and shift.ends_s is None and abs(car.engine - car.input) < 0.6:
        shift.ends_s = now_s
    if share > 1.0 and shift.ends_s is not None:
        shift.closed_s = now_s


def _by_cut(car: CoupledCar, shift: Shifting, asked: Asked, now_s: float) -> None:
    """Spark off, dogs out, dogs in, spark on."""
    cut_s, out_s, in_s = car.spec.box.cut
    since = now_s - shift.begins_s
    if since < cut_s:
        asked.spark = 0.0
    asked.old_nm = HOLDS if since < out_s else 0.0
    if since > in_s:
        asked.new_nm = 5000.0 * ramp((since - in_s) / 0.004)
        if shift.ends_s is None and _gap_rads(car) < MEETS_RADS:
            shift.ends_s = now_s
        if shift.ends_s is not None and since > cut_s + 0.02:
            shift.closed_s = now_s


def _by_overlap(car: CoupledCar, shift: Shifting, asked: Asked, now_s: float) -> None:
    """The new pack takes the torque over from the old one, then pulls engine speed down."""
    delay_s, phase_s, at_once, pressure, tie_up, taken_back = car.spec.box.overlap
    since = now_s - shift.begins_s - delay_s
    if since <= 0.0:
        return
    share = since / phase_s
    asked.new_nm = shift.carried_nm * (at_once + (1.0 - at_once) * ramp(share)) * pressure * ramp(3.0 * share)
    asked.old_nm = 0.0 if share > 1.0 + tie_up else max(0.0, 1.02 * shift.carried_nm * (1.0 - ramp(share - tie_up)))
    if share <= 0.9:
        return
    asked.taken_back = taken_back if shift.ends_s is None and share > 1.0 else 0.0
    asked.new_nm = shift.carried_nm * pressure * (1.0 + 2.0 * max(0.0, since - phase_s))
    if shift.ends_s is None and share > 1.0 and _gap_rads(car) < MEETS_RADS:
        shift.ends_s = shift.synchronized_s = now_s
    if shift.ends_s is not None:
        asked.new_nm = HOLDS
        if now_s > shift.ends_s + 0.03:
            shift.closed_s = now_s
