"""A backup as it lies on a disk: a folder or one tar file, its manifest last, so that one cut off is known as such.

Public: `Manifest`, `KeptFile`, `BackupError`, `FolderWriter`, `TarWriter`, `open_writer`, `FolderReader`, `TarReader`,
`open_reader`, `MANIFEST`.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

from passband.service.store.files import hash_of, sync_file, sync_folder
from passband.service.store.record_files import DamagedRecord, read_record, written_record

MANIFEST = "manifest.json"
TAR = ".tar"
CHUNK_BYTES = 1024 * 1024
_NAME = re.compile(
    r"library\.(sqlite|state)|(originals|runs)/[0-9a-f]{2}/[0-9a-f]{64}(\.parquet|\.zst)?|(uploads|cars|items)/[0-9a-f]+\.json"
)
"""What a backup may hold, and so where a restore may write."""


class BackupError(RuntimeError):
    """A backup or restore that cannot be; its text says why and what to do."""


@dataclass(frozen=True, slots=True)
class KeptFile:
    """One file of a backup."""

    path: str
    """Place in the library's folder, with slashes."""
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup holds."""

    program: str
    """Version of the program that made it."""
    schema: int
    """Version of the database."""
    made_at: str
    """When the database was copied. ISO 8601, UTC."""
    cars: int
    uploads: int
    runs: int
    faults: tuple[str, ...]
    """What should have been there and was not, or was not what it should be; a sentence each."""
    files: tuple[KeptFile, ...]

    @property
    def size(self) -> int:
        """Size of all files."""
        return sum(file.bytes for file in self.files)

    def written(self) -> bytes:
        """As the manifest's file holds it, with a sum of its own."""
        return written_record(asdict(self))

    @staticmethod
    def read(written: bytes) -> Manifest:
        """Out of a file's bytes; `BackupError` if it is not as it was written."""
        try:
            record = read_record(written, MANIFEST)
            files = tuple(KeptFile(**file) for file in record.pop("files"))
            manifest = Manifest(**{**record, "files": files, "faults": tuple(record["faults"])})
        except (DamagedRecord, KeyError, TypeError) as error:
            raise BackupError(f"The backup's {MANIFEST} is damaged: {error}. Nothing was restored.") from None
        strange = [file.path for file in files if not _NAME.fullmatch(file.path)]
        if strange:
            raise BackupError(f"The backup names {strange[0]!r}, which is no file of a library. Nothing was restored.")
        return manifest


class Writer(Protocol):
    """A backup being written."""

    def add(self, name: str, source: Path) -> KeptFile:
        """Keep a file; `FileNotFoundError` if it is gone."""

    def add_bytes(self, name: str, body: bytes) -> KeptFile:
        """Keep bytes as a file."""

    def finish(self, manifest: Manifest) -> None:
        """Make all safe on disk, and only then what it is known by."""

    def close(self) -> None:
        """Let go of it, finished or not."""


class FolderWriter:
    """A backup in a folder. Files of the same file system are linked, not copied: they never change in the library.

    Parameters
    ----------
    target : Path
        Absent or empty.

    Raises
    ------
    BackupError
        If it is not.
    """

    def __init__(self, target: Path) -> None:
        if target.exists() and (not target.is_dir() or any(target.iterdir())):
            raise BackupError(f"{target} is there already and not an empty folder; name another place for the backup.")
        target.mkdir(parents=True, exist_ok=True)
        self._root = target

    def add(self, name: str, source: Path) -> KeptFile:
        """Link or copy a file."""
        place = self._place(name)
        try:
            os.link(source, place)
        except FileNotFoundError:
            raise
        except OSError:
            with source.open("rb") as file:
                return self._copy(name, file)
        return KeptFile(name, place.stat().st_size, hash_of(place))

    def add_bytes(self, name: str, body: bytes) -> KeptFile:
        """Write a file."""
        return self._copy(name, io.BytesIO(body))

    def finish(self, manifest: Manifest) -> None:
        """Sync every folder, then put the manifest in place."""
        for folder in (self._root, *(path for path in self._root.rglob("*") if path.is_dir())):
            sync_folder(folder)
        part = self._root / f"{MANIFEST}.part"
        part.write_bytes(manifest.written())
        sync_file(part)
        os.replace(part, self._root / MANIFEST)
        sync_folder(self._root)
        sync_folder(self._root.parent)

    def close(self) -> None:
        """Nothing is held open."""

    def _copy(self, name: str, source: BinaryIO) -> KeptFile:
        place = self._place(name)
        with place.open("xb") as target:
            kept = copy_hashed(name, source, target)
            target.flush()
            os.fsync(target.fileno())
        return kept

    def _place(self, name: str) -> Path:
        place = self._root / name
        place.parent.mkdir(parents=True, exist_ok=True)
        return place


