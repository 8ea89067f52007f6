"""Files first, rows last: what was put for rows that were never written is taken back.

Public: `WholeWrites`, `incoming`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from passband.service.reviewing.upload_review import passing_folder
from passband.service.store.away import is_away
from passband.service.store.files import Blobs, Written
from passband.service.store.folder import LibraryFolder
from passband.service.store.row_records import RowRecords
from passband.service.store.soundness import Condition
from passband.service.store.turns import Writing


class WholeWrites:
    """Whoever changes a library's files and the rows that name them, one at a time.

    Parameters
    ----------
    folder : LibraryFolder
        Where the files lie.
    records : RowRecords
        Where the rows are.
    condition : Condition
        How far the rows are to be believed.
    shared : bool
        Whether other services have both too.
    """

    def __init__(self, folder: LibraryFolder, records: RowRecords, condition: Condition, *, shared: bool) -> None:
        self.alone = Writing(records.turn)
        """Held by who writes."""
        self._folder, self._records, self._condition, self._shared = folder, records, condition, shared

    @contextmanager
    def whole(self) -> Iterator[Written]:
        """While files are put and rows written: nobody else writes, and what was put is let go if it goes wrong."""
        with self.alone, ExitStack() as left:
            written = Written()
            left.push(lambda _kind, error, _trace: self._take_back(written, error))
            yield written

    def let_go_of(self, blobs: Blobs, keys: Sequence[str], *, but_by: str = "") -> None:
        """Remove those of some files that nothing needs but perhaps one job."""
        with self.alone:
            if self._shared and self._condition.doubt is not None:
                return
            used = self._records.keys_in_use(keys, but_by=but_by)
            if self._condition.doubt is not None:  # what only a record knows of is in use too
                known = self._folder.recorded_uploads()
                used |= {key for upload, _ in known for key in upload.originals | upload.tables}
            for key in set(keys) - used:
                blobs.remove(key)

    def _take_back(self, written: Written, error: BaseException | None) -> None:
        if error is not None and not is_away(error):  # else the rows may have been committed all the same
            for blobs, key in written.keys:
                self.let_go_of(blobs, [key])


@contextmanager
def incoming(folder: LibraryFolder) -> Iterator[Path]:
    """An empty folder for an upload's files, gone with all that is left in it at the end.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.

    Yields
    ------
    Path
        Within it, on the same disk.
    """
    try:
        with passing_folder(folder.incoming) as passing:
            yield passing
    finally:
        folder.reserve.fill()
