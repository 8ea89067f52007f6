"""What a shift was: normal, missed at first, double, late, short, lifted, or a converter's.

The band comes last, so that another one can be laid on shifts that were found long ago.

Public: `name_shifts`, `with_band`, `tell_missed`, `tell_lifted`, `tell_flared`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Traces
from passband.analysis.given.car import Car
from passband.analysis.results.findings import Finding
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.sensors.engine_speed import EngineSpeed
from passband.analysis.sensors.evidence import BAND_NOT_GIVEN
from passband.analysis.sensors.priors import LIFTED
from passband.analysis.shifts.interruptions import Interruption

LONG_SHIFT, LONGER_S = 1.6, 0.1
"""A shift longer than so many times the run's middle one and that much more was missed at first. [-], [s]"""
MISSED_S = 0.6
"""A shift that took longer than this was missed at first, unless nearly all of the run took as long. [s]"""
OVER_REV, OVER_REV_S = 0.1, 0.35
"""An engine that flares by more than this share between the gears, in a shift longer than this, was let loose in
neutral; a lazy foot lets it flare by 7 %. [-], [s]"""
FLARED, FLARED_S = 0.04, 0.18
"""So was one that stays above it by this share for so long, on the limiter maybe: a lazy foot's flare is over sooner.
[-], [s]"""
LET_LOOSE = 0.02
"""Under throttle an engine with no gear in rises by at least this share, more than a late pick-up shows after a cut;
without it, it sinks by so much below its next gear. [-]"""
MOST_NOISY = 0.5
"""Share of the engine's samples in a shift that noise may have taken before nothing is said of a missed gear. [-]"""
LIKE_OTHERS, QUICKER = 1.25, 0.25
"""A shift with the foot of less than so many times the run's middle one took as long as the others; one of less than so
many times the quicker quarter of them is how slowly this hand shifts. [-], [-]"""
STABBED_FROM, STABBED = 0.3, 0.6
"""Shares of its level before that the throttle is under, and then comes back over, before it shuts again within a shift
whose gear was not in. [-]"""
LOSES_MPS2 = 1.0
"""A car that nothing pulls gains less by all that it pulled with: over a missed gear by 3.4 to 9.8 m/s each second
(eight of five simulators); tires that spin through a shift pull on (-0.4). A loaded truck's last gear pulls by as much.
[m/s2]"""
REACHES_AGAIN_S = 0.25
"""A foot's shift in which the gear was missed takes longer than the run's others by at least what it takes to feel it
and reach again: a reaction takes 0.2 s. Shorter than that it was a lazy one, whatever the engine flared to. [s]"""
SHORT = 0.06
"""A shift made at so much less engine speed than the run's others was short. [-]"""
OVER_BAND = 0.01
"""One made so far over the band's high end was late. [-]"""
MAY_BE_LATE = frozenset({ShiftKind.NORMAL, ShiftKind.CONVERTER, ShiftKind.SHORT})
"""In shifts of the other kinds something went wrong, which is said before that they were late."""
LIMITER_BEFORE_S = 0.1
"""So was one that came off the limiter within this. [s]"""


def name_shifts(
    shifts: Sequence[Shift],
    engine: EngineSpeed,
    traces: Traces,
    car: Car,
    *,
    limiter: Sequence[Interruption],
    finish_s: float = float("inf"),
    speed_seen: bool = True,
) -> list[Shift]:
    """Name each shift for what it was.

    Parameters
    ----------
    shifts : sequence of Shift
        As measured.
    engine : EngineSpeed
        Noise out.
    traces : Traces
        Looked at for the throttle.
    car : Car
        For its transmission.
    limiter : sequence of Interruption
        Stretches on the limiter.
    finish_s : float
        The line, or the lift that ends the run: a shift that it cuts short has no length to judge. [s]
    speed_seen : bool
        Whether a sensor shows what speed the car lost: through engine speed alone it is bridged.

    Returns
    -------
    list of Shift
        The same with their kinds: what went wrong goes before what was merely early or late. What the band says of
        them comes after, by `with_band`.
    """
    lifted = [_lifted(shift, traces) for shift in shifts]
    by_foot = sum(lifted) > 0.5 * len(shifts)
    flat_foot = len(shifts) > 2 and sum(_flare(shift, engine) > OVER_REV for shift in shifts) > 0.5 * len(shifts)
    took = [shift.duration_s for shift in shifts]
    usual_s = float(np.median(took)) if len(shifts) > 2 else MISSED_S
    slow_hand_s = LIKE_OTHERS * float(np.quantile(took, QUICKER)) if len(shifts) > 2 else MISSED_S
    most_s = min(max(MISSED_S, slow_hand_s), LONG_SHIFT * usual_s + LONGER_S)
    named = []
    for shift, foot in zip(shifts, lifted, strict=True):
        others = [
            before.value for other in shifts if other is not shift and (before := known(other.rpm_before)) is not None
        ]
        kind = ShiftKind.CONVERTER if car.has_converter else ShiftKind.NORMAL
        lazy = foot and by_foot and not _stabbed(shift, traces)
        lazy_s = _quickest_miss(shift, shifts) if lazy else 0.0
        judged = kind is ShiftKind.NORMAL and shift.end_s < finish_s and shift.duration_s >= lazy_s
        judged &= not (speed_seen and _pulled_on(shift))
        alike = (foot and by_foot) or (not foot and flat_foot)
        like_others = alike and shift.duration_s < LIKE_OTHERS * usual_s
        if judged and _was_missed(shift, most_s, engine, like_others=like_others):
            kind = ShiftKind.MISSED
        elif abs(shift.to_gear - shift.from_gear) > 1:
            kind = ShiftKind.DOUBLE
        elif kind is ShiftKind.NORMAL and foot and not by_foot:
            kind = ShiftKind.LIFTED
        elif _off_the_limiter(shift, limiter):
            kind = ShiftKind.LATE
        elif len(others) > 1 and _was_short(shift, float(np.median(others))):
            kind = ShiftKind.SHORT
        named.append(replace(shift, kind=kind))
    return named


