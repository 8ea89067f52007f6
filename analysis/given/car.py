"""The door for what the user tells: car, limits, timing slip, air. Any unit in, SI kept.

Public: `Car`, `Limit`, `Condition`, `Curve`, `Slip`, `Air`, `bound_in_si`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Any, Literal

from annotated_types import GroupedMetadata
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from passband.analysis.given.plus_minus import half_width_in_si, part_plus_minus
from passband.analysis.given.ranges import FACTS, Range, in_words, range_of_bound, read_within
from passband.analysis.given.written import condition_written, listed
from passband.analysis.quantities import FOOT_M, KEPT, conversion_to_si, parse_quantity, split_quantity


@dataclass(frozen=True)
class _Fact(GroupedMetadata):
    """A number in SI or a text with a unit, refused where it cannot be what it stands for; its bounds for a schema."""

    name: str

    def __iter__(self) -> Iterator[object]:
        within = FACTS[self.name]
        bounds = {"minimum": within.low, "maximum": within.high}
        yield BeforeValidator(lambda given: _read(given, within, self.name))
        yield WithJsonSchema({"type": "number"} | {key: value for key, value in bounds.items() if math.isfinite(value)})


def _read(given: float | str, within: Range, name: str) -> float:
    two = part_plus_minus(given) if isinstance(given, str) else None
    try:
        return read_within(given, within)
    except ValueError:
        if two is None:
            raise
        if name not in MEASURED_FACTS:
            raise ValueError(f"it takes no plus-minus, being counted or chosen: write {two[0]!r} alone") from None
        raise ValueError(
            f"the plus-minus of {given!r} cannot be used: it must be no less than 0, and per cent or of the fact's own "
            f"kind; else write {two[0]!r} alone"
        ) from None


def _fact(name: str) -> Any:
    return _Fact(name)


def _list(given: Any) -> Any:
    return listed(given) if isinstance(given, str) else given


def _number_or_text(given: Any) -> Any:
    if isinstance(given, bool):
        raise ValueError(f"must be a number or a text with a unit, got {given!r}")
    return given


def _whole_number(given: Any) -> Any:
    if isinstance(given, (bool, str)):
        raise ValueError(f"must be a whole number, got {given!r}")
    return given


MEASURED_FACTS = frozenset({
    "mass", "tire_circumference", "undriven_tire_circumference", "drag_area", "rolling_resistance",
    "driveline_efficiency", "engine_inertia", "wheel_inertia", "rollout",
    "temperature", "pressure", "relative_humidity", "dew_point", "wind",
})  # fmt: skip
"""Facts that are measured, and may say how surely; ratios, bores and bounds are counted or chosen."""

Bound = Annotated[float | str, BeforeValidator(_number_or_text)]
"""A limit's bound as given; its channel's unit is not known here."""


class _Given(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _GivenWithPlusMinus(_Given):
    """Facts that may carry their own plus-minus: parted from the text, kept in SI beside the values."""

    @model_validator(mode="before")
    @classmethod
    def _part(cls, given: Any) -> Any:
        if not isinstance(given, Mapping):
            return given
        parted, widths = dict(given), given.get("plus_minus") or {}
        if not isinstance(widths, Mapping):
            return given
        can_have = MEASURED_FACTS & cls.model_fields.keys()
        if unknown := sorted(widths.keys() - can_have):
            raise ValueError(f"{unknown[0]} takes no plus-minus; those that do are {', '.join(sorted(can_have))}")
        found = {key: _half_width(key, half, given.get(key, "")) for key, half in widths.items()}
        for key in can_have & given.keys():
            two = part_plus_minus(given[key]) if isinstance(given[key], str) else None
            with suppress(ValueError):  # refused at the field itself, which then reads the text as it stands
                if two is not None:
                    found[key] = _half_width(key, two[1], two[0])
                    parted[key] = two[0]
        return parted | ({"plus_minus": found} if found else {})


def _half_width(key: str, half: Any, value: Any) -> float:
    try:
        return half_width_in_si(half, value, FACTS[key])
    except (TypeError, ValueError) as error:
        raise ValueError(f"{key}: {error}") from None


class Condition(_Given):
    """A state that must hold for a limit to be looked at."""

    channel: str
    at_least: Bound | None = None
    at_most: Bound | None = None

    @model_validator(mode="before")
    @classmethod
    def _in_words(cls, given: Any) -> Any:
        return condition_written(given) if isinstance(given, str) else given

    @model_validator(mode="after")
    def _one_bound(self) -> Condition:
        if self.at_least is None and self.at_most is None:
            raise ValueError(f"condition on {self.channel!r} needs at_least or at_most")
        return self


class Curve(_Given):
    """A limit that depends on another channel: straight lines between points, held past the ends."""

    against: str
    points: list[tuple[Bound, Bound]] = Field(min_length=2, max_length=200)
    side: Literal["at_least", "at_most"]

    @model_validator(mode="after")
    def _rises(self) -> Curve:
        try:
            places = [bound_in_si(x, channel=self.against) for x, _ in self.points]
        except (ValueError, IndexError):  # of another unit: who reads the car says at which point
            return self
        for (a, _), (b, _), here, there in zip(self.points, self.points[1:], places, places[1:], strict=False):
            if there <= here:
                raise ValueError(f"the points must rise along {self.against!r}: {b!r} comes after {a!r}")
        return self


class Limit(_Given):
    """A rule of the user's for one channel."""

    name: str = Field(min_length=1, max_length=200)
    channel: str = Field(min_length=1, max_length=200)
    at_least: Bound | None = None
    at_most: Bound | None = None
    curve: Curve | None = None
    during: Literal["run", "staging", "burnout", "after", "log"] = "run"
    when: list[Condition] = Field(default_factory=list, max_length=20)
    longer_than: Annotated[float, _fact("longer_than")] = 0.0

    @model_validator(mode="after")
    def _one_rule(self) -> Limit:
        if sum(rule is not None for rule in (self.at_least, self.at_most, self.curve)) != 1:
            raise ValueError(f"limit {self.name!r} needs exactly one of at_least, at_most, curve")
        return self


