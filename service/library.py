"""The library: a run in, a review out. Files first, rows last, so that a crash leaves a whole run or nothing.

Public: `Library`, `TakenIn`, `LibraryInUse`.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import secrets
import shutil
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, BinaryIO

import orjson

from passband.analysis.channels.log import NoRunInLog
from passband.analysis.given.car import Air, Slip
from passband.service.details import RunChanges, UploadDetails
from passband.service.reviewing import ReviewedRun, ReviewTask
from passband.service.settings import Settings
from passband.service.store.files import Blobs, FolderBlobs, hash_of
from passband.service.store.records import (
    CarRecord,
    Details,
    LogRecord,
    NewReview,
    NewUpload,
    Records,
    RunRecord,
    SqliteRecords,
)
from passband.service.told import read_car, read_told
from passband.service.uploads import ReceivedFile
from passband.service.workers import Workers

Told = dict[str, Any]

FILE_TWICE: Told = {
    "code": "file-sent-twice",
    "level": "note",
    "text": "A file came more than once in the same upload; it was used once.",
    "where": "",
}
ALREADY_HERE: Told = {
    "code": "logs-already-here",
    "level": "note",
    "text": "These logs are here already, and nothing was changed; what is said of a run is changed at the run itself.",
    "where": "",
}


class LibraryInUse(RuntimeError):
    """Another program has the folder open."""


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What became of an upload."""

    runs: tuple[RunRecord, ...]
    findings: tuple[Told, ...]
    """Of the upload as a whole, then of each review, told once."""
    new: bool
    """False where the same logs were here already."""


