"""From a header to a channel, by its words alone.

Case, order, abbreviations, numbers and filler words are evened out before the words are held against the
catalogue's aliases. A word that changes the meaning (target, limit, error, trim) is no filler, so "Boost Target"
is never boost. What units and values say comes after, in `analysis.reading.columns.plausibility`.

Public: `NameMatch`, `VAGUE`, `recognise_name`, `names_a_channel`, `channel_named`, `says_nothing_known`.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass, replace
from functools import lru_cache

from passband.analysis.channels.abbreviations import ABBREVIATIONS
from passband.analysis.channels.catalogue import CATALOGUE, family_of
from passband.analysis.channels.descriptions import name_within
from passband.analysis.channels.languages import ALIASES_BY_LANGUAGE, evened_letters, words_of_language
from passband.analysis.channels.numbers_in_names import number_in
from passband.analysis.channels.plain_words import CAMEL, plain_words
from passband.analysis.channels.sides import SIDES
from passband.analysis.channels.symbols import SIGNS_OF, symbol_read
from passband.analysis.channels.telling_words import (
    BETWEEN,
    CHANGES_MEANING,
    COUNTING,
    FILLER,
    OF_ANOTHER_TOGETHER,
    OF_OTHER_THINGS,
    OF_WHAT_UNSAID,
    SAYS_ABSOLUTE,
    SAYS_GAUGE,
    SYSTEMS,
    VAGUE_NAMES,
    VOLTS,
)
from passband.analysis.channels.word_forms import (
    MOST_FORMS,
    known_forms,
    nearly_alike,
    other_words,
    pieces_of,
    without_storage,
    words_meant,
)

SURE = 0.95
"""Confidence of a name that stands in the catalogue word for word."""
VAGUE = 0.8
"""A name of less confidence says what kind of thing it is and not which."""
WEAK = 0.7
"""Confidence of a name that could mean something else as well."""
FILLER_COST = 0.06
"""What each filler word takes off: "Engine Speed Sensor ECU" is less plain than "Engine Speed"."""
SIGN = 0.9
"""Confidence of a formula sign: a convention, and no word."""
COMPLETED_COST = 0.25
"""What a shortened word takes off: it may be another one."""
SHORTEST_MISSPELT = 6
"""Letters of a word that may be another with one letter wrong; shorter ones would meet by chance."""
SHORTEST_MISSPELT_BESIDE, SHORTEST_TWICE_MISSPELT, MOST_MISSPELT = 4, 9, 3
"""The same of one beside another word, which says what is meant; letters of a word two of which may be wrong; and
misspelt words of a name."""
SHORTEST_JOINED = 4
"""Letters of a name of one word that may be several words joined; shorter ones would meet by chance."""
NUMBER_COST = 0.1
"""What a number takes off where the channel has none: "Oil Pressure 2" may be another oil pressure."""

MOST_CYLINDERS = 24
"""No engine of a car has more: a greater number is no cylinder's, as the 85 of a fuel. By hand."""

_CORNER_WORDS: tuple[tuple[frozenset[str], str], ...] = tuple(
    (frozenset({axle, side}), axle_letter + side_letter)
    for axle, axle_letter in (("front", "f"), ("rear", "r"), ("back", "r"))
    for side, side_letter in (("left", "l"), ("right", "r"))
)
_TWO_NAMES = re.compile(r"[/|]")
_PATH = re.compile(r"\s*[/\\|>:]+\s*|(?<=[^\W\d_]{3})\.(?=[^\W\d_]{3})")
LONGEST_NAME = 300
"""Letters above which a header is prose or damage, no name: the longest alias has fewer than 50."""


@dataclass(frozen=True, slots=True)
class NameMatch:
    """One channel that a header may mean."""

    channel: str
    """Catalogue name, with the number the header gives where the catalogue numbers it."""
    confidence: float
    """0..1, by the words alone."""
    completed: str = ""
    """What a name with shortened words was taken to be in full; empty where none is shortened."""
    misspelt: bool = False
    """Whether `completed` is a name one letter of which stood otherwise, none that was cut short."""
    or_else: tuple[str, ...] = ()
    """Words of other things that a shortened word may be as well."""


