"""Where the car was, laid out for a reader: launch, shifts, splits, and what the findings say.

Public: `launch_section`, `shifts_section`, `splits_section`, `findings_section`.
"""

from __future__ import annotations

from passband.analysis.results.distance import Distance, Split
from passband.analysis.results.estimate import Estimate, difference
from passband.analysis.results.launch import Launch
from passband.analysis.results.plain_values import Stored
from passband.analysis.results.review import Review
from passband.analysis.results.shifts import Shift, ShiftKind
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.results.window import Outcome
from passband.web.sheets.sheet import Cell, Line, Mark, Row, Section, Table, track_feet
from passband.web.wording.channel_titles import channel_title
from passband.web.wording.figures import Figure, estimate, figure, plain_number, reason_in, reason_of, signed
from passband.web.wording.units import UnitSystem, unit_for

_LEVELS = "STOP: do not use the figure. CAUTION: less sure than it looks. NOTE: corrected or assumed."
_FINISHED = {
    Outcome.QUARTER: "Ran the quarter mile.", Outcome.THOUSAND: "Ran 1,000 ft.", Outcome.EIGHTH: "Ran the eighth mile.",
}  # fmt: skip
LEVEL_WORDS: dict[str, Mark] = {"stop": "stop", "caution": "caution", "note": "note"}


def launch_section(review: Review, units: UnitSystem) -> Section:
    """The launch: engine speed as the car leaves, how far it falls, the way back up."""
    launch = review.launch
    if isinstance(launch, Unknown):
        return Section("launch", "Launch", missing=reason_of(launch))
    lines = (
        Line("Launch RPM", estimate(launch.rpm_at_launch, "rpm", units)),
        Line("Lowest as the clutch bites", estimate(launch.rpm_lowest, "rpm", units)),
        _drop_line(launch, units),
        Line("Back in the band", figure(launch.back_in_band_s, "time", units)),
        Line("Clutch locked", figure(launch.clutch_locked_s, "time", units)),
        _heat_line(review, units),
        Line("Boost at launch", figure(launch.boost_at_launch_pa, "pressure", units)),
        Line("Peak acceleration to 60 ft", figure(launch.peak_acceleration_mps2, "acceleration", units)),
    )
    return Section("launch", "Launch", lines, sentences=("Seconds count from the moment the clock starts.",))


def _drop_line(launch: Launch, units: UnitSystem) -> Line:
    held, lowest = known(launch.rpm_at_launch), known(launch.rpm_lowest)
    if held is None or lowest is None:
        return Line("RPM drop", figure(launch.rpm_drop, "rpm", units))
    return Line("RPM drop", estimate(difference(held, lowest), "rpm", units))


def _heat_line(review: Review, units: UnitSystem) -> Line:
    power = review.power
    heat = power if isinstance(power, Unknown) else power.clutch_heat_j
    return Line("Heat into the clutch", estimate(heat, "energy", units))


def shifts_section(review: Review, units: UnitSystem) -> Section:
    """The shift table: engine speed before and after, and what is left to either end of the band."""
    shifts, gears = review.shifts, review.gears
    if isinstance(gears, Unknown):
        return Section("shifts", "Shifts", missing=reason_of(gears))
    if not shifts and len({one.gear for one in gears.intervals}) == 1 == len(gears.overall_ratios):
        return Section("shifts", "Shifts", missing="the car has one gear: there is nothing to shift")
    if not shifts:
        why = reason_in(review, "shift-not-measured", "engine-speed-too-slow-for-shifts", "gears-unknown")
        return Section("shifts", "Shifts", missing=why)
    rows = tuple(_shift_row(number, shift, units) for number, shift in enumerate(shifts, 1))
    head = ("No.", "Gear", "Before", "After", "To low end", "To high end")
    return Section(
        "shifts",
        "Shifts",
        tables=(Table("Engine speed in rpm; margins to the ends of the band, minus is outside", head, rows),),
        basis=gears.basis,
    )


def _shift_row(number: int, shift: Shift, units: UnitSystem) -> Row:
    before, after = estimate(shift.rpm_before, "rpm", units), estimate(shift.rpm_after, "rpm", units)
    cells = (
        Cell(str(number)),
        Cell(f"{shift.from_gear}→{shift.to_gear}"),
        _cell(before),
        _cell(after),
        _margin_cell(shift.margin_to_band_low_rpm, "under"),
        _margin_cell(shift.margin_to_band_high_rpm, "over"),
    )
    return Row(cells, _shift_detail(shift, units))


def _cell(given: Figure) -> Cell:
    return Cell(given.value, given.plus_minus) if given.known else Cell("not known", mark="missing")


def _margin_cell(margin_rpm: float | Unknown, beyond: Mark) -> Cell:
    if isinstance(margin_rpm, Unknown):
        return Cell("not known", mark="missing")
    text = signed(plain_number(margin_rpm, 0))
    return Cell(text, mark=beyond if margin_rpm < 0 else "")


