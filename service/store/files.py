"""Bytes that must not change: kept once, under the SHA-256 of what they are; a crash leaves all of them or nothing.

Public: `Blobs` (what the library needs of a keeper of bytes), `Prepared` (what is to be put), `preparing`, `Written`
(what was put), `FolderBlobs` (a folder on this machine), `hash_of`, `write_whole`, `write_all_whole`, `sync_file`,
`sync_folder`.
"""

from __future__ import annotations

import hashlib
import logging
import os
import re
import secrets
import shutil
import threading
import time
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

from passband.service.store.packing import PACKED, kept_hash, open_kept, packed_beside, read_hash

FOREIGN_SHOWN = 3
"""So many names of foreign files are told; the rest are counted."""
KEY = re.compile(r"[0-9a-f]{64}")
SYNCED_AT_ONCE = 16
"""Small files that are made safe on disk together."""

log = logging.getLogger("passband")


@dataclass(frozen=True, slots=True)
class Prepared:
    """A file that is to be put, with what takes time done beforehand."""

    source: Path
    key: str
    """The SHA-256 of its bytes."""
    packed: Path | None
    """Beside it; None where packing does not pay."""
    is_safe: bool = False
    """Whether its bytes are safe on disk, under the name that they have."""

    def let_go(self) -> None:
        """Unlink what is left of it."""
        for path in (self.source, self.packed):
            if path is not None:
                path.unlink(missing_ok=True)


class Blobs(Protocol):
    """Write-once bytes under a key made of what they are."""

    def prepare(self, source: Path, sha256: str = "") -> Prepared:
        """Do beforehand what putting a file takes time for; nothing of it is kept, and all stays beside `source`.

        `sha256` is the file's hash, where it is known.
        """

    def put(self, source: Path | Prepared, *, noted: Callable[[str], None] | None = None) -> str:
        """Take over the file at `source` (it is gone afterwards) and return its key, once it is safe on disk.

        `noted` is told the key before anything of it can be there, and only where it was not there already.
        """

    def lay(self, source: Path | Prepared, *, noted: Callable[[str], None] | None = None) -> str:
        """As `put`, but that its name may be lost by a power cut until `settle`: several are sooner safe together."""

    def settle(self, keys: Sequence[str]) -> None:
        """Make safe what was laid."""

    def open(self, key: str) -> BinaryIO:
        """The bytes under a key; `KeyError` if there are none, or not those that were put."""

    def set_aside(self, key: str, entry: Path) -> str:
        """Lay the bytes, as they are kept, into an entry of the trash too; without room of their own where that can be.

        `entry` is the entry's folder, whose name is the entry's; the name they have there is returned. `KeyError` if
        there are none.
        """

    def stored(self, key: str, passing: Path) -> Path:
        """A file of the bytes as they are kept, for reading only; laid into `passing` where it is not here already.

        `KeyError` if there is none. The file's name is the one that it is kept under.
        """

    def is_whole(self, key: str) -> bool:
        """Whether the bytes under a key are there and are those that were put."""

    def remove(self, key: str) -> None:
        """Forget a key; nothing happens if it is not there."""

    def keys(self, *, idle_s: float = 0.0) -> Iterator[str]:
        """All keys; with `idle_s`, where others may be keeping too, those that nobody has put for so many seconds."""

    def address(self, key: str, *, seconds: int, headers: Mapping[str, str], encodings: Collection[str]) -> str | None:
        """An address at which anybody has the bytes for some seconds, with headers of ours.

        None where there is none, or the bytes lie packed in a way that is not among the encodings; `KeyError` if there
        are none.
        """

    def probe(self) -> None:
        """Ask whether bytes can be had now; `FilesAway` if not."""


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


@contextmanager
def preparing(
    blobs: Blobs, sources: Sequence[tuple[Path, str]], *, after: threading.Event | None = None
) -> Iterator[Future[list[Prepared]]]:
    """Files prepared beside what is done meanwhile; at the end nothing touches them any more.

    Parameters
    ----------
    blobs : Blobs
        Where they are to be put.
    sources : sequence of (Path, str)
        Files, which nobody else may change, and their hashes.
    after : Event, optional
        Begin only once it is set, or when all else is done: what is done first may want the cores.

    Yields
    ------
    Future
        Its result are the files in order; it raises what stood in the way, as a full disk.
    """
    begin, unwanted = after or threading.Event(), threading.Event()

    def prepare() -> list[Prepared]:
        begin.wait()
        return [blobs.prepare(source, sha256) for source, sha256 in (() if unwanted.is_set() else sources)]

    with ThreadPoolExecutor(1, thread_name_prefix="preparing") as beside, ExitStack() as at_end:
        at_end.callback(begin.set)
        at_end.push(lambda error, _what, _trace: unwanted.set() if error is not None else None)
        if after is None:
            begin.set()
        yield beside.submit(prepare)


