"""Bytes that must not change: kept once, under the SHA-256 of what they are; a crash leaves all of them or nothing.

Public: `Blobs` (what the library needs of a keeper of bytes), `FolderBlobs` (a folder on this machine), `hash_of`.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Protocol

CHUNK_BYTES = 1024 * 1024


class Blobs(Protocol):
    """Write-once bytes under a key made of what they are."""

    def put(self, source: Path) -> str:
        """Take over the file at `source` (it is gone afterwards) and return its key, once it is safe on disk."""

    def open(self, key: str) -> BinaryIO:
        """The bytes under a key; `KeyError` if there are none."""

    def remove(self, key: str) -> None:
        """Forget a key; nothing happens if it is not there."""

    def keys(self) -> Iterator[str]:
        """All keys."""


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
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while chunk := file.read(CHUNK_BYTES):
            digest.update(chunk)
    return digest.hexdigest()


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
        self._root.mkdir(parents=True, exist_ok=True)

    def put(self, source: Path) -> str:
        """Sync the file, move it under its hash, sync the folders: only then is the key given out."""
        key = hash_of(source)
        target = self._path(key)
        if target.exists():
            source.unlink()
            return key
        sync_file(source)
        fresh = not target.parent.exists()
        target.parent.mkdir(exist_ok=True)
        os.replace(source, target)
        sync_folder(target.parent)
        if fresh:
            sync_folder(self._root)
        return key

    def open(self, key: str) -> BinaryIO:
        """The file under a key, open for reading; it stays readable even if the key is removed meanwhile."""
        try:
            return self._path(key).open("rb")
        except FileNotFoundError:
            raise KeyError(f"nothing is kept under {key}") from None

    def remove(self, key: str) -> None:
        """Unlink the file under a key, if it is there."""
        self._path(key).unlink(missing_ok=True)

    def keys(self) -> Iterator[str]:
        """Keys of all files, in no order."""
        for path in self._root.glob(f"*/*{self._suffix}"):
            yield path.name.removesuffix(self._suffix)

    def _path(self, key: str) -> Path:
        if len(key) != 64 or not set(key) <= set("0123456789abcdef"):
            raise KeyError(f"{key!r} is no key")
        return self._root / key[:2] / f"{key}{self._suffix}"


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
