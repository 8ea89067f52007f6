"""Channels of a stored run for drawing: few enough points for a screen, no peak lost, and said so.

Public: `Trace`, `take_traces`, `as_arrow`, `ARROW_STREAM`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO, Literal

from passband.analysis.report import TableColumn
from passband.analysis.statistics.thinning import Thinned, thin
from passband.service.http.errors import Problem
from passband.service.reviewing.tables import column_facts, read_table

ARROW_STREAM = "application/vnd.apache.arrow.stream"
AXES = {"distance": "distance_m", "time": "time_s"}
BEFORE_START_S = 1.0
"""By distance, so much before clock start is shown: the car at rest before that is one place for many samples. [s]"""


@dataclass(frozen=True, slots=True)
class Trace:
    """One channel against time or distance."""

    column: TableColumn
    drawn: Thinned
    samples: int
    """How many there are unthinned."""


def take_traces(file: BinaryIO, names: Sequence[str], *, by: Literal["distance", "time"], points: int) -> list[Trace]:
    """Some channels of a stored run.

    Parameters
    ----------
    file : binary file
        The run's table.
    names : sequence of str
        Columns; one that the run lacks is left out, if it has any of the others.
    by : {"distance", "time"}
        What they are drawn against.
    points : int
        Most values of each, at least 4.

    Returns
    -------
    list of Trace
        In the order asked for.

    Raises
    ------
    Problem
        404 if none of the names is a channel of this run; the text lists those that are.
    """
    columns = {column.name: column for column in column_facts(file)}
    there = [name for name in names if name in columns]
    if not there:
        known = ", ".join(f'"{name}"' if "," in name else name for name in columns)
        raise Problem(404, "Not found", f"channels: this run has none of {', '.join(names)}; it has {known}.")
    axis = AXES[by]
    frame = read_table(file, ["time_s", axis, *there])
    if by == "distance":
        frame = frame.filter(frame.get_column("time_s") >= -BEFORE_START_S)
    x = frame.get_column(axis).cast(float).to_numpy()
    traces = []
    for name in there:
        y = frame.get_column(name).cast(float).to_numpy()
        drawn = thin(x, y, points=points)
        traces.append(Trace(columns[name], drawn, int((x == x).sum())))
    return traces


def as_arrow(traces: Sequence[Trace], *, by: Literal["distance", "time"]) -> bytes:
    """Traces as one long Arrow table: channel, place, value.

    Parameters
    ----------
    traces : sequence of Trace
        Any.
    by : {"distance", "time"}
        Names the column of places: ``distance_m`` or ``time_s``.

    Returns
    -------
    bytes
        An Arrow IPC stream; the schema's metadata name the channels that are thinned.
    """
    import numpy as np
    import pyarrow as pa

    names = pa.array([trace.column.name for trace in traces], pa.string())
    which = np.repeat(np.arange(len(traces), dtype=np.int32), [trace.drawn.x.size for trace in traces])
    x = np.concatenate([trace.drawn.x for trace in traces])
    y = np.concatenate([trace.drawn.y for trace in traces]).astype(np.float32)
    thinned = ",".join(trace.column.name for trace in traces if trace.drawn.thinned)
    table = pa.table(
        {
            "channel": pa.DictionaryArray.from_arrays(which, names),
            AXES[by]: x,
            "value": pa.array(y, from_pandas=True),
        }
    ).replace_schema_metadata({"thinned": thinned})
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, table.schema) as writer:
        writer.write_table(table)
    body: bytes = sink.getvalue().to_pybytes()
    return body
