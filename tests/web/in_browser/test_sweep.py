"""Every page at three widths, light and dark: axe finds nothing, nothing sticks out or is cut, all can be hit.

One service and one sign-in serve all of it; answers that scripts fetch are asked for first, and all that is folded is
opened. Each page is loaded once; at each width it is looked at in the light, then in the dark.

Evidence: end to end, on the demo's own logs, through the real service.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from passband.service.commands.demo import WEEKEND
from passband.web.assets import STATIC
from tests.service.answers.test_answering import log_with_doubt
from tests.web.in_browser.axe import AXE, RULES
from tests.web.in_browser.conftest import PASSWORD, PATIENCE_MS, Service, service_with_a_team
from tests.web.in_browser.test_jobs_by_keys import tab_to

WIDTHS = {360: 740, 768: 1024, 1280: 800}
SCHEMES = {
    "light": {"type": "tag", "values": RULES},
    "dark": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]},
}
"""What axe looks for: everything, then what goes by colours, for the dark changes nothing else."""
TRACED = ("run", "asked", "overlay")
"""Pages whose traces are drawn anew at each width."""
RUNS = (0, 1, 3)
"""Of the weekend: two sound ones and one with a missed shift that broke two limits."""

PLACES = {
    "start": "/", "run": "/runs/{one}", "asked": "/runs/{doubtful}", "overlay": "/overlay?runs={all}",
    "pick": "/overlay", "costs": "/costs?runs={all}", "change": "/changes/{change}",
    "sheet": "/events/Trial", "put right": "/put-right?runs={all}", "what if": "/runs/{one}/whatif",
    "bench": "/runs/{one}/bench", "cars": "/cars", "car": "/cars/{car}?run={one}", "new car": "/cars/new",
    "foretold": "/cars/{car}/foretold", "parts": "/cars/{car}/parts", "trash": "/trash",
    "team": "/team", "none": "/runs/none",
}  # fmt: skip
"""Every page there is, by a name of its own."""

GEOMETRY = """() => {
  const faults = [];
  const name = (one) => one.outerHTML.slice(0, 110);
  const wide = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (wide > 0) faults.push(`the page scrolls sideways by ${wide}`);
  if (document.querySelectorAll("h1").length !== 1) faults.push("not one h1");
  const pen = document.createElement("canvas").getContext("2d");
  const long = (text, style) => { pen.font = style.font; return pen.measureText(text).width; };
  const room = (one, style) => one.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) + 1;
  for (const one of document.querySelectorAll("body *")) {
    if (!one.checkVisibility({ visibilityProperty: true })) continue;
    const [box, style] = [one.getBoundingClientRect(), getComputedStyle(one)];
    if (box.bottom < 0 || box.right < 0) continue; // the link past the head, until it has the focus
    const scrolls = one.closest(".scroll, .picks, .drawn");
    const beyond = box.width && (box.left < -1 || box.right > innerWidth + 1);
    if (beyond && !scrolls) faults.push(`beyond the edge: ${name(one)}`);
    const clips = /hidden|clip/.test(style.overflowX) && one.scrollWidth > one.clientWidth + 1;
    if (clips && one.textContent.trim()) faults.push(`cut: ${name(one)}`);
    if (one.matches("input:not([type]), input[type=text], input[type=search]")) {
      const text = one.value || one.placeholder;
      if (!one.dataset.header && long(text, style) > room(one, style)) faults.push(`cut: ${text} in ${name(one)}`);
    }
    if (one.matches("a, button, summary, input:not([type=file]), select, textarea")) {
      const hit = one.closest("label")?.getBoundingClientRect() ?? box;
      if (hit.height < 23.9 || hit.width < 23.9) faults.push(`small, ${hit.width} by ${hit.height}: ${name(one)}`);
    }
  }
  return faults;
}"""


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A service with one team and one owner, so that its own pages are among the others."""
    service = service_with_a_team(tmp_path_factory.mktemp("house"))
    yield service
    service.stop()


