"""Mutated logs of many dialects through the reader, in a process with limits of memory and time.

Planted: mutations of bytes, tokens, lines and columns (`read_fuzz.py`). Longer: `--read-fuzz-count 1000000 -s`
prints the counts.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1"}


def test_mutated_logs_are_read_or_refused_in_words_within_bounds(request):
    count = request.config.getoption("--read-fuzz-count")
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz.read_fuzz", "--count", str(count)],
        cwd=ROOT, env={**os.environ, **ONE_THREAD}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    print(done.stdout.splitlines()[-1:] or done.stderr)
    assert done.returncode == 0, done.stdout + done.stderr
