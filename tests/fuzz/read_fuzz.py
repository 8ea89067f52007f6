"""Read mutated logs of many dialects: only a refusal in words may leave, soon, in little memory, and time never falls.

    python -m tests.fuzz.read_fuzz --count 1000 [--seed 0] [--seconds 1200] [--most-failures 1] [--every 600]
        [--small | --forms | --mix]

Prints how many were read, refused and failed, now and then too where `--every` says after how many seconds. A case is
made of its number alone, so one can be repeated: `--seed` of it and `--count 1`. Small cases are other cases: a few kB
each, so that many go into an hour; bounds of time and memory are tried by the usual ones. Forms are other cases again:
what terminals, boards and receivers write. Of twenty of a mix eight are of 60 or 200 rows, five as exporters, sheets
and mails leave them, three forms, three small and one usual, by the case's number.
"""

from __future__ import annotations

import argparse
import binascii
import json
import random
import resource
import signal
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

import numpy as np

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.reading import describe, read_log
from tests.analysis.reading.dialects import Dialect, a_run, write
from tests.fuzz.damage import bytes_spoilt

LONGEST_S = 2.0
"""Most processor time for an input below 1 MB, as promised. [s]"""
MOST_BYTES = 256 * 1024 * 1024
"""Most memory beyond what the process holds when it starts, as promised."""
LARGEST = 1_000_000
"""Bytes of an input; a mutation may double parts of it."""

DIALECTS = (
    Dialect(),
    Dialect(delimiter=";", decimal=",", units="row", encoding="latin-1", line_end="\r\n"),
    Dialect(delimiter="\t", preamble=("Title{d}x", "Fuel{d}m{d} c"), encoding="utf-16-le"),
    Dialect(quoted_cells=True, quoted_header=True),
    Dialect(time="iso zone", units="parentheses"),
    Dialect(time="h:m:s", trailing=True),
    Dialect(time="counter", line_end="\r"),
    Dialect(time="none", delimiter="|", units="preamble"),
    Dialect(time="ms", units="slash", padded=True),
    Dialect(compression="gzip"),
)


class TooLong(BaseException):
    """A case took longer than it may; nobody may catch it on the way."""


def _too_long(number: int, frame: FrameType | None) -> None:
    raise TooLong


@dataclass(frozen=True, slots=True)
class Sizes:
    """How large inputs are."""

    sound: tuple[bytes, ...]
    """What is mutated."""
    token: tuple[int, ...]
    """How often a token may stand one after the other."""
    head: tuple[int, ...]
    """How often the first lines may."""


def _sound(*rows: int) -> tuple[bytes, ...]:
    return tuple(write(a_run(many), dialect).data for dialect in DIALECTS for many in rows)


def _forms(rows: int) -> Iterator[bytes]:
    """Logs in forms of terminals, boards and receivers: named values, line marks, counts, minutes, steps of time."""
    of = range(rows)
    names = "Time [s],Engine Speed [rpm],Latitude,Longitude,Phi,Gear"
    lines = [f"{at / 50:.2f},{at * 37 % 8192},{5204 + at / 1e3:.4f},{1324 + at / 1e3:.4f},1.1,{at % 5}" for at in of]
    yield "\n".join(f'{{"t": {at / 50}, "rpm": {1000 + at}, "map": null}}' for at in of).encode()
    yield "\n".join(f"time={at / 50} s; rpm={1000 + at}, map={at}.5 kPa" for at in of).encode()
    yield "\n".join(f"{at:5d}\t{line}" for at, line in enumerate([names, *lines])).encode()
    yield "\n".join(f"May  3 14:03:{at % 60:02d} host: {line}" for at, line in enumerate([names, *lines])).encode()
    yield "\n".join([names, *(f"[{line}]," for line in lines)]).encode()
    yield "\n".join(line.replace(",", "~") for line in [names, *lines]).encode()
    yield "\n".join([names, *reversed(lines)]).encode()
    yield "\n".join(["dt [ms],RPM,E", *(f"20,{1000 + at:04X},{at}k" for at in of)]).encode()
    yield "\n".join(
        ["Time;RPM;Lat", *(f"00:{at // 60:02d}:{at % 60:02d}:{at % 25:02d};{at}±2;52°{at % 60}'N" for at in of)]
    ).encode()
    yield "\n".join([*("<tr><td>" + line.replace(",", "<td>") for line in ["<table>", names, *lines])]).encode()
    yield ("<l>" + "".join(f'<s t="{at / 50}" rpm="{at}" v="1"/>' for at in of) + "</l>").encode()
    yield ("<l>" + "".join(f"<s><t>{at / 50}</t><rpm>{at}</rpm></s>" for at in of) + "</l>").encode()
    yield json.dumps({"rate": 50, "data": {"t": [at / 50 for at in of], "rpm": [1000 + at for at in of]}}).encode()
    yield json.dumps([{"t": at / 50, "oil": {"p": at}} for at in of]).encode()
    yield "\n".join(f"{name},{','.join(str(at * (1 + place)) for at in of)}" for place, name in
                    enumerate(("Time", "RPM", "Gear"))).encode()  # fmt: skip
    digits = str.maketrans("0123456789.", "٠١٢٣٤٥٦٧٨٩٫")
    yield "\n".join([names.replace(",", ";"), *(line.replace(",", ";").translate(digits) for line in lines)]).encode()


