"""Review damaged pairs of logs under a limit of memory and time: only a refusal in words may come out.

    python -m tests.fuzz.review_fuzz --count 1000 [--seed 0] [--seconds 1200] [--most-failures 1]

Prints how many were reviewed, refused, and failed, by kind of damage. A case is made of its number alone, so one can be
repeated: `--seed` of it and `--count 1`.
"""

from __future__ import annotations

import argparse
import gzip
import random
import signal
import sys
import time
import tomllib
import traceback
import warnings
from collections import Counter
from pathlib import Path
from types import FrameType

from passband.analysis.channels.log import LogError
from passband.analysis.given.car import Air, Car, Slip
from passband.analysis.reading import describe, read_log
from passband.analysis.report import as_table
from passband.analysis.results.codec import as_json
from passband.analysis.review import review
from passband.demo_logs.make_weekend import FOLDER
from tests.fuzz.damage import Sheet, spoil

LEAD_S, TAIL_S = 4.0, 15.0
"""What is kept of a log about its run, so that a case is quick. [s]"""
LONGEST_S = 20.0
"""Most processor time for a case; a sound pair takes 0.2 s. [s]"""
ROOM_BYTES = 3 * 512 * 1024 * 1024
"""Address space that a case may take beyond what the imports map; a sound pair takes some 50 MB."""


class TooLong(BaseException):
    """A case took longer than it may; nobody may catch it on the way."""


def _too_long(number: int, frame: FrameType | None) -> None:
    raise TooLong


def hold_memory() -> None:
    """Limit the address space of this process to what it has and `ROOM_BYTES` more, where that can be done."""
    try:
        import resource
    except ImportError:
        return
    mapped = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (mapped + ROOM_BYTES, hard))


def _cut(name: str, delimiter: str = ",") -> Sheet:
    """A log of the demo weekend from shortly before its fastest stretch to shortly after."""
    lines = gzip.decompress((FOLDER / name).read_bytes()).decode("utf-8-sig").splitlines()
    header = next(at for at, line in enumerate(lines) if "Engine Speed" in line)
    rows = [line.split(",") for line in lines[header + 1 :]]
    speed = next(at for at, title in enumerate(lines[header].split(",")) if "Wheel Speed" in title or "Engine" in title)
    known = [row for row in rows if row[speed]]
    peak = float(max(known, key=lambda row: float(row[speed]))[0])
    kept = [row for row in rows if peak - TAIL_S < float(row[0]) < peak + LEAD_S]
    return Sheet([*lines[: header + 1]], kept, delimiter, header)


def corpus() -> list[tuple[str, str]]:
    """The pairs of logs that are spoilt."""
    told = tomllib.loads((FOLDER / "runs.toml").read_text(encoding="utf-8"))["runs"]
    return [(one["logs"][0], one["logs"][1]) for one in told]


def _copy(sheet: Sheet) -> Sheet:
    return Sheet([*sheet.head], [[*row] for row in sheet.rows], sheet.delimiter, sheet.header)


class Cases:
    """Damaged pairs by number."""

    def __init__(self) -> None:
        self._pairs = [(_cut(ecu), _cut(dash)) for ecu, dash in corpus()[:4]]
        told = tomllib.loads((FOLDER / "runs.toml").read_text(encoding="utf-8"))["runs"][0]
        self.car = Car(**tomllib.loads((FOLDER / "car.toml").read_text(encoding="utf-8")))
        self.slip, self.air = Slip(**told["slip"]), Air(**told["air"])

    def sound(self, number: int) -> list[bytes]:
        """The files of a pair as they were."""
        return [sheet.bytes() for sheet in self._pairs[number]]

    def make(self, number: int) -> tuple[list[bytes], tuple[str, ...]]:
        """The files of a case, and what was done to them."""
        dice = random.Random(number)
        sheets = [_copy(sheet) for sheet in dice.choice(self._pairs)]
        which = dice.choice([(0,), (0,), (1,), (0, 1)])
        files, ways = [], []
        for at, sheet in enumerate(sheets):
            data, done = spoil(sheet, dice) if at in which else (sheet.bytes(), ())
            files.append(data)
            ways += [f"{'ecu' if at == 0 else 'dash'} {way}" for way in done]
        if dice.random() < 0.1:
            files.pop(dice.randrange(2))
        return files, tuple(ways)

    def run(self, number: int) -> str:
        """Review a case: ``reviewed`` or ``refused``; whatever else comes out of it is a fault."""
        files, _ = self.make(number)
        try:
            logs = [read_log(data, name=f"{at}.csv", index=at) for at, data in enumerate(files)]
            for log in logs:
                describe(log)
            slips = [self.slip] if number % 2 else []
            for one in review(logs, self.car if number % 3 else Car(name="bare"), slips, self.air):
                as_json(one)
                as_table(one)
        except LogError as refusal:
            if not str(refusal):
                raise AssertionError("a refusal without words") from refusal
            return "refused"
        return "reviewed"


def main(arguments: list[str] | None = None) -> int:
    """Run cases and print their counts; 1 if any failed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--most-failures", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="stop after so much processor time")
    told = parser.parse_args(arguments)
    warnings.simplefilter("error")
    cases, counts, failed, slowest = Cases(), Counter[str](), 0, (0.0, 0)
    hold_memory()
    signal.signal(signal.SIGVTALRM, _too_long)
    for number in range(told.seed, told.seed + told.count):
        began = time.process_time()
        if began > told.seconds:
            break
        signal.setitimer(signal.ITIMER_VIRTUAL, LONGEST_S)
        try:
            counts[cases.run(number)] += 1
        except KeyboardInterrupt:
            raise
        except BaseException:
            failed += 1
            print(f"case {number}: {', '.join(cases.make(number)[1])}", traceback.format_exc(), sep="\n", flush=True)
            if failed >= told.most_failures:
                break
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        slowest = max(slowest, (time.process_time() - began, number))
    print(
        f"{counts['reviewed']} reviewed, {counts['refused']} refused, {failed} failed; "
        f"slowest {slowest[0]:.1f} s (case {slowest[1]})"
    )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
