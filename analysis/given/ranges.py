"""What a number given of car, slip, air or limit can be: so that a slip of the unit is refused, not believed.

A number without a unit is SI. An oil pressure of "60" would then be 60 Pa, and every run would stay above it. Each
thing that is given has a range that it can lie in at all (`low` to `high`, whatever the unit) and a narrower one for
numbers without a unit, drawn between what such things measure in SI and what they read in other units. Both are wide:
they catch slips of the unit, they judge no taste.

Public: `Range`, `FACTS`, `range_of_bound`, `read_within`, `in_words`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.quantities import TEMPERATURE_DIFFERENCE, conversion_to_si, parse_quantity, split_quantity


@dataclass(frozen=True, slots=True)
class Range:
    """Where the values of one thing given can lie, in the unit it is kept in."""

    si_unit: str
    """The unit it is kept in; empty for a ratio."""
    low: float = -math.inf
    """The least it can be, whatever the unit."""
    high: float = math.inf
    """The greatest it can be, whatever the unit."""
    units: tuple[str, ...] = ()
    """Units to choose from: those of the United States first; empty where the number needs none."""
    bare: tuple[float, float] = (-math.inf, math.inf)
    """The least and the greatest that a number without a unit is believed to be."""
    least_bare: float = 0.0
    """The least size, either side of zero, that a number without a unit is believed to be; zero itself is."""
    hint: str = ""
    """What helps where no unit does."""


_MASS, _PRESSURE, _AIR_PRESSURE = ("lb", "kg"), ("psi", "kPa", "bar"), ("inHg", "kPa", "hPa")
_TEMPERATURE, _DIFFERENCE = ("degF", "degC"), ("delta degF", "K")
_SPEED, _WIND, _FLOW, _SHARE = ("mph", "km/h", "m/s"), ("mph", "km/h", "m/s"), ("lb/h", "kg/h"), ("%",)
_AROUND, _ACROSS, _HEIGHT, _AREA = ("in", "m", "mm", "ft"), ("in", "mm"), ("ft", "m"), ("ft^2", "m^2")
_INERTIA, _TIME, _TURNING, _ACCELERATION = ("lb*ft^2", "kg*m^2"), ("s", "ms"), ("rpm", "krpm"), ("g", "m/s^2")

FACTS: dict[str, Range] = {
    # A child's dragster with driver to a truck. Pounds and kilograms overlap; tonnes do not.
    "mass": Range("kg", 80, 20000, _MASS, hint="with driver"),
    # Wheels of a scooter to those of a pulling tractor; 0.9 m is below any car's and above most diameters in metres.
    "tire_circumference": Range("m", 0.9, 6.5, _AROUND, (0.9, 4.0), hint="all around it, not across"),
    "undriven_tire_circumference": Range("m", 0.9, 6.5, _AROUND, (0.9, 4.0), hint="all around it, not across"),
    # A streamliner 0.1, a rider 0.35, a truck 6 m2; a car of 0.56 m2 is 6 ft2: bare numbers above 3.5 are square feet.
    "drag_area": Range("m^2", 0.05, 12, _AREA, (0.05, 3.5)),
    "rolling_resistance": Range("", 0, 0.2, _SHARE),
    "driveline_efficiency": Range("", 0.3, 1.0, _SHARE),
    # A motorcycle's crank 0.003, a truck's with flywheel 3 kg m2; in lb ft2 the numbers are 24 times as great.
    "engine_inertia": Range("kg*m^2", 0, 20, _INERTIA, (0, 4)),
    "wheel_inertia": Range("kg*m^2", 0, 150, _INERTIA, (0, 40)),
    # The beam is some 0.2 to 0.5 m behind where the car stages; nothing stages a car's length away.
    "rollout": Range("m", 0, 1.5, ("in", "m", "mm")),
    # A model's 20 mm to a ship's 300 mm: inches and millimetres lie far outside in metres.
    "bore": Range("m", 0.02, 0.3, _ACROSS),
    "stroke": Range("m", 0.02, 0.3, _ACROSS),
    "gear_ratios": Range("", 0.1, 40),
    "final_drive": Range("", 0.1, 40),
    # Nitromethane 1.7 to hydrogen 34.
    "fuel_stoichiometric_afr": Range("", 1, 40),
    # Below any idle lie thousands of rev/min and turns a second.
    "rpm_band": Range("rpm", 300, 30000, _TURNING),
    "boost_threshold": Range("Pa", -1.1e5, 1.1e6, _PRESSURE, least_bare=5000),
    "longer_than": Range("s", 0, 120, _TIME, (0, 3)),
    "reaction_s": Range("s", -10, 120, _TIME),
    # From the quickest ever to a car that was pushed: thousandths of a second lie far outside.
    "t60_s": Range("s", 0.5, 120, _TIME),
    "t330_s": Range("s", 1.2, 240, _TIME),
    "t660_s": Range("s", 2, 300, _TIME),
    "t1000_s": Range("s", 2.5, 400, _TIME),
    "t1320_s": Range("s", 3, 500, _TIME),
    # No wheel-driven or jet car has left a strip faster than 170 m/s (380 mph).
    "v660": Range("m/s", 1, 170, _SPEED),
    "v1320": Range("m/s", 1, 170, _SPEED),
    # -40 to 60 degC in the shade; degrees of either scale lie outside in kelvin.
    "temperature": Range("K", 230, 335, _TEMPERATURE),
    "dew_point": Range("K", 200, 315, _TEMPERATURE),
    # Death Valley to 4500 m; inHg, hPa, psi and kPa lie far outside in pascal.
    "pressure": Range("Pa", 5e4, 1.12e5, _AIR_PRESSURE, hint="the station's own, absolute"),
    "relative_humidity": Range("", 0, 1, _SHARE),
    # No one races in a storm: above 12 m/s (27 mph) a bare number is in other units.
    "wind": Range("m/s", -40, 40, _WIND, (-12, 12)),
    "elevation": Range("m", -450, 5000, _HEIGHT),
}
"""Every quantity of `analysis.given.car`, by its key."""

# Bounds of limits. What a channel's values can be stands in the catalogue; here is what a bound without unit can mean.
_BOUNDS: dict[str, Range] = {
    "engine_speed": Range("rpm", units=_TURNING, least_bare=100),  # 9.1 is thousands
    "driveshaft_speed": Range("rpm", units=_TURNING, least_bare=20),
    "turbo_speed": Range("rpm", units=_TURNING, least_bare=1000),  # 120 is thousands
    # psi, bar and kPa of a gauge read less than this; so do the mbar of a small pressure.
    "manifold_pressure": Range("Pa", units=_PRESSURE, least_bare=5000),
    "boost": Range("Pa", units=_PRESSURE, least_bare=5000),
    "oil_pressure": Range("Pa", units=_PRESSURE, least_bare=5000),
    "coolant_pressure": Range("Pa", units=_PRESSURE, least_bare=5000),
    "back_pressure": Range("Pa", units=_PRESSURE, least_bare=5000),
    # Direct injection reads 3000 psi or 20,000 kPa; a carburettor's 4 psi are 27,600 Pa. Diesel rails reach 300 MPa.
    "fuel_pressure": Range("Pa", high=3.5e8, units=_PRESSURE, least_bare=21000),
    "crankcase_pressure": Range("Pa", units=(*_PRESSURE, "inHg", "mbar"), least_bare=1000),
    "barometer": Range("Pa", units=_AIR_PRESSURE),
    # No bound lies at frost: below 280 K the number is degrees of either scale.
    "coolant_temperature": Range("K", units=_TEMPERATURE, bare=(280, 440)),
    "oil_temperature": Range("K", units=_TEMPERATURE, bare=(310, 480)),
    "intake_temperature": Range("K", units=_TEMPERATURE, bare=(260, 500)),
    # Kelvin of a working exhaust; 600 degC and 1500 degF and more would be no bound in kelvin that an engine keeps.
    "exhaust_temperature": Range("K", units=_TEMPERATURE, bare=(700, 1400)),
    "exhaust_temperature_spread": Range(TEMPERATURE_DIFFERENCE, units=_DIFFERENCE, bare=(0, 400)),
    # A quarter of standard gravity and less is a bound in g.
    "acceleration": Range("m/s^2", units=_ACCELERATION, least_bare=2.5),
    "acceleration_lateral": Range("m/s^2", units=_ACCELERATION, least_bare=2.5),
    "acceleration_vertical": Range("m/s^2", units=_ACCELERATION, least_bare=2.5),
    # An air-fuel ratio is no lambda: the leanest mixture burnt is below 4.
    "lambda": Range("", 0.2, 4, hint="lambda is the air-fuel ratio over the fuel's stoichiometric one"),
    "fuel_flow": Range("kg/s", units=_FLOW),
    "battery": Range("V", units=("V",)),
}
_SPEED_CHANNELS = Range("m/s", units=_SPEED, bare=(-5, 150))  # 336 mph; km/h and mph of a quick car lie above


def range_of_bound(channel: str) -> Range | None:
    """Where a bound of a limit on a channel can lie.

    Parameters
    ----------
    channel : str
        Catalogue name, with or without its number.

    Returns
    -------
    Range or None
        None for a channel that the catalogue does not know.

    Examples
    --------
    >>> range_of_bound("oil_pressure").least_bare, range_of_bound("Nitrous Bottle")
    (5000, None)
    """
    kind = kind_of(channel)
    if kind is None:
        return None
    found = _BOUNDS.get(family_of(channel))
    if found is None:
        found = (
            _SPEED_CHANNELS if kind.unit == "m/s" else Range(kind.unit, units=_SHARE if kind.shown_unit == "%" else ())
        )
    return replace(found, low=max(found.low, kind.low), high=found.high if found.high < math.inf else kind.high)


def read_within(given: float | str, can_be: Range, *, name: str = "") -> float:
    """A quantity given, in SI, refused where it cannot be what it is given for.

    Parameters
    ----------
    given : float or str
        ``60``, ``"60"``, ``"60 psi"``.
    can_be : Range
        Where its values can lie.
    name : str
        Words to begin the refusal with: ``oil pressure at least``; may be empty.

    Returns
    -------
    float
        In ``can_be.si_unit``.

    Raises
    ------
    ValueError
        With the reading that the number would have had, and what to write.

    Examples
    --------
    >>> round(read_within("60 psi", range_of_bound("oil_pressure")))
    413685
    >>> read_within(60, range_of_bound("oil_pressure"), name="oil pressure at least")
    Traceback (most recent call last):
    ValueError: oil pressure at least 60 would be 60 Pa (0.0087 psi): write "60 psi" or "60 kPa"
    """
    value = parse_quantity(given, si_unit=can_be.si_unit, name=name or "the value")
    bare = not isinstance(given, str) or not split_quantity(given)[1]
    if bare and not _believed(value, can_be):
        raise ValueError(" ".join(filter(None, (name, _refused_bare(given, value, can_be)))))
    if not can_be.low <= value <= can_be.high:
        raise ValueError(" ".join(filter(None, (name, _refused(given, value, can_be)))))
    return value


def _believed(value: float, can_be: Range) -> bool:
    least, greatest = max(can_be.bare[0], can_be.low), min(can_be.bare[1], can_be.high)
    return least <= value <= greatest and (value == 0 or abs(value) >= can_be.least_bare)


def _refused_bare(given: float | str, value: float, can_be: Range) -> str:
    number = given.strip() if isinstance(given, str) else f"{given:.10g}"
    if can_be.units == _SHARE:
        share = f"{value / 100:g}"
        return f'{number} does not lie from {_span(can_be)}; {number} % is {share}: write "{number} %" or {share}'
    fits = [unit for unit in can_be.units if _fits(value, unit, can_be)]
    if not fits and not can_be.low <= value <= can_be.high:
        return _refused(given, value, can_be)
    written = [f'"{number} {unit}"' for unit in fits or can_be.units]
    return f"{number} would be {in_words(value, can_be)}: write {_either(written)}{_hint(can_be)}"


def _refused(given: float | str, value: float, can_be: Range) -> str:
    shown = given.strip() if isinstance(given, str) else f"{given:.10g}"
    meant = in_words(value, can_be).replace(f" ({shown})", "")
    words = meant if meant.startswith(f"{shown} (") else f"{shown}, which is {meant}," if meant != shown else shown
    return f"{words} cannot be: it must lie from {_span(can_be)}{_hint(can_be)}{_thousand_meant(shown, value, can_be)}"


def _thousand_meant(shown: str, value: float, can_be: Range) -> str:
    """What to write where the mark was to part thousands, which no number of one mark shows."""
    written = re.match(r"(\d{1,3})[.,](\d{3})(?!\d)", shown)
    if written is None or not can_be.low <= 1000 * value <= can_be.high:
        return ""
    return f"; for a thousand times as much write {written[1]}{written[2]}{shown[written.end() :]}"


def _hint(can_be: Range) -> str:
    return f"; {can_be.hint}" if can_be.hint else ""


def _fits(number: float, unit: str, can_be: Range) -> bool:
    conversion = conversion_to_si(unit, si_unit=can_be.si_unit)
    value = number * conversion.scale + conversion.offset if conversion is not None else math.nan
    return can_be.low <= value <= can_be.high


def _either(written: list[str]) -> str:
    return written[0] if len(written) == 1 else f"{', '.join(written[:-1])} or {written[-1]}"


def _span(can_be: Range) -> str:
    unit = _OWN.get(can_be.si_unit, can_be.si_unit)
    other = [name for name in can_be.units if name not in _LEFT_OUT and name != can_be.si_unit][:1]
    ends = [f"{_short(can_be.low)} to {_short(can_be.high)} {unit}".rstrip()]
    if other:
        ends.append(f"({_in(can_be.low, other[0], can_be)} to {_in(can_be.high, other[0], can_be)} {other[0]})")
    return " ".join(ends)


_OWN = {TEMPERATURE_DIFFERENCE: "K"}
_LEFT_OUT = frozenset({"K", "%", "m/s", "ms", "krpm"})


def _in(value: float, unit: str, can_be: Range) -> str:
    conversion = conversion_to_si(unit, si_unit=can_be.si_unit)
    return _short((value - conversion.offset) / conversion.scale) if conversion is not None else "?"


def _short(value: float) -> str:
    """Some three digits that count, never a power of ten."""
    return (
        f"{value:.0f}" if abs(value) >= 1000 else f"{value:.3g}" if abs(value) >= 1e-4 or value == 0 else f"{value:.6f}"
    )


def in_words(value: float, can_be: Range) -> str:
    """A value in the unit it is kept in and in those that people think in: ``60 Pa (0.0087 psi)``.

    Parameters
    ----------
    value : float
        In ``can_be.si_unit``.
    can_be : Range
        What it is given for.

    Examples
    --------
    >>> in_words(220.0, FACTS["temperature"])
    '220 K (-63.7 degF, -53.1 degC)'
    """
    unit = _OWN.get(can_be.si_unit, can_be.si_unit)
    kept = f"{value:.0f}" if abs(value) >= 1e5 else f"{value:.5g}"
    others = [name for name in can_be.units if name not in _LEFT_OUT and name != can_be.si_unit]
    if not others:
        return f"{kept} {unit}".rstrip()
    shown = others if can_be.si_unit == "K" else others[:1]
    return f"{kept} {unit} ({', '.join(f'{_in(value, name, can_be)} {name}' for name in shown)})"
