"""A digest as it is kept: its figures as JSON for lists, its cells and the engine's speeds packed apart from them.

A list of many runs needs the figures of all of them and the cells of few; neither is worth the time that JSON takes to
say two hundred numbers a run.

Public: `FORM`, `KeptDigest`, `keep_digest`, `read_digest`.
"""

from __future__ import annotations

import json
import math
import struct
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.runs.cells import VALUES, CellTable
from passband.analysis.runs.digest import RunDigest, Value
from passband.analysis.runs.engine_use import EngineUse
from passband.analysis.runs.same_air import AirSeen

FORM = 4
"""Of what is kept: a digest of another form is made anew."""
_SIZES = struct.Struct("<II")
_NUMBER = np.dtype("<f8")


@dataclass(frozen=True, slots=True)
class KeptDigest:
    """A digest in bytes."""

    figures: bytes
    """All of it but the arrays, JSON."""
    arrays: bytes
    """Numbers of cells and of classes of engine speed, then the cells' numbers and the classes', to the last digit."""
    comparable: bool
    """Whether other runs' engines may be held against it: a clean run whose power is known."""


def keep_digest(digest: RunDigest) -> KeptDigest:
    """Put a digest into bytes.

    Parameters
    ----------
    digest : RunDigest
        Any.

    Returns
    -------
    KeptDigest
        For `read_digest`.
    """
    use = digest.use
    figures = {
        "label": digest.label, "event": digest.event, "round": digest.round,
        "before_shifts": _plainly(digest.before_shifts), "after_shifts": _plainly(digest.after_shifts),
        "shifts": [[*gears, *map(_finite, speeds)] for gears, speeds in digest.shifts.items()],
        "elapsed_by_power_s": float(digest.elapsed_by_power_s),
        "air": _plainly(asdict(digest.air)) if digest.air is not None else None,
        "use": {name: getattr(use, name) for name in _USE} if use is not None else None,
    }  # fmt: skip
    cells, speeds = digest.cells, use.time_by_rpm_s if use is not None else {}
    numbers = [
        np.vstack([cells.gear, cells.low_rpm, cells.values]).ravel(),
        np.fromiter(speeds.keys(), dtype=np.float64),
        np.fromiter(speeds.values(), dtype=np.float64),
    ]
    arrays = _SIZES.pack(cells.size, len(speeds)) + np.concatenate(numbers).astype(_NUMBER).tobytes()
    return KeptDigest(json.dumps(figures, allow_nan=False).encode(), arrays, digest.clean and cells.size > 0)


_USE = ("revolutions", "run_revolutions", "running_s", "not_seen_s")


def _plainly(figures: Mapping[str, Value]) -> dict[str, Value]:
    return {name: _finite(value) if isinstance(value, float) else value for name, value in figures.items()}


def _finite(value: float | None) -> float | None:
    return float(value) if value is not None and math.isfinite(value) else None


def read_digest(kept: Mapping[str, Any], arrays: bytes) -> RunDigest | None:
    """A digest from what was kept.

    Parameters
    ----------
    kept : mapping
        Its figures, read from JSON.
    arrays : bytes
        What `keep_digest` packed.

    Returns
    -------
    RunDigest or None
        None where it is none of this form: then it is made anew.
    """
    try:
        cells, classes = _SIZES.unpack_from(arrays)
        numbers = np.frombuffer(arrays, dtype=_NUMBER, offset=_SIZES.size)
        split = (2 + len(VALUES)) * cells
        table, speeds = numbers[:split].reshape(2 + len(VALUES), cells), numbers[split:].reshape(2, classes)
        return _digest(kept, CellTable(table[0], table[1], table[2:]), speeds)
    except (KeyError, TypeError, ValueError, IndexError, struct.error):
        return None


def _digest(kept: Mapping[str, Any], cells: CellTable, speeds: FloatArray) -> RunDigest:
    use, air = kept["use"], kept["air"]
    by_rpm = dict(zip(speeds[0].astype(int).tolist(), speeds[1].tolist(), strict=True))
    return RunDigest(
        label=kept["label"],
        event=kept["event"],
        round=kept["round"],
        before_shifts=kept["before_shifts"],
        shifts={(one[0], one[1]): (one[2], one[3]) for one in kept["shifts"]},
        after_shifts=kept["after_shifts"],
        elapsed_by_power_s=kept["elapsed_by_power_s"],
        air=AirSeen(**air) if air is not None else None,
        cells=cells,
        use=EngineUse(**use, time_by_rpm_s=by_rpm) if use is not None else None,
    )
