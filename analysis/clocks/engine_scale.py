"""Two logs that hold one engine's speed in different scales: which of them is off, by what an engine and gears can do.

Public: `LogsOnOneScale`, `CountedByGears`, `agree_on_engine_scale`, `mend_by_gears`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.given.car import Car
from passband.analysis.reading.health.speed_scale import (
    ENGINE_TOP_RPM,
    SPEEDS,
    SURE_GAIN,
    SURE_SHARE,
    share_on_gears,
)
from passband.analysis.results.clocks import ClockMatch
from passband.analysis.results.findings import Finding

SCALES = (10.0, 100.0, 1000.0, 60.0)
"""Factors that a unit or a point in the wrong place makes; twice and half are another count of pulses."""
NEAR_SCALE = 0.12
"""Two logs' tops are this near to a scale where one is off by it: one of them may end before the run. [-]"""
OTHER_PULSES = "engine-speed-counts-other-pulses"


@dataclass(frozen=True, slots=True)
class LogsOnOneScale:
    """Logs whose engine speeds go by one scale."""

    logs: tuple[Log, ...]
    """As they were given, mended where one was off."""
    findings: tuple[Finding, ...] = ()
    """One for each that was mended."""


@dataclass(frozen=True, slots=True)
class CountedByGears:
    """The ECU's log once the gears have said which log counts the engine's pulses right."""

    ecu: Log
    """Its engine speed mended where the other's alone fits the gears."""
    settled: Finding | None = None
    """What the match of clocks said of the pulses and no longer holds; None where nothing was mended."""
    findings: tuple[Finding, ...] = ()
    """What must be said instead."""


def agree_on_engine_scale(logs: Sequence[Log]) -> LogsOnOneScale:
    """Mend an engine speed that no engine reaches where another log's, off by one whole scale, is possible.

    Parameters
    ----------
    logs : sequence of Log
        The ECU's first, as read; clocks need not be known.

    Returns
    -------
    LogsOnOneScale
        The same, mended.
    """
    tops = [_top(log.get("engine_speed")) for log in logs]
    out: list[Log] = []
    findings: list[Finding] = []
    for log, top in zip(logs, tops, strict=True):
        engine = log.get("engine_speed")
        scale, witness = _scale_by_others(top, tops)
        if engine is None or witness is None:
            out.append(log)
            continue
        other = logs[witness].name
        text = (
            f"Engine speed ({engine.header}) in {log.name} reaches {top:.5g} rev/min as written, which no engine runs, "
            f"and {tops[witness]:.5g} in {other}: it is off by a scale of {scale:g} and was set right. Check its "
            "unit in the logger."
        )
        findings.append(Finding("engine-speed-scale", "caution", text, f"{log.name}, {engine.header}"))
        out.append(_with_engine_scale(log, scale))
    return LogsOnOneScale(tuple(out), tuple(findings))


def _top(engine: Channel | None) -> float:
    """What engine speed reaches, single false samples left aside; 0 where too little is known, in rpm."""
    if engine is None or engine.known.values.size < 20:
        return 0.0
    return float(np.percentile(engine.known.values, 98))


def _possible(top_rpm: float) -> bool:
    return ENGINE_TOP_RPM[0] <= top_rpm <= ENGINE_TOP_RPM[1]


def _scale_by_others(top_rpm: float, tops_rpm: Sequence[float]) -> tuple[float, int | None]:
    """The one scale that brings a top which cannot be to another log's which can, and the place of that log."""
    if top_rpm <= 0 or _possible(top_rpm):
        return 1.0, None
    found = [
        (scale, place)
        for place, top in enumerate(tops_rpm)
        for scale in (*SCALES, *(1 / scale for scale in SCALES))
        if _possible(top) and abs(top / top_rpm / scale - 1) < NEAR_SCALE
    ]
    return found[0] if len({scale for scale, _ in found}) == 1 else (1.0, None)


def _with_engine_scale(log: Log, scale: float) -> Log:
    channels = [
        replace(one, values=one.values * scale, resolution=one.resolution * scale)
        if one.name == "engine_speed"
        else one
        for one in log.channels
    ]
    return replace(log, channels=tuple(channels))


def mend_by_gears(ecu: Log, others: Sequence[Log], matches: Sequence[ClockMatch], car: Car) -> CountedByGears:
    """Where two logs count other pulses, believe the one that turns the car's gears.

    Parameters
    ----------
    ecu : Log
        Its engine speed is believed unless a speed in one log through the gearing says otherwise.
    others : sequence of Log
        Laid on its clock already.
    matches : sequence of ClockMatch
        One for each of them; its findings tell where pulses are counted otherwise.
    car : Car
        Gearing and tire.

    Returns
    -------
    CountedByGears
        The ECU's log as it was where the gears do not settle it.
    """
    for other, match in zip(others, matches, strict=True):
        of_pulses = next((one for one in match.findings if one.code == OTHER_PULSES), None)
        engine = ecu.get("engine_speed")
        if of_pulses is None or engine is None:
            continue
        scale = 2.0 if _top(other.get("engine_speed")) > _top(engine) else 0.5
        if not (_fits_gears_otherwise(ecu, scale, car) or _fits_gears_as_it_is(other, scale, car)):
            continue
        text = (
            f"Engine speed ({engine.header}) in {ecu.name} is {'half' if scale > 1 else 'twice'} what {other.name} "
            "says, and only the latter turns the car's gears at its speed: the ECU's was set right. Set the pulses "
            "per turn in the logger."
        )
        mended = Finding("engine-speed-scale", "caution", text, f"{ecu.name}, {engine.header}")
        return CountedByGears(_with_engine_scale(ecu, scale), of_pulses, (mended,))
    return CountedByGears(ecu)


def _shares(log: Log, scale: float, car: Car) -> list[tuple[float, float]]:
    """For each speed beside an engine speed, what share lies on the gears as written and with a scale."""
    engine = log.get("engine_speed")
    speeds = [channel for name in SPEEDS if (channel := log.get(name)) is not None and channel.unit == "m/s"]
    if engine is None:
        return []
    scaled = replace(engine, values=engine.values * scale)
    pairs = [(share_on_gears(engine, speed, car), share_on_gears(scaled, speed, car)) for speed in speeds]
    return [(plain, other) for plain, other in pairs if plain is not None and other is not None]


def _fits_gears_otherwise(log: Log, scale: float, car: Car) -> bool:
    """Whether a log's own speeds lie on the gears with a scale, and not as written."""
    shares = _shares(log, scale, car)
    return bool(shares) and all(other >= SURE_SHARE and other - plain >= SURE_GAIN for plain, other in shares)


def _fits_gears_as_it_is(log: Log, scale: float, car: Car) -> bool:
    """Whether the other log's speeds lie on the gears as written, and not by the ECU's count."""
    shares = _shares(log, 1 / scale, car)
    return bool(shares) and all(plain >= SURE_SHARE and plain - other >= SURE_GAIN for plain, other in shares)
