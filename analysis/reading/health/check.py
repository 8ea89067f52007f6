"""Sensor health: lost, false, stuck, dead and cut-off samples, marked one by one and told in one sentence a kind.

A marked sample becomes NaN. Nothing is bridged here: whoever needs a value in between must say so.

What is healthy and must not be marked: engine speed that falls by 2000 rev/min in 30 ms at a shift, or is chopped by
a limiter; wheel speeds that read zero below a walking pace; throttle, boost, idle and coolant that are flat on
purpose.

Public: `check_health`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from passband.analysis.at_once import each_at_once
from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.channels.log import Channel, Log
from passband.analysis.reading.health.drawn_between import keep_measured
from passband.analysis.reading.health.flatlines import find_saturated, find_stuck, is_dead
from passband.analysis.reading.health.no_fix import without_a_fix
from passband.analysis.reading.health.spikes import Gate, find_excursions, find_rail_spikes, swings_past
from passband.analysis.results.findings import Finding
from passband.analysis.statistics.fits import middle, quantiles, sample_noise
from passband.analysis.statistics.intervals import Interval, find_true_runs

ENGINE_GATE = Gate(
    floor=80.0,
    share=0.02,
    fall_per_s=90e3,
    rise_per_s=45e3,
    most_fall=0.46,
    most_rise=0.5,
    longest_s=0.4,
    longest_flat_s=2.0,
    least=500.0,
)
"""Engine speed. A dog-box shift falls by 2000 rev/min in 30 ms (67,000 a second), a free engine rises at some
30,000; no gear step
takes more than 46 % off, so half of the speed, as one lost pulse in two gives, lies outside. [rev/min]"""
SHAFT_GATE = replace(
    ENGINE_GATE,
    floor=120.0,
    share=0.05,
    fall_per_s=150e3,
    rise_per_s=150e3,
    longest_s=0.15,
    longest_flat_s=0.4,
    least=1500.0,
    longest_share_s=2.0,
)
"""Driveshaft speed: tires that spin up or hook move it faster than the engine alone. [rev/min]"""
WHEEL_GATE = Gate(
    floor=1.5,
    share=0.05,
    fall_per_s=400.0,
    rise_per_s=400.0,
    most_fall=0.6,
    most_rise=0.6,
    longest_s=0.12,
    longest_flat_s=0.3,
    least=12.0,
    longest_share_s=2.0,
)
"""Speeds. A spinning tire gains 20 m/s in 0.1 s; sensors read zero below 4 km/h, and tires stick and slip
as they stop, so nothing is looked for at low speed. [m/s]"""
RPM_PER_MPS = 30.0
"""A wheel of 2 m turns so fast for a metre a second. [rpm per m/s]"""
FASTEST_MPS = 100.0
"""One that seems faster counts several pulses a turn. [m/s]"""
FEWEST_WORKING = 100
"""Samples at work needed to call a channel noisy."""
LOOKED_AT = 4000
"""Samples that tell the noise and the row rate as well as all do."""
RAIL_LONGEST_S = 0.06
"""A contact that opens loses a few samples; a pressure that truly fails takes longer to come back. [s]"""

STANDS_RPM = 20.0
"""A motor that stands reads no more: its resolver's offset, rounded; no engine turns so slowly. [rpm]"""
STOOD_S, SWINGS_S = 1.0, 0.5
"""Engine speed that read zero for so long stood: a lost signal of an engine under way comes back sooner or ends the
run; and it swings for so long after it began to turn. [s], [s]"""
TIMEOUT_S, TIMEOUT_SHARE = 2.0, 0.4
"""A counter of one or two teeth a turn keeps its last value until a tooth is overdue, for two seconds at most, and what
it keeps is the slow turning before a stop: less than such a share of its highest. By arithmetic a shaft at 30 rpm
passes a magnet in two seconds. [s], [-]"""
LEAP_RPM, LEAP_SHARE, LEAP_WITHIN_S = 1000.0, 0.6, 0.05
"""A step from value to value that is no engine's: no gear change takes more than half, no engine starts so quickly.
Rows that repeat a copy of 10 Hz show what the engine did in a tenth of a second: a free one rises by 10,000 rpm/s."""

