"""Bytes at rest in less room: packed where that pays, by zstd, and read as if they never were.

Text logs take a quarter of their room, logs that are packed already stay as they are. It is the zstd that comes along
with Parquet; any tool for ``.zst`` files unpacks them too.

Public: `packed_beside`, `unpack_file`, `open_kept`, `kept_hash`, `read_hash`, `pack`, `unpack`, `PACKED`.
"""

from __future__ import annotations

import hashlib
import io
import shutil
from pathlib import Path
from typing import BinaryIO, cast

PACKED = ".zst"
"""Put behind the name of a packed file."""
LEAST_SAVED_BYTES = 4096
"""A block of common file systems: what saves less takes as much room as before."""
CHUNK_BYTES = 256 * 1024
_MAGIC = b"\x28\xb5\x2f\xfd"
"""How a zstd frame starts (RFC 8878, 3.1.1); no JSON does."""
_LEVEL = 1
"""On the demo weekend's logs and reviews higher levels save under a tenth more room at two to six times the time."""


def packed_beside(source: Path, sha256: str) -> Path | None:
    """A file packed into another one beside it, if that pays and gives its bytes back.

    Parameters
    ----------
    source : Path
        Stays as it is.
    sha256 : str
        Of its bytes.

    Returns
    -------
    Path or None
        The packed file, not yet safe on disk; None where it does not pay, and nothing is left of it.
    """
    size = source.stat().st_size
    if size <= LEAST_SAVED_BYTES:
        return None
    import pyarrow as pa

    target = source.with_name(f"{source.name}{PACKED}")
    with source.open("rb") as plain, pa.CompressedOutputStream(pa.OSFile(str(target), "wb"), "zstd") as packed:
        while chunk := plain.read(CHUNK_BYTES):
            packed.write(chunk)
    if target.stat().st_size + LEAST_SAVED_BYTES <= size and kept_hash(target) == sha256:
        return target
    target.unlink()
    return None


def unpack_file(source: Path, target: Path) -> bool:
    """Write a packed file's bytes as they were; False, and nothing is left, if it is damaged."""
    try:
        with open_kept(source) as packed, target.open("wb") as plain:
            shutil.copyfileobj(packed, plain, CHUNK_BYTES)
    except OSError as error:
        target.unlink(missing_ok=True)
        if error.errno is not None:  # the disk's, and not the packing's
            raise
        return False
    return True


def open_kept(path: Path, file: BinaryIO | None = None) -> BinaryIO:
    """What is kept, read as it was given; it can be sought in, forward at the pace of unpacking.

    Parameters
    ----------
    path : Path
        Its name tells whether it is packed.
    file : binary file, optional
        Its bytes, where they lie elsewhere; closed along with what is returned.

    Returns
    -------
    binary file
        For reading. What should be packed and is not whole is an `OSError` without a number, on reading.
    """
    file = file or path.open("rb")
    if path.suffix != PACKED:
        return file
    return cast(BinaryIO, io.BufferedReader(_Unpacked(file), CHUNK_BYTES))


def kept_hash(path: Path) -> str:
    """SHA-256 of what is kept in a file, as it was given; empty where it cannot be unpacked."""
    with open_kept(path) as file:
        return read_hash(file)


def read_hash(file: BinaryIO) -> str:
    """SHA-256 of what `open_kept` gives, read to its end; empty where it cannot be unpacked.

    Parameters
    ----------
    file : binary file
        At its start; left open.

    Returns
    -------
    str
        Hexadecimal.
    """
    digest = hashlib.sha256()
    try:
        while chunk := file.read(CHUNK_BYTES):
            digest.update(chunk)
    except OSError as error:
        if error.errno is not None:  # the disk's, and not the packing's
            raise
        return ""
    return digest.hexdigest()


def pack(body: bytes) -> bytes:
    """Bytes packed, if they are shorter so.

    Parameters
    ----------
    body : bytes
        JSON: what starts like something packed could not be told from it.

    Returns
    -------
    bytes
        As `unpack` takes them.
    """
    import pyarrow as pa

    packed: bytes = pa.Codec("zstd", compression_level=_LEVEL).compress(body, asbytes=True)
    return packed if len(packed) < len(body) else body


def unpack(kept: bytes) -> bytes:
    """Bytes as they were before `pack`; those that never were packed are given back as they are.

    Examples
    --------
    >>> body = b'{"splits": []}' * 9
    >>> unpack(pack(body)) == unpack(body) == body
    True
    """
    if not kept.startswith(_MAGIC):
        return kept
    import pyarrow as pa

    try:
        return bytes(pa.CompressedInputStream(pa.BufferReader(kept), "zstd").read())
    except OSError as error:
        raise ValueError(f"what was packed cannot be unpacked: {error}") from None


class _LeftOpen:
    """A file that a stream reads and does not close when it is let go of."""

    closed = False

    def __init__(self, file: BinaryIO) -> None:
        self.read = file.read

    def close(self) -> None:
        """The file belongs to who gave it."""


class _Unpacked(io.RawIOBase):
    """A packed file as its bytes were; going back begins anew."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._begin()

    def _begin(self) -> None:
        import pyarrow as pa

        self._file.seek(0)
        self._stream = pa.CompressedInputStream(pa.PythonFile(_LeftOpen(self._file), mode="r"), "zstd")
        self._at = 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        chunk = self._stream.read(len(buffer))
        buffer[: len(chunk)] = chunk
        self._at += len(chunk)
        return len(chunk)

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        target = offset + (self._at if whence == io.SEEK_CUR else 0)
        if whence == io.SEEK_END:
            while self._skip(CHUNK_BYTES):
                pass
            target = self._at + offset
        if target < self._at:
            self._begin()
        while self._at < target and self._skip(target - self._at):
            pass
        return self._at

    def _skip(self, size: int) -> int:
        skipped = len(self._stream.read(min(size, CHUNK_BYTES)))
        self._at += skipped
        return skipped

    def close(self) -> None:
        self._file.close()
        super().close()
