"""Everybody, everywhere: files kept by the browser, pages read while the service is away, text of any size.

Evidence: end to end, on the demo's own logs, through the real service.
"""

from __future__ import annotations

import re

from playwright.sync_api import expect

PHONE = {"width": 390, "height": 844}


def test_files_are_named_by_what_they_hold_and_kept_for_a_year(page, places):
    asked: dict[str, str] = {}
    page.on("response", lambda answer: asked.update({answer.url: answer.headers.get("cache-control", "")}))
    for place in places[:7]:
        page.goto(place)
    files = {url: kept for url, kept in asked.items() if "/static/" in url}
    assert len(files) > 10
    assert {kept for kept in files.values()} == {"public, max-age=31536000, immutable"}
    assert all(re.search(r"/static/[0-9a-f]{16}/[\w.-]+$", url) for url in files)
    assert page.request.get("/static/passband.css").headers["cache-control"] == "no-cache"
    assert page.request.get("/static/0123456789abcdef/passband.css").status == 404


def test_no_page_asks_for_anything_from_elsewhere(page, places, service):
    foreign: list[str] = []
    page.on("request", lambda asked: foreign.append(asked.url) if not asked.url.startswith(service.address) else None)
    for place in places:
        page.goto(place)
        page.wait_for_load_state("networkidle")
    assert [url for url in foreign if not url.startswith(("data:", "blob:"))] == []


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


def test_text_of_twice_the_size_fits_a_phone_on_every_screen(page, places):
    page.set_viewport_size(PHONE)
    for place in places:
        page.goto(place)
        page.wait_for_load_state("networkidle")
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        page.wait_for_timeout(300)
        over = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert over <= 0, (place, over)


def test_every_screen_has_one_first_heading(page, places):
    for place in places:
        page.goto(place)
        assert page.locator("h1").count() == 1, place
