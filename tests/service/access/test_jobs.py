"""Jobs of teams: each team's own, and done after a start though nobody of the team comes."""

from __future__ import annotations

import time

from passband.service.jobs import job_work


def test_what_a_team_was_promised_is_done_after_a_start_though_nobody_of_it_comes(house, open_service, monkeypatch):
    blue = house.cookie("blue crew")
    with monkeypatch.context() as idle:
        idle.setattr(job_work.JobRunner, "_take_one", lambda self: False)
        put = house.client.post("/api/runs", files={"log": ("a.csv", b"runs=1")},
                                headers={**blue, "Prefer": "respond-async"})  # fmt: skip
        assert put.status_code == 202
        house.client.app.state.jobs.close()
        house.client.app.state.teams.close()
    with open_service() as client:
        until = time.monotonic() + 20.0
        while not client.app.state.teams.libraries.all_open():
            assert time.monotonic() < until
            time.sleep(0.02)
        (library,) = client.app.state.teams.libraries.all_open()
        while library.records.jobs.waits().waiting or library.records.jobs.waits().working:
            assert time.monotonic() < until
            time.sleep(0.02)
        told = client.get(put.headers["location"], headers=blue).json()
        assert told["state"] == "done" and len(told["uploaded"]["runs"]) == 1
