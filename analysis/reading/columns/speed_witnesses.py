"""The unit of a speed told by what else the log holds: the way along its positions or a distance, or another speed.

A wheel's unit that nobody wrote is a guess, and km/h for mph is wrong by 1.6. What the car covered in the same time
settles it; so does a speed beside it whose unit is written.

Public: `settle_speed_units`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.channels.log import Channel, Log, Logged
from passband.analysis.quantities import Conversion, FloatArray, conversion_to_si
from passband.analysis.results.findings import Finding

EARTH_RADIUS_M = 6_371_008.8
"""Mean radius of the earth. [m] Source: IUGG, as GRS 80 has it (2a + b) / 3."""
LEAST_WAY_M, LEAST_MPS = 60.0, 5.0
"""A way shorter than this is a receiver's wander; below this speed a wheel may stand or slip. [m], [m/s]"""
BY_WAY, BY_SPEED = 0.07, 0.13
"""How near a unit's factor must be: a way is known to some per cent, a driven wheel may run ahead by a tenth. [-]"""
SCALES_MPS = (("km/h", 1 / 3.6), ("mph", 0.44704), ("m/s", 1.0), ("knots", 1852.0 / 3600.0), ("ft/s", 0.3048))
"""Units of speed in m/s, exact by definition; a way tells them all apart but knots and m/s halves."""
BESIDE = ("km/h", "mph", "m/s")
"""Units that another speed, which may slip, still tells apart."""
BY_PUSH = 0.18
"""How near what an accelerometer adds up to must be. [-]"""
STANDING, RESTS_S, SHORTEST_S = 0.01, 2.0, 2.0
"""A car stands below this share of its greatest speed; its accelerometer's rest is what it reads so long before it
leaves; a shorter way to that speed is no run. [-], [s], [s]"""
FEWEST = 20
"""Moments at which two speeds must be known."""

_SPEEDS = re.compile(r"(?:ground|gps)_speed|wheel_speed_\w+")
_DISTANCE = re.compile(
    r"(?i)\s*(?:\w+ )?(?:distance|dist|strecke|weg|wegstrecke|distanza|distancia|afstand|odometer)\s*"
)


def settle_speed_units(log: Log, guessed: Mapping[str, str]) -> Log:
    """Read speeds in the unit that the way covered, or another speed, shows.

    Parameters
    ----------
    log : Log
        As read; speeds without a written unit are in m/s as guessed.
    guessed : dict of str to str
        The unit in which the values of each header without one were read.

    Returns
    -------
    Log
        With a finding for each speed that was settled or read in another unit. A speed that the user named himself
        keeps its unit, and so does one that no witness tells in one unit alone.

    Notes
    -----
    A written unit gives way to a distance or positions only, and is told. Ways are compared over the whole time that
    the car moves; wheels may slip in part of it, which is why a way must be near.
    """
    speeds = [channel for channel in log.channels if _SPEEDS.fullmatch(channel.name) and channel.unit == "m/s"]
    if not any(channel.known.values.size >= FEWEST for channel in speeds):
        return log
    settled: dict[int, Channel] = {}
    findings: list[Finding] = []
    ways = _ways(log.channels)
    for channel in speeds:
        beside = [settled.get(id(one), one) for one in speeds if one.unit_written or id(one) in settled]
        scale = _scale_read(channel, guessed)
        shown = None if scale is None else _by_way(channel, scale, ways)
        if shown is None and scale is not None and not channel.unit_written:
            shown = _by_another(channel, scale, beside) or _by_push(channel, scale, log.get("acceleration"))
        if shown is None and scale is not None and channel.unit_written:
            findings += _doubt(channel, scale, log.get("acceleration"))
        if shown is None or scale is None:
            continue
        factor = dict(SCALES_MPS)[shown[0]] / scale
        if channel.unit_written and abs(factor - 1.0) < 2 * BY_SPEED:
            continue
        settled[id(channel)] = _scaled(channel, factor, shown[0])
        findings.append(_tell(channel, *shown))
    if not settled:
        return log.with_findings(*findings)
    of = {finding.where for finding in findings if finding.code == "speed-unit-settled"}
    kept = [one for one in log.findings if not (one.code == "speed-unit-assumed" and one.where in of)]
    channels = tuple(settled.get(id(channel), channel) for channel in log.channels)
    return replace(log, channels=channels, findings=(*kept, *findings))


