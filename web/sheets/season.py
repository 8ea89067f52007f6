"""The sheet of an event as a table: a row a run, a column a figure, each cell with what it sorts by.

Public: `EngineShown`, `EventShown`, `SeasonColumn`, `SeasonCell`, `SeasonRow`, `SeasonSpread`, `Season`, `season`,
`folded`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup, escape

from passband.analysis.quantities import FOOT_M
from passband.analysis.runs.digest import Value
from passband.analysis.runs.faults import BETWEEN, beyond_usual, faults_named
from passband.analysis.runs.season_sheet import SeasonSheet
from passband.analysis.runs.weekend import Spread
from passband.web.sheets.run_line import standing_of
from passband.web.sheets.sheet import Standing
from passband.web.shown.run import RunShown
from passband.web.wording.figures import figure, plain_number, signed
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem, unit_for


@dataclass(frozen=True, slots=True)
class EngineShown:
    """A run's engine against the car's own before it."""

    line: str
    """Whether it was as before, in a line."""
    as_before: bool
    """Whether it was."""
    fault: str
    """How it was weaker, among the run's faults; empty where it was not."""


@dataclass(frozen=True, slots=True)
class EventShown:
    """An event's runs and their figures."""

    event: str
    """Its name."""
    runs: tuple[RunShown, ...]
    """In the order of the rows."""
    sheet: SeasonSheet
    """A row a run."""
    same_engine: tuple[EngineShown | None, ...]
    """Of each run; None where there is none to hold it against."""
    best: tuple[str, ...]
    """Id of each car's quickest run without a fault found, of those that have one."""


@dataclass(frozen=True, slots=True)
class SeasonColumn:
    """One column."""

    title: str
    """With its unit."""
    name: str
    """Of the figure."""
    scale: float
    """What one of the unit shown is in SI."""
    digits: int
    """Behind the point; signed where negative, then one less."""
    part: str = ""
    """Which choice of columns shows it; empty: every one."""
    text: bool = False
    """Words, not numbers."""


@dataclass(frozen=True, slots=True)
class SeasonCell:
    """One cell."""

    text: str
    """What is shown; empty where not known."""
    by: str
    """What it sorts by; empty goes last."""

    def html(self, *, words: bool) -> str:
        """The cell of a table; words are escaped, numbers need not be."""
        if words:
            return f'<td data-value="{escape(self.by)}" class="words">{escape(self.text or "–")}</td>'
        return f'<td data-value="{self.by}">{self.text or "–"}</td>'


@dataclass(frozen=True, slots=True)
class SeasonRow:
    """One run."""

    id: str
    """Its id."""
    title: str
    """What it is called."""
    car: str
    """Whose it is; empty where the sheet holds one car."""
    clean: bool
    """Whether it reached its finish without a fault found, but for those that are usual with its car."""
    best: bool
    """Whether it is its car's quickest of those."""
    usual_faults: str
    """Faults that every run of its car is held with, none being without one; may be empty."""
    faults: str
    """What was told wrong; may be empty."""
    engine: str
    """Whether the engine was as before, in a line; may be empty."""
    engine_changed: bool
    """Whether it was not."""
    cells: tuple[SeasonCell, ...]
    """By column."""
    standing: Standing
    """How it stands to its limits."""
    first: Markup
    """Its first cell as the table shows it: elapsed time, where any run has one."""
    html: Markup
    """Its other cells."""
    share_in_band: float | None
    """Of its time; None where it is not known. [-]"""
    in_band: str
    """The same in words."""


@dataclass(frozen=True, slots=True)
class SeasonSpread:
    """A figure over the clean runs."""

    name: str
    """With its unit."""
    car: str
    """Whose; empty where the sheet holds one car."""
    runs: int
    """So many."""
    mean: str
    """Of them."""
    deviation: str
    """Standard deviation."""
    per_run: str
    """More from one run to the next, with its plus-minus; a dash where that is not known."""
    trend: bool
    """Whether that is surely not nothing."""

    def __str__(self) -> str:
        """In a sentence."""
        whose = f"{self.car}, {self.name}" if self.car else self.name
        words = f"{whose}: mean {self.mean}, standard deviation {self.deviation} over {self.runs} clean runs"
        trend = "a trend" if self.trend else "no clear trend"
        return words if self.per_run == "–" else f"{words}; {self.per_run} a run, {trend}"


@dataclass(frozen=True, slots=True)
class Season:
    """The table."""

    columns: tuple[SeasonColumn, ...]
    """Behind the run's name; those of which no run knows anything are left out."""
    rows: tuple[SeasonRow, ...]
    """Oldest first."""
    spreads: tuple[SeasonSpread, ...]
    """Mean, deviation and trend of clean runs."""

    @property
    def held_its_band(self) -> tuple[SeasonRow, ...]:
        """Each car's best run, the longest in its band first; empty where it is known of fewer than two cars."""
        best = [row for row in self.rows if row.best and row.car and row.share_in_band is not None]
        return tuple(sorted(best, key=lambda row: -(row.share_in_band or 0.0))) if len(best) > 1 else ()

    @property
    def parts(self) -> tuple[str, ...]:
        """Choices of columns, in the columns' order; empty where a choice would spare nothing."""
        named = tuple(dict.fromkeys(column.part for column in self.columns if column.part))
        return named if len(named) > 1 else ()


