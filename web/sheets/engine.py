"""What the engine did, laid out for a reader: boost, power, band, limits.

Public: `boost_section`, `power_section`, `band_section`, `limits_section`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.results.band import Band, Dwell, GearBand
from passband.analysis.results.boost import BoostDip, DipCause
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.power import Power, PowerShare
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown
from passband.web.sheets.sheet import Bar, Cell, Line, Mark, Row, Section, Table, track_feet
from passband.web.shown.car import LimitGiven, Written
from passband.web.wording.channel_titles import channel_title
from passband.web.wording.figures import estimate, figure, plain_number, reason_of
from passband.web.wording.units import Unit, UnitSystem, kind_of_si, unit_for, written_unit

BARS_MOST = 24
"""Most classes of a distribution that a reader takes in; finer ones are told two or more together."""
DIGITS_MOST = 4
"""Most decimals of a limit's figures. [-]"""
SHARES_MOST = 6
"""Most inputs told of a plus-minus: the rest do not move it. [-]"""
CALIBRATION, REST = "calibration", "the method, and all else"
"""What no measuring of the owner's makes less stands last, so that the whole is accounted for."""
SHARE_LEAST = 0.05
"""An input that leaves less than this part of what the greatest leaves is not worth measuring better. [-]"""


def boost_section(review: Review, units: UnitSystem) -> Section:
    """Time on boost, the lowest after it came, every dip and its cause."""
    boost = review.boost
    if isinstance(boost, Unknown):
        return Section("boost", "Boost", missing=reason_of(boost))
    above = figure(boost.time_above_s, "time", units)
    share = figure(boost.share_above, "share", units)
    lines = (
        Line("Threshold", figure(boost.threshold_pa, "pressure", units, reason="none is given")),
        Line("Time at or above it", above, f"{share} of the run" if share.known else ""),
        Line("Longest stretch", figure(boost.longest_above_s, "time", units)),
        Line("First reached", figure(boost.first_reached_s, "time", units)),
        Line("Lowest after that", figure(boost.lowest_after_pa, "pressure", units)),
        Line("Highest", figure(boost.highest_pa, "pressure", units)),
        Line("As the clock starts", figure(boost.at_clock_start_pa, "pressure", units)),
        Line("Boost below the threshold × time", figure(boost.deficit_pa_s, "pressure_time", units)),
    )
    tables = (_dips_table(boost.dips, units),) if boost.dips else ()
    return Section("boost", "Boost", lines, tables, basis=f"boost {boost.basis}")


def _dips_table(dips: Sequence[BoostDip], units: UnitSystem) -> Table:
    rows = []
    for dip in dips:
        cause = dip.cause if dip.shift is None else f"shift {dip.shift + 1}"
        cells = (
            Cell(figure(dip.start_s, "time", units).value),
            Cell(figure(dip.end_s, "time", units).value),
            Cell(figure(dip.end_s - dip.start_s, "time", units).value),
            Cell(figure(dip.lowest_pa, "pressure", units).value),
            Cell(cause, mark="caution" if dip.cause is DipCause.UNEXPLAINED else ""),
        )
        rows.append(Row(cells))
    head = ("From s", "To s", "Long s", f"Lowest {unit_for('pressure', units).label}", "Cause")
    return Table("Dips below the threshold after it was first reached", head, tuple(rows))


def power_section(review: Review, units: UnitSystem) -> Section:
    """Power between start and finish line, what its plus-minus is made of, and its checks."""
    power = review.power
    if isinstance(power, Unknown):
        return Section("power", "Power", missing=reason_of(power))
    lines = [
        Line("Average, flywheel", estimate(power.average_w, "power", units), "start to finish"),
        *_between_runs(power.average_w, units),
        Line("Average while pulling", estimate(power.average_pulling_w, "power", units), "no shifts"),
        Line("Average over distance", estimate(power.average_over_distance_w, "power", units)),
        Line(
            f"Average, wheel {unit_for('power', units).label}",
            estimate(power.average_wheel_w, "power", units),
            "moved the car",
        ),
        Line("Peak, flywheel", estimate(power.peak_w, "power", units), "highest 50 ms"),
    ]
    corrected = estimate(power.corrected_average_w, "power", units)
    rule = power.correction_rule
    factor = f", factor {power.correction_factor:.3f}" if not isinstance(power.correction_factor, Unknown) else ""
    lines.append(Line("Average in standard air", corrected, f"{rule}{factor}" if rule else ""))
    trap = estimate(power.from_trap_speed_w, "power", units)
    lines.append(Line("From trap speed and mass", trap, "at the wheels; a cross-check"))
    lines.append(Line("Work at the tires", figure(power.work_j, "energy", units)))
    balance = power.balance_error
    lines.append(Line("Work not accounted for", figure(balance, "share", units, unit=_PER_CENT), "work against energy"))
    lines += _engine_lines(power, units)
    return Section("power", "Power", tuple(lines), _shares(power, units), sentences=_air_sentences(review, units))


