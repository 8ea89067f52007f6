"""A bench's sheets laid beside a run, for the command line and for the page alike.

Public: `Sheets`, `BenchedRun`, `lay_bench`, `gain_on_track`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.bench.before_after import PowerChange
    from passband.analysis.bench.sheets import DynoCurve, FlowSheet
    from passband.analysis.given.car import Car
    from passband.analysis.results.review import Review
    from passband.analysis.whatif.foretell import Foretold
    from passband.web.units import UnitSystem


@dataclass(frozen=True, slots=True)
class Sheets:
    """A bench's sheets as read."""

    flow: FlowSheet | None = None
    """The flow bench's."""
    flow_before: FlowSheet | None = None
    """The same before a change."""
    dyno: DynoCurve | None = None
    """The dynamometer's."""
    dyno_before: DynoCurve | None = None
    """The same before a change."""


@dataclass(frozen=True, slots=True)
class BenchedRun:
    """The run that a bench's sheets are laid beside."""

    review: Review
    """What was found in it."""
    table: pl.DataFrame
    """Its channels."""
    car: Car
    """The car."""
    label: str
    """What it is called."""


def lay_bench(run: BenchedRun, sheets: Sheets, *, units: UnitSystem) -> dict[str, Any]:
    """Each of a bench's sheets that is given: its figures, a page to print, a picture.

    Parameters
    ----------
    run : BenchedRun
        The run.
    sheets : Sheets
        Those that are given.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    dict
        ``head``, ``head_change``, ``dynamometer``, ``dynamometer_change``; None of each that was not given.
    """
    return {**_heads(run.car, sheets, units), **_curves(run, sheets, units)}


def _heads(car: Car, sheets: Sheets, units: UnitSystem) -> dict[str, Any]:
    from passband.analysis.bench.before_after import compare_flow
    from passband.analysis.bench.head import measure_head
    from passband.analysis.results.codec import plain
    from passband.web.printed_bench import print_flow_change, print_head

    laid: dict[str, Any] = {"head": None, "head_change": None}
    if sheets.flow is None:
        return laid
    head = measure_head(sheets.flow, bore_m=car.bore, stroke_m=car.stroke)
    laid["head"] = {"figures": plain(head), "print": print_head(head, band=car.rpm_band, units=units)}
    if sheets.flow_before is not None:
        change = compare_flow(sheets.flow_before, sheets.flow)
        printed = print_flow_change(sheets.flow_before.name, sheets.flow.name, change)
        laid["head_change"] = {"figures": plain(change), "print": printed}
    return laid


def _curves(run: BenchedRun, sheets: Sheets, units: UnitSystem) -> dict[str, Any]:
    from passband.analysis.bench.before_after import compare_dyno
    from passband.analysis.bench.beside_track import lay_beside_track
    from passband.analysis.bench.head import measure_head
    from passband.analysis.results.codec import plain
    from passband.analysis.results.unknown import known
    from passband.web.bench_picture import bench_svg
    from passband.web.printed_bench import print_beside, print_power_change

    laid: dict[str, Any] = {"dynamometer": None, "dynamometer_change": None}
    if sheets.dyno is None:
        return laid
    car = run.car
    head = None if sheets.flow is None else measure_head(sheets.flow, bore_m=car.bore, stroke_m=car.stroke)
    beside = lay_beside_track(sheets.dyno, known(run.review.power))
    laid["dynamometer"] = {
        "figures": plain(beside),
        "print": print_beside(run.label, beside, units=units),
        "picture": bench_svg(sheets.dyno, beside, None if head is None else head.rpm_at_limit, units=units),
    }
    if sheets.dyno_before is not None:
        change = compare_dyno(sheets.dyno_before, sheets.dyno)
        on_track = gain_on_track(run, change) if change.rows else None
        figures = {**cast(dict[str, Any], plain(change)), "on_track": None if on_track is None else plain(on_track)}
        printed = print_power_change(sheets.dyno_before.name, sheets.dyno.name, change, on_track, units=units)
        laid["dynamometer_change"] = {"figures": figures, "print": printed}
    return laid


def gain_on_track(run: BenchedRun, change: PowerChange) -> Foretold:
    """What a dynamometer's change of power would do to a run, its shares taken over at each engine speed.

    Parameters
    ----------
    run : BenchedRun
        The run.
    change : PowerChange
        After over before.

    Returns
    -------
    Foretold
        Without figures where the run cannot answer.
    """
    from passband.analysis.bench.before_after import STEP_RPM
    from passband.analysis.whatif.changes import Changes, PowerGain
    from passband.analysis.whatif.foretell import foretell

    half = 0.5 * STEP_RPM
    gains = (PowerGain(one.engine_rpm - half, one.ratio - 1.0, one.engine_rpm + half) for one in change.rows)
    return foretell(run.review, run.table, run.car, Changes(power_gains=tuple(gains)))
