"""Bytes to text: encodings and line ends."""

import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.text.encoding import read_text

LONGEST_LINE = 2 * 1024 * 1024
"""What is promised: no line longer than 2 MiB. [bytes]"""
PIECE = 131_072
"""Planted: a power of two, as pieces are cut; no answer may depend on it."""
BODY = "Time;Öl [°C]\r\n0,01;74,1\r\n"


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (BODY.encode(), "utf-8"),
        (BODY.encode("utf-8-sig"), "utf-8-sig"),
        (BODY.encode("latin-1"), "latin-1"),
        (("\ufeff" + BODY).encode("utf-16-le"), "utf-16-le"),
        (("\ufeff" + BODY).encode("utf-16-be"), "utf-16-be"),
        (BODY.encode("utf-16-le"), "utf-16-le"),
        ((BODY + "“soft”").encode("cp1252"), "cp1252"),
    ],
)
def test_each_encoding_is_told_and_read(data, encoding):
    text = read_text(data, name="x")
    assert text.encoding == encoding
    assert text.lines()[0].text == "Time;Öl [°C]"


def test_a_letter_beyond_one_byte_survives_utf_16():
    text = read_text("\ufeffTime;λ\n0;1\n".encode("utf-16-le"), name="x")
    assert text.lines()[0].text == "Time;λ"


@pytest.mark.parametrize("at", [0, PIECE - 2, PIECE - 1, PIECE, 2 * PIECE + 7])
@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_letters_of_two_units_across_pieces_stay_whole(at, encoding):
    # Slow twin: the codec over all of it at once
    written = ("0.5,1\n" * PIECE)[: 3 * PIECE]
    written = written[:at] + "λ\U0001f3c1°" + written[at:]
    text = read_text(("\ufeff" + written).encode(encoding), name="x")
    assert text.decode(text.data) == written


@pytest.mark.parametrize("at", [0, PIECE - 1, PIECE, 5 * PIECE, 9 * PIECE])
@pytest.mark.parametrize("letters", ["", "\u00b0", "\U0001f3c1"])
@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_a_long_file_of_wide_letters_is_the_codec_s(at, letters, encoding):
    written = ("0.5,1\n" * (2 * PIECE))[: 9 * PIECE + 5]
    written = written[:at] + letters + written[at:]
    text = read_text(("\ufeff" + written).encode(encoding), name="x")
    assert text.data == written.encode()
    assert text.byte_encoding == ("utf-8" if letters else "ascii")


def test_half_a_letter_at_the_end_of_wide_letters_is_seen():
    text = read_text("\ufeffTime;λ\n0;1\n".encode("utf-16-le") + b"2", name="x")
    assert text.decode(text.data) == "Time;λ\n0;1\n\ufffd"


@pytest.mark.parametrize("before", [0, 1, LONGEST_LINE // 2, 3 * LONGEST_LINE])
def test_a_line_may_be_as_long_as_the_longest_row_and_no_longer(before):
    # Pairs just below and above; wherever the line stands
    others = (b"1,2\n" * (before // 4 + 1))[: 4 * (before // 4)]
    longest = b"1" * LONGEST_LINE
    assert read_text(others + longest + b"\n3,4\n", name="x").line_end == "\n"
    with pytest.raises(NotALog, match=f"line {before // 4 + 1} goes on"):
        read_text(others + longest + b"1\n3,4\n", name="x")


def test_one_damaged_byte_does_not_change_the_encoding():
    text = read_text("Öldruck;Kühlmittel;Zündwinkel\n1;2;3\n".encode() + b"4;\xff;6\n", name="x")
    assert text.encoding == "utf-8"


@pytest.mark.parametrize(("line_end", "kept"), [("\n", "\n"), ("\r\n", "\n"), ("\r", "\r")])
def test_each_kind_of_line_end_parts_the_same_lines(line_end, kept):
    text = read_text(line_end.join(["a,b", "1,2", "3,4"]).encode(), name="x")
    assert text.line_end == kept
    assert [line.text for line in text.lines()] == ["a,b", "1,2", "3,4"]
    assert [line.number for line in text.lines()] == [1, 2, 3]


def test_lone_returns_among_line_feeds_end_lines_too():
    text = read_text(b"a,b\r1,2\n3,4\r\n5,6\n", name="x")
    assert [line.text for line in text.lines()] == ["a,b", "1,2", "3,4", "5,6"]


def test_a_line_knows_its_byte_and_number():
    text = read_text(b"abc\nde\nf\n", name="x")
    assert [(line.start, line.number) for line in text.lines(4)] == [(4, 2), (7, 3)]


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(NotALog, match="bytes that are no text"):
        read_text(bytes(range(1, 32)) * 100, name="x")


def test_a_line_longer_than_any_row_is_refused_before_it_is_parted():
    data = b"Time,RPM\n" + b"0.1,2000\n" * 50 + b"1," * (1024 * 1024 + 1) + b"\n" + b"0.2,2000\n" * 50
    with pytest.raises(NotALog, match=r"line 52 goes on for 2\.1 MB"):
        read_text(data, name="x.csv")
