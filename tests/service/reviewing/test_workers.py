"""Processes for reviews: they answer, they refuse, they are replaced when they hang or die, they end when told."""

from __future__ import annotations

import errno
import os
import signal
from pathlib import Path

import polars as pl
import pytest

from passband.analysis.channels.log import NotALog
from passband.service.commands.demo import WEEKEND
from passband.service.given.facts import GivenError
from passband.service.reviewing.memory import can_limit_memory
from passband.service.reviewing.progress import Cancelled, Progress
from passband.service.reviewing.review_files import Broken, ReviewTask, answer
from passband.service.reviewing.workers import ServiceEnding, TaskFailed, TaskTooLong, Workers


class Panic(BaseException):
    """As polars and pyarrow panic: no Exception."""


ROOM = 2**30
"""Memory for a worker of these tests. [B]"""


def task(tmp_path: Path, body: bytes = b"\x89PNG\r\n\x1a\n", **changes) -> ReviewTask:
    path = tmp_path / "0.part"
    path.write_bytes(body)
    told = {"logs": ((path, "photo.csv"),), "car": None, "slips": (), "air": None, "finish_ft": 1320, "label": "",
            "event": "", "round": "", "out": tmp_path}  # fmt: skip
    return ReviewTask(**{**told, **changes})


@pytest.fixture(scope="module")
def workers():
    workers = Workers(1, seconds=120, memory_bytes=ROOM)
    yield workers
    workers.close()


def test_a_refusal_comes_back_as_it_was_raised(workers, tmp_path):
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))
    with pytest.raises(GivenError, match="wieght"):
        workers.run(task(tmp_path, car={"name": "Heron", "wieght": 3}))


def test_without_processes_the_answer_is_the_same(tmp_path):
    with pytest.raises(NotALog, match=r"photo\.csv"):
        Workers(0, seconds=1, memory_bytes=ROOM).run(task(tmp_path))


def test_one_that_dies_is_replaced(workers, tmp_path):
    os.kill(workers._all[0]._process.pid, signal.SIGKILL)
    workers._all[0]._process.join(30)
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))


def test_one_killed_with_nothing_to_do_is_not_laid_to_the_next_logs(workers, tmp_path, monkeypatch):
    # Planted: it is dead, and does not look so yet
    os.kill(workers._all[0]._process.pid, signal.SIGKILL)
    workers._all[0]._process.join(30)
    monkeypatch.setattr(type(workers._all[0]), "alive", True)
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


def test_an_error_that_nobody_foresaw_is_an_answer_and_the_process_stays(workers, tmp_path, caplog):
    pid = workers._all[0]._process.pid
    with pytest.raises(TaskFailed) as lost:
        workers.run(task(tmp_path, logs=((tmp_path / "not there", "x.csv"),)))
    assert lost.value.files == ("x.csv",)
    assert lost.value.reference in caplog.text and "FileNotFoundError" in caplog.text
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))
    assert workers._all[0]._process.pid == pid


@pytest.mark.skipif(not can_limit_memory(), reason="this system cannot limit memory")
def test_one_that_asks_for_too_much_memory_fails_alone(workers, tmp_path, caplog):
    # Planted: a hole of 8 GiB that takes no room on the disk.
    with (tmp_path / "wide").open("wb") as file:
        file.truncate(8 * ROOM)
    with pytest.raises(TaskFailed):
        workers.run(task(tmp_path, logs=((tmp_path / "wide", "wide.csv"),)))
    assert "MemoryError" in caplog.text
    with pytest.raises(NotALog, match=r"photo\.csv"):
        workers.run(task(tmp_path))


@pytest.mark.parametrize("error", [MemoryError, RecursionError, ValueError, pl.exceptions.ComputeError, Panic])
def test_any_error_becomes_an_answer(tmp_path, monkeypatch, error):
    def break_off(task, progress):
        raise error("planted")

    monkeypatch.setattr("passband.service.reviewing.review_files.review_files", break_off)
    got = answer(task(tmp_path))
    assert isinstance(got, Broken) and got.kind == error.__name__ and "planted" in got.trace


def test_a_full_disk_is_told_as_what_it_is(tmp_path, monkeypatch):
    def fill(task, progress):
        raise OSError(errno.ENOSPC, "no room")

    monkeypatch.setattr("passband.service.reviewing.review_files.review_files", fill)
    with pytest.raises(OSError, match="no room"):
        Workers(0, seconds=1, memory_bytes=ROOM).run(task(tmp_path))


def test_an_order_to_end_is_no_answer(tmp_path, monkeypatch):
    def end(task, progress):
        raise SystemExit

    monkeypatch.setattr("passband.service.reviewing.review_files.review_files", end)
    with pytest.raises(SystemExit):
        answer(task(tmp_path))


def test_closing_ends_every_process(tmp_path):
    workers = Workers(1, seconds=120, memory_bytes=ROOM)
    pid = workers._all[0]._process.pid
    workers.close()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)
    with pytest.raises(ServiceEnding):
        workers._idle.put(workers._all[0])
        workers.run(task(tmp_path))


def test_stages_are_heard_and_a_word_ends_the_review_at_once(workers, tmp_path):
    # Planted: a demo log; cancelled at its first stage, long before a review could be done
    logs = tuple((WEEKEND / name, name) for name in ("01_q1_ecu.csv.gz", "01_q1_dash.csv.gz"))
    heard: list[str] = []
    progress = Progress(lambda stage: heard.append(f"{stage.key} {stage.what}") or progress.cancel())
    with pytest.raises(Cancelled):
        workers.run(task(tmp_path, logs=logs), progress)
    assert heard == ["reading 01_q1_ecu.csv.gz"]
    heard.clear()
    assert len(workers.run(task(tmp_path, logs=logs), Progress(lambda stage: heard.append(stage.key)))) == 1
    assert heard == ["reading", "reading", "clocks", "window", "speed", "gears", "power"]
