"""Holds the reviews of a simulated case against what truly happened.

Public: `hold_case`, `pair_shifts`, `NEVER_WRONG`, `GEAR_TIME`, `TROUBLE`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift
from passband.analysis.results.unknown import known
from tests.proving.cases import Answer, Case
from tests.proving.engine_scoring import LIMIT_VERDICTS, hold_engine
from tests.proving.scores import Score
from tests.proving.tolerances import CLOCK_START_S, DRIVEN, ENGINE, QUICK_S, SPLIT_S, TRAP_MPS, Means, means_of

SAME_SHIFT_S = 0.25
"""A shift told so near a true one is that one."""
AT_THE_LINE_S = 0.05
"""A shift begun so shortly before the line is asked for by nobody."""
LONG_SPIN_S = 0.25
"""Wheelspin longer than this must be told."""
CLUTCH_LOCKED_S = 0.06
"""The engine comes within the sensor's own error of its gear some hundredths of a second before it locks."""
SAME_SPIN_S = 0.2
"""Wheelspin told so near a true one is that one."""
RUNS, FOUND, REAL, GEARS, MISSED, SPIN, SPUN, BURNOUT, TROUBLE, REFUSED, CALM, VERDICT, GEAR_TIME, NOT_MISSED = (
    "number of runs", "shifts found", "shifts not invented", "gears of shifts", "missed shifts named",
    "long wheelspin told", "wheelspin not invented", "burnouts told", "troubles told", "refused what is no run",
    "no stop without a trouble",
    LIMIT_VERDICTS, "time in the right gear", "shifts not named missed that were not",
)  # fmt: skip
NEVER_WRONG = (RUNS, FOUND, REAL, GEARS, MISSED, NOT_MISSED, SPIN, SPUN, BURNOUT, REFUSED, CALM, VERDICT)
"""Counts in which no miss is taken lightly."""


def hold_case(score: Score, case: Case, answer: Answer) -> None:
    """Note every answer to a case."""
    truth, name = case.truth, case.name if answer.timed else f"{case.name} (no slip)"
    findings = [finding for review in answer.reviews for finding in review.findings]
    if truth["kind"] == "refuse":
        score.tell(REFUSED, name, bool(answer.refusal))
        return
    if truth["kind"] == "flag":
        score.tell(TROUBLE, name, _mentions(truth["mention"], [f for f in findings if f.level != "note"], answer))
        return
    score.tell(RUNS, name, len(answer.reviews) == len(truth["runs"]))
    if truth["mention_any"]:
        score.tell(TROUBLE, name, _mentions(truth["mention_any"], findings, answer))
    if not truth["trouble"]:
        score.tell(CALM, name, all(finding.level != "stop" for finding in findings))
    score.unknowable = tuple(truth["untrusted"]) + (() if answer.timed else tuple(truth["untrusted_no_slip"]))
    means = means_of(truth, with_slip=answer.timed)
    ends = truth["runs_cut_at_ecu_end"] or [None] * len(truth["runs"])
    for place, (review, happened, cut) in enumerate(zip(answer.reviews, truth["runs"], ends, strict=False)):
        _hold_run(score, name, review, happened, truth, means)
        margins = truth["margins"] if place == 0 else {}  # the truth tells them of the first run
        hold_engine(score, name, review, happened | (cut or {}), margins, means)
    score.unknowable = ()


def _mentions(words: list[str], findings: list[Finding], answer: Answer) -> bool:
    told = " ".join([answer.refusal, *(finding.text for finding in findings)]).lower()
    return any(word in told for word in words)


def _hold_run(
    score: Score, name: str, review: Review, happened: dict[str, Any], truth: dict[str, Any], means: Means
) -> None:
    _hold_window(score, name, review, happened, means)
    _hold_distance(score, name, review, happened, means)
    _hold_launch(score, name, review, happened)
    _hold_shifts(score, name, review, happened, means)
    _hold_gears(score, name, review, happened)
    _hold_ratios(score, name, review, truth, means)
    _hold_other_events(score, name, review, happened, truth)
    _hold_clock(score, name, review, truth)


