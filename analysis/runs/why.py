"""Why a run went as it went: what happened in it and against other runs, the dearest first, each with its cost.

Public: `Cause`, `Against`, `find_causes`, `cause_words`, `against_words`, `since_words`, `launch_beside`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from passband.analysis.quantities import FOOT_M
from passband.analysis.results.boost import DipCause
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.results.window import FINISHES, Outcome
from passband.analysis.runs.cost import CostPart, PairCosts
from passband.analysis.runs.faults import leading_number

CauseKind = Literal["shift", "spin", "lift", "limiter", "boost"]
RANK: dict[CauseKind, int] = {"shift": 0, "spin": 1, "lift": 2, "limiter": 3, "boost": 4}
"""In which order causes stand whose cost is not known."""
WRONG_SHIFTS = {
    ShiftKind.MISSED: "Missed shift",
    ShiftKind.DOUBLE: "Skipped gear",
    ShiftKind.LIFTED: "Lift in shift",
    ShiftKind.LATE: "Late shift",
}
"""Kinds of shifts that say why; a short one is a choice."""
SPUN_S = 0.1
"""Wheelspin shorter than this in all is no cause: most launches show as much. No source. [s]"""
HELD_S = 0.3
"""A throttle that is open this soon after the clock's start was not held back at the launch; chosen, no source. [s]"""
IN_PART = "lifted in part"
_LONG = re.compile(r"for (\d+\.\d+) s")
LIFT_BEHIND_M = 30.0
"""A lift this near behind a mark may be one behind the finish line: half a second at 60 m/s; chosen, no source. [m]"""
WORTH_S = 0.01
"""A part of the track that made less than this of a difference is not named: the last digit that boards show. [s]"""
QUARTER_FT = 1320
"""The finish that needs no word. [ft]"""
PARTS_MOST = 3
"""Most parts of the track named of a pair. [-]"""


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that happened in a run."""

    kind: CauseKind
    """What it was."""
    text: str
    """In a few words, without its cost: ``Missed shift 2-3 at 4.90 s``."""
    start_s: float | None
    """When it began; None where it has no moment. [s, ET]"""
    cost_s: float | None
    """What it made of the elapsed time, beyond what the run's other shifts did; None where nothing says. [s]"""
    plus_minus_s: float = 0.0
    """95 % half-width of it. [s]"""


@dataclass(frozen=True, slots=True)
class Against:
    """A run held against another."""

    name: str
    """What the other is to a reader: ``Q1, the best fair run``."""
    costs: PairCosts
    """The other run as the base; positive costs were this run's loss."""
    launch: str = ""
    """What stands beside the launch's part, as `launch_beside` words it."""


def find_causes(review: Review) -> tuple[Cause, ...]:
    """What happened in a run that its elapsed time shows or may show, the dearest first.

    Parameters
    ----------
    review : Review
        Of the run.

    Returns
    -------
    tuple of Cause
        Those with a known cost first, by cost; then shifts, wheelspin, lift, limiter, boost.

    Notes
    -----
    Only a wrong shift has a cost in a lone run: what its interruption cost at the finish, less the median of the run's
    sound shifts. For the rest, the launch among it, a second run must say (`against_words`): that the engine stood on
    its limiter or boost was lost says what happened, not what it cost.
    """
    causes = [*_shifts(review), *_spin(review), *_held(review), *_boost(review)]
    return tuple(sorted(causes, key=lambda one: (one.cost_s is None, -(one.cost_s or 0.0), RANK[one.kind])))


def cause_words(cause: Cause) -> str:
    """A cause and its cost as one sentence.

    Parameters
    ----------
    cause : Cause
        Any.

    Returns
    -------
    str
        ``Missed shift 2-3 at 4.90 s: cost 0.21 ±0.02 s beyond a sound shift.``
    """
    if cause.cost_s is None:
        return f"{cause.text}."
    return f"{cause.text}: cost {cause.cost_s:.2f} ±{max(cause.plus_minus_s, 0.01):.2f} s beyond a sound shift."


