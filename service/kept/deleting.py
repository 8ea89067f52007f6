"""Deleting: a run goes to the trash, comes back from it, or is let go of for good.

Public: `Deleting`.
"""

from __future__ import annotations

from dataclasses import replace

from passband.service.kept.bringing_back import bring_back_deleted
from passband.service.kept.whole_writes import WholeWrites, incoming
from passband.service.reviewing.upload_review import UploadReviewer
from passband.service.store.faults import NotWhole
from passband.service.store.folder import LibraryFolder
from passband.service.store.records import RunRecord
from passband.service.store.row_records import RowRecords
from passband.service.store.trash import Reason, TrashedFile


class Deleting:
    """How runs of a library go and come back.

    Parameters
    ----------
    folder : LibraryFolder
        With the trash.
    records : RowRecords
        Their rows.
    reviewer : UploadReviewer
        Reviews again what comes back without its review.
    writes : WholeWrites
        Of the same library.
    """

    def __init__(
        self, folder: LibraryFolder, records: RowRecords, reviewer: UploadReviewer, writes: WholeWrites
    ) -> None:
        self._folder, self._records, self._reviewer, self._writes = folder, records, reviewer, writes
        self._trash = folder.trash

    def remove(self, run_id: str, *, place_to: str = "") -> str | None:
        """Put a run into the trash, with its logs; they stay here too if another run is of them.

        Parameters
        ----------
        run_id : str
            Which run.
        place_to : str
            Id of the run that stands in its place from now on, in the order of all runs; empty for none.

        Returns
        -------
        str or None
            Its entry in the trash, by which it can be restored; None if there is no such run.
        """
        return self._folder.reserve.spend(lambda: self._remove(run_id, place_to))

    def restore(self, entry_id: str) -> tuple[RunRecord, ...] | None:
        """Bring back what lies in the trash, as it was, ids and all.

        Parameters
        ----------
        entry_id : str
            Which entry.

        Returns
        -------
        tuple of RunRecord
            The runs, here again; None if there is no such entry.

        Raises
        ------
        CannotRestore
            If it holds no runs that can be brought back, or others have their place; it stays in the trash.
        """
        with self._writes.whole() as written, incoming(self._folder) as folder:
            entry = self._trash.entry(entry_id)
            if entry is None:
                return None
            upload = bring_back_deleted(self._folder, self._records, self._reviewer, entry, (folder, written))
            self._trash.discard(entry_id)
            return tuple(run for one in upload.runs if (run := self._records.run(one.id)))

    def let_go(self, entry_id: str) -> bool:
        """Let go of an entry of the trash for good; False if there is none."""
        return self._folder.reserve.spend(lambda: self._let_go(entry_id))

    def _remove(self, run_id: str, place_to: str) -> str | None:
        with self._writes.alone:
            run, review = self._records.run(run_id), self._review_as_it_lies(run_id)
            upload = self._records.upload_record(run.upload_id) if run else None
            if run is None or review is None or upload is None:
                return None
            this = replace(upload, runs=tuple(one for one in upload.runs if one.id == run_id))
            files = [TrashedFile(log.sha256, self._folder.originals) for log in run.logs]
            files.append(TrashedFile(run.table_key, self._folder.tables))
            why = "It was deleted by a person."
            texts = {f"review-{run_id}.json": review}
            entry, whole = self._trash.put(Reason.DELETED, why, files=files, upload=this, texts=texts), False
            try:
                whole = self._records.remove_run(run_id, place_to=place_to)
            finally:
                if not whole:
                    self._trash.discard(entry)
            self._writes.let_go_of(self._folder.tables, [run.table_key])
            self._writes.let_go_of(self._folder.originals, [log.sha256 for log in run.logs])
            self._folder.kept.remove(run_id)
            return entry

    def _review_as_it_lies(self, run_id: str) -> bytes | None:
        """A run's review; empty where it is damaged: a run can be deleted all the same, and is reviewed again then."""
        try:
            return self._records.review(run_id)
        except NotWhole:
            return b""

    def _let_go(self, entry_id: str) -> bool:
        with self._writes.alone:
            if self._trash.entry(entry_id) is None:
                return False
            self._trash.discard(entry_id)
            self._records.give_back_room()
            return True
