"""The door to the rows, the same behind it whichever database holds them: a SQLite file, or a server.

Hand: each answer is written down from what was put in; ids, hashes and texts are the test's own.
"""

from __future__ import annotations

from contextlib import closing, contextmanager
from dataclasses import replace

import pytest

from passband.analysis.runs.kept_digest import KeptDigest
from passband.service.store.ledger import Ledger
from passband.service.store.postgres import PostgresDatabase
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.records import Details, ItemRecord, LogRecord, NewReview, NewUpload
from passband.service.store.sqlite_records import SqliteRecords

CAR = {"name": "Heron", "mass": "2450 lb"}


def hexed(n: int, digits: int = 32) -> str:
    return f"{n:0{digits}x}"


def a_review(position: int = 0, *, event: str = "Meet", at: str = "2031-05-04T10:00:00Z", **more) -> NewReview:
    details = Details(label="L", event=event, notes="dry, 20 °C", slip={"et": "8.1 s"}, at="2031-05-04")
    values = {
        "position": position, "details": details, "car": None, "summary": {"log_names": ["a.csv"]},
        "review": b'{"whole": true}', "table_key": hexed(900 + position, 64), "made_at": at,
        "digest": KeptDigest(b'{"et_s": 8.1}', b"\x00\x01", comparable=True),
    }  # fmt: skip
    return NewReview(**{**values, **more})


def an_upload(n: int, *reviews: NewReview) -> NewUpload:
    return NewUpload(hexed(n, 64), (LogRecord(0, "ecu.csv", hexed(500 + n, 64), 3_000_000_000),), reviews)


@contextmanager
def of_kind(kind, folder, request):
    if kind == "sqlite":
        (folder / "incoming").mkdir()
        yield SqliteRecords(folder / "library.sqlite", Ledger(folder, scratch=folder / "incoming"))
        return
    with closing(PostgresDatabase(request.getfixturevalue("postgres_server").new_database())) as database:
        records = PostgresRecords(database, "red")
        records.begin_library("mark")
        yield records


@pytest.fixture(params=["sqlite", "postgresql"])
def records(request, tmp_path):
    with of_kind(request.param, tmp_path, request) as found, closing(found):
        yield found


def ids(found) -> list[str]:
    return [run.id for run in found]


def put(records, n: int, *reviews: NewReview) -> list[str]:
    """Keep an upload; its runs are called by tens."""
    run_ids = [hexed(10 * n + place) for place in range(len(reviews))]
    records.add_upload(hexed(n), an_upload(n, *reviews), run_ids)
    return run_ids


def listed(records, **asked) -> list[str]:
    return ids(records.find_runs(**{"event": None, "car": None, "limit": 100, "after": None, **asked}))


def test_the_state_told_is_what_a_count_gives(tmp_path, request):
    # Slow twin: all rows counted; an upload's own rows are only added to what was counted before
    with of_kind("sqlite", tmp_path, request) as records, closing(records):
        records.add_car(hexed(1), CAR, "2031-05-04T10:00:00Z")
        for change in (
            lambda: put(records, 1, a_review(0), a_review(1)),
            lambda: records.add_upload(hexed(5), an_upload(1, a_review(1), a_review(2)), [hexed(51), hexed(52)]),
            lambda: records.replace_review(hexed(10), a_review(0)),
            lambda: put(records, 2, a_review(0)),
        ):
            change()
            assert Ledger(tmp_path, scratch=tmp_path / "incoming").state() == records.state()
        assert (records.state().runs, records.state().uploads, records.state().cars) == (4, 2, 1)


def test_a_car_is_kept_in_all_its_versions(records):
    assert records.add_car(hexed(1), CAR, "t1").version == 1
    assert records.change_car(hexed(1), {**CAR, "mass": "2400 lb"}, "t2").version == 2
    assert records.car(hexed(1), 1).given == CAR
    assert (records.car(hexed(1)).given["mass"], records.car(hexed(1)).made_at) == ("2400 lb", "t2")
    assert records.car(hexed(1), 3) is None and records.car(hexed(2)) is None
    assert records.change_car(hexed(2), CAR, "t3") is None
    assert [car.version for car in records.all_versions()[hexed(1)]] == [1, 2]


