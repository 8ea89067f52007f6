"""What is wrong with a limit as given: a bound its channel cannot have, a channel that nobody knows.

A channel that no catalogue knows keeps its own header as its name and stays usable in limits. So a name that is not
known is refused only where it looks like one that is, misspelt: a log may hold the others. Where no log does, the limit
has no data, and the nearest names are said.

Public: `LimitFault`, `faults_of_limit`, `nearest_names`, `tell_unknown_channels`, `tell_bare_bounds`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import SequenceMatcher, get_close_matches
from functools import lru_cache

from passband.analysis.channels.catalogue import CATALOGUE, family_of
from passband.analysis.channels.log import Traces
from passband.analysis.engine.channels_meant import name_meant
from passband.analysis.engine.exhaust import EXHAUST_SPREAD, FAMILY
from passband.analysis.given.car import Car, Limit, bound_in_si
from passband.analysis.given.ranges import in_words, range_of_bound
from passband.analysis.quantities import split_quantity
from passband.analysis.results.findings import Finding

MISSPELT = 0.8
"""Names alike by this share of their letters are one name misspelt: one letter in five. [-]"""
WORD_MISSPELT = 0.6
"""The least that each word of them must be alike. [-]"""
NEAREST = 0.7
"""Names alike by this share are worth showing to one who looks for a name. [-]"""
BARE_MOST = 6
"""Bounds without a unit that are named one by one at most."""
NAMES_MOST = 3
"""Names shown at most."""


@dataclass(frozen=True, slots=True)
class LimitFault:
    """One thing that is wrong with a limit."""

    key: str
    """Path of the key within the limit: ``at_least``, ``when.0.channel``, ``curve.points.2.1``."""
    text: str
    """What is wrong and what would do."""


def faults_of_limit(limit: Limit, car: Car) -> list[LimitFault]:
    """What of a limit cannot be used, each with the key it stands at.

    Parameters
    ----------
    limit : Limit
        As given.
    car : Car
        Its car: headers that it maps are known names.

    Returns
    -------
    list of LimitFault
        Empty where all is well.
    """
    faults = []
    for key, channel in _channels(limit):
        like = () if _is_known(channel, car) else _misspelt(channel, _names_known(car))
        if like:
            faults.append(LimitFault(key, _refused(channel, like)))
    for bound in _bounds(limit):
        try:
            bound_in_si(bound.value, channel=name_meant(bound.channel), name=bound.words)
        except ValueError as error:
            faults.append(LimitFault(bound.key, str(error)))
    return faults


def _refused(channel: str, like: tuple[str, ...]) -> str:
    return (
        f"no channel is called {channel!r}; {_did_you_mean(like)}. If a log's own header is meant, say so in the car's "
        f"channels: {channel!r} = {channel!r}"
    )


def _channels(limit: Limit) -> Iterator[tuple[str, str]]:
    yield "channel", limit.channel
    for place, condition in enumerate(limit.when):
        yield f"when.{place}.channel", condition.channel
    if limit.curve is not None:
        yield "curve.against", limit.curve.against


@dataclass(frozen=True, slots=True)
class _Bound:
    """One of a limit's bounds."""

    key: str
    """Where it stands in the limit."""
    channel: str
    words: str
    """What stands before it in a sentence."""
    value: float | str


def _bounds(limit: Limit) -> Iterator[_Bound]:
    sides = [("", limit.channel, limit.at_least, limit.at_most)]
    sides += [(f"when.{n}.", one.channel, one.at_least, one.at_most) for n, one in enumerate(limit.when)]
    for key, channel, least, most in sides:
        for side, bound in (("at_least", least), ("at_most", most)):
            if bound is not None:
                yield _Bound(f"{key}{side}", channel, f"{_said(channel)} {side.replace('_', ' ')}", bound)
    for place, (at, level) in enumerate(limit.curve.points if limit.curve else ()):
        against = limit.curve.against if limit.curve else ""
        yield _Bound(f"curve.points.{place}.0", against, _said(against), at)
        yield _Bound(f"curve.points.{place}.1", limit.channel, _said(limit.channel), level)


def _said(channel: str) -> str:
    return channel.replace("_", " ")


def _is_known(channel: str, car: Car) -> bool:
    """Whether a name is one of the catalogue's, in any of its aliases, or one that the car's mapping makes."""
    mapped = {_plain(name) for pair in car.channels.items() for name in pair}
    return family_of(name_meant(channel)) in CATALOGUE or _plain(channel) in mapped


def _names_known(car: Car) -> list[str]:
    """Every name that a limit may go by: the catalogue's, and those the car's mapping makes."""
    mapped = [name for pair in car.channels.items() for name in pair if name != "ignore"]
    return list(dict.fromkeys([*CATALOGUE, *mapped]))


