"""What came in: whether it is compressed, and what text file lies inside.

Public: `Unpacked`, `unpack`, `INFLATED_LIMIT_BYTES`, `INFLATED_RATIO`.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from dataclasses import dataclass

from passband.analysis.channels.log import NotALog

INFLATED_LIMIT_BYTES = 512 * 1024 * 1024
"""Most bytes one compressed log may grow to: ten times the largest log we know of (60,000 rows of 100 channels)."""
INFLATED_RATIO = 250.0
"""Most bytes of text from one byte of file. A log with 90 % blank cells reaches about 60; a bomb is near 1000."""
RATIO_FREE_BYTES = 8 * 1024 * 1024
"""Below this size the ratio is not looked at: a short log of constants packs very well and does no harm."""
_STEP = 1024 * 1024

_SIGNATURES: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG\r\n\x1a\n", "a PNG image"),
    (b"\xff\xd8\xff", "a JPEG image"),
    (b"GIF8", "a GIF image"),
    (b"BM", "a bitmap image"),
    (b"%PDF", "a PDF document"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet or document file"),
    (b"SQLite format 3", "a database"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"PAR1", "a Parquet file"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)
EXPORT_ADVICE = "Export the run from the logger as text (CSV) and send that."


@dataclass(frozen=True, slots=True)
class Unpacked:
    """The bytes of the text, and how they were packed."""

    data: bytes
    """The file's own bytes, or those inside the gzip or zip."""
    compression: str
    """``gzip``, ``zip`` or empty."""


def unpack(data: bytes, *, name: str) -> Unpacked:
    """The text file's bytes out of what was sent.

    Parameters
    ----------
    data : bytes
        The file as it came.
    name : str
        Its name, for the sentence of a refusal.

    Returns
    -------
    Unpacked
        The bytes as they came where nothing is packed.

    Raises
    ------
    NotALog
        If the bytes are a picture, document or program, a damaged archive, an archive of no or several
        files, or one that grows past `INFLATED_LIMIT_BYTES` or `INFLATED_RATIO`.
    """
    if data[:2] == b"\x1f\x8b":
        return Unpacked(_inflate_gzip(data, name), "gzip")
    if data[:4] in (b"PK\x03\x04", b"PK\x05\x06"):
        return Unpacked(_inflate_zip(data, name), "zip")
    for signature, kind in _SIGNATURES:
        if data.startswith(signature) and (len(signature) > 2 or _has_control_bytes(data[:4096])):
            raise NotALog(f"{name}: looked for rows of numbers as text, found {kind}. {EXPORT_ADVICE}")
    return Unpacked(data, "")


def _has_control_bytes(head: bytes) -> bool:
    return any(byte < 32 and byte not in (9, 10, 12, 13) for byte in head)


def _inflate_gzip(data: bytes, name: str) -> bytes:
    pieces: list[bytes] = []
    grown, start = 0, 0
    try:
        while data[start : start + 2] == b"\x1f\x8b":  # a gzip file may hold several members, one after the other
            member = zlib.decompressobj(wbits=31)
            at = start
            while not member.eof:
                feed = member.unconsumed_tail or data[at : at + _STEP]
                at += 0 if member.unconsumed_tail else len(feed)
                piece = member.decompress(feed, _STEP)
                if not piece and not member.eof and len(member.unconsumed_tail) == len(feed):
                    raise NotALog(f"{name}: the gzip file is cut short or damaged. Send it again, or unpacked.")
                pieces.append(piece)
                grown += len(piece)
                _check_growth(grown, at - len(member.unconsumed_tail), name)
            start = at - len(member.unused_data)
    except zlib.error as error:
        raise NotALog(f"{name}: the gzip file is damaged and cannot be opened. Send it again, or unpacked.") from error
    return b"".join(pieces)


def _check_growth(grown: int, used: int, name: str) -> None:
    too_much = grown > INFLATED_LIMIT_BYTES
    too_steep = grown > RATIO_FREE_BYTES and grown > INFLATED_RATIO * max(used, 1)
    if too_much or too_steep:
        raise NotALog(
            f"{name}: unpacked, the file grows past what a log can be "
            f"({INFLATED_LIMIT_BYTES // 2**20} MB, or {INFLATED_RATIO:.0f} times its packed size). Send it unpacked."
        )


def _inflate_zip(data: bytes, name: str) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            member = _only_member(archive, name)
            _check_growth(member.file_size, max(member.compress_size, 1), name)
            return _read_member(archive, member, name)
    except NotALog:
        raise
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, ValueError) as error:
        raise NotALog(
            f"{name}: the zip file is damaged or locked and cannot be opened. Send the log unpacked."
        ) from error


def _only_member(archive: zipfile.ZipFile, name: str) -> zipfile.ZipInfo:
    found = archive.infolist()
    if any(info.filename == "[Content_Types].xml" for info in found):
        raise NotALog(f"{name}: looked for rows of numbers as text, found a spreadsheet or document. {EXPORT_ADVICE}")
    logs = [info for info in found if not info.is_dir() and not _is_clutter(info.filename)]
    tables = [info for info in logs if not _is_a_note(info.filename)]
    if len(tables) == 1:
        return tables[0]
    if len(logs) != 1:
        raise NotALog(f"{name}: looked for one log in the zip file, found {len(logs)} files. Send each log by itself.")
    return logs[0]


def _is_clutter(path: str) -> bool:
    last = path.rsplit("/", 1)[-1]
    return path.startswith("__MACOSX/") or last.startswith(".") or last.lower() in ("thumbs.db", "desktop.ini")


def _is_a_note(path: str) -> bool:
    """Whether a file beside a log is called what people call words about it, or is a picture or document."""
    name, _, kind = path.rsplit("/", 1)[-1].lower().rpartition(".")
    return name in ("readme", "read me", "license", "licence", "info", "notes", "liesmich") or kind in _OTHER_KINDS


_OTHER_KINDS = frozenset("jpg jpeg png gif pdf doc docx html htm md rtf".split())


def _read_member(archive: zipfile.ZipFile, member: zipfile.ZipInfo, name: str) -> bytes:
    pieces: list[bytes] = []
    grown = 0
    with archive.open(member) as stream:
        while piece := stream.read(_STEP):
            pieces.append(piece)
            grown += len(piece)
            _check_growth(grown, max(member.compress_size, 1), name)
    return b"".join(pieces)
