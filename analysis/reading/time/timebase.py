"""Which column is the time, in which unit, and what stands in for it where there is none.

Public: `TimeBase`, `find_time_bases`, `named_times`, `stated_rate_hz`, `rate_in_names`,
`stated_tick_s`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import time_scale_s
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Table
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.layout import Layout
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.reading.time.candidates import MOSTLY, is_plainly_time, rises, time_candidates
from passband.analysis.reading.time.summed_steps import may_be_steps, summed_steps
from passband.analysis.reading.time.timestamps import counted_parts, seconds_of_clock
from passband.analysis.reading.time.unit_of_time import digits_of_a_clock, unit_of_time
from passband.analysis.reading.time.what_moves import moves_of
from passband.analysis.results.findings import Finding


@dataclass(frozen=True, slots=True)
class TimeBase:
    """One time that rows or some columns go by."""

    column: int | None
    """The column it stands in; None where it is counted from the rows."""
    time_s: FloatArray
    """One per row; NaN where blank. [s]"""
    unit_s: float
    """Seconds in one count as written."""
    clock_face: bool
    """Whether it is written as hours, minutes and seconds."""
    basis: str
    """In words, for the reader."""
    findings: tuple[Finding, ...] = ()
    """What was assumed."""
    written: bool = True
    """Whether times stand in the log; else rows or samples are counted."""


def find_time_bases(
    table: Table, header: Header, layout: Layout, *, name: str, mapping: Mapping[int, str]
) -> list[TimeBase]:
    """Find the time that rows go by, and further ones for groups of columns.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names, units and preamble.
    layout : Layout
        What each column holds.
    name : str
        The file's name, for a refusal.
    mapping : dict of int to str
        What the user said a column is, ``time`` among it.

    Returns
    -------
    list of TimeBase
        The main one first, then others in the file's order.

    Raises
    ------
    NotALog
        If there is neither a time column nor a stated rate.
    """
    said = (*header.preamble, *_said_below_the_names(layout, header))
    rate_hz = stated_rate_hz(said)
    given = [column for column, channel in mapping.items() if channel == "time"]
    found = [base for column in given if (base := _base_of(table, column, header, rate_hz, sure=True))]
    named: list[int] = []
    if not found:
        named = _without_parts(named_times(header, mapping), table, header)
        found = [base for i in named if (base := _base_of(table, i, header, rate_hz))]
    if found:
        return _main_first([_with_fraction(base, table, header) for base in found], table, header)
    of_steps = _of_steps(table, header, set(mapping), named)
    if of_steps is not None:
        return [of_steps]
    rate_hz = rate_hz if rate_hz is not None else rate_in_names(header.names)
    stand_in = _stand_in(table, header, layout, {*mapping, *named}, rate_hz)
    if rate_hz is not None and (stand_in is None or stand_in.unit_s <= 0):
        return [_counted(table.rows, rate_hz)]
    if stand_in is not None:
        return [stand_in, *_of_groups(stand_in, table, header, {*mapping, *named})]
    lone_hz = _lone_hz(said)
    if lone_hz is not None:
        text = (
            f"No column is a time, and no line above the rows says at what rate they come, but one names {lone_hz:g} "
            "Hz and nothing else is in Hz: it is taken for that rate. Check it, or export the log with its time column."
        )
        return [replace(_counted(table.rows, lone_hz), findings=(Finding("rate-assumed", "caution", text, ""),))]
    raise NotALog(
        f"{name}: looked for a column of time or a stated sample rate, found {_found_instead(header)}. "
        "Export the log with its time column, or tell which column is the time."
    )


def _said_below_the_names(layout: Layout, header: Header) -> list[tuple[str, str]]:
    """What lines between the names and the rows say, without the row of units: each as a line without a key."""
    titles = {header.header_line, header.units_line}
    below = [line for line in layout.above if line.number > (header.header_line or 0) and line.number not in titles]
    return [("", line.text.strip(layout.delimiter + " \t#;%()[]'\"")) for line in below] if header.header_line else []


def named_times(header: Header, mapping: Mapping[int, str]) -> list[int]:
    """Columns that are named as a time and were not told to be another thing.

    Parameters
    ----------
    header : Header
        The names.
    mapping : dict of int to str
        What the user said a column is.
    """
    return [at for at, bare in enumerate(header.bare) if mapping.get(at, "time") == "time" and _is_time_name(bare)]


def _without_parts(named: list[int], table: Table, header: Header) -> list[int]:
    """The column that a clock's parts were put together in, where they were; else those named as a time."""
    whole = {finding.where for finding in table.findings if finding.code == "clock-in-columns"}
    return [at for at, one in enumerate(header.names) if one in whole] or named


