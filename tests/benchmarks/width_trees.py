"""Rules of a calibration, found from answers: where a plus-minus must be wider, and where it may be narrower.

A figure's answers are parted first by what its mode is (slip or none, what speed rests on; converter or clutch), which
nothing chooses. Within a mode a small tree parts them by evidence (`passband.analysis.widths.evidence`), of which each
figure is asked what bears on it (`ASKED_FOR`). Of all cuts the one is taken that spares most, if it spares clearly,
and so on. What a cut spares is measured on cases that set none of its factors, by the pinball loss at 95 % of log
scores: it falls as widths become narrower and rises more as errors leave them. Trees are grown on a third of
the cases, and the factors of a parted mode are made of the others' answers: so choosing does not spoil what they
promise.

A factor is split conformal: of n scores (error over half-width) the ceil((n + 1) 0.95)-th. It is no less than what
holds 90 % of any one source of runs (usual sensors, wide ones, the independent simulator, the paddock). Below 1 it goes
only where every source has cases enough, to what holds 95 % of the worst of them, and never below a half: what our own
simulator alone shows to be too wide need not be so elsewhere. `AT_THE_PICKUP` says where it is less, and why.

Public: `Row`, `RuleRow`, `make_rules`, `score_of`, `SOURCES`, `MODES`, `ASKED_FOR`.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passband.analysis.widths.evidence import POWERS, WORDS
from passband.analysis.widths.rules import BELOW, FROM, IS, IS_NOT, Condition

Floats = npt.NDArray[np.float64]
Picks = npt.NDArray[np.bool_]
Row = dict[str, Any]
"""An answer: figure, case, source, error, plus-minus, its part of facts, what is seen."""
SOURCES = ("usual", "wide", "independent", "paddock")
"""Runs of our own simulator with usual sensors, with the wide set; of the independent one; of the paddock."""
LEVEL, LEAST_HELD = 0.95, 0.90
"""What a plus-minus says, and what it must hold of each source. [-]"""
LEAST_CASES, LEAST_OF_SOURCE, LEAST_TO_GROW, GROWN_OF_SOURCE = 39, 20, 20, 6
"""The fewest cases of which one wrong value sets no factor, (39 + 1) 0.95 being 38; the fewest of each source that may
show a width to be too wide, its 95 % being at least the second of so many; the fewest on either side of a cut while a
tree is grown, and of each source there."""
WIDEST, NARROWEST = 6.0, 0.5
"""No width becomes more than six times what the method found: beyond that the value is wrong, and the table does not
stand for it; none less than half. [-]"""
GROWS, DEEPEST, FOLDS = 3, 3, 4
"""One in so many cases grows the trees, the others set factors, which take more; so many cuts lie one in another; so
many parts of the growing cases are held out in turn."""
SPARES, SIGMAS = 0.004, 2.0
"""A cut must spare so much, and so many of its own standard deviations: 0.004 is a tenth of the half-width off
eight in ten answers (0.05 x 0.1 x 0.8). [log], [-]"""
AT_THE_PICKUP = ("rpm_after", "rpm_drop")
TOLD_APART = ("usual", "independent", "paddock")
"""Where no two-step shows how slow the pick-up is, no log tells it for sure. What would hold 90 % of such runs of our
own wide set, 2.4 to 2.7 times as wide, makes those of other simulators that need 0.9 to 1.0 six to ten median errors
wide: a missing swing is a slow pick-up's there, and elsewhere as often shafts that do not ring. Factors hold 90 % of
those named, which holds 90 % of the wide set too where the lag shows."""
NARROWER = 0.05
"""By so much, in log and in the mean, the factors of parted answers must then be narrower than the one of them all."""
CUTS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
"""Numbers are cut at these shares of the growing cases' answers. [-]"""
MODES: dict[str, tuple[str, ...]] = {
    "clock_start": ("slip", "basis"), "splits": ("slip", "basis"), "traps": ("slip", "basis"),
    "average_w": ("slip", "basis"), "average_pulling_w": ("slip", "basis"), "average_wheel_w": ("slip", "basis"),
    "peak_w": ("slip", "basis"), "rpm_at_launch": ("drive",), "rpm_lowest": ("drive",), "shift_start": ("drive",),
    "rpm_before": ("drive",), "rpm_after": ("drive",), "rpm_drop": ("drive",), "clock_offset": (), "clock_rate": (),
}  # fmt: skip
"""By figure, what parts its answers before anything is chosen."""
OF_THE_SPEED = ("felt", "gps_hz", "wheel_hz", "tooth_way_m", "half_width")
"""How often its sensors tell something, whether teeth are counted, and how wide the fit itself thinks it is."""
OF_THE_START = (*OF_THE_SPEED, "rise_s", "pull_mps2", "rollout_s", "launch_slip", "start_open_s")
"""Besides, how sharply the car leaves: a filter smears a sharp start, and few teeth hide it."""
OF_THE_LAUNCH = (
    "engine_hz", "lag_shown", "felt", "gps_hz", "tooth_way_m", "hold_rpm", "rise_s", "rollout_s", "half_width",
)  # fmt: skip
"""How often engine speed is logged, how steady it is held, and what shows when the car moved."""
OF_THE_SHIFT = (
    "engine_hz", "lag_shown", "dip", "swing_back", "pickup_lag_s", "usual_shift_s", "shift_s", "shift_kind",
    "shift_open_s", "drop_share", "device_share", "half_width",
)  # fmt: skip
"""How often engine speed is logged, whether its lag is measured, what the swing about the next gear's speed tells of a
slow pick-up, how quick and how far the engine falls, what kind of shift it is, and how well its start is known."""
OF_POWER = ("drive", *OF_THE_SPEED, "rise_s", "launch_slip", "usual_shift_s", "engine_hz")
"""What the speed rests on, what the tires and the shifts take."""
ASKED_FOR: dict[str, tuple[str, ...]] = {
    "clock_start": OF_THE_START, "splits": (*OF_THE_START, "mark_ft"), "traps": (*OF_THE_START, "mark_ft"),
    "average_w": OF_POWER, "average_pulling_w": OF_POWER, "average_wheel_w": OF_POWER, "peak_w": OF_POWER,
    "rpm_at_launch": OF_THE_LAUNCH, "rpm_lowest": (*OF_THE_LAUNCH, "dip", "swing_back", "pickup_lag_s", "launch_slip"),
    "shift_start": OF_THE_SHIFT, "rpm_before": OF_THE_SHIFT, "rpm_after": OF_THE_SHIFT, "rpm_drop": OF_THE_SHIFT,
    "clock_offset": ("clock", "engine_hz", "gps_hz", "half_width"), "clock_rate": ("clock", "gps_hz", "half_width"),
}  # fmt: skip
"""By figure, the evidence that bears on it. What tells simulators or their settings apart and has no bearing on the
error, as the noise of engine speed, is not asked for."""
LEAST_SCORE = 0.25
"""Scores below count as that: a width is not made so narrow. [-]"""


