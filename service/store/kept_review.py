"""A review as its row keeps it: JSON, packed where that is shorter; rows written before any was packed hold it plain.

Public: `review_row`, `read_review`, `review_sum`.
"""

from __future__ import annotations

import hashlib

from passband.service.store.faults import NotWhole
from passband.service.store.packing import pack, unpack


def review_row(review: bytes) -> bytes:
    """What the row keeps of a review's JSON."""
    return pack(review)


def read_review(kept: bytes, run_id: str) -> bytes:
    """The JSON of what a row keeps; `NotWhole` of its run if it can no longer be unpacked."""
    try:
        return unpack(kept)
    except ValueError:
        raise NotWhole(run_id, "The review") from None


def review_sum(kept: bytes) -> str:
    """SHA-256 of the JSON of what a row keeps, hexadecimal; of what lies there, if it can no longer be unpacked."""
    try:
        return hashlib.sha256(unpack(kept)).hexdigest()
    except ValueError:
        return hashlib.sha256(kept).hexdigest()