def _with_corner(words: list[str]) -> list[str]:
    """``front left`` and its like as one word."""
    words = _sides_in_full(words)
    held = frozenset(words)
    for pair, corner in _CORNER_WORDS:
        if pair <= held:
            return [word for word in words if word not in pair] + [corner]
    return words


def _sides_in_full(words: list[str]) -> list[str]:
    """``front wheel r``, ``rr l``, ``l/f wheel``: beside an axle a letter is a side, if a wheel or nothing follows."""
    words = _letters_of_a_corner(words)
    if "rr" in words and len({"l", "r", "left", "right"}.intersection(words)) == 1:
        words = ["rear" if word == "rr" else word for word in words]
    axles = [word for word in words if word in ("front", "rear", "back")]
    alone = len(words) == 2 and words[0] in axles
    if len(axles) != 1 or not (alone or {"wheel", "tire"}.intersection(words)):
        return words
    return [SIDES.get(word, word) for word in words]


def _letters_of_a_corner(words: list[str]) -> list[str]:
    """``l f wheel``: a side's and an axle's letter beside a wheel, the side first or last, as one corner."""
    if not {"wheel", "tire"}.intersection(words):
        return words
    for at, (one, other) in enumerate(itertools.pairwise(words)):
        if one in ("l", "r") and other in ("f", "r"):
            return [*words[:at], other + one, *words[at + 2 :]]
        if (one, other) in (("f", "l"), ("r", "l"), ("f", "r")):
            return [*words[:at], one + other, *words[at + 2 :]]
    return words


@lru_cache(maxsize=1)
def _index() -> dict[frozenset[str], list[NameMatch]]:
    """What each set of words means."""
    index: dict[frozenset[str], list[NameMatch]] = {}
    for kind in CATALOGUE.values():
        for alias in kind.aliases:
            key = frozenset(_with_corner(plain_words(alias)))
            vague = alias.replace(" ", "_") in VAGUE_NAMES
            match = NameMatch(kind.name, WEAK if vague else SURE)
            held = index.setdefault(key, [])
            if kind.name not in [other.channel for other in held]:
                held.append(match)
    return index


@lru_cache(maxsize=8192)
def recognise_name(header: str) -> tuple[NameMatch, ...]:
    """Which channels a header may mean, by its words.

    Parameters
    ----------
    header : str
        Without its unit.

    Returns
    -------
    tuple of NameMatch
        Most likely first; empty where the words mean nothing we know.

    Examples
    --------
    >>> headers = ("ENG_SPD", "Lambda Bank 2", "Whl Spd LF", "Boost Target")
    >>> [match.channel for header in headers for match in recognise_name(header)]
    ['engine_speed', 'lambda_2', 'wheel_speed_fl']
    """
    if len(header) > LONGEST_NAME or _is_of_another(header):
        return ()
    return (
        _by_its_words(header)
        or _by_its_sign(header)
        or _in_another_form(header)
        or _in_two_languages(header)
        or _at_the_end_of_a_path(header)
        or _described(header)
        or _with_lost_letters(header)
        or _misspelt(header)
    )


def _is_of_another(header: str) -> bool:
    """Whether words that alone say nothing make another thing together: a shaft before the gears, a sensor's supply."""
    words = frozenset(plain_words(header))
    return any(first & words and then & words for first, then in OF_ANOTHER_TOGETHER)


@lru_cache(maxsize=8192)
def names_a_channel(header: str) -> bool:
    """Whether a header means a channel, with no word of it completed or mended: quicker than what it means.

    Examples
    --------
    >>> [names_a_channel(header) for header in ("ENG_SPD", "Thrott. Pos.", "Kasi ya injini")]
    [True, False, False]
    """
    if len(header) > LONGEST_NAME or _is_of_another(header):
        return False
    found = _by_its_words(header) or _by_its_sign(header)
    if not found:
        if without_storage(header) == header and not (_in_two_languages(header) or _at_the_end_of_a_path(header)):
            return False
        found = recognise_name(header)
    return bool(found) and not found[0].completed and not found[0].misspelt


