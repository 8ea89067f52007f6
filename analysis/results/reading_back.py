"""Plain values back into the dataclasses that they were made of, by what their fields are annotated with.

How each type is read is worked out once: a stored review holds thousands of values of a few dozen types.

Public: `record_from`, `CannotDecode`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, TypeAlias, Union, get_args, get_origin, get_type_hints

from passband.analysis.results.findings import Finding
from passband.analysis.results.unknown import Unknown

NOT_KEPT = Finding(
    "reason-not-kept", "note", "The findings say what the logs or the car's description lack; why, was not kept apart."
)
"""The reason for what is null in the JSON of an earlier version."""


class CannotDecode(ValueError):
    """What was given is no review's JSON; the text says where it is not."""


Reasons: TypeAlias = Mapping[str, Any]
"""Why what is null is unknown, by its place."""
Where: TypeAlias = "tuple[Where | None, str]"
"""A place, and what it lies in: put into words only where it must be said."""
Read: TypeAlias = Callable[[Any, Where, Reasons], Any]


def record_from(kind: Any, stored: object, root: str, reasons: Reasons) -> Any:
    """A dataclass from its plain values.

    Parameters
    ----------
    kind : type
        The dataclass.
    stored : object
        A mapping; what it lacks is at its default, what it holds beside is left aside.
    root : str
        What to call it.
    reasons : mapping
        Why what is null is unknown, by its place without the root.

    Returns
    -------
    object
        Of the kind.

    Raises
    ------
    CannotDecode
        If something without a default is missing, or of another kind; the text says which.
    """
    return _reader(kind)(stored, (None, root), reasons)


def _said(where: Where) -> str:
    parts = []
    at: Where | None = where
    while at is not None:
        at, part = at
        parts.append(part)
    return "".join(reversed(parts))


@cache
def _reader(hint: Any) -> Read:
    """How a value of the type that a field is annotated with is read."""
    origin, within = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return _reader_of_either(within)
    if origin is tuple:
        return _reader_of_row(within)
    if origin is Literal:
        return _reader_of_literal(within)
    if isinstance(hint, type) and is_dataclass(hint):
        return _reader_of_record(hint)
    if isinstance(hint, type) and issubclass(hint, Enum):
        return _reader_of_enum(hint)
    return _reader_of_float if hint is float else _reader_of_scalar(hint)


def _reader_of_record(kind: Any) -> Read:
    hints = get_type_hints(kind)
    needed = {one.name for one in fields(kind) if one.default is MISSING and one.default_factory is MISSING}
    known = [(one.name, f".{one.name}", _Later(hints[one.name])) for one in fields(kind)]

    def read(stored: Any, where: Where, reasons: Reasons) -> Any:
        if not isinstance(stored, Mapping):
            raise CannotDecode(f"{_said(where)} must be an object, got {stored!r:.60}")
        given = {
            name: reader(stored[name], (where, part), reasons) for name, part, reader in known if name in stored
        }  # fmt: skip
        if not needed <= given.keys():
            lacks = next(name for name, _, _ in known if name in needed and name not in stored)
            raise CannotDecode(f"{_said(where)} lacks {lacks!r}")
        return kind(**given)

    return read


class _Later:
    """A field's reader, worked out when it is first needed: a type may hold itself."""

    __slots__ = ("_hint", "_read")

    def __init__(self, hint: Any) -> None:
        self._hint = hint
        self._read: Read | None = None

    def __call__(self, stored: Any, where: Where, reasons: Reasons) -> Any:
        if self._read is None:
            self._read = _reader(self._hint)
        return self._read(stored, where, reasons)


def _reader_of_either(hints: tuple[Any, ...]) -> Read:
    """A figure or part, or the absence of it."""
    (hint,) = [one for one in hints if one not in (NoneType, Unknown)]
    known, may_be_none, may_be_unknown = _reader(hint), NoneType in hints, Unknown in hints

    def read(stored: Any, where: Where, reasons: Reasons) -> Any:
        if stored is None and may_be_none:
            return None
        if stored is None and may_be_unknown:
            said = _said(where)
            reason = reasons.get(said.partition(".")[2])
            return Unknown(NOT_KEPT if reason is None else record_from(Finding, reason, f"{said}, unknown", reasons))
        return known(stored, where, reasons)

    return read


def _reader_of_row(hints: tuple[Any, ...]) -> Read:
    """A tuple from a list."""
    endless = len(hints) == 2 and hints[1] is Ellipsis
    each = (_reader(hints[0]),) if endless else tuple(map(_reader, hints))
    floats = endless and hints[0] is float

    def read(stored: Any, where: Where, reasons: Reasons) -> Any:
        if not isinstance(stored, (list, tuple)):
            raise CannotDecode(f"{_said(where)} must be a list, got {stored!r:.60}")
        if floats and set(map(type, stored)) == {float}:
            return tuple(stored)
        readers = each * len(stored) if endless else each
        if len(readers) != len(stored):
            raise CannotDecode(f"{_said(where)} must hold {len(readers)} values, got {len(stored)}")
        both = enumerate(zip(readers, stored, strict=True))
        return tuple(reader(one, (where, f"[{n}]"), reasons) for n, (reader, one) in both)

    return read


def _reader_of_literal(values: tuple[Any, ...]) -> Read:
    def read(stored: Any, where: Where, _reasons: Reasons) -> Any:
        if stored in values:
            return stored
        raise CannotDecode(f"{_said(where)} must be one of {', '.join(map(str, values))}, got {stored!r:.60}")

    return read


def _reader_of_enum(kind: type[Enum]) -> Read:
    def read(stored: Any, where: Where, _reasons: Reasons) -> Any:
        try:
            return kind(stored)
        except ValueError:
            every = ", ".join(one.value for one in kind)
            raise CannotDecode(f"{_said(where)} must be one of {every}, got {stored!r:.60}") from None

    return read


def _reader_of_float(stored: Any, where: Where, _reasons: Reasons) -> Any:
    if type(stored) is float:
        return stored
    if stored is None:
        return math.nan  # what JSON could not say
    if isinstance(stored, (int, float)) and not isinstance(stored, bool):
        return float(stored)
    raise CannotDecode(f"{_said(where)} must be a float, got {stored!r:.60}")


def _reader_of_scalar(kind: type) -> Read:
    def read(stored: Any, where: Where, _reasons: Reasons) -> Any:
        if isinstance(stored, kind) and not (kind is int and isinstance(stored, bool)):
            return stored
        raise CannotDecode(f"{_said(where)} must be a {kind.__name__}, got {stored!r:.60}")

    return read
