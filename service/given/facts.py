"""What the user tells of car, slips and air: read from TOML, JSON or an upload, refused in plain words.

Public: `GivenError`, `Fault`, `read_given`, `read_car`, `read_file`, `NO_CAR`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import orjson
from pydantic import BaseModel, ValidationError

from passband.analysis.given.car import Car
from passband.analysis.results.plain_values import JsonObject

MOST_FAULTS = 5
"""So many faults stand in the sentence; all are in the list."""

Model = TypeVar("Model", bound=BaseModel)
KEYS_ARE = "; the keys are "
"""Told once of several keys that are none."""
NO_CAR = {"name": "no car given"}
"""What a run is reviewed with when no car is named: every figure that needs car facts says so."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in what was given."""

    where: str
    """Path of the key: ``limits.2.at_most``; empty for the whole."""
    text: str
    """What is wrong and what would do."""


class GivenError(ValueError):
    """Something given that cannot be used; its text is one sentence for the user."""

    def __init__(self, text: str, *, faults: tuple[Fault, ...] = ()) -> None:
        super().__init__(text)
        self.faults = faults


def read_given(model: type[Model], given: object, *, what: str) -> Model:
    """Check what was given against what it should be.

    Parameters
    ----------
    model : type
        `Car`, `Slip`, `Air` or the body of a request.
    given : object
        Plain values, as TOML or JSON give them.
    what : str
        What it is, for the sentence: ``car``, ``slip``.

    Returns
    -------
    model
        In SI.

    Raises
    ------
    GivenError
        With a fault for each key that is unknown, out of range or of another unit.

    Examples
    --------
    >>> round(read_given(Car, {"name": "Heron", "mass": "2450 lb"}, what="car").mass, 2)
    1111.3
    """
    if not isinstance(given, dict):
        raise GivenError(f"The {what} must be a table of keys and values, got {type(given).__name__}.")
    try:
        return model.model_validate(given)
    except ValidationError as error:
        faults = tuple(_fault(model, what, entry) for entry in error.errors(include_url=False))
        raise GivenError(_sentence(what, faults), faults=faults) from None


def read_car(given: object) -> Car:
    """A car, its limits' channels and bounds checked against what is known of channels.

    Parameters
    ----------
    given : object
        Plain values with the keys of `Car`.

    Returns
    -------
    Car
        In SI; bounds of limits stay as given.

    Raises
    ------
    GivenError
        As `read_given`, for a bound that its channel cannot have, and for a channel's name misspelt.
    """
    car = read_given(Car, given, what="car")
    faults = _faults_of_limits(car)
    if faults:
        raise GivenError(_sentence("car", faults), faults=faults)
    return car


def read_file(path: Path, *, what: str) -> JsonObject:
    """Plain values from a TOML or JSON file.

    Parameters
    ----------
    path : Path
        Ends in ``.toml`` or ``.json``.
    what : str
        What it is, for the sentence.

    Returns
    -------
    dict
        As written.

    Raises
    ------
    GivenError
        If the file cannot be read or parsed, or ends in something else.
    """
    if path.suffix.lower() not in (".toml", ".json"):
        raise GivenError(f"The {what} {path} must be a .toml or a .json file.")
    try:
        text = path.read_bytes()
        given = orjson.loads(text) if path.suffix.lower() == ".json" else tomllib.loads(text.decode("utf-8"))
    except OSError as error:
        raise GivenError(f"The {what} {path} cannot be read: {(error.strerror or 'no such file').lower()}.") from None
    except ValueError as error:
        raise GivenError(f"The {what} {path} is no sound {path.suffix[1:].upper()}: {error}.") from None
    if not isinstance(given, dict):
        raise GivenError(f"The {what} {path} must be a table of keys and values.")
    return given


def _fault(model: type[BaseModel], what: str, entry: Any) -> Fault:
    where = ".".join(str(part) for part in entry["loc"])
    if entry["type"] == "extra_forbidden":
        keys = "" if len(entry["loc"]) > 1 else f"{KEYS_ARE}{', '.join(model.model_fields)}"
        article = "a" if what in ("car", "slip") else "the"
        return Fault(where, f"{where} is no key of {article} {what}{keys}")
    text = "must be given" if entry["type"] == "missing" else str(entry["msg"]).removeprefix("Value error, ")
    return Fault(where, f"{where}: {text}" if where else text)


def _sentence(what: str, faults: tuple[Fault, ...]) -> str:
    more = f"; and {len(faults) - MOST_FAULTS} more" if len(faults) > MOST_FAULTS else ""
    texts = [fault.text.partition(KEYS_ARE) for fault in faults[:MOST_FAULTS]]
    keys = next((KEYS_ARE + keys for _, told, keys in texts if told), "")
    return f"The {what} cannot be used: {'; '.join(text for text, *_ in texts)}{more}{keys}."


def _faults_of_limits(car: Car) -> tuple[Fault, ...]:
    from passband.analysis.engine.limits_given import (
        faults_of_limit,  # numbers of logs come with it: not for a mere start
    )

    return tuple(
        Fault(f"limits.{n}.{fault.key}", f"limit {limit.name!r}, {fault.key}: {fault.text}")
        for n, limit in enumerate(car.limits)
        for fault in faults_of_limit(limit, car)
    )
