"""What a user said of a log's columns, by the log's layout.

Public: `Layouts`, `layout_of`, `with_layout`, `GivenColumns`, `columns_given`, `answer_text`.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from passband.analysis.channels.catalogue import kind_of
from passband.analysis.channels.recognition import channel_named
from passband.analysis.reading.text.header import Header

Layouts = Mapping[str, Mapping[str, str]]
"""By a layout's fingerprint, headers and what each is said to be."""
FINGERPRINT_DIGITS = 16
"""Hexadecimal digits of a layout's fingerprint: 64 bits, so that a car's few layouts never meet by chance."""
_WITH_UNIT = re.compile(r"\s*(.*?\S)\s*\[\s*([^\[\]]+?)\s*\]\s*")


@dataclass(frozen=True, slots=True)
class GivenColumns:
    """What was said of the columns of one header."""

    header: Header
    """With the units that were told in place of those written."""
    channels: dict[int, str]
    """What each column is said to be."""


def layout_of(header: Header) -> str:
    """The fingerprint of a header: of its names and units, in any order, without a value of the log.

    Parameters
    ----------
    header : Header
        As the file writes it.

    Returns
    -------
    str
        The same for two logs that hold the same columns.
    """
    named = sorted(
        [name.strip().casefold(), unit.strip().casefold()]
        for name, unit in zip(header.names, header.units, strict=True)
    )
    written = json.dumps(named, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(written.encode()).hexdigest()[:FINGERPRINT_DIGITS]


def with_layout(header: Header, mapping: Mapping[str, str], layouts: Layouts) -> Mapping[str, str]:
    """What is said of a header's columns: what was answered for its layout wins over what goes for all logs of a car.

    Parameters
    ----------
    header : Header
        As the file writes it.
    mapping : mapping of str to str
        Headers and channels, for all logs.
    layouts : mapping of str to mapping
        By fingerprint, headers and channels for logs of that layout.
    """
    answered = layouts.get(layout_of(header)) if layouts else None
    return {**mapping, **answered} if answered else mapping


def columns_given(header: Header, given: Mapping[int, str]) -> GivenColumns:
    """Part what is said of each column into channel and unit, ``boost [psi]``.

    Parameters
    ----------
    header : Header
        As the file writes it.
    given : mapping of int to str
        A channel, or a channel and a unit in brackets. A user's own name may hold brackets: it is taken whole.

    Returns
    -------
    ToldColumns
        Units that were told stand in the header as if the log had written them.
    """
    units, channels = list(header.units), dict(given)
    for at, said in given.items():
        match = _WITH_UNIT.fullmatch(said)
        if match and (kind_of(match[1]) is not None or channel_named(match[1]) is not None):
            channels[at], units[at] = match[1], match[2]
    return GivenColumns(replace(header, units=tuple(units)) if tuple(units) != header.units else header, channels)


def answer_text(channel: str, unit: str) -> str:
    """A channel and its unit as they are kept.

    Parameters
    ----------
    channel : str
        A channel, ``ignore`` or ``as logged``; the latter two have no unit.
    unit : str
        As a log would write it; may be empty.

    Examples
    --------
    >>> answer_text("boost", "psi"), answer_text("ignore", "")
    ('boost [psi]', 'ignore')
    """
    return f"{channel} [{unit}]" if unit and kind_of(channel) is not None else channel
