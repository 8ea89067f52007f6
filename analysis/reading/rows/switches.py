"""Columns of words: switches and gears become numbers, other words are told.

Public: `numbers_from_switches`, `tell_words`.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import polars as pl

from passband.analysis.channels.recognition import VAGUE, recognise_name
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.reading.rows.table import Table, TurnedWords
from passband.analysis.reading.text.cells import FLAGS, NO_VALUE, advice_for, is_plain
from passband.analysis.reading.text.header import Header
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.intervals import find_true_runs

MOSTLY_NUMBERS = 0.8
"""Share of cells that must be switches or numbers for a column of words to become a channel."""

FEW_CELLS = 500
"""Cells of a column that are quicker looked through one by one than by polars, at 3 ms a column."""
HIGHEST_GEAR = 12
"""Whole numbers up to it may be gears, beside letters for neutral, reverse and park; no drag car has as many."""
FEWEST_NUMBERS = 20
"""Numbers in one stretch that make a column of words one of numbers, words at its start or amid it being no value."""


def numbers_from_switches(table: Table, header: Header) -> Table:
    """Turn columns of on and off, true and false, gear letters into numbers.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names, for the findings.

    Returns
    -------
    Table
        With a finding for each column of which some cells could not be read; a column that is neither stays words.
    """
    return table.with_words_turned(lambda at, words: _turned(words, header.names[at]))


def _turned(words: pl.Series, name: str) -> TurnedWords | None:
    """The numbers of a column that holds mostly such; None where it stays words."""
    cells = _trimmed(words)
    values = _values_of(cells)
    known = np.isfinite(values)
    if not known.any():
        return None
    silent = _say_nothing(cells)
    held = int(np.count_nonzero(~silent))
    if not held or not (np.count_nonzero(known) >= MOSTLY_NUMBERS * held or _numbers_follow(known, silent)):
        return None
    odd = np.flatnonzero(~known & ~silent)
    told = _unreadable(name, int(odd.size), str(cells[int(odd[0])]), int(odd[0])) if odd.size else None
    return TurnedWords(values, told)


def _trimmed(words: pl.Series) -> list[str] | pl.Series:
    """The cells without what may stand around them; a list where they are few."""
    if len(words) <= FEW_CELLS:
        return [(cell or "").strip(' "') for cell in words.to_list()]
    return words.fill_null("").str.strip_chars(' "')


def _say_nothing(cells: list[str] | pl.Series) -> BoolArray:
    """Which cells are blank or say "no value"."""
    if isinstance(cells, list):
        return np.array([not cell or cell.lower() in NO_VALUE for cell in cells])
    return cells.str.to_lowercase().is_in(["", *NO_VALUE]).to_numpy()


def _values_of(cells: list[str] | pl.Series) -> FloatArray:
    """Numbers, and those of switches and gears; a switch's word beside numbers that none has says no value."""
    numbers, named = _few_values(cells) if isinstance(cells, list) else _many_values(cells)
    if np.any(np.isfinite(numbers) & ((np.abs(numbers) > HIGHEST_GEAR) | (numbers != np.round(numbers)))):
        return numbers
    return np.where(np.isfinite(named), named, numbers)


def _few_values(cells: list[str]) -> tuple[FloatArray, FloatArray]:
    """The numbers of some cells, and what their words stand for; NaN for none."""
    numbers = [
        float(cell.replace(",", ".")) if is_plain(cell, ".") or is_plain(cell, ",") else np.nan for cell in cells
    ]
    return np.array(numbers, dtype=np.float64), np.array([FLAGS.get(cell.lower(), np.nan) for cell in cells])


def _many_values(words: pl.Series) -> tuple[FloatArray, FloatArray]:
    """The same of many cells."""
    named = words.str.to_lowercase().replace_strict(FLAGS, default=None, return_dtype=pl.Float64)
    plain = words.str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    numbers, flags = (one.fill_null(float("nan")).to_numpy() for one in (plain, named))
    return np.asarray(numbers, dtype=np.float64), np.asarray(flags, dtype=np.float64)


def _numbers_follow(known: BoolArray, silent: BoolArray) -> bool:
    """Whether numbers go on to the end of a column, or stand in one stretch of it, as after "No Fix"."""
    rows = np.flatnonzero(~silent)
    stated = known[rows]
    runs = find_true_runs(stated)
    return bool(runs) and max(run.stop - run.start for run in runs) >= FEWEST_NUMBERS


def _unreadable(name: str, number: int, first: str, row: int) -> Finding:
    text = (
        f"{number} cell{'s' if number > 1 else ''} of {name} {'are' if number > 1 else 'is'} neither switch nor number "
        f"and {'were' if number > 1 else 'was'} set aside; the first reads {quoted_start(first, most=30)}."
        f"{advice_for(first)}"
    )
    return Finding("unreadable-cells", "caution", text, f"{name}, row {row + 1}")


def tell_words(table: Table, header: Header, times: Collection[int | None]) -> list[Finding]:
    """One finding for all columns that stay words, and one more where some are named as channels are.

    Parameters
    ----------
    table : Table
        The rows.
    header : Header
        Names, for the findings.
    times : collection of int or None
        Columns that are times.

    Returns
    -------
    list of Finding
        Empty where there is none.
    """
    wordy = [at for at, one in enumerate(table.columns) if one.words is not None and at not in times]
    named = [at for at in wordy if _is_channels(header.bare[at])]
    names = [header.names[at] for at in wordy if at not in named]
    findings = [_words_under_a_name(header.names[at], table.columns[at].words) for at in named]
    if not names:
        return findings
    shown = ", ".join(names[:4]) + (", ..." if len(names) > 4 else "")
    text = (
        f"{len(names)} column{'s hold' if len(names) > 1 else ' holds'} words or times of day, not numbers, "
        f"and became no channel: {shown}."
    )
    return [*findings, Finding("columns-of-words", "note", text, names[0])]


def _is_channels(bare: str) -> bool:
    """Whether a name is plainly that of something measured."""
    known = recognise_name(bare)
    return bool(known) and known[0].confidence >= VAGUE and known[0].channel != "time"


def _words_under_a_name(name: str, words: pl.Series | None) -> Finding:
    first = next((cell for cell in (words.to_list() if words is not None else []) if cell and cell.strip()), "")
    text = (
        f"{name} is named as a channel is, but its cells are no numbers that are understood here; the first reads "
        f"{quoted_start(first, most=30)}. It became no channel: export it as plain numbers."
    )
    return Finding("columns-of-words", "caution", text, name)
