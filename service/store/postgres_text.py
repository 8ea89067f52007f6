"""Texts as PostgreSQL takes them.

Public: `take_texts`.
"""

from __future__ import annotations

from typing import Any

from psycopg.types.string import StrDumper

NOUGHT, SHOWN = "\x00", "\u2400"
"""The character of code nought, which PostgreSQL keeps in no text, and Unicode's picture of it, which stands for it."""


class _Texts(StrDumper):
    def dump(self, obj: str) -> Any:
        return super().dump(obj.replace(NOUGHT, SHOWN) if NOUGHT in obj else obj)


def take_texts(connection: Any) -> None:
    """Let a connection write any text and ask for any, also one with characters of code nought.

    Parameters
    ----------
    connection : psycopg.Connection
        Just made.
    """
    connection.adapters.register_dumper(str, _Texts)
