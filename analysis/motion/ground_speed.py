"""How the car moved: ground speed, acceleration and distance fused from whatever the logs hold.

The best sensors there are carry the ground speed: undriven wheels and GPS with the accelerometer between their
samples; else the driven wheel, with what it slips and grows put into the plus-minus. Each sensor's scale and delay
are found from the run itself.

Public: `Motion`, `HasWay`, `GroundSpeed`, `fuse_ground_speed`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.accelerometer import calibrate_accelerometer
from passband.analysis.motion.counted_wheels import late_as_the_run_shows, take_first_teeth_in
from passband.analysis.motion.driveline_beside import disagrees, driveline_beside, tell_timed
from passband.analysis.motion.frozen_speed import find_creeping_back, tell_creeping_back, tell_pauses
from passband.analysis.motion.fusion import Accelerometer, SpeedSensor, fuse_speed
from passband.analysis.motion.gps_stray import as_they_stray
from passband.analysis.motion.lifted_wheels import lifts_early, stretches_in_the_air, tell_in_the_air
from passband.analysis.motion.open_errors import NO_SENSOR_SHOWS, open_errors
from passband.analysis.motion.posterior import Posterior
from passband.analysis.motion.slip_at_shifts import slip_shown
from passband.analysis.motion.smeared_start import late_of, smear_of, unsmeared
from passband.analysis.motion.speed_through_gears import speed_through_gears
from passband.analysis.motion.spun_on import SpunOn, spun_on_from_rest
from passband.analysis.motion.spun_wheel import held_after_outrunning, spun_before_it_fell, spun_from_rest_until
from passband.analysis.motion.tire_slip import expected_slip
from passband.analysis.motion.unfelt_smear import more_smeared, take_smear_in
from passband.analysis.quantities import BoolArray, FloatArray
from passband.analysis.results.distance import SpeedBasis, Wheelspin
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.forward_axis import AXES
from passband.analysis.sensors.new_values import new_values
from passband.analysis.sensors.priors import (
    DRIVEN_NOISE_MPS,
    DRIVEN_WAKES_MPS,
    ENGINE_SPEED_NOISE_MPS,
    ENGINE_SPEED_TAKEN_BACK,
    GPS_NOISE_MPS,
    GPS_SMEAR_S2,
    GPS_SMEAR_SD_S2,
    GPS_STRAYS_MPS,
    GPS_STRAYS_SHOWN_MPS,
    GPS_WAKES_MPS,
    GROWTH,
    SLOW_GPS_HZ,
    SLOW_GPS_WAKES_MPS,
    UNDRIVEN_GROWTH,
    UNDRIVEN_GROWTH_SD,
    WHEEL,
    WHEEL_NOISE_MPS,
    WHEEL_ON_GPS_SCALE_SD,
    WHEEL_WAKES_MPS,
    WHEEL_WAY_M,
    WHEEL_WAY_SD_M,
    WINDUP_M,
    WINDUP_SD_M,
    gps_lateness,
    gps_together,
)
from passband.analysis.sensors.teeth import FirstTeeth, Teeth, find_first_teeth, read_teeth
from passband.analysis.sensors.wheels import driven_as_logged, driven_tire_speed, undriven_wheels
from passband.analysis.statistics.fits import medians
from passband.analysis.windows.window import RunWindow

STILL_BEFORE_S = 1.0
"""How much of the standstill before the launch is used to learn the accelerometer's rest. [s]"""
LAUNCH_MARGIN_S = 0.045
"""Motion may begin this long before the launch found: sensors are late by 10 to 35 ms. [s]"""
GPS_LAUNCH_MARGIN_S, ONSET_SD_S = 0.020, 0.05
"""The same where a lone GPS speed is set in time by the launch, for its own lateness tells less of when; and what its
filter leaves open of how the motion begins, a deviation. [s]"""
SPIN_SEEN_BEFORE_S = 0.2
"""Tires that let go may be seen to turn so long before the launch found. [s]"""
SPUN_WITHIN_S, SPUN_PLACES, SPUN_OPEN = 0.3, 20, 0.15
"""Tires that spin so soon after the launch did so from rest; then at so many places the car's speed is looked for on a
line to where they had hold again, give or take this share of its end, a deviation. [s], [-], [-] Chosen, no source."""
A_TURN_M = 2.0
"""Even a single tooth passes once a turn; of a wheel whose circumference nobody gave. [m]"""
LOOK_ROUNDS = 3
"""Rounds of the first fit, which is asked for nothing but whether a wheel is counted by teeth. [-] Three say what eight
say in each of 130 reviews of simulated runs, two in 126."""
HANGS_TOGETHER = 2.0
"""A lone receiver of whose errors one counts for so many shows that they hang together. [-]"""
ENGINE_GOES_ON_S = 0.4
"""A car whose driver lifts for a last shift, or on the line, rolls on unseen for so long. [s]"""


