"""What a start does with what a crash left, once every check holds: into the trash with it, told, never away.

Public: `settle`, `note_doubt`, `unused_files`, `trash_unused`, `drop_deletions_cut_off`.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Sequence
from dataclasses import replace

from passband.service.store.folder import LibraryFolder
from passband.service.store.ledger import State
from passband.service.store.row_records import RowRecords
from passband.service.store.soundness import Found
from passband.service.store.sqlite_records import SqliteRecords
from passband.service.store.trash import Reason, TrashedFile
from passband.service.store.upload_records import UploadRecord

UNUSED_S = 24 * 3600.0
"""So long a file that no row names is left where it is, wherever more than one program can keep files: far longer than
an upload is under way at most. Common practice, no source. [s]"""
WHY_CUT_OFF = "It was being kept when the service was cut off; whoever sent it was never told that it was kept."

log = logging.getLogger("passband")


def settle(folder: LibraryFolder, records: SqliteRecords, found: Found, *, trash_days: int) -> None:
    """Put what has no row into the trash, write records that are missing, let the trash's time run.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    records : SqliteRecords
        Its rows.
    found : Found
        Without doubt.
    trash_days : int
        How long the trash keeps what lies in it; 0 for ever.
    """
    for upload in found.cut_off:
        _trash_cut_off(folder, records, upload)
    last = folder.ledger.state()
    unclaimed = last.unclaimed if last else ()
    idle_s = UNUSED_S if folder.apart else 0.0
    trash_unused(folder, unused_files(folder, records, idle_s=idle_s, besides=unclaimed))
    for car_id in found.cars_cut_off:
        folder.ledger.cars.remove(car_id)
    for item_id in found.items_cut_off:
        folder.ledger.items.remove(item_id)
    if found.without_record or found.cars_without_record or found.items_without_record:
        records.tell_again(found.without_record, found.cars_without_record, found.items_without_record)
    drop_deletions_cut_off(folder, records)
    folder.trash.expire(trash_days)
    last, now = folder.ledger.state(), records.state()
    unclaimed = last.unclaimed if last else ()
    if last != replace(now, unclaimed=unclaimed):
        folder.ledger.write_state(replace(now, unclaimed=unclaimed))


def note_doubt(folder: LibraryFolder, records: SqliteRecords, found: Found) -> None:
    """Tell a doubt, and keep it in mind until a recheck: what is added meanwhile must not make it look sound."""
    condition = found.condition
    if condition.doubt is None:
        return
    log.warning("%s", condition.text)
    folder.ledger.contested |= found.contested
    records.number_on_from(found.number)
    last = folder.ledger.state() or State(0, 0, 0, 0)
    if last.doubt != condition.doubt.name:
        generation = max(last.generation, records.state().generation)
        folder.ledger.write_state(replace(last, generation=generation, doubt=condition.doubt.name))


def _trash_cut_off(folder: LibraryFolder, records: SqliteRecords, upload: UploadRecord) -> None:
    keys = upload.originals | upload.tables
    free = keys - records.keys_in_use(keys)
    entry = folder.trash.put(Reason.CUT_OFF, WHY_CUT_OFF, upload=upload, files=_files(folder, upload))
    for blobs in (folder.originals, folder.tables):
        for key in free:
            blobs.remove(key)
    folder.ledger.uploads.remove(upload.key)
    log.warning("an upload that was cut off went to the trash as %s", entry)


def _files(folder: LibraryFolder, upload: UploadRecord) -> list[TrashedFile]:
    originals = [TrashedFile(key, folder.originals) for key in sorted(upload.originals)]
    return originals + [TrashedFile(key, folder.tables) for key in sorted(upload.tables)]


def unused_files(
    folder: LibraryFolder, records: RowRecords, *, idle_s: float, besides: Collection[str] = ()
) -> list[TrashedFile]:  # fmt: skip
    """Files that no row names.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    records : RowRecords
        Its rows.
    idle_s : float
        For how long a file must have lain there. [s]
    besides : collection of str
        Keys of files that are left out.

    Returns
    -------
    list of TrashedFile
        Logs, then tables.
    """
    unused = []
    for blobs in (folder.originals, folder.tables):
        keys = list(blobs.keys(idle_s=idle_s))
        free = set(keys) - records.keys_in_use(keys) - set(besides)
        unused += [TrashedFile(key, blobs) for key in sorted(free)]
    return unused


def trash_unused(folder: LibraryFolder, unused: Sequence[TrashedFile]) -> None:
    """Put files that no row names into the trash, but for those that lie in it already.

    Parameters
    ----------
    folder : LibraryFolder
        The library's.
    unused : sequence of TrashedFile
        As `unused_files` finds them.
    """
    in_trash = folder.trash.keys() if unused else set()
    going = [file for file in unused if file.key not in in_trash]
    if going:
        entry = folder.trash.put(Reason.CUT_OFF, WHY_CUT_OFF, files=going)
        log.warning("%d files without a row went to the trash as %s", len(going), entry)
    for file in unused:
        file.blobs.remove(file.key)


def drop_deletions_cut_off(folder: LibraryFolder, records: RowRecords) -> None:
    """A deletion that was cut off before it counted: all it put into the trash is still where it was."""
    for entry in list(folder.trash.entries()):
        runs = entry.upload.runs if entry.upload else ()
        if entry.reason is Reason.DELETED and runs and all(records.run(run.id) for run in runs):
            folder.trash.discard(entry.id)
