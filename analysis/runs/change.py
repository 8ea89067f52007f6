"""What a change did: runs before it against runs after it, with what few runs can prove.

Public: `GroupOfRuns`, `BothAirs`, `RunsNeeded`, `GroupChange`, `compare_groups`, `elapsed_time`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.results.estimate import CAR, DAY, DEVICE, Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.runs.cells import CellGrid, cells_of, read_cells
from passband.analysis.runs.change_in_dwell import DwellChange, compare_dwell
from passband.analysis.runs.change_in_power import (
    DAY_WIND,
    OF_AIR,
    PowerRatio,
    TopOverRest,
    compare_power,
    spread_of_power,
)
from passband.analysis.runs.change_in_shifts import ShiftChange, compare_shifts, tell_shift_points
from passband.analysis.runs.change_limits import DayWinds, tell_limits
from passband.analysis.runs.charge_changed import CHARGED, find_charge_change
from passband.analysis.runs.compared_run import ComparedRun
from passband.analysis.runs.fair_pairs import apart_of
from passband.analysis.runs.faults import USUAL_FAULTS, faults_of
from passband.analysis.runs.gear_winds import find_gear_winds, told_wind_w
from passband.analysis.runs.geared_unlike import GEARED, find_other_gearing
from passband.analysis.runs.own_air import MeasuredRun, learn_exponents
from passband.analysis.runs.same_air import (
    READINGS,
    AirExponents,
    AirRule,
    air_seen,
    elapsed_by_power,
    elapsed_by_wind,
    take_air_out,
)
from passband.analysis.runs.two_groups import TwoGroups
from passband.analysis.runs.weak_engines import find_weak_engines
from passband.analysis.statistics.groups import runs_to_tell, welch_difference

POWER_TO_TELL, ELAPSED_TO_TELL_S = 0.01, 0.010
"""What the number of runs needed is counted for. [-], [s]"""


@dataclass(frozen=True, slots=True)
class GroupOfRuns:
    """One side of a change."""

    group: str
    """Its name."""
    runs: tuple[str, ...]
    """Labels of all its runs."""
    clean: tuple[str, ...]
    """Labels of those without a fault found that is not usual here: elapsed time, average power and time in the band
    are theirs."""


@dataclass(frozen=True, slots=True)
class BothAirs:
    """A difference, after less before. SI."""

    raw: Estimate | None
    """As run."""
    same_air: Estimate | None
    """With the air taken out."""


@dataclass(frozen=True, slots=True)
class RunsNeeded:
    """How many runs each way would tell a difference, by the spread within the groups; None: more than a thousand."""

    power_1_percent: int | None
    """One per cent of power. [-]"""
    elapsed_10_ms: int | None
    """Ten milliseconds of elapsed time. [-]"""


@dataclass(frozen=True, slots=True)
class GroupChange:
    """Two groups of runs held against each other."""

    before: GroupOfRuns
    """Runs before the change."""
    after: GroupOfRuns
    """Runs after it."""
    power_ratio: tuple[PowerRatio, ...]
    """After over before by classes of engine speed, air taken out."""
    top_over_rest: Estimate | None
    """Ratio of power above `top_from_rpm` over that below it: what all cells share cancels. [-]"""
    top_from_rpm: float | None
    """Where the ratio above differs most surely from the ratio below. [rpm]"""
    rpm_after: tuple[ShiftChange, ...]
    """Engine speed after each shift."""
    elapsed_time_s: BothAirs
    """[s]"""
    average_w: BothAirs
    """At the flywheel. [W]"""
    time_in_band_s: BothAirs
    """[s]"""
    runs_needed: RunsNeeded
    """Each way, those already made among them."""
    findings: tuple[Finding, ...]
    """What must be known of it."""
    dwell: tuple[DwellChange, ...] = ()
    """Time at each engine speed, of clean runs to one finish."""


def compare_groups(
    before: Sequence[ComparedRun],
    after: Sequence[ComparedRun],
    *,
    names: tuple[str, str] = ("before", "after"),
    learnt: AirExponents | None = None,
) -> GroupChange:
    """Hold runs after a change against runs before it.

    Parameters
    ----------
    before, after : sequence of ComparedRun
        Runs of one car; one of each at least.
    names : (str, str)
        What the two groups are called.
    learnt : AirExponents, optional
        How the engine's power goes with the air, where more of its runs are known than these; else it is learnt of
        these, each against those of its own side and meeting, where they can show it.

    Returns
    -------
    GroupChange
        Figures that the runs do not show are None or empty.

    Raises
    ------
    ValueError
        If a group is empty.

    Notes
    -----
    Intervals are Welch's over the runs. A group of a single run has no spread: its own plus-minus stands in. Power is
    compared in cells that all runs have; each run's wind is taken out as far as its own gears show it.
    """
    if not before or not after:
        raise ValueError(f"a change needs runs on both sides, got {len(before)} and {len(after)}")
    groups = TwoGroups((*before, *after), len(before))
    weak = (*find_weak_engines(before), *find_weak_engines(after))
    faults = [(*faults_of(run.review), *filter(None, (down,))) for run, down in zip(groups.runs, weak, strict=True)]
    habits = _habits(faults, groups.before)
    unusual = [tuple(name for name in named if not name.startswith(habits)) for named in faults]
    clean = groups.only([not named for named in unusual])
    strong = groups.only([_shows_power(run) and not down for run, down in zip(groups.runs, weak, strict=True)])
    cells = read_cells(strong.runs)
    own = learnt if learnt is not None else _learn(strong)
    days = _days_unlike(strong)
    of_side = [int(days and place >= strong.before) for place in range(len(strong.runs))]
    rule, winds = take_air_out(strong.runs, cells, own), find_gear_winds(strong.runs, cells, of_side)
    adjusted = cells.log_power - winds.of_cells - (rule.explained if rule is not None else 0.0)
    geared, of_cars = find_other_gearing(strong, cells), _of_two_cars(strong)
    charged = find_charge_change(strong, cells)
    at_one_charge = {} if charged is None else {CHARGED: charged.of_power}
    ratios, top = compare_power(
        strong, cells, adjusted, rule, day_wind=winds.left if days else None,
        geared=geared, alike=of_cars | at_one_charge,
    )  # fmt: skip
    labels = [run.label for run in strong.runs]
    found, left = (dict(zip(labels, one, strict=True)) for one in (winds.of_average_w, winds.left_of_average_w))
    open_of_power = (
        of_cars if geared is None else of_cars | {GEARED: float(geared.of_cells @ cells.time_s / cells.time_s.sum())}
    )
    taken = _Taken(own, found, left if days else {}, days, open_of_power, charged is not None)
    shifts = compare_shifts(groups)
    return GroupChange(
        before=_side(names[0], before, unusual[: len(before)]),
        after=_side(names[1], after, unusual[len(before) :]),
        power_ratio=ratios,
        top_over_rest=top.ratio if top is not None else None,
        top_from_rpm=top.from_rpm if top is not None else None,
        rpm_after=shifts,
        elapsed_time_s=_elapsed(clean, taken),
        average_w=_average(clean, taken),
        time_in_band_s=_both(clean, _time_in_band, _band_in_the_air, taken),
        runs_needed=_needed(clean, strong, cells, adjusted),
        findings=(
            *_left_out(groups.runs, unusual, weak=any(weak)),
            *([_tell_habits(habits)] if habits else ()),
            *_findings(clean if clean.two_sided else groups, rule, ratios, top),
            *tell_shift_points(shifts),
            *([geared.tell()] if geared is not None else ()),
            *([charged.tell()] if charged is not None else ()),
            *(tell_limits(strong, ratios, DayWinds(winds.of_average_w, winds.left_of_average_w)) if days else ()),
        ),
        dwell=compare_dwell(clean),
    )


def _shows_power(run: ComparedRun) -> bool:
    """An aborted run has too few cells to share: with it, no cell would be left to the others."""
    return run.review.window.outcome.finish_ft is not None and known(run.review.power) is not None


def _learn(groups: TwoGroups) -> AirExponents | None:
    """How the engine's power goes with the air, of runs on one side and in one meeting."""
    if len({run.review.car.name for run in groups.runs}) > 1:
        return None
    sides = [(place < groups.before, run.review.run.event) for place, run in enumerate(groups.runs)]
    cells = [cells_of(known(run.review.power)) for run in groups.runs]
    airs = map(air_seen, groups.runs)
    return learn_exponents([MeasuredRun(*one) for one in zip(airs, cells, sides, strict=True) if one[1].size])


