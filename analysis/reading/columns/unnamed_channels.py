"""Throttle and manifold pressure where no column is named so: columns that could be it are asked about.

Names that mean nothing here are told, so that a column in a language nobody taught the reader is not passed in silence.

Public: `ask_for_unnamed`, `tell_unknown_names`.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from passband.analysis.channels.catalogue import family_of
from passband.analysis.channels.recognition import says_nothing_known
from passband.analysis.channels.units import NO_UNIT, conversion_for, plain_unit
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.understood import Columns, Understood
from passband.analysis.reading.columns.unit_of_a_kind import NINETY_NINE, ONE_PERCENT, UNITS, USUAL
from passband.analysis.reading.columns.unnamed_engine_speed import ENGINE_KINDS, range_of
from passband.analysis.results.findings import Finding

AT_AN_END, SHORTEST_STAY, MOSTLY = 0.05, 0.1, 0.5
"""A throttle of a run is shut or open: so near its least or greatest, for such a share of the log at each, and for such
a share at both together. Chosen by hand, no source. [-], [-], [-]"""
FULL_SCALES = (1.0, 100.0)
"""What an open throttle reads, as a share and in per cent."""
MOVED, WITH_LOAD = 1.5, 0.3
"""A manifold's greatest over its least, and by which part of its range it is higher at open throttle. [-], [-]"""
MOST_STATES = 12
"""Different whole numbers that a gear, a mode or a state takes; a pressure of a run passes through more."""
MOST_ASKED = 6
"""Columns asked about for one channel; nobody answers more, and values that so many have tell nothing."""
MOST_SHOWN = 12
"""Names told one by one."""

_MEANT = {"throttle": ("throttle",), "manifold-pressure": ("manifold_pressure", "boost")}


def ask_for_unnamed(columns: Columns) -> Columns:
    """Ask about columns without a known name that could be the throttle or the manifold's pressure, where none is.

    Parameters
    ----------
    columns : Columns
        Each column, engine speed settled.

    Returns
    -------
    Columns
        The same columns; none is taken, since a duty cycle may go as a throttle does.
    """
    understood, header, samples = columns.understood, columns.header, columns.samples
    if not any(family_of(column.channel) in {"engine_speed", *ENGINE_KINDS} for column in understood.values()):
        return columns
    out = dict(understood)
    nameless = [at for at in understood if _is_nameless(understood[at], header.bare[at]) and samples[at].size]
    opening = next((samples[at] for at, one in understood.items() if one.channel == "throttle"), None)
    could_be: dict[str, Callable[[int], bool]] = {
        "throttle": lambda at: _could_be_throttle(samples[at], header.units[at]),
        "manifold-pressure": lambda at: _could_be_manifold(samples[at], header.units[at], opening),
    }
    for what, channels in _MEANT.items():
        if any(column.channel in channels for column in understood.values()):
            continue
        fitting = list(itertools.islice(filter(could_be[what], nameless), MOST_ASKED + 1))
        if len(fitting) > MOST_ASKED:  # the values tell nothing then; the names are told
            continue
        for at in fitting:
            shown = [f"{header.names[one]} ({range_of(samples[one])})" for one in fitting]
            found = (_asked(what, shown, header.names[fitting[0]]),)
            first = at == fitting[0]
            out[at] = replace(
                out[at],
                findings=(*out[at].findings, *(found if first else ())),
                asked_with=(*out[at].asked_with, *(() if first else found)),
            )
    return columns.with_read(out)


def _is_nameless(column: Understood, bare: str) -> bool:
    """Whether a column was taken for nothing, and its name holds no reason why not."""
    return column.confidence == 0.0 and says_nothing_known(bare)


def _asked(what: str, shown: list[str], where: str) -> Finding:
    channels = " or ".join(_MEANT[what])
    kinds = channels.replace("_", " ")
    text = (
        f"No column is named {kinds}; {_listed(shown)} could be it by the values, but the name tells nothing, so none "
        f"is taken. Tell which column is {channels}."
    )
    if what == "throttle":
        return Finding("throttle-unclear", "caution", text, where)
    return Finding("manifold-pressure-unclear", "caution", text, where)


