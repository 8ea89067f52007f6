"""Passwords, sessions, tokens, invitations, the journal, and where the service starts."""

from __future__ import annotations

import re
import sqlite3
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing

import pytest

from passband.service.access.identity import (
    Access,
    Refused,
    access_file,
    hashed,
    needed_role,
)
from passband.service.access.passwords import Passwords
from passband.service.access.records import AccessRecords, LastOwner, Role, Token, metadata
from passband.service.access.teams import access_records
from passband.service.access.tries import TooManyTries
from passband.service.cli import main
from passband.service.settings import read_settings
from tests.service.access.conftest import BROWSER, PASSWORD, SESSION_COOKIE
from tests.service.object_stores import of_the_folder

IDLE_S, LONGEST_S = 12 * 3600, 7 * 24 * 3600
"""A race day without use, and a week. [s]"""


@pytest.fixture
def clock():
    """Seconds that a test sets."""
    return [1_000_000.0]


@pytest.fixture(params=["sqlite", "postgresql"])
def kept_in(request, tmp_path):
    """Settings of a service that keeps its people in a file, or on a server."""
    address = request.getfixturevalue("postgres_server").new_database() if request.param == "postgresql" else ""
    return read_settings({}, data=tmp_path, database=address)


@pytest.fixture
def records(kept_in):
    with access_records(kept_in) as opened:
        yield opened


@pytest.fixture
def access(records, clock, cheap_hashes):
    access = Access(records, clock=lambda: clock[0])
    team = records.add_team("red", folder="", quota_bytes=None, now=0)
    person = access.add_person("Robin", PASSWORD)
    records.set_role(team.id, person.id, Role.OWNER)
    return access


def all_kept(records) -> str:
    """Every value of every table."""
    with records._engine.begin() as connection:
        return str([connection.execute(table.select()).all() for table in metadata.sorted_tables])


def begin(access) -> str:
    key, _ = access.sign_in("Robin", PASSWORD, address="here")
    return key


def test_each_session_has_a_key_of_its_own_that_is_nowhere_kept(access):
    keys = {begin(access) for _ in range(5)}
    assert len(keys) == 5 and all(len(key) >= 43 for key in keys)  # 256 bits by 6 a letter
    kept = all_kept(access.records)
    assert all(key not in kept and hashed(key) in kept for key in keys)
    assert PASSWORD not in kept and "$argon2id$" in kept


def test_a_password_costs_whoever_guesses_it_64_mib_and_three_passes(records):
    # Published: RFC 9106, section 4, the second recommended option, from memory; every other test here hashes cheaply.
    Access(records).add_person("Robin", PASSWORD)
    assert "$argon2id$v=19$m=65536,t=3,p=4$" in all_kept(records)


def test_a_session_ends_idle_and_ends_at_last(access, clock):
    key = begin(access)
    for _ in range(13):
        clock[0] += IDLE_S - 60
        assert (access.of_session(key) is None) == (clock[0] - 1_000_000.0 > LONGEST_S)
    idle = begin(access)
    clock[0] += IDLE_S + 1
    assert access.of_session(idle) is None


@pytest.mark.parametrize(("ahead_s", "holds"), [(7200, True), (30 * 24 * 3600, False)])
def test_a_session_begun_by_a_clock_far_ahead_does_not_outlast_the_longest(access, clock, ahead_s, holds):
    clock[0] += ahead_s
    key = begin(access)
    clock[0] -= ahead_s
    assert (access.of_session(key) is not None) is holds


def test_another_password_ends_every_session(access):
    key, other = begin(access), begin(access)
    who = access.of_session(key)
    with pytest.raises(Refused, match="old password"):
        access.change_password(who.person, "wrong", "quite another sentence", address="here")
    access.change_password(who.person, PASSWORD, "quite another sentence", address="here")
    assert access.of_session(key) is None and access.of_session(other) is None
    assert access.sign_in("Robin", PASSWORD, address="here") is None
    assert access.sign_in("Robin", "quite another sentence", address="here") is not None


