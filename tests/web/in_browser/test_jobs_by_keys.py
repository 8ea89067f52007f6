"""Jobs done by the keyboard alone, and that nothing which has the focus is hidden.

Evidence: end to end, on the demo's own logs, through the real service.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from passband.service.commands.demo import WEEKEND

HIDDEN = """() => {
  const here = document.activeElement;
  const box = here.getBoundingClientRect();
  const style = getComputedStyle(here.closest("label.drop") ?? here);
  const [x, y] = [box.left + box.width / 2, box.top + Math.min(box.height / 2, 12)];
  const over = x > 0 && y > 0 && x < innerWidth && y < innerHeight ? document.elementFromPoint(x, y) : null;
  const seen = over !== null && (here.contains(over) || over.contains(here));
  const ring = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  return ring && (seen || box.height > innerHeight / 2) ? "" : here.outerHTML.slice(0, 110);
}"""
SIZES = {360: 740, 1280: 800}


def tab_to(page: Page, selector: str, most: int = 60) -> None:
    """Press Tab until what is sought has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
    pytest.fail(f"{selector} is not reached by {most} presses of Tab")


@pytest.mark.parametrize("width", SIZES)
def test_what_has_the_focus_is_ringed_and_under_nothing(page, told_car, two_runs, width):
    page.set_viewport_size({"width": width, "height": SIZES[width]})
    for place in (f"/overlay?runs={','.join(two_runs)}", f"/cars/{told_car}", f"/cars/{told_car}/parts"):
        page.goto(place)
        page.wait_for_load_state("networkidle")
        hidden = []
        for _ in range(70):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement === document.body"):
                break
            hidden.append(page.evaluate(HIDDEN))
        assert len(hidden) > 15
        assert [html for html in hidden if html] == [], place


def test_a_fact_is_set_and_a_limit_added_by_keys(page, told_car):
    page.goto(f"/cars/{told_car}")
    tab_to(page, "input[name=mass]")
    page.keyboard.type("3100")
    tab_to(page, "[data-add]", 90)
    page.keyboard.press("Enter")
    page.keyboard.type("oil_pressure")
    page.keyboard.press("Escape")  # the list of names closes
    page.keyboard.press("Tab")
    page.keyboard.type("oil")
    tab_to(page, "#limits > :last-child [data-key=value]")
    page.keyboard.type("30")
    page.keyboard.press("Enter")
    expect(page.locator("#car output[role=status]")).to_contain_text("Saved as version 2.")
    car = page.request.get(f"/api/cars/{told_car}").json()
    assert (car["mass"], car["limits"][-1]["at_least"]) == ("3100 lb", "30 psi")
    page.reload()
    line = page.locator("#limits summary").last
    expect(line).to_have_text("oil at least 30 psi")
    line.press("Enter")
    expect(page.locator("#limits .limit").last.get_by_label("Name, if other")).to_be_visible()


