"""Fifty who upload and fifty who read, at once: errors of ours, and how long each kind of question takes.

python -m tests.benchmarks.readers_and_uploaders [--seconds 300] [--uploaders 50] [--readers 50] [--think 1]
                                                 [--records postgresql] [--files store]

Starts a server of its own on a passing folder, with nine runs in it; with `--records postgresql` a PostgreSQL server
of this machine's packages beside it, with `--files store` moto's server, a mock whose speed says nothing of a real
store's. Each uploader sends one pair of logs after the other, each pair another. Each reader asks for a page, thinks
for so long, asks for the next: the start page, lists, a run's page, its review, an event's sheet. All run on this
machine, so the clients take of its cores too; the load before the start is printed. Exit 1 if an answer was an error
of ours, or if 5 in 100 reads took longer than `--most`.
"""

from __future__ import annotations

import argparse
import gzip
import http.client
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from passband.service.commands.demo import WEEKEND
from tests.service.object_stores import BUCKET, MADE_UP
from tests.service.postgres_server import started_server
from tests.service.real_server import BOUNDARY, ROOT, Server

PAIR = ("04_e1_ecu.csv.gz", "04_e1_dash.csv.gz")
MOTO = """
import sys
from tests.service.object_stores import endpoint
print(endpoint(), flush=True)
sys.stdin.read()
"""
PATIENCE_S = 120.0


@dataclass
class Heard:
    """What came back, of one kind of question."""

    seconds: list[float] = field(default_factory=list)
    """How long each took. [s]"""
    statuses: dict[str, int] = field(default_factory=dict)
    """How often each status came; ``cut`` where nothing came back."""

    def add(self, status: str, seconds: float) -> None:
        """One answer."""
        self.seconds.append(seconds)
        self.statuses[status] = self.statuses.get(status, 0) + 1

    def of_ours(self) -> int:
        """Errors of ours."""
        return sum(count for status, count in self.statuses.items() if status == "cut" or status >= "500")

    def words(self) -> str:
        """In a line."""
        if not self.seconds:
            return "none"
        half, most, last = (1e3 * float(np.quantile(self.seconds, one)) for one in (0.5, 0.95, 1.0))
        counted = ", ".join(f"{status}: {count}" for status, count in sorted(self.statuses.items()))
        times = f"half within {half:.0f} ms, 95 % within {most:.0f} ms, all within {last:.0f} ms"
        return f"{len(self.seconds)}; {times}; {counted}"


