"""Logs of several runs dropped at once, followed, cancelled, kept while the service is away.

Evidence: end to end, on the demo's own logs, through the real service.
"""

from __future__ import annotations

import re
import threading

from playwright.sync_api import expect

import passband.service.reviewing.review_files
from tests.service.answers.test_answering import log_with_doubt


def test_a_heap_of_files_is_sorted_into_runs_and_reviewed_after_a_nod(page, told_car, logs_of):
    # Planted: names without meaning, the order shuffled, one file that is no log
    heap = [logs_of(1)[1], logs_of(0)[0], logs_of(1)[0], logs_of(0)[1]]
    files = [
        {"name": f"{at}.csv.gz", "mimeType": "text/csv", "buffer": path.read_bytes()} for at, path in enumerate(heap)
    ]
    page.goto("/")
    page.set_input_files(
        "input[type=file]", [*files, {"name": "photo.csv", "mimeType": "text/csv", "buffer": b"\x89PNG"}]
    )
    runs = page.locator(".heap > ol > li:not(.gone)")
    expect(runs).to_have_count(2)
    expect(runs.nth(0)).to_contain_text("its clock fits that of 1.csv.gz")
    expect(page.locator(".heap .gone")).to_contain_text("photo.csv is left out: ")
    page.get_by_label("Round of run 1").fill("Q1")
    page.fill("#upload input[name=event]", "Heap")
    expect(page.locator("#upload input[name=label]")).to_be_hidden()
    page.click("text=Review the 2 runs")
    expect(page.locator("#upload .reply a")).to_have_count(3)
    expect(page.locator("#upload .reply a").last).to_have_attribute("href", "/events/Heap")
    kept = page.request.get("/api/runs?event=Heap").json()["runs"]
    assert sorted((run["round"], len(run["log_names"])) for run in kept) == [("", 2), ("Q1", 2)]


def test_the_day_and_time_stand_in_the_form_as_the_log_tells_them(page, told_car, logs_of):
    # Planted: the name of the file tells; a tap costs it only where a person knows better.
    ecu = {"name": "2026-05-03_1610.csv.gz", "mimeType": "text/csv", "buffer": logs_of(5)[0].read_bytes()}
    page.goto("/")
    page.set_input_files("input[type=file]", [ecu])
    expect(page.get_by_label("Day of the run")).to_have_value("2026-05-03")
    expect(page.get_by_label("Time of day")).to_have_value("16:10")
    page.set_input_files("input[type=file]", [])
    expect(page.get_by_label("Day of the run")).to_have_value("")
    page.set_input_files("input[type=file]", [ecu])
    expect(page.get_by_label("Time of day")).to_have_value("16:10")
    page.get_by_label("Time of day").fill("17:20")
    page.click("text=Review it")
    page.wait_for_url("**/runs/*")
    expect(page.locator(".who")).to_contain_text("2026-05-03 17:20")
    page.locator("#edit > summary").click()
    page.get_by_label("Day of the run").fill("2026-05-02")
    page.click("text=Save and review again")
    expect(page.locator(".who")).to_contain_text("2026-05-02 17:20")


def test_who_has_no_car_yet_describes_it_for_the_run_that_is_there(page, logs_of):
    page.goto("/")
    page.set_input_files("input[type=file]", logs_of(3)[:1])
    page.locator("#upload select[name=car]").select_option("")
    page.click("text=Review it")
    page.wait_for_url("**/runs/*")
    run = page.url
    page.get_by_role("link", name="Describe it").first.click()
    page.get_by_label("Name", exact=True).fill("Plover")
    page.fill("#q-car-mass", "3080 lb")
    page.click("text=Save the car")
    page.wait_for_url(run)
    expect(page.locator(".who")).to_contain_text("Plover")
    expect(page.locator(".banner", has_text="No car:")).to_have_count(0)


def test_a_file_is_put_into_another_run_by_hand(page, logs_of):
    page.goto("/")
    page.set_input_files("input[type=file]", [*logs_of(2), *logs_of(3)])
    runs = page.locator(".heap > ol > li")
    expect(runs).to_have_count(2)
    page.get_by_label(re.compile(r"Run that .*_dash\.csv\.gz is of")).first.select_option("a run of its own")
    expect(runs).to_have_count(3)
    expect(page.locator("#upload button[type=submit]")).to_have_text("Review the 3 runs")


def test_stages_are_shown_and_a_cancelled_upload_leaves_nothing(page, told_car, logs_of, monkeypatch):
    # The review is held at its second stage until it was cancelled
    reached, let_go = threading.Event(), threading.Event()
    whole = passband.service.reviewing.review_files.review_files

    def held(task, progress):
        tell = progress.tell

        def waits(key, what=""):
            tell(key, what)
            if key == "clocks":
                reached.set()
                let_go.wait(60)

        progress.tell = waits
        return whole(task, progress)

    monkeypatch.setattr(passband.service.reviewing.review_files, "review_files", held)
    page.goto("/")
    before = page.request.get("/api/runs").json()["runs"]
    page.set_input_files("input[type=file]", logs_of(4))
    page.click("text=Review it")
    expect(page.locator(".progress output")).to_have_text("Matching the logs' clocks")
    assert 50 < page.locator("progress").evaluate("bar => bar.value") < 70
    page.click("text=Cancel")
    expect(page.locator("#upload .reply")).to_contain_text("Nothing of it was kept.")
    page.wait_for_timeout(300)  # the service notices that the line is closed
    let_go.set()
    page.wait_for_timeout(1500)
    assert reached.is_set()
    assert page.request.get("/api/runs").json()["runs"] == before


