"""Files of an upload, each once, and what is said with them, looked at before anything is kept.

Public: `SentFiles`, `sent_once`, `check_given`, `each_once`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import orjson

from passband.analysis.given.car import Air, Slip
from passband.analysis.results.plain_values import JsonObject
from passband.service.given.facts import read_given
from passband.service.store.files import Prepared, hash_of
from passband.service.store.records import LogRecord
from passband.service.uploads.received import ReceivedFile

FILE_TWICE: JsonObject = {
    "code": "file-sent-twice",
    "level": "note",
    "text": "A file came more than once in the same upload; it was used once.",
    "where": "",
}


@dataclass(frozen=True, slots=True)
class SentFiles:
    """Files of an upload, each once."""

    key: str
    """Made of their hashes: the same files have the same key."""
    logs: tuple[LogRecord, ...]
    paths: tuple[Path, ...]
    twice: tuple[JsonObject, ...]
    """What is to be told where a file came more than once."""
    prepared: tuple[Prepared, ...] = ()
    """Its files once more, where they were prepared to be put."""


def sent_once(files: Sequence[ReceivedFile]) -> SentFiles:
    """Files by their hashes, in the order they came; the same bytes are one file."""
    once: dict[str, ReceivedFile] = {}
    for file in files:
        once.setdefault(file.sha256 or hash_of(file.path), file)
    logs = [LogRecord(n, file.name, digest, file.bytes) for n, (digest, file) in enumerate(once.items())]
    key = hashlib.sha256("".join(sorted(once)).encode()).hexdigest()
    twice = (FILE_TWICE,) if len(once) < len(files) else ()
    return SentFiles(key, tuple(logs), tuple(file.path for file in once.values()), twice)


def check_given(slips: Sequence[JsonObject], air: JsonObject | None) -> None:
    """`GivenError` if a slip or the air cannot be used."""
    for slip in slips:
        read_given(Slip, slip, what="slip")
    if air is not None:
        read_given(Air, air, what="air")


def each_once(findings: Sequence[JsonObject]) -> tuple[JsonObject, ...]:
    """Findings in their order, the same one told once."""
    return tuple({orjson.dumps(finding): finding for finding in findings}.values())
