"""Speeds in the wrong unit or scale, told by engine speed through the gearing and by other speeds.

Public: `speeds_from_turning`, `share_on_gears`, `mend_speed_scale`, `mend_engine_scale`, `is_driven`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.log import Channel, Log
from passband.analysis.given.car import Car
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.reading.columns.understood import own_name
from passband.analysis.reading.health.stated_tires import tire_stated
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.wheels import axles_of

MPH_IN_KMH = 1.609344
"""Kilometres in a mile, exact."""
SCALES: tuple[tuple[float, str], ...] = (
    (MPH_IN_KMH, "mph taken for km/h"),
    (1 / MPH_IN_KMH, "km/h taken for mph"),
    (3.6, "m/s taken for km/h"),
    (1 / 3.6, "km/h taken for m/s"),
    (10.0, "a tenth of its true size"),
    (0.1, "ten times its true size"),
    (1000.0, "a thousandth of its true size"),
    (0.001, "a thousand times its true size"),
)
"""Factors a speed can be off by, and what happened."""
NEAR_A_GEAR = 0.05
"""Relative distance within which a sample is in a gear: tire slip and growth stay below it while the car pulls in a
gear."""
WRONG_TIRE = (0.0, -0.03, 0.03, -0.06, 0.06, -0.09, 0.09)
"""What a circumference given wrong may shift all gears by: a tire of the next size is a twentieth larger. [ln]"""
SURE_GAIN = 0.25
"""How much more of the samples must fall on the gears with another scale before it is believed."""
SURE_SHARE = 0.6
"""How much of the samples must fall on the gears with it."""
AGREE = 0.1
"""A speed whose top is so near that of another which the gearing does not convict alike stands as written: a late
receiver's speed falls on the wrong gears of a close box by chance, and the wheels' does not. [-]"""
GAIN_PER_S = 0.015
"""Speed grows by at least this share a second while a car pulls: 1.2 m/s2 at 80 m/s. [1/s]"""
MOVING_MPS = 8.0
"""Below this the clutch may still slip. [m/s]"""
PULLING_RPM = 3000.0
"""Below this the engine may be idling along. [rev/min]"""
ENGINE_TOP_RPM = (2500.0, 20000.0)
"""Where the highest engine speed of a run lies: diesels above the one, the quickest racing engines below the other.
[rev/min]"""
IDLE_RPM, IDLE_SPREAD, IDLE_THROTTLE = (450.0, 1400.0), 0.3, 0.3
"""Where the highest speed of an idling engine lies [rev/min], how far most of its speeds lie apart of their middle, and
how far its throttle is open at most [-]. A cold or cammed engine hunts by a tenth; a run spans a half."""
WHEELS = ("wheel_speed_fl", "wheel_speed_fr", "wheel_speed_rl", "wheel_speed_rr", "wheel_speed_driven")
SPEEDS = (*WHEELS, "ground_speed", "gps_speed")


def is_driven(channel: str, car: Car) -> bool | None:
    """Whether a wheel's speed is a driven wheel's; None where the car does not say.

    Parameters
    ----------
    channel : str
        Catalogue name of a wheel's speed.
    car : Car
        Says the driven axle, or not.

    Examples
    --------
    >>> is_driven("wheel_speed_fl", Car(name="x", driven_axle="rear")), is_driven("wheel_speed_fl", Car(name="x"))
    (False, None)
    """
    axles = axles_of(car)
    if channel == "wheel_speed_driven" or channel in axles.driven:
        return True
    return False if axles.given else None


def speeds_from_turning(log: Log, car: Car) -> Log:
    """Turn wheel speeds logged in rev/min or Hz into road speeds by the tire's circumference.

    Parameters
    ----------
    log : Log
        As read.
    car : Car
        Circumferences and driven axle.

    Returns
    -------
    Log
        With a finding for each wheel that cannot be turned; that channel keeps its header as name.
    """
    findings: list[Finding] = []
    channels: list[Channel] = []
    for channel in log.channels:
        if channel.name not in WHEELS or channel.unit != "rpm":
            channels.append(channel)
            continue
        driven = is_driven(channel.name, car)
        around = car.tire_circumference if driven is not False else car.undriven_tire_circumference
        stated = None if around else tire_stated(log.text.preamble, wheel=channel.name)
        if stated is not None:
            around = stated.around_m
            text = (
                f"{channel.header} is logged as a turning speed ({channel.unit_written}) and the car gives no "
                f'circumference of its tire. The log states "{stated.said}", which makes {around:.2f} m a turn; give '
                "the circumference with the car."
            )
            findings.append(Finding("tire-circumference-of-log", "caution", text, f"{log.name}, {channel.header}"))
        if not around:
            text = (
                f"{channel.header} is logged as a turning speed ({channel.unit_written}) and the circumference of "
                f"its tire is not known; "
                "it is left out of the speeds. Give the circumference with the car."
            )
            findings.append(Finding("tire-circumference-missing", "caution", text, f"{log.name}, {channel.header}"))
            channels.append(replace(channel, name=own_name(channel.header)))
            continue
        scale = around / 60.0
        channels.append(
            replace(channel, values=channel.values * scale, unit="m/s", resolution=channel.resolution * scale)
        )
    return log.with_channels(channels, *findings)


def mend_engine_scale(log: Log) -> Log:
    """Catch an engine speed that is ten or a thousand times too small or large by what an engine can reach.

    Returns
    -------
    Log
        Its engine speed mended, with a finding, where one factor alone makes it possible.
    """
    engine = log.get("engine_speed")
    if engine is None or engine.known.values.size < 20:
        return log
    top = float(np.quantile(engine.known.values, 0.999))
    if top <= 0 or ENGINE_TOP_RPM[0] * 0.5 <= top <= ENGINE_TOP_RPM[1] * 1.3 or engine.confidence == 1.0:
        return log
    if _may_be_idling(log, engine.known.values, top):
        return log
    fitting = [
        scale
        for scale in (10.0, 100.0, 1000.0, 60.0, 0.1, 0.01)
        if ENGINE_TOP_RPM[0] <= top * scale <= ENGINE_TOP_RPM[1]
    ]
    fitting = [scale for scale in fitting if scale in (10.0, 1000.0, 0.1)] or fitting
    if len(fitting) > 1 and top < ENGINE_TOP_RPM[0]:
        ways = " and ".join(f"{scale:g} times" for scale in sorted(fitting))
        text = (
            f"Engine speed ({engine.header}) reaches only {top:.5g} rev/min as written, which no engine runs; {ways} "
            "that would fit (60 if it is in turns a second). It is read as written. Tell its unit."
        )
        return log.with_findings(Finding("engine-speed-scale", "caution", text, f"{log.name}, {engine.header}"))
    if len(fitting) != 1:
        return log
    text = (
        f"Engine speed ({engine.header}) reaches only {top:.5g} rev/min as written, which no engine runs; "
        f"it is taken as off by a scale of {fitting[0]:g}."
    )
    finding = Finding("engine-speed-scale", "caution", text, f"{log.name}, {engine.header}")
    return _with_scale(log, engine, fitting[0], finding)


def _may_be_idling(log: Log, rpm: FloatArray, top: float) -> bool:
    """Whether a log holds nothing but an idling engine, whose speed is low and right."""
    low, middle, high = np.quantile(rpm[rpm > 0.05 * top], [0.1, 0.5, 0.9])
    if not IDLE_RPM[0] <= top <= IDLE_RPM[1] or high - low > IDLE_SPREAD * middle:
        return False
    throttle = log.get("throttle")
    return throttle is None or float(np.quantile(throttle.known.values, 0.95)) < IDLE_THROTTLE


def mend_speed_scale(logs: Sequence[Log], car: Car) -> list[Log]:
    """Catch speeds in the wrong unit or scale, by the gearing where it is known and by other speeds.

    Parameters
    ----------
    logs : sequence of Log
        All logs of the run.
    car : Car
        Gearing and tire.

    Returns
    -------
    list of Log
        With the speeds mended that a witness convicts, and a finding for each.
    """
    speeds = [
        (at, channel, _scale_by_gearing(log, channel, car))
        for at, log in enumerate(logs)
        for channel in (log.get(name) for name in SPEEDS)
        if channel is not None and channel.unit == "m/s"
    ]
    out = list(logs)
    for at, channel, found in speeds:
        if found is None or found[0] == 1.0 or _is_spoken_for(channel, found[0], speeds):
            continue
        finding = _scale_finding(out[at], channel, found[1], "engine speed through the gearing says so")
        out[at] = _with_scale(out[at], channel, found[0], finding)
    return _mend_by_position_receiver(out)


def _is_spoken_for(
    channel: Channel, scale: float, speeds: Sequence[tuple[int, Channel, tuple[float, str] | None]]
) -> bool:
    """Whether another speed reads alike as written and is not convicted of the same scale."""
    top = _top(channel)
    return any(
        other is not channel and abs(_top(other) - top) < AGREE * top and (found is None or found[0] != scale)
        for _, other, found in speeds
    )


def _with_scale(log: Log, channel: Channel, scale: float, finding: Finding) -> Log:
    mended = replace(channel, values=channel.values * scale, resolution=channel.resolution * scale)
    return log.with_channel(channel, mended, finding)


def _scale_finding(log: Log, channel: Channel, what: str, why: str) -> Finding:
    kind = kind_of(channel.name)
    title = kind.title if kind is not None else channel.name
    text = (
        f"{title} ({channel.header}) is off by a scale: {what}, {why}. It was corrected; check the unit in the logger."
    )
    return Finding("speed-scale", "caution", text, f"{log.name}, {channel.header}")


def _scale_by_gearing(log: Log, speed: Channel, car: Car) -> tuple[float, str] | None:
    """The scale that puts far more samples on the car's gears than the one written, 1 where none does nearly so."""
    engine = log.get("engine_speed")
    turns = None if engine is None else _turns_per_metre(engine, speed, car)
    if turns is None:
        return None
    gears = _gears(car)
    top = float(np.quantile(speed.known.values, 0.99))
    as_written = _share_on_gears(turns, gears, 1.0)
    trials = [(scale, what, _share_on_gears(turns, gears, scale)) for scale, what in SCALES]
    scale, what, share = max(trials, key=lambda trial: trial[2])
    possible = 5.0 <= top * scale <= 160.0
    if possible and share >= SURE_SHARE and share - as_written >= SURE_GAIN:
        return scale, what
    return (1.0, "") if share - as_written < 0.5 * SURE_GAIN else None


