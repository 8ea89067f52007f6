"""The page in a browser: a car described, logs dropped, reviews read, runs laid over each other.

Evidence: end to end, on the demo's own logs, through the real service; the browser keeps the service's own policy.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from passband.service.commands.demo import WEEKEND
from tests.web.in_browser.axe import AXE, RULES
from tests.web.in_browser.conftest import PATIENCE_MS, Service

PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def car(told_car: str) -> str:
    """The demo's car."""
    return told_car


def logs(number: int) -> list[Path]:
    """The logs of one of the weekend's runs, the dash's first: the order must not matter."""
    runs = tomllib.loads((WEEKEND / "runs.toml").read_text(encoding="utf-8"))["runs"]
    return [WEEKEND / name for name in reversed(runs[number]["logs"])]


def upload(page: Page, car: str, number: int, label: str) -> str:
    """Drop the logs of a run on the start page and wait for its review; the run's id."""
    page.goto("/")
    page.set_input_files("input[type=file]", logs(number))
    page.select_option("#upload select[name=car]", car)
    page.fill("#upload input[name=label]", label)
    page.fill("#upload input[name=event]", "Trial")
    page.click("text=Review it")
    page.wait_for_url(re.compile("/runs/"), timeout=PATIENCE_MS)
    return page.url.rsplit("/", 1)[1]


@pytest.fixture(scope="module")
def two_runs(browser: Browser, service: Service, car: str) -> list[str]:
    """Two runs of the weekend, the dash's log dropped first."""
    context = browser.new_context(base_url=service.address)
    page = context.new_page()
    ids = [upload(page, car, 0, "first"), upload(page, car, 1, "second")]
    context.close()
    return ids


