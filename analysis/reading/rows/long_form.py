"""Long form: each row holds a time, a channel's name and its value; here each channel becomes a column again.

Public: `pivoted`, `Wide`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import is_unit
from passband.analysis.quantities import IntArray
from passband.analysis.reading.rows.table import Column, Table
from passband.analysis.reading.text.header import Header, tell_apart
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.name_and_unit import split_name_and_unit
from passband.analysis.reading.text.stated_scales import Scaled, Tabled, scales_tabled
from passband.analysis.results.findings import Finding

FEWEST_ROWS = 40
"""Rows below which words beside numbers are no channels' names."""
MOST_CHANNELS = 1000
"""Different names above which a column of words is none of channels."""
FEWEST_SAMPLES = 4.0
"""Rows a name must have on average."""
KNOWN = 0.3
"""Share of the names that must be known channels or carry a unit; a list of events has none."""
MOST_TIMES = 0.7
"""Share of rows that may have a time of their own; two channels at the same times leave a half."""
_NAMES_CHANNELS = frozenset(
    "channel channels signal name parameter parameters variable sensor measurement measurand tag item kanal signalname "
    "canal voie señal kanaal canale сигнал канал チャンネル 通道 채널".split()
)
"""What a column of channels' names is called; from memory."""

_NUMBER_OF_CHANNEL = re.compile(
    r"(?i)(?:id|no|nr|ch|channel|kanal|canal|voie|signal|sensor|code|index)?[ .#_-]{0,3}(\d{1,6}|0x[0-9a-f]{1,8})"
)


@dataclass(frozen=True, slots=True)
class Wide:
    """Rows with a column for each channel."""

    layout: Layout
    header: Header
    table: Table


def pivoted(layout: Layout, header: Header, table: Table) -> Wide | None:
    """Give each channel of a table in long form a column of its own.

    Parameters
    ----------
    layout, header, table
        What the steps before found.

    Returns
    -------
    Wide or None
        None where the rows hold more than one value, or no names of channels.
    """
    if not 3 <= len(table.columns) <= 8 or table.rows < FEWEST_ROWS:
        return None
    tabled = scales_tabled(header.preamble)
    header = replace(header, preamble=_with_names(header.preamble, tabled)) if tabled else header
    explained = _named_by_a_legend(table, header)
    table = table if explained is None else explained
    words = [at for at, column in enumerate(table.columns) if column.words is not None]
    if not words:
        return None
    names_at = next((at for at in words if _names_channels(table.columns[at], header.bare[at])), None)
    if names_at is None:
        return None
    name = _texts(table.columns[names_at])
    time_at = _time_of(table, header, names_at)
    values = [
        at
        for at, column in enumerate(table.columns)
        if at not in (names_at, time_at) and column.values is not None and not _goes_with(column, name)
    ]
    if time_at is None or len(values) != 1:
        return None
    said = explained is not None or header.bare[names_at].casefold().strip() in _NAMES_CHANNELS
    if not said and not _repeats(table.columns[time_at]):
        return None
    units_at = next((at for at in words if at not in (names_at, time_at) and _are_units(table.columns[at])), None)
    units = None if units_at is None else _texts(table.columns[units_at])
    scales = {_titled(one): one.scaled for one in tabled.values() if one.name} if explained is not None else {}
    return _wide(_Long(layout, header, table, time_at, values[0], scales), name, units)


def _titled(one: Tabled) -> str:
    return f"{one.name} [{one.scaled.unit}]" if one.scaled.unit else one.name


def _with_names(preamble: tuple[tuple[str, str], ...], tabled: dict[str, Tabled]) -> tuple[tuple[str, str], ...]:
    """The lines above with a name and unit in place of the cells of a table of channels."""
    said = {mark: _titled(one) for mark, one in tabled.items() if one.name}
    return tuple((key, said.get(key.strip().casefold(), value)) for key, value in preamble)


def _named_by_a_legend(table: Table, header: Header) -> Table | None:
    """The table with names for the marks of a column that lines above explain, as ``12 = Engine speed [rpm]``."""
    keys = [(_NUMBER_OF_CHANNEL.fullmatch(key.strip()), value) for key, value in header.preamble if value]
    legend = {float(int(match[1], 0) if "x" in match[1].lower() else match[1]): value for match, value in keys if match}
    said = {key.strip().casefold(): value for key, value in header.preamble if key.strip() and value}
    for at, column in enumerate(table.columns):
        names: list[str | None] | None = None
        if column.words is not None:
            shown = _texts(column).str.to_lowercase()
            if len(said) > 1 and 1 < shown.n_unique() <= len(said) and set(shown.unique().to_list()) <= said.keys():
                names = [said[one] for one in shown.to_list()]
        elif len(legend) > 1 and column.values is not None and column.rows is None and column.values.size:
            numbers = np.unique(column.values)
            if 1 < numbers.size <= len(legend) and set(numbers.tolist()) <= legend.keys():
                names = [legend[number] for number in column.values.tolist()]
        if names is not None:
            named = Column(None, None, pl.Series(names))
            return replace(
                table, columns=tuple(named if place == at else one for place, one in enumerate(table.columns))
            )
    return None


