"""Processes for reviews: they answer, they refuse, they are replaced when they hang or die, they end when told."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest

from passband.analysis.channels.log import NotALog
from passband.service.reviewing import ReviewTask
from passband.service.told import ToldError
from passband.service.workers import TaskFailed, TaskTooLong, Workers


def task(tmp_path: Path, body: bytes = b"\x89PNG\r\n\x1a\n", **changes) -> ReviewTask:
    path = tmp_path / "0.part"
    path.write_bytes(body)
    told = {"logs": ((path, "photo.csv"),), "car": None, "slips": (), "air": None, "finish_ft": 1320, "label": "",
            "event": "", "round": "", "out": tmp_path}  # fmt: skip
    return ReviewTask(**{**told, **changes})


@pytest.fixture(scope="module")
def workers():
    workers = Workers(1, seconds=120)
    yield workers
    workers.close()


def test_a_refusal_comes_back_as_it_was_raised(workers, tmp_path):
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))
    with pytest.raises(ToldError, match="wieght"):
        workers.run(task(tmp_path, car={"name": "Heron", "wieght": 3}))


def test_without_processes_the_answer_is_the_same(tmp_path):
    with pytest.raises(NotALog, match=r"photo\.csv"):
        Workers(0, seconds=1).run(task(tmp_path))


def test_one_that_dies_is_replaced(workers, tmp_path):
    os.kill(workers._all[0]._process.pid, signal.SIGKILL)
    time.sleep(0.1)
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))


def test_one_that_takes_too_long_is_given_up_and_replaced(workers, tmp_path, monkeypatch):
    os.mkfifo(tmp_path / "never")  # reading it waits for a writer that never comes
    monkeypatch.setattr(workers, "_seconds", 0.2)
    with pytest.raises(TaskTooLong, match=r"longer than 0\.2 s"):
        workers.run(task(tmp_path, logs=((tmp_path / "never", "never.csv"),)))
    monkeypatch.setattr(workers, "_seconds", 120)
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))


def test_a_mistake_of_ours_ends_only_its_task(workers, tmp_path):
    with pytest.raises(TaskFailed, match="died"):
        workers.run(task(tmp_path, logs=((tmp_path / "not there", "x.csv"),)))
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))


def test_closing_ends_every_process(tmp_path):
    workers = Workers(1, seconds=120)
    pid = workers._all[0]._process.pid
    workers.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    with pytest.raises(TaskFailed, match="ending"):
        workers._idle.put(workers._all[0])
        workers.run(task(tmp_path))
