"""What memory cards, serial links and spreadsheets leave in a text: padding, mixed line ends, typographic minus signs.

All of the file is looked at, because any of it may begin after the first rows.

Public: `out_of_quoted_printable`, `without_padding_before`, `without_padding`, `one_kind_of_line_end`,
`ends_lines_by_feeds`, `plain_minus`, `without_colours`,
`without_unseen_letters`, `out_of_western_letters`, `holds_letter`.
"""

from __future__ import annotations

import binascii
import re

LONGEST_STRAY = 15
"""Zero bytes in a row that may be damage within a cell; more are a lost stretch of a card, whose sectors hold 512."""
_COLOURS = re.compile(rb"\x1b\[[0-9;?]*[A-Za-z]")
COLOURS_FROM = 96 * 1024
"""A terminal that writes colours writes one within so many bytes."""
RECORDS_END = b"\x1e"
"""What ends a line where nothing else does: the record separator (ISO/IEC 646, control IS2)."""
_SAYS_PRINTABLE = re.compile(rb"(?i)content-transfer-encoding:[ \t]*quoted-printable")
_SOFT_END = re.compile(rb"(?m)^(.*=)\r?$")
FEWEST_SOFT_ENDS, LONGEST_PRINTABLE = 5, 76
"""Lines that end softly, which show a mail's way of writing where none says so, and the signs of one (RFC 2045)."""
_UNSEEN = re.compile(rb"\xe2\x80[\x8b\x8e\x8f\xaa-\xae]|\xe2\x81[\xa0-\xa4\xa6-\xa9]|\xef\xbb\xbf")
"""Letters of no width that say how a text runs (Unicode, general category Cf), but joiners, which some names need."""
_WIDE_BLANK = "\u3000".encode()
"""The blank as wide as a Chinese or Japanese sign."""
_BLANK_BESIDE = re.compile(rb"(?<![0-9])\xc2\xa0|\xc2\xa0(?![0-9])")
"""A blank that parts no line, but where it may group digits."""
_ZEROS = re.compile(rb"\x00+")
_CARRIAGE_RETURNS = re.compile(rb"\r+\n|\r+")
_MINUS_UTF8 = re.compile(
    rb"(?:(?<=[\s,;|\"'])|(?<=\xe2\x80[\x98-\x9e])|\A)(?:\xe2\x88\x92|\xe2\x80[\x92\x93]|\xef\xbc\x8d)(?=[.,]?\d)"
)
_SIGN_AND_DIGIT = 5
"""Bytes that a sign, a mark and a digit take together."""
_LEADS = {"utf-8": (b"\xe2", b"\xef"), "cp1252": (b"\x96",)}
"""First bytes of the signs: looking for these costs a hundredth of the pattern, which tries each byte of a file."""
_MINUS_CP1252 = re.compile(rb"(?:(?<=[\s,;|\"'])|\A)\x96(?=[.,]?\d)")


def without_padding_before(data: bytes) -> bytes:
    r"""The bytes without the zeros before them, an even number, so that two-byte letters stay whole.

    Parameters
    ----------
    data : bytes
        The file as it came.

    Examples
    --------
    >>> without_padding_before(bytes(513) + b"T"), without_padding_before(b"Time")
    (b'\x00T', b'Time')
    """
    if not data.startswith(b"\x00\x00"):
        return data
    zeros = len(data) - len(data.lstrip(b"\x00"))
    return data[zeros - zeros % 2 :]


def out_of_quoted_printable(data: bytes) -> bytes:
    r"""The bytes that a mail wrote as signs of its own, with soft ends of lines (RFC 2045, section 6.7).

    Parameters
    ----------
    data : bytes
        The file as it came.

    Returns
    -------
    bytes
        The same where the head does not say so, nor shows it by lines that end softly at no more than 76 signs.

    Examples
    --------
    >>> head = b"Content-Transfer-Encoding: quoted-printable\n\n"
    >>> out_of_quoted_printable(head + b"Oil [=C2=B0C];=\nRPM\n")[len(head):].decode()
    'Oil [°C];RPM\n'
    """
    head = data[:COLOURS_FROM]
    if b"=\n" not in head and b"=\r\n" not in head and b"uoted-" not in head:
        return data
    soft = _SOFT_END.findall(head)
    if _SAYS_PRINTABLE.search(head) is None and not (
        len(soft) >= FEWEST_SOFT_ENDS and max(map(len, soft)) <= LONGEST_PRINTABLE
    ):
        return data
    return binascii.a2b_qp(data)