@pytest.mark.parametrize(
    ("name", "password", "said"),
    [
        ("Kim", "short", "12 to 256"),
        ("Kimberley", "kimberley rides on", "holds the name"),
        (" ", PASSWORD, "1 to 100"),
        ("Robin", PASSWORD, "has that name already"),
        ("ROBIN", PASSWORD, "has that name already"),
        ("\uff32obin", PASSWORD, "has that name already"),  # a wide R: the journal would show two of one name
        ("this machine", PASSWORD, "has that name already"),  # what the journal calls the command line
        ("Kim\u202enibor", PASSWORD, "cannot be seen"),  # turns what follows around
    ],
)  # fmt: skip
def test_names_and_passwords_that_will_not_do(access, name, password, said):
    with pytest.raises(Refused, match=said):
        access.add_person(name, password)


def test_wrong_tries_have_to_wait(access):
    for _ in range(10):
        assert access.sign_in("Robin", "wrong", address="there") is None
    with pytest.raises(TooManyTries, match="wait") as waits:
        access.sign_in("robin ", PASSWORD, address="there")
    assert 1 <= waits.value.wait_s <= 300
    assert access.sign_in("Robin", PASSWORD, address="elsewhere") is not None


def test_a_right_password_lets_wrong_tries_of_that_name_be_forgotten(access):
    for _ in range(4):
        for _ in range(9):
            assert access.sign_in("Robin", "wrong", address="there") is None
        assert access.sign_in("Robin", PASSWORD, address="there") is not None


def test_many_wrong_tries_at_once_win_nothing(access):
    # Planted: all of them are looked at while the first is still being hashed
    begun, looked_at = threading.Barrier(40), []
    slow, access._matches = access._matches, lambda *given: looked_at.append(time.sleep(0.05)) or slow(*given)

    def guess(_):
        begun.wait()
        try:
            return access.sign_in("Robin", "wrong", address="there")
        except TooManyTries:
            return "waits"

    with ThreadPoolExecutor(40) as many:
        said = list(many.map(guess, range(40)))
    assert len(looked_at) == said.count(None) == 10 and said.count("waits") == 30


def test_many_addresses_guess_one_name_no_faster(access, clock):
    # Planted: 40 machines, each within its own bound. Hand: 300 an hour.
    said = []
    for number in range(400):
        try:
            said.append(access.sign_in("Robin", "wrong", address=f"machine {number % 40}"))
        except TooManyTries:
            said.append("waits")
    assert said == [None] * 300 + ["waits"] * 100
    assert access.sign_in("Kim", "wrong", address="machine 1") is None


def test_many_passwords_at_once_take_the_room_of_two(monkeypatch, cheap_hashes):
    # Planted: 40 at once, of which 22 may be here; the others are told to come again. Hand: 2 at a time.
    passwords, lock = Passwords(), threading.Lock()
    begun, here, most = threading.Barrier(40), [], []

    class Slow:
        def verify(self, kept: str, password: str) -> bool:
            with lock:
                here.append(password)
                most.append(len(here))
            time.sleep(0.05)
            with lock:
                here.pop()
            return False

    monkeypatch.setattr(passwords, "_hasher", Slow())

    def try_one(_):
        begun.wait()
        try:
            return passwords.match("kept", "any")
        except TooManyTries as waits:
            return waits.wait_s

    with ThreadPoolExecutor(40) as many:
        said = list(many.map(try_one, range(40)))
    assert max(most) == 2 and said.count(False) == len(most) == 22 and said.count(2) == 18


