"""How much of a plus-minus is a run's own, made by `python -m tests.benchmarks.pairs --write`; not written by hand.

By class: the factor of the run's own part, and the pairs and answers that it was found from.

Public: `FACTORS`, `ELAPSED`, `COST`, `ROWS`, `MADE_OF`.
"""

from __future__ import annotations

from collections.abc import Mapping

MADE_OF = "nothing yet"
"""Seeds, cars and pairs."""
ROWS: Mapping[str, tuple[float, int, int]] = {}
"""Class: factor, pairs, answers."""

FACTORS: Mapping[str, float] = {name: row[0] for name, row in ROWS.items()}
"""By class, as `classes_of` names them, and `compare elapsed, KIND`, `compare cost, KIND`. [-]"""
_PARTS = ("launch", "gear", "shift")
ELAPSED: Mapping[str, float] = {kind: FACTORS.get(f"compare elapsed, {kind}", 1.0) for kind in _PARTS}
"""Of the time that went by on a part of a comparison, by the part's kind. [-]"""
COST: Mapping[str, float] = {kind: FACTORS.get(f"compare cost, {kind}", 1.0) for kind in _PARTS}
"""Of what happened there made of the finish. [-]"""
