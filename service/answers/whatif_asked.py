"""A what-if as people write it, on the command line or in a body: read, checked, turned into changes.

Public: `WhatIfAsked`, `WhatIfBody`, `read_changes`, `read_shift_points`, `read_ratios`, `read_gains`, `asked_in_words`.
"""

from __future__ import annotations

import math
import re
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from passband.analysis.air.day import measure_air, other_air
from passband.analysis.bench.sheets import read_dyno_curve
from passband.analysis.channels.log import NotALog, Traces
from passband.analysis.given.car import Air, Car
from passband.analysis.quantities import parse_quantity, split_quantity
from passband.analysis.results.air import AirState
from passband.analysis.results.plain_values import JsonObject
from passband.analysis.whatif.changes import Changes, PowerCurve, PowerGain, ShiftPoint
from passband.service.given.facts import GivenError, read_given

WRITTEN_IN = {"kg": ("lb", "kg"), "m": ("in", "mm"), "Pa": ("psi", "kPa")}
"""Units to choose from where none is written."""
Text = Annotated[str, Field(max_length=500)]


class WhatIfAsked(BaseModel):
    """What is to be other than in the run; what is left out stays."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    shift_rpm: Text = ""
    mass: Text = ""
    final_drive: float | None = Field(None, gt=0.1, lt=30.0)
    gear_ratios: Text = ""
    tire_circumference: Text = ""
    boost: Text = ""
    power_gain: Text = ""
    power: str = Field("", max_length=200_000)
    air: JsonObject | None = None


class WhatIfBody(WhatIfAsked):
    """The same in a request, with a search beside it."""

    search: Text = ""
    aim: Literal["elapsed", "under-band"] = "elapsed"


def read_changes(
    asked: WhatIfAsked, car: Car, *, boost_pa: float | None = None, own_air: AirState | None = None
) -> Changes:
    """What was asked, in SI.

    Parameters
    ----------
    asked : WhatIfAsked
        As written: ``+250`` or ``2=+300,3=10900``; ``+30 kg`` or ``2450 lb``; ``2.26, 1.82``; ``+1 psi``; ``7500=3 %``
        or ``7000..8000=2 %``; a table of rpm and power or torque.
    car : Car
        As it ran: a mass, or a change of it, is held against its own.
    boost_pa : float, optional
        Highest boost of the run, which a boost named without a sign is held against. [Pa]
    own_air : AirState, optional
        The run's air: what is not said of another stays as in it.

    Returns
    -------
    Changes
        At least one.

    Raises
    ------
    GivenError
        If something cannot be read, with how to write it, or nothing is asked.
    """
    changes = Changes(
        shift_points=read_shift_points(asked.shift_rpm),
        mass_by_kg=_mass(asked.mass, car),
        final_drive=asked.final_drive,
        gear_ratios=read_ratios(asked.gear_ratios),
        circumference_m=_quantity("tire circumference", asked.tire_circumference, "m"),
        air=_air(asked.air, own_air),
        boost_by_pa=_boost(asked.boost, boost_pa),
        power_gains=read_gains(asked.power_gain),
        curve=_curve(asked.power),
    )
    if changes == Changes():
        raise GivenError("Nothing is asked: name a shift point, a mass, a gearing, a boost, an air or a power.")
    return changes


def read_shift_points(text: str) -> tuple[ShiftPoint, ...]:
    """Shift points as written.

    Parameters
    ----------
    text : str
        ``+250`` for all, ``2=+300, 3=10900`` by the gear left; may be empty.

    Returns
    -------
    tuple of ShiftPoint
        In rpm.

    Raises
    ------
    GivenError
        If one cannot be read.

    Examples
    --------
    >>> read_shift_points("+150")
    (ShiftPoint(gear=None, rpm=150.0, by=True),)
    """
    points = []
    for part in filter(None, (one.strip() for one in re.split(r"[,;]", text))):
        found = re.fullmatch(r"(?:(\d+)\s*=\s*)?([+-]?)\s*(\d+(?:\.\d+)?)\s*(?:rpm)?", part)
        if found is None:
            raise GivenError(f"Shift point {part!r} cannot be read: write '+250' for all, or '2=+300' or '3=10900'.")
        gear, sign, rpm = found.groups()
        value = float(rpm) * (-1.0 if sign == "-" else 1.0)
        points.append(ShiftPoint(int(gear) if gear else None, value, by=bool(sign)))
    return tuple(points)


def _quantity(name: str, text: str, si_unit: str) -> float | None:
    """A quantity with its unit; None where nothing is written."""
    if not text.strip():
        return None
    try:
        number, unit = split_quantity(text.strip())
        if not unit:
            ways = " or ".join(repr(f"{number} {one}") for one in WRITTEN_IN[si_unit])
            raise ValueError(f"it says no unit: write {ways}")
        return parse_quantity(text.strip(), si_unit=si_unit, name=name)
    except ValueError as error:
        raise GivenError(f"{name} {text!r}: {error}.") from None


def _mass(text: str, car: Car) -> float | None:
    mass = _quantity("mass", text, "kg")
    if mass is None or text.strip().startswith(("+", "-")):
        return mass
    if car.mass is None:
        raise GivenError("A mass of its own needs the car's mass to be held against: give it, or write '+30 kg'.")
    return mass - car.mass


def read_ratios(text: str) -> tuple[float, ...] | None:
    """Gear ratios as written.

    Parameters
    ----------
    text : str
        First to last, ``2.26, 1.82, 1.43``.

    Returns
    -------
    tuple of float or None
        None where nothing is written. [-]

    Raises
    ------
    GivenError
        If they are no numbers above 0 that fall.

    Examples
    --------
    >>> read_ratios("2.26 1.82")
    (2.26, 1.82)
    """
    if not text.strip():
        return None
    try:
        ratios = tuple(float(one) for one in re.split(r"[,;\s]+", text.strip()))
    except ValueError:
        raise GivenError(
            f"Gear ratios {text!r} cannot be read: write them first to last, '2.26, 1.82, 1.43'."
        ) from None
    if min(ratios) <= 0.0 or list(ratios) != sorted(ratios, reverse=True):
        raise GivenError(f"Gear ratios {text!r} must be above 0 and fall from first to last.")
    return ratios


def _boost(text: str, boost_pa: float | None) -> float | None:
    boost = _quantity("boost", text, "Pa")
    if boost is None or text.strip().startswith(("+", "-")):
        return boost
    if boost_pa is None:
        raise GivenError(
            "A boost of its own needs the run's boost to be held against: write a change, such as '+1 psi'."
        )
    return boost - boost_pa


def _air(given_air: JsonObject | None, own: AirState | None) -> AirState | None:
    if given_air is None:
        return None
    given = read_given(Air, given_air, what="air")
    if given == Air():
        raise GivenError("The air says nothing: give its temperature, pressure, humidity or wind.")
    return measure_air(given, Traces()) if own is None else other_air(own, given)


def read_gains(text: str) -> tuple[PowerGain, ...]:
    """Power gains as written.

    Parameters
    ----------
    text : str
        ``7500=3 %`` above an engine speed, ``7000..8000=2 %`` in a range; several parted by commas.

    Returns
    -------
    tuple of PowerGain
        In rpm and shares of 1.

    Raises
    ------
    GivenError
        If one cannot be read.

    Examples
    --------
    >>> read_gains("7000..8000=2 %")
    (PowerGain(from_rpm=7000.0, share=0.02, to_rpm=8000.0),)
    """
    gains = []
    for part in filter(None, (one.strip() for one in re.split(r"[,;]\s+|;", text))):
        number = r"(\d+(?:[.,]\d+)?)"
        ends = rf"{number}\s*(?:\.\.|-|–|to)?\s*{number}?\s*(?:rpm)?"
        found = re.fullmatch(rf"{ends}\s*=\s*([+-]?\s*\d+(?:[.,]\d+)?)\s*%", part)
        if found is None:
            raise GivenError(
                f"Power gain {part!r} cannot be read: write '7500=3 %', above 7500 rpm three per cent more, or "
                "'7000..8000=2 %' for a range."
            )
        low, high, share = (
            float(one.replace(" ", "").replace(",", ".")) if one else math.inf for one in found.groups()
        )
        if high <= low:
            raise GivenError(f"Power gain {part!r}: the range must rise, from its low end to its high end.")
        gains.append(PowerGain(low, share / 100.0, high))
    return tuple(gains)


def _curve(text: str) -> PowerCurve | None:
    if not text.strip():
        return None
    try:
        curve = read_dyno_curve(text.encode(), name="power curve")
    except NotALog as error:
        raise GivenError(str(error)) from None
    return PowerCurve(curve.engine_rpm, curve.power_w)


def asked_in_words(asked: WhatIfAsked) -> JsonObject:
    """What was asked, as written, without what was left out."""
    given = asked.model_dump(exclude_defaults=True, exclude={"search", "aim"})
    if "power" in given:
        given["power"] = f"a curve of {len(given['power'].splitlines()) - 1} points"
    return given