@dataclass(frozen=True, slots=True)
class RuleRow:
    """A rule as the table writes it."""

    figure: str
    """One of the figures that the table knows."""
    where: tuple[str, ...]
    """Its conditions; none in the last rule of a figure, which holds wherever no other does."""
    factor: float
    """To multiply by. [-]"""
    cases: int
    """Simulated cases that it rests on."""
    answers: int
    """Answers of theirs."""


@dataclass(frozen=True, slots=True)
class _Answers:
    """Answers of one figure, column by column, each of shape (n,)."""

    score: Floats
    """Error over half-width. [-]"""
    source: npt.NDArray[np.str_]
    """One of `SOURCES`."""
    case: npt.NDArray[np.int64]
    """Number of the case."""
    drawn: npt.NDArray[np.int64]
    """Of the case, as good as drawn by lot."""
    seen: dict[str, npt.NDArray[Any]]
    """By name of the evidence."""
    figure: str
    """Whose they are."""

    def of(self, picked: Picks | npt.NDArray[np.intp]) -> _Answers:
        """Some of them."""
        seen = {name: values[picked] for name, values in self.seen.items()}
        columns = {name: getattr(self, name)[picked] for name in ("score", "source", "case", "drawn")}
        return replace(self, seen=seen, **columns)

    def of_source(self, name: str) -> _Answers:
        """Those of one of `SOURCES`."""
        return self.of(self.source == name)

    def cases(self) -> int:
        """How many cases they are of."""
        return int(np.unique(self.case).size)

    def where(self, condition: Condition) -> Picks:
        """Those for which it holds."""
        shown = self.seen[condition.evidence]
        if condition.relation in (IS, IS_NOT):
            return np.asarray((shown == condition.value) == (condition.relation == IS))
        return np.asarray((shown < condition.value) == (condition.relation == BELOW))


