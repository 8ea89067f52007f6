"""What a first view weighs, and that every screen answers to the keyboard alone.

Evidence: end to end, on the demo's own logs, through the real service.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

MOST_BYTES = 60_000
"""Of a first view without its charts: a second at a strip's half megabit a second."""
CHARTS = ("uplot", "/lines", "traces.js", "tracepanel.js", "tracedata.js")
SHOWN = """() => {
  const here = document.activeElement;
  const box = here.getBoundingClientRect();
  const style = getComputedStyle(here);
  const ring = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  return { tag: here.tagName, ring: ring || here.closest(":focus-within") !== null && style.outlineStyle === "auto",
           seen: box.bottom > 0 && box.top < innerHeight && box.width > 0, html: here.outerHTML.slice(0, 90) };
}"""


def test_a_first_view_weighs_little_but_for_its_charts(page, places):
    for place in places:
        session = page.context.new_cdp_session(page)
        session.send("Network.enable")
        session.send("Network.setCacheDisabled", {"cacheDisabled": True})
        session.send("Network.setBypassServiceWorker", {"bypass": True})
        urls: dict[str, str] = {}
        weights: dict[str, float] = {}
        session.on("Network.responseReceived", lambda e, urls=urls: urls.update({e["requestId"]: e["response"]["url"]}))
        session.on(
            "Network.loadingFinished",
            lambda e, urls=urls, weights=weights: weights.update(
                {urls.get(e["requestId"], ""): e["encodedDataLength"]}
            ),
        )
        page.goto(place)
        page.wait_for_timeout(500)
        session.detach()
        weight = sum(size for url, size in weights.items() if not any(part in url for part in CHARTS))
        assert 0 < weight < MOST_BYTES, (place, weight)


@pytest.mark.parametrize("number", [0, 1, 5, 6, 7])
def test_every_stop_of_the_tab_key_is_seen_and_ringed(page, places, number):
    page.goto(places[number])
    page.wait_for_timeout(800)
    stops = []
    for _ in range(45):
        page.keyboard.press("Tab")
        stop = page.evaluate(SHOWN)
        if stop["tag"] == "BODY":
            break
        stops.append(stop)
    assert len(stops) > 4
    assert [stop["html"] for stop in stops if not stop["seen"] or not stop["ring"]] == []


def test_logs_are_chosen_named_and_reviewed_by_keys_alone(page, told_car, logs_of):
    page.goto("/")
    page.locator("input[type=file]").focus()
    page.set_input_files("input[type=file]", logs_of(7))  # the system's own window is not the page's
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.name") == "round":
            break
    page.keyboard.type("by keys")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.type") == "submit":
            break
    page.keyboard.press("Enter")
    page.wait_for_url("**/runs/*")
    expect(page.locator("h1")).to_contain_text("by keys")
