"""An upload comes in: its files go straight to disk, under limits, into a folder of their own that is always cleared.

Public: `Received`, `ReceivedFile`, `receive`, `harmless_name`, `sorting_limits`.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, MultipartState, parse_options_header
from starlette.requests import Request

from passband.service.http.bodies import steadily, too_large
from passband.service.http.errors import Problem
from passband.service.settings import Settings
from passband.service.uploads.files_coming import FileComing

if TYPE_CHECKING:
    from python_multipart.multipart import MultipartCallbacks

NAME_LENGTH = 200
"""Longest file name kept; file systems end at 255 bytes. [characters]"""
PARTS_BESIDE_FILES = 8
"""Parts of an upload that are no file: car, details, and some room."""


SORTED_FILES = 64
"""Most files sorted at once: a weekend of one car."""


def sorting_limits(settings: Settings) -> Settings:
    """The limits for files that are only sorted: more of them, and together no more than an upload."""
    return settings.model_copy(update={"files": SORTED_FILES})


@dataclass(frozen=True, slots=True)
class ReceivedFile:
    """One file of an upload, on disk."""

    path: Path
    name: str
    """As the sender calls it, made harmless; for showing only."""
    bytes: int
    sha256: str = ""
    """Of its bytes, in hexadecimal; empty where nobody took it yet."""


@dataclass(slots=True)
class Received:
    """What an upload brought."""

    files: list[ReceivedFile] = field(default_factory=list)
    fields: dict[str, bytes] = field(default_factory=dict)
    """Parts that are no log."""


def harmless_name(name: str) -> str:
    r"""A sender's file name without folders, controls and characters that turn text around.

    Parameters
    ----------
    name : str
        Anything.

    Returns
    -------
    str
        At most 200 characters; ``log`` if nothing is left.

    Examples
    --------
    >>> harmless_name("../../etc/run 3.csv"), harmless_name("\x00")
    ('run 3.csv', 'log')
    """
    last = name.replace("\\", "/").rpartition("/")[2]
    shown = "".join(c for c in last if unicodedata.category(c)[0] != "C").strip()
    return shown[-NAME_LENGTH:].strip(" .") or "log"


async def receive(request: Request, folder: Path, settings: Settings) -> Received:
    """Take an upload in, file by file, without holding one in memory.

    Parameters
    ----------
    request : Request
        ``multipart/form-data``; parts called ``log`` are files.
    folder : Path
        An empty folder for the files.
    settings : Settings
        The limits.

    Returns
    -------
    Received
        Files in the order sent, and the other parts.

    Raises
    ------
    Problem
        400 if the form is broken, 408 if it stalls, 413 as soon as a limit is passed, 415 if it is no form.
    """
    parts = _Parts(folder, settings)
    most_bytes, seconds = _most_bytes(settings), settings.stall_seconds
    try:
        parser = MultipartParser(_boundary(request), callbacks=parts.callbacks())
        async for chunk in steadily(request, most_bytes=most_bytes, seconds=seconds, what="upload"):
            if _is_all_data(chunk, parser):
                parts.add_data(chunk, 0, len(chunk))
            else:
                parser.write(chunk)
            await parts.keep_up()
        parser.finalize()
        await parts.end()
    except FormParserError as error:
        raise Problem(400, "Broken form", f"The upload breaks off or is malformed: {error}.") from None
    finally:
        parts.close()
    if not parts.complete:
        raise Problem(400, "Broken form", "The upload breaks off before its end; send it again.")
    return parts.received


def _is_all_data(chunk: bytes, parser: MultipartParser) -> bool:
    """Whether a piece lies within a part and holds no carriage return, with which every boundary begins.

    To see that takes a fifth of the time in which the parser looks for the boundary, or less.
    """
    return parser.state is MultipartState.PART_DATA and parser.index == 0 and b"\r" not in chunk


def _boundary(request: Request) -> bytes:
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    if kind != b"multipart/form-data" or not options.get(b"boundary"):
        detail = "Send the logs as multipart/form-data, each as a part called 'log'."
        raise Problem(415, "Not an upload", detail)
    return options[b"boundary"]


def _most_bytes(settings: Settings) -> int:
    return settings.upload_bytes + 2 * settings.json_bytes


class _Parts:
    """What the parser calls as it meets headers, bytes and ends of parts."""

    def __init__(self, folder: Path, settings: Settings) -> None:
        self.received = Received()
        self.complete = False
        self._folder = folder
        self._settings = settings
        self._headers: dict[bytes, bytes] = {}
        self._header = (b"", b"")
        self._name = b""
        self._file: FileComing | None = None
        self._coming: list[tuple[FileComing, str]] = []
        self._bytes = 0
        self._log_bytes = 0
        self._parts = 0

    def callbacks(self) -> MultipartCallbacks:
        return {
            "on_part_begin": self._begin,
            "on_header_field": self._header_field,
            "on_header_value": self._header_value,
            "on_header_end": self._header_end,
            "on_headers_finished": self._headers_finished,
            "on_part_data": self.add_data,
            "on_part_end": self._end,
            "on_end": self._all_in,
        }

    async def keep_up(self) -> None:
        for file, _ in self._coming:
            await file.keep_up()

    async def end(self) -> None:
        for file, name in self._coming:
            self.received.files.append(ReceivedFile(file.path, name, file.bytes, await file.end()))

    def close(self) -> None:
        for file, _ in self._coming:
            file.close()

    def _begin(self) -> None:
        self._headers, self._header, self._bytes = {}, (b"", b""), 0
        self._parts += 1
        if self._parts > self._settings.files + PARTS_BESIDE_FILES:
            raise too_large("There are too many parts in the upload", self._settings.files)

    def _header_field(self, data: bytes, start: int, end: int) -> None:
        self._header = (self._header[0] + data[start:end], self._header[1])

    def _header_value(self, data: bytes, start: int, end: int) -> None:
        self._header = (self._header[0], self._header[1] + data[start:end])

    def _header_end(self) -> None:
        self._headers[self._header[0].lower()] = self._header[1]
        self._header = (b"", b"")

    def _headers_finished(self) -> None:
        _, options = parse_options_header(self._headers.get(b"content-disposition"))
        self._name = options.get(b"name", b"")
        if self._name != b"log":
            self.received.fields[self._name.decode("utf-8", "replace")[:NAME_LENGTH]] = b""
            return
        if len(self._coming) >= self._settings.files:
            raise too_large("There are too many files in one upload", self._settings.files)
        name = harmless_name(options.get(b"filename", b"").decode("utf-8", "replace"))
        self._file = FileComing(self._folder / f"{len(self._coming)}.part")
        self._coming.append((self._file, name))

    def add_data(self, data: bytes, start: int, end: int) -> None:
        """Some bytes of the part under way."""
        self._bytes += end - start
        if self._file is None:
            if self._bytes > self._settings.json_bytes:
                raise too_large(f"The part {self._name[:50]!r} is too long", self._settings.json_bytes)
            self.received.fields[self._name.decode("utf-8", "replace")[:NAME_LENGTH]] += data[start:end]
            return
        self._log_bytes += end - start
        if self._bytes > self._settings.file_bytes:
            raise too_large(f"The log {self._coming[-1][1]} is too long", self._settings.file_bytes)
        if self._log_bytes > self._settings.upload_bytes:
            raise too_large("The logs together are too long", self._settings.upload_bytes)
        self._file.take(data[start:end])

    def _all_in(self) -> None:
        self.complete = True

    def _end(self) -> None:
        self._file = None
