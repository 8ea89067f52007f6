"""Answers about several runs on a plain page of 80 columns: what each part cost, what a change did, a sheet.

Public: `companion_words`, `needed_words`, `print_costs`, `print_group_change`, `print_season`,
`print_used`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from textwrap import wrap

from passband.analysis.quantities import FOOT_M
from passband.analysis.results.estimate import Estimate
from passband.analysis.runs.change import BothAirs, GroupChange
from passband.analysis.runs.change_in_dwell import DwellChange
from passband.analysis.runs.change_in_shifts import ShiftChange
from passband.analysis.runs.companions import Companions, Pair, WordPair
from passband.analysis.runs.cost import CostPart, PairCosts
from passband.analysis.runs.digest import Value
from passband.analysis.runs.same_engine_found import SameEngine
from passband.analysis.runs.season_sheet import SeasonSheet
from passband.analysis.runs.used_up import UsedUp
from passband.analysis.runs.weekend import Spread
from passband.web.printed.page import WIDTH, page, sentences
from passband.web.wording.units import UnitSystem, unit_for

POWER_TOLD = 0.01
"""The change of power whose telling is counted in runs. [-]"""
_WORDS = {
    "wheelspin_s": ("wheelspin", 1.0, "s", 2), "lift_s": ("foot off", 1.0, "s", 2),
    "limiter_s": ("on the limiter", 1.0, "s", 2), "boost_pa": ("mean boost", 1000.0, "kPa", 0),
    "shift_kind": ("shift", 1.0, "", 0), "shift_at_m": ("shift at", FOOT_M, "ft", 0),
    "shift_duration_s": ("shift took", 1.0, "s", 2), "rpm_before": ("RPM before", 1.0, "rpm", 0),
    "rpm_at_launch": ("launch RPM", 1.0, "rpm", 0), "rpm_lowest": ("lowest RPM", 1.0, "rpm", 0),
}  # fmt: skip

SURE_OF = (
    "+- is 95 %: what runs of a side differ by, and what air and wind of two days leave open. Sure says where power is "
    "more, or less, beyond it."
)
"""What the plus-minus of a change rests on."""


def print_costs(base: str, costs: PairCosts) -> str:
    """What one run lost against another, as plain text.

    Parameters
    ----------
    base : str
        Label of the run that it is held against.
    costs : PairCosts
        What was found.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    total = costs.difference_s
    lines = ["=" * WIDTH]
    lines += wrap(f"{costs.label} against {base}, to {costs.at_m / FOOT_M:,.0f} ft", WIDTH)
    lines.append(f"{total.value:+.3f} s +- {_half_width(total, 3)}  (positive: {costs.label} was slower)"[:WIDTH])
    lines += ["-" * WIDTH, *_columns(_COST_HEAD, [_cost_row(part) for part in costs.parts])]
    lines += _columns(None, [("all", "", "", f"{1000 * total.value:+.0f}", f"{1000 * total.value:+.0f}", "")])
    lines += ["", *wrap(_COST_WORDS, WIDTH)]
    beside = [line for part in costs.parts for line in _beside(part)]
    if beside:
        lines += ["", "MEASURED BESIDE IT", ""]
        lines += [*wrap(f"{base} / {costs.label}; that it is the cause, no log can show", WIDTH), *beside]
    return page([*lines, *sentences(costs.findings)])


_COST_WORDS = (
    "Milliseconds. Went by: how much longer it was on that part. Cost: what happened there made of the difference at "
    "the end, at the same power after it; in brackets at the same force. +- is of the difference: what both runs share "
    "of car and sensors cancels."
)
_COST_HEAD = ("part", "from ft", "to ft", "went by", "cost", "")


def _cost_row(part: CostPart) -> tuple[str, ...]:
    return (
        part.name,
        f"{part.from_m / FOOT_M:.0f}",
        f"{part.to_m / FOOT_M:.0f}",
        f"{1000 * part.elapsed_s.value:+.0f} +-{_half_width(part.elapsed_s.scaled(1000.0), 0)}",
        f"{1000 * part.cost_s.value:+.0f} +-{_half_width(part.cost_s.scaled(1000.0), 0)}",
        f"({1000 * part.cost_constant_force_s:+.0f})",
    )


def companion_words(part: CostPart) -> list[str]:
    """What was measured on a part, of the base run and of the other, in words.

    Parameters
    ----------
    part : CostPart
        One part of the track.

    Returns
    -------
    list of str
        ``boost 160 / 128 kPa``; empty where nothing was.
    """
    words = [_pair(one.name, getattr(part.beside, one.name)) for one in fields(Companions)]
    return [text for text in words if text]


def _beside(part: CostPart) -> list[str]:
    some = companion_words(part)
    return wrap(f"{part.name}: {'; '.join(some)}", WIDTH, subsequent_indent="    ") if some else []