@lru_cache(maxsize=8192)
def _by_its_words(header: str) -> tuple[NameMatch, ...]:
    """What the words mean as they stand, with fillers dropped, or parted and joined otherwise."""
    words = _with_corner(plain_words(header))
    found = _index().get(frozenset(words))
    if found:
        return tuple(found)
    if _means_nothing(words):
        return ()
    number, bare = number_in(words)
    for dropped in _without_filler(bare, counted=number is not None):
        found = [match for match in _index().get(frozenset(dropped), ()) if not _is_position(bare, match.channel)]
        if found:
            cost = FILLER_COST * (len(bare) - len(dropped))
            found = [_absolute(match) for match in found] if SAYS_ABSOLUTE.intersection(words) else found
            return tuple(_numbered(match, number, cost) for match in found)
    return _spelled_otherwise(words) or _without_between(words) or _by_gauge(words)


def _by_gauge(words: list[str]) -> tuple[NameMatch, ...]:
    """``Oil pressure relative``: a pressure said to be counted from the air outside, as most here are kept."""
    kept = [word for word in words if word not in SAYS_GAUGE]
    if len(kept) == len(words) or not kept:
        return ()
    found = [one for one in recognise_name(" ".join(kept)) if CATALOGUE[family_of(one.channel)].unit == "Pa"]
    cost = FILLER_COST * (len(words) - len(kept))
    found = [replace(one, confidence=round(one.confidence - cost, 3)) for one in found]
    return tuple(replace(one, channel="boost") if one.channel == "manifold_pressure" else one for one in found)


def _by_its_sign(header: str) -> tuple[NameMatch, ...]:
    """``T_Abg1``: a quantity's letter, and of what it is."""
    sign = symbol_read(header)
    if sign is None:
        return ()
    match = _numbered(NameMatch(sign.channel, SIGN), sign.number, 0.0)
    if sign.channel == "boost" and not sign.reference:  # benches log it either way: its values tell
        return (match, _absolute(match))
    return (_absolute(match) if sign.reference == "absolute" else match,)


def _described(header: str) -> tuple[NameMatch, ...]:
    """``Exhaust gas temperature upstream of turbine, K-type``: a name with its place and its sensor."""
    plain = name_within(header)
    if plain is None:
        return ()
    return tuple(
        replace(one, confidence=round(one.confidence - FILLER_COST, 3))
        for one in recognise_name(plain.name)
        if not one.misspelt
        and plain.is_place_of(frozenset(family_of(one.channel).split("_")))
        and all(_is_name_too(besides, one.channel) for besides in plain.besides)
    )


def _is_name_too(text: str, channel: str) -> bool:
    """Whether a text beside a name means the same, as a short form or a formula's sign does."""
    if re.fullmatch(r"[^\W\d_](?:[ _][^\W_]{1,4})?", text):
        return CATALOGUE[family_of(channel)].unit in SIGNS_OF.get(text[0].lower(), ("",))
    return any(family_of(one.channel) == family_of(channel) for one in recognise_name(text))


def _means_nothing(words: list[str]) -> bool:
    """Whether no word stands in any name, nor all of them as one: told before any is dropped or put otherwise."""
    if words[:1] == ["n"] or "1" in words or not BETWEEN.isdisjoint(words):
        return False
    return _words_of_names().isdisjoint(words) and "".join(words) not in _joined_index()


@lru_cache(maxsize=1)
def _words_of_names() -> frozenset[str]:
    """Each word that stands in a name."""
    return frozenset(word for alias in _index() for word in alias)


def _without_between(words: list[str]) -> tuple[NameMatch, ...]:
    """``Pressão no coletor``: what the words name without those that only say where."""
    kept = [word for at, word in enumerate(words) if word not in BETWEEN or at in (0, len(words) - 1)]
    if len(kept) == len(words):
        return ()
    cost = FILLER_COST * (len(words) - len(kept))
    return tuple(replace(one, confidence=round(one.confidence - cost, 3)) for one in recognise_name(" ".join(kept)))


