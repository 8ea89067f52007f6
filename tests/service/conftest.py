"""A fresh service for each test, and a review made by hand so that it needs no real log."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import numpy as np
import orjson
import pytest
from fastapi.testclient import TestClient

import passband.analysis.reading
import passband.analysis.review
from passband.analysis.channels.log import Channel, Log, NoRunInLog, NotALog, TextFacts, TimeFacts, Traces
from passband.analysis.given.car import Car
from passband.analysis.motion.ground_speed import Motion
from passband.analysis.results.distance import Distance, SpeedBasis, Split, Trap
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.results.gears import GearBasis, GearInterval, Gears
from passband.analysis.results.limits import LimitVerdict, Verdict
from passband.analysis.results.review import CarFacts, RunFacts
from passband.analysis.results.unknown import Unknown
from passband.analysis.results.window import Outcome, Window
from passband.analysis.review import FullReview, Setup
from passband.service.app import create_app
from passband.service.settings import Settings, read_settings
from tests.service.postgres_server import Server, started_server, why_none

FOOT_M = 0.3048  # international foot, exact

ACCELERATION_MPS2 = 8.0
"""The planted run: constant acceleration, so every time and place is known in closed form."""
SECRETS = ("Traceback", "/tmp", "site-packages", "SELECT", "sqlite", ".py")
"""What no answer may let out."""
FINISH_S = (2 * 1320 * FOOT_M / ACCELERATION_MPS2) ** 0.5


NOT_PLANTED = Unknown(Finding("no-ground-speed", "stop", "Nothing of it was planted."))


def planted_review(facts: RunFacts, car: Car, *, number: int = 0, logs: int = 1) -> FullReview:
    """Constant acceleration from zero, two channels in the first log and one in each further."""
    start_s = 40.0 * number
    time_s = np.arange(-200, 1400) / 100.0
    pull_s = np.clip(time_s, 0.0, None)
    distance_m, speed_mps = 0.5 * ACCELERATION_MPS2 * pull_s**2, ACCELERATION_MPS2 * pull_s
    zeros = np.zeros_like(time_s)
    motion = Motion(
        time_s=time_s, speed_mps=speed_mps, speed_plus_minus_mps=zeros + 0.1,
        acceleration_mps2=np.where(time_s > 0, ACCELERATION_MPS2, 0.0), acceleration_plus_minus_mps2=zeros + 0.1,
        distance_m=distance_m, distance_plus_minus_m=zeros + 0.1, tire_speed_mps=speed_mps,
        spinning=np.zeros(time_s.shape, dtype=bool), basis=SpeedBasis.UNDRIVEN_WHEEL, scale=None, wheelspin=(),
    )  # fmt: skip
    channels = [
        Channel("engine_speed", "Engine Speed", "rpm", "rpm", time_s, 6000 + number + 100 * pull_s, 100.0, 0.98, 0),
        Channel("=Odd \"name\", quoted", "=Odd \"name\", quoted", "", "", time_s, -pull_s - 1.5, 100.0, 0.2, 0),
        *(Channel("engine_speed", "RPM", "rpm", "", time_s[::5], 6000 + 100 * pull_s[::5], 20.0, 0.9, n)
          for n in range(1, logs)),
    ]  # fmt: skip
    marks = [ft for ft in (60, 330, 660, 1000, 1320)]
    splits = tuple(
        Split(ft, Estimate((2 * ft * FOOT_M / ACCELERATION_MPS2) ** 0.5, 0.004), Estimate(10.0, 0.1)) for ft in marks
    )
    return FullReview(
        run=facts,
        window=Window(10.0 + start_s, 10.2 + start_s, 0.01, 10.2 + start_s + FINISH_S, 402.3, Outcome.QUARTER, ()),
        clocks=(), distance=Distance("undriven wheel", Estimate(0.3, 0.02), None, splits,
                                     (Trap(1320, Estimate(79.0, 0.1)),), ()),
        gears=Gears(GearBasis.GIVEN, (), (GearInterval(1, 0.0, 3.0),)),
        launch=NOT_PLANTED, shifts=(), boost=NOT_PLANTED, power=NOT_PLANTED, band=NOT_PLANTED,
        limits=(LimitVerdict("oil", "oil_pressure", Verdict.NO_DATA, None, "Pa", None, "at_least", None, None, None,
                             None, None, None, None, "no log holds it"),),
        air=None, findings=(Finding("no-mass", "caution", "The car's mass is not given.", ""),),
        car=CarFacts(car.name), version="test", setup=Setup(car), traces=Traces(tuple(channels)), motion=motion,
    )  # fmt: skip


def fake_read_log(
    data: bytes, *, name: str, mapping: Any = None, layouts: Any = None, index: int = 0
) -> tuple[Log, ...]:
    """A log of as many runs as its text says."""
    if not data.startswith(b"runs="):
        raise NotALog(f"{name} is no log: looked for a header and rows of numbers, found {data[:20]!r}.")
    text = TextFacts("utf-8", ",", ".", 1, None, 2, 10)
    return (Log(name, (), text, TimeFacts("planted", 0.0, 1.0, float(data.split(b"=")[1][:1])), ()),)


def fake_review(
    logs: Sequence[tuple[Log, ...]], car: Car, slips: Any = (), air: Any = None, *, finish_ft: int = 1320,
    facts: RunFacts | None = None, tell: Callable[[str], None] = lambda stage: None,
) -> list[FullReview]:  # fmt: skip
    """As many planted runs as the first log says."""
    names = tuple(log[0].name for log in logs)
    count = int(logs[0][0].time.rate_hz)
    if count == 0:
        raise NoRunInLog("Nothing in the log moves.", findings=(Finding("still", "stop", "The car stands.", names[0]),))
    tell("speed")
    told = facts or RunFacts((), "", "", "")
    of = RunFacts(names, told.label, told.event, told.round)
    return [planted_review(of, car, number=n, logs=len(logs)) for n in range(count)]


@pytest.fixture
def planted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Logs and reviews without reading or computing anything."""
    monkeypatch.setattr(passband.analysis.reading, "read_log", fake_read_log, raising=False)
    monkeypatch.setattr(passband.analysis.review, "review", fake_review)