def score_of(row: Row) -> float:
    """How often its own half-width of sensors and method an error is, over what facts explain; of a power the whole."""
    facts = 0.0 if row["figure"] in POWERS else row["facts"]
    of_method = math.sqrt(max(row["plus_minus"] ** 2 - facts**2, 0.0))
    unexplained = math.sqrt(max(row["error"] ** 2 - facts**2, 0.0))
    return unexplained / of_method if of_method > 0.0 else float(unexplained > 0.0) * WIDEST


def make_rules(rows: Sequence[Row], figures: Sequence[str]) -> list[RuleRow]:
    """The rules of some figures; of each the last holds always."""
    rules: list[RuleRow] = []
    for figure in figures:
        own = [row for row in rows if row["figure"] == figure]
        if not own:
            continue
        answers = _columns(own, {*ASKED_FOR[figure], *MODES[figure]})
        if answers.cases() < LEAST_CASES:
            continue
        found = [leaf for mode, of_mode in _modes(answers, MODES[figure], ()) for leaf in _leaves(mode, of_mode)]
        rules += [_rule(figure, conditions, leaf) for conditions, leaf in found]
        if not found or found[-1][0]:
            rules.append(_rule(figure, (), answers, narrow=False))
    return rules


def _columns(rows: Sequence[Row], evidence: Iterable[str]) -> _Answers:
    names = sorted({row["case"] for row in rows})
    number = {name: place for place, name in enumerate(names)}
    lots = {name: int(hashlib.sha256(name.encode()).hexdigest()[:8], 16) for name in names}
    seen = {name: np.array([row["seen"][name] for row in rows]) for name in sorted(evidence)}
    return _Answers(
        np.clip([score_of(row) for row in rows], LEAST_SCORE, 2.0 * WIDEST),
        np.array([row["source"] for row in rows]),
        np.array([number[row["case"]] for row in rows]),
        np.array([lots[row["case"]] for row in rows]),
        seen,
        rows[0]["figure"],
    )


def _modes(
    answers: _Answers, names: Sequence[str], found: tuple[Condition, ...]
) -> Iterator[tuple[tuple[Condition, ...], _Answers]]:
    """Answers by mode, those of modes of too few cases left to the rule that always holds."""
    if not names:
        yield found, answers
        return
    for word in sorted(set(answers.seen[names[0]].tolist())):
        condition = Condition(names[0], IS, word)
        some = answers.of(answers.where(condition))
        if some.cases() >= LEAST_CASES:
            yield from _modes(some, names[1:], (*found, condition))


def _leaves(mode: tuple[Condition, ...], answers: _Answers) -> list[tuple[tuple[Condition, ...], _Answers]]:
    """A mode's leaves; one that nothing parts keeps all its answers, for nothing was chosen by them."""
    growing = answers.drawn % GROWS == 0
    found = _grown(answers.of(growing), answers.of(~growing), DEEPEST, ())
    if len(found) == 1:
        return [(mode, answers)]
    return [((*mode, *conditions), leaf) for conditions, leaf in found]


def _grown(
    growing: _Answers, setting: _Answers, depth: int, path: tuple[Condition, ...]
) -> list[tuple[tuple[Condition, ...], _Answers]]:
    best: tuple[float, Condition] | None = None
    for condition in _cuts(growing) if depth else ():
        inside, of_factors = growing.where(condition), setting.where(condition)
        if min(growing.of(inside).cases(), growing.of(~inside).cases()) < LEAST_TO_GROW:
            continue
        if min(setting.of(of_factors).cases(), setting.of(~of_factors).cases()) < LEAST_CASES:
            continue
        spared = _spared(growing, inside)
        if spared > (best[0] if best else 0.0):
            best = (spared, condition)
    if best is None:
        return [(path, setting)]
    condition, against = best[1], _against(best[1])
    inside, of_factors = growing.where(condition), setting.where(condition)
    leaves = [
        *_grown(growing.of(inside), setting.of(of_factors), depth - 1, (*path, condition)),
        *_grown(growing.of(~inside), setting.of(~of_factors), depth - 1, (*path, against)),
    ]
    of_leaves = sum(leaf.score.size * math.log(_held(leaf)) for _, leaf in leaves) / setting.score.size
    return leaves if of_leaves < math.log(_held(setting)) - NARROWER else [(path, setting)]