_SPEEDS = frozenset(
    "ground_speed gps_speed wheel_speed_fl wheel_speed_fr wheel_speed_rl wheel_speed_rr wheel_speed_driven".split()
)
_RAILS: dict[str, float] = {
    "manifold_pressure": 30e3,
    "boost": 30e3,
    "fuel_pressure": 60e3,
    "oil_pressure": 60e3,
    "coolant_pressure": 30e3,
    "back_pressure": 30e3,
    "oil_temperature": 30.0,
    "coolant_temperature": 30.0,
    "intake_temperature": 30.0,
    "exhaust_temperature": 150.0,
    "battery": 4.0,
}
"""Channels whose contacts open, and the least jump that is no true one, in the channel's unit."""
_FLUIDS = frozenset({"oil_temperature", "coolant_temperature", "intake_temperature"})
"""Temperatures that no fluid takes in one sample, however long the contact stays open."""
_OPEN_CIRCUIT = (-40.0, 0.0)
"""What an open sensor of temperature is logged as, in the log's own unit: the coldest its table ends at, -40 in degC
and degF alike, and zero where no sensor is fitted. Common practice, no source."""
_RESTLESS: dict[str, float] = {
    "engine_speed": 1500.0,
    "driveshaft_speed": 300.0,
    "manifold_pressure": 2e4,
    "boost": 2e4,
    "oil_pressure": 5e4,
    "fuel_pressure": 5e4,
    **dict.fromkeys(_SPEEDS, 5.0),
}
"""Channels that never stand still above this value while the engine works."""
STANDS_FOR_MUCH = 0.25
"""A stretch of one value over so great a share of a log takes noise's measure down: half of it would make it none. [-]
By arithmetic."""
_NEVER_STILL = frozenset({"engine_speed", "driveshaft_speed", "oil_pressure", "fuel_pressure", *_SPEEDS})
"""Of these, the ones that no regulator holds still: noise moves them at every update, if it is printed."""
_COUNTED = frozenset({"driveshaft_speed", *_SPEEDS}) - {"gps_speed"}
"""Counted by teeth or magnets."""
_DIES = frozenset(
    "engine_speed lambda manifold_pressure boost oil_pressure fuel_pressure exhaust_temperature driveshaft_speed "
    "back_pressure".split()
)
"""Channels that hold one value through a whole log only when their sensor is dead or not connected."""
_NOISE: dict[str, float] = {
    "engine_speed": 0.03,
    "driveshaft_speed": 0.06,
    "manifold_pressure": 0.05,
    "boost": 0.06,
    "oil_pressure": 0.08,
    "fuel_pressure": 0.08,
    **dict.fromkeys(_SPEEDS, 0.04),
}
"""Most scatter of a sound sensor, as a share of the channel's size: some five times what sound logs show."""
_SATURATES = frozenset(
    "manifold_pressure boost oil_pressure fuel_pressure back_pressure exhaust_temperature acceleration".split()
)
"""Channels whose sensors end within what an engine or car can do."""
_CUT_OFF_ABOVE = frozenset({"manifold_pressure", "boost", "back_pressure"})
"""Of these, the ones that only ever harm by being too high: flat at the top they are at least that. Oil or fuel that
stand flat may have failed."""


@dataclass(frozen=True, slots=True)
class _Fault:
    """What one check found on one channel."""

    where: list[Interval]
    finding: Finding
    marks: bool = True


class _Known:
    """A channel's known samples, and what several checks ask of them, worked out once."""

    def __init__(self, channel: Channel) -> None:
        known = channel.known
        self.time_s, self.values = known.time_s, known.values

    @cached_property
    def noise(self) -> float:
        """From sample to sample, in the channel's unit."""
        return sample_noise(self.values, most=LOOKED_AT)

    @cached_property
    def noise_elsewhere(self) -> float:
        """The same away from the longest stretch of one value: a sensor that stands for most of a log has none."""
        changes = np.flatnonzero(self.values[1:] != self.values[:-1]) + 1
        edges = np.concatenate(([0], changes, [self.values.size]))
        longest = int(np.argmax(np.diff(edges)))
        first, after = int(edges[longest]), int(edges[longest + 1])
        if after - first < STANDS_FOR_MUCH * self.values.size:
            return self.noise
        return max(sample_noise(np.delete(self.values, slice(first, after)), most=LOOKED_AT), self.noise)