_PER_CENT = Unit("%", 0.01, 1, 1)


def _between_runs(average: Estimate | Unknown, units: UnitSystem) -> tuple[Line, ...]:
    """The same as it stands beside other runs of the car, where that is surer than it is alone."""
    if isinstance(average, Unknown) or average.run_plus_minus is None or average.own >= 0.9 * average.plus_minus:
        return ()
    return (Line("Among this car's runs", estimate(average.among_runs(), "power", units), "of this car, as set up"),)


def _engine_lines(power: Power, units: UnitSystem) -> list[Line]:
    figures = (
        ("Mean piston speed", power.mean_piston_speed_mps, "piston_speed"),
        ("Mean effective pressure", power.bmep_pa, "pressure"),
    )
    return [Line(label, figure(value, kind, units)) for label, value, kind in figures if not isinstance(value, Unknown)]


def _shares(power: Power, units: UnitSystem) -> tuple[Table, ...]:
    shown = unit_for("power", units)
    told = [share for share in power.shares if share.source != CALIBRATION]
    least = SHARE_LEAST * max((share.plus_minus_w for share in told), default=0.0)
    shares = [share for share in told[:SHARES_MOST] if share.plus_minus_w > least]
    rest = math.hypot(*(share.plus_minus_w for share in power.shares if share not in shares))
    if rest > least:
        shares.append(PowerShare(REST, rest))
    rows = tuple(
        Row((Cell(share.source), Cell(f"±{plain_number(shown.of(share.plus_minus_w), 1)}"))) for share in shares
    )
    caption = (
        "What the plus-minus of the average is made of (their squares add up); the first is worth measuring better"
    )
    return (Table(caption, ("Input", shown.label), rows),) if rows else ()


def _air_sentences(review: Review, units: UnitSystem) -> tuple[str, ...]:
    air = review.air
    if air is None:
        return (
            "The day's air is not known; the air's drag is taken in standard air, or left out as the findings say.",
        )
    wind = air.wind_mps
    towards = "" if wind is None else (" from behind" if wind >= 0 else " head on")
    wind_text = "wind not given" if wind is None else f"wind {figure(abs(wind), 'speed', units)}{towards}"
    return (
        f"Air: {figure(air.temperature_k, 'temperature', units)}, {figure(air.pressure_pa, 'barometer', units)}, "
        f"{estimate(air.density_kgpm3, 'density', units)}, "
        f"DA {figure(air.density_altitude_m, 'altitude', units)}, {wind_text} ({air.basis}).",
    )


def band_section(review: Review, units: UnitSystem) -> Section:
    """Time and distance below, in and above the band, by gear, and where the engine dwelt."""
    band = review.band
    if isinstance(band, Unknown):
        return Section("band", "Band", missing=reason_of(band))
    total = band.time_in_s + band.time_below_s + band.time_above_s
    lines = [
        Line(
            label, figure(value, "time", units), f"{figure(value / total, 'share', units)} of the run" if total else ""
        )
        for label, value in (
            ("In the band", band.time_in_s),
            ("Under it", band.time_below_s),
            ("Over it", band.time_above_s),
        )
    ]
    lines.append(Line("Distance in the band", figure(band.distance_in_m, "track", units)))
    shown = band.shown_by_data
    sentences = band.would_have_kept
    if not isinstance(shown, Unknown):
        low, high = (plain_number(rpm, 0) for rpm in shown)
        sentences = (f"The data itself shows its best power from {low} to {high} rpm.", *sentences)
    low, high = plain_number(band.low_rpm, 0), plain_number(band.high_rpm, 0)
    return Section(
        "band",
        f"Band {low} to {high} rpm",
        tuple(lines),
        (_gear_table(band.by_gear, units),) if band.by_gear else (),
        _dwell_bars(band),
        "Time at each engine speed, s by rpm",
        sentences,
    )


def _gear_table(gears: Sequence[GearBand], units: UnitSystem) -> Table:
    rows = tuple(
        Row((
            Cell(str(gear.gear)),
            *(
                Cell(figure(time_s, "time", units).value)
                for time_s in (gear.time_in_s, gear.time_below_s, gear.time_above_s)
            ),
            Cell(figure(gear.distance_in_m, "track", units).value),
        ))
        for gear in gears
    )  # fmt: skip
    return Table("By gear", ("Gear", "In s", "Under s", "Over s", "In ft"), rows)