def _days_unlike(groups: TwoGroups) -> bool:
    """Whether each side had a wind of its own: no meeting that was named holds runs of both, or their airs are apart.

    A meeting may last for days, and a season be called one: air that differs between the sides by more than chance
    makes of the runs of each is another day's, or another hour's.
    """
    before, after = ({run.review.run.event for run in side} for side in groups.sides)
    return not (before & after) - {""} or _airs_apart(groups)


def _airs_apart(groups: TwoGroups) -> bool:
    airs = [run.review.air for run in groups.runs]
    seen = np.array([(air.temperature_k, air.pressure_pa, air.vapour_pressure_pa) for air in airs if air is not None])
    if len(seen) < len(airs):
        return False
    sides = [welch_difference(one[: groups.before], one[groups.before :], tests=seen.shape[1]) for one in seen.T]
    return any(side is not None and abs(side.difference) > side.half_width for side in sides)


def _side(name: str, runs: Sequence[ComparedRun], faults: Sequence[tuple[str, ...]]) -> GroupOfRuns:
    clean = tuple(run.label for run, named in zip(runs, faults, strict=True) if not named)
    return GroupOfRuns(name, tuple(run.label for run in runs), clean)


def elapsed_time(run: ComparedRun) -> Estimate | None:
    """Elapsed time at the finish: the slip's, else the log's.

    Parameters
    ----------
    run : ComparedRun
        Any.

    Returns
    -------
    Estimate or None
        None where no finish was reached. [s]
    """
    finish_ft = run.review.window.outcome.finish_ft
    return run.track.splits.get(finish_ft) if finish_ft is not None else None