def _found_instead(header: Header) -> str:
    """What there is where no time is."""
    if header.header_line is None:
        return "a table without column names"
    named = [name for name, bare in zip(header.names, header.bare, strict=True) if _is_time_name(bare)]
    if named:
        why = "which does not rise as a time does, or counts rows at a rate that nothing tells"
        return f"only {quoted_start(named[0], most=30)}, {why}"
    shown = ", ".join(quoted_start(column, most=30) for column in header.names[:6])
    return f"neither among the columns {shown}{', ...' if len(header.names) > 6 else ''}"


def _is_time_name(bare: str) -> bool:
    return any(match.channel == "time" for match in recognise_name(bare)) or bool(
        re.fullmatch(r"(?i)\s*(log|data|ecu|dash)?[ _]?time(stamp)?[ _]?(\d+( ?hz)?|[a-z]|\(\d+\))?\s*", bare)
    )


LEAST_RATE_HZ, MOST_RATE_HZ = 5.0, 1000.0
"""Rates at which logs of a run are written; a frequency beyond is of something else. Common practice.
No source. [Hz]"""
_RATE_WORDS = frozenset(
    "rate frequency freq hz samplerate abtastrate fs sps loggingrate "
    "abtastfrequenz messrate aufzeichnungsrate fréquence cadence frecuencia frequência taxa frequenza "
    "frekvencia mintavételi mintavételezés frekvensen samplingsrate samplingshastighet taajuus näytteenottotaajuus "
    "frekansı frekans hızı συχνότητα frecvență frecvența frekvencija frekvencia "
    "frequentie meetfrequentie bemonsteringsfrequentie samplingsfrekvens frekvens częstotliwość frekvence частота "
    "サンプリング周波数 采样率 采样频率 採樣率 샘플링주파수 주파수".split()
)
_PERIOD_WORDS = frozenset(
    "interval period step dt time samplinginterval timestep "
    "abtastintervall abtastzeit intervall zeitschritt schrittweite période pas intervalle intervalo periodo paso "
    "período passo intervallo okres perioda период интервал шаг サンプリング周期 采样周期 采样间隔 "
    "샘플링주기 주기".split()
)
_RATE_NEIGHBOURS = frozenset(
    "sample samples sampling frame frames log logging logger logged data record recording recorded acquisition acq "
    "scan row rows per second sec s ms us "
    "channel base main max basic the export output time in of khz storage update "
    "d de di do del da of der des échantillonnage acquisition mesure muestreo amostragem campionamento acquisizione "
    "örnekleme δειγματοληψίας eșantionare uzorkovanja vzorkovania kayıt logger loggen "
    "próbkowania vzorkovací vzorkování дискретизации опроса 샘플링".split()
)
_PER_SECOND = re.compile(
    r"(?i)(\d+(?:[.,]\d+)?)\s*(?:samples?|rows?|records?|readings?|lines?|points?|scans?|values?|werte|zeilen|messwerte|"
    r"punkte|points|mesures|lignes|échantillons|muestras|filas|lecturas|amostras|linhas|campioni|righe|metingen|rijen|"
    r"mätningar|rader|målinger|próbek|pomiarów|vzorků|отсчётов|отсчетов|строк|замеров)\s*"
    r"(?:/|per|a|each|pro|je|par|por|al|per|på|na|za|в)\s*"
    r"(?:s|sec|second|sek|sekunde|seconde|segundo|secondo|sekund|sekundę|sekundu|секунду)\b"
)
"""A rate in words: ``50 samples per second``; from memory."""
_EVERY = re.compile(
    r"(?i)\b(?:samples?|sampled|rows?|readings?|lines?|logged|logs|recorded|records?|points?|measured)\b[^.\d]{0,20}?"
    r"\bevery (\d{1,6}(?:[.,]\d{1,6})?) ?(ms|msec|milliseconds?|us|s|sec|seconds?)\b"
)
"""A period in words: ``one sample every 40 ms``."""
LONGEST_SAID = 300
"""Letters of a line above the rows in which a rate is looked for."""
_SAMPLES_A_SECOND = re.compile(r"(?i)k?(?:sa?|smp|frames?)/s(?:ec)?|k?sps|fps")
"""Units of nothing but a rate at which samples are taken."""
_HERTZ = re.compile(r"(?i)(?<![\w.,])(\d+(?:[.,]\d+)?)\s*hz\b")
_AMOUNT = re.compile(r"([-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?)\s*([^\d\s,;]*)")