def _hold_window(score: Score, name: str, review: Review, happened: dict[str, Any], means: Means) -> None:
    window, launch = review.window, happened["launch"]
    begins = (launch["clutch_release"], launch["first_motion"] + 0.02)  # between the foot and a car seen to move
    score.ask("launch, s", name, window.log_launch_s, begins, 0.04)
    start = Estimate(window.log_clock_start_s, window.clock_start_plus_minus_s)
    score.ask(f"clock start ({means.timed}), s", name, start, happened["clock_start"], CLOCK_START_S[means.timed])
    distance = known(review.distance)
    last = distance.splits[-1].time_s.plus_minus if distance and distance.splits else 0.0
    end: Estimate | None = None
    if window.log_finish_s is not None:
        end = Estimate(window.log_finish_s, window.clock_start_plus_minus_s + last)
    near = 0.15 if happened["aborted"] or means.ground in (DRIVEN, ENGINE) else 0.03
    score.ask("finish or lift, s", name, end, happened["end_of_run"], near)


def _hold_distance(score: Score, name: str, review: Review, happened: dict[str, Any], means: Means) -> None:
    distance = known(review.distance)
    splits = {split.at_ft: split.time_s for split in distance.splits} if distance else {}
    for mark, time in happened["splits"].items():
        given = splits.get(int(mark.removesuffix("ft")))
        score.ask(f"splits ({means.timed}), s", f"{name} {mark}", given, time, SPLIT_S[means.timed])
    traps = {trap.at_ft: trap.speed_mps for trap in distance.traps} if distance else {}
    for mark, speed in happened["trap_speeds"].items():
        given = traps.get(int(mark.removesuffix("ft")))
        score.ask(f"trap speeds ({means.timed}), m/s", f"{name} {mark}", given, speed, TRAP_MPS[means.timed])


def _hold_launch(score: Score, name: str, review: Review, happened: dict[str, Any]) -> None:
    launch, true = known(review.launch), happened["launch"]
    score.ask("RPM at launch", name, launch and launch.rpm_at_launch, true["rpm_at_release"], 60.0)
    score.ask("lowest RPM of the launch", name, launch and launch.rpm_lowest, true["rpm_min_after_release"], 40.0)
    if true["clutch_locked"] is not None:
        locked = known(launch.clutch_locked_s) if launch else None
        if locked is None and any(found.code == "clutch-lock-hidden" for found in review.findings):
            return  # told, not guessed: no sensor is on tires that spin
        told = None if locked is None else review.window.log_clock_start_s + locked
        score.ask("clutch locked, s", name, told, true["clutch_locked"], CLUTCH_LOCKED_S)


def pair_shifts(review: Review, happened: dict[str, Any]) -> list[tuple[Shift, dict[str, Any]]]:
    """Each true shift with the one given nearest it, at most a quarter of a second away."""
    start, free, pairs = review.window.log_clock_start_s, list(review.shifts), []
    for true in _asked_shifts(happened):
        near = min(free, key=lambda shift: abs(start + shift.time_s - true["time_start"]), default=None)
        if near is not None and abs(start + near.time_s - true["time_start"]) <= SAME_SHIFT_S:
            free.remove(near)
            pairs.append((near, true))
    return pairs


def _asked_shifts(happened: dict[str, Any]) -> list[dict[str, Any]]:
    """All but one begun in the last moment before the line, which only the log beyond it could show."""
    return [shift for shift in happened["shifts"] if shift["time_start"] < happened["end_of_run"] - AT_THE_LINE_S]


def _hold_shifts(score: Score, name: str, review: Review, happened: dict[str, Any], means: Means) -> None:
    pairs = pair_shifts(review, happened)
    score.tell(FOUND, name, len(pairs), len(_asked_shifts(happened)))
    last = happened["end_of_run"] - AT_THE_LINE_S - review.window.log_clock_start_s
    real = [shift for shift, _ in pairs]
    asked = _asked_shifts(happened)
    unasked = [s["time_start"] - review.window.log_clock_start_s for s in happened["shifts"] if s not in asked]
    invented = [
        shift
        for shift in review.shifts
        if shift not in real and shift.time_s < last and all(abs(shift.time_s - at) > SAME_SHIFT_S for at in unasked)
    ]
    score.tell(REAL, name, len(real), len(real) + len(invented))
    quick = min((shift["duration_s"] for shift in happened["shifts"]), default=1.0) < QUICK_S
    for shift, true in pairs:
        _hold_shift(score, f"{name} {true['from']}-{true['to']}", shift, true, review, means, quick=quick)


