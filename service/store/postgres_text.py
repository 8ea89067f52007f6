"""Texts as PostgreSQL takes them, and bytes as it gives them quickest.

Public: `take_texts`, `BytesAsTheyAre`.
"""

from __future__ import annotations

from typing import Any

from psycopg import Connection, Cursor
from psycopg.pq import Format
from psycopg.types.string import StrDumper

NOUGHT, SHOWN = "\x00", "\u2400"
"""The character of code zero, which PostgreSQL keeps in no text, and Unicode's picture of it, which stands for it."""


class BytesAsTheyAre(Cursor[Any]):
    """Rows come as the server holds them: reviews and digests are bytes, which are twice as long written out."""

    def __init__(self, connection: Connection[Any], **more: Any) -> None:
        super().__init__(connection, **more)
        self.format = Format.BINARY

    def execute(self, query: Any, params: Any = None, **more: Any) -> BytesAsTheyAre:
        """A statement; one without any parameters may be several, which the server only answers as text."""
        super().execute(query, params, **({"binary": False} if params is None else {}), **more)
        return self


class _Texts(StrDumper):
    def dump(self, obj: str) -> Any:
        return super().dump(obj.replace(NOUGHT, SHOWN) if NOUGHT in obj else obj)


def take_texts(connection: Connection[Any]) -> None:
    """Let a connection write any text and ask for any, also one with characters of code zero.

    Parameters
    ----------
    connection : psycopg.Connection
        Just made.
    """
    connection.adapters.register_dumper(str, _Texts)