def stated_rate_hz(preamble: tuple[tuple[str, str], ...]) -> float | None:
    """The rate of rows that the preamble states; None where it states none.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line.

    Returns
    -------
    float or None
        Rows a second; the line that says most plainly what rate it means wins. [Hz]

    Examples
    --------
    >>> stated_rate_hz((("Rate", "500"),)), stated_rate_hz((("Sample Interval", "10 ms"),))
    (500.0, 100.0)
    >>> stated_rate_hz((("", "Sample rate 50 Hz"),))
    50.0
    >>> stated_rate_hz((("", "Logged at 50 samples per second"),))
    50.0
    >>> stated_rate_hz((("Fuel rate", "3"), ("", "Rate of fuel 3")))
    """
    found: list[tuple[int, float]] = []
    for key, value in preamble:
        in_words = _PER_SECOND.search(f"{key} {value}"[:LONGEST_SAID])
        if in_words is not None and 0.5 <= float(in_words[1].replace(",", ".")) <= 1e5:
            found.append((1, float(in_words[1].replace(",", "."))))
            continue
        every = _EVERY.search(f"{key} {value}"[:LONGEST_SAID])
        if every is not None and (step_s := float(every[1].replace(",", ".")) * (time_scale_s(every[2]) or 0.0)) > 0:
            found.append((1, round(1.0 / step_s, 9)))
            continue
        subject = key or re.split(r"\d", value, maxsplit=1)[0]
        words = [word.casefold() for word in re.findall(r"[^\W\d_]+", subject)]
        match = _AMOUNT.search(value)
        if (
            match is None
            or not words
            or not all(word in _RATE_NEIGHBOURS | _RATE_WORDS | _PERIOD_WORDS for word in words)
        ):
            continue
        invert = not (any(word in _RATE_WORDS for word in words) or _SAMPLES_A_SECOND.fullmatch(match.group(2)))
        if invert and not (any(word in _PERIOD_WORDS for word in words) and len(words) + (words[0] != "time") > 1):
            continue
        rate = _rate_from(float(match.group(1).replace(",", ".")), match.group(2), key, invert)
        if rate is not None and 0.5 <= rate <= 1e5:
            found.append((sum(word in ("sample", "sampling", "log", "logging", "samplerate") for word in words), rate))
    return max(found, key=lambda pair: pair[0])[1] if found else None


_HERTZ_OF_NAME = re.compile(r"(?i)(?<![\w.,])@?(\d{1,4}(?:[.,]\d{1,3})?)[ _]?hz\b|(?<=[^\W_])_(\d{1,4})hz\b")


