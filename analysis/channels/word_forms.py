"""A header's words in other forms than the catalogue's: cut short, in the plural, with how the number was stored.

Public: `without_storage`, `part_scale`, `pieces_of`, `words_meant`, `known_forms`, `other_words`,
`nearly_alike`.
"""

from __future__ import annotations

import itertools
import math
import re
from bisect import bisect_left
from collections.abc import Collection, Iterator, Sequence

SHORTEST_CUT, SHORTEST_CUT_AT_A_POINT = 5, 2
"""Letters of a word that may be another's beginning: without the point that says it is cut short, and with it."""
MOST_FORMS = 60
"""Ways to complete all words of a header that are tried; beyond, nothing is given from another."""

_STORAGE = re.compile(
    r"(?i)(?<=[^\W_])[\s_.\-(\[]+(?:(?:f|u|i|s|ul|sl|ub|sb|uw|sw)(?:8|16|32|64)|(?:u?int|float|real)(?:8|16|32|64)?|"
    r"double|hex(?:adecimal)?)[\s)\]]*$"
)
_STORED_AS = re.compile(
    r"^(?:(?:[fius](?:8|16|32|64)|[us]?int(?:8|16|32)?|flt)_?(?=[A-Z][A-Za-z])|f(?=[A-Z][a-z]+[A-Z]))"
)
"""How the number is stored, before a name, as programmers write it: ``u16EngRpm``. A lone ``u`` may be a voltage."""
_SCALE = re.compile(
    r"(?i)^(?P<name>.*[^\W_])[\s_]*[(\[]?\s*(?:[x×*/÷]\s*|_x)(?P<scale>1000|100|10|0?[.,]\d{1,4})\s*[)\]]?$", re.DOTALL
)
_PIECE = re.compile(r"[^\W\d_]+(?:\.[^\W\d_]+)*\.?")


def without_storage(header: str) -> str:
    """A header without the way its numbers were stored.

    Examples
    --------
    >>> [without_storage(header) for header in ("EngSpd_f32", "MAP u16", "Lambda 2", "u16EngRpm", "fuelP")]
    ['EngSpd', 'MAP', 'Lambda 2', 'EngRpm', 'fuelP']
    """
    return _STORAGE.sub("", _STORED_AS.sub("", header))


def part_scale(header: str) -> tuple[str, float] | None:
    """A header and the factor written behind it; None where there is none.

    Which way the factor goes is not said by it: "x10" may mean tenths, or that ten times it is meant.

    Examples
    --------
    >>> part_scale("Coolant x10"), part_scale("RPM*0.25"), part_scale("Lambda_x1000"), part_scale("Cyl 10")
    (('Coolant', 10.0), ('RPM', 0.25), ('Lambda', 1000.0), None)
    """
    match = _SCALE.match(header)
    if match is None:
        return None
    return match["name"].strip(), float(match["scale"].replace(",", "."))


def pieces_of(header: str) -> list[str]:
    """The words of a header, in lower case, each with the points that cut it short.

    Examples
    --------
    >>> pieces_of("Thrott pos. 2")
    ['thrott', 'pos.']
    """
    return _PIECE.findall(header.lower())


def words_meant(piece: str, vocabulary: Sequence[str], known: Collection[str] = ()) -> list[str]:
    """The words of several vocabularies together, of which one at least is what a piece stands for in its own.

    Parameters
    ----------
    piece : str
        One of `pieces_of` a header.
    vocabulary : sequence of str
        The words of all of them, in lower case, sorted.
    known : collection of str
        Words of any language, which stand for themselves unless a point cuts them short.

    Examples
    --------
    >>> [words_meant(piece, ["position", "throttle"]) for piece in ("thrott", "pos.", "pos", "positions")]
    [['throttle'], ['position'], [], ['position']]
    """
    plain = piece.rstrip(".")
    meant = [plain, plain[:-1]] if plain.endswith("s") and len(plain) > 2 else [plain]
    held = [word for word in meant if _holds(word, vocabulary)]
    return held if "." not in piece and plain in known else [*held, *_in_full(piece, vocabulary)]


