"""One recording's table to a log: time, channels, health.

Public: `logs_of_recording`.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.at_once import each_at_once
from passband.analysis.channels.log import Channel, Log, Logged, NotALog, TextFacts, TimeFacts
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.absolute_pressures import gauge_from_absolute
from passband.analysis.reading.columns.answers import columns_given, layout_of
from passband.analysis.reading.columns.cut_of_shifts import cut_of_shifts
from passband.analysis.reading.columns.doubts import find_doubts, unit_read, units_settled
from passband.analysis.reading.columns.gear_from_zero import gear_from_one
from passband.analysis.reading.columns.joint_resolution import resolve_jointly
from passband.analysis.reading.columns.plausibility import SAMPLE, understand_columns
from passband.analysis.reading.columns.receiver_speed import speed_of_receiver
from passband.analysis.reading.columns.speed_witnesses import settle_speed_units
from passband.analysis.reading.columns.understood import Columns, Understood
from passband.analysis.reading.columns.unnamed_channels import tell_unknown_names
from passband.analysis.reading.health.check import check_health
from passband.analysis.reading.health.updates import printed_steps, update_rate_hz
from passband.analysis.reading.rows.columns_swapped import tell_swapped_columns
from passband.analysis.reading.rows.fuel_air_ratio import lambda_from_fuel_air
from passband.analysis.reading.rows.held_rows import without_cells_between
from passband.analysis.reading.rows.numbers_as_dates import numbers_from_dates
from passband.analysis.reading.rows.positions import in_degrees
from passband.analysis.reading.rows.rows_in_order import in_order
from passband.analysis.reading.rows.stated_scales import in_stated_scales
from passband.analysis.reading.rows.switches import numbers_from_switches, tell_words
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.rows.two_pressure_units import in_one_pressure_unit
from passband.analysis.reading.rows.unusable_values import tell_empty_columns, without_absurd_values
from passband.analysis.reading.rows.wrapped_counts import without_wraps
from passband.analysis.reading.rows.written_otherwise import numbers_written_otherwise
from passband.analysis.reading.text.encoding import Text
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.time.clock_in_columns import clock_in_columns
from passband.analysis.reading.time.clock_jumps import LONGEST_GAP_S, GoesOn, columns_go_on
from passband.analysis.reading.time.day_beside import dates_beside, day_of_row
from passband.analysis.reading.time.flushed_stamps import find_flushes, spread_flushes
from passband.analysis.reading.time.mending import MendedTime, mend_time
from passband.analysis.reading.time.newest_last import newest_last
from passband.analysis.reading.time.parted_recordings import LONGEST_RECORDING_S
from passband.analysis.reading.time.stamps_now_and_then import between_stamps
from passband.analysis.reading.time.strewn_rows import in_order_by_values
from passband.analysis.reading.time.timebase import TimeBase, find_time_bases, named_times
from passband.analysis.reading.time.what_moves import moves_of
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import middle


def logs_of_recording(
    text: Text, layout: Layout, header: Header, table: Table, *, name: str, mapping: Mapping[str, str], index: int
) -> list[Log]:
    """Turn one table into logs: one, or several where its clock started again.

    Parameters
    ----------
    text, layout, header, table
        What the steps before found.
    name, mapping, index
        As for `analysis.reading.read_log`.

    Returns
    -------
    list of Log
        Empty where the table holds no rows that can be placed in time.

    Raises
    ------
    NotALog
        If there is no time.
    """
    layout_id = layout_of(header)
    said = columns_given(header, _columns_given(header, mapping))
    header, given = said.header, said.channels
    table = table.with_findings(*_names_against_cells(header, layout))
    table = numbers_written_otherwise(numbers_from_dates(table, header), header)
    table = numbers_from_switches(table, header)
    table = without_cells_between(without_absurd_values(table, header))
    table = clock_in_columns(in_stated_scales(table, header), header)
    made = lambda_from_fuel_air(without_wraps(table, header), header, given)
    gauge = in_one_pressure_unit(made.table, made.header)
    table, header = gauge.table, gauge.header
    table = newest_last(table, named_times(header, given), header.names)
    table = in_order_by_values(table, named_times(header, given), header.names)
    bases = find_time_bases(table, header, layout, name=name, mapping=given)
    ordered = in_order(table, bases[0].time_s) if len(bases) == 1 else None
    if ordered is not None:
        table, bases = ordered.table, [replace(bases[0], time_s=bases[0].time_s[ordered.rows])]
    bases = [_unbunched(bases[0], table)] if len(bases) == 1 else _begun_together(bases, header)
    placed = in_degrees(table, header, bases[0].time_s, lambda: moves_of(table, header).speed_mps)
    table, header = placed.table, placed.header
    times = {base.column for base in bases}
    dates = dates_beside(table, bases[0])
    goes_on = columns_go_on(table, times)
    mended = [_mended(base, goes_on, alone=len(bases) == 1) for base in bases]
    _check_length(mended[0], bases[0], name)
    samples = {
        at: _sample(column.values, all_known=table.bare)
        for at, column in enumerate(table.columns)
        if at not in times and column.values is not None and column.values.size
    }
    columns = resolve_jointly(understand_columns(header, samples, given))
    findings = [
        *table.findings,
        *tell_empty_columns(table, header),
        *tell_swapped_columns(table, header),
        *tell_words(table, header, {*times, dates}),
        *tell_unknown_names(columns),
        *_all_findings(bases, mended, columns),
    ]
    guessed = {
        header.names[at]: column.unit_guessed for at, column in columns.understood.items() if column.unit_guessed
    }
    logs: list[Log] = []
    for piece, (start, stop) in enumerate(mended[0].pieces):
        channels = _channels(_Read(table, columns, bases, mended), (start, stop), index)
        facts = _text_facts(text, layout, header, stop - start)
        its_findings = (
            *_findings_of_piece(findings, mended[0], piece),
            *_tell_times_set_aside(bases, mended, header, (start, stop)),
        )
        clock = _time_facts(bases[0], mended[0], (start, stop), day_of_row(table, dates, start))
        log = Log(name, channels, facts, clock, its_findings)
        log = cut_of_shifts(speed_of_receiver(gauge_from_absolute(gear_from_one(settle_speed_units(log, guessed)))))
        doubts = find_doubts(columns, layout=layout_id, settled=units_settled(log))
        logs.append(check_health(replace(log, doubts=doubts, layout=layout_id)))
    return logs


def _unbunched(base: TimeBase, table: Table) -> TimeBase:
    """Rows that were stamped as a buffer was written, at the times they were measured."""
    base = _with_times_between(base, table)
    flushes = find_flushes(base.time_s) if base.written else None
    if flushes is None:
        return base
    columns = [
        column.values
        for at, column in enumerate(table.columns)
        if at != base.column and column.values is not None and column.rows is None
    ]
    spread = spread_flushes(base.time_s, flushes, columns)
    if spread is None:
        return base
    text = (
        f"Time stamps come in bunches of {flushes.rows} rows, {flushes.within:.3g} s apart, with pauses between, while "
        "the values go on evenly from row to row: they were taken as a full buffer was written. The rows were spread "
        f"evenly, every {flushes.step:.4g} s."
    )
    return replace(base, time_s=spread, findings=(*base.findings, Finding("bunched-time-stamps", "note", text, "")))


def _begun_together(bases: list[TimeBase], header: Header) -> list[TimeBase]:
    """Further clocks moved so that they begin with the main one, where they share no time with it: another logger's."""
    main = bases[0].time_s[np.isfinite(bases[0].time_s)]
    out = [bases[0]]
    for base in bases[1:]:
        known = base.time_s[np.isfinite(base.time_s)]
        if not main.size or not known.size or base.column is None or _share_time(known, main):
            out.append(base)
            continue
        text = (
            f"{header.names[base.column]} goes from {known.min():.4g} to {known.max():.4g} s, and {bases[0].basis} "
            f"from {main.min():.4g} to {main.max():.4g} s: the columns behind it go by another logger's clock. "
            "They are read as if both began with the same row, which they need not have. Give the two logs each in a "
            "file of its own, and their clocks are matched by what both measured."
        )
        found = (*base.findings, Finding("clocks-begun-together", "caution", text, header.names[base.column]))
        out.append(replace(base, time_s=base.time_s - known[0] + main[0], findings=found))
    return out