def bound_in_si(given: float | str, *, channel: str, log_unit: str | None = None, name: str = "") -> float:
    """A limit's bound in the unit its channel is kept in.

    Parameters
    ----------
    given : float or str
        ``9100``, ``"9100 rpm"``, ``"250 kPa"``.
    channel : str
        Catalogue name; for a channel the catalogue does not know a number is taken as the log writes it.
    log_unit : str, optional
        Unit in which a log writes a channel that the catalogue does not know; None where no log is at hand.
    name : str
        Words to begin a refusal with: ``oil pressure at least``.

    Returns
    -------
    float
        In the channel's unit.

    Raises
    ------
    ValueError
        If the channel cannot have such a value, or its unit is another.

    Examples
    --------
    >>> bound_in_si("250 kPa", channel="oil_pressure"), bound_in_si("2 bar", channel="Bottle", log_unit="kPa")
    (250000.0, 200.0)
    """
    can_be = range_of_bound(channel)
    if can_be is not None:
        return read_within(given, can_be, name=name)
    number, unit = split_quantity(given) if isinstance(given, str) else (given, "")
    value = parse_quantity(number, si_unit="", name=name or channel)
    return _in_log_unit(value, unit, log_unit, channel) if unit and log_unit is not None else value


def _in_log_unit(value: float, unit: str, log_unit: str, channel: str) -> float:
    """A bound's value in the unit that a log writes a channel in."""
    for si_unit in KEPT.values():
        of, into = (conversion_to_si(one, si_unit=si_unit) for one in (unit, log_unit))
        if of is not None and into is not None:
            return (value * of.scale + of.offset - into.offset) / into.scale
    stated = f"in {log_unit}" if log_unit else "without a unit"
    raise ValueError(f"the log writes {channel!r} {stated}, and a bound in {unit} cannot be held against it")


class Car(_GivenWithPlusMinus):
    """What the user knows of the vehicle. All but the name optional; masses with driver."""

    name: str = Field(min_length=1, max_length=200)
    mass: Annotated[float, _fact("mass")] | None = None
    driven_axle: Literal["front", "rear", "all"] | None = None
    transmission: Literal["clutch", "converter"] | None = None
    gear_ratios: Annotated[list[Annotated[float, _fact("gear_ratios")]] | None, BeforeValidator(_list)] = Field(
        default=None, min_length=1, max_length=12
    )
    final_drive: Annotated[float, _fact("final_drive")] | None = None
    tire_circumference: Annotated[float, _fact("tire_circumference")] | None = None
    undriven_tire_circumference: Annotated[float, _fact("undriven_tire_circumference")] | None = None
    drag_area: Annotated[float, _fact("drag_area")] | None = None
    rolling_resistance: Annotated[float, _fact("rolling_resistance")] | None = None
    driveline_efficiency: Annotated[float, _fact("driveline_efficiency")] | None = None
    engine_inertia: Annotated[float, _fact("engine_inertia")] | None = None
    wheel_inertia: Annotated[float, _fact("wheel_inertia")] | None = None
    rollout: Annotated[float, _fact("rollout")] | None = None
    bore: Annotated[float, _fact("bore")] | None = None
    stroke: Annotated[float, _fact("stroke")] | None = None
    cylinders: Annotated[int, Field(ge=1, le=24), BeforeValidator(_whole_number)] | None = None
    fuel_stoichiometric_afr: Annotated[float, _fact("fuel_stoichiometric_afr")] | None = None
    rpm_band: Annotated[
        tuple[Annotated[float, _fact("rpm_band")], Annotated[float, _fact("rpm_band")]] | None, BeforeValidator(_list)
    ] = None
    boost_threshold: Annotated[float, _fact("boost_threshold")] | None = None
    channels: dict[str, str] = Field(default_factory=dict)
    layouts: dict[str, dict[str, str]] = Field(default_factory=dict, max_length=1000)
    limits: list[Limit] = Field(default_factory=list, max_length=200)
    plus_minus: dict[str, float] = Field(default_factory=dict)

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
    def has_converter(self) -> bool:
        """Whether a torque converter stands where else a clutch does."""
        return self.transmission == "converter"

    @property
    def usual_axle(self) -> Literal["front", "rear", "all"]:
        """The driven axle; the rear one, as most drag cars have it, where none is given."""
        return self.driven_axle or "rear"

    @property
    def overall_ratios(self) -> list[float] | None:
        """Engine turns per turn of the driven wheel, first gear first; None unless gears and final drive are known."""
        if self.gear_ratios is None or self.final_drive is None:
            return None
        return [ratio * self.final_drive for ratio in self.gear_ratios]


