"""Cars: each change of one is a version, and every review names the one that it was made with.

Public: `Cars`.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable

from passband.analysis.results.plain_values import JsonObject
from passband.service.given.facts import read_car
from passband.service.given.told_meanwhile import check_car_untold
from passband.service.reviewing.upload_review import now
from passband.service.store.records import CarRecord, Records
from passband.service.store.turns import Writing


class Cars:
    """The cars of a library; they are read in its records.

    Parameters
    ----------
    records : Records
        Where they are kept.
    writing : Writing
        Held while a version is made of the newest.
    """

    def __init__(self, records: Records, writing: Writing) -> None:
        self._records, self._writing = records, writing

    def add(self, given: JsonObject) -> CarRecord:
        """Keep a new car; `GivenError` if it cannot be used."""
        read_car(given)
        return self._records.add_car(secrets.token_hex(16), given, now())

    def change(self, car_id: str, given: JsonObject, *, made_of: int | None = None) -> CarRecord | None:
        """Keep a car's next version; None if there is no such car, `GivenError` if it cannot be used.

        `ToldMeanwhile` where it was `made_of` a version that is no longer the newest.
        """
        read_car(given)
        changed = self._records.change_car(car_id, given, now(), instead_of=made_of)
        newest = self._records.car(car_id) if changed is None else None
        if newest is not None and made_of is not None:
            check_car_untold(newest, made_of)
        return changed

    def amend(self, car_id: str, amend: Callable[[JsonObject], JsonObject]) -> CarRecord | None:
        """Keep a car's next version, made of its newest while nobody else changes it; the same if it is no other."""
        with self._writing.here:
            while (car := self._records.car(car_id)) is not None:
                given = amend(car.given)
                if given == car.given:
                    return car
                read_car(given)
                changed = self._records.change_car(car_id, given, now(), instead_of=car.version)
                if changed is not None:
                    return changed  # else another process was first, and its version is amended
        return None