@pytest.mark.parametrize("path", ["/sign-in", "/join/any", "/sign-out", "/team"])
@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=cut"])
def test_a_form_is_bounded_though_nobody_has_shown_a_name(house, path, kind):
    # Hand: 16 KiB are taken; a length that is told is refused before anything is read.
    body = (
        b'--cut\r\nContent-Disposition: form-data; name="f"; filename="f"\r\n\r\n' + b"y" * 17_000 + b"\r\n--cut--\r\n"
    )
    headers = {**house.cookie("red owner"), **BROWSER, "Content-Type": kind}
    for sent in (body, iter([body])):  # with a length, and in chunks
        answer = house.client.post(path, content=sent, headers=headers)
        assert answer.status_code == 413 and "16,384" in answer.text


def test_the_old_password_cannot_be_guessed_by_who_holds_a_session(access):
    who = access.of_session(begin(access))
    for _ in range(10):
        with pytest.raises(Refused, match="old password"):
            access.change_password(who.person, "wrong", "quite another sentence", address="there")
    with pytest.raises(TooManyTries):
        access.change_password(who.person, PASSWORD, "quite another sentence", address="there")


def test_of_two_owners_who_go_at_once_one_stays(access):
    team = access.of_session(begin(access)).team
    other = access.add_person("Noor", PASSWORD)
    access.records.set_role(team.id, other.id, Role.OWNER)
    owners = [one.person_id for one in access.records.members(team.id) if one.role == Role.OWNER]

    def go(person_id):
        try:
            access.records.set_role(team.id, person_id, None)
        except LastOwner:
            return person_id

    with ThreadPoolExecutor(2) as both:
        stayed = [one for one in both.map(go, owners) if one]
    assert [one.person_id for one in access.records.members(team.id)] == stayed and len(stayed) == 1


def test_of_two_people_who_take_a_name_at_once_one_has_it(access):
    access.records.person_named = lambda name: None  # planted: neither has seen the other
    with pytest.raises(Refused, match="has that name already"):
        access.add_person("Robin", PASSWORD)


def test_what_has_ended_is_let_go_of_at_the_next_sign_in(access, clock):
    old, team = hashed(begin(access)), access.of_session(begin(access)).team
    access.invite(team, Role.READER)
    clock[0] += LONGEST_S + 1
    begin(access)
    kept = all_kept(access.records)
    assert old not in kept and access.records.invitations(team.id, now=0) == []


def test_a_token_is_never_more_than_its_maker(access):
    who = access.of_session(begin(access))
    key = access.make_token(who, "trailer", Role.CREW)
    assert access.of_token(key).role == Role.CREW
    access.records.set_role(who.team.id, access.add_person("Noor", PASSWORD).id, Role.OWNER)
    access.records.set_role(who.team.id, who.person.id, Role.READER)
    assert access.of_token(key).role == Role.READER
    access.records.revoke_token(who.team.id, access.records.tokens(who.team.id)[0].id)
    assert access.of_token(key) is None


def test_a_name_is_one_however_its_accents_are_written(access):
    # Hand: e with an acute is one sign, or an e and the accent behind it.
    team = access.records.team_named("red")
    access.records.set_role(team.id, access.add_person("Rene\u0301", PASSWORD).id, Role.READER)
    assert access.sign_in("Ren\u00e9", PASSWORD, address="here") is not None
    assert access.sign_in("Rene\u0301", PASSWORD, address="here") is not None


def test_another_password_leaves_tokens_unless_they_are_to_go(access):
    who = access.of_session(begin(access))
    other = access.records.add_team("blue", folder=None, quota_bytes=None, now=0)
    access.records.set_role(other.id, who.person.id, Role.CREW)
    keys = [access.make_token(who, "trailer", Role.CREW)]
    access.records.move_session(who.session, other.id)
    keys.append(access.make_token(access.of_session(begin(access)), "truck", Role.CREW))
    access.change_password(who.person, PASSWORD, "quite another sentence", address="here")
    assert all(access.of_token(key) is not None for key in keys)
    person = access.records.person(who.person.id)
    access.change_password(person, "quite another sentence", PASSWORD, address="here", with_tokens=True)
    assert [access.of_token(key) for key in keys] == [None, None]
    assert access.records.tokens_of(person.id) == []
    for team in access.records.all_teams():
        told = [line.what for line in access.records.journal(team.id, most=9) if "password" in line.what]
        assert ["revoked the tokens" in what for what in told] == [True, False]  # the newest first