class Library:
    """Everything the service keeps, in one folder.

    Parameters
    ----------
    settings : Settings
        `data` is the folder, made if it is not there.

    Raises
    ------
    LibraryInUse
        If another program has the folder open.
    """

    def __init__(self, settings: Settings) -> None:
        root = settings.data.resolve()
        root.mkdir(parents=True, exist_ok=True)
        self._lock_file = _lock(root)
        self._incoming = root / "incoming"
        shutil.rmtree(self._incoming, ignore_errors=True)
        self._incoming.mkdir()
        self.records: Records = SqliteRecords(root / "library.sqlite")
        self._originals: Blobs = FolderBlobs(root / "originals")
        self._tables: Blobs = FolderBlobs(root / "runs", suffix=".parquet")
        for blobs in (self._originals, self._tables):
            self._remove_unused(blobs, list(blobs.keys()))
        self._workers = Workers(settings.workers, seconds=settings.review_seconds)
        self._writing = threading.RLock()
        self._turns = _Turns()

    def close(self) -> None:
        """End the workers and let go of the folder."""
        self._workers.close()
        self.records.close()
        self._lock_file.close()

    @contextmanager
    def incoming(self) -> Iterator[Path]:
        """An empty folder for an upload's files, gone with all that is left in it at the end."""
        folder = self._incoming / secrets.token_hex(8)
        folder.mkdir()
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)

    def take_in(
        self,
        files: Sequence[ReceivedFile],
        *,
        car: CarRecord | None,
        details: UploadDetails,
        not_before: threading.Event | None = None,
    ) -> TakenIn:
        """Review an upload's files and keep them with every run found in them.

        Parameters
        ----------
        files : sequence of ReceivedFile
            In a folder of `incoming`; taken over if they hold a run, untouched if not.
        car : CarRecord or None
            The car, in the version to be used.
        details : UploadDetails
            What the user said.
        not_before : Event, optional
            Keep nothing until it is set: so do uploads that are reviewed side by side still come in order.

        Returns
        -------
        TakenIn
            The runs. The same files again give the runs that are here, whatever else was said.

        Raises
        ------
        LogError, ToldError
            If the files hold no run, or slip or air cannot be used; nothing is kept.
        """
        _check_told(details.slips, details.air)
        once: dict[str, ReceivedFile] = {}
        for file in files:
            once.setdefault(hash_of(file.path), file)
        logs = [LogRecord(n, file.name, digest, file.bytes) for n, (digest, file) in enumerate(once.items())]
        twice = [FILE_TWICE] if len(once) < len(files) else []
        key = hashlib.sha256("".join(sorted(once)).encode()).hexdigest()
        with self._turns.of(key):
            here = self.records.upload(key)
            if here is not None and len(here[0]) == here[1]:
                return TakenIn(tuple(here[0]), (*twice, ALREADY_HERE), new=False)
            paths = [once[log.sha256].path for log in logs]
            reviewed = self._review(logs, paths, car, details, details.slips, paths[0].parent)
            if not_before is not None:
                not_before.wait()
            reviews = self._keep(key, logs, paths, reviewed, car, details)
            runs = self.records.upload(key)
        told = [finding for review in reviews for finding in review["findings"]]
        return TakenIn(tuple(runs[0]) if runs else (), _told_once([*twice, *told]), new=True)

    def review_again(self, run_id: str, changes: RunChanges) -> RunRecord | None:
        """Change what is said of a run and review it again, with the newest version of its car.

        Parameters
        ----------
        run_id : str
            Which run.
        changes : RunChanges
            What is new; may be empty, which only reviews again.

        Returns
        -------
        RunRecord or None
            The run as it is now; None if there is none. Until the new review is whole the old one stands.

        Raises
        ------
        LogError, ToldError
            If the logs hold no such run any more (as when the car now says a channel is another), or a key cannot be
            used; the old review stands.
        """
        run = self.records.run(run_id)
        if run is None:
            return None
        with self._turns.of(run.upload_id), self.incoming() as folder:
            run = self.records.run(run_id)
            if run is None:
                return None
            said = changes.model_dump(exclude_unset=True)
            car_id = said.pop("car", run.car[0] if run.car else None)
            car = self.records.car(car_id) if car_id else None
            details = replace(run.details, **said)
            slips: dict[int, Told] = {s.position: s.details.slip or {} for s in self.records.siblings(run.upload_id)}
            slips[run.position] = details.slip or {}
            _check_told(list(slips.values()), details.air)
            in_order = [slips.get(n, {}) for n in range(max(slips) + 1)]
            paths = [self._copy_out(log, folder) for log in run.logs]
            reviewed = self._review(run.logs, paths, car, details, in_order if any(in_order) else [], folder)
            if run.position >= len(reviewed):
                raise NoRunInLog(f"Read so, the logs hold only {len(reviewed)} of the runs; nothing was changed.")
            return self._exchange(run, reviewed[run.position], car, details)

    def remove(self, run_id: str) -> bool:
        """Forget a run, and its logs if no other run is of them.

        Parameters
        ----------
        run_id : str
            Which run.

        Returns
        -------
        bool
            False if there is none.
        """
        with self._writing:
            run = self.records.run(run_id)
            if run is None or not self.records.remove_run(run_id):
                return False
            self._remove_unused(self._tables, [run.table_key])
            self._remove_unused(self._originals, [log.sha256 for log in run.logs])
            return True

    def open_table(self, run_id: str) -> tuple[RunRecord, BinaryIO] | None:
        """A run and its table, open for reading; None if there is no such run."""
        with self._writing:
            run = self.records.run(run_id)
            return (run, self._tables.open(run.table_key)) if run else None

    def open_log(self, run_id: str, n: int) -> tuple[LogRecord, BinaryIO] | None:
        """A log of a run as it came, open for reading; None if there is no such run or log."""
        with self._writing:
            run = self.records.run(run_id)
            if run is None or not 0 <= n < len(run.logs):
                return None
            return run.logs[n], self._originals.open(run.logs[n].sha256)

    def add_car(self, told: Told) -> CarRecord:
        """Keep a new car; `ToldError` if it cannot be used."""
        read_car(told)
        return self.records.add_car(secrets.token_hex(16), told, _now())

    def change_car(self, car_id: str, told: Told) -> CarRecord | None:
        """Keep a car's next version; None if there is no such car, `ToldError` if it cannot be used."""
        read_car(told)
        return self.records.change_car(car_id, told, _now())

    def _review(
        self,
        logs: Sequence[LogRecord],
        paths: Sequence[Path],
        car: CarRecord | None,
        details: UploadDetails | Details,
        slips: Sequence[Told],
        out: Path,
    ) -> tuple[ReviewedRun, ...]:
        task = ReviewTask(
            logs=tuple((path, log.name) for path, log in zip(paths, logs, strict=True)),
            car=car.told if car else None,
            slips=tuple(slips),
            air=details.air,
            finish_ft=details.finish_ft,
            label=details.label,
            event=details.event,
            round=details.round,
            out=out,
        )
        return self._workers.run(task)

    def _keep(
        self,
        key: str,
        logs: Sequence[LogRecord],
        paths: Sequence[Path],
        reviewed: Sequence[ReviewedRun],
        car: CarRecord | None,
        details: UploadDetails,
    ) -> list[Told]:
        slips = dict(enumerate(details.slips))
        said = Details(**{**details.model_dump(), "slip": None})
        with self._writing, self._all_or_nothing() as written:
            for path in paths:
                written.append((self._originals, self._originals.put(path)))
            reviews = []
            for position, run in enumerate(reviewed):
                written.append((self._tables, table_key := self._tables.put(run.table)))
                reviews.append(_new_review(position, run, car, replace(said, slip=slips.get(position)), table_key))
            ids = [secrets.token_hex(16) for _ in reviews]
            self.records.add_upload(secrets.token_hex(16), NewUpload(key, tuple(logs), tuple(reviews)), ids)
            self._remove_unused(self._tables, [review.table_key for review in reviews])
        return [run.review for run in reviewed]

    def _exchange(
        self, run: RunRecord, reviewed: ReviewedRun, car: CarRecord | None, details: Details
    ) -> RunRecord | None:
        with self._writing, self._all_or_nothing() as written:
            written.append((self._tables, table_key := self._tables.put(reviewed.table)))
            kept = self.records.replace_review(run.id, _new_review(run.position, reviewed, car, details, table_key))
            self._remove_unused(self._tables, [run.table_key, table_key])
            return self.records.run(run.id) if kept else None

    @contextmanager
    def _all_or_nothing(self) -> Iterator[list[tuple[Blobs, str]]]:
        written: list[tuple[Blobs, str]] = []
        whole = False
        try:
            yield written
            whole = True
        finally:
            if not whole:
                for blobs, key in written:
                    self._remove_unused(blobs, [key])

    def _remove_unused(self, blobs: Blobs, keys: Sequence[str]) -> None:
        for key in set(keys) - self.records.keys_in_use(keys):
            blobs.remove(key)

    def _copy_out(self, log: LogRecord, folder: Path) -> Path:
        path = folder / f"{log.n}.part"
        with self._originals.open(log.sha256) as source, path.open("xb") as target:
            shutil.copyfileobj(source, target)
        return path


