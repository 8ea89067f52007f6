"""Where an object store is: one address of bucket, prefix and endpoint, without any secret in it.

Public: `StoreAddress`, `read_address`, `address_below`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from urllib.parse import parse_qsl, urlsplit

FORM = "s3://bucket/prefix?endpoint=https://host&region=name"
_BUCKET = re.compile(r"[a-z0-9][a-z0-9.-]{1,61}[a-z0-9]")
_STEP = re.compile(r"[A-Za-z0-9_.-]+")
_ASKED = {"endpoint", "region"}


@dataclass(frozen=True, slots=True)
class StoreAddress:
    """One place in an object store."""

    bucket: str
    prefix: str
    """Steps parted by slashes, none at either end; empty for the whole bucket."""
    endpoint: str | None = None
    """Scheme and host of the store; None for the one that the client's own settings name."""
    region: str | None = None
    """As the store calls it; None likewise."""

    @property
    def place(self) -> str:
        """Bucket and prefix, by which two places are told apart."""
        return "/".join(filter(None, (self.bucket, self.prefix)))


def read_address(written: str) -> StoreAddress:
    """A place out of its address.

    Parameters
    ----------
    written : str
        ``s3://bucket/prefix?endpoint=https://host&region=name``; all behind the bucket can be left out.

    Returns
    -------
    StoreAddress
        Checked in form; nobody was asked.

    Raises
    ------
    ValueError
        Saying what of it cannot be used; it does not repeat the address, which may hold a secret.

    Examples
    --------
    >>> read_address("s3://season/logs?endpoint=http://127.0.0.1:9000").place
    'season/logs'
    """
    try:
        parts = urlsplit(written)
        asked = dict(parse_qsl(parts.query, strict_parsing=True)) if parts.query else {}
    except ValueError:
        raise ValueError(f"must have the form {FORM}") from None
    if parts.scheme != "s3" or parts.fragment or not asked.keys() <= _ASKED:
        raise ValueError(f"must have the form {FORM}")
    if "@" in parts.netloc:
        raise ValueError("must hold no key or password: they are taken from the client's own settings")
    if not _BUCKET.fullmatch(parts.netloc):
        raise ValueError(f"must name a bucket, in small letters and digits, and have the form {FORM}")
    prefix = parts.path.strip("/")
    if prefix and not all(_STEP.fullmatch(step) and step.strip(".") for step in prefix.split("/")):
        raise ValueError("must have a prefix of letters, digits, '_', '-' and '.' only, its steps parted by one '/'")
    return StoreAddress(parts.netloc, prefix, _endpoint(asked.get("endpoint")), asked.get("region"))


def address_below(written: str, folder: str) -> str:
    """The address of a folder in a place; the same for an empty name, and empty for an empty address.

    Examples
    --------
    >>> address_below("s3://season?region=north", "teams/a")
    's3://season/teams/a?region=north'
    """
    place, mark, asked = written.partition("?")
    return f"{place.rstrip('/')}/{folder}{mark}{asked}" if written and folder else written


def _endpoint(written: str | None) -> str | None:
    if written is None:
        return None
    parts = urlsplit(written)
    if parts.scheme not in ("http", "https") or not parts.hostname or "@" in parts.netloc or parts.query:
        raise ValueError("must have an endpoint of the form https://host or https://host:port")
    return written.rstrip("/")
