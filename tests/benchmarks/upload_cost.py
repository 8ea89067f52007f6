"""What an upload costs over the review alone: a usual pair and an hour's, kept durably, in turn with a plain review.

python -m tests.benchmarks.upload_cost [--rounds 5] [--records postgresql] [--files store]

One warm process reads and reviews a pair; then a warm server of its own takes the very same bytes, which it has not
seen (a column says the round's number), and answers once they are kept. Bytes and form are ready before either is
timed: to write down 54 MB of form takes the sender longer than the service takes to receive them. The sender is this
process, on the same cores: it hands its bytes to the system and waits. Both are timed by the clock and by the
processor, the server with its processes; what is printed are the ratios, round by round, their medians, and the ratio
of the least of each: others on the machine make a time longer and never shorter. Server and store as in
`readers_and_uploaders`.
"""

from __future__ import annotations

import argparse
import gzip
import os
import statistics
import time
from collections.abc import Callable, Sequence
from functools import partial

from passband.analysis.given.car import Car
from passband.analysis.reading import read_log
from passband.analysis.review import review
from passband.service.commands.demo import WEEKEND
from passband.service.reviewing.threads import one_algebra_thread
from tests.benchmarks.readers_and_uploaders import FORM, form_of, logs_of, served, spent_s
from tests.benchmarks.reviewing import PAIR, hours_log
from tests.service.real_server import Server


def reviewed(given: Sequence[bytes]) -> None:
    """Read and review a pair here."""
    logs = [read_log(data, name=name, index=n) for n, (data, name) in enumerate(zip(given, PAIR, strict=True))]
    if not review(logs, Car(name="Heron")):
        raise RuntimeError("no run was found")


def uploaded(server: Server, form: bytes) -> None:
    """Have the server take it."""
    answer = server.ask("POST", "/api/runs", form, FORM["Content-Type"])
    if answer.status != 201:
        raise RuntimeError(answer.body[:300])


def spent(piece: Callable[[], None], processor_s: Callable[[], float]) -> tuple[float, float]:
    """By the clock and by the processor."""
    began, began_cpu = time.perf_counter(), processor_s()
    piece()
    return time.perf_counter() - began, processor_s() - began_cpu


def main() -> None:
    """Print the ratios."""
    one_algebra_thread()
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--records", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--files", choices=("folder", "store"), default="folder")
    told = parser.parse_args()
    print(f"load before: {', '.join(f'{one:.1f}' for one in os.getloadavg())} on {os.cpu_count()} cores", flush=True)
    usual = [gzip.decompress((WEEKEND / name).read_bytes()).decode("utf-8-sig").splitlines() for name in PAIR]
    with served(told.records, told.files) as server:
        in_turn(server, "usual pair", usual, told.rounds)
        in_turn(server, "hour's pair", [hours_log(name).decode().splitlines() for name in PAIR], told.rounds)


def in_turn(server: Server, name: str, texts: list[list[str]], rounds: int) -> None:
    """Review and upload a pair by turns, and print what each took."""
    for number in range(3):  # warm: both processes of the server, and this one
        uploaded(server, form_of(logs_of(texts, -number - 1)))
    reviewed(logs_of(texts, 0))
    took: list[tuple[float, ...]] = []
    for number in range(1, rounds + 1):
        given = logs_of(texts, number)
        form = form_of(given)
        alone = spent(partial(reviewed, given), time.process_time)
        kept = spent(partial(uploaded, server, form), lambda: sum(spent_s(server)))
        took.append((*alone, *kept))
        by_clock, by_processor = (f"{one:.2f} s, uploaded {other:.2f}" for one, other in zip(alone, kept, strict=True))
        print(f"{name}: reviewed in {by_clock} s; processor {by_processor} s", flush=True)
    clock, processor = (statistics.median(one[at + 2] / one[at] for one in took) for at in (0, 1))
    least = [min(one[at] for one in took) for at in range(4)]
    ratios = f"{clock:.2f} by the clock, {processor:.2f} by the processor"
    print(f"{name}: {ratios}; of the least {least[2] / least[0]:.2f}, {least[3] / least[1]:.2f}", flush=True)


if __name__ == "__main__":
    main()