def _exports(rows: int) -> Iterator[bytes]:
    """Logs as exporters, sheets and mails leave them: in pairs, by turns, wrapped, framed, listed, scaled."""
    of = range(rows)
    names = ["Time [s]", "Engine Speed [rpm]", "MAP [kPa]"]
    cells = [(f"{at / 50:.2f}", f"{1000 + at * 37 % 7000}", f"{30 + at % 90}.5") for at in of]
    lines = [",".join(row) for row in [names, *cells]]
    blanks = "\n".join(" ".join(row) for row in cells)
    yield "\n".join(",".join(f'"""{one}"""' for one in row) for row in [names, *cells]).encode()
    yield ("Engine Speed [rpm],,MAP [kPa],\nX,Y,X,Y\n" + "\n".join(f"{t},{n},{t},{p}" for t, n, p in cells)).encode()
    yield ("Time Engine Speed Manifold Pressure\n" + blanks).encode()
    yield ("# 0 time (s)\n# 1 engine speed (rpm)\n# 2 MAP (kPa)\n" + blanks).encode()
    yield ("names = {'Time','RPM','MAP'};\ndata = [\n" + blanks.replace("\n", ";\n") + ";\n];\n").encode()
    yield ('"Time" "RPM" "MAP"\n' + "\n".join(f'"{at}" {" ".join(row)}' for at, row in enumerate(cells, 1))).encode()
    yield "\n".join(f"> {row[0]}, {row[1]},\n> {row[2]}" for row in [names, *cells]).encode()
    rule = "┌──┬──┐\n"
    yield (rule + "\n".join("│ " + " ┆ ".join(row) + " │" for row in [names, *cells]) + "\n└──┴──┘\n").encode()
    yield "\n".join(f"- t: {t}\n  rpm: {n}\n  map: {p} kPa" for t, n, p in cells).encode()
    yield ("Time & RPM & MAP \\\\\n" + "\n".join(" & ".join(row) + " \\\\" for row in cells)).encode()
    turns = [f"ENG,{t},{n}\nMAP,{t},{p}" for t, n, p in cells]
    yield "\n".join(["#ENG,Time [s],RPM", "#MAP,Time [s],MAP [kPa]", *turns]).encode()
    yield "\n".join(
        ["t,id,v"] + [f"{t},0x0C,{n}\n{t},0x0B,{p}" for t, n, p in cells] + ["0x0C: RPM", "0x0B: MAP"]
    ).encode()
    yield "\n".join(f"{line},,{line}" for line in lines).encode()
    yield "\n".join(
        ["Name;Time;RPM;MAP", "Unit;s;rpm;kPa", "Factor;1;0.25;2", *(";" + ";".join(row) for row in cells)]
    ).encode()
    yield b"Content-Transfer-Encoding: quoted-printable\n\n" + binascii.b2a_qp("\n".join(lines).encode())
    yield "\n".join([*lines[1:], lines[0]]).encode()
    yield "\n".join(
        ["Rate: 50 Hz", *("\n".join([name, *(row[at] for row in cells)]) for at, name in enumerate(names))]
    ).encode()
    yield "\n".join(["x0.5,x2,x0.1", *(f"«{t}»,«{n}»,«{p}»" for t, n, p in [names, *cells])]).encode()
    yield "\n".join(f"{row}{',0.125' * 6}"[at : at + 40] for row in lines for at in (0, 40)).encode()


