"""Bytes that must not change in an object store: put under their hash where nothing is, read only as they were put.

Public: `ObjectBlobs`, `ObjectAside`.
"""

from __future__ import annotations

import hashlib
import logging
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO, cast

from passband.service.store.faults import FilesAway
from passband.service.store.files import KEY, hash_of
from passband.service.store.object_store import TRIES, ObjectStore

MEMORY_BYTES = 8 * 1024 * 1024
"""What is read of the store stands in memory up to here, beyond it in a nameless file: most tables are under 1 MB."""
RENEW_S = 6 * 3600.0
"""What is put again is made young again if it is older: a sweep elsewhere must not take it for left over. [s]"""
TRASH = "trash"

log = logging.getLogger("passband")


class ObjectBlobs:
    """Blobs below one folder of an object store.

    Parameters
    ----------
    store : ObjectStore
        The library's place.
    folder : str
        Name of the folder.
    scratch : Path
        A folder for what is read.
    suffix : str
        Put behind each name.
    """

    def __init__(self, store: ObjectStore, folder: str, *, scratch: Path, suffix: str = "") -> None:
        self._store = store
        self._folder = folder
        self._scratch = scratch
        self._suffix = suffix
        self._sound: dict[str, str] = {}

    def put(self, source: Path, *, noted: Callable[[str], None] | None = None) -> str:
        """Put a file under its hash where nothing is; what is there already stays, unless its bytes are damaged."""
        key = hash_of(source)
        there = self._store.facts(self._name(key))
        if there is None:
            if noted is not None:
                noted(key)
            if self._send(key, source):
                source.unlink()
                return key
        elif there.age_s > RENEW_S:
            self._store.copy(self._name(key), self._name(key))
        self._mend(key, source)
        source.unlink()
        return key

    def open(self, key: str) -> BinaryIO:
        """The bytes under a key, fetched whole; their hash is taken, unless it was before and they are the same."""
        file = cast(BinaryIO, tempfile.SpooledTemporaryFile(MEMORY_BYTES, dir=self._scratch))
        try:
            self._fetch(key, file)
            file.seek(0)
            return file
        except BaseException:
            file.close()
            raise

    def set_aside(self, key: str, entry: Path) -> str:
        """A copy within the store, below the entry's name."""
        name = self._name(key)
        last = name.rpartition("/")[2]
        if not self._store.copy(name, f"{TRASH}/{entry.name}/{last}"):
            raise KeyError(f"nothing is kept under {key}")
        return last

    def stored(self, key: str, passing: Path) -> Path:
        """A copy on this machine."""
        path = passing / self._name(key).rpartition("/")[2]
        with path.open("wb") as file:
            if self._store.fetch(self._name(key), file):
                return path
        path.unlink()
        raise KeyError(f"nothing is kept under {key}")

    def is_whole(self, key: str) -> bool:
        """Whether the object is there and still has the hash that is its name; all of it is fetched."""
        try:
            self._sound.pop(key, None)
            self.open(key).close()
        except KeyError:
            return False
        return True

    def remove(self, key: str) -> None:
        """Remove the object under a key, if it is there."""
        self._store.remove(self._name(key))

    def keys(self, *, idle_s: float = 0.0) -> Iterator[str]:
        """Keys of all objects, or of those at least so old; what is none of ours is passed over and told in the log."""
        foreign = 0
        for found in self._store.below(f"{self._folder}/"):
            key = found.name.rpartition("/")[2].removesuffix(self._suffix)
            if not KEY.fullmatch(key) or found.name != self._name(key):
                foreign += 1
            elif found.age_s >= idle_s:
                yield key
        if foreign:
            log.info("%d objects in %s are none of ours and are left alone", foreign, self._folder)

    def probe(self) -> None:
        """Ask the store for anything."""
        self._store.probe()

    def _name(self, key: str) -> str:
        if not KEY.fullmatch(key):
            raise KeyError(f"{key!r} is no key")
        return f"{self._folder}/{key[:2]}/{key}{self._suffix}"

    def _send(self, key: str, source: Path, *, replacing: str | None = None) -> bool:
        with source.open("rb") as file:
            return self._store.put(self._name(key), file, sha256=key, replacing=replacing)

    def _mend(self, key: str, source: Path) -> None:
        """Put sound bytes in the place of damaged ones: of exactly those, never of what another has put since."""
        for _ in range(TRIES):
            there = self._store.facts(self._name(key))
            if self.is_whole(key) or self._send(key, source, replacing=there.etag if there else None):
                return
        log.error("damaged bytes in the store of files could not be put right")
        raise FilesAway

    def _fetch(self, key: str, file: BinaryIO) -> None:
        etag = self._store.fetch(self._name(key), file)
        if etag is None:
            raise KeyError(f"nothing is kept under {key}")
        if self._sound.get(key) == etag:
            return
        file.seek(0)
        digest = hashlib.sha256()
        while chunk := file.read(MEMORY_BYTES):
            digest.update(chunk)
        if digest.hexdigest() != key:
            raise KeyError(f"what is kept under {key} is damaged")
        self._sound[key] = etag


class ObjectAside:
    """Where files of the trash's entries lie in an object store.

    Parameters
    ----------
    store : ObjectStore
        The library's place.
    """

    def __init__(self, store: ObjectStore) -> None:
        self._store = store

    def fetch(self, entry: str, name: str, target: Path) -> bool:
        """Copy a file of an entry to a path; False if it is not there."""
        with target.open("wb") as file:
            found = self._store.fetch(f"{TRASH}/{entry}/{name}", file) is not None
        if not found:
            target.unlink()
        return found

    def discard(self, entry: str) -> None:
        """Let go of all files of an entry."""
        self._store.remove(*(found.name for found in self._store.below(f"{TRASH}/{entry}/")))

    def entries(self, *, idle_s: float) -> set[str]:
        """Names of entries of which every file has lain there for so many seconds."""
        youngest: dict[str, float] = {}
        for found in self._store.below(f"{TRASH}/"):
            entry = found.name.split("/")[1]
            youngest[entry] = min(found.age_s, youngest.get(entry, found.age_s))
        return {entry for entry, age_s in youngest.items() if age_s >= idle_s}

    def find(self, key: str, passing: Path) -> Path | None:
        """A copy, on this machine, of a file of any entry that is kept under a key; None if there is none."""
        for found in self._store.below(f"{TRASH}/"):
            last = found.name.rpartition("/")[2]
            if last.startswith(key):
                path = passing / last
                with path.open("wb") as file:
                    if self._store.fetch(found.name, file):
                        return path
                path.unlink()
        return None
