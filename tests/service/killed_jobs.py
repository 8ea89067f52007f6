"""A real server and its processes for reviews are killed (kill -9) amid jobs; what was accepted is done, and once.

python -m tests.service.killed_jobs [--kills 20] [--runs 100] [--workers 2] [--seed 1] [--folder FOLDER]
                                     [--records postgresql]

First so many uploads as `runs` are sent, none waited for; then the car is told otherwise and all runs reviewed again.
In each half so many kills come at random moments, of the server or of one of its processes. At the end each log has one
run, and each review is, byte for byte, the one that this process makes of the same log by itself; until all new reviews
were there the old ones were those that could be read.

Public: `KilledJobs`, `Seen`, `main`.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import signal
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import asdict, dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import orjson

from passband.service.reviewing.review_files import ReviewTask, review_files
from tests.service.postgres_server import started_server
from tests.service.real_server import (
    BOUNDARY,
    Server,
    assert_all_whole,
    assert_all_whole_on_a_server,
    orphans,
    short_log,
)

CAR = {"name": "Heron", "mass": "1100 kg", "tire_circumference": "2.1 m"}
NEWER = {**CAR, "mass": "1150 kg"}
STEP = 4
"""At most so many runs come further between two kills."""
SOME = 10
"""So many old reviews are read after each kill."""
MOMENT_S = 0.2
"""Within so long behind that the kill comes. [s]"""
PATIENCE_S = 240.0
CUT = (OSError, http.client.HTTPException)


@dataclass
class Seen:
    """What happened."""

    kills_of_the_server: int = 0
    kills_of_a_process: int = 0
    uploads_accepted: int = 0
    runs_reviewed_again: int = 0
    old_reviews_read_meanwhile: int = 0
    seconds: float = 0.0


@dataclass
class KilledJobs:
    """One library, its jobs, and many deaths of those who work on them."""

    server: Server
    folder: Path
    seed: int = 1
    whole: Callable[[Path, dict[str, bytes]], int] = assert_all_whole
    left: Callable[[Path], list[str]] = orphans
    seen: Seen = field(default_factory=Seen)

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)
        self._car = ""

    def run(self, *, runs: int, kills: int) -> Seen:
        """Both halves; `AssertionError` at the first thing that was lost, doubled or half there."""
        began = time.monotonic()
        self.server.start()
        self._car = self.server.ask("POST", "/api/cars", orjson.dumps(CAR)).told["id"]
        logs = self._uploads(runs, kills)
        old = {run: self._review(run) for run in logs}
        assert self._expected(logs, CAR, 1) == old
        assert self.server.ask("PUT", f"/api/cars/{self._car}", orjson.dumps(NEWER)).status == 200
        self._again(old, kills)
        new = {run: self._review(run) for run in logs}
        assert self._expected(logs, NEWER, 2) == new and all(new[run] != old[run] for run in old)
        assert self.server.stop() == 0
        assert self.whole(self.server.data, logs) == runs
        assert self.left(self.server.data) == []
        said = self.server.said()
        assert "Not all that is kept" not in said and "given up" not in said, said[-3000:]
        self.seen.seconds = time.monotonic() - began
        return self.seen

    def _uploads(self, runs: int, kills: int) -> dict[str, bytes]:
        """Send logs and wait for none; which run came of each."""
        accepted: dict[int, str] = {}
        for number in range(runs):
            accepted[number] = self._put_off(short_log(number))
        self.seen.uploads_accepted = len(accepted)
        self._killed(kills, lambda: len(self._runs()), lambda: True)
        found = {number: self._wait_for(job)["uploaded"]["runs"] for number, job in accepted.items()}
        assert all(len(its) == 1 for its in found.values())
        logs = {its[0]["id"]: short_log(number) for number, its in found.items()}
        assert sorted(self._runs()) == sorted(logs) and len(logs) == runs
        return logs

    def _again(self, old: dict[str, bytes], kills: int) -> None:
        """All reviewed again, each old review read after each kill until the new ones stand."""
        job = self.server.ask("POST", "/api/review-again", b"{}").told["id"]
        self._killed(kills, lambda: self._told(job)["reviewed_again"]["reviewed"], lambda: self._old_stand(job, old))
        told = self._wait_for(job)
        assert told["reviewed_again"] == {"runs": len(old), "reviewed": len(old), "left": [], "stands": True}, told
        self.seen.runs_reviewed_again = told["reviewed_again"]["reviewed"]

    def _old_stand(self, job: str, old: dict[str, bytes]) -> bool:
        some = self._random.sample(sorted(old), min(SOME, len(old)))
        read = {run: self._review(run) for run in some}
        if self._told(job)["state"] == "done":
            return False
        assert read == {run: old[run] for run in some}
        self.seen.old_reviews_read_meanwhile += len(read)
        return True

    def _killed(self, kills: int, done: Callable[[], int], after: Callable[[], bool]) -> None:
        for _ in range(kills):
            aim = done() + self._random.randint(0, STEP)
            until = time.monotonic() + PATIENCE_S / 4
            while done() < aim and time.monotonic() < until:
                time.sleep(0.01)
            time.sleep(self._random.uniform(0, MOMENT_S))
            processes = self._processes()
            if processes and self._random.random() < 0.5:
                with suppress(ProcessLookupError):
                    os.kill(self._random.choice(processes), signal.SIGKILL)
                self.seen.kills_of_a_process += 1
            else:
                self.server.kill()
                self.server.start()
                self.seen.kills_of_the_server += 1
            if not after():
                return  # all was done before the last kill

    def _processes(self) -> list[int]:
        """Those that compute reviews."""
        assert self.server.process is not None
        of = self.server.process.pid
        children = Path(f"/proc/{of}/task/{of}/children").read_text().split()
        return [int(one) for one in children if b"spawn_main" in Path(f"/proc/{one}/cmdline").read_bytes()]

    def _put_off(self, log: bytes) -> str:
        head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="log"; filename="dash.csv"\r\n\r\n'
        car = f'\r\n--{BOUNDARY}\r\nContent-Disposition: form-data; name="car"\r\n\r\n{self._car}\r\n--{BOUNDARY}--\r\n'
        line = http.client.HTTPConnection(self.server.url.removeprefix("http://"), timeout=60)
        kind = f"multipart/form-data; boundary={BOUNDARY}"
        headers = {"Content-Type": kind, "Prefer": "respond-async"}
        line.request("POST", "/api/runs", head.encode() + log + car.encode(), headers)
        answer = line.getresponse()
        told: dict[str, Any] = orjson.loads(answer.read())
        line.close()
        assert answer.status == 202, told
        return str(told["id"])

    def _told(self, job: str) -> dict[str, Any]:
        told: dict[str, Any] = self.server.ask("GET", f"/api/jobs/{job}").told
        return told

    def _wait_for(self, job: str) -> dict[str, Any]:
        until = time.monotonic() + PATIENCE_S
        while (told := self._told(job))["state"] in ("waiting", "working"):
            assert time.monotonic() < until, told
            time.sleep(0.05)
        assert told["state"] == "done", told
        return told

    def _runs(self) -> list[str]:
        found: list[str] = []
        after = ""
        while True:
            told = self.server.ask("GET", f"/api/runs?limit=200{after}").told
            found += [run["id"] for run in told["runs"]]
            if not told["next"]:
                return found
            after = f"&after={told['next']}"

    def _review(self, run: str) -> bytes:
        answer = self.server.ask("GET", f"/api/runs/{run}/review")
        assert answer.status == 200
        return answer.body

    def _expected(self, logs: dict[str, bytes], car: dict[str, Any], version: int) -> dict[str, bytes]:
        """Slow twin: one log after the other, in this process."""
        made = {}
        for run, log in logs.items():
            with tempfile.TemporaryDirectory(dir=self.folder) as out:
                path = Path(out) / "log"
                path.write_bytes(log)
                task = ReviewTask(((path, "dash.csv"),), car, (), None, 1320, "", "", "", Path(out))
                (reviewed,) = review_files(task)
            review = {**reviewed.review, "car": {**reviewed.review["car"], "id": self._car, "version": version}}
            made[run] = orjson.dumps(review)
        return made


def _but_of_the_dead(data: Path) -> list[str]:
    """Where services share a folder, what one that was killed had on its way lies in a folder of its own for a day."""
    return [path for path in orphans(data) if "incoming" not in Path(path).parts]


def main() -> int:
    """Kill, and print what happened."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--runs", type=int, default=100)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--records", choices=("sqlite", "postgresql"), default="sqlite")
    asked = parser.parse_args()
    with ExitStack() as until_done:
        folder = asked.folder or Path(until_done.enter_context(tempfile.TemporaryDirectory()))
        server, whole = Server(folder / "data", workers=asked.workers), assert_all_whole
        left: Callable[[Path], list[str]] = orphans
        if asked.records == "postgresql":
            rows = until_done.enter_context(started_server())
            name, address = rows.new_named_database()
            server.environment = {"PASSBAND_DATABASE": address}
            whole = partial(assert_all_whole_on_a_server, ask=lambda question: rows.say(question, name))
            left = _but_of_the_dead
        seen = KilledJobs(server, folder, asked.seed, whole, left).run(runs=asked.runs, kills=asked.kills)
    for name, count in asdict(seen).items():
        print(f"{name.replace('_', ' ')}: {count:g}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
