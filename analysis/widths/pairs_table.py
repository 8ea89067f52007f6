"""How much of a plus-minus is a run's own, made by `python -m tests.benchmarks.pairs --write`; not written by hand.

By class: the factor of the run's own part, and the pairs and answers that it was found from.

Public: `FACTORS`, `ELAPSED`, `COST`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

MADE_OF = "seeds 1..2,11, 24 cars"
"""Seeds, cars and pairs."""
ROWS: Mapping[str, tuple[float, int, int]] = {
    "compare cost, gear": (1.85, 72, 640),
    "compare cost, launch": (1.0, 72, 144),
    "compare cost, shift": (2.05, 72, 508),
    "compare elapsed, gear": (1.05, 72, 640),
    "compare elapsed, launch": (1.0, 72, 144),
    "compare elapsed, shift": (1.45, 72, 508),
    "peak_w": (1.9, 72, 144),
    "peak_w/clutch": (2.45, 24, 48),
    "peak_w/quick": (1.2, 36, 72),
    "peak_w/quick/undriven wheel": (1.2, 30, 60),
    "peak_w/quick/undriven wheel/no slip": (1.35, 30, 30),
    "peak_w/quick/undriven wheel/slip": (1.35, 30, 30),
    "rpm_after": (1.65, 72, 253),
    "rpm_after/clutch": (1.4, 24, 94),
    "rpm_after/quick": (2.4, 36, 135),
    "rpm_after/quick/200 Hz and more": (2.6, 30, 111),
    "rpm_before": (1.2, 72, 253),
    "rpm_before/clutch": (1.35, 24, 94),
    "rpm_before/quick": (1.2, 36, 135),
    "rpm_before/quick/200 Hz and more": (1.2, 30, 111),
    "rpm_drop": (1.6, 72, 253),
    "rpm_drop/clutch": (1.5, 24, 94),
    "rpm_drop/quick": (2.15, 36, 135),
    "rpm_drop/quick/200 Hz and more": (2.4, 30, 111),
    "splits": (1.0, 72, 360),
    "splits/no slip": (1.0, 72, 360),
    "splits/no slip/undriven wheel": (1.0, 54, 270),
    "splits/no slip/undriven wheel/felt": (1.0, 45, 225),
    "traps": (1.0, 72, 144),
    "traps/no slip": (1.0, 72, 144),
    "traps/no slip/undriven wheel": (1.0, 54, 108),
    "traps/no slip/undriven wheel/felt": (1.0, 45, 90),
}
"""Class: factor, pairs, answers."""

FACTORS: Mapping[str, float] = {name: row[0] for name, row in ROWS.items()}
"""By class, as `classes_of` names them, and `compare elapsed, KIND`, `compare cost, KIND`. [-]"""
_PARTS = ("launch", "gear", "shift")
ELAPSED: Mapping[str, float] = {kind: FACTORS.get(f"compare elapsed, {kind}", 1.0) for kind in _PARTS}
"""Of the time that went by on a part of a comparison, by the part's kind. [-]"""
COST: Mapping[str, float] = {kind: FACTORS.get(f"compare cost, {kind}", 1.0) for kind in _PARTS}
"""Of what happened there made of the finish. [-]"""