USUAL = Sizes(_sound(3, 40, 250), (1, 1, 3, 400), (2, 30, 200))
SMALL = Sizes(_sound(3, 8, 16), (1, 1, 3, 12), (2, 3, 5))
FORMS = Sizes(tuple(text for rows in (8, 40, 250) for text in _forms(rows)), (1, 1, 3, 400), (2, 30, 200))
ROWS = Sizes(_sound(60, 200), (1, 1, 3, 40), (2, 5, 20))
EXPORTS = Sizes(tuple(text for rows in (8, 40, 120) for text in _exports(rows)), (1, 1, 3, 40), (2, 5, 20))
MIX = (ROWS, EXPORTS, FORMS, ROWS, SMALL) * 3 + (ROWS, EXPORTS, ROWS, EXPORTS, USUAL)
"""Sizes of a mix's cases by number: hundreds of rows cost a hundredth of a second or two, and hold whole recordings."""
TOKENS = (b'"', b"'", b",", b";", b"\t", b"\n", b"\r", b"\r\n", b"\x00" * 512, b"\\,", b'="1"', "\u2212".encode(),
          b"No Fix", b"NaN", b"1e400", b"-", b" ", b"\x1f\x8b", b"\xff\xfe", b"\x93\xfa\x96\x7b", b"N,N,N,N,N",
          b"1.234,5", b"12:00:00", b"Time,Channel,Value\n", b"# end\n", b"Units,s,rpm\n")  # fmt: skip


