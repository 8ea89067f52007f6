"""Where a library's originals and tables lie: in its own folder, or at a place of its own in an object store.

A library whose files lie in an object store has a mark in its folder that says where, and the place has one that says
whose it is. So a start with a wrong setting, and a second library at the same place, are refused before anything of
theirs could be called left over.

Public: `KeptFiles`, `open_files`, `files_of`, `MARK`.
"""

from __future__ import annotations

import hashlib
import io
import secrets
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import orjson

from passband.service.store.faults import FilesElsewhere
from passband.service.store.files import Blobs, FolderBlobs, write_whole
from passband.service.store_address import StoreAddress, read_address

if TYPE_CHECKING:
    from passband.service.store.object_blobs import ObjectAside
    from passband.service.store.object_store import ObjectStore

MARK = "files.json"
"""In the library's folder where its files lie elsewhere."""
_CLAIM = "library.json"
_SETTING = "PASSBAND_OBJECT_STORE"
_EXTRA = "Files in an object store need boto3, which comes along with `pip install 'passband[s3]'`."
_MOVE = (
    f"The library's logs and tables lie in its folder, and {_SETTING} names a place in an object store. To move them "
    f"there, make a backup without {_SETTING}, and restore it with it into a new folder."
)


@dataclass(frozen=True, slots=True)
class KeptFiles:
    """A library's files."""

    originals: Blobs
    """Logs, as they came."""
    tables: Blobs
    """A table for each run."""
    aside: ObjectAside | None = None
    """Where files of the trash lie; None for the trash's own folder."""


def open_files(root: Path, store: str, *, scratch: Path) -> KeptFiles:
    """The files of a library that is being opened; its place in an object store becomes its own.

    Parameters
    ----------
    root : Path
        The library's folder, held.
    store : str
        Address of an object store as the setting gives it; empty for none. The place marked in the folder may lie
        below it.
    scratch : Path
        A folder on the same file system whose files nobody misses.

    Returns
    -------
    KeptFiles
        Ready to be used.

    Raises
    ------
    FilesElsewhere
        If the setting names another place than the library's, or a place that is another library's.
    FilesAway
        If the store does not answer.
    """
    if store and not (root / MARK).exists():
        if any((root / "originals").glob("??/*")):
            raise FilesElsewhere(_MOVE)
        body = orjson.dumps({"place": read_address(store).place, "id": secrets.token_hex(16)})
        write_whole(root / MARK, body, scratch=scratch)
        with ExitStack() as undone:
            undone.callback((root / MARK).unlink)
            files = _claimed(root, store, scratch)
            undone.pop_all()
        return files
    return _claimed(root, store, scratch) if store else files_of(root, store, scratch=scratch)


def files_of(root: Path, store: str, *, scratch: Path) -> KeptFiles:
    """The files of a library as it is marked, whoever has it open; raises as `open_files`."""
    mark = root / MARK
    if not mark.exists():
        return KeptFiles(FolderBlobs(root / "originals", packs=True), FolderBlobs(root / "runs", suffix=".parquet"))
    return _remote(_store(_address(mark, store)), scratch)


def _claimed(root: Path, written: str, scratch: Path) -> KeptFiles:
    mark = root / MARK
    address = _address(mark, written)
    store, ours = _store(address), mark.read_bytes()
    if not store.put(_CLAIM, ours, sha256=hashlib.sha256(ours).hexdigest()):
        theirs = io.BytesIO()
        store.fetch(_CLAIM, theirs)
        if theirs.getvalue() != ours:
            raise FilesElsewhere(
                f"{address.place} in the object store is another library's place; name one of its own in {_SETTING}."
            )
    return _remote(store, scratch)


def _address(mark: Path, written: str) -> StoreAddress:
    try:
        place = str(orjson.loads(mark.read_bytes())["place"])
    except (ValueError, KeyError, TypeError):
        raise FilesElsewhere(
            f"{MARK} in the library's folder is damaged: it says where in an object store the logs and tables lie. Put "
            "back the one of a copy of the folder, or restore a backup into a new folder and place."
        ) from None
    if not written:
        raise FilesElsewhere(f"The library's logs and tables lie in an object store, at {place}; say so in {_SETTING}.")
    address = read_address(written)
    if place != address.place and not place.startswith(f"{address.place}/"):
        raise FilesElsewhere(
            f"The library's logs and tables lie at {place} in an object store, and {_SETTING} names {address.place}."
        )
    bucket, _, prefix = place.partition("/")
    return replace(address, bucket=bucket, prefix=prefix)


def _store(address: StoreAddress) -> ObjectStore:
    try:
        from passband.service.store.object_store import ObjectStore
    except ImportError:
        raise FilesElsewhere(_EXTRA) from None
    return ObjectStore(address)


def _remote(store: ObjectStore, scratch: Path) -> KeptFiles:
    from passband.service.store.object_blobs import ObjectAside, ObjectBlobs
    from passband.service.store.read_lately import READ_LATELY

    return KeptFiles(
        ObjectBlobs(store, "originals", scratch=scratch, packs=True),
        ObjectBlobs(store, "runs", scratch=scratch, suffix=".parquet", lately=READ_LATELY),
        ObjectAside(store),
    )
