"""How figures are written: with their unit, with no more digits than they are sure of, or why they are not known.

Public: `Figure`, `figure`, `estimate`, `plain_number`, `signed`, `missing`, `reason_for`, `channel_title`, `Json`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from passband.analysis.channels.catalogue import family_of, kind_of
from passband.web.units import Unit, UnitSystem, unit_for

Json = Mapping[str, Any]
"""A review, or a part of one, as its JSON has it."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure as a reader sees it."""

    value: str
    """The number; empty where it is not known."""
    plus_minus: str = ""
    """The number behind the plus-minus sign; empty where there is none."""
    unit: str = ""
    """Unit; empty for a ratio or where the figure is not known."""
    reason: str = ""
    """Why it is not known."""

    @property
    def known(self) -> bool:
        """Whether there is a figure."""
        return bool(self.value)

    def __str__(self) -> str:
        """The figure in one line: ``10.813 ±0.009 s``."""
        if not self.known:
            return f"not known: {self.reason}" if self.reason else "not known"
        doubt = f" ±{self.plus_minus}" if self.plus_minus else ""
        space = "" if self.unit in ("", "%") else " "
        return f"{self.value}{doubt}{space}{self.unit}"


def missing(reason: str = "") -> Figure:
    """A figure that is not known, and why.

    Examples
    --------
    >>> str(missing("the car's mass is not given"))
    "not known: the car's mass is not given"
    """
    return Figure("", reason=reason.rstrip("."))


def plain_number(value: float, digits: int) -> str:
    """A number with so many decimals, thousands parted, with a true minus sign and no minus nought.

    Examples
    --------
    >>> plain_number(8505.3, 0), plain_number(-0.04, 1), plain_number(-67.05, 1)
    ('8,505', '0.0', '−67.0')
    """
    rounded = round(value, digits)
    text = f"{rounded + 0.0 if rounded else 0.0:,.{digits}f}"
    return text.replace("-", "−")


def signed(text: str) -> str:
    """A number's text with its sign written out, as a margin or a difference is.

    Examples
    --------
    >>> signed("305"), signed("−118"), signed("0.0")
    ('+305', '−118', '0.0')
    """
    return text if text.startswith("−") or not text.strip("0.,") else f"+{text}"


def figure(
    value: float | None,
    kind: str,
    units: UnitSystem,
    *,
    unit: Unit | None = None,
    difference: bool = False,
    reason: str = "",
) -> Figure:
    """A figure that carries no plus-minus.

    Parameters
    ----------
    value : float or None
        SI; None where not known.
    kind : str
        ``time``, ``rpm``, ``speed``, ``pressure`` ... as `web.units` lists them.
    units : {"us", "metric"}
        The reader's choice.
    unit : Unit, optional
        Shown in this unit instead, as for a limit in the unit its owner wrote.
    difference : bool
        True for a margin or a drop: written with its sign, and without a temperature's offset.
    reason : str
        Why it is not known, where it is not.

    Examples
    --------
    >>> str(figure(62.451, "speed", "us")), str(figure(10.0, "temperature", "us", difference=True))
    ('139.7 mph', '+18 °F')
    """
    if value is None or not math.isfinite(value):
        return missing(reason)
    shown = unit or unit_for(kind, units)
    text = plain_number(shown.of(value, difference=difference), shown.digits)
    return Figure(signed(text) if difference else text, unit=shown.label)


def estimate(given: Json | None, kind: str, units: UnitSystem, *, difference: bool = False, reason: str = "") -> Figure:
    """A figure with its plus-minus, with no more decimals than the plus-minus leaves standing.

    Parameters
    ----------
    given : mapping or None
        ``{"value": ..., "plus_minus": ...}``, SI.
    kind, units, reason
        As in `figure`.
    difference : bool
        True for a margin or a drop: no temperature's offset; the sign only where negative.

    Examples
    --------
    >>> str(estimate({"value": 10.8132, "plus_minus": 0.0094}, "time", "us"))
    '10.813 ±0.009 s'
    >>> str(estimate({"value": 289258.8, "plus_minus": 3729.0}, "power", "us"))
    '388 ±5 hp'
    """
    if given is None or given.get("value") is None:
        return missing(reason)
    shown = unit_for(kind, units)
    doubt = float(given.get("plus_minus") or 0.0) / shown.scale
    value = shown.of(float(given["value"]), difference=difference)
    if doubt <= 0:
        return Figure(plain_number(value, shown.digits), unit=shown.label)
    digits = min(max(_digits_left(doubt), 0), shown.most_digits)
    step = 10.0**-digits
    return Figure(plain_number(value, digits), plain_number(max(doubt, step), digits), shown.label)


def _digits_left(doubt: float) -> int:
    """Decimals up to the doubt's first digit that counts; one more where that is a 1, which rounding would spoil."""
    place = -math.floor(math.log10(doubt))
    return place + 1 if doubt * 10.0**place < 2 else place


def reason_for(review: Json, *topics: str) -> str:
    """Why a part of a review is missing: the weightiest finding whose code speaks of it, else where to look.

    Parameters
    ----------
    review : mapping
        A review's JSON.
    topics : str
        Words of finding codes, the closest first: ``"boost"``, ``"threshold"``.

    Returns
    -------
    str
        The finding's first sentence, or a pointer to the findings.

    Examples
    --------
    >>> reason_for({"findings": [{"code": "no-mass", "text": "The car's mass is not given."}]}, "power", "mass")
    "The car's mass is not given."
    """
    findings: Sequence[Json] = review.get("findings") or ()
    for topic in topics:
        for one in findings:
            if topic in str(one["code"]).split("-"):
                return _first_sentence(str(one["text"]))
    return "the findings say what the logs or the car's description lack" if findings else "the logs do not show it"


def _first_sentence(text: str) -> str:
    """Up to a full stop that a capital follows; decimals and abbreviations do not end it."""
    return re.split(r"(?<=[.;])\s+(?=[A-Z])", text, maxsplit=1)[0].rstrip(";")


def channel_title(channel: str) -> str:
    """What a reader is shown for a channel: the catalogue's title with its number, or the header itself.

    Examples
    --------
    >>> channel_title("exhaust_temperature_3"), channel_title("Nitrous Bottle")
    ('Exhaust temperature 3', 'Nitrous Bottle')
    """
    kind = kind_of(channel)
    if kind is None:
        return channel
    return kind.title + channel.removeprefix(family_of(channel)).replace("_", " ")
