"""A real disk runs full under a real server: it says so, serves on, deletes, and goes on once there is room.

Planted: a file system of some MB, filled to the last byte by another program. Where this machine lets nobody mount,
these tests are skipped; `test_nth_failure.py` and `test_power_cut.py` then stand in with disks that only pretend.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from tests.service.real_server import Server, assert_all_whole, orphans, short_log
from tests.service.small_disk import SmallDisk, can_mount

pytestmark = pytest.mark.skipif(not can_mount(), reason="mounting is not permitted here; simulated full disks stand in")
PAGES = ("/", "/cars", "/events/Meet", "/health", "/api/runs", "/api/cars", "/static/passband.css")
OF_A_RUN = ("", "/review", "/traces", "/logs/0", "/export", "/export?format=csv")


@pytest.fixture(params=["tmpfs", "ext4"])
def disk(request, tmp_path):
    disk = SmallDisk(tmp_path / "disk", kind=request.param, megabytes=32)
    yield disk
    disk.close()


@pytest.fixture
def server(disk, tmp_path):
    server = Server(tmp_path / "disk" / "data", disk.enter, {"TEST_SERVER_LOG": str(tmp_path / "log")})
    server.start()
    yield server
    if server.process.poll() is None:
        server.stop()


def keep(server: Server, number: int) -> str:
    answer = server.send(short_log(number), details=json.dumps({"event": "Meet", "round": f"Q{number}"}))
    assert answer.status == 201, answer.body
    return answer.told["runs"][0]["id"]


def assert_no_room(answer) -> None:
    assert (answer.status, answer.kind) == (507, "application/problem+json"), answer.body
    assert answer.told["title"] == "No room" and "nothing was changed" in answer.told["detail"]


def assert_serves(server: Server, run: str) -> None:
    paths = [*PAGES, f"/runs/{run}", f"/overlay?runs={run}", *(f"/api/runs/{run}{path}" for path in OF_A_RUN)]
    answered = {path: server.ask("GET", path).status for path in paths}
    assert set(answered.values()) == {200}, answered


def test_a_full_disk_is_told_and_what_is_kept_can_be_read_and_deleted(disk, server):
    runs = [keep(server, number) for number in range(6)]
    disk.fill()
    assert disk.free_bytes() < 4096
    assert_no_room(server.send(short_log(100)))
    assert_no_room(server.send(short_log(100) * 40))
    assert_no_room(server.ask("PATCH", f"/api/runs/{runs[0]}", b'{"label": "new"}'))
    assert_no_room(server.ask("POST", "/api/cars", b'{"name": "Heron"}'))
    for run in runs:
        assert_serves(server, run)
    for run in runs[:3]:
        assert server.ask("DELETE", f"/api/runs/{run}").status == 204
        assert server.ask("GET", f"/api/runs/{run}").status == 404
        disk.fill()
    assert_serves(server, runs[3])
    disk.make_room()
    kept = {keep(server, 200): short_log(200), runs[5]: short_log(5)}
    assert server.ask("PATCH", f"/api/runs/{runs[5]}", b'{"label": "new"}').status == 200
    assert (disk.seen / "data" / "reserve").stat().st_size == 4 * 1024 * 1024
    assert server.stop() == 0 and "Traceback" not in server.said()
    assert assert_all_whole(disk.seen / "data", kept) == 4 and orphans(disk.seen / "data") == []


def test_emptying_the_trash_of_a_full_disk_makes_the_room_for_the_next_upload(disk, server):
    runs = [keep(server, number) for number in range(8)]
    for run in runs[:7]:
        assert server.ask("DELETE", f"/api/runs/{run}").status == 204
    disk.fill()
    assert_no_room(server.send(short_log(100)))
    for entry in server.ask("GET", "/api/trash").told["entries"]:
        assert server.ask("DELETE", f"/api/trash/{entry['id']}").status == 204
    assert disk.free_bytes() > 200_000
    keep(server, 100)


def test_it_starts_on_a_full_disk_and_deletes_there(disk, server):
    runs = [keep(server, number) for number in range(3)]
    server.kill()
    disk.fill()
    server.start()
    assert_serves(server, runs[0])
    assert server.ask("DELETE", f"/api/runs/{runs[0]}").status == 204
    disk.make_room()
    keep(server, 100)


def test_a_disk_that_fills_at_any_moment_of_an_upload_leaves_all_of_it_or_nothing(disk, server):
    """Room for the next upload shrinks by a few kB each time, so that it runs out at another step."""
    kept = {keep(server, 0): short_log(0)}
    refused = 0
    for number, room in enumerate(range(0, 240_000, 12_000), start=1):
        disk.fill()
        filler = disk.seen / "filler"
        with filler.open("r+b") as file:
            file.truncate(max(filler.stat().st_size - room, 0))
        answer = server.send(short_log(number))
        if answer.status == 201:
            kept[answer.told["runs"][0]["id"]] = short_log(number)
        else:
            refused += 1
            assert_no_room(answer)
    assert refused > 3 and len(kept) > 3
    disk.make_room()
    kept[keep(server, 1000)] = short_log(1000)
    assert server.stop() == 0
    assert assert_all_whole(disk.seen / "data", kept) == len(kept) and orphans(disk.seen / "data") == []


def passband(disk, *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [*disk.enter, sys.executable, "-m", "passband.service.cli", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, env={**os.environ, "NO_COLOR": "1"})


@pytest.mark.parametrize("step", ["recheck", "trash", "review-again"])
def test_a_library_that_cannot_be_opened_for_want_of_room_says_so(disk, server, tmp_path, step):
    # Regression: where the reserve was gone too, a database that could not be opened was told by a traceback
    keep(server, 0)
    server.kill()
    for path in (disk.seen / "data").glob("library.sqlite*"):
        path.unlink()
    (disk.seen / "data" / "reserve").unlink()
    disk.fill()
    told = passband(disk, step, "--data", str(tmp_path / "disk" / "data"))
    assert told.returncode == 2 and "no room" in told.stderr and "Traceback" not in told.stderr, told.stderr
    disk.make_room()
    assert passband(disk, "recheck", "--data", str(tmp_path / "disk" / "data")).returncode == 0


def test_a_library_on_a_disk_that_only_reads_any_more_can_be_backed_up(disk, server, tmp_path):
    # Planted: a disk that failed is often mounted so, with rows yet in the database's log
    keep(server, 0)
    server.kill()
    assert (disk.seen / "data" / "library.sqlite-wal").stat().st_size > 0
    subprocess.run([*disk.enter, "mount", "-o", "remount,ro", str(tmp_path / "disk")], check=True)
    told = passband(disk, "backup", str(tmp_path / "away"), "--data", str(tmp_path / "disk" / "data"))
    assert told.returncode == 0 and "1 run," in told.stdout, told.stderr
    assert not list(tmp_path.glob(".passband-backup*"))
