"""What a reader is shown for a channel: its title, in a heading and within a sentence.

Public: `channel_title`, `by_title`, `QUOTED`.

JSON and a car's file hold the catalogue's names (``wheel_speed_fl``); pages, print and lines on a terminal say what
they mean ("wheel speed front left").
"""

from __future__ import annotations

import re

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.analysis.results.doubt import AS_LOGGED

QUOTED = re.compile(r"(\"[^\"]*\"|'[^']*'(?!\w)|“[^”]*”)")
"""What stands in quotes was written by somebody, or is to be written just so."""
_NAME = re.compile(r"(?<![\w.])[a-z]+(?:_[a-z0-9]+)+(?!\w|\.\w)")
"""What may be a channel's name: words joined by underscores, and no file's name."""
_UNDERSTOOD = re.compile(r" \((?:gauge|absolute|forward)\)")
"""What a title adds for a heading and a sentence need not say, as no other channel differs by it."""


def channel_title(channel: str) -> str:
    """What a reader is shown for a channel: the catalogue's title with its number, or the header itself.

    Parameters
    ----------
    channel : str
        A catalogue name, ``as logged``, or a user's own name.

    Examples
    --------
    >>> channel_title("exhaust_temperature_3"), channel_title("Nitrous Bottle")
    ('Exhaust temperature 3', 'Nitrous Bottle')
    >>> channel_title("boost"), channel_title("as logged")
    ('Boost (gauge)', 'No channel, under its own name')
    """
    if channel == AS_LOGGED:
        return "No channel, under its own name"
    kind = kind_of(channel)
    if kind is None:
        return channel
    return kind.title + channel.removeprefix(family_of(channel)).replace("_", " ")


def by_title(text: str) -> str:
    """A sentence that calls channels by their titles, where it held names of the catalogue.

    Parameters
    ----------
    text : str
        As the analysis wrote it.

    Returns
    -------
    str
        The same where it names none; what is quoted in it is left alone.

    Examples
    --------
    >>> by_title("Tell which column is manifold_pressure or boost. lambda_1 goes by 'lambda_1'.")
    "Tell which column is manifold pressure or boost. Lambda 1 goes by 'lambda_1'."
    """
    parts = QUOTED.split(text)
    return "".join(part if at % 2 else _NAME.sub(_within_a_sentence, part) for at, part in enumerate(parts))


def _within_a_sentence(found: re.Match[str]) -> str:
    """A channel's title as words, small unless it begins the sentence."""
    name, ahead = found[0], found.string[: found.start()]
    if kind_of(name) is None:
        return name
    title = _UNDERSTOOD.sub("", channel_title(name))
    begins = not ahead or ahead.endswith(". ")
    return title if begins or title[1].isupper() else title[0].lower() + title[1:]