def _flare(shift: Shift, engine: EngineSpeed) -> float:
    """By what share the engine rose over where the shift began, until the next gear carried. [-]."""
    between = (engine.true_time_s > shift.time_s) & (engine.true_time_s < shift.end_s)
    if isinstance(shift.rpm_before, Unknown) or not between.any():
        return 0.0
    return float(engine.rpm[between].max()) / shift.rpm_before.value - 1.0


def _stabbed(shift: Shift, traces: Traces) -> bool:
    """Whether the foot came back to the throttle within a shift and lifted again: for a gear that was not in."""
    channel = traces.get("throttle")
    if channel is None:
        return False
    known = channel.known.within(shift.time_s, shift.end_s)
    if known.time_s.size < 5:
        return False
    before = known.values / max(
        float(np.median(channel.known.within(shift.time_s - 0.3, shift.time_s - 0.02).values)), 1e-6
    )
    shut = np.flatnonzero(before < STABBED_FROM)
    return bool(shut.size and before[shut[0] : shut[-1]].max(initial=0.0) > STABBED)


def _quickest_miss(shift: Shift, shifts: Sequence[Shift]) -> float:
    """How long a foot's shift lasts at least in which the gear was missed; zero where no two others show it. [s]."""
    others_s = [other.duration_s for other in shifts if other is not shift]
    return float(np.median(others_s)) + REACHES_AGAIN_S if len(others_s) > 1 else 0.0


def with_band(shifts: Sequence[Shift], band: tuple[float, float] | None) -> tuple[Shift, ...]:
    """Hold shifts against the band: their margins to its ends, and which of them were late by it.

    Parameters
    ----------
    shifts : sequence of Shift
        Named without a band.
    band : (low, high) or None
        Of engine speed; None where the car gives none. [rpm]

    Returns
    -------
    tuple of Shift
        One made over the band's high end was late, unless something went wrong in it.
    """
    return tuple(_held_to(shift, band) for shift in shifts)


def _held_to(shift: Shift, band: tuple[float, float] | None) -> Shift:
    if band is None:
        return replace(shift, margin_to_band_low_rpm=BAND_NOT_GIVEN, margin_to_band_high_rpm=BAND_NOT_GIVEN)
    before, after, (low, high) = shift.rpm_before, shift.rpm_after, band
    over = not isinstance(before, Unknown) and before.value > (1 + OVER_BAND) * high
    return replace(
        shift,
        kind=ShiftKind.LATE if over and shift.kind in MAY_BE_LATE else shift.kind,
        margin_to_band_low_rpm=after if isinstance(after, Unknown) else after.value - low,
        margin_to_band_high_rpm=before if isinstance(before, Unknown) else high - before.value,
    )


def tell_missed(shifts: Sequence[Shift], engine: EngineSpeed) -> list[Finding]:
    """Say which gears were missed at first, and what the engine did meanwhile.

    Parameters
    ----------
    shifts : sequence of Shift
        Named.
    engine : EngineSpeed
        Noise out.

    Returns
    -------
    list of Finding
        One for each.
    """
    found = []
    for shift in shifts:
        if shift.kind is not ShiftKind.MISSED:
            continue
        between = (engine.true_time_s > shift.time_s) & (engine.true_time_s < shift.end_s)
        highest = f", the engine up to {engine.rpm[between].max():.0f} rpm meanwhile" if between.any() else ""
        text = (
            f"Gear {shift.to_gear} was missed at first: from {shift.time_s:.2f} s until it carried at "
            f"{shift.end_s:.2f} s nothing pulled{highest}. Look at the over-rev, and at dogs and forks."
        )
        found.append(Finding("missed-shift", "caution", text, f"{shift.time_s:.2f} s from clock start"))
    return found


