"""What a torque converter hides or does: wheelspin that no sensor shows, and a lock-up clutch that closes.

Public: `spin_behind_converter`, `tell_converter`.
"""

from __future__ import annotations

import numpy as np

from passband.analysis.driveline.state import DrivelineState
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.distance import SpeedBasis, Wheelspin
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearInterval, Gears
from passband.analysis.sensors.evidence import RunEvidence
from passband.analysis.sensors.priors import SURELY_OPEN
from passband.analysis.statistics.intervals import find_true_runs

SMOOTH_S = 0.1
"""Acceleration and engine speed are taken over this long. [s]"""
LEVEL_S = 0.3
"""Tires that slide push evenly for at least so long. Chosen. [s]"""
OVER_S = 0.2
"""Their level is taken over so long. Chosen. [s]"""
WITHIN_S = 0.3
"""They take hold within this. Chosen. [s]"""
KEPT_S = 0.15
"""For at least so long. Chosen. [s]"""
TAKES_HOLD = 1.25
"""The push once they hold over the push before, at least. [-] A tire that slides holds 0.6 to 0.8 of what it does at
its peak: common practice, no source."""
EVEN = 1.12
"""What the push keeps within while they slide, as a ratio. [-]"""
SINKS = 0.02
"""Meanwhile the engine sinks at full throttle by at least this share. A turbine that only gains speed never lets it: it
sinks where the turbine is slowed, by tires that stop to race ahead. Chosen. [-]"""
FALLING_AIR = 0.97
"""Nor is it the engine that makes less: manifold pressure does not fall below this share. Chosen. [-]"""
CLOSES_PER_S = 0.06
"""A lock-up clutch draws the engine down on its gear faster than this, log ratio. A converter alone eases by 0.035 a
second at most, some time after a change, under three simulated laws. [1/s]"""
CLOSED_PER_S = 0.02
"""Once it holds, the ratio moves by less. [1/s]"""
LOCK_AFTER_S = 0.4
"""It closes so long after a change at the earliest. Chosen. [s]"""
LOCK_TAKES_S = 0.8
"""Within this. Chosen. [s]"""
LOCKED_S = 0.2
"""And holds for at least so long. Chosen. [s]"""
LEAST_LOCK = 0.015
"""What the engine comes down by, at least, log. Chosen. [-]"""
LOCKED_WIDTH = 0.035
"""A locked engine turns with its gear to this, against the ground: slip and growth of the tires. [-]"""


def spin_behind_converter(motion: Motion, evidence: RunEvidence, gears: Gears | None) -> tuple[Wheelspin, ...]:
    """Wheelspin that shows only in how the tires take hold again.

    Parameters
    ----------
    motion : Motion
        ET.
    evidence : RunEvidence
        Engine speed, throttle and manifold pressure.
    gears : Gears or None
        First gear is looked at.

    Returns
    -------
    tuple of Wheelspin
        At most one, without its slip, which nothing shows.

    Notes
    -----
    Until then the car is pushed evenly by tires that slide. As they take hold the push rises within a moment, while at
    full throttle the engine sinks: what turned with the tires is slowed. More torque would have raised both. Tires
    that spin until the first change, or that let go under way, are not seen.
    """
    engine = evidence.engine
    if engine is None or evidence.throttle is None or gears is None or not gears.intervals or motion.through_driveline:
        return ()
    step_s = float(np.median(np.diff(motion.time_s)))
    inside = (motion.time_s > evidence.launch_s) & (motion.time_s < gears.intervals[0].end_s - WITHIN_S)
    push = _box(motion.acceleration_mps2, SMOOTH_S, step_s)
    rpm = _box(engine.at(motion.time_s), SMOOTH_S, step_s)
    for place in np.flatnonzero(inside)[round(LEVEL_S / step_s) :]:
        start = _even_since(push, int(place), int(np.flatnonzero(inside)[0]), round(OVER_S / step_s))
        if (place - start) * step_s < LEVEL_S or not _took_hold(push, rpm, start, int(place), step_s):
            continue
        stop = int(place) + round(WITHIN_S / step_s)
        if _full_power(evidence, float(motion.time_s[start]), float(motion.time_s[stop])):
            held = int(place) + int(np.argmax(push[place:stop] > EVEN * float(np.median(push[start : place + 1]))))
            return (Wheelspin(float(motion.time_s[start]), float(motion.time_s[held]), None),)
    return ()


def _box(values: FloatArray, span_s: float, step_s: float) -> FloatArray:
    width = max(1, round(span_s / step_s))
    return np.convolve(values, np.ones(width) / width, mode="same")


def _even_since(push: FloatArray, place: int, first: int, over: int) -> int:
    """Since when the push had been what it is at a moment."""
    level = float(np.median(push[max(place - over, first) : place + 1]))
    before = push[first : place + 1]
    uneven = np.flatnonzero(~((before < EVEN * level) & (before > level / EVEN)))
    return first if uneven.size == 0 else first + int(uneven[-1]) + 1


