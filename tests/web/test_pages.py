"""The pages as text. Evidence: hand, against the review of conftest; contrast by the published formula."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from passband.analysis.report import TableColumn
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.findings import Finding
from passband.analysis.runs.season_sheet import CarOnSheet, SeasonSheet, SheetColumn
from passband.analysis.runs.summary import LimitCounts
from passband.analysis.runs.weekend import Spread
from passband.web.assets import STAMP, STATIC
from passband.web.drawn.strip import strip_svg, strips_svg
from passband.web.forms.car import STARTING_LIMITS
from passband.web.pages.car import render_car
from passband.web.pages.page import (
    ProblemShown,
    render_cars,
    render_error,
    render_event,
    render_overlay,
    render_trash,
)
from passband.web.pages.run import AroundRun, render_run
from passband.web.pages.start import RunList, render_runs
from passband.web.sheets.season import EngineShown, EventShown
from passband.web.shown.car import CarShown
from passband.web.shown.run import CarOfRun, WholeRun
from passband.web.shown.trash import TrashedRun, TrashShown
from tests.analysis.sparse_review import read

HOSTILE = '<script>alert("x")</script><img src=x onerror=alert(1)>'
VOID = {"meta", "link", "input", "br", "img", "hr", "option"}


class Page(HTMLParser):
    """Elements of a page, and whether each was closed in order."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_startendtag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.found if name == tag]


def sheet_of(run, event):
    """A sheet of one run of which two figures are known."""
    columns = tuple(SheetColumn(name, name in ("label", "notes")) for name in ("label", "elapsed_time_s", "notes"))
    row = {"label": run.label, "elapsed_time_s": 10.148, "to_best_s": 0.0, "notes": run.label, "faults": ""}
    spread = Spread("average_w", 2, 745.7e3, 745.7, 745e3, 746.4e3, None)
    engine = EngineShown(f"{run.label} as before", as_before=False, fault="")
    sheet = SeasonSheet(columns, (row,), run.label, (spread,))
    return EventShown(event, (run,), sheet, (engine,), (run.id,))


def column(name, **more):
    """A column of a log as it was understood."""
    return TableColumn(
        name, name, "Pa", "psi", **{"header": "Aux 3", "unit_written": "kPa", "confidence": 1.0, "log": 0} | more
    )


@pytest.fixture
def pages(review, run, car, table):
    """Every page, as it is after one run."""
    shown = CarShown.of(car, id="kestrel", version=3)
    entry = TrashShown(
        "20260501T101500Z-deleted-0123abcd", "2026-05-01T10:15:00Z", "It was deleted by a person.",
        (TrashedRun("<b>", "Harvest Meet", "Q1"),), ("ecu.csv",),
    )  # fmt: skip
    gone = replace(entry, runs=(), logs=())
    return {
        "runs": render_runs(RunList([run], [shown], events=["Harvest Meet"], next_run="z")),
        "empty": render_runs(RunList([], [])),
        "in doubt": render_runs(RunList([run], [], doubt="Not all is shown.", deleted=entry)),
        "trash": render_trash([entry, gone]),
        "no trash": render_trash([]),
        "run": render_run(
            read(review),
            WholeRun(run),
            strip_svg(read(review), table),
            AroundRun(car=shown, channels=[column("oil_pressure")]),
        ),
        "overlay": render_overlay([run], [run, run], strips_svg=strips_svg([read(review)], [table])),
        "pick": render_overlay([run], []),
        "cars": render_cars([shown]),
        "no cars": render_cars([]),
        "car": render_car(shown),
        "new car": render_car(),
        "event": render_event(sheet_of(run, "Harvest Meet")),
        "error": render_error(ProblemShown("Not a log", "An image.")),
    }


def test_a_cars_form_shows_again_what_was_written(pages):
    # Hand: 1080 is the car's mass in SI, 150 kPa its threshold as written
    fields = {one["name"]: one.get("value") for one in Page(pages["car"]).all("input") if "name" in one}
    assert (fields["name"], fields["mass"], fields["boost_threshold"]) == ("Kestrel", "1080", "150")
    assert fields["gear_ratios"] == "2.55 1.8 1.36 1.08 0.9"


def test_every_page_is_closed_in_order_and_has_one_heading(pages):
    counts = {name: len(Page(text).all("h1")) for name, text in pages.items() if name != "pick"}
    assert set(counts.values()) == {1}


def test_pages_hold_no_style_and_no_script_of_their_own(pages):
    # The service's policy allows only files of ours: anything in the markup would not run
    for name, text in pages.items():
        page = Page(text)
        assert not page.all("style"), name
        assert not [tag for tag, attrs in page.found for key in attrs if key == "style" or key.startswith("on")], name
        inline = [one for one in page.all("script") if "src" not in one and one.get("type") != "application/json"]
        assert not inline, name