def tell_lifted(shifts: Sequence[Shift]) -> list[Finding]:
    """Say in which shifts alone the driver lifted: a pedal for grip just before a change of gear looks alike.

    Parameters
    ----------
    shifts : sequence of Shift
        Named.

    Returns
    -------
    list of Finding
        One note for all of them.
    """
    lifted = [shift for shift in shifts if shift.kind is ShiftKind.LIFTED]
    if not lifted:
        return []
    which = ", ".join(f"{one.from_gear}-{one.to_gear} at {one.time_s:.2f} s" for one in lifted)
    text = (
        f"The driver lifted in shift {which} and in no other: for the gear, or for grip just before it, which the logs "
        "do not part; then the shift began later than it is told."
    )
    return [Finding("lift-in-shift", "note", text, f"{lifted[0].time_s:.2f} s from clock start")]


def tell_flared(shifts: Sequence[Shift], engine: EngineSpeed) -> list[Finding]:
    """Say where the old gear of a converter's box had let go before the next one held.

    Parameters
    ----------
    shifts : sequence of Shift
        Named.
    engine : EngineSpeed
        Noise out.

    Returns
    -------
    list of Finding
        One for all of them.
    """
    flared = []
    for shift in shifts:
        between = (engine.true_time_s > shift.time_s) & (engine.true_time_s < shift.end_s)
        if shift.kind is not ShiftKind.CONVERTER or isinstance(shift.rpm_before, Unknown) or not between.any():
            continue
        highest = float(engine.rpm[between].max())
        if highest > (1 + OVER_REV) * float(engine.at(shift.time_s)):
            flared.append((shift, highest))
    if not flared:
        return []
    which = ", ".join(f"{one.from_gear}-{one.to_gear} up to {highest:.0f} rpm" for one, highest in flared)
    text = (
        f"The engine flared in shift {which}: the old gear had let go before the next one held, and nothing pulled "
        "meanwhile. Look at line pressure and the clutch packs."
    )
    return [Finding("shift-flared", "caution", text, f"{flared[0][0].time_s:.2f} s from clock start")]


def _was_missed(shift: Shift, most_s: float, engine: EngineSpeed, *, like_others: bool) -> bool:
    """Too long, or held too high, for a gear that went in at once; and the engine was loose.

    Under throttle it flares then, without it it sinks below where the next gear takes it. One that took long and did
    neither was drawn down by the next gear through a clutch or tires that slipped. A foot that lifts in every shift and
    took no longer than in the others let the clutch go before the throttle was shut: spinning tires leap up then. So
    does one that stays down in most shifts, clutch open: the engine flares in all of them, and a flare says nothing.
    Where noise took most of the engine's samples between, neither how long it took nor how high it went was seen.
    """
    between = (engine.true_time_s > shift.time_s) & (engine.true_time_s < shift.end_s)
    if shift.duration_s < MISSED_S and between.any() and float(np.mean(engine.noisy[between])) > MOST_NOISY:
        return False
    seen = not isinstance(shift.rpm_before, Unknown) and bool(between.any())
    before = float("inf") if isinstance(shift.rpm_before, Unknown) else shift.rpm_before.value
    flare = engine.rpm[between] / before - 1.0
    if shift.duration_s > most_s:
        sunk = bool(between.any()) and engine.rpm[between].min() < (1 - LET_LOOSE) * engine.rpm[between][-1]
        return not seen or sunk or bool(flare.max() > LET_LOOSE)
    if not seen or like_others or shift.duration_s < OVER_REV_S:
        return False
    held_s = float(np.count_nonzero(flare > FLARED)) * engine.step_s
    return bool(flare.max() > OVER_REV) or held_s > FLARED_S


def _pulled_on(shift: Shift) -> bool:
    """Whether the car lost no speed to the shift, whatever its engine did."""
    lost_mps = known(shift.speed_lost_mps)
    return lost_mps is not None and lost_mps < LOSES_MPS2 * shift.duration_s


def _off_the_limiter(shift: Shift, limiter: Sequence[Interruption]) -> bool:
    return any(held.start_s < shift.time_s < held.end_s + LIMITER_BEFORE_S for held in limiter)


def _was_short(shift: Shift, usual_rpm: float) -> bool:
    return not isinstance(shift.rpm_before, Unknown) and shift.rpm_before.value < (1 - SHORT) * usual_rpm


def _lifted(shift: Shift, traces: Traces) -> bool:
    channel = traces.get("throttle")
    if channel is None:
        return False
    known = channel.known
    before = known.within(shift.time_s - 0.3, shift.time_s - 0.02).values
    inside = known.within(shift.time_s, shift.end_s + 0.05).values
    return bool(before.size and inside.size and inside.min() < LIFTED * np.median(before))
