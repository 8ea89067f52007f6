"""What a start does with files that no row on the server names: into the trash with them, once they are old enough.

Other programs may be at work in the folder meanwhile. An upload's files and rows are kept under the files' turn, so a
file looked at under it is either named by a row or never will be; that it must be old as well guards against whoever
keeps no turns, such as a folder that is being copied back beside its database.

Public: `sweep`, `log_older`.
"""

from __future__ import annotations

import logging

from passband.service.store.folder import LibraryFolder
from passband.service.store.postgres_records import PostgresRecords
from passband.service.store.settling import drop_deletions_cut_off, trash_unused, unused_files
from passband.service.store.turns import FILES

OLD_S = 24 * 3600
"""A file that no row names is left alone until it is as old. Longer than any upload or copy takes. [s]"""

log = logging.getLogger("passband")


def sweep(folder: LibraryFolder, records: PostgresRecords, *, trash_days: int) -> None:
    """Put old files without a row into the trash, let the trash's time run.

    Parameters
    ----------
    folder : LibraryFolder
        The library's, claimed for these rows.
    records : PostgresRecords
        Its rows, which are no older copy.
    trash_days : int
        How long the trash keeps what lies in it; 0 for ever.
    """
    if unused_files(folder, records, idle_s=OLD_S):  # looked for first without holding anybody up
        with records.turn(FILES):
            trash_unused(folder, unused_files(folder, records, idle_s=OLD_S))
    with records.turn(FILES):
        drop_deletions_cut_off(folder, records)
        folder.trash.expire(trash_days)


def log_older(said: str) -> None:
    """Tell that the rows are an older copy."""
    log.warning("%s", said)
