"""Every route of a real service with two teams, asked by all kinds of people, as a table.

python -m tests.service.access.route_table [--records postgresql] [--files store] [--asks 5]

Starts a server of its own with access set up from the command line, as its owner would, and asks every route that
`/openapi.json` names with the ids of a run, car, event, job and trash entry of the red team: as the red team's owner,
crew and reader, with a reader's token, as the blue team's owner, with a session that was ended, with a token that was
revoked, and as nobody. Of the blue team's owner it also says whether the answer is word for word that of an id that
never was, and how long both took at the median. At the end the server's own log is searched for the passwords, session
keys, tokens and invitations that were used. Exit 1 if anybody got what they may not have, if a body tells the two
apart, if any answer is an error of ours, or if a secret stands in the log.

Public: `main`.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from tests.benchmarks.readers_and_uploaders import served
from tests.service.real_server import BOUNDARY, Server, short_log

PASSWORD = "a long day at the strip"
COOKIE = "__Host-passband"
OPEN = ("/health", "/ready", "/metrics")
READERS_MAY_POST = ("/whatif", "/bench", "/understand", "/sort")
QUERIES = {
    "/api/compare": "?runs={run_id},{run_id}",
    "/api/overlay": "?runs={run_id}",
    "/api/change": "?before={run_id}&after={run_id}",
}
SLOWER = 2.0
"""The two medians may differ so much: both are a millisecond or two, on a machine that does other things too."""


@dataclass(frozen=True, slots=True)
class Got:
    """What came back."""

    status: int
    body: str
    headers: Mapping[str, str]
    seconds: float


@dataclass(frozen=True)
class House:
    """A service with two teams."""

    server: Server
    secrets: list[str] = field(default_factory=lambda: [PASSWORD])
    """What must not stand in the server's log."""

    def ask(self, method: str, path: str, headers: Mapping[str, str], body: object = None, form: str = "") -> Got:
        """One question; `body` as JSON, `form` as a page's form sends it."""
        sent = form.encode() if form else json.dumps(body).encode() if body is not None else None
        kind = "application/x-www-form-urlencoded" if form else "application/json"
        given = {"X-Request-Id": "the-same", "Content-Type": kind, **headers}
        began = time.perf_counter()
        with closing(http.client.HTTPConnection(self.server.url.removeprefix("http://"), timeout=60)) as line:
            line.request(method, path, sent, given)
            answer = line.getresponse()
            text = answer.read().decode(errors="replace")
        return Got(answer.status, text, dict(answer.getheaders()), time.perf_counter() - began)

    def command(self, *words: str, secret: Path) -> str:
        """One of the owner's commands."""
        given = [sys.executable, "-m", "passband.service.cli", "access", "--data", str(self.server.data), *words]
        more = ["--password-file", str(secret)] if words[0] in ("begin", "team") else []
        environment = {**_environment(), **self.server.environment}
        return subprocess.run([*given, *more], env=environment, check=True, capture_output=True, text=True).stdout

    def signed_in(self, name: str) -> dict[str, str]:
        """A session's header."""
        got = self.ask("POST", "/sign-in", {}, form=urlencode({"name": name, "password": PASSWORD}))
        return self._session(got)

    def joined(self, team: str, role: str, secret: Path) -> dict[str, str]:
        """Somebody new, by an invitation."""
        said = self.command("invite", team, "--role", role, secret=secret)
        way = re.search(r"/join/[\w-]+", said)
        assert way is not None, said
        form = urlencode({"name": f"{team} {role}", "password": PASSWORD})
        got = self.ask("POST", way[0], {}, form=form)
        again = self.ask("POST", way[0], {}, form=form.replace(role, "another"))
        assert again.status == 422 and "does not hold" in again.body  # it is for one
        self.secrets.append(way[0].rpartition("/")[2])
        return self._session(got)

    def token(self, owner: dict[str, str], role: str) -> tuple[str, dict[str, str]]:
        """A program's token: its id, and its header."""
        before = set(self._token_ids(owner))
        got = self.ask("POST", "/team/tokens", owner, form=urlencode({"name": role, "role": role}))
        key = next(one for one in re.findall(r"[\w-]{43}", got.body) if len(one) == 43)
        self.secrets.append(key)
        return (set(self._token_ids(owner)) - before).pop(), {"Authorization": f"Bearer {key}"}

    def _session(self, got: Got) -> dict[str, str]:
        assert got.status == 303, (got.status, got.body[-500:])
        found = re.search(rf"{COOKIE}=([\w-]+)", got.headers["set-cookie"])
        assert found is not None
        for word in ("Secure", "HttpOnly", "SameSite=lax", "Path=/"):
            assert word.lower() in got.headers["set-cookie"].lower()
        self.secrets.append(found[1])
        return {"Cookie": f"{COOKIE}={found[1]}"}

    def _token_ids(self, owner: dict[str, str]) -> list[str]:
        return re.findall(r"/team/tokens/([0-9a-f]+)/revoke", self.ask("GET", "/team", owner).body)