def test_pages_ask_only_this_server(pages):
    for text in pages.values():
        links = [attrs.get(key) or "" for _, attrs in Page(text).found for key in ("href", "src")]
        assert not [link for link in links if link.startswith(("http:", "https:", "//"))]


def test_every_file_asked_for_is_there(pages):
    asked = {link for text in pages.values() for link in re.findall(rf'(?:src|href)="/static/{STAMP}/([^"]+)"', text)}
    assert "passband.css" in asked
    assert {name for name in asked if not (STATIC / name).is_file()} == set()


def test_every_field_has_a_label(pages):
    for name, text in pages.items():
        bare = re.sub(r"<label\b.*?</label>", "", text, flags=re.DOTALL)
        fields = [attrs for tag, attrs in Page(bare).found if tag in ("input", "select", "textarea")]
        named = set(re.findall(r'<label for="([^"]+)"', text))
        assert [one for one in fields if not one.get("aria-label") and one.get("id") not in named] == [], name


def test_every_page_carries_the_cautions(pages):
    assert [name for name, text in pages.items() if "Never on a public road." not in text] == []


def test_ids_are_given_once(pages):
    for name, text in pages.items():
        ids = [attrs["id"] for _, attrs in Page(text).found if attrs.get("id")]
        assert len(ids) == len(set(ids)), name


def test_the_run_answers_first_and_goes_on_in_order(pages):
    text = pages["run"]
    titles = ("Launch", "Shifts", "Boost", "Power", "Band 6,400 to 8,600 rpm", "Limits", "Splits", "Findings")
    order = [
        "1 of 4 limits broken. Stop and inspect before another run.",
        '<li data-sign="A">Oil pressure under power 33.5 psi, limit 36.3 psi; outside for 0.18 s, worst in gear 3</li>',
        '<li data-sign="○">2 inside, 1 without data (Head lifting).</li>',
        'class="strip"',
        *(f">{title}</h2>" for title in titles),
        "Never on a public road.",
    ]
    places = [text.index(word) for word in order]
    assert places == sorted(places)


def test_three_lines_answer_first_against_the_best_of_the_weekend(review, run):
    best = {"power": {"average_w": {"value": 300e3, "plus_minus": 3e3}}, "air": review["air"]}
    text = render_run(read(review), WholeRun(run), "", AroundRun(best=read(best)), units="metric")
    assert text.index("Stop and inspect") < text.index('<ol class="lines"')
    lines = re.findall(r"<li>(.*?)</li>", text.split('<ol class="lines"')[1].split("</ol>")[0])
    assert len(lines) == 2
    assert "below" in lines[0]
    assert "11 kW less than the weekend" in lines[1]


def test_the_first_screen_tells_what_happened_before_what_was_not_told_and_leads_to_each(review, run):
    review["findings"] = [
        {"code": "air-temperature-missing", "level": "caution", "text": "No air: 20 degC was taken.", "where": ""},
        {"code": "wind-missing", "level": "note", "text": "No wind.", "where": ""},
        {"code": "slip-not-used", "level": "caution", "text": "No slip.", "where": "slip"},
        {"code": "tire-shake", "level": "caution", "text": "Tire shake: it swings by 99 rpm. No shift.", "where": ""},
        {"code": "clutch-slips", "level": "caution", "text": "The clutch slipped in gear 1; look.", "where": ""},
    ]
    top = render_run(read(review), WholeRun(run), "").partition('class="lane"')[0]
    told = re.findall(r'<li(?: class="mark is-caution")?><a href="#(findings[-0-9]*)">(.*?)</a>', top)
    assert told[-3:] == [
        ("findings-4", "Tire shake: it swings by 99 rpm"), ("findings-5", "The clutch slipped in gear 1"),
        ("findings", "and 1 more"),
    ]  # fmt: skip


def test_a_list_names_event_and_car_once_over_the_runs_that_share_them(run):
    others = [replace(run, id="b", title="Q1"), replace(run, id="c", title="first", event="Frost Meet")]
    page = render_runs(RunList([run, *others], []))
    for event in ("Harvest Meet", "Frost Meet"):
        assert page.count(f'">{event}</a> <span class="say">Kestrel</span>') == 1


@pytest.mark.parametrize(
    ("units", "expected"), [("us", ("388", "hp", "139.70", "mph")), ("metric", ("289", "kW", "224.82", "km/h"))]
)
def test_the_run_speaks_the_readers_units(review, run, units, expected):
    text = render_run(read(review), WholeRun(run), "", units=units)
    assert [word for word in expected if word not in text] == []