def check_health(log: Log) -> Log:
    """Look at each channel the catalogue knows and mark the samples that cannot be believed.

    Parameters
    ----------
    log : Log
        As read.

    Returns
    -------
    Log
        False samples NaN, and one finding for each channel and kind of fault; samples that were drawn between two
        are gone.
    """
    log = without_a_fix(keep_measured(log))
    looked_at = [channel for channel in log.channels if kind_of(channel.name) is not None and channel.values.size >= 8]
    size = sum(channel.values.nbytes for channel in looked_at)
    checked = each_at_once(lambda channel: _checked(channel, log.name), looked_at, total_bytes=size)
    for given, found in zip(looked_at, checked, strict=True):
        if found.findings:
            log = log.with_channel(given, found.channel, *found.findings)
    return _check_still_speeds(log)


@dataclass(frozen=True, slots=True)
class _Checked:
    """A channel without the samples that cannot be believed, and why."""

    channel: Channel
    findings: tuple[Finding, ...]


def _checked(channel: Channel, log_name: str) -> _Checked:
    known = _Known(channel)
    findings: list[Finding] = []
    for check in (_impossible, _lost_or_false, _opened_contact, _dead, _stuck, _saturated, _noisy, _leaps):
        if known.values.size < 8:
            break
        faults = [fault for fault in check(channel, known) if fault.where]
        findings += [_tell(fault, known, channel, log_name) for fault in faults]
        wrong = [piece for fault in faults if fault.marks for piece in fault.where]
        if wrong:
            channel = _marked(channel, wrong)
            known = _Known(channel)
    return _Checked(channel, tuple(findings))


def _tell(fault: _Fault, known: _Known, channel: Channel, name: str) -> Finding:
    first = float(known.time_s[fault.where[0].start])
    return replace(fault.finding, where=f"{name}, {channel.header}, {first:.3f} s")


def _marked(channel: Channel, where: list[Interval]) -> Channel:
    """The channel with the samples of some stretches, counted among the known ones, made NaN."""
    keep = np.flatnonzero(np.isfinite(channel.values))
    values = channel.values.copy()
    for piece in where:
        values[keep[piece.start : piece.stop]] = np.nan
    return replace(channel, values=values)


def _title(channel: Channel) -> str:
    kind = kind_of(channel.name)
    return f"{kind.title} ({channel.header})" if kind is not None else channel.header


def _samples(where: list[Interval]) -> int:
    return sum(piece.stop - piece.start for piece in where)


def _amount(known: _Known, where: list[Interval]) -> str:
    """How often, how many samples, how long at most."""
    ends = np.minimum([piece.stop for piece in where], known.time_s.size - 1)
    longest = max(float(known.time_s[end] - known.time_s[piece.start]) for piece, end in zip(where, ends, strict=True))
    times, samples = len(where), _samples(where)
    return (
        f"{times} time{'s' if times > 1 else ''}, {samples} sample{'s' if samples > 1 else ''} in all, the "
        f"longest {longest:.3g} s"
    )


def _impossible(channel: Channel, known: _Known) -> list[_Fault]:
    """Values that nothing of that kind can have: outside the catalogue's range."""
    kind = kind_of(channel.name)
    if kind is None or channel.unit != kind.unit:
        return []
    if known.values.min() >= kind.low and known.values.max() <= kind.high:
        return []
    where = find_true_runs((known.values < kind.low) | (known.values > kind.high))
    text = f"{_title(channel)} holds values that cannot be, {_amount(known, where)}; these samples are left out."
    return [_Fault(where, Finding("impossible-values", "caution", text))]


