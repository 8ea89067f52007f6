"""Reviews packed in their rows: read as they were, beside those of older libraries that never were packed."""

from __future__ import annotations

import hashlib
import sqlite3
from contextlib import closing

import orjson
import pytest

from passband.service.store.faults import NotWhole
from passband.service.store.kept_review import read_review, review_row, review_sum
from passband.service.store.ledger import Ledger
from passband.service.store.released_forms import NEWEST
from passband.service.store.sqlite_records import SqliteRecords
from tests.service.store.test_migrating import FILL, released

REVIEW = orjson.dumps({"splits": [{"ft": n, "s": n / 7} for n in range(300)]})


def test_a_review_is_packed_in_its_row_and_read_as_it_was():
    kept = review_row(REVIEW)
    assert len(kept) < len(REVIEW) / 2 and read_review(kept, "a") == REVIEW
    assert review_sum(kept) == hashlib.sha256(REVIEW).hexdigest()


@pytest.mark.parametrize("plain", [b"{}", REVIEW, b""])
def test_a_row_that_was_never_packed_is_read_as_it_lies(plain):
    assert read_review(plain, "a") == plain and review_sum(plain) == hashlib.sha256(plain).hexdigest()


def test_what_would_be_longer_packed_is_kept_plain():
    assert review_row(b"{}") == b"{}"


def test_a_review_that_cannot_be_unpacked_is_a_fault_of_its_run_and_has_a_sum_all_the_same():
    kept = review_row(REVIEW)[:-20]
    with pytest.raises(NotWhole, match="The review of the run a is missing or damaged"):
        read_review(kept, "a")
    assert review_sum(kept) == hashlib.sha256(kept).hexdigest()


@pytest.mark.parametrize("version", range(1, NEWEST + 1))
def test_reviews_of_every_released_version_are_read_beside_packed_ones(tmp_path, version):
    path = released(tmp_path / "library.sqlite", version, *(row.replace("x'00'", "NULL") for row in FILL))
    with closing(SqliteRecords(path, Ledger(tmp_path, scratch=tmp_path))) as records:
        assert records.review("run1") == b"{}"
        (upload,) = records.all_uploads(hashed=True)
        assert {run.review_sha256 for run in upload.runs} == {hashlib.sha256(b"{}").hexdigest()}
    with closing(sqlite3.connect(path)) as rows, rows:
        rows.execute("UPDATE runs SET review = ? WHERE id = 'run2'", (review_row(REVIEW),))
    with closing(SqliteRecords(path, Ledger(tmp_path, scratch=tmp_path))) as records:
        assert (records.review("run1"), records.review("run2"), records.review("no")) == (b"{}", REVIEW, None)
