"""Bytes that must not change in an object store: put under their hash where nothing is, read only as they were put.

Public: `ObjectBlobs`, `ObjectAside`, `fetched`.
"""

from __future__ import annotations

import io
import logging
import os
import tempfile
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import BinaryIO, cast

from passband.service.store.faults import FilesAway
from passband.service.store.files import KEY, Prepared, hash_of
from passband.service.store.object_store import TRIES, ObjectFacts, ObjectStore
from passband.service.store.packing import PACKED, open_kept, packed_beside, read_hash
from passband.service.store.read_lately import ReadLately

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
    packs : bool
        Whether files are packed where that pays.
    lately : ReadLately, optional
        Where copies of what was read are kept; by default each reading fetches anew.
    """

    def __init__(
        self,
        store: ObjectStore,
        folder: str,
        *,
        scratch: Path,
        suffix: str = "",
        packs: bool = False,
        lately: ReadLately | None = None,
    ) -> None:
        self._store = store
        self._folder = folder
        self._scratch = scratch
        self._suffix = suffix
        self._packs = packs
        self._lately = lately
        self._sound: dict[str, str] = {}

    def prepare(self, source: Path, sha256: str = "") -> Prepared:
        """Hash the file, and pack it where that pays."""
        key = sha256 or hash_of(source)
        return Prepared(source, key, packed_beside(source, key) if self._packs else None)

    def put(self, source: Path | Prepared, *, noted: Callable[[str], None] | None = None) -> str:
        """Put a file under its hash where nothing is; what is there already stays, unless its bytes are damaged."""
        ready = source if isinstance(source, Prepared) else Prepared(source, hash_of(source), None)
        key = ready.key
        there = self._facts(key)
        if there is None and noted is not None:
            noted(key)
        if there is not None and there.age_s > RENEW_S:
            self._store.copy(there.name, there.name)
        if there is not None and self.is_whole(key):
            ready.let_go()
            return key
        if ready is not source:
            ready = self.prepare(ready.source, key)
        name = self._names(key)[0 if ready.packed else -1]
        self._send(ready, name, there if there is not None and there.name == name else None)
        if there is not None and there.name != name:  # damaged
            self._store.remove(there.name)
        ready.let_go()
        return key

    def lay(self, source: Path | Prepared, *, noted: Callable[[str], None] | None = None) -> str:
        """As `put`: a store answers once what it was given is safe."""
        return self.put(source, noted=noted)

    def settle(self, keys: Sequence[str]) -> None:
        """Nothing is left to be made safe."""

    def open(self, key: str) -> BinaryIO:
        """The bytes under a key: a copy of what was read lately, else as `fetch` gives them."""
        kept = self._lately.get(self._copy_of(key)) if self._lately is not None else None
        if kept is not None:
            return io.BytesIO(kept)
        opened = self.fetch(key)
        if self._lately is not None and opened.seek(0, os.SEEK_END) <= MEMORY_BYTES:
            opened.seek(0)
            self._lately.put(self._copy_of(key), opened.read())
        opened.seek(0)
        return opened

    def fetch(self, key: str) -> BinaryIO:
        """The bytes under a key, fetched whole; their hash is taken, unless it was before and they are the same."""
        found = False
        for name in self._names(key):
            file = cast(BinaryIO, tempfile.SpooledTemporaryFile(MEMORY_BYTES, dir=str(self._scratch)))
            with ExitStack() as unless_whole:
                unless_whole.callback(file.close)
                etag = self._store.fetch(name, file)
                found = found or etag is not None
                file.seek(0)
                opened = open_kept(Path(name), file)
                if etag is not None and self._is_sound(key, etag, opened):
                    unless_whole.pop_all()
                    return opened
        raise KeyError(f"what is kept under {key} is damaged" if found else f"nothing is kept under {key}")

    def set_aside(self, key: str, entry: Path) -> str:
        """A copy within the store, below the entry's name."""
        for name in self._names(key):
            last = name.rpartition("/")[2]
            if self._store.copy(name, f"{TRASH}/{entry.name}/{last}"):
                return last
        raise KeyError(f"nothing is kept under {key}")

    def stored(self, key: str, passing: Path) -> Path:
        """A copy on this machine."""
        for name in self._names(key):
            if fetched(self._store, name, passing / name.rpartition("/")[2]):
                return passing / name.rpartition("/")[2]
        raise KeyError(f"nothing is kept under {key}")

    def is_whole(self, key: str) -> bool:
        """Whether the object is there and still has the hash that is its name; all of it is fetched."""
        try:
            self._sound.pop(key, None)
            self.fetch(key).close()
        except KeyError:
            return False
        return True

    def remove(self, key: str) -> None:
        """Remove the object under a key, if it is there."""
        if self._lately is not None:
            self._lately.forget(self._copy_of(key))
        self._store.remove(*self._names(key))

    def keys(self, *, idle_s: float = 0.0) -> Iterator[str]:
        """Keys of all objects, or of those at least so old; what is none of ours is passed over and told in the log."""
        foreign, last = 0, ""
        for found in self._store.below(f"{self._folder}/"):
            name = found.name.rpartition("/")[2]
            key = (name.removesuffix(PACKED) if self._packs else name).removesuffix(self._suffix)
            if not KEY.fullmatch(key) or found.name not in self._names(key):
                foreign += 1
            elif found.age_s >= idle_s and key != last:
                last = key
                yield key
        if foreign:
            log.info("%d objects in %s are none of ours and are left alone", foreign, self._folder)

    def address(self, key: str, *, seconds: int, headers: Mapping[str, str], encodings: Collection[str]) -> str | None:
        """An address that the store itself answers; of a packed object only for who takes it packed.

        Nobody holds what it answers against its hash but who asked.
        """
        facts = self._facts(key)
        if facts is None:
            raise KeyError(f"nothing is kept under {key}")
        if not facts.name.endswith(PACKED):
            return self._store.signed(facts.name, seconds, headers)
        if "zstd" not in encodings:
            return None
        return self._store.signed(facts.name, seconds, {**headers, "Content-Encoding": "zstd"})

    def probe(self) -> None:
        """Ask the store for anything."""
        self._store.probe()

    def _copy_of(self, key: str) -> str:
        """What a copy is kept under: of this place alone, as others may have no such object."""
        return f"{self._store.place}/{self._names(key)[-1]}"

    def _names(self, key: str) -> list[str]:
        """Where a key's bytes can lie: packed, where this folder packs, and plain."""
        if not KEY.fullmatch(key):
            raise KeyError(f"{key!r} is no key")
        plain = f"{self._folder}/{key[:2]}/{key}{self._suffix}"
        return [f"{plain}{PACKED}", plain] if self._packs else [plain]

    def _facts(self, key: str) -> ObjectFacts | None:
        return next((facts for name in self._names(key) if (facts := self._store.facts(name)) is not None), None)

    def _send(self, ready: Prepared, name: str, there: ObjectFacts | None) -> None:
        """Put sound bytes where nothing is, or in the place of damaged ones: never of what another has put since."""
        source = ready.packed or ready.source
        sha256 = hash_of(source) if ready.packed else ready.key
        for _ in range(TRIES):
            with source.open("rb") as file:
                if self._store.put(name, file, sha256=sha256, replacing=there.etag if there else None):
                    return
            there = self._store.facts(name)
            if there is not None and self.is_whole(ready.key):
                return
        log.error("damaged bytes in the store of files could not be put right")
        raise FilesAway

    def _is_sound(self, key: str, etag: str, opened: BinaryIO) -> bool:
        if self._sound.get(key) != etag:
            if read_hash(opened) != key:
                return False
            self._sound[key] = etag
            opened.seek(0)
        return True


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
        return fetched(self._store, f"{TRASH}/{entry}/{name}", target)

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
            if last.startswith(key) and fetched(self._store, found.name, passing / last):
                return passing / last
        return None


def fetched(store: ObjectStore, name: str, path: Path) -> bool:
    """Copy an object to a path; False, and no file, if it is not there."""
    with path.open("wb") as file:
        found = store.fetch(name, file) is not None
    if not found:
        path.unlink()
    return found
