"""How much of a plus-minus is a run's own, made by `python -m tests.benchmarks.pairs --write`; not written by hand.

By class: the factor of the run's own part, and the pairs and answers that it was found from.

Public: `FACTORS`, `ELAPSED`, `COST`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

MADE_OF = "seeds 1..2,11..12, 32 cars"
"""Seeds, cars and pairs."""
ROWS: Mapping[str, tuple[float, int, int]] = {
    "compare cost, gear": (1.94, 96, 848),
    "compare cost, launch": (1.0, 96, 192),
    "compare cost, shift": (2.32, 96, 676),
    "compare elapsed, gear": (1.14, 96, 848),
    "compare elapsed, launch": (1.0, 96, 192),
    "compare elapsed, shift": (1.57, 96, 676),
    "peak_w": (2.32, 96, 192),
    "peak_w/clutch": (1.94, 33, 66),
    "peak_w/quick": (1.32, 48, 96),
    "peak_w/quick/undriven wheel": (1.32, 42, 84),
    "peak_w/quick/undriven wheel/no slip": (1.32, 42, 42),
    "peak_w/quick/undriven wheel/slip": (1.33, 42, 42),
    "rpm_after": (2.01, 96, 336),
    "rpm_after/clutch": (1.13, 33, 129),
    "rpm_after/quick": (2.88, 48, 177),
    "rpm_after/quick/200 Hz and more": (2.52, 39, 141),
    "rpm_before": (1.43, 96, 336),
    "rpm_before/clutch": (1.43, 33, 129),
    "rpm_before/quick": (1.52, 48, 177),
    "rpm_before/quick/200 Hz and more": (1.52, 39, 141),
    "rpm_drop": (1.89, 96, 336),
    "rpm_drop/clutch": (1.23, 33, 129),
    "rpm_drop/quick": (2.65, 48, 177),
    "rpm_drop/quick/200 Hz and more": (2.61, 39, 141),
    "splits": (1.01, 96, 960),
    "splits/no slip": (1.0, 96, 480),
    "splits/no slip/gps": (1.0, 24, 120),
    "splits/no slip/undriven wheel": (1.0, 72, 360),
    "splits/no slip/undriven wheel/felt": (1.0, 60, 300),
    "splits/slip": (1.12, 96, 480),
    "splits/slip/gps": (1.13, 24, 120),
    "splits/slip/undriven wheel": (1.12, 72, 360),
    "splits/slip/undriven wheel/felt": (1.12, 60, 300),
    "traps": (1.01, 96, 384),
    "traps/no slip": (1.0, 96, 192),
    "traps/no slip/gps": (1.0, 24, 48),
    "traps/no slip/undriven wheel": (1.0, 72, 144),
    "traps/no slip/undriven wheel/felt": (1.0, 60, 120),
    "traps/slip": (1.11, 96, 192),
    "traps/slip/gps": (1.0, 24, 48),
    "traps/slip/undriven wheel": (1.15, 72, 144),
    "traps/slip/undriven wheel/felt": (1.12, 60, 120),
}
"""Class: factor, pairs, answers."""

FACTORS: Mapping[str, float] = {name: row[0] for name, row in ROWS.items()}
"""By class, as `classes_of` names them, and `compare elapsed, KIND`, `compare cost, KIND`. [-]"""
_PARTS = ("launch", "gear", "shift")
ELAPSED: Mapping[str, float] = {kind: FACTORS.get(f"compare elapsed, {kind}", 1.0) for kind in _PARTS}
"""Of the time that went by on a part of a comparison, by the part's kind. [-]"""
COST: Mapping[str, float] = {kind: FACTORS.get(f"compare cost, {kind}", 1.0) for kind in _PARTS}
"""Of what happened there made of the finish. [-]"""
