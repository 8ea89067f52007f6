"""A few rounds of kill -9; more by ``python -m tests.service.kill_rounds --rounds 200``, which prints its counts.

Planted: the senders know every byte that they sent and every answer that they got.
"""

from __future__ import annotations

import subprocess
import sys

from tests.service.kill_rounds import Rounds
from tests.service.real_server import ROOT, Server


def test_nothing_acknowledged_is_lost_and_nothing_is_kept_by_halves(tmp_path):
    # In a process of its own: a server forked from one in which polars has run hangs, and so would cut everything off.
    command = [sys.executable, "-m", "tests.service.kill_rounds", "--rounds", "4", "--seed", "3"]
    done = subprocess.run([*command, "--folder", str(tmp_path)], cwd=ROOT, capture_output=True, text=True, timeout=500)
    assert done.returncode == 0, done.stderr[-2000:]
    counts = {name.strip(): int(count) for name, _, count in (row.partition(":") for row in done.stdout.splitlines())}
    assert counts["rounds"] == 4 and counts["rounds with something cut"] >= 1 and counts["uploads acknowledged"] > 0


def test_nor_where_reviews_run_in_processes_that_outlive_the_server(tmp_path):
    counts = Rounds(Server(tmp_path / "data"), seed=5).run(1)
    assert counts.rounds == 1