class Written:
    """What was put so far, so that it can be taken back."""

    def __init__(self) -> None:
        self.keys: list[tuple[Blobs, str]] = []
        """Where, and under which key."""

    def put(self, blobs: Blobs, source: Path | Prepared) -> str:
        """Put a file as `Blobs.put` does; its key is noted before anything of it can be there."""
        return self.put_all([(blobs, source)])[0]

    def put_all(self, files: Sequence[tuple[Blobs, Path | Prepared]]) -> list[str]:
        """Put several files: all under their names first, then the names made safe, in one turn of the disk."""
        keys = [self._lay(blobs, source) for blobs, source in files]
        laid = {id(blobs): (blobs, [key for (of, _), key in zip(files, keys, strict=True) if of is blobs])
                for blobs, _ in files}  # fmt: skip
        with ThreadPoolExecutor(thread_name_prefix="settling") as beside:
            list(beside.map(lambda one: one[0].settle(one[1]), laid.values()))
        return keys

    def _lay(self, blobs: Blobs, source: Path | Prepared) -> str:
        return blobs.lay(source, noted=lambda key: self.keys.append((blobs, key)))


class FolderBlobs:
    """Blobs in a folder of this machine's file system.

    Parameters
    ----------
    root : Path
        The folder; made if it is not there. Sources for `put` must lie on the same file system.
    suffix : str
        Put behind each name, for those who look into the folder.
    packs : bool
        Whether files are packed where that pays. What lies there plain is read all the same.
    """

    def __init__(self, root: Path, *, suffix: str = "", packs: bool = False) -> None:
        self._root = root.resolve()
        self._suffix = suffix
        self._packs = packs
        self._safe: set[Path] = set()
        self._sound: dict[str, tuple[Path, int, int]] = {}
        self._root.mkdir(parents=True, exist_ok=True)

    def prepare(self, source: Path, sha256: str = "") -> Prepared:
        """Hash the file, pack it where that pays, and make the bytes that are to be kept safe on disk."""
        key = sha256 or hash_of(source)
        packed = packed_beside(source, key) if self._packs else None
        sync_file(packed or source)
        return Prepared(source, key, packed, is_safe=True)

    def put(self, source: Path | Prepared, *, noted: Callable[[str], None] | None = None) -> str:
        """Sync the file, move it under its hash, sync the folders: only then is the key given out."""
        key = self.lay(source, noted=noted)
        self.settle([key])
        return key

    def lay(self, source: Path | Prepared, *, noted: Callable[[str], None] | None = None) -> str:
        """Sync the file and move it under its hash.

        A file that is there already is synced too: an earlier attempt may have failed after its name was made.
        """
        ready = source if isinstance(source, Prepared) else Prepared(source, hash_of(source), None)
        key = ready.key
        there = next((path for path in self._paths(key) if path.is_file() and kept_hash(path) == key), None)
        if there is not None:
            sync_file(there)
        else:
            self._take_over(ready if ready is source else self.prepare(ready.source, key), noted)
        ready.let_go()
        return key

    def settle(self, keys: Sequence[str]) -> None:
        """Sync the folders that hold the keys, all at once: a disk takes several together in the time of one."""
        folders = list(dict.fromkeys(self._paths(key)[0].parent for key in keys))
        above = [] if self._safe.issuperset(folders) else [self._root]
        with ThreadPoolExecutor(thread_name_prefix="syncing") as beside:
            list(beside.map(sync_folder, [*folders, *above]))
        self._safe.update(folders)

    def open(self, key: str) -> BinaryIO:
        """The file under a key, open for reading; it stays readable even if the key is removed meanwhile.

        Its hash is taken the first time it is opened, and again when its size or time has changed.
        """
        found = False
        for path in self._paths(key):
            with suppress(FileNotFoundError, IsADirectoryError):
                file = path.open("rb")
                found = True
                if (opened := self._if_sound(key, path, file)) is not None:
                    return opened
        raise KeyError(f"what is kept under {key} is damaged" if found else f"nothing is kept under {key}")

    def set_aside(self, key: str, entry: Path) -> str:
        """A second name for the file, or a copy where the file system knows no second names."""
        path = self.stored(key, entry)
        target = entry / path.name
        try:
            os.link(path, target)
        except OSError:
            shutil.copyfile(path, target)
            sync_file(target)
        return path.name

    def stored(self, key: str, passing: Path) -> Path:
        """The file under a key, where it lies."""
        for path in self._paths(key):
            if path.is_file():
                return path
        raise KeyError(f"nothing is kept under {key}")

    def is_whole(self, key: str) -> bool:
        """Whether the file is there and still has the hash that is its name."""
        return any(path.is_file() and kept_hash(path) == key for path in self._paths(key))

    def remove(self, key: str) -> None:
        """Unlink the file under a key, if it is there."""
        for path in self._paths(key):
            path.unlink(missing_ok=True)

    def keys(self, *, idle_s: float = 0.0) -> Iterator[str]:
        """Keys of all files, in no order; what is none of ours is passed over, and told in the log."""
        foreign: list[str] = []
        for path in self._root.glob("*/*"):
            key = (path.name.removesuffix(PACKED) if self._packs else path.name).removesuffix(self._suffix)
            if KEY.fullmatch(key) and path in self._paths(key) and path.is_file() and not path.is_symlink():
                first = next(one for one in self._paths(key) if one == path or one.exists())
                if path == first and _idle(path, idle_s):
                    yield key
            else:
                foreign.append(path.name)
        foreign += [path.name for path in self._root.iterdir() if not path.is_dir()]
        if foreign:
            shown = ", ".join(repr(name) for name in sorted(foreign)[:FOREIGN_SHOWN])
            log.info("%d files in %s are none of ours (%s) and are left alone", len(foreign), self._root.name, shown)

    def address(self, key: str, *, seconds: int, headers: Mapping[str, str], encodings: Collection[str]) -> str | None:
        """A folder has no address."""
        return None

    def probe(self) -> None:
        """A folder is there; whether it takes files is asked of the disk."""

    def _paths(self, key: str) -> list[Path]:
        """Where a key's bytes can lie: packed, where this folder packs, and plain."""
        if not KEY.fullmatch(key):
            raise KeyError(f"{key!r} is no key")
        plain = self._root / key[:2] / f"{key}{self._suffix}"
        return [plain.with_name(f"{plain.name}{PACKED}"), plain] if self._packs else [plain]

    def _take_over(self, ready: Prepared, noted: Callable[[str], None] | None) -> None:
        """Move a file under its hash, packed if that pays; what lay there damaged is gone afterwards."""
        paths = self._paths(ready.key)
        if noted is not None and not any(path.exists() for path in paths):
            noted(ready.key)
        target = paths[0] if ready.packed else paths[-1]
        if not ready.is_safe:
            sync_file(ready.packed or ready.source)
        target.parent.mkdir(exist_ok=True)
        os.replace(ready.packed or ready.source, target)
        for path in paths:
            if path != target and path.exists():
                path.unlink()

    def _if_sound(self, key: str, path: Path, file: BinaryIO) -> BinaryIO | None:
        """A file opened for reading, if its bytes are those that were put; else it is closed."""
        facts = os.fstat(file.fileno())
        seen = (path, facts.st_size, facts.st_mtime_ns)
        opened = open_kept(path, file)
        if self._sound.get(key) != seen:
            if read_hash(opened) != key:
                opened.close()
                return None
            self._sound[key] = seen
            opened.seek(0)
        return opened