class Slip(_Given):
    """The timing slip. Times run from the clock's start, but for the reaction; speeds are means of the traps."""

    reaction_s: Annotated[float, _fact("reaction_s")] | None = None
    t60_s: Annotated[float, _fact("t60_s")] | None = None
    t330_s: Annotated[float, _fact("t330_s")] | None = None
    t660_s: Annotated[float, _fact("t660_s")] | None = None
    v660: Annotated[float, _fact("v660")] | None = None
    t1000_s: Annotated[float, _fact("t1000_s")] | None = None
    t1320_s: Annotated[float, _fact("t1320_s")] | None = None
    v1320: Annotated[float, _fact("v1320")] | None = None

    @field_validator("v660", "v1320", mode="before")
    @classmethod
    def _speed(cls, given: Any, context: ValidationInfo) -> Any:
        _check_bare_speed(given, str(context.field_name), context.data)
        return given

    @model_validator(mode="after")
    def _rises(self) -> Slip:
        timed = [(ft, time) for ft, time in self.times if time is not None]
        for (ft_a, time_a), (ft_b, time_b) in pairwise(timed):
            if time_b <= time_a:
                raise ValueError(f"the slip's times must rise: {ft_a} ft {time_a} s, {ft_b} ft {time_b} s")
        return self

    @property
    def times(self) -> list[tuple[int, float | None]]:
        """Feet and seconds, in order."""
        return [(60, self.t60_s), (330, self.t330_s), (660, self.t660_s), (1000, self.t1000_s), (1320, self.t1320_s)]


MOST_OF_MEAN = 2.2
"""A trap speed above so many times the mean since the mark before is none: a car gaining speed evenly from rest has 2,
and mph read as m/s are 2.24 times as many on top. [-]"""
_MARKS = {"t60_s": 60, "t330_s": 330, "t660_s": 660, "t1000_s": 1000, "t1320_s": 1320}


def _check_bare_speed(given: Any, key: str, others: Mapping[str, Any]) -> None:
    """Refuse a trap speed without a unit that, as m/s, the slip's own times do not allow."""
    reached = [(feet, others[mark]) for mark, feet in _MARKS.items() if others.get(mark) and feet <= int(key[1:])]
    if not reached or reached[-1][0] != int(key[1:]):
        return
    try:
        number, unit = split_quantity(str(given))
    except ValueError:
        return
    (feet_a, time_a), (feet_b, time_b) = ([(0, 0.0), *reached])[-2:]
    mean = (feet_b - feet_a) * FOOT_M / (time_b - time_a) if time_b > time_a else math.inf
    value = float(number.replace(",", "."))
    if not unit and value > MOST_OF_MEAN * mean:
        raise ValueError(
            f"{number} would be {in_words(value, FACTS[key])}, {value / mean:.1f} times the mean of the "
            f'{time_b - time_a:.3f} s before that mark: write "{number} mph" or "{number} km/h"'
        )


class Air(_GivenWithPlusMinus):
    """The day's air. Pressure is the station's own, absolute; wind positive from behind."""

    temperature: Annotated[float, _fact("temperature")] | None = None
    pressure: Annotated[float, _fact("pressure")] | None = None
    relative_humidity: Annotated[float, _fact("relative_humidity")] | None = None
    dew_point: Annotated[float, _fact("dew_point")] | None = None
    wind: Annotated[float, _fact("wind")] | None = None
    elevation: Annotated[float, _fact("elevation")] | None = None
    plus_minus: dict[str, float] = Field(default_factory=dict)