def _against(condition: Condition) -> Condition:
    return Condition(condition.evidence, {IS: IS_NOT, BELOW: FROM}[condition.relation], condition.value)


def _cuts(answers: _Answers) -> Iterator[Condition]:
    """Where answers may be parted."""
    for name, values in answers.seen.items():
        if name in WORDS:
            words = sorted(set(values.tolist()))
            yield from (Condition(name, IS, word) for word in (words if len(words) > 2 else words[:1]))
        else:
            for place in sorted({float(f"{cut:.2g}") for cut in np.quantile(values, CUTS)}):
                yield Condition(name, BELOW, place)


def _spared(answers: _Answers, inside: Picks) -> float:
    """How much a cut spares of the pinball loss of held-out log scores, 0 where it does not spare clearly."""
    fold = answers.drawn // GROWS % FOLDS
    logs = np.log(answers.score)
    spared = np.zeros(logs.size)
    for held in range(FOLDS):
        out = fold == held
        if not out.any() or not (inside & ~out).any() or not (~inside & ~out).any():
            return 0.0
        spared[out] = _pinball(logs[out] - math.log(_factor(answers.of(~out), of_source=GROWN_OF_SOURCE)))
        for side in (inside, ~inside):
            factor = _factor(answers.of(side & ~out), of_source=GROWN_OF_SOURCE)
            spared[out & side] -= _pinball(logs[out & side] - math.log(factor))
    mean = float(spared.mean())
    by_case = np.bincount(answers.case, spared - mean)
    clear = SIGMAS * math.sqrt(float(np.sum(by_case**2))) / logs.size
    return mean if mean > max(SPARES, clear) else 0.0


def _pinball(over: Floats) -> Floats:
    return np.where(over > 0.0, LEVEL * over, (LEVEL - 1.0) * over)


def _rule(figure: str, conditions: Sequence[Condition], answers: _Answers, *, narrow: bool = True) -> RuleRow:
    where = tuple(map(str, _told_once(conditions)))
    found = _factor(answers, narrow=narrow)
    return RuleRow(
        figure, where, round(math.ceil(100.0 * found - 1e-9) / 100.0, 2), answers.cases(), answers.score.size
    )


def _told_once(conditions: Sequence[Condition]) -> list[Condition]:
    """Without those that a later one says more sharply."""
    kept: dict[tuple[str, str], Condition] = {}
    for one in conditions:
        key = (one.evidence, one.relation if one.relation != IS_NOT else str(one.value))
        kept[key] = one
    return list(kept.values())


def _factor(answers: _Answers, *, narrow: bool = True, of_source: int = LEAST_OF_SOURCE) -> float:
    """The factor of some answers, as the head of this file says."""
    found = _held(answers, narrow=narrow, of_source=of_source)
    if answers.figure not in AT_THE_PICKUP:
        return found
    told = [own for own in map(answers.of_source, TOLD_APART) if own.cases() >= of_source]
    return min(found, max([1.0, *(_quantile(own.score, LEAST_HELD) for own in told)]))


def _held(answers: _Answers, *, narrow: bool = True, of_source: int = LEAST_OF_SOURCE) -> float:
    """What holds as many as a plus-minus says, however wide easy runs become by it."""
    sources = [answers.of_source(name) for name in SOURCES]
    enough = [own.cases() >= of_source for own in sources]
    found = _quantile(answers.score, LEVEL)
    if found < 1.0:
        worst = max(_quantile(own.score, LEVEL) for own in sources if own.score.size)
        narrow = narrow and all(enough) and answers.figure not in POWERS
        found = max(found, min(worst, 1.0)) if narrow else 1.0
    held = [_quantile(own.score, LEAST_HELD) for own, many in zip(sources, enough, strict=True) if many]
    return min(max(found, NARROWEST, *held), WIDEST)


def _quantile(scores: Floats, level: float) -> float:
    """Split conformal: of n the ceil((n + 1) level)-th."""
    place = min(math.ceil((scores.size + 1) * level), scores.size) - 1
    return float(np.partition(scores, place)[place])
