"""A real service and a real browser, a fresh library for each file of tests; the browser keeps the service's policy."""

from __future__ import annotations

import re
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from passband.service.access.identity import Access, access_file
from passband.service.access.records import AccessRecords, Role
from passband.service.app import create_app
from passband.service.commands.demo import WEEKEND
from passband.service.settings import read_settings

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
PASSWORD = "a long day at the strip"
PATIENCE_MS = 60_000
"""A review takes some seconds on a quiet machine; this one may be busy."""


class Service:
    """The service on a port of this machine that can be stopped and started again on the same library."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._port = 0
        self.start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._port}"

    def start(self) -> None:
        settings = read_settings({}, data=self._folder, workers=0)
        config = uvicorn.Config(create_app(settings), port=self._port, log_level="error", ws="none")
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run)
        self._thread.start()
        while not self._server.started:
            assert self._thread.is_alive()
            time.sleep(0.02)
        self._port = self._server.servers[0].sockets[0].getsockname()[1]

    def stop(self) -> None:
        self._server.should_exit = True
        self._thread.join()


def service_with_a_team(folder: Path) -> Service:
    """A service that asks who comes: the team Red, whose owner is Robin, by `PASSWORD`."""
    records = AccessRecords(access_file(folder))
    team = records.add_team("Red", folder="", quota_bytes=None, now=0)
    records.set_role(team.id, Access(records).add_person("Robin", PASSWORD).id, Role.OWNER)
    records.close()
    return Service(folder)


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    service = Service(tmp_path_factory.mktemp("library"))
    yield service
    service.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()
    expect.set_options(timeout=None)


@pytest.fixture
def context(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    context = browser.new_context(
        base_url=service.address, viewport={"width": 1280, "height": 800}, reduced_motion="reduce"
    )
    context.set_default_timeout(PATIENCE_MS)
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext) -> Iterator[Page]:
    """A page whose scripts may not fail in silence, nor break the policy; that the service is away may be said."""
    page = context.new_page()
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
    yield page
    page.close()
    assert [text for text in said if "status of 4" not in text and "net::ERR_" not in text] == []


@pytest.fixture(scope="module")
def told_car(service: Service, browser: Browser) -> str:
    """The demo's car, told through the API; its id."""
    told = tomllib.loads((WEEKEND / "car.toml").read_text(encoding="utf-8"))
    context = browser.new_context(base_url=service.address)
    answer = context.request.post("/api/cars", data=told)
    assert answer.ok, answer.text()
    car_id = str(answer.json()["id"])
    context.close()
    return car_id


@pytest.fixture(scope="session")
def logs_of() -> Callable[[int], list[Path]]:
    """The logs of one of the weekend's runs."""
    runs = tomllib.loads((WEEKEND / "runs.toml").read_text(encoding="utf-8"))["runs"]
    return lambda number: [WEEKEND / name for name in runs[number]["logs"]]


@pytest.fixture(scope="module")
def two_runs(browser: Browser, service: Service, told_car: str, logs_of: Callable[[int], list[Path]]) -> list[str]:
    """Two runs of the weekend, uploaded through the page; their ids."""
    context = browser.new_context(base_url=service.address)
    context.set_default_timeout(PATIENCE_MS)
    page, ids = context.new_page(), []
    for number, label in enumerate(("first", "second")):
        page.goto("/")
        page.set_input_files("input[type=file]", logs_of(number))
        page.select_option("#upload select[name=car]", told_car)
        page.fill("#upload input[name=label]", label)
        page.fill("#upload input[name=event]", "Trial")
        page.click("text=Review it")
        page.wait_for_url(re.compile("/runs/"))
        ids.append(page.url.rsplit("/", 1)[1])
    context.close()
    return ids


@pytest.fixture(scope="module")
def places(two_runs: list[str], told_car: str) -> list[str]:
    """Every screen there is."""
    one, both = two_runs[0], ",".join(two_runs)
    return ["/", f"/runs/{one}", f"/overlay?runs={both}", "/overlay", f"/costs?runs={both}",
            f"/change?before={one}&after={two_runs[1]}", "/cars", f"/cars/{told_car}", "/cars/new",
            f"/cars/{told_car}/foretold", f"/cars/{told_car}/parts",
            "/events/Trial", "/trash", f"/runs/{one}/whatif", f"/runs/{one}/bench",
            "/runs/none"]  # fmt: skip
