"""A flow bench's sheet and a dynamometer's curve, read from text.

Public: `FlowSheet`, `DynoCurve`, `read_flow_sheet`, `read_dyno_curve`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.channels.log import NotALog
from passband.analysis.quantities import FloatArray, parse_quantity
from passband.analysis.reading.plain_table import PlainTable, Wanted, read_plain_table, value_above

LIFT = Wanted("lift", "m", (r"(valve )?lift", r"hub", r"ventilhub", r"levee|levée"))
INTAKE = Wanted("intake flow", "m^3/s", (r"(intake|inlet|in)( port)?( flow)?", r"flow( (intake|inlet|in))?"))
EXHAUST = Wanted("exhaust flow", "m^3/s", (r"(exhaust|ex|exh)( port)?( flow)?", r"flow (exhaust|ex|exh)"))
DEPRESSION = Wanted("depression", "Pa", (r"(test )?(depression|pressure( drop)?)",))
SPEED = Wanted("engine speed", "rpm", (r"(engine )?(speed|rpm)", r"rpm", r"n", r"drehzahl"))
POWER = Wanted("power", "W", (r"((corrected|corr|crank|flywheel|brake|engine) )?power", r"leistung", r"b?hp|kw|ps"))
TORQUE = Wanted("torque", "N*m", (r"((corrected|corr|crank|flywheel|brake|engine) )?torque", r"drehmoment", r"n ?m"))
CORRECTION = (r"correct(ion|ed)( (factor|standard|to))?", r"standard")
FEWEST_POINTS = 3
"""Fewer make no curve."""


@dataclass(frozen=True, slots=True)
class FlowSheet:
    """Flow against valve lift, one depression a row."""

    name: str
    """Of the file."""
    lift_m: FloatArray
    """Rising. [m]"""
    intake_m3ps: FloatArray
    """Air through the inlet, as the bench says; NaN where not measured. [m3/s]"""
    exhaust_m3ps: FloatArray
    """Air through the exhaust; NaN where not measured. [m3/s]"""
    depression_pa: FloatArray
    """At which each row was measured. [Pa]"""
    inlet_valve_m: float | None
    """Diameter of an inlet valve's head. [m]"""
    inlet_valves: int
    """Inlet valves of a cylinder."""
    stem_m: float
    """Diameter of the stem; 0 where the sheet does not say. [m]"""
    port_m2: float | None = None
    """Smallest section of a cylinder's inlet port, all its passages; None where the sheet does not say. [m2]"""


@dataclass(frozen=True, slots=True)
class DynoCurve:
    """Power against engine speed from a dynamometer."""

    name: str
    """Of the file."""
    engine_rpm: FloatArray
    """Rising. [rpm]"""
    power_w: FloatArray
    """As the sheet says it. [W]"""
    correction: str
    """What the sheet says of a correction to standard air; empty where nothing."""


def read_flow_sheet(data: bytes, *, name: str) -> FlowSheet:
    """Read the sheet of a flow bench.

    Parameters
    ----------
    data : bytes
        A table with a column of lift and one of intake or exhaust flow, each with its unit; a column of depression or a
        line ``Depression, 28 inH2O`` above the header; lines ``Valve diameter``, ``Inlet valves``, ``Stem`` and
        ``Port area`` if known.
    name : str
        Its name, for refusals.

    Returns
    -------
    FlowSheet
        Rows by rising lift.

    Raises
    ------
    NotALog
        If lift, flow or depression is missing, too few rows hold them, or one is not above 0.
    """
    table = read_plain_table(data, name=name)
    lift, intake, exhaust = (table.column(one) for one in (LIFT, INTAKE, EXHAUST))
    if lift is None or (intake is None and exhaust is None):
        raise NotALog(
            f"{name}: a flow sheet needs a column 'lift' and one of 'intake flow' or 'exhaust flow'; found "
            f"{_listed(table)}."
        )
    depression = _depression(table, lift.size)
    blank = np.full(lift.size, np.nan)
    columns = [lift, blank if intake is None else intake, blank if exhaust is None else exhaust, depression]
    usable = np.isfinite(lift) & (np.isfinite(columns[1]) | np.isfinite(columns[2])) & (lift >= 0.0)
    if usable.sum() < FEWEST_POINTS:
        raise NotALog(f"{name}: {int(usable.sum())} rows hold lift and flow: a curve needs {FEWEST_POINTS} or more.")
    order = np.flatnonzero(usable)[np.argsort(lift[usable], kind="stable")]
    lift, intake, exhaust, depression = (column[order] for column in columns)
    return FlowSheet(
        name, lift, intake, exhaust, depression,
        inlet_valve_m=_length(table, (r"(inlet |intake )?valve( head)?( diameter)?",)),
        inlet_valves=_count(table),
        stem_m=_length(table, (r"(valve )?stem( diameter)?",)) or 0.0,
        port_m2=_area(table),
    )  # fmt: skip


