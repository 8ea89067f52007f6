"""Bytes to text: which encoding, which line ends, and where each of the first lines stands.

The whole file is never decoded: what follows the header is digits, and polars reads those as bytes. Only the
head is turned into text here.

Public: `Text`, `read_text`, `text_by_head`, `text_of_two_bytes`, `Line`, `HEAD_BYTES`.
"""

from __future__ import annotations

import io
import itertools
import operator
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from passband.analysis.channels.log import NotALog
from passband.analysis.reading.text.code_pages import find_code_page, in_utf8
from passband.analysis.reading.text.mended_bytes import (
    ends_lines_by_feeds,
    one_kind_of_line_end,
    out_of_quoted_printable,
    out_of_western_letters,
    plain_minus,
    without_colours,
    without_padding,
    without_padding_before,
    without_unseen_letters,
)
from passband.analysis.reading.text.refusal import quoted_start
from passband.analysis.reading.text.sql_tables import may_be_a_dump
from passband.analysis.reading.text.unpack import EXPORT_ADVICE, unpack
from passband.analysis.reading.text.upright import (
    LARGEST_BYTES,
    MOST_CHANNELS,
    may_be_transposed,
    rows_of_marks,
    transposed,
)
from passband.analysis.results.findings import Finding

HEAD_BYTES = 96 * 1024
"""How much of the file is looked at to understand it: 60 preamble lines and about 100 rows of 100 channels."""
MOST_LINE_BYTES = 2 * 1024 * 1024
"""No row of a log is longer: 5,000 columns of 400 characters. One that is costs eight times its size when parted."""
PART_BYTES = 16 * 1024 * 1024
"""Bytes among which line ends are looked for at once."""
PIECE_UNITS = 1 << 17
"""Letters of UTF-16 that are turned at once: a quarter of a megabyte."""
FEWEST_UNITS = 8 * PIECE_UNITS
"""Letters from which two threads turn them."""
_BOMS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
_BOMS_OF_FOUR = ((b"\xff\xfe\x00\x00", "utf-32-le"), (b"\x00\x00\xfe\xff", "utf-32-be"))
"""Looked for before padding is taken off, of which the one would be a part."""
_UTF8_LETTER = re.compile(rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}")
_BEYOND_ASCII = re.compile(rb"[\x80-\xff]+")
_ASCII = bytes(range(128))
_CONTROL = bytes([0, *range(2, 9), *range(0x0E, 0x1E)])
"""But for the signs that were made to part cells and records, of which some files are full."""
MOST_CONTROL = 0.002
"""Share of control characters above which bytes are no text; a damaged log holds a few, a picture a tenth."""


class Line(NamedTuple):
    """One line of the head: a tuple, as a head has many hundreds and is read for each log."""

    text: str
    """Without its line end; a quoted cell may hold line ends of its own."""
    number: int
    """From 1, counted in line ends."""
    start: int
    """Byte of `Text.data` at which it starts."""