def _share_time(one: FloatArray, other: FloatArray) -> bool:
    """Whether the stamps of two clocks cover some of the same time, or neither lasts."""
    shared = min(float(one.max()), float(other.max())) - max(float(one.min()), float(other.min()))
    return bool(shared > 0.0 or min(np.ptp(one), np.ptp(other)) <= 0.0)


def _with_times_between(base: TimeBase, table: Table) -> TimeBase:
    """Rows without a time between such that have one, evenly spread."""
    if not base.written or not np.isnan(base.time_s).any():
        return base
    dense = [
        column.values
        for at, column in enumerate(table.columns)
        if at != base.column and column.values is not None and column.rows is None
    ]
    filled = between_stamps(base.time_s, dense)
    if filled is None:
        return base
    stamped = int(np.isfinite(base.time_s).sum())
    text = (
        f"{stamped} of {base.time_s.size} rows carry a time, evenly many rows apart, and the values go on between: "
        "the rows between were spread evenly."
    )
    return replace(base, time_s=filled, findings=(*base.findings, Finding("times-now-and-then", "note", text, "")))


def _check_length(mended: MendedTime, base: TimeBase, name: str) -> None:
    """Refuse a table whose time stands still, or lasts longer than any recording can, throughout."""
    wrong = {finding.code for finding in mended.findings} & {"recording-too-long", "clock-stands-still"}
    if mended.pieces or not wrong:
        return
    known = base.time_s[np.isfinite(base.time_s)]
    lasts, step = float(known.max() - known.min()), float(np.median(np.abs(np.diff(known))))
    raise NotALog(
        f"{name}: looked for the time of a run, found {base.basis} that goes over {lasts:.3g} s with a row every "
        f"{step:.3g} s; a recording lasts {LONGEST_RECORDING_S / 3600:.0f} h at most, and its clock does not stand "
        "still. Tell which column is the time, or export the log with its time in seconds."
    )