@dataclass(frozen=True, slots=True)
class SpeedErrors:
    """In which ways a run's speed may be wrong: each row is one way, by its own 95 %, independent of the others."""

    own: FloatArray
    """This run's alone, shape (ways, n). [m/s]"""
    shared: Mapping[str, FloatArray]
    """Those of what other runs share, by cause (``device: wheel scale``), each of shape (n,). [m/s]"""


class HasWay(Protocol):
    """Where the car was when: all that some questions ask of a motion. Both arrays have shape (n,)."""

    @property
    def time_s(self) -> FloatArray:
        """Rising, in seconds ET."""

    @property
    def distance_m(self) -> FloatArray:
        """From where the clock starts, in metres."""


@dataclass(frozen=True, slots=True)
class Motion:
    """The car's motion on one even time grid. All arrays have shape (n,)."""

    time_s: FloatArray
    """Even grid, from clock start (ET). [s]"""
    speed_mps: FloatArray
    """Ground speed, forward positive. [m/s]"""
    speed_plus_minus_mps: FloatArray
    """95 % half-width. [m/s]"""
    acceleration_mps2: FloatArray
    """Forward acceleration along the track. [m/s2]"""
    acceleration_plus_minus_mps2: FloatArray
    """95 % half-width of its mean over 50 ms. [m/s2]"""
    distance_m: FloatArray
    """From where the clock starts (negative before). [m]"""
    distance_plus_minus_m: FloatArray
    """95 % half-width. [m]"""
    tire_speed_mps: FloatArray
    """Surface speed of the driven tires, NaN where nothing shows it. [m/s]"""
    spinning: BoolArray
    """True within an episode of wheelspin."""
    basis: SpeedBasis
    """What ground speed rests on."""
    scale: Estimate | None
    """Factor that a timing slip asked of the speed; None where no slip was given. [-]"""
    wheelspin: tuple[Wheelspin, ...]
    """Episodes in order."""
    parted_errors: SpeedErrors | None = None
    """None where nobody parted them: then the plus-minus of speed is one way, wrong alike all along."""
    bent: bool = False
    """True where it was laid on a slip's marks that its sensors contradict, otherwise than by one scale."""

    @property
    def errors(self) -> SpeedErrors:
        """In which ways the speed may be wrong."""
        return self.parted_errors or SpeedErrors(self.speed_plus_minus_mps[None, :], {})

    @property
    def through_driveline(self) -> bool:
        """Whether ground speed rests on what the engine turns."""
        return self.basis.through_driveline


@dataclass(frozen=True, slots=True)
class GroundSpeed:
    """Ground speed on the log's clock before the strip's marks are laid on it."""

    posterior: Posterior
    """Speed with all that is still open: delays, and the modes ``scale``, ``slip``, ``growth``."""
    basis: SpeedBasis
    """What it rests on."""
    sensors: tuple[str, ...]
    """Channels it rests on."""
    log: int
    """The log that the sensors are of: its clock match adds to the plus-minus of when."""
    findings: tuple[Finding, ...] = ()
    """What was chosen, mended, doubted."""
    felt_log: int | None = None
    """The log of the accelerometer on whose clock the speed was sought; None where it was another sensor's."""
    felt_sd_s: float = 0.0
    """What is open of that one's lateness beforehand, a deviation. [s]"""
    late_share: float = 1.0
    """Share of what the sensors are late by together that moves the run: the rest cancels in their log's clock. [-]"""

    @property
    def through_driveline(self) -> bool:
        """Whether it rests on what the engine turns."""
        return self.basis.through_driveline


@dataclass(frozen=True, slots=True)
class _Sensors:
    """Sensors of one kind that ground speed may rest on."""

    each: list[SpeedSensor]
    """Empty where the logs hold none."""
    basis: SpeedBasis
    findings: list[Finding]


