"""Every screen held against the rules of the web content accessibility guidelines by axe, 2.2 AA, details opened.

Evidence: axe 4.12.1 as its makers give it out (`tests/web/axe-4.12.1`), on the demo's own logs.
"""

from __future__ import annotations

from pathlib import Path

import pytest

AXE = (Path(__file__).parents[1] / "axe-4.12.1" / "axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SCREENS = {"phone, light": (390, "light"), "laptop, dark": (1280, "dark")}


@pytest.mark.parametrize("screen", SCREENS)
def test_axe_finds_nothing_on_any_screen(page, places, screen):
    width, scheme = SCREENS[screen]
    page.set_viewport_size({"width": width, "height": 844})
    page.emulate_media(color_scheme=scheme)
    found = []
    for place in places:
        page.goto(place)
        page.wait_for_timeout(400)  # traces are drawn, forms are understood
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        page.evaluate(AXE)
        faults = page.evaluate("rules => axe.run({ runOnly: rules }).then((result) => result.violations)", RULES)
        found += [
            (place.split("?")[0], fault["id"], len(fault["nodes"]), fault["nodes"][0]["html"][:160]) for fault in faults
        ]
    assert found == []