def _dwell_bars(band: Band) -> tuple[Bar, ...]:
    classes = [one for one in band.dwell if one.time_s > 0]
    together = -(-len(classes) // BARS_MOST) or 1
    grouped = [classes[start : start + together] for start in range(0, len(classes), together)]
    times = [sum(one.time_s for one in group) for group in grouped]
    most = max(times, default=0.0)
    return tuple(
        Bar(f"{group[0].from_rpm:,.0f}–{group[-1].to_rpm:,.0f}", f"{time:.2f}", time / most, _stands(group, band))
        for group, time in zip(grouped, times, strict=True)
    )


def _stands(group: Sequence[Dwell], band: Band) -> Mark:
    middle = (group[0].from_rpm + group[-1].to_rpm) / 2
    return "under" if middle < band.low_rpm else "over" if middle > band.high_rpm else "inside"


def limits_section(review: Review, units: UnitSystem, *, given: Sequence[LimitGiven] = ()) -> Section:
    """How the run stands to each limit: outside ones first, then those without data.

    Parameters
    ----------
    review : Review
        Of one run.
    units : {"us", "metric"}
        For limits whose owner wrote no unit.
    given : sequence of LimitGiven
        The car's limits as written: they are answered in the units they were written in.
    """
    limits = review.limits
    if not limits:
        return Section("limits", "Limits", missing="no limits are set for the car")
    order = {Verdict.OUTSIDE: 0, Verdict.NO_DATA: 1, Verdict.INSIDE: 2}
    written = {limit.name: limit for limit in given}
    rows = tuple(
        _limit_row(limit, written.get(limit.name), units)
        for limit in sorted(limits, key=lambda limit: order[limit.verdict])
    )
    return Section("limits", "Limits", tables=(Table("Worst value against its limit", _LIMIT_HEAD, rows),))


_LIMIT_HEAD = ("Verdict", "Limit", "Worst", "Allowed", "Margin")
_VERDICT_MARKS: dict[Verdict, Mark] = {
    Verdict.OUTSIDE: "outside", Verdict.INSIDE: "inside", Verdict.NO_DATA: "missing",
}  # fmt: skip


def _limit_row(limit: LimitVerdict, given: LimitGiven | None, units: UnitSystem) -> Row:
    kind_name, written = limit_unit(limit, given)
    unit = _fine_enough(written or unit_for(kind_name, units), limit.margin)
    worst = figure(limit.worst, kind_name, units, unit=unit)
    bound = figure(limit.limit, kind_name, units, unit=unit)
    margin = figure(limit.margin, kind_name, units, unit=unit, difference=True)
    side = "min" if limit.side == "at_least" else "max"
    cells = (
        Cell(str(limit.verdict).upper(), mark=_VERDICT_MARKS[limit.verdict]),
        Cell(limit.name),
        Cell(str(worst)) if worst.known else Cell("no data", mark="missing"),
        Cell(f"{side} {bound}" if bound.known else f"{side} {_as_given(given)}".rstrip()),
        Cell(margin.value),
    )
    return Row(cells, _limit_detail(limit, units))


def _as_given(given: LimitGiven | None) -> str:
    """The bound as its owner wrote it, for a limit that could not be looked at."""
    if given is None:
        return ""
    bounds = (str(bound) for bound in (given.at_least, given.at_most) if bound is not None)
    return next(bounds, "a curve" if given.curve is not None else "")


def _fine_enough(unit: Unit, margin: float | None) -> Unit:
    """More decimals where a small margin would else be written as zero."""
    shown = abs(margin or 0.0) / unit.scale
    digits = unit.digits
    while shown and shown * 10**digits < 1 and digits < DIGITS_MOST:
        digits += 1
    return replace(unit, digits=digits)


def limit_unit(limit: LimitVerdict, given: LimitGiven | None) -> tuple[str, Unit | None]:
    """Kind of a limit's figures, and the unit its owner wrote, where one was written."""
    kind = kind_of(limit.channel)
    kind_name = kind_of_si(limit.unit, shown_unit=kind.shown_unit if kind else "")
    bounds: list[Written | None] = [given.at_least, given.at_most] if given is not None else []
    if given is not None and given.curve is not None:
        bounds += [y for _, y in given.curve.points]
    units = (written_unit(bound, si_unit=limit.unit) for bound in bounds)
    return kind_name, next((unit for unit in units if unit is not None), None)


def _limit_detail(limit: LimitVerdict, units: UnitSystem) -> str:
    parts = [channel_title(limit.channel)]
    if limit.at_s is not None:
        place = track_feet(limit.at_distance_m, units)
        gear = f"gear {limit.gear}" if limit.gear else ""
        parts.append(", ".join(filter(None, (f"worst at {figure(limit.at_s, 'time', units)}", place, gear))))
    if limit.margin_share is not None and limit.unit != "K":  # a share of an absolute temperature says nothing
        share = abs(limit.margin_share)
        parts.append(f"{figure(share, 'share', units)} {'inside' if limit.margin_share >= 0 else 'outside'}")
    if limit.times_outside:
        often = "once" if limit.times_outside == 1 else f"{limit.times_outside} times"
        parts.append(f"outside {often}, {figure(limit.time_outside_s, 'time', units)} in all")
    return "; ".join(filter(None, (*parts, limit.note.rstrip(".")))) + "."