def _scale_read(channel: Channel, guessed: Mapping[str, str]) -> float | None:
    """What one of a speed's figures was taken for, in m/s; None where the user named it, or it is in no such unit."""
    read_as = channel.unit_written or guessed.get(channel.header, "")
    conversion = conversion_to_si(read_as, si_unit="m/s") if read_as and channel.confidence < 1.0 else None
    return None if conversion is None else conversion.scale


def _scaled(channel: Channel, factor: float, unit: str) -> Channel:
    if abs(factor - 1.0) < 1e-9:
        return channel
    logged = Logged(unit, Conversion(dict(SCALES_MPS)[unit], 0.0, "m/s"))
    return replace(channel, values=channel.values * factor, resolution=channel.resolution * factor, logged=logged)


def _tell(channel: Channel, unit: str, why: str) -> Finding:
    """What is told of a speed whose unit a witness shows."""
    if channel.unit_written:
        text = (
            f"{channel.header} cannot be in {channel.unit_written}: {why} shows that it is in {unit}, and it was "
            "read so."
        )
        return Finding("unit-doubted", "caution", text, channel.header)
    text = f"No unit is written for {channel.header}: {why} shows that it is in {unit}."
    return Finding("speed-unit-settled", "note", text, channel.header)


def _doubt(channel: Channel, scale: float, push: Channel | None) -> list[Finding]:
    """A word of a written unit that an accelerometer speaks against; alone it does not outweigh what is written."""
    shown = _by_push(channel, scale, push)
    if shown is None or abs(dict(SCALES_MPS)[shown[0]] / scale - 1.0) < 2 * BY_PUSH:
        return []
    text = (
        f"{channel.header} is read in {channel.unit_written}, as written; {shown[1]} adds up to what it would be in "
        f"{shown[0]}. One of them is wrong: check both in the logger."
    )
    return [Finding("unit-unusual", "caution", text, channel.header)]


def _ways(channels: Sequence[Channel]) -> list[tuple[str, FloatArray, FloatArray]]:
    """Ways covered, with their times: along the positions, and by columns of distance."""
    by_name = {channel.name: channel for channel in channels}
    latitude, longitude = by_name.get("latitude"), by_name.get("longitude")
    found: list[tuple[str, FloatArray, FloatArray]] = []
    if latitude is not None and longitude is not None and latitude.known.values.size >= FEWEST:
        known = latitude.known
        east = longitude.known.at(known.time_s)
        keep = np.isfinite(east) & (np.abs(known.values) > 1e-6)
        found += _moved("its position", known.time_s[keep], known.values[keep], east[keep])
    for channel in channels:
        if not channel.unit_written or not _DISTANCE.fullmatch(re.sub(r"[\[(].*", "", channel.header)):
            continue
        conversion = conversion_to_si(channel.unit_written, si_unit="m")
        if conversion is None:
            continue
        known = channel.known
        if known.values.size >= FEWEST and np.all(np.diff(known.values) >= 0):
            found.append((channel.header, known.time_s, known.values * conversion.scale))
    return found