@pytest.fixture(scope="module")
def signed_in(browser: Browser, service: Service) -> Iterator[BrowserContext]:
    """A browser that has signed in."""
    address = service.address.replace("127.0.0.1", "localhost")  # where a browser takes a secure cookie without TLS
    context = browser.new_context(base_url=address, reduced_motion="reduce", service_workers="block")
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto("/sign-in")
    page.fill("input[name=name]", "Robin")
    page.fill("input[name=password]", PASSWORD)
    page.click("button:text('Sign in')")
    page.wait_for_url(f"{address}/")
    page.close()
    yield context
    context.close()


@pytest.fixture(scope="module")
def tab(signed_in: BrowserContext) -> Iterator[Page]:
    """One tab for all pages: a new one starts a process of its own, some 1.5 s of processor time."""
    page = signed_in.new_page()
    yield page
    page.close()


def ask(context: BrowserContext, method: str, place: str, **given: object) -> dict:
    answer = context.request.fetch(place, method=method, **given)  # type: ignore[arg-type]
    assert answer.ok, answer.text()
    return answer.json()


@pytest.fixture(scope="module")
def house(signed_in: BrowserContext, logs_of: Callable[[int], list[Path]]) -> dict[str, str]:
    """Where each of `PLACES` is, once something of everything is there."""
    car = ask(signed_in, "POST", "/api/cars", data=tomllib.loads((WEEKEND / "car.toml").read_text(encoding="utf-8")))
    ids = []
    for number in RUNS:
        files = {f"log{at}": path for at, path in enumerate(logs_of(number))}
        page = signed_in.new_page()
        page.goto("/")
        page.set_input_files("input[type=file]", list(files.values()))
        page.fill("#upload input[name=event]", "Trial")
        page.fill("#upload input[name=round]", f"Q{number}")
        page.click("text=Review it")
        page.wait_for_url("**/runs/*")
        ids.append(page.url.rsplit("/", 1)[1])
        page.close()
    asked = {"name": "a.csv", "mimeType": "text/csv", "buffer": log_with_doubt()}
    doubtful = ask(signed_in, "POST", "/api/runs", multipart={"log": asked, "car": car["id"]})["runs"][0]["id"]
    part = {"name": "clutch", "kind": "clutch", "above_rpm": [7500]}
    ask(signed_in, "POST", f"/api/cars/{car['id']}/parts", data=part)
    change = ask(signed_in, "POST", "/api/groups", data={"name": "springs", "before": ids[:1], "after": ids[1:2]})
    one, all_of = ids[-1], ",".join(ids)
    ids_of = {"one": one, "all": all_of, "doubtful": doubtful, "change": change["id"], "car": car["id"]}
    return {name: place.format(**ids_of) for name, place in PLACES.items()}


def prepare(page: Page, name: str) -> None:
    """What a page shows only when asked, and all that is folded."""
    if name == "what if":
        page.fill("input[name=mass]", "-30")
        page.fill("input[name=search]", "shift-rpm")
        page.click("#whatif button[type=submit]")
        expect(page.locator(".bench-answer table").first).to_be_visible()
    if name == "bench":
        for sheet in ("flow_sheet", "dynamometer", "compressor_map"):
            page.set_input_files(f"input[name={sheet}]", WEEKEND.parent / "bench" / f"{sheet}.csv")
        page.click("#bench button[type=submit]")
        expect(page.locator(".bench-answer svg").first).to_be_visible()
    if name in ("run", "overlay"):
        expect(page.locator(".traces .reply")).to_have_text("")
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    page.wait_for_load_state("networkidle")  # what a form understood stands under its fields


def settle(page: Page, name: str) -> None:
    """Wait until what depends on the width is drawn: traces by our script, all else by the browser itself."""
    if name in TRACED:
        page.wait_for_timeout(250)
    page.evaluate("() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))")


def faults_of(page: Page, rules: dict[str, object]) -> list[tuple[str, str]]:
    """What axe finds, and where first."""
    asked = {"runOnly": rules, "resultTypes": ["violations"]}
    found = page.evaluate("asked => axe.run(asked).then((one) => one.violations)", asked)
    return [(fault["id"], fault["nodes"][0]["html"][:140]) for fault in found]


