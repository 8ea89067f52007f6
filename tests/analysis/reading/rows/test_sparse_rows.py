"""Rows most cells of which are blank, read cell by cell: the same as read whole (slow twin)."""

from functools import cache

import numpy as np
import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.rows.sparse_rows import is_mostly_blank, read_sparse_rows
from passband.analysis.reading.rows.table import row_source
from passband.analysis.reading.text.encoding import read_text
from passband.analysis.reading.text.layout import find_layout

WIDTH, ROWS = 40, 3000


@cache
def sparse_text(*, delimiter=",", decimal=".", end="\n", last_end=True, trailing=False) -> bytes:
    """A time on every row; each channel at its own rate, from every 4th row to every 43rd."""
    lines = [delimiter.join(["Time [s]", *(f"c{c} [bar]" for c in range(WIDTH))])]
    for i in range(ROWS):
        cells = [f"{i % 17 + c / 8:.3f}" if (i + c) % (4 + c) == 0 else "" for c in range(WIDTH)]
        lines.append(delimiter.join([f"{i * 0.002:.3f}", *cells]).replace(".", decimal) + delimiter * trailing)
    return (end.join(lines) + end * last_end).encode()


def whole(data: bytes, monkeypatch):
    with monkeypatch.context() as patched:
        patched.setattr("passband.analysis.reading.rows.sparse_rows.MOSTLY_BLANK", 1.1)
        return read_log(data, name="x")[0]


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"end": "\r\n"},
        {"end": "\r"},
        {"delimiter": ";", "decimal": ","},
        {"delimiter": "\t", "last_end": False},
        {"trailing": True},
    ],
)
def test_cell_by_cell_is_the_same_as_whole(how, monkeypatch):
    data = sparse_text(**how)
    (sparse,) = read_log(data, name="x")
    other = whole(data, monkeypatch)
    assert len(sparse.channels) == WIDTH and sparse.findings == other.findings
    for mine, theirs in zip(sparse.channels, other.channels, strict=True):
        assert np.array_equal(mine.values, theirs.values) and np.array_equal(mine.time_s, theirs.time_s)
        assert (mine.rate_hz, mine.resolution) == (theirs.rate_hz, theirs.resolution)


@pytest.mark.parametrize("damage", ["", "1", "x,", ",,"])
def test_damage_is_told_as_ever(damage, monkeypatch):
    lines = sparse_text().split(b"\n")
    lines[1500] = lines[1500][:20] + damage.encode() + lines[1500][23:]
    data = b"\n".join(lines)
    (sparse,) = read_log(data, name="x")
    other = whole(data, monkeypatch)
    assert sparse.findings == other.findings and sparse.text.rows == other.text.rows


def test_only_where_most_cells_are_blank_and_all_are_plain():
    def source_of(data):
        text = read_text(data, name="x")
        layout = find_layout(text, name="x")
        return row_source(text, layout, None), layout

    sparse, layout = source_of(sparse_text())
    assert is_mostly_blank(sparse) and read_sparse_rows(sparse, layout).rows == ROWS
    dense, _ = source_of(b"a,b\n" + b"1.5,2.5\n" * 900)
    assert not is_mostly_blank(dense)
    odd, layout = source_of(sparse_text().replace(b"0.500,", b"0.x00,"))
    assert read_sparse_rows(odd, layout) is None


def test_columns_of_one_rate_share_their_times():
    rows = "\n".join(f"{i * 0.01:.2f}," + ",".join(["5" if i % 5 == 0 else ""] * 6) for i in range(500))
    (log,) = read_log(f"Time [s],{','.join(f'c{c}' for c in range(6))}\n{rows}\n".encode(), name="x")
    assert log.channels[0].time_s is log.channels[5].time_s and log.channels[0].values.size == 100


@pytest.mark.parametrize("cell", ["#err", "n/a", "", "1,197.5", "on", "12.5 bar", "-"])
def test_odd_cells_among_blanks_are_read_or_told_as_in_a_dense_table(cell, monkeypatch):
    lines = sparse_text(delimiter=";").split(b"\n")
    for at in (700, 1500, 2900):
        cells = lines[at].split(b";")
        cells[7] = cell.encode()
        lines[at] = b";".join(cells)
    lines[2000] = lines[2000][:30]
    data = b"\n".join(lines)
    (sparse,) = read_log(data, name="x")
    other = whole(data, monkeypatch)
    assert sparse.findings == other.findings and "damaged-lines" in [finding.code for finding in sparse.findings]
    for mine, theirs in zip(sparse.channels, other.channels, strict=True):
        assert np.array_equal(mine.values, theirs.values, equal_nan=True)
        assert np.array_equal(mine.time_s, theirs.time_s)