def _listed(names: list[str]) -> str:
    shown = names[:MOST_SHOWN]
    more = f" and {len(names) - MOST_SHOWN} more" if len(names) > MOST_SHOWN else ""
    return ", ".join(shown) + more


def _could_be_throttle(values: FloatArray, unit: str) -> bool:
    """Whether values are those of something shut or open, with little between, and of no switch."""
    if not (_says_nothing(unit) or conversion_for(unit, kept="") is not None):
        return False
    low, high = _ends(values)
    full = next((scale for scale in FULL_SCALES if 0.5 * scale <= high <= 1.1 * scale), 0.0)
    if not full or not -0.05 * full <= low <= 0.2 * full or np.isin(values, (0.0, full)).all():
        return False
    near = AT_AN_END * full
    shut, opened = float(np.mean(values <= low + near)), float(np.mean(values >= high - near))
    return min(shut, opened) >= SHORTEST_STAY and shut + opened >= MOSTLY


def _could_be_manifold(values: FloatArray, unit: str, opening: FloatArray | None) -> bool:
    """Whether values are usual for a manifold's pressure in some unit, move as it does, and follow the throttle."""
    unsaid = _says_nothing(unit)
    if (opening is None if unsaid else conversion_for(unit, kept="Pa") is None) or _counts(values):
        return False
    if np.all(np.diff(values) > 0):  # a count of the rows
        return False
    low, high = _ends(values)
    units = UNITS["Pa"] if unsaid else (unit,)
    usual = any(_is_usual(low, high, one) for one in units)
    if not usual or not (low <= 0 or high / low >= MOVED):
        return False
    if opening is None or opening.size != values.size:
        return not unsaid
    middle = 0.5 * (float(opening.max()) + float(opening.min()))
    opened = opening > middle
    if opened.all() or not opened.any():
        return False
    return bool(values[opened].mean() - values[~opened].mean() >= WITH_LOAD * (high - low))


def _counts(values: FloatArray) -> bool:
    """Whether values are a few whole numbers, as of a gear or a state, and no measure."""
    return not np.any(values % 1.0) and np.unique(values).size <= MOST_STATES


def _ends(values: FloatArray) -> tuple[float, float]:
    """The values at one per cent from either end: no spike."""
    last = values.size - 1
    at = (round(ONE_PERCENT * last), round(NINETY_NINE * last))
    parted = np.partition(values, at)  # in order at these two places, which costs a third of sorting
    return float(parted[at[0]]), float(parted[at[1]])


def _is_usual(low: float, high: float, unit: str) -> bool:
    conversion = conversion_for(unit, kept="Pa")
    if conversion is None:
        return False
    least, most = low * conversion.scale, high * conversion.scale
    edges = (USUAL["manifold_pressure"], USUAL["boost"])
    return any(a <= least <= b and c <= most <= d for a, b, c, d in edges)


def _says_nothing(unit: str) -> bool:
    return not unit or plain_unit(unit) in NO_UNIT


def tell_unknown_names(columns: Columns) -> list[Finding]:
    """Name the columns that were taken for nothing because words of their names mean nothing here.

    Parameters
    ----------
    columns : Columns
        Each settled.
    """
    names = [
        columns.header.names[at]
        for at, column in sorted(columns.understood.items())
        if _is_nameless(column, columns.header.bare[at]) and not column.findings and not column.asked_with
    ]
    if not names:
        return []
    what = f"The name of {names[0]} means" if len(names) == 1 else f"The names of {len(names)} columns mean"
    shown = "" if len(names) == 1 else f": {_listed(names)}"
    text = f"{what} nothing here, so {'it keeps its' if len(names) == 1 else 'they keep their'} own header{shown}."
    return [Finding("names-not-known", "note", text + " Tell what matters in the car's channels.", "")]
