"""A review as plain values for JSON, and back.

Public: `Plain`, `as_json`, `plain`, `review_from_json`, `CannotDecode`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import MISSING, Field, fields, is_dataclass
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

from passband.analysis.results.review import Review

Plain = dict[str, "Plain"] | list["Plain"] | str | int | float | bool | None
"""What JSON can say."""


class CannotDecode(ValueError):
    """What was given is no review's JSON; the text says where it is not."""


def as_json(review: Review) -> dict[str, Plain]:
    """A review as plain values, named as the dataclasses name them.

    Parameters
    ----------
    review : Review
        Any; what a subclass holds beside is left out.

    Returns
    -------
    dict
        Strings, numbers, lists and dicts only. NaN and infinity become None.
    """
    return {field.name: plain(getattr(review, field.name)) for field in fields(Review)}


def plain(value: object) -> Plain:
    """Any result of the analysis as plain values.

    Parameters
    ----------
    value : object
        A result dataclass, an array, a number, a text, or tuples and mappings of them.

    Returns
    -------
    plain value
        NaN and infinity as None, arrays as lists, dataclasses as dicts by their fields' names.

    Raises
    ------
    ValueError
        If it holds what JSON cannot say.

    Examples
    --------
    >>> plain((1.0, float("nan"), np.array([2, 3])))
    [1.0, None, [2, 3]]
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Enum):
        return plain(value.value)
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, (str, int, bool)):
        return value
    raise ValueError(f"a review holds a {type(value).__name__}, which JSON cannot say: {value!r}")


def review_from_json(told: Mapping[str, Any]) -> Review:
    """A review from its JSON, as `as_json` gave it, or an earlier version of it.

    Parameters
    ----------
    told : mapping
        The JSON, read.

    Returns
    -------
    Review
        The same figures. What an earlier version did not tell yet is at its default; what a later one tells beside is
        left aside.

    Raises
    ------
    CannotDecode
        If something that every review tells is missing or of another kind; the text says which.
    """
    review: Review = _decode(Review, told, "review")
    return review


def _decode(kind: Any, told: object, where: str) -> Any:
    """One dataclass from a mapping."""
    if not isinstance(told, Mapping):
        raise CannotDecode(f"{where} must be an object, got {told!r:.60}")
    given: dict[str, Any] = {}
    for field, hint in _fields_of(kind):
        if field.name in told:
            given[field.name] = _value(hint, told[field.name], f"{where}.{field.name}")
        elif field.default is MISSING and field.default_factory is MISSING:
            raise CannotDecode(f"{where} lacks {field.name!r}")
    return kind(**given)


@cache
def _fields_of(kind: Any) -> tuple[tuple[Field[Any], Any], ...]:
    hints = get_type_hints(kind)
    return tuple((field, hints[field.name]) for field in fields(kind))


def _value(hint: Any, told: Any, where: str) -> Any:
    """A value of the type that a field is annotated with."""
    origin, within = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return _one_of(within, told, where)
    if origin is tuple:
        return _tuple(within, told, where)
    if origin is Literal:
        if told in within:
            return told
        raise CannotDecode(f"{where} must be one of {', '.join(map(str, within))}, got {told!r:.60}")
    if is_dataclass(hint) and isinstance(hint, type):
        return _decode(hint, told, where)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return _enum(hint, told, where)
    return _scalar(hint, told, where)


def _one_of(hints: tuple[Any, ...], told: Any, where: str) -> Any:
    if told is None and NoneType in hints:
        return None
    (hint,) = [hint for hint in hints if hint is not NoneType]
    return _value(hint, told, where)


def _tuple(hints: tuple[Any, ...], told: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(told, (list, tuple)):
        raise CannotDecode(f"{where} must be a list, got {told!r:.60}")
    if len(hints) == 2 and hints[1] is Ellipsis:
        hints = (hints[0],) * len(told)
    if len(hints) != len(told):
        raise CannotDecode(f"{where} must hold {len(hints)} values, got {len(told)}")
    return tuple(_value(hint, one, f"{where}[{n}]") for n, (hint, one) in enumerate(zip(hints, told, strict=True)))


def _enum(kind: type[Enum], told: Any, where: str) -> Enum:
    try:
        return kind(told)
    except ValueError:
        raise CannotDecode(f"{where} must be one of {', '.join(one.value for one in kind)}, got {told!r:.60}") from None


def _scalar(kind: type, told: Any, where: str) -> Any:
    if kind is float:
        if told is None:
            return math.nan  # what JSON could not say
        if isinstance(told, (int, float)) and not isinstance(told, bool):
            return float(told)
    elif isinstance(told, kind) and not (kind is int and isinstance(told, bool)):
        return told
    raise CannotDecode(f"{where} must be a {kind.__name__}, got {told!r:.60}")
