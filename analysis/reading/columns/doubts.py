"""Which columns of a log must be asked about, and what they may be.

Public: `find_doubts`, `units_settled`, `unit_read`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.catalogue import ChannelKind, family_of, kind_of
from passband.analysis.channels.log import Log
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.channels.units import conversion_for, is_unit
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.understood import Columns, Understood
from passband.analysis.results.doubt import AS_LOGGED, Doubt, sentences
from passband.analysis.results.findings import Finding

ASKED_THOUGH_NOTES = frozenset({"speed-of-which-wheel"})
"""Codes of notes that are asked about: the column's own values never refute what it was taken for, and much hangs on
it: a driven wheel slips."""
OFFERED_BY = {
    "engine-speed-unclear": ("engine_speed",),
    "throttle-unclear": ("throttle",),
    "manifold-pressure-unclear": ("manifold_pressure", "boost"),
}
"""What a column may be by the code of a finding that asks about it, though it was not taken for it."""
LIKE_ONE_ANOTHER = (
    ("manifold_pressure", "boost", "barometer"),
    (
        "wheel_speed_driven", "ground_speed", "gps_speed",
        "wheel_speed_fl", "wheel_speed_fr", "wheel_speed_rl", "wheel_speed_rr",
    ),
    ("engine_speed", "driveshaft_speed"),
    ("coolant_temperature", "oil_temperature", "intake_temperature"),
)  # fmt: skip
"""Families whose names or values are taken for one another."""
UNITS: dict[str, tuple[str, ...]] = {
    "Pa": ("kPa", "psi", "bar", "mbar", "inHg", "Pa"),
    "K": ("degC", "degF", "K"),
    "m/s": ("km/h", "mph", "m/s"),
    "m/s^2": ("g", "m/s2", "mG"),
    "kg/s": ("kg/h", "g/s", "lb/h"),
    "V": ("V", "mV"),
}
"""Units that loggers write, by the unit a channel is kept in."""
SHARES = ("%", "0-1", "‰")
"""The same of an opening or a duty, which is kept as a share."""
_ARE_SHARES = frozenset({"throttle", "injector_duty"})
ALL_BUT_POSSIBLE = 0.95
"""Share of a column's values that must be possible in a unit for it to be offered; as for a unit that is believed."""


def find_doubts(columns: Columns, *, layout: str, settled: Mapping[str, str]) -> tuple[Doubt, ...]:
    """Say which columns are not sure, and what each may be.

    Parameters
    ----------
    columns : Columns
        Each; what was assumed of it stands in its own findings.
    layout : str
        The header's fingerprint.
    settled : mapping of str to str
        By header, units that another column told.

    Returns
    -------
    tuple of Doubt
        In the file's order.
    """
    understood, header, samples = columns.understood, columns.header, columns.samples
    asked = {at: found for at in sorted(understood) if (found := _asked(understood[at], header.names[at] in settled))}
    doubted = {at: _Doubted(layout, header.names[at], header.bare[at], understood[at], asked[at]) for at in asked}
    return tuple(_doubt(one, samples[at], settled.get(one.name, "")) for at, one in doubted.items())


def units_settled(log: Log) -> dict[str, str]:
    """Units that nobody wrote and another column of the log told, by header.

    Parameters
    ----------
    log : Log
        After its speeds were held against each other.
    """
    of = {finding.where for finding in log.findings if finding.code == "speed-unit-settled"}
    return {channel.header: channel.logged.unit for channel in log.channels if channel.header in of and channel.logged}


def _asked(column: Understood, unit_settled: bool) -> tuple[Finding, ...]:
    """What makes a column one to ask about; empty where nothing does."""
    found = dict.fromkeys((*column.findings, *column.asked_with))
    asked = (one for one in found if one.level == "caution" or one.code in ASKED_THOUGH_NOTES)
    return tuple(one for one in asked if not (unit_settled and one.code == "speed-unit-assumed"))


