"""A few kills amid jobs; more by ``python -m tests.service.killed_jobs --kills 20``, which prints what happened.

Planted: every log, and what it gives where nobody is killed.
"""

from __future__ import annotations

import subprocess
import sys

from tests.service.real_server import ROOT


def test_what_was_accepted_is_done_once_whoever_is_killed(tmp_path):
    # In a process of its own: it reviews the same logs by itself, and servers are started from it.
    command = [sys.executable, "-m", "tests.service.killed_jobs", "--kills", "1", "--runs", "12", "--seed", "2"]
    command += ["--workers", "1", "--folder", str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=500)
    assert done.returncode == 0, done.stderr[-2000:]
    seen = dict(line.rsplit(": ", 1) for line in done.stdout.splitlines())
    assert seen["uploads accepted"] == seen["runs reviewed again"] == "12"
