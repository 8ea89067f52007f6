"""A few rounds of kill -9; more by ``python -m tests.service.kill_rounds --rounds 200``, which prints its counts.

Planted: the senders know every byte that they sent and every answer that they got.
"""

from __future__ import annotations

from tests.service.kill_rounds import ForkedServer, Rounds
from tests.service.real_server import Server


def test_nothing_acknowledged_is_lost_and_nothing_is_kept_by_halves(tmp_path):
    counts = Rounds(ForkedServer(tmp_path / "data"), seed=3).run(4)
    assert counts.rounds == 4 and counts.rounds_with_something_cut >= 3 and counts.uploads_acknowledged > 0


def test_nor_where_reviews_run_in_processes_that_outlive_the_server(tmp_path):
    counts = Rounds(Server(tmp_path / "data"), seed=5).run(1)
    assert counts.rounds == 1