def test_a_car_made_of_an_older_version_is_not_kept(records):
    records.add_car(hexed(1), CAR, "t1")
    assert records.change_car(hexed(1), {"name": "B"}, "t2", instead_of=1).version == 2
    assert records.change_car(hexed(1), {"name": "C"}, "t3", instead_of=1) is None
    assert records.car(hexed(1)).given == {"name": "B"}


def test_cars_come_by_name_whatever_its_letters(records):
    for n, name in enumerate(["Wren", "egret", "Ant", "\u00c5ngstrom"]):
        records.add_car(hexed(n), {"name": name}, "t")
    assert [car.given["name"] for car in records.all_cars()] == ["Ant", "egret", "Wren", "\u00c5ngstrom"]


def test_a_run_comes_back_as_it_was_put(records):
    records.add_car(hexed(7), CAR, "t")
    run_ids = put(records, 1, a_review(0, car=(hexed(7), 1)), a_review(1))
    run = records.run(run_ids[0])
    assert run.details == a_review().details and run.car == (hexed(7), 1) and run.upload_id == hexed(1)
    assert run.logs == an_upload(1).logs and run.summary == {"log_names": ["a.csv"]}
    assert records.review(run_ids[1]) == b'{"whole": true}' and records.run(run_ids[1]).car is None
    assert ids(records.siblings(hexed(1))) == run_ids
    assert records.run(hexed(77)) is None and records.review(hexed(77)) is None


def test_the_same_upload_again_adds_only_what_it_lacks(records):
    first = put(records, 1, a_review(0), a_review(1))
    assert records.remove_run(first[0])
    records.add_upload(hexed(2), an_upload(1, a_review(0), a_review(1)), [hexed(91), hexed(92)])
    runs, found = records.upload(hexed(1, 64))
    assert (ids(runs), found) == ([hexed(91), first[1]], 2) and {run.upload_id for run in runs} == {hexed(1)}
    assert records.upload(hexed(3, 64)) is None


def test_an_upload_goes_with_its_last_run(records):
    one, two = put(records, 1, a_review(0), a_review(1))
    assert records.remove_run(one) and records.upload_record(hexed(1)).runs[0].id == two
    assert records.bytes_of_logs() == 3_000_000_000
    assert records.remove_run(two) and records.upload_record(hexed(1)) is None and records.bytes_of_logs() == 0
    assert not records.remove_run(two) and not records.replace_review(two, a_review())


def test_runs_are_found_by_their_logs_oldest_first(records):
    for n in (1, 2, 3):
        records.add_upload(hexed(n), an_upload(n, a_review()), [hexed(n + 10)])
    found = records.runs_with_logs([hexed(503, 64), hexed(501, 64), hexed(999, 64)])
    assert ids(found) == [hexed(11), hexed(13)]
    assert [log.sha256 for log in found[0].logs] == [hexed(501, 64)]
    assert records.runs_with_logs([]) == []


def test_a_run_takes_the_place_of_one_that_goes(records):
    for n in (1, 2, 3):
        records.add_upload(hexed(n), an_upload(n, a_review()), [hexed(n + 10)])
    added = records.run(hexed(11)).added_at
    assert records.remove_run(hexed(11), place_to=hexed(13))
    assert ids(records.find_runs(event=None, car=None, limit=9, after=None)) == [hexed(12), hexed(13)]
    assert records.run(hexed(13)).added_at == added
    assert records.upload_record(hexed(3)).runs[0].number == 1
    records.add_upload(hexed(4), an_upload(4, a_review()), [hexed(14)])
    assert ids(records.find_runs(event=None, car=None, limit=1, after=None)) == [hexed(14)]


def test_runs_come_newest_first_page_by_page(records):
    records.add_car(hexed(7), CAR, "t")
    kept = [put(records, n, a_review(event=f"Meet {n % 2}", car=(hexed(7), 1) if n > 3 else None))[0] for n in range(6)]
    assert listed(records) == kept[::-1]
    assert listed(records, limit=2) == kept[:3:-1] and listed(records, limit=2, after=kept[4]) == [kept[3], kept[2]]
    assert listed(records, event="Meet 1") == [kept[5], kept[3], kept[1]]
    assert listed(records, car=hexed(7)) == [kept[5], kept[4]] and listed(records, after=hexed(77)) == []
    assert records.find_runs(event=None, car=None, limit=1, after=None)[0].table_key == ""


