"""An upload followed while it is reviewed: stages as events, the answer last; a closed line ends it.

Evidence: planted.
"""

from __future__ import annotations

import json
import threading

import pytest

from passband.service.reviewing.progress import Cancelled, Progress
from passband.service.reviewing.review_files import ReviewTask, answer

FOLLOWED = {"Accept": "text/event-stream"}


def events(response) -> list[tuple[str, dict]]:
    lines = [block.split("\n") for block in response.text.split("\n\n") if block.startswith("event")]
    return [(name.removeprefix("event: "), json.loads(data.removeprefix("data: "))) for name, data in lines]


def test_stages_come_in_order_and_the_answer_last(client):
    response = client.post("/api/runs", files=[("log", ("ecu.csv", b"runs=1"))], headers=FOLLOWED)
    assert response.headers["content-type"].startswith("text/event-stream")
    *stages, (last, told) = events(response)
    assert [data["stage"] for _, data in stages] == ["reading", "speed", "keeping"]
    assert (stages[0][1]["what"], stages[0][1]["number"], stages[0][1]["of"]) == ("ecu.csv", 1, 7)
    assert (last, told["status"]) == ("answer", 201)
    assert client.get(f"/api/runs/{told['body']['runs'][0]['id']}").status_code == 200


def test_a_refusal_is_an_answer_like_any_other(client, stored):
    told = events(client.post("/api/runs", files=[("log", ("a.csv", b"\x89PNG"))], headers=FOLLOWED))[-1][1]
    assert (told["status"], told["body"]["title"]) == (415, "Not a log")
    assert stored() == []


def test_what_is_wrong_with_the_body_is_told_before_any_event(client, assert_problem):
    assert_problem(client.post("/api/runs", data={"car": ""}, headers=FOLLOWED), 415)


def test_the_same_logs_again_say_so(client, upload):
    upload(b"runs=1")
    told = events(client.post("/api/runs", files=[("log", ("log0.csv", b"runs=1"))], headers=FOLLOWED))
    assert [(name, data["status"]) for name, data in told] == [("answer", 200)]


def test_a_review_ends_at_the_stage_at_which_nobody_wants_it_any_longer(planted, tmp_path):
    heard = []
    (tmp_path / "a").write_bytes(b"runs=1")
    told = {"car": None, "slips": (), "air": None, "finish_ft": 1320, "label": "", "event": "", "round": ""}
    task = ReviewTask(((tmp_path / "a", "a.csv"),), **told, out=tmp_path)
    progress = Progress(lambda stage: heard.append(stage.key) or progress.cancel())
    with pytest.raises(Cancelled):
        answer(task, progress)
    assert heard == ["reading"]


def test_an_upload_cancelled_before_it_is_kept_leaves_nothing(client, monkeypatch, stored):
    # The line is cut by ending the work itself, as its follower does when the browser goes away
    library = client.app.state.library
    begun = threading.Event()
    once = library._reviewer.review

    def cancelled(*args, progress=None, **kwargs):
        begun.set()
        progress.cancel()
        return once(*args, progress=progress, **kwargs)

    monkeypatch.setattr(library._reviewer, "review", cancelled)
    told = events(client.post("/api/runs", files=[("log", ("a.csv", b"runs=1"))], headers=FOLLOWED))[-1][1]
    assert begun.is_set()
    assert (told["status"], told["body"]["title"]) == (409, "Cancelled")
    assert stored() == []
    assert client.get("/api/runs").json()["runs"] == []
