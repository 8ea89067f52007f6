"""Which wheels are driven, and what they say: undriven wheels for ground speed, the driven tire's surface speed.

Public: `Axles`, `UndrivenWheels`, `DrivenTires`, `GearedCar`, `axles_of`, `undriven_wheels`, `driven_tire_speed`,
`driven_as_logged`, `with_final_drive`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from passband.analysis.channels.log import Channel, Traces
from passband.analysis.given.car import Car
from passband.analysis.quantities import FloatArray
from passband.analysis.results.findings import Finding
from passband.analysis.sensors.priors import SHAFT_LATE_S

FRONT = ("wheel_speed_fl", "wheel_speed_fr")
REAR = ("wheel_speed_rl", "wheel_speed_rr")
FAST_MPS = 15.0
"""Above this a spinning start is over and a sensor's lag is small against the speed. [m/s]"""
FINAL_DRIVES = (1.0, 9.0)
"""A rear end outside this is none. [-] Common practice, no source."""
AXLES_APART = 0.004
"""An axle that turns slower than the other by this share while the car pulls is the undriven one. [-]"""

OTHER_AXLE: dict[Literal["front", "rear"], Literal["front", "rear"]] = {"front": "rear", "rear": "front"}
"""For an axle given wrong."""


@dataclass(frozen=True, slots=True)
class Axles:
    """Wheel-speed channels by what turns them, as the car's owner tells it."""

    undriven: tuple[str, ...]
    """Of the axle that rolls; none where all are driven or nothing is given."""
    driven: tuple[str, ...]
    """Of the axle that is driven, the rear's first where all are; none where nothing is given."""

    @property
    def given(self) -> bool:
        """Whether the car says which axle is driven."""
        return bool(self.driven)


@dataclass(frozen=True, slots=True)
class UndrivenWheels:
    """What the wheels that roll along say of ground speed."""

    channels: tuple[Channel, ...] = ()
    """One or two wheels' speeds; empty where none is logged, or none is known to be undriven. [m/s]"""
    findings: tuple[Finding, ...] = ()
    """What was chosen where the car does not say which axle is driven."""


@dataclass(frozen=True, slots=True)
class DrivenTires:
    """What sensors say of the driven tires' surface speed."""

    speed: Channel | None = None
    """By the tire's static circumference; None where no log holds one. [m/s]"""
    findings: tuple[Finding, ...] = ()
    """Why a driveshaft could not serve."""


@dataclass(frozen=True, slots=True)
class GearedCar:
    """The car, with the final drive that a run showed."""

    car: Car
    """As it was given where nothing was missing or nothing shows it."""
    findings: tuple[Finding, ...] = ()
    """What was found; or that ratios found from the shaft will be the gearbox's alone."""


def axles_of(car: Car) -> Axles:
    """Which wheels a car drives.

    Parameters
    ----------
    car : Car
        Its `driven_axle`.

    Returns
    -------
    Axles
        Names of channels, logged or not.

    Examples
    --------
    >>> axles_of(Car(name="x", driven_axle="rear")).undriven
    ('wheel_speed_fl', 'wheel_speed_fr')
    """
    if car.driven_axle == "all":
        return Axles((), (*REAR, *FRONT))
    if car.driven_axle is None:
        return Axles((), ())
    return Axles(REAR, FRONT) if car.driven_axle == "front" else Axles(FRONT, REAR)


def undriven_wheels(traces: Traces, car: Car) -> UndrivenWheels:
    """The undriven wheels' speeds, of the axle that the car names or the data shows.

    Parameters
    ----------
    traces : Traces
        Channels over the run.
    car : Car
        `driven_axle` where known.

    Returns
    -------
    UndrivenWheels
        No channel for a car that drives all.
    """
    axles = axles_of(car)
    if axles.given:
        return UndrivenWheels(_logged(traces, axles.undriven))
    front, rear = _logged(traces, FRONT), _logged(traces, REAR)
    if front and rear:
        slower = _slower(front[0], rear[0])
        if slower is None:
            return UndrivenWheels((), (_axle_unknown("neither axle turns slower than the other while the car pulls"),))
        axle = "front" if slower is front[0] else "rear"
        text = (
            f"The car does not say which axle is driven; the {axle} turns slower under power and was taken as undriven."
        )
        found = Finding("undriven-axle-found", "note", text)
        return UndrivenWheels(front if slower is front[0] else rear, (found,))
    return UndrivenWheels((), (_axle_unknown("the log holds one axle only"),) if front or rear else ())


def _logged(traces: Traces, names: tuple[str, ...]) -> tuple[Channel, ...]:
    return tuple(channel for name in names if (channel := traces.get(name)) is not None)


def _axle_unknown(why: str) -> Finding:
    text = (
        f"The car does not say which axle is driven and {why}: wheel speeds were not used for ground speed. "
        "Give driven_axle."
    )
    return Finding("driven-axle-unknown", "caution", text)


