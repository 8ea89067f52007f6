"""A throw-away PostgreSQL server from this machine's own packages, and a fresh database in it for each test.

Public: `Server`, `started_server`, `why_none`.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

# Commits wait for their log all the same: a server that tests stop at once must come back with what it acknowledged.
QUICK = ("fsync=off", "full_page_writes=off", "max_connections=120", "listen_addresses=")
"""Nothing here outlives the tests, and nobody reaches it but through a socket in its own folder."""
ROLE = "passband"
PASSWORD = "a-secret-of-the-test"


def _program(name: str) -> Path | None:
    """One of the server's programs, on the path or where Debian puts it."""
    found = shutil.which(name)
    there = [Path(found)] if found else sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"))
    return there[-1] if there else None


def _somebody() -> str | None:
    """Who runs the server: it refuses to be run by root."""
    if os.geteuid() != 0:
        return None
    return next((name for name in ("postgres", "nobody") if name in {one.pw_name for one in pwd.getpwall()}), None)


def why_none() -> str:
    """Why no server can be started here; empty where one can."""
    lacking = [name for name in ("initdb", "pg_ctl") if _program(name) is None]
    if lacking:
        return f"PostgreSQL's {' and '.join(lacking)} are not installed: apt-get install postgresql"
    try:
        import psycopg  # noqa: F401
    except ImportError:
        return "psycopg is not installed: pip install 'passband[postgres]'"
    return "" if os.geteuid() != 0 or _somebody() else "there is nobody but root to run PostgreSQL"


@dataclass
class Server:
    """Running."""

    folder: Path
    user: str | None
    _made: Iterator[int] = field(default_factory=count)

    def address(self, database: str, role: str = ROLE) -> str:
        return f"postgresql://{role}:{PASSWORD}@/{database}?host={self.folder}"

    def new_database(self) -> str:
        """Address of an empty database that the service's role owns."""
        return self.new_named_database()[1]

    def new_named_database(self) -> tuple[str, str]:
        """The same, with its name before its address."""
        name = f"of_test_{next(self._made)}"
        self.say(f"CREATE DATABASE {name} OWNER {ROLE}")
        return name, self.address(name)

    def say(self, statement: str, database: str = "postgres", role: str = "postgres") -> list[tuple]:
        """Have a statement done, by the server's own superuser where nobody else is named."""
        import psycopg

        with psycopg.connect(self.address(database, role), autocommit=True) as connection:
            done = connection.execute(statement)
            return done.fetchall() if done.description else []

    def control(self, *words: str) -> None:
        """``start`` or ``stop`` it."""
        asked = [_program("pg_ctl"), "-D", self.folder / "data", "-w", "-l", self.folder / "log", *words]
        if words[0] == "start":
            asked += ["-o", " ".join([f"-k {self.folder}", *(f"-c {one}" for one in QUICK)])]
        subprocess.run(asked, check=True, user=self.user, capture_output=False, stdout=subprocess.DEVNULL, timeout=120)


@contextmanager
def started_server() -> Iterator[Server]:
    """Make a server, start it, and end it with all that it held."""
    folder, user = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp")), _somebody()  # a socket's path may have 107 bytes
    try:
        if user is not None:
            shutil.chown(folder, user)
        made = [_program("initdb"), "-D", folder / "data", "-U", "postgres", "--auth=trust", "-E", "UTF8", "--no-sync"]
        subprocess.run([*made, "--locale=C.UTF-8"], check=True, user=user, cwd="/", stdout=subprocess.DEVNULL)
        server = Server(folder, user)
        server.control("start")
        try:
            server.say(f"CREATE ROLE {ROLE} LOGIN PASSWORD '{PASSWORD}'")
            yield server
        finally:
            server.control("stop", "-m", "immediate")
    finally:
        shutil.rmtree(folder, ignore_errors=True)