def fuse_ground_speed(traces: Traces, car: Car, window: RunWindow) -> GroundSpeed | Unknown:
    """Ground speed over one run from the best sensors there are.

    Parameters
    ----------
    traces : Traces
        All channels on the ECU log's clock.
    car : Car
        Driven axle, circumference and final drive serve where given.
    window : RunWindow
        The run.

    Returns
    -------
    GroundSpeed or Unknown
        Unknown where no log holds a speed of wheel, shaft or GPS.

    Notes
    -----
    It does not see a delay that all sensors share beyond 10 to 35 ms, nor a scale that all share.
    """
    findings: list[Finding] = []
    start = window.launch_s - STILL_BEFORE_S
    stop = window.stop_s
    near = traces.within(start, stop + 0.3)
    for found in _sensors_by_rank(near, car, window):
        findings += found.findings
        if found.each:
            break
    else:
        lost = "No wheel, shaft or GPS speed covers the run: distance, splits and power are not known."
        return Unknown(Finding("no-ground-speed", "stop", lost), beside=tuple(findings))
    sensors, basis = found.each, found.basis
    log = _log_of(near, sensors[0].name)
    mounted = calibrate_accelerometer(near, sensors[0], launch_s=window.launch_s)
    accelerometer = mounted.forward
    if accelerometer is not None:
        late = late_of(accelerometer)
        accelerometer = replace(accelerometer, delay_s=late.late_s, delay_sd_s=late.sigma_s)
    findings += mounted.findings
    goes_on_s = ENGINE_GOES_ON_S if basis is SpeedBasis.ENGINE_SPEED else 0.0
    stop = min(stop, max(float(sensor.time_s[-1]) for sensor in sensors) + goes_on_s)
    still = (_still_since(near, window, start), stop)
    if accelerometer is None:
        found = replace(found, each=[replace(sensor, smear_sd_s2=0.0) for sensor in found.each])
    sensors, posterior = _fused(found, accelerometer, window, still)
    if basis is SpeedBasis.GPS and max(posterior.counts_for.values()) >= HANGS_TOGETHER:
        found = replace(found, each=[replace(sensor, stray_mps=GPS_STRAYS_SHOWN_MPS) for sensor in found.each])
        sensors, posterior = _fused(found, accelerometer, window, still)
    if basis is SpeedBasis.GPS and accelerometer is None:
        beside = driveline_beside(near, car, window, posterior)
        timed = _with_driveline(found, beside, window, still)
        findings += [] if timed is None else [tell_timed(found.each[0], timed[1])]
        sensors, posterior = timed or (sensors, posterior)
        _let_smear_open(replace(found, each=sensors), posterior, window, still)
    elif basis is SpeedBasis.GPS and accelerometer is not None:
        posterior.mean[: posterior.time_s.size] = unsmeared(posterior, smear_of(accelerometer))
    felt = accelerometer is not None
    posterior.modes.update(open_errors(posterior, sensors, felt=felt, basis=basis))
    take_first_teeth_in(posterior, sensors, felt=felt)
    made = GroundSpeed(posterior, basis, tuple(sensor.name for sensor in sensors), log, tuple(findings))
    if accelerometer is None:
        return made
    return replace(made, felt_log=_log_of_accelerometer(near), felt_sd_s=accelerometer.delay_sd_s)


