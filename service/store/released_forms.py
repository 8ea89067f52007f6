"""What the database looked like in each released version, as SQLite keeps it: a check needs no migration for it.

Public: `FORMS`, `NEWEST`, `VERSION_TABLE`, `FIRST`, `PROGRESS`, `THIRD`, `FOURTH`, `FIFTH`, `lacking_part`,
`version_fault`, `revision_of`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

VERSION_TABLE = "CREATE TABLE schema_version (version INTEGER NOT NULL)"
"""One row a version, from 1. Every program ever released looks here, so it is kept beside Alembic's own table."""

FIRST: dict[str, str] = {
    "cars": "CREATE TABLE cars (id TEXT PRIMARY KEY, version INTEGER NOT NULL)",
    "car_versions": "CREATE TABLE car_versions (car_id TEXT NOT NULL REFERENCES cars (id), version INTEGER NOT NULL,"
    " made_at TEXT NOT NULL, told BLOB NOT NULL, PRIMARY KEY (car_id, version))",
    "uploads": "CREATE TABLE uploads (id TEXT PRIMARY KEY, key TEXT NOT NULL UNIQUE, runs_found INTEGER NOT NULL)",
    "logs": "CREATE TABLE logs (upload_id TEXT NOT NULL REFERENCES uploads (id) ON DELETE CASCADE, n INTEGER NOT NULL,"
    " name TEXT NOT NULL, sha256 TEXT NOT NULL, bytes INTEGER NOT NULL, PRIMARY KEY (upload_id, n))",
    "ix_logs_sha256": "CREATE INDEX ix_logs_sha256 ON logs (sha256)",
    "runs": "CREATE TABLE runs (number INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE,"
    " upload_id TEXT NOT NULL REFERENCES uploads (id), position INTEGER NOT NULL, car_id TEXT, car_version INTEGER,"
    " label TEXT NOT NULL, event TEXT NOT NULL, round TEXT NOT NULL, notes TEXT NOT NULL, slip BLOB, air BLOB,"
    " finish_ft INTEGER NOT NULL, added_at TEXT NOT NULL, reviewed_at TEXT NOT NULL, summary BLOB NOT NULL,"
    " review BLOB NOT NULL, table_key TEXT NOT NULL, UNIQUE (upload_id, position),"
    " FOREIGN KEY (car_id, car_version) REFERENCES car_versions (car_id, version))",
    "ix_runs_upload_id": "CREATE INDEX ix_runs_upload_id ON runs (upload_id)",
    "ix_runs_event": "CREATE INDEX ix_runs_event ON runs (event)",
    "ix_runs_car_id": "CREATE INDEX ix_runs_car_id ON runs (car_id)",
    "ix_runs_table_key": "CREATE INDEX ix_runs_table_key ON runs (table_key)",
}
PROGRESS = "CREATE TABLE progress (generation INTEGER NOT NULL)"
THIRD: dict[str, str] = {
    "digests": "CREATE TABLE digests (run_id TEXT PRIMARY KEY REFERENCES runs (id) ON DELETE CASCADE,"
    " reviewed_at TEXT NOT NULL, form INTEGER NOT NULL, comparable INTEGER NOT NULL, figures BLOB NOT NULL,"
    " arrays BLOB NOT NULL, held_by TEXT, as_before INTEGER, held BLOB)",
    "dates": "CREATE TABLE dates (run_id TEXT PRIMARY KEY REFERENCES runs (id) ON DELETE CASCADE, at TEXT NOT NULL)",
    "items": "CREATE TABLE items (id TEXT PRIMARY KEY, kind TEXT NOT NULL, car_id TEXT, made_at TEXT NOT NULL,"
    " gone INTEGER NOT NULL, told BLOB NOT NULL)",
}

