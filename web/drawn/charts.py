"""Runs laid over each other by distance, as a Vega-Lite specification that a browser draws by itself.

Public: `overlay`, `drawn`.

Traces are thinned for the eye and say so; no figure is made here. Lines are told apart by dash as well as by colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import polars as pl

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.quantities import FOOT_M, FloatArray
from passband.analysis.results.distance import MARKS_FT
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import known
from passband.analysis.runs.compare import Track, compare_tracks
from passband.analysis.statistics.thinning import thin
from passband.web.drawn.lane import scale_ft
from passband.web.sheets.sheet import heading
from passband.web.wording.channel_titles import channel_title
from passband.web.wording.units import Unit, UnitSystem, kind_of_si, unit_for

VegaSpec: TypeAlias = dict[str, Any]
"""A Vega-Lite specification: JSON by the nature of that language."""
VegaRow: TypeAlias = dict[str, str | float | None]
"""A point of its data."""
POINTS = 600
"""Most points of a line: one for each pixel of a phone's width and half of a laptop's; peaks are kept. [-]"""
DASHES = ([1, 0], [8, 4], [2, 3], [10, 3, 2, 3], [5, 5], [14, 4])
"""Dash of each run's line in turn, as the page's swatches have it."""
COLOURS = ("#14578f", "#b2451b", "#1f6b4f", "#7d3c98", "#8a6100", "#46505c")
"""Colour of each run's line in turn on white; the page sets its own where it is dark."""
WIDTH, HEIGHT = 640, 150
"""Size of a panel where nobody sets it. [px]"""
AXIS = 58
"""Room for the vertical axis, the same in each panel so that distances stand under each other. [px]"""


@dataclass(frozen=True, slots=True)
class _Run:
    name: str
    review: Review
    table: pl.DataFrame
    feet: FloatArray

    def column(self, name: str) -> FloatArray | None:
        if name not in self.table.columns:
            return None
        values: FloatArray = self.table[name].cast(pl.Float64).to_numpy()
        return values


@dataclass(frozen=True, slots=True)
class _Panel:
    key: str
    title: str
    unit: str
    digits: int
    rows: list[VegaRow]
    thinned: bool
    spans: tuple[tuple[float, float], ...] = ()
    """Bands to shade, low and high in the panel's unit."""
    lines: tuple[float, ...] = ()
    """Values to rule, in the panel's unit."""


def overlay(
    reviews: Sequence[Review],
    tables: Sequence[pl.DataFrame],
    channels: Sequence[str] = ("engine_speed", "boost"),
    *,
    units: UnitSystem = "us",
) -> VegaSpec:
    """Channels, ground speed and elapsed-time difference to the first run, each against distance.

    Parameters
    ----------
    reviews : sequence of Review
        Reviews' JSON; the others are held against the first.
    tables : sequence of polars.DataFrame
        Their channels, SI, with ``time_s``, ``distance_m``, ``speed_mps``; one for each.
    channels : sequence of str
        Columns to draw besides; those that no run has are left out.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    dict
        A Vega-Lite specification with its data. ``usermeta`` names the runs and the panels for our script.

    Raises
    ------
    ValueError
        If there is no run, or not one table for each.
    """
    if not reviews or len(reviews) != len(tables):
        raise ValueError(f"an overlay needs one table for each run, got {len(reviews)} runs and {len(tables)} tables")
    names = _distinct([heading(review, units).title for review in reviews])
    runs = [
        _Run(name, review, table, table["distance_m"].cast(pl.Float64).to_numpy() / FOOT_M)
        for name, review, table in zip(names, reviews, tables, strict=True)
    ]
    length_ft = _length(runs)
    wanted = [name for name in dict.fromkeys(channels) if name != "speed_mps"]
    panels = [panel for name in wanted if (panel := _channel_panel(runs, name, length_ft, units)) is not None]
    speed = _channel_panel(runs, "speed_mps", length_ft, units)
    panels += [speed] if speed is not None else []
    panels += [_difference_panel(runs, length_ft)] if len(runs) > 1 else []
    return _specification(panels, names, length_ft)


def drawn(specification: VegaSpec, *, as_pdf: bool) -> tuple[bytes, str]:
    """A chart on paper or in pixels.

    Parameters
    ----------
    specification : dict
        As `overlay` gives it.
    as_pdf : bool
        Whether as PDF; else PNG, two pixels a point.

    Returns
    -------
    (bytes, str)
        The file and its media type.
    """
    import vl_convert

    config = {**specification["config"], "background": "white"}
    chart = {**specification, "config": config}
    if as_pdf:
        return bytes(vl_convert.vegalite_to_pdf(chart)), "application/pdf"
    return bytes(vl_convert.vegalite_to_png(chart, scale=2)), "image/png"


def _distinct(names: list[str]) -> list[str]:
    """Two runs of one name are told apart by a number behind it."""
    return [
        name if names.count(name) == 1 else f"{name} ({names[: place + 1].count(name)})"
        for place, name in enumerate(names)
    ]


def _length(runs: list[_Run]) -> float:
    reached = [known(run.review.window.distance_m) for run in runs]
    return scale_ft(metres / FOOT_M for metres in reached if metres is not None)


def _channel_panel(runs: list[_Run], name: str, length_ft: float, units: UnitSystem) -> _Panel | None:
    shown, title = _shown(name, units)
    rows: list[VegaRow] = []
    thinned = False
    for run in runs:
        values = run.column(name)
        if values is None:
            continue
        on_track = (run.feet >= 0) & (run.feet <= length_ft)
        drawn = thin(run.feet[on_track], values[on_track], points=POINTS)
        thinned |= drawn.thinned
        rows += _rows(run.name, drawn.x, (drawn.y - shown.offset) / shown.scale, shown.digits)
    if not rows:
        return None
    spans, lines = _rules(runs, name, shown)
    return _Panel(name, title, shown.label, shown.digits, rows, thinned, spans, lines)


