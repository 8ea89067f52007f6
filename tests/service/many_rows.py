"""A library with as many runs as wanted, put there as rows: no logs and no tables, which no list reads.

Public: `fill_with_runs`, `runs_of_event`.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

RUNS_AN_EVENT = 24
"""Three cars, eight rounds."""
CARS = 20


def runs_of_event(event: int, *, runs: int) -> range:
    """Numbers from 0 of the runs at an event, in the order they came in."""
    return range(event * RUNS_AN_EVENT, min((event + 1) * RUNS_AN_EVENT, runs))


def fill_with_runs(database: Path, runs: int, *, review_bytes: int) -> None:
    """Put runs beside the one that is there, which lends them what lists show of it.

    Parameters
    ----------
    database : Path
        Of a library that nobody has open, with one run.
    runs : int
        How many to put in: run n is ``{n:032x}`` of the event ``Meet {n // RUNS_AN_EVENT}`` and one of `CARS` cars.
    review_bytes : int
        Length of each review.
    """
    numbers = f"WITH RECURSIVE n (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i < {runs - 1})"
    of_run = f"printf('%032x', i), printf('%032x', i), 0, printf('%032x', i % {CARS}), 1, 'Run ' || i"
    with closing(sqlite3.connect(database)) as filled, filled:
        filled.execute(f"{numbers} INSERT INTO cars SELECT printf('%032x', i), 1 FROM n WHERE i < {CARS}")
        filled.execute(
            f"{numbers} INSERT INTO car_versions SELECT printf('%032x', i), 1, '2026-01-01T00:00:00.000Z',"
            f" CAST('{{\"name\": \"Car ' || i || '\"}}' AS BLOB) FROM n WHERE i < {CARS}"
        )
        filled.execute(f"{numbers} INSERT INTO uploads SELECT printf('%032x', i), printf('%064x', i), 1 FROM n")
        filled.execute(
            f"{numbers} INSERT INTO logs SELECT printf('%032x', i), 0, 'run.csv', printf('%064x', i), 1000 FROM n"
        )
        filled.execute(
            f"{numbers} INSERT INTO runs (id, upload_id, position, car_id, car_version, label, event, round, notes,"
            " finish_ft, added_at, reviewed_at, summary, review, table_key)"
            f" SELECT {of_run}, 'Meet ' || (i / {RUNS_AN_EVENT}), 'Q' || (i % 8), '', 1320, first.added_at,"
            " first.reviewed_at, first.summary, zeroblob(?), printf('%064x', i)"
            " FROM n, (SELECT * FROM runs LIMIT 1) AS first",
            (review_bytes,),
        )
