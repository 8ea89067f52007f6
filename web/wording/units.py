"""The units a reader wants: feet for marks always, the rest metric or as in the United States.

Public: `UnitSystem`, `Unit`, `UNIT_SYSTEMS`, `chosen_units`, `units_of_language`, `unit_for`, `kind_of_si`,
`written_unit`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, get_args

from passband.analysis.quantities import (
    ALIASES,
    DIFFERENCE_SIGN,
    FOOT_M,
    G_MPS2,
    TEMPERATURE_DIFFERENCE,
    conversion_to_si,
)

UnitSystem = Literal["us", "metric"]
UNIT_SYSTEMS: tuple[UnitSystem, ...] = get_args(UnitSystem)
"""``us``: psi, mph, hp, degF, Btu. ``metric``: kPa, km/h, kW, degC, kJ. Both: rpm, s, ft."""


@dataclass(frozen=True, slots=True)
class Unit:
    """How a figure kept in SI is shown: ``shown = (si - offset) / scale``."""

    label: str
    """As written behind the figure; empty for a ratio."""
    scale: float
    """SI units per shown unit."""
    digits: int
    """Decimals where nothing says how sure the figure is."""
    most_digits: int
    """Decimals that are never exceeded, however sure it is."""
    offset: float = 0.0
    """SI value at shown zero; not 0 only for temperatures."""

    def of(self, si: float, *, difference: bool = False) -> float:
        """The figure in this unit; a difference of two has no offset."""
        return si / self.scale if difference else (si - self.offset) / self.scale


_BOTH: dict[str, Unit] = {
    "time": Unit("s", 1.0, 3, 3),
    "rpm": Unit("rpm", 1.0, 0, 0),
    "acceleration": Unit("g", G_MPS2, 2, 3),
    "share": Unit("%", 0.01, 0, 1),
    "ratio": Unit("", 1.0, 3, 4),
    "angle": Unit("deg", 1.0, 1, 2),
    "voltage": Unit("V", 1.0, 2, 2),
    "ppm": Unit("ppm", 1.0, 0, 1),
    "track": Unit("ft", FOOT_M, 0, 1),
    "plain": Unit("", 1.0, 2, 4),
}
# Exact by definition: mile, pound, inch, standard gravity; horsepower is 550 ft lbf/s; the Btu is that of the
# International Table, 4.1868 J/g over a degree Fahrenheit and a pound.
_POUND_KG, _POUND_N = 0.45359237, 0.45359237 * G_MPS2
_PSI_PA = _POUND_N / 0.0254**2
_METRIC: dict[str, Unit] = _BOTH | {
    "energy": Unit("kJ", 1000.0, 0, 1),
    "speed": Unit("km/h", 1 / 3.6, 1, 2),
    "pressure": Unit("kPa", 1000.0, 0, 1),
    "barometer": Unit("kPa", 1000.0, 1, 1),
    "pressure_time": Unit("kPa s", 1000.0, 1, 2),
    "power": Unit("kW", 1000.0, 0, 1),
    "temperature": Unit("°C", 1.0, 0, 1, 273.15),
    "temperature_difference": Unit("K", 1.0, 0, 1),
    "length": Unit("m", 1.0, 2, 3),
    "short_length": Unit("mm", 0.001, 0, 0),
    "altitude": Unit("m", 1.0, 0, 0),
    "mass": Unit("kg", 1.0, 1, 2),
    "mass_flow": Unit("kg/h", 1 / 3600, 0, 1),
    "bench_flow": Unit("L/s", 0.001, 1, 1),
    "compressor_flow": Unit("kg/s", 1.0, 2, 3),
    "density": Unit("kg/m³", 1.0, 3, 4),
    "piston_speed": Unit("m/s", 1.0, 1, 2),
}
_US: dict[str, Unit] = _BOTH | {
    "energy": Unit("Btu", 4186.8 * _POUND_KG * 5 / 9, 0, 1),
    "speed": Unit("mph", 0.44704, 1, 2),
    "pressure": Unit("psi", _PSI_PA, 1, 2),
    "barometer": Unit("inHg", 3386.389, 2, 2),
    "pressure_time": Unit("psi s", _PSI_PA, 1, 2),
    "power": Unit("hp", 550 * FOOT_M * _POUND_N, 0, 1),
    "temperature": Unit("°F", 5 / 9, 0, 1, 273.15 - 32 * 5 / 9),
    "temperature_difference": Unit("°F", 5 / 9, 0, 1),
    "length": Unit("ft", FOOT_M, 2, 3),
    "short_length": Unit("in", 0.0254, 1, 1),
    "altitude": Unit("ft", FOOT_M, 0, 0),
    "mass": Unit("lb", _POUND_KG, 0, 1),
    "mass_flow": Unit("lb/h", _POUND_KG / 3600, 0, 1),
    "bench_flow": Unit("cfm", FOOT_M**3 / 60, 0, 0),
    "compressor_flow": Unit("lb/min", _POUND_KG / 60, 0, 1),
    "density": Unit("lb/ft³", _POUND_KG / FOOT_M**3, 4, 5),
    "piston_speed": Unit("ft/min", FOOT_M / 60, 0, 0),
}
_KIND_OF_SI = {
    "rpm": "rpm", "Pa": "pressure", "m/s": "speed", "K": "temperature", "m/s^2": "acceleration", "s": "time",
    "deg": "angle", "V": "voltage", "kg/s": "mass_flow", "m": "length", "W": "power", "kg": "mass",
    TEMPERATURE_DIFFERENCE: "temperature_difference",
}  # fmt: skip

# A number, its decimals, and the unit behind it.
_BOUND = re.compile(r"\s*[-+]?\d*(?:[.,](?P<decimals>\d*))?(?:[eE][-+]?\d+)?\s*(?P<unit>\S.*?)\s*$", re.DOTALL)


def chosen_units(*wishes: str | None) -> UnitSystem:
    """The first wish that names a unit system: the address's, then the one remembered; else ``us``.

    Examples
    --------
    >>> chosen_units(None, "metric"), chosen_units("furlongs", None)
    ('metric', 'us')
    """
    for wish in wishes:
        for system in UNIT_SYSTEMS:
            if wish == system:
                return system
    return "us"


def units_of_language(accept_language: str | None) -> UnitSystem | None:
    """The units of a reader who never chose any, by the languages that the browser asks for; None where it says none.

    Where English is read first, strips print miles an hour and tuners speak of psi; elsewhere km/h and kPa.

    Examples
    --------
    >>> units_of_language("de-DE,de;q=0.9,en;q=0.5"), units_of_language("en-US,en;q=0.9"), units_of_language(None)
    ('metric', 'us', None)
    """
    first = (accept_language or "").split(",")[0].split(";")[0].strip().lower()
    language = first.split("-")[0]
    if not language.isalpha():
        return None
    return "us" if language == "en" else "metric"


def unit_for(kind: str, units: UnitSystem) -> Unit:
    """How figures of a kind (``pressure``, ``speed``, ``rpm`` ...) are shown.

    Raises
    ------
    KeyError
        If there is no such kind.

    Examples
    --------
    >>> round(unit_for("speed", "us").of(44.704), 6), unit_for("temperature", "metric").of(293.15)
    (100.0, 20.0)
    """
    return (_US if units == "us" else _METRIC)[kind]


def kind_of_si(si_unit: str, *, shown_unit: str = "") -> str:
    """The kind of figure that a channel's SI unit stands for; a ratio shown in per cent is a share.

    Examples
    --------
    >>> kind_of_si("Pa"), kind_of_si("", shown_unit="%"), kind_of_si("parsec")
    ('pressure', 'share', 'plain')
    """
    if si_unit == "" and shown_unit == "%":
        return "share"
    return _KIND_OF_SI.get(si_unit, "plain")


def written_unit(given: object, *, si_unit: str) -> Unit | None:
    """The unit in which a user wrote a bound (``"250 kPa"``), so that it is answered in the same.

    Parameters
    ----------
    given : object
        The bound as the car's description holds it: a number, or text with or without a unit.
    si_unit : str
        The channel's unit.

    Returns
    -------
    Unit or None
        With as many decimals as were written; None where no unit of that kind was.

    Examples
    --------
    >>> written_unit("3.5 bar", si_unit="Pa").label, written_unit(9100, si_unit="rpm")
    ('bar', None)
    """
    if not isinstance(given, str):
        return None
    match = _BOUND.match(given)
    conversion = conversion_to_si(match["unit"], si_unit=si_unit) if match else None
    if match is None or conversion is None:
        return None
    label = DIFFERENCE_SIGN.sub("", match["unit"], count=1) if si_unit == TEMPERATURE_DIFFERENCE else match["unit"]
    name = {"degC": "°C", "degF": "°F", "percent": "%"}.get(ALIASES.get(label.lower(), ""), label)
    digits = 0 if si_unit == "rpm" else len(match["decimals"] or "")
    return Unit(name, conversion.scale, digits, digits + 1, conversion.offset)