def share_on_gears(engine: Channel, speed: Channel, car: Car) -> float | None:
    """Of the time that a car pulls, the share in which an engine and a speed turn in one of its gears.

    Parameters
    ----------
    engine, speed : Channel
        Engine speed and a wheel's or the ground's, of one log.
    car : Car
        Gearing and tire.

    Returns
    -------
    float or None
        With the circumference that suits most of it; None where the gearing is not known or too little is pulled.
    """
    turns = _turns_per_metre(engine, speed, car)
    return None if turns is None else _share_on_gears(turns, _gears(car), 1.0)


def _gears(car: Car) -> FloatArray:
    """The gears' turns per metre, as logarithms."""
    return np.log(np.asarray(car.overall_ratios) / (car.tire_circumference or float("nan")))


def _turns_per_metre(engine: Channel, speed: Channel, car: Car) -> FloatArray | None:
    """Logarithms of the engine's turns per metre while the car pulls, rising; None where it pulls too little.

    None too where no gearing is known.
    """
    known = speed.known
    if known.values.size == 0 or car.overall_ratios is None or car.tire_circumference is None:
        return None
    rpm = engine.known.at(known.time_s)
    pulling = np.isfinite(rpm) & (rpm > PULLING_RPM) & (known.values > 0.02)
    top = float(np.quantile(known.values, 0.99))
    asked = np.flatnonzero(pulling & (known.values > 0.3 * top))
    asked = asked[_gains(known, known.time_s[asked])]
    if asked.size < 40 or top <= 0:
        return None
    return np.sort(np.log(rpm[asked] / 60.0 / known.values[asked]))