def without_padding(data: bytes) -> bytes:
    r"""The text without zero bytes beside its line ends; a longer run within a line ends the line.

    Parameters
    ----------
    data : bytes
        One byte a character, or UTF-8.

    Notes
    -----
    Cards are written in sectors: the rest of one is zeros, and a sector that was never written is all zeros. Where it
    lies within a row, both halves are left as rows of too few cells; joined they would be a row of two moments.

    Examples
    --------
    >>> without_padding(b"1,2\n" + bytes(508) + b"3,4\n5" + bytes(512) + b"7,8\n9,\x00,1\n" + bytes(9))
    b'1,2\n3,4\n5\n7,8\n9,\x00,1\n'
    """
    if b"\x00" not in data:
        return data

    def instead(match: re.Match[bytes]) -> bytes:
        before, after = data[max(match.start() - 1, 0) : match.start()], data[match.end() : match.end() + 1]
        if before in (b"", b"\n", b"\r") or after in (b"", b"\n", b"\r"):
            return b""
        return match[0] if match.end() - match.start() <= LONGEST_STRAY else b"\n"

    return _ZEROS.sub(instead, data)


def without_colours(data: bytes) -> bytes:
    r"""The bytes without a terminal's signs for colours and places.

    Parameters
    ----------
    data : bytes
        The text.

    Examples
    --------
    >>> without_colours(b"\x1b[32m0.1,2\x1b[0m")
    b'0.1,2'
    """
    return _COLOURS.sub(b"", data) if b"\x1b[" in data[:COLOURS_FROM] else data


def without_unseen_letters(data: bytes) -> bytes:
    r"""UTF-8 without letters of no width, as marks of direction and of byte order, and with plain blanks for wide ones.

    Parameters
    ----------
    data : bytes
        UTF-8.

    Examples
    --------
    >>> without_unseen_letters("\ufeff5.50,\u200e2.46".encode())
    b'5.50,2.46'
    """
    data = data.replace(_WIDE_BLANK, b" ") if holds_letter(_WIDE_BLANK, data) else data
    data = _BLANK_BESIDE.sub(b" ", data) if holds_letter(b"\xc2\xa0", data) else data
    if not any(holds_letter(begin, data) for begin in (b"\xe2\x80", b"\xe2\x81", b"\xef\xbb\xbf")):
        return data
    return _UNSEEN.sub(b"", data)


def holds_letter(letter: bytes, data: bytes) -> bool:
    r"""Whether a letter of several bytes stands anywhere: each of its bytes alone is sought thirty times as fast.

    Parameters
    ----------
    letter : bytes
        As the text writes it.
    data : bytes
        The text.

    Examples
    --------
    >>> holds_letter("°".encode(), "Oil [°C]".encode()), holds_letter("°".encode(), "Öl".encode())
    (True, False)
    """
    return all(letter[at : at + 1] in data for at in range(len(letter))) and letter in data


MOST_TIMES = 3
"""Times that a text was saved anew in the wrong letters: each makes a sign two to three times as long."""
_BYTES_1252 = {bytes([at]).decode("cp1252"): at for at in range(0x80, 0xA0) if at not in (0x81, 0x8D, 0x8F, 0x90, 0x9D)}
_AS_BYTES = {ord(sign): at for sign, at in _BYTES_1252.items()}
_BEYOND_ASCII = re.compile(rb"[\x80-\xff]+")
_BLANK_FOR_ASCII = b" " * 128 + bytes(range(128, 256))


