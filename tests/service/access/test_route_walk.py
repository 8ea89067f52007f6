"""Every route of the OpenAPI and every page, asked by another team, a reader, an ended session and nobody."""

from __future__ import annotations

from collections import defaultdict

import orjson
import pytest

from tests.service.access.conftest import BROWSER, House

PAGES = (
    "/", "/cars", "/cars/new", "/cars/{car_id}", "/cars/{car_id}/foretold", "/runs/{run_id}", "/runs/{run_id}/whatif",
    "/runs/{run_id}/bench", "/runs/{run_id}/lines?axis=distance", "/events/{name}", "/overlay?runs={run_id}",
    "/costs?runs={run_id},{run_id}", "/change?before={run_id}&after={run_id}", "/trash", "/team",
    "/carried?event={name}", "/put-right?runs={run_id}",
)  # fmt: skip
OPEN = ("/health", "/ready", "/metrics")
"""Asked without a name; what they say is held in `test_watching.py`."""
READERS_MAY_POST = ("/whatif", "/bench", "/understand", "/sort")


def planted(house: House) -> dict[str, str]:
    """A car and a run of the red team."""
    crew = house.cookie("red crew")
    car = house.client.post("/api/cars", json={"name": "Red car"}, headers=crew).json()["id"]
    sent = house.client.post(
        "/api/runs", files=[("log", ("a.csv", b"runs=1\n1", "text/csv"))], headers=crew,
        data={"car": car, "details": orjson.dumps({"event": "Home", "label": "Red one"}).decode()},
    )  # fmt: skip
    assert sent.status_code == 201, sent.text
    job = house.client.post("/api/review-again", json={}, headers=crew).json()["id"]
    return {
        "job_id": job,
        "run_id": sent.json()["runs"][0]["id"],
        "car_id": car,
        "name": "Home",
        "n": "0",
        "entry_id": "0" * 32,
    }


def routes(house: House) -> list[tuple[str, str]]:
    described = house.client.get("/openapi.json", headers=house.cookie("red reader")).json()["paths"]
    return [(method, path) for path, methods in described.items() for method in methods if path not in OPEN]


def ask(house: House, method: str, path: str, place: dict[str, str], headers: dict[str, str]):
    queries = {"/api/compare": "?runs={run_id},{run_id}", "/api/overlay": "?runs={run_id}"}
    queries["/api/change"] = "?before={run_id}&after={run_id}"
    headers = {"X-Request-Id": "the-same", **headers}  # else answers differ by the ids that they are given
    address = (path + queries.get(path, "")).format_map(defaultdict(lambda: "0" * 32, place))
    body = {} if method in ("get", "delete") else {"json": {"name": "x"}}
    return house.client.request(method, address, headers=headers, follow_redirects=False, **body)


def test_nobody_and_ended_sessions_are_turned_away_everywhere(house):
    place = planted(house)
    ended = house.cookie("red owner")
    assert house.client.post("/sign-out", headers={**ended, **BROWSER}, follow_redirects=False).status_code == 303
    for headers in ({}, ended, {"Authorization": "Bearer made-up"}):
        answers = [ask(house, method, path, place, headers) for method, path in routes(house)]
        assert {one.status_code for one in answers} == {401}
        assert len({one.json()["detail"] for one in answers}) == 1
        pages = [house.client.get(path.format(**place), headers=headers, follow_redirects=False) for path in PAGES]
        assert {one.status_code for one in pages} == {401}
    page = house.client.get("/runs/" + place["run_id"], headers=BROWSER, follow_redirects=False)
    assert page.status_code == 303 and page.headers["location"].startswith("/sign-in?next=%2Fruns%2F")


def test_another_team_finds_nothing_as_if_it_never_was(house):
    place, blue = planted(house), house.cookie("blue owner")
    never = {**place, "job_id": "d" * 32, "run_id": "f" * 32, "car_id": "e" * 32, "name": "Nowhere"}
    for method, path in routes(house):
        theirs, nothing = (ask(house, method, path, where, blue) for where in (place, never))
        assert theirs.status_code == nothing.status_code, (method, path)
        if "{" in path or path in ("/api/compare", "/api/overlay", "/api/change"):
            assert theirs.status_code in (404, 422) or path.endswith("/sheet"), (method, path)
            assert "Red" not in theirs.text
        for key in ("run_id", "car_id", "name"):
            hidden = [one.text.replace(where[key], "").replace(where["job_id"], "")
                      for one, where in ((theirs, place), (nothing, never))]  # fmt: skip
        assert path.startswith("/api/cars") or hidden[0].replace(place["run_id"], "") == hidden[1].replace("f" * 32, "")
    for path in PAGES:
        assert "Red" not in house.client.get(path.format(**place), headers=blue).text
    assert house.client.get("/api/runs", headers=blue).json()["runs"] == []
    for mine in ("/api/runs/" + place["run_id"], "/api/jobs/" + place["job_id"]):
        assert house.client.get(mine, headers=house.cookie("red reader")).status_code == 200


