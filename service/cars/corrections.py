"""Whether a car's next version says that the car was changed, or only describes the same car better.

Given with the version or later, fact by fact, and kept as an item of the car: backup, recheck and undo are those
of any item. A correction holds back to the version in which that fact was last changed on the car; what nobody gave is
left to `analysis.whatif.back_test`: gearing by what the logs show, mass as changed.

Public: `FactsGiven`, `VersionFact`, `CORRECTION`, `tell_facts`, `facts_of_versions`, `given_as_known`,
`unsaid_between`.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

from passband.analysis.results.plain_values import JsonObject
from passband.analysis.whatif.back_test import FACTS
from passband.service.given.facts import read_car
from passband.service.http.errors import Problem, not_found
from passband.service.library import Library
from passband.service.reviewing.upload_review import now
from passband.service.store.records import CarRecord, ItemRecord

CORRECTION = "correction"
Whether = Literal["changed", "corrected"]


class FactsGiven(BaseModel):
    """Of each fact in which a version differs from the one before: changed on the car, or corrected."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    mass: Whether | None = None
    final_drive: Whether | None = None
    gear_ratios: Whether | None = None
    tire_circumference: Whether | None = None


@dataclass(frozen=True, slots=True)
class VersionFact:
    """One fact in which a version differs from the one before."""

    version: int
    """[-]"""
    fact: str
    """Its key in the car."""
    was: Any
    """As written in the version before."""
    now: Any
    """As written in this one."""
    said: Whether | None
    """What it is; None where nobody said."""


def tell_facts(library: Library, car_id: str, version: int, said: FactsGiven) -> list[VersionFact]:
    """Keep of one version which of its facts were changed on the car and which were corrected.

    Parameters
    ----------
    library : Library
        Where the car is.
    car_id : str
        The car.
    version : int
        From 2.
    said : FactsGiven
        Facts that are left out stay as they were given.

    Returns
    -------
    list of VersionFact
        All of that version.

    Raises
    ------
    Problem
        404 if there is no such version, 422 if a fact is named that is the same as in the version before.
    """
    wanted = said.model_dump(exclude_none=True)
    here = [one for one in facts_of_versions(library, car_id) if one.version == version]
    if library.records.car(car_id, version) is None:
        raise not_found("version of this car")
    same = sorted(set(wanted) - {one.fact for one in here})
    if same:
        what = FACTS[same[0]]
        raise Problem(422, "Not usable", f"{same[0]}: the {what} of version {version} is that of the version before.")
    kept = _kept(library, car_id).get(version)
    if wanted:
        facts = {**(kept.given["facts"] if kept is not None else {}), **wanted}
        given = {"version": version, "facts": facts}
        fresh = ItemRecord(secrets.token_hex(16), CORRECTION, car_id, now(), gone=False, given=given)
        library.records.keep_item(fresh if kept is None else replace(kept, given=given, gone=False))
    return [replace(one, said=wanted.get(one.fact, one.said)) for one in here]


def facts_of_versions(library: Library, car_id: str) -> list[VersionFact]:
    """All facts in which a car's versions differ, of those that a forecast can take over.

    Parameters
    ----------
    library : Library
        Where the car is.
    car_id : str
        The car.

    Returns
    -------
    list of VersionFact
        By rising version; a fact that was not given before is no difference.
    """
    newest = library.records.car(car_id)
    if newest is None:
        raise not_found("car")
    all_of_it = (library.records.car(car_id, number) for number in range(1, newest.version + 1))
    versions = [one for one in all_of_it if one is not None]
    kept = {version: item.given["facts"] for version, item in _kept(library, car_id).items()}
    return [
        VersionFact(after.version, fact, was, is_now, kept.get(after.version, {}).get(fact))
        for before, after in pairwise(versions)
        for fact in FACTS
        if (was := before.given.get(fact)) is not None
        and (is_now := after.given.get(fact)) is not None
        and was != is_now
        and _value(fact, was) != _value(fact, is_now)
    ]


def _value(fact: str, given: Any) -> Any:
    """A fact in SI: the same mass may be written in two ways."""
    return getattr(read_car({"name": "car", fact: given}), fact)


def _kept(library: Library, car_id: str) -> dict[int, ItemRecord]:
    items = library.records.items(CORRECTION, car=car_id)
    return {int(one.given["version"]): one for one in items if not one.gone}


def given_as_known(car: CarRecord, facts: Sequence[VersionFact]) -> JsonObject:
    """One version of a car with what later versions corrected in it.

    Parameters
    ----------
    car : CarRecord
        The version.
    facts : sequence of VersionFact
        Of all its versions, by `facts_of_versions`.

    Returns
    -------
    dict
        As given; a fact as the last correction has it before it was changed, or may have been.
    """
    given = dict(car.given)
    open_facts = set(FACTS)
    for one in facts:
        if one.version <= car.version or one.fact not in open_facts:
            continue
        if one.said == "corrected":
            given[one.fact] = one.now
        else:
            open_facts.discard(one.fact)
    return given


def unsaid_between(facts: Sequence[VersionFact], versions: tuple[int, int]) -> Mapping[str, bool]:
    """Facts that differ between two versions of a car, and whether nobody said what some step of it was.

    Parameters
    ----------
    facts : sequence of VersionFact
        Of `facts_of_versions`.
    versions : (int, int)
        In any order.

    Returns
    -------
    mapping of str to bool
        By fact.
    """
    found: dict[str, bool] = {}
    for one in facts:
        if min(versions) < one.version <= max(versions):
            found[one.fact] = found.get(one.fact, False) or one.said is None
    return found
