"""Clients that hold a server's line on purpose: how long each kind lasts, and how others are served meanwhile.

python -m tests.benchmarks.slow_clients [--clients 100] [--patience 30]

Starts a server of its own on a passing folder, with this patience. Every kind of client is there as often as given,
all at once. Exit 1 if one lasts longer than twice the patience, or if of others' questions one fails or 5 in 100 take
over a second.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import select
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
HOST = b" HTTP/1.1\r\nHost: localhost\r\n"
JSON = b"Content-Type: application/json\r\nContent-Length: 100000\r\n\r\n"
FORM = b"Content-Type: multipart/form-data; boundary=cut\r\nContent-Length: 100000\r\n\r\n"
PART = b'--cut\r\nContent-Disposition: form-data; name="log"; filename="ecu.csv"\r\n\r\n'
# What each kind says at once; the trickling ones go on with a byte a second. A hundred large answers at once are some
# 13 MB: more than the system's own buffers hold, so that the server must notice who does not read.
KINDS = {
    "silent": b"",
    "head": b"GET /health" + HOST + b"X-Slow: ",
    "json body": b"POST /api/cars"
    + HOST
    + b'Content-Type: application/json\r\nContent-Length: 100000\r\n\r\n{"name": "',
    "upload": b"POST /api/runs" + HOST + FORM + PART,
    "unasked body": b"GET /health" + HOST + b"Content-Length: 100000\r\n\r\n",
    "reads nothing": 100 * (b"GET /openapi.json" + HOST + b"\r\n"),
}
TRICKLING = frozenset({"head", "json body", "upload", "unasked body"})


@dataclass
class SlowClient:
    """One of them."""

    kind: str
    line: socket.socket
    began_s: float
    lasted_s: float | None = None
    """Until the server ended it; None while it lasts."""
    heard: bytes = b""

    @property
    def status(self) -> str:
        """Of the last answer."""
        return self.heard.rpartition(b"HTTP/1.1 ")[2][:3].decode() or "none"

    def end(self) -> None:
        """It is over."""
        self.lasted_s = time.monotonic() - self.began_s
        self.line.close()


@dataclass
class Others:
    """An ordinary client that asks again and again on a new connection."""

    port: int
    seconds: list[float] = field(default_factory=list)
    failures: list[str] = field(default_factory=list)
    over: threading.Event = field(default_factory=threading.Event)

    def ask(self) -> None:
        """Until told to stop."""
        while not self.over.wait(0.1):
            began_s = time.monotonic()
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/api/runs", timeout=20) as answer:
                    answer.read()
            except OSError as error:
                self.failures.append(str(error))
            self.seconds.append(time.monotonic() - began_s)


@contextlib.contextmanager
def served(**settings: object) -> Iterator[subprocess.Popen[str]]:
    """A server of its own; its `port` can be asked, its `data` be looked into, its log is `told`."""
    with tempfile.TemporaryDirectory() as folder, open(Path(folder) / "log", "w+", encoding="utf-8") as told:
        command = [sys.executable, "-m", "passband.service.cli", "serve", "--port", "0", "--data", f"{folder}/data"]
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=told, text=True, cwd=ROOT,
            env={**os.environ, **{f"PASSBAND_{name.upper()}": str(value) for name, value in settings.items()}},
        )  # fmt: skip
        process.port = int(process.stdout.readline().rpartition(":")[2])
        process.data = Path(folder) / "data"
        process.told = lambda: Path(told.name).read_text(encoding="utf-8")
        try:
            yield process
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(60)
            process.stdout.close()


def hold(port: int, *, clients: int, most_s: float) -> list[SlowClient]:
    """Hold the line with so many of each kind until all are ended, or for so long."""
    everyone = [_begin(kind, port) for kind in KINDS for _ in range(clients)]
    poll = select.poll()
    by_number = {client.line.fileno(): client for client in everyone}
    for number, client in by_number.items():
        poll.register(number, 0 if client.kind == "reads nothing" else select.POLLIN)
    next_byte_s = time.monotonic() + 1.0
    while by_number and time.monotonic() - everyone[0].began_s < most_s:
        for number, event in poll.poll(100):
            if not _hears(by_number[number], event):
                poll.unregister(number)
                by_number.pop(number).end()
        if time.monotonic() >= next_byte_s:
            next_byte_s += 1.0
            for client in by_number.values():
                if client.kind in TRICKLING:
                    with contextlib.suppress(OSError):
                        client.line.send(b"x")
    for client in by_number.values():
        client.line.close()
    return everyone


def _begin(kind: str, port: int) -> SlowClient:
    line = socket.socket()
    if kind == "reads nothing":
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    line.connect(("127.0.0.1", port))
    line.sendall(KINDS[kind])
    return SlowClient(kind, line, time.monotonic())


def _hears(client: SlowClient, event: int) -> bool:
    """Whether the line still stands."""
    if not event & select.POLLIN:
        return False
    try:
        heard = client.line.recv(65536)
    except OSError:
        return False
    client.heard += heard
    return bool(heard)


def table(clients: list[SlowClient], others: Others) -> str:
    """What came of it."""
    rows = [f"{'kind':<15}{'clients':>9}{'ended':>7}{'first s':>9}{'last s':>8}  answers"]
    for kind in KINDS:
        mine = [client for client in clients if client.kind == kind]
        lasted = [client.lasted_s for client in mine if client.lasted_s is not None]
        answers = " ".join(sorted({client.status for client in mine}))
        first, last = (f"{pick(lasted):.1f}" if lasted else "-" for pick in (min, max))
        rows.append(f"{kind:<15}{len(mine):>9}{len(lasted):>7}{first:>9}{last:>8}  {answers}")
    waits = sorted(others.seconds)
    rows.append(
        f"others: {len(waits)} questions, {len(others.failures)} failed, half within {waits[len(waits) // 2]:.3f} s, "
        f"95 in 100 within {waits[int(0.95 * len(waits))]:.3f} s, longest {waits[-1]:.3f} s"
    )
    return "\n".join(rows)


def main() -> int:
    """Run it and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=100)
    parser.add_argument("--patience", type=int, default=30)
    told = parser.parse_args()
    with served(stall_seconds=told.patience, workers=1) as server:
        others = Others(server.port)
        asking = threading.Thread(target=others.ask)
        asking.start()
        clients = hold(server.port, clients=told.clients, most_s=2.0 * told.patience)
        others.over.set()
        asking.join()
    print(table(clients, others))
    lasting = [client for client in clients if client.lasted_s is None]
    late = sorted(others.seconds)[int(0.95 * len(others.seconds))] > 1.0
    return 1 if lasting or others.failures or late else 0


if __name__ == "__main__":
    sys.exit(main())
