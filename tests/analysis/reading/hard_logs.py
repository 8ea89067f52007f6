"""How a log made of a run (`hard_run`) is read, and what it then holds is held against the run."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from passband.analysis.channels.log import Log
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import Cells, HardRun, printed, table, usual

PRINTED = 0.006
"""What printing may move a value by, as a share of the channel's greatest."""


def read_one(data: bytes) -> Log:
    """The one log of a file."""
    (log,) = read_log(data, name="hard.csv")
    return log


def read_table(run: HardRun, columns: Mapping[str, Cells], *, delimiter: str = ",", digits: int = 3) -> Log:
    """The log of a table of a run's stamps and what is given."""
    return read_one(table({"Time [s]": printed(run.time_s, digits), **columns}, delimiter=delimiter))


def read_beside_usual(
    run: HardRun, columns: Mapping[str, Cells], *, without: str = "", delimiter: str = ","
) -> Log:  # fmt: skip
    """The log of a table with the usual columns but one beside what is given."""
    kept = {name: cells for name, cells in usual(run).items() if not without or not name.startswith(without)}
    return read_table(run, {**kept, **columns}, delimiter=delimiter)


def assert_holds(log: Log, channel: str, truth: np.ndarray, *, within: float = PRINTED) -> None:
    """A channel holds the truth to what is printed."""
    found = log.get(channel)
    assert found is not None, [one.name for one in log.channels]
    np.testing.assert_allclose(found.values, truth, atol=within * float(np.abs(truth).max()))


def assert_holds_run(run: HardRun, log: Log, *channels: str, within: float = PRINTED) -> None:
    """Channels hold what the run did."""
    for channel in channels:
        assert_holds(log, channel, run.of(channel), within=within)


def codes(log: Log) -> set[str]:
    """Which findings a log has."""
    return {finding.code for finding in log.findings}