def _lost_or_false(channel: Channel, known: _Known) -> list[_Fault]:
    family = family_of(channel.name)
    gate = ENGINE_GATE if family == "engine_speed" else SHAFT_GATE if family == "driveshaft_speed" else None
    if family in _SPEEDS and channel.unit in ("m/s", "rpm"):
        gate = WHEEL_GATE if channel.unit == "m/s" else _in_turns(WHEEL_GATE, known)
    if gate is None:
        return []
    gate = replace(gate, floor=max(gate.floor, 8.0 * known.noise, 4.0 * channel.resolution))
    excursions = find_excursions(known.time_s, known.values, gate, hold_s=_held_s(channel, known))
    if family == "engine_speed":
        excursions = [one for one in excursions if not _turns_up_from_rest(known, one.where.start)]
    else:
        swung = [
            not one.to_zero and swings_past(known.time_s, known.values, one.where, noise=known.noise)
            for one in excursions
        ]
        excursions = [one for one, swings in zip(excursions, swung, strict=True) if not swings]
    lost = [one.where for one in excursions if one.to_zero]
    false = [one.where for one in excursions if not one.to_zero]
    lost += _lost_at_the_ends(known, gate)
    faults = []
    if lost:
        text = (
            f"{_title(channel)} drops to zero {_amount(known, lost)}: the signal was lost, the thing measured did "
            f"not stop. "
            "These samples are left out."
        )
        faults.append(_Fault(sorted(lost, key=lambda piece: piece.start), _dropouts(family, text)))
    if false:
        why = "noise from the ignition or" if family == "engine_speed" else "lost pulses, or noise"
        text = (
            f"{_title(channel)} jumps away and back faster than it can move, {_amount(known, false)}: {why} in the "
            "sensor's wiring. These samples are left out."
        )
        faults.append(_Fault(false, _noise(family, text)))
    return faults


def _held_s(channel: Channel, known: _Known) -> float:
    """How long rows repeat a value before a new one comes; 0 where nearly every row is new. [s]."""
    row_s = middle(np.diff(known.time_s[:LOOKED_AT]))
    return 1.0 / channel.rate_hz if channel.rate_hz > 0 and channel.rate_hz * row_s < 0.8 else 0.0


def _turns_up_from_rest(known: _Known, at: int) -> bool:
    """Whether an engine stood, for long, until just before: a motor swings in its shafts as it takes hold of a car."""
    until = int(np.searchsorted(known.time_s, known.time_s[at] - SWINGS_S))
    stood = np.flatnonzero(np.abs(known.values[until:at]) <= STANDS_RPM)
    if not stood.size:
        return False
    last = until + int(stood[-1])
    since = int(np.searchsorted(known.time_s, known.time_s[last] - STOOD_S))
    rest = known.values[since : last + 1]
    stands = rest.size > 3 and bool((np.abs(rest) <= STANDS_RPM).all())
    return bool(known.time_s[last] - known.time_s[0] >= STOOD_S and stands)


def _in_turns(gate: Gate, known: _Known) -> Gate:
    """A speed's gate for a wheel logged in turns, or in pulses that were read as turns."""
    rpm_per_mps = max(RPM_PER_MPS, float(np.quantile(known.values, 0.995)) / FASTEST_MPS)
    return replace(
        gate,
        floor=gate.floor * rpm_per_mps,
        fall_per_s=gate.fall_per_s * rpm_per_mps,
        rise_per_s=gate.rise_per_s * rpm_per_mps,
        least=gate.least * rpm_per_mps,
    )


def _dropouts(family: str, text: str) -> Finding:
    if family == "engine_speed":
        return Finding("engine-speed-dropouts", "caution", text)
    if family == "driveshaft_speed":
        return Finding("driveshaft-speed-dropouts", "caution", text)
    return Finding("speed-dropouts", "caution", text)


def _noise(family: str, text: str) -> Finding:
    if family == "engine_speed":
        return Finding("engine-speed-noise", "caution", text)
    if family == "driveshaft_speed":
        return Finding("driveshaft-speed-noise", "caution", text)
    return Finding("speed-noise", "caution", text)


