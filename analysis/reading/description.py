"""What the reader understood of a file, as plain values for print or JSON.

Public: `describe`, `doubts_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Log, Logged
from passband.analysis.quantities import Conversion
from passband.analysis.results.doubt import Doubt


def describe(logs: Sequence[Log]) -> dict[str, Any]:
    """Say what was understood of one file.

    Parameters
    ----------
    logs : sequence of Log
        What `analysis.reading.read_log` returned for it.

    Returns
    -------
    dict
        ``text``, ``time`` and ``channels`` of the longest recording, ``findings`` and ``doubts`` of all; ``recordings``
        counts them. ``least`` and ``greatest`` are SI, in ``si_unit``; ``least_logged`` and ``greatest_logged`` are as
        the log writes them, in ``unit_read``. A channel that neither catalogue nor user names is None.
    """
    if not logs:
        return {"text": {}, "time": {}, "channels": [], "findings": [], "doubts": [], "recordings": 0}
    main = max(logs, key=lambda log: log.text.rows)
    text = asdict(main.text)
    text["preamble"] = [{"key": key, "value": value} for key, value in main.text.preamble]
    return {
        "name": main.name,
        "recordings": len(logs),
        "text": text,
        "time": {key: _plain(value) for key, value in asdict(main.time).items()},
        "channels": [_described(channel) for channel in main.channels],
        "findings": [asdict(one) for one in dict.fromkeys(finding for log in logs for finding in log.findings)],
        "doubts": [asdict(one) for one in doubts_of(logs)],
    }


def doubts_of(logs: Sequence[Log]) -> tuple[Doubt, ...]:
    """What is to be asked about the recordings of one file, each question once.

    Parameters
    ----------
    logs : sequence of Log
        Recordings of one file.
    """
    asked = {(doubt.layout, doubt.column): doubt for log in reversed(logs) for doubt in log.doubts}
    return tuple(dict.fromkeys(asked[doubt.layout, doubt.column] for log in logs for doubt in log.doubts))


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    return value


def _described(channel: Channel) -> dict[str, Any]:
    known = channel.values[np.isfinite(channel.values)]
    least, greatest = (float(known.min()), float(known.max())) if known.size else (None, None)
    logged = channel.logged or Logged(channel.unit, Conversion(1.0, 0.0, channel.unit))
    least_logged, greatest_logged = (None if edge is None else logged.value(edge) for edge in (least, greatest))
    return {
        "header": channel.header,
        "channel": channel.name if kind_of(channel.name) is not None or channel.confidence == 1.0 else None,
        "unit": channel.unit_written,
        "si_unit": channel.unit,
        "rate_hz": _plain(round(channel.rate_hz, 4)),
        "samples": int(channel.values.size),
        "without_value": int(channel.values.size - known.size),
        "confidence": channel.confidence,
        "resolution": channel.resolution,
        "least": least,
        "greatest": greatest,
        "unit_read": logged.unit,
        "least_logged": least_logged,
        "greatest_logged": greatest_logged,
    }
