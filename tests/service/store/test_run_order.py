"""The order of a page's runs is that of the database. Evidence: slow twin."""

from __future__ import annotations

import random
from contextlib import closing

from passband.service.store.records import Details
from passband.service.store.run_order import newest_made_first
from tests.service.store.test_records import a_review, hexed, of_kind, put


def test_runs_that_stand_together_are_in_the_order_of_the_database(tmp_path, request):
    drawn = random.Random(7)
    times = ["", "", "2031-05-03", "2031-05-04", "2031-05-03T09:00:00", "2031-05-03T17:00:00", "2031-05-04T08:00:00"]
    with of_kind("sqlite", tmp_path, request) as records, closing(records):
        for n in range(120):
            put(records, n + 1, a_review(details=Details(event=f"Meet {n // 12}", at=drawn.choice(times))))
        every = records.find_runs(event=None, car=None, limit=200, after=None)
        asked = [
            run.id
            for n in range(9, -1, -1)
            for run in records.find_runs(event=f"Meet {n}", car=None, limit=99, after=None)
        ]
        assert [run.id for run in newest_made_first(every)] == asked
        assert [run.id for run in every] == [hexed(10 * n) for n in range(120, 0, -1)]
