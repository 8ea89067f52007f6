"""The door for what the user tells: car, limits, timing slip, air. Any unit in, SI kept.

Public: `Car`, `Limit`, `Condition`, `Curve`, `Slip`, `Air`.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.quantities import parse_quantity


def _quantity(si_unit: str, low: float | None = None, high: float | None = None) -> Any:
    def read(given: Any) -> float:
        value = parse_quantity(given, si_unit=si_unit)
        if (low is not None and value < low) or (high is not None and value > high):
            raise ValueError(
                f"{given!r} is {value:g} {si_unit}; it must lie from {low:g} to {high:g} {si_unit}".rstrip()
            )
        return value

    return BeforeValidator(read)


Mass = Annotated[float, _quantity("kg", 50, 30000)]
Length = Annotated[float, _quantity("m", 0, 20)]
Area = Annotated[float, _quantity("m^2", 0.01, 30)]
Inertia = Annotated[float, _quantity("kg*m^2", 0, 500)]
Ratio = Annotated[float, _quantity("", 0, 100)]
Rpm = Annotated[float, _quantity("rpm", 0, 30000)]
Pressure = Annotated[float, _quantity("Pa", -1.1e5, 1e8)]
Temperature = Annotated[float, _quantity("K", 150, 400)]
Speed = Annotated[float, _quantity("m/s", -100, 250)]
Seconds = Annotated[float, _quantity("s", 0, 3600)]


class _Told(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Condition(_Told):
    """A state that must hold for a limit to be looked at."""

    channel: str
    at_least: float | str | None = None
    at_most: float | str | None = None

    @model_validator(mode="after")
    def _read(self) -> Condition:
        return _with_si_bounds(self)


class Curve(_Told):
    """A limit that depends on another channel: straight lines between points, held past the ends."""

    against: str
    points: list[tuple[float | str, float | str]] = Field(min_length=2)
    side: Literal["at_least", "at_most"]


class Limit(_Told):
    """A rule of the user's for one channel."""

    name: str = Field(min_length=1, max_length=200)
    channel: str = Field(min_length=1, max_length=200)
    at_least: float | str | None = None
    at_most: float | str | None = None
    curve: Curve | None = None
    during: Literal["run", "staging", "burnout", "after", "log"] = "run"
    when: list[Condition] = Field(default_factory=list, max_length=20)
    longer_than: Seconds = 0.0

    @model_validator(mode="after")
    def _one_rule(self) -> Limit:
        if sum(rule is not None for rule in (self.at_least, self.at_most, self.curve)) != 1:
            raise ValueError(f"limit {self.name!r} needs exactly one of at_least, at_most, curve")
        return self


def _with_si_bounds(condition: Condition) -> Condition:
    if condition.at_least is None and condition.at_most is None:
        raise ValueError(f"condition on {condition.channel!r} needs at_least or at_most")
    return condition


def bound_in_si(given: float | str, *, channel: str) -> float:
    """A limit's bound in the unit its channel is kept in.

    Parameters
    ----------
    given : float or str
        ``9100``, ``"9100 rpm"``, ``"250 kPa"``.
    channel : str
        Catalogue name; for a channel the catalogue does not know the number is taken as the log writes it.

    Returns
    -------
    float
        In the channel's unit.

    Examples
    --------
    >>> bound_in_si("250 kPa", channel="oil_pressure")
    250000.0
    """
    kind = kind_of(channel)
    if kind is None:
        return parse_quantity(given.split()[0] if isinstance(given, str) else given, si_unit="", name=channel)
    return parse_quantity(given, si_unit=kind.unit, name=channel)


class Car(_Told):
    """What the user knows of the vehicle. All but the name optional; masses with driver."""

    name: str = Field(min_length=1, max_length=200)
    mass: Mass | None = None
    driven_axle: Literal["front", "rear", "all"] | None = None
    transmission: Literal["clutch", "converter"] | None = None
    gear_ratios: list[Ratio] | None = Field(default=None, min_length=1, max_length=12)
    final_drive: Ratio | None = None
    tire_circumference: Length | None = None
    undriven_tire_circumference: Length | None = None
    drag_area: Area | None = None
    rolling_resistance: Ratio | None = None
    driveline_efficiency: Annotated[float, _quantity("", 0.3, 1.0)] | None = None
    engine_inertia: Inertia | None = None
    wheel_inertia: Inertia | None = None
    rollout: Length | None = None
    bore: Length | None = None
    stroke: Length | None = None
    cylinders: int | None = Field(default=None, ge=1, le=24)
    fuel_stoichiometric_afr: Ratio | None = None
    rpm_band: tuple[Rpm, Rpm] | None = None
    boost_threshold: Pressure | None = None
    channels: dict[str, str] = Field(default_factory=dict)
    limits: list[Limit] = Field(default_factory=list, max_length=200)

    @model_validator(mode="after")
    def _sound(self) -> Car:
        if self.rpm_band is not None and self.rpm_band[0] >= self.rpm_band[1]:
            raise ValueError(f"rpm_band must rise, got {list(self.rpm_band)}")
        if self.gear_ratios is not None and any(ratio <= 0 for ratio in self.gear_ratios):
            raise ValueError(f"gear_ratios must be > 0, got {self.gear_ratios}")
        names = [limit.name for limit in self.limits]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f"two limits are called {name!r}; give each a name of its own")
        return self

    @property
    def overall_ratios(self) -> list[float] | None:
        """Engine turns per turn of the driven wheel, first gear first; None unless gears and final drive are known."""
        if self.gear_ratios is None or self.final_drive is None:
            return None
        return [ratio * self.final_drive for ratio in self.gear_ratios]


class Slip(_Told):
    """The timing slip. Times run from the clock's start, but for the reaction; speeds are means of the traps."""

    reaction_s: float | None = None
    t60_s: Seconds | None = None
    t330_s: Seconds | None = None
    t660_s: Seconds | None = None
    v660: Speed | None = None
    t1000_s: Seconds | None = None
    t1320_s: Seconds | None = None
    v1320: Speed | None = None

    @model_validator(mode="after")
    def _rises(self) -> Slip:
        told = [(ft, time) for ft, time in self.times if time is not None]
        for (ft_a, time_a), (ft_b, time_b) in pairwise(told):
            if time_b <= time_a:
                raise ValueError(f"the slip's times must rise: {ft_a} ft {time_a} s, {ft_b} ft {time_b} s")
        return self

    @property
    def times(self) -> list[tuple[int, float | None]]:
        """Feet and seconds, in order."""
        return [(60, self.t60_s), (330, self.t330_s), (660, self.t660_s), (1000, self.t1000_s), (1320, self.t1320_s)]


class Air(_Told):
    """The day's air. Pressure is the station's own, absolute; wind positive from behind."""

    temperature: Temperature | None = None
    pressure: Annotated[float, _quantity("Pa", 4e4, 1.2e5)] | None = None
    relative_humidity: Annotated[float, _quantity("", 0, 1)] | None = None
    dew_point: Temperature | None = None
    wind: Speed | None = None
    elevation: Annotated[float, _quantity("m", -500, 6000)] | None = None