def nearest_names(channel: str, names: Iterable[str]) -> tuple[str, ...]:
    """The names most like one that nobody knows, nearest first.

    Parameters
    ----------
    channel : str
        As a user wrote it.
    names : iterable of str
        Names to choose from.

    Returns
    -------
    tuple of str
        Three at most; empty where none is like it.

    Examples
    --------
    >>> nearest_names("coolant_temprature", CATALOGUE)[0], nearest_names("Nitrous Bottle", CATALOGUE)
    ('coolant_temperature', ())
    """
    by_words = {_plain(name): name for name in names} | _SHORT
    found = get_close_matches(_plain(channel), by_words, n=NAMES_MOST, cutoff=NEAREST)
    return tuple(by_words[words] for words in found)


_SHORT = {"egt spread": EXHAUST_SPREAD, "egt": FAMILY}
"""Short names that people write for long ones."""


def _misspelt(channel: str, names: Iterable[str]) -> tuple[str, ...]:
    """Names that this one is, misspelt: as many words, each alike; or the same letters otherwise parted."""
    written = {name: words for words, name in _SHORT.items()}
    return tuple(
        name
        for name in nearest_names(channel, names)
        if any(_same_but_letters(_plain(channel), _plain(other)) for other in (name, written.get(name, name)))
    )


def _same_but_letters(one: str, other: str) -> bool:
    joined, other_joined = one.replace(" ", ""), other.replace(" ", "")
    if _alike(joined, other_joined) < MISSPELT or abs(len(joined) - len(other_joined)) > 2:
        return False
    words, other_words = (re.sub(r" \d+$", "", text).split() for text in (one, other))
    if len(words) != len(other_words):
        return _alike(joined, other_joined) > 0.9
    return all(_alike(a, b) >= WORD_MISSPELT for a, b in zip(words, other_words, strict=True))


def _alike(one: str, other: str) -> float:
    return SequenceMatcher(None, one, other, autojunk=False).ratio()


@lru_cache(maxsize=4096)
def _plain(name: str) -> str:
    return " ".join(name.replace("_", " ").casefold().split())


def _did_you_mean(names: tuple[str, ...]) -> str:
    nearest = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
    return f"the nearest known {'is' if len(names) == 1 else 'are'} {nearest}"


def tell_unknown_channels(limit: Limit, traces: Traces) -> list[Finding]:
    """A caution for each channel of a limit that neither the catalogue nor any log of a run knows.

    Parameters
    ----------
    limit : Limit
        As given.
    traces : Traces
        All channels of the run.

    Returns
    -------
    list of Finding
        Empty where every name is known, or logged under its own header.
    """
    logged = [name for channel in traces for name in (channel.name, channel.header)]
    here = {_plain(name) for name in logged}
    found = []
    for _, channel in _channels(limit):
        if family_of(name_meant(channel)) in CATALOGUE or _plain(channel) in here:
            continue
        near = nearest_names(channel, [*logged, *CATALOGUE])
        more = f"; {_did_you_mean(near)}" if near else ""
        text = (
            f"The limit {limit.name!r} could not be held: no log and no list of ours knows a channel {channel!r}{more}."
        )
        found.append(Finding("limit-channel-unknown", "caution", text, limit.name))
    return found


def tell_bare_bounds(limits: Iterable[Limit]) -> list[Finding]:
    """A note of the bounds that were given without a unit and could be in several: what each was read as.

    Parameters
    ----------
    limits : iterable of Limit
        As given.

    Returns
    -------
    list of Finding
        One for all; empty where each bound carries its unit or needs none.
    """
    read = [words for limit in limits for words in _read_in_si(limit)]
    if not read:
        return []
    more = f" and {len(read) - BARE_MOST} more" if len(read) > BARE_MOST else ""
    text = f"Limits given without a unit were read in SI: {'; '.join(read[:BARE_MOST])}{more}. Write units to be sure."
    return [Finding("limits-without-unit", "note", text)]


def _read_in_si(limit: Limit) -> Iterator[str]:
    for one in _bounds(limit):
        channel, words, bound = one.channel, one.words, one.value
        can_be = range_of_bound(name_meant(channel))
        if can_be is None or len(can_be.units) < 2 or can_be.si_unit == "rpm":
            continue
        try:
            value = bound_in_si(bound, channel=name_meant(channel))
            bare = not isinstance(bound, str) or not split_quantity(bound)[1]
        except ValueError:
            continue  # a finding says that it is a limit that cannot be read
        if bare and value:
            yield f"{words} {in_words(value, can_be)}"