def out_of_western_letters(data: bytes) -> bytes:
    r"""UTF-8 whose bytes were taken for western letters and saved again, as it was before.

    Parameters
    ----------
    data : bytes
        UTF-8.

    Returns
    -------
    bytes
        The same where some sign is no western letter, or where these, taken for bytes, are no UTF-8: letters that mean
        themselves, as the sign of degrees, are none.

    Examples
    --------
    >>> out_of_western_letters("Ã–l [Â°C]".encode()).decode(), out_of_western_letters("Öl [°C]".encode()).decode()
    ('Öl [°C]', 'Öl [°C]')
    """
    for _ in range(MOST_TIMES):
        head = data[:COLOURS_FROM]
        head = head[: head.rfind(b"\n") + 1] or head
        before = _out_of_western(data) if _out_of_western(head) is not None else None  # the whole of it costs more
        if before is None:
            return data
        data = before
    return data


def _out_of_western(data: bytes) -> bytes | None:
    """The bytes that western letters stand for; None where they are no text with a sign beyond ASCII.

    Only letters beyond ASCII are looked at: what stands between them stays, and neither begins nor ends one of them.
    """
    if b"\xc2" not in data and b"\xc3" not in data:
        return None
    beyond = dict.fromkeys(data.translate(_BLANK_FOR_ASCII).split())
    try:
        before = {letters: _bytes_of_western(letters) for letters in beyond}
    except UnicodeError:
        return None
    return _BEYOND_ASCII.sub(lambda match: before[match[0]], data)


def _bytes_of_western(letters: bytes) -> bytes:
    """Raises UnicodeError where they are not western letters in UTF-8, or stand for no UTF-8."""
    before = letters.decode("utf-8").translate(_AS_BYTES).encode("latin-1")
    before.decode("utf-8")
    return before


def one_kind_of_line_end(data: bytes) -> tuple[bytes, str]:
    r"""The text with one kind of line end, and that: ``\n`` (also where all are ``\r\n``), or ``\r`` alone.

    Parameters
    ----------
    data : bytes
        One byte a character, or UTF-8.

    Examples
    --------
    >>> one_kind_of_line_end(b"a\rb\rc"), one_kind_of_line_end(b"a\r\nb\rc\n"), one_kind_of_line_end(b"a\r\r\nb")
    ((b'a\rb\rc', '\r'), (b'a\nb\nc\n', '\n'), (b'a\nb', '\n'))
    >>> one_kind_of_line_end(b"a\x1eb")
    (b'a\nb', '\n')
    """
    if ends_lines_by_feeds(data):
        return (data if b"\n" in data[:COLOURS_FROM] else data.replace(RECORDS_END, b"\n")), "\n"
    if b"\n" not in data:
        return data, "\r"
    return _CARRIAGE_RETURNS.sub(b"\n", data), "\n"


def ends_lines_by_feeds(data: bytes) -> bool:
    r"""Whether no carriage return stands but before a line feed.

    Parameters
    ----------
    data : bytes
        One byte a character, or UTF-8.

    Examples
    --------
    >>> ends_lines_by_feeds(b"a\nb\r\n"), ends_lines_by_feeds(b"a\rb\n")
    (True, False)
    """
    # looking costs a tenth of counting
    return b"\r" not in data or data.count(b"\r") == data.count(b"\r\n")


def plain_minus(data: bytes, encoding: str) -> tuple[bytes, int | None]:
    r"""The text with plain minus signs before its numbers, and where the first was not; None if nowhere.

    Parameters
    ----------
    data : bytes
        The text.
    encoding : str
        How it is to be decoded.

    Examples
    --------
    >>> plain_minus("0.1,\u22122.5".encode(), "utf-8"), plain_minus(b"1,\x962", "cp1252"), plain_minus(b"-1", "utf-8")
    ((b'0.1,-2.5', 4), (b'1,-2', 2), (b'-1', None))
    """
    pattern = {"utf-8": _MINUS_UTF8, "cp1252": _MINUS_CP1252}.get(encoding)
    places = [(data.find(lead), data.rfind(lead)) for lead in _LEADS.get(encoding, ()) if lead in data]
    if pattern is None or not places:
        return data, None
    start, stop = min(first for first, _ in places), max(last for _, last in places)
    found = pattern.search(data, start, stop + _SIGN_AND_DIGIT)
    return (pattern.sub(b"-", data), found.start()) if found else (data, None)
