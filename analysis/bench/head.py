"""A head's flow sheet beside the engine that it belongs to: where its valves begin to strangle the engine.

Public: `LiftRow`, `Head`, `measure_head`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from passband.analysis.bench.gas_speed import (
    LIMIT_OF_INDEX,
    inlet_mach_index,
    mean_gas_speed,
    mean_piston_speed,
    rpm_at_mach_index,
)
from passband.analysis.bench.sheets import FlowSheet
from passband.analysis.bench.valve_flow import (
    COMMON_DEPRESSION_PA,
    at_depression,
    curtain_area,
    discharge_coefficient,
    seat_area,
)
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding

PORT_TEMPERATURE_K = 293.15
"""Of the gas in the port where nobody gives one: the index goes with its root, 10 K are 1.7 %. [K]"""


@dataclass(frozen=True, slots=True)
class LiftRow:
    """One lift of the sheet."""

    lift_m: float
    """[m]"""
    lift_over_diameter: float | None
    """Lift over the inlet valve's diameter. [-]"""
    intake_m3ps: float | None
    """At `COMMON_DEPRESSION_PA`. [m3/s]"""
    exhaust_m3ps: float | None
    """At `COMMON_DEPRESSION_PA`. [m3/s]"""
    exhaust_over_intake: float | None
    """[-]"""
    curtain_coefficient: float | None
    """Discharge coefficient of the inlet on the valve's curtain. [-]"""
    seat_coefficient: float | None
    """The same on the valves' circles less the stems. [-]"""


@dataclass(frozen=True, slots=True)
class Head:
    """A flow sheet and what it means at engine speed."""

    name: str
    """The sheet's."""
    rows: tuple[LiftRow, ...]
    """By rising lift."""
    mean_flow_coefficient: float | None
    """Of the inlet on the valves' whole circles, evenly over lift from 0 to the highest measured. [-]"""
    piston_speed_at_1000_rpm_mps: float | None
    """[m/s]"""
    gas_speed_at_1000_rpm_mps: float | None
    """Mean, through the inlet valves' circles. [m/s]"""
    mach_index_at_1000_rpm: float | None
    """Inlet Mach index. [-]"""
    rpm_at_limit: float | None
    """Engine speed at which that index comes to 0.6. [rpm]"""
    findings: tuple[Finding, ...]
    """What is missing, and what it rests on."""
    port_speed_at_1000_rpm_mps: float | None = None
    """Mean, through the port's smallest section; None where sheet or engine leaves it open. [m/s]"""
    curtain_m2: float | None = None
    """Of a cylinder's inlet valves, at the highest lift; None without their diameter. [m2]"""
    seat_m2: float | None = None
    """Circles of a cylinder's inlet valves less their stems; None without their diameter. [m2]"""


def measure_head(
    sheet: FlowSheet, *, bore_m: float | None, stroke_m: float | None, temperature_k: float = PORT_TEMPERATURE_K
) -> Head:
    """Areas, coefficients and the inlet Mach index of a head.

    Parameters
    ----------
    sheet : FlowSheet
        Measured on one cylinder, all its inlet valves open together.
    bore_m, stroke_m : float or None
        The engine's. [m]
    temperature_k : float
        Of the gas in the port. [K]

    Returns
    -------
    Head
        Figures that the sheet or the engine leaves open are None, with a finding. Nothing here is a power: flow does
        not say what an engine makes of it.
    """
    intake = at_depression(sheet.intake_m3ps, sheet.depression_pa)
    exhaust = at_depression(sheet.exhaust_m3ps, sheet.depression_pa)
    on = _coefficients(sheet)
    findings = [*_missing(sheet, bore_m, stroke_m)]
    mean = None if on is None else _mean_over_lift(sheet.lift_m, on.circle)
    if mean is not None:
        findings.append(_mean_rests_on(sheet, mean))
    piston = None if stroke_m is None else float(mean_piston_speed(stroke_m, 1000.0))
    gas = index = None
    if mean is not None and bore_m is not None and stroke_m is not None and sheet.inlet_valve_m is not None:
        area = sheet.inlet_valves * seat_area(sheet.inlet_valve_m)
        gas = float(mean_gas_speed(bore_m, stroke_m, area, 1000.0))
        index = float(inlet_mach_index(gas, mean, temperature_k=temperature_k))
    rows = tuple(_row(sheet, at, intake, exhaust, on) for at in range(sheet.lift_m.size))
    limit = None if index is None else rpm_at_mach_index(index)
    return Head(
        sheet.name, rows, mean, piston, gas, index, limit, tuple(findings), _port_speed(sheet, bore_m, stroke_m),
        *_areas(sheet),
    )  # fmt: skip


