"""The n-th step of an upload fails: it is refused in words and taken the next time, and nothing of it stays.

Planted: the calls that fail are counted outside Python. Every n by ``python -m tests.service.nth_failures``;
here writes are thinned out. Without a C compiler only `test_power_cut.py` stands.
"""

from __future__ import annotations

import pytest

from tests.service.failing_disk import can_compile
from tests.service.nth_failures import CASES, FailingServer

pytestmark = pytest.mark.skipif(not can_compile(), reason="there is no C compiler here")
EVERY = {"write": 9, "any": 13}


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    server = FailingServer(tmp_path_factory.mktemp("failing"))
    yield server
    server.close()


@pytest.mark.parametrize(("kind", "error", "for_good"), CASES)
def test_an_upload_whose_nth_step_fails_is_refused_and_taken_the_next_time(server, kind, error, for_good):
    print(server.fail_each(kind, error, for_good=for_good, every=EVERY.get(kind, 1)))


def test_after_all_that_the_library_is_whole(server):
    server.end()