def make(number: int, sizes: Sizes = USUAL) -> bytes:
    """The input of a case."""
    dice = random.Random(number)
    data = bytearray(dice.choice(sizes.sound))
    for _ in range(dice.choice([1, 1, 2, 4])):
        how = dice.randrange(8)
        line = b"\n" if b"\n" in data else b"\r"
        at = dice.randrange(len(data) + 1)
        if how <= 1:
            data = bytearray(bytes_spoilt(bytes(data), dice))
        elif how == 2:
            token = dice.choice(TOKENS) * dice.choice(sizes.token)
            data[at:at] = token[: LARGEST // 4]
        elif how == 3:  # a token put for another all through, or from a place on
            old, new = dice.choice([b",", b".", b"\n", b";", b'"', b"0"]), dice.choice(TOKENS)
            data[at:] = data[at:].replace(old, new) if len(data) < LARGEST // 60 else data[at:]
        elif how == 4:  # lines moved
            lines = bytes(data).split(line)
            one, two = dice.randrange(len(lines)), dice.randrange(len(lines))
            lines[one], lines[two] = lines[two], lines[one]
            data = bytearray(line.join(lines))
        elif how == 5:  # another file behind
            data += dice.choice(sizes.sound)
        elif how == 6:  # a column out of all lines from some line on
            lines = bytes(data).split(line)
            start, column = dice.randrange(len(lines)), dice.randrange(6)
            for row in range(start, len(lines)):
                cells = lines[row].split(b",")
                del cells[column : column + 1]
                lines[row] = b",".join(cells)
            data = bytearray(line.join(lines))
        else:  # the head many times
            head = b"".join(one + line for one in bytes(data).split(line)[: dice.randrange(1, 6)])
            data[:0] = head * min(dice.choice(sizes.head), LARGEST // max(len(head), 1) + 1)  # a head may be all of it
    return bytes(data[:LARGEST])


def check(log: Log) -> None:
    """Raise where a log breaks what all logs keep to."""
    for channel in log.channels:
        if channel.time_s.size != channel.values.size:
            raise AssertionError(f"{channel.header}: {channel.time_s.size} times for {channel.values.size} values")
        if not np.isfinite(channel.time_s).all() or np.any(np.diff(channel.time_s) < 0):
            raise AssertionError(f"{channel.header}: its time falls or is none")


def run(data: bytes) -> str:
    """Read a case: ``read`` or ``refused``; whatever else comes out of it is a fault."""
    try:
        logs = read_log(data, name="x.csv")
    except NotALog as refusal:
        if not str(refusal):
            raise AssertionError("a refusal without words") from refusal
        return "refused"
    for log in logs:
        check(log)
    describe(logs)
    return "read"


def _status_bytes(field: str) -> int:
    """What the system counts of this process: ``VmRSS``, or ``VmHWM``, the most since `_forget_peak`."""
    line = next(one for one in Path("/proc/self/status").read_text(encoding="ascii").splitlines() if field in one)
    return int(line.split()[1]) * 1024


def _forget_peak() -> None:
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


def hold_memory() -> None:
    """Limit the address space to what the process has, what threads reserve without using, and `MOST_BYTES`."""
    mapped = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (mapped + 6 * MOST_BYTES, hard))


@dataclass
class Tally:
    """What came of the cases so far."""

    counts: Counter[str] = field(default_factory=Counter)
    failed: int = 0
    places: Counter[str] = field(default_factory=Counter)
    """Failures by the last place of ours they passed; the first of each is printed whole."""
    slowest: tuple[float, int] = (0.0, 0)
    most_bytes: tuple[int, int] = (0, 0)

    def try_case(self, number: int, sizes: Sizes) -> None:
        """Run one case under its bounds."""
        data = make(number, sizes)  # which may cost more than reading it
        began = time.process_time()
        _forget_peak()
        before = _status_bytes("VmRSS")
        signal.setitimer(signal.ITIMER_VIRTUAL, LONGEST_S)
        try:
            came = run(data)
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
            more = _status_bytes("VmHWM") - before
            self.most_bytes = max(self.most_bytes, (more, number))
            if more > MOST_BYTES:
                raise AssertionError("more memory than promised")
            self.counts[came] += 1
        except KeyboardInterrupt:
            raise
        except BaseException as fault:
            self._tell(number, fault)
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        self.slowest = max(self.slowest, (time.process_time() - began, number))

    def _tell(self, number: int, fault: BaseException) -> None:
        self.failed += 1
        frame = next((one for one in reversed(traceback.extract_tb(fault.__traceback__)) if "analysis" in one.filename),
                     None)  # fmt: skip
        place = f"{type(fault).__name__} in {frame.name if frame else 'the check'}"
        self.places[place] += 1
        whole = "".join(traceback.format_exception(fault)) if self.places[place] == 1 else ""
        print(f"case {number}: {place}", whole, sep="\n", flush=True)

    def __str__(self) -> str:
        return (
            f"{self.counts['read']} read, {self.counts['refused']} refused, {self.failed} failed; slowest "
            f"{self.slowest[0]:.1f} s (case {self.slowest[1]}), at most {self.most_bytes[0] / 2**20:.0f} MiB (case "
            f"{self.most_bytes[1]})"
        )


def main(arguments: list[str] | None = None) -> int:
    """Run cases and print their counts; 1 if any failed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--most-failures", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so much processor time")
    parser.add_argument("--every", type=float, default=float("inf"), help="print the counts after so many seconds")
    parser.add_argument("--small", action="store_true", help="inputs of a few kB: many in an hour")
    parser.add_argument("--forms", action="store_true", help="rows of terminals, boards and receivers")
    parser.add_argument("--mix", action="store_true", help="all of these, most of them of some hundred rows")
    told = parser.parse_args(arguments)
    sizes = MIX if told.mix else (FORMS if told.forms else SMALL if told.small else USUAL,)
    warnings.simplefilter("error")
    for number in range(-20, 0):  # what loads on first use, loaded
        run(make(number))
    hold_memory()
    signal.signal(signal.SIGVTALRM, _too_long)
    tally, began, printed = Tally(), time.monotonic(), time.monotonic()
    for number in range(told.seed, told.seed + told.count):
        if time.process_time() > told.seconds or tally.failed >= told.most_failures:
            break
        tally.try_case(number, sizes[number % len(sizes)])
        if time.monotonic() - printed >= told.every:
            printed = time.monotonic()
            print(f"{printed - began:.0f} s: {tally}", flush=True)
    print(tally)
    return 1 if tally.failed else 0


if __name__ == "__main__":
    sys.exit(main())