class _Turns:
    """One at a time for each key: the same logs sent twice at once are reviewed once."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._taken: set[str] = set()

    @contextmanager
    def of(self, key: str) -> Iterator[None]:
        with self._changed:
            self._changed.wait_for(lambda: key not in self._taken)
            self._taken.add(key)
        try:
            yield
        finally:
            with self._changed:
                self._taken.discard(key)
                self._changed.notify_all()


def _lock(root: Path) -> BinaryIO:
    file = (root / "lock").open("wb")
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.close()
        raise LibraryInUse(f"The folder {root} is in use by another Passband; give each its own folder.") from None
    os.set_inheritable(file.fileno(), False)
    return file


def _check_told(slips: Sequence[Told], air: Told | None) -> None:
    for slip in slips:
        read_told(Slip, slip, what="slip")
    if air is not None:
        read_told(Air, air, what="air")


def _new_review(position: int, run: ReviewedRun, car: CarRecord | None, details: Details, table_key: str) -> NewReview:
    of = {"id": car.id, "version": car.version} if car else {"id": None, "version": None}
    review = {**run.review, "car": {**run.review["car"], **of}}
    return NewReview(
        position=position,
        details=details,
        car=(car.id, car.version) if car else None,
        summary=run.summary,
        review=orjson.dumps(review),
        table_key=table_key,
        made_at=_now(),
    )


def _told_once(findings: Sequence[Told]) -> tuple[Told, ...]:
    return tuple({orjson.dumps(finding): finding for finding in findings}.values())


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
