"""The page of a car's runs foretold one from the other, beside what was measured.

Public: `ForetoldRow`, `render_foretold`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from passband.analysis.results.estimate import Estimate
from passband.analysis.whatif.back_test import BackTest, Tally
from passband.web.pages.page import render
from passband.web.shown.car import CarShown
from passband.web.shown.run import NamedRun
from passband.web.wording.prose import in_units
from passband.web.wording.units import UnitSystem


@dataclass(frozen=True, slots=True)
class ForetoldRow:
    """One pair of runs."""

    base: NamedRun
    """The run that foretells."""
    other: NamedRun
    """The run foretold."""
    test: BackTest
    """What came of it."""
    units: UnitSystem = "us"
    """The reader's choice."""

    @property
    def changed(self) -> str:
        """What the user changed."""
        return in_units("; ".join(self.test.change.words), self.units) or "nothing"

    @property
    def beside(self) -> list[str]:
        """What was corrected, and what the logs show to have been otherwise."""
        change = self.test.change
        texts = [*(f"corrected: {one}" for one in change.corrected), *change.measured]
        return [in_units(text, self.units) for text in texts]

    @property
    def why(self) -> str:
        """Why there is no forecast; empty where there is one."""
        text = in_units(self.test.why, self.units)
        return text[:1].upper() + text[1:]

    @property
    def foretold(self) -> tuple[str, str]:
        """Elapsed time, second less first, and its plus-minus."""
        return _seconds(self.test.foretold_s)

    @property
    def measured(self) -> tuple[str, str]:
        """Elapsed time, second less first, and its plus-minus."""
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


def _seconds(one: Estimate | None) -> tuple[str, str]:
    return ("–", "") if one is None else (f"{one.value:+.3f}".replace("-", "−"), f" ±{one.plus_minus:.3f}")


def render_foretold(car: CarShown, rows: Sequence[ForetoldRow], total: Tally, *, units: UnitSystem = "us") -> str:
    """A car's runs foretold, beside what was measured.

    Parameters
    ----------
    car : CarShown
        Any.
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
    shown = [replace(row, units=units) for row in rows]
    return render("foretold.html", units, car=car, rows=shown, total=total, here="cars")
