"""What one run's logs show, prepared once: every stage after the clock start reads it from here.

Public: `RunEvidence`, `prepare_evidence`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown
from passband.analysis.sensors.beats import measure_pickup_lag
from passband.analysis.sensors.boost_trace import BOOST_NOT_LOGGED, BoostTrace
from passband.analysis.sensors.cut_signals import find_commands
from passband.analysis.sensors.engine_speed import EngineSpeed, read_engine_speed
from passband.analysis.sensors.wheels import driven_tire_speed
from passband.analysis.statistics.fits import sample_noise

BEFORE_LAUNCH_S, AFTER_END_S = 2.0, 1.0
"""Engine speed is read from so long before the launch, for its two-step, to so long past the end. [s]"""
ABOUT_S = 60.0
"""Of a long log so much before the launch and after the run is kept: an hour of idling says nothing of the run. [s]"""
NOISE_BEFORE_LAUNCH_S = 1.0
"""Its noise is taken from so long before the launch on: what a two-step or a burnout makes of it is no sensor's. [s]"""
BAND_NOT_GIVEN = Unknown(
    Finding("band-not-given", "note", "The car's description gives no RPM band to hold the run to.")
)
"""The band of a car whose owner gives none."""


@dataclass(frozen=True, slots=True)
class RunEvidence:
    """One run's channels, cleaned, by what they are to the run. Times are ET."""

    traces: Traces
    """All channels, for what no field below holds; of a long log what lies about the run."""
    car: Car
    """The car, with the final drive that shaft and ground show where none was given."""
    launch_s: float
    """First motion. [s]"""
    end_s: float
    """Finish or lift. [s]"""
    until_s: float
    """Where what is known of its motion ends, or just after the run: its channels go on for a minute more. [s]"""
    engine: EngineSpeed | None
    """Engine speed, noise out, another device's copy going on where the ECU's log ends early; None where not logged."""
    tires: Channel | None
    """Surface speed of the driven tires at their sensor's own times; None where no sensor shows it. [m/s]"""
    throttle: Channel | None
    """None where not logged. [0..1]"""
    boost: BoostTrace | Unknown
    """Gauge boost."""
    commands_s: FloatArray
    """When torque was cut for a moment, as for a shift under full throttle, shape (k,). [s]"""
    launch_plus_minus_s: float = 0.0
    """95 % half-width of the first motion. [s]"""

    @property
    def converter(self) -> bool:
        """Whether the car is given as having a torque converter."""
        return self.car.has_converter

    @property
    def boosted(self) -> bool:
        """Whether the engine ran under boost."""
        return not isinstance(self.boost, Unknown) and self.boost.boosted(0.0, self.end_s)

    @property
    def band(self) -> tuple[float, float] | Unknown:
        """The car's usable band of engine speed, low and high, in rpm."""
        return self.car.rpm_band or BAND_NOT_GIVEN


def prepare_evidence(
    traces: Traces,
    car: Car,
    *,
    launch_s: float,
    end_s: float,
    record_end_s: float | None = None,
    boost: BoostTrace | Unknown = BOOST_NOT_LOGGED,
    launch_plus_minus_s: float = 0.0,
) -> RunEvidence:
    """Prepare what one run's logs show.

    Parameters
    ----------
    traces : Traces
        All channels.
    car : Car
        Driven axle, tire and final drive serve where known.
    launch_s, end_s : float
        First motion, and finish or lift. [s]
    record_end_s : float, optional
        How far the car's motion is known, where that is past the end: the roll-out tells of the tires. [s]
    boost : BoostTrace or Unknown
        Gauge boost.
    launch_plus_minus_s : float
        95 % half-width of the first motion. [s]

    Returns
    -------
    RunEvidence
        None in it where a log holds nothing of the kind.
    """
    stop_s = max(end_s + AFTER_END_S, record_end_s if record_end_s is not None else end_s)
    traces = traces.within(launch_s - ABOUT_S, stop_s + ABOUT_S)
    return RunEvidence(
        traces=traces,
        car=car,
        launch_s=launch_s,
        end_s=end_s,
        until_s=float(stop_s),
        engine=_engine(traces, launch_s, end_s, stop_s),
        tires=driven_tire_speed(traces, car).speed,
        throttle=traces.get("throttle"),
        boost=boost,
        commands_s=find_commands(traces, start_s=launch_s, stop_s=end_s),
        launch_plus_minus_s=launch_plus_minus_s,
    )


def _engine(traces: Traces, launch_s: float, end_s: float, stop_s: float) -> EngineSpeed | None:
    engine = read_engine_speed(traces, start_s=launch_s - BEFORE_LAUNCH_S, stop_s=stop_s)
    if engine is None:
        return None
    own = (engine.time_s >= launch_s - NOISE_BEFORE_LAUNCH_S) & (engine.time_s <= end_s + AFTER_END_S)
    own &= engine.time_s < engine.copied_from_s
    noise_rpm = sample_noise(engine.rpm[own])
    shown = measure_pickup_lag(engine.time_s, engine.rpm, launch_s=launch_s, noise_rpm=noise_rpm)
    if shown is None:
        return replace(engine, noise_rpm=noise_rpm)
    return replace(
        engine, noise_rpm=noise_rpm, lag_s=shown.lag_s, lag_plus_minus_s=shown.plus_minus_s, lag_measured=True
    )