def test_who_changes_the_password_is_shown_the_own_tokens_and_may_end_them(house):
    keys = {}
    for name in ("red owner", "blue owner"):
        who = house.access.of_session(house.cookie(name)["Cookie"].partition("=")[2])
        keys[name] = house.access.make_token(who, f"trailer of {name}", Role.CREW)
    owner = {**house.cookie("red owner"), **BROWSER}
    page = house.client.get("/team", headers=owner).text
    assert "that you made: trailer of red owner</label>" in page and "trailer of blue" not in page
    assert "that you made" not in house.client.get("/team", headers={**house.cookie("red crew"), **BROWSER}).text
    form = {"old": PASSWORD, "new": "quite another sentence", "with_tokens": "yes"}
    assert house.client.post("/team", data=form, headers=owner, follow_redirects=False).status_code == 303
    assert house.access.of_token(keys["red owner"]) is None and house.access.of_token(keys["blue owner"]) is not None


def test_an_invitation_holds_for_one_and_for_a_week(access, clock):
    team = access.of_session(begin(access)).team
    key = access.invite(team, Role.READER)
    with pytest.raises(Refused, match="12 to 256"):
        access.join(key, "Kim", "short", address="here")
    assert access.join(key, "Kim", PASSWORD, address="here").name == "Kim"
    with pytest.raises(Refused, match="does not hold"):
        access.join(key, "Lee", PASSWORD, address="here")
    guessed = access.invite(team, Role.READER)
    for _ in range(10):
        with pytest.raises(Refused, match="give that one's password"):
            access.join(guessed, "Robin", "a wrong long password", address="there")
    with pytest.raises(TooManyTries):
        access.join(guessed, "Robin", PASSWORD, address="there")
    late = access.invite(team, Role.OWNER)
    clock[0] += 7 * 24 * 3600 + 1
    with pytest.raises(Refused, match="does not hold"):
        access.join(late, "Lee", PASSWORD, address="here")
    assert access.records.journal(team.id, most=5)[0].what == "joined as reader"


def test_roles_by_what_is_asked():
    assert needed_role("GET", "/api/runs") == needed_role("POST", "/sign-out") == Role.READER
    assert needed_role("POST", f"/api/runs/{'a' * 32}/whatif") == Role.READER
    assert needed_role("POST", "/api/runs") == needed_role("PATCH", f"/api/runs/{'a' * 32}") == Role.CREW
    assert needed_role("POST", f"/api/trash/{'a' * 32}/restore") == Role.CREW
    assert needed_role("DELETE", "/api/trash") == needed_role("POST", "/team/invitations") == Role.OWNER


def test_signing_in_by_the_page(house):
    form = {"name": "red crew", "password": PASSWORD, "next": "//elsewhere.example/x"}
    wrong = house.client.post("/sign-in", data={**form, "password": "no"}, headers=BROWSER)
    assert wrong.status_code == 401 and "do not go together" in wrong.text
    right = house.client.post("/sign-in", data=form, headers=BROWSER, follow_redirects=False)
    assert right.status_code == 303 and right.headers["location"] == "/"
    cookie = right.headers["set-cookie"]
    assert cookie.startswith(f"{SESSION_COOKIE}=")
    for part in ("Path=/", "Secure", "HttpOnly", "SameSite=lax"):
        assert part in cookie
    assert "Domain" not in cookie


