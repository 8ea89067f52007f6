"""The n-th write, sync, rename, new folder or file of an upload fails, for every n: in the server, in SQLite, in Arrow.

Planted: a library loaded before the C library counts and fails the calls of every process of a real server, so that the
table that a worker writes is under it as well. Without a C compiler only `test_power_cut.py` stands.
"""

from __future__ import annotations

import errno
import itertools
from contextlib import suppress

import pytest

from tests.service.failing_disk import FailingDisk, can_compile
from tests.service.real_server import Server, assert_all_whole, orphans, short_log

pytestmark = pytest.mark.skipif(not can_compile(), reason="there is no C compiler here")
SAID = {errno.ENOSPC: 507, errno.EDQUOT: 507, errno.EIO: 500}
AGAIN_EACH = 5
"""Of the refused uploads every so many is sent again at once."""
numbers = itertools.count(1)


@pytest.fixture(scope="module")
def disk(tmp_path_factory):
    made = tmp_path_factory.mktemp("failing")
    disk = FailingDisk(made, made / "data")
    disk.server = Server(made / "data", environment={**disk.environment, "PASSBAND_PAGE_RUNS": "1000"})
    disk.server.start()
    disk.server.ask("GET", "/static/charts.js")
    disk.kept = {}
    disk.kept |= sent(disk, next(numbers))
    yield disk
    with suppress(Exception):
        disk.server.stop()


def sent(disk, number: int) -> dict[str, bytes]:
    answer = disk.server.send(short_log(number))
    assert answer.status == 201, answer.body
    return {answer.told["runs"][0]["id"]: short_log(number)}


def shown(disk) -> set[str]:
    return {run["id"] for run in disk.server.ask("GET", "/api/runs?limit=1000").told["runs"]}


@pytest.mark.parametrize(
    ("kind", "error", "for_good"),
    [
        ("write", errno.ENOSPC, True),
        ("fsync", errno.ENOSPC, True),
        ("rename", errno.ENOSPC, True),
        ("mkdir", errno.ENOSPC, True),
        ("create", errno.ENOSPC, True),
        ("any", errno.EDQUOT, False),
        ("any", errno.EIO, False),
    ],
)
def test_an_upload_whose_nth_step_fails_leaves_nothing_and_is_taken_the_next_time(disk, kind, error, for_good):
    refused = 0
    for at in itertools.count(1):
        log = next(numbers)
        disk.fail(kind, at, error, for_good=for_good)
        answer = disk.server.send(short_log(log))
        reached = disk.heal() >= at
        if answer.status == 201:  # past the end, or what failed was beside the point: the count beside the rows
            disk.kept[answer.told["runs"][0]["id"]] = short_log(log)
        else:
            assert reached and answer.status == SAID[error] and answer.kind == "application/problem+json", answer
            refused += 1
            if refused % AGAIN_EACH == 1:
                disk.kept |= sent(disk, log)
        if not reached:
            break
    assert len(shown(disk)) == len(disk.kept)
    print(f"{kind} {errno.errorcode[error]}: {at - 1} steps, {refused} refused, {at - 1 - refused} beside the point")
    assert refused >= {"mkdir": 1, "rename": 3}.get(kind, 4)


def test_after_all_that_the_library_is_whole(disk):
    assert disk.server.stop() == 0
    assert assert_all_whole(disk.server.data, disk.kept) == len(disk.kept)
    assert orphans(disk.server.data) == []