def _names_against_cells(header: Header, layout: Layout) -> list[Finding]:
    """Tell where the header names more or fewer columns than the rows hold: names may stand over the wrong ones."""
    if header.rows_counted:
        text = (
            f"The header names {header.names_written - 1} columns and the rows hold one cell more: the first counts "
            "the rows and the second rises as a time, so each name is taken one cell further right."
        )
        return [Finding("names-moved", "caution", text, f"line {header.header_line}")]
    held = max((at for at, kind in enumerate(layout.column_kinds, start=1) if kind != "blank"), default=0)
    if not header.names_written or layout.width >= header.names_written >= held:
        return []
    cells = held if header.names_written < held else layout.width
    text = (
        f"The header names {header.names_written} columns and the rows hold {cells} cells. The names are taken from "
        "the left; if one is missing or too many before the end, those after it stand over the wrong columns. "
        "Check the header against the logger's channel list."
    )
    return [Finding("names-and-cells-disagree", "caution", text, f"line {header.header_line}")]


def _findings_of_piece(findings: list[Finding], mended: MendedTime, piece: int) -> list[Finding]:
    """The file's findings without those of its other pieces: each may be reviewed alone."""
    of_others = {one for at, its in enumerate(mended.of_pieces) for one in its if at != piece}
    return [finding for finding in findings if finding not in of_others]


def _mended(base: TimeBase, goes_on: GoesOn, *, alone: bool) -> MendedTime:
    """The time of one group of columns; rows that only another group uses are not its own."""
    if alone:
        return mend_time(base.time_s, unit_s=base.unit_s, clock_face=base.clock_face, goes_on=goes_on)
    rows = np.flatnonzero(np.isfinite(base.time_s))
    mended = mend_time(base.time_s[rows], unit_s=base.unit_s, clock_face=base.clock_face)
    time = np.full(base.time_s.shape, np.nan)
    time[rows] = mended.time_s
    edges = [0, *(int(rows[start]) for start, _ in mended.pieces[1:]), time.size]
    pieces = tuple(itertools.pairwise(edges)) if mended.pieces else ()
    return MendedTime(time, pieces, mended.findings, mended.of_pieces)


def _columns_given(header: Header, mapping: Mapping[str, str]) -> dict[int, str]:
    """What the user said of each column, by its header as written, or without its unit."""
    given = {key.strip().casefold(): channel.strip() for key, channel in mapping.items()}
    found: dict[int, str] = {}
    for at, (full, bare) in enumerate(zip(header.names, header.bare, strict=True)):
        channel = given.get(full.strip().casefold(), given.get(bare.strip().casefold()))
        if channel:
            found[at] = channel
    return found


