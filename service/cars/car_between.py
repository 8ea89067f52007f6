"""What was different on a car between two of its runs, as its owner told it: gearing, tires, mass.

Public: `car_differs`, `in_one_unit`, `CarsOfRuns`.
"""

from __future__ import annotations

import re
from typing import Any

from passband.analysis.whatif.back_test import FACTS
from passband.service.cars.corrections import Whether, facts_of_versions
from passband.service.given.facts import read_car
from passband.service.library import Library
from passband.service.store.records import RunRecord

CALLED = {**FACTS, "tire_circumference": "tire circumference"}
"""What a reader is shown for each fact."""
SI_UNITS = {"mass": " kg", "tire_circumference": " m"}
"""What stands behind a bare number of a fact."""
_AFTER_NUMBER = re.compile(r"^[-+0-9., ]*(\S*).*$")


class CarsOfRuns:
    """Cars in the versions that runs were made with, each looked up once.

    Parameters
    ----------
    library : Library
        Where they are.
    """

    def __init__(self, library: Library) -> None:
        self._library = library
        self._given: dict[tuple[str, int], Any] = {}
        self._said: dict[str, dict[tuple[str, int], Whether | None]] = {}

    def differ(self, run: RunRecord, before: RunRecord) -> tuple[str, ...]:
        """As `car_differs`."""
        if run.car is None or before.car is None or run.car[0] != before.car[0] or run.car == before.car:
            return ()
        now, was = self._of(run.car), self._of(before.car)
        facts = (
            fact
            for fact in FACTS
            if now.get(fact) is not None and was.get(fact) is not None and _value(fact, now) != _value(fact, was)
        )
        return tuple(
            f"{CALLED[fact]} {in_one_unit(fact, now, was)}, {in_one_unit(fact, was, now)} before"
            for fact in facts
            if not self._corrected(run.car[0], fact, run.car[1], before.car[1])
        )

    def _of(self, car: tuple[str, int]) -> Any:
        if car not in self._given:
            record = self._library.records.car(*car)
            self._given[car] = record.given if record is not None else {}
        return self._given[car]

    def _corrected(self, car: str, fact: str, *versions: int) -> bool:
        """Whether all versions between two only described a fact better."""
        if car not in self._said:
            self._said[car] = {(one.fact, one.version): one.said for one in facts_of_versions(self._library, car)}
        low, high = min(versions), max(versions)
        said = [what for (of, version), what in self._said[car].items() if of == fact and low < version <= high]
        return bool(said) and all(what == "corrected" for what in said)


def car_differs(library: Library, run: RunRecord, before: RunRecord) -> tuple[str, ...]:
    """What was told otherwise of a car at one of its runs than at another.

    Parameters
    ----------
    library : Library
        Where they are.
    run, before : RunRecord
        The run, and one before it.

    Returns
    -------
    tuple of str
        ``tire circumference 2.02 m, 1.977 m before``; empty for two cars, and of what was only described better.
    """
    return CarsOfRuns(library).differ(run, before)


def _value(fact: str, given: Any) -> Any:
    return getattr(read_car({"name": "car", fact: given[fact]}), fact)


def in_one_unit(fact: str, given: Any, other: Any) -> str:
    """A fact as its owner wrote it; in SI where it is in another unit at the other run, to be held against it.

    Parameters
    ----------
    fact : str
        Its key.
    given, other : mapping
        The car as told, and as told at another run; both know the fact.

    Returns
    -------
    str
        ``76.5 in``, or ``1.9431 m`` beside one in metres.
    """
    written, value = _written(fact, given[fact]), _value(fact, given)
    units = {_AFTER_NUMBER.sub(r"\1", one) for one in (written, _written(fact, other[fact]))}
    return written if len(units) == 1 or not isinstance(value, (int, float)) else _written(fact, float(value))


def _written(fact: str, given: Any) -> str:
    if isinstance(given, (list, tuple)):
        return "/".join(_written("", one) for one in given)
    return f"{given:.5g}{SI_UNITS.get(fact, '')}" if isinstance(given, (int, float)) else str(given)
