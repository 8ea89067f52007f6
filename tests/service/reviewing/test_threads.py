"""Processes that compute reviews have one thread each, but for tables, whatever their parent has loaded."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from passband.service.reviewing.threads import started_for_reviews

NAMES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "POLARS_MAX_THREADS", "RAYON_NUM_THREADS")


def seen_by_a_process():
    program = f"import os; print([os.environ.get(name) for name in {NAMES}])"
    return subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip()


@pytest.mark.parametrize("said", [None, "4"])
def test_a_process_started_meanwhile_finds_its_threads_said_and_the_parent_keeps_what_it_had(monkeypatch, said):
    monkeypatch.setattr(os, "sched_getaffinity", lambda _process: {0, 1}, raising=False)
    for name in NAMES:
        monkeypatch.delenv(name, raising=False)
        if said:
            monkeypatch.setenv(name, said)
    before = dict(os.environ)
    with started_for_reviews():
        assert seen_by_a_process() == str(["1", "1", "1", "2", "2"])
    assert dict(os.environ) == before
    with pytest.raises(RuntimeError, match="no such program"), started_for_reviews():
        raise RuntimeError("no such program")
    assert dict(os.environ) == before
