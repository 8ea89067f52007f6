"""Columns whose unit nobody wrote, read in the one unit that fits all of their kind: a logger has one unit a kind.

Alone, 45 may be an oil pressure in psi or a fuel pressure in bar; beside a manifold pressure of 14 it is psi.

Public: `units_of_one_kind`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.channels.recognition import NameMatch, recognise_name
from passband.analysis.channels.units import conversion_for
from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.plausibility import UNIT_ASSUMED, understand_as
from passband.analysis.reading.columns.understood import AS_WRITTEN, Columns, Understood, own_name
from passband.analysis.reading.columns.unit_by_values import UNIT_FINDINGS, unit_assumed
from passband.analysis.results.findings import Finding

ONE_PERCENT, NINETY_NINE = 0.01, 0.99
"""Quantiles taken as least and greatest: a spike is neither."""
USUAL: dict[str, tuple[float, float, float, float]] = {
    "manifold_pressure": (8e3, 1.1e5, 7e4, 6.5e5),
    "boost": (-1e5, 3e4, 1e4, 5.5e5),
    "fuel_pressure": (-1e4, 2e7, 1.2e5, 3.5e7),
    "oil_pressure": (-1e4, 8e5, 1.2e5, 1.1e6),
    "coolant_pressure": (-5e4, 3e5, -2e4, 4.5e5),
    "crankcase_pressure": (-9e4, 6e4, -6e4, 1e5),
    "back_pressure": (-3e4, 2e5, -5e3, 1e6),
    "coolant_temperature": (243.0, 400.0, 250.0, 405.0),
    "oil_temperature": (243.0, 430.0, 250.0, 440.0),
    "intake_temperature": (233.0, 370.0, 240.0, 470.0),
    "exhaust_temperature": (243.0, 1250.0, 250.0, 1330.0),
    "acceleration": (-30.0, 1.0, 1.0, 55.0),
    "acceleration_lateral": (-40.0, 2.0, -2.0, 40.0),
    "acceleration_vertical": (-60.0, 10.5, -2.0, 70.0),
}
"""Where the least value of a log lies, from and to, and where the greatest, in the unit the channel is kept in.