@dataclass(frozen=True, slots=True)
class Text:
    """A file as text: one byte a character for what is plain, and how to decode the rest."""

    data: bytes
    """Without byte order mark, UTF-16 as UTF-8; line ends ``\\n``, ``\\r\\n`` or ``\\r`` as `line_end` says."""
    encoding: str
    """As the file was: ``utf-8``, ``utf-8-sig``, ``utf-16-le``, ``utf-16-be``, ``latin-1``, ``cp1252``, or a page that
    `find_code_page` found."""
    byte_encoding: str
    """How to decode `data` now: ``ascii`` where that is known to be enough."""
    compression: str
    """``gzip``, ``zip`` or empty."""
    line_end: str
    """``\\n`` (also for ``\\r\\n``) or ``\\r``."""
    decimal_written: str = ""
    """The decimal mark of the file where `data` has another one; else empty."""
    delimiter_written: str = ""
    """The same of the delimiter."""
    findings: tuple[Finding, ...] = ()
    """What was evened out in it and must be told."""
    _parted: dict[tuple[int, int], tuple[Line, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    """Stretches whose lines were asked for: each step looks at the head again."""

    def decode(self, data: bytes) -> str:
        """A stretch of `data` as text; bytes that are none become the replacement character."""
        return data.decode(self.byte_encoding, errors="replace")

    def line_number(self, byte: int) -> int:
        """Number of the line that starts at a byte, from 1."""
        return 1 + self.data.count(self.line_end.encode("ascii"), 0, byte)

    def lines(self, start: int = 0, size: int = HEAD_BYTES) -> tuple[Line, ...]:
        """The lines of a stretch; the last is left out where the stretch cuts it."""
        stretch = (start, min(start + size, len(self.data)))
        if stretch not in self._parted:
            self._parted[stretch] = tuple(self._lines_between(*stretch))
        return self._parted[stretch]

    def _lines_between(self, start: int, stop: int) -> list[Line]:
        head, mark = self.data[start:stop], self.line_end.encode("ascii")
        parts = head.split(mark)
        texts = self.decode(head).split(self.line_end)  # in none of its encodings is a line end part of a letter
        ended = len(parts) - 1
        if self.line_end == "\n" and b"\r" in head:
            texts[:ended] = [text.removesuffix("\r") for text in texts[:ended]]
        if stop < len(self.data) or not parts[-1]:
            parts.pop()  # what the stretch cuts, or nothing behind the last line end
        before = itertools.accumulate(map(len, parts), initial=start)  # bytes, without the line ends
        starts = map(operator.add, before, itertools.count())
        numbers = itertools.count(self.line_number(start))
        return list(map(Line._make, zip(texts[: len(parts)], numbers, starts, strict=False)))


def read_text(data: bytes, *, name: str) -> Text:
    """Turn the bytes of a file into text that can be looked at.

    Parameters
    ----------
    data : bytes
        The file as it came.
    name : str
        Its name, for the sentence of a refusal.

    Returns
    -------
    Text
        UTF-16 has become UTF-8.

    Raises
    ------
    NotALog
        If the file is empty, packed wrongly, or no text.
    """
    unpacked = unpack(data, name=name)
    body = out_of_quoted_printable(unpacked.data)
    if not re.search(rb"[^ \t\r\n\x00\xef\xbb\xbf\xff\xfe]", body):
        raise NotALog(f"{name}: looked for rows of numbers as text, found an empty file. {EXPORT_ADVICE}")
    decoded = _from_utf32(body) or _decoded(without_padding_before(body))
    text = _letters_in_utf8(replace(decoded, compression=unpacked.compression))
    if text.byte_encoding == "utf-8":
        text = replace(text, data=without_unseen_letters(out_of_western_letters(text.data)))
    data, line_end = one_kind_of_line_end(without_padding(without_colours(text.data)).removesuffix(b"\x0c"))
    text = replace(text, data=data, line_end=line_end)
    if _is_no_text(text, text.data[:HEAD_BYTES]):
        raise NotALog(
            f"{name}: looked for rows of numbers as text, found bytes that are no text, "
            f"beginning {quoted_start(text.decode(text.data[:HEAD_BYTES]))}. {EXPORT_ADVICE}"
        )
    text = _with_plain_minus(_stood_upright(text, name))
    _check_lines(text, name)
    return text


def _stood_upright(text: Text, name: str) -> Text:
    """The text with a line for each moment, where it is a table of another shape."""
    start = text.data[:HEAD_BYTES]
    marked = start.lstrip()[:1] in (b"{", b"[", b"<") or may_be_a_dump(start[:4096])
    marked |= b"[tr]" in start or b"[TR]" in start
    marked &= len(text.data) <= LARGEST_BYTES
    made = rows_of_marks(text.decode(text.data), name=name) if marked else None
    few = made is None and may_be_transposed(start) and text.line_number(len(text.data)) <= MOST_CHANNELS
    if few:
        made = transposed(text.decode(text.data).split(text.line_end))
    if made is None:
        return text
    told = Finding("shape-changed", "note", made.said, "")
    data, end = made.text.encode("utf-8"), "\n"
    return replace(text, data=data, byte_encoding="utf-8", line_end=end, findings=(*text.findings, told))


def text_by_head(data: bytes) -> Text | None:
    """The text of a file as its head shows it.

    Parameters
    ----------
    data : bytes
        The file as it came.

    Returns
    -------
    Text or None
        What `read_text` makes of it if nothing but ASCII comes after the head and line ends go on as they are there;
        None where that would be other bytes, where line ends are mixed or lines too long, or where the head is no text.
    """
    head = data[:HEAD_BYTES]
    if unpack(head, name="").compression or any(head.startswith(mark) for mark, _ in _BOMS):
        return None
    text = _decoded(head)
    if text.data is not head or without_padding(head) is not head or _is_no_text(text, head):
        return None
    if text.byte_encoding == "utf-8" and out_of_western_letters(head) is not head:
        return None
    if plain_minus(head, text.byte_encoding)[0] is not head or not ends_lines_by_feeds(head.removesuffix(b"\r")):
        return None
    whole = replace(text, data=data, line_end="\n")
    return whole if _all_lines_fit(data, b"\n") else None


def text_of_two_bytes(data: bytes) -> Text | None:
    """A file of two bytes a letter whose mark says so, in UTF-8, to be looked at as any other then.

    Parameters
    ----------
    data : bytes
        The file as it came.

    Returns
    -------
    Text or None
        With line ends as they are; None for any other file.
    """
    for mark, encoding in _BOMS[1:]:
        if data.startswith(mark) and not data.startswith(_BOMS_OF_FOUR[0][0]):
            return replace(_from_utf16(data, encoding, start=len(mark)), line_end="\n")
    return None


def _is_no_text(text: Text, head: bytes) -> bool:
    """Whether a stretch is full of control characters, which are the same byte in all encodings that `Text` holds."""
    controls = len(head) - len(head.translate(None, _CONTROL))
    return controls > 2 and controls > MOST_CONTROL * len(text.decode(head))


def _with_plain_minus(text: Text) -> Text:
    """The text with plain minus signs; told where others begin after the head."""
    data, first = plain_minus(text.data, text.byte_encoding)
    if first is None or first < HEAD_BYTES:
        return replace(text, data=data)
    line = text.line_number(text.data.rfind(text.line_end.encode("ascii"), 0, first) + 1)
    said = f"From line {line} on the numbers carry a typographic minus sign; it is read as a minus."
    told = Finding("layout-changes", "note", said, f"line {line}")
    return replace(text, data=data, findings=(*text.findings, told))


def _check_lines(text: Text, name: str) -> None:
    """Refuse a file with a line longer than any row, which would cost many times its size to part into cells."""
    if _all_lines_fit(text.data, text.line_end.encode("ascii")):
        return
    start, longest = _longest_line(text.data, ord(text.line_end))
    shown = quoted_start(text.decode(text.data[start : start + 200]))
    raise NotALog(
        f"{name}: looked for rows of numbers, found one line without end: line {text.line_number(start)} goes on "
        f"for {longest / 1e6:.1f} MB, beginning {shown}. {EXPORT_ADVICE}"
    )


def _all_lines_fit(data: bytes, line_end: bytes) -> bool:
    """Whether no line is longer than any row: from each line on, another must end within `MOST_LINE_BYTES`."""
    begins = 0
    while len(data) - begins > MOST_LINE_BYTES:
        last = data.rfind(line_end, begins, begins + MOST_LINE_BYTES + 1)
        if last < 0:
            return False
        begins = last + 1
    return True


def _longest_line(data: bytes, line_end: int) -> tuple[int, int]:
    """Where the longest line starts, and its bytes."""
    raw = np.frombuffer(data, dtype=np.uint8)
    begins, found = 0, (0, 0)
    for first in range(0, raw.size, PART_BYTES):
        ends = np.flatnonzero(raw[first : first + PART_BYTES] == line_end) + first
        if ends.size:
            starts = np.concatenate(([begins], ends[:-1] + 1))
            at = int(np.argmax(ends - starts))
            found = max(found, (int(starts[at]), int(ends[at] - starts[at])), key=lambda line: line[1])
            begins = int(ends[-1]) + 1
    return max(found, (begins, raw.size - begins), key=lambda line: line[1])


def _from_utf32(body: bytes) -> Text | None:
    """A text of four bytes a letter as UTF-8; None where its mark does not stand before it."""
    for mark, encoding in _BOMS_OF_FOUR:
        if body.startswith(mark):
            letters = body[len(mark) : len(body) - len(body) % 4].decode(encoding, errors="replace")
            return Text(letters.encode("utf-8"), encoding, "utf-8", "", "")
    return None


def _decoded(body: bytes) -> Text:
    for mark, encoding in _BOMS:
        if body.startswith(mark) and not body.startswith(b"\xff\xfe\x00\x00"):
            if encoding == "utf-8-sig":
                return Text(body[len(mark) :], encoding, "utf-8", "", "")
            return _from_utf16(body, encoding, start=len(mark))
    guess = _utf16_without_mark(body)
    if guess:
        return _from_utf16(body, guess)
    if body.isascii():
        return Text(body, "utf-8", "ascii", "", "")
    odd = _part_with_letters(body)
    if _is_utf8(odd):
        return Text(body, "utf-8", "utf-8", "", "")
    page = find_code_page(body[:HEAD_BYTES])
    if page:
        return Text(in_utf8(body, page), page, "utf-8", "", "")
    if re.search(rb"[\x80-\x9f]", odd.translate(None, _ASCII)):
        return Text(body, "cp1252", "cp1252", "", "")
    return Text(body, "latin-1", "latin-1", "", "")


def _letters_in_utf8(text: Text) -> Text:
    """Western letters in UTF-8, which is what cells of words are read as."""
    if text.byte_encoding not in ("latin-1", "cp1252"):
        return text
    return replace(text, data=in_utf8(text.data, text.byte_encoding), byte_encoding="utf-8")


def _part_with_letters(body: bytes) -> bytes:
    """The part of the file that is not plain digits: the head, or all of it."""
    return body[:HEAD_BYTES] if _is_ascii_from(body, HEAD_BYTES) else body


def _is_ascii_from(body: bytes, start: int) -> bool:
    """Whether all bytes from `start` on are ASCII, without a copy of them."""
    rest = np.frombuffer(body, dtype=np.uint8)[start:]
    return rest.size == 0 or int(rest.max()) < 128


def _is_utf8(body: bytes) -> bool:
    """Whether the bytes are UTF-8. One damaged byte among valid letters does not make a file another encoding's."""
    try:
        body.decode("utf-8")
    except UnicodeDecodeError:
        rest, letters = _UTF8_LETTER.subn(b" ", b" ".join(_BEYOND_ASCII.findall(body)))
        strays = len(_BEYOND_ASCII.findall(rest))
        return letters > 0 and strays <= max(1, letters // 10)
    return True


def _utf16_without_mark(body: bytes) -> str:
    head = np.frombuffer(body[:4096], dtype=np.uint8)
    if head.size < 8:
        return ""
    even, odd = head[0::2], head[1::2]
    if np.mean(odd == 0) > 0.9 and np.mean(even == 0) < 0.1:
        return "utf-16-le"
    if np.mean(even == 0) > 0.9 and np.mean(odd == 0) < 0.1:
        return "utf-16-be"
    return ""


def _from_utf16(body: bytes, encoding: str, *, start: int = 0) -> Text:
    """The text as UTF-8, piece by piece, so that each is looked at and turned while the processor's cache holds it."""
    kind = "<u2" if encoding == "utf-16-le" else ">u2"
    units = np.frombuffer(body, dtype=kind, offset=start, count=(len(body) - start) // 2)
    half_a_letter = (len(body) - start) % 2 > 0
    plain = None if half_a_letter else _ascii_from_the_second_piece(units, encoding)
    if plain is not None:
        return plain
    written = io.BytesIO()
    highest, other = 0, -1  # where letters that are not ASCII began
    for first in range(0, units.size, PIECE_UNITS):
        piece = units[first : first + PIECE_UNITS]
        if not _is_ascii(piece):
            other = first if other < 0 else other
            continue
        if other >= 0:
            highest = max(highest, _write_letters(written, units[other:first], encoding))
            other = -1
        written.write(piece.astype(np.uint8).data)
    if other >= 0:
        highest = max(highest, _write_letters(written, units[other:], encoding))
    if highest >= 256 and half_a_letter:
        written.write("\ufffd".encode())
    return Text(written.getvalue(), encoding, "utf-8" if highest else "ascii", "", "")


def _ascii_from_the_second_piece(units: npt.NDArray[np.uint16], encoding: str) -> Text | None:
    """The text where only its first piece may hold other letters, as those of names and units; None for any other.

    All is written where it stays, by two threads: two thirds of the time is the system's, which clears the pages as
    they are touched (of 45 million letters 30 ms of processor time; written one behind another, 36).
    """
    if units.size < FEWEST_UNITS:
        return None
    first, rest = units[:PIECE_UNITS], units[PIECE_UNITS:]
    head = b"" if _is_ascii(first) else str(first.data, encoding, "replace").encode("utf-8")
    begins = len(head) or first.size
    written = io.BytesIO(bytes(begins + rest.size))  # taken over, not copied: nobody else holds it
    with written.getbuffer() as buffer, ThreadPoolExecutor(1) as beside:
        letters = np.frombuffer(buffer, dtype=np.uint8)
        letters[:begins] = np.frombuffer(head, dtype=np.uint8) if head else first
        half = rest.size // 2
        second = beside.submit(_write_ascii, rest[half:], letters[begins + half :])
        plain = _write_ascii(rest[:half], letters[begins : begins + half]) and second.result()
        second.result()
        del letters, second
    return Text(written.getvalue(), encoding, "utf-8" if head else "ascii", "", "") if plain else None


def _write_ascii(units: npt.NDArray[np.uint16], letters: npt.NDArray[np.uint8]) -> bool:
    for first in range(0, units.size, PIECE_UNITS):
        piece = units[first : first + PIECE_UNITS]
        if not _is_ascii(piece):
            return False
        np.copyto(letters[first : first + PIECE_UNITS], piece, casting="unsafe")
    return True


def _write_letters(written: io.BytesIO, letters: npt.NDArray[np.uint16], encoding: str) -> int:
    """Write letters as UTF-8, together, since one may take two units; the highest unit."""
    written.write(str(letters.data, encoding, "replace").encode("utf-8"))
    return int(letters.max())


def _is_ascii(piece: npt.NDArray[np.uint16]) -> bool:
    return int(piece.max()) < 128
