"""A real server in a process of its own, and logs so short that a review takes some 20 ms.

Public: `Server`, `Answer`, `short_log`, `assert_all_whole`, `assert_all_whole_on_a_server`, `orphans`.
"""

from __future__ import annotations

import gzip
import hashlib
import http.client
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import pyarrow as pa

import passband.demo_logs

ROOT = Path(__file__).parents[2]
DASH = Path(passband.demo_logs.__file__).parent / "weekend" / "02_q2_dash.csv.gz"
COLUMNS = (0, 2, 5, 6)
"""Time, one driven wheel, an accelerometer, engine speed."""
EVERY = 2
BOUNDARY = "cut-here"
Ask = Callable[[str], list[tuple[Any, ...]]]
"""Answers SQL."""


@cache
def _rows() -> tuple[str, ...]:
    lines = gzip.decompress(DASH.read_bytes()).decode().splitlines()
    return tuple(",".join(line.split(",")[n] for n in COLUMNS) for line in [lines[0], *lines[1::EVERY]])


def short_log(number: int, *, rows: int | None = None) -> bytes:
    """A run of the demo weekend at 25 Hz in four channels, and a fifth that makes it another file."""
    head, *body = _rows()
    lines = [f"{head},Mark", *(f"{row},{number}" for row in body[:rows])]
    return "\n".join(lines).encode() + b"\n"


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back."""

    status: int
    kind: str
    body: bytes

    @property
    def told(self) -> Any:
        """The body's JSON."""
        return json.loads(self.body)


@dataclass
class Server:
    """The service on a folder; `start` as often as wanted."""

    data: Path
    before: Sequence[str] = ()
    """Words before the command, as ``nsenter ...``."""
    environment: Mapping[str, str] = field(default_factory=dict)
    workers: int = 1
    process: subprocess.Popen[str] | None = None
    url: str = ""

    def start(self) -> None:
        """Start it and wait until it serves; `RuntimeError` with what it said if it does not."""
        command = [
            *self.before,
            sys.executable,
            "-m",
            "passband.service.cli",
            "serve",
            "--port",
            "0",
            "--data",
            str(self.data),
        ]
        of_ours = {name for name in os.environ if name.startswith("PASSBAND_")}
        environment = {name: value for name, value in os.environ.items() if name not in of_ours}
        environment |= {"PASSBAND_WORKERS": str(self.workers), **self.environment}
        with (self.log).open("ab") as log:
            self.process = subprocess.Popen(
                command, stdout=subprocess.PIPE, stderr=log, text=True, cwd=ROOT, env=environment
            )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        if not line.startswith("Serving on "):
            self.process.wait()
            raise RuntimeError(self.said())
        self.url = line.split()[-1]

    @property
    def log(self) -> Path:
        """Where its error output goes; beside its folder unless that is elsewhere."""
        named = self.environment.get("TEST_SERVER_LOG")
        return Path(named) if named else self.data.with_name(f"{self.data.name}.log")

    def said(self) -> str:
        """All it wrote to its error output."""
        return self.log.read_text(encoding="utf-8", errors="replace")

    def kill(self) -> None:
        """Kill it as a power cut would: no signal that it can catch. Its workers end as their line closes."""
        assert self.process is not None and self.process.stdout is not None
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()

    def stop(self) -> int:
        """End it in order."""
        assert self.process is not None and self.process.stdout is not None
        self.process.terminate()
        status = self.process.wait(60)
        self.process.stdout.close()
        return status

    def ask(self, method: str, path: str, body: bytes | None = None, kind: str = "application/json") -> Answer:
        """One question; `OSError` if nothing comes back. An answer may come before all of the body was sent."""
        line = http.client.HTTPConnection(self.url.removeprefix("http://"), timeout=60)
        with closing(line):
            with suppress(BrokenPipeError, ConnectionResetError):
                line.request(method, path, body, {"Content-Type": kind} if body is not None else {})
            response = line.getresponse()
            return Answer(response.status, response.headers.get_content_type(), response.read())

    def send(self, log: bytes, name: str = "dash.csv", details: str = "{}") -> Answer:
        """Upload one log."""
        head = f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="log"; filename="{name}"\r\n\r\n'
        rest = (
            f'\r\n--{BOUNDARY}\r\nContent-Disposition: form-data; name="details"\r\n\r\n{details}\r\n--{BOUNDARY}--\r\n'
        )
        body = head.encode() + log + rest.encode()
        return self.ask("POST", "/api/runs", body, f"multipart/form-data; boundary={BOUNDARY}")


