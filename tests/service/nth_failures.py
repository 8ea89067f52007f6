"""The n-th write, sync, rename, new folder or file of an upload fails, in the server, in SQLite, in Arrow.

python -m tests.service.nth_failures [--every 1]

A library loaded before the C library counts and fails the calls of every process of a real server, so that the table
that a worker writes is under it as well.

Public: `FailingServer`, `CASES`, `main`.
"""

from __future__ import annotations

import argparse
import errno
import itertools
import sys
import tempfile
from pathlib import Path

from tests.service.failing_disk import FailingDisk
from tests.service.real_server import Server, assert_all_whole, orphans, short_log

CASES = (
    ("write", errno.ENOSPC, True),
    ("fsync", errno.ENOSPC, True),
    ("rename", errno.ENOSPC, True),
    ("mkdir", errno.ENOSPC, True),
    ("create", errno.ENOSPC, True),
    ("any", errno.ENOSPC, False),
    ("any", errno.EDQUOT, True),
    ("any", errno.EIO, False),
)
"""What fails, with what, and whether all after it fail too."""
SAID = {errno.ENOSPC: 507, errno.EDQUOT: 507, errno.EIO: 500}
UNTOLD = 500
"""SQLite says of a failed sync, or of a quota, only that writing failed; if it fails just once, nobody can see why."""
BEHIND = 5
"""So many in a row that were taken all the same lie behind the answer: SQLite tidying up, more each time it cannot."""
AGAIN_EACH = 5
"""Of the refused uploads every so many is sent again at once."""


class FailingServer:
    """A server on a disk that can be made to fail.

    Parameters
    ----------
    folder : Path
        For all of it.
    """

    def __init__(self, folder: Path) -> None:
        self._disk = FailingDisk(folder, folder / "data")
        self._server = Server(folder / "data", environment={**self._disk.environment, "PASSBAND_PAGE_RUNS": "1000"})
        self._numbers = itertools.count(1)
        self.kept: dict[str, bytes] = {}
        self._server.start()
        self._send(next(self._numbers))

    def fail_each(self, kind: str, error: int, *, for_good: bool, every: int) -> str:
        """Let every so-manieth step of an upload fail in turn; what came of it, in words."""
        refused = tried = in_a_row = 0
        for at in itertools.count(1, every):
            log = next(self._numbers)
            self._disk.fail(kind, at, error, for_good=for_good)
            answer = self._server.send(short_log(log))
            reached = self._disk.heal() >= at
            tried += reached
            in_a_row = in_a_row + 1 if answer.status == 201 else 0
            if answer.status == 201:  # past the end, or what failed was beside the point: the count beside the rows
                self.kept[answer.told["runs"][0]["id"]] = short_log(log)
            else:
                said = {SAID[error]} if for_good else {SAID[error], UNTOLD}
                assert reached and answer.status in said, (kind, at, answer, self._server.said()[-3000:])
                assert answer.kind == "application/problem+json"
                refused += 1
                if refused % AGAIN_EACH == 1:
                    self._send(log)
            if not reached or in_a_row == BEHIND:
                break
        shown = self._server.ask("GET", "/api/runs?limit=1000").told["runs"]
        assert {run["id"] for run in shown} == set(self.kept)
        assert refused > 0
        named = f"{kind} {errno.errorcode[error]}{' from there on' if for_good else ''}"
        return f"{named}: {at - 1} steps, {tried} failed, {refused} refused, {tried - refused} beside the point"

    def end(self) -> None:
        """End the server and hold what it kept against what it acknowledged."""
        assert self._server.stop() == 0
        assert assert_all_whole(self._server.data, self.kept) == len(self.kept)
        assert orphans(self._server.data) == []

    def close(self) -> None:
        """End the server if it is still there."""
        if self._server.process is not None and self._server.process.poll() is None:
            self._server.kill()

    def _send(self, number: int) -> None:
        answer = self._server.send(short_log(number))
        assert answer.status == 201, (answer.body, self._server.said()[-3000:])
        self.kept[answer.told["runs"][0]["id"]] = short_log(number)


def main() -> int:
    """Fail each step and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--every", type=int, default=1, help="each n-th step only")
    every = parser.parse_args().every
    with tempfile.TemporaryDirectory() as folder:
        server = FailingServer(Path(folder))
        try:
            for kind, error, for_good in CASES:
                print(server.fail_each(kind, error, for_good=for_good, every=every), flush=True)
            server.end()
        finally:
            server.close()
    print(f"{len(server.kept)} uploads acknowledged, all whole; nothing else was kept")
    return 0


if __name__ == "__main__":
    sys.exit(main())
