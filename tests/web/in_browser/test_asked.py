"""Columns read with doubt: asked on the run page and after an upload, answered with and without script.

Evidence: end to end, on a log whose speed names neither wheel nor unit.
"""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.service.answers.test_answering import log_with_doubt, two_runs
from tests.web.in_browser.axe import AXE, RULES


def a_car(page, name):
    return page.request.post("/api/cars", data={"name": name}).json()["id"]


LONG = "2031-05-04_Kestrel_Qualifying_Round_3_left_lane_new_tune_after_rain_export_from_ECU"


def a_run(page, car, shift):
    parts = {"log": {"name": f"{shift}.csv", "mimeType": "text/csv", "buffer": log_with_doubt(shift=shift)}, "car": car}
    return page.request.post("/api/runs", multipart=parts).json()["runs"][0]["id"]


def assert_fits_and_is_accessible(page, width):
    page.set_viewport_size({"width": width, "height": 900})
    page.wait_for_timeout(400)  # traces are drawn at the new width
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate(AXE)
    faults = page.evaluate("rules => axe.run('.asked', { runOnly: rules }).then((one) => one.violations)", RULES)
    assert [fault["id"] for fault in faults] == []


@pytest.mark.parametrize("width", [360, 1280])
def test_a_question_is_answered_by_keys_another_run_is_offered_and_the_answer_taken_back(page, width):
    car = a_car(page, f"Kestrel {width}")
    other, run = (a_run(page, car, width + n) for n in (1, 2))
    page.goto(f"/runs/{run}")
    page.get_by_role("link", name="in doubt").click()
    assert_fits_and_is_accessible(page, width)
    question = page.get_by_role("group", name="Speed")
    question.get_by_label("It is").focus()
    question.get_by_label("It is").select_option("ground_speed")
    question.locator("select[name=unit]").select_option("mph")
    page.get_by_role("button", name="Save the answers and review again").press("Enter")
    expect(page.locator(".asked")).to_contain_text("The answers are saved to the car")
    expect(page.locator(".asked")).to_contain_text("Speed is Ground speed in mph")
    assert_fits_and_is_accessible(page, width)
    page.get_by_role("button", name=f"Review {width + 1}.csv again").click()
    expect(page.locator(".asked .others").first).not_to_contain_text("Review it again")
    assert "Speed" not in [
        one["column"] for one in page.request.get(f"/api/runs/{other}/review").json().get("doubts", [])
    ]
    page.get_by_role("button", name="Undo the answer about Speed").click()
    expect(page.get_by_role("group", name="Speed")).to_be_visible()


def test_a_long_file_name_as_a_title_has_the_width_of_a_phone_and_breaks_behind_low_lines(page):
    parts = {"log": {"name": f"{LONG}.csv", "mimeType": "text/csv", "buffer": log_with_doubt(shift=91)}}
    run = page.request.post("/api/runs", multipart=parts).json()["runs"][0]["id"]
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"/runs/{run}")
    title = page.locator("h1")
    expect(title).to_have_text(f"{LONG}.csv")
    assert title.bounding_box()["width"] > 250 and title.bounding_box()["height"] < 160  # six lines at most
    ends = title.evaluate(
        """title => {
          const at = (node) => { const range = document.createRange(); range.selectNodeContents(node); return range; };
          const texts = [...title.childNodes].filter((node) => node.nodeType === 3);
          return texts.every((node) => at(node).getClientRects().length === 1);
        }"""
    )
    assert ends  # no word between two low lines goes over a line's end; the first holds a date, whose hyphens may
    assert_fits_and_is_accessible(page, 390)


def test_a_column_said_anew_in_the_table_lets_go_of_its_answer(page):
    car = a_car(page, "Merlin")
    run = a_run(page, car, 31)
    layout = page.request.get(f"/api/runs/{run}/review").json()["doubts"][0]["layout"]
    kept = {
        "name": "Merlin",
        "layouts": {layout: {"Speed": "gps_speed [mph]", "TPS": "throttle"}, "f" * 16: {"Speed": "ignore"}},
    }
    page.request.put(f"/api/cars/{car}", data=kept)
    page.goto(f"/runs/{run}")
    page.click("#channels summary")
    page.get_by_label("Channel for Speed").fill("wheel_speed_driven")
    with page.expect_navigation():
        page.get_by_role("button", name="Save to the car and review again").click()
    now = page.request.get(f"/api/cars/{car}").json()
    assert now["layouts"] == {layout: {"TPS": "throttle"}, "f" * 16: {"Speed": "ignore"}}
    assert now["channels"] == {"Speed": "wheel_speed_driven"}