def assert_all_whole(data: Path, acknowledged: Mapping[str, bytes]) -> int:
    """Hold a library whose service has ended against the logs that it acknowledged; how many runs it has.

    Sums are those of the standard library over what lies on the disk, rows are read by SQLite alone, and what is packed
    is unpacked by pyarrow.
    """
    with _copied(data / "library.sqlite") as copy, closing(sqlite3.connect(copy)) as rows:
        assert rows.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert rows.execute("PRAGMA foreign_key_check").fetchall() == []
        runs = _assert_files_whole(data, acknowledged, lambda question: rows.execute(question).fetchall())
        uploads = {key for (key,) in rows.execute("SELECT key FROM uploads")}
    assert {path.stem for path in (data / "uploads").iterdir()} == uploads
    return runs


def assert_all_whole_on_a_server(data: Path, acknowledged: Mapping[str, bytes], ask: Ask) -> int:
    """The same of a library with its rows on a server, which its own superuser is asked for."""
    return _assert_files_whole(data, acknowledged, ask)


def _assert_files_whole(data: Path, acknowledged: Mapping[str, bytes], ask: Ask) -> int:
    runs = ask(
        "SELECT runs.id, logs.sha256, runs.table_key, runs.review FROM runs "
        "JOIN logs ON logs.upload_id = runs.upload_id"
    )
    assert ask("SELECT count(*) FROM uploads WHERE id NOT IN (SELECT upload_id FROM runs)") == [(0,)]
    kept = {run: log for run, log, _, _ in runs}
    assert all(json.loads(_unpacked(review)) for *_, review in runs)
    for run, log in acknowledged.items():
        assert as_given(next((data / "originals" / kept[run][:2]).glob(f"{kept[run]}*"))) == log
    originals = {path.name.removesuffix(".zst"): path for path in (data / "originals").glob("*/*")}
    tables = {path.stem: path for path in (data / "runs").glob("*/*")}
    assert set(originals) == set(kept.values()) and set(tables) == {table for _, _, table, _ in runs}
    for key, path in (originals | tables).items():
        assert hashlib.sha256(as_given(path)).hexdigest() == key
    return len(runs)


def as_given(path: Path) -> bytes:
    """The bytes of a file as they were sent."""
    return _unpacked(path.read_bytes()) if path.suffix == ".zst" else path.read_bytes()


def _unpacked(kept: bytes) -> bytes:
    if not kept.startswith(b"\x28\xb5\x2f\xfd"):  # published: RFC 8878, 3.1.1
        return kept
    with pa.input_stream(pa.py_buffer(kept), compression="zstd") as stream:
        return stream.read()


@contextmanager
def _copied(database: Path) -> Iterator[Path]:
    """SQLite follows the links of a path, and so cannot open one seen through another process."""
    with tempfile.TemporaryDirectory() as folder:
        for path in database.parent.glob(f"{database.name}*"):
            if not path.name.endswith("-shm"):
                shutil.copy(path, folder)
        yield Path(folder) / database.name


def orphans(data: Path) -> list[str]:
    """Files on their way that nobody is on the way with, once the service has been started and ended in order."""
    return [
        str(path.relative_to(data))
        for path in data.rglob("*")
        if path.is_file() and (path.parent.name == "incoming" or re.search(r"\.(part|tmp)$|^probe-", path.name))
    ]
