"""A bench's sheets laid beside a run, for the command line and for the page alike.

Public: `Sheets`, `BenchedRun`, `Laid`, `LaidWithPicture`, `LaidBench`, `lay_bench`, `gain_on_track`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from passband.analysis.results.plain_values import JsonObject

if TYPE_CHECKING:
    import polars as pl

    from passband.analysis.bench.before_after import PowerChange
    from passband.analysis.bench.sheets import DynoCurve, FlowSheet
    from passband.analysis.given.car import Car
    from passband.analysis.results.review import Review
    from passband.analysis.whatif.foretell import Foretold
    from passband.web.wording.units import UnitSystem


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


@dataclass(frozen=True, slots=True)
class Laid:
    """One of the sheets, laid beside the run."""

    figures: JsonObject
    """What was found, as JSON says it."""
    print: str
    """A page of 80 columns."""

    def as_json(self) -> JsonObject:
        """As answers tell it."""
        return {"figures": self.figures, "print": self.print}


@dataclass(frozen=True, slots=True)
class LaidWithPicture(Laid):
    """The same, drawn."""

    picture: str
    """SVG."""

    def as_json(self) -> JsonObject:
        """As answers tell it."""
        return {"figures": self.figures, "print": self.print, "picture": self.picture}


@dataclass(frozen=True, slots=True)
class LaidBench:
    """All that was laid beside a run; None of each that was not given."""

    head: Laid | None = None
    """The flow bench's sheet."""
    head_change: Laid | None = None
    """Against the one before a change."""
    dynamometer: LaidWithPicture | None = None
    """The dynamometer's curve."""
    dynamometer_change: Laid | None = None
    """Against the one before a change."""

    def by_name(self) -> dict[str, Laid | None]:
        """Each by the name that answers give it."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


def lay_bench(run: BenchedRun, sheets: Sheets, *, units: UnitSystem) -> LaidBench:
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
    LaidBench
        None of each that was not given.
    """
    return LaidBench(
        _head(run.car, sheets, units),
        _head_change(sheets),
        _curve(run, sheets, units),
        _curve_change(run, sheets, units),
    )


def _head(car: Car, sheets: Sheets, units: UnitSystem) -> Laid | None:
    from passband.analysis.bench.head import measure_head
    from passband.web.printed.bench import print_head

    if sheets.flow is None:
        return None
    head = measure_head(sheets.flow, bore_m=car.bore, stroke_m=car.stroke)
    return Laid(_figures(head), print_head(head, band=car.rpm_band, units=units))


def _head_change(sheets: Sheets) -> Laid | None:
    from passband.analysis.bench.before_after import compare_flow
    from passband.web.printed.bench import print_flow_change

    if sheets.flow is None or sheets.flow_before is None:
        return None
    change = compare_flow(sheets.flow_before, sheets.flow)
    return Laid(_figures(change), print_flow_change(sheets.flow_before.name, sheets.flow.name, change))


def _curve(run: BenchedRun, sheets: Sheets, units: UnitSystem) -> LaidWithPicture | None:
    from passband.analysis.bench.beside_track import lay_beside_track
    from passband.analysis.bench.head import measure_head
    from passband.analysis.results.unknown import known
    from passband.web.drawn.bench_picture import bench_svg
    from passband.web.printed.bench import print_beside

    if sheets.dyno is None:
        return None
    car = run.car
    head = None if sheets.flow is None else measure_head(sheets.flow, bore_m=car.bore, stroke_m=car.stroke)
    beside = lay_beside_track(sheets.dyno, known(run.review.power))
    picture = bench_svg(sheets.dyno, beside, None if head is None else head.rpm_at_limit, units=units)
    return LaidWithPicture(_figures(beside), print_beside(run.label, beside, units=units), picture)


def _curve_change(run: BenchedRun, sheets: Sheets, units: UnitSystem) -> Laid | None:
    from passband.analysis.bench.before_after import compare_dyno
    from passband.web.printed.bench import print_power_change

    if sheets.dyno is None or sheets.dyno_before is None:
        return None
    change = compare_dyno(sheets.dyno_before, sheets.dyno)
    on_track = gain_on_track(run, change) if change.rows else None
    figures = {**_figures(change), "on_track": None if on_track is None else _figures(on_track)}
    names = sheets.dyno_before.name, sheets.dyno.name
    return Laid(figures, print_power_change(*names, change, on_track, units=units))


def _figures(found: object) -> JsonObject:
    """A result of the analysis as JSON says it."""
    from passband.analysis.results.codec import plain

    figures = plain(found)
    assert isinstance(figures, dict)
    return figures


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