def small_settings(folder: Path, database: str = "") -> Settings:
    return read_settings({}, data=folder / "data", workers=0, hosts="testserver", file_bytes=200_000,
                         upload_bytes=300_000, json_bytes=20_000, files=3, database=database)  # fmt: skip


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[Server]:
    """One server for all tests of a process."""
    if why_none():
        pytest.skip(why_none())
    with started_server() as server:
        yield server


@pytest.fixture
def database(request: pytest.FixtureRequest) -> str:
    """Where a service of a test keeps its rows: nothing for a file in its folder, else an address."""
    if request.config.getoption("--records") == "sqlite":
        return ""
    server: Server = request.getfixturevalue("postgres_server")
    return server.new_database()


@pytest.fixture
def rows_in_a_file(request: pytest.FixtureRequest) -> None:
    """Tests of what only a library with its rows in a file has: the file, the records beside it, backups of both."""
    if request.config.getoption("--records") != "sqlite":
        pytest.skip("of a library whose rows are in a file")


@pytest.fixture
def settings(tmp_path: Path, database: str, monkeypatch: pytest.MonkeyPatch) -> Settings:
    if database:
        monkeypatch.setenv("PASSBAND_DATABASE", database)  # for commands, which read the environment
    return small_settings(tmp_path, database)


@pytest.fixture
def open_service(settings: Settings) -> Callable[[], AbstractContextManager[TestClient]]:
    """Start the service on the same folder, as often as wanted."""
    return lambda: TestClient(create_app(settings), raise_server_exceptions=False)


@pytest.fixture
def client(planted: None, open_service: Callable[[], AbstractContextManager[TestClient]]) -> Iterator[TestClient]:
    with open_service() as client:
        yield client


@pytest.fixture
def upload(client: TestClient) -> Callable[..., Any]:
    """Send logs; texts are planted logs, names count up."""

    def send(*logs: bytes, car: str = "", names: Sequence[str] = (), **details: Any) -> Any:
        names = names or [f"log{n}.csv" for n in range(len(logs))]
        files = [("log", (name, log, "text/csv")) for name, log in zip(names, logs, strict=True)]
        return client.post("/api/runs", files=files, data={"car": car, "details": orjson.dumps(details).decode()})

    return send


@pytest.fixture
def stored(settings: Settings) -> Callable[[], list[str]]:
    """Names of all originals and tables on disk, and of what is still coming in."""

    def names() -> list[str]:
        folders = [settings.data / name for name in ("originals", "runs", "incoming")]
        found = [path.name for folder in folders for path in folder.rglob("*") if path.is_file()]
        return sorted(name for name in found if name != "lock")  # of a program that shares the folder

    return names


@pytest.fixture
def assert_problem() -> Callable[[Any, int], dict[str, Any]]:
    """Hold a response against the one form of error, and return its body."""

    def check(response: Any, status: int) -> dict[str, Any]:
        assert response.status_code == status, response.text
        assert response.headers["content-type"] == "application/problem+json"
        body: dict[str, Any] = response.json()
        assert {"type", "title", "status", "detail", "instance"} <= set(body)
        assert body["status"] == status and body["title"] and body["detail"].endswith(".")
        assert response.headers["x-content-type-options"] == "nosniff"
        assert "frame-ancestors 'none'" in response.headers["content-security-policy"]
        said = response.text.replace(body["instance"], "")
        assert not [secret for secret in SECRETS if secret in said]
        return body

    return check
