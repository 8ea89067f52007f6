"""The trash: what was deleted, and what was found without a row, each with the reason and all that brings it back.

An entry is a folder ``<date>-<reason>-<id>`` with the files and a ``reason.json``. It is made whole before what it
holds is forgotten elsewhere. Nothing leaves the trash but by a person's command, or after its time when every check
holds.

Public: `Trash`, `Entry`, `TrashedFile`, `Reason`.
"""

from __future__ import annotations

import logging
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from enum import Enum
from pathlib import Path
from typing import Any

import orjson

from passband.service.store.files import Blobs, sync_folder, write_whole
from passband.service.store.record_files import DamagedRecord
from passband.service.store.upload_records import UploadRecord, read_upload, upload_json

TOLD = "reason.json"
_NAME = re.compile(r"\d{8}T\d{6}Z-[a-z-]+-[0-9a-f]{8}")

log = logging.getLogger("passband")


class Reason(Enum):
    """Why something lies in the trash; the value is part of the folder's name."""

    DELETED = "deleted"
    CUT_OFF = "cut-off"
    REPLACED = "replaced"
    DATABASE = "database"
    RECORD = "record"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class TrashedFile:
    """A file to be put into the trash."""

    key: str
    blobs: Blobs
    suffix: str = ""
    """Put behind the key, so that a person sees what it is."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What lies in the trash together."""

    id: str
    """Name of its folder."""
    reason: Reason
    at: str
    """ISO 8601, UTC."""
    why: str
    """A sentence."""
    files: tuple[str, ...]
    """Names in its folder."""
    upload: UploadRecord | None = None
    """What it was of, with the runs that lie here."""
    missing: tuple[str, ...] = field(default=())
    """Keys of what should lie here too and was not there when it was put."""


class Trash:
    """The folder of what was deleted.

    Parameters
    ----------
    root : Path
        The folder; made if it is not there.
    scratch : Path
        A folder on the same file system for files on their way.
    """

    def __init__(self, root: Path, *, scratch: Path) -> None:
        self._root = root
        self._scratch = scratch
        root.mkdir(exist_ok=True)

    def put(
        self,
        reason: Reason,
        why: str,
        *,
        files: Sequence[TrashedFile] = (),
        upload: UploadRecord | None = None,
        texts: Mapping[str, bytes] | None = None,
    ) -> str:
        """Make an entry that is whole once its folder is there; what it holds stays where it was.

        Parameters
        ----------
        reason : Reason
            Why.
        why : str
            The same in a sentence.
        files : sequence of TrashedFile
            What is held.
        upload : UploadRecord, optional
            What it was of.
        texts : mapping of str to bytes, optional
            Further files by name.

        Returns
        -------
        str
            The entry's id.
        """
        now = datetime.now(UTC)
        name = f"{now:%Y%m%dT%H%M%SZ}-{reason.value}-{secrets.token_hex(4)}"
        made = self._scratch / name
        made.mkdir()
        try:
            names, missing = _fill(made, files, texts or {}, self._scratch)
            entry = {
                "at": now.isoformat(timespec="seconds").replace("+00:00", "Z"),
                "reason": reason.value,
                "why": why,
                "files": names,
                "missing": missing,
                "upload": upload_json(upload, 0) if upload else None,
            }
            write_whole(made / TOLD, orjson.dumps(entry, option=orjson.OPT_INDENT_2), scratch=self._scratch)
            os.replace(made, self._root / name)
        finally:
            if made.exists():
                shutil.rmtree(made)
        sync_folder(self._root)
        return name

    def move_in(self, reason: Reason, why: str, paths: Sequence[Path]) -> str:
        """Make an entry of files that are taken from where they are."""
        name = self.put(reason, why)
        for path in paths:
            os.replace(path, self._root / name / path.name)
            sync_folder(path.parent)
        sync_folder(self._root / name)
        return name

    def entries(self) -> Iterator[Entry]:
        """All entries, newest first; folders that are none of ours are passed over."""
        for path in sorted(self._root.iterdir(), reverse=True):
            if _NAME.fullmatch(path.name) and path.is_dir() and not path.is_symlink():
                yield _entry(path)

    def entry(self, id: str) -> Entry | None:
        """One entry; None if there is none."""
        return _entry(self._folder(id)) if _NAME.fullmatch(id) and self._folder(id).is_dir() else None

    def path(self, id: str, name: str) -> Path | None:
        """A file of an entry; None if it is not there."""
        path = self._folder(id) / Path(name).name
        return path if path.is_file() else None

    def keys(self) -> set[str]:
        """Keys of all originals and tables that lie here."""
        return {Path(name).stem for entry in self.entries() for name in entry.files if len(Path(name).stem) == 64}

    def discard(self, id: str) -> None:
        """Let go of an entry and all it holds."""
        if not _NAME.fullmatch(id):
            raise KeyError(f"{id!r} is no entry of the trash")
        if self._folder(id).is_dir():
            shutil.rmtree(self._folder(id))
            sync_folder(self._root)

    def expire(self, days: int) -> None:
        """Let go of what has lain here longer than a number of days; 0 keeps all."""
        limit = (datetime.now(UTC) - timedelta(days=days)).isoformat(timespec="seconds")
        for entry in list(self.entries()) if days else []:
            if entry.at and entry.at < limit:
                log.warning("the trash let go of %s after %d days", entry.id, days)
                self.discard(entry.id)

    def _folder(self, id: str) -> Path:
        return self._root / id


def _fill(
    folder: Path, files: Sequence[TrashedFile], texts: Mapping[str, bytes], scratch: Path
) -> tuple[list[str], list[str]]:
    names, missing = [], []
    for file in files:
        name = f"{file.key}{file.suffix}"
        if name in names:
            continue
        try:
            file.blobs.lend(file.key, folder / name)
            names.append(name)
        except KeyError:
            missing.append(file.key)
    for name, body in texts.items():
        write_whole(folder / name, body, scratch=scratch)
        names.append(name)
    return names, missing


def _entry(folder: Path) -> Entry:
    here = tuple(sorted(path.name for path in folder.iterdir() if path.name != TOLD))
    try:
        entry: dict[str, Any] = orjson.loads((folder / TOLD).read_bytes())
        upload = read_upload(entry["upload"])[0] if entry["upload"] else None
        return Entry(
            folder.name, Reason(entry["reason"]), entry["at"], entry["why"], here, upload, tuple(entry["missing"])
        )
    except (OSError, ValueError, KeyError, TypeError, DamagedRecord):
        why = "What was said of it cannot be read; its files are whole or not as they lie there."
        return Entry(folder.name, Reason(folder.name.split("Z-")[1].rpartition("-")[0]), "", why, here)