def _lost_at_the_ends(known: _Known, gate: Gate) -> list[Interval]:
    """A signal that begins or ends at zero with one step that nothing can make."""
    values, least = known.values, 0.2 * gate.floor
    if min(abs(values[0]), abs(values[-1])) > least:
        return []
    held = np.abs(values) > least
    first, last = int(held.argmax()), values.size - 1 - int(held[::-1].argmax())
    if not held[first]:
        return []
    found = []
    if 0 < first <= 5 and values[first] > 1.2 * gate.least:
        found.append(Interval(0, first))
    tail = known.time_s[-1] - known.time_s[last]
    if last < values.size - 3 and values[last] > 3 * gate.least and tail > 0.02:
        found.append(Interval(last + 1, values.size))
    return found


def _opened_contact(channel: Channel, known: _Known) -> list[_Fault]:
    least = _RAILS.get(family_of(channel.name))
    if least is None:
        return []
    fluid = family_of(channel.name) in _FLUIDS
    longest, share = (np.inf, 0.0) if fluid else (RAIL_LONGEST_S, 0.5)
    where = find_rail_spikes(known.time_s, known.values, longest_s=longest, least_step=least, least_share=share)
    text = (
        f"{_title(channel)} jumps to the end of its range and back {_amount(known, where)}; these samples are left out."
        if where
        else ""
    )
    return [_Fault(where, Finding("opened-contact", "caution", text))]


def _dead(channel: Channel, known: _Known) -> list[_Fault]:
    if family_of(channel.name) in _FLUIDS and not _reads_as_open(channel, known):
        return []
    if family_of(channel.name) not in _DIES | _FLUIDS or not is_dead(known.time_s, known.values):
        return []
    value, unit = _as_logged(channel, float(known.values[0]))
    reads = f"{value:.6g} {unit}".strip()
    text = f"{_title(channel)} is flat: it reads {reads} throughout, as a dead sensor does; it is left out."
    return [_Fault([Interval(0, known.values.size)], Finding("flat-channel", "caution", text))]


def _reads_as_open(channel: Channel, known: _Known) -> bool:
    """Whether a temperature begins with what an open sensor, or none at all, is logged as: a limit would hold by it."""
    return bool(np.isclose(_as_logged(channel, float(known.values[0]))[0], _OPEN_CIRCUIT, atol=1e-6).any())


def _as_logged(channel: Channel, value: float) -> tuple[float, str]:
    """A value in the log's own unit, and that unit."""
    return (value, channel.unit) if channel.logged is None else (channel.logged.value(value), channel.logged.unit)


def _stuck(channel: Channel, known: _Known) -> list[_Fault]:
    least = _RESTLESS.get(family_of(channel.name))
    if least is None:
        return []
    never_still = family_of(channel.name) in _NEVER_STILL and channel.resolution <= 0.5 * known.noise_elsewhere
    where = find_stuck(
        known.time_s,
        known.values,
        rate_hz=channel.rate_hz,
        least=least,
        never_still=never_still,
        cut_off_above=family_of(channel.name) in _CUT_OFF_ABOVE,
    )
    kept = [piece for piece in where if _waits_for_a_tooth(channel, known, piece)]
    faults = [_timeout(channel, known, kept)] if kept else []
    where = [piece for piece in where if piece not in kept]
    if not where:
        return faults
    text = (
        f"{_title(channel)} is stuck: it stands flat at one value {_amount(known, where)}, which what it measures does "
        "not do; the repeated samples are left out."
    )
    return [*faults, _Fault(where, Finding("stuck-signal", "caution", text))]


def _waits_for_a_tooth(channel: Channel, known: _Known, piece: Interval) -> bool:
    """Whether a stretch of one value ends at zero and stays there, as of a counter that stopped between two teeth."""
    if family_of(channel.name) not in _COUNTED or piece.stop >= known.values.size:
        return False
    after = known.values[piece.stop : piece.stop + piece.stop - piece.start]
    slow = known.values[piece.start] < TIMEOUT_SHARE * float(known.values.max())
    return bool(slow and not after.any() and known.time_s[piece.stop] - known.time_s[piece.start] <= TIMEOUT_S)