def test_runs_of_an_event_and_a_car_stand_in_the_order_they_were_made(records):
    # Hand: one told nothing stands behind all before it, one of a day alone behind that day's before it.
    records.add_car(hexed(7), CAR, "t")
    told = [
        "2031-05-04T10:00:00",
        "2031-05-03T16:00:00",
        "2031-05-03",
        "",
        "2031-05-03T09:00:00",
        "2031-05-04T08:00:00",
    ]
    kept = [
        put(records, n, a_review(car=(hexed(7), 1), details=Details(event="Meet", at=at)))[0]
        for n, at in enumerate(told)
    ]
    made = [kept[n] for n in (4, 1, 2, 5, 0, 3)]
    assert listed(records, event="Meet") == listed(records, car=hexed(7)) == made[::-1]
    assert listed(records, event="Meet", after=made[2]) == [made[1], made[0]]
    assert listed(records, event="Meet", after=made[4], limit=2) == [made[3], made[2]]
    assert [key[0] for key in records.digests.keys(event="Meet", car=hexed(7))] == made
    assert [one.id for one in records.digests.dated(hexed(7))] == made
    assert [one.run_id for one in records.digests.engine_links(hexed(7))] == made
    assert listed(records) == kept[::-1]


def test_events_come_by_their_newest_run_each_once(records):
    for n, event in enumerate(["b", "a", "\u00e9", "", "B", "a", "b"]):
        put(records, n, a_review(event=event))
    assert records.events() == ["b", "a", "B", "\u00e9"]
    assert records.events(limit=2) == ["b", "a"] and records.events(limit=2, after="a") == ["B", "\u00e9"]
    assert records.events(after="nowhere") == []


def test_a_new_review_stands_in_the_place_of_the_old(records):
    run_id = put(records, 1, a_review())[0]
    said = replace(a_review().details, notes="wet", at="", slip=None)
    assert records.replace_review(run_id, a_review(details=said, review=b"{}", at="t2", digest=None))
    run = records.run(run_id)
    assert (run.details, run.reviewed_at, run.added_at) == (said, "t2", "2031-05-04T10:00:00Z")
    assert records.review(run_id) == b"{}" and records.digests.of([run_id]) == {}


def test_runs_are_brought_back_at_their_old_place_with_their_ids(records):
    kept = [put(records, n, a_review(0), a_review(1)) for n in range(3)]
    upload = records.upload_record(hexed(1))
    for run_id in kept[1]:
        records.remove_run(run_id)
    put(records, 9, a_review())
    records.bring_back(upload, [a_review(0), a_review(1)])
    assert listed(records) == [hexed(90), *kept[2][::-1], *kept[1][::-1], *kept[0][::-1]]
    assert records.upload_record(hexed(1)) == upload
    records.bring_back(upload, [a_review(0, review=b"other")])  # what stands is left
    assert records.review(kept[1][0]) == b'{"whole": true}'
    records.bring_back(upload, [a_review(0, review=b"other")], anew=True)
    assert records.review(kept[1][0]) == b"other" and records.run(kept[1][1]) is None


def test_runs_whose_place_is_another_s_or_still_to_come_find_one(records):
    run_id = put(records, 1, a_review())[0]
    upload = records.upload_record(hexed(1))
    moved = [replace(upload.runs[0], id=hexed(30 + n), number=n, position=n) for n in (upload.runs[0].number, 40)]
    other = replace(upload, id=hexed(2), key=hexed(2, 64), runs=tuple(moved))
    records.bring_back(other, [a_review(run.position) for run in moved])
    assert set(listed(records)) == {run_id, *(run.id for run in moved)}
    newest = put(records, 3, a_review())[0]
    assert listed(records, limit=1) == [newest]  # behind place 40 too


