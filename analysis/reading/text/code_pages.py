"""Which code page a text has that is no UTF-8 and no Western one: by its head, and only where there is enough of it.

Cyrillic, Japanese, Chinese and Korean texts are told apart by charset-normalizer, from the cells with letters of
theirs. Of the two Latin pages it cannot tell one from the other by a header's few words; there the alphabets of
the languages decide. A page in which more of the cells are names of channels wins over either. Where in doubt
nothing is said, and a reader stays with the Western page.

Public: `find_code_page`, `in_utf8`.
"""

from __future__ import annotations

import re

import numpy as np

from passband.analysis.channels.recognition import names_a_channel

SCRIPT_PAGES = ("cp932", "euc_jp", "gb18030", "big5", "cp949", "cp1251", "koi8_r")
"""Japanese twice, Chinese in simple and in traditional letters, Korean, Cyrillic twice."""
PAGES_BY_NAMES = (
    "cp1250", "cp1251", "cp1253", "cp1254", "koi8_r", "cp866", "cp852", "iso8859_2", "iso8859_7", *SCRIPT_PAGES[:5],
    "cp850", "mac_roman", "cp874", "cp1255", "cp1256", "cp1258",
)  # fmt: skip
"""Pages tried by the names they give: Central European, Cyrillic, Greek, Turkish ones, those of Asian scripts, and the
Western ones of other systems, and those of Thai, Hebrew, Arabic and Vietnamese."""
CELLS_TRIED = 12
"""Cells that are read in each page; a log's first names are its most usual."""
LONGEST_TRIED = 100
"""Bytes of a cell above which it is prose or damage: a name of 30 letters in three bytes each has fewer."""
FEWEST_NAMES = 2
"""Cells that must be names of channels in a page, to be no chance."""
MOST_LETTERS = 4096
"""Bytes of the cells with letters that are weighed; a title row of 100 names has fewer. Caps the cost at some ms."""
FEWEST_SCRIPT_BYTES = 8
"""Four Japanese or eight Cyrillic letters: fewer read well in several pages (on headers of two to nine names)."""
SCRIPT_SHARE = 2 / 3
"""Share of the bytes beyond ASCII that stand in words of another script; accents stand alone among plain letters."""
MOST_CHAOS = 0.15
"""Beyond it charset-normalizer's best reading is no text; wrong pages of sound headers began at 0.02, right ones
stayed below 0.05."""
FEWEST_TELLING = 2
"""Letters that the two Latin pages read differently, below which the Western one stays."""

_BEHIND_NAME = re.compile(r"\s*[\[(/［（／].*|_(?:[A-Za-z%°]{1,4})$", re.DOTALL)
"""A unit, roughly: to part each cell from its unit in each page would cost more than the rest of a small file."""
_WORD = re.compile(rb"[\x40-\x7e\x80-\xff]+")  # letters, and what the second half of a letter may look like
_BETWEEN_CELLS = re.compile(rb"[\t\r\n,;\"]+|\|(?=\d)|(?<=\d)\|")  # a lone bar may be half a letter
_NOT_KOREAN = re.compile("[^\x00-\x7f\uac00-\ud7a3\u3131-\u318e\u2103\u00b0\u00b5\u03bc\ufffd]")
_KANA = re.compile("[\u3040-\u30ff]")
_HIGH = re.compile(rb"[\x80-\xff]")
_AMID_LETTERS = re.compile(r"(?<=[^\W\d_])[^\w\s.,;:'’/()\[\]{}<>|\"°%+*=_-](?=[^\W\d_])")

WESTERN = {
    "German": "äöüß",
    "French": "àâçéèêëîïôœùûüÿ",
    "Spanish": "áéíñóúü",
    "Portuguese": "áâãàçéêíóôõúü",
    "Italian": "àéèìîòóù",
    "Swedish, Finnish": "åäöéšž",
    "Danish, Norwegian": "æøåéóò",
    "Dutch": "éëïóöü",
    "Icelandic": "áðéíóúýþæö",
}
"""Letters of the languages that cp1252 serves."""
CENTRAL = {
    "Czech": "áčďéěíňóřšťúůýž",
    "Slovak": "áäčďéíĺľňóôŕšťúýž",
    "Polish": "ąćęłńóśźż",
    "Hungarian": "áéíóöőúüű",
    "Croatian, Slovene": "čćđšž",
    "Romanian": "ăâîşţ",
}
"""Letters of the languages that cp1250 serves."""


