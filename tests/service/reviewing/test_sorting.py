"""Files sorted into runs: by clocks, by names, by when they were saved.

Evidence: planted names and times; the demo's logs.
"""

from __future__ import annotations

import gzip

import pytest

from passband.service.commands.demo import WEEKEND
from passband.service.reviewing.sorting import Named, SortTask, pair_files, sort_files


def named(*names: str) -> list[Named]:
    return [Named(name, None) for name in names]


@pytest.mark.parametrize(
    ("leads", "others", "wanted"),
    [
        (["01_ecu.csv", "02_ecu.csv"], ["02_dash.csv", "01_dash.csv"], [1, 0]),
        (["Q1 left.csv", "E1 left.csv", "E2.csv"], ["dash-e2.csv", "dash-q1.csv", "dash-e1.csv"], [2, 0, 1]),
        (["run 9 ecu.csv", "run 10 ecu.csv"], ["run10-gps.csv", "run09-gps.csv"], [1, 0]),
        (["a7.csv", "a8.csv"], ["x2.csv", "x1.csv"], [1, 0]),
        (["a7.csv", "a8.csv"], ["x2.csv"], [None]),
        (["ecu.csv"], ["dash.csv"], [0]),
    ],
)
def test_files_are_paired_by_what_their_names_alone_share(leads, others, wanted):
    # Planted: pairs as a person would make them; a lone file that nothing ties to either of two is left out
    found = pair_files(named(*leads), named(*others))
    assert [place[0] if place else None for place in found] == wanted


def test_files_saved_together_are_paired_where_names_say_nothing():
    # Planted: two rounds 40 minutes apart, dash saved some seconds after the ECU
    leads = [Named("LOG0042.csv", 1000.0), Named("LOG0043.csv", 3400.0)]
    others = [Named("gps.csv", 3415.0), Named("gps (1).csv", 1020.0)]
    assert [place[0] for place in pair_files(leads, others)] == [1, 0]
    assert pair_files(leads, others)[0][1] == "saved at about the same time"


@pytest.fixture(scope="module")
def heap(tmp_path_factory):
    """Logs of three runs of two dialects under names without meaning, and a picture."""
    folder = tmp_path_factory.mktemp("heap")
    order = ["05_sunday_dash", "02_q2_ecu", "01_q1_dash", "05_sunday_ecu", "02_q2_dash", "01_q1_ecu"]
    logs = [(WEEKEND / f"{name}.csv.gz", f"x{at}.csv.gz") for at, name in enumerate(order)]
    (folder / "p").write_bytes(b"\x89PNG\r\n\x1a\n" * 40)
    return SortTask((*logs, (folder / "p", "photo.csv")), (True,) * 7, (None,) * 7, None)


def test_whole_files_are_sorted_by_their_clocks_whatever_they_are_called(heap):
    # Planted: the weekend's own pairs, names taken away
    found = sort_files(heap)
    assert [file.run for file in found[:6]] == [1, 0, 2, 1, 0, 2]
    assert [file.leads for file in found] == [False, True, False, True, False, True, False]
    assert found[0].why == "its clock fits that of x3.csv.gz"
    assert found[6].run is None
    assert "photo.csv" in found[6].problem


def test_a_file_sent_twice_is_sorted_once_under_its_own_name(heap):
    # Planted: a copy stands before its original, as a folder lists it; of a beginning alone nothing is said
    copies = ((heap.logs[1][0], "Copy of x1.csv.gz"), *heap.logs[1:3])
    found = sort_files(SortTask(copies, (True,) * 3, (None,) * 3, None))
    assert [file.run is None for file in found] == [True, False, False]
    assert found[0].problem == "it is the same file as x1.csv.gz"
    assert sort_files(SortTask(copies, (False,) * 3, (None,) * 3, None))[0].problem == ""


def test_when_a_file_was_saved_is_a_number(client_of_logs, assert_problem):
    files = [("log", ("a.csv", b"x")), ("details", (None, '{"saved_s": [true]}'))]
    assert "saved_s" in assert_problem(client_of_logs.post("/api/runs/sort", files=files), 422)["detail"]


def test_beginnings_of_files_are_sorted_by_name(client_of_logs):
    # Planted: the first 100 kB of each, as a page sends them of long logs
    names = ["01_q1_dash", "02_q2_ecu", "02_q2_dash", "01_q1_ecu"]
    heads = [gzip.decompress((WEEKEND / f"{name}.csv.gz").read_bytes())[:100_000] for name in names]
    files = [("log", (f"{name}.csv", head)) for name, head in zip(names, heads, strict=True)]
    answer = client_of_logs.post("/api/runs/sort", files=files)
    assert [(file["run"], file["why"]) for file in answer.json()["files"]] == [
        (0, "by their names"), (1, ""), (1, "by their names"), (0, ""),
    ]  # fmt: skip


@pytest.fixture
def client_of_logs(tmp_path):
    from fastapi.testclient import TestClient

    from passband.service.app import create_app
    from passband.service.settings import read_settings

    settings = read_settings({}, data=tmp_path / "data", workers=0, hosts="testserver")
    with TestClient(create_app(settings)) as client:
        yield client


def test_parts_of_one_log_are_of_one_run(tmp_path):
    # Planted: an ECU's log cut amid its run, the later part without a header, and the dash's log of that run
    lines = gzip.decompress((WEEKEND / "02_q2_ecu.csv.gz").read_bytes()).splitlines(keepends=True)
    cut = len(lines) // 2
    (tmp_path / "b.csv").write_bytes(b"".join(lines[:cut]))
    (tmp_path / "a.csv").write_bytes(b"".join(lines[cut:]))
    files = [(tmp_path / name, name) for name in ("a.csv", "b.csv")]
    files.append((WEEKEND / "02_q2_dash.csv.gz", "c.csv.gz"))
    found = sort_files(SortTask(tuple(files), (True,) * 3, (None,) * 3, None))
    assert [file.run for file in found] == [0, 0, 0]
    assert sum(file.leads for file in found) == 1
    assert "part of the same log" in found[1].why
