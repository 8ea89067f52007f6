"""A time that stands in the log as steps: how long each row comes after the one before it.

Public: `summed_steps`, `may_be_steps`.
"""

from __future__ import annotations

import re

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.rows.table import Column

FEWEST_ROWS = 20
"""Fewer steps do not show that they are steps."""
MOSTLY = 0.9
"""Share of steps above nothing; rows of one moment have none between them. [-]"""
ALIKE = 1.5
"""A column that is only named time is one of steps where nine in ten are within this factor of the middle one. [-]"""

SECONDS_SINCE_1970 = (9e8, 2.5e9)
"""What a clock shows from 1998 to 2049. [s]"""
_NAMED = re.compile(
    r"(?i)[δΔ∆]\s*t(?:ime)?|d\s*t|(?:delta|diff|difference|d)\s*(?:t|time|zeit|temps|tiempo|tempo)|"
    r"time\s*(?:delta|diff|difference|step|since last(?: row| sample)?)|since last(?: row| sample)?|"
    r"(?:sample |row )?interval|zeitdifferenz|zeitschritt|zeitabstand|intervall|intervalle|intervalo|intervallo|"
    r"pas de temps|шаг времени|时间间隔|時間間隔"
)
_UNIT_BEHIND = re.compile(r"(?i)[\s_.\-]+(?:n|u|µ|m)?s(?:ec)?$")


def summed_steps(column: Column) -> FloatArray | None:
    """The time since the first row, in the column's own unit; None where its values can be no steps.

    Parameters
    ----------
    column : Column
        A value for each row.

    Examples
    --------
    >>> summed_steps(Column(np.full(20, 0.5), None))[:3].tolist()
    [0.0, 0.5, 1.0]
    """
    steps = column.values
    if steps is None or column.rows is not None or steps.size < FEWEST_ROWS or not bool(np.isfinite(steps).all()):
        return None
    if steps.min() < 0.0 or np.mean(steps > 0.0) < MOSTLY:
        return None
    return np.asarray(np.cumsum(steps) - steps[0], dtype=np.float64)


def may_be_steps(name: str, column: Column, *, named_time: bool) -> bool:
    """Whether a column's name says that it holds steps, or says time while its values stay about one size.

    Parameters
    ----------
    name : str
        Without its unit.
    column : Column
        A value for each row.
    named_time : bool
        Whether the name is one of a time.
    """
    plain = " ".join(re.split(r"[\s_.\-]+", _UNIT_BEHIND.sub("", name.strip())))
    if _NAMED.fullmatch(plain):
        return True
    if not named_time or column.values is None or column.values.size < FEWEST_ROWS:
        return False
    middle = float(np.median(column.values))
    if SECONDS_SINCE_1970[0] < middle < SECONDS_SINCE_1970[1]:
        return False  # a clock whose last digits were not printed
    alike = (column.values > middle / ALIKE) & (column.values < middle * ALIKE)
    return bool(middle > 0.0 and np.mean(alike) >= MOSTLY)
