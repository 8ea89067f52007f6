"""Runs that stand twice: once by some of their logs, once by more of them, as where a dash's log came later.

Public: `runs_of_same_logs`, `twins_of`, `told_twice`.
"""

from __future__ import annotations

from collections.abc import Sequence

from passband.analysis.results.plain_values import JsonObject
from passband.service.kept.run_answers import title_of
from passband.service.store.records import LogRecord, Records, RunRecord
from passband.web.shown.run import NamedRun


def runs_of_same_logs(records: Records, logs: Sequence[LogRecord], *, but_of: str = "") -> list[RunRecord]:
    """Runs of other uploads whose logs are all among these, or hold all of these.

    Parameters
    ----------
    records : Records
        What is kept.
    logs : sequence of LogRecord
        Of one upload.
    but_of : str
        Id of that upload, where it is kept.

    Returns
    -------
    list of RunRecord
        Oldest first. A dash's log that is shared by two runs, each with an ECU's log of its own, makes them no twins.
    """
    ours = {log.sha256 for log in logs}
    found = records.runs_with_logs(ours)
    return [run for run in found if run.upload_id != but_of and _within(ours, {log.sha256 for log in run.logs})]


def twins_of(records: Records, run: RunRecord) -> list[NamedRun]:
    """The same of a run that is kept, for its page: each by its title and its logs."""
    found = runs_of_same_logs(records, run.logs, but_of=run.upload_id)
    return [NamedRun(one.id, f"{title_of(one)} ({_names(one)})") for one in found]


def _within(ours: set[str], theirs: set[str]) -> bool:
    return ours <= theirs or theirs <= ours


def told_twice(records: Records, logs: Sequence[LogRecord]) -> tuple[JsonObject, ...]:
    """A finding for each run that stands here already by some of an upload's logs; the upload is not kept yet."""
    return tuple(
        {
            "code": "run-stands-twice",
            "level": "caution",
            "text": f"{_names(run)} of this upload is here already, as {title_of(run)}: the same run now stands twice "
            "and counts twice in sheets. Keep the one with more logs and delete the other.",
            "where": run.id,
        }
        for run in runs_of_same_logs(records, logs)
    )


def _names(run: RunRecord) -> str:
    return " with ".join(log.name for log in run.logs)
