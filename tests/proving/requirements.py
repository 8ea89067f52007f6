"""What must be reached over many cases, and which figures fall short of it.

Public: `shortcomings`, `too_many_misses`, `least_share`, `SHARE`, `COVERED`, `WIDTH`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from tests.proving.scores import UNKNOWABLE, FigureLine, Score
from tests.proving.scoring import GEAR_TIME, NEVER_WRONG, TROUBLE

SHARE = 0.95
"""Answers within tolerance, for each figure. [-]"""
GEAR_TIME_SHARE = 0.995
"""Of the time between shifts. [-]"""
TOLD_SHARE = 0.9
"""Of troubles told, and of unknowable figures withheld or covered. [-]"""
COVERED = 0.90
"""Plus-minuses that hold the truth, of all. [-]"""
WIDTH = 5.0
"""Most of a median plus-minus over the median error: wider would cover anything. [-]"""


def least_share(figure: str) -> float:
    """Share of right answers that a figure owes."""
    if figure in NEVER_WRONG:
        return 1.0
    if figure == GEAR_TIME:
        return GEAR_TIME_SHARE
    return TOLD_SHARE if figure in (TROUBLE, UNKNOWABLE) else SHARE


def too_many_misses(line: FigureLine, *, allowed: int = 0) -> bool:
    """Whether a figure falls short; one miss in fewer than twenty answers is not yet more than 5 %."""
    share = math.floor((1.0 - least_share(line.figure)) * line.asked + 1e-9)
    return line.misses > max(allowed, share if line.figure in NEVER_WRONG else max(1, share))


def shortcomings(score: Score, allowed: Mapping[str, int] | None = None) -> list[str]:
    """Each figure that falls short, and by how much; `allowed` are misses known of, by figure."""
    known = allowed or {}
    return [
        f"{line.figure}: {line.misses} of {line.asked} missed, {least_share(line.figure):.1%} must be right"
        for line in score.lines().values()
        if too_many_misses(line, allowed=known.get(line.figure, 0))
    ]
