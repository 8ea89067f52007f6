"""Random damage: never an unhandled error, bounded time, and no wrong engine speed without a finding."""

import random
import time

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from passband.analysis.channels.log import LogError
from passband.analysis.reading import describe, read_log
from tests.analysis.reading.dialects import Dialect, a_run, write

LONGEST_S = 5.0
"""Most processor time for a damaged log of 20 kB; a sound one takes 0.01 s. [s]"""
SHEET = a_run(250)
FILES = [
    write(SHEET, dialect).data
    for dialect in (
        Dialect(),
        Dialect(delimiter=";", decimal=",", units="row", encoding="latin-1", line_end="\r\n"),
        Dialect(delimiter="\t", preamble=("Title{d}x", "Fuel{d}m{d} c"), encoding="utf-16-le"),
        Dialect(quoted_cells=True, quoted_header=True),
        Dialect(time="iso zone"),
        Dialect(time="counter", line_end="\r"),
        Dialect(compression="gzip"),
    )
]
KINDS = ["flip", "byte", "cut line", "shift", "repeat line", "delete", "insert", "swap", "truncate", "nul", "quote"]


def damaged(data: bytes, kind: str, times: int, dice: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(times):
        at = dice.randrange(max(len(out), 1))
        end = out.find(b"\n", at)
        if not out:
            break
        if kind == "flip":
            out[at] ^= 1 << dice.randrange(8)
        elif kind in ("byte", "nul"):
            out[at] = dice.randrange(256) if kind == "byte" else 0
        elif kind == "cut line" and end > 0:
            del out[at:end]
        elif kind in ("shift", "quote"):
            out[at:at] = dice.choice([b",", b";", b"\t"]) if kind == "shift" else b'"'
        elif kind == "repeat line" and end > 0:
            out[end:end] = out[at:end][:2000] * 2  # a file may be one long line: it must not double thirty times
        elif kind == "delete":
            del out[at : at + dice.randrange(1, 200)]
        elif kind == "insert":
            out[at:at] = bytes(dice.randrange(256) for _ in range(dice.randrange(1, 20)))
        elif kind == "swap":
            other = dice.randrange(len(out))
            out[at : at + 50], out[other : other + 50] = out[other : other + 50], out[at : at + 50]
        elif kind == "truncate":
            out = out[: max(at, 1)]
    return bytes(out)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    file=st.sampled_from(FILES),
    kind=st.sampled_from(KINDS),
    times=st.sampled_from([1, 2, 5, 30]),
    seed=st.integers(0, 2**32),
)
def test_a_damaged_log_is_read_or_refused_and_nothing_else(file, kind, times, seed):
    data = damaged(file, kind, times, random.Random(seed))
    began = time.process_time()
    try:
        describe(read_log(data, name="damaged.csv"))
    except LogError as refusal:
        assert str(refusal)
    assert time.process_time() - began < LONGEST_S


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    kind=st.sampled_from(["cut line", "shift", "delete", "truncate", "nul", "quote"]),
    times=st.sampled_from([1, 2, 5]),
    seed=st.integers(0, 2**32),
)
def test_no_engine_speed_far_off_goes_without_a_finding(kind, times, seed):
    # A flipped digit that gives a likely speed cannot be told; damage to the layout can.
    data = damaged(FILES[0], kind, times, random.Random(seed))
    try:
        logs = read_log(data, name="damaged.csv")
    except LogError:
        return
    truth = SHEET.column("Engine Speed")
    told = [finding for log in logs for finding in log.findings]
    for log in logs:
        engine = log.get("engine_speed")
        if engine is not None:
            known = engine.values[np.isfinite(engine.values)]
            foreign = [value for value in known if np.min(np.abs(truth - value)) > 300]
            assert not foreign or told


DIALECTS = (
    Dialect(),
    Dialect(delimiter=";", decimal=",", units="row", encoding="latin-1", line_end="\r\n"),
    Dialect(delimiter="\t", time="h:m:s", units="row in brackets", encoding="utf-16-le"),
)


def with_damaged_lines(dialect: Dialect, kind: str, dice: np.random.Generator) -> bytes:
    """The run with some of its lines cut, shifted by a cell or out of place, in a dialect."""
    text = write(SHEET, dialect).data.decode("utf-16" if dialect.encoding == "utf-16-le" else dialect.encoding)
    lines = text.split(dialect.line_end)
    first = 3
    chosen = range(int(dice.integers(first, len(lines))), len(lines)) if kind.endswith("on") else ()
    for at in chosen or dice.integers(first, len(lines), int(dice.choice([1, 4, 30]))):
        cells = lines[at].split(dialect.delimiter)
        cell = 0 if chosen else int(dice.integers(len(cells)))
        if kind.startswith("cut"):
            lines[at] = lines[at][: int(dice.integers(len(lines[at]) + 1))]
        elif kind.startswith("left"):
            lines[at] = dialect.delimiter.join(cells[:cell] + cells[cell + 1 :])
        elif kind.startswith("right"):
            lines[at] = dialect.delimiter.join([*cells[:cell], "0", *cells[cell:]])
        elif kind == "joined":
            lines[at - 1 : at + 1] = [lines[at - 1] + lines[at], ""]
        elif kind == "swapped":
            other = int(dice.integers(first, len(lines)))
            lines[at], lines[other] = lines[other], lines[at]
    text = dialect.line_end.join(lines)
    return text.encode("utf-16" if dialect.encoding == "utf-16-le" else dialect.encoding)


def test_lines_cut_shifted_joined_or_swapped_give_no_not_given_engine_speed():
    # Planted: 180 files; each value within 300 rev/min of the truth at its time, or a finding.
    dice = np.random.default_rng(7)
    truth, time_s = SHEET.column("Engine Speed"), np.arange(250) / 100.0
    for at in range(180):
        kind = ["cut", "left", "right", "left from here on", "right from here on", "joined", "swapped"][at % 7]
        try:
            logs = read_log(with_damaged_lines(DIALECTS[at % 3], kind, dice), name="damaged.csv")
        except LogError:
            continue
        for log in logs:
            engine = log.get("engine_speed")
            if engine is None or log.findings:
                continue
            away = np.abs(engine.known.values - np.interp(engine.known.time_s, time_s, truth))
            assert away.max(initial=0.0) < 300.0, kind
