"""Intake pressure against the air outside: gauge taken for absolute, or the other way round, told at rest.

Public: `mend_pressure_reference`.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log
from passband.analysis.reading.columns.understood import own_name
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.standing import pressure_at_rest

OUTSIDE_PA = (60e3, 108e3)
"""Air pressure where cars race: from 4000 m up to a high at sea level. [Pa]"""
AT_ZERO_PA = 9e3
"""A gauge reads within this of zero when the engine stands. [Pa]"""
OPEN_THROTTLE = 0.9
"""Above this a manifold holds nearly the air outside, or more."""


PSI_FOR_KPA = 6.894757293168
"""What turns values read as kPa into those of the same figures in psi. [-] By definition of pound, inch and gravity."""


def mend_pressure_reference(log: Log) -> Log:
    """Check manifold pressure and boost of a log against the barometer at rest, and against each other.

    Parameters
    ----------
    log : Log
        As read.

    Returns
    -------
    Log
        With a channel renamed where it was taken for the other, and a finding for it.
    """
    return _too_small_at_open_throttle(_by_each_other(_by_standing_engine(log)))


def _outside(log: Log) -> tuple[float, float]:
    """Range in which the air pressure outside lies: the log's own barometer's, else all that can be."""
    barometer = log.get("barometer")
    if barometer is None or barometer.known.values.size == 0:
        return OUTSIDE_PA
    middle = float(np.median(barometer.known.values))
    return middle - AT_ZERO_PA, middle + AT_ZERO_PA


def _by_standing_engine(log: Log) -> Log:
    low, high = _outside(log)
    for name, other in (("manifold_pressure", "boost"), ("boost", "manifold_pressure")):
        channel = log.get(name)
        if channel is None or channel.confidence == 1.0 or log.get(other) is not None:
            continue
        rest = pressure_at_rest(log.get("engine_speed"), channel)
        if rest is None:
            continue
        is_gauge, is_absolute = abs(rest) < AT_ZERO_PA, low <= rest <= high
        if (name == "manifold_pressure" and is_gauge) or (name == "boost" and is_absolute):
            what = "gauge, not absolute" if other == "boost" else "absolute, not gauge"
            text = (
                f"{channel.header} reads {rest / 1e3:.0f} kPa while the engine stands, so it is {what}; "
                f"it is used as {'boost' if other == 'boost' else 'manifold pressure'}."
            )
            finding = Finding("gauge-or-absolute", "caution", text, f"{log.name}, {channel.header}")
            return log.with_channel(channel, replace(channel, name=other), finding)
    return log


def _by_each_other(log: Log) -> Log:
    """Where both are logged, they differ by the air outside; where they are equal one was mistaken."""
    manifold, boost = log.get("manifold_pressure"), log.get("boost")
    if manifold is None or boost is None or manifold.known.values.size < 20 or boost.known.values.size < 20:
        return log
    apart = manifold.known.values - boost.known.at(manifold.known.time_s)
    apart = apart[np.isfinite(apart)]
    if apart.size < 20:
        return log
    middle = float(np.median(apart))
    if OUTSIDE_PA[0] <= middle <= OUTSIDE_PA[1]:
        return log
    where = f"{log.name}, {boost.header}"
    if abs(middle) < AT_ZERO_PA:
        gauge = float(np.quantile(manifold.known.values, 0.01)) < -3e3
        wrong = manifold if gauge else boost
        text = (
            f"{manifold.header} and {boost.header} read the same, so both are {'gauge' if gauge else 'absolute'} "
            f"pressure; "
            f"{wrong.header} is kept under its own name."
        )
        finding = Finding("gauge-or-absolute", "caution", text, where)
        return log.with_channel(wrong, replace(wrong, name=own_name(wrong.header)), finding)
    text = (
        f"{manifold.header} and {boost.header} differ by {middle / 1e3:.0f} kPa, which is not the pressure of the "
        f"air outside; "
        "one of them is wrong in unit or zero."
    )
    return log.with_findings(Finding("pressures-disagree", "caution", text, where))


def _too_small_at_open_throttle(log: Log) -> Log:
    """An absolute manifold pressure far below the air outside at open throttle is in the wrong unit.

    A unit that nobody wrote is then taken as psi, if that holds the air outside; one that is written stands, with a
    caution.
    """
    manifold, throttle = log.get("manifold_pressure"), log.get("throttle")
    if manifold is None or throttle is None:
        return log
    known = manifold.known
    opening = throttle.known.at(known.time_s)
    open_wide = np.isfinite(opening) & (opening > OPEN_THROTTLE)
    if open_wide.sum() < 20:
        return log
    middle = float(np.median(known.values[open_wide]))
    if middle >= 0.7 * OUTSIDE_PA[0]:
        return log
    if not manifold.unit_written and manifold.confidence < 1.0 and middle * PSI_FOR_KPA >= OUTSIDE_PA[0]:
        return _in_psi(log, manifold)
    text = (
        f"{manifold.header} reads {middle / 1e3:.3g} kPa at open throttle, less than half of the air outside: "
        "its unit or scale is wrong, or it is a gauge pressure. Boost from it is not to be trusted."
    )
    return log.with_findings(Finding("manifold-pressure-scale", "caution", text, f"{log.name}, {manifold.header}"))


def _in_psi(log: Log, manifold: Channel) -> Log:
    """The same log with a manifold pressure of no written unit read as psi."""
    mended = replace(manifold, values=manifold.values * PSI_FOR_KPA, resolution=manifold.resolution * PSI_FOR_KPA)
    others = [one for one in log.findings if not (one.code == "unit-assumed" and one.where == manifold.header)]
    text = (
        f"No unit is written for {manifold.header}. As kPa it would stay below the air outside at open throttle, which "
        "no engine does; it was read as psi, absolute. Tell its unit in the header to be sure."
    )
    finding = Finding("manifold-pressure-unit", "caution", text, f"{log.name}, {manifold.header}")
    return replace(log, findings=tuple(others)).with_channel(manifold, mended, finding)