def season(event: EventShown, units: UnitSystem) -> Season:
    """The sheet of an event as a table.

    Parameters
    ----------
    event : EventShown
        Its runs and figures.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    Season
        Figures in the reader's units.
    """
    rows = event.sheet.runs
    known = [one for one in _columns(event.sheet, units) if any(row.get(one.name) not in (None, "", 0) for row in rows)]
    columns = [_cells([row.get(one.name) for row in rows], one) for one in known]
    texts = ([cell.html(words=one.text) for cell in cells] for one, cells in zip(known, columns, strict=True))
    html = [(row[0], "".join(row[1:])) for row in zip(*texts, strict=True)] if known else [("", "")] * len(rows)
    cells: Sequence[tuple[SeasonCell, ...]] = list(zip(*columns, strict=True)) if known else [()] * len(rows)
    made = zip(event.runs, rows, event.same_engine, cells, html, strict=True)
    return Season(
        tuple(known),
        tuple(_row(*one, event=event, units=units) for one in made),
        tuple(
            _spread(one, one.standard_deviation, car=car, units=units)
            for car, spreads in _spreads_by_car(event.sheet)
            for one in spreads
            if one.standard_deviation is not None
        ),
    )


def _row(
    run: RunShown,
    row: Mapping[str, Value],
    engine: EngineShown | None,
    cells: tuple[SeasonCell, ...],
    html: tuple[str, str],
    *,
    event: EventShown,
    units: UnitSystem,
) -> SeasonRow:
    usual = next((one.usual_faults for one in event.sheet.cars if one.car == (row["car"] or "")), ())
    return SeasonRow(
        id=run.id,
        title=str(row["label"]),
        car=str(row["car"] or "") if len(event.sheet.cars) > 1 else "",
        clean=not beyond_usual(faults_named(row["faults"]), usual),
        best=run.id in event.best,
        usual_faults=", ".join(usual),
        faults=folded(row["faults"]),
        engine=in_units(engine.line, units) if engine is not None else "",
        engine_changed=engine is not None and not engine.as_before,
        cells=cells,
        standing=standing_of(run.summary.limits),
        first=Markup(html[0]),
        html=Markup(html[1]),
        share_in_band=run.summary.share_in_band,
        in_band=str(figure(run.summary.share_in_band, "share", units)),
    )


def folded(line: Value) -> str:
    """A run's faults in one line, those of several shifts alike told once.

    Parameters
    ----------
    line : str, float or None
        As a sheet's cell holds them.

    Returns
    -------
    str
        Empty where there is none.

    Examples
    --------
    >>> folded("lifted for shift 1-2; spun the tires; lifted for shift 2-3")
    'lifted for shifts 1-2, 2-3; spun the tires'
    """
    alike: dict[str, list[str]] = {}
    for fault in faults_named(line):
        what, _, shift = fault.partition(" shift ")
        alike.setdefault(what, []).extend([shift] if shift else [])
    return BETWEEN.join(
        f"{what} shift{'s' if len(shifts) > 1 else ''} {', '.join(shifts)}" if shifts else what
        for what, shifts in alike.items()
    )


_UNKNOWN = SeasonCell("", "")


def _cells(values: Sequence[Value], column: SeasonColumn) -> list[SeasonCell]:
    """One column, row by row."""
    if column.text:
        return [SeasonCell(str(one), str(one)) if one not in (None, "") else _UNKNOWN for one in values]
    sign, digits = ("+", -column.digits - 1) if column.digits < 0 else ("", column.digits)
    form, scale = f"{sign},.{digits}f", column.scale
    return [
        SeasonCell(format(one / scale, form).replace("-", "−"), repr(float(one)))
        if one is not None and not isinstance(one, str)
        else _UNKNOWN
        for one in values
    ]


def _columns(sheet: SeasonSheet, units: UnitSystem) -> list[SeasonColumn]:
    """Every column in its order; the first stands in each choice of columns."""
    power, (head, *times) = unit_for("power", units), _times(units)
    notes = [SeasonColumn("notes", "notes", 1.0, 0, text=True), SeasonColumn("changed", "changed", 1.0, 0, text=True)]
    cars = [SeasonColumn("car", "car", 1.0, 0, text=True)] if len(sheet.cars) > 1 else []
    return [
        head,
        *cars,
        *(replace(one, part="times") for one in times),
        *(replace(one, part="launch and shifts") for one in (*_launch(units), *_shifts(sheet))),
        SeasonColumn("in band %", "share_in_band", 0.01, 0, "band and power"),
        SeasonColumn("in band s", "time_in_band_s", 1.0, 2, "band and power"),
        SeasonColumn("on boost %", "share_on_boost", 0.01, 0, "band and power"),
        SeasonColumn(f"average {power.label}", "average_w", power.scale, 1, "band and power"),
        *(replace(one, part="limits, faults, air") for one in _limits_and_air(units)),
        SeasonColumn("spin s", "wheelspin_s", 1.0, 2, "launch and shifts"),
        SeasonColumn("lifted s", "lift_s", 1.0, 2, "launch and shifts"),
        SeasonColumn("slip less computed s", "slip_less_computed_s", 1.0, -4, "times"),
        SeasonColumn("± ET s run to run", "elapsed_time_run_plus_minus_s", 1.0, 3, "times"),
        SeasonColumn(f"± {power.label} run to run", "average_run_plus_minus_w", power.scale, 1, "band and power"),
        *(replace(one, part="notes") for one in notes),
    ]