def _environment() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if not name.startswith("PASSBAND_")}


def planted(house: House, crew: Mapping[str, str]) -> dict[str, str]:
    """Things of the red team, by the names that routes give them."""
    car = json.loads(house.ask("POST", "/api/cars", crew, {"name": "Red car"}).body)["id"]
    runs = [json.loads(_upload(house, crew, number, car).body)["runs"][0]["id"] for number in (1, 2)]
    gone = house.ask("DELETE", f"/api/runs/{runs[1]}", crew)
    job = json.loads(house.ask("POST", "/api/review-again", crew, {}).body)["id"]
    entry = gone.headers["location"].rpartition("/")[2]
    return {"run_id": runs[0], "car_id": car, "job_id": job, "entry_id": entry, "name": "Home", "n": "0"}


def _upload(house: House, crew: Mapping[str, str], number: int, car: str) -> Got:
    details = json.dumps({"event": "Home", "label": f"Red {number}"})
    form = "".join(
        f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="{name}"{of}\r\n\r\n{body}\r\n'
        for name, of, body in (
            ("log", '; filename="a.csv"', short_log(number).decode()), ("car", "", car), ("details", "", details),
        )
    )  # fmt: skip
    kind = {"Content-Type": f"multipart/form-data; boundary={BOUNDARY}"}
    got = house.ask("POST", "/api/runs", {**crew, **kind}, form=f"{form}--{BOUNDARY}--\r\n")
    assert got.status == 201, got.body
    return got


def address(path: str, place: Mapping[str, str]) -> str:
    """A route's path with ids in it."""
    return (path + QUERIES.get(path, "")).format_map(defaultdict(lambda: "0" * 32, place))


def expected(who: str, method: str, path: str) -> set[int] | None:
    """Statuses of which one must come; None where anything but a 401 and 403 may."""
    if who in ("nobody", "ended session", "revoked token"):
        return {401}
    if who in ("reader", "reader's token") and method != "get" and not path.endswith(READERS_MAY_POST):
        return {403}
    if who == "crew" and method == "delete" and path.startswith("/api/trash"):
        return {403}
    if who == "other team" and "{" in path and not path.endswith("/sheet"):
        return {404, 415, 422}
    return None


def fault(who: str, method: str, path: str, got: Got) -> str:
    """What is wrong with an answer; empty if nothing is."""
    owed = expected(who, method, path)
    if got.status >= 500:
        return f"{got.status} is an error of ours"
    if owed is None:
        return f"{got.status}" if got.status in (401, 403) else ""
    return "" if got.status in owed else f"{got.status} in place of {sorted(owed)}"