@dataclass(frozen=True, slots=True)
class _Doubted:
    """A column that is not sure."""

    layout: str
    name: str
    bare: str
    column: Understood
    findings: tuple[Finding, ...]


def _doubt(of: _Doubted, values: FloatArray, settled: str) -> Doubt:
    column = of.column
    taken = column.channel if kind_of(column.channel) is not None else AS_LOGGED
    unit = settled or unit_read(column)
    channels = _channels(taken, of.bare, unit, _offered(column))
    kind = next((kind for channel in channels if (kind := kind_of(channel)) is not None), None)
    units, why = _units(kind, unit, values), sentences(of.findings)
    least, greatest = (float(values.min()), float(values.max())) if values.size else (None, None)
    return Doubt(of.layout, of.name, taken, unit, why, channels, units, of.findings, least, greatest)


def unit_read(column: Understood) -> str:
    """The unit in which a column's values were read: what is written may have been refuted.

    Parameters
    ----------
    column : Understood
        Of any kind.

    Returns
    -------
    str
        As written where that says it; empty where no unit is known.
    """
    if column.unit_guessed:
        return column.unit_guessed
    if column.unit == column.unit_written:  # its own name, or written as it is kept
        return column.unit_written
    others = SHARES if family_of(column.channel) in _ARE_SHARES else UNITS.get(column.unit, ())
    for unit in filter(None, (column.unit_written, *others)):
        conversion = conversion_for(unit, kept=column.unit) if column.unit or others is SHARES else None
        if (
            conversion is not None
            and math.isclose(conversion.scale, column.conversion.scale)
            and math.isclose(conversion.offset, column.conversion.offset, abs_tol=1e-9)
        ):
            return unit
    return column.unit_written


def _offered(column: Understood) -> tuple[str, ...]:
    """What a finding on a column says that it may be, though it was not taken for it."""
    codes = dict.fromkeys(finding.code for finding in (*column.findings, *column.asked_with))
    return tuple(channel for code in codes for channel in OFFERED_BY.get(code, ()))


def _channels(taken: str, bare: str, unit: str, offered_too: tuple[str, ...]) -> tuple[str, ...]:
    """What a column may be: what it was taken for, what its name may mean, what is taken for one of these."""
    named = [taken, *offered_too, *(match.channel for match in recognise_name(bare) if match.channel != "time")]
    alike = [one for group in LIKE_ONE_ANOTHER if {family_of(name) for name in named} & set(group) for one in group]
    offered = dict.fromkeys([*named, *alike, AS_LOGGED])
    return tuple(one for one in offered if one in (taken, AS_LOGGED) or _can_be_in(one, unit))


def _can_be_in(channel: str, unit: str) -> bool:
    kind = kind_of(channel)
    if kind is None:
        return False
    return not unit or not is_unit(unit) or not kind.unit or conversion_for(unit, kept=kind.unit) is not None


def _units(kind: ChannelKind | None, unit: str, values: FloatArray) -> tuple[str, ...]:
    if kind is None:
        return (unit,) if unit else ()
    if family_of(kind.name) == "lambda":
        return tuple(dict.fromkeys((unit or "lambda", "lambda", "AFR")))
    unit = unit if not unit or is_unit(unit) else ""
    of_its_kind = SHARES if family_of(kind.name) in _ARE_SHARES else UNITS.get(kind.unit, ())
    read = conversion_for(unit, kept=kind.unit) if unit else None
    others = [
        other
        for other in of_its_kind
        if conversion_for(other, kept=kind.unit) != read and _is_possible(values, other, kind)
    ]
    return tuple(dict.fromkeys([*filter(None, (unit,)), *others]))


def _is_possible(values: FloatArray, unit: str, kind: ChannelKind) -> bool:
    conversion = conversion_for(unit, kept=kind.unit)
    if conversion is None:
        return False
    si = values * conversion.scale + conversion.offset
    return not si.size or float(np.mean((si >= kind.low) & (si <= kind.high))) >= ALL_BUT_POSSIBLE