def _fused(
    found: _Sensors,
    accelerometer: Accelerometer | None,
    window: RunWindow,
    span_s: tuple[float, float],
) -> tuple[list[SpeedSensor], Posterior]:
    """The fit, and the sensors as a first one has shown them to be late."""
    sensors = found.each
    launch_sd_s = float(np.hypot(window.launch_plus_minus_s / 2, ONSET_SD_S))
    lone_gps = len(sensors) == 1 and found.basis is SpeedBasis.GPS and accelerometer is None
    by_launch = lone_gps and launch_sd_s < sensors[0].delay_sd_s and any("gps" not in sign for sign in window.evidence)
    # The signs of a launch may contradict each other by more than a receiver may be late: then it tells, not they.
    margin_s = GPS_LAUNCH_MARGIN_S if by_launch else LAUNCH_MARGIN_S
    if lone_gps and launch_sd_s > sensors[0].delay_sd_s:
        margin_s = window.launch_plus_minus_s
    fuse = partial(
        fuse_speed,
        accelerometer=accelerometer,
        span_s=span_s,
        rest_until_s=window.launch_s - margin_s,
        rest_sd_s=launch_sd_s if by_launch else None,
        extra={"clock start": (window.launch_s + 0.25, 1.0), "rollout": (0.28, 1.0)}
        | {name: (0.0, 1.0) for name in NO_SENSOR_SHOWS},
    )
    if any(sensor.way_sd_m for sensor in sensors):
        first = fuse(sensors, rounds=LOOK_ROUNDS)
        felt = accelerometer is not None
        sensors = [late_as_the_run_shows(sensor, first, felt=felt) for sensor in sensors]
        sensors = as_they_stray(sensors, first)
    return sensors, fuse(_late_alike(sensors))


def _let_smear_open(found: _Sensors, posterior: Posterior, window: RunWindow, span_s: tuple[float, float]) -> None:
    """Without an accelerometer the smear is not sought: the run is fitted with another, and that tells the rest."""
    gps = next(sensor for sensor in found.each if sensor.smear_s2)
    wider = [more_smeared(one) if one is gps else one for one in found.each]
    _, other = _fused(replace(found, each=wider), None, window, span_s)
    take_smear_in(posterior, other, gps)


def _late_alike(sensors: list[SpeedSensor]) -> list[SpeedSensor]:
    """Wheels of one car have sensors of one make on one device: late alike, they say once how late they are."""
    wheels = [sensor for sensor in sensors if sensor.name.startswith("wheel_speed")]
    apart = float(np.sqrt(max(len(wheels), 1)))
    return [replace(sensor, delay_sd_s=apart * sensor.delay_sd_s) if sensor in wheels else sensor for sensor in sensors]


def _with_driveline(
    found: _Sensors, beside: SpeedSensor | None, window: RunWindow, span_s: tuple[float, float]
) -> tuple[list[SpeedSensor], Posterior] | None:
    """The fit of a GPS speed with the driveline beside it; None where the driveline shows nothing of the car."""
    if beside is None:
        return None
    both = replace(found, each=[beside, *found.each])
    sensors, posterior = _fused(both, None, window, span_s)
    return None if disagrees(found.each[0], posterior) else (sensors, posterior)


def _sensors_by_rank(traces: Traces, car: Car, window: RunWindow) -> Iterator[_Sensors]:
    """From the best kind of sensor down; the next is looked for only when asked."""
    swapped = _axle_swapped(traces, car, window)
    if swapped is not None:
        driven = _driven_sensors(traces, swapped.car, window)
        yield replace(driven, findings=[swapped.finding, *driven.findings])
    yield _ground_sensors(traces, car, window)
    yield _driven_sensors(traces, car, window)
    yield _engine_sensor(traces, car, window)


@dataclass(frozen=True, slots=True)
class _Swapped:
    """A car whose one logged axle is said to be undriven and is not."""

    car: Car
    finding: Finding


def _axle_swapped(traces: Traces, car: Car, window: RunWindow) -> _Swapped | None:
    """The car driven by the axle that is logged, where that alone shows speed, is said to be undriven, and spins."""
    wheels = undriven_wheels(traces, car).channels
    others = any(traces.get(name) is not None for name in ("gps_speed", "ground_speed", "acceleration"))
    turned = driven_as_logged(car, traces)
    if turned is car or others:
        return None
    samples = new_values(wheels[0])
    spun = _outran(samples, window) is not None or _spun_on(wheels[0], samples, traces, window) is not None
    if not spun:
        return None
    text = (
        f"{wheels[0].header} should be undriven, by the driven axle given, and spins as driven tires do: it was taken "
        "for a driven wheel. Look at the driven axle given and at the channel's name."
    )
    return _Swapped(turned, Finding("undriven-wheel-spins", "caution", text, wheels[0].header))