def _texts(column: Column) -> pl.Series:
    words = column.words if column.words is not None else pl.Series([], dtype=pl.String)
    return words.fill_null("").str.strip_chars(' "')


def _names_channels(column: Column, header: str) -> bool:
    texts = _texts(column)
    named = [name for name in texts.unique().to_list() if name]
    if not named or len(named) > min(MOST_CHANNELS, len(texts) / FEWEST_SAMPLES):
        return False
    split = [split_name_and_unit(name) for name in named]
    known = sum(bool(unit) or bool(recognise_name(name)) for name, unit in split)
    return known >= max(KNOWN * len(named), 1) and (
        header.casefold().strip() in _NAMES_CHANNELS or (len(named) > 1 and 2 * known >= len(named))
    )


def _time_of(table: Table, header: Header, names_at: int) -> int | None:
    """The column of time: the one named so, else the first of the others."""
    others = [at for at in range(len(table.columns)) if at != names_at]
    for at in others:
        if any(match.channel == "time" for match in recognise_name(header.bare[at])):
            return at
    return None


def _repeats(column: Column) -> bool:
    """Whether many rows share a time: a column of states beside one channel has a time of its own in each."""
    stamps = column.words if column.words is not None else pl.Series(column.values)
    return stamps.n_unique() <= MOST_TIMES * len(stamps)


def _goes_with(column: Column, name: pl.Series) -> bool:
    """Whether a number is always the same for one name: the channel's own number, not its value."""
    values = column.over(len(name))
    pairs = pl.DataFrame({"name": name, "value": values}).unique()
    names = int(name.n_unique())
    return names > 1 and pairs.height == names == int(pairs["value"].n_unique())


def _are_units(column: Column) -> bool:
    different = [unit for unit in _texts(column).unique().to_list() if unit]
    return bool(different) and 2 * sum(is_unit(unit) for unit in different) >= len(different)


@dataclass(frozen=True, slots=True)
class _Long:
    """Rows with a name and a value each, and which columns hold their time and value."""

    layout: Layout
    header: Header
    table: Table
    time_at: int
    value_at: int
    scales: dict[str, Scaled]
    """How the counts of a channel become values, by its name; empty where nothing says so."""


def _wide(long: _Long, name: pl.Series, units: pl.Series | None) -> Wide:
    """The table with one row for each time and a column for each name; of two values at once the later holds."""
    header, table = long.header, long.table
    stamps = table.columns[long.time_at]
    clock = stamps.words is not None
    keys = _texts(stamps) if clock else pl.Series(stamps.over(table.rows))
    keep = (keys != "") if clock else keys.is_not_nan()
    order = keys.filter(keep).unique().sort()
    place = dict(zip(order.to_list(), range(len(order)), strict=True))
    rows: IntArray = np.array([place.get(key, -1) for key in keys.to_list()], dtype=np.int64)
    values = table.columns[long.value_at].over(table.rows)
    wide = [Column(None, None, order) if clock else Column(order.to_numpy().astype(np.float64), None)]
    titles, unit_of = [header.names[long.time_at]], [header.units[long.time_at]]
    for one in name.unique(maintain_order=True).to_list():
        own = np.flatnonzero((name == one).to_numpy() & (rows >= 0))
        if not one or not own.size:
            continue
        own = own[np.argsort(rows[own], kind="stable")]
        last = np.append(np.diff(rows[own]) > 0, True)
        held = own[last]
        scaled = long.scales.get(one)
        counts = values[held]
        wide.append(Column(counts if scaled is None else counts * scaled.factor + scaled.offset, rows[held]))
        titles.append(one)
        unit = split_name_and_unit(one)[1]
        unit_of.append(unit or ("" if units is None else str(units[int(own[0])])))
    kinds = ("clock" if clock else "number", *["number"] * (len(wide) - 1))
    header = replace(
        header,
        names=tuple(tell_apart(titles)),
        units=tuple(unit_of),
        bare=tuple(split_name_and_unit(one)[0] for one in titles),
        names_written=len(titles),
    )
    layout = replace(long.layout, width=len(wide), column_kinds=kinds, cell_units=("",) * len(wide))
    finding = _tell_long(long, len(wide) - 1, len(order))
    found = (*table.findings, finding, *_tell_scales(long))
    return Wide(layout, header, Table(tuple(wide), len(order), found))


def _tell_scales(long: _Long) -> tuple[Finding, ...]:
    changed = [one for one in long.scales.values() if one.factor != 1.0 or one.offset]
    if not changed:
        return ()
    if not any(one.offset for one in changed):
        text = "A table above the rows states what each channel is to be multiplied by; its values were."
        return (Finding("scales-stated", "note", text, ""),)
    text = (
        "A table above the rows states a factor and an offset for each channel; its values were multiplied by the "
        "one, and the other was added then."
    )
    return (Finding("scales-stated", "caution", text, ""),)


def _tell_long(long: _Long, channels: int, times: int) -> Finding:
    text = (
        f"The rows are in long form, a channel's name and value in each: {long.table.rows} rows became {channels} "
        f"channels at {times} times."
    )
    return Finding("long-form", "note", text, f"line {long.layout.first_data.number}")