_THREE = {**FIRST, "progress": PROGRESS, **THIRD}
FOURTH: dict[str, str] = {name: _THREE[name].replace(" told BLOB", " given BLOB") for name in ("car_versions", "items")}
FIFTH: dict[str, str] = {
    "jobs": "CREATE TABLE jobs (number INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, kind TEXT NOT NULL,"
    " rank INTEGER NOT NULL, key TEXT NOT NULL, parent TEXT REFERENCES jobs (id) ON DELETE CASCADE,"
    " state TEXT NOT NULL, stage TEXT NOT NULL, tries INTEGER NOT NULL, lost INTEGER NOT NULL, holder TEXT NOT NULL,"
    " heard_at TEXT NOT NULL, due_at TEXT NOT NULL, put_at TEXT NOT NULL, ended_at TEXT NOT NULL,"
    " task BLOB NOT NULL, result BLOB)",
    "ix_jobs_open": "CREATE UNIQUE INDEX ix_jobs_open ON jobs (key) WHERE state IN ('waiting', 'working')",
    "ix_jobs_order": "CREATE INDEX ix_jobs_order ON jobs (state, rank, number)",
    "ix_jobs_parent": "CREATE INDEX ix_jobs_parent ON jobs (parent)",
    "job_logs": "CREATE TABLE job_logs (job_id TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,"
    " n INTEGER NOT NULL, name TEXT NOT NULL, sha256 TEXT NOT NULL, bytes INTEGER NOT NULL, PRIMARY KEY (job_id, n))",
    "ix_job_logs_sha256": "CREATE INDEX ix_job_logs_sha256 ON job_logs (sha256)",
    "new_reviews": "CREATE TABLE new_reviews (job_id TEXT NOT NULL REFERENCES jobs (id) ON DELETE CASCADE,"
    " run_id TEXT NOT NULL, was TEXT NOT NULL, why TEXT NOT NULL, made_at TEXT NOT NULL, car_id TEXT,"
    " car_version INTEGER, summary BLOB, review BLOB, table_key TEXT NOT NULL, comparable INTEGER, figures BLOB,"
    " arrays BLOB, PRIMARY KEY (job_id, run_id))",
    "ix_new_reviews_table_key": "CREATE INDEX ix_new_reviews_table_key ON new_reviews (table_key)",
}
_FOUR = {**_THREE, **FOURTH}

FORMS: tuple[dict[str, str], ...] = (FIRST, {**FIRST, "progress": PROGRESS}, _THREE, _FOUR, {**_FOUR, **FIFTH})
"""Name and making of each table and index, one mapping a version; one that was ever released is never changed."""
NEWEST = len(FORMS)


def lacking_part(there: Mapping[str, str], version: int) -> str:
    """The first part of a version's form that a database lacks, or has in another form; empty where it has all.

    Parameters
    ----------
    there : mapping of str to str
        Name and making of what the database holds; more than the form has is no fault.
    version : int
        From 1; 0 for a database that holds nothing but its version.

    Examples
    --------
    >>> lacking_part({}, 1)
    'schema_version'
    """
    wanted = {"schema_version": VERSION_TABLE, **(FORMS[version - 1] if version else {})}
    return next((name for name, sql in wanted.items() if there.get(name) != sql), "")


def version_fault(versions: Sequence[int], revisions: Sequence[str]) -> bool:
    """Whether the version cannot be read: rows are missing, or Alembic's table tells another than ours.

    Parameters
    ----------
    versions : sequence of int
        Rows of ``schema_version``.
    revisions : sequence of str
        Rows of ``alembic_version``; none in a database that no step has reached since Alembic takes them.

    Examples
    --------
    >>> version_fault([1, 2], ["0002"]), version_fault([1, 2], []), version_fault([1, 2], ["0001"])
    (False, False, True)
    """
    if set(versions) != set(range(1, len(versions) + 1)):
        return True
    return bool(revisions) and list(revisions) != [revision_of(len(versions))]


def revision_of(version: int) -> str:
    """A version's name among the migrations.

    Examples
    --------
    >>> revision_of(2)
    '0002'
    """
    return f"{version:04d}"
