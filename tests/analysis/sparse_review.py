"""Reviews of which a test tells only what it is about: the rest is zero, empty or unknown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from passband.analysis.results.codec import review_from_json
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown


def read(told: Mapping[str, Any]) -> Review:
    """A review from as much of its JSON as a test tells."""
    return review_from_json(_filled(Review, told))


def _filled(hint: Any, told: Any) -> Any:
    """What is told, with what it lacks put in."""
    origin, within = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        kind = next(one for one in within if one not in (NoneType, Unknown))
        return None if told is None else _filled(kind, told)
    if origin is tuple:
        return [_filled(within[min(n, len(within) - 2)], one) for n, one in enumerate(told or ())]
    if is_dataclass(hint) and isinstance(told or {}, Mapping):
        given = told or {}
        hints = get_type_hints(hint)
        lacking = {one.name for one in fields(hint) if one.default is MISSING and one.default_factory is MISSING}
        filled = {
            name: _filled(kind, given.get(name)) for name, kind in hints.items() if name in given or name in lacking
        }
        return {**given, **filled}
    return _zero(hint) if told is None else told


def _zero(hint: Any) -> Any:
    if get_origin(hint) is Literal:
        return get_args(hint)[0]
    if isinstance(hint, type) and issubclass(hint, Enum):
        return next(iter(hint)).value
    return hint()
