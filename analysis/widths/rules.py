"""Rules of a calibration: by how much a figure's plus-minus is to be multiplied where the run shows this and that.

A rule reads aloud: *splits, where slip is none and basis is gps and gps_hz below 2.5: times 1.18, found from 40 cases
and 200 answers*. Of one figure's rules the first that holds counts.

Public: `Rule`, `Condition`, `rule`, `condition_of`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.widths.evidence import NUMBERS, WORDS, Seen

IS, IS_NOT, BELOW, FROM = "is", "is not", "below", "from"
_CONDITION = re.compile(rf"(?P<evidence>\w+) (?P<relation>{IS_NOT}|{IS}|{BELOW}|{FROM}) (?P<value>.+)")


@dataclass(frozen=True, slots=True)
class Condition:
    """One thing that a run must show."""

    evidence: str
    """A field of `Seen`."""
    relation: str
    """``is``, ``is not``, ``below``, or ``from``: as much or more."""
    value: str | float
    """What it is held against, in the evidence's unit."""

    def holds(self, seen: Seen) -> bool:
        """Whether the run shows it."""
        shown = getattr(seen, self.evidence)
        if self.relation in (IS, IS_NOT):
            return bool((shown == self.value) == (self.relation == IS))
        return bool((shown < self.value) == (self.relation == BELOW))

    def __str__(self) -> str:
        """As a table writes it."""
        value = self.value if isinstance(self.value, str) else f"{self.value:.3g}"
        return f"{self.evidence} {self.relation} {value}"


@dataclass(frozen=True, slots=True)
class Rule:
    """A factor, and where it holds."""

    figure: str
    """One of `FIGURES`."""
    conditions: Sequence[Condition]
    """All of them must hold."""
    factor: float
    """To multiply the plus-minus of sensors and method by. [-]"""
    cases: int
    """Simulated cases that it rests on."""
    answers: int
    """Answers of theirs."""

    def holds(self, seen: Seen) -> bool:
        """Whether an answer with such evidence falls under it."""
        return all(condition.holds(seen) for condition in self.conditions)

    def __str__(self) -> str:
        """As a person reads it aloud."""
        where = f"where {' and '.join(map(str, self.conditions))}" if self.conditions else "anywhere else"
        rests = f"found from {self.cases} cases and {self.answers} answers"
        return f"{self.figure}, {where}: times {self.factor}, {rests}"


def rule(figure: str, where: Sequence[str], factor: float, cases: int, answers: int) -> Rule:
    """A rule as the table writes it.

    Parameters
    ----------
    figure : str
        One of `FIGURES`.
    where : sequence of str
        As `condition_of` reads them.
    factor : float
        [-]
    cases, answers : int
        That it rests on.

    Returns
    -------
    Rule
        With its conditions read.

    Raises
    ------
    ValueError
        If a condition cannot be read.

    Examples
    --------
    >>> print(rule("splits", ("slip is none", "gps_hz below 2.5"), 1.18, 40, 200))
    splits, where slip is none and gps_hz below 2.5: times 1.18, found from 40 cases and 200 answers
    """
    return Rule(figure, tuple(condition_of(text) for text in where), factor, cases, answers)


def condition_of(text: str) -> Condition:
    """A condition as the table writes it.

    Parameters
    ----------
    text : str
        ``EVIDENCE is WORD``, ``EVIDENCE is not WORD``, ``EVIDENCE below NUMBER`` or ``EVIDENCE from NUMBER``.

    Returns
    -------
    Condition
        It.

    Raises
    ------
    ValueError
        If it is none, or asks for evidence that nobody gathers.
    """
    read = _CONDITION.fullmatch(text)
    if read is None:
        raise ValueError(f"a condition reads 'EVIDENCE is WORD' or 'EVIDENCE below NUMBER' or the like, got {text!r}")
    evidence, relation, value = read.groups()
    of_word = relation in (IS, IS_NOT)
    if evidence not in (WORDS if of_word else NUMBERS):
        raise ValueError(f"{text!r} asks for evidence that is not gathered so; words: {WORDS}, numbers: {NUMBERS}")
    return Condition(evidence, relation, value if of_word else float(value))
