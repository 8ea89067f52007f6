"""Engine speed in thousands, where nothing says so: "7.2" under [rpm], or "7.204" whose point parts the thousands.

No engine runs below some hundred revolutions a minute, and none turns more than some twenty thousand.

Public: `engine_in_thousands`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.quantities import FloatArray
from passband.analysis.reading.columns.understood import AS_WRITTEN, Columns, Understood, own_name
from passband.analysis.results.findings import Finding

RUNS_FROM, MOST_THOUSANDS = 1.0, 25.0
"""The highest of a log with a run in it lies between these, counted in thousands. Common practice, no source."""
ONE_SCALE = 13.0
"""Up to here thousands alone fit; above, revolutions a second of an engine at idle do as well, unless all values
have three places behind the point. [-]"""
LEAST_VALUES = 20
"""Fewer values of a running engine decide nothing."""
PLACES = 1e-3
"""What a point that parts thousands leaves of one revolution a minute."""
MOST_SINGLE, LEAST_SINGLE = 20000.0, 1500.0
"""No engine of a car or motorcycle runs faster, and none is driven down a strip slower. [rev/min]"""
THOUSANDS = "krpm"
"""The unit as a header would write it; an answer that says it is right keeps it."""
CONFIDENCE = 0.8
"""What is left of the confidence where thousands were taken from the values. [-]"""


def engine_in_thousands(columns: Columns) -> Columns:
    """Read engine speeds in thousands that are taken for single revolutions a minute.

    Parameters
    ----------
    columns : Columns
        Each column on its own.

    Returns
    -------
    Columns
        The same, each change told. Where only some values have their thousands parted by a point, "950" before
        "1.020", no factor sets the column right: it stays under its own header, and that is told.
    """
    header, samples = columns.header, columns.samples
    out: dict[int, Understood] = {}
    for at, column in columns.understood.items():
        if column.channel == "engine_speed" and at not in columns.given and _factor_refuted(column, samples[at]):
            out[at] = _in_single(column, header.names[at], float(samples[at].max()))
            continue
        as_it_stands = column.conversion.scale == 1.0 and column.conversion.offset == 0.0
        if column.channel != "engine_speed" or not as_it_stands or at in columns.given:
            continue
        running = samples[at][samples[at] > 0.0]
        if running.size < LEAST_VALUES:
            continue
        if _all_in_thousands(running):
            out[at] = _in_thousands(column, header.names[at], running)
        elif _some_in_thousands(running):
            out[at] = _unclear(column, header.names[at])
    return columns.with_read(out)


def _factor_refuted(column: Understood, values: FloatArray) -> bool:
    """Whether a column in tens, hundreds or thousands of revolutions is one of single ones: no engine runs so fast."""
    scale = column.conversion.scale
    if scale not in (10.0, 100.0, 1000.0) or not values.size:
        return False
    most = float(values.max())
    return LEAST_SINGLE <= most <= MOST_SINGLE < scale * most


def _in_single(column: Understood, header: str, most: float) -> Understood:
    text = (
        f"{header} cannot be in {column.unit_written or THOUSANDS}: at {most:.4g} of these no engine runs. Its values "
        "fit single revolutions a minute alone and are read so; check the unit in the logger."
    )
    found = (*column.findings, Finding("engine-speed-scale", "caution", text, header))
    return replace(
        column,
        unit_written="rpm",
        conversion=replace(column.conversion, scale=1.0),
        confidence=round(CONFIDENCE * column.confidence, 3),
        findings=found,
    )


def _all_in_thousands(running: FloatArray) -> bool:
    most = float(running.max())
    return bool(
        RUNS_FROM <= most <= MOST_THOUSANDS and np.any(running % 1.0) and (most <= ONE_SCALE or _three_places(running))
    )


def _three_places(values: FloatArray) -> bool:
    """Whether values have three places behind the point and need the third."""
    counted = values / PLACES
    return bool(np.all(np.abs(counted - np.round(counted)) < 1e-6) and np.mean(np.abs(counted % 10.0) > 0.5) > 0.5)


def _some_in_thousands(running: FloatArray) -> bool:
    """Whether whole numbers up to 999 and small ones of three places, and no others, make up the column."""
    small = running <= MOST_THOUSANDS
    whole, parted = running[~small], running[small]
    if min(whole.size, parted.size) < LEAST_VALUES or whole.max() > 999.0 or np.any(whole % 1.0):
        return False
    return parted.min() >= RUNS_FROM and _three_places(parted)


def _in_thousands(column: Understood, header: str, running: FloatArray) -> Understood:
    text = (
        f"{header} cannot be revolutions a minute as it stands (at most {running.max():.4g}): no engine runs so "
        "slowly. Its values fit thousands alone and are read so. Log it without points between the thousands, or "
        f"as {THOUSANDS}."
    )
    found = (*column.findings, Finding("engine-speed-scale", "caution", text, header))
    return replace(
        column,
        unit_written=THOUSANDS,
        conversion=replace(column.conversion, scale=1000.0),
        confidence=round(CONFIDENCE * column.confidence, 3),
        findings=found,
    )


def _unclear(column: Understood, header: str) -> Understood:
    text = (
        f"{header} holds whole numbers up to 999 and small ones with three places: points seem to part its thousands, "
        "and no factor sets that right. It stays under its own header. Log it without points between the thousands."
    )
    finding = Finding("engine-speed-unclear", "caution", text, header)
    return Understood(own_name(header), column.unit_written, column.unit_written, AS_WRITTEN, 0.0, (finding,))
