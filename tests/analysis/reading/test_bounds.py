"""Small files that once crashed the reader or held it up: each is read or refused in words, soon.

Regression: each input is made here by hand; the bound is processor time for less than 1 MB of text.
"""

import gzip
import time

import numpy as np
import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.channels.recognition import recognise_name
from passband.analysis.reading import read_log

LONGEST_S = 2.0
"""Most processor time for an input of less than 1 MB. [s]"""


def _text(header, rows):
    return ("\n".join([header, *rows]) + "\n").encode()


def _ragged(columns):
    """Rows each of which ends at its last value: 2 to `columns` cells."""
    names = ["Time", "RPM", *(f"Aux {k}" for k in range(columns - 2))]
    cells = [[f"{i * 0.01:.2f}", f"{3000 + i}", *["7"] * (columns - 2)] for i in range(300)]
    rows = [",".join(row[: 2 + i * 7 % (columns - 1)]) for i, row in enumerate(cells)]
    return _text(",".join(names), rows)


def _a_clock_that_falls(columns):
    """Rows of many columns that move, a clock that starts again every 40 rows."""
    rows = [[i % 40, *((i * (k + 3)) % 997 for k in range(columns))] for i in range(900)]
    return _text(",".join(["Time", *(f"Aux {k}" for k in range(columns))]), [",".join(map(str, row)) for row in rows])


SOUND = _text("Time,RPM", [f"{i * 0.01:.2f},{3000 + i}" for i in range(300)])
WIDE = _text(
    "Time (s)," + ",".join(f"Cyl {k} Temp (C)" for k in range(1999)),
    [",".join([f"{i * 0.01:.2f}", *(str(50 + (i + k) % 10) for k in range(1999))]) for i in range(80)],
)
INPUTS = {
    "trailing blanks left out": _ragged(40),
    "a name without bound": b"N," * 1000 + b"N\n",
    "a name without bound over rows": _text("N," * 1000 + "N", [",".join(["1"] * 1001)] * 5),
    "like gzip": b"\x1f\x8b\x08" + SOUND,
    "like gzip within gzip": gzip.compress(b"\x1f\x8b" + SOUND),
    "like zlib": b"x\x01" + SOUND,
    "stamps of denormal size": _text("Time,RPM", [f"{i * 1e-320},{3000 + i}" for i in range(300)]),
    "stamps past all size": _text("Time,RPM", [f"{i * 1e300},{3000 + i}" for i in range(300)]),
    "2000 columns": WIDE,
    "200 long names that end as no sign does": _text(
        "Time," + ",".join(f"p{'a1' * 140}{k}-" for k in range(200)), [",".join(["1"] * 201)] * 5
    ),
    "200 long names of one word": _text(
        "Time," + ",".join(f"{'xyz' * 98}{k}" for k in range(200)), [",".join(["1"] * 201)] * 5
    ),
    "a header over each two rows": b"Time,RPM\n0,1\n1,2\n" * 20000,
    "a clock that falls beside 250 columns": _a_clock_that_falls(250),
    "signs of answered mails alone": b"> \n" * 200,
    "a name and a number by turns": b"".join(b"name %d\n%d\n" % (k, k) for k in range(60_000)),
    "lines as long as each other": (b"1,2,3,4," * 6 + b"\n") * 18_000,
    "words of kinds by turns": b"".join(b"K%d,1,2\n" % (k % 50) for k in range(120_000)),
    "names and colons": b"".join(b"a%d: 1\n" % (k % 40) for k in range(130_000)),
    "soft ends of lines": b"Content-Transfer-Encoding: quoted-printable\n\n" + b"1,2=\n" * 160_000,
    "corners of frames": "│1│2│\n".encode() * 80_000,
    "two headers in turn": b"Time,RPM\n0,1\n0.1,2\nTime,MAP\n0,1\n0.1,3\n" * 10000,
    "quotes alone": b'"' * 100_000,
    "digits without end above": b"1" * 20_000 + b"hz\n" + SOUND,
    "rules without end above": b"--," * 20_000 + b"x\n" + b"-" * 60_000 + b"\n" + SOUND,
    "one column": b"1\n" * 400_000,
    "a line without end": b"a" * 900_000,
    "elements within one another": b"<a>" * 300_000,
    "cells without rows": b"<table>" + b"<td>" * 200_000,
    "lists within one another": b"[" * 900_000,
    "names without bound in objects": b"[" + b",".join(b'{"a%d":1,"b%d":2}' % (k, k) for k in range(45_000)) + b"]",
}


@pytest.mark.parametrize("kind", INPUTS)
def test_it_is_read_or_refused_in_words_soon(kind):
    start = time.process_time()
    try:
        logs = read_log(INPUTS[kind], name=f"{kind}.csv")
    except NotALog:
        logs = ()
    assert time.process_time() - start < LONGEST_S
    assert all(np.all(np.diff(channel.time_s) >= 0) for log in logs for channel in log.channels)


def test_rows_that_each_leave_out_their_own_number_of_blanks_are_all_read():
    # Planted: 40 columns, the widths of the rows 2 to 40 equally often; RPM is 3000 rev/min and one more each row.
    (log,) = read_log(INPUTS["trailing blanks left out"], name="ragged.csv")
    speed = log.get("engine_speed")
    assert speed is not None and speed.values.tolist() == list(range(3000, 3300))


def test_text_that_begins_like_gzip_within_gzip_is_read_as_text():
    (log,) = read_log(INPUTS["like gzip within gzip"], name="packed.csv.gz")
    assert log.get("engine_speed") is not None


def test_a_name_without_bound_means_no_channel():
    assert recognise_name("N " * 5000) == () == recognise_name("n n n n")


WIDER_THAN_ITS_HEADER = (
    b"Time;Engine Speed;Throttle;Manifold Pressure;Coolant Temp;Driven Wheel Speed;Nitrous Bottle\r\n"
    b"s;rpm;%;kPa;\xb0C;km/h;bar\r\n0,000;959;0,9;33,7;74,0;0,993\r\n0,010;996;1,5;36,8;74,0;0,996\r"
    b'"0,020;1033;4,6;38,1;74,1;0,49;59,988\r"'
)
NO_ROW_LEFT = (
    b"Time;Engine Speed;Throttle;Manifold Pressure;Coolant Temp;Driven Wheel Speed;Nitrous Bottle\r\n"
    b"s;rpm;%;kPa;\xb0C;km/h;bar\r\n0,000;959;0,9;35,0;74,1;0,00;6Time,Channel,Value\n0,002\r\n"
    b"0,010;971;0,9;34,7;74,1;0,00;59,995\r\n0,020;958;0,9;34,2;74,0;0,00;60,002\r\n"
    b"Time;Engine Speed;Throttle;Manifold Pressure;Coolant Temp;Driven Wheel Speed;Nitrous Bottle"
)
SIGN_OF_A_DIGIT = "Time [s],Temp \u278b\n".encode() + b"".join(b"%.2f,%d\n" % (i * 0.01, i) for i in range(20))


@pytest.mark.parametrize("data", [WIDER_THAN_ITS_HEADER, NO_ROW_LEFT, SIGN_OF_A_DIGIT])
def test_what_the_fuzz_found_is_read_or_refused_in_words(data):
    # Regression: a damaged row with more cells than the header; rows none of which is left; a header with a sign that
    # is a digit and no number.
    try:
        read_log(data, name="x.csv")
    except NotALog as refusal:
        assert str(refusal)
