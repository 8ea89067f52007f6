"""The page of a car's runs foretold one from the other, beside what was measured.

Public: `ForetoldRow`, `render_foretold`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from passband.analysis.results.estimate import Estimate
from passband.analysis.whatif.back_test import BackTest, Tally
from passband.web.pages import render
from passband.web.units import UnitSystem
from passband.web.words import Json


@dataclass(frozen=True, slots=True)
class ForetoldRow:
    """One pair of runs."""

    base: Json
    """Id and title of the run that foretells."""
    other: Json
    """Id and title of the run foretold."""
    test: BackTest
    """What came of it."""

    @property
    def changed(self) -> str:
        """What the user changed."""
        return "; ".join(self.test.change.words) or "nothing"

    @property
    def foretold(self) -> str:
        """Elapsed time, second less first."""
        return _seconds(self.test.foretold_s)

    @property
    def measured(self) -> str:
        """Elapsed time, second less first."""
        return _seconds(self.test.measured_s)

    @property
    def error(self) -> str:
        """Foretold less measured. [ms]."""
        error = self.test.error_s
        return "–" if error is None else f"{1000 * error:+.0f}".replace("-", "−")

    @property
    def held(self) -> str:
        """In words."""
        return {True: "held", False: "missed", None: "–"}[self.test.held]


def _seconds(one: Estimate | None) -> str:
    return "–" if one is None else f"{one.value:+.3f} ± {one.plus_minus:.3f}".replace("-", "−")


def render_foretold(car: Json, rows: Sequence[ForetoldRow], total: Tally, *, units: UnitSystem = "us") -> str:
    """A car's runs foretold, beside what was measured.

    Parameters
    ----------
    car : mapping
        Id and name.
    rows : sequence of ForetoldRow
        The newest first.
    total : Tally
        Over all of them.
    units : {"us", "metric"}
        The reader's choice.

    Returns
    -------
    str
        HTML.
    """
    return render("foretold.html", units, car=car, rows=rows, total=total, here="cars")