def test_an_upload_asks_its_questions_where_it_was_sent(page):
    car = a_car(page, "Hobby")
    page.goto("/")
    page.set_input_files(
        "input[type=file]", {"name": "u.csv", "mimeType": "text/csv", "buffer": log_with_doubt(shift=41)}
    )
    page.select_option("#upload select[name=car]", car)
    page.click("#upload button[type=submit]")
    question = page.get_by_role("group", name="Speed")
    question.get_by_label("It is").select_option("ignore")
    assert_fits_and_is_accessible(page, 360)
    page.get_by_role("button", name="Save the answers and review again").click()
    expect(page.locator(".asked")).to_contain_text("Speed is left out")
    assert "Speed" in str(page.request.get(f"/api/cars/{car}").json()["layouts"])


def test_an_upload_of_two_runs_without_a_car_asks_once_and_makes_the_car(page):
    page.goto("/")
    page.set_input_files("input[type=file]", {"name": "two.csv", "mimeType": "text/csv", "buffer": two_runs()})
    page.select_option("#upload select[name=car]", "")
    page.click("#upload button[type=submit]")
    page.get_by_label("A new car is named").or_(page.get_by_label("The car is named")).fill("Heron")
    expect(page.get_by_text("The same is asked of")).to_contain_text("run 2")
    assert_fits_and_is_accessible(page, 390)
    page.get_by_role("group", name="Speed").get_by_label("It is").select_option("ignore")
    page.get_by_role("button", name="Save the answers and review again").click()
    page.get_by_role("button", name="Review two.csv again").click()
    expect(page.locator(".asked")).not_to_contain_text("Review it again")
    (car,) = [one for one in page.request.get("/api/cars").json()["cars"] if one["name"] == "Heron"]
    assert "Speed" in str(car["layouts"])


def without_engine_speed(*, shift):
    """The same log with a name for engine speed that says nothing."""
    return log_with_doubt(shift=shift).replace(b",RPM,", b",Kvk 7 of the second box,", 1)


@pytest.mark.parametrize("known", [True, False])
def test_a_log_that_names_no_engine_speed_is_refused_with_a_choice_and_read_with_the_answer(page, known):
    car, name = a_car(page, f"Osprey {known}") if known else "", f"Osprey {known}"
    log = {"name": f"{LONG}_{known}.csv", "mimeType": "text/csv", "buffer": without_engine_speed(shift=61 + known)}
    page.goto("/")
    page.set_input_files("input[type=file]", log)
    page.select_option("#upload select[name=car]", car)
    page.click("#upload button[type=submit]")
    expect(page.locator("#upload .wrong")).to_contain_text("No engine speed was found")
    choice = page.get_by_label("Engine speed is")
    assert_fits_and_is_accessible(page, 390)
    choice.select_option(label=choice.locator("option", has_text="Kvk 7").text_content())
    if not known:
        page.get_by_label("car is named").fill(name)
    page.get_by_role("button", name="Save the answer and review again").press("Enter")
    expect(page.get_by_text("Reviewed: ")).to_be_visible()  # its speed is asked about
    (kept,) = [one for one in page.request.get("/api/cars").json()["cars"] if one["name"] == name]
    assert list(kept["layouts"].values()) == [{"Kvk 7 of the second box": "engine_speed"}]
    parts = {"log": {**log, "name": "next.csv", "buffer": without_engine_speed(shift=81 + known)}, "car": kept["id"]}
    assert page.request.post("/api/runs", multipart=parts).status == 201  # nobody is asked twice


def test_an_answer_that_makes_no_run_is_taken_back_and_asked_again(page):
    car = a_car(page, "Petrel")
    page.goto("/")
    page.set_input_files(
        "input[type=file]", {"name": "n.csv", "mimeType": "text/csv", "buffer": without_engine_speed(shift=71)}
    )
    page.select_option("#upload select[name=car]", car)
    page.click("#upload button[type=submit]")
    choice = page.get_by_label("Engine speed is")
    before = page.request.get(f"/api/cars/{car}").json()
    choice.select_option(index=1)
    refusal = {"title": "No run in the log", "detail": "Nothing moves."}
    page.route("**/api/runs", lambda route: route.fulfill(status=422, json=refusal))
    page.get_by_role("button", name="Save the answer and review again").click()
    expect(page.locator("#upload .wrong")).to_contain_text("Nothing moves.")
    expect(choice).to_be_visible()
    now = page.request.get(f"/api/cars/{car}").json()
    assert (now.get("layouts", {}), now["version"]) == (before.get("layouts", {}), before["version"] + 2)


def test_without_script_the_forms_do_the_same(browser, service, page):
    run = a_run(page, a_car(page, "Kite"), 51)
    with browser.new_context(java_script_enabled=False, base_url=service.address) as context:
        plain = context.new_page()
        plain.goto(f"/runs/{run}")
        plain.get_by_role("group", name="Speed").get_by_label("It is").select_option("ignore")
        plain.get_by_role("button", name="Save the answers and review again").click()
        expect(plain.locator(".asked")).to_contain_text("The answers are saved to the car")
