"""How near a figure came to its truth, counted over many: one row an answer, one line a figure.

Public: `Asked`, `Told`, `Score`, `FigureLine`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from passband.analysis.results.estimate import Estimate
from passband.analysis.results.unknown import Unknown, known
from passband.analysis.widths.parts import of_facts

HAIR = 1e-9
"""A plus-minus of exactly the error covers it."""
UNKNOWABLE = "figures nobody can know: withheld or covered"
"""The line for figures that a trouble puts out of reach."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A number asked of a review."""

    figure: str
    """What was asked."""
    case: str
    """Of which case, and where in it."""
    least: float
    """The truth, or the low end of what is as true."""
    most: float
    """The high end."""
    tolerance: float
    """How far off is still right."""
    given: float | None
    """The answer."""
    plus_minus: float | None
    """Its 95 % half-width, where it has one."""
    facts: float = 0.0
    """The part of it that facts of the car and the day make, whatever the sensors are."""

    @property
    def error(self) -> float | None:
        """Answer less truth; None without an answer."""
        if self.given is None:
            return None
        return self.given - min(max(self.given, self.least), self.most)

    @property
    def right(self) -> bool:
        """Answered, and near enough."""
        return self.error is not None and abs(self.error) <= self.tolerance

    @property
    def covered(self) -> bool | None:
        """Whether the plus-minus holds the truth; None where there is none."""
        if self.error is None or self.plus_minus is None:
            return None
        return abs(self.error) <= self.plus_minus + HAIR

    def __str__(self) -> str:
        """One line for a developer."""
        given = "nothing" if self.given is None else f"{self.given:.6g}"
        doubt = "" if self.plus_minus is None else f" +- {self.plus_minus:.3g}"
        error = "" if self.error is None else f", off by {self.error:.4g} of {self.tolerance:.4g} allowed"
        return f"{self.figure}: {self.case}: {given}{doubt}, true {self.least:.6g}{error}"


@dataclass(frozen=True, slots=True)
class Told:
    """Something counted: right ones of all."""

    figure: str
    """What was counted."""
    case: str
    """Of which case, and where in it."""
    right: int
    """So many were right."""
    of: int
    """So many there were."""

    def __str__(self) -> str:
        """One line for a developer."""
        return f"{self.figure}: {self.case}: {self.right} of {self.of}"


@dataclass(frozen=True, slots=True)
class FigureLine:
    """One figure over all cases. NaN where there is nothing to tell."""

    figure: str
    """Its name."""
    asked: int
    """How often it was asked, or counted."""
    misses: int
    """Wrong or missing answers."""
    share: float
    """Right ones of all. [-]"""
    median: float = float("nan")
    """Of the absolute error."""
    late: float = float("nan")
    """95th percentile of the absolute error."""
    covered: float = float("nan")
    """Share of plus-minuses that hold the truth. [-]"""
    plus_minus: float = float("nan")
    """Their median."""

    @property
    def width(self) -> float:
        """Median plus-minus over median error: 3 is about right for a 95 % half-width."""
        return self.plus_minus / self.median if self.median > 0 else float("nan")


@dataclass(slots=True)
class Score:
    """All answers so far."""

    asked: list[Asked] = field(default_factory=list)
    """Numbers."""
    told: list[Told] = field(default_factory=list)
    """Counts."""
    unknowable: tuple[str, ...] = ()
    """How the names of figures begin that the case at hand puts out of reach."""

    def ask(
        self,
        figure: str,
        case: str,
        given: Estimate | float | Unknown | None,
        truth: float | tuple[float, float] | None,
        tolerance: float,
    ) -> None:
        """Note an answer; no truth, no question."""
        if truth is None:
            return
        ends, given = truth if isinstance(truth, tuple) else (truth, truth), known(given)
        value, doubt = (given.value, given.plus_minus) if isinstance(given, Estimate) else (given, None)
        facts = of_facts(given) if isinstance(given, Estimate) else 0.0
        answer = Asked(figure, case, min(ends), max(ends), tolerance, value, doubt, facts)
        if figure.startswith(self.unknowable):
            honest = answer.given is None or bool(answer.covered)
            self.told.append(Told(UNKNOWABLE, f"{case}: {answer}", int(honest), 1))
        else:
            self.asked.append(answer)

    def tell(self, figure: str, case: str, right: int, of: int = 1) -> None:
        """Note a count."""
        if of:
            self.told.append(Told(figure, case, int(right), of))

    def lines(self) -> dict[str, FigureLine]:
        """One line for each figure, in order of first mention."""
        numbers: dict[str, list[Asked]] = {}
        counts: dict[str, list[Told]] = {}
        for answer in self.asked:
            numbers.setdefault(answer.figure, []).append(answer)
        for count in self.told:
            counts.setdefault(count.figure, []).append(count)
        return {name: _number_line(name, rows) for name, rows in numbers.items()} | {
            name: _count_line(name, rows) for name, rows in counts.items()
        }

    def covered(self) -> float:
        """Share of all plus-minuses that hold the truth."""
        held = [answer.covered for answer in self.asked if answer.covered is not None]
        return float(np.mean(held))

    def wrong(self) -> list[str]:
        """Every answer that missed, as a line for a developer."""
        return [str(a) for a in self.asked if not a.right] + [str(t) for t in self.told if t.right != t.of]

    def add(self, others: Iterable[Score]) -> Score:
        """The same score with others' answers."""
        for other in others:
            self.asked += other.asked
            self.told += other.told
        return self


def _number_line(name: str, rows: list[Asked]) -> FigureLine:
    errors = np.array([abs(row.error) for row in rows if row.error is not None] or [np.nan])
    held = [row.covered for row in rows if row.covered is not None]
    doubts = [row.plus_minus for row in rows if row.covered is not None and row.plus_minus is not None]
    misses = sum(not row.right for row in rows)
    return FigureLine(
        name, len(rows), misses, 1.0 - misses / len(rows), float(np.median(errors)), float(np.quantile(errors, 0.95)),
        float(np.mean(held)) if held else float("nan"), float(np.median(doubts)) if doubts else float("nan"),
    )  # fmt: skip


def _count_line(name: str, rows: list[Told]) -> FigureLine:
    of = sum(row.of for row in rows)
    right = sum(row.right for row in rows)
    return FigureLine(name, of, of - right, right / of)