def rate_in_names(names: Sequence[str]) -> float | None:
    """The rate that the names of at least half of the columns and of two state, all the same; None where none do.

    Parameters
    ----------
    names : sequence of str
        As written.

    Returns
    -------
    float or None
        Rows a second. [Hz]

    Examples
    --------
    >>> rate_in_names(["RPM @100Hz", "TPS (100 Hz)"]), rate_in_names(["RPM (100 Hz)", "GPS Speed (10 Hz)"])
    (100.0, None)
    >>> rate_in_names(["RPM", "Knock 6 Hz", "MAP"]), rate_in_names(["Sample (50 Hz)", "RPM", "TPS"])
    (None, 50.0)
    """
    found = [(match, name) for name in names if (match := _HERTZ_OF_NAME.search(name)) is not None]
    rates = {float((match[1] or match[2]).replace(",", ".")) for match, _ in found}
    counted = any(_COUNTER.match(name) for _, name in found)
    if len(rates) != 1 or not (counted or len(found) >= max(2, len(names) / 2)):
        return None
    rate = rates.pop()
    return rate if LEAST_RATE_HZ <= rate <= MOST_RATE_HZ else None


def _lone_hz(preamble: tuple[tuple[str, str], ...]) -> float | None:
    """The one frequency that the lines above name, where it can be a rate of rows; None where there are more."""
    amounts = {float(one.replace(",", ".")) for key, value in preamble for one in _HERTZ.findall(f"{key} {value}")}
    rate = amounts.pop() if len(amounts) == 1 else 0.0
    return rate if LEAST_RATE_HZ <= rate <= MOST_RATE_HZ else None


def _rate_from(amount: float, unit: str, key: str, invert: bool) -> float | None:
    if amount <= 0:
        return None
    low = unit.casefold()
    if invert:
        scale = time_scale_s(unit) or (time_scale_s(key.rsplit(None, 1)[-1].strip("()[]")) if key else None)
        if scale is None:
            scale = 1.0 if amount < 1 else 1e-3
        return 1.0 / (amount * scale)
    if low.startswith(("khz", "ksps", "ks/", "ksa/")):
        return amount * 1e3
    scale = time_scale_s(unit) if unit else None
    return 1.0 / (amount * scale) if scale else amount


_TICK = re.compile(r"(?i)\b(?:tick|takt|count|clock count|top)s?\b")
TICK_OF_AN_EPOCH_S = 1e-7
"""What a tick is whose count, by its size, began with a calendar. [s]"""
_STATED_TICK = re.compile(
    r"(?i)\b(?:1 )?(?:tick|takt|count|clock count)s?\b\s*(?:is|lasts|:|=)?\s*(\d+(?:[.,]\d+)?)\s*([^\d\s,;]+)"
)


def stated_tick_s(preamble: tuple[tuple[str, str], ...]) -> float | None:
    """How long a count of the clock lasts, as a line above the rows says; None where none does.

    Parameters
    ----------
    preamble : tuple of pairs
        Key and value of each line.

    Examples
    --------
    >>> stated_tick_s((("1 tick", "10 ms"),)), stated_tick_s((("", "Tick 250 us"),)), stated_tick_s((("Ticks", "7"),))
    (0.01, 0.00025, None)
    """
    for key, value in preamble:
        match = _STATED_TICK.search(f"{key} = {value}" if key else value)
        scale = time_scale_s(match.group(2)) if match else None
        if match and scale is not None and float(match.group(1).replace(",", ".")) > 0:
            return round(float(match.group(1).replace(",", ".")) * scale, 12)
    return None


def _counted(rows: int, rate_hz: float) -> TimeBase:
    return TimeBase(None, np.arange(rows) / rate_hz, 1.0 / rate_hz, False, f"stated rate {rate_hz:g} Hz", written=False)


def _base_of(table: Table, at: int, header: Header, rate_hz: float | None, *, sure: bool = False) -> TimeBase | None:
    """A column as a time; None where it does not rise like one."""
    column = table.columns[at]
    if column.words is not None:
        counted = counted_parts(column.words)
        if counted is not None and rises(counted.seconds):
            return TimeBase(at, counted.seconds, 1.0, True, f"column {header.names[at]}, with {counted.said}")
        seconds = seconds_of_clock(column.words)
        if not rises(seconds) and not sure:
            return None
        return TimeBase(at, seconds, 1.0, True, f"column {header.names[at]}") if np.isfinite(seconds).any() else None
    if column.values is None or not (rises(column.values) or sure):
        return None
    return _with_unit(column.over(table.rows), at, table, header, rate_hz)