def _pair(name: str, pair: Pair | WordPair | None) -> str:
    if pair is None:
        return ""
    word, scale, unit, digits = _WORDS[name]
    sides = (
        "none" if one is None else one if isinstance(one, str) else f"{one / scale:.{digits}f}"
        for one in (pair.base, pair.other)
    )
    return f"{word} {' / '.join(sides)} {unit}".rstrip()


def print_group_change(change: GroupChange, *, units: UnitSystem = "us") -> str:
    """What a change did, as plain text.

    Parameters
    ----------
    change : GroupChange
        What was found.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    power, lines = unit_for("power", units), ["=" * WIDTH]
    for side in (change.before, change.after):
        lines += wrap(f"{side.group}: {len(side.runs)} runs, {', '.join(side.runs)}", WIDTH, subsequent_indent="  ")
    lines += ["-" * WIDTH, "AFTER LESS BEFORE", ""]
    lines += _columns(("", "as run", "in the same air"), [
        ("elapsed time, s", *_both(change.elapsed_time_s, 3)),
        (f"average power, {power.label}", *_both(_scaled(change.average_w, 1.0 / power.scale), 1)),
        ("time in the band, s", *_both(change.time_in_band_s, 2)),
    ])  # fmt: skip
    if change.power_ratio:
        lines += ["", "POWER, AFTER AGAINST BEFORE, same gear and engine speed, air taken out", ""]
        lines += _columns(("rpm", "change", "sure", "gears", "runs"), [
            (f"{one.low_rpm:.0f}-{one.high_rpm:.0f}", _percent(one.ratio), _sure(one.ratio),
             ",".join(map(str, one.gears)), str(one.runs)) for one in change.power_ratio
        ])  # fmt: skip
    if change.top_over_rest is not None:
        lines += ["", f"above {change.top_from_rpm:.0f} rpm against the rest: {_percent(change.top_over_rest)}"]
    lines += [*_shift_lines(change.rpm_after), *_dwell_lines(change.dwell)]
    lines += ["", *wrap(f"{SURE_OF} {needed_words(change)}", WIDTH)]
    return page([*lines, *sentences(change.findings, units=units)])


def _percent(ratio: Estimate) -> str:
    return f"{100 * (ratio.value - 1):+z.1f} +- {100 * ratio.plus_minus:.1f} %"


def _sure(ratio: Estimate) -> str:
    """Which way, where the interval does not hold nothing."""
    if abs(ratio.value - 1) <= ratio.plus_minus:
        return "-"
    return "more" if ratio.value > 1 else "less"


def _dwell_lines(dwell: Sequence[DwellChange]) -> list[str]:
    if not dwell:
        return []
    rows = [
        (f"{one.low_rpm:.0f}-{one.high_rpm:.0f}", f"{one.before_s:.2f}", f"{one.after_s:.2f}",
         _with_half_width(one.difference, 2)) for one in dwell
    ]  # fmt: skip
    head = ("rpm", "before", "after", "difference")
    return ["", "TIME AT EACH ENGINE SPEED, s a run, mean of the clean runs", "", *_columns(head, rows)]


def _shift_lines(shifts: Sequence[ShiftChange]) -> list[str]:
    if not shifts:
        return []
    rows = [
        (
            one.shift,
            f"{one.before.mean:.0f}",
            f"{one.after.mean:.0f}",
            _with_half_width(one.difference, 0),
            f"{one.after.lowest:.0f}",
            "-" if one.after.under_band is None else f"{one.after.under_band} of {one.after.runs}",
            "-" if one.share_in_band_at_least is None else f"{100 * one.share_in_band_at_least:.0f} %",
            "-" if one.after.falls_no_lower is None else f"{one.after.falls_no_lower:.0f}",
        )
        for one in shifts
    ]
    head = ("shift", "before", "after", "difference", "lowest", "under", "proved", "95 % above")
    few = (
        "Under: shifts after the change that fell below the band. Proved: the share of all such shifts that stays in "
        "it, at least, 95 % sure; none below of thirty proves 90 %. 95 % above: 95 % of all such shifts stay above "
        "this, if they scatter normally."
    )
    return ["", "RPM AFTER THE SHIFT", "", *_columns(head, rows), *wrap(few, WIDTH)]


def needed_words(change: GroupChange) -> str:
    """How many runs of each side the spread from run to run asks for; where air and wind leave more open, that too."""
    made = min(len(change.before.clean), len(change.after.clean))
    power, elapsed = (
        "more than a thousand runs" if runs is None else f"{runs} runs ({max(runs - made, 0)} more)"
        for runs in (change.runs_needed.power_1_percent, change.runs_needed.elapsed_10_ms)
    )
    said = (
        f"By the spread from run to run, {power} each way tell 1 % of power, and {elapsed} each way 10 ms of elapsed "
        "time."
    )
    enough = change.runs_needed.power_1_percent
    least = min((one.ratio.plus_minus for one in change.power_ratio), default=0.0)
    if enough is None or enough > made or least <= POWER_TOLD:
        return said
    rest = f"What the air and wind of both sides leave open, ±{100 * least:.1f} % here at the least"
    return f"{said} {rest}, no more runs of the same days narrow."


def _both(both: BothAirs, digits: int) -> tuple[str, str]:
    raw, same = ("-" if one is None else _with_half_width(one, digits, sign=True) for one in (both.raw, both.same_air))
    return raw, same


def _scaled(both: BothAirs, factor: float) -> BothAirs:
    return BothAirs(*(None if one is None else one.scaled(factor) for one in (both.raw, both.same_air)))


def _with_half_width(one: Estimate, digits: int, *, sign: bool = False) -> str:
    return f"{one.value:{'+' if sign else ''}.{digits}f} +- {_half_width(one, digits)}"


def _half_width(one: Estimate, digits: int) -> str:
    """Never printed as nothing: one step of the last digit at least, unless it is none."""
    shown = max(one.plus_minus, 10.0**-digits) if one.plus_minus > 0 else 0.0
    return f"{shown:.{digits}f}"


def _season(units: UnitSystem) -> tuple[tuple[str, str, float, int], ...]:
    """Columns of the print: title, figure, what one of its unit is in SI, digits."""
    speed, power = unit_for("speed", units), unit_for("power", units)
    altitude = ("DA m", 1.0) if units == "metric" else ("DA ft", FOOT_M)
    return (
        ("run", "label", 1.0, 0), ("ET s", "elapsed_time_s", 1.0, 3), ("to best", "to_best_s", 1.0, 3),
        ("same air", "elapsed_same_air_s", 1.0, 3), ("60 ft", "t60_s", 1.0, 3),
        (speed.label, "trap_1320_mps", speed.scale, 1), (power.label, "average_w", power.scale, 1),
        ("band %", "share_in_band", 0.01, 0), (altitude[0], "density_altitude_m", altitude[1], 0),
    )  # fmt: skip


_SPREADS = {
    "elapsed_time_s": ("ET", 1.0, "s", 3), "elapsed_same_air_s": ("ET in the same air", 1.0, "s", 3),
    "t60_s": ("60 ft", 1.0, "s", 3),
    "share_in_band": ("time in the band", 0.01, "%", 1), "rpm_at_launch": ("launch RPM", 1.0, "rpm", 0),
    "rpm_lowest": ("lowest RPM", 1.0, "rpm", 0), "clutch_locked_s": ("clutch locked", 1.0, "s", 2),
    "least_margin_to_band_low_rpm": ("least margin to the band", 1.0, "rpm", 0),
}  # fmt: skip


def _spread(one: Spread, units: UnitSystem) -> str:
    """Mean, deviation and trend of a figure in a sentence."""
    power, speed, energy = (unit_for(kind, units) for kind in ("power", "speed", "energy"))
    in_units = {
        "clutch_heat_j": ("clutch heat", energy.scale, energy.label, 0),
        "average_w": ("average power", power.scale, power.label, 1),
        "trap_1320_mps": ("trap speed", speed.scale, speed.label, 2),
    }
    name, scale, unit, digits = (_SPREADS | in_units).get(one.figure, (one.figure, 1.0, "", 3))
    mean, spread = (f"{value / scale:.{digits}f}" for value in (one.mean, one.standard_deviation or 0.0))
    words = f"{name}: mean {mean}, standard deviation {spread} {unit} over {one.runs} clean runs"
    if one.per_run is None:
        return words
    slope, half = one.per_run.value / scale, one.per_run.plus_minus / scale
    trend = "a trend" if abs(slope) > half else "no clear trend"
    return f"{words}; {slope:+.{digits + 1}f} +- {half:.{digits + 1}f} {unit} a run, {trend}"


def print_season(sheet: SeasonSheet, engine: Sequence[SameEngine | None] = (), *, units: UnitSystem = "us") -> str:
    """The runs of a list, the figures that decide first, as plain text.

    Parameters
    ----------
    sheet : SeasonSheet
        All of it goes into a file or JSON; the page holds what fits.
    engine : sequence of SameEngine or None
        Each run's engine against its own runs before; may be empty.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns where labels are short, ending with a line end.
    """
    shown = _season(units)
    rows = [tuple(_cell(run[name], scale, digits) for _, name, scale, digits in shown) for run in sheet.runs]
    lines = ["=" * WIDTH, *_columns(tuple(title for title, *_ in shown), rows), ""]
    for of_car in sheet.cars:
        whose = f"{of_car.car}, " if len(sheet.cars) > 1 else ""
        usual = ", ".join(of_car.usual_faults)
        of_which = f"runs with no fault but that of most ({usual})" if usual else "clean runs"
        lines += wrap(f"{whose}best of the {of_which}: {of_car.best or 'none'}", WIDTH, subsequent_indent="  ")
        for one in of_car.spreads:
            if one.standard_deviation is not None:
                lines += wrap(_spread(one, units), WIDTH, subsequent_indent="  ")
    for rule in sheet.air_rules:
        lines += wrap(f"in one air, {rule}", WIDTH)
    known = [one for one in engine if one is not None]
    if known:
        lines += ["", "SAME ENGINE?", ""]
        lines += [line for one in known for line in wrap(f"{one.label}: {one.line}", WIDTH, subsequent_indent="  ")]
    wrong = [f"{run['label']}: {run['faults']}" for run in sheet.runs if run["faults"]]
    if wrong:
        lines += ["", "WHAT WENT WRONG"]
        lines += [line for one in wrong for line in wrap(one, WIDTH, subsequent_indent="  ")]
    return page(lines)


def print_used(used: Sequence[UsedUp], *, units: UnitSystem = "us") -> str:
    """What each part on the car has seen, as plain text.

    Parameters
    ----------
    used : sequence of UsedUp
        Part by part.
    units : {"us", "metric"}
        Of heat: Btu, or kJ.

    Returns
    -------
    str
        Lines of at most 80 columns where names are short, ending with a line end.
    """
    energy = unit_for("energy", units)
    lines = ["", "USED UP", "", *wrap(_USED_WORDS, WIDTH), ""]
    for one in used:
        dates = f", {one.first_at} to {one.last_at}" if one.first_at and one.last_at else ""
        span = f" ({one.first} to {one.last}{dates})" if one.runs else ""
        text = (
            f"{one.part}: {one.runs} runs{span}, {one.revolutions:.0f} revolutions, {one.run_revolutions:.0f} of them "
            f"in the runs, {one.running_s:.0f} s turning"
        )
        text += "".join(f", {above.time_s:.2f} s above {above.rpm:.0f} rpm" for above in one.above)
        if one.not_counted:
            text += f"; without engine speed, so not counted: {', '.join(one.not_counted)}"
        lines += wrap(text, WIDTH, subsequent_indent="  ")
        if one.heat_j is not None:
            value, half = one.heat_j.value / energy.scale, one.heat_j.plus_minus / energy.scale
            heat = f"  heat into the clutch {value:.0f} +- {half:.0f} {energy.label}"
            lacks = f"; not known in {', '.join(one.heat_not_known)}" if one.heat_not_known else ""
            lines += wrap(heat + lacks, WIDTH, subsequent_indent="    ")
        launches = f"  clutch locked s / lowest rpm / heat {energy.label}: {_launches(one, energy.scale)}"
        lines += wrap(launches, WIDTH, subsequent_indent="    ")
    return page(lines)


_USED_WORDS = (
    "Counted from the logs, burnout and staging among them as far as they are recorded: an engine that ran without its "
    "logger is not in it. How long a part lasts, its maker and your builder say."
)


def _launches(one: UsedUp, scale: float) -> str:
    words = (
        f"{launch.label} {'-' if launch.clutch_locked_s is None else f'{launch.clutch_locked_s:.2f}'} / "
        f"{'-' if launch.rpm_lowest is None else f'{launch.rpm_lowest:.0f}'} / "
        f"{'-' if launch.heat_j is None else f'{launch.heat_j.value / scale:.0f}'}"
        for launch in one.launches
    )
    return "; ".join(words)


def _cell(value: Value, scale: float, digits: int) -> str:
    if isinstance(value, (int, float)):
        return f"{value / scale:.{digits}f}"
    return value if value else "-"


_WIDTHS = {"run": 12, "part": 18, "": 20, "shift": 6, "rpm": 12}


def _columns(head: tuple[str, ...] | None, rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Rows with their first column at the left and the others at the right."""
    table = [head, *rows] if head is not None else list(rows)
    titles = head if head is not None else _COST_HEAD
    widths = [
        max(
            _WIDTHS.get(titles[0], 10) if place == 0 else _LEAST.get(titles[place], 8),
            *(len(row[place]) for row in table),
        )
        for place in range(len(table[0]))
    ]
    lines = []
    for row in table:
        cells = [row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True))]
        lines.append("  ".join(cells))
    return lines


_LEAST = {
    "ET s": 7,
    "to best": 7,
    "60 ft": 6,
    "km/h": 6,
    "mph": 6,
    "kW": 6,
    "hp": 6,
    "band %": 6,
    "DA m": 6,
    "DA ft": 6,
    "went by": 12,
    "cost": 12,
    "from ft": 7,
    "to ft": 6,
    "": 8,
    "as run": 18,
    "in the same air": 18,
}
