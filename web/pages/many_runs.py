"""Pages over several runs: what each part cost, and what a change did.

Public: `render_costs`, `render_change`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.quantities import FOOT_M
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.runs.change import BothAirs, GroupChange
from passband.analysis.runs.change_in_dwell import DwellChange
from passband.analysis.runs.change_in_shifts import ShiftChange
from passband.analysis.runs.cost import CostPart, PairCosts
from passband.web.pages.page import render
from passband.web.printed.runs import companion_words, needed_words
from passband.web.sheets.sheet import track_feet
from passband.web.shown.groups import GroupsShown
from passband.web.shown.run import NamedRun
from passband.web.wording.figures import plain_number, signed
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem, unit_for

BAR = 60.0
"""Half the width of a bar's drawing: the greatest cost fills it."""


@dataclass(frozen=True, slots=True)
class CostRow:
    """One part of the track."""

    name: str
    """``shift 2-3``."""
    from_to: str
    """Where it is."""
    elapsed: str
    """Time that went by more on it. [ms]"""
    cost: str
    """What it cost at the end. [ms]"""
    force: str
    """The same at constant force. [ms]"""
    lost: bool
    """Whether the other run lost there."""
    bar: float
    """Its size, of `BAR`."""
    beside: tuple[str, ...]
    """What was measured on it."""


def render_costs(
    base: NamedRun, others: Sequence[tuple[NamedRun, PairCosts | None]], *, units: UnitSystem = "us"
) -> str:
    """What each part of the track cost some runs against one.

    Parameters
    ----------
    base : NamedRun
        The run that the others are held against.
    others : sequence of (NamedRun, PairCosts or None)
        Each, and what was found; None where two runs share no track.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    made = [_CostsShown(run) if costs is None else _costs_shown(base, run, costs, units) for run, costs in others]
    return render("costs.html", units, base=base, others=made, half=BAR, here="event")


@dataclass(frozen=True, slots=True)
class _CostsShown:
    run: NamedRun
    """The run that is held against the first."""
    total: str = ""
    """Elapsed time, this run less the first, with its plus-minus. [s]"""
    ms: str = ""
    """The same alone. [ms]"""
    at: str = ""
    """Where it was taken."""
    rows: tuple[CostRow, ...] = ()
    """Part by part; empty where the two share no track."""
    findings: tuple[tuple[str, str], ...] = ()
    """Level and sentence of each."""
    one_car: bool = True
    """Whether both are of one car."""


def _costs_shown(base: NamedRun, run: NamedRun, costs: PairCosts, units: UnitSystem) -> _CostsShown:
    return _CostsShown(
        run,
        _with_half_width(costs.difference_s, 3, sign=True),
        signed(plain_number(1000 * costs.difference_s.value, 0)),
        track_feet(costs.at_m, units),
        _cost_rows(costs.parts, units),
        tuple(_by_title(_findings(costs.findings, units), (base, run))),
        one_car=all(finding.code != "runs-of-two-cars" for finding in costs.findings),
    )


def _cost_rows(parts: Sequence[CostPart], units: UnitSystem) -> tuple[CostRow, ...]:
    most = max((abs(part.cost_s.value) for part in parts), default=0.0) or 1.0
    return tuple(
        CostRow(
            name=part.name,
            from_to=f"{part.from_m / FOOT_M:,.0f} to {track_feet(part.to_m, units)}",
            elapsed=_with_half_width(part.elapsed_s.scaled(1000.0), 0, sign=True),
            cost=_with_half_width(part.cost_s.scaled(1000.0), 0, sign=True),
            force=signed(plain_number(1000 * part.cost_constant_force_s, 0)),
            lost=part.cost_s.value > 0,
            bar=BAR * abs(part.cost_s.value) / most,
            beside=tuple(in_units(text, units) for text in companion_words(part)),
        )
        for part in parts
    )


def _with_half_width(one: Estimate, digits: int, *, sign: bool = False) -> str:
    half = max(one.plus_minus, 10.0**-digits) if one.plus_minus > 0 else 0.0
    value = plain_number(one.value, digits)
    return f"{signed(value) if sign else value} ±{half:,.{digits}f}"


@dataclass(frozen=True, slots=True)
class _Both:
    title: str
    raw: str
    same_air: str


def render_change(
    change: GroupChange,
    sides: Sequence[Sequence[NamedRun]],
    *,
    named: GroupsShown | None = None,
    units: UnitSystem = "us",
) -> str:
    """What a change did.

    Parameters
    ----------
    change : GroupChange
        What was found.
    sides : (before, after)
        The runs before it and after it.
    named : GroupsShown, optional
        The two groups, where they were given a name.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    power = unit_for("power", units)
    top = change.top_over_rest
    return render(
        "change.html",
        units,
        change=change,
        sides=sides,
        named=named,
        groups={key: [run.id for run in side] for key, side in zip(("before", "after"), sides, strict=True)},
        both=(
            _both("ET, s", change.elapsed_time_s, 1.0, 3),
            _both(f"average power, {power.label}", change.average_w, power.scale, 1),
            _both("time in the band, s", change.time_in_band_s, 1.0, 2),
        ),
        ratios=[
            (_span(one.low_rpm, one.high_rpm), _sure(one.ratio) + _percent(one.ratio), ", ".join(map(str, one.gears)),
             one.runs)
            for one in change.power_ratio
        ],
        top=_percent(top) if top is not None else "",
        shifts=[_shift_row(one) for one in change.rpm_after],
        dwell=[_dwell_row(one) for one in change.dwell],
        needed=needed_words(change),
        findings=_by_title(_findings(change.findings, units), [run for side in sides for run in side]),
        here="event",
    )  # fmt: skip


