"""Bench and compressor map on a plain page of 80 columns.

Public: `print_head`, `print_flow_change`, `print_beside`, `print_power_change`, `print_way`.
"""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

from passband.analysis.bench.before_after import FlowChange, PowerChange
from passband.analysis.bench.beside_track import BesideTrack
from passband.analysis.bench.gas_speed import LIMIT_OF_INDEX
from passband.analysis.bench.head import Head
from passband.analysis.quantities import FOOT_M
from passband.analysis.turbo.map import CompressorMap
from passband.analysis.turbo.path import MapPath, Nearest
from passband.analysis.whatif.foretell import Foretold
from passband.web.printed.page import WIDTH, page, sentences
from passband.web.wording.units import UnitSystem, unit_for


def print_head(head: Head, *, band: tuple[float, float] | None, units: UnitSystem = "us") -> str:
    """A flow sheet and what it means at engine speed.

    Parameters
    ----------
    head : Head
        What was measured.
    band : (low, high) or None
        The engine's band. [rpm]
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    flow = unit_for("bench_flow", units)
    lines = ["=" * WIDTH, f"FLOW BENCH  {head.name}"[:WIDTH], "-" * WIDTH]
    lines += _table(
        ("lift mm", "lift/dia", f"in {flow.label}", f"ex {flow.label}", "ex/in", "on curtain", "on circle"),
        [
            (
                f"{one.lift_m * 1000.0:.1f}",
                _number(one.lift_over_diameter, 1.0, 2),
                _number(one.intake_m3ps, flow.scale, flow.digits),
                _number(one.exhaust_m3ps, flow.scale, flow.digits),
                _number(one.exhaust_over_intake, 1.0, 2),
                _number(one.curtain_coefficient, 1.0, 2),
                _number(one.seat_coefficient, 1.0, 2),
            )
            for one in head.rows
        ],
    )
    lines += [
        "",
        *wrap("Discharge coefficients of the inlet on the valve's curtain, and on its circle less stem.", WIDTH),
        *_areas(head),
    ]
    lines += ["", *_at_speeds(head, band)]
    return page([*lines, *sentences(head.findings)])


def _areas(head: Head) -> list[str]:
    """Curtain and circle of a cylinder's inlet valves, and which of the two is the narrower at the highest lift."""
    if head.curtain_m2 is None or head.seat_m2 is None:
        return []
    narrow = "circle" if head.seat_m2 < head.curtain_m2 else "curtain"
    said = (
        f"Of a cylinder's inlet valves the curtain at the highest lift is {1e4 * head.curtain_m2:.1f} cm2, the circle "
        f"less stem {1e4 * head.seat_m2:.1f} cm2: there the {narrow} is the narrower."
    )
    return wrap(said, WIDTH)


def _at_speeds(head: Head, band: tuple[float, float] | None) -> list[str]:
    per_1000 = (head.piston_speed_at_1000_rpm_mps, head.gas_speed_at_1000_rpm_mps, head.mach_index_at_1000_rpm)
    piston, gas, index = per_1000
    if piston is None or gas is None or index is None or head.rpm_at_limit is None:
        return ["Gas speed and inlet Mach index: not known."]
    speeds = [*band, head.rpm_at_limit] if band is not None else [head.rpm_at_limit]
    port = head.port_speed_at_1000_rpm_mps
    rows = [
        (
            f"{rpm:.0f}", f"{piston * rpm / 1000:.1f}", f"{gas * rpm / 1000:.0f}", _number(port, 1000.0 / rpm, 0),
            f"{index * rpm / 1000:.2f}",
        )
        for rpm in sorted(speeds)
    ]  # fmt: skip
    said = (
        f"Inlet Mach index {LIMIT_OF_INDEX}, beyond which cylinders fill less and less (C. F. Taylor), is reached at "
        f"{head.rpm_at_limit:.0f} rpm."
    )
    return [*_table(("rpm", "piston m/s", "inlet m/s", "port m/s", "index"), rows), "", *wrap(said, WIDTH)]


def print_beside(label: str, beside: BesideTrack, *, units: UnitSystem = "us") -> str:
    """A dynamometer's curve beside the track's own power.

    Parameters
    ----------
    label : str
        The run's.
    beside : BesideTrack
        Both curves.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    power, pressure = unit_for("power", units), unit_for("pressure", units)
    lines = ["=" * WIDTH, f"DYNAMOMETER BESIDE {label}"[:WIDTH], "-" * WIDTH]
    rows = [
        (
            f"{one.engine_rpm:.0f}",
            _number(one.bench_w, power.scale, 0),
            f"{power.of(one.track_w):.0f} +-{power.of(one.track_plus_minus_w):.0f}",
            _number(one.track_over_bench, 1.0, 3),
            f"{one.time_s:.2f}",
            _number(one.manifold_pa, pressure.scale, pressure.digits),
        )
        for one in beside.points
    ]
    head = (
        "rpm", f"bench {power.label}", f"track {power.label}", "ratio", "time s", f"manifold {pressure.label}",
    )  # fmt: skip
    lines += _table(head, rows)
    for name, peak, off, share in (
        ("bench", beside.bench_peak_rpm, beside.bench_falls_off_rpm, beside.share_past_bench),
        ("track", beside.track_peak_rpm, beside.track_falls_off_rpm, beside.share_past_track),
    ):
        lines += ["", *wrap(_peak_said(name, peak, off, share), WIDTH)]
    return page([*lines, *sentences(beside.findings)])


def _peak_said(name: str, peak: float | None, off: float | None, share: float | None) -> str:
    if peak is None:
        return f"{name}: no curve."
    if off is None:
        return f"{name}: peak at {peak:.0f} rpm; it does not fall to 95 % of it before the curve ends."
    past = "" if share is None else f"; {100 * share:.0f} % of the pulling time is spent past it"
    return f"{name}: peak at {peak:.0f} rpm, 95 % of it at {off:.0f} rpm{past}."


def print_flow_change(before: str, after: str, change: FlowChange) -> str:
    """A head's flow after a change, held against that before it.

    Parameters
    ----------
    before, after : str
        Names of the sheets.
    change : FlowChange
        What became of it.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    lines = ["=" * WIDTH, *wrap(f"FLOW AFTER AND BEFORE  {after} over {before}", WIDTH), "-" * WIDTH]
    rows = [(f"{one.lift_m * 1000.0:.1f}", _share(one.intake), _share(one.exhaust)) for one in change.rows]
    lines += _table(("lift mm", "inlet", "exhaust"), [*rows, ("all", _share(change.intake), _share(change.exhaust))])
    return page([*lines, *sentences(change.findings)])