def find_code_page(head: bytes) -> str:
    """The code page of a text's head that is no UTF-8; empty where it is Western or there is too little to tell.

    Parameters
    ----------
    head : bytes
        The first lines.

    Returns
    -------
    str
        Name of a Python codec: one of `SCRIPT_PAGES` and `PAGES_BY_NAMES`, or empty.

    Examples
    --------
    >>> find_code_page("時間,回転数,水温".encode("cp932")), find_code_page("Время;Обороты;Наддув".encode("cp1251"))
    ('cp932', 'cp1251')
    >>> find_code_page("Čas;Otáčky;Řazení".encode("cp1250")), find_code_page("Zeit;Öldruck".encode("cp1252"))
    ('cp1250', '')
    >>> find_code_page("Χρόνος;Στροφές".encode("cp1253")), find_code_page("Süre;Yağ basıncı".encode("cp1254"))
    ('cp1253', 'cp1254')
    """
    cells = _cells_with_letters(head)
    return _by_names(cells, _script_page(cells) if _is_another_script(cells) else _central_page(cells))


def _by_names(cells: bytes, page: str) -> str:
    """The page in which more of the first cells are names of channels than in the one found; that one where none is."""
    tried = [cell for cell in cells.split(b"\n") if 0 < len(cell) <= LONGEST_TRIED][:CELLS_TRIED]
    if len(tried) < FEWEST_NAMES:
        return page
    names = {other: _named(tried, other) for other in (page or "cp1252", *PAGES_BY_NAMES)}
    best = max(names, key=lambda other: names[other])  # the first of equals
    return best if names[best] > max(names[page or "cp1252"], FEWEST_NAMES - 1) else page


def _named(cells: list[bytes], page: str) -> int:
    """How many cells are names of channels when read in a page."""
    texts = (_BEHIND_NAME.sub("", cell.decode(page, errors="replace")) for cell in cells)
    return sum(map(names_a_channel, texts))


def _cells_with_letters(head: bytes) -> bytes:
    """Each cell that holds more than ASCII once, up to a whole cell before the cap; the last may be cut off."""
    lines = b"\n".join(line for line in head.replace(b"\r", b"\n").split(b"\n") if not line.isascii())
    cells = [cell for cell in dict.fromkeys(_BETWEEN_CELLS.split(lines)) if not cell.isascii()]
    while len(cells) > 1 and sum(len(cell) + 1 for cell in cells) > MOST_LETTERS:
        cells = cells[: len(cells) // 2]
    return b"\n".join(cells)[:MOST_LETTERS]


def _is_another_script(cells: bytes) -> bool:
    """Whether most bytes beyond ASCII stand in words made of them."""
    counts = [(len(_HIGH.findall(word)), len(word)) for word in _WORD.findall(cells)]
    within = sum(high for high, size in counts if high >= 3 and 2 * high >= size)
    return within >= max(FEWEST_SCRIPT_BYTES, SCRIPT_SHARE * sum(high for high, _ in counts))


def _script_page(cells: bytes) -> str:
    page = _likeliest(cells, SCRIPT_PAGES)
    if page == "cp949" and _NOT_KOREAN.search(cells.decode(page, errors="replace")):
        # Korean of today is written in its own syllables: with others among them it is another's text misread
        kana = _KANA.search(cells.decode("euc_jp", errors="replace"))
        return "euc_jp" if kana else _likeliest(cells, ("gb18030", "euc_jp", "big5"))
    return page


def _likeliest(cells: bytes, pages: tuple[str, ...]) -> str:
    from charset_normalizer import from_bytes

    best = from_bytes(cells, cp_isolation=list(pages), preemptive_behaviour=False).best()
    return best.encoding if best is not None and best.chaos <= MOST_CHAOS else ""


def _central_page(cells: bytes) -> str:
    """Central European where its letters are one such language's and, read as Western ones, no Western language's."""
    western, central = (cells.decode(page, errors="replace") for page in ("cp1252", "cp1250"))
    telling = sum(one != other and other.isalpha() for one, other in zip(western, central, strict=True))
    if telling < FEWEST_TELLING or "\ufffd" in central:
        return ""
    if not _AMID_LETTERS.search(western) and _is_of_one(western, WESTERN):
        return ""
    return "cp1250" if _is_of_one(central, CENTRAL) else ""


def _is_of_one(text: str, alphabets: dict[str, str]) -> bool:
    letters = {letter for letter in text.lower() if letter.isalpha() and not letter.isascii()} - {"µ"}
    return any(letters <= set(alphabet) for alphabet in alphabets.values())


def in_utf8(body: bytes, page: str) -> bytes:
    """A text of a code page as UTF-8: in some pages half a letter looks like a delimiter.

    Parameters
    ----------
    body : bytes
        The whole file.
    page : str
        Name of a Python codec.

    Examples
    --------
    >>> in_utf8("ポンプ|1".encode("cp932"), "cp932").decode()
    'ポンプ|1'

    Notes
    -----
    Only what lies before the end of the last line with letters is turned; rows of digits behind stay as they are.
    """
    high = np.flatnonzero(np.frombuffer(body, dtype=np.uint8) >= 128)
    end = body.find(b"\n", int(high[-1]) + 1) if high.size else 0
    end = len(body) if end < 0 else end
    return body[:end].decode(page, errors="replace").encode("utf-8") + body[end:]