def against_words(pair: Against) -> str:
    """Where a run lost or gained against another, the dearest part first.

    Parameters
    ----------
    pair : Against
        Any.

    Returns
    -------
    str
        One sentence; parts whose cost is below its own plus-minus are left out.
    """
    apart = pair.costs.difference_s
    at = f"at {pair.costs.at_m / FOOT_M:,.0f} ft"
    if abs(apart.value) <= apart.plus_minus:
        head = f"Against {pair.name}: no difference {at} beyond {_within(apart)}"
    else:
        head = f"Against {pair.name}: {abs(apart.value):.3f} {_within(apart)} {_side(apart)} {at}"
    largest = _largest(pair)
    return f"{head}{'; ' if largest else ''}{', '.join(_part_words(one, pair) for one in largest)}."


def since_words(pair: Against) -> tuple[str, str]:
    """The same in as few words as a telephone's first screen wants: by how much in all, and which parts made it.

    Parameters
    ----------
    pair : Against
        Any.

    Returns
    -------
    (whole, parts)
        ``0.734 ±0.001 s quicker than E3, the run before`` and ``launch −0.19, gear 1 −0.16 s``, the parts without their
        plus-minus, which they all exceed; empty where none does.
    """
    apart = pair.costs.difference_s
    feet = round(pair.costs.at_m / FOOT_M)
    at = f" at {feet:,} ft" if feet != QUARTER_FT else ""
    if abs(apart.value) <= apart.plus_minus:
        whole = f"As quick{at} as {pair.name}, within {_within(apart)}"
    else:
        whole = f"{abs(apart.value):.3f} {_within(apart)} {_side(apart)}{at} than {pair.name}"
    parts = ", ".join(f"{one.name} {_signed(one.cost_s.value)}" for one in _largest(pair))
    return whole, f"{parts} s" if parts else ""


def _within(apart: Estimate) -> str:
    return f"±{max(apart.plus_minus, 0.001):.3f} s"


def _side(apart: Estimate) -> str:
    return "slower" if apart.value > 0 else "quicker"


def _largest(pair: Against) -> list[CostPart]:
    sure = [one for one in pair.costs.parts if abs(one.cost_s.value) > max(one.cost_s.plus_minus, WORTH_S)]
    return sorted(sure, key=lambda one: -abs(one.cost_s.value))[:PARTS_MOST]


def _signed(seconds: float) -> str:
    return f"{seconds:+.2f}".replace("-", "\N{MINUS SIGN}")


def _part_words(part: CostPart, pair: Against) -> str:
    cost = f"{_signed(part.cost_s.value)} ±{max(part.cost_s.plus_minus, 0.01):.2f} s"
    beside = f" ({pair.launch})" if part.kind == "launch" and pair.launch else ""
    return f"{part.name} {cost}{beside}"


def launch_beside(review: Review, base: Review) -> str:
    """How far the engine fell at the launch, in this run and in the one it is held against.

    Parameters
    ----------
    review, base : Review
        The run, and the other.

    Returns
    -------
    str
        ``engine down to 1,997 rpm, 4,650 there``; empty where either is not known or they do not differ.
    """
    lows = [known(launch.rpm_lowest) if (launch := known(one.launch)) is not None else None for one in (review, base)]
    here, there = lows
    if here is None or there is None:
        return ""
    apart = difference(here, there)
    return (
        f"engine down to {here.value:,.0f} rpm, {there.value:,.0f} there" if abs(apart.value) > apart.plus_minus else ""
    )


def _shifts(review: Review) -> Iterator[Cause]:
    sound = [cost for one in review.shifts if one.kind not in WRONG_SHIFTS and (cost := known(one.cost_s)) is not None]
    usual_s = median(one.value for one in sound) if sound else None
    late = [one for one in review.shifts if one.kind is ShiftKind.LATE]
    if len(late) > 1:
        yield Cause("shift", _late_words(late), late[0].time_s, None)
    for shift in review.shifts:
        if shift.kind not in WRONG_SHIFTS or (shift in late and len(late) > 1):
            continue
        text = f"{WRONG_SHIFTS[shift.kind]} {shift.from_gear}-{shift.to_gear} at {shift.time_s:.2f} s{_over(shift)}"
        cost = known(shift.cost_s) if shift.kind is not ShiftKind.LATE else None
        extra = None if cost is None or usual_s is None else max(cost.value - usual_s, 0.0)
        half_width = cost.plus_minus if cost is not None else 0.0
        yield Cause("shift", text, shift.time_s, extra, half_width)