def test_a_teams_page_invites_and_keeps_a_journal(house):
    owner = {**house.cookie("red owner"), **BROWSER}
    made = house.client.post("/team/invitations", data={"role": "reader"}, headers=owner)
    link = re.search(r"https?://[^ <]+/join/([\w-]+)", made.text)
    assert link is not None
    joined = house.client.post(f"/join/{link[1]}", data={"name": "Sam", "password": PASSWORD}, headers=BROWSER,
                               follow_redirects=False)  # fmt: skip
    assert joined.status_code == 303 and SESSION_COOKIE in joined.headers["set-cookie"]
    page = house.client.get("/team", headers=owner).text
    assert "Sam" in page and "joined as reader" in page and "POST /team/invitations" in page
    assert "Journal" not in house.client.get("/team", headers={**house.cookie("red reader"), **BROWSER}).text
    me = house.access.records.person_named("red owner")
    last = house.client.post(f"/team/members/{me.id}", data={"role": "crew"}, headers=owner)
    assert last.status_code == 409


def test_an_invitation_is_taken_back(house):
    owner = {**house.cookie("red owner"), **BROWSER}
    made = house.client.post("/team/invitations", data={"role": "crew"}, headers=owner)
    key = re.search(r"/join/([\w-]+)", made.text)[1]
    [path] = set(re.findall(r"/team/invitations/\w+/end", made.text))
    of_blue = {**house.cookie("blue owner"), **BROWSER}
    house.client.post(path, headers=of_blue, follow_redirects=False)  # another team's ends nothing
    assert f'action="{path}"' in house.client.get("/team", headers=owner).text
    assert house.client.post(path, headers=owner, follow_redirects=False).status_code == 303
    assert f'action="{path}"' not in house.client.get("/team", headers=owner).text
    joined = house.client.post(f"/join/{key}", data={"name": "Sam", "password": PASSWORD}, headers=BROWSER)
    assert joined.status_code == 422 and "does not hold" in joined.text


def test_a_token_rules_over_nobody(house):
    who = house.access.of_session(house.cookie("red owner")["Cookie"].partition("=")[2])
    program = {"Authorization": f"Bearer {house.access.make_token(who, 'trailer', Role.OWNER)}"}
    assert house.client.delete("/api/trash", headers=program).status_code == 204
    for path, form in (
        ("/team/tokens", {"name": "more", "role": "owner"}), ("/team/invitations", {"role": "owner"}),
        ("/team", {"old": PASSWORD, "new": "quite another sentence"}), (f"/team/members/{who.person.id}", {"role": ""}),
    ):  # fmt: skip
        answer = house.client.post(path, data=form, headers=program)
        assert answer.status_code == 403 and "sign in as a person" in answer.json()["detail"]


@pytest.fixture
def own_records(settings):
    settings.data.mkdir(parents=True)
    with access_records(settings) as records:
        yield records


def test_a_quota_refuses_what_is_beyond_it_for_that_team_only(
    planted, cheap_hashes, settings, open_service, own_records
):
    records = own_records
    access = Access(records)
    owner = access.add_person("Robin", PASSWORD)
    cookies = []
    for name, quota in (("small", 12), ("wide", None)):
        team = records.add_team(name, folder=None, quota_bytes=quota, now=0)
        records.set_role(team.id, owner.id, Role.OWNER)
        key, _ = access.sign_in("Robin", PASSWORD, address="")
        records.move_session(hashed(key), team.id)
        cookies.append({"Cookie": f"{SESSION_COOKIE}={key}"})
    with open_service() as client:

        def send(text, cookie):
            return client.post("/api/runs", files=[("log", ("a.csv", text, "text/csv"))], headers=cookie)

        assert send(b"runs=1\n1", cookies[0]).status_code == 201
        refused = send(b"runs=1\n2", cookies[0])
        assert refused.status_code == 403 and "quota" in refused.json()["detail"]
        assert send(b"runs=1\n1", cookies[0]).status_code == 200  # what is here already takes no room
        assert send(b"runs=1\n2", cookies[1]).status_code == 201