def _with_unit(values: FloatArray, at: int, table: Table, header: Header, rate_hz: float | None) -> TimeBase | None:
    name = header.names[at]
    clock = digits_of_a_clock(values) if not header.units[at] else None
    if clock is not None:
        text = f"The digits of {name} are read as hours, minutes and seconds: its numbers leap by 40 at each minute."
        return TimeBase(at, clock, 1.0, True, f"column {name}", (Finding("time-unit-assumed", "note", text, name),))
    tick_s = stated_tick_s(header.preamble) if not header.units[at] and _TICK.search(name) else None
    if tick_s is not None:
        return TimeBase(at, values * tick_s, tick_s, False, f"column {name}, {tick_s:g} s a count as stated")
    unit = unit_of_time(values, name=name, written=header.units[at], rate_hz=rate_hz, moves=moves_of(table, header))
    if unit is None:
        return None
    basis = f"column {name}" + (f" in {unit.shown}" if unit.shown else "")
    return TimeBase(at, values * unit.scale_s, unit.scale_s, False, basis, unit.findings)


def _of_steps(table: Table, header: Header, besides: set[int], named: list[int]) -> TimeBase | None:
    """The sum of a column that holds how long each row comes after the one before."""
    for at, column in enumerate(table.columns):
        if at in besides or column.values is None:
            continue
        if not may_be_steps(header.bare[at], column, named_time=at in named):
            continue
        summed = summed_steps(column)
        base = None if summed is None else _with_unit(summed, at, table, header, None)
        if base is not None:
            name = header.names[at]
            text = (
                f"No column rises as a time does; {name} holds how long each row comes after the one before, and the "
                "sum of its values is taken for the time."
            )
            found = (Finding("time-summed", "caution", text, name), *base.findings)
            return replace(base, basis=f"sum of {base.basis}", findings=found, written=False)
    return None


def _of_groups(main: TimeBase, table: Table, header: Header, besides: set[int]) -> list[TimeBase]:
    """Further columns in a unit of time, each of which is the time of the columns right of it, beside one assumed."""
    if main.column is None:
        return []
    found: list[TimeBase] = []
    for at in range(main.column + 1, len(table.columns)):
        if at in besides or time_scale_s(header.units[at]) is None or table.columns[at].values is None:
            continue
        base = _base_of(table, at, header, None)
        if base is not None and _is_a_groups_own(base, main, table):
            found.append(base)
    return found


def _with_fraction(base: TimeBase, table: Table, header: Header) -> TimeBase:
    """A clock of whole seconds together with the column right of it, where that counts their thousandths."""
    at = base.column
    if at is None or not base.clock_face or at + 1 >= len(table.columns):
        return base
    whole, beside = base.time_s, table.columns[at + 1]
    if beside.values is None or beside.rows is not None or whole.size < 3:
        return base
    if not np.array_equal(whole, np.floor(whole)):
        return base
    least, most = float(beside.values.min()), float(beside.values.max())  # NaN, where a cell is none, fails all below
    scale = 1.0 if most < 1.0 else 1e-3
    if not (least >= 0.0 and most * scale < 1.0 and most * scale > 0.5):
        return base
    fine = whole + beside.values * scale
    if not (np.mean(np.diff(fine) > 0) >= MOSTLY > np.mean(np.diff(whole) > 0)):
        return base
    return replace(base, time_s=fine, basis=f"{base.basis} with {header.names[at + 1]}")


_COUNTER = re.compile(r"(?i)^\W*(sample|samples|index|record|row|count|counter|n|no|nr|point|frame|line|scan)\b.*$")


