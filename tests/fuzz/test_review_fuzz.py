"""Damaged pairs of logs through the whole review, in a process with limits of memory and time.

Planted: damage of clocks, cells, columns, rows and bytes (`damage.py`). Longer: `--fuzz-count 5000 -s` prints the
counts.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from passband.analysis.reading import read_log
from passband.analysis.review import review
from tests.fuzz.review_fuzz import Cases

ROOT = Path(__file__).parents[2]
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "POLARS_MAX_THREADS": "1"}
ELAPSED_S = 10.148
"""On the slip of the first run. [s]"""


def test_damaged_logs_are_reviewed_or_refused_in_words_within_bounds(request):
    count = request.config.getoption("--fuzz-count")
    done = subprocess.run(
        [sys.executable, "-m", "tests.fuzz.review_fuzz", "--count", str(count)],
        cwd=ROOT, env={**os.environ, **ONE_THREAD}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    print(done.stdout.splitlines()[-1:] or done.stderr)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def cases():
    return Cases()


@pytest.mark.parametrize("row", [200, 900, 1400])
@pytest.mark.parametrize("power", [2, 5, 10])
def test_a_clock_that_jumps_ahead_while_the_car_moves_costs_no_time(cases, row, power):
    # Planted: seconds from 10^2 to 10^10, before the launch (row 200 has the burnout), in second and in top gear.
    files = cases.sound(0)
    lines = files[0].decode().splitlines()
    head = next(at for at, line in enumerate(lines) if "Engine Speed" in line) + 1
    for at in range(head + row, len(lines)):
        stamp, _, rest = lines[at].partition(",")
        lines[at] = f"{float(stamp) + 10.0**power:.3f},{rest}"
    files[0] = "\n".join(lines).encode()
    logs = [read_log(data, name=f"{at}.csv", index=at) for at, data in enumerate(files)]
    (run,) = review(logs, cases.car, [cases.slip], cases.air)
    assert run.distance is not None and run.distance.splits[-1].time_s.value == pytest.approx(ELAPSED_S, abs=0.002)
    assert "clock-jumped-ahead" in [finding.code for finding in run.findings]