@dataclass(frozen=True, slots=True)
class _Taken:
    """What is taken out of the runs' figures."""

    learnt: AirExponents | None
    """How the engine goes with the air."""
    found_w: Mapping[str, float]
    """By run: what wind made of average power, as its gears show it. [W]"""
    left_w: Mapping[str, float]
    """95 % of what they do not show of its day's wind; empty where all runs are of one day. [W]"""
    days: bool
    """Whether the sides are of two days."""
    open_of_power: Mapping[str, float]
    """What is open of ln power after less before as two cars, or another gearing, make it so: by cause. [-]"""
    charged: bool
    """Whether the manifold's pressure changed beyond what air makes of it: it is no air, and the strip's stands in."""


def _elapsed(groups: TwoGroups, taken: _Taken) -> BothAirs:
    """Elapsed time to the finish line that most of them reached; in the same air it is in the same wind too."""

    def worth(run: ComparedRun, watts: float) -> float:
        power = _less_wind(run, 0.0)
        return watts / power.value * elapsed_by_wind(run) if power is not None and power.value > 0 else 0.0

    def blew(run: ComparedRun) -> float:
        return told_wind_w(run) + taken.found_w.get(run.label, 0.0)

    finishes = [run.review.window.outcome.finish_ft for run in groups.runs]
    usual = max(set(finishes), key=finishes.count, default=None)
    return _both(
        groups.only([finish == usual for finish in finishes]),
        elapsed_time,
        lambda run, value, log: value + log * elapsed_by_power(run) + worth(run, blew(run)),
        taken,
        of_day=lambda run: -worth(run, taken.left_w.get(run.label, 0.0)),
    )


def _average(groups: TwoGroups, taken: _Taken) -> BothAirs:
    """Average power, less what each run's own wind made of it: as run too, for wind is not in what the engine made."""
    return _both(
        groups,
        lambda run: _less_wind(run, taken.found_w.get(run.label, 0.0)),
        lambda run, value, log: value * float(np.exp(-log)),
        taken,
        of_day=lambda run: taken.left_w.get(run.label, 0.0),
        as_run_too=True,
    )