def _took_hold(push: FloatArray, rpm: FloatArray, start: int, place: int, step_s: float) -> bool:
    """Whether the push rises from its level within a moment and stays, the engine lower than it had been."""
    level = float(np.median(push[start : place + 1]))
    later = slice(place + round((WITHIN_S - KEPT_S) / step_s), place + round(WITHIN_S / step_s))
    if not level > 1.0 or not float(np.median(push[later])) > TAKES_HOLD * level:
        return False
    return bool(np.nanmin(rpm[place : later.stop]) < (1.0 - SINKS) * np.nanmax(rpm[start : place + 1]))


def _full_power(evidence: RunEvidence, start_s: float, stop_s: float) -> bool:
    """Whether the throttle was open and manifold pressure did not fall."""
    throttle = evidence.throttle
    if throttle is None:
        return False
    open_ = throttle.known.within(start_s, stop_s).values
    if not open_.size or open_.min() < SURELY_OPEN * float(throttle.known.values.max()):
        return False
    air = evidence.traces.get("manifold_pressure") or evidence.traces.get("boost")
    known = None if air is None else air.known.within(start_s, stop_s).values
    if known is None or known.size < 4:
        return True
    half = known.size // 2
    return bool(np.median(known[half:]) > FALLING_AIR * np.median(known[:half]))


def tell_converter(
    motion: Motion, evidence: RunEvidence, driveline: DrivelineState | None, gears: Gears
) -> list[Finding]:
    """What a converter did, and what it hides.

    Parameters
    ----------
    motion : Motion
        As of `with_wheelspin`.
    evidence : RunEvidence
        Of the run.
    driveline : DrivelineState or None
        As read from the same motion and evidence.
    gears : Gears
        As labelled.

    Returns
    -------
    list of Finding
        Empty where the car has none.
    """
    if not evidence.converter or evidence.engine is None:
        return []
    hidden = [] if evidence.tires is not None or motion.through_driveline else [_hidden(motion)]
    if driveline is None or motion.basis is SpeedBasis.ENGINE_SPEED:
        return hidden
    locks = [found for gear in gears.intervals if (found := _lock_up(gear, driveline)) is not None]
    return [*hidden, *locks[:1]]


def _hidden(motion: Motion) -> Finding:
    if not motion.wheelspin:
        text = (
            "No log shows the driven tires' speed, and behind a torque converter engine speed shows nothing of it: "
            "wheelspin would not be seen. Log a driven wheel or the driveshaft."
        )
        return Finding("wheelspin-not-seen", "note", text, "driven wheel speed")
    spin = motion.wheelspin[0]
    text = (
        f"From {spin.start_s:.2f} to {spin.end_s:.2f} s the car was pushed evenly, then harder within a moment while "
        "the engine sank at full throttle: taken for wheelspin that ended there. No log shows the driven tires, and a "
        "torque converter hides how much they spun."
    )
    return Finding("wheelspin-by-grip", "caution", text, f"{spin.start_s:.2f} s from clock start")


def _lock_up(gear: GearInterval, driveline: DrivelineState) -> Finding | None:
    """A lead that is taken away within a moment, and stays away."""
    turn, time_s = driveline.turn, driveline.time_s
    inside = (time_s > gear.start_s + LOCK_AFTER_S) & (time_s < gear.end_s) & np.isfinite(turn.log_ratio)
    if inside.sum() < 20 or not gear.gear <= driveline.known_levels.size:
        return None
    step_s = float(time_s[1] - time_s[0])
    ratio = np.where(inside, turn.log_ratio, np.nan)
    drift = _drift(ratio, step_s)
    for stretch in find_true_runs(np.asarray(drift < -CLOSES_PER_S)):
        start, stop = stretch.start, stretch.stop - 1
        fell = float(ratio[max(start - 3, 0)] - ratio[min(stop + 3, ratio.size - 1)])
        held = _held(drift, stop + round(0.1 / step_s), step_s)
        if not fell > LEAST_LOCK or (stop - start) * step_s > LOCK_TAKES_S or not held:
            continue
        left = (
            float(np.nanmedian(ratio[stop : stop + round(LOCKED_S / step_s)])) - driveline.known_levels[gear.gear - 1]
        )
        if abs(left) < LOCKED_WIDTH:
            return _locked(float(time_s[start]), float(time_s[stop]), gear.gear, fell)
    return None


def _drift(ratio: FloatArray, step_s: float) -> FloatArray:
    """How fast the log ratio moves, over a tenth of a second. [1/s]."""
    reach = max(1, round(0.5 * SMOOTH_S / step_s))
    drift = np.full(ratio.size, np.nan)
    drift[reach:-reach] = (ratio[2 * reach :] - ratio[: -2 * reach]) / (2 * reach * step_s)
    return drift


def _held(drift: FloatArray, since: int, step_s: float) -> BoolArray | bool:
    after = drift[since : since + round(2.0 * LOCKED_S / step_s)]
    known = after[np.isfinite(after)]
    return known.size * step_s > LOCKED_S and abs(float(np.median(known))) < CLOSED_PER_S


def _locked(start_s: float, stop_s: float, gear: int, fell: float) -> Finding:
    text = (
        f"The converter locked in gear {gear}: from {start_s:.2f} to {stop_s:.2f} s the engine came down by "
        f"{100 * (1 - np.exp(-fell)):.0f} % upon its gear, and turned with it from then on. It is no shift."
    )
    return Finding("converter-locked", "note", text, f"{start_s:.2f} s from clock start")