def _ground_sensors(traces: Traces, car: Car, window: RunWindow) -> _Sensors:
    wheels = undriven_wheels(traces, car)
    findings = list(wheels.findings)
    sensors: list[SpeedSensor] = []
    for channel in wheels.channels:
        samples = new_values(channel)
        aloft = stretches_in_the_air(traces, car, channel, window)
        findings += tell_in_the_air(channel, aloft, window)
        awake = samples.values > WHEEL_WAKES_MPS
        for first, last in aloft:
            awake &= (samples.time_s < first) | (samples.time_s > last)
        if awake.sum() < 10:
            continue
        least = max(channel.resolution / np.sqrt(12), WHEEL_NOISE_MPS)
        time_s, speed_mps = samples.time_s[awake], samples.values[awake]
        sensors.append(
            SpeedSensor(
                channel.name,
                time_s,
                speed_mps,
                least,
                WHEEL.late_s,
                WHEEL.sigma_s,
                0.0,
                growth=UNDRIVEN_GROWTH,
                way_m=WHEEL_WAY_M,
                way_sd_m=WHEEL_WAY_SD_M,
                first=None if lifts_early(aloft, window) else find_first_teeth(channel, window.launch_s),
            )
        )
    gps = _gps_sensor(traces, window)
    findings += gps.findings
    if not sensors:
        return _Sensors([_alone(one) for one in gps.each], SpeedBasis.GPS, findings)
    scaled = _wheels_on_gps(sensors, gps.each[0]) if gps.each else _wheels_agree(sensors)
    return _Sensors(scaled.each + gps.each, SpeedBasis.UNDRIVEN_WHEEL, findings + scaled.findings)


def _alone(gps: SpeedSensor) -> SpeedSensor:
    """A receiver's faults that count where no other speed stands beside it."""
    return replace(
        gps,
        together=gps_together(gps.mean_over_s),
        stray_mps=GPS_STRAYS_MPS,
        smear_s2=GPS_SMEAR_S2,
        smear_sd_s2=GPS_SMEAR_SD_S2,
    )


def _gps_sensor(traces: Traces, window: RunWindow) -> _Sensors:
    channel = traces.get("gps_speed") or traces.get("ground_speed")
    if channel is None:
        return _Sensors([], SpeedBasis.GPS, [])
    samples = new_values(channel)
    awake = samples.values > (SLOW_GPS_WAKES_MPS if channel.rate_hz < SLOW_GPS_HZ else GPS_WAKES_MPS)
    low = find_creeping_back(channel, window)
    for first, last in low:
        awake &= (samples.time_s <= first) | (samples.time_s >= last)
    creeping = tell_creeping_back(channel, low) or tell_pauses(channel, window)
    if awake.sum() < 5:
        return _Sensors([], SpeedBasis.GPS, creeping)
    least = max(channel.resolution / np.sqrt(12), GPS_NOISE_MPS)
    late = gps_lateness(channel.rate_hz)
    sensor = SpeedSensor(
        channel.name, samples.time_s[awake], samples.values[awake], least, late.late_s, late.sigma_s, 0.0,
        mean_over_s=1.0 / max(channel.rate_hz, 1.0),
    )  # fmt: skip
    return _Sensors([sensor], SpeedBasis.GPS, creeping)


def _ratio(sensor: SpeedSensor, reference: SpeedSensor) -> float:
    """Robust ratio of two speeds above 12 m/s, the lag between them found on the way."""
    fast = reference.speed_mps > 12.0
    if fast.sum() < 4:
        return 1.0
    lagged_s = reference.time_s[fast] - np.arange(-0.1, 0.45, 0.01)[:, None]
    other = np.interp(lagged_s, sensor.time_s, sensor.speed_mps, left=np.nan, right=np.nan)
    quotient = other / reference.speed_mps[fast]
    quotient = quotient[np.isfinite(quotient).sum(axis=1) >= 4]
    if not quotient.size:
        return 1.0
    middle = medians(quotient)
    return float(middle[np.argmin(medians(np.abs(quotient - middle[:, None])))])


def _wheels_on_gps(sensors: list[SpeedSensor], gps: SpeedSensor) -> _Sensors:
    """GPS shows each wheel's scale: a wheel that is off by more than tire wear is set right, with a finding."""
    out, findings = [], []
    for sensor in sensors:
        ratio = _ratio(sensor, gps)
        if abs(ratio - 1.0) > 0.012:
            text = (
                f"Wheel speed {sensor.name} reads {100 * (ratio - 1):+.1f} % against GPS speed: its tire circumference "
                "is set wrong in the logger. GPS was believed and the wheel's scale set right."
            )
            findings.append(Finding("wheel-speed-scale", "caution", text, sensor.name))
            sensor = replace(sensor, speed_mps=sensor.speed_mps / ratio)
        out.append(replace(sensor, scale_sd=WHEEL_ON_GPS_SCALE_SD, growth_sd=UNDRIVEN_GROWTH_SD))
    return _Sensors(out, SpeedBasis.UNDRIVEN_WHEEL, findings)