def _of_two_cars(groups: TwoGroups) -> dict[str, float]:
    """What the facts and devices of two cars leave open of ln power, by cause; empty of one car."""
    apart = apart_of(groups.runs) & {CAR, DEVICE}
    found = [known(run.review.power) for run in groups.runs]
    means = [known(power.average_w) for power in found if power is not None]
    usual = [one for one in means if one is not None and one.value > 0]
    if not apart or len(usual) < len(groups.runs):
        return {}
    parts = [{part.cause: part.effect / one.value for part in one.shared} for one in usual]
    causes = sorted({cause for one in parts for cause in one if cause.partition(":")[0] in apart})
    return {cause: groups.of_two_days(np.array([one.get(cause, 0.0) for one in parts])) for cause in causes}


def _less_wind(run: ComparedRun, wind_w: float) -> Estimate | None:
    power = known(run.review.power)
    if power is None or isinstance(power.average_w, Unknown):
        return None
    return Estimate.parted(power.average_w.value - wind_w, power.average_w.own, {})


def _time_in_band(run: ComparedRun) -> Estimate | None:
    """The band is entered and left at shifts: each is as sure as its moment, and so is the clock's start."""
    band = known(run.review.band)
    if band is None:
        return None
    edges = [shift.time_plus_minus_s for shift in run.review.shifts]
    return Estimate(band.time_in_s, math.hypot(run.review.window.clock_start_plus_minus_s, *edges))


def _band_in_the_air(run: ComparedRun, value: float, log_power: float) -> float:
    """The band's share of the run stays; the run takes longer or less long."""
    total = elapsed_time(run)
    return value if total is None else value * (1.0 + log_power * elapsed_by_power(run) / total.value)


def _both(
    groups: TwoGroups,
    of: Callable[[ComparedRun], Estimate | None],
    in_the_air: Callable[[ComparedRun, float, float], float],
    taken: _Taken,
    of_day: Callable[[ComparedRun], float] = lambda run: 0.0,
    *,
    as_run_too: bool = False,
) -> BothAirs:
    """Difference of a figure as run, and as it would be in the mean of the runs' airs.

    What a day's wind leaves open (`of_day`) is in the second, and in the first where the figure rests on the wind, as
    power does: it rests on what two cars' facts, or another gearing, leave open too.
    """
    figures = [of(run) for run in groups.runs]
    some = groups.only([figure is not None for figure in figures])
    if not some.two_sided:
        return BothAirs(None, None)
    sure = [figure for figure in figures if figure is not None]
    values, own = np.array([one.value for one in sure]), np.array([one.own for one in sure])
    wind = {DAY_WIND: some.of_two_days(np.array([of_day(run) for run in some.runs]))}
    if as_run_too:
        wind |= {cause: effect * float(values.mean()) for cause, effect in taken.open_of_power.items()}
    plain = some.difference(values, own, scatter=not as_run_too)
    raw = Estimate.parted(plain.value, plain.own, wind if as_run_too else {})
    cells = read_cells(some.runs)
    if taken.charged:
        rule = take_air_out(some.runs, replace(cells, log_charge=None))
    else:
        rule = take_air_out(some.runs, cells, taken.learnt)
    if rule is None:
        return BothAirs(raw, None)

    def aired(log_power: FloatArray) -> FloatArray:
        each = zip(some.runs, values, log_power, strict=True)
        return np.array([in_the_air(run, float(value), float(log)) for run, value, log in each])

    same = aired(rule.of_run)
    brackets = [some.apart(aired(rule.of_run + moved) - same) for moved in rule.half_widths]
    shared = dict(zip(OF_AIR, brackets, strict=True)) | wind
    if taken.days:
        read = [some.of_two_days(aired(rule.of_run + moved) - same) for moved in rule.readings]
        shared |= {f"{DAY}: {name}": effect for name, effect in zip(READINGS, read, strict=True)}
    plain = some.difference(same, own, scatter=not as_run_too)
    return BothAirs(raw, Estimate.parted(plain.value, plain.plus_minus, shared))


