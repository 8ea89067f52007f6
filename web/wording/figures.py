"""How figures are written: with their unit, with no more digits than they are sure of, or why they are not known.

Public: `Figure`, `figure`, `estimate`, `plain_number`, `signed`, `missing`, `reason_in`, `reason_of`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from passband.analysis.results.catalogue import FINDINGS
from passband.analysis.results.estimate import Estimate
from passband.analysis.results.review import Review
from passband.analysis.results.unknown import Unknown
from passband.web.wording.prose import in_units
from passband.web.wording.units import Unit, UnitSystem, unit_for


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
        return f"{self.value}{doubt} {self.unit}".rstrip()


def missing(reason: str = "") -> Figure:
    """A figure that is not known, and why.

    Examples
    --------
    >>> str(missing("the car's mass is not given"))
    "not known: the car's mass is not given"
    """
    return Figure("", reason=reason.rstrip("."))


def plain_number(value: float, digits: int) -> str:
    """A number with so many decimals, thousands parted, with a true minus sign and no minus zero.

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
    value: float | Unknown | None,
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
    value : float, Unknown or None
        SI; one that is unknown brings its reason with it.
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
    if isinstance(value, Unknown):
        return missing(in_units(reason_of(value), units))
    if value is None or not math.isfinite(value):
        return missing(reason)
    shown = unit or unit_for(kind, units)
    text = plain_number(shown.of(value, difference=difference), shown.digits)
    return Figure(signed(text) if difference else text, unit=shown.label)


def estimate(given: Estimate | Unknown | None, kind: str, units: UnitSystem, *, reason: str = "") -> Figure:
    """A figure with its plus-minus, with no more decimals than the plus-minus leaves standing.

    Parameters
    ----------
    given : Estimate, Unknown or None
        SI; one that is unknown brings its reason with it.
    kind, units, reason
        As in `figure`.

    Examples
    --------
    >>> str(estimate(Estimate(10.8132, 0.0094), "time", "us"))
    '10.813 ±0.009 s'
    >>> str(estimate(Estimate(289258.8, 3729.0), "power", "us"))
    '388 ±5 hp'
    """
    if isinstance(given, Unknown):
        return missing(in_units(reason_of(given), units))
    if given is None:
        return missing(reason)
    shown = unit_for(kind, units)
    doubt = given.plus_minus / shown.scale
    value = shown.of(given.value)
    if doubt <= 0:
        return Figure(plain_number(value, shown.digits), unit=shown.label)
    digits = min(max(_digits_left(doubt), 0), shown.most_digits)
    step = 10.0**-digits
    return Figure(plain_number(value, digits), plain_number(max(doubt, step), digits), shown.label)


def _digits_left(doubt: float) -> int:
    """Decimals up to the doubt's first digit that counts; one more where that is a 1, which rounding would spoil."""
    place = -math.floor(math.log10(doubt))
    return place + 1 if doubt * 10.0**place < 2 else place


def reason_in(review: Review, *codes: str) -> str:
    """Why a single figure of a review is missing, where one of these findings says so; else where to look.

    Parameters
    ----------
    review : Review
        Any.
    codes : str
        Codes of the catalogue that would explain it, the closest first.

    Returns
    -------
    str
        The finding's first sentence, or a pointer to the findings.

    Raises
    ------
    KeyError
        If a code is none of the catalogue's.
    """
    for kind in (FINDINGS[code] for code in codes):
        for finding in review.findings:
            if finding.code == kind.code:
                return first_sentence(finding.text)
    return (
        "the findings say what the logs or the car's description lack" if review.findings else "the logs do not show it"
    )


def reason_of(part: Unknown) -> str:
    """Why a part is not known: its reason's first sentence.

    Examples
    --------
    >>> from passband.analysis.results.findings import Finding
    >>> reason_of(Unknown(Finding("mass-missing", "note", "The mass was not given. Weigh the car.")))
    'The mass was not given.'
    """
    return first_sentence(part.reason.text)


def first_sentence(text: str) -> str:
    """A text up to a full stop that a capital follows; decimals and abbreviations do not end it.

    Examples
    --------
    >>> first_sentence("It reads 3.5 bar. Check the sensor.")
    'It reads 3.5 bar.'
    """
    return re.split(r"(?<=[.;])\s+(?=[A-Z])", text, maxsplit=1)[0].rstrip(";")