@pytest.mark.parametrize("name", PLACES)
def test_a_page_has_no_fault_at_any_width(tab: Page, house: dict[str, str], name: str) -> None:
    tab.goto(house[name])
    prepare(tab, name)
    tab.evaluate(AXE)
    found: list[tuple[object, ...]] = []
    for width, height in WIDTHS.items():
        tab.set_viewport_size({"width": width, "height": height})
        settle(tab, name)
        found += [(width, fault) for fault in tab.evaluate(GEOMETRY)]
        for scheme, rules in SCHEMES.items():
            tab.emulate_media(color_scheme=scheme)
            found += [(width, scheme, *fault) for fault in faults_of(tab, rules)]
    assert found == [], "\n".join(map(str, found))


def test_what_is_dark_differs_in_colour_alone() -> None:
    # So a page in the dark is asked about its colours, not about all that it was asked about in the light
    css = (STATIC / "passband.css").read_text(encoding="utf-8")
    dark = re.findall(r"@media[^{]*prefers-color-scheme: dark\) \{((?:[^{}]|\{[^{}]*\})*)\}", css)
    said = [one.split(":")[0].strip() for block in dark for one in re.findall(r"[{;]([^{};]+:[^{};]+)", block)]
    assert len(dark) == 2 and all(one.startswith("--") or one == "filter" for one in said)


def test_somebody_is_invited_by_keys(signed_in: BrowserContext) -> None:
    page = signed_in.new_page()
    page.goto("/team")
    tab_to(page, "form[action='/team/invitations'] button")
    page.keyboard.press("Enter")
    expect(page.locator("code")).to_contain_text("/join")
    page.close()


def test_a_phones_first_view_answers_limits_run_change_and_doubt_of_a_run_that_broke_limits(
    signed_in: BrowserContext, house: dict[str, str]
) -> None:
    page = signed_in.new_page()
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(house["run"])
    expect(page.locator(".stamp").first).to_have_text("OUTSIDE")
    expect(page.locator(".why [data-sign]")).to_have_count(2)
    expect(page.locator(".why li").last).to_contain_text("Missed shift 2-3")
    expect(page.locator(".since")).to_contain_text("slower than Trial, Q1, the run before; shift 2-3")
    answer = page.locator(".first, .why li, .boards, .keys li, .since, .doubted li, svg.strip .s-flag-no")
    shown = answer.evaluate_all("all => all.map((one) => one.getBoundingClientRect().bottom)")
    assert len(shown) >= 13
    assert max(shown) <= 740
    for link in page.locator(".verdict a[href^='#']").all():
        assert page.locator(link.get_attribute("href") or "").count() == 1
    assert page.locator("nav.jump").evaluate_all("all => all.reduce((sum, one) => sum + one.offsetHeight, 0)") < 240
    page.close()


@pytest.mark.parametrize("to", ["#limits", "#band", "#findings", "#edit"])
def test_a_link_of_the_first_view_leads_to_its_place_past_parts_not_laid_out_yet(
    signed_in: BrowserContext, house: dict[str, str], to: str
) -> None:
    page = signed_in.new_page()
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(house["run"])
    page.locator(f"a[href='{to}']").first.click()
    page.wait_for_function("to => document.querySelector(to).getBoundingClientRect().top < innerHeight / 2", arg=to)
    page.wait_for_timeout(300)
    box = page.locator(to).bounding_box()
    assert box is not None
    assert -1.0 <= box["y"] < 844 / 2
    page.close()


def test_the_print_of_a_run_that_broke_limits_is_one_sheet(signed_in: BrowserContext, house: dict[str, str]) -> None:
    page = signed_in.new_page()
    page.goto(house["run"])
    sheet = page.pdf(prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1
    page.close()


def test_a_limit_that_a_change_would_break_leads_the_forecast(signed_in: BrowserContext, house: dict[str, str]) -> None:
    # The run went over its limit of 8,050 rpm in a missed shift; 150 rpm later it goes further
    page = signed_in.new_page()
    page.goto(house["what if"])
    page.fill("input[name=shift_rpm]", "+150")
    page.click("#whatif button[type=submit]")
    first = page.locator(".bench-answer > *").first
    expect(first).to_contain_text("over your limit 'Engine speed' of 8,050 rpm")
    page.close()