def _misspelt(header: str) -> tuple[NameMatch, ...]:
    """``Throtle %``: what a header means where each unknown word is a letter off known ones, and all such agree."""
    words = plain_words(without_storage(header))
    unknown = [word for word in dict.fromkeys(words) if not word.isdecimal() and word not in _known_words()]
    unknown = [word for word in unknown if len(word) > 1 or not word.isascii()]
    alone = len([word for word in words if not word.isdecimal() and word not in FILLER]) < 2
    shortest = SHORTEST_MISSPELT if alone else SHORTEST_MISSPELT_BESIDE
    if not 0 < len(unknown) <= MOST_MISSPELT or min(map(len, unknown)) < shortest:
        return ()
    ways = [_words_near(word) for word in unknown]
    if not all(ways) or math.prod(map(len, ways)) > MOST_FORMS:
        return ()
    found: dict[str, NameMatch] = {}
    for chosen in itertools.product(*ways):
        instead = dict(zip(unknown, chosen, strict=True))
        form = " ".join(instead.get(word, word) for word in words)
        matches = recognise_name(form)
        if not matches or matches[0].completed:
            return ()  # it may as well be the other thing's
        for match in matches:
            confidence = round(match.confidence - COMPLETED_COST, 3)
            found.setdefault(match.channel, NameMatch(match.channel, confidence, form, misspelt=True))
    return tuple(found.values()) if len(found) == 1 else ()


_LOST = re.compile(r"\ufffd|(?<=[^\W\d_])\?(?=[^\W\d_])|(?<![^\s\[(])\?(?=[^\W\d_])")
"""What stands where a program had no letter for what it read."""
MOST_LOST = 3
"""Letters lost in one header; with more the rest tells little."""
_EVENED = "aouecnislzdyrtg"
"""What letters with marks are without these."""


def _with_lost_letters(header: str) -> tuple[NameMatch, ...]:
    """``K?hlwasser``: what a header means where only one letter for each that was lost makes its words known."""
    if not 0 < len(_LOST.findall(header)) <= MOST_LOST:
        return ()
    words: list[str] = []
    for word in header.split():
        forms = {word} if _LOST.search(word) is None else {_LOST.sub(letter, word) for letter in _EVENED}
        known = [one for one in sorted(forms) if len(forms) == 1 or _known_words().issuperset(plain_words(one))]
        if len(known) != 1:
            return ()
        words.append(known[0])
    form = " ".join(words)
    return tuple(
        replace(match, confidence=round(match.confidence - COMPLETED_COST, 3), completed=form, misspelt=True)
        for match in recognise_name(form)
    )


def _words_near(word: str) -> list[str]:
    """What a word may be with a letter wrong, or with two in a long one; of a short one only words of names."""
    if len(word) >= SHORTEST_MISSPELT:
        near = nearly_alike(word, _long_words())
        return near or (nearly_alike(word, _long_words(), letters=2) if len(word) >= SHORTEST_TWICE_MISSPELT else [])
    near = nearly_alike(word, _short_words())
    english = [other for other in near if other in _english_words()]
    return english or near


@lru_cache(maxsize=1)
def _long_words() -> tuple[str, ...]:
    """Known words that a misspelt one may stand for."""
    return tuple(sorted(word for word in _known_words() if len(word) >= SHORTEST_MISSPELT - 1))


@lru_cache(maxsize=1)
def _short_words() -> tuple[str, ...]:
    """Words that a short misspelt one may stand for: not those that are short for others."""
    plain = {word for alias in _index() for word in alias} | CHANGES_MEANING | OF_OTHER_THINGS
    return tuple(sorted(word for word in plain - ABBREVIATIONS.keys() if len(word) >= SHORTEST_MISSPELT_BESIDE))


@lru_cache(maxsize=1)
def _english_words() -> frozenset[str]:
    return frozenset(_vocabularies()[0]) | CHANGES_MEANING | OF_OTHER_THINGS


def _absolute(match: NameMatch) -> NameMatch:
    """A boost that is said to be absolute is the manifold's pressure: ``Ladedruck abs.``."""
    return replace(match, channel="manifold_pressure") if match.channel == "boost" else match


def _in_two_languages(header: str) -> tuple[NameMatch, ...]:
    """``Motordrehzahl / Engine Speed``: one channel by two names, each of which means it alone."""
    parts = [part for part in re.split(r"\s*[/|]\s*", header) if part] if _TWO_NAMES.search(header) else []
    if len(parts) != 2:
        return ()
    one, other = (recognise_name(part) for part in parts)
    named = {match.channel: match for match in other}
    both = [(match, named[match.channel]) for match in one if match.channel in named]
    return tuple(min(two, key=lambda match: match.confidence) for two in both)