@dataclass
class Crowd:
    """Clients that ask until they are told to stop."""

    host: str
    seconds: float
    heard: dict[str, Heard] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _until: float = 0.0

    def run(self, several: Sequence[Callable[[int], None]]) -> None:
        """Let each in a thread of its own go on until the time is over."""
        self._until = time.monotonic() + self.seconds
        threads = [threading.Thread(target=one, args=(n,)) for n, one in enumerate(several)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

    def left(self) -> bool:
        """Whether there is time left."""
        return time.monotonic() < self._until

    def ask(
        self, kind: str, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None
    ) -> None:
        """One question, on a line of its own as a telephone's is."""
        began = time.monotonic()
        try:
            with closing(http.client.HTTPConnection(self.host, timeout=PATIENCE_S)) as line:
                line.request(method, path, body, headers or {})
                answer = line.getresponse()
                answer.read()
            status = str(answer.status)
        except (OSError, http.client.HTTPException):
            status = "cut"
        with self._lock:
            self.heard.setdefault(kind, Heard()).add(status, time.monotonic() - began)

    def uploader(self, number: int) -> None:
        """Sends pairs, each another."""
        texts = [gzip.decompress((WEEKEND / name).read_bytes()).decode().splitlines() for name in PAIR]
        count = 0
        while self.left():
            count += 1
            self.ask("upload", "POST", "/api/runs", form_of(logs_of(texts, number * 100_000 + count)), FORM)

    def reader(self, pages: Sequence[str], think_s: float) -> Callable[[int], None]:
        """Turns pages."""

        def read(number: int) -> None:
            time.sleep(think_s * (number % 50) / 50)
            turn = number
            while self.left():
                self.ask("read", "GET", pages[turn % len(pages)], headers={"Accept-Encoding": "gzip"})
                turn += 1
                time.sleep(think_s)

        return read


FORM = {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"}


def logs_of(texts: Sequence[Sequence[str]], number: int) -> list[bytes]:
    """A pair that nobody has sent: with a column more that says its number."""
    return ["\n".join([f"{head},Mark", *(f"{row},{number}" for row in rows)]).encode() + b"\n" for head, *rows in texts]


def form_of(logs: Sequence[bytes]) -> bytes:
    """A pair as it is sent."""
    parts = []
    for name, log in zip(PAIR, logs, strict=True):
        file = name.removesuffix(".gz")
        head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="log"; filename="{file}"\r\n\r\n'
        parts += [head.encode(), log, b"\r\n"]
    return b"".join([*parts, f"--{BOUNDARY}--\r\n".encode()])


def pages_of(server: Server) -> list[str]:
    """What readers ask for."""
    runs = server.ask("GET", "/api/runs?limit=20").told["runs"]
    event = runs[0]["event"].replace(" ", "%20")
    of_runs = [page for run in runs[:6] for page in (f"/runs/{run['id']}", f"/api/runs/{run['id']}/review")]
    return ["/", "/api/runs", "/api/events", f"/events/{event}", f"/api/events/{event}/sheet", *of_runs]


def spent_s(server: Server) -> tuple[float, float]:
    """Processor time so far of the server, and of its processes for reviews."""
    of = server.process.pid if server.process is not None else 0
    children = Path(f"/proc/{of}/task/{of}/children").read_text().split()
    own, *theirs = [Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()[11:13] for one in (of, *children)]
    tick = os.sysconf("SC_CLK_TCK")
    return sum(map(int, own)) / tick, sum(int(part) for one in theirs for part in one) / tick


@contextmanager
def served(records: str, files: str) -> Iterator[Server]:
    """A server with nothing in it yet."""
    with ExitStack() as until_done:
        folder = Path(until_done.enter_context(tempfile.TemporaryDirectory()))
        environment = {}
        if records == "postgresql":
            environment["PASSBAND_DATABASE"] = until_done.enter_context(started_server()).new_database()
        if files == "store":
            moto = subprocess.Popen([sys.executable, "-c", MOTO], stdin=-1, stdout=-1, text=True, cwd=ROOT)
            until_done.callback(moto.kill)
            at = moto.stdout.readline().strip() if moto.stdout else ""
            environment |= {**MADE_UP, "PASSBAND_OBJECT_STORE": f"s3://{BUCKET}/trial?endpoint={at}"}
        server = Server(folder / "data", environment=environment, workers=os.cpu_count() or 1)
        server.start()
        until_done.callback(server.stop)
        yield server


def main() -> int:
    """Let them, and print what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seconds", type=float, default=300.0)
    parser.add_argument("--uploaders", type=int, default=50)
    parser.add_argument("--readers", type=int, default=50)
    parser.add_argument("--think", type=float, default=1.0, help="between a reader's questions, in seconds")
    parser.add_argument("--records", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--files", choices=("folder", "store"), default="folder")
    parser.add_argument("--most", type=float, default=0.3, help="within which 95 in 100 reads must be answered, in s")
    told = parser.parse_args()
    print(f"load before: {', '.join(f'{one:.1f}' for one in os.getloadavg())} on {os.cpu_count()} cores", flush=True)
    with served(told.records, told.files) as server:
        _fill(server)
        crowd = Crowd(server.url.removeprefix("http://"), told.seconds)
        before_s = spent_s(server)
        crowd.run([crowd.uploader] * told.uploaders + [crowd.reader(pages_of(server), told.think)] * told.readers)
        spent = [now - was for was, now in zip(before_s, spent_s(server), strict=True)]
    for kind, heard in crowd.heard.items():
        print(f"{kind}: {heard.words()}")
    print(f"processor: the server {spent[0]:.0f} s, its processes {spent[1]:.0f} s")
    read = crowd.heard["read"]
    errors = sum(heard.of_ours() for heard in crowd.heard.values())
    slow = float(np.quantile(read.seconds, 0.95)) > told.most
    print(f"errors of ours: {errors}; load after: {os.getloadavg()[0]:.1f}")
    return int(bool(errors or slow))


def _fill(server: Server) -> None:
    """Nine runs of one event."""
    texts = [gzip.decompress((WEEKEND / name).read_bytes()).decode().splitlines() for name in PAIR]
    for number in range(9):
        form = form_of(logs_of(texts, -number - 1))
        said = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="details"\r\n\r\n{{"event": "Trial"}}\r\n'
        answer = server.ask("POST", "/api/runs", said.encode() + form, FORM["Content-Type"])
        if answer.status != 201:
            raise RuntimeError(answer.body[:300])


if __name__ == "__main__":
    raise SystemExit(main())