def _late_words(late: Sequence[Shift]) -> str:
    """Several late shifts in one sentence: which, and how far over the band they were made."""
    named = ", ".join(f"{one.from_gear}-{one.to_gear}" for one in late)
    margins = [known(one.margin_to_band_high_rpm) for one in late]
    over = sorted(-margin for margin in margins if margin is not None and margin < 0)
    if not over:
        return f"Late shifts {named}"
    least, most = f"{over[0]:,.0f}", f"{over[-1]:,.0f}"
    return f"Late shifts {named}, {least}{f' to {most}' if most != least else ''} rpm over the band"


def _over(shift: Shift) -> str:
    """How far over the band a late shift was made: why it is called late."""
    margin = known(shift.margin_to_band_high_rpm)
    if shift.kind is not ShiftKind.LATE or margin is None or margin >= 0:
        return ""
    return f", {-margin:,.0f} rpm over the band"


def _spin(review: Review) -> Iterator[Cause]:
    distance = known(review.distance)
    spun = [one for one in (distance.wheelspin if distance is not None else ()) if one.end_s > 0]
    long = sum(one.end_s - max(one.start_s, 0.0) for one in spun)
    if long >= SPUN_S:
        worst = max((one.peak_slip for one in spun if one.peak_slip is not None), default=None)
        start = max(spun[0].start_s, 0.0)
        how_much = "how much is not known" if worst is None else f"at worst {100 * worst:.0f} % slip"
        text = f"The tires spun for {long:.2f} s from {start:.2f} s, {how_much}"
        yield Cause("spin", text, start, None)


def _held(review: Review) -> Iterator[Cause]:
    for one in review.findings:
        start = leading_number(one.where)
        if one.code == "limiter-in-gear":
            at = f" at {start:.2f} s" if start is not None else ""
            yield Cause("limiter", f"{one.text.partition(':')[0]}{at}", start, None)
        elif one.code == "lift-in-gear" and (text := _lift_words(one.text, start)):
            yield Cause("lift", text, start, None)
    if review.window.outcome is Outcome.ABORTED:
        yield Cause("lift", f"The driver lifted for good before the finish{_behind_a_mark(review)}", None, None)


def _lift_words(text: str, start_s: float | None) -> str:
    """A lift in few words; one that began before the clock is how the launch was driven, and none if it ended there."""
    long = _LONG.search(text)
    long_s = float(long[1]) if long else 0.0
    lasting = f" for {long_s:.2f} s" if long else ""
    if start_s is not None and start_s < 0:
        until_s = start_s + long_s
        return f"The throttle was held back from the launch to {until_s:.2f} s" if until_s >= HELD_S else ""
    at = f" at {start_s:.2f} s" if start_s is not None else ""
    return f"The driver lifted{' in part' if IN_PART in text else ''}{lasting}{at}"


def _behind_a_mark(review: Review) -> str:
    """Where a lift came just behind a finish line that a strip may have: that line to ask for."""
    went_m = known(review.window.distance_m)
    for feet in sorted(FINISHES):
        if went_m is not None and 0.0 <= went_m - feet * FOOT_M <= LIFT_BEHIND_M:
            return f", {went_m / FOOT_M - feet:.0f} ft behind {feet:,} ft: if that is the finish line, tell it"
    return ""


def _boost(review: Review) -> Iterator[Cause]:
    boost = known(review.boost)
    if boost is None or boost.threshold_pa is None:
        return
    if isinstance(boost.first_reached_s, Unknown):
        yield Cause("boost", "Boost never reached its threshold", None, None)
        return
    lost = [dip for dip in boost.dips if dip.cause is DipCause.UNEXPLAINED]
    if lost:
        long = sum(dip.end_s - dip.start_s for dip in lost)
        text = f"Boost under its threshold for {long:.2f} s from {lost[0].start_s:.2f} s, no shift, lift or spin there"
        yield Cause("boost", text, lost[0].start_s, None)
