"""A large file of bare numbers is read by its head, and as it would be read if all of it were looked at first."""

from __future__ import annotations

import numpy as np
import pytest

from passband.analysis.channels.log import Channel, NotALog
from passband.analysis.reading import by_head, read_log

ROWS = 6000
"""Some 150 kB: the head is 96 KiB."""


def log_of(*, decimal: str = ".", delimiter: str = ",", names: str = "Time [s],RPM,Oil Press [kPa]") -> list[str]:
    rows = [(f"{at * 0.01:.2f}", f"{2000 + at % 4000}", f"{400 + at % 50}.5") for at in range(ROWS)]
    head = names.replace(",", delimiter)
    return [head, *(delimiter.join(row).replace(".", decimal) for row in rows)]


def _held(channel: Channel) -> tuple[str, str, bytes, bytes]:
    return channel.name, channel.unit, channel.values.tobytes(), channel.time_s.tobytes()


def read_both_ways(data: bytes, monkeypatch: pytest.MonkeyPatch) -> tuple[object, object]:
    """What is read with and without the quick way, as text that holds every value and finding."""

    def told(worth_it: int) -> object:
        monkeypatch.setattr(by_head, "WORTH_IT", worth_it)
        try:
            logs = read_log(data, name="x.csv")
        except NotALog as refusal:
            return str(refusal)
        return [(log.findings, log.text, log.time, list(map(_held, log.channels))) for log in logs]

    return told(0), told(len(data) + 1)


SOUND = {
    "plain": "\n".join(log_of()).encode(),
    "semicolons, decimal commas, Latin-1": "\r\n".join(
        log_of(decimal=",", delimiter=";", names="Time [s],RPM,\u00d6ldruck [kPa]")
    ).encode("latin-1"),
    "umlauts in UTF-8": "\n".join(log_of(names="Zeit [s],Drehzahl,\u00d6ldruck [kPa]")).encode(),
}


@pytest.mark.parametrize("data", SOUND.values(), ids=SOUND)
def test_bare_numbers_are_read_by_the_head_alone(data, monkeypatch):  # slow twin
    quick, slow = read_both_ways(data, monkeypatch)
    assert quick == slow and not isinstance(quick, str)

    def never(*_: object, **__: object) -> None:
        raise AssertionError("the file was looked at whole")

    monkeypatch.setattr("passband.analysis.reading.read_text", never)
    monkeypatch.setattr(by_head, "WORTH_IT", 0)
    assert read_log(data, name="x.csv")[0].text.rows == ROWS


LATE = (
    b"\x00", b"\x00" * 512, b"\r", b"\r\r\n", b"\xe9", "\u2212".encode(), b"\x96", b"No Fix", b'"', b",", b";",
    b"1.2.3", b"\n\n", b" ", b"1e400", b"inf", b"Time [s],RPM,Oil Press [kPa]\n", b"# end\n", b"\x1a", b"1.234,5",
)  # fmt: skip


@pytest.mark.parametrize("late", LATE)
@pytest.mark.parametrize(
    ("kind", "where"),
    [("plain", "in a cell"), ("plain", "for a cell"), ("semicolons, decimal commas, Latin-1", "at a line's end"),
     ("umlauts in UTF-8", "at the end")],
)  # fmt: skip
def test_what_begins_after_the_head_is_met_all_the_same(kind, where, late, monkeypatch):  # slow twin
    data = SOUND[kind]
    line = data.rfind(b"\n", 0, 130_000) + 1
    cell = line + data[line:].index(b"," if kind != "semicolons, decimal commas, Latin-1" else b";") + 1
    at = {"in a cell": cell + 2, "for a cell": cell, "at a line's end": line - 1, "at the end": len(data)}[where]
    skipped = 4 if where == "for a cell" else 0
    quick, slow = read_both_ways(data[:at] + late + data[at + skipped :], monkeypatch)
    assert quick == slow


@pytest.mark.parametrize("cell", [b"12.5", b"1.234", b"8.400,5"])
def test_a_point_among_decimal_commas_after_the_head_is_met_all_the_same(cell, monkeypatch):  # slow twin
    data = SOUND["semicolons, decimal commas, Latin-1"]
    at = data.index(b";", data.rfind(b"\n", 0, 130_000)) + 1
    quick, slow = read_both_ways(data[:at] + cell + data[data.index(b";", at) :], monkeypatch)
    assert quick == slow


def test_a_row_that_differs_costs_one_strict_read_not_two(monkeypatch):  # planted
    from passband.analysis.reading import blocks

    lines = log_of()
    lines[5000] = lines[5000].replace(".", "x")
    reads: list[int] = []
    real = blocks.read_clean_rows
    monkeypatch.setattr(blocks, "read_clean_rows", lambda *given: reads.append(1) or real(*given))
    monkeypatch.setattr(by_head, "WORTH_IT", 0)
    (log,) = read_log("\n".join(lines).encode(), name="x.csv")
    assert log.text.rows >= ROWS - 1 and np.isfinite(log.channels[0].time_s).all()
    first = len(reads)
    reads.clear()
    monkeypatch.setattr(by_head, "WORTH_IT", 1 << 30)
    read_log("\n".join(lines).encode(), name="x.csv")
    assert first == len(reads)