def test_names_of_users_are_escaped(review, run, car, table):
    review["run"] |= {"label": HOSTILE, "event": HOSTILE, "round": HOSTILE, "log_names": [HOSTILE]}
    review["limits"][1]["name"] = review["findings"][0]["text"] = review["car"]["name"] = HOSTILE
    named = CarOfRun(HOSTILE, 1, HOSTILE)
    run = replace(run, label=HOSTILE, event=HOSTILE, round=HOSTILE, title=HOSTILE, car=named)
    whole = WholeRun(run, notes=HOSTILE, slip={"v660": HOSTILE})
    shown = CarShown.of({**car, "name": HOSTILE, "channels": {HOSTILE: HOSTILE}}, id=HOSTILE, version=1)
    around = AroundRun(car=shown, channels=[column(HOSTILE, header=HOSTILE)])
    pages = [
        render_run(read(review), whole, strip_svg(read(review), table), around),
        render_runs(RunList([run], [shown], events=[HOSTILE], event=HOSTILE, car=HOSTILE, next_run=HOSTILE)),
        render_overlay([run], [run], strips_svg=strips_svg([read(review), read(review)], [table, table])),
        render_car(shown),
        render_cars([shown]),
        render_event(sheet_of(run, HOSTILE)),
        render_error(ProblemShown(HOSTILE, HOSTILE, (Finding("x", "stop", HOSTILE, HOSTILE),))),
    ]
    for text in pages:
        assert "<script>alert" not in text
        assert "<img" not in text
        Page(text)


def test_a_run_of_which_nothing_is_known_still_has_its_page(review, run):
    for part in ("distance", "gears", "launch", "boost", "power", "band", "air"):
        review[part] = None
    review |= {"shifts": [], "limits": [], "clocks": [], "findings": []}
    review["window"] |= {"distance_m": None, "log_finish_s": None, "outcome": "aborted"}
    text = render_run(read(review), WholeRun(run), strip_svg(read(review), None))
    assert text.count("Not known:") == 7
    assert "NO LIMITS SET" in text


@pytest.mark.parametrize(("units", "worst", "bound"), [("us", "166 °F", "144 °F"), ("metric", "92 K", "80 K")])
def test_a_spread_of_temperatures_is_a_difference_on_the_page_and_its_margin_is_drawn(
    spread_review, run, table, units, worst, bound
):
    # Hand: 92.4 K and 80 K of difference
    strip = strip_svg(read(spread_review), table, units=units)
    text = render_run(read(spread_review), WholeRun(run), strip, units=units)
    assert worst in text and f"max {bound}" in text and "−181" not in text
    assert "hottest exhaust temperature 3, coldest exhaust temperature 1" in text
    assert "A margin to EGT spread" in strip and 's-beyond"' in strip


def test_the_usual_limits_come_without_any_value():
    assert "exhaust_temperature_spread" in {limit.channel for limit in STARTING_LIMITS}
    for limit in (one.filled() for one in STARTING_LIMITS):
        assert not {"at_least", "at_most", "value", "points", "curve"} & set(limit)
        rules = {key: value for key, value in limit.items() if key not in ("name", "longer_than")}
        assert not re.search(r"\d", str(rules))


def _palettes() -> list[dict[str, str]]:
    css = (STATIC / "passband.css").read_text(encoding="utf-8")
    light, dark = {}, {}
    for block, palette in zip(re.findall(r":root \{(.*?)\}", css, re.DOTALL), (light, dark, light, dark), strict=False):
        palette |= dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))
    return [light, dark]


def _luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    high, low = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("palette", _palettes(), ids=["light", "dark"])
def test_the_palette_can_be_read_in_the_sun(palette):
    # Published: relative luminance and the strictest ratio for text, 7, of the web content accessibility guidelines
    for name in ("ink", "soft", "in", "under", "over"):
        assert contrast(palette[name], palette["paper"]) >= 7, name
    assert contrast(palette["soft"], palette["ground"]) >= 4.5
    assert contrast(palette["on-mark"], palette["over"]) >= 7
    for number in range(6):
        assert contrast(palette[f"run-{number}"], palette["paper"]) >= 4.5, number


def test_files_are_small_enough_for_a_phone_at_the_strip():
    every = [path for path in Path(STATIC).iterdir() if path.suffix in (".css", ".js", ".svg")]
    own = [path for path in every if not path.name.startswith("uplot-")]
    assert sum(path.stat().st_size for path in own) < 170_000  # of all pages together; each loads its own alone
    assert sum(path.stat().st_size for path in every) < 222_000  # with the library that draws traces


