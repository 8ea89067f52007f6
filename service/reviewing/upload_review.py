"""An upload's logs reviewed, as they came in or out of the store, for the library and for a recheck.

Public: `UploadReviewer`, `reviewed_of`, `of_position`, `at_of`, `slips_in_order`, `passing_folder`, `now`.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from secrets import token_hex

import orjson

from passband.analysis.channels.log import NoRunInLog
from passband.analysis.results.plain_values import JsonObject
from passband.service.given.details import UploadDetails
from passband.service.reviewing.holding_again import HeldRun
from passband.service.reviewing.progress import Progress
from passband.service.reviewing.review_files import ReviewedRun, ReviewTask
from passband.service.reviewing.workers import Workers
from passband.service.store.faults import NotWhole
from passband.service.store.files import Blobs
from passband.service.store.records import CarRecord, Details, LogRecord, NewReview
from passband.service.store.upload_records import KeptRun, UploadRecord


class UploadReviewer:
    """Reviews logs that lie in files, or are kept.

    Parameters
    ----------
    workers : Workers
        What computes.
    originals : Blobs
        Where logs are kept.
    """

    def __init__(self, workers: Workers, originals: Blobs) -> None:
        self._workers = workers
        self._originals = originals

    def review(
        self,
        logs: Sequence[tuple[Path, str]],
        car: CarRecord | None,
        details: UploadDetails | Details,
        slips: Sequence[JsonObject],
        out: Path,
        *,
        inputs: str = "",
        progress: Progress | None = None,
    ) -> tuple[ReviewedRun, ...]:
        """Review logs, each a file and its name; tables go into `out`, and with `inputs` what is kept of runs."""
        task = ReviewTask(
            logs=tuple(logs),
            car=car.given if car else None,
            slips=tuple(slips),
            air=details.air,
            finish_ft=details.finish_ft,
            label=details.label,
            event=details.event,
            round=details.round,
            out=out,
            inputs=inputs,
        )
        return self._workers.run(task, progress)

    def copy_out(self, logs: Sequence[LogRecord], folder: Path, *, run_id: str) -> list[tuple[Path, str]]:
        """Kept logs as files in a folder; `NotWhole` if one of them is missing."""
        copied = []
        for log in logs:
            path = folder / f"{log.n}.part"
            try:
                with self._originals.open(log.sha256) as source, path.open("xb") as target:
                    shutil.copyfileobj(source, target)
            except KeyError:
                raise NotWhole(run_id, f"The log {log.name}") from None
            copied.append((path, log.name))
        return copied

    def review_kept(
        self, upload: UploadRecord, runs: Sequence[KeptRun], cars: Mapping[tuple[str, int], CarRecord], folder: Path
    ) -> dict[int, tuple[ReviewedRun, CarRecord | None]]:
        """Review runs of an upload as they are recorded: each with its own details and the car's version it had.

        Parameters
        ----------
        upload : UploadRecord
            Its logs must be kept.
        runs : sequence of KeptRun
            Which of its runs.
        cars : mapping of (str, int) to CarRecord
            Cars by id and version.
        folder : Path
            Empty; tables are written below it.

        Returns
        -------
        dict of int to (ReviewedRun, CarRecord or None)
            By position.

        Raises
        ------
        LogError, GivenError
            If the logs hold no such run, or what was given cannot be used.
        NotWhole
            If a log is missing.
        """
        slips = slips_in_order({run.position: run.details.slip for run in upload.runs})
        made: dict[int, tuple[ReviewedRun, CarRecord | None]] = {}
        done: list[tuple[Details, CarRecord | None, tuple[ReviewedRun, ...]]] = []
        logs = self.copy_out(upload.logs, folder, run_id=runs[0].id) if runs else []
        for run in runs:
            car, said = cars[run.car] if run.car else None, _but_its_own(run.details)
            found = next((reviewed for details, of, reviewed in done if (details, of) == (said, car)), None)
            if found is None:
                out = folder / str(len(done))
                out.mkdir()
                found = self.review(logs, car, run.details, slips, out)
                done.append((said, car, found))
            made[run.position] = (of_position(found, run.position), car)
        return made


def of_position(reviewed: Sequence[ReviewedRun], position: int) -> ReviewedRun:
    """One of the runs found; `NoRunInLog` if there are not so many."""
    if position >= len(reviewed):
        raise NoRunInLog(f"Read so, the logs hold only {len(reviewed)} of the runs; nothing was changed.")
    return reviewed[position]


def slips_in_order(slips: Mapping[int, JsonObject | None]) -> list[JsonObject]:
    """Slips by position as a list, empty ones for runs without, none behind the last that has one."""
    last = max((position for position, slip in slips.items() if slip), default=-1)
    return [slips.get(position) or {} for position in range(last + 1)]


def reviewed_of(
    position: int,
    run: ReviewedRun | HeldRun,
    car: CarRecord | None,
    details: Details,
    table_key: str,
) -> NewReview:
    """What is kept of a run that was reviewed, or held against other bounds."""
    of = {"id": car.id, "version": car.version} if car else {"id": None, "version": None}
    review = {**run.review, "car": {**run.review["car"], **of}}
    return NewReview(
        position=position,
        details=details,
        car=(car.id, car.version) if car else None,
        summary=run.summary,
        review=orjson.dumps(review),
        table_key=table_key,
        made_at=now(),
        digest=run.digest,
    )


def at_of(run: ReviewedRun, given: str | None) -> str:
    """When a run was made: as given, else as its logs tell; a clock that is ahead of ours tells nothing."""
    if given is not None:
        return given
    tomorrow = (datetime.now(UTC) + timedelta(days=1)).date().isoformat()
    return run.made_at if run.made_at[: len(tomorrow)] <= tomorrow else ""


def now() -> str:
    """The present moment, ISO 8601, UTC."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


@contextmanager
def passing_folder(root: Path) -> Iterator[Path]:
    """An empty folder, gone with all that is left in it at the end."""
    folder = root / token_hex(8)
    folder.mkdir()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _but_its_own(details: Details) -> Details:
    """What decides how the logs are reviewed: notes and a run's own slip do not, slips are given all together."""
    return replace(details, notes="", slip=None)
