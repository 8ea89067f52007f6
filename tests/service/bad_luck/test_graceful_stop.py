"""Told to end amid uploads the service finishes them or says that it did not keep them; what it kept is there again."""

from __future__ import annotations

import threading
from http.client import HTTPException

import pytest

from tests.service.real_server import Server, assert_all_whole, orphans, short_log

UPLOADS = 10


def sent_amid_the_end(server: Server, logs: list[bytes], *, ends_after: int) -> dict[int, int | None]:
    """Status of each upload, all sent at once; the server is told to end as soon as so many are answered.

    None where the line could not be had any more: the server never saw that upload whole.
    """
    answers: dict[int, int | None] = {}
    enough = threading.Semaphore(0)

    def send(number: int) -> None:
        try:
            answers[number] = server.send(logs[number]).status
        except (OSError, HTTPException):
            answers[number] = None
        enough.release()

    threads = [threading.Thread(target=send, args=(number,)) for number in range(len(logs))]
    for thread in threads:
        thread.start()
    for _ in range(ends_after):
        enough.acquire()
    assert server.stop() == 0
    for thread in threads:
        thread.join()
    return answers


@pytest.mark.parametrize("ends_after", [0, 1, 4])
def test_no_upload_is_lost_when_the_server_is_told_to_end_amid_many(tmp_path, ends_after):
    server = Server(tmp_path / "data", environment={"PASSBAND_RESERVE_BYTES": "0"})
    logs = [short_log(number) for number in range(UPLOADS)]
    server.start()
    answers = sent_amid_the_end(server, logs, ends_after=ends_after)
    assert set(answers.values()) <= {201, 503, None} and "Traceback" not in server.said()
    kept = [number for number, status in answers.items() if status == 201]
    assert len(kept) >= ends_after and orphans(server.data) == []

    server.start()
    runs = {run["id"] for run in server.ask("GET", "/api/runs?limit=100").told["runs"]}
    assert len(runs) == len(kept)  # neither less than was acknowledged nor anything that was not
    again = [server.send(log) for log in logs]
    assert [one.status for one in again] == [200 if number in kept else 201 for number in range(UPLOADS)]
    assert server.stop() == 0
    acknowledged = {one.told["runs"][0]["id"]: log for one, log in zip(again, logs, strict=True)}
    assert assert_all_whole(server.data, acknowledged) == UPLOADS
    assert runs < set(acknowledged) or runs == set(acknowledged)