def known_forms(header: str, vocabulary: Sequence[str], known: Collection[str] = ()) -> Iterator[str]:
    """Headers that this one may stand for, with each word in full and in the singular.

    Parameters
    ----------
    header : str
        Without its unit, in evened letters.
    vocabulary : sequence of str
        All words that names are made of, in lower case, sorted.
    known : collection of str
        Words of any language, which stand for themselves unless a point cuts them short.

    Yields
    ------
    str
        Only where each word can be completed; words that are known stand as they are.

    Examples
    --------
    >>> list(known_forms("Thrott pos. 2", ["position", "throttle"]))
    ['throttle position']
    """
    pieces = pieces_of(header)
    ways: list[list[str]] = []
    for piece in pieces:
        ways.append(_forms(piece, vocabulary, known))
        if not ways[-1] or math.prod(map(len, ways)) > MOST_FORMS:
            return
    if all(way == [piece] for way, piece in zip(ways, pieces, strict=True)):
        return
    for chosen in itertools.product(*ways):
        yield " ".join(chosen)


def other_words(header: str, full: str, vocabulary: Sequence[str]) -> list[str]:
    """Words that a word cut short in a header may stand for besides the one it was taken for.

    Parameters
    ----------
    header : str
        As for `known_forms`.
    full : str
        What it was taken for, as `known_forms` gives it.
    vocabulary : sequence of str
        Words it may stand for, in lower case, sorted.

    Returns
    -------
    list of str
        Empty where no word is cut short, or none else fits.

    Examples
    --------
    >>> other_words("Int. temp", "intake temp", ["intake", "interior"]), other_words("Thrott pos.", "", ["intake"])
    (['interior'], [])
    """
    taken = full.split()
    cut = [word for word in pieces_of(header) if word.rstrip(".") not in taken]
    return [other for word in cut for other in _in_full(word, vocabulary) if other not in taken]


def nearly_alike(word: str, vocabulary: Sequence[str], *, letters: int = 1) -> list[str]:
    """Words that one letter more, less, other or in its neighbour's place makes of another; the first letter stays.

    Parameters
    ----------
    word : str
        In lower case.
    vocabulary : sequence of str
        Words, in lower case, sorted.
    letters : int
        How many letters may stand otherwise.

    Examples
    --------
    >>> nearly_alike("tempreture", ["temperature"]), nearly_alike("tempreture", ["temperature"], letters=2)
    ([], ['temperature'])
    >>> nearly_alike("throtle", ["thrust", "throttle"]), nearly_alike("cooalnt", ["coolant"])
    (['throttle'], ['coolant'])
    """
    first = bisect_left(vocabulary, word[:1])
    begun = itertools.takewhile(lambda other: other.startswith(word[:1]), itertools.islice(vocabulary, first, None))
    return [other for other in begun if other != word and _is_near(word, other, letters)]


def _is_near(one: str, other: str, letters: int) -> bool:
    if abs(len(one) - len(other)) > letters:
        return False
    same = next((at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    left, right = one[same:], other[same:]
    pairs = [(left[1:], right), (left, right[1:]), (left[1:], right[1:])]
    if left[:2] == right[1::-1] and len(left) > 1:
        pairs.append((left[2:], right[2:]))
    return any(a == b or (letters > 1 and _is_near(a, b, letters - 1)) for a, b in pairs)


def _forms(word: str, vocabulary: Sequence[str], known: Collection[str]) -> list[str]:
    """What a word may stand for: itself if it is known, its singular, or all words that begin (and end) so."""
    plain = word.rstrip(".")
    if _holds(plain, vocabulary):
        return [plain]
    if plain.endswith("s") and len(plain) > 2 and _holds(plain[:-1], vocabulary):
        return [plain[:-1]]
    if "." not in word and plain in known:
        return []
    return _in_full(word, vocabulary)


def _in_full(word: str, vocabulary: Sequence[str]) -> list[str]:
    """All words that begin as a word cut short does, and end as it does where letters within are left out."""
    begin, _, end = word.rstrip(".").partition(".")
    if len(begin) < (SHORTEST_CUT_AT_A_POINT if "." in word else SHORTEST_CUT):
        return []
    first = bisect_left(vocabulary, begin)
    full = itertools.takewhile(lambda other: other.startswith(begin), itertools.islice(vocabulary, first, None))
    return [other for other in full if other.endswith(end) and len(other) > len(begin) + len(end)]


def _holds(word: str, vocabulary: Sequence[str]) -> bool:
    at = bisect_left(vocabulary, word)
    return at < len(vocabulary) and vocabulary[at] == word