def _wheels_agree(sensors: list[SpeedSensor]) -> _Sensors:
    """Two undriven wheels without GPS: both are taken to their mean scale; one alone stays as it is."""
    if len(sensors) < 2:
        return _Sensors(sensors, SpeedBasis.UNDRIVEN_WHEEL, [])
    ratio = _ratio(sensors[1], sensors[0])
    findings = []
    if abs(ratio - 1.0) > 0.015:
        text = f"{sensors[1].name} reads {100 * (ratio - 1):+.1f} % against {sensors[0].name}; their mean was used."
        findings.append(Finding("wheel-speeds-differ", "caution", text, sensors[1].name))
    middle = (1.0 + ratio) / 2
    scaled = [
        replace(sensors[0], speed_mps=sensors[0].speed_mps * middle),
        replace(sensors[1], speed_mps=sensors[1].speed_mps * middle / ratio),
        *sensors[2:],
    ]
    return _Sensors(scaled, SpeedBasis.UNDRIVEN_WHEEL, findings)


def _driven_sensors(traces: Traces, car: Car, window: RunWindow) -> _Sensors:
    tires = driven_tire_speed(traces, car)
    channel, findings = tires.speed, list(tires.findings)
    if channel is None:
        return _Sensors([], SpeedBasis.DRIVEN_WHEEL, findings)
    samples = new_values(channel)
    spun = spun_before_it_fell(samples.time_s, samples.values, window.launch_s)
    hold_s = spun_from_rest_until(samples.time_s, samples.values, window.launch_s)
    spun_on = _spun_on(channel, samples, traces, window)
    outran_s = _outran(samples, window)
    held = [at_s for at_s in (hold_s, outran_s, None if spun_on is None else spun_on.held_s) if at_s is not None]
    hold_s = max(held, default=None)
    if hold_s is not None:
        spun |= (samples.time_s > window.launch_s - SPIN_SEEN_BEFORE_S) & (samples.time_s < hold_s)
    hold_within_s = window.launch_s + SPUN_WITHIN_S
    awake = (samples.values > DRIVEN_WAKES_MPS) & ~spun
    if awake.sum() < 10:
        return _Sensors([], SpeedBasis.DRIVEN_WHEEL, findings)
    text = (
        f"Ground speed rests on {channel.name} alone, which slips and grows; "
        "an undriven wheel or GPS speed would narrow every figure."
    )
    findings.append(Finding("ground-speed-from-driven-wheel", "caution", text, channel.name))
    least = max(channel.resolution / np.sqrt(12), DRIVEN_NOISE_MPS)
    first, teeth = _teeth_of_driven(channel, car, window)
    slip = expected_slip(samples.time_s[awake], samples.values[awake], car)
    slip = slip_shown(slip, samples, traces, car, window)
    from_rest = bool(spun[(samples.time_s > window.launch_s) & (samples.time_s < hold_within_s)].any())
    hold_s = float(samples.time_s[awake][0]) if from_rest else None
    sensor = SpeedSensor(
        channel.name, samples.time_s[awake], samples.values[awake], least, WHEEL.late_s, WHEEL.sigma_s, 0.0,
        slip.per_mps2, GROWTH, way_m=teeth.way_m - WINDUP_M, way_sd_m=float(np.hypot(teeth.way_sd_m, WINDUP_SD_M)),
        leaps=teeth.leaps, first=first,
        slip_open=slip.per_mps2_sd, drag_per_m=slip.drag_per_m, spun_until_s=hold_s,
        let_go_s=() if hold_s is None else ((window.launch_s, hold_s),),
    )  # fmt: skip
    return _Sensors([sensor, *_while_it_spun(sensor, window, spun_on)], SpeedBasis.DRIVEN_WHEEL, findings)


