"""Everybody, everywhere: files kept by the browser, pages read while the service is away, text of any size.

Evidence: end to end, on the demo's own logs, through the real service.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import expect

from tests.web.in_browser.conftest import PATIENCE_MS

PHONE = {"width": 390, "height": 844}


@dataclass(frozen=True)
class Seen:
    """What every screen asked for, and how it stands with text of twice the size on a phone."""

    asked: list[str] = field(default_factory=list)
    """Addresses."""
    kept: dict[str, str] = field(default_factory=dict)
    """What answers said of keeping them, by address."""
    beyond: dict[str, int] = field(default_factory=dict)
    """By how much a screen scrolls sideways, by its place; only of those that do. [px]"""


@pytest.fixture(scope="module")
def seen(browser, service, places) -> Seen:
    """Every screen looked at once, all that is folded opened."""
    seen = Seen()
    context = browser.new_context(base_url=service.address, viewport=PHONE, reduced_motion="reduce")
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.on("request", lambda asked: seen.asked.append(asked.url))
    page.on("response", lambda answer: seen.kept.update({answer.url: answer.headers.get("cache-control", "")}))
    for place in places:
        page.goto(place)
        page.wait_for_load_state("networkidle")
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        page.wait_for_timeout(300)  # traces are drawn anew
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        seen.beyond.update({place: over} if over > 0 else {})
    context.close()
    return seen


def test_files_are_named_by_what_they_hold_and_kept_for_a_year(page, seen):
    files = {url: kept for url, kept in seen.kept.items() if "/static/" in url}
    assert len(files) > 10
    assert {kept for kept in files.values()} == {"public, max-age=31536000, immutable"}
    assert all(re.search(r"/static/[0-9a-f]{16}/[\w.-]+$", url) for url in files)
    assert page.request.get("/static/passband.css").headers["cache-control"] == "no-cache"
    assert page.request.get("/static/0123456789abcdef/passband.css").status == 404


def test_no_page_asks_for_anything_from_elsewhere(seen, service):
    own = (service.address, "data:", "blob:")
    assert [url for url in seen.asked if not url.startswith(own)] == []


def test_text_of_twice_the_size_fits_a_phone_on_every_screen(seen):
    assert seen.beyond == {}


def test_what_was_seen_can_be_read_while_the_service_is_away(page, service, two_runs):
    page.goto("/")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    for place in ("/", f"/runs/{two_runs[0]}"):
        page.goto(place)
        page.wait_for_load_state("networkidle")
    expect(page.locator(".chart canvas")).not_to_have_count(0)
    service.stop()
    try:
        page.goto(f"/runs/{two_runs[0]}")
        expect(page.locator("h1")).to_have_text("first")
        expect(page.locator(".away")).to_contain_text("The service does not answer. This page is as it was seen on")
        expect(page.locator(".chart canvas")).not_to_have_count(0)
        page.goto("/")
        expect(page.locator("#h-upload")).to_be_visible()
    finally:
        service.start()
    page.goto(f"/runs/{two_runs[0]}")
    expect(page.locator(".away")).to_be_hidden()


def test_the_page_can_be_installed(page):
    page.goto("/")
    manifest = page.evaluate("fetch(document.querySelector('link[rel=manifest]').href).then((answer) => answer.json())")
    place = page.evaluate("document.querySelector('link[rel=manifest]').href")
    assert (manifest["display"], manifest["start_url"], manifest["scope"]) == ("standalone", "/", "/")
    for icon in manifest["icons"]:
        assert page.request.get(place.rsplit("/", 1)[0] + "/" + icon["src"]).ok
    faults = page.context.new_cdp_session(page).send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [fault["errorId"] for fault in faults if fault["errorId"] != "in-incognito"] == []