def _port_speed(sheet: FlowSheet, bore_m: float | None, stroke_m: float | None) -> float | None:
    if sheet.port_m2 is None or bore_m is None or stroke_m is None:
        return None
    return float(mean_gas_speed(bore_m, stroke_m, sheet.port_m2, 1000.0))


def _areas(sheet: FlowSheet) -> tuple[float | None, float | None]:
    """Curtain at the highest lift, and circles less stems, of all inlet valves of a cylinder."""
    if sheet.inlet_valve_m is None:
        return None, None
    curtain = float(curtain_area(sheet.inlet_valve_m, sheet.lift_m[-1:])[0])
    seat = float(seat_area(sheet.inlet_valve_m, stem_diameter_m=sheet.stem_m))
    return sheet.inlet_valves * curtain, sheet.inlet_valves * seat


@dataclass(frozen=True, slots=True)
class _Coefficients:
    """Discharge coefficients of the inlet at each lift, by what area they are on."""

    curtain: FloatArray
    seat: FloatArray
    circle: FloatArray


def _coefficients(sheet: FlowSheet) -> _Coefficients | None:
    """On the curtain, the circles less stems, the whole circles; None without the valve's diameter or its flow."""
    diameter = sheet.inlet_valve_m
    if diameter is None or not np.isfinite(sheet.intake_m3ps).any():
        return None
    count = sheet.inlet_valves
    areas = (
        count * curtain_area(diameter, sheet.lift_m),
        count * seat_area(diameter, stem_diameter_m=sheet.stem_m),
        count * seat_area(diameter),
    )
    return _Coefficients(*(discharge_coefficient(sheet.intake_m3ps, one, sheet.depression_pa) for one in areas))


def _mean_over_lift(lift_m: FloatArray, coefficient: FloatArray) -> float:
    """Evenly over lift, from nothing at no lift."""
    use = np.isfinite(coefficient) & (lift_m > 0.0)
    lift, values = np.append(0.0, lift_m[use]), np.append(0.0, coefficient[use])
    return float(np.trapezoid(values, lift) / lift[-1])


def _row(sheet: FlowSheet, at: int, intake: FloatArray, exhaust: FloatArray, on: _Coefficients | None) -> LiftRow:
    diameter = sheet.inlet_valve_m
    return LiftRow(
        float(sheet.lift_m[at]),
        None if diameter is None else float(sheet.lift_m[at]) / diameter,
        _or_none(intake[at]),
        _or_none(exhaust[at]),
        _or_none(exhaust[at] / intake[at]) if intake[at] else None,
        None if on is None else _or_none(on.curtain[at]),
        None if on is None else _or_none(on.seat[at]),
    )


def _or_none(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _missing(sheet: FlowSheet, bore_m: float | None, stroke_m: float | None) -> list[Finding]:
    missing = [
        word
        for word, value in (("bore", bore_m), ("stroke", stroke_m), ("inlet valve's diameter", sheet.inlet_valve_m))
        if value is None
    ]
    if not missing:
        return []
    where = "a line 'Valve diameter, 52.8 mm' above the sheet's header" if "valve" in missing[-1] else "the car"
    return [
        Finding(
            "bench-fact-missing",
            "note",
            f"Gas speed and inlet Mach index are not known without the {' and '.join(missing)}: give it in {where}.",
            sheet.name,
        )
    ]


def _mean_rests_on(sheet: FlowSheet, mean: float) -> Finding:
    depression = float(np.nanmean(sheet.depression_pa))
    return Finding(
        "bench-mean-coefficient",
        "note",
        f"The mean flow coefficient of {mean:.2f} is evenly over lift up to {sheet.lift_m[-1] * 1000.0:.1f} mm, "
        f"measured at {depression:.0f} Pa; a cam dwells near its highest lift, so the engine's own is somewhat higher, "
        f"and the engine speed at an index of {LIMIT_OF_INDEX} with it. Flows are at {COMMON_DEPRESSION_PA:.0f} Pa, "
        "by the root of the depression.",
        sheet.name,
    )