def test_beyond_this_machine_somebody_must_say_who_may(tmp_path, capsys):
    assert main(["serve", "--host", "0.0.0.0", "--port", "0", "--data", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "passband access begin" in said and "--open" in said


def test_access_is_set_up_from_the_command_line(kept_in, tmp_path, cheap_hashes, capsys, monkeypatch):
    monkeypatch.setenv("PASSBAND_DATABASE", kept_in.database.get_secret_value())
    secret = tmp_path / "secret"
    secret.write_text(PASSWORD + "\n")
    data = ["--data", str(tmp_path / "data")]
    assert main(["access", *data, "list"]) == 2
    assert "access begin" in capsys.readouterr().err
    short = tmp_path / "short"
    short.write_text("short")
    assert main(["access", *data, "begin", "Red", "--owner", "Robin", "--password-file", str(short)]) == 2
    assert main(["access", *data, "begin", "Red", "--owner", "Robin", "--password-file", str(secret)]) == 0
    assert main(["access", *data, "team", "Blue", "--owner", "Robin", "--quota-gb", "2"]) == 0
    assert main(["access", *data, "invite", "Blue", "--role", "reader"]) == 0
    assert main(["access", *data, "list"]) == 0
    said = capsys.readouterr().out
    assert "/join/" in said and "Blue, 2 GB at most" in said and "Robin, owner" in said
    with access_records(read_settings({}, data=tmp_path / "data", database=kept_in.database)) as records:
        robin, team = records.person_named("Robin"), records.team_named("Red")
        records.add_token("0" * 64, Token("f" * 16, team.id, robin.id, "trailer", Role.CREW), now=0)
    another = ["access", *data, "password", "Robin", "--password-file", str(secret)]
    assert main(another) == 0
    assert "still hold: 'trailer'" in capsys.readouterr().out
    assert main([*another, "--revoke-tokens"]) == 0
    assert "still hold" not in capsys.readouterr().out
    assert main(["access", *data, "invite", "Green"]) == 2
    assert "'Blue', 'Red'" in capsys.readouterr().err


@pytest.mark.usefixtures("rows_in_a_file")
@of_the_folder
def test_teams_are_backed_up_and_put_back_whole(planted, cheap_hashes, settings, open_service, tmp_path, capsys):
    settings.data.mkdir(parents=True)
    records = AccessRecords(access_file(settings.data))
    access = Access(records)
    owner = access.add_person("Robin", PASSWORD)
    for name, folder in (("first", ""), ("second", None)):
        team = records.add_team(name, folder=folder, quota_bytes=None, now=0)
        records.set_role(team.id, owner.id, Role.OWNER)
        key, _ = access.sign_in("Robin", PASSWORD, address="")
        records.move_session(hashed(key), team.id)
        access.invite(team, Role.CREW)
        with open_service() as client:
            cookie = {"Cookie": f"{SESSION_COOKIE}={key}"}
            log = f"runs=1\n{name}".encode()
            assert (
                client.post("/api/runs", files=[("log", ("a.csv", log, "text/csv"))], headers=cookie).status_code == 201
            )
    records.close()
    away, back = tmp_path / "away", tmp_path / "back"
    assert main(["backup", str(away), "--data", str(settings.data)]) == 0
    assert main(["backup", str(away), "--data", str(settings.data)]) == 2
    assert main(["restore", str(away), "--data", str(back)]) == 0
    said = capsys.readouterr().out
    assert said.count("1 run, 0 cars") == 4
    assert main(["access", "--data", str(back), "list"]) == 0
    assert "second" in capsys.readouterr().out
    assert len(list(back.glob("teams/*/library.sqlite"))) == 1 and (back / "library.sqlite").exists()
    with closing(sqlite3.connect(back / "access.sqlite")) as rows:
        # a session or invitation that ended after the backup must not hold again; people and teams are all there
        counts = [rows.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
                  for table in ("sessions", "invitations", "people", "teams", "journal")]  # fmt: skip
    assert counts[:4] == [0, 0, 1, 2] and counts[4] > 0