def _shown(name: str, units: UnitSystem) -> tuple[Unit, str]:
    if name == "speed_mps":
        return unit_for("speed", units), "Ground speed"
    kind = kind_of(name)
    kind_name = kind_of_si(kind.unit, shown_unit=kind.shown_unit) if kind else "plain"
    return unit_for(kind_name, units), channel_title(name)


def _rules(runs: list[_Run], name: str, shown: Unit) -> tuple[tuple[tuple[float, float], ...], tuple[float, ...]]:
    if name == "engine_speed":
        bands = [band for run in runs if (band := known(run.review.band)) is not None]
        return tuple(dict.fromkeys((band.low_rpm, band.high_rpm) for band in bands)), ()
    if name == "boost":
        thresholds = [boost.threshold_pa for run in runs if (boost := known(run.review.boost)) is not None]
        return (), tuple(dict.fromkeys(round(shown.of(pa), shown.digits) for pa in thresholds if pa is not None))
    return (), ()


def _rows(run: str, feet: FloatArray, values: FloatArray, digits: int) -> list[VegaRow]:
    return [
        {"run": run, "ft": round(x, 1), "y": round(y, digits + 1) if np.isfinite(y) else None}
        for x, y in zip(feet.tolist(), values.tolist(), strict=True)
    ]


def _difference_panel(runs: list[_Run], length_ft: float) -> _Panel:
    rows: list[VegaRow] = []
    thinned = False
    first = _track(runs[0])
    for run in runs[1:]:
        compared = compare_tracks(first, _track(run))
        feet = compared.distance_m / FOOT_M
        on_track = feet <= length_ft
        drawn = thin(feet[on_track], compared.difference_s[on_track], points=POINTS)
        thinned |= drawn.thinned
        rows += _rows(run.name, drawn.x, drawn.y, 3)
    return _Panel("difference", f"Time behind {runs[0].name}", "s", 3, rows, thinned, lines=(0.0,))


def _track(run: _Run) -> Track:
    time_s = run.table["time_s"].cast(pl.Float64).to_numpy()
    return Track(time_s, run.feet * FOOT_M, {})


def _specification(panels: list[_Panel], names: list[str], length_ft: float) -> VegaSpec:
    import altair as alt

    drawn = [
        _draw(panel, names, length_ft, last=place == len(panels) - 1, top=place == 0)
        for place, panel in enumerate(panels)
    ]
    chart = alt.vconcat(*drawn, spacing=14).configure(
        background="transparent",
        range={"category": list(COLOURS)},
        style={
            "band": {"color": COLOURS[0], "opacity": 0.14},
            "rule": {"color": "#14171c", "strokeDash": [6, 3], "strokeWidth": 1.2},
        },
        view={"stroke": None},
        axis={"labelFontSize": 12, "titleFontSize": 12, "titleAnchor": "end", "gridOpacity": 0.5},
    )
    specification: VegaSpec = chart.to_dict()
    specification["description"] = "Runs laid over each other by distance: " + ", ".join(
        panel.title for panel in panels
    )
    specification["datasets"] = {panel.key: panel.rows for panel in panels}
    specification["usermeta"] = {
        "runs": names,
        "length_ft": length_ft,
        "thinned": f"Each line is drawn with {POINTS} points at most; its highest and lowest are kept."
        if any(panel.thinned for panel in panels)
        else "",
        "panels": [
            {"data": panel.key, "title": panel.title, "unit": panel.unit, "digits": panel.digits} for panel in panels
        ],
    }
    return specification


def _draw(panel: _Panel, names: list[str], length_ft: float, *, last: bool, top: bool) -> Any:
    """One panel: the band shaded and the thresholds ruled behind the lines."""
    import altair as alt

    marks = [mark for mark in (0, *MARKS_FT) if mark <= length_ft]
    title = f"{panel.title} [{panel.unit}]" if panel.unit else panel.title
    vertical = alt.Axis(minExtent=AXIS, maxExtent=AXIS, tickCount=4, title=title, titleAngle=0, titleAlign="left",
                        titleY=-8, titleX=-AXIS, titleAnchor="start")  # fmt: skip
    x = alt.X(
        "ft:Q",
        scale=alt.Scale(domain=[0, length_ft], nice=False),
        axis=alt.Axis(values=marks, title="ft" if last else None, labels=last, ticks=last, labelOverlap="greedy"),
    )
    legend = alt.Legend(title=None, orient="top", symbolType="stroke", symbolSize=300) if top else None
    lines = (
        alt.Chart(alt.NamedData(name=panel.key))
        .mark_line(aria=False, clip=True, strokeWidth=2, interpolate="linear")
        .encode(
            x=x,
            y=alt.Y("y:Q", scale=alt.Scale(zero=False), axis=vertical),
            color=alt.Color("run:N", scale=alt.Scale(domain=names), legend=legend),
            strokeDash=alt.StrokeDash("run:N", scale=alt.Scale(domain=names, range=list(DASHES)), legend=legend),
        )
    )
    spans = alt.Chart(alt.Data(values=[{"low": low, "high": high} for low, high in panel.spans]))
    rules = alt.Chart(alt.Data(values=[{"at": value} for value in panel.lines]))
    layers = []
    if panel.spans:
        layers.append(spans.mark_rect(style="band").encode(y=alt.Y("low:Q"), y2="high:Q"))
    if panel.lines:
        layers.append(rules.mark_rule(style="rule").encode(y=alt.Y("at:Q")))
    return alt.layer(*layers, lines).properties(width=WIDTH, height=HEIGHT)