def _times(units: UnitSystem) -> list[SeasonColumn]:
    speed = unit_for("speed", units)
    return [
        SeasonColumn("ET s", "elapsed_time_s", 1.0, 3),
        SeasonColumn(f"trap {speed.label}", "trap_1320_mps", speed.scale, 2),
        SeasonColumn("to best s", "to_best_s", 1.0, -4), SeasonColumn("to previous run s", "to_run_before_s", 1.0, -4),
        SeasonColumn("same air s", "elapsed_same_air_s", 1.0, 3),
        *(SeasonColumn(f"{ft} ft s", f"t{ft}_s", 1.0, 3) for ft in (60, 330, 660)),
        SeasonColumn(f"660 ft {speed.label}", "v660_mps", speed.scale, 2),
        SeasonColumn("1,000 ft s", "t1000_s", 1.0, 3),
    ]  # fmt: skip


def _launch(units: UnitSystem) -> list[SeasonColumn]:
    energy = unit_for("energy", units)
    return [
        SeasonColumn("launch rpm", "rpm_at_launch", 1.0, 0), SeasonColumn("lowest rpm", "rpm_lowest", 1.0, 0),
        SeasonColumn("clutch locked s", "clutch_locked_s", 1.0, 2),
        SeasonColumn(f"clutch heat {energy.label}", "clutch_heat_j", energy.scale, 0),
    ]  # fmt: skip


def _shifts(sheet: SeasonSheet) -> list[SeasonColumn]:
    names = [one.name for one in sheet.columns if one.name.startswith("shift_")]
    return [
        SeasonColumn(f"rpm {'before' if parts[-1] == 'before' else 'after'} {'-'.join(parts[1:3])}", name, 1.0, 0)
        for name in names
        if (parts := name.split("_"))
    ]


def _limits_and_air(units: UnitSystem) -> list[SeasonColumn]:
    wind = unit_for("speed", units)
    altitude, scale = ("m", 1.0) if units == "metric" else ("ft", FOOT_M)
    return [
        SeasonColumn("nearest limit", "worst_limit", 1.0, 0, text=True),
        SeasonColumn("margin %", "worst_margin_share", 0.01, -2),
        SeasonColumn(f"DA {altitude}", "density_altitude_m", scale, 0),
        SeasonColumn(f"wind {wind.label}", "wind_mps", wind.scale, -2),
    ]


_SPREADS = {
    "elapsed_time_s": ("ET", "time", 3), "elapsed_same_air_s": ("ET in the same air", "time", 3),
    "t60_s": ("60 ft", "time", 3), "trap_1320_mps": ("trap speed", "speed", 2),
    "average_w": ("average power", "power", 1), "share_in_band": ("share in the band", "share", 1),
    "rpm_at_launch": ("launch", "rpm", 0), "rpm_lowest": ("lowest at launch", "rpm", 0),
    "clutch_locked_s": ("clutch locked", "time", 2), "clutch_heat_j": ("clutch heat", "energy", 0),
    "least_margin_to_band_low_rpm": ("least margin to the band", "rpm", 0),
}  # fmt: skip


def _spreads_by_car(sheet: SeasonSheet) -> Sequence[tuple[str, Sequence[Spread]]]:
    """With the car's name where there are several."""
    if len(sheet.cars) < 2:
        return [("", sheet.spreads)]
    return [(one.car, one.spreads) for one in sheet.cars]


def _spread(one: Spread, deviation: float, *, car: str, units: UnitSystem) -> SeasonSpread:
    """Mean, deviation and trend of a figure, in the reader's units."""
    name, kind, digits = _SPREADS.get(one.figure, (one.figure, "", 3))
    scale, label = {"time": (1.0, "s"), "share": (0.01, "%"), "rpm": (1.0, "rpm"), "": (1.0, "")}.get(kind) or (
        unit_for(kind, units).scale, unit_for(kind, units).label
    )  # fmt: skip
    per_run, slope, half = one.per_run, 0.0, 0.0
    if per_run is not None:
        slope, half = per_run.value / scale, per_run.plus_minus / scale
    return SeasonSpread(
        name=f"{name}, {label}" if label else name,
        car=car,
        runs=one.runs,
        mean=plain_number(one.mean / scale, digits),
        deviation=plain_number(deviation / scale, digits),
        per_run="–" if per_run is None else f"{signed(plain_number(slope, digits))} ±{half:,.{digits}f}",
        trend=abs(slope) > half,
    )
