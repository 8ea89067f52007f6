"""A real server is killed (kill -9) amid uploads and deletes, started again, and held to every answer that it gave.

python -m tests.service.kill_rounds [--rounds 200] [--workers 0] [--seed 1] [--folder FOLDER]

Each round starts the server on the same folder, checks what it kept, and kills it at a random moment while several
senders upload and delete. With ``--workers 0`` reviews are computed in the server, which is forked from a process that
has all its modules loaded, so a round takes about a second; with more it is the command itself with its processes.

Public: `Rounds`, `Counts`, `main`.
"""

from __future__ import annotations

import argparse
import http.client
import itertools
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import IO

from tests.service.real_server import ROOT, Server, assert_all_whole, orphans, short_log

SENDERS = 4
ANSWERS = 8
"""At most so many answers are waited for before the server is killed, somewhere within the next `AFTER_S`."""
AFTER_S = 0.4
"""About as long as an upload takes. [s]"""
PATIENCE_S = 20.0
"""No answer in so long means that the machine is busy; the server is killed all the same. [s]"""
DELETE_SHARE = 0.35
CHANGE_SHARE = 0.15
REVIEW = """
import sys, tempfile
from pathlib import Path
import passband.service.serving
from passband.service.reviewing.review_files import ReviewTask, review_files
out = Path(tempfile.mkdtemp())
(out / "log").write_bytes(sys.stdin.buffer.read())
review_files(ReviewTask(((out / "log", "log.csv"),), None, (), None, 1320, "", "", "", out))
print(*(name for name in sys.modules if name.split(".")[0] not in {"__main__", "__mp_main__"}))
"""
"""A review in a process of its own, which then says what it had to load: here nothing may be reviewed before a fork."""
CUT = (OSError, http.client.HTTPException)
"""What a sender sees of a server that is killed."""


@dataclass
class Counts:
    """What happened."""

    rounds: int = 0
    uploads_acknowledged: int = 0
    uploads_cut: int = 0
    uploads_cut_but_kept_whole: int = 0
    deletes_acknowledged: int = 0
    deletes_cut: int = 0
    changes_acknowledged: int = 0
    changes_cut: int = 0
    rounds_with_something_cut: int = 0
    runs_at_the_end: int = 0
    trash_at_the_end: int = 0


