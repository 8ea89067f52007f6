"""A kept run as bytes, and back, to the last bit of every sample.

Public: `FORM`, `kept_run_to_bytes`, `kept_run_from_bytes`, `CannotReadKept`.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.driveline.launch import EngineInFirst
from passband.analysis.engine.kept_run import KeptRun, Way
from passband.analysis.engine.run_times import RunTimes
from passband.analysis.quantities import FloatArray
from passband.analysis.results.boost import BoostBasis
from passband.analysis.results.findings import Finding
from passband.analysis.results.reading_back import record_from
from passband.analysis.results.shifts import ShiftKind
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.boost_trace import BoostTrace

FORM = 1
"""Of these bytes: those of another form are not read, and the run is reviewed from its logs."""
_SIZE = struct.Struct("<I")
_NUMBER = np.dtype("<f8")
_FIELDS = ("name", "header", "unit", "unit_written", "rate_hz", "confidence", "log", "resolution")
"""What a bound may ask of a channel besides its samples."""

JsonObject = Mapping[str, Any]
Put = Callable[[FloatArray], int]
"""Puts an array among the numbers, each once, and says at which place."""


class CannotReadKept(ValueError):
    """Bytes that are no kept run of this form."""


def kept_run_to_bytes(run: KeptRun) -> bytes:
    """A kept run as bytes.

    Parameters
    ----------
    run : KeptRun
        Any.

    Returns
    -------
    bytes
        A head in JSON with its length before it, then all numbers. Channels that share their times share them here.
    """
    arrays: list[FloatArray] = []
    places: dict[int, int] = {}

    def put(array: FloatArray) -> int:
        if id(array) not in places:
            places[id(array)] = len(arrays)
            arrays.append(array)
        return places[id(array)]

    head = json.dumps({**_head(run, put), "form": FORM, "sizes": [array.size for array in arrays]}).encode()
    head += b" " * (-(len(head) + _SIZE.size) % _NUMBER.itemsize)  # numbers lie where the processor reads them fastest
    numbers = b"".join(np.ascontiguousarray(array, dtype=_NUMBER).tobytes() for array in arrays)
    return _SIZE.pack(len(head)) + head + numbers


def _head(run: KeptRun, put: Put) -> dict[str, Any]:
    return {
        "channels": [_channel_json(channel, put) for channel in run.traces],
        "times": asdict(run.times),
        "until_s": run.until_s,
        "way": _way_json(run, put),
        "boost": _boost_json(run.boost, put),
        "engine": _engine_json(run.engine, put),
        "kinds": run.kinds,
        "findings": [[asdict(finding) for finding in part] for part in (run.before, run.between, run.after)],
        "kept": None if run.whole else (run.from_s, run.to_s),
    }


def _channel_json(channel: Channel, put: Put) -> dict[str, Any]:
    return {key: getattr(channel, key) for key in _FIELDS} | {"at": [put(channel.time_s), put(channel.values)]}


def _way_json(run: KeptRun, put: Put) -> dict[str, Any]:
    if isinstance(run.way, Unknown):
        return {"unknown": asdict(run.way.reason)}
    return {"at": [put(run.way.time_s), put(run.way.distance_m)]}


def _boost_json(boost: BoostTrace | Unknown, put: Put) -> dict[str, Any]:
    if isinstance(boost, Unknown):
        return {"unknown": asdict(boost.reason)}
    kept = {"basis": boost.basis, "barometer_pa": boost.barometer_pa, "channel": boost.channel}
    return kept | {"at": [put(boost.time_s), put(boost.boost_pa)]}


def _engine_json(engine: EngineInFirst | None, put: Put) -> dict[str, Any] | None:
    return None if engine is None else {"at": [put(engine.time_s), put(engine.rpm)], "first_s": engine.first_s}


def kept_run_from_bytes(body: bytes) -> KeptRun:
    """A kept run out of its bytes.

    Parameters
    ----------
    body : bytes
        As `kept_run_to_bytes` made them.

    Returns
    -------
    KeptRun
        The same, with arrays that cannot be written to.

    Raises
    ------
    CannotReadKept
        If they are of another form, or none at all.
    """
    try:
        (length,) = _SIZE.unpack_from(body)
        kept = json.loads(body[_SIZE.size : _SIZE.size + length])
        if kept["form"] != FORM:
            raise CannotReadKept(f"kept in form {kept['form']!r}, this program reads form {FORM}")
        numbers = np.frombuffer(body, dtype=_NUMBER, offset=_SIZE.size + length)
        if numbers.size != sum(kept["sizes"]):
            raise CannotReadKept(f"no kept run: {numbers.size} numbers where {sum(kept['sizes'])} should be")
        return _run(kept, np.split(numbers, np.cumsum(kept["sizes"])[:-1]))
    except CannotReadKept:
        raise
    except (KeyError, TypeError, ValueError, IndexError, struct.error) as error:
        raise CannotReadKept("these bytes are no kept run") from error


def _run(kept: JsonObject, arrays: Sequence[FloatArray]) -> KeptRun:
    way, boost, times = kept["way"], kept["boost"], kept["times"]
    before, between, after = (tuple(map(_finding, part)) for part in kept["findings"])
    run = KeptRun(
        traces=Traces(tuple(_channel(one, arrays) for one in kept["channels"])),
        times=RunTimes(times["launch_s"], times["end_s"], tuple((start, stop) for start, stop in times["burnouts"])),
        until_s=kept["until_s"],
        way=_unknown(way) if "unknown" in way else Way(*(arrays[place] for place in way["at"])),
        boost=_unknown(boost) if "unknown" in boost else _boost(boost, arrays),
        engine=_engine(kept["engine"], arrays) if kept["engine"] is not None else None,
        kinds=tuple(map(ShiftKind, kept["kinds"])),
        before=before,
        between=between,
        after=after,
    )
    return run if kept["kept"] is None else replace(run, from_s=kept["kept"][0], to_s=kept["kept"][1])


def _channel(kept: JsonObject, arrays: Sequence[FloatArray]) -> Channel:
    time_s, values = (arrays[place] for place in kept["at"])
    return Channel(time_s=time_s, values=values, **{key: kept[key] for key in _FIELDS})


def _boost(kept: JsonObject, arrays: Sequence[FloatArray]) -> BoostTrace:
    time_s, boost_pa = (arrays[place] for place in kept["at"])
    return BoostTrace(time_s, boost_pa, BoostBasis(kept["basis"]), kept["barometer_pa"], kept["channel"])


def _engine(kept: JsonObject, arrays: Sequence[FloatArray]) -> EngineInFirst:
    time_s, rpm = (arrays[place] for place in kept["at"])
    return EngineInFirst(time_s, rpm, kept["first_s"])


def _unknown(kept: JsonObject) -> Unknown:
    return Unknown(_finding(kept["unknown"]))


def _finding(kept: JsonObject) -> Finding:
    finding: Finding = record_from(Finding, kept, "finding", {})
    return finding