def _gains(speed: Channel, at_s: FloatArray) -> BoolArray:
    """True where speed grows: a drive back with a slipping clutch is long, steady and on no gear."""
    ahead, behind = (np.interp(at_s + by, speed.time_s, speed.values) for by in (0.25, -0.25))
    return np.asarray(ahead > (1.0 + 0.5 * GAIN_PER_S) * behind)


def _share_on_gears(turns_per_metre: FloatArray, gears: FloatArray, scale: float) -> float:
    """Of the samples, rising, with the circumference that suits most of them."""
    asked = np.sort(gears) + np.log(scale) + np.array(WRONG_TIRE)[:, None]
    first = np.searchsorted(turns_per_metre, asked - NEAR_A_GEAR, side="right")
    last = np.searchsorted(turns_per_metre, asked + NEAR_A_GEAR)
    first[:, 1:] = np.maximum(first[:, 1:], last[:, :-1])  # what two gears share counts once
    return float((last - first).sum(axis=1).max()) / turns_per_metre.size


def _mend_by_position_receiver(logs: list[Log]) -> list[Log]:
    """Hold each wheel's top speed against the position receiver's; mend what has no unit written, tell the rest."""
    tops = [
        (at, channel, _top(channel))
        for at, log in enumerate(logs)
        for channel in log.channels
        if channel.name == "gps_speed"
    ]
    tops = [(at, channel, top) for at, channel, top in tops if top > MOVING_MPS]
    if not tops:
        return logs
    reference = max(top for _, _, top in tops)
    out = list(logs)
    for at, log in enumerate(logs):
        for channel in log.channels:
            if channel.name not in (*WHEELS, "ground_speed") or channel.unit != "m/s" or _top(channel) < 0.5:
                continue
            ratio = reference / _top(channel)
            found = next(((scale, what) for scale, what in SCALES if abs(ratio / scale - 1.0) < 0.05), None)
            if found is None:
                continue
            if channel.unit_written == "":
                its = next(one for one in out[at].channels if one.header == channel.header)
                finding = _scale_finding(log, channel, found[1], "the position receiver says so")
                out[at] = _with_scale(out[at], its, found[0], finding)
            else:
                text = (
                    f"{channel.header} tops out at {_top(channel):.1f} m/s where the position receiver reaches "
                    f"{reference:.1f} m/s, "
                    f"as if it were {found[1]}; check its unit in the logger."
                )
                finding = Finding("speed-scale-doubted", "caution", text, f"{log.name}, {channel.header}")
                out[at] = out[at].with_findings(finding)
    return out


def _top(channel: Channel) -> float:
    """The speed that is passed for 2 % of the time, or a quarter of a second: past single false samples."""
    known = channel.known.values
    if known.size < 20:
        return 0.0
    return float(np.sort(known)[-max(int(0.004 * known.size), 3)])
