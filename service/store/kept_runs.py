"""What is kept of each run so that other bounds can be laid on it: a file a run, which may be missing at any time.

It tells nothing that the logs do not. One that is missing, torn, of other inputs or of an older form means that the
run is reviewed from its logs, and that makes it anew. So nothing is recorded of it, no backup holds it, and none is
synced.

Public: `KeptRuns`, `MadeOf`, `write_kept`, `read_kept`.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import BinaryIO

import orjson

LEVEL = 3
"""Of zstd: 0.9 MB of samples of a demo run become 0.20 MB in 13 ms; level 9 takes 90 ms for one part in a hundred."""
_ID = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class MadeOf:
    """What a kept run was made of."""

    inputs: str
    """Hash of the logs and of all that was said of them but the bounds."""
    version: str
    """Of the analysis."""


@dataclass(frozen=True, slots=True)
class _Head:
    """The first line of a file."""

    inputs: str
    version: str
    bytes: int
    sha256: str


def write_kept(path: Path, body: bytes, made_of: MadeOf) -> None:
    """Write what is kept of a run.

    Parameters
    ----------
    path : Path
        Written anew.
    body : bytes
        A kept run.
    made_of : MadeOf
        What it was made of.
    """
    import pyarrow as pa

    packed: bytes = pa.Codec("zstd", compression_level=LEVEL).compress(body, asbytes=True)
    head = _Head(made_of.inputs, made_of.version, len(body), hashlib.sha256(packed).hexdigest())
    path.write_bytes(orjson.dumps(asdict(head)) + b"\n" + packed)


def read_kept(path: Path) -> bytes | None:
    """The kept run of a file; None if it is missing, or not as it was written."""
    import pyarrow as pa

    try:
        with path.open("rb") as file:
            head, packed = _head_of(file), file.read()
    except OSError:
        return None
    if head is None or hashlib.sha256(packed).hexdigest() != head.sha256:
        return None
    body: bytes = pa.Codec("zstd").decompress(packed, head.bytes, asbytes=True)
    return body


def _head_of(file: BinaryIO) -> _Head | None:
    try:
        return _Head(**orjson.loads(file.readline(1000)))
    except (ValueError, TypeError):
        return None


class KeptRuns:
    """A folder of kept runs, by the ids of the runs.

    Parameters
    ----------
    root : Path
        The folder; made if it is not there. Files for `put` must lie on the same file system.
    """

    def __init__(self, root: Path) -> None:
        self._root = root
        root.mkdir(exist_ok=True)

    def put(self, run_id: str, source: Path | None) -> None:
        """Take over a file in the place of what was kept of a run, or forget that where there is none."""
        with suppress(OSError):  # what cannot be kept is made anew when it is asked for
            if source is None:
                return self.remove(run_id)
            path = self.path(run_id)
            path.parent.mkdir(exist_ok=True)
            os.replace(source, path)

    def put_beside(self, of: str, run_id: str, source: Path | None) -> None:
        """Take over what is kept of a new review that does not stand yet, of those of one pass."""
        with suppress(OSError):
            if source is not None:
                path = self._beside(of) / self.path(run_id).name
                path.parent.mkdir(parents=True, exist_ok=True)
                os.replace(source, path)

    def let_stand(self, of: str, run_id: str) -> None:
        """What was put beside a run is what is kept of it from now on."""
        path = self._beside(of) / self.path(run_id).name
        if path.exists():
            self.put(run_id, path)

    def forget_beside(self, of: str) -> None:
        """Let go of what of a pass does not stand."""
        shutil.rmtree(self._beside(of), ignore_errors=True)

    def _beside(self, of: str) -> Path:
        if not _ID.fullmatch(of):
            raise KeyError(f"{of!r} is no id of a pass")
        return self._root / "new" / of

    def made_of(self, run_id: str) -> MadeOf | None:
        """What the kept run was made of; None if there is none, or none that can be read."""
        try:
            with self.path(run_id).open("rb") as file:
                head = _head_of(file)
        except OSError:
            return None
        return MadeOf(head.inputs, head.version) if head is not None else None

    def path(self, run_id: str) -> Path:
        """Where a run's file is, if it is."""
        if not _ID.fullmatch(run_id):
            raise KeyError(f"{run_id!r} is no id of a run")
        return self._root / run_id[:2] / run_id

    def remove(self, run_id: str) -> None:
        """Forget what is kept of a run."""
        with suppress(OSError):
            self.path(run_id).unlink(missing_ok=True)