def _slower(front: Channel, rear: Channel) -> Channel | None:
    time = front.known.time_s
    ours, theirs = front.at(time), rear.at(time)
    pulling = (np.gradient(theirs, time) > 1.0) & (np.minimum(ours, theirs) > 2.0)
    if pulling.sum() < 10:
        return None
    share = float(np.nanmedian(ours[pulling] / theirs[pulling]))
    return front if share < 1 - AXLES_APART else rear if share > 1 + AXLES_APART else None


def driven_tire_speed(traces: Traces, car: Car) -> DrivenTires:
    """Surface speed of the driven tires from a wheel sensor, the driven axle's wheels, or the driveshaft.

    Parameters
    ----------
    traces : Traces
        Channels over the run.
    car : Car
        Circumference and final drive serve for a driveshaft.

    Returns
    -------
    DrivenTires
        Their speed, or why a driveshaft could not serve.

    Notes
    -----
    A growing tire covers more ground for each turn than this says.
    """
    direct = _with_values(traces, "wheel_speed_driven")
    if direct is not None:
        return DrivenTires(direct)
    wheels = [channel for name in axles_of(car).driven if (channel := _with_values(traces, name)) is not None]
    if wheels:
        return DrivenTires(_mean_of(wheels[:2]))
    shaft = _with_values(traces, "driveshaft_speed")
    if shaft is not None:
        if car.final_drive and car.tire_circumference:
            metres_per_turn = car.tire_circumference / car.final_drive
            values = shaft.values / 60.0 * metres_per_turn
            step = shaft.resolution / 60.0 * metres_per_turn
            return DrivenTires(replace(shaft, values=values, unit="m/s", resolution=step))
        text = (
            "A driveshaft speed is logged, but final_drive or tire_circumference is not given: it gives no tire speed."
        )
        return DrivenTires(None, (Finding("driveshaft-without-ratio", "note", text, shaft.header),))
    return DrivenTires()


def driven_as_logged(car: Car, traces: Traces) -> Car:
    """The car driven by the one axle whose wheels are logged, for wheels said to be undriven that spin.

    Parameters
    ----------
    car : Car
        As given.
    traces : Traces
        Channels over the run.

    Returns
    -------
    Car
        The same where no such wheel is logged, where all wheels are driven, or where the driven tires have a sensor.
    """
    seen = undriven_wheels(traces, car).channels and driven_tire_speed(traces, car).speed is None
    if not seen or car.driven_axle is None or car.driven_axle == "all":
        return car
    return car.model_copy(update={"driven_axle": OTHER_AXLE[car.driven_axle]})


def with_final_drive(car: Car, traces: Traces, *, time_s: FloatArray, speed_mps: FloatArray) -> GearedCar:
    """The car with a final drive that driveshaft and ground speed show, where it is not given.

    Parameters
    ----------
    car : Car
        A final drive that is given stands.
    traces : Traces
        On the clock of `time_s`; needs a driveshaft speed.
    time_s, speed_mps : array, shape (n,)
        Ground speed that does not itself rest on the shaft. [s], [m/s]

    Returns
    -------
    GearedCar
        The same car where nothing was missing or nothing shows it.

    Notes
    -----
    Shaft turns per wheel turn at the tire's static circumference, median above 15 m/s: a tire's slip makes it read
    high and its growth low, one to two per cent each.
    """
    shaft = traces.get("driveshaft_speed")
    if car.final_drive is not None or shaft is None:
        return GearedCar(car)
    if car.tire_circumference is not None:
        turning = shaft.known.at(time_s + SHAFT_LATE_S)
        fast = (speed_mps > FAST_MPS) & np.isfinite(turning)
        if fast.sum() > 50:
            found = float(np.median(turning[fast] / 60.0 * car.tire_circumference / speed_mps[fast]))
            if FINAL_DRIVES[0] < found < FINAL_DRIVES[1]:
                text = (
                    f"The final drive is not given; driveshaft and ground speed show {found:.2f}, give or take 2 %, "
                    "which was used. Tell final_drive to be sure."
                )
                given = Finding("final-drive-found", "note", text)
                return GearedCar(car.model_copy(update={"final_drive": found}), (given,))
    text = (
        "The final drive is not given and nothing shows it: overall ratios found from the driveshaft are the gearbox's "
        "alone. Tell final_drive, or tire_circumference."
    )
    return GearedCar(car, (Finding("final-drive-unknown", "caution", text, shaft.header),))


def _with_values(traces: Traces, name: str) -> Channel | None:
    """The channel, where a single sample of it is to be believed."""
    channel = traces.get(name)
    return channel if channel is not None and bool(np.isfinite(channel.values).any()) else None


def _mean_of(wheels: list[Channel]) -> Channel:
    if len(wheels) == 1:
        return wheels[0]
    one, other = wheels
    return replace(one, values=(one.values + np.interp(one.time_s, other.time_s, other.values)) / 2)