def _stand_in(
    table: Table, header: Header, layout: Layout, besides: set[int], rate_hz: float | None
) -> TimeBase | None:
    """A sample counter with a stated rate, clock times, or whatever rises as only a time does."""
    for at, column in enumerate(table.columns[:4]):
        if at in besides:
            continue
        if column.words is not None and layout.column_kinds[at] in ("clock", "words"):
            base = _base_of(table, at, header, rate_hz)
            if base is not None:
                return _with_fraction(base, table, header)
        counter = rate_hz is not None and column.rows is None and _is_counter(table, header, at)
        if counter and rate_hz is not None and column.values is not None:
            scale = 1.0 / (rate_hz * float(np.median(np.diff(column.values))))
            basis = f"sample counter {header.names[at]} at {rate_hz:g} Hz"
            return TimeBase(at, column.values * scale, scale, False, basis, written=False)
    for at in time_candidates(table, header, besides=besides):
        base = _base_of(table, at, header, rate_hz)
        ticks = _TICK.search(header.names[at]) is not None and (
            stated_tick_s(header.preamble) is not None or (base is not None and base.unit_s == TICK_OF_AN_EPOCH_S)
        )
        if base is not None and (ticks or is_plainly_time(header.bare[at])):
            return base
        if base is not None:
            text = f"No column is named time; {header.names[at]} rises evenly and is taken for it."
            finding = Finding("time-column-assumed", "caution", text, header.names[at])
            return replace(base, basis=f"{base.basis}, assumed", findings=(finding, *base.findings))
    return None


def _is_counter(table: Table, header: Header, at: int) -> bool:
    """Whether a column counts rows in whole steps."""
    values = table.columns[at].values
    if values is None or values.size < 3 or not rises(values):
        return False
    if not (_COUNTER.match(header.bare[at]) or header.header_line is None or not header.bare[at]):
        return False
    steps = np.diff(values)
    step = float(np.median(steps))
    return (
        step >= 1.0 and abs(step - round(step)) < 1e-9 and bool(np.mean(np.abs(steps - step) <= 0.05 * step) >= MOSTLY)
    )


def _main_first(found: list[TimeBase], table: Table, header: Header) -> list[TimeBase]:
    """The best time first: on all rows, finest, named plainly; a second copy of it is left out."""
    if len(found) == 1:
        return found

    def rank(base: TimeBase) -> tuple[float, float, float, int]:
        known = base.time_s[np.isfinite(base.time_s)]
        distinct = float(np.mean(np.diff(known) > 0)) if known.size > 1 else 0.0
        column = base.column if base.column is not None else 0
        plain = 0.0 if re.search(r"(?i)gps|utc|date|day|run|lap", header.bare[column]) else 1.0
        return (round(known.size / max(base.time_s.size, 1), 1), round(distinct, 1), plain, -column)

    main = max(found, key=rank)
    paired = _are_in_pairs(found, table, header)
    others = [base for base in found if base is not main and (paired or _is_a_groups_own(base, main, table))]
    return [main, *others]


def _are_in_pairs(found: list[TimeBase], table: Table, header: Header) -> bool:
    """Whether times of one name stand at every second column, or third where one is left free."""
    columns = sorted(base.column for base in found if base.column is not None)
    apart = set(np.diff(columns).tolist())
    if len(columns) < 2 or columns[0] != 0 or apart not in ({2}, {3}) or len({header.bare[at] for at in columns}) > 1:
        return False
    free = [at for at in range(len(table.columns)) if at not in columns and at - 1 not in columns]
    return len(table.columns) - columns[-1] <= 3 and all(table.columns[at].values is None for at in free)


def _is_a_groups_own(base: TimeBase, main: TimeBase, table: Table) -> bool:
    """Whether a further time has its own rate, and columns to its right that are as long as it."""
    if base.column is None or main.column is None or base.column + 1 >= len(table.columns):
        return False
    mine = np.isfinite(base.time_s)
    beside = table.columns[base.column + 1]
    if beside.rows is not None:
        held = float(beside.rows.size)
    else:  # padded with NaN, as programs fill the shorter columns of a table
        held = float(np.isfinite(beside.values).sum()) if beside.values is not None and not mine.all() else -np.inf
    same_length = abs(held - int(mine.sum())) <= 2
    if not bool(mine.all()):
        return same_length
    both = mine & np.isfinite(main.time_s)
    away = np.abs((base.time_s - base.time_s[mine][0]) - (main.time_s - main.time_s[np.isfinite(main.time_s)][0]))
    return same_length and bool(np.max(away[both], initial=0.0) > 0.05)
