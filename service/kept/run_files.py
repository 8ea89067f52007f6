"""The files of a run: its logs as they came and its table, opened for whoever reads them.

Public: `RunFiles`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import BinaryIO

from passband.service.store.faults import NotWhole
from passband.service.store.folder import LibraryFolder
from passband.service.store.records import LogRecord, Records, RunRecord


class RunFiles:
    """What lies of the runs of a library.

    Parameters
    ----------
    records : Records
        Which files a run has.
    folder : LibraryFolder
        Where they lie.
    """

    def __init__(self, records: Records, folder: LibraryFolder) -> None:
        self._records = records
        self._originals, self._tables = folder.originals, folder.tables

    def open_table(self, run_id: str) -> tuple[RunRecord, BinaryIO] | None:
        """A run and its table, open for reading; None if there is no such run, `NotWhole` if its table is gone."""
        run = self._records.run(run_id)
        while run is not None:
            try:
                return run, self._tables.open(run.table_key)
            except KeyError:
                run = self._changed(run, "The table of channels")
        return None

    def log(self, run_id: str, n: int) -> LogRecord | None:
        """A log of a run; None if there is no such log."""
        run = self._records.run(run_id)
        return run.logs[n] if run is not None and 0 <= n < len(run.logs) else None

    def address(
        self, run_id: str, key: str, *, seconds: int, headers: Mapping[str, str], encodings: Collection[str]
    ) -> str | None:
        """An address elsewhere at which a file of a run can be had for a while, as it was given.

        Parameters
        ----------
        run_id : str
            Which run.
        key : str
            Of one of its logs or its table.
        seconds : int
            How long.
        headers : mapping of str to str
            What is to stand above it.
        encodings : collection of str
            What who asks can unpack.

        Returns
        -------
        str or None
            None where it can only be had here.

        Raises
        ------
        NotWhole
            If it is not there.
        """
        run = self._records.run(run_id)
        blobs = self._tables if run is not None and run.table_key == key else self._originals
        try:
            return blobs.address(key, seconds=seconds, headers=headers, encodings=encodings)
        except KeyError:
            raise NotWhole(run_id, "A file") from None

    def open_log(self, run_id: str, n: int) -> tuple[LogRecord, BinaryIO] | None:
        """A log of a run as it came, open for reading; None if there is no such log, `NotWhole` if it is gone."""
        run = self._records.run(run_id)
        while run is not None and 0 <= n < len(run.logs):
            try:
                return run.logs[n], self._originals.open(run.logs[n].sha256)
            except KeyError:
                run = self._changed(run, f"The log {run.logs[n].name}")
        return None

    def _changed(self, run: RunRecord, what: str) -> RunRecord | None:
        """A run whose file was not there, as somebody has made it meanwhile; `NotWhole` if nobody has."""
        now = self._records.run(run.id)
        if now == run:
            raise NotWhole(run.id, what)
        return now
