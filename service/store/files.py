"""Bytes that must not change: kept once, under the SHA-256 of what they are; a crash leaves all of them or nothing.

Public: `Blobs` (what the library needs of a keeper of bytes), `FolderBlobs` (a folder on this machine), `hash_of`,
`write_whole`, `sync_file`, `sync_folder`.
"""

from __future__ import annotations

import hashlib
import logging
import os
import re
import secrets
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO, Protocol

FOREIGN_SHOWN = 3
"""So many names of foreign files are told; the rest are counted."""
_KEY = re.compile(r"[0-9a-f]{64}")

log = logging.getLogger("passband")


class Blobs(Protocol):
    """Write-once bytes under a key made of what they are."""

    def put(self, source: Path, *, noted: Callable[[str], None] | None = None) -> str:
        """Take over the file at `source` (it is gone afterwards) and return its key, once it is safe on disk.

        `noted` is told the key before anything of it can be there, and only where it was not there already.
        """

    def open(self, key: str) -> BinaryIO:
        """The bytes under a key; `KeyError` if there are none, or not those that were put."""

    def lend(self, key: str, target: Path) -> None:
        """Put the bytes under a key at a path too, without room of their own where that can be; `KeyError` if none."""

    def is_whole(self, key: str) -> bool:
        """Whether the bytes under a key are there and are those that were put."""

    def remove(self, key: str) -> None:
        """Forget a key; nothing happens if it is not there."""

    def keys(self) -> Iterator[str]:
        """All keys."""

    def put_at(self, key: str) -> float:
        """When the bytes under a key were put, in seconds since 1970; now where there are none."""


def hash_of(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal.

    Parameters
    ----------
    path : Path
        An ordinary file.

    Returns
    -------
    str
        64 digits.
    """
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class FolderBlobs:
    """Blobs in a folder of this machine's file system.

    Parameters
    ----------
    root : Path
        The folder; made if it is not there. Sources for `put` must lie on the same file system.
    suffix : str
        Put behind each name, for those who look into the folder.
    """

    def __init__(self, root: Path, *, suffix: str = "") -> None:
        self._root = root.resolve()
        self._suffix = suffix
        self._safe: set[Path] = set()
        self._sound: dict[str, tuple[int, int]] = {}
        self._root.mkdir(parents=True, exist_ok=True)

    def put(self, source: Path, *, noted: Callable[[str], None] | None = None) -> str:
        """Sync the file, move it under its hash, sync the folders: only then is the key given out.

        A file that is there already is synced too: an earlier attempt may have failed after its name was made.
        """
        key = hash_of(source)
        target = self._path(key)
        if self.is_whole(key):
            sync_file(target)
            source.unlink()
        else:
            if noted is not None and not target.exists():
                noted(key)
            sync_file(source)
            target.parent.mkdir(exist_ok=True)
            os.replace(source, target)
        sync_folder(target.parent)
        if target.parent not in self._safe:
            sync_folder(self._root)
            self._safe.add(target.parent)
        return key

    def open(self, key: str) -> BinaryIO:
        """The file under a key, open for reading; it stays readable even if the key is removed meanwhile.

        Its hash is taken the first time it is opened, and again when its size or time has changed.
        """
        try:
            file = self._path(key).open("rb")
        except (FileNotFoundError, IsADirectoryError):
            raise KeyError(f"nothing is kept under {key}") from None
        facts = os.fstat(file.fileno())
        seen = (facts.st_size, facts.st_mtime_ns)
        if self._sound.get(key) != seen:
            if hashlib.file_digest(file, "sha256").hexdigest() != key:
                file.close()
                raise KeyError(f"what is kept under {key} is damaged")
            self._sound[key] = seen
            file.seek(0)
        return file

    def lend(self, key: str, target: Path) -> None:
        """A second name for the file, or a copy where the file system knows no second names."""
        path = self._path(key)
        if not path.is_file():
            raise KeyError(f"nothing is kept under {key}")
        try:
            os.link(path, target)
        except OSError:
            shutil.copyfile(path, target)
            sync_file(target)

    def is_whole(self, key: str) -> bool:
        """Whether the file is there and still has the hash that is its name."""
        path = self._path(key)
        return path.is_file() and hash_of(path) == key

    def remove(self, key: str) -> None:
        """Unlink the file under a key, if it is there."""
        self._path(key).unlink(missing_ok=True)

    def put_at(self, key: str) -> float:
        """When the file under a key was written; now where there is none."""
        try:
            return self._path(key).stat().st_mtime
        except FileNotFoundError:
            return time.time()

    def keys(self) -> Iterator[str]:
        """Keys of all files, in no order; what is none of ours is passed over, and told in the log."""
        foreign: list[str] = []
        for path in self._root.glob("*/*"):
            key = path.name.removesuffix(self._suffix)
            if _KEY.fullmatch(key) and path == self._path(key) and path.is_file() and not path.is_symlink():
                yield key
            else:
                foreign.append(path.name)
        foreign += [path.name for path in self._root.iterdir() if not path.is_dir()]
        if foreign:
            shown = ", ".join(repr(name) for name in sorted(foreign)[:FOREIGN_SHOWN])
            log.info("%d files in %s are none of ours (%s) and are left alone", len(foreign), self._root.name, shown)

    def _path(self, key: str) -> Path:
        if not _KEY.fullmatch(key):
            raise KeyError(f"{key!r} is no key")
        return self._root / key[:2] / f"{key}{self._suffix}"


def write_whole(path: Path, body: bytes, *, scratch: Path) -> None:
    """Write a small file so that a crash leaves the former one or the new one, never a part.

    Parameters
    ----------
    path : Path
        Where.
    body : bytes
        What.
    scratch : Path
        A folder on the same file system whose files nobody misses.
    """
    part = scratch / f"{secrets.token_hex(8)}.part"
    try:
        part.write_bytes(body)
        sync_file(part)
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(path.parent)


def sync_file(path: Path) -> None:
    """Make a file's bytes safe on disk."""
    with path.open("rb") as file:
        os.fsync(file.fileno())


def sync_folder(path: Path) -> None:
    """Make a folder's names safe on disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
