"""A review as plain values for JSON, and back.

Public: `Plain`, `as_json`, `plain`, `review_from_json`, `CannotDecode`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import Field, fields, is_dataclass
from enum import Enum
from functools import lru_cache
from typing import Any

import numpy as np

from passband.analysis.results.estimate import left_out_unless_said
from passband.analysis.results.findings import Finding
from passband.analysis.results.reading_back import CannotDecode, record_from
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown

__all__ = ["CannotDecode", "Plain", "as_json", "plain", "review_from_json"]

_BARE = frozenset({str, int, float, bool, type(None)})
"""What stands in JSON as it is, but for a float that is no number."""
Plain = dict[str, "Plain"] | list["Plain"] | str | int | float | bool | None
"""What JSON can say."""


def as_json(review: Review, parts: Collection[str] | None = None) -> dict[str, Plain]:
    """A review as plain values, named as the dataclasses name them.

    Parameters
    ----------
    review : Review
        Any; what a subclass holds beside is left out.
    parts : collection of str, optional
        Only these of its fields, and what is unknown in them; all by default.

    Returns
    -------
    dict
        Strings, numbers, lists and dicts only. NaN and infinity become None, as does what is unknown; its reasons stand
        under ``unknown``, by their places. Each finding stands once.
    """
    asked = [one for one in fields(Review) if parts is None or one.name in parts]
    written = {one.name: plain(getattr(review, one.name)) for one in asked if _is_written(one, review)}
    reasons: dict[str, Finding] = {}
    for one in asked:
        _gather_reasons(getattr(review, one.name), one.name, reasons)
    written["unknown"] = {where: plain(reason) for where, reason in reasons.items()}
    return written


def _gather_reasons(value: object, where: str, found: dict[str, Finding]) -> None:
    """What is unknown, by its place: ``power``, ``launch.clutch_locked_s``, ``shifts[0].rpm_after``."""
    if type(value) in _BARE:
        return
    if isinstance(value, Unknown):
        found[where] = value.reason
    elif isinstance(value, tuple):
        for place, one in enumerate(value):
            if type(one) not in _BARE:
                _gather_reasons(one, f"{where}[{place}]", found)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in _fields_of(type(value)):
            part = getattr(value, field.name)
            if type(part) not in _BARE:
                _gather_reasons(part, f"{where}.{field.name}", found)


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
        do not compare by: a part's findings are gathered by the review.

    Raises
    ------
    ValueError
        If it holds what JSON cannot say.

    Examples
    --------
    >>> plain((1.0, float("nan"), np.array([2, 3])))
    [1.0, None, [2, 3]]
    """
    if type(value) is float:
        return value if math.isfinite(value) else None
    if type(value) in _BARE:
        return value  # type: ignore[return-value]  # by its very type
    if isinstance(value, Unknown):
        return None
    if is_dataclass(value) and not isinstance(value, type):
        written = (one for one in _fields_of(type(value)) if _is_written(one, value))
        return {one.name: plain(getattr(value, one.name)) for one in written}
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


@lru_cache(maxsize=512)
def _fields_of(kind: type) -> tuple[Field[Any], ...]:
    return fields(kind)


def _is_written(one: Field[Any], of: object) -> bool:
    """Whether a field stands in the JSON: what it compares by, and what was said of it."""
    return one.compare and (not left_out_unless_said(one) or getattr(of, one.name) != one.default)


def review_from_json(stored: Mapping[str, Any]) -> Review:
    """A review from its JSON, as `as_json` gave it, or an earlier version of it.

    Parameters
    ----------
    stored : mapping
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
    reasons = stored.get("unknown") if isinstance(stored, Mapping) else None
    review: Review = record_from(Review, stored, "review", reasons or {})
    return review