def _at_the_end_of_a_path(header: str) -> tuple[NameMatch, ...]:
    """``Engine/Cooling/Water.Temp``: what the last parts name, where those before it only say which system it is of."""
    parts = [part for part in _PATH.split(header) if part] if _PATH.search(header) else []
    if len(parts) < 2:
        return ()
    for first in range(1, len(parts)):
        system = [word for part in parts[:first] for word in plain_words(part) if not word.isdecimal()]
        found = recognise_name(" ".join(parts[first:])) if SYSTEMS.issuperset(system) else ()
        if found:
            cost = FILLER_COST * first
            return tuple(replace(match, confidence=round(match.confidence - cost, 3)) for match in found)
    return ()


def _in_another_form(header: str) -> tuple[NameMatch, ...]:
    """``EngSpd_f32``; ``RPMs`` and ``Drosselkl. Stellung``, where all that it may be in full mean one channel."""
    plain = without_storage(header)
    if plain != header:
        return tuple(NameMatch(one.channel, round(one.confidence - FILLER_COST, 3)) for one in recognise_name(plain))
    found: dict[str, NameMatch] = {}
    parted = evened_letters(CAMEL.sub(" ", header)).lower()
    languages = [_languages_of(piece) for piece in pieces_of(parted)]
    for at in sorted(frozenset.intersection(*languages)) if languages else ():  # words of two languages make no name
        vocabulary = _vocabularies()[at]
        for form in known_forms(parted, vocabulary, _known_words()):
            if (set(form.split()) - set(parted.split())) & FILLER:
                continue  # "Boost cor.": a correction, no corrected boost
            for match in recognise_name(form)[:1]:
                confidence = round(match.confidence - COMPLETED_COST, 3)
                found.setdefault(match.channel, NameMatch(match.channel, confidence, form))
    if len(found) != 1:
        return ()
    match = next(iter(found.values()))
    return (replace(match, or_else=tuple(other_words(parted, match.completed, sorted(OF_OTHER_THINGS)))),)


@lru_cache(maxsize=1)
def _vocabularies() -> tuple[tuple[str, ...], ...]:
    """The words of names in each language, sorted; fillers mean nothing, so no word is completed to one."""
    foreign = {alias for language in ALIASES_BY_LANGUAGE for alias in words_of_language(language)}
    english = {word for kind in CATALOGUE.values() for alias in kind.aliases for word in alias.split()} - foreign
    english |= {word for word in ABBREVIATIONS if word not in FILLER}
    each = (english, *map(words_of_language, ALIASES_BY_LANGUAGE))
    return tuple(tuple(sorted({evened_letters(word) for word in words if word.isalpha()})) for words in each)


@lru_cache(maxsize=8192)
def _languages_of(piece: str) -> frozenset[int]:
    """Places of the vocabularies in which a word stands for something: names of a log share most words."""
    places = _places_of_words()
    return frozenset[int]().union(*(places[word] for word in words_meant(piece, _all_words(), _known_words())))


@lru_cache(maxsize=1)
def _places_of_words() -> dict[str, frozenset[int]]:
    """In which of the vocabularies each word stands."""
    places: dict[str, set[int]] = {}
    for at, words in enumerate(_vocabularies()):
        for word in words:
            places.setdefault(word, set()).add(at)
    return {word: frozenset(held) for word, held in places.items()}


@lru_cache(maxsize=1)
def _all_words() -> tuple[str, ...]:
    """The words of all vocabularies, sorted."""
    return tuple(sorted(_places_of_words()))


@lru_cache(maxsize=1)
def _known_words() -> frozenset[str]:
    """All words that names are made of, and those that mean nothing or make something else of them."""
    return _words_of_names().union(FILLER, COUNTING, CHANGES_MEANING, OF_OTHER_THINGS, *_vocabularies())


