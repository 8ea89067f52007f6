"""An object store with an S3 interface, in the few steps that files need: each succeeds whole or changes nothing.

Imported only where a library's files lie in one: the client takes a third of a second. It is boto3, which sends
conditions along with a put and signs addresses; what it needs to be let in, it finds in its own settings (``AWS_*``).

Public: `ObjectStore`, `ObjectFacts`.
"""

from __future__ import annotations

import logging
import shutil
from base64 import b64encode
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from typing import Any, BinaryIO

import boto3
from botocore.config import Config
from botocore.exceptions import BotoCoreError, ClientError

from passband.service.store.faults import FilesAway
from passband.service.store_address import StoreAddress

CONNECT_S, READ_S, TRIES = 5, 30, 3
"""How long to wait for a line and for bytes, and how often. Common practice, no source."""
CHUNK_BYTES = 1024 * 1024
OBJECTS_AT_ONCE = 1000
"""Most objects that one question may remove, by the interface."""
MISSING = {"404", "NoSuchKey", "NotFound"}
NOT_SO = {"412", "PreconditionFailed", "409", "ConditionalRequestConflict"}
"""A condition that does not hold, or another put of the same name under way."""

log = logging.getLogger("passband")


@dataclass(frozen=True, slots=True)
class ObjectFacts:
    """What a store says of an object."""

    name: str
    """Behind the place's prefix."""
    etag: str
    """Another one for other bytes."""
    bytes: int
    age_s: float
    """Since it was put or copied, by the store's date and this machine's clock. [s]"""


class ObjectStore:
    """One place in an object store.

    Parameters
    ----------
    address : StoreAddress
        Where; the bucket must be there.
    """

    def __init__(self, address: StoreAddress) -> None:
        self.place = f"{address.endpoint or ''}/{address.place}"
        """Where it is, by its address; of no other place."""
        self._bucket = address.bucket
        self._prefix = f"{address.prefix}/" if address.prefix else ""
        style = {"addressing_style": "path"} if address.endpoint else None
        config = Config(
            connect_timeout=CONNECT_S,
            read_timeout=READ_S,
            retries={"mode": "standard", "total_max_attempts": TRIES},
            s3=style,
            # Not every store with this interface knows the newer sums; ours is sent with each put.
            request_checksum_calculation="when_required",
            response_checksum_validation="when_required",
        )
        with _as_away():
            self._client = _session().client(
                "s3", endpoint_url=address.endpoint, region_name=address.region, config=config
            )

    def facts(self, name: str) -> ObjectFacts | None:
        """What is known of an object; None if there is none."""
        with _as_away():
            try:
                found = self._client.head_object(Bucket=self._bucket, Key=self._prefix + name)
            except ClientError as error:
                if _code(error) in MISSING:
                    return None
                raise
        return ObjectFacts(name, found["ETag"], found["ContentLength"], _age_s(found["LastModified"]))

    def put(self, name: str, body: BinaryIO | bytes, *, sha256: str, replacing: str | None = None) -> bool:
        """Put an object where there is none, or in the place of one exact other.

        Parameters
        ----------
        name : str
            Behind the place's prefix.
        body : binary file or bytes
            From where it stands to its end.
        sha256 : str
            Of the body, hexadecimal: the store refuses what comes to it as anything else.
        replacing : str, optional
            `etag` of the object whose place it takes.

        Returns
        -------
        bool
            Whether it was put; False if another one is there, which stays as it is.
        """
        condition = {"IfNoneMatch": "*"} if replacing is None else {"IfMatch": replacing}
        checked = b64encode(bytes.fromhex(sha256)).decode()
        with _as_away():
            try:
                self._client.put_object(
                    Bucket=self._bucket, Key=self._prefix + name, Body=body, ChecksumSHA256=checked, **condition
                )
            except ClientError as error:
                if _code(error) in NOT_SO:
                    return False
                raise
        return True

    def fetch(self, name: str, target: BinaryIO) -> str | None:
        """Copy an object's bytes into a file, and return its `etag`; None if there is none."""
        with _as_away():
            try:
                got = self._client.get_object(Bucket=self._bucket, Key=self._prefix + name)
            except ClientError as error:
                if _code(error) in MISSING:
                    return None
                raise
            with closing(got["Body"]) as body:
                shutil.copyfileobj(body, target, CHUNK_BYTES)
        return str(got["ETag"])

    def copy(self, name: str, to: str) -> bool:
        """Copy an object within the store, also onto itself, which makes it young again; False if there is none."""
        source = {"Bucket": self._bucket, "Key": self._prefix + name}
        same: dict[str, Any] = {"MetadataDirective": "REPLACE"} if name == to else {}
        with _as_away():
            try:
                self._client.copy_object(Bucket=self._bucket, Key=self._prefix + to, CopySource=source, **same)
            except ClientError as error:
                if _code(error) in MISSING:
                    return False
                raise
        return True

    def remove(self, *names: str) -> None:
        """Remove objects; those that are not there are no error."""
        for start in range(0, len(names), OBJECTS_AT_ONCE):
            some = [{"Key": self._prefix + name} for name in names[start : start + OBJECTS_AT_ONCE]]
            with _as_away():
                answer = self._client.delete_objects(Bucket=self._bucket, Delete={"Objects": some, "Quiet": True})
            if answer.get("Errors"):
                _refused(str(answer["Errors"][0].get("Code")))

    def below(self, start: str) -> Iterator[ObjectFacts]:
        """All objects whose names begin so, in the order of their names."""
        pages = self._client.get_paginator("list_objects_v2")
        with _as_away():
            for page in pages.paginate(Bucket=self._bucket, Prefix=self._prefix + start):
                for found in page.get("Contents", ()):
                    name = found["Key"].removeprefix(self._prefix)
                    yield ObjectFacts(name, found["ETag"], found["Size"], _age_s(found["LastModified"]))

    def probe(self) -> None:
        """Ask the store for anything; `FilesAway` if it does not answer or refuses."""
        with _as_away():
            self._client.list_objects_v2(Bucket=self._bucket, Prefix=self._prefix, MaxKeys=1)

    def signed(self, name: str, seconds: int, headers: Mapping[str, str]) -> str:
        """An address at which the object can be fetched for some seconds, with headers of ours."""
        asked = {f"Response{header.replace('-', '')}": value for header, value in headers.items()}
        with _as_away():
            address: str = self._client.generate_presigned_url(
                "get_object",
                Params={"Bucket": self._bucket, "Key": self._prefix + name, **asked},
                ExpiresIn=seconds,
            )
        return address


@cache
def _session() -> Any:
    """One for all places: it reads the interface's description once, which takes as long as the import."""
    return boto3.session.Session()


@contextmanager
def _as_away() -> Iterator[None]:
    """Whatever the client raises, without the addresses and names that stand in its texts."""
    try:
        yield
    except ClientError as error:
        _refused(_code(error))
    except BotoCoreError as error:
        _refused(type(error).__name__)


def _refused(kind: str) -> None:
    log.error("the store of files does not answer or refuses: %s", kind)
    raise FilesAway from None


def _code(error: ClientError) -> str:
    return str(error.response.get("Error", {}).get("Code", "unknown"))


def _age_s(at: datetime) -> float:
    return (datetime.now(UTC) - at).total_seconds()
