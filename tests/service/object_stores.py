"""An object store to test against: a server of moto's on a free port of this machine, with made-up keys.

It is a mock: what it is held to is the interface's words, and it says nothing of how safe or fast a real store is. It
does not hold bytes against the sum that comes with them, either.
"""

from __future__ import annotations

import logging
import os
import secrets
from functools import cache
from pathlib import Path
from typing import Any

import boto3
import pytest
from moto.server import ThreadedMotoServer

from passband.service.store.object_store import ObjectStore
from passband.service.store_address import read_address

BUCKET = "season"
SWITCH = "TEST_FILES_IN"
"""Set to ``store``, tests of the whole service keep their files in an object store."""
of_the_folder = pytest.mark.skipif(
    os.environ.get(SWITCH) == "store",
    reason="It lays hands on the folder's own files, or opens it with settings of its own; see test_object_store.",
)
MADE_UP = {
    "AWS_ACCESS_KEY_ID": "made-up", "AWS_SECRET_ACCESS_KEY": "made-up", "AWS_DEFAULT_REGION": "us-east-1",
    "AWS_EC2_METADATA_DISABLED": "true", "AWS_CONFIG_FILE": os.devnull, "AWS_SHARED_CREDENTIALS_FILE": os.devnull,
}  # fmt: skip


@cache
def endpoint() -> str:
    """Where the server listens, started when first asked; it ends with the process."""
    os.environ.update(MADE_UP)
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    client(f"http://{host}:{port}").create_bucket(Bucket=BUCKET)
    return f"http://{host}:{port}"


def client(at: str | None = None) -> Any:
    """The interface itself, past all of ours."""
    return boto3.session.Session().client("s3", endpoint_url=at or endpoint())


def fresh_place() -> str:
    """Address of a place that nobody has used."""
    return f"s3://{BUCKET}/{secrets.token_hex(8)}?endpoint={endpoint()}"


def place_if_switched(folder: Path) -> str:
    """Address of one folder's own place where the switch is set, else none."""
    if os.environ.get(SWITCH) != "store":
        return ""
    return f"s3://{BUCKET}/{folder.as_posix().strip('/').replace(' ', '_')}?endpoint={endpoint()}"


def objects_at(place: str) -> dict[str, bytes]:
    """Everything at a place, by name behind its prefix."""
    address, kept = read_address(place), {}
    pages = client().get_paginator("list_objects_v2").paginate(Bucket=BUCKET, Prefix=f"{address.prefix}/")
    for found in (one for page in pages for one in page.get("Contents", ())):
        body = client().get_object(Bucket=BUCKET, Key=found["Key"])["Body"].read()
        kept[found["Key"].removeprefix(f"{address.prefix}/")] = body
    return kept


@pytest.fixture
def place() -> str:
    """Address of a place of a test's own."""
    return fresh_place()


@pytest.fixture
def store(place: str) -> ObjectStore:
    """The place, opened."""
    return ObjectStore(read_address(place))