def _depression(table: PlainTable, rows: int) -> FloatArray:
    column = table.column(DEPRESSION)
    if column is None:
        said = value_above(table, DEPRESSION.words)
        if said is None:
            raise NotALog(
                f"{table.name}: no depression: write a line 'Depression, 28 inH2O' above the header, or a column."
            )
        column = np.full(rows, _quantity(table, said, "Pa", "depression"))
    if not np.nanmin(column) > 0.0:
        raise NotALog(f"{table.name}: a depression of {np.nanmin(column):.0f} Pa moves no air: it is above 0.")
    return column


def _length(table: PlainTable, words: tuple[str, ...]) -> float | None:
    said = value_above(table, words)
    return None if said is None else _quantity(table, said, "m", words[0])


def _area(table: PlainTable) -> float | None:
    said = value_above(table, (r"(smallest |inlet |intake )*port( area| section)",))
    if said is None:
        return None
    area = _quantity(table, said, "m^2", "port area")
    if not area > 0.0:
        raise NotALog(f"{table.name}: port area {said!r}: it is above 0.")
    return area


def _quantity(table: PlainTable, said: str, si_unit: str, what: str) -> float:
    if said.replace(".", "", 1).replace(",", "", 1).strip().isdigit():
        raise NotALog(f"{table.name}: {what} {said!r} says no unit: write one behind the number.")
    try:
        return parse_quantity(said, si_unit=si_unit, name=what)
    except ValueError as error:
        raise NotALog(f"{table.name}: {error}") from None


def _count(table: PlainTable) -> int:
    said = value_above(table, (r"(inlet|intake) valves( per cylinder)?", r"valves"))
    if said is None:
        return 1
    if not said.isdigit() or not 1 <= int(said) <= 4:
        raise NotALog(f"{table.name}: {said!r} inlet valves: write how many one cylinder has, 1 to 4.")
    return int(said)


def _listed(table: PlainTable) -> str:
    return ", ".join(repr(name) for name in table.names[:12])


def read_dyno_curve(data: bytes, *, name: str) -> DynoCurve:
    """Read a dynamometer's curve.

    Parameters
    ----------
    data : bytes
        A table with a column of engine speed and one of power or torque, with units; a line ``Correction`` above the
        header if the sheet says one.
    name : str
        Its name, for refusals.

    Returns
    -------
    DynoCurve
        Rows by rising engine speed; rows of one engine speed as their mean.

    Raises
    ------
    NotALog
        If engine speed or both of power and torque are missing, or too few rows hold them.
    """
    table = read_plain_table(data, name=name)
    rpm, power, torque = (table.column(one) for one in (SPEED, POWER, TORQUE))
    if rpm is None or (power is None and torque is None):
        raise NotALog(
            f"{name}: a dynamometer's curve needs a column 'rpm' and one of 'power' or 'torque'; found "
            f"{_listed(table)}."
        )
    watts = power if power is not None else np.asarray(torque) * rpm * math.pi / 30.0
    usable = np.isfinite(rpm) & np.isfinite(watts) & (rpm > 0.0)
    speeds = np.unique(rpm[usable])
    if speeds.size < FEWEST_POINTS:
        raise NotALog(f"{name}: {speeds.size} engine speeds with power: a curve needs {FEWEST_POINTS} or more.")
    means = np.array([float(np.mean(watts[usable & (rpm == one)])) for one in speeds])
    return DynoCurve(name, speeds, means, value_above(table, CORRECTION) or "")
