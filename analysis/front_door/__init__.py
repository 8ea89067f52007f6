"""Passband as a library: logs of a drag run in, reviews out.

Installed, this is the package ``passband`` itself; the rest of the house lies under it as ``passband.analysis``,
``passband.web``, ``passband.service`` and ``passband.demo_logs``. Nothing heavy is imported before a name is used.

Public: `review`, `read_log`, `Car`, `Slip`, `Air`, `as_json`.

Examples
--------
>>> from importlib.resources import files
>>> from passband import Car, read_log, review
>>> weekend = files("passband.demo_logs") / "weekend"
>>> names = ("01_q1_ecu.csv.gz", "01_q1_dash.csv.gz")
>>> logs = [read_log((weekend / name).read_bytes(), name=name) for name in names]
>>> [(str(run.window.outcome), len(run.shifts)) for run in review(logs, Car(name="nothing else is known of it"))]
[('quarter', 3)]
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from passband.analysis.given.car import Air, Car, Slip
    from passband.analysis.reading import read_log
    from passband.analysis.results.codec import as_json
    from passband.analysis.review import review

__all__ = ["review", "read_log", "Car", "Slip", "Air", "as_json"]

_LIVES_IN = {
    "review": "passband.analysis.review",
    "read_log": "passband.analysis.reading",
    "Car": "passband.analysis.given.car",
    "Slip": "passband.analysis.given.car",
    "Air": "passband.analysis.given.car",
    "as_json": "passband.analysis.results.codec",
}


def __getattr__(name: str) -> Any:
    if name not in _LIVES_IN:
        raise AttributeError(f"module 'passband' has no attribute {name!r}; it has {', '.join(__all__)}")
    return getattr(import_module(_LIVES_IN[name]), name)
