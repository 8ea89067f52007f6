"""A review as plain values for JSON, and back.

Public: `Plain`, `as_json`, `plain`, `review_from_json`, `CannotDecode`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, fields, is_dataclass
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

from passband.analysis.results.estimate import left_out_unless_said
from passband.analysis.results.findings import Finding
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown

Plain = dict[str, "Plain"] | list["Plain"] | str | int | float | bool | None
"""What JSON can say."""

NOT_KEPT = Finding(
    "reason-not-kept", "note", "The findings say what the logs or the car's description lack; why, was not kept apart."
)
"""The reason for what is null in the JSON of an earlier version."""


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
        Strings, numbers, lists and dicts only. NaN and infinity become None, as does what is unknown; its reasons stand
        under ``unknown``, by their places. Findings are told once.
    """
    told = {field.name: plain(getattr(review, field.name)) for field in fields(Review)}
    told["unknown"] = {where: plain(reason) for where, reason in _reasons(review, "")}
    return told


def _reasons(value: object, where: str) -> Iterator[tuple[str, Finding]]:
    """What is unknown, by its place: ``power``, ``launch.clutch_locked_s``."""
    if isinstance(value, Unknown):
        yield where, value.reason
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from _reasons(getattr(value, field.name), f"{where}.{field.name}".lstrip("."))


def plain(value: object) -> Plain:
    """Any result of the analysis as plain values.

    Parameters
    ----------
    value : object
        A result dataclass, an array, a number, a text, or tuples and mappings of them.

    Returns
    -------
    plain value
        NaN and infinity as None, arrays as lists, dataclasses as dicts by their fields' names, without those that they
        do not compare by: a part's findings are told once, in the review.

    Raises
    ------
    ValueError
        If it holds what JSON cannot say.

    Examples
    --------
    >>> plain((1.0, float("nan"), np.array([2, 3])))
    [1.0, None, [2, 3]]
    """
    if isinstance(value, Unknown):
        return None
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name)) for one in fields(value) if _is_written(one, value)}
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


def _is_written(one: Field[Any], of: object) -> bool:
    """Whether a field stands in the JSON: what it compares by, and what was said of it."""
    said = not left_out_unless_said(one) or getattr(of, one.name) != one.default
    return one.compare and said


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
    reasons = told.get("unknown") if isinstance(told, Mapping) else None
    review: Review = _Decoder(reasons or {}).record(Review, told, "review")
    return review


@cache
def _fields_of(kind: Any) -> tuple[tuple[Field[Any], Any], ...]:
    hints = get_type_hints(kind)
    return tuple((field, hints[field.name]) for field in fields(kind))


@dataclass(frozen=True, slots=True)
class _Decoder:
    """Plain values to what the fields are annotated with."""

    reasons: Mapping[str, Any]
    """Why what is null is unknown, by its place."""

    def record(self, kind: Any, told: object, where: str) -> Any:
        """One dataclass from a mapping."""
        if not isinstance(told, Mapping):
            raise CannotDecode(f"{where} must be an object, got {told!r:.60}")
        given: dict[str, Any] = {}
        for field, hint in _fields_of(kind):
            if field.name in told:
                given[field.name] = self.value(hint, told[field.name], f"{where}.{field.name}")
            elif field.default is MISSING and field.default_factory is MISSING:
                raise CannotDecode(f"{where} lacks {field.name!r}")
        return kind(**given)

    def value(self, hint: Any, told: Any, where: str) -> Any:
        """A value of the type that a field is annotated with."""
        origin, within = get_origin(hint), get_args(hint)
        if origin in (Union, UnionType):
            return self.one_of(within, told, where)
        if origin is tuple:
            return self.row(within, told, where)
        if origin is Literal:
            if told in within:
                return told
            raise CannotDecode(f"{where} must be one of {', '.join(map(str, within))}, got {told!r:.60}")
        if is_dataclass(hint) and isinstance(hint, type):
            return self.record(hint, told, where)
        if isinstance(hint, type) and issubclass(hint, Enum):
            return _enum(hint, told, where)
        return _scalar(hint, told, where)

    def one_of(self, hints: tuple[Any, ...], told: Any, where: str) -> Any:
        """A figure or part, or the absence of it."""
        if told is None and NoneType in hints:
            return None
        if told is None and Unknown in hints:
            reason = self.reasons.get(where.removeprefix("review."))
            return Unknown(NOT_KEPT if reason is None else self.record(Finding, reason, f"{where}, unknown"))
        (hint,) = [hint for hint in hints if hint not in (NoneType, Unknown)]
        return self.value(hint, told, where)

    def row(self, hints: tuple[Any, ...], told: Any, where: str) -> tuple[Any, ...]:
        """A tuple from a list."""
        if not isinstance(told, (list, tuple)):
            raise CannotDecode(f"{where} must be a list, got {told!r:.60}")
        if len(hints) == 2 and hints[1] is Ellipsis:
            hints = (hints[0],) * len(told)
        if len(hints) != len(told):
            raise CannotDecode(f"{where} must hold {len(hints)} values, got {len(told)}")
        each = enumerate(zip(hints, told, strict=True))
        return tuple(self.value(hint, one, f"{where}[{n}]") for n, (hint, one) in each)


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