def test_what_was_given_and_not_used_stands_at_the_top_of_the_page(review, run, table):
    review["findings"].append({"code": "slip-not-used", "level": "caution", "text": "No slip.", "where": "slip"})
    page = render_run(read(review), WholeRun(run), strip_svg(read(review), table))
    assert page.index('<p class="banner is-caution"') < page.index('class="strip"')


def test_two_cars_of_one_name_are_told_apart_by_when_they_were_described(run):
    first, second, other = (
        CarShown.of({"name": name}, id=id, made_at=f"2031-05-04T10:0{id}:00.000Z")
        for name, id in (("Heron", "1"), ("Heron", "2"), ("Otter", "3"))
    )
    page = render_runs(RunList([run], [first, second, other]))
    assert ">Heron (2031-05-04 10:01 UTC)</option>" in page and ">Heron (2031-05-04 10:02 UTC)</option>" in page
    assert ">Otter</option>" in page


@pytest.mark.parametrize(("level", "asked"), [("caution", True), ("note", False)])
def test_logs_that_do_not_fit_the_cars_gearing_ask_at_the_top_whether_it_is_the_car(review, run, level, asked):
    text = "In every gear the engine turns 26.9 % more for the ground covered than told, beyond the usual: all else."
    review["findings"].append({"code": "ratios-disagree-with-speed", "level": level, "text": text, "where": "car"})
    around = AroundRun(car=CarShown.of({"name": "Heron"}, id="c1"))
    top, nameless = (
        render_run(read(review), WholeRun(run), "", here).partition('class="lane"')[0] for here in (around, AroundRun())
    )
    assert ("26.9 % more for the ground covered than told. If another car made this run" in top) is asked
    assert "In every gear" not in top.partition('class="doubted"')[2]  # told once, where it is asked
    assert ("In every gear" in nameless) is asked
    assert "If another car" not in nameless


def test_lists_say_how_many_limits_had_no_data(run):
    # Hand: the run's summary holds its counts
    run = replace(run, summary=replace(run.summary, limits=LimitCounts(inside=11, outside=1, no_data=2)))
    for page in (render_runs(RunList([run], [])), render_overlay([run], [run]), render_event(sheet_of(run, "Meet"))):
        assert "11 inside, 1 broken, 2 without data" in page


def test_an_event_shows_the_best_fair_run_and_what_each_column_sorts_by(run):
    page = render_event(sheet_of(run, "Meet"))
    assert "Best clean run" in page and 'data-value="10.148"' in page
    row = page[page.index("average power, hp") :].split("</tr>")[0]
    assert "<td>2</td><td>1,000.0</td><td>1.0</td><td>–</td>" in row


def test_an_event_of_several_cars_says_which_held_its_band_longest(run):
    # Planted: 61 and 84 % of their best runs
    shares = {"a": 0.61, "b": 0.84}
    runs = [replace(run, id=id, summary=replace(run.summary, share_in_band=part)) for id, part in shares.items()]
    one = sheet_of(run, "Meet")
    rows = tuple({**one.sheet.runs[0], "car": name} for name in ("Heron", "Otter"))
    cars = tuple(CarOnSheet(name, None, ()) for name in ("Heron", "Otter"))
    sheet = replace(one.sheet, runs=rows, cars=cars)
    page = render_event(replace(one, runs=tuple(runs), sheet=sheet, same_engine=(None, None), best=("a", "b")))
    told = re.sub(r"<[^>]+>", "", page[page.index("Longest in its band") :].partition("</p>")[0])
    assert told.startswith("Longest in its band: Otter 84\u00a0%, Heron 61\u00a0%")
    assert "Longest in its band" not in render_event(one)


def test_what_cannot_be_told_of_a_best_is_said(run):
    page = render_event(replace(sheet_of(run, "Meet"), best=()))
    assert "none is called best" in page


def test_a_list_says_power_at_the_wheels_where_that_alone_is_known(run):
    # Hand: 250 kW is 335 hp.
    bare = replace(run.summary, average_w=None, average_wheel_w=Estimate(250e3, 4e3))
    text = render_runs(RunList([replace(run, summary=bare)], []))
    assert "335" in text and "at the wheels" in text and "power not known" not in text
    assert "power not known" in render_runs(RunList([replace(run, summary=replace(bare, average_wheel_w=None))], []))


def test_runs_called_by_their_file_alone_are_told_apart_by_when_they_were_made_or_came_in(run):
    # Hand: the run of conftest came in on 2024-05-01 at 10:11.
    bare = replace(run, label="", event="", round="", title="ecu.csv")
    pages = [render_runs(RunList([one], [])) for one in (bare, replace(bare, at="2024-04-30T15:00:00"), run)]
    assert ["2024-05-01 10:11 UTC" in page for page in pages] == [True, False, False]
    assert "2024-04-30 15:00" in pages[1]