class TarWriter:
    """A backup in one tar file, under another name until it is whole.

    Parameters
    ----------
    target : Path
        Must not be there.

    Raises
    ------
    BackupError
        If it is.
    """

    def __init__(self, target: Path) -> None:
        if target.exists():
            raise BackupError(f"{target} is there already; name another file for the backup.")
        target.parent.mkdir(parents=True, exist_ok=True)
        self._target = target
        self._part = target.with_name(f"{target.name}.unfinished")
        self._file = self._part.open("wb")
        self._tar = tarfile.open(fileobj=self._file, mode="w", format=tarfile.PAX_FORMAT)

    def add(self, name: str, source: Path) -> KeptFile:
        """Copy a file."""
        with source.open("rb") as file:
            return self._append(name, file, os.fstat(file.fileno()).st_size)

    def add_bytes(self, name: str, body: bytes) -> KeptFile:
        """Write a file."""
        return self._append(name, io.BytesIO(body), len(body))

    def finish(self, manifest: Manifest) -> None:
        """Add the manifest, sync, and give the file its name."""
        self.add_bytes(MANIFEST, manifest.written())
        self._tar.close()
        self._file.flush()
        os.fsync(self._file.fileno())
        self._file.close()
        os.replace(self._part, self._target)
        sync_folder(self._target.parent)

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def _append(self, name: str, source: BinaryIO, size: int) -> KeptFile:
        entry = tarfile.TarInfo(name)
        entry.size = size
        hashed = _Hashed(source)
        self._tar.addfile(entry, hashed)
        return KeptFile(name, size, hashed.digest.hexdigest())


class _Hashed(io.RawIOBase):
    """Bytes that are hashed as they are read."""

    def __init__(self, source: BinaryIO) -> None:
        self._source = source
        self.digest = hashlib.sha256()

    def read(self, size: int = -1, /) -> bytes:
        chunk = self._source.read(size)
        self.digest.update(chunk)
        return chunk


def open_writer(target: Path) -> Writer:
    """Begin a backup: a tar file where the name ends so, else a folder."""
    if target.name.endswith((".tar.gz", ".tgz", ".tar.xz", ".tar.bz2", ".tar.zst", ".zip")):
        raise BackupError(
            f"{target.name}: a backup is a folder or a plain .tar file; name it so and pack it afterwards."
        )
    return TarWriter(target) if target.suffix == TAR else FolderWriter(target)


class Reader(Protocol):
    """A backup being read."""

    def manifest(self) -> Manifest:
        """What it says it holds; `BackupError` if it is not whole."""

    def open(self, name: str) -> BinaryIO:
        """One of its files; `KeyError` if it is not there."""


class FolderReader:
    """A backup in a folder."""

    def __init__(self, root: Path) -> None:
        self._root = root

    def manifest(self) -> Manifest:
        """What it says it holds."""
        try:
            return Manifest.read((self._root / MANIFEST).read_bytes())
        except FileNotFoundError:
            raise BackupError(
                f"{self._root} holds no {MANIFEST}: it is no backup, or one that was cut off before it was whole."
            ) from None

    def open(self, name: str) -> BinaryIO:
        """One of its files."""
        try:
            return (self._root / name).open("rb")
        except (FileNotFoundError, NotADirectoryError, IsADirectoryError):
            raise KeyError(name) from None


class TarReader:
    """A backup in a tar file."""

    def __init__(self, file: Path, tar: tarfile.TarFile) -> None:
        self._file = file
        self._tar = tar

    def manifest(self) -> Manifest:
        """What it says it holds."""
        try:
            return Manifest.read(self.open(MANIFEST).read())
        except KeyError:
            raise BackupError(
                f"{self._file} holds no {MANIFEST}: it is no backup, or one that was cut off before it was whole."
            ) from None

    def open(self, name: str) -> BinaryIO:
        """One of its files."""
        file = self._tar.extractfile(name)
        if file is None:
            raise KeyError(name)
        return file  # type: ignore[return-value]


@contextmanager
def open_reader(target: Path) -> Iterator[Reader]:
    """Read a backup, folder or tar file; `BackupError` if it is neither."""
    if target.is_dir():
        yield FolderReader(target)
        return
    try:
        tar = tarfile.open(target, mode="r:")
    except FileNotFoundError:
        raise BackupError(f"There is no backup at {target}.") from None
    except tarfile.TarError as error:
        raise BackupError(f"{target} is no tar file that can be read ({error}).") from None
    with tar:
        yield TarReader(target, tar)


def copy_hashed(name: str, source: BinaryIO, target: BinaryIO) -> KeptFile:
    """Copy bytes and say what they were."""
    digest, size = hashlib.sha256(), 0
    while chunk := source.read(CHUNK_BYTES):
        digest.update(chunk)
        size += len(chunk)
        target.write(chunk)
    return KeptFile(name, size, digest.hexdigest())
