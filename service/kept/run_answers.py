"""A run and a car as answers tell them, and the same as pages are given them.

Public: `run_json`, `run_shown`, `whole_run`, `named_run`, `named_runs`, `title_of`, `car_json`, `car_shown`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.results.plain_values import JsonObject
from passband.analysis.runs.summary import summary_from_json
from passband.service.given.details import title
from passband.service.store.records import CarRecord, RunRecord
from passband.web.shown.car import CarShown
from passband.web.shown.run import CarOfRun, NamedRun, RunShown, WholeRun


def run_json(run: RunRecord) -> JsonObject:
    """A run in one line: what was said of it, and the figures that a list shows."""
    return {
        "id": run.id,
        "label": run.details.label,
        "event": run.details.event,
        "round": run.details.round,
        "car": {"id": run.car[0], "version": run.car[1], "name": run.summary["car_name"]} if run.car else None,
        "finish_ft": run.details.finish_ft,
        "at": run.details.at or None,
        "added_at": run.added_at,
        "reviewed_at": run.reviewed_at,
        "average_wheel_w": None,
        **{key: value for key, value in run.summary.items() if key != "car_name"},
    }


def run_shown(run: RunRecord) -> RunShown:
    """The same for a page."""
    said, short = run.details, summary_from_json(run.summary)
    car = CarOfRun(*run.car, short.car_name) if run.car else None
    return RunShown(
        run.id, said.label, said.event, said.round, title_of(run), car, said.finish_ft, run.added_at, short, said.at
    )  # fmt: skip


def whole_run(run: RunRecord) -> WholeRun:
    """A run for its own page."""
    return WholeRun(run_shown(run), run.details.notes, run.details.slip, run.details.air, run.details.at)


def named_run(run: RunRecord) -> NamedRun:
    """A run by its name."""
    return NamedRun(run.id, title_of(run))


def named_runs(runs: Sequence[RunRecord]) -> list[NamedRun]:
    """Runs that stand beside each other by their names, with the car's behind it where they are of several."""
    cars = {run.car[0] if run.car else "" for run in runs}
    return [
        NamedRun(run.id, f"{title_of(run)}, {run.summary['car_name']}" if len(cars) > 1 and run.car else title_of(run))
        for run in runs
    ]


def title_of(run: RunRecord) -> str:
    """What pages call a run.

    Parameters
    ----------
    run : RunRecord
        Its row.

    Returns
    -------
    str
        The user's label, else event and round, else the first log's name.
    """
    return title(run.details.label, run.details.event, run.details.round, run.summary["log_names"])


def car_json(car: CarRecord) -> JsonObject:
    """A car as the API tells it: as the user gave it, and which version it is."""
    return {"id": car.id, "version": car.version, "made_at": car.made_at, **car.given}


def car_shown(car: CarRecord) -> CarShown:
    """The same for a page."""
    return CarShown.of(car.given, id=car.id, version=car.version, made_at=car.made_at)