def _teeth_of_driven(channel: Channel, car: Car, window: RunWindow) -> tuple[FirstTeeth | None, Teeth]:
    """What the first moments show of its teeth: nothing where that would be more than a turn of the wheel."""
    turn_m = car.tire_circumference or A_TURN_M
    first = find_first_teeth(channel, window.launch_s, slips=True)
    if first is not None and first.gone_m > turn_m:
        first = None  # it leaped as tires do that let go
    teeth = read_teeth(channel, window.launch_s, first)
    if teeth.way_m > turn_m:
        teeth = Teeth(False, WHEEL_WAY_M, WHEEL_WAY_SD_M)
    return first, teeth


def _outran(samples: Channel, window: RunWindow) -> float | None:
    """When a wheel that had outrun any car had hold again."""
    until_s = window.stop_s if window.lift_s is None else window.lift_s
    return held_after_outrunning(samples.time_s, samples.values, launch_s=window.launch_s, until_s=until_s)


def _spun_on(channel: Channel, samples: Channel, traces: Traces, window: RunWindow) -> SpunOn | None:
    """A wheel's spin after the launch; a shaft swings further in each shift than tires let it tell."""
    if channel.name == "driveshaft_speed" or traces.get("throttle") is None:
        return None
    until_s = window.stop_s if window.lift_s is None else window.lift_s
    return spun_on_from_rest(samples.time_s, samples.values, launch_s=window.launch_s, until_s=until_s)


def _while_it_spun(tires: SpeedSensor, window: RunWindow, spun_on: SpunOn | None) -> list[SpeedSensor]:
    """A car whose tires spin gains speed about evenly, for they push as hard as they can."""
    if tires.spun_until_s is None or tires.spun_until_s < window.launch_s + SPUN_WITHIN_S:
        return []
    share = np.linspace(0.0, 1.0, SPUN_PLACES + 2)[1:-1]
    begins_s = window.launch_s + tires.delay_s
    time_s = begins_s + share * (tires.spun_until_s - begins_s)
    speed_mps = share * float(tires.speed_mps[0])
    if spun_on is not None and spun_on.touched_s.size:
        places = np.concatenate(([begins_s], spun_on.touched_s, [tires.spun_until_s]))
        speed_mps = np.interp(time_s, places, [0.0, *spun_on.touched_mps.tolist(), float(tires.speed_mps[0])])
    open_mps = SPUN_OPEN * float(tires.speed_mps[0])
    return [SpeedSensor("spun start", time_s, speed_mps, open_mps, tires.delay_s, WHEEL.sigma_s, 0.0)]


def _engine_sensor(traces: Traces, car: Car, window: RunWindow) -> _Sensors:
    geared = speed_through_gears(traces, car, window)
    channel, findings = geared.speed, list(geared.findings)
    if channel is None or channel.known.values.size < 10:
        return _Sensors([], SpeedBasis.ENGINE_SPEED, findings)
    samples = channel.known
    slip = expected_slip(samples.time_s, samples.values, car)
    sensor = SpeedSensor(
        channel.name, samples.time_s, samples.values, ENGINE_SPEED_NOISE_MPS, ENGINE_SPEED_TAKEN_BACK.late_s,
        ENGINE_SPEED_TAKEN_BACK.sigma_s, 0.0, slip.per_mps2, GROWTH,
        slip_open=slip.per_mps2_sd, drag_per_m=slip.drag_per_m,
    )  # fmt: skip
    return _Sensors([sensor], SpeedBasis.ENGINE_SPEED, findings)


def _log_of(traces: Traces, name: str) -> int:
    channel = traces.get(name)
    return channel.log if channel is not None else 0


def _log_of_accelerometer(traces: Traces) -> int | None:
    """The log of the axes, where one has them all."""
    logs = {channel.log for name in AXES if (channel := traces.get(name)) is not None}
    return logs.pop() if len(logs) == 1 else None


def _still_since(traces: Traces, window: RunWindow, start_s: float) -> float:
    """The standstill before the launch may be short: a bump into the stage must not be taken for rest."""
    latest = start_s
    for channel in traces:
        if channel.unit != "m/s":
            continue
        moving = (channel.values > 0.6) & (channel.time_s < window.launch_s - 0.15)
        if moving.any():
            latest = max(latest, float(channel.time_s[moving][-1]) + 0.05)
    return min(latest, window.launch_s - 0.25)
