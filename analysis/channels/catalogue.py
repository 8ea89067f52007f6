"""The catalogue of channels: what each is called, its unit, its sign, what its values can be.

New channels go here first. Names that a log may use for them stand in `analysis.channels.aliases`.

Public: `ChannelKind`, `CATALOGUE`, `kind_of`, `family_of`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache

from passband.analysis.channels.aliases import aliases_of
from passband.analysis.quantities import TEMPERATURE_DIFFERENCE


@dataclass(frozen=True, slots=True)
class ChannelKind:
    """What a channel of one name is."""

    name: str
    """Catalogue name; a numbered family (``lambda``, ``exhaust_temperature``) is listed by its stem."""
    unit: str
    """The unit it is kept in: SI, ``rpm`` for engine speed, ``deg`` for angles, ``delta_K`` for a difference of
    temperatures, empty for a ratio, flag or count."""
    title: str
    """What a reader is shown."""
    low: float = -float("inf")
    """The least value that can be, in `unit`."""
    high: float = float("inf")
    """The greatest value that can be, in `unit`."""
    numbered: bool = False
    """True where a log may hold several (cylinders, banks): ``name_1``, ``name_2``."""
    shown_unit: str = ""
    """The unit a page or print shows it in; empty: as kept."""
    aliases: tuple[str, ...] = ()
    """Names it goes by in logs, lower case, words parted by one blank."""


CATALOGUE: dict[str, ChannelKind] = {
    kind.name: replace(kind, aliases=aliases_of(kind.name))
    for kind in (
        ChannelKind("time", "s", "Time"),
        ChannelKind("engine_speed", "rpm", "Engine speed", -100, 25000),
        ChannelKind("throttle", "", "Throttle", -0.1, 1.2, shown_unit="%"),
        ChannelKind("manifold_pressure", "Pa", "Manifold pressure (absolute)", 0, 1.2e6, shown_unit="kPa"),
        ChannelKind("boost", "Pa", "Boost (gauge)", -1.1e5, 1.1e6, shown_unit="kPa"),
        ChannelKind("barometer", "Pa", "Barometer", 5e4, 1.1e5, shown_unit="kPa"),
        ChannelKind("ground_speed", "m/s", "Ground speed", -5, 200, shown_unit="km/h"),
        ChannelKind("gps_speed", "m/s", "GPS speed", -5, 200, shown_unit="km/h"),
        ChannelKind("wheel_speed_fl", "m/s", "Wheel speed front left", -5, 250, shown_unit="km/h"),
        ChannelKind("wheel_speed_fr", "m/s", "Wheel speed front right", -5, 250, shown_unit="km/h"),
        ChannelKind("wheel_speed_rl", "m/s", "Wheel speed rear left", -5, 250, shown_unit="km/h"),
        ChannelKind("wheel_speed_rr", "m/s", "Wheel speed rear right", -5, 250, shown_unit="km/h"),
        ChannelKind("wheel_speed_driven", "m/s", "Driven wheel speed", -5, 250, shown_unit="km/h"),
        ChannelKind("driveshaft_speed", "rpm", "Driveshaft speed", -100, 20000),
        ChannelKind("acceleration", "m/s^2", "Acceleration (forward)", -60, 80, shown_unit="g"),
        ChannelKind("acceleration_lateral", "m/s^2", "Acceleration (sideways)", -60, 60, shown_unit="g"),
        ChannelKind("acceleration_vertical", "m/s^2", "Acceleration (upward)", -100, 100, shown_unit="g"),
        ChannelKind("gear", "", "Gear", -1, 12),
        ChannelKind("shift_cut", "", "Shift cut", 0, 100),
        ChannelKind("shift_lever", "", "Shift lever"),
        ChannelKind("lambda", "", "Lambda", 0.2, 20, numbered=True),
        ChannelKind("fuel_pressure", "Pa", "Fuel pressure (gauge)", -1e5, 2e7, shown_unit="kPa"),
        ChannelKind("oil_pressure", "Pa", "Oil pressure (gauge)", -1e5, 2e6, shown_unit="kPa"),
        ChannelKind("oil_temperature", "K", "Oil temperature", 220, 480, shown_unit="degC"),
        ChannelKind("coolant_temperature", "K", "Coolant temperature", 220, 440, shown_unit="degC"),
        ChannelKind("coolant_pressure", "Pa", "Coolant pressure (gauge)", -1e5, 1e6, shown_unit="kPa"),
        ChannelKind("intake_temperature", "K", "Intake temperature", 200, 500, shown_unit="degC"),
        ChannelKind("exhaust_temperature", "K", "Exhaust temperature", 220, 1600, numbered=True, shown_unit="degC"),
        ChannelKind(
            "exhaust_temperature_spread", TEMPERATURE_DIFFERENCE, "Exhaust temperature spread", 0, 1400, shown_unit="K"
        ),
        ChannelKind("ignition_advance", "deg", "Ignition advance", -60, 90),
        ChannelKind("injector_duty", "", "Injector duty", -0.01, 1.5, shown_unit="%"),
        ChannelKind("fuel_flow", "kg/s", "Fuel flow", 0, 5, shown_unit="kg/h"),
        ChannelKind("knock", "", "Knock"),
        ChannelKind("crankcase_pressure", "Pa", "Crankcase pressure (gauge)", -1.1e5, 5e5, shown_unit="kPa"),
        ChannelKind("back_pressure", "Pa", "Exhaust back pressure (gauge)", -1e5, 2e6, shown_unit="kPa"),
        ChannelKind("turbo_speed", "rpm", "Turbo speed", 0, 400000),
        ChannelKind("clutch", "", "Clutch"),
        ChannelKind("brake", "", "Brake"),
        ChannelKind("launch_switch", "", "Launch switch"),
        ChannelKind("battery", "V", "Battery", 0, 1000),  # an electric drive's pack: 400 and 800 V are common
        ChannelKind("latitude", "deg", "Latitude", -90, 90),
        ChannelKind("longitude", "deg", "Longitude", -180, 180),
        ChannelKind("satellites", "", "GPS satellites", 0, 80),
    )
}


@lru_cache(maxsize=4096)
def family_of(channel: str) -> str:
    """The stem of a numbered channel's name.

    Examples
    --------
    >>> family_of("exhaust_temperature_3"), family_of("engine_speed")
    ('exhaust_temperature', 'engine_speed')
    """
    stem = re.sub(r"_\d+$", "", channel)
    return stem if stem in CATALOGUE and CATALOGUE[stem].numbered else channel


def kind_of(channel: str) -> ChannelKind | None:
    """What the catalogue says of a channel; None for one that keeps its own header as its name.

    Examples
    --------
    >>> kind_of("lambda_2").unit, kind_of("Nitrous Bottle")
    ('', None)
    """
    return CATALOGUE.get(family_of(channel))
