"""What one pass over the rows shows. *Hand*: each by the bytes themselves; *planted* at the edges of pieces."""

import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.text.bare_digits import LookedThrough, look_through

ROW = b"0.02,6010.5,-3.25\n"
PIECE = 2**18


def test_plain_rows_are_bare_and_hold_no_return():
    assert look_through(ROW * 40_000, 0) == LookedThrough(carriage_return=False, point=True, bare=True)


@pytest.mark.parametrize("odd", [b"1e31", b"1E31", b"nan", b"inf", 31 * b"9", b"-" + 40 * b"9" + b".5"])
@pytest.mark.parametrize("at", [0, 7, PIECE - 40, PIECE - 15, PIECE - 1, PIECE, 3 * PIECE + 5])
def test_a_number_that_may_be_beyond_measure_is_seen_wherever_it_stands(odd, at):
    rows = bytearray(ROW * 60_000)
    rows[at:at] = b"\n" + odd + b"\n"
    assert not look_through(bytes(rows), 0).bare
    assert look_through(bytes(rows), at + 2 + len(odd)).bare  # what stands before the rows is not looked at


@pytest.mark.parametrize("at", [0, PIECE - 1, PIECE, 2 * PIECE + 3])
@pytest.mark.parametrize("letter", [b"", b"x"])
def test_a_return_is_seen_also_behind_a_letter(letter, at):
    rows = bytearray(letter + ROW * 60_000)
    rows[at + 1 : at + 1] = b"\r"
    assert look_through(bytes(rows), 0).carriage_return


def test_semicolons_between_numbers_with_decimals_are_bare():
    assert look_through(b"0,02;6010,5;-3,25;17\n" * 40_000, 0).bare


def test_a_number_beyond_measure_deep_in_a_large_file_is_set_aside():
    rows = [f"{at / 50:.2f},{at}.5,{at % 97}.25,{at % 89}.75,{at % 83}.5" for at in range(40_000)]
    rows[33_000] = f"{33_000 / 50:.2f},{'7' * 35},1.25,2.75,3.5"
    (log,) = read_log("\n".join(["Time [s],A [kPa],B [kPa],C [kPa],D [kPa]", *rows, ""]).encode(), name="x.csv")
    assert [one.code for one in log.findings if one.code == "values-beyond-measure"] == ["values-beyond-measure"]


@pytest.mark.parametrize("at", [0, PIECE - 1, PIECE, 2 * PIECE + 3])
@pytest.mark.parametrize("letter", [b"", b"x"])
def test_a_point_among_decimal_commas_is_seen_also_behind_a_letter(letter, at):
    rows = bytearray(letter + ROW.replace(b".", b",") * 60_000)
    assert not look_through(bytes(rows), 0).point
    rows[at + 1 : at + 1] = b"."
    assert look_through(bytes(rows), 0).point
