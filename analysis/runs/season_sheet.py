"""The runs of a list on one sheet, a row a run and a column a figure: for a spreadsheet, a page, or another program.

Public: `Noted`, `SheetColumn`, `SeasonSheet`, `make_season_sheet`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.unknown import known
from passband.analysis.runs.cells import read_cells
from passband.analysis.runs.companions import lifted_s
from passband.analysis.runs.faults import told_faults
from passband.analysis.runs.laid import LaidRun
from passband.analysis.runs.same_air import elapsed_by_power, take_air_out
from passband.analysis.runs.weekend import Spread, measure_spread

Value = float | int | str | None
MARKS_FT = (60, 330, 660, 1000, 1320)
SPREAD_OVER = ("elapsed_time_s", "elapsed_same_air_s", "t60_s", "average_w", "share_in_band", "rpm_at_launch")
"""Columns whose spread over the clean runs is told."""


@dataclass(frozen=True, slots=True)
class Noted:
    """What the crew wrote of a run."""

    at: str = ""
    """Date and time, ISO; may be empty."""
    group: str = ""
    """Which side of a change; may be empty."""
    notes: str = ""
    """What was changed, what was seen; may be empty."""


@dataclass(frozen=True, slots=True)
class SheetColumn:
    """One column."""

    name: str
    """With its unit: ``elapsed_time_s``."""
    is_text: bool
    """Words, not numbers."""


@dataclass(frozen=True, slots=True)
class SeasonSheet:
    """The sheet."""

    columns: tuple[SheetColumn, ...]
    """In order; shifts as far as any run made them."""
    runs: tuple[Mapping[str, Value], ...]
    """A row a run, in the order given; None: not known, or not reached."""
    best: str | None
    """Label of the quickest run to the usual finish without a told fault; None where there is none."""
    spreads: tuple[Spread, ...]
    """Mean, deviation and trend over the clean runs, faults apart."""


def make_season_sheet(runs: Sequence[LaidRun], noted: Sequence[Noted] | None = None) -> SeasonSheet:
    """Lay runs on one sheet.

    Parameters
    ----------
    runs : sequence of LaidRun
        In order of time.
    noted : sequence of Noted, optional
        What was written of each.

    Returns
    -------
    SeasonSheet
        Elapsed time in the same air is that of the clean runs' mean air, by power; where a run's air is unknown nothing
        is said of it.
    """
    written = noted if noted is not None else [Noted()] * len(runs)
    names = sorted({(one.from_gear, one.to_gear) for run in runs for one in run.review.shifts})
    rows = [_row(run, said, names) for run, said in zip(runs, written, strict=True)]
    finishes = [row["finish_ft"] for row in rows if row["finish_ft"] is not None]
    usual = max(set(finishes), key=finishes.count, default=None)
    clean = [row["finish_ft"] == usual is not None and not row["faults"] for row in rows]
    _add_same_air(runs, rows, clean)
    best = _add_differences(rows, usual, clean)
    spreads = (
        measure_spread(name, [_number(row[name]) for row, counts in zip(rows, clean, strict=True) if counts])
        for name in SPREAD_OVER
    )
    columns = tuple(SheetColumn(name, name in _TEXTS) for name in (rows[0] if rows else ()))
    return SeasonSheet(columns, tuple(rows), best, tuple(one for one in spreads if one is not None))


_TEXTS = frozenset({"label", "event", "round", "at", "group", "car", "outcome", "faults", "worst_limit", "notes"})


def _number(value: Value) -> float | None:
    return float(value) if isinstance(value, (int, float)) else None


def _value(estimate: Estimate | None) -> float | None:
    return estimate.value if estimate is not None else None


def _row(run: LaidRun, said: Noted, shifts: Sequence[tuple[int, int]]) -> dict[str, Value]:
    """One run, its columns in order."""
    facts, finish_ft = run.review.run, run.review.window.outcome.finish_ft
    return {
        "label": run.label, "event": facts.event, "round": facts.round, "at": said.at, "group": said.group,
        "car": run.review.car.name, "outcome": run.review.window.outcome.value, "finish_ft": finish_ft,
        **_times(run, finish_ft), **_launch(run), **_shifts(run, shifts), **_engine(run), **_air(run),
        **_worst_limit(run), "wheelspin_s": _spun_s(run), "lift_s": lifted_s(run, 0.0, run.under_power_to_m),
        "faults": "; ".join(told_faults(run.review)), "notes": said.notes,
    }  # fmt: skip


def _times(run: LaidRun, finish_ft: int | None) -> dict[str, Value]:
    splits, distance = run.track.splits, known(run.review.distance)
    total = splits.get(finish_ft) if finish_ft is not None else None
    speeds = {one.at_ft: one.speed_mps.value for one in (distance.splits if distance is not None else ())}
    traps = {one.at_ft: one.speed_mps.value for one in (distance.traps if distance is not None else ())}
    return {
        "elapsed_time_s": _value(total),
        "elapsed_time_plus_minus_s": total.plus_minus if total is not None else None,
        "elapsed_same_air_s": None,
        "to_best_s": None,
        "to_run_before_s": None,
        "slip_over_log": _value(distance.scale) if distance is not None else None,
        **{f"t{ft}_s": _value(splits.get(ft)) for ft in MARKS_FT},
        **{f"v{ft}_mps": speeds.get(ft) for ft in MARKS_FT},
        **{f"trap_{ft}_mps": traps.get(ft) for ft in (660, 1320)},
    }


def _launch(run: LaidRun) -> dict[str, Value]:
    launch = known(run.review.launch)
    return {
        "rpm_at_launch": _value(launch.rpm_at_launch) if launch is not None else None,
        "rpm_lowest": _value(launch.rpm_lowest) if launch is not None else None,
        "clutch_locked_s": launch.clutch_locked_s if launch is not None else None,
    }


def _shifts(run: LaidRun, names: Sequence[tuple[int, int]]) -> dict[str, Value]:
    made = {(one.from_gear, one.to_gear): one for one in run.review.shifts}
    figures: dict[str, Value] = {}
    for gears in names:
        shift, name = made.get(gears), f"shift_{gears[0]}_{gears[1]}"
        figures[f"{name}_rpm_before"] = _value(shift.rpm_before) if shift is not None else None
        figures[f"{name}_rpm_after"] = _value(shift.rpm_after) if shift is not None else None
    margins = [one.margin_to_band_low_rpm for one in run.review.shifts if one.margin_to_band_low_rpm is not None]
    return {**figures, "least_margin_to_band_low_rpm": min(margins, default=None)}


def _engine(run: LaidRun) -> dict[str, Value]:
    band, boost, power = known(run.review.band), known(run.review.boost), known(run.review.power)
    average = power.average_w if power is not None else None
    return {
        "time_in_band_s": band.time_in_s if band is not None else None,
        "share_in_band": band.share_in if band is not None else None,
        "time_on_boost_s": boost.time_above_s if boost is not None else None,
        "share_on_boost": boost.share_above if boost is not None else None,
        "average_w": _value(average),
        "average_plus_minus_w": average.plus_minus if average is not None else None,
        "peak_w": _value(power.peak_w) if power is not None else None,
    }


def _air(run: LaidRun) -> dict[str, Value]:
    air = run.review.air
    return {
        "temperature_k": air.temperature_k if air is not None else None,
        "pressure_pa": air.pressure_pa if air is not None else None,
        "density_altitude_m": air.density_altitude_m if air is not None else None,
        "wind_mps": air.wind_mps if air is not None else None,
    }


def _worst_limit(run: LaidRun) -> dict[str, Value]:
    """The limit nearest to being broken, by its share; one that is broken goes first."""
    told = [one for one in run.review.limits if one.margin_share is not None]
    worst: LimitVerdict | None = min(
        told, key=lambda one: (one.verdict is not Verdict.OUTSIDE, one.margin_share), default=None
    )
    return {
        "worst_limit": worst.name if worst is not None else None,
        "worst_margin_share": worst.margin_share if worst is not None else None,
        "limits_outside": sum(one.verdict is Verdict.OUTSIDE for one in run.review.limits),
    }


def _spun_s(run: LaidRun) -> float | None:
    distance = known(run.review.distance)
    return sum(one.end_s - one.start_s for one in distance.wheelspin) if distance is not None else None


def _add_same_air(runs: Sequence[LaidRun], rows: Sequence[dict[str, Value]], clean: Sequence[bool]) -> None:
    """Elapsed time of each clean run in the mean of their airs."""
    places = [place for place, counts in enumerate(clean) if counts]
    some = [runs[place] for place in places]
    rule = take_air_out(some, read_cells(some)) if some else None
    for number, place in enumerate(places if rule is not None else ()):
        total = _number(rows[place]["elapsed_time_s"])
        if total is not None and rule is not None:
            rows[place]["elapsed_same_air_s"] = total + float(rule.of_run[number]) * elapsed_by_power(runs[place])


def _add_differences(rows: Sequence[dict[str, Value]], usual: Value, clean: Sequence[bool]) -> str | None:
    """To the best clean run, and to the run before to the same finish."""
    times = [_number(row["elapsed_time_s"]) if row["finish_ft"] == usual else None for row in rows]
    quick = [(time, place) for place, time in enumerate(times) if time is not None and clean[place]]
    best = min(quick, default=None)
    before: float | None = None
    for row, time in zip(rows, times, strict=True):
        if time is None:
            continue
        row["to_best_s"] = time - best[0] if best is not None else None
        row["to_run_before_s"] = time - before if before is not None else None
        before = time
    return str(rows[best[1]]["label"]) if best is not None else None