def _moved(
    name: str, time_s: FloatArray, latitude: FloatArray, longitude: FloatArray
) -> list[tuple[str, FloatArray, FloatArray]]:
    """The way along positions, counted where they change by more than a wander."""
    if time_s.size < FEWEST:
        return []
    north = np.radians(latitude - latitude[0]) * EARTH_RADIUS_M
    east = np.radians(longitude - longitude[0]) * EARTH_RADIUS_M * np.cos(np.radians(float(np.median(latitude))))
    every = max(int(time_s.size // 400), 1)
    steps = np.hypot(np.diff(north[::every]), np.diff(east[::every]))
    return [(name, time_s[::every], np.concatenate(([0.0], np.cumsum(steps))))]


def _by_way(
    channel: Channel, scale: float, ways: Sequence[tuple[str, FloatArray, FloatArray]]
) -> tuple[str, str] | None:
    """Unit and witness, where all ways tell the same unit."""
    known = channel.known
    if not ways or known.values.size < FEWEST:
        return None
    run = np.concatenate(([0.0], np.cumsum(np.diff(known.time_s) * 0.5 * (known.values[1:] + known.values[:-1]))))
    shown: list[tuple[str | None, str]] = []
    for name, time_s, way_m in ways:
        start, stop = max(time_s[0], known.time_s[0]), min(time_s[-1], known.time_s[-1])
        if stop <= start:
            continue
        covered = float(np.diff(np.interp([start, stop], time_s, way_m))[0])
        read = float(np.diff(np.interp([start, stop], known.time_s, run))[0])
        if covered >= LEAST_WAY_M and read > 0:
            shown.append((_unit_of(covered / read * scale, BY_WAY, [unit for unit, _ in SCALES_MPS]), name))
    units = {unit for unit, _ in shown}
    unit = units.pop() if len(units) == 1 else None
    return None if unit is None else (unit, shown[0][1])


def _by_another(channel: Channel, scale: float, others: Sequence[Channel]) -> tuple[str, str] | None:
    """The same by the speeds beside it whose units are known."""
    known = channel.known
    shown: list[tuple[str | None, str]] = []
    for other in others:
        beside = other.at(known.time_s)
        both = np.isfinite(beside) & (beside > LEAST_MPS) & (known.values > 0.2 * LEAST_MPS)
        if both.sum() >= FEWEST:
            factor = float(np.median(beside[both] / known.values[both]))
            shown.append((_unit_of(factor * scale, BY_SPEED, BESIDE), other.header))
    units = {unit for unit, _ in shown}
    unit = units.pop() if len(units) == 1 else None
    return None if unit is None else (unit, shown[0][1])


def _by_push(channel: Channel, scale: float, push: Channel | None) -> tuple[str, str] | None:
    """The same by what an accelerometer adds up to from standing to the greatest speed.

    What it reads while the car stands is taken off. A body that squats adds a twentieth, a wheel that slips a tenth;
    the units lie further apart.
    """
    known = channel.known
    if push is None or known.values.size < FEWEST or push.known.values.size < FEWEST:
        return None
    top = int(np.argmax(known.values))
    standing = np.flatnonzero(known.values[:top] <= STANDING * known.values[top])
    if not standing.size or known.values[top] <= 0:
        return None
    since, until = float(known.time_s[standing[-1]]), float(known.time_s[top])
    felt = push.known
    rest = felt.values[(felt.time_s >= since - RESTS_S) & (felt.time_s < since)]
    under_way = felt.within(since, until)
    if rest.size < FEWEST // 4 or under_way.values.size < FEWEST or until - since < SHORTEST_S:
        return None
    pushed = under_way.values - float(np.median(rest))
    gained = float(np.sum(np.diff(under_way.time_s) * 0.5 * (pushed[1:] + pushed[:-1])))
    shown = _unit_of(gained / float(known.values[top] - known.values[standing[-1]]) * scale, BY_PUSH, BESIDE)
    return None if shown is None else (shown, push.header)


def _unit_of(scale: float, within: float, units: Sequence[str]) -> str | None:
    """The one unit that is near so many m/s; None where none or several are."""
    near = [unit for unit, in_mps in SCALES_MPS if unit in units and abs(scale / in_mps - 1.0) < within]
    return near[0] if len(near) == 1 else None