def _shift_detail(shift: Shift, units: UnitSystem) -> str:
    start = Estimate(shift.time_s, shift.time_plus_minus_s)
    place = track_feet(known(shift.distance_m), units)
    kind = "" if shift.kind is ShiftKind.NORMAL else f"{shift.kind}, ".upper()
    parts = [f"{kind}{'at' if kind else 'At'} {estimate(start, 'time', units)}{', ' + place if place else ''}"]
    parts.append(f"took {figure(shift.duration_s, 'time', units)}")
    drop = estimate(shift.rpm_drop, "rpm", units)
    if drop.known:
        parts.append(f"dropped {drop}")
    if not isinstance(shift.expected_rpm_after, Unknown):
        parts.append(f"{figure(shift.expected_rpm_after, 'rpm', units)} expected after")
    parts += _shift_boost(shift, units)
    if not isinstance(shift.cost_s, Unknown):
        parts.append(f"cost {estimate(shift.cost_s, 'time', units)} at the finish")
    elif not isinstance(shift.time_lost_s, Unknown):
        speed = figure(shift.speed_lost_mps, "speed", units)
        little = abs(shift.time_lost_s) < 0.0005
        lost = "under 1 ms" if little else str(figure(shift.time_lost_s, "time", units))
        parts.append(f"cost {lost}" + (f" and {speed}" if speed.known else ""))
    missing = [one.reason.text for one in (shift.rpm_before, shift.rpm_after, shift.cost_s) if isinstance(one, Unknown)]
    return " ".join(dict.fromkeys(["; ".join(parts) + ".", *missing]))


def _shift_boost(shift: Shift, units: UnitSystem) -> list[str]:
    before = figure(shift.boost_before_pa, "pressure", units)
    lowest = figure(shift.boost_lowest_pa, "pressure", units)
    if not before.known or not lowest.known:
        return []
    back = figure(shift.boost_recovery_s, "time", units)
    return [f"boost {before.value} to {lowest}, " + (f"back after {back}" if back.known else "not back before the end")]


SLIP_APART = frozenset({"slip-does-not-fit", "slip-not-used", "slip-mark-left-out"})
"""Findings by which a slip's times are not, or not all, the splits: they stand beside them."""


def splits_section(review: Review, units: UnitSystem, *, slip: Stored | None = None) -> Section:
    """Elapsed time and speed at each mark, traps, wheelspin and their basis; beside them a slip that disagrees."""
    distance = review.distance
    if isinstance(distance, Unknown):
        return Section("splits", "Splits", missing=reason_of(distance))
    traps = {trap.at_ft: trap.speed_mps for trap in distance.traps}
    rows = tuple(_split_row(split, traps.get(split.at_ft), units) for split in distance.splits)
    speed = unit_for("speed", units).label
    head: tuple[str, ...] = ("Mark", "Time s", f"Speed {speed}", f"Trap {speed}")
    if slip and any(finding.code in SLIP_APART for finding in review.findings):
        head = (*head, "Slip s")
        rows = tuple(
            Row((*row.cells, Cell(_on_slip(slip, split.at_ft))))
            for row, split in zip(rows, distance.splits, strict=True)
        )
    table = Table("From the moment the clock starts", head, rows)
    window = review.window
    start = Estimate(window.log_clock_start_s, window.clock_start_plus_minus_s)
    lines = [
        Line("Clock starts at", estimate(start, "time", units), "on the ECU log's own clock"),
        Line("Rollout", estimate(distance.rollout_m, "short_length", units)),
    ]
    if distance.scale is not None:
        lines.append(Line("Speed scale set by the slip", estimate(distance.scale, "ratio", units)))
    for clock in review.clocks:
        rate = estimate(clock.rate_ppm, "ppm", units)
        note = f"rate {rate}; matched on {', '.join(channel_title(one).lower() for one in clock.matched_on)}"
        lines.append(Line(f"Clock offset, {clock.log}", estimate(clock.offset_s, "time", units), note))
    return Section(
        "splits",
        "Splits",
        tuple(lines),
        tables=(table,) if rows else (),
        sentences=_track_sentences(review, distance, units),
        basis=distance.basis,
        missing="" if rows else "no mark was reached",
    )


def _on_slip(slip: Stored, at_ft: int) -> str:
    """A mark's time as the slip has it, without its unit; a dash where it has none."""
    given = slip.get(f"t{at_ft}_s")
    if isinstance(given, float):
        return plain_number(given, 3)
    return str(given).removesuffix("s").strip() if given not in (None, "") else "–"


def _split_row(split: Split, trap: Estimate | None, units: UnitSystem) -> Row:
    through = _cell(estimate(trap, "speed", units)) if trap else Cell("")
    time, speed = estimate(split.time_s, "time", units), estimate(split.speed_mps, "speed", units)
    return Row((Cell(f"{split.at_ft:,} ft"), _cell(time), _cell(speed), through))


def _track_sentences(review: Review, distance: Distance, units: UnitSystem) -> tuple[str, ...]:
    outcome = review.window.outcome
    sentences = [_FINISHED.get(outcome, f"The run: {outcome}, {track_feet(known(review.window.distance_m), units)}.")]
    for spin in distance.wheelspin:
        start, end = figure(spin.start_s, "time", units), figure(spin.end_s, "time", units)
        slip = None if spin.peak_slip is None else figure(spin.peak_slip, "share", units)
        sentences.append(
            f"Wheelspin {start.value} to {end}, {f'at worst {slip} slip' if slip else 'how much is open'}."
        )
    for event in review.window.decoys:
        start, end = figure(event.log_start_s, "time", units), figure(event.log_end_s, "time", units)
        sentences.append(f"Set aside: {event.kind}, log time {start.value} to {end}.")
    return tuple(sentences)


def findings_section(review: Review) -> Section:
    """What must be known of the data and the run, weightiest first."""
    findings = review.findings
    rows = tuple(
        Row((Cell(str(one.level).upper(), mark=LEVEL_WORDS[one.level]), Cell(one.text)), channel_title(one.where))
        for one in findings
    )
    if not rows:
        return Section("findings", "Findings", sentences=("Nothing had to be corrected, assumed or doubted.",))
    return Section("findings", "Findings", tables=(Table(_LEVELS, ("Level", "What"), rows),))