def test_a_dropped_run_is_reviewed_and_answers_at_the_top(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    expect(page.locator("h1")).to_have_text("first")
    expect(page.locator(".verdict .stamp")).to_have_text(re.compile("INSIDE|OUTSIDE|NO VERDICT"))
    expect(page.locator("article .first")).to_have_text(re.compile("12 limits"))
    expect(page.locator("article .lines li")).to_have_count(3)
    expect(page.locator("svg.strip .s-flag-no").first).to_have_text("1")
    titles = [title.split()[0] for title in page.locator("article h2").all_text_contents()]
    assert titles == "Traces Launch Shifts Boost Power Band Limits Splits Findings".split()


def test_the_phone_shows_verdict_and_strip_without_scrolling(page, two_runs):
    page.set_viewport_size(PHONE)
    page.goto(f"/runs/{two_runs[0]}")
    assert page.locator(".verdict .stamp").bounding_box()["y"] < PHONE["height"] / 2
    assert page.locator(".first").bounding_box()["y"] < page.locator("svg.strip").bounding_box()["y"]
    assert page.locator("svg.strip").bounding_box()["y"] < PHONE["height"]


def test_runs_are_ticked_and_laid_over_each_other(page, two_runs):
    page.goto("/")
    for run_id in two_runs:
        page.check(f"input[name=run][value='{run_id}']")
    page.click("text=Compare the selected runs")
    page.wait_for_url(re.compile(f"overlay.runs={two_runs[0]},{two_runs[1]}"))
    expect(page.locator(".chart canvas")).to_have_count(4, timeout=PATIENCE_MS)
    expect(page.locator(".readout tbody th")).to_have_text(["1 first", "2 second"])
    assert page.locator(".readout thead th").all_text_contents() == [
        "Run", "Engine speed, rpm", "Boost (gauge), psi", "Ground speed, mph", "Time behind first, s", "Gear",
        "Move by, ft",
    ]  # fmt: skip
    expect(page.locator("svg.strip .s-title")).to_have_count(2)


def test_the_place_looked_at_moves_by_key_and_by_pointer(page, two_runs):
    page.goto(f"/overlay?runs={','.join(two_runs)}")
    expect(page.locator(".reply")).to_have_text("", timeout=PATIENCE_MS)
    look = page.locator(".look input")
    look.focus()
    look.press("Home")
    look.press("ArrowRight")
    expect(page.locator(".look output")).to_have_text("5 ft")
    chart = page.locator(".chart")
    chart.hover(position={"x": chart.bounding_box()["width"] / 2, "y": 60})
    expect(page.locator(".look output")).to_have_text(re.compile(r"^(6|7)\d\d ft$"))


def drawn(page: Page) -> None:
    """Wait until the traces stand."""
    expect(page.locator(".traces .reply")).to_have_text("", timeout=PATIENCE_MS)


def read_number(page: Page, column: str, row: int = 0) -> float:
    """A value of the table beside the traces."""
    heads = page.locator(".readout thead th").all_text_contents()
    text = page.locator(".readout tbody tr").nth(row).locator("th, td").nth(heads.index(column)).text_content() or ""
    return float(text.replace(",", "").replace("\N{MINUS SIGN}", "-"))


def held(page: Page) -> float:
    """The place looked at, of the output beside the slider."""
    return float((page.locator(".look output").text_content() or "").split()[0].replace(",", ""))


def test_a_runs_traces_are_asked_along_any_axis_and_for_any_channel(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    drawn(page)
    expect(page.locator(".chart canvas")).to_have_count(3)
    page.click(".trace-bar summary")
    page.check("[data-picks] input[value=throttle]")
    expect(page.locator(".chart canvas")).to_have_count(4)
    page.select_option("[data-along]", "time")
    expect(page.locator(".look output")).to_have_text(re.compile(r"^\d+\.\d\d s$"))
    assert read_number(page, "Gear") >= 1
    page.select_option("[data-along]", "rpm")
    expect(page.locator(".look output")).to_have_text(re.compile(r"rpm$"))
    expect(page.locator(".chart canvas")).to_have_count(4)


def test_traces_answer_to_keys_alone(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    drawn(page)
    chart = page.locator(".chart")
    chart.focus()
    wide = [held(page)]
    chart.press("ArrowRight")
    wide.append(held(page))
    for _ in range(6):
        chart.press("+")
    chart.press("ArrowRight")
    wide.append(held(page))
    # Hand: a step is a two-hundredth of what is seen, and six steps of zoom leave a ninth of it (0.7 to the sixth)
    assert wide[1] - wide[0] == pytest.approx(1320 / 200, abs=1.1)
    assert 0 <= wide[2] - wide[1] <= 2
    chart.press("Home")
    chart.press("ArrowLeft")
    assert wide[2] - held(page) == pytest.approx(1320 / 200, abs=1.1)


def test_the_wheel_zooms_only_a_chart_that_was_chosen(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    drawn(page)
    chart = page.locator(".chart")
    chart.hover(position={"x": 300, "y": 60})
    page.mouse.wheel(0, 200)
    page.wait_for_function("scrollY > 0")
    chart.focus()
    chart.hover(position={"x": 300, "y": 60})
    before = page.evaluate("scrollY")
    page.mouse.wheel(0, -200)
    page.wait_for_timeout(300)
    assert page.evaluate("scrollY") == before


def test_runs_are_lined_up_at_a_shift_and_moved_by_hand(page, two_runs):
    page.goto(f"/overlay?runs={','.join(two_runs)}")
    drawn(page)
    page.select_option("[data-along]", "time")
    expect(page.locator(".readout thead th").last).to_have_text("Move by, s")
    before = read_number(page, "Ground speed, mph", 1)
    page.locator(".readout tbody tr").nth(1).locator("input").fill("0.5")
    page.locator(".readout tbody tr").nth(1).locator("input").press("Tab")
    page.wait_for_timeout(200)
    moved = read_number(page, "Ground speed, mph", 1)
    assert moved < before  # laid half a second later it had gone less far at that place
    page.select_option("[data-lineup]", label="shift 2-3")
    page.wait_for_timeout(200)
    assert read_number(page, "Ground speed, mph", 1) != moved


def test_what_is_no_log_is_refused_in_words_and_nothing_is_kept(page, car):
    page.goto("/")
    before = page.locator(".stub").count()
    page.set_input_files(
        "input[type=file]", {"name": "photo.csv", "mimeType": "text/csv", "buffer": b"\x89PNG\r\n\x1a\n" * 40}
    )
    page.click("text=Review it")
    expect(page.locator("[role=alert]")).to_contain_text("photo.csv")
    page.reload()
    assert page.locator(".stub").count() == before


def test_the_same_logs_again_lead_to_the_run_that_is_here(page, two_runs):
    page.goto("/")
    page.set_input_files("input[type=file]", logs(0))
    page.click("text=Review it")
    expect(page.locator(".reply")).to_contain_text("Here already, nothing was changed")
    assert page.locator(".reply a").get_attribute("href") == f"/runs/{two_runs[0]}"


def test_what_is_said_of_a_run_can_be_changed(page, two_runs):
    page.goto(f"/runs/{two_runs[1]}")
    page.click("text=About this run: slip, air, notes")
    page.fill("[data-edit] textarea[name=notes]", "more tire pressure")
    page.fill("[data-edit] input[name=temperature]", "31 degC")
    with page.expect_navigation():
        page.click("text=Save and review again")
    expect(page.locator("[data-edit] textarea[name=notes]")).to_have_value("more tire pressure")
    assert "88 °F" in page.locator(".part-power").inner_text()


def test_what_somebody_else_said_meanwhile_is_not_written_over_unseen(page, two_runs):
    place = f"/api/runs/{two_runs[1]}"
    page.request.patch(place, data={"notes": "as planned", "slip": None})
    page.goto(f"/runs/{two_runs[1]}")
    page.request.patch(place, data={"notes": "wind from the left", "slip": {"t60_s": 1.8}})
    page.click("text=About this run: slip, air, notes")
    page.fill("[data-edit] textarea[name=notes]", "soft launch")
    page.click("text=Save and review again")
    expect(page.locator("[data-edit] [role=status]")).to_contain_text("the notes, now “wind from the left”")
    expect(page.locator("[data-edit] textarea[name=notes]")).to_have_value("soft launch")
    with page.expect_navigation():
        page.click("text=Save and review again")
    kept = page.request.get(place).json()
    assert (kept["notes"], kept["slip"]) == ("soft launch", {"t60_s": 1.8})


def test_a_column_can_be_taken_for_another_channel(page, two_runs, car):
    page.goto(f"/runs/{two_runs[1]}")
    page.click("text=How the logs were read")
    column = page.locator("[data-channels] input[data-was=battery]")
    header = column.get_attribute("data-header")
    column.fill("ignore")
    with page.expect_navigation():
        page.click("text=Save to the car and review again")
    told = page.request.get(f"/api/cars/{car}").json()
    assert (told["version"], told["channels"][header]) == (2, "ignore")
    assert page.locator(f"[data-channels] input[data-header='{header}']").count() == 0


def test_units_are_chosen_once_for_all_pages(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    page.click("[data-units=metric]")
    page.wait_for_url(re.compile("units=metric"))
    assert "km/h" in page.locator(".boards").inner_text()
    page.goto(f"/runs/{two_runs[1]}")
    assert "km/h" in page.locator(".boards").inner_text()


def test_a_car_is_described_with_limits_whose_values_are_the_users_own(page):
    page.goto("/cars/new")
    page.fill("input[name=name]", "Lapwing")
    page.fill("input[name=mass]", "2450 lb")
    page.fill("input[name=gear_ratios]", "2.55 1.8 1.36")
    page.click("text=Add the usual limits")
    values = page.locator("[data-key=value], [data-key=points]").evaluate_all(
        "all => all.map(one => one.value).join('')"
    )
    assert values == ""
    page.locator("summary", has_text="Engine speed over").press("Enter")
    page.get_by_role("group", name="Engine speed over").get_by_label("Value", exact=True).fill("9100 rpm")
    page.locator("summary", has_text="Oil pressure against").click()
    page.get_by_role("group", name="Oil pressure against").get_by_label("Points").fill(
        "3000 rpm, 150 kPa\n8000, 350 kPa"
    )
    page.click("text=Save the car")
    expect(page.locator("#car output[role=status]")).to_have_text(
        "Saved as version 1. 11 limits without a value left out."
    )
    told = page.request.get(f"/api/cars/{page.url.rsplit('/', 1)[1]}").json()
    assert (told["mass"], told["gear_ratios"], told["limits"][0]["at_most"]) == (
        "2450 lb",
        [2.55, 1.8, 1.36],
        "9100 rpm",
    )
    assert told["limits"][1]["curve"]["points"] == [["3000 rpm", "150 kPa"], ["8000 rpm", "350 kPa"]]


def test_on_a_phone_every_field_of_a_limit_can_be_reached(page):
    page.set_viewport_size(PHONE)
    page.goto("/cars/new")
    page.click("text=Add a limit")
    card = page.locator("#limits .limit").last
    expect(card.locator("[data-key=when]")).to_be_visible()
    expect(card.locator("[data-remove]")).to_be_visible()
    card.locator("[data-key=rule]").select_option("curve")
    expect(card.locator("[data-key=points]")).to_be_visible()
    card.locator("[data-remove]").click()
    expect(card).to_have_count(0)


def test_a_number_is_in_the_unit_beside_it_and_what_was_understood_is_shown(page):
    # Hand: 2450 lb * 0.45359237 = 1111.3 kg; 21.8 psi = 150.31 kPa; 220 degF = 104.44 degC
    page.goto("/cars/new")
    page.fill("input[name=name]", "Plover")
    page.fill("input[name=mass]", "2450")
    page.fill("input[name=boost_threshold]", "21.8")
    page.fill("input[name=rpm_band]", "6200-8600")
    page.fill("input[name=gear_ratios]", "2.55, 1.8")
    page.click("text=Add a limit")
    limit = page.locator("#limits .limit").last
    limit.get_by_label("Channel").fill("coolant_temperature")
    limit.get_by_label("Must stay").select_option("at_most")
    limit.get_by_label("Value", exact=True).fill("220")
    limit.get_by_label("Only while").fill("throttle > 90%")
    expect(page.locator("[data-where='car.mass']")).to_have_text("2,450 lb = 1,111.3 kg")
    expect(page.locator("[data-where='car.boost_threshold']")).to_have_text("21.8 psi = 150.31 kPa")
    expect(limit.locator("[data-out=value]")).to_have_text("220 °F = 104.44 °C")
    page.click("text=Save the car")
    expect(page.locator("#car output[role=status]")).to_have_text("Saved as version 1.")
    told = page.request.get(f"/api/cars/{page.url.rsplit('/', 1)[1]}").json()
    assert (told["mass"], told["boost_threshold"], told["rpm_band"]) == (
        "2450 lb",
        "21.8 psi",
        ["6200 rpm", "8600 rpm"],
    )
    assert told["gear_ratios"] == [2.55, 1.8]
    assert told["limits"][0]["at_most"] == "220 degF"
    assert told["limits"][0]["when"] == [{"channel": "throttle", "at_least": "90%"}]
    page.reload()
    expect(page.locator("[data-unit=mass]")).to_have_value("lb")
    expect(page.locator("input[name=mass]")).to_have_value("2450")


def test_a_unit_that_was_kept_is_not_exchanged_for_another(page):
    limits = [
        {"name": "spread", "channel": "EGT spread", "at_most": "60 degC"},
        {"name": "pan", "channel": "pan pressure", "at_most": "90 mbar"},
        {"name": "warm", "channel": "coolant_temperature", "at_least": 333.15},
    ]
    answer = page.request.post("/api/cars", data={"name": "Dunlin", "bore": "8.6 cm", "mass": 958, "limits": limits})
    page.goto(f"/cars/{answer.json()['id']}")
    expect(page.locator("[data-where='car.limits.1.at_most']")).to_have_text("1.3053 psi = 9 kPa")
    page.click("text=Save the car")
    expect(page.locator("#car output[role=status]")).to_have_text("Saved as version 2.")
    told = page.request.get(f"/api/cars/{answer.json()['id']}").json()
    assert (told["bore"], told["mass"]) == ("8.6 cm", "958 kg")
    bounds = [limit.get("at_most") or limit.get("at_least") for limit in told["limits"]]
    assert bounds == ["60 K", "90 mbar", "333.15 K"]


def test_a_name_that_brings_its_units_late_is_not_read_without_one(page):
    # Hand: 950 degF = 783.15 K = 510 degC; bare it would be 950 K
    page.goto("/cars/new")
    page.fill("input[name=name]", "Whimbrel")
    page.click("text=Add a limit")
    limit = page.locator("#limits .limit").last
    limit.get_by_label("Channel").fill("EGT")
    limit.get_by_label("Value", exact=True).fill("950")
    page.click("text=Save the car")
    expect(page.locator("#car output[role=status]")).to_have_text("Saved as version 1.")
    told = page.request.get(f"/api/cars/{page.url.rsplit('/', 1)[1]}").json()
    assert told["limits"][0]["at_least"] == "950 degF"
    expect(limit.locator("[data-out=value]")).to_have_text("950 °F = 510 °C")


def test_what_cannot_be_is_refused_at_its_field_and_not_sent(page):
    page.goto("/cars/new")
    page.fill("input[name=name]", "Knot")
    page.fill("input[name=mass]", "24")
    page.click("text=Add a limit")
    limit = page.locator("#limits .limit").last
    limit.get_by_label("Channel").fill("coolant_temprature")
    limit.get_by_label("Value", exact=True).fill("220")
    limit.get_by_label("Only while").fill("boost at least 20000")
    expect(page.locator("[data-where='car.mass']")).to_contain_text("◆ 24 lb, which is 10.886 kg, cannot be")
    expect(limit.locator("[data-out=channel]")).to_contain_text("the nearest known is coolant_temperature")
    limit.get_by_label("Channel").fill("coolant_temperature")
    expect(limit.locator("[data-out=when]")).to_contain_text('write its unit, as "20000 psi" or "20000 kPa"')
    before = page.request.get("/api/cars").json()["cars"]
    page.click("text=Save the car")
    expect(page.locator("[role=alert]")).to_contain_text("Weight with driver: 24 lb, which is 10.886 kg, cannot be")
    assert page.locator("input[name=mass]").get_attribute("aria-invalid") == "true"
    assert page.request.get("/api/cars").json()["cars"] == before


def test_slip_and_air_are_told_as_the_strip_prints_them(page, two_runs):
    # Hand: 139.7 mph = 62.451 m/s = 224.83 km/h; 29.86 inHg = 101.12 kPa; 75 degF = 23.889 degC
    page.goto(f"/runs/{two_runs[0]}")
    page.click("text=About this run: slip, air, notes")
    for name, text in {"temperature": "75", "pressure": "29.86", "relative_humidity": "48", "v1320": "139.7"}.items():
        page.fill(f"[data-edit] input[name={name}]", text)
    for where, text in {"air.temperature": "75 °F = 23.889 °C", "air.pressure": "29.86 inHg = 101.12 kPa",
                        "air.relative_humidity": "48 %", "slip.v1320": "139.7 mph = 224.83 km/h"}.items():  # fmt: skip
        expect(page.locator(f"[data-where='{where}']")).to_have_text(text)
    with page.expect_navigation():
        page.click("text=Save and review again")
    told = page.request.get(f"/api/runs/{two_runs[0]}").json()
    assert told["air"] == {"temperature": "75 degF", "pressure": "29.86 inHg", "relative_humidity": "48 %"}
    assert told["slip"] == {"v1320": "139.7 mph"}
    expect(page.locator(".verdict .banner")).to_contain_text("its time at that mark is not given")
    assert page.evaluate("scrollY") == 0  # from the form far below to the answer


def test_a_car_that_cannot_be_used_is_refused_in_words(page):
    page.goto("/cars/new")
    page.fill("input[name=name]", "Lapwing")
    page.fill("input[name=mass]", "heavy")
    page.click("text=Save the car")
    expect(page.locator("[role=alert]")).to_contain_text("Weight with driver: the value must be a number")


def test_a_run_is_deleted_only_when_asked_twice(page, car):
    run_id = upload(page, car, 2, "third")
    page.click("text=Car, export, delete")
    page.click("[data-delete]")
    assert page.request.get(f"/api/runs/{run_id}").ok
    page.click("text=Yes, delete this run")
    page.wait_for_url(re.compile(r"/\?deleted="))
    assert page.request.get(f"/api/runs/{run_id}").status == 404
    page.click("text=Undo")
    page.wait_for_url(re.compile(rf"/runs/{run_id}$"))
    assert page.request.get(f"/api/runs/{run_id}").ok


def test_bench_and_map_are_laid_beside_a_run_and_remembered_for_its_car(page, two_runs):
    page.goto(f"/runs/{two_runs[0]}")
    page.get_by_role("link", name="Bench, turbo map").click()
    for name in ("flow_sheet", "dynamometer", "compressor_map"):
        page.set_input_files(f"input[name={name}]", WEEKEND.parent / "bench" / f"{name}.csv")
    page.get_by_role("button", name="Compare with the run").click()
    expect(page.locator(".bench-answer svg")).to_have_count(2)
    expect(page.locator(".bench-answer")).to_contain_text("Least margins")
    expect(page.get_by_text(re.compile("lines, saved to the car"))).to_have_count(3)  # kept once they are shown
    page.set_viewport_size({"width": 360, "height": 740})
    page.reload()
    expect(page.locator(".bench-answer pre")).to_have_count(3)
    expect(page.get_by_role("region", name="At the ends of the band")).to_contain_text("ft/min")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.evaluate(AXE)
    faults = page.evaluate("rules => axe.run({ runOnly: rules }).then((one) => one.violations)", RULES)
    assert [fault["id"] for fault in faults] == []
    page.fill("input[name=charge_loss]", "70")
    expect(page.locator("[data-where='turbo.charge_loss']")).to_contain_text(
        "is 483 kPa: a loss lies between 0 and 100"
    )
    page.get_by_role("button", name="Compare with the run").click()
    expect(page.locator(".wrong")).to_contain_text("Pressure loss after the compressor")


def test_a_forecast_stands_in_tables_and_pictures_that_a_phone_holds(page, two_runs):
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"/runs/{two_runs[0]}/whatif")
    page.fill("input[name=shift_rpm]", "+150")
    page.fill("input[name=mass]", "-30")
    page.fill("input[name=wind]", "-5")
    page.fill("input[name=search]", "shift-rpm")
    # Hand: 30 lb * 0.45359237 = 13.608 kg; 5 mph * 1.609344 = 8.0467 km/h
    understood = {
        "whatif.mass": "30 lb = 13.608 kg less",
        "air.wind": "\N{MINUS SIGN}5 mph = \N{MINUS SIGN}8.0467 km/h",
        "whatif.shift_rpm": "every gear left 150 rpm later",
    }
    for where, text in understood.items():
        expect(page.locator(f"[data-where='{where}']")).to_have_text(text)
    page.get_by_role("button", name="Forecast").click()
    answer = page.locator(".bench-answer")
    expect(answer.get_by_role("region", name="Changed, less as it ran")).to_contain_text("1,320 ft s")
    expect(answer.get_by_role("img", name="shift out of gear 2")).to_be_visible()
    expect(answer.get_by_role("region", name="What 1 % more torque would gain")).to_contain_text("±")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    page.evaluate(AXE)
    faults = page.evaluate("rules => axe.run({ runOnly: rules }).then((one) => one.violations)", RULES)
    assert [fault["id"] for fault in faults] == []


def test_the_printed_run_is_one_sheet(page, two_runs, tmp_path):
    page.goto(f"/runs/{two_runs[0]}")
    sheet = page.pdf(path=tmp_path / "run.pdf", prefer_css_page_size=True, print_background=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 1


def test_the_printed_sheet_of_an_event_is_no_wider_than_its_paper(page, two_runs):
    # Hand: A4 less margins of 9 mm is 192 mm, 726 pixels at 96 to the inch
    page.set_viewport_size({"width": 726, "height": 1000})
    page.goto("/events/Trial")
    expect(page.locator("[data-columns]")).to_be_visible()
    page.evaluate("addEventListener('beforeprint', () => { document.body.dataset.printed = 'yes'; })")
    page.pdf(prefer_css_page_size=True)
    expect(page.locator("body[data-printed]")).to_have_count(1)  # a print says so before it is laid out
    expect(page.locator(".season-part")).to_have_count(0)
    titles = page.locator("table.season thead th").all_inner_texts()
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(page.locator("table.season")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") <= 726
    widths = page.locator(".season-part").evaluate_all("all => all.map((one) => one.scrollWidth)")
    assert len(widths) > 1 and max(widths) <= 726
    assert set(page.locator(".season-part thead th").all_inner_texts()) == set(titles)


def test_a_car_changed_in_another_window_is_not_written_over_unseen(page, car):
    before = page.request.get(f"/api/cars/{car}").json()
    page.goto(f"/cars/{car}")
    newer = page.request.put(f"/api/cars/{car}", data={**before, "mass": "1001 kg"}).json()
    page.fill("input[name=final_drive]", "4.11")
    page.click("text=Save")
    expect(page.locator("#car .wrong, .wrong").first).to_contain_text(f"as version {newer['version']} of")
    assert page.request.get(f"/api/cars/{car}").json()["version"] == newer["version"]
    page.click("text=Save")
    expect(page.locator("#car output[role=status]").first).to_contain_text(f"Saved as version {newer['version'] + 1}")
    page.request.put(f"/api/cars/{car}", data=before)


def test_runs_ticked_on_a_sheet_are_put_right_at_once_and_put_back(page, two_runs):
    def events() -> list[str]:
        return [page.request.get(f"/api/runs/{run}").json()["event"] for run in two_runs]

    page.set_viewport_size(PHONE)
    page.goto("/events/Trial")
    for run in two_runs:
        page.check(f"input[name=run][value='{run}']")
    page.click("text=Put right")
    page.fill("#right input[name=event]", "Test day")
    page.click("text=Put 2 runs right")
    expect(page.locator("[data-said]")).to_have_text("2 of 2 put right.")
    assert events() == ["Test day"] * 2
    page.get_by_role("button", name="Undo event Test day").click()
    expect(page.locator("[data-said]")).to_have_text("2 of 2 put back.")
    assert events() == ["Trial"] * 2
