"""When a run was made, as its logs tell."""

from __future__ import annotations

import pytest

from passband.analysis.reading import read_log
from passband.service.given.when_made import when_log_made, when_made

ROWS = "\n".join(f"{row / 50:.2f},{3000 + row},50" for row in range(200))
NAMES = "Time (s),RPM,TPS (%)\n"


def a_log(head: str, *, rows: str = NAMES + ROWS, name: str = "ecu.csv"):
    return read_log((head + rows).encode(), name=name)


@pytest.mark.parametrize(
    ("head", "when"),
    [
        ("Date,2026-08-14\nTime,15:42:10\nVehicle,Heron\n\n", "2026-08-14T15:42:10"),
        ("# Recorded 2026-08-14 15:42:10\n# Firmware 1.2 2025-01-01\n", "2026-08-14T15:42:10"),
        ("Exported: 15.08.2026 09:00\nLog Date: 14.08.2026 17:42\n", "2026-08-14T17:42:00"),
        ("Aufzeichnung;14.08.2026 17:42:10\nFahrzeug;Kombi\n\n", "2026-08-14T17:42:10"),
        ('"Start","8/14/2026 3:42:10 PM"\n', "2026-08-14T15:42:10"),
        ("14/08/2026 17:42:10\n", "2026-08-14T17:42:10"),
        ("Session start: 14 Aug 2026 12:05 AM\n", "2026-08-14T00:05:00"),
        ("Logged: Aug 14 2026\n", "2026-08-14"),
    ],
)
def test_a_line_above_the_table_tells(head, when):
    # Hand: as a person reads each line.
    assert when_log_made(a_log(head)[0]) == when


@pytest.mark.parametrize(
    "head",
    ["Firmware: 2025-01-02\n", "Tune: street, 2026-05-01\n", "Vehicle: Heron 2026-01-02\n", "Date: 03/04/2026\n",
     "Date: 2000-01-02 00:00:12\n", "Date: 2015-01-01 00:03:12\n", "Date: 31/31/2026\n", "Log 20260814 of 9\n", ""],
)  # fmt: skip
def test_another_day_a_doubtful_one_and_a_dead_clock_tell_nothing(head):
    assert when_log_made(a_log(head)[0]) == ""


@pytest.mark.parametrize(
    ("stamp", "when"),
    [
        ("2026-08-14T15:42:{0:05.2f}Z", "2026-08-14T15:42:10"),
        ("14.08.2026 15:42:{0:05.2f}", "2026-08-14T15:42:10"),
        ("{1:.2f}", "2026-08-14T15:42:10"),
        ("15:42:{0:05.2f}", ""),
        ("2015-01-01T00:03:{0:05.2f}", ""),
    ],
)
def test_stamps_with_a_date_tell(stamp, when):
    # Hand: 1786722130 s since 1970 is 2026-08-14 15:42:10.
    rows = "\n".join(f"{stamp.format(10 + n / 50, 1786722130 + n / 50)},{3000 + n},50" for n in range(200))
    assert when_log_made(a_log("", rows="Time,RPM,TPS (%)\n" + rows)[0]) == when


@pytest.mark.parametrize(
    ("name", "when"),
    [("2026-08-14_1542_ecu.csv", "2026-08-14T15:42:00"), ("log 20260814-154210.csv", "2026-08-14T15:42:10"),
     ("2026-08-14 run 3.csv", "2026-08-14"), ("Run3.csv", ""), ("20261399.csv", "")],
)  # fmt: skip
def test_a_name_tells_where_the_file_does_not(name, when):
    assert when_log_made(a_log("", name=name)[0]) == when


def test_the_first_log_with_a_time_counts():
    day, clock, none = a_log("Date: 2026-08-14\n"), a_log("Date: 2026-08-14 15:42\n"), a_log("")
    assert when_made([none, day, clock]) == "2026-08-14T15:42:00"
    assert when_made([none, day]) == "2026-08-14" and when_made([none]) == "" and when_made([]) == ""


@pytest.mark.parametrize(
    ("date", "when"),
    [("14.08.2026", "2026-08-14T17:42:10"), ("8/14/2026", "2026-08-14T17:42:10"), ("03/04/2026", ""), ("14.08.26", "")],
)
def test_a_column_of_dates_beside_a_clock_tells(date, when):
    # Hand; which of 3 and 4 is the month, or whether 14 is the year, no column tells.
    rows = "\n".join(f"{date},17:42:{10 + row / 50:06.3f},{3000 + row},50" for row in range(200))
    log = a_log("", rows="Date,Time,RPM,TPS (%)\n" + rows)[0]
    assert when_log_made(log) == when
    assert log.time.day == date and "columns-of-words" not in {one.code for one in log.findings}