def test_a_car_is_brought_back_with_all_its_versions(records):
    records.add_car(hexed(1), CAR, "t1")
    records.change_car(hexed(1), {"name": "Two"}, "t2")
    versions = records.all_versions()[hexed(1)]
    records.bring_back_car([*versions, replace(versions[1], version=3, given={"name": "Three"})])
    assert records.car(hexed(1)).given == {"name": "Three"} and records.car(hexed(1), 2).given == {"name": "Two"}
    records.bring_back_car([replace(versions[0], id=hexed(2))])
    assert records.car(hexed(2)).given == CAR


def test_an_item_stands_in_the_place_of_the_one_before(records):
    item = ItemRecord(hexed(1), "part", hexed(7), "2031-05-04T00:00:00Z", gone=False, given={"name": "clutch"})
    records.keep_item(item)
    records.keep_item(replace(item, id=hexed(2), car_id=None, made_at="2031-05-03T00:00:00Z"))
    assert ids(records.items("part")) == [hexed(2), hexed(1)] and ids(records.items("part", car=hexed(7))) == [hexed(1)]
    gone = replace(item, gone=True, given={"name": "box"})
    records.keep_item(gone)
    assert records.item(hexed(1)) == gone and records.item(hexed(3)) is None and records.items("groups") == []


def test_keys_in_use_are_those_of_logs_and_tables(records):
    put(records, 1, a_review())
    unknown = [hexed(n, 64) for n in range(10_000, 11_200)]
    assert records.keys_in_use([*unknown, hexed(501, 64), hexed(900, 64)]) == {hexed(501, 64), hexed(900, 64)}
    assert records.keys_in_use([]) == set()


def test_digests_are_of_the_review_that_stands(records):
    one, two = put(records, 1, a_review(0), a_review(1, digest=None))
    assert set(records.digests.of([one, two])) == {one} and records.digests.of([one])[one].figures == {"et_s": 8.1}
    records.digests.keep(two, "of another time", a_review().digest)
    assert two not in records.digests.of([two])
    records.digests.keep(two, a_review().made_at, a_review().digest)
    records.digests.keep(two, a_review().made_at, KeptDigest(b"{}", b"", comparable=False))
    assert records.digests.of([two])[two].figures == {}
    records.digests.keep_held([(two, "by", {"as_before": True}), (one, "none", None)])
    assert records.digests.held([one, two]) == {two: {"as_before": True}}
    records.remove_run(two)
    assert records.digests.of([two]) == {}


def test_what_follows_a_car_comes_oldest_first(records):
    records.add_car(hexed(7), CAR, "t")
    of_car = [put(records, n, a_review(car=(hexed(7), 1)))[0] for n in range(3)]
    put(records, 8, a_review())
    assert [link.run_id for link in records.digests.engine_links(hexed(7))] == of_car
    assert [(run.id, run.day, run.given) for run in records.digests.dated(hexed(7))] == [
        (one, "2031-05-04", True) for one in of_car
    ]
    assert [key for key, _ in records.digests.keys(event="Meet", car=hexed(7))] == of_car


def test_texts_of_any_kind_are_kept_and_asked_for(records):
    odd = "zero \x00, quote ', percent %s :name, \U0001f40e"
    run_id = put(records, 1, a_review(event=odd))[0]
    assert listed(records, event=odd) == [run_id] and records.events(after=odd) == []
    assert records.run("\x00") is None and listed(records, event="\x00") == []
    assert records.run(run_id).details.event.replace("\u2400", "\x00") == odd


def test_a_change_that_fails_leaves_nothing_of_it(records):
    run_ids = put(records, 1, a_review())
    with pytest.raises(Exception, match=r"(?i)unique"):
        records.add_upload(hexed(2), an_upload(2, a_review(0), a_review(1)), [hexed(50), run_ids[0]])
    assert records.upload(hexed(2, 64)) is None and listed(records) == run_ids
    assert put(records, 3, a_review()) + run_ids == listed(records)


def test_it_answers_and_takes_what_it_is_given(records):
    assert records.ping()
    records.probe()
    records.give_back_room()
    with records.turn("one"), records.turn("other"):
        assert put(records, 1, a_review()) == listed(records)