def _needed(clean: TwoGroups, strong: TwoGroups, cells: CellGrid, adjusted: FloatArray) -> RunsNeeded:
    power = spread_of_power(strong, cells, adjusted)
    times = [elapsed_time(run) for run in clean.runs]
    timed = clean.only([time is not None for time in times])
    spread = timed.deviation(np.array([time.value for time in times if time is not None]))
    return RunsNeeded(
        power_1_percent=runs_to_tell(power, POWER_TO_TELL) if power is not None else None,
        elapsed_10_ms=runs_to_tell(spread, ELAPSED_TO_TELL_S) if spread is not None else None,
    )


def _habits(faults: Sequence[tuple[str, ...]], before: int) -> tuple[str, ...]:
    """Faults that most runs have, half of either side at least, where without them a side would be left without a run.

    A car that spins its tires each time is held against itself as it is run; only what leaves a pull whole counts so.
    """
    sides = faults[:before], faults[before:]
    if all(any(not named for named in side) for side in sides):
        return ()
    shares = {name: [_share_with(name, side) for side in (*sides, faults)] for name in USUAL_FAULTS}
    return tuple(name for name, (one, other, both) in shares.items() if min(one, other) >= 0.5 < both)


def _share_with(fault: str, runs: Sequence[tuple[str, ...]]) -> float:
    """Share of runs with a fault. [-]."""
    return sum(any(name.startswith(fault) for name in named) for named in runs) / len(runs)


def _tell_habits(habits: Sequence[str]) -> Finding:
    text = (
        f"Most runs of both sides have the same fault ({', '.join(sorted(habits))}): that is how this car was run, and "
        "no run is left out for it. Elapsed time, average power and time in the band hold what it cost."
    )
    return Finding("faults-usual-on-both-sides", "caution", text)


def _left_out(runs: Sequence[ComparedRun], faults: Sequence[tuple[str, ...]], *, weak: bool) -> list[Finding]:
    """Which runs are no measure of the change, and for what; `weak` where the engine of one was down."""
    if not any(faults):
        return []
    named = "; ".join(f"{run.label} ({', '.join(faulty)})" for run, faulty in zip(runs, faults, strict=True) if faulty)
    also = ", power by engine speed those whose engine was down against the others of its group" if weak else ""
    text = (
        f"Elapsed time, average power and time in the band leave out runs in which something went wrong{also}: {named}."
    )
    return [Finding("runs-left-out-of-change", "note", text)]


def _findings(
    groups: TwoGroups,
    rule: AirRule | None,
    ratios: Sequence[PowerRatio],
    top: TopOverRest | None,
) -> list[Finding]:
    found = []
    if any(len(side) == 1 for side in groups.sides):
        text = (
            "A side of a single run does not show how far the car's runs scatter: elapsed time, engine speed after "
            "shifts and time in the band are held to the other side's scatter, and where that is a single run too, to "
            "what was measured alone, not to what the next run would do. Two runs each way is the least."
        )
        found.append(Finding("lone-run-on-a-side", "caution", text))
    if len({run.review.car.name for run in groups.runs}) > 1:
        text = (
            "The runs are of more than one car: what they differ by is not the change alone, and what each car's facts "
            "leave open is in the plus-minus of power."
        )
        found.append(Finding("runs-of-two-cars", "caution", text))
    if rule is None:
        text = "The air of a run is not known: the air was not taken out. Give each run its air."
        found.append(Finding("air-not-taken-out", "caution", text))
    else:
        found.append(Finding("air-taken-out", "note", rule.rule))
    if not ratios:
        text = "The runs share no class of engine speed in one gear: power was not compared."
        found.append(Finding("no-cells-shared", "caution", text))
    if top is not None:
        found.append(_tell_top(top))
    return found


def _tell_top(top: TopOverRest) -> Finding:
    share, half_width = 100 * (top.ratio.value - 1.0), 100 * top.ratio.plus_minus
    if abs(share) <= half_width:
        text = (
            f"No change of the power's shape can be told: above {top.from_rpm:.0f} rpm it stands to that below as "
            f"before within {share:+z.1f} +- {half_width:.1f} %."
        )
    else:
        text = (
            f"Above {top.from_rpm:.0f} rpm the engine makes {abs(share):.1f} +- {half_width:.1f} % "
            f"{'more' if share > 0 else 'less'} against below it than it did before."
        )
    return Finding("change-of-the-top", "note", text)