def test_an_upload_broken_off_by_a_reload_is_sent_again(page, told_car, logs_of, monkeypatch):
    # The first review is held until the page was loaded again
    reached, let_go = threading.Event(), threading.Event()
    whole = passband.service.reviewing.review_files.review_files

    def held(task, progress):
        if not reached.is_set():
            reached.set()
            let_go.wait(60)
        return whole(task, progress)

    monkeypatch.setattr(passband.service.reviewing.review_files, "review_files", held)
    page.goto("/")
    page.set_input_files("input[type=file]", logs_of(6))
    page.fill("#upload input[name=label]", "reloaded")
    page.click("text=Review it")
    expect(page.locator(".progress")).to_be_visible()
    assert reached.wait(60)
    page.reload()
    page.wait_for_timeout(300)
    let_go.set()
    expect(page.locator("#upload .reply")).to_contain_text("reloaded")
    expect(page.locator(".waiting")).to_be_hidden()
    assert [one["label"] for one in page.request.get("/api/runs").json()["runs"]].count("reloaded") == 1


def test_logs_are_kept_while_the_service_is_away_and_sent_when_it_is_back(page, service, told_car, logs_of):
    page.goto("/")
    page.set_input_files("input[type=file]", logs_of(5))
    page.fill("#upload input[name=label]", "kept")
    page.wait_for_timeout(1500)
    service.stop()
    page.click("text=Review it")
    expect(page.locator(".waiting li")).to_contain_text("kept: ")
    service.start()
    page.reload()  # kept in the browser, not on the page
    expect(page.locator("#upload .reply")).to_contain_text("Reviewed: kept")
    expect(page.locator(".waiting")).to_be_hidden()
    kept = page.request.get("/api/runs").json()["runs"][0]
    assert (kept["label"], len(kept["log_names"])) == ("kept", 2)


def test_a_log_read_with_doubt_asks_its_question_before_the_review_is_shown(page, told_car):
    # Planted: a column that its name does not tell
    page.goto("/")
    page.set_input_files("input[type=file]", {"name": "a.csv", "mimeType": "text/csv", "buffer": log_with_doubt()})
    page.click("text=Review it")
    expect(page.locator("#upload .reply, article")).to_contain_text("In doubt")
    expect(page.locator("#upload .reply a").last).to_have_attribute("href", re.compile(r"/runs/\w+#asked"))


def test_the_list_gone_back_to_holds_the_run_just_uploaded(page, told_car, logs_of):
    page.goto("/")
    page.set_input_files("input[type=file]", logs_of(4))
    page.select_option("#upload select[name=car]", told_car)
    page.fill("#upload input[name=label]", "gone back to")
    page.click("text=Review it")
    page.wait_for_url(re.compile("/runs/"))
    page.go_back()
    expect(page.locator(".stub-who").filter(has_text="gone back to")).to_have_count(1)


def test_a_run_without_distance_is_drawn_along_its_elapsed_time(page):
    # Planted: engine speed alone, no car: nothing shows how far it went
    rpm = [*[2000] * 100, *range(3000, 7000, 20), *range(5000, 7000, 10), *range(5500, 7000, 5), *[1500] * 100]
    rows = [f"{at / 50:.2f},{one},{95 if 2000 < one else 5}" for at, one in enumerate(rpm)]
    log = "\n".join(["Time [s],Engine speed [rpm],Throttle [%]", *rows]).encode()
    page.goto("/")
    page.set_input_files("input[type=file]", {"name": "alone.csv", "mimeType": "text/csv", "buffer": log})
    page.select_option("#upload select[name=car]", "")
    page.click("text=Review it")
    page.wait_for_url(re.compile("/runs/"))
    expect(page.locator(".traces .reply")).to_have_text("")
    expect(page.locator(".chart canvas")).to_have_count(1)
    expect(page.locator("[data-along]")).to_have_value("time")
    expect(page.locator("[data-along] option[value=feet]")).to_be_disabled()
    expect(page.locator(".readout tbody td").first).to_have_text(re.compile(r"\d,\d{3}"))


def test_another_devices_log_is_added_to_a_run_that_is_here(page, told_car, logs_of):
    ecu, dash = logs_of(2)
    page.goto("/")
    page.set_input_files("#upload input[type=file]", ecu)
    page.select_option("#upload select[name=car]", told_car)
    page.fill("#upload input[name=label]", "late dash")
    page.click("text=Review it")
    page.wait_for_url(re.compile("/runs/"))
    alone = page.url
    page.click("text=How the logs were read")
    page.set_input_files("[data-add-log] input", dash)
    page.wait_for_url(lambda url: "/runs/" in url and url != alone)
    run = page.request.get(page.url.replace("/runs/", "/api/runs/")).json()
    assert (run["label"], run["log_names"]) == ("late dash", [ecu.name, dash.name])
    assert page.request.get(alone.replace("/runs/", "/api/runs/")).status == 404
    expect(page.locator(".verdict")).not_to_contain_text("Here twice")