def print_power_change(
    before: str, after: str, change: PowerChange, on_track: Foretold | None, *, units: UnitSystem = "us"
) -> str:
    """An engine's power on the dynamometer after a change, held against that before it.

    Parameters
    ----------
    before, after : str
        Names of the curves.
    change : PowerChange
        What became of it.
    on_track : Foretold or None
        What the same shares of power would do to the run.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    power, speed = unit_for("power", units), unit_for("speed", units)
    lines = ["=" * WIDTH, *wrap(f"POWER AFTER AND BEFORE  {after} over {before}", WIDTH), "-" * WIDTH]
    rows = [
        (f"{one.engine_rpm:.0f}", _number(one.before_w, power.scale, 0), _number(one.after_w, power.scale, 0),
         _share(one.ratio)) for one in change.rows
    ]  # fmt: skip
    lines += _table(("rpm", f"before {power.label}", f"after {power.label}", "change"), rows)
    if on_track is not None and on_track.elapsed_time_s is not None and on_track.trap_speed_mps is not None:
        by, trap = on_track.elapsed_time_s, on_track.trap_speed_mps
        said = (
            f"The same shares of power in this run: elapsed time {by.value:+.3f} +-{by.plus_minus:.3f} s, trap "
            f"{trap.value / speed.scale:+.2f} +-{trap.plus_minus / speed.scale:.2f} {speed.label}; a forecast."
        )
        lines += ["", *wrap(said, WIDTH)]
    elif on_track is not None:
        lines += sentences(on_track.findings)
    return page([*lines, *sentences(change.findings)])


def _share(ratio: float | None) -> str:
    return "-" if ratio is None else f"{100.0 * (ratio - 1.0):+.1f} %"


def print_way(label: str, compressor: CompressorMap, way: MapPath, *, units: UnitSystem = "us") -> str:
    """A run's way over its compressor's map.

    Parameters
    ----------
    label : str
        The run's.
    compressor : CompressorMap
        The map.
    way : MapPath
        The run on it.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        Lines of at most 80 columns, ending with a line end.
    """
    lines = ["=" * WIDTH, f"{label} ON THE COMPRESSOR'S MAP  {compressor.name}"[:WIDTH], "-" * WIDTH]
    lines += _table(
        ("efficiency", "time s"),
        [(f"{100 * one.least:.0f}-{100 * one.most:.0f} %", f"{one.time_s:.2f}") for one in way.efficiency_time],
    )
    shown = unit_for("compressor_flow", units)
    flow, ratio, digits = way.flow_kgps / shown.scale, way.pressure_ratio, shown.most_digits
    lines += ["", f"mean efficiency       {_number(way.mean_efficiency, 0.01, 1)} %"]
    lines += [
        f"corrected flow        {flow.min():.{digits}f} to {flow.max():.{digits}f} {shown.label}, each compressor"
    ]
    lines += [f"pressure ratio        {ratio.min():.2f} to {ratio.max():.2f}"]
    lines += _nearest_said("surge", way.surge, way.time_past_surge_s)
    lines += _nearest_said("choke", way.choke, way.time_past_choke_s)
    if way.time_off_s:
        lines += [f"above or below all speed lines for {way.time_off_s:.2f} s"]
    if way.highest_outlet_k is not None:
        lines += [f"hottest at its outlet {_temperature(way.highest_outlet_k, units)}, by the map's efficiency"]
    if way.cooler_effectiveness is not None:
        lines += [f"gone at the manifold  {100 * way.cooler_effectiveness:.0f} % of that heating (the probe lags)"]
    return page([*lines, *sentences(way.findings)])


def _nearest_said(name: str, nearest: Nearest | None, past_s: float) -> list[str]:
    if nearest is None:
        return [f"margin to {name}: not known; no speed line comes to the run's pressure ratios there"]
    margin = nearest.margin
    gear = "" if nearest.gear is None else f", gear {nearest.gear}"
    causes = "; ".join(f"{cause} {100 * abs(effect):.1f}" for cause, effect in nearest.causes)
    said = (
        f"least margin to {name} {100 * margin.value:.0f} % +- {100 * margin.plus_minus:.0f} at {nearest.at_s:.2f} s, "
        f"{nearest.at_m / FOOT_M:,.0f} ft{gear} ({causes}); past {name} for {past_s:.2f} s"
    )
    return wrap(said, WIDTH, subsequent_indent="  ")


def _temperature(kelvin: float, units: UnitSystem) -> str:
    celsius = kelvin - 273.15
    return f"{celsius * 1.8 + 32.0:.0f} degF" if units == "us" else f"{celsius:.0f} degC"


def _number(value: float | None, scale: float, digits: int) -> str:
    return "-" if value is None else f"{value / scale:.{digits}f}"


def _table(head: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(8, *(len(row[at]) for row in [head, *rows])) for at in range(len(head))]
    return ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in [head, *rows]]
