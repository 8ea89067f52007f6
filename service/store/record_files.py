"""Small records beside the database, one file each, with a sum that shows damage: what a lost database is made of anew.

Public: `RecordFiles`, `DamagedRecord`, `written_record`, `read_record`.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import orjson

from passband.analysis.results.plain_values import JsonObject
from passband.service.store.files import sync_folder, write_all_whole, write_whole

SUM = "sum"
"""Key of the record's own SHA-256, made of all its other keys."""
_KEY = re.compile(r"[0-9a-f]{32}|[0-9a-f]{64}")


class DamagedRecord(ValueError):
    """A record file that is not as it was written; its text says which."""


class RecordFiles:
    """JSON objects in a folder, each under a key, each written whole.

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

    def write(self, key: str, body: JsonObject) -> None:
        """Keep a record under a key, in the place of the one that was there."""
        self.write_all({key: body})

    def write_all(self, bodies: Mapping[str, JsonObject]) -> None:
        """Keep records under their keys, in the places of those that were there."""
        written = {self._path(key): written_record(body) for key, body in bodies.items()}
        write_all_whole(written, scratch=self._scratch)

    def read(self, key: str) -> JsonObject | None:
        """The record under a key; None if there is none, `DamagedRecord` if it is not as it was written."""
        written = self.bytes_of(key)
        return None if written is None else read_record(written, self._path(key).name)

    def bytes_of(self, key: str) -> bytes | None:
        """A record's file as it lies there."""
        try:
            return self._path(key).read_bytes()
        except FileNotFoundError:
            return None

    def put_back(self, key: str, former: bytes | None) -> None:
        """Make a record's file what it was."""
        if former is not None:
            write_whole(self._path(key), former, scratch=self._scratch)
        else:
            self.remove(key)

    def remove(self, key: str) -> None:
        """Forget a record; nothing happens if it is not there."""
        self._path(key).unlink(missing_ok=True)
        sync_folder(self._root)

    def keys(self) -> Iterator[str]:
        """Keys of all records, in order; files that are none of ours are passed over."""
        for path in sorted(self._root.glob("*.json")):
            if _KEY.fullmatch(path.stem) and path.is_file():
                yield path.stem

    def _path(self, key: str) -> Path:
        if not _KEY.fullmatch(key):
            raise KeyError(f"{key!r} is no key of a record")
        return self._root / f"{key}.json"


def written_record(body: JsonObject) -> bytes:
    """A record as a file holds it: JSON for people to read too, with its sum."""
    plain: JsonObject = orjson.loads(orjson.dumps(body))
    return orjson.dumps({**plain, SUM: _sum_of(plain)}, option=orjson.OPT_INDENT_2)


def read_record(written: bytes, name: str) -> JsonObject:
    """A record out of a file's bytes, without its sum; `DamagedRecord` if it does not fit its sum."""
    try:
        body = orjson.loads(written)
    except ValueError:
        raise DamagedRecord(f"the record {name} is no sound JSON") from None
    if not isinstance(body, dict) or body.pop(SUM, None) != _sum_of(body):
        raise DamagedRecord(f"the record {name} does not fit its own sum")
    return body


def _sum_of(body: JsonObject) -> str:
    return hashlib.sha256(orjson.dumps(body, option=orjson.OPT_SORT_KEYS)).hexdigest()
