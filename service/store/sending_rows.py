"""Rows of a file put into a database on a server, all of them or none, and held against those of the file.

Public: `copy_tables`, `send_library`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Column, Connection, Table, func, insert, select

from passband.service.store.archives import BackupError
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.schema import metadata, open_database, progress, runs, schema_version

AT_ONCE = 200
"""Rows that are on their way together: some 4 MB of reviews."""
_GIVEN_ANEW = {"jobs": ("number",), "journal": ("number",)}
"""Numbers that the server gives itself, in the order of the file's."""
_MODULUS = 2**256


def send_library(file: Path, records: PostgresRecords, *, mark: str) -> None:
    """Put the rows of a library's file into a database on a server.

    Parameters
    ----------
    file : Path
        The file, of a backup: brought to the newest form where it is older.
    records : PostgresRecords
        Of the team that is to have them.
    mark : str
        Tells this library from others. Rows that bear it already are only held against the file's.

    Raises
    ------
    BackupError
        If the team has a library there already, or the rows there are not those of the file; nothing is kept of it.
    SchemaError
        If the file is of a newer program.
    """
    tables = [table for table in metadata.sorted_tables if table not in (progress, schema_version)]
    engine = open_database(file)
    try:
        with engine.begin() as source, records.filling() as target:
            there = records.mark()
            if there is not None and there.mark != mark:
                raise BackupError(
                    f"The database on the server has a library of {records.team!r} already. Nothing was restored; name "
                    "one that is empty in PASSBAND_DATABASE."
                )
            if there is None:
                numbered = source.execute(select(func.max(runs.c.number))).scalar() or 0
                records.begin_within(target, mark, number=max(numbered, _given_so_far(source)))
                copy_tables(source, target, tables)
            _check_alike(source, target, tables)
    finally:
        engine.dispose()


def copy_tables(source: Connection, target: Connection, tables: Sequence[Table]) -> None:
    """Put all rows of some tables into the same tables elsewhere, in the order of their keys; none may be there."""
    for table in tables:
        kept = _kept(table)
        with closing(source.execute(select(*kept).order_by(*table.primary_key.columns))) as rows:
            for some in rows.mappings().partitions(AT_ONCE):
                target.execute(insert(table), [dict(row) for row in some])


def _given_so_far(source: Connection) -> int:
    """The last number of a run that was given, though that run may be gone."""
    return int(source.exec_driver_sql("SELECT max(seq) FROM sqlite_sequence WHERE name = 'runs'").scalar() or 0)


def _kept(table: Table) -> list[Column[Any]]:
    return [column for column in table.columns if column.name not in _GIVEN_ANEW.get(table.name, ())]


def _check_alike(source: Connection, target: Connection, tables: Iterable[Table]) -> None:
    for table in tables:
        was, now = _counted(source, table), _counted(target, table)
        if was != now:
            raise BackupError(
                f"The server's rows of {table.name} are not those of the backup: {now[0]} there, {was[0]} in the "
                "backup, and their sums differ. Nothing was restored."
            )


def _counted(connection: Connection, table: Table) -> tuple[int, int]:
    """How many rows a table has, and a sum of the hashes of all, in whatever order they come."""
    count = total = 0
    with closing(connection.execute(select(*_kept(table)).execution_options(yield_per=AT_ONCE))) as rows:
        for row in rows:
            plain = [bytes(value) if isinstance(value, memoryview) else value for value in row]
            total += int.from_bytes(hashlib.sha256(repr(plain).encode("utf-8", "surrogatepass")).digest())
            count += 1
    return count, total % _MODULUS
