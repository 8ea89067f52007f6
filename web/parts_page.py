"""The page of a car's parts: what each has seen, counted from the logs.

Public: `render_parts`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from passband.web.pages import render
from passband.web.units import UnitSystem, unit_for
from passband.web.words import Json

KINDS = ("head", "valve springs", "clutch", "tires", "crank", "pistons", "gearbox")
"""Offered beside the field; anything else may be written."""


@dataclass(frozen=True, slots=True)
class PartShown:
    """One part."""

    id: str
    """Its id."""
    name: str
    """As given."""
    kind: str
    """As given; may be empty."""
    span: str
    """From which run or day to which."""
    counts: tuple[tuple[str, str], ...]
    """What is counted, and how much."""
    launches: tuple[tuple[str, ...], ...]
    """Run by run: label, day, clutch locked, lowest engine speed, heat."""
    notes: tuple[str, ...]
    """What is not in the counts, and the crew's own words."""
    given: Json
    """As given, for the form."""
    clutch: bool
    """Whether its launches are shown: it is a clutch, or of no kind that was given."""


SHEETS = {
    "flow_sheet": "Flow sheet",
    "flow_sheet_before": "Flow sheet before the change",
    "dynamometer": "Dynamometer's curve",
    "dynamometer_before": "Dynamometer's curve before the change",
    "compressor_map": "Compressor's map",
}
"""What a car keeps beside its parts, and what it is called."""


def render_parts(
    car: Json, parts: Sequence[Json], runs: Sequence[Json], *, sheets: Sequence[Json] = (), units: UnitSystem = "us"
) -> str:
    """A car's parts and what each has seen.

    Parameters
    ----------
    car : mapping
        As ``GET /api/cars/{id}`` gives it.
    parts : sequence of mapping
        As ``GET /api/cars/{id}/parts`` gives them.
    runs : sequence of mapping
        The car's runs to choose from, oldest first: ``id``, ``title``.
    sheets : sequence of mapping
        Bench sheets and a map kept with the car: ``what``, ``name``, ``made_at``.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    titles = {str(run["id"]): str(run["title"]) for run in runs}
    shown = [_shown(part, titles, units) for part in parts]
    kept = [{**one, "title": SHEETS[one["what"]], "day": str(one["made_at"])[:10]} for one in sheets]
    heat = unit_for("energy", units).label
    return render(
        "parts.html", units, car=car, shown=shown, runs=runs, kinds=KINDS, sheets=kept, heat_unit=heat, here="cars"
    )


def _shown(part: Json, titles: Mapping[str, str], units: UnitSystem) -> PartShown:
    used, clutch = part["used_up"], _is_clutch(part)
    kind = part["kind"]
    return PartShown(
        id=part["id"],
        name=part["name"],
        kind="" if kind.lower() in part["name"].lower() else kind,
        span=_span(part, titles),
        counts=tuple(_counts(used, units, clutch=clutch)),
        launches=tuple(_launch(one, units, clutch=clutch) for one in used["launches"]),
        notes=tuple(filter(None, (_not_counted(used), _no_heat(used) if clutch else "", part["notes"]))),
        clutch=clutch,
        given={name: part[name] for name in _GIVEN},
    )


_GIVEN = ("name", "kind", "fitted_from", "fitted_to", "first_run", "last_run", "above_rpm", "notes")


def _span(part: Json, titles: Mapping[str, str]) -> str:
    first, last = (titles.get(part[key], "") for key in ("first_run", "last_run"))
    since = ", ".join(filter(None, (part["fitted_from"], first)))
    until = ", ".join(filter(None, (part["fitted_to"], last)))
    if not since and not until:
        return "in the car for all its runs"
    return f"from {since or 'the first run'} to {until or 'now'}"


def _is_clutch(part: Json) -> bool:
    return not part["kind"] or "clutch" in f"{part['kind']} {part['name']}".lower()


def _counts(used: Json, units: UnitSystem, *, clutch: bool) -> list[tuple[str, str]]:
    days = [day[:10] for day in (used["first_at"], used["last_at"])]
    when = "" if not used["runs"] else f", {days[0]}" if days[0] == days[1] else f", {days[0]} to {days[1]}"
    counts = [
        ("Runs", f"{used['runs']}{when}"),
        ("Revolutions", f"{used['revolutions']:,.0f}, {used['run_revolutions']:,.0f} of them in the runs"),
        ("Engine turning", _minutes(used["running_s"])),
        *((f"At {one['rpm']:.0f} rpm and above", f"{one['time_s']:.2f} s") for one in used["above"]),
    ]
    heat = used["heat_j"]
    if clutch and heat is not None:
        unit = unit_for("energy", units)
        text = f"{heat['value'] / unit.scale:,.0f} ±{heat['plus_minus'] / unit.scale:,.0f} {unit.label}"
        known = used["runs"] - len(used["heat_not_known"])
        counts.append(("Heat into the clutch", f"{text}, of {known} of {used['runs']} runs"))
    return counts


def _minutes(time_s: float) -> str:
    return f"{time_s:.0f} s" if time_s < 120 else f"{time_s / 60:.1f} min"


def _launch(one: Json, units: UnitSystem, *, clutch: bool) -> tuple[str, ...]:
    run = one["label"], one["at"].replace("T", " ")[:16] or "–"
    if not clutch:
        return run
    unit, heat = unit_for("energy", units), one["heat_j"]
    return (
        *run,
        _figure(one["clutch_locked_s"], 2),
        _figure(one["rpm_lowest"], 0),
        "–" if heat is None else f"{heat['value'] / unit.scale:.0f} ±{heat['plus_minus'] / unit.scale:.0f}",
    )


def _figure(value: Any, digits: int) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def _not_counted(used: Json) -> str:
    runs = used["not_counted"]
    return f"Without engine speed in their logs, so in no count but that of runs: {', '.join(runs)}." if runs else ""


def _no_heat(used: Json) -> str:
    runs = used["heat_not_known"]
    if not runs or used["heat_j"] is None:
        return ""
    return f"Heat into the clutch is not known in {', '.join(runs)}; each run's page says why."