class ForkedServer(Server):
    """The server forked from this process, which has loaded all it needs: it starts in a fraction of a second."""

    def start(self) -> None:
        """Fork, serve, and wait for the line that says where."""
        _load_all()
        reading, writing = os.pipe()
        pid = os.fork()
        if pid == 0:
            os.close(reading)
            self._serve(writing)
        os.close(writing)
        self._pid, self._out = pid, os.fdopen(reading)
        line = self._out.readline()
        if not line.startswith("Serving on "):
            raise RuntimeError(self.said())
        self.url = line.split()[-1]

    def _serve(self, writing: int) -> None:
        status = 70
        try:
            from passband.service.serving import serve

            os.dup2(writing, 1)
            log = os.open(self.log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
            os.dup2(log, 2)
            sys.stdout, sys.stderr = _written(1), _written(2)
            os.environ |= {"PASSBAND_WORKERS": "0", **self.environment}
            status = serve(host="127.0.0.1", port=0, data=self.data)
        finally:
            os._exit(status)

    def kill(self) -> None:
        """Kill it as a power cut would."""
        os.kill(self._pid, signal.SIGKILL)
        os.waitpid(self._pid, 0)
        self._out.close()

    def stop(self) -> int:
        """End it in order."""
        os.kill(self._pid, signal.SIGTERM)
        _, status = os.waitpid(self._pid, 0)
        self._out.close()
        return os.waitstatus_to_exitcode(status)


@cache
def _load_all() -> None:
    command = [sys.executable, "-c", REVIEW]
    said = subprocess.run(command, input=short_log(0), stdout=subprocess.PIPE, cwd=ROOT, check=True).stdout.decode()
    for name in said.split():
        with suppress(ImportError):
            import_module(name)
    # two seconds, and no threads: what a review takes longest to load
    import_module("passband.analysis.quantities")._registry()


def _written(handle: int) -> IO[str]:
    return os.fdopen(handle, "w", buffering=1, closefd=False)


@dataclass
class Rounds:
    """One library through many deaths of its server."""

    server: Server
    seed: int = 1
    counts: Counts = field(default_factory=Counts)
    kept: dict[str, int] = field(default_factory=dict)
    """Number of the log of each run that was acknowledged."""
    labels: dict[str, set[str]] = field(default_factory=dict)
    """What a run may be called now: after a change that was cut, the old or the new."""

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)
        self._numbers = itertools.count(1)
        self._lock = threading.Lock()
        self._gone: set[str] = set()
        self._going: set[str] = set()
        self._cut: set[int] = set()

    def run(self, rounds: int) -> Counts:
        """So many rounds, then an orderly end; `AssertionError` at the first thing that was lost or half kept."""
        self.server.start()
        for _ in range(rounds):
            self._one()
        assert self.server.stop() == 0
        assert assert_all_whole(self.server.data, self._logs()) == len(self.kept)
        assert orphans(self.server.data) == []
        said = self.server.said()
        assert "Traceback" not in said and "Not all that is kept" not in said, said[-3000:]
        self.counts.runs_at_the_end = len(self.kept)
        return self.counts

    def _one(self) -> None:
        senders = [threading.Thread(target=self._send, args=(self._random.random(),)) for _ in range(SENDERS)]
        for sender in senders:
            sender.start()
        self._wait(self._answers() + self._random.randint(0, ANSWERS))
        time.sleep(self._random.uniform(0, AFTER_S))
        self.server.kill()
        for sender in senders:
            sender.join()
        self.counts.rounds += 1
        self.counts.rounds_with_something_cut += bool(self._cut or self._going)
        self.server.start()
        self._check()

    def _answers(self) -> int:
        counts = self.counts
        return counts.uploads_acknowledged + counts.deletes_acknowledged + counts.changes_acknowledged

    def _wait(self, answers: int) -> None:
        until = time.monotonic() + PATIENCE_S
        while self._answers() < answers and time.monotonic() < until:
            time.sleep(0.005)

    def _send(self, seed: float) -> None:
        own = random.Random(seed)
        try:
            while True:
                chance = own.random()
                if chance < DELETE_SHARE:
                    self._delete(own)
                elif chance < DELETE_SHARE + CHANGE_SHARE:
                    self._change(own)
                else:
                    self._upload()
        except CUT:
            return

    def _upload(self) -> None:
        with self._lock:
            number = next(self._numbers)
            self._cut.add(number)
        answer = self.server.send(short_log(number))
        assert answer.status == 201, answer.body
        with self._lock:
            self._cut.discard(number)
            self.kept[answer.told["runs"][0]["id"]] = number
            self.counts.uploads_acknowledged += 1

    def _delete(self, own: random.Random) -> None:
        run = self._chosen(own)
        if not run:
            return
        answer = self.server.ask("DELETE", f"/api/runs/{run}")
        assert answer.status == 204, answer.body
        with self._lock:
            self._going.discard(run)
            del self.kept[run]
            self._gone.add(run)
            self.counts.deletes_acknowledged += 1

    def _change(self, own: random.Random) -> None:
        run = self._chosen(own)
        if not run:
            return
        label = f"label {own.randrange(10**6)}"
        with self._lock:
            before = self.labels.get(run, {""})
            self.labels[run] = before | {label}
        answer = self.server.ask("PATCH", f"/api/runs/{run}", json.dumps({"label": label}).encode())
        assert answer.status == 200, answer.body
        with self._lock:
            self._going.discard(run)
            self.labels[run] = {label}
            self.counts.changes_acknowledged += 1

    def _chosen(self, own: random.Random) -> str:
        with self._lock:
            free = sorted(set(self.kept) - self._going)
            if not free:
                return ""
            run = own.choice(free)
            self._going.add(run)
            return run

    def _check(self) -> None:
        found = self._found()
        lost = set(self.kept) - set(found) - self._going
        assert not lost, f"acknowledged and lost: {lost}"
        assert not self._gone & set(found), "deleted and back again"
        for run in self._going:
            if run in found:
                self.counts.changes_cut += 1
            else:
                del self.kept[run]
                self._gone.add(run)
                self.counts.deletes_cut += 1
        for run in set(found) - set(self.kept):
            number = self._number_of(run)
            assert number in self._cut, "a run that nobody sent"
            self.kept[run] = number
            self.counts.uploads_cut_but_kept_whole += 1
        for run, label in found.items():
            assert label in self.labels.get(run, {""}), "neither the old label nor the new"
            self.labels[run] = {label}
        self.counts.uploads_cut += len(self._cut)
        self._cut, self._going = set(), set()
        assert assert_all_whole(self.server.data, self._logs()) == len(found)
        assert list((self.server.data / "incoming").iterdir()) == [] and orphans(self.server.data) == []
        trash = self.server.ask("GET", "/api/trash").told["entries"]
        assert self._gone <= {run["id"] for entry in trash for run in entry["runs"]}, "deleted and not in the trash"
        self.counts.trash_at_the_end = len(trash)

    def _found(self) -> dict[str, str]:
        """Label of each run that the service shows."""
        found: dict[str, str] = {}
        after = ""
        while True:
            told = self.server.ask("GET", f"/api/runs?limit=200{after}").told
            found |= {run["id"]: run["label"] for run in told["runs"]}
            if not told["next"]:
                return found
            after = f"&after={told['next']}"

    def _number_of(self, run: str) -> int:
        log = self.server.ask("GET", f"/api/runs/{run}/logs/0").body
        number = int(log.splitlines()[1].rpartition(b",")[2])
        assert log == short_log(number)
        return number

    def _logs(self) -> dict[str, bytes]:
        return {run: short_log(number) for run, number in self.kept.items()}


def main() -> int:
    """Run the rounds and print the counts."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--workers", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where the library lies; a passing one by default")
    told = parser.parse_args()
    with tempfile.TemporaryDirectory() as passing:
        data = (told.folder or Path(passing)) / "data"
        server = Server(data, workers=told.workers) if told.workers else ForkedServer(data)
        rounds = Rounds(server, told.seed)
        try:
            rounds.run(told.rounds)
        finally:
            for name, count in asdict(rounds.counts).items():
                print(f"{name.replace('_', ' '):>28}: {count}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
