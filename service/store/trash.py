"""The trash: what was deleted, and what was found without a row, each with the reason and all that brings it back.

An entry is a folder ``<date>-<reason>-<id>`` with the files and a ``reason.json``. It is made whole before what it
holds is forgotten elsewhere. Nothing leaves the trash but by a person's command, or after its time when every check
holds.

Public: `Trash`, `Entry`, `TrashedFile`, `Reason`, `Aside`.
"""

from __future__ import annotations

import logging
import os
import re
import secrets
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from enum import Enum
from pathlib import Path
from typing import Protocol

import orjson

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.files import Blobs, sync_folder, write_whole
from passband.service.store.packing import PACKED, unpack_file
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


class Aside(Protocol):
    """Where originals and tables of entries lie, if not in their folders."""

    def fetch(self, entry: str, name: str, target: Path) -> bool:
        """Copy a file of an entry to a path; False if it is not there."""

    def discard(self, entry: str) -> None:
        """Let go of all files of an entry."""

    def entries(self, *, idle_s: float) -> set[str]:
        """Names of entries of which every file has lain there for so many seconds."""


class Trash:
    """The folder of what was deleted.

    Parameters
    ----------
    root : Path
        The folder; made if it is not there.
    scratch : Path
        A folder on the same file system for files on their way.
    aside : Aside, optional
        Where originals and tables of entries lie, if not in their folders.
    """

    def __init__(self, root: Path, *, scratch: Path, aside: Aside | None = None) -> None:
        self._root = root
        self._scratch = scratch
        self._aside = aside
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
        whole = False
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
            whole = True
        finally:
            if not whole:
                self._forget(made)
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
                yield self._entry(path)

    def entry(self, id: str) -> Entry | None:
        """One entry; None if there is none."""
        return self._entry(self._folder(id)) if _NAME.fullmatch(id) and self._folder(id).is_dir() else None

    def path(self, id: str, name: str) -> Path | None:
        """A file of an entry; None if it is not there."""
        path = self._folder(id) / Path(name).name
        return path if path.is_file() else None

    def copy_out(self, id: str, name: str, target: Path) -> bool:
        """Copy an original or a table of an entry to a path, as it was given; False if it is not there."""
        copy = target.with_name(f"{target.name}{PACKED}") if name.endswith(PACKED) else target
        path = self.path(id, name)
        if path is not None:
            shutil.copyfile(path, copy)
        elif self._aside is None or not self._aside.fetch(id, name, copy):
            return False
        if copy == target:
            return True
        whole = unpack_file(copy, target)
        copy.unlink()
        return whole

    def keys(self) -> set[str]:
        """Keys of all originals and tables that lie here."""
        return {Path(name).stem for entry in self.entries() for name in entry.files if len(Path(name).stem) == 64}

    def discard(self, id: str) -> None:
        """Let go of an entry and all it holds."""
        if not _NAME.fullmatch(id):
            raise KeyError(f"{id!r} is no entry of the trash")
        if self._folder(id).is_dir():
            self._forget(self._folder(id))
            sync_folder(self._root)

    def expire(self, days: int) -> None:
        """Let go of what has lain here longer than a number of days; 0 keeps all.

        So is what was laid aside for an entry that never came to be.
        """
        limit = (datetime.now(UTC) - timedelta(days=days)).isoformat(timespec="seconds")
        for entry in list(self.entries()) if days else []:
            if entry.at and entry.at < limit:
                log.warning("the trash let go of %s after %d days", entry.id, days)
                self.discard(entry.id)
        if days and self._aside is not None:
            idle = self._aside.entries(idle_s=timedelta(days=max(days, 1)).total_seconds())
            for id in sorted(idle - {path.name for path in self._root.iterdir()}):
                self._aside.discard(id)

    def _forget(self, folder: Path) -> None:
        """Files laid aside first: an entry that is still there can be let go of again."""
        if self._aside is not None:
            self._aside.discard(folder.name)
        if folder.exists():
            shutil.rmtree(folder)

    def _entry(self, folder: Path) -> Entry:
        entry = _entry(folder)
        laid = [name for name in _files_listed(folder) if name not in entry.files] if self._aside is not None else []
        return replace(entry, files=tuple(sorted([*entry.files, *laid])))

    def _folder(self, id: str) -> Path:
        return self._root / id


def _fill(
    folder: Path, files: Sequence[TrashedFile], texts: Mapping[str, bytes], scratch: Path
) -> tuple[list[str], list[str]]:
    names: list[str] = []
    missing = []
    for file in dict.fromkeys(files):
        try:
            names.append(file.blobs.set_aside(file.key, folder))
        except KeyError:
            missing.append(file.key)
    for name, body in texts.items():
        write_whole(folder / name, body, scratch=scratch)
        names.append(name)
    return names, missing


def _entry(folder: Path) -> Entry:
    here = tuple(sorted(path.name for path in folder.iterdir() if path.name != TOLD))
    try:
        entry: JsonObject = orjson.loads((folder / TOLD).read_bytes())
        upload = read_upload(entry["upload"])[0] if entry["upload"] else None
        return Entry(
            folder.name, Reason(entry["reason"]), entry["at"], entry["why"], here, upload, tuple(entry["missing"])
        )
    except (OSError, ValueError, KeyError, TypeError, DamagedRecord):
        why = "What was said of it cannot be read; its files are whole or not as they lie there."
        return Entry(folder.name, Reason(folder.name.split("Z-")[1].rpartition("-")[0]), "", why, here)


def _files_listed(folder: Path) -> list[str]:
    try:
        return [str(name) for name in orjson.loads((folder / TOLD).read_bytes())["files"]]
    except (OSError, ValueError, KeyError, TypeError):
        return []
