"""Cars as pages are given them: as their owners wrote them, read once into what a page asks of them.

Public: `CarShown`, `CarVersion`, `FactDiffers`, `LimitGiven`, `CurveGiven`, `limits_given`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from passband.analysis.results.plain_values import JsonObject, Stored

Written: TypeAlias = str | int | float
"""A number as its owner wrote it, with its unit or without."""
Fact: TypeAlias = "Written | Sequence[Written] | None"
"""What a field of a car holds; None where it was not given."""


@dataclass(frozen=True, slots=True)
class CurveGiven:
    """A bound that goes with another channel."""

    against: str
    """That channel."""
    side: str
    """``at_least`` or ``at_most``."""
    points: tuple[tuple[Written, Written], ...]
    """Where, and the bound there."""


@dataclass(frozen=True, slots=True)
class LimitGiven:
    """A limit as its owner wrote it."""

    name: str
    """Its name."""
    channel: str
    """What it holds for."""
    at_least: Written | None = None
    """None where it is no such bound."""
    at_most: Written | None = None
    """None where it is no such bound."""
    curve: CurveGiven | None = None
    """None where it is no such bound."""
    during: str = "run"
    """When it is looked at."""
    longer_than: Written | None = None
    """How long it may be broken; None where nobody said. [s]"""
    when: tuple[str, ...] = ()
    """Conditions, in words."""


@dataclass(frozen=True, slots=True)
class CarShown:
    """A car in one version."""

    name: str
    """As its owner calls it."""
    id: str = ""
    """Its id; empty of one that is not kept yet."""
    version: int = 0
    """From 1; 0 of one that is not kept yet. [-]"""
    made_at: str = ""
    """When this version was made, ISO 8601, UTC; empty of one that is not kept yet."""
    given: Stored = field(default_factory=dict)
    """All that was written of it, for a form to show again."""
    limits: tuple[LimitGiven, ...] = ()
    """Its limits."""

    @classmethod
    def of(cls, given: JsonObject, *, id: str = "", version: int = 0, made_at: str = "") -> CarShown:
        """A car out of what was written of it."""
        return cls(str(given.get("name", "")), id, version, made_at, given, limits_given(given))

    def fact(self, name: str) -> Fact:
        """One of its fields as written; None where it was not given."""
        fact: Fact = self.given.get(name)
        return fact

    @property
    def gear_ratios(self) -> Fact:
        """First to last, as written."""
        return self.fact("gear_ratios")

    @property
    def final_drive(self) -> Fact:
        """As written."""
        return self.fact("final_drive")

    @property
    def channels(self) -> dict[str, str]:
        """Channels by the headers that its owner gave them to."""
        return self.given.get("channels") or {}

    @property
    def layouts(self) -> dict[str, dict[str, str]]:
        """What was answered about columns, by header, by the layout of the log."""
        return self.given.get("layouts") or {}


@dataclass(frozen=True, slots=True)
class FactDiffers:
    """A fact of which it matters whether the car was changed or only described better."""

    fact: str
    """Its key in the car."""
    said: Literal["changed", "corrected"] | None
    """What it was; None where nobody said."""


@dataclass(frozen=True, slots=True)
class CarVersion:
    """One version of a car among the others."""

    car: CarShown
    """As it was written then."""
    differ: tuple[FactDiffers, ...] = ()
    """Against the version before."""


def limits_given(car: Stored) -> tuple[LimitGiven, ...]:
    """A car's limits as its owner wrote them.

    Parameters
    ----------
    car : mapping
        All that was written of it.

    Returns
    -------
    tuple of LimitGiven
        In its order.

    Examples
    --------
    >>> limits_given({"limits": [{"name": "oil", "channel": "oil_pressure", "at_least": "35 psi"}]})[0].at_least
    '35 psi'
    """
    return tuple(_limit(one) for one in car.get("limits") or ())


def _limit(given: Stored) -> LimitGiven:
    curve = given.get("curve")
    return LimitGiven(
        name=str(given["name"]),
        channel=str(given["channel"]),
        at_least=given.get("at_least"),
        at_most=given.get("at_most"),
        curve=None if not curve else _curve(curve),
        during=given.get("during") or "run",
        longer_than=given.get("longer_than"),
        when=tuple(_condition(one) for one in given.get("when") or ()),
    )


def _curve(given: Stored) -> CurveGiven:
    return CurveGiven(str(given["against"]), given["side"], tuple((x, y) for x, y in given["points"]))


def _condition(given: str | Stored) -> str:
    if isinstance(given, str):
        return given
    sides = (("at least", given.get("at_least")), ("at most", given.get("at_most")))
    return "; ".join(f"{given['channel']} {words} {bound}" for words, bound in sides if bound is not None)
