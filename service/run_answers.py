"""A run as lists and answers tell it.

Public: `run_json`.
"""

from __future__ import annotations

from typing import Any

from passband.service.store.records import RunRecord


def run_json(run: RunRecord) -> dict[str, Any]:
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
        **{key: value for key, value in run.summary.items() if key != "car_name"},
    }