def _timeout(channel: Channel, known: _Known, where: list[Interval]) -> _Fault:
    text = (
        f"{_title(channel)} keeps its last value as it stops, {_amount(known, where)}, and then falls to zero: its "
        "counter waits for a tooth or magnet that does not come; the repeated samples are left out."
    )
    return _Fault(where, Finding("speed-kept-until-overdue", "note", text))


def _saturated(channel: Channel, known: _Known) -> list[_Fault]:
    if family_of(channel.name) not in _SATURATES:
        return []
    where = find_saturated(known.time_s, known.values, rate_hz=channel.rate_hz)
    if not where:
        return []
    top = float(known.values.max())
    text = (
        f"{_title(channel)} is saturated: it is cut off flat at {top:.6g} {channel.unit}, {_amount(known, where)}. "
        "The true value is at least that; peaks and limits on it are not to be trusted."
    )
    return [_Fault(where, Finding("saturated-signal", "caution", text), marks=False)]


def _noisy(channel: Channel, known: _Known) -> list[_Fault]:
    most = _NOISE.get(family_of(channel.name))
    if most is None:
        return []
    size = np.abs(known.values)
    top = float(quantiles(size[:: max(size.size // LOOKED_AT, 1)], (0.999,))[0])
    if top < _RESTLESS[family_of(channel.name)]:
        return []
    works = size > 0.3 * top
    working = int(np.count_nonzero(works))
    noise = known.noise if working == size.size else sample_noise(known.values[works], most=LOOKED_AT)
    if working < FEWEST_WORKING or noise <= max(most * top, 2.0 * channel.resolution):
        return []
    text = (
        f"{_title(channel)} is noisy: neighbouring samples scatter by {noise:.3g} {channel.unit} (standard deviation), "
        f"{noise / top:.0%} of its size; peaks, dips and limits on it are unsure by that."
    )
    return [_Fault([Interval(0, known.values.size)], Finding("noisy-signal", "caution", text), marks=False)]


def _leaps(channel: Channel, known: _Known) -> list[_Fault]:
    """Steps of engine speed that no engine makes, to a level that lasts: which side is false cannot be told."""
    if family_of(channel.name) != "engine_speed":
        return []
    large = np.flatnonzero(np.abs(np.diff(known.values)) > LEAP_RPM)
    before, after = known.values[large], known.values[large + 1]
    higher, lower = np.maximum(before, after), np.minimum(before, after)
    took_s = np.maximum(known.time_s[large + 1] - known.time_s[large], _held_s(channel, known))
    quick = took_s <= LEAP_WITHIN_S
    leaps = large[quick & (lower > 0) & (higher - lower > LEAP_SHARE * higher)]
    leaps = np.array([at for at in leaps.tolist() if not _turns_up_from_rest(known, at + 1)], dtype=np.int64)
    if not leaps.size:
        return []
    where = [Interval(at, at + 1) for at in leaps.tolist()]
    text = (
        f"{_title(channel)} leaps {len(where)} time{'s' if len(where) > 1 else ''} from one row to the next farther "
        "than an engine can, and stays: rows of it are of something else, or in another unit."
    )
    return [_Fault(where, Finding("engine-speed-leaps", "caution", text), marks=False)]


def _check_still_speeds(log: Log) -> Log:
    """A speed that stays at rest throughout while another of the same log moves is a dead sensor's."""
    speeds = [channel for channel in log.channels if family_of(channel.name) in _SPEEDS and channel.unit == "m/s"]
    if not any(np.nanmax(channel.values, initial=0.0) > 10.0 for channel in speeds):
        return log
    for channel in speeds:
        if channel.known.values.size and is_dead(channel.known.time_s, channel.known.values):
            text = (
                f"{_title(channel)} is flat: it never moves while other speeds do, as a dead sensor does; it "
                f"is left out."
            )
            finding = Finding("flat-channel", "caution", text, f"{log.name}, {channel.header}")
            log = log.with_channel(channel, replace(channel, values=np.full(channel.values.shape, np.nan)), finding)
    return log