def test_a_reader_changes_nothing(house):
    place, reader = planted(house), house.cookie("red reader")
    for method, path in routes(house):
        answer = ask(house, method, path, place, reader)
        if method == "get" or path.endswith(READERS_MAY_POST):
            assert answer.status_code not in (401, 403), (method, path)
        else:
            assert answer.status_code == 403, (method, path)
            assert "Ask an owner" in answer.json()["detail"]
    assert house.client.get("/api/runs/" + place["run_id"], headers=reader).json()["label"] == "Red one"


def test_crew_delete_into_the_trash_and_owners_let_go(house):
    place, crew = planted(house), house.cookie("red crew")
    assert house.client.delete("/api/runs/" + place["run_id"], headers=crew).status_code == 204
    assert house.client.delete("/api/trash", headers=crew).status_code == 403
    assert house.client.delete("/api/trash", headers=house.cookie("red owner")).status_code == 204


def test_a_role_taken_away_holds_from_the_next_question_on(house):
    reader = house.cookie("blue reader")
    assert house.client.get("/api/runs", headers=reader).status_code == 200
    records = house.access.records
    person = records.person_named("blue reader")
    records.set_role(house.teams["blue"].id, person.id, None)
    assert house.client.get("/api/runs", headers=reader).status_code == 401


def test_a_foreign_page_changes_nothing_whatever_its_cookie(house):
    owner = house.cookie("red owner")
    place = planted(house)
    forms = ("/sign-in", "/sign-out", "/join/x", "/team", "/team/invitations", "/team/invitations/x/end",
             "/team/members/x", "/team/tokens", "/team/tokens/x/revoke", "/runs/{run_id}/tried")  # fmt: skip
    asked = [*(("post", form) for form in forms), *(one for one in routes(house) if one[0] != "get")]
    for headers in ({"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "same-site"}):
        for method, path in asked:
            got = ask(house, method, path, place, {**owner, **headers})
            assert (got.status_code, got.json()["title"]) == (403, "Foreign page"), (method, path)
    assert house.client.get("/api/runs/" + place["run_id"], headers=owner).status_code == 200


def test_nothing_of_a_team_is_kept_by_a_browser_or_on_the_way(house):
    # A shared telephone's back button, a proxy: what needs a name may not be kept without being asked for anew
    place, owner = planted(house), house.cookie("red owner")
    pages = [page.format(**place) for page in PAGES]
    asked = [(path + ("?runs={run_id},{run_id}" if path == "/api/compare" else "")) for method, path in routes(house)
             if method == "get"]  # fmt: skip
    for path in [*pages, *(one.format_map(defaultdict(lambda: "0" * 32, place)) for one in asked)]:
        got = house.client.get(path, headers=owner)
        kept = got.headers.get("cache-control", "")
        assert "no-store" in kept, (path, kept)
        assert got.headers["referrer-policy"] == "same-origin" and got.headers["x-frame-options"] == "DENY"


def test_an_entry_of_the_trash_is_let_go_by_owners_alone(house):
    # By its own name, which is no row of hexadecimal digits
    place, crew = planted(house), house.cookie("red crew")
    gone = house.client.delete("/api/runs/" + place["run_id"], headers=crew).headers["location"]
    assert house.client.delete(gone, headers=crew).status_code == 403
    assert len(house.client.get("/api/trash", headers=crew).json()["entries"]) == 1
    assert house.client.delete(gone, headers=house.cookie("red owner")).status_code == 204


@pytest.mark.parametrize("behind", ["%0A", "%0D", "%00", "%7F"])
@pytest.mark.parametrize(
    ("method", "path", "form"),
    [("POST", "/team/invitations", {"role": "owner"}), ("POST", "/team/tokens", {"name": "x", "role": "crew"}),
     ("DELETE", "/api/trash", None)],
)  # fmt: skip
def test_a_path_with_a_control_in_it_leads_nowhere(house, method, path, form, behind):
    # A line end behind a path: what matches routes may pass over it, what asks for the role did not
    place, crew = planted(house), house.cookie("red crew")
    house.client.delete("/api/runs/" + place["run_id"], headers=crew)
    for who in (crew, house.cookie("red reader"), house.cookie("red owner")):
        got = house.client.request(method, path + behind, data=form, headers=who)
        assert got.status_code == 404, got.text
    assert len(house.client.get("/api/trash", headers=crew).json()["entries"]) == 1
    team = house.teams["red"].id
    assert not house.access.records.invitations(team, now=0) and not house.access.records.tokens(team)