def told_apart(house: House, method: str, path: str, blue: Mapping[str, str], asks: int, place: dict[str, str]) -> str:
    """How another team's id differs from one that never was; the two medians where it does not."""
    never = {**place, **{key: "f" * len(value) for key, value in place.items() if key not in ("n", "name")}}
    never["name"] = "Nowhere"
    seconds: tuple[list[float], list[float]] = ([], [])
    for _ in range(asks):
        both = []
        for times, of in zip(seconds, (place, never), strict=True):
            got = house.ask(method.upper(), address(path, of), blue, _body(method))
            times.append(got.seconds)
            said = got.body
            for own in sorted(of.values(), key=len, reverse=True)[:-1]:
                said = said.replace(own, "")
            both.append((got.status, said, {**got.headers, "date": "", "content-length": ""}))
        if both[0] != both[1] and not path.startswith("/api/cars/{"):
            return f"{both[0]} is not {both[1]}"
    theirs, nothing = (statistics.median(times) for times in seconds)
    slower = max(theirs, nothing) / min(theirs, nothing)
    return f"{1e3 * theirs:.1f}, {1e3 * nothing:.1f} ms" + (" DIFFER" if slower > SLOWER else "")


def _body(method: str) -> object:
    return None if method in ("get", "delete") else {"name": "x"}


def main() -> int:
    """Ask and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--records", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--files", choices=("folder", "store"), default="folder")
    parser.add_argument("--asks", type=int, default=5)
    asked = parser.parse_args()
    with served(asked.records, asked.files) as server, tempfile.TemporaryDirectory() as folder:
        server.stop()
        server.environment = {**server.environment, "PASSBAND_LOG_FORM": "json"}  # a line a question
        house, secret = House(server), Path(folder) / "secret"
        secret.write_text(PASSWORD + "\n")
        house.command("begin", "red", "--owner", "red owner", secret=secret)
        house.command("team", "blue", "--owner", "blue owner", secret=secret)
        server.start()
        return walk(house, secret, asks=asked.asks)


def walk(house: House, secret: Path, *, asks: int) -> int:
    """The table; 1 if something is wrong in it."""
    owner, ended, blue = (house.signed_in(name) for name in ("red owner", "red owner", "blue owner"))
    assert house.ask("POST", "/sign-out", ended, form="x=1").status == 303
    crew, reader = (house.joined("red", role, secret) for role in ("crew", "reader"))
    (_, programs), (revoked_id, revoked) = house.token(owner, "reader"), house.token(owner, "crew")
    assert house.ask("POST", f"/team/tokens/{revoked_id}/revoke", owner, form="x=1").status == 303
    everybody: dict[str, dict[str, str]] = {
        "nobody": {}, "ended session": ended, "revoked token": revoked, "reader": reader, "reader's token": programs,
        "other team": blue, "crew": crew, "owner": owner,
    }  # fmt: skip
    place = planted(house, crew)
    described = json.loads(house.ask("GET", "/openapi.json", reader).body)["paths"]
    routes = [(method, path) for path, methods in described.items() for method in methods if path not in OPEN]
    routes.sort(key=lambda one: (one[0] == "delete", one[1], one[0]))  # what takes away comes last
    wrong = []
    print(f"{'':62} {' '.join(f'{who[:9]:>9}' for who in everybody)}  other team's id, one that never was")
    for method, path in routes:
        cells, apart = [], ""
        for who, headers in everybody.items():
            got = house.ask(method.upper(), address(path, place), headers, _body(method))
            cells.append(f"{got.status:>9}")
            said = fault(who, method, path, got)
            if who == "other team" and "Red" in got.body:
                said = "the red team's words"
            wrong += [f"{who}: {method} {path}: {said}"] if said else []
        if "{" in path or path in QUERIES:
            apart = told_apart(house, method, path, blue, asks, place)
            wrong += [f"{method} {path}: {apart}"] if "is not" in apart else []
        print(f"{method:7}{path:55} {' '.join(cells)}  {apart}", flush=True)
    said = house.server.said()
    wrong += [f"{secret[:4]}... stands in the log" for secret in house.secrets if secret in said]
    print(
        f"{len(routes)} routes, {len(everybody)} who ask; {len(house.secrets)} secrets looked for in {len(said)} bytes"
    )
    print(f"{len(wrong)} answers as they must not be")
    print("\n".join(wrong))
    return int(bool(wrong))


if __name__ == "__main__":
    raise SystemExit(main())