A log of a run holds idle and full load: a manifold comes near the air outside or above it, oil above 1.2 bar; a rail of
direct injection reaches 350 bar. Common practice of engine builders."""
UNITS: dict[str, tuple[str, ...]] = {
    "Pa": ("kPa", "psi", "bar", "mbar", "Pa"), "K": ("degC", "degF", "K"), "m/s^2": ("g", "m/s2"),
}  # fmt: skip
"""Units of each kind that loggers print, likeliest first."""
PARTS: dict[str, tuple[str, ...]] = {"K": ("0.1 degC", "0.1 K", "0.1 degF"), "m/s^2": ("0.001 g",)}
"""Whole numbers of parts of a unit: tenths, as buses carry temperatures, and thousandths of g, as sensors send them."""
_INTAKE = ("boost", "manifold_pressure")
SURE_ALONE = frozenset({"manifold_pressure", "oil_pressure", "fuel_pressure"})
"""Pressures whose own size tells their unit well enough; the others need company. A barometer needs none, and is often
in a unit of its own."""


def units_of_one_kind(columns: Columns) -> Columns:
    """Read columns without a written unit in the unit that is usual for all of their kind.

    Parameters
    ----------
    columns : Columns
        Each column on its own.

    Returns
    -------
    Columns
        The same columns. Where no unit or more than one fits all, each keeps the one its own values tell; one whose
        values tell none, or several, keeps its own header and says so.
    """
    understood, header, samples = columns.understood, columns.header, columns.samples
    out: dict[int, Understood] = {}
    for kept, units in UNITS.items():
        named = {
            at: match
            for at in understood
            if at not in columns.given and not header.units[at] and (match := _match(header.bare[at], kept)) is not None
        }
        fitting = {at: _usual_units(named[at], samples[at], kept, units) for at in named}
        parts = _shared_parts(named, fitting, samples, kept)
        if parts:
            out |= {at: _in_parts(parts, named[at], header.names[at], samples[at], understood[at]) for at in named}
            continue
        sure = [fits for at, fits in fitting.items() if fits and family_of(named[at].channel) in SURE_ALONE]
        votes = sure or [fits for fits in fitting.values() if fits]
        shared = [unit for unit in units if votes and all(unit in fits for fits in votes)]
        decided = bool(shared) and (kept != "Pa" or len(shared) == 1)
        for at, match in named.items():
            if decided and shared[0] in fitting[at]:
                out[at] = _read_in(shared[0], match, header.names[at], samples[at], understood[at])
            elif kept == "Pa":
                out[at] = _doubted(understood[at], match, header.names[at], fitting[at])
    return columns.with_read(out)


def _shared_parts(
    named: dict[int, NameMatch], fitting: dict[int, frozenset[str]], samples: Mapping[int, FloatArray], kept: str
) -> tuple[str, ...]:
    """The parts of a unit in which all of a kind are usual, where one of them fits no whole unit; none else."""
    if kept not in PARTS or all(fitting[at] or not samples[at].size for at in named):
        return ()
    fits = [_usual_units(named[at], samples[at], kept, PARTS[kept]) for at in named if samples[at].size]
    return tuple(unit for unit in PARTS[kept] if all(unit in one for one in fits)) if len(fits) > 1 else ()


def _in_parts(
    units: tuple[str, ...], match: NameMatch, header: str, values: FloatArray, before: Understood
) -> Understood:
    all_of_them = "accelerations" if match.channel.startswith("acceleration") else "temperatures"
    if len(units) > 1:
        text = (
            f"No unit is written for {header}, and the log's {all_of_them} fit {' or '.join(units)} alike. It keeps "
            "its own header. Write the unit."
        )
        found = (Finding("unit-not-known", "caution", text, header),)
        return Understood(own_name(header), "", "", AS_WRITTEN, 0.0, found)
    unit = units[0]
    read = understand_as(match, header, unit, values)
    if read is None:
        return before
    text = (
        f"No unit is written for {header}: its values are read in {unit}, in which alone all {all_of_them} of the log "
        "are usual. Write the unit."
    )
    confidence = round(read.confidence * UNIT_ASSUMED, 3)
    found = (Finding("unit-doubted", "caution", text, header),)
    return replace(read, unit_written="", confidence=confidence, findings=found, unit_guessed=unit)


def _match(bare: str, kept: str) -> NameMatch | None:
    """The channel of that kind that a header means."""
    for match in recognise_name(bare):
        kind = kind_of(match.channel)
        if kind is not None and kind.unit == kept and family_of(match.channel) in USUAL:
            return match
    return None


def _usual_units(match: NameMatch, values: FloatArray, kept: str, units: tuple[str, ...]) -> frozenset[str]:
    """Units in which the values are usual; a manifold's below zero are a gauge's, whatever its name."""
    if not values.size:
        return frozenset()
    least, most = (float(edge) for edge in np.quantile(values, [ONE_PERCENT, NINETY_NINE]))
    family = family_of(match.channel)
    families = {"manifold_pressure": ("boost",) if least < 0 else (family,), "boost": _INTAKE}.get(family, (family,))
    fitting: set[str] = set()
    for unit in units:
        conversion = conversion_for(unit, kept=kept)
        if conversion is None:
            continue
        low, high = (edge * conversion.scale + conversion.offset for edge in (least, most))
        usual = (USUAL[one] for one in families)
        if any(a <= low <= b and c <= high <= d for a, b, c, d in usual):
            fitting.add(unit)
    return frozenset(fitting)


def _read_in(unit: str, match: NameMatch, header: str, values: FloatArray, before: Understood) -> Understood:
    read = understand_as(match, header, unit, values)
    if read is None:
        return before
    kept = tuple(finding for finding in before.findings if finding.code not in UNIT_FINDINGS)
    found = (*unit_assumed(header, unit), *(read.findings or kept))
    confidence = round(read.confidence * UNIT_ASSUMED, 3)
    return replace(read, unit_written="", confidence=confidence, findings=found, unit_guessed=unit)


def _doubted(column: Understood, match: NameMatch, header: str, fitting: frozenset[str]) -> Understood:
    """A column that no company decides: where its own size tells too little, it is doubted, or no channel at all."""
    if family_of(match.channel) in SURE_ALONE or (len(fitting) == 1 and column.confidence):
        return column
    if family_of(match.channel) != "boost":  # boost is asked for everywhere: a doubtful one is better than none
        column = Understood(own_name(header), "", "", AS_WRITTEN, 0.0, column.findings)
    others = " or ".join(unit for unit in UNITS["Pa"] if unit in fitting) or "no usual unit"
    text = (
        f"No unit is written for {header}, and its values alone do not tell it: they fit {others}. "
        + ("What is read from it may be wrong by that factor." if column.confidence else "It keeps its own header.")
        + " Write the unit."
    )
    found = (Finding("pressure-unit-assumed", "caution", text, header), *column.findings[1:])
    return replace(column, confidence=round(0.7 * column.confidence, 3), findings=found)