def _hold_shift(
    score: Score, place: str, shift: Shift, true: dict[str, Any], review: Review, means: Means, *, quick: bool
) -> None:
    start = review.window.log_clock_start_s
    began = Estimate(start + shift.time_s, shift.time_plus_minus_s)
    score.ask("shift start, s", place, began, true["time_start"], means.sample_s)
    restored = true["torque_restored"] or true["time_end"]
    score.ask("shift end, s", place, start + shift.end_s, (true["time_end"], restored), 2 * means.sample_s + 0.02)
    before, after = true["rpm_before"], means.rpm_after(true, quick=quick)
    score.ask("RPM before", place, shift.rpm_before, (before, true["rpm_before_max"]), 0.004 * before + 10)
    score.ask("RPM after", place, shift.rpm_after, true["rpm_after"], after)
    drop = (true["rpm_drop"], true["rpm_drop_from_max"])
    score.ask("RPM drop", place, shift.rpm_drop, drop, after + 0.004 * before)
    expected = (true["expected_rpm_after"], true["rpm_before_times_step"])
    score.ask("expected RPM after", place, shift.expected_rpm_after, expected, means.expected_rpm(true))
    score.tell(GEARS, place, (shift.from_gear, shift.to_gear) == (true["from"], true["to"]))
    score.tell(MISSED if true["missed"] else NOT_MISSED, place, (shift.kind == "missed") == true["missed"])


def _hold_gears(score: Score, name: str, review: Review, happened: dict[str, Any]) -> None:
    """Every 10 ms between the shifts."""
    time, gear = np.array(happened["arrays"]["time"]), np.array(happened["arrays"]["gear"])
    asked = (gear > 0) & (time >= happened["clock_start"]) & (time <= happened["end_of_run"])
    for shift in happened["shifts"]:
        asked &= (time < shift["time_start"] - 0.03) | (time > shift["time_end"] + 0.05)
    at, right = time[asked] - review.window.log_clock_start_s, np.zeros(int(asked.sum()), dtype=bool)
    gears = known(review.gears)
    for told in gears.intervals if gears else ():
        right |= (at >= told.start_s) & (at <= told.end_s) & (gear[asked] == told.gear)
    score.tell(GEAR_TIME, name, int(right.sum()), at.size)


def _hold_ratios(score: Score, name: str, review: Review, truth: dict[str, Any], means: Means) -> None:
    """Ratios that had to be found; the tire's slip and growth, some 3 % together, are in them."""
    if means.ratios_given:
        return
    gears = known(review.gears)
    found = gears.overall_ratios if gears else ()
    for place, ratio in enumerate(truth["car_true"]["gears"]):
        true = ratio * truth["car_true"]["final"]
        given = found[place] if place < len(found) else None
        score.ask("overall ratios found", f"{name} gear {place + 1}", given, true, 0.03 * true)


def _hold_other_events(
    score: Score, name: str, review: Review, happened: dict[str, Any], truth: dict[str, Any]
) -> None:
    start = review.window.log_clock_start_s
    distance = known(review.distance)
    spins = distance.wheelspin if distance else ()
    for began, ended in happened["wheelspin"]:
        if ended - began > LONG_SPIN_S:
            met = any(start + spin.start_s < ended and start + spin.end_s > began for spin in spins)
            score.tell(SPIN, f"{name} {began:.2f} s", met)
    for spin in spins:
        near = (start + spin.start_s - SAME_SPIN_S, start + spin.end_s + SAME_SPIN_S)
        met = any(near[0] < ended and near[1] > began for began, ended in happened["wheelspin"])
        score.tell(SPUN, f"{name} {spin.start_s:.2f} s", met)
    burnouts = [event for event in review.window.decoys if event.kind == "burnout"]
    for true in truth["decoys"]:
        if true["kind"] == "burnout" and true["inside_ecu_log"]:
            met = any(b.log_start_s < true["time_end"] and b.log_end_s > true["time_start"] for b in burnouts)
            score.tell(BURNOUT, name, met)


def _hold_clock(score: Score, name: str, review: Review, truth: dict[str, Any]) -> None:
    clock = truth["dash_clock"]
    if clock is None:
        return
    match = next((match for match in review.clocks if match.log == "dash.csv"), None)
    offset = match and match.offset_s
    either = (clock["offset_s"], clock["apparent_offset_by_rpm_s"])  # a copy of engine speed comes late to the dash
    score.ask("dash clock offset, s", name, offset, either, 0.012)
    score.ask("dash clock offset but for the copy's delay, s", name, offset, clock["offset_s"], 0.03)
    score.ask("dash clock rate, ppm", name, match and match.rate_ppm, clock["rate_ppm"], 300.0)
