"""Signing in, inviting and joining in a real browser, which sends cookies and origins as it likes."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, sync_playwright

from passband.service.access.identity import Access, access_file
from passband.service.access.records import AccessRecords, Role
from passband.service.app import create_app
from passband.service.settings import read_settings
from tests.web.test_browser import CHROMIUM, FLAGS, PATIENCE_MS

PASSWORD = "a long day at the strip"
PHONE = {"width": 390, "height": 844}


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A service with one team, on a free port."""
    records = AccessRecords(access_file(tmp_path))
    team = records.add_team("Red", folder="", quota_bytes=None, now=0)
    records.set_role(team.id, Access(records).add_person("Robin", PASSWORD).id, Role.OWNER)
    records.close()
    app = create_app(read_settings({}, data=tmp_path, workers=0))
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="error", ws="none"))
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.02)
    yield f"http://localhost:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


def test_an_owner_signs_in_invites_and_somebody_joins(browser: Browser, address: str) -> None:
    owner = browser.new_context(base_url=address, viewport=PHONE)
    owner.set_default_timeout(PATIENCE_MS)
    page = owner.new_page()
    page.goto("/cars")
    assert page.url.endswith("/sign-in?next=%2Fcars")
    page.fill("input[name=name]", "Robin")
    page.fill("input[name=password]", PASSWORD)
    page.click("button:text('Sign in')")
    page.wait_for_url("**/cars")
    page.goto("/team")
    page.click("button:text('Make a link')")
    link = page.locator("code").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    joining = browser.new_context(base_url=address).new_page()
    joining.goto(link)
    joining.fill("input[name=name]", "Kim")
    joining.fill("input[name=password]", PASSWORD)
    joining.click("button:text('Join')")
    joining.wait_for_url(f"{address}/")
    joining.goto("/team")
    joining.click("button:text('Sign out')")
    joining.wait_for_url("**/sign-in")
    joining.goto("/team")
    assert "/sign-in" in joining.url