def _by_title(findings: Sequence[tuple[str, str]], runs: Sequence[NamedRun]) -> list[tuple[str, str]]:
    """Findings with each run by what pages call it, not by its id."""
    said = []
    for level, text in findings:
        for run in runs:
            text = text.replace(run.id, run.title)
        said.append((level, text))
    return said


def _findings(findings: Sequence[Finding], units: UnitSystem) -> list[tuple[str, str]]:
    return [(one.level, in_units(one.text, units)) for one in findings]


def _both(title: str, both: BothAirs, scale: float, digits: int) -> _Both:
    raw, same = (
        "not known" if one is None else _with_half_width(one.scaled(1.0 / scale), digits, sign=True)
        for one in (both.raw, both.same_air)
    )
    return _Both(title, raw, same)


def _span(low_rpm: float, high_rpm: float) -> str:
    return f"{low_rpm:,.0f}–{high_rpm:,.0f}"


def _percent(ratio: Estimate) -> str:
    return f"{signed(plain_number(100 * (ratio.value - 1), 1))} ±{100 * ratio.plus_minus:.1f} %"


def _sure(ratio: Estimate) -> str:
    """A mark where the interval does not hold nothing."""
    if abs(ratio.value - 1) <= ratio.plus_minus:
        return ""
    return "▲ " if ratio.value > 1 else "▼ "


def _shift_row(one: ShiftChange) -> tuple[str, ...]:
    after = one.after
    return (
        one.shift,
        f"{one.before.mean:,.0f}",
        f"{after.mean:,.0f}",
        _with_half_width(one.difference, 0, sign=True),
        _after_words(one),
    )


def _after_words(one: ShiftChange) -> str:
    """What is known of a shift after the change, in a line."""
    after, share = one.after, one.share_in_band_at_least
    said = [f"Lowest after the change {after.lowest:,.0f} rpm"]
    if after.under_band is not None:
        said.append(f"{after.under_band} of {after.runs} below the band")
    if share is not None:
        said.append(f"at least {100 * share:.0f} % of all such shifts stay in it, 95 % sure")
    if after.falls_no_lower is not None and after.falls_no_lower > 0:  # below it the runs are too few or too unlike
        said.append(f"95 of 100 stay above {after.falls_no_lower:,.0f} rpm")
    return "; ".join(said) + "."


def _dwell_row(one: DwellChange) -> tuple[str, ...]:
    return (
        _span(one.low_rpm, one.high_rpm),
        f"{one.before_s:.2f}",
        f"{one.after_s:.2f}",
        _with_half_width(one.difference, 2, sign=True),
    )