@lru_cache(maxsize=8192)
def says_nothing_known(header: str) -> bool:
    """Whether a header holds a word that means nothing here, or none but fillers: it says neither yes nor no.

    Examples
    --------
    >>> [says_nothing_known(header) for header in ("Boost Target", "Kasi ya injini", "CH07", "Oil Pressure 2")]
    [False, True, True, False]
    """
    words = [word for word in plain_words(without_storage(header)) if not word.isdecimal()]
    if _is_of_another(header):
        return False
    telling = [word for word in words if len(word) > 1 and word not in FILLER | COUNTING]
    if not telling or any(word not in _known_words() for word in telling):
        return True
    if CHANGES_MEANING.union(OF_OTHER_THINGS - OF_WHAT_UNSAID).intersection(words):
        return False
    if OF_WHAT_UNSAID.intersection(words) and not OF_WHAT_UNSAID.issuperset(telling):
        return False
    if VOLTS.intersection(words) and recognise_name(" ".join(word for word in words if word not in VOLTS)):
        return False  # "TPS1 V": what a sensor gives, before it is a throttle's
    return not recognise_name(header)  # "Manifold": each word is known, and all together mean nothing


def _is_position(words: list[str], channel: str) -> bool:
    """Whether the words are of a place, and the channel of a speed."""
    return "position" in words and "speed" in channel


def _spelled_otherwise(words: list[str]) -> tuple[NameMatch, ...]:
    """``DSRPM`` and ``Tail Shaft RPM``, parted or joined otherwise than in the catalogue; ``nTurbo``, ``nGear``."""
    if len(words) > 1 and words[0] == "n" != words[1]:
        turns = {"engine", "vehicle", "car", "axle", "cylinder"}
        if all(word in FILLER - turns or word.isdecimal() for word in words[1:]):
            return ()  # "n dash", "n1": the letter of a turning speed, and nothing that turns
        rest = " ".join(words[1:])
        counted = tuple(match for match in recognise_name(rest) if match.channel == "gear")
        return recognise_name(f"{rest} speed") or counted
    joined = "".join(words)
    found = _joined_index().get(joined, []) if len(joined) >= SHORTEST_JOINED else []
    return tuple(_numbered(match, None, FILLER_COST) for match in found)


@lru_cache(maxsize=1)
def _joined_index() -> dict[str, list[NameMatch]]:
    """What each alias means when its words are written as one."""
    index: dict[str, list[NameMatch]] = {}
    for kind in CATALOGUE.values():
        for alias in kind.aliases:
            match = NameMatch(kind.name, WEAK if alias.replace(" ", "_") in VAGUE_NAMES else SURE)
            for joined in {alias.replace(" ", ""), "".join(_with_corner(plain_words(alias)))}:
                held = index.setdefault(joined, [])
                if kind.name not in [other.channel for other in held]:
                    held.append(match)
    return index


def _without_filler(words: list[str], *, counted: bool) -> list[list[str]]:
    """The words as they are, then with fillers dropped: as few as need be; "number" is one before a number alone."""
    filler_words = FILLER | COUNTING if counted else FILLER
    trials = [words]
    fillers = [word for word in words if word in filler_words]
    trials += [[word for word in words if word != filler] for filler in fillers]
    trials.append([word for word in words if word not in filler_words])
    trials.append([word for word in words if word not in filler_words or word == "engine"])
    return [trial for trial in trials if trial]


def _numbered(match: NameMatch, number: int | None, cost: float) -> NameMatch:
    if number is None:
        return NameMatch(match.channel, round(match.confidence - cost, 3))
    if CATALOGUE[match.channel].numbered and 1 <= number <= MOST_CYLINDERS:
        return NameMatch(f"{match.channel}_{number}", round(match.confidence - cost, 3))
    return NameMatch(match.channel, round(match.confidence - cost - NUMBER_COST * (1 if number <= 1 else 2), 3))


def channel_named(text: str) -> str | None:
    """The catalogue name for what a user writes, in a limit or a mapping.

    Parameters
    ----------
    text : str
        ``engine_speed``, ``battery voltage``, ``exhaust gas temperature 3``.

    Returns
    -------
    str or None
        A family's stem where no number is given; None where the words mean nothing we know.

    Examples
    --------
    >>> channel_named("battery voltage"), channel_named("EGT 3"), channel_named("Nitrous Bottle")
    ('battery', 'exhaust_temperature_3', None)
    """
    plain = text.strip().lower().replace(" ", "_")
    if family_of(plain) in CATALOGUE:
        return plain
    found = recognise_name(text)
    return found[0].channel if found and not found[0].misspelt else None  # who writes a limit is told what is near
