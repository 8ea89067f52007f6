"""Files as they come in: whole and in order whatever the pieces, and what stands in the way is told."""

from __future__ import annotations

import asyncio
import hashlib

import pytest

from passband.service.uploads.files_coming import FileComing


async def sent(file, pieces):
    for piece in pieces:
        file.take(piece)
        await file.keep_up()
    return await file.end()


@pytest.mark.parametrize("size", [0, 1, 5_000, 300_000, 1_048_576])
@pytest.mark.parametrize("count", [1, 3, 40])
def test_what_came_stands_on_disk_with_its_hash(tmp_path, size, count):
    # Slow twin: all pieces at once
    pieces = [bytes([number % 251]) * size for number in range(count)]
    file = FileComing(tmp_path / "0.part")
    assert asyncio.run(sent(file, pieces)) == hashlib.sha256(b"".join(pieces)).hexdigest()
    assert (tmp_path / "0.part").read_bytes() == b"".join(pieces) and file.bytes == size * count


def test_a_disk_that_fails_beside_is_told(tmp_path, monkeypatch):
    # Planted: from the second mebibyte on nothing can be written
    file = FileComing(tmp_path / "0.part")
    file.take(b"a" * 1_000_000)

    def fail(piece):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(file, "_put", fail)
    with pytest.raises(OSError, match="No space left"):
        asyncio.run(sent(file, [b"b" * 300_000] * 20))
    file.close()


def test_one_that_is_given_up_writes_no_more(tmp_path):
    file = FileComing(tmp_path / "0.part")
    for _ in range(30):
        file.take(b"x" * 300_000)
    file.close()
    size = (tmp_path / "0.part").stat().st_size
    assert size <= 30 * 300_000 and file._file.closed