def test_slip_and_air_are_entered_by_keys(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    page.locator("#edit > summary").focus()
    page.keyboard.press("Enter")
    for name, text in {"t1320_s": "10.15", "v1320": "148.3", "temperature": "75"}.items():
        tab_to(page, f"[data-edit] input[name={name}]")
        page.keyboard.type(text)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    run = page.request.get(f"/api/runs/{two_runs[0]}").json()
    assert (run["slip"], run["air"]) == ({"t1320_s": 10.15, "v1320": "148.3 mph"}, {"temperature": "75 degF"})


def test_runs_are_compared_and_their_channels_picked_by_keys(page, two_runs):
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto("/")
    tab_to(page, f"input[name=run][value='{two_runs[1]}']")  # the newest stands first
    page.keyboard.press("Space")
    tab_to(page, f"input[name=run][value='{two_runs[0]}']")
    page.keyboard.press("Space")
    tab_to(page, ".stubs button[type=submit]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("overlay"))
    expect(page.locator(".traces .reply")).to_have_text("")
    tab_to(page, ".chart")
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.tagName") == "BODY"
    tab_to(page, ".trace-bar summary")
    page.keyboard.press("Enter")
    tab_to(page, "[data-picks] input[value=throttle]")
    page.keyboard.press("Space")
    expect(page.locator(".chart canvas")).to_have_count(5)
    page.keyboard.press("Escape")
    expect(page.locator("[data-picks]")).to_be_hidden()
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    tab_to(page, "a[href^='/costs']")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("Where the time went")


def test_a_first_press_of_delete_is_taken_back_by_escape_and_a_deletion_undone(page, two_runs):
    page.goto(f"/runs/{two_runs[1]}")
    page.locator("#away > summary").press("Enter")
    tab_to(page, "[data-delete]")
    page.keyboard.press("Enter")
    expect(page.locator("[data-delete]")).to_have_text("Yes, delete this run")
    page.keyboard.press("Escape")
    expect(page.locator("[data-delete]")).to_have_text("Delete this run")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/\?deleted="))
    tab_to(page, "[data-restore]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(rf"/runs/{two_runs[1]}$"))


def test_the_skip_link_leads_past_the_head(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    page.keyboard.press("Tab")
    expect(page.locator(".skip")).to_be_in_viewport()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.closest('main') !== null")


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_a_forecast_is_asked_for_by_keys(page, two_runs, width):
    page.set_viewport_size({"width": width, "height": 760})
    page.goto(f"/runs/{two_runs[0]}")
    tab_to(page, "a[href$='/whatif']", 90)
    page.keyboard.press("Enter")
    expect(page.locator("#whatif button[type=submit]")).to_be_enabled()
    tab_to(page, "#whatif input[name=mass]")
    page.keyboard.type("-100")
    page.keyboard.press("Enter")
    expect(page.locator(".bench-answer table").first).to_be_visible()
    expect(page.locator(".bench-answer")).to_contain_text("1,320 ft")


def test_a_sheet_is_sorted_and_its_runs_told_apart_by_a_change_by_keys(page, two_runs):
    page.goto("/")
    tab_to(page, ".stub-head a")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("Trial")
    tab_to(page, "th[data-by=number] .sort")
    page.keyboard.press("Enter")
    expect(page.locator("th[data-by=number]").first).to_have_attribute("aria-sort", "ascending")
    tab_to(page, f"input[name=run][value='{two_runs[0]}']", 120)
    page.keyboard.press("Space")
    tab_to(page, "[data-before]")
    page.keyboard.press("Enter")
    for _ in range(60):  # back up to the other run
        page.keyboard.press("Shift+Tab")
        if page.evaluate("id => document.activeElement.value === id", two_runs[1]):
            break
    page.keyboard.press("Space")
    tab_to(page, "[data-after]")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile(r"/change\?before="))
    tab_to(page, "input[name=name]", 90)
    page.keyboard.type("springs")
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/changes/"))
    expect(page.locator("h1")).to_have_text("springs")


def test_a_part_is_fitted_by_keys(page, told_car):
    page.goto(f"/cars/{told_car}/parts")
    tab_to(page, "input[name=name]")
    page.keyboard.type("clutch")
    page.keyboard.press("Enter")
    expect(page.locator(".part h2")).to_have_text("clutch")


def test_a_sheet_shows_the_columns_chosen_and_sorts_by_them(page, two_runs):
    page.goto("/events/Trial")
    shown = lambda: page.locator("table.season thead th:visible").all_inner_texts()  # noqa: E731
    every = shown()
    choice = page.get_by_label("Show columns")
    choice.select_option("launch and shifts")
    some = shown()
    assert some[:2] == ["Run", "ET s"] and "launch rpm" in some and "rpm after 1-2" in some
    assert not {"Limits, faults", "60 ft s", "in band %"} & set(some)
    page.get_by_role("button", name="launch rpm").click()
    cells = page.locator("table.season tbody tr >> nth=0 >> td:visible").all_inner_texts()
    assert len(cells) == len(some) - 1
    choice.select_option("all")
    assert shown() == every


def test_a_flow_sheet_is_laid_beside_a_run_by_keys(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}/bench")
    tab_to(page, "input[name=flow_sheet]")
    sheet = WEEKEND.parent / "bench" / "flow_sheet.csv"
    page.set_input_files("input[name=flow_sheet]", sheet)  # the system's own window is not the page's
    tab_to(page, "#bench button[type=submit]")
    page.keyboard.press("Enter")
    expect(page.locator(".bench-answer table").first).to_be_visible()