def _sample(values: FloatArray, *, all_known: bool) -> FloatArray:
    thinned = values[:: max(values.size // SAMPLE, 1)]
    if all_known:
        return thinned.copy()  # as many cells as far apart again and again cost more
    thinned = thinned[np.isfinite(thinned)]
    if thinned.size < min(SAMPLE // 4, values.size):  # mostly blank: look at what there is
        known = values[np.isfinite(values)]
        thinned = known[:: max(known.size // SAMPLE, 1)]
    return thinned


def _all_findings(bases: list[TimeBase], mended: list[MendedTime], columns: Columns) -> list[Finding]:
    found: list[Finding] = []
    for base, time in zip(bases, mended, strict=True):
        found += [*base.findings, *time.findings]
    for column in columns.understood.values():
        found += column.findings
    assumed = [
        _unit_taken(columns.header.names[at], column)
        for at, column in columns.understood.items()
        if any(finding.code == "unit-assumed" for finding in column.findings)
    ]
    if len(assumed) < 2:
        return found
    return [finding for finding in found if finding.code != "unit-assumed"] + [_units_assumed(assumed)]


def _unit_taken(name: str, column: Understood) -> str:
    if column.unit_guessed is None:
        return f"{name}, and its values fit none that is usual: they are taken as {column.unit}"
    return f"{name} is read as {column.unit_guessed or 'a share of 1'}"


def _units_assumed(assumed: list[str]) -> Finding:
    """One finding for all channels without a unit."""
    shown = ", ".join(assumed[:12])
    more = f" and {len(assumed) - 12} more" if len(assumed) > 12 else ""
    return Finding("unit-assumed", "note", f"No unit is written for {len(assumed)} channels: {shown}{more}.", "")


@dataclass(frozen=True, slots=True)
class _Read:
    """A table, and what its columns are."""

    table: Table
    columns: Columns
    bases: list[TimeBase]
    mended: list[MendedTime]


def _channels(read: _Read, rows: tuple[int, int], index: int) -> tuple[Channel, ...]:
    """The channels of one piece of the table, times from its first row."""
    table, understood, mended = read.table, read.columns.understood, read.mended
    grids = _grids(mended, rows)
    whole = [bool(np.isfinite(grid).all()) for grid in grids]
    shared: dict[tuple[int, int], FloatArray] = {}
    row_s = _RowStep()
    kept: dict[int, tuple[FloatArray, FloatArray]] = {}
    for at in understood:
        base = _base_of(at, read.bases)
        time, values = _samples_of(table.columns[at], grids[base], whole[base], rows, shared)
        if values.size:
            kept[at] = (time, values)
    steps = printed_steps([values for _, values in kept.values()]).tolist()
    samples = [
        _Samples(at, time, values, row_s(time), step)
        for (at, (time, values)), step in zip(kept.items(), steps, strict=True)
    ]
    size = sum(one.values.nbytes for one in samples)
    return tuple(each_at_once(lambda one: _channel(one, read.columns, index), samples, total_bytes=size))


@dataclass(frozen=True, slots=True)
class _Samples:
    """A column's own samples, as logged."""

    column: int
    time_s: FloatArray
    values: FloatArray
    row_s: float
    """Median step of `time_s`. [s]"""
    step: float
    """Printed step of `values`."""


def _grids(mended: list[MendedTime], rows: tuple[int, int]) -> list[FloatArray]:
    """Times of each group of columns from the first row of one piece."""
    main = mended[0].time_s[slice(*rows)]
    zero = float(main[np.flatnonzero(np.isfinite(main))[0]])
    last = zero + float(np.nanmax(main) - zero)
    return [_beside(np.asarray(time.time_s[slice(*rows)]), zero, last) for time in mended]


def _tell_times_set_aside(
    bases: list[TimeBase], mended: list[MendedTime], header: Header, rows: tuple[int, int]
) -> list[Finding]:
    """How many rows of a further clock are not placed: its columns lack their values there, and no other says so."""
    if len(mended) == 1:
        return []
    found: list[Finding] = []
    for base, time, grid in zip(bases[1:], mended[1:], _grids(mended, rows)[1:], strict=True):
        lost = np.flatnonzero(np.isfinite(time.time_s[slice(*rows)]) & ~np.isfinite(grid))
        if base.column is None or not lost.size:
            continue
        name, row = header.names[base.column], rows[0] + int(lost[0]) + 1
        text = (
            f"{lost.size} of the {int(np.isfinite(time.time_s[slice(*rows)]).sum())} times in {name} fall, or lie far "
            "from the recording's other clock; the columns beside it were left out there."
        )
        found.append(Finding("rows-of-another-clock", "caution", text, f"row {row}"))
    return found


def _beside(time_s: FloatArray, first_s: float, last_s: float) -> FloatArray:
    """Times of a group of columns from the recording's first row; those far from all of it, or that fall, set aside."""
    least, most = first_s - LONGEST_GAP_S, last_s + LONGEST_GAP_S
    if bool(np.all(time_s[1:] > time_s[:-1])) and least <= time_s[0] and time_s[-1] <= most:
        return time_s - first_s
    near = (time_s >= least) & (time_s <= most)
    from_first = np.where(near, time_s - first_s, np.nan)
    return np.where(from_first < np.fmax.accumulate(from_first), np.nan, from_first)


class _RowStep:
    """The median step of a time array, worked out once for all channels that share it."""

    def __init__(self) -> None:
        self._known: dict[int, tuple[FloatArray, float]] = {}

    def __call__(self, time_s: FloatArray) -> float:
        if id(time_s) not in self._known:  # the array is kept, so that no other takes its place
            self._known[id(time_s)] = (time_s, middle(np.diff(time_s)) if time_s.size > 1 else 0.0)
        return self._known[id(time_s)][1]


def _base_of(at: int, bases: list[TimeBase]) -> int:
    """The time column nearest to the left; the main one where there is none."""
    best, column = 0, -1
    for number, base in enumerate(bases):
        if base.column is not None and column < base.column < at:
            best, column = number, base.column
    return best


def _samples_of(
    column: Column, grid: FloatArray, whole: bool, rows: tuple[int, int], shared: dict[tuple[int, int], FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """A column's own sample times and values; one time array for all columns of the same rows."""
    start, stop = rows
    values = column.values if column.values is not None else np.empty(0)
    if column.rows is None and whole:
        return grid, values[start:stop]
    held = np.arange(start, stop) if column.rows is None else column.rows
    first, last = (0, held.size) if column.rows is None else np.searchsorted(held, [start, stop])
    kept = values[start:stop] if column.rows is None else values[first:last]
    key = (id(column.rows), id(grid))
    if key not in shared:
        shared[key] = grid[held[first:last] - start]
    time = shared[key]
    if whole:
        return time, kept
    known = np.isfinite(time)
    return time[known], kept[known]


def _channel(samples: _Samples, columns: Columns, index: int) -> Channel:
    column = columns.understood[samples.column]
    conversion = column.conversion
    rate = update_rate_hz(samples.time_s, samples.values, step=samples.step, row_s=samples.row_s)
    si = samples.values
    if conversion.scale != 1.0 or conversion.offset != 0.0:
        si = si * conversion.scale
        si += conversion.offset
    return Channel(
        name=column.channel,
        header=columns.header.names[samples.column],
        unit=column.unit,
        unit_written=column.unit_written,
        time_s=samples.time_s,
        values=si,
        rate_hz=rate,
        confidence=column.confidence,
        log=index,
        resolution=samples.step * abs(conversion.scale),
        logged=Logged(unit_read(column), conversion),
    )


def _text_facts(text: Text, layout: Layout, header: Header, rows: int) -> TextFacts:
    return TextFacts(
        encoding=text.encoding,
        delimiter=text.delimiter_written or layout.delimiter,
        decimal=text.decimal_written or layout.decimal,
        header_line=header.header_line,
        units_line=header.units_line,
        first_data_line=layout.first_data.number,
        rows=rows,
        compression=text.compression,
        preamble=header.preamble,
    )


def _time_facts(base: TimeBase, mended: MendedTime, piece: tuple[int, int], day: str) -> TimeFacts:
    known = mended.time_s[piece[0] : piece[1]]
    known = known[np.isfinite(known)]
    step = middle(np.diff(known)) if known.size > 1 else float("nan")
    rate = 1.0 / step if step > 0 else 0.0
    return TimeFacts(base.basis, float(known[0]), float(known[-1]), rate, base.written, day)
