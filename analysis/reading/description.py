"""What the reader understood of a file, as plain values for print or JSON.

Public: `describe`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Log


def describe(logs: Sequence[Log]) -> dict[str, Any]:
    """Say what was understood of one file.

    Parameters
    ----------
    logs : sequence of Log
        What `analysis.reading.read_log` returned for it.

    Returns
    -------
    dict
        ``text``, ``time``, ``channels`` and ``findings`` of the longest recording and findings of all; ``recordings``
        counts them. Values are SI; a channel that neither catalogue nor user names is None.
    """
    if not logs:
        return {"text": {}, "time": {}, "channels": [], "findings": [], "recordings": 0}
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
    }


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if np.isfinite(value) else None
    return value


def _described(channel: Channel) -> dict[str, Any]:
    known = channel.values[np.isfinite(channel.values)]
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
        "least": float(known.min()) if known.size else None,
        "greatest": float(known.max()) if known.size else None,
    }