def _idle(path: Path, seconds: float) -> bool:
    """Whether a file was written so long ago; not where it is gone."""
    try:
        return not seconds or time.time() - path.stat().st_mtime >= seconds
    except FileNotFoundError:
        return False


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
    write_all_whole({path: body}, scratch=scratch)


def write_all_whole(bodies: Mapping[Path, bytes], *, scratch: Path) -> None:
    """Write small files, each so that a crash leaves the former one or the new one.

    A disk takes several syncs together in the time of one, and all names of a folder with one: a season's records,
    written one after the other, were a wait of which nobody had anything.

    Parameters
    ----------
    bodies : mapping of Path to bytes
        Where, and what.
    scratch : Path
        As `write_whole` has it.
    """
    parts = {path: scratch / f"{secrets.token_hex(8)}.part" for path in bodies}

    def write_safe(path: Path) -> None:
        parts[path].write_bytes(bodies[path])
        sync_file(parts[path])

    try:
        if len(parts) == 1:
            write_safe(*parts)
        else:
            with ThreadPoolExecutor(SYNCED_AT_ONCE, thread_name_prefix="writing") as beside:
                list(beside.map(write_safe, parts))
        for path, part in parts.items():
            os.replace(part, path)
    finally:
        for part in parts.values():
            part.unlink(missing_ok=True)
    for folder in dict.fromkeys(path.parent for path in bodies):
        sync_folder(folder)


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
